"""Sugars: inversion, solubility and what a refractometer and a balance read."""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers, formula

# least squares on the sucrose rows of the CRC Handbook 102nd ed. (0-84 % by mass, 20 °C)
_REFRACTIVE_INDEX = (1.332976, 1.435615e-3, 4.85980e-6, 3.04957e-8, -9.80004e-11)
WATER_DENSITY_20C_G_PER_CM3 = 0.998203
INVERSION_GAIN = 1.05263  # kg of hexoses from 1 kg of sucrose, 360.312 / 342.297


@formula(
    unit="1/min",
    source="Vukov 1965, Int. Sugar J. 67:172",
    place="equation in log10; activation energy 108.5 kJ/mol",
    ph=(1.0, 5.0),
    temperature_C=(20.0, 120.0),
)
def inversion_rate_per_min(
    ph: Numbers, temperature_C: Numbers, water_g_per_cm3: Numbers = 1.0
) -> Array:
    """Return the rate constant of the acid inversion of sucrose.

    log10 k = 16.91 + log10(water) - 5670 / T - pH

    Args:
        ph: of the hot syrup, any shape; 0.1-0.3 uncertain, so k is known to a factor 1.5.
        temperature_C: broadcasts.
        water_g_per_cm3: water in a cubic centimetre of syrup.

    Returns:
        First-order constant.
    """
    T = np.asarray(temperature_C, float) + 273.15
    return 10 ** (16.91 + np.log10(water_g_per_cm3) - 5670 / T - np.asarray(ph, float))


@formula(unit="", source="first-order kinetics")
def inverted_fraction(rate_per_min: Numbers, time_min: Numbers) -> Array:
    """Return the share of the sucrose that is inverted after a time.

    X = 1 - exp(-k t)

    Args:
        rate_per_min: k, any shape.
        time_min: broadcasts.

    Returns:
        Share, 0 to 1.
    """
    return -np.expm1(-np.asarray(rate_per_min, float) * time_min)


@formula(unit="", source="CRC Handbook 102nd ed.", place="least squares, 20 °C", brix=(0.0, 84.0))
def refractive_index(brix: Numbers) -> Array:
    """Return the refractive index at 20 °C of a sucrose solution.

    n = 1.332976 + 1.435615e-3 B + 4.8598e-6 B^2 + 3.04957e-8 B^3 - 9.80004e-11 B^4

    Args:
        brix: sucrose, g per 100 g, any shape.

    Returns:
        n_D.
    """
    B = np.asarray(brix, float)
    return np.polynomial.polynomial.polyval(B, _REFRACTIVE_INDEX)


def by_crowding(
    solutes_mass_fraction: Numbers, dissolved_fraction: Numbers, coefficients: Numbers
) -> Array:
    """Return a sum over solutes whose weights bend as the solution gets crowded.

    sum_i w_i (c0_i + c1_i W + c2_i W^2), W the mass fraction of everything dissolved

    Args:
        solutes_mass_fraction: w of each solute in the liquid, on the last axis.
        dissolved_fraction: W of the liquid.
        coefficients: (c0, c1, c2) of each solute, solutes on the last axis.

    Returns:
        The sum; the last axis is gone.

    Source:
        A quadratic through handbook tables of one solute at a time; used for what a refractometer
        reads and for volume.
    """
    w = np.asarray(solutes_mass_fraction, float)
    c0, c1, c2 = np.asarray(coefficients, float)
    W = np.asarray(dissolved_fraction, float)[..., None]
    return np.sum(w * (c0 + c1 * W + c2 * W**2), axis=-1)


@formula(
    unit="°Brix",
    source="CRC Handbook 102nd ed., refractive index of one solute at a time",
    place="read on the sucrose scale, 20 °C",
)
def apparent_brix(
    solutes_mass_fraction: Numbers, dissolved_fraction: Numbers, coefficients: Numbers
) -> Array:
    """Return what a refractometer reads.

    B = 100 sum_i w_i (r0_i + r1_i W + r2_i W^2)

    Sugars read 0.98 to 1.02 of their per cent, salt 1.17, citric acid 0.87, acetic acid 0.49,
    ethanol 0.45: salt, acid and alcohol must be subtracted before it is called sugar.

    Args:
        solutes_mass_fraction: w of each solute in the liquid, on the last axis.
        dissolved_fraction: W, everything dissolved.
        coefficients: (r0, r1, r2), solutes on the last axis.

    Returns:
        Degrees Brix.
    """
    return 100 * by_crowding(solutes_mass_fraction, dissolved_fraction, coefficients)


@formula(
    unit="g/cm³",
    source="CRC Handbook 102nd ed., density of one solute at a time; Choi & Okos 1986 for solids",
    place="volumes add, 20 °C",
)
def density_g_per_cm3(
    water_fraction: Numbers,
    solutes_mass_fraction: Numbers,
    dissolved_fraction: Numbers,
    coefficients: Numbers,
) -> Array:
    """Return the density of a food without air.

    1 / rho = w_water / 0.998203 + sum_i w_i (v0_i + v1_i W + v2_i W^2)

    Args:
        water_fraction: water in the whole food, 0 to 1.
        solutes_mass_fraction: w of everything else in the whole food, on the last axis.
        dissolved_fraction: W of the liquid phase.
        coefficients: (v0, v1, v2) in cm3/g, on the last axis.

    Returns:
        Density at 20 °C.
    """
    water = np.asarray(water_fraction, float) / WATER_DENSITY_20C_G_PER_CM3
    return 1 / (water + by_crowding(solutes_mass_fraction, dissolved_fraction, coefficients))


@formula(unit="", source="definition")
def saturation_ratio(
    solute_kg: Numbers, water_kg: Numbers, solubility_mass_percent: Numbers
) -> Array:
    """Return how far a solute is past its solubility in the water that is there.

    S = (solute / water) / (s / (100 - s))

    Args:
        solute_kg: any shape.
        water_kg: broadcasts.
        solubility_mass_percent: g solute per 100 g saturated solution.

    Returns:
        Above 1 the solution can drop crystals; other solutes shift it a little.
    """
    s = np.asarray(solubility_mass_percent, float)
    return np.asarray(solute_kg, float) / np.asarray(water_kg) * (100 - s) / s
