"""What a step of the process does to a mixture; any leading axes, mass and charge conserved."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize.elementwise import find_root

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import acid as acidity
from stillroom.physics import heat, phase, sugar, titration
from stillroom.product import properties
from stillroom.product.mixture import Mixture, of_kind
from stillroom.product.properties import thermal

BOIL_SUBSTEPS = 8
KEEP_SUBSTEPS = 4


@dataclass(frozen=True)
class Boiled:
    """The mixture after a boil, and what happened on the way."""

    mixture: Mixture
    steam_kg: Array
    end_temperature_C: Array
    inverted_fraction: Array
    minutes: float


# --- evaporation ------------------------------------------------------------------------------


def evaporate(mixture: Mixture, water_kg: Numbers) -> Mixture:
    """Return the mixture without *water_kg* of its water."""
    return mixture.with_amounts(water=mixture.kg("water") - water_kg)


def water_at_brix(mixture: Mixture, target: float) -> Array:
    """Return the water at which a refractometer reads *target*.

    What is dissolved stays, so the reading times the mass of the liquid is nearly constant: a few
    proportional steps find the water.

    Raises:
        InputError: the mixture is past the target already, or can never reach it.
    """
    water = mixture.kg("water")
    start = properties.brix(mixture)
    if np.any(start > target + 0.05):
        raise InputError(
            f"the boil cannot end at {target:g} % soluble solids: the mix has "
            f"{float(np.max(start)):.1f} % before it boils. Leave the boil out or raise the target."
        )
    solids = mixture.total_kg - water
    for _ in range(40):
        liquid_equivalent = properties.brix(mixture.with_amounts(water=water)) * (solids + water)
        nearer = np.maximum(liquid_equivalent / target - solids, 1e-6)
        settled = np.all(np.abs(nearer - water) <= 1e-10 * water)
        water = nearer
        if settled:
            break
    if np.any(np.abs(properties.brix(mixture.with_amounts(water=water)) - target) > 0.01):
        raise InputError(f"the boil cannot reach {target:g} % soluble solids.")
    return np.minimum(water, mixture.kg("water"))


def water_at_mass(mixture: Mixture, target_kg: float) -> Array:
    """Return the water at which the mixture weighs *target_kg*."""
    water = mixture.kg("water") - (mixture.total_kg - target_kg)
    if np.any(mixture.total_kg < target_kg - 1e-9):
        raise InputError(
            f"the boil cannot end at {target_kg:g} kg: the mix weighs "
            f"{float(np.min(mixture.total_kg)):.4g} kg before it boils."
        )
    if np.any(water <= 0):
        raise InputError(
            f"the boil cannot end at {target_kg:g} kg: the solids alone weigh "
            f"{float(np.max(mixture.total_kg - mixture.kg('water'))):.4g} kg."
        )
    return water


def water_at_temperature(mixture: Mixture, target_C: float, pressure_kPa: float) -> Array:
    """Return the water at which the mixture boils at *target_C*."""
    flat = Mixture(mixture.amounts.reshape(-1, mixture.amounts.shape[-1]))
    size = flat.shape[0]
    start = np.atleast_1d(properties.boiling_point_C(flat, pressure_kPa))
    if np.any(start > target_C + 0.02):
        raise InputError(
            f"the boil cannot end at {target_C:g} °C: the mix boils at "
            f"{float(np.max(start)):.1f} °C from the start (pressure {pressure_kPa:.1f} kPa)."
        )

    def above(log_share: Array, i: NDArray[np.int64]) -> Array:
        part = flat[i]
        drier = part.with_amounts(water=part.kg("water") * np.exp(log_share))
        return properties.boiling_point_C(drier, pressure_kPa) - target_C

    least = np.log(0.02)
    root = find_root(
        above,
        (np.full(size, least), np.zeros(size)),
        args=(np.arange(size),),
        tolerances={"xatol": 1e-6},
    )
    if not np.all(root.success | (np.abs(start - target_C) <= 0.02)):
        raise InputError(f"the boil cannot reach {target_C:g} °C with what is in the kettle.")
    share = np.where(root.success, np.exp(root.x), 1.0)
    return (flat.kg("water") * share).reshape(mixture.shape)


# --- the boil ---------------------------------------------------------------------------------


def boil(
    mixture: Mixture,
    end_water: Callable[[Mixture], Array],
    minutes: float,
    pressure_kPa: float = phase.STANDARD_PRESSURE_KPA,
) -> Boiled:
    """Return a mixture boiled down to an end point.

    The path is followed at an even rate of evaporation: on it sucrose inverts at the pH and
    temperature of the boil, and volatile acids leave with the steam. The end point holds for the
    inverted mixture.

    Args:
        mixture: before the boil.
        end_water: mixture -> kg of water at the end point.
        minutes: time at the boil.
        pressure_kPa: of the air.
    """
    fraction = _inverted_on_the_way(mixture, end_water(mixture), minutes, pressure_kPa)
    inverted = invert(mixture, fraction)
    reduced = _lose_volatiles(inverted, end_water(inverted))
    reduced = reduced.with_amounts(water=end_water(reduced))
    return Boiled(
        mixture=reduced,
        steam_kg=mixture.total_kg - reduced.total_kg,
        end_temperature_C=properties.boiling_point_C(reduced, pressure_kPa),
        inverted_fraction=fraction,
        minutes=minutes,
    )


def heat_of_boiling_kWh(mixture: Mixture, boiled: Boiled, start_C: Numbers) -> Array:
    """Return the heat that warming up and boiling off take; losses of the hob come on top."""
    end = boiled.end_temperature_C
    capacity = thermal.heat_capacity_J_per_kg_K(mixture, (start_C + end) / 2)
    one_kW = 60.0  # a kilowatt gives a kilowatt hour in 60 min
    warming = heat.heat_up_min(mixture.total_kg, capacity, start_C, end, 1.0)
    return (warming + heat.boil_off_min(boiled.steam_kg, end, 1.0)) / one_kW


def _inverted_on_the_way(
    mixture: Mixture, water_end: Array, minutes: float, pressure_kPa: float
) -> Array:
    if not np.any(mixture.kg("sucrose")) or not np.any(minutes):
        return np.zeros(mixture.shape)
    part = (np.arange(BOIL_SUBSTEPS) + 0.5) / BOIL_SUBSTEPS
    part = part.reshape(-1, *(1 for _ in mixture.shape))
    way = mixture.with_amounts(water=mixture.kg("water") * (1 - part) + water_end * part)
    hot = properties.boiling_point_C(way, pressure_kPa)
    rate = sugar.inversion_rate_per_min(
        properties.ph(way, hot), hot, properties.water_g_per_cm3(way)
    )
    return sugar.inverted_fraction(rate.mean(axis=0), minutes)


def invert(mixture: Mixture, fraction: Numbers) -> Mixture:
    """Return the mixture with a fraction of its sucrose turned into glucose and fructose.

    Each kilogram of sucrose takes up 0.0526 kg of water.
    """
    wanted = mixture.kg("sucrose") * np.asarray(fraction)
    turned = np.minimum(wanted, 0.5 * mixture.kg("water") / (sugar.INVERSION_GAIN - 1))
    half = turned * sugar.INVERSION_GAIN / 2
    return mixture.with_amounts(
        sucrose=mixture.kg("sucrose") - turned,
        glucose=mixture.kg("glucose") + half,
        fructose=mixture.kg("fructose") + half,
        water=mixture.kg("water") - (2 * half - turned),
    )


def _lose_volatiles(mixture: Mixture, water_end: Array) -> Mixture:
    """Return the mixture without what left with the steam.

    Rayleigh distillation: n/n_0 = (water / water_0)**(alpha * undissociated share).
    """
    rows = [r for r in tables.rows("volatility") if np.any(mixture.kg(str(r["component"])))]
    if not rows:
        return mixture
    left = water_end / mixture.kg("water")
    at_ph = properties.ph(mixture, 100.0)
    changes = {}
    for r in rows:
        name = str(r["component"])
        share: Numbers = 1.0
        if name in of_kind("acid"):
            share = acidity.species_fractions(at_ph, list(properties.acid(name).pKa))[0]
        changes[name] = mixture.kg(name) * left ** (r["relative_volatility"] * np.asarray(share))
    return mixture.with_amounts(**changes)


# --- pieces and liquor ------------------------------------------------------------------------

STAYS_IN_PIECES = ("polymer", "solid", "charge", "buffer")


def steep(pieces: Mixture, liquor: Mixture) -> tuple[Mixture, Mixture]:
    """Return pieces and liquor at equilibrium.

    Everything dissolved has the same concentration in all the water; what is not dissolved stays
    in the pieces, and so does the buffer. The pieces keep the water they had.
    """
    both = pieces + liquor
    share = pieces.kg("water") / both.kg("water")
    return split(both, share)


def split(mixture: Mixture, share: Numbers) -> tuple[Mixture, Mixture]:
    """Return the mixture as (part that holds *share* of the water phase and all solids, liquid).

    The charge of either part closes: what the ions of the liquid lack is taken from the
    unassigned charge.
    """
    kinds = {str(r["component"]): r["kind"] for r in tables.rows("components")}
    liquid = {
        name: mixture.kg(name) * (1 - np.asarray(share))
        for name, kind in kinds.items()
        if kind not in STAYS_IN_PIECES
    }
    free = Mixture.nothing().with_amounts(**liquid)
    wet = properties.solution(mixture)
    at_ph = acidity.equilibrium_ph(wet)
    charge = titration.strong_charge_for_ph(properties.solution(free), at_ph) * free.kg("water")
    free = free.with_amounts(unassigned_charge=np.where(np.isfinite(charge), charge, 0.0))
    return mixture - free, free


def pour_off(mixture: Mixture, liquid_kg: float) -> tuple[Mixture, Mixture]:
    """Return (what stays, the liquid poured off), the liquid taken from the water phase alone."""
    _, everything = split(mixture, 0.0)
    if np.any(everything.total_kg <= liquid_kg):
        raise InputError(
            f"{liquid_kg:g} kg cannot be drained: all the liquid is "
            f"{float(np.min(everything.total_kg)):.4g} kg."
        )
    return split(mixture, 1 - liquid_kg / everything.total_kg)


# --- keeping ----------------------------------------------------------------------------------


def keep(mixture: Mixture, temperature_C: float, minutes: float) -> Mixture:
    """Return the mixture after storage: sucrose goes on inverting, the water activity falls."""
    if not np.any(mixture.kg("sucrose")):
        return mixture
    for _ in range(KEEP_SUBSTEPS):
        rate = sugar.inversion_rate_per_min(
            properties.ph(mixture, temperature_C),
            temperature_C,
            properties.water_g_per_cm3(mixture),
        )
        mixture = invert(mixture, sugar.inverted_fraction(rate, minutes / KEEP_SUBSTEPS))
    return mixture
