"""Isotherms of two to five constants at one temperature, each with its inverse.

The same letter means other things in other papers: what counts is the equation, which stands in
each docstring. A water activity that comes out below 0 or above 1 is nan.
"""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.roots import root_between

TINY = 1e-12


@formula(unit="", source="definition", place="vapour pressure over that of pure water")
def within_0_and_1(water_activity: Array) -> Array:
    """Return a water activity, nan where there is none.

    a where 0 <= a <= 1

    Args:
        water_activity: any shape.

    Returns:
        The same between 0 and 1, else nan.
    """
    a = np.asarray(water_activity, float)
    with np.errstate(invalid="ignore"):
        return np.where((a >= 0) & (a <= 1), a, np.nan)


@formula(unit="as A", source="Oswin 1946, J. Soc. Chem. Ind. 65:419", water_activity=(0.1, 0.9))
def moisture_oswin(water_activity: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the equilibrium moisture by Oswin's isotherm, for starchy foods.

    M = A (a / (1 - a))^B

    Args:
        water_activity: 0 to 1, any shape.
        A: moisture at water activity 0.5.
        B: shape, > 0.

    Returns:
        Moisture in the unit of A.
    """
    a = np.asarray(water_activity, float)
    with np.errstate(divide="ignore"):
        return A * (a / (1 - a)) ** np.asarray(B, float)


@formula(unit="", source="Oswin 1946, J. Soc. Chem. Ind. 65:419")
def water_activity_oswin(moisture: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the water activity at a moisture by Oswin's isotherm.

    a = r / (1 + r), r = (M / A)^(1 / B)

    Args:
        moisture: in the unit of A, any shape.
        A: moisture at water activity 0.5.
        B: shape.

    Returns:
        Water activity.
    """
    r = (np.asarray(moisture, float) / A) ** (1 / np.asarray(B, float))
    return r / (1 + r)


@formula(
    unit="by A and B",
    source="Halsey 1948, J. Chem. Phys. 16:931; Iglesias & Chirife 1976",
    water_activity=(0.1, 0.8),
)
def moisture_halsey(water_activity: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the equilibrium moisture by Halsey's isotherm.

    a = exp(-A M^-B); M = (A / -ln a)^(1 / B)

    Args:
        water_activity: 0 to 1, any shape.
        A: > 0.
        B: > 0.

    Returns:
        Moisture in the unit of the fit.
    """
    with np.errstate(divide="ignore"):
        return (A / -np.log(np.asarray(water_activity, float))) ** (1 / np.asarray(B, float))


@formula(unit="", source="Halsey 1948, J. Chem. Phys. 16:931; Iglesias & Chirife 1976")
def water_activity_halsey(moisture: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the water activity at a moisture by Halsey's isotherm.

    a = exp(-A M^-B)

    Args:
        moisture: in the unit of the fit, > 0, any shape.
        A: > 0.
        B: > 0.

    Returns:
        Water activity.
    """
    with np.errstate(divide="ignore"):
        return np.exp(-A * np.asarray(moisture, float) ** -np.asarray(B, float))


@formula(unit="by A and B", source="Henderson 1952, Agric. Eng. 33:29")
def moisture_henderson(water_activity: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the equilibrium moisture by Henderson's isotherm, often the poorest of them.

    1 - a = exp(-A M^B); M = (-ln(1 - a) / A)^(1 / B)

    Args:
        water_activity: 0 to 1, any shape.
        A: > 0.
        B: > 0.

    Returns:
        Moisture in the unit of the fit.
    """
    a = np.asarray(water_activity, float)
    with np.errstate(divide="ignore"):
        return (-np.log1p(-a) / A) ** (1 / np.asarray(B, float))


@formula(unit="", source="Henderson 1952, Agric. Eng. 33:29")
def water_activity_henderson(moisture: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the water activity at a moisture by Henderson's isotherm.

    a = 1 - exp(-A M^B)

    Args:
        moisture: in the unit of the fit, any shape.
        A: > 0.
        B: > 0.

    Returns:
        Water activity.
    """
    return -np.expm1(-A * np.asarray(moisture, float) ** np.asarray(B, float))


@formula(unit="as A", source="Smith 1947, J. Am. Chem. Soc. 69:646", water_activity=(0.5, 0.95))
def moisture_smith(water_activity: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the equilibrium moisture by Smith's isotherm, for the humid end.

    M = A - B ln(1 - a)

    Args:
        water_activity: 0 to 1, any shape.
        A: moisture that the line meets at water activity 0.
        B: > 0.

    Returns:
        Moisture in the unit of A.
    """
    with np.errstate(divide="ignore"):
        return A - B * np.log1p(-np.asarray(water_activity, float))


@formula(unit="", source="Smith 1947, J. Am. Chem. Soc. 69:646")
def water_activity_smith(moisture: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the water activity at a moisture by Smith's isotherm.

    a = 1 - exp((A - M) / B)

    Args:
        moisture: in the unit of A, any shape.
        A: moisture that the line meets at water activity 0.
        B: > 0.

    Returns:
        Water activity; nan below A.
    """
    return within_0_and_1(-np.expm1((A - np.asarray(moisture, float)) / B))


@formula(
    unit="by A and B",
    source="Caurie 1970, J. Food Technol. 5:301",
    place="one of several forms",
    water_activity=(0.0, 0.85),
)
def moisture_caurie(water_activity: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the equilibrium moisture by Caurie's isotherm.

    ln M = A + B a

    Args:
        water_activity: 0 to 1, any shape.
        A: logarithm of the moisture at water activity 0.
        B: > 0.

    Returns:
        Moisture in the unit of the fit.
    """
    return np.exp(A + B * np.asarray(water_activity, float))


@formula(unit="", source="Caurie 1970, J. Food Technol. 5:301", place="one of several forms")
def water_activity_caurie(moisture: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the water activity at a moisture by Caurie's isotherm.

    a = (ln M - A) / B

    Args:
        moisture: in the unit of the fit, > 0, any shape.
        A: logarithm of the moisture at water activity 0.
        B: > 0.

    Returns:
        Water activity; nan outside 0 to 1.
    """
    with np.errstate(divide="ignore"):
        return within_0_and_1((np.log(np.asarray(moisture, float)) - A) / B)


@formula(unit="as A", source="Iglesias & Chirife 1981", place="fruits", water_activity=(0.3, 0.8))
def moisture_iglesias_chirife(water_activity: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the equilibrium moisture by the isotherm of Iglesias and Chirife, for fruit.

    M = A + B a / (1 - a)

    Args:
        water_activity: 0 to 1, any shape.
        A: moisture that the curve meets at water activity 0; may be negative.
        B: > 0.

    Returns:
        Moisture in the unit of A.
    """
    a = np.asarray(water_activity, float)
    with np.errstate(divide="ignore"):
        return A + B * a / (1 - a)


@formula(unit="", source="Iglesias & Chirife 1981", place="fruits")
def water_activity_iglesias_chirife(moisture: Numbers, A: Numbers, B: Numbers) -> Array:
    """Return the water activity at a moisture by the isotherm of Iglesias and Chirife.

    a = (M - A) / (B + M - A)

    Args:
        moisture: in the unit of A, any shape.
        A: moisture that the curve meets at water activity 0.
        B: > 0.

    Returns:
        Water activity; nan below A.
    """
    above = np.asarray(moisture, float) - A
    return within_0_and_1(above / (B + above))


@formula(unit="as k1", source="Peleg 1993, J. Food Process Eng. 16:21")
def moisture_peleg(
    water_activity: Numbers, k1: Numbers, n1: Numbers, k2: Numbers, n2: Numbers
) -> Array:
    """Return the equilibrium moisture by Peleg's isotherm; it fits anything and explains nothing.

    M = k1 a^n1 + k2 a^n2, n1 < 1 < n2

    Args:
        water_activity: within the points it was fitted to, any shape.
        k1: > 0.
        n1: below 1.
        k2: > 0.
        n2: above 1.

    Returns:
        Moisture in the unit of k1 and k2.
    """
    a = np.asarray(water_activity, float)
    return k1 * a ** np.asarray(n1, float) + k2 * a ** np.asarray(n2, float)


@formula(unit="", source="Peleg 1993, J. Food Process Eng. 16:21", place="solved for a")
def water_activity_peleg(
    moisture: Numbers, k1: Numbers, n1: Numbers, k2: Numbers, n2: Numbers
) -> Array:
    """Return the water activity at a moisture by Peleg's isotherm.

    solve M = k1 a^n1 + k2 a^n2 for a

    Args:
        moisture: in the unit of k1 and k2, any shape.
        k1: > 0.
        n1: below 1.
        k2: > 0.
        n2: above 1.

    Returns:
        Water activity; nan above k1 + k2.
    """
    M, *constants = np.broadcast_arrays(np.asarray(moisture, float), k1, n1, k2, n2)
    return root_between(lambda a: moisture_peleg(a, *constants) - M, np.zeros(M.shape), 1.0)


@formula(unit="as k2", source="D'Arcy & Watt 1970, Trans. Faraday Soc. 66:1236")
def moisture_darcy_watt(
    water_activity: Numbers, k1: Numbers, k2: Numbers, k3: Numbers, k4: Numbers, k5: Numbers
) -> Array:
    """Return the equilibrium moisture by the isotherm of D'Arcy and Watt.

    M = k1 k2 a / (1 + k1 a) + k3 a + k4 k5 a / (1 - k5 a)

    Args:
        water_activity: 0 to 1, any shape.
        k1: strength of the first sites.
        k2: moisture on the first sites.
        k3: moisture on weak sites.
        k4: moisture of the further layers.
        k5: strength of the further layers; the curve ends at 1 / k5.

    Returns:
        Moisture in the unit of k2, k3 and k4; inf from water activity 1 / k5 on.
    """
    a = np.asarray(water_activity, float)
    ka = k5 * a
    with np.errstate(divide="ignore"):
        layers = np.where(ka < 1, k4 * ka / (1 - ka), np.inf)
    return np.asarray(k1) * k2 * a / (1 + k1 * a) + k3 * a + layers


@formula(unit="", source="D'Arcy & Watt 1970, Trans. Faraday Soc. 66:1236", place="solved for a")
def water_activity_darcy_watt(
    moisture: Numbers, k1: Numbers, k2: Numbers, k3: Numbers, k4: Numbers, k5: Numbers
) -> Array:
    """Return the water activity at a moisture by the isotherm of D'Arcy and Watt.

    solve M = k1 k2 a / (1 + k1 a) + k3 a + k4 k5 a / (1 - k5 a) for a

    Args:
        moisture: in the unit of k2, k3 and k4, any shape.
        k1: strength of the first sites.
        k2: moisture on the first sites.
        k3: moisture on weak sites.
        k4: moisture of the further layers.
        k5: strength of the further layers.

    Returns:
        Water activity; nan where the isotherm never holds so much.
    """
    M, *constants = np.broadcast_arrays(np.asarray(moisture, float), k1, k2, k3, k4, k5)
    end = np.minimum(1.0, (1 - TINY) / np.maximum(constants[-1], TINY))
    return root_between(lambda a: moisture_darcy_watt(a, *constants) - M, np.zeros(M.shape), end)
