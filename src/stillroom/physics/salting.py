"""Salting, curing and sausages: masses of salt and cure, moisture to protein, degree-hours.

What goes into meat as parts per million stands in curing.py.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.roots import root_between

NANO2_G_PER_MOL, KNO2_G_PER_MOL = 68.995, 85.104


@formula(unit="kg", source="mass balance", place="salt of meat and brine together")
def brine_salt_kg(target_salt_fraction: Numbers, meat_kg: Numbers, water_kg: Numbers) -> Array:
    """Return the salt for a brine in which meat comes to equilibrium at a target.

    s = t / (1 - t) (m_meat + m_water)

    Args:
        target_salt_fraction: t, salt over meat, water and salt together, any shape.
        meat_kg: whole meat; its water phase alone takes salt, so the meat itself ends higher.
        water_kg: of the brine.

    Returns:
        Salt.
    """
    t = np.asarray(target_salt_fraction, float)
    return t / (1 - t) * (np.asarray(meat_kg, float) + water_kg)


@formula(unit="mol/kg", source="definition", place="the curve falls: one answer")
def molality_at_water_activity(water_activity: Numbers, salt_water_activity: Callable) -> Array:
    """Return the strength of a brine that has a water activity.

    solve a_salt(m) = a for m

    Args:
        water_activity: wanted, any shape.
        salt_water_activity: mol/kg water -> water activity of the salt alone.

    Returns:
        mol/kg water; nan below the water activity of 12 mol/kg.
    """
    wanted = np.asarray(water_activity, float)
    return root_between(lambda m: salt_water_activity(m) - wanted, np.zeros(wanted.shape), 12.0)


@formula(unit="kg", source="mass balance", place="dry rub")
def cure_mass_kg(
    meat_kg: Numbers,
    target_mg_per_kg: Numbers,
    nitrite_fraction: Numbers,
    rind_fraction: Numbers = 0.0,
) -> Array:
    """Return the cure to rub on meat for a target of ingoing nitrite.

    m = target m_meat (1 - rind) / (1e6 x_nitrite)

    Args:
        meat_kg: green weight, any shape.
        target_mg_per_kg: ingoing nitrite wanted.
        nitrite_fraction: of the cure: 0.0625, never 6.25.
        rind_fraction: of the meat, which takes up no cure; 0.1 for bellies with their rind.

    Returns:
        Cure.
    """
    green = np.asarray(meat_kg, float) * (1 - np.asarray(rind_fraction, float))
    return green * target_mg_per_kg / 1e6 / nitrite_fraction


@formula(unit="mg/kg", source="IUPAC atomic weights", place="equal nitrite")
def potassium_nitrite_mg_per_kg(sodium_nitrite_mg_per_kg: Numbers) -> Array:
    """Return the potassium nitrite that holds as much nitrite as a dose of sodium nitrite.

    c_K = c_Na 85.104 / 68.995

    Args:
        sodium_nitrite_mg_per_kg: any shape.

    Returns:
        Milligrams of potassium nitrite in a kilogram.
    """
    return np.asarray(sodium_nitrite_mg_per_kg, float) * KNO2_G_PER_MOL / NANO2_G_PER_MOL


@formula(unit="", source="definition", place="a name standard, no proof of keeping")
def moisture_protein_ratio(moisture: Numbers, protein: Numbers) -> Array:
    """Return the moisture to protein ratio by which dried meat is named.

    MPR = moisture / protein

    Args:
        moisture: per cent or mass, any shape.
        protein: in the same unit.

    Returns:
        Ratio; the water activity, not this, shows whether dried meat keeps.
    """
    return np.asarray(moisture, float) / protein


@formula(unit="kg", source="mass balance", place="protein stays")
def mass_at_mpr_kg(
    meat_kg: Numbers,
    moisture_wet_basis: Numbers,
    protein_fraction: Numbers,
    target_mpr: Numbers,
    added_dry_kg: Numbers = 0.0,
) -> Array:
    """Return the mass at which meat has dried to a moisture to protein ratio.

    m_f = MPR p m + (1 - w) m + added

    Args:
        meat_kg: before drying, any shape.
        moisture_wet_basis: w, 0 to 1.
        protein_fraction: p, 0 to 1.
        target_mpr: wanted; below what the meat has.
        added_dry_kg: salt, sugar and spice.

    Returns:
        Mass.
    """
    meat = np.asarray(meat_kg, float)
    water = target_mpr * np.asarray(protein_fraction, float) * meat
    return water + (1 - np.asarray(moisture_wet_basis, float)) * meat + added_dry_kg


@formula(unit="degree-hours", source="American Meat Institute 1997", place="good practice")
def degree_hours(hours: Numbers, temperature: Numbers, threshold: Numbers) -> Array:
    """Return the degree-hours of a sausage until it is sour enough.

    sum h (T - T_threshold), stages below the threshold left out

    Count from reaching the threshold until pH 5.3 and judge by the limit of the hottest stage.
    US limits count in °F above 60, Canadian ones in °C above 15.6: not the same limit converted.

    Args:
        hours: of each stage, on the last axis.
        temperature: of each stage, in the unit of the threshold.
        threshold: from which staphylococci grow.

    Returns:
        Degree-hours; the last axis is summed.
    """
    above = np.maximum(np.asarray(temperature, float) - threshold, 0.0)
    return np.sum(np.asarray(hours, float) * above, axis=-1)


@formula(unit="degree-hours", source="limits of each authority", place="by the hottest stage")
def degree_hours_limit(
    hottest: Numbers,
    hottest_below: Numbers,
    hottest_up_to: Numbers,
    limit_degree_hours: Numbers,
) -> Array:
    """Return the limit of degree-hours, by the hottest stage of the ferment.

    limit_n of the first range n with T < below_n and T <= up_to_n

    Args:
        hottest: temperature of the hottest stage, in the unit of the limits, any shape.
        hottest_below: of each range, rising, one axis; inf where there is none.
        hottest_up_to: of each range; inf where there is none.
        limit_degree_hours: of each range.

    Returns:
        Degree-hours.
    """
    T = np.asarray(hottest, float)[..., None]
    within = (np.asarray(hottest_below, float) > T) & (np.asarray(hottest_up_to, float) >= T)
    return np.asarray(limit_degree_hours, float)[np.argmax(within, axis=-1)]


@formula(unit="h", source="American Meat Institute 1997", place="one temperature")
def degree_hours_limit_h(
    limit_degree_hours: Numbers, temperature: Numbers, threshold: Numbers
) -> Array:
    """Return the longest time at one temperature that a limit of degree-hours allows.

    t = limit / (T - T_threshold)

    Args:
        limit_degree_hours: of the temperature range, any shape.
        temperature: in the unit of the threshold.
        threshold: from which it counts.

    Returns:
        Hours; inf at and below the threshold.
    """
    above = np.maximum(np.asarray(temperature, float) - threshold, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(limit_degree_hours, float) / above
