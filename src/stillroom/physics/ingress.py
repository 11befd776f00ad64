"""Water through a pack, in or out, and what becomes of the food in it.

The food is at one water activity throughout: the film resists, the food does not. For a thick,
slow piece in a weak film that makes its surface look better than it is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.barrier import vapour_pressure_Pa
from stillroom.physics.phase import GAS_CONSTANT_J_PER_MOL_K
from stillroom.physics.roots import root_between
from stillroom.physics.sorption import water_activity_at_temperature
from stillroom.physics.water import WATER_MOLAR_MASS_KG_PER_MOL

ZERO_C = 273.15
POINTS = 40  # of the quadrature
STEP = 1e-5  # of water activity, for a slope
TINY = 1e-300
AT_REST = 1e-12  # of water activity from that of the room
Isotherm = Callable[[Array], Array]  # water activity -> g water per g dry solids


@formula(
    unit="d",
    source="Labuza, Mizrahi & Karel 1972; Taoukis, El Meskine & Labuza 1988",
    place="isotherm a straight line over the range used",
)
def days_to_moisture_linear(
    dry_solids_g: Numbers,
    conductance_g_per_day_Pa: Numbers,
    outside_C: Numbers,
    outside_relative_humidity: Numbers,
    slope: Numbers,
    intercept: Numbers,
    initial_moisture: Numbers,
    limit_moisture: Numbers,
) -> Array:
    """Return when packed food reaches a moisture, gaining water or losing it.

    t = W_s b / (G p_s) ln((M_e - M_i) / (M_e - M_c)), M_e = b RH + c

    Args:
        dry_solids_g: W_s, not the net weight, any shape.
        conductance_g_per_day_Pa: G, of the whole pack.
        outside_C: temperature of food and room.
        outside_relative_humidity: 0 to 1.
        slope: b of M = b a + c.
        intercept: c.
        initial_moisture: M_i, dry basis.
        limit_moisture: M_c, dry basis.

    Returns:
        Days; inf where it is never reached.
    """
    b, mi, mc = (np.asarray(x, float) for x in (slope, initial_moisture, limit_moisture))
    me = b * np.asarray(outside_relative_humidity, float) + intercept
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (
            np.asarray(dry_solids_g, float)
            * b
            / (conductance_g_per_day_Pa * vapour_pressure_Pa(outside_C, 1.0))
            * np.log((me - mi) / (me - mc))
        )
    return np.where(_on_the_way(mi, mc, me), t, np.inf)


@formula(
    unit="d",
    source="Taoukis, El Meskine & Labuza 1988",
    place="any isotherm; Gauss-Legendre in u = ln |RH - a|",
)
def days_to_water_activity(
    dry_solids_g: Numbers,
    conductance_g_per_day_Pa: Numbers,
    outside_C: Numbers,
    outside_relative_humidity: Numbers,
    initial_water_activity: Numbers,
    limit_water_activity: Numbers,
    isotherm: Isotherm,
) -> Array:
    """Return when packed food reaches a water activity, gaining water or losing it.

    t = W_s / (G p_s) integral of dM / (RH - a) from M_i to M_c

    Args:
        dry_solids_g: W_s, not the net weight, any shape.
        conductance_g_per_day_Pa: G, of the whole pack.
        outside_C: temperature of food and room.
        outside_relative_humidity: 0 to 1.
        initial_water_activity: of the food when it is packed.
        limit_water_activity: at which it is no longer good.
        isotherm: water activity -> g water per g dry solids.

    Returns:
        Days; inf where it is never reached.

    Source:
        In u the integrand is the slope of the isotherm and has no pole at the end.
    """
    ai, ac, outside = np.broadcast_arrays(
        np.asarray(initial_water_activity, float), limit_water_activity, outside_relative_humidity
    )
    reached = _on_the_way(ai, ac, outside)
    away = (np.where(reached, np.maximum(abs(outside - a), TINY), 1.0) for a in (ai, ac))
    first, last = map(np.log, away)
    middle, half = (first + last) / 2, (first - last) / 2
    integral: Array = np.asarray(0.0)
    for node, weight in zip(*np.polynomial.legendre.leggauss(POINTS), strict=True):
        at = outside - np.sign(outside - ai) * np.exp(middle + half * node)
        integral = integral + half * weight * _slope(isotherm, np.where(reached, at, ai))
    pull = conductance_g_per_day_Pa * vapour_pressure_Pa(outside_C, 1.0)
    with np.errstate(divide="ignore"):
        t = np.asarray(dry_solids_g, float) * integral / pull
    return np.where(reached, t, np.inf)


def _on_the_way(start: Array, limit: Array, end: Array) -> Array:
    """Return whether a limit lies between the start and the far end; the start itself does."""
    here = limit == start
    return here | ((limit - start) * (end - limit) > 0)


def _slope(isotherm: Isotherm, a: Array) -> Array:
    """Return dM/da."""
    low = np.maximum(a - STEP, 0.0)
    return (isotherm(a + STEP) - isotherm(low)) / (a + STEP - low)


@formula(unit="", source="balance of water", place="exponential midpoint rule")
def water_activity_through_climate(
    dry_solids_g: Numbers,
    conductance_g_per_day_Pa: Numbers,
    days: Numbers,
    outside_C: Numbers,
    outside_relative_humidity: Numbers,
    initial_water_activity: Numbers,
    isotherm: Isotherm,
    net_isosteric_heat_kJ_mol: Numbers = 0.0,
    isotherm_C: Numbers = 25.0,
    substeps: int = 50,
) -> Array:
    """Return the water activity of packed food at the end of each stage of a climate.

    W_s dM/dt = G p_s(T) (RH - a(M, T))

    Args:
        dry_solids_g: W_s, any leading shape.
        conductance_g_per_day_Pa: G at the temperature of each stage, on the last axis.
        days: of each stage, on the last axis.
        outside_C: of each stage, on the last axis.
        outside_relative_humidity: of each stage, on the last axis.
        initial_water_activity: at the temperature of the isotherm, leading shape.
        isotherm: water activity -> g water per g dry solids, leading shape.
        net_isosteric_heat_kJ_mol: of the shift with temperature; 0: none.
        isotherm_C: temperature of the isotherm.
        substeps: of each stage; the error falls with their square.

    Returns:
        Water activity, at the temperature of each stage, on the last axis.

    Source:
        The slope of the isotherm is held over a substep, so that no step overshoots the outside
        however weak the pack is.
    """
    G, span, T, outside = np.broadcast_arrays(
        *(
            np.asarray(x, float)
            for x in (conductance_g_per_day_Pa, days, outside_C, outside_relative_humidity)
        )
    )
    warmer = water_activity_at_temperature(1.0, isotherm_C, T, net_isosteric_heat_kJ_mol)
    pull = G * vapour_pressure_Pa(T, 1.0) * warmer
    towards = outside / warmer
    solids, a = np.asarray(dry_solids_g, float), np.asarray(initial_water_activity, float)
    seen = []
    for n in range(span.shape[-1]):
        at_rate, end = pull[..., n] / solids * span[..., n] / substeps, towards[..., n]
        for _ in range(substeps):
            half = end - (end - a) * np.exp(-at_rate / 2 / _slope(isotherm, a))
            a = end - (end - a) * np.exp(-at_rate / _slope(isotherm, half))
        seen.append(a * warmer[..., n])
    return np.stack(seen, axis=-1)


@formula(
    unit="",
    source="Labuza, Mizrahi & Karel 1972",
    place="isotherm of straight pieces, each in closed form",
)
def exchange_to_moisture(
    initial_moisture: Numbers,
    limit_moisture: Numbers,
    outside_relative_humidity: Numbers,
    moisture: Numbers,
    water_activity: Numbers,
) -> Array:
    """Return how much exchange with the room brings packed food to a moisture.

    x = G p_s t / W_s = sum over the pieces of (M_2 - M_1) ln(d_1 / d_2) / (d_1 - d_2), d = RH - a

    Args:
        initial_moisture: M, dry basis, leading shape.
        limit_moisture: leading shape.
        outside_relative_humidity: 0 to 1, leading shape.
        moisture: of the points of the isotherm, rising on the last axis, beyond both moistures.
        water_activity: at those points, never falling on the last axis.

    Returns:
        Exchange; inf where it is never reached.
    """
    start, limit, outside, M, a = _rows(
        initial_moisture, limit_moisture, outside_relative_humidity, moisture, water_activity
    )
    low, high = np.minimum(start, limit), np.maximum(start, limit)
    M, a = np.clip(M, low, high), np.clip(a, _read(low, M, a), _read(high, M, a))
    pieces = _exchange(M, np.where(limit >= start, outside - a, a - outside))
    return np.asarray(pieces.sum(axis=-1))


@formula(
    unit="as moisture",
    source="Labuza, Mizrahi & Karel 1972",
    place="isotherm of straight pieces, each in closed form",
)
def moisture_after_exchange(
    exchange: Numbers,
    initial_moisture: Numbers,
    outside_relative_humidity: Numbers,
    moisture: Numbers,
    water_activity: Numbers,
) -> Array:
    """Return the moisture of packed food after an exchange with the room.

    M = M_1 + b d_1 (1 - exp(-x / b)) on a piece of slope b, d_1 = RH - a_1

    Args:
        exchange: x = G p_s t / W_s, leading shape.
        initial_moisture: dry basis, leading shape.
        outside_relative_humidity: 0 to 1, leading shape.
        moisture: of the points of the isotherm, rising on the last axis.
        water_activity: at those points, never falling on the last axis.

    Returns:
        Moisture; held at the ends of the isotherm. No water is lost or made, and a step of any
        length is exact.
    """
    x, start, outside, M, a = _rows(
        exchange, initial_moisture, outside_relative_humidity, moisture, water_activity
    )
    first = _read(start, M, a)
    way = np.where(outside >= first, 1.0, -1.0)

    def turned(points: Array) -> Array:
        return np.where(way > 0, points, -points[..., ::-1])

    M = np.maximum(turned(M), way * start)
    d = way * outside - np.maximum(turned(a), way * first)
    done = np.cumsum(np.concatenate([np.zeros_like(start), _exchange(M, d)], axis=-1), axis=-1)
    k = np.clip((done <= x).sum(axis=-1, keepdims=True) - 1, 0, M.shape[-1] - 2)

    (M1, M2), (d1, d2) = ([np.take_along_axis(v, n, -1) for n in (k, k + 1)] for v in (M, d))
    gain, fall, left = M2 - M1, d1 - d2, x - np.take_along_axis(done, k, -1)
    with np.errstate(divide="ignore", invalid="ignore"):
        curved = gain / fall * d1 * -np.expm1(-left * fall / gain)
        moved = np.where(fall > 0, curved, left * d1)
    return np.asarray((way * (M1 + np.where(gain > 0, np.minimum(moved, gain), 0.0)))[..., 0])


def _rows(*values: Numbers) -> list[Array]:
    """Return leading values with a last axis of 1, and the last two, points, with theirs."""
    leading = [np.asarray(v, float)[..., None] for v in values[:-2]]
    points = np.broadcast_arrays(*(np.asarray(v, float) for v in values[-2:]))
    shape = np.broadcast_shapes(*(v.shape[:-1] for v in (*leading, *points)))
    return [np.broadcast_to(v, (*shape, v.shape[-1])) for v in (*leading, *points)]


def _read(at: Array, x: Array, y: Array) -> Array:
    """Return y at one x a row, on straight pieces."""
    n = np.clip((x <= at).sum(axis=-1, keepdims=True), 1, x.shape[-1] - 1)
    (x1, x2), (y1, y2) = [[np.take_along_axis(v, i, -1) for i in (n - 1, n)] for v in (x, y)]
    return y1 + (y2 - y1) * np.clip((at - x1) / (x2 - x1), 0.0, 1.0)


def _exchange(M: Array, d: Array) -> Array:
    """Return the exchange each piece takes, inf where the room no longer drives it."""
    gain, d1, d2 = np.diff(M), d[..., :-1], d[..., 1:]
    fall = d1 - d2
    with np.errstate(divide="ignore", invalid="ignore"):
        each = np.where(abs(fall) > 1e-9 * abs(d1), np.log(d1 / d2) / fall, 1 / d1)
    each = np.where(np.minimum(d1, d2) > AT_REST, each, np.inf)
    return np.where(gain > 0, gain * np.where(gain > 0, each, 1.0), 0.0)


@formula(unit="", source="balance of water", place="headspace left out")
def sealed_mix_water_activity(
    dry_solids_g: Numbers, initial_water_activity: Numbers, isotherms: Sequence[Isotherm]
) -> Array:
    """Return the water activity that the parts of a sealed pack share in the end.

    sum W_i M_i(a) = sum W_i M_i(a_i)

    Args:
        dry_solids_g: W_i of each part, on the last axis.
        initial_water_activity: a_i of each part, on the last axis.
        isotherms: of each part, water activity -> g water per g dry solids; adsorption for what
            gains water, desorption for what loses it.

    Returns:
        Water activity; the last axis is summed.
    """
    solids, start = np.broadcast_arrays(
        np.asarray(dry_solids_g, float), np.asarray(initial_water_activity, float)
    )

    def held(activities: Sequence[Array]) -> Array:
        parts = zip(isotherms, activities, strict=True)
        return sum(
            (solids[..., n] * curve(a) for n, (curve, a) in enumerate(parts)), np.asarray(0.0)
        )

    water = held([start[..., n] for n in range(len(isotherms))])
    low, high = start.min(axis=-1), start.max(axis=-1)
    shared = root_between(lambda a: held([a] * len(isotherms)) - water, low, high)
    return np.where(low == high, low, shared)


@formula(unit="", source="Salwin & Slawson 1959, Food Technol. 13:715", place="straight isotherms")
def sealed_mix_water_activity_linear(
    dry_solids_g: Numbers, slope: Numbers, initial_water_activity: Numbers
) -> Array:
    """Return the water activity that the parts of a sealed pack share in the end.

    a = sum W_i b_i a_i / sum W_i b_i

    Args:
        dry_solids_g: W_i of each part, on the last axis.
        slope: b_i of the isotherm of each part, on the last axis.
        initial_water_activity: a_i of each part, on the last axis.

    Returns:
        Water activity; the last axis is summed.
    """
    share = np.asarray(dry_solids_g, float) * slope
    return np.sum(share * initial_water_activity, axis=-1) / np.sum(share, axis=-1)


@formula(unit="g", source="ideal gas")
def headspace_water_g(
    volume_L: Numbers, temperature_C: Numbers, relative_humidity: Numbers
) -> Array:
    """Return the water in the air of a pack: next to nothing beside that of the food.

    m = RH p_s V M_w / (R T)

    Args:
        volume_L: of the headspace, any shape.
        temperature_C: of it.
        relative_humidity: 0 to 1.

    Returns:
        Water.
    """
    gas = GAS_CONSTANT_J_PER_MOL_K * (np.asarray(temperature_C, float) + ZERO_C)
    vapour = vapour_pressure_Pa(temperature_C, relative_humidity)
    return vapour * np.asarray(volume_L, float) * WATER_MOLAR_MASS_KG_PER_MOL / gas


@formula(unit="g", source="balance of water", place="constant humidity inside and outside")
def water_gained_g(
    conductance_g_per_day_Pa: Numbers,
    outside_C: Numbers,
    outside_relative_humidity: Numbers,
    inside_relative_humidity: Numbers,
    days: Numbers,
) -> Array:
    """Return the water that comes into a pack that is held at one humidity.

    m = G p_s (RH_out - RH_in) t

    Args:
        conductance_g_per_day_Pa: G, of the whole pack, any shape.
        outside_C: temperature.
        outside_relative_humidity: 0 to 1.
        inside_relative_humidity: held by a desiccant.
        days: t.

    Returns:
        Water; negative where it leaves.
    """
    drive = vapour_pressure_Pa(outside_C, outside_relative_humidity) - vapour_pressure_Pa(
        outside_C, inside_relative_humidity
    )
    return np.asarray(conductance_g_per_day_Pa, float) * drive * days


@formula(unit="g", source="balance of water")
def desiccant_g(
    water_g: Numbers, capacity_g_per_g: Numbers, preload_g_per_g: Numbers = 0.0
) -> Array:
    """Return the desiccant that takes up a mass of water at the humidity aimed at.

    m = water / (capacity - preload)

    Args:
        water_g: too much in the food, and what comes in over the life, any shape.
        capacity_g_per_g: at the humidity inside, g water per g dry desiccant.
        preload_g_per_g: taken up before the pack was closed, 0.02 to 0.04 by handling.

    Returns:
        Desiccant; inf where the preload is all it can hold.
    """
    free = np.maximum(np.asarray(capacity_g_per_g, float) - preload_g_per_g, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(water_g, float) / free
