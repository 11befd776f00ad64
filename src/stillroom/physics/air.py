"""Moist air for drying: humidity, wet bulb, how much water air can take up.

The ideal-gas relations of the ASHRAE handbook, written for arrays; the vapour pressure is that of
the steam tables.
"""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.phase import (
    STANDARD_PRESSURE_KPA,
    saturation_pressure_kPa,
    water_boiling_point_C,
)
from stillroom.physics.roots import root_between

ASHRAE = "ASHRAE Handbook Fundamentals 2017, chapter 1"
WATER_OVER_AIR = 0.621945  # ratio of the molar masses
ROUNDING = 1e-6  # K, so that saturated air has its own temperature as wet bulb


@formula(unit="kg/kg", source=ASHRAE, place="equation 20", temperature_C=(0, 100))
def air_humidity_ratio(
    temperature_C: Numbers,
    relative_humidity: Numbers,
    pressure_kPa: Numbers = STANDARD_PRESSURE_KPA,
) -> Array:
    """Return the water vapour that a kilogram of dry air carries.

    W = 0.621945 p_w / (p - p_w), p_w = RH p_s(T)

    Args:
        temperature_C: any shape.
        relative_humidity: 0 to 1; broadcasts.
        pressure_kPa: of the air.

    Returns:
        kg water per kg dry air.
    """
    vapour = relative_humidity * saturation_pressure_kPa(temperature_C)
    return WATER_OVER_AIR * vapour / (pressure_kPa - vapour)


@formula(unit="", source=ASHRAE, place="equations 12 and 20", temperature_C=(0, 100))
def air_relative_humidity(
    temperature_C: Numbers,
    humidity_ratio: Numbers,
    pressure_kPa: Numbers = STANDARD_PRESSURE_KPA,
) -> Array:
    """Return the relative humidity of air that carries so much water.

    RH = p_w / p_s(T), p_w = p W / (0.621945 + W)

    Air that is only heated keeps its humidity ratio, and its relative humidity falls.

    Args:
        temperature_C: any shape.
        humidity_ratio: kg water per kg dry air; broadcasts.
        pressure_kPa: of the air.

    Returns:
        0 to 1; above 1 the water does not stay in the air.
    """
    W = np.asarray(humidity_ratio, float)
    return pressure_kPa * W / (WATER_OVER_AIR + W) / saturation_pressure_kPa(temperature_C)


@formula(unit="°C", source=ASHRAE, place="equation 33, solved for t*", temperature_C=(0, 100))
def wet_bulb_C(
    temperature_C: Numbers,
    humidity_ratio: Numbers,
    pressure_kPa: Numbers = STANDARD_PRESSURE_KPA,
) -> Array:
    """Return the temperature of a wet surface in moving air.

    W = ((2501 - 2.326 t*) W_s(t*) - 1.006 (t - t*)) / (2501 + 1.86 t - 4.186 t*)

    Food that is still wet sits at it: a dryer at 60 °C does not pasteurise wet meat.

    Args:
        temperature_C: of the air, t, any shape.
        humidity_ratio: of the air, W; broadcasts.
        pressure_kPa: of the air.

    Returns:
        Wet bulb t*; nan below 0 °C, where the surface is ice, and in air beyond saturation.
    """
    t, W, p = np.broadcast_arrays(np.asarray(temperature_C, float), humidity_ratio, pressure_kPa)

    def surplus(wet: Array) -> Array:
        saturated = air_humidity_ratio(wet, 1.0, p)
        given = (2501 - 2.326 * wet) * saturated - 1.006 * (t - wet)
        return given - (2501 + 1.86 * t - 4.186 * wet) * W

    boiling = water_boiling_point_C(p) - ROUNDING  # above it no air is left beside the steam
    return root_between(surplus, np.zeros(t.shape), np.minimum(t + ROUNDING, boiling))


@formula(unit="kg/kg", source=ASHRAE, place="adiabatic saturation", temperature_C=(0, 100))
def adiabatic_pick_up(
    temperature_C: Numbers,
    humidity_ratio: Numbers,
    pressure_kPa: Numbers = STANDARD_PRESSURE_KPA,
) -> Array:
    """Return the most water that a kilogram of drying air can take up.

    dW = W_s(t*) - W, t* the wet bulb

    Args:
        temperature_C: of the air at the inlet, any shape.
        humidity_ratio: of the air at the inlet.
        pressure_kPa: of the air.

    Returns:
        kg water per kg dry air: an upper limit, the outlet saturated and no heat lost.
    """
    wet = wet_bulb_C(temperature_C, humidity_ratio, pressure_kPa)
    return air_humidity_ratio(wet, 1.0, pressure_kPa) - humidity_ratio


@formula(unit="kJ/kg", source="least squares on the steam tables, IAPWS-95", temperature_C=(0, 150))
def latent_heat_kJ_per_kg(temperature_C: Numbers) -> Array:
    """Return the heat that a kilogram of water takes to evaporate.

    h = 2501.0 - 2.3877 T + 8.229e-4 T^2 - 1.4062e-5 T^3

    Args:
        temperature_C: any shape.

    Returns:
        Latent heat, within 0.01 % of the steam tables.
    """
    T = np.asarray(temperature_C, float)
    return 2501.0 + T * (-2.3877 + T * (8.229e-4 - 1.4062e-5 * T))
