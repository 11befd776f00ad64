"""Heat balances of filling, closing, boiling down and the kettle."""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.air import latent_heat_kJ_per_kg
from stillroom.physics.phase import saturation_pressure_kPa, water_boiling_point_C

ZERO_C = 273.15
KPA_PER_PSI = 6.894757


@formula(unit="W/(m²·K)", source="resistances in series")
def overall_conductance_W_per_m2_K(
    film_W_per_m2_K: Numbers, wall_m: Numbers, wall_W_per_m_K: Numbers
) -> Array:
    """Return the conductance of a film and a wall together.

    U = 1 / (1 / h + s / k)

    Args:
        film_W_per_m2_K: heat transfer of the medium, any shape.
        wall_m: thickness of the wall.
        wall_W_per_m_K: conductivity of the wall.

    Returns:
        Conductance; the heat capacity of the wall is left out.
    """
    U: Array = 1 / (1 / np.asarray(film_W_per_m2_K, float) + wall_m / np.asarray(wall_W_per_m_K))
    return U


@formula(unit="min", source="heat balance", place="well mixed content, j = 1")
def mixed_heating_rate_min(
    mass_kg: Numbers,
    heat_capacity_J_per_kg_K: Numbers,
    surface_W_per_m2_K: Numbers,
    area_m2: Numbers,
) -> Array:
    """Return the time in which a well mixed pack comes ten times nearer to its medium.

    f = ln 10 m c / (U A)

    Args:
        mass_kg: of the content, any shape.
        heat_capacity_J_per_kg_K: specific heat of the content.
        surface_W_per_m2_K: conductance of film and wall.
        area_m2: of the wetted wall.

    Returns:
        Minutes.
    """
    held = np.asarray(mass_kg, float) * heat_capacity_J_per_kg_K
    f: Array = np.log(10) * held / (surface_W_per_m2_K * np.asarray(area_m2, float)) / 60
    return f


@formula(unit="°C", source="heat balance", place="product and glass, nothing lost")
def filled_temperature_C(
    product_kg: Numbers,
    product_J_per_kg_K: Numbers,
    fill_C: Numbers,
    jar_kg: Numbers,
    jar_J_per_kg_K: Numbers,
    jar_C: Numbers,
) -> Array:
    """Return the temperature that a hot fill and its jar come to.

    T = (m c T_fill + m_j c_j T_j) / (m c + m_j c_j)

    Args:
        product_kg: mass filled, any shape.
        product_J_per_kg_K: its specific heat.
        fill_C: temperature at the filler.
        jar_kg: mass of the empty jar.
        jar_J_per_kg_K: specific heat of the glass.
        jar_C: temperature of the jar before filling.

    Returns:
        Temperature.
    """
    hot = np.asarray(product_kg, float) * product_J_per_kg_K
    cold = np.asarray(jar_kg, float) * jar_J_per_kg_K
    T: Array = (hot * fill_C + cold * np.asarray(jar_C, float)) / (hot + cold)
    return T


@formula(unit="kPa", source="ideal gas", place="headspace full of vapour and air at the fill")
def jar_vacuum_kPa(
    fill_C: Numbers,
    cool_C: Numbers,
    atmosphere_kPa: Numbers,
    water_activity: Numbers,
    headspace_m3: Numbers,
    shrinkage_m3: Numbers = 0.0,
) -> Array:
    """Return how far the pressure under a lid falls below that outside.

    p_air = p_atm - a_w p_s(T_fill); p = p_air (T_c / T_f) V / (V + shrinkage) + a_w p_s(T_c)

    Args:
        fill_C: temperature of product and headspace when the lid closes, any shape.
        cool_C: after cooling.
        atmosphere_kPa: pressure outside.
        water_activity: of the product.
        headspace_m3: at the fill.
        shrinkage_m3: by which the product shrinks as it cools.

    Returns:
        Vacuum; an upper limit: air that is cooler or dissolved and a lid that gives take of it.
    """
    hot, cool = np.asarray(fill_C, float), np.asarray(cool_C, float)
    air = atmosphere_kPa - water_activity * saturation_pressure_kPa(hot)
    V = np.asarray(headspace_m3, float)
    shrunk = (cool + ZERO_C) / (hot + ZERO_C) * V / (V + np.asarray(shrinkage_m3, float))
    vacuum: Array = atmosphere_kPa - (air * shrunk + water_activity * saturation_pressure_kPa(cool))
    return vacuum


@formula(unit="kg", source="mass balance")
def water_to_boil_off_kg(mass_kg: Numbers, solids_start: Numbers, solids_end: Numbers) -> Array:
    """Return the steam between two contents of dry matter.

    w = m (1 - s_0 / s_1)

    Args:
        mass_kg: before the boil, any shape.
        solids_start: kilograms of solids in a kilogram, before.
        solids_end: the same after.

    Returns:
        Water.
    """
    w: Array = np.asarray(mass_kg, float) * (1 - np.asarray(solids_start, float) / solids_end)
    return w


@formula(unit="min", source="heat balance", place="boiling, sensible heat left out")
def boil_off_min(water_kg: Numbers, boil_C: Numbers, power_kW: Numbers) -> Array:
    """Return how long water takes to boil off.

    t = w h(T) / P

    Args:
        water_kg: to boil off, any shape.
        boil_C: boiling point.
        power_kW: that reaches the kettle's content.

    Returns:
        Minutes.
    """
    t: Array = np.asarray(water_kg, float) * latent_heat_kJ_per_kg(boil_C) / power_kW / 60
    return t


@formula(unit="min", source="heat balance", place="constant power, nothing lost")
def heat_up_min(
    mass_kg: Numbers,
    heat_capacity_J_per_kg_K: Numbers,
    start_C: Numbers,
    end_C: Numbers,
    power_kW: Numbers,
) -> Array:
    """Return how long a kettle takes to heat up at constant power.

    t = m c (T_1 - T_0) / P

    Args:
        mass_kg: of the content, any shape.
        heat_capacity_J_per_kg_K: its specific heat.
        start_C: at the start.
        end_C: at the end.
        power_kW: that reaches the content.

    Returns:
        Minutes.
    """
    rise = np.asarray(end_C, float) - np.asarray(start_C, float)
    t: Array = mass_kg * np.asarray(heat_capacity_J_per_kg_K, float) * rise / power_kW / 60000
    return t


@formula(unit="min", source="heat balance", place="stirred, jacket of constant temperature")
def jacket_heat_up_min(
    mass_kg: Numbers,
    heat_capacity_J_per_kg_K: Numbers,
    surface_W_per_m2_K: Numbers,
    area_m2: Numbers,
    steam_C: Numbers,
    start_C: Numbers,
    end_C: Numbers,
) -> Array:
    """Return how long a steam-jacketed kettle takes to heat up.

    t = m c / (U A) ln((T_s - T_0) / (T_s - T_1))

    Args:
        mass_kg: of the content, any shape.
        heat_capacity_J_per_kg_K: its specific heat.
        surface_W_per_m2_K: jacket to content.
        area_m2: of the jacket.
        steam_C: in the jacket, above the end.
        start_C: at the start.
        end_C: at the end.

    Returns:
        Minutes.
    """
    held = mass_kg * np.asarray(heat_capacity_J_per_kg_K, float)
    steam = np.asarray(steam_C, float)
    t: Array = (
        held
        / (surface_W_per_m2_K * np.asarray(area_m2, float))
        / 60
        * np.log((steam - start_C) / (steam - end_C))
    )
    return t


@formula(unit="°C", source="IAPWS Industrial Formulation 1997", place="steam free of air")
def steam_temperature_C(atmosphere_kPa: Numbers, gauge_psi: Numbers) -> Array:
    """Return the temperature in a vented pressure canner.

    T = T_s(p_atm + 6.894757 gauge)

    Args:
        atmosphere_kPa: pressure outside, any shape.
        gauge_psi: reading of the gauge, pounds per square inch.

    Returns:
        Temperature; trapped air lowers it, so measure it.
    """
    gauge = KPA_PER_PSI * np.asarray(gauge_psi, float)
    return water_boiling_point_C(np.asarray(atmosphere_kPa, float) + gauge)
