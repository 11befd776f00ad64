"""Isotherms with the temperature in them, as agricultural engineers use for grain and seeds.

RH is the relative humidity of the air at equilibrium, a fraction: the water activity. Constants
are tied to a unit of moisture (per cent dry basis, but a decimal in the EMC form) and to an edition
of the standard: editions must not be mixed (corn differs by 0.7 points).
"""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.isotherms import within_0_and_1


@formula(
    unit="by K and N",
    source="Thompson, Peart & Foster 1968, Trans. ASAE 11:582; ASAE D245",
    place="modified Henderson",
    water_activity=(0.2, 0.9),
)
def moisture_mod_henderson(
    water_activity: Numbers, K: Numbers, C: Numbers, N: Numbers, temperature_C: Numbers
) -> Array:
    """Return the equilibrium moisture by the modified Henderson isotherm.

    1 - RH = exp(-K (T + C) M^N); M = (-ln(1 - RH) / (K (T + C)))^(1 / N)

    Args:
        water_activity: 0 to 1, any shape.
        K: 1/°C.
        C: °C.
        N: power of the moisture.
        temperature_C: above -C.

    Returns:
        Moisture in the unit of the constants, per cent dry basis as a rule.
    """
    a = np.asarray(water_activity, float)
    warm = K * (np.asarray(temperature_C, float) + C)
    with np.errstate(divide="ignore"):
        return (-np.log1p(-a) / warm) ** (1 / np.asarray(N, float))


@formula(
    unit="",
    source="Thompson, Peart & Foster 1968, Trans. ASAE 11:582; ASAE D245",
    place="modified Henderson",
)
def water_activity_mod_henderson(
    moisture: Numbers, K: Numbers, C: Numbers, N: Numbers, temperature_C: Numbers
) -> Array:
    """Return the water activity at a moisture by the modified Henderson isotherm.

    RH = 1 - exp(-K (T + C) M^N)

    Args:
        moisture: in the unit of the constants, any shape.
        K: 1/°C.
        C: °C.
        N: power of the moisture.
        temperature_C: above -C.

    Returns:
        Water activity.
    """
    warm = K * (np.asarray(temperature_C, float) + C)
    return -np.expm1(-warm * np.asarray(moisture, float) ** np.asarray(N, float))


@formula(
    unit="by B",
    source="Chung & Pfost 1967, Trans. ASAE 10:549; ASAE D245",
    place="modified Chung-Pfost",
    water_activity=(0.2, 0.9),
)
def moisture_mod_chung_pfost(
    water_activity: Numbers, A: Numbers, B: Numbers, C: Numbers, temperature_C: Numbers
) -> Array:
    """Return the equilibrium moisture by the modified Chung-Pfost isotherm.

    RH = exp(-A / (T + C) exp(-B M)); M = -ln(-(T + C) ln RH / A) / B

    Args:
        water_activity: 0 to 1, any shape; near 0 the moisture turns negative.
        A: °C.
        B: 1 / unit of moisture.
        C: °C.
        temperature_C: above -C, some -30 °C.

    Returns:
        Moisture in the unit of the constants, per cent dry basis as a rule.
    """
    warm = np.asarray(temperature_C, float) + C
    with np.errstate(divide="ignore"):
        return -np.log(-warm * np.log(np.asarray(water_activity, float)) / A) / B


@formula(
    unit="",
    source="Chung & Pfost 1967, Trans. ASAE 10:549; ASAE D245",
    place="modified Chung-Pfost",
)
def water_activity_mod_chung_pfost(
    moisture: Numbers, A: Numbers, B: Numbers, C: Numbers, temperature_C: Numbers
) -> Array:
    """Return the water activity at a moisture by the modified Chung-Pfost isotherm.

    RH = exp(-A / (T + C) exp(-B M))

    Args:
        moisture: in the unit of the constants, any shape.
        A: °C.
        B: 1 / unit of moisture.
        C: °C.
        temperature_C: above -C.

    Returns:
        Water activity.
    """
    warm = np.asarray(temperature_C, float) + C
    return np.exp(-A / warm * np.exp(-B * np.asarray(moisture, float)))


@formula(
    unit="as E",
    source="Pfost et al. 1976, ASAE paper 76-3520; ASAE D245.4",
    place="Chung-Pfost, EMC form",
    water_activity=(0.2, 0.9),
)
def moisture_chung_pfost_emc(
    water_activity: Numbers, E: Numbers, F: Numbers, C: Numbers, temperature_C: Numbers
) -> Array:
    """Return the equilibrium moisture by the Chung-Pfost isotherm solved for it.

    M = E - F ln(-(T + C) ln RH)

    Args:
        water_activity: 0 to 1, any shape.
        E: unit of moisture.
        F: unit of moisture.
        C: °C.
        temperature_C: above -C.

    Returns:
        Moisture in the unit of the constants, a decimal fraction dry basis as a rule.
    """
    warm = np.asarray(temperature_C, float) + C
    with np.errstate(divide="ignore"):
        return E - F * np.log(-warm * np.log(np.asarray(water_activity, float)))


@formula(
    unit="",
    source="Pfost et al. 1976, ASAE paper 76-3520; ASAE D245.4",
    place="Chung-Pfost, EMC form",
)
def water_activity_chung_pfost_emc(
    moisture: Numbers, E: Numbers, F: Numbers, C: Numbers, temperature_C: Numbers
) -> Array:
    """Return the water activity at a moisture by the Chung-Pfost isotherm in its EMC form.

    RH = exp(-exp((E - M) / F) / (T + C))

    Args:
        moisture: in the unit of E and F, any shape.
        E: unit of moisture.
        F: unit of moisture.
        C: °C.
        temperature_C: above -C.

    Returns:
        Water activity.
    """
    warm = np.asarray(temperature_C, float) + C
    return np.exp(-np.exp((E - np.asarray(moisture, float)) / F) / warm)


@formula(
    unit="by A and C",
    source="Iglesias & Chirife 1976; ASAE D245",
    place="modified Halsey, oilseeds and herbs",
    water_activity=(0.2, 0.9),
)
def moisture_mod_halsey(
    water_activity: Numbers, A: Numbers, B: Numbers, C: Numbers, temperature_C: Numbers
) -> Array:
    """Return the equilibrium moisture by the modified Halsey isotherm.

    RH = exp(-exp(A + B T) M^-C); M = (exp(A + B T) / -ln RH)^(1 / C)

    Args:
        water_activity: 0 to 1, any shape.
        A: at 0 °C.
        B: 1/°C, negative as a rule.
        C: power of the moisture.
        temperature_C: broadcasts.

    Returns:
        Moisture in the unit of the constants, per cent dry basis as a rule.
    """
    held = np.exp(A + B * np.asarray(temperature_C, float))
    with np.errstate(divide="ignore"):
        return (held / -np.log(np.asarray(water_activity, float))) ** (1 / np.asarray(C, float))


@formula(
    unit="",
    source="Iglesias & Chirife 1976; ASAE D245",
    place="modified Halsey, oilseeds and herbs",
)
def water_activity_mod_halsey(
    moisture: Numbers, A: Numbers, B: Numbers, C: Numbers, temperature_C: Numbers
) -> Array:
    """Return the water activity at a moisture by the modified Halsey isotherm.

    RH = exp(-exp(A + B T) M^-C)

    Args:
        moisture: in the unit of the constants, > 0, any shape.
        A: at 0 °C.
        B: 1/°C.
        C: power of the moisture.
        temperature_C: broadcasts.

    Returns:
        Water activity.
    """
    held = np.exp(A + B * np.asarray(temperature_C, float))
    return np.exp(-held * np.asarray(moisture, float) ** -np.asarray(C, float))


@formula(
    unit="as A",
    source="Oswin 1946; Chen & Morey 1989, Trans. ASAE 32:983",
    place="modified Oswin",
    water_activity=(0.2, 0.9),
)
def moisture_mod_oswin(
    water_activity: Numbers, A: Numbers, B: Numbers, C: Numbers, temperature_C: Numbers
) -> Array:
    """Return the equilibrium moisture by the modified Oswin isotherm.

    M = (A + B T) (RH / (1 - RH))^(1 / C)

    Args:
        water_activity: 0 to 1, any shape.
        A: moisture at RH 0.5 and 0 °C.
        B: change of it with temperature, 1/°C.
        C: 1 / shape.
        temperature_C: broadcasts.

    Returns:
        Moisture in the unit of A, per cent dry basis as a rule.
    """
    a = np.asarray(water_activity, float)
    half = A + B * np.asarray(temperature_C, float)
    with np.errstate(divide="ignore"):
        return half * (a / (1 - a)) ** (1 / np.asarray(C, float))


@formula(
    unit="",
    source="Oswin 1946; Chen & Morey 1989, Trans. ASAE 32:983",
    place="modified Oswin",
)
def water_activity_mod_oswin(
    moisture: Numbers, A: Numbers, B: Numbers, C: Numbers, temperature_C: Numbers
) -> Array:
    """Return the water activity at a moisture by the modified Oswin isotherm.

    RH = r / (1 + r), r = (M / (A + B T))^C

    Args:
        moisture: in the unit of A, any shape.
        A: moisture at RH 0.5 and 0 °C.
        B: change of it with temperature, 1/°C.
        C: 1 / shape.
        temperature_C: broadcasts.

    Returns:
        Water activity.
    """
    half = A + B * np.asarray(temperature_C, float)
    r = (np.asarray(moisture, float) / half) ** np.asarray(C, float)
    return within_0_and_1(r / (1 + r))
