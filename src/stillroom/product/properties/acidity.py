"""pH, doses of acid and buffer of a mixture."""

from __future__ import annotations

from functools import cache

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import acid as acidity
from stillroom.physics import preservative, titration
from stillroom.product.mixture import Mixture, molar_mass_kg_per_mol, of_kind

SALTING_OUT_KG_PER_MOL = 0.1  # log10 g_0 = 0.1 I of neutral species, the default of PHREEQC
FAT_DENSITY_KG_PER_L = 0.917
IONS = {"Na": 1, "K": 1, "Ca": 2, "Mg": 2, "Cl": -1, "nitrate": -1, "nitrite": -1}


@cache
def acid(name: str) -> acidity.Acid:
    """Return an acid, or the unnamed buffer pool of that name, from the tables."""
    if name.startswith("buffer_"):
        return acidity.pseudo_acid(float(name.removeprefix("buffer_")))
    steps = sorted((r for r in tables.rows("acids") if r["acid"] == name), key=lambda r: r["step"])
    if not steps:
        known = dict.fromkeys(str(r["acid"]) for r in tables.rows("acids"))
        raise InputError(f"{name!r} is not in the table acids.{tables.near(name, known)}")
    return acidity.Acid(
        name,
        tuple(r["pKa"] for r in steps),
        int(steps[0]["charge"]),
        tuple(r["delta_h_kJ_mol"] for r in steps),
        tuple(r["delta_cp_J_mol_K"] for r in steps),
    )


def solution(mixture: Mixture, temperature_C: Numbers = 25.0) -> acidity.Solution:
    """Return the acids and strong ions of a mixture per kilogram of its water."""
    water_kg = mixture.kg("water")
    names = [n for n in of_kind("acid", "buffer") if np.any(mixture.kg(n))]
    squares = np.abs(mixture.kg("unassigned_charge"))
    for ion, charge in IONS.items():
        squares = squares + charge**2 * mixture.mol(ion)
    with np.errstate(divide="ignore", invalid="ignore"):
        return acidity.Solution(
            [mixture.mol(n) / water_kg for n in names],
            [acid(n) for n in names],
            mixture.strong_charge_mol / water_kg,
            squares / 2 / water_kg,
            temperature_C,
            salting_out_kg_per_mol=SALTING_OUT_KG_PER_MOL,
        )


def ionic_strength_mol_per_kg(mixture: Mixture, at_ph: Numbers) -> Array:
    """Return the ionic strength of the water phase."""
    return acidity.charge_balance(solution(mixture), at_ph)[1]


def ph(mixture: Mixture, temperature_C: Numbers = 25.0) -> Array:
    """Return the equilibrium pH of the whole mixture, as a meter reads it.

    Args:
        mixture: any leading axes.
        temperature_C: broadcasts.

    Returns:
        pH; nan where there is no water.

    Source:
        Charge balance with Davies activities (see `acid.charge_balance`).
    """
    return acidity.equilibrium_ph(solution(mixture, temperature_C))


def undissociated_mmol_per_kg(
    mixture: Mixture, name: str, at_ph: Numbers, physical: bool = False
) -> Array:
    """Return the undissociated form of an acid in the water phase.

    Args:
        mixture: any leading axes.
        name: of the acid.
        at_ph: pH of the mixture, broadcasts.
        physical: use the constants of the salty solution; by default those at zero ionic
            strength, the convention of published inhibition limits.

    Returns:
        mmol per kg of water, after what the fat takes.

    Source:
        Henderson-Hasselbalch, all steps; partition between oil and water by Lueck & Jager.
    """
    alone = acidity.Solution([1.0], [acid(name)], salting_out_kg_per_mol=SALTING_OUT_KG_PER_MOL)
    strength: Numbers = 0.0
    if physical:
        strength = acidity.charge_balance(solution(mixture), at_ph)[1]
    else:
        alone = acidity.Solution([1.0], [acid(name)], ideal=True)
    share = alone.forms(at_ph, strength)[0][2][0]
    row = tables.index("partition").get(name)
    oil = mixture.kg("fat") / FAT_DENSITY_KG_PER_L
    phi = oil / (oil + mixture.kg("water"))
    return preservative.undissociated_in_water_phase(
        1000 * mixture.mol(name) / mixture.kg("water") * (1 - phi),
        share,
        row["oil_water_partition"] if row else 0.0,
        phi,
    )


def buffer_capacity_mmol_per_kg(mixture: Mixture, at_ph: Numbers) -> Array:
    """Return the strong base that moves a kilogram of the mixture by one pH unit."""
    per_kg_water = titration.buffer_capacity_mol_per_kg(solution(mixture), at_ph)
    return 1000 * per_kg_water * mixture.kg("water") / mixture.total_kg


def titratable_acidity_percent(mixture: Mixture, as_acid: str, endpoint_ph: float = 8.1) -> Array:
    """Return the titratable acidity of the whole mixture expressed as one acid, g per 100 g."""
    eq = titration.titratable_acidity_mol_per_kg(solution(mixture), endpoint_ph)
    return 100 * eq * mixture.kg("water") / mixture.total_kg * equivalent_mass_kg_per_mol(as_acid)


@cache
def equivalent_mass_kg_per_mol(name: str) -> float:
    """Return the mass of an acid that neutralises one mol of base in a titration to pH 8.1."""
    steps = [r for r in tables.rows("acids") if r["acid"] == name and r["pKa"] < 8]
    return molar_mass_kg_per_mol(name) / len(steps)


def acid_dose_for_ph_kg(mixture: Mixture, name: str, target_ph: Numbers) -> Array:
    """Return the free acid to add to the whole mixture so that it comes to a pH."""
    dose = titration.dose_for_ph(solution(mixture), acid(name), target_ph)
    return dose * mixture.kg("water") * molar_mass_kg_per_mol(name)
