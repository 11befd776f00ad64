"""Meat and fish cured, and fruit in strong syrup: what goes in, what comes out, how far it gets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize.elementwise import find_root

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.physics import curing, diffusion
from stillroom.product import properties, steps
from stillroom.product.mixture import Mixture
from stillroom.product.recipe import Cure, Exchange, Piece, Steep

SHAPES: Mapping[str, diffusion.Shape] = {
    "slab": "slab",
    "cylinder": "infinite_cylinder",
    "sphere": "sphere",
}
NINE_TENTHS = 0.9
# effective diffusivity in tissue over that in water, slow side (common practice: raw 0.1-0.4 for
# the first day, blanched 0.4-0.7)
TISSUE = {"raw": 0.1, "blanched": 0.4}
IONS = ("nitrite", "nitrate")
MOST_SYRUP = 0.98  # of the liquor's dissolved matter that pieces can take up


@dataclass(frozen=True)
class Cured:
    """What a cure leaves.

    Attributes:
        mixture: the cured pieces.
        facts: green weight, ingoing nitrite and nitrate (as ions, mg per kg of green weight), what
            was left over, and the hours to the middle, fast and slow.
        assumed: in words.
    """

    mixture: Mixture
    facts: dict[str, Array]
    assumed: tuple[str, ...]


def cure(meat: Mixture, mix: Mixture, plan: Cure) -> Cured:
    """Cure meat or fish.

    Args:
        meat: before the cure, its green weight; any leading axes.
        mix: the dry cure or the pickle, all of it.
        plan: the step.

    Raises:
        InputError: a pickle too small for its pump, a drip larger than the liquid.
    """
    green = meat.total_kg
    facts: dict[str, Array] = {"green_kg": green}
    assumed: list[str] = []
    for ion in IONS:
        facts[f"ingoing_{ion}_mg_per_kg"] = _ingoing(mix.kg(ion), green, mix.total_kg, plan)
    if plan.method == "pumped":
        taken = plan.pump / 100 * green / mix.total_kg
        if np.any(taken > 1):
            raise InputError(
                f"a pump of {plan.pump:g} % takes {float(np.max(taken * mix.total_kg)):.4g} kg of "
                f"pickle; there are {float(np.min(mix.total_kg)):.4g} kg."
            )
        cured = meat + mix * taken
        facts["left_over_kg"] = mix.total_kg * (1 - taken)
    elif plan.method == "immersed":
        pieces, _ = steps.steep(meat, mix)
        share = _uptake(plan, meat, mix, assumed)
        cured = meat * (1 - share) + pieces * share
        facts["left_over_kg"] = green + mix.total_kg - cured.total_kg
    else:
        cured, facts["left_over_kg"] = _brushed(meat + mix, plan.temperature)
    if plan.drip:
        cured, _ = steps.pour_off(cured, float(np.mean(plan.drip / 100 * green)))
    if plan.method != "comminuted" and plan.piece is not None:
        facts["middle_fast_hours"], facts["middle_slow_hours"] = _hours_to_middle(plan, meat, mix)
    return Cured(cured, facts, tuple(assumed))


def _ingoing(ion_kg: Array, green_kg: Array, mix_kg: Array, plan: Cure) -> Array:
    """Return what the rule of the method counts, mg per kg of green weight."""
    if plan.method == "pumped":
        return curing.ingoing_pumped_mg_per_kg(ion_kg, plan.pump / 100, mix_kg)
    if plan.method == "immersed":
        return curing.ingoing_immersed_mg_per_kg(ion_kg, green_kg, mix_kg)
    return curing.ingoing_mg_per_kg(ion_kg, green_kg)


def _brushed(mixture: Mixture, temperature_C: float) -> tuple[Mixture, Array]:
    """Return meat without the salt that its water cannot dissolve, and that salt, kg."""
    soluble = properties.solubility_mass_percent("NaCl", temperature_C)
    most = mixture.kg("water") * soluble / (100 - soluble)
    over = np.maximum(properties.salt_kg(mixture) - most, 0.0)
    left = Mixture.of({"NaCl": over}, unit="kg")
    return mixture - left, left.total_kg


def salt_diffusivities() -> tuple[float, float]:
    """Return the slowest and the fastest diffusivity of salt in cold meat, m²/s."""
    row = tables.row("moisture_diffusivity", ("meat or fish, cold", "salt"))
    return float(row["low_m2_per_s"]), float(row["high_m2_per_s"])


def _fourier(diffusivity: float, minutes: float, piece: Piece) -> Array:
    return diffusion.fourier_number(diffusivity, 60 * minutes, piece.half_size_m)


def _uptake(plan: Cure, meat: Mixture, mix: Mixture, assumed: list[str]) -> float:
    """Return the share of the exchange that the time allows, by the slowest diffusivity."""
    if plan.piece is None or plan.for_ is None:
        assumed.append("cured until meat and pickle are even (no piece and time are given)")
        return 1.0
    fo = _fourier(salt_diffusivities()[0], plan.for_, plan.piece)
    bath = _bath(meat, mix)
    return float(diffusion.uptake_fraction(fo, SHAPES[plan.piece.shape], "mean", bath))


def _bath(meat: Mixture, mix: Mixture) -> float:
    """Return the water around the meat over the water in it; endless for a dry rub."""
    around = float(np.mean(mix.kg("water") / meat.kg("water")))
    return round(around, 2) if around > 0.05 else np.inf


def _hours_to_middle(plan: Cure, meat: Mixture, mix: Mixture) -> tuple[Array, Array]:
    """Return the hours until the middle has nine tenths of its salt: fast, slow."""
    assert plan.piece is not None
    bath = _bath(meat, mix) if plan.method == "immersed" else np.inf
    fo = diffusion.fourier_for_uptake(NINE_TENTHS, SHAPES[plan.piece.shape], "centre", bath)
    slow, fast = (fo * plan.piece.half_size_m**2 / D / 3600 for D in salt_diffusivities())
    return np.asarray(fast), np.asarray(slow)


# --- fruit in strong syrup ----------------------------------------------------------------------


def exchange(
    pieces: Mixture, liquor: Mixture, plan: Steep, how: Exchange
) -> tuple[Mixture, Mixture, dict[str, Array]]:
    """Let pieces lose water to a strong liquor and take up what it holds.

    With measured losses these are taken; with a ratio of water lost to solids gained the end is
    where both have one water activity, as far as the time allows.

    Args:
        pieces: before; any leading axes.
        liquor: before.
        plan: the step.
        how: what is known of the exchange.

    Returns:
        Pieces, liquor, and water loss and solids gain in per cent of the pieces before.

    Raises:
        InputError: more water or solids than there are, a liquor that takes no water.
    """
    dissolved = liquor.total_kg - liquor.kg("water")
    start = pieces.total_kg
    if how.water_to_solids is None:
        lost = (how.water_loss or 0.0) / 100 * start
        gained = (how.solids_gain or 0.0) / 100 * start
    else:
        gained = _even_gain(pieces, liquor, how.water_to_solids) * _reached(plan, pieces, liquor)
        lost = how.water_to_solids * gained
    if np.any(lost >= pieces.kg("water")) or np.any(gained > MOST_SYRUP * dissolved):
        raise InputError("the exchange takes more water or solids than there are.")
    after, around = _exchanged(pieces, liquor, lost, gained)
    facts = {
        "water_loss_percent": 100 * lost / start,
        "solids_gain_percent": 100 * gained / start,
        "liquor_brix": properties.brix(around),
    }
    return after, around, facts


def _exchanged(
    pieces: Mixture, liquor: Mixture, lost: Array, gained: Array
) -> tuple[Mixture, Mixture]:
    dissolved = liquor.total_kg - liquor.kg("water")
    syrup = liquor.with_amounts(water=0.0) * (gained / dissolved)
    water = Mixture.of({"water": lost}, unit="kg")
    return pieces - water + syrup, liquor + water - syrup


def _even_gain(pieces: Mixture, liquor: Mixture, ratio: float) -> Array:
    """Return the solids gained, kg, at which pieces and liquor have one water activity."""
    amounts = np.broadcast_arrays(pieces.amounts, liquor.amounts)
    shape = amounts[0].shape[:-1]
    flat = [Mixture(a.reshape(-1, a.shape[-1])) for a in amounts]
    dissolved = flat[1].total_kg - flat[1].kg("water")
    most = np.minimum(MOST_SYRUP * dissolved, 0.98 * flat[0].kg("water") / ratio)

    def wetter(part: Array, i: NDArray[np.int64]) -> Array:
        inside, outside = _exchanged(flat[0][i], flat[1][i], ratio * part * most[i], part * most[i])
        return properties.water_activity(inside) - properties.water_activity(outside)

    every = np.arange(most.size)
    if np.any(wetter(np.zeros(most.size), every) <= 0):
        raise InputError("the liquor takes no water: it has a higher water activity than the food.")
    root = find_root(wetter, (np.zeros(most.size), np.ones(most.size)), args=(every,),
                     tolerances={"xatol": 1e-6})  # fmt: skip
    return np.where(root.success, root.x, 1.0).reshape(shape) * most.reshape(shape)


def _reached(plan: Steep, pieces: Mixture, liquor: Mixture) -> float:
    """Return the share of the exchange that the time allows, at the slow end."""
    if plan.piece is None or plan.for_ is None:
        return 1.0
    D = float(tables.row("diffusivity", "sucrose")["diffusivity_m2_per_s"])
    D = float(diffusion.diffusivity_at_temperature(D * TISSUE[plan.piece.tissue], plan.temperature))
    fo = _fourier(D, plan.for_, plan.piece)
    bath = round(float(np.mean(liquor.kg("water") / pieces.kg("water"))), 2)
    return float(diffusion.uptake_fraction(fo, SHAPES[plan.piece.shape], "mean", bath))
