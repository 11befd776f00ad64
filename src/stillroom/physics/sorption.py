"""How much water a food holds at a water activity, and the other way round: sorption isotherms.

Moisture is on the dry basis (water / dry solids) everywhere, in the unit of the constants.
Adsorption (a powder that gains water) lies below desorption (a piece that dries): the direction
belongs to the constants.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from stillroom.labels import Array, Numbers, formula
from stillroom.physics import grain_isotherms as grain
from stillroom.physics import isotherms
from stillroom.physics.phase import GAS_CONSTANT_J_PER_MOL_K

ZERO_C = 273.15


@formula(
    unit="as xm",
    source="van den Berg & Bruin 1981",
    place="Guggenheim-Anderson-de Boer isotherm",
    water_activity=(0.05, 0.9),
)
def moisture_gab(water_activity: Numbers, xm: Numbers, C: Numbers, K: Numbers) -> Array:
    """Return the equilibrium moisture by the GAB isotherm, the usual one for foods.

    M = xm C K a / ((1 - K a) (1 - K a + C K a))

    Never the fresh, wet state: at a = 1 it gives a finite moisture. Use solutions above 0.9.

    Args:
        water_activity: 0 to 1, any shape.
        xm: monolayer, the moisture of best stability of most dry foods, > 0.
        C: heat constant of the monolayer, > 0.
        K: constant of further layers, > 0; above 1 the curve ends before water activity 1.

    Returns:
        Moisture in the unit of xm; inf where K a is 1 or more, outside the domain.
    """
    ka = np.asarray(K, float) * np.asarray(water_activity, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        held = xm * np.asarray(C) * ka / ((1 - ka) * (1 - ka + C * ka))
    return np.where(ka < 1, held, np.inf)


@formula(
    unit="",
    source="van den Berg & Bruin 1981",
    place="GAB isotherm, quadratic solved for K a in a form without cancellation",
)
def water_activity_gab(moisture: Numbers, xm: Numbers, C: Numbers, K: Numbers) -> Array:
    """Return the water activity at a moisture by the GAB isotherm.

    K a = 2 / (q + sqrt(q^2 + 4 (C - 1))), q = xm C / M - C + 2

    Args:
        moisture: in the unit of xm, any shape.
        xm: as in moisture_gab.
        C: as in moisture_gab.
        K: as in moisture_gab.

    Returns:
        Water activity, below 1 / K; nan where the moisture is more than the isotherm ever holds.
    """
    c = np.asarray(C, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        q = xm * c / np.asarray(moisture, float) - c + 2
        a = 2 / (q + np.sqrt(q**2 + 4 * (c - 1))) / K
    return isotherms.within_0_and_1(a)


@formula(unit="", source="definition", place="domain of the GAB isotherm")
def gab_domain_end(K: Numbers) -> Array:
    """Return the water activity below which a GAB isotherm has a meaning.

    a < 1 / K, at most 1

    Args:
        K: constant of further layers; above 1 in many fits of sugar-rich foods.

    Returns:
        Water activity; report it when a question lies above.
    """
    return np.minimum(1.0, 1 / np.asarray(K, float))


@formula(
    unit="as xm",
    source="Brunauer, Emmett & Teller 1938, J. Am. Chem. Soc. 60:309",
    water_activity=(0.05, 0.45),
)
def moisture_bet(water_activity: Numbers, xm: Numbers, C: Numbers) -> Array:
    """Return the equilibrium moisture by the BET isotherm, for dry foods and the monolayer.

    M = xm C a / ((1 - a) (1 - a + C a))

    Args:
        water_activity: 0 to 1, any shape.
        xm: monolayer.
        C: heat constant of the monolayer.

    Returns:
        Moisture in the unit of xm; the GAB isotherm with K = 1.
    """
    return moisture_gab(water_activity, xm, C, 1.0)


@formula(unit="", source="Brunauer, Emmett & Teller 1938, J. Am. Chem. Soc. 60:309")
def water_activity_bet(moisture: Numbers, xm: Numbers, C: Numbers) -> Array:
    """Return the water activity at a moisture by the BET isotherm.

    a = 2 / (q + sqrt(q^2 + 4 (C - 1))), q = xm C / M - C + 2

    Args:
        moisture: in the unit of xm, any shape.
        xm: monolayer.
        C: heat constant of the monolayer.

    Returns:
        Water activity.
    """
    return water_activity_gab(moisture, xm, C, 1.0)


@formula(
    unit="1 / unit of the plot",
    source="Brunauer, Emmett & Teller 1938",
    place="straight plot of a / ((1 - a) M) against a",
)
def bet_monolayer(intercept: Numbers, slope: Numbers) -> Array:
    """Return the monolayer from a straight BET plot.

    xm = 1 / (slope + intercept); C = 1 + slope / intercept

    A curve fitted to the moistures themselves is better: the plot distorts their errors.

    Args:
        intercept: 1 / (xm C), any shape.
        slope: (C - 1) / (xm C).

    Returns:
        Monolayer, in the unit of moisture of the plot.
    """
    return 1 / (np.asarray(slope, float) + np.asarray(intercept, float))


@formula(
    unit="",
    source="Clausius-Clapeyron at constant moisture",
    place="net isosteric heat taken constant between the temperatures",
)
def water_activity_at_temperature(
    water_activity: Numbers,
    temperature_C: Numbers,
    new_temperature_C: Numbers,
    net_isosteric_heat_kJ_mol: Numbers,
) -> Array:
    """Return the water activity of a sealed dry food at another temperature.

    ln(a2 / a1) = (q / R) (1 / T1 - 1 / T2)

    A sealed dry pack has a higher water activity when it warms. Wrong above 0.6-0.8 for
    sugar-rich fruit: more sugar dissolves, and the isotherms cross.

    Args:
        water_activity: at the first temperature, any shape.
        temperature_C: first temperature.
        new_temperature_C: other temperature.
        net_isosteric_heat_kJ_mol: binding beyond the latent heat; near 0 above 0.15-0.20 kg/kg.

    Returns:
        Water activity at the other temperature.
    """
    T1 = np.asarray(temperature_C, float) + ZERO_C
    T2 = np.asarray(new_temperature_C, float) + ZERO_C
    q = 1000 * np.asarray(net_isosteric_heat_kJ_mol, float)
    return water_activity * np.exp(q / GAS_CONSTANT_J_PER_MOL_K * (1 / T1 - 1 / T2))


@formula(unit="%", source="Lomauro, Bakshi & Labuza 1985", place="below 5 good, above 10 poor")
def mean_relative_deviation_percent(observed: Numbers, predicted: Numbers) -> Array:
    """Return how far a fitted isotherm lies from its points.

    E = 100 / N sum |M_obs - M_calc| / M_obs

    Args:
        observed: moistures measured, on the last axis, > 0.
        predicted: of the isotherm at the same water activities.

    Returns:
        Per cent; the last axis is averaged.
    """
    seen = np.asarray(observed, float)
    return 100 * np.mean(np.abs(seen - np.asarray(predicted, float)) / seen, axis=-1)


@dataclass(frozen=True)
class Form:
    """An isotherm equation with its inverse.

    Attributes:
        moisture: (water activity, constants[, temperature_C]) -> moisture.
        water_activity: (moisture, constants[, temperature_C]) -> water activity.
        constants: names, in order; those of the table.
        with_temperature: whether temperature_C is a further argument.
    """

    moisture: Callable[..., Array]
    water_activity: Callable[..., Array]
    constants: tuple[str, ...]
    with_temperature: bool = False


FORMS: Mapping[str, Form] = {
    "gab": Form(moisture_gab, water_activity_gab, ("xm", "C", "K")),
    "bet": Form(moisture_bet, water_activity_bet, ("xm", "C")),
    "oswin": Form(isotherms.moisture_oswin, isotherms.water_activity_oswin, ("A", "B")),
    "halsey": Form(isotherms.moisture_halsey, isotherms.water_activity_halsey, ("A", "B")),
    "henderson": Form(isotherms.moisture_henderson, isotherms.water_activity_henderson, ("A", "B")),
    "smith": Form(isotherms.moisture_smith, isotherms.water_activity_smith, ("A", "B")),
    "caurie": Form(isotherms.moisture_caurie, isotherms.water_activity_caurie, ("A", "B")),
    "iglesias_chirife": Form(
        isotherms.moisture_iglesias_chirife, isotherms.water_activity_iglesias_chirife, ("A", "B")
    ),
    "peleg": Form(
        isotherms.moisture_peleg, isotherms.water_activity_peleg, ("k1", "n1", "k2", "n2")
    ),
    "darcy_watt": Form(
        isotherms.moisture_darcy_watt,
        isotherms.water_activity_darcy_watt,
        ("k1", "k2", "k3", "k4", "k5"),
    ),
    "mod_henderson": Form(
        grain.moisture_mod_henderson, grain.water_activity_mod_henderson, ("K", "C", "N"), True
    ),
    "mod_chung_pfost": Form(
        grain.moisture_mod_chung_pfost, grain.water_activity_mod_chung_pfost, ("A", "B", "C"), True
    ),
    "chung_pfost_emc": Form(
        grain.moisture_chung_pfost_emc, grain.water_activity_chung_pfost_emc, ("E", "F", "C"), True
    ),
    "mod_halsey": Form(
        grain.moisture_mod_halsey, grain.water_activity_mod_halsey, ("A", "B", "C"), True
    ),
    "mod_oswin": Form(
        grain.moisture_mod_oswin, grain.water_activity_mod_oswin, ("A", "B", "C"), True
    ),
}
