"""Films against moisture: permeance, laminates, leaks.

Permeance P is grams of water through a square metre in a day for a pascal of vapour pressure;
conductance is that of a whole pack, its film and its leaks together.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.death import rate_constant
from stillroom.physics.phase import GAS_CONSTANT_J_PER_MOL_K, saturation_pressure_kPa
from stillroom.physics.water import WATER_MOLAR_MASS_KG_PER_MOL

ZERO_C = 273.15
SECONDS_PER_DAY = 86400.0


@formula(unit="g/(m²·d·Pa)", source="definition", place="dry on the other side in a usual test")
def permeance_g_per_m2_day_Pa(
    wvtr_g_per_m2_day: Numbers,
    test_C: Numbers,
    test_relative_humidity: Numbers,
    other_relative_humidity: Numbers = 0.0,
) -> Array:
    """Return the permeance from a transmission rate of a data sheet.

    P = WVTR / (p_s(T) (RH - RH_other))

    Args:
        wvtr_g_per_m2_day: water vapour transmission rate, any shape.
        test_C: temperature of the test; a figure without it must not be used.
        test_relative_humidity: on the humid side, 0 to 1.
        other_relative_humidity: on the dry side.

    Returns:
        Permeance of this thickness.
    """
    drive = vapour_pressure_Pa(test_C, test_relative_humidity) - vapour_pressure_Pa(
        test_C, other_relative_humidity
    )
    return np.asarray(wvtr_g_per_m2_day, float) / drive


@formula(unit="g/(m²·d)", source="definition", place="dry on the other side in a usual test")
def wvtr_g_per_m2_day(
    permeance_g_per_m2_day_Pa: Numbers,
    test_C: Numbers,
    test_relative_humidity: Numbers,
    other_relative_humidity: Numbers = 0.0,
) -> Array:
    """Return the transmission rate at a temperature and humidity.

    WVTR = P p_s(T) (RH - RH_other)

    Args:
        permeance_g_per_m2_day_Pa: at that temperature, any shape.
        test_C: temperature.
        test_relative_humidity: on the humid side, 0 to 1.
        other_relative_humidity: on the dry side.

    Returns:
        Water vapour transmission rate.
    """
    drive = vapour_pressure_Pa(test_C, test_relative_humidity) - vapour_pressure_Pa(
        test_C, other_relative_humidity
    )
    return np.asarray(permeance_g_per_m2_day_Pa, float) * drive


@formula(unit="Pa", source="definition of relative humidity", temperature_C=(0, 100))
def vapour_pressure_Pa(temperature_C: Numbers, relative_humidity: Numbers) -> Array:
    """Return the pressure of water vapour in air, or over a food by its water activity.

    p = RH p_s(T)

    Args:
        temperature_C: any shape.
        relative_humidity: 0 to 1; broadcasts.

    Returns:
        Vapour pressure.
    """
    return 1000 * saturation_pressure_kPa(temperature_C) * relative_humidity


@formula(unit="as P", source="Fick's law", place="one homogeneous film")
def at_thickness(transmission: Numbers, thickness_um: Numbers, new_thickness_um: Numbers) -> Array:
    """Return the permeance or transmission rate of another thickness.

    P2 = P1 x1 / x2

    Never for metallised, coated or foil films, whose barrier is a skin of its own.

    Args:
        transmission: of the known thickness, any shape.
        thickness_um: known thickness.
        new_thickness_um: wanted thickness.

    Returns:
        Permeance or transmission rate, in its unit.
    """
    return np.asarray(transmission, float) * thickness_um / np.asarray(new_thickness_um, float)


@formula(unit="as P", source="resistances in series")
def laminate(transmissions: Numbers) -> Array:
    """Return the permeance or transmission rate of layers on each other.

    1 / P = sum 1 / P_i

    Args:
        transmissions: of each layer on the last axis, all at one temperature and humidity; 0 for
            a perfect barrier.

    Returns:
        Permeance or transmission rate, in their unit; the last axis is summed.
    """
    with np.errstate(divide="ignore"):
        return 1 / np.sum(1 / np.asarray(transmissions, float), axis=-1)


@formula(unit="g/(m²·d·Pa)", source="Arrhenius 1889", place="on the permeance, not on the WVTR")
def permeance_at_temperature_g_per_m2_day_Pa(
    permeance_g_per_m2_day_Pa: Numbers,
    test_C: Numbers,
    activation_energy_kJ_mol: Numbers,
    temperature_C: Numbers,
) -> Array:
    """Return a permeance at another temperature.

    P(T) = P0 exp(-E_a / R (1 / T - 1 / T0))

    Published energies disagree (polypropylene 42 and 11 kJ/mol): give results with and without.

    Args:
        permeance_g_per_m2_day_Pa: at the temperature of the test, any shape.
        test_C: temperature of the test.
        activation_energy_kJ_mol: of permeation; 0: no change.
        temperature_C: wanted.

    Returns:
        Permeance.
    """
    return rate_constant(permeance_g_per_m2_day_Pa, test_C, activation_energy_kJ_mol, temperature_C)


@formula(unit="g/(d·Pa)", source="resistances in parallel")
def conductance_g_per_day_Pa(
    permeance_g_per_m2_day_Pa: Numbers, area_m2: Numbers, leak_g_per_day_Pa: Numbers = 0.0
) -> Array:
    """Return the conductance of a whole pack.

    G = P A + leaks

    Args:
        permeance_g_per_m2_day_Pa: of the film at the temperature of the room, any shape.
        area_m2: both faces of a pouch, headspace film included.
        leak_g_per_day_Pa: of seals, zip and holes.

    Returns:
        Grams of water a day for a pascal.
    """
    return np.asarray(permeance_g_per_m2_day_Pa, float) * area_m2 + leak_g_per_day_Pa


@formula(
    unit="g/(d·Pa)",
    source="Fick's law in still air",
    place="a round hole with one radius of end correction for both mouths: pi r / 2",
)
def hole_g_per_day_Pa(
    diameter_um: Numbers,
    depth_um: Numbers,
    temperature_C: Numbers = 25.0,
    vapour_in_air_m2_per_s: Numbers = 2.5e-5,
) -> Array:
    """Return the conductance of a pinhole or a channel in a seal.

    G = D M_w / (R T) pi r^2 / (l + pi r / 2)

    A hole of 50 um lets more through than all the film of a foil pouch.

    Args:
        diameter_um: 2 r, any shape.
        depth_um: l, thickness of the film or length of the channel.
        temperature_C: of the air.
        vapour_in_air_m2_per_s: D of water vapour in air.

    Returns:
        Grams of water a day for a pascal, for one hole.
    """
    r = 1e-6 * np.asarray(diameter_um, float) / 2
    length = 1e-6 * np.asarray(depth_um, float) + np.pi * r / 2
    gas = GAS_CONSTANT_J_PER_MOL_K * (np.asarray(temperature_C, float) + ZERO_C)
    grams_per_m3_Pa = 1000 * WATER_MOLAR_MASS_KG_PER_MOL / gas
    flow = vapour_in_air_m2_per_s * np.pi * r**2 / length
    return SECONDS_PER_DAY * flow * grams_per_m3_Pa


_THICKNESS_UM = {"": 1.0, " um": 1.0, " mil": 25.4, " mm": 1000.0}
_AREA_M2 = {"m2": 1.0, "100 in2": 0.064516}
_TIME_DAYS = {"day": 1.0, "24 h": 1.0, "h": 1 / 24}
# unit -> (whether it is that of a thickness, grams (x um) through a square metre in a day)
TRANSMISSION_UNITS: Mapping[str, tuple[bool, float]] = {
    f"g{thick}/({area} {time})": (bool(thick), um / (m2 * days))
    for thick, um in _THICKNESS_UM.items()
    for area, m2 in _AREA_M2.items()
    for time, days in _TIME_DAYS.items()
}


@formula(unit="as wanted", source="definition", place="1 in = 25.4 mm")
def transmission_in(value: Numbers, unit: str, wanted: str) -> Array:
    """Return a transmission rate, or one times thickness, in another unit.

    1 g mil/(100 in2 day) = 15.5 g mil/(m2 day)

    Args:
        value: any shape.
        unit: a key of TRANSMISSION_UNITS, such as "g/(100 in2 day)".
        wanted: another one.

    Returns:
        Value in the wanted unit.

    Raises:
        ValueError: no such unit, or the one is for a thickness and the other not.
    """
    for name in (unit, wanted):
        if name not in TRANSMISSION_UNITS:
            known = ", ".join(TRANSMISSION_UNITS)
            raise ValueError(f"{name!r} is no unit of transmission; there are {known}.")
    (of_thickness, factor), (other, wanted_factor) = (
        TRANSMISSION_UNITS[name] for name in (unit, wanted)
    )
    if of_thickness is not other:
        raise ValueError(f"{unit!r} and {wanted!r} differ by a thickness.")
    return np.asarray(value, float) * factor / wanted_factor
