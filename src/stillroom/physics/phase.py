"""Boiling and freezing of a solution, from its water activity."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from stillroom.labels import Array, Numbers, formula

GAS_CONSTANT_J_PER_MOL_K = 8.314462618
STANDARD_PRESSURE_KPA = 101.325
HOTTEST_SYRUP_C = 180.0  # sugar is caramel and nothing boils any more
# IAPWS-IF97, region 4
_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
DEEPEST_K = 55.0  # the density of water has a pole at -59 °C


@formula(
    unit="kPa",
    source="IAPWS Industrial Formulation 1997",
    place="equation 30",
    temperature_C=(0, 373.9),
)
def saturation_pressure_kPa(temperature_C: Numbers) -> Array:
    """Return the vapour pressure of pure water.

    p = (2 C / (-B + sqrt(B^2 - 4 A C)))^4 MPa, A, B, C quadratic in T + n9 / (T - n10)

    Args:
        temperature_C: any shape.

    Returns:
        Saturation pressure.
    """
    T = np.asarray(temperature_C, float) + 273.15
    theta = T + _N[8] / (T - _N[9])
    A = theta**2 + _N[0] * theta + _N[1]
    B = _N[2] * theta**2 + _N[3] * theta + _N[4]
    C = _N[5] * theta**2 + _N[6] * theta + _N[7]
    return 1000 * (2 * C / (-B + np.sqrt(B**2 - 4 * A * C))) ** 4


@formula(
    unit="°C",
    source="IAPWS Industrial Formulation 1997",
    place="equation 31",
    pressure_kPa=(0.612, 22064),
)
def water_boiling_point_C(pressure_kPa: Numbers = STANDARD_PRESSURE_KPA) -> Array:
    """Return the boiling point of pure water.

    T = (n10 + D - sqrt((n10 + D)^2 - 4 (n9 + n10 D))) / 2, D from beta = p^(1/4)

    Args:
        pressure_kPa: any shape.

    Returns:
        Temperature; the exact inverse of the vapour pressure.
    """
    beta = (np.asarray(pressure_kPa, float) / 1000) ** 0.25
    E = beta**2 + _N[2] * beta + _N[5]
    F = _N[0] * beta**2 + _N[3] * beta + _N[6]
    G = _N[1] * beta**2 + _N[4] * beta + _N[7]
    D = 2 * G / (-F - np.sqrt(F**2 - 4 * E * G))
    s = _N[9] + D
    return (s - np.sqrt(s**2 - 4 * (_N[8] + _N[9] * D))) / 2 - 273.15


@formula(unit="kPa", source="ISO 2533 standard atmosphere", altitude_m=(-500, 11000))
def pressure_at_altitude_kPa(altitude_m: Numbers) -> Array:
    """Return the mean air pressure at a height above the sea.

    p = 101.325 (1 - 2.25577e-5 h)^5.25588

    Args:
        altitude_m: any shape.

    Returns:
        Pressure; the weather moves it by some 2 %.
    """
    return STANDARD_PRESSURE_KPA * (1 - 2.25577e-5 * np.asarray(altitude_m, float)) ** 5.25588


def boiling_point_C(
    water_activity_at: Callable[[Array], Array],
    pressure_kPa: Numbers = STANDARD_PRESSURE_KPA,
) -> Array:
    """Return the boiling point of a solution.

    solve a_w(T) p_sat(T) = p, by T <- T_sat(p / a_w(T))

    Args:
        water_activity_at: temperature in °C -> water activity of the solution there.
        pressure_kPa: any shape.

    Returns:
        Temperature of the boil. Give it to a kitchen as a rise above the local boiling point of
        water.

    Source:
        Raoult's law corrected by the water activity; vapour taken as pure water. a_w hardly
        moves with temperature, so three passes reach 1e-3 K.
    """
    T = water_boiling_point_C(pressure_kPa)
    for _ in range(3):
        T = water_boiling_point_C(np.asarray(pressure_kPa) / water_activity_at(T))
        T = np.minimum(T, HOTTEST_SYRUP_C)
    return T


@formula(
    unit="",
    source="ice-water equilibrium",
    place="6009.5 J/mol and 38 J/(mol K)",
    freezing_point_depression_K=(0.0, 30.0),
)
def water_activity_of_ice(freezing_point_depression_K: Numbers) -> Array:
    """Return the water activity of a solution that freezes this far below water.

    ln a_w = -(dH/R) (1/T - 1/T0) + (dCp/R) ((T0/T - 1) - ln(T0/T)), T0 = 273.15 K

    A frozen food has this water activity whatever the recipe: 0.953 at -5 °C.

    Args:
        freezing_point_depression_K: positive, any shape.

    Returns:
        Water activity at the freezing temperature.
    """
    T0 = 273.15
    T = T0 - np.asarray(freezing_point_depression_K, float)
    fusion = -6009.5 / GAS_CONSTANT_J_PER_MOL_K * (1 / T - 1 / T0)
    capacity = 38 / GAS_CONSTANT_J_PER_MOL_K * ((T0 / T - 1) - np.log(T0 / T))
    return np.exp(fusion + capacity)


def freezing_point_depression_K(water_activity_at: Callable[[Array], Array], start: Array) -> Array:
    """Return how far below water a solution begins to freeze.

    solve a_w(T) = a_ice(T) by secant steps on the depression

    Args:
        water_activity_at: temperature in °C -> water activity of the solution there.
        start: water activity at any temperature; gives shape and first guess.

    Returns:
        Depression, positive; no more than 55 K, where the density of water is still one.

    Source:
        Equality of the chemical potential of water in ice and solution.
    """

    def gap(depression: Array) -> Array:
        return np.log(water_activity_of_ice(depression)) - np.log(water_activity_at(-depression))

    slope = 9.69e-3  # d(-ln a_ice)/d(depression) near 0 °C
    depression: Array = np.minimum(-np.log(start) / slope, DEEPEST_K)
    for _ in range(12):
        depression = np.clip(depression + gap(depression) / slope, 0.0, DEEPEST_K)
    return depression
