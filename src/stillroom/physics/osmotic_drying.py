"""Osmotic dehydration: what a piece in syrup or brine loses and takes up; per initial mass."""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers, formula

AZUARA = "Azuara, Cortes, Garcia & Beristain 1992, Int. J. Food Sci. Technol. 27:409"


@formula(unit="kg/kg", source="mass balance", place="per kilogram of fresh food")
def water_loss(
    initial_kg: Numbers, initial_water: Numbers, final_kg: Numbers, final_water: Numbers
) -> Array:
    """Return the water that pieces lost.

    WL = (m_0 x_w0 - m_t x_wt) / m_0

    Args:
        initial_kg: m_0, any shape.
        initial_water: x_w0, kg water per kg, wet basis.
        final_kg: m_t, after draining.
        final_water: x_wt, wet basis.

    Returns:
        kg water per kg fresh food.
    """
    fresh = np.asarray(initial_kg, float)
    return (fresh * initial_water - np.asarray(final_kg, float) * final_water) / fresh


@formula(unit="kg/kg", source="mass balance", place="per kilogram of fresh food")
def solids_gain(
    initial_kg: Numbers, initial_water: Numbers, final_kg: Numbers, final_water: Numbers
) -> Array:
    """Return the dry solids that pieces took up.

    SG = (m_t x_st - m_0 x_s0) / m_0, x_s = 1 - x_w; loss of mass = WL - SG

    Args:
        initial_kg: m_0, any shape.
        initial_water: x_w0, kg water per kg, wet basis.
        final_kg: m_t, after draining.
        final_water: x_wt, wet basis.

    Returns:
        kg solids per kg fresh food.
    """
    fresh = np.asarray(initial_kg, float)
    after = np.asarray(final_kg, float) * (1 - np.asarray(final_water, float))
    return (after - fresh * (1 - np.asarray(initial_water, float))) / fresh


@formula(unit="as limit", source=AZUARA)
def azuara_change(time_min: Numbers, limit: Numbers, s1_per_min: Numbers) -> Array:
    """Return the water lost or the solids gained by a time.

    WL = S1 t WL_inf / (1 + S1 t); the same for SG

    Args:
        time_min: in the syrup, any shape.
        limit: WL_inf or SG_inf, after a long time.
        s1_per_min: S1; half of the limit is reached at 1 / S1.

    Returns:
        Change, in the unit of its limit.
    """
    done = np.asarray(s1_per_min, float) * np.asarray(time_min, float)
    return limit * done / (1 + done)


@formula(unit="as change", source=AZUARA, place="straight line of t / WL against t")
def azuara_limit(time_min: Numbers, change: Numbers) -> Array:
    """Return the limit that measured changes tend to.

    t / WL = 1 / (S1 WL_inf) + t / WL_inf, least squares; WL_inf = 1 / slope

    Args:
        time_min: on the last axis, > 0, two or more.
        change: water lost or solids gained, on the last axis.

    Returns:
        WL_inf or SG_inf; the last axis is fitted.
    """
    return 1 / _line(time_min, change)[0]


@formula(unit="1/min", source=AZUARA, place="straight line of t / WL against t")
def azuara_rate_per_min(time_min: Numbers, change: Numbers) -> Array:
    """Return the rate constant of measured changes.

    S1 = slope / intercept of t / WL against t

    Args:
        time_min: on the last axis, > 0, two or more.
        change: water lost or solids gained, on the last axis.

    Returns:
        S1; the last axis is fitted.
    """
    slope, intercept = _line(time_min, change)
    return slope / intercept


def _line(time_min: Numbers, change: Numbers) -> tuple[Array, Array]:
    """Return slope and intercept of t / change against t, least squares on the last axis."""
    t = np.asarray(time_min, float)
    y = t / np.asarray(change, float)
    t_mean, y_mean = t.mean(axis=-1, keepdims=True), y.mean(axis=-1, keepdims=True)
    slope = np.sum((t - t_mean) * (y - y_mean), axis=-1) / np.sum((t - t_mean) ** 2, axis=-1)
    return slope, y_mean[..., 0] - slope * t_mean[..., 0]


@formula(unit="as M0", source="Peleg 1988, J. Food Sci. 53:1216", place="minus: drying")
def peleg_moisture(time_min: Numbers, M0: Numbers, k1: Numbers, k2: Numbers) -> Array:
    """Return the moisture of a piece that loses water to a syrup, or gains it when soaked.

    M = M0 - t / (k1 + k2 t)

    Args:
        time_min: any shape.
        M0: moisture at the start.
        k1: min per unit of moisture; negative, with k2, for a piece that gains water.
        k2: 1 / unit of moisture; M0 - 1 / k2 is reached after a long time.

    Returns:
        Moisture, in the unit of M0.
    """
    t = np.asarray(time_min, float)
    return M0 - t / (k1 + k2 * t)
