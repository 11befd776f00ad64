"""What a refractometer, a balance and a salt titration read of a mixture."""

from __future__ import annotations

from functools import cache

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import brine, sugar
from stillroom.product.mixture import Mixture, of_kind

NACL_KG_PER_MOL = 0.058443
LIQUID_KINDS = ("sugar", "polyol", "alcohol", "solute", "ion", "acid")
LIQUID_SOLIDS = ("pectin", "ash")  # dissolved matter that is neither sugar nor acid


@cache
def _liquid_components() -> tuple[str, ...]:
    return (*of_kind(*LIQUID_KINDS), *LIQUID_SOLIDS)


@cache
def _coefficients(table: str, names: tuple[str, ...], prefix: str) -> Array:
    rows = [tables.row(table, name) for name in names]
    return np.array([[r[f"{prefix}{i}"] for r in rows] for i in range(3)], float)


def _liquid(mixture: Mixture) -> tuple[Array, Array, Array]:
    """Return (mass of each dissolved component, their sum, mass of the liquid)."""
    parts = np.stack([mixture.kg(n) for n in _liquid_components()], axis=-1)
    solids = parts.sum(axis=-1)
    return parts, solids, solids + mixture.kg("water")


def brix(mixture: Mixture) -> Array:
    """Return what a refractometer reads of the liquid at 20 °C, degrees Brix.

    Undissolved fruit, starch, protein and fat do not count; salt, acids and alcohol do, each
    with its own weight (see `sugar.apparent_brix`).
    """
    parts, solids, liquid = _liquid(mixture)
    with np.errstate(invalid="ignore", divide="ignore"):
        fractions = parts / liquid[..., None]
        return sugar.apparent_brix(
            fractions, solids / liquid, _coefficients("refraction", _liquid_components(), "r")
        )


def dry_matter_percent(mixture: Mixture) -> Array:
    """Return everything that is neither water nor alcohol, g per 100 g of the whole."""
    return 100 * (1 - mixture.kg("water", "ethanol") / mixture.total_kg)


def refractive_index(mixture: Mixture) -> Array:
    """Return the refractive index of the liquid at 20 °C."""
    return sugar.refractive_index(brix(mixture))


def density_g_per_cm3(mixture: Mixture) -> Array:
    """Return the density of the mixture at 20 °C, free of air."""
    names = (*_liquid_components(), "starch", "fibre", "protein", "fat", "other_solids")
    parts = np.stack([mixture.kg(n) for n in names], axis=-1)
    _, solids, liquid = _liquid(mixture)
    total = parts.sum(axis=-1) + mixture.kg("water")
    return sugar.density_g_per_cm3(
        mixture.kg("water") / total,
        parts / total[..., None],
        solids / liquid,
        _coefficients("specific_volume", names, "v"),
    )


def salt_kg(mixture: Mixture) -> Array:
    """Return the sodium chloride of a mixture: the sodium that has a chloride, or the reverse."""
    return np.minimum(mixture.mol("Na"), mixture.mol("Cl")) * NACL_KG_PER_MOL


def water_phase_salt_percent(mixture: Mixture) -> Array:
    """Return dissolved salt / (salt + water), per cent; what stands as crystals is left out."""
    water = mixture.kg("water")
    soluble = solubility_mass_percent("NaCl", 25.0)
    dissolved = np.minimum(salt_kg(mixture), water * soluble / (100 - soluble))
    return brine.water_phase_salt_percent(dissolved, water)


def solubility_mass_percent(solute: str, temperature_C: Numbers) -> Array:
    """Return the solubility of a solute alone in water, g per 100 g of saturated solution.

    Args:
        solute: sucrose, glucose (monohydrate below 50 °C), lactose, NaCl ...
        temperature_C: any shape; the ends of the table are held.

    Raises:
        InputError: no solubility is known for this solute.
    """
    rows = [r for r in tables.rows("solubility") if r["solute"] == solute]
    if not rows:
        known = dict.fromkeys(str(r["solute"]) for r in tables.rows("solubility"))
        raise InputError(f"no solubility is known for {solute!r}.{tables.near(solute, known)}")
    t = [r["temperature_C"] for r in rows]
    return np.interp(temperature_C, t, [r["mass_percent"] for r in rows])


def saturation_ratio(mixture: Mixture, solute: str, temperature_C: Numbers = 20.0) -> Array:
    """Return how far a sugar or salt is past its solubility in the water that is there."""
    amount = salt_kg(mixture) if solute == "NaCl" else mixture.kg(solute)
    return sugar.saturation_ratio(
        amount, mixture.kg("water"), solubility_mass_percent(solute, temperature_C)
    )


def saturated_salt_water_activity(salt: str, temperature_C: float) -> float:
    """Return the water activity over a saturated salt, for checking a meter.

    Raises:
        InputError: the salt or the temperature is not in the table.
    """
    row = tables.row("saturated_salts", salt)
    low, high = row["lowest_C"], row["highest_C"]
    if not low <= temperature_C <= high:
        raise InputError(f"{salt} is tabulated from {low:g} to {high:g} °C, got {temperature_C:g}.")
    coefficients = {c: row[c] for c in ("a0", "a1", "a2", "a3")}
    return float(brine.saturated_salt_water_activity(temperature_C, **coefficients))


def brix_temperature_correction(brix_reading: float, temperature_C: float) -> float:
    """Return what to add to a Brix reading taken at another temperature than 20 °C.

    Raises:
        InputError: outside the table.
    """
    rows = tables.rows("brix_correction")
    ts = sorted({r["temperature_C"] for r in rows})
    bs = sorted({r["brix"] for r in rows})
    if not (ts[0] <= temperature_C <= ts[-1] and 0 <= brix_reading <= bs[-1]):
        raise InputError(
            f"the correction is tabulated from {ts[0]:g} to {ts[-1]:g} °C and up to {bs[-1]:g} "
            "Brix."
        )
    grid = {(r["temperature_C"], r["brix"]): r["correction_brix"] for r in rows}
    at_brix = [np.interp(brix_reading, bs, [grid[t, b] for b in bs]) for t in ts]
    return float(np.interp(temperature_C, ts, at_brix))


def water_g_per_cm3(mixture: Mixture) -> Array:
    """Return the water in a cubic centimetre of the liquid, for the rate of inversion."""
    return density_g_per_cm3(mixture) * mixture.kg("water") / mixture.total_kg
