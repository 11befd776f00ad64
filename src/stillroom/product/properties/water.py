"""Water activity of a mixture: which curve serves which solute, and how they are combined."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, partial
from typing import Any

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import acid as acidity
from stillroom.physics import brine, water
from stillroom.physics.sorption import water_activity_at_temperature
from stillroom.product.mixture import Mixture, molar_mass_kg_per_mol, of_kind
from stillroom.product.properties.acidity import IONS, ph, solution
from stillroom.product.properties.solids import NACL_KG_PER_MOL, solubility_mass_percent

MODELS = ("shares", "norrish", "ideal", "product")
CRYSTALLISE_READILY = ("lactose", "mannitol")
SET_AT_REST = ("sucrose", "glucose")  # may stay dissolved for months
# water activity of saturated salt, at which polymers and crystals share water, and its ions
SALT_SATURATED, IONS_SATURATED = np.asarray(0.753), 25.0  # mol/kg, of what takes water from salt
CURVES_C = 25.0  # temperature of the curves of sugars and polymers
BOUND_C = (0.0, 45.0)  # where heats of sorption are believed to hold
FITTED_AT_LEAST = 7.0  # ionic strength to which every pair is followed
SOLUTE_KINDS = ("sugar", "polyol", "alcohol", "solute")
ANIONS = {1: "carboxylate", 2: "carboxylate_2", 3: "carboxylate_3"}
CHARGES = IONS | {name: -z for z, name in ANIONS.items()}


@dataclass(frozen=True)
class Dissolved:
    """What is in solution in a mixture, and the polymers that hold water beside it."""

    water_kg: Array
    solutes_mol: Mapping[str, Array]  # non-electrolytes and undissociated acids
    ions_mol: Mapping[str, Array]
    polymers_kg: Mapping[str, Array]


def dissolved(
    mixture: Mixture,
    temperature_C: Numbers = 25.0,
    at_ph: Array | None = None,
    crystallised: bool = False,
) -> Dissolved:
    """Return solutes, ions and polymers of a mixture at its pH.

    Salt, lactose and mannitol beyond their solubility, in the water that polymers leave free, are
    crystals and left out; sucrose and glucose stay in solution, as they do for months in a spread,
    unless they are taken as *crystallised*.
    """
    at_ph = ph(mixture) if at_ph is None else at_ph
    water_kg = mixture.kg("water")
    polymers = {n: mixture.kg(n) for n in of_kind("polymer") if np.any(mixture.kg(n))}
    held = sum((kg * moisture_curve(n)(SALT_SATURATED) for n, kg in polymers.items()), 0.0)
    free_kg = np.maximum(water_kg - held, 0.0)
    solutes = {n: mixture.mol(n) for n in of_kind(*SOLUTE_KINDS) if np.any(mixture.kg(n))}
    for name in set(solutes) & {*CRYSTALLISE_READILY, *(SET_AT_REST if crystallised else ())}:
        most = _soluble_kg(name, free_kg, temperature_C) / molar_mass_kg_per_mol(name)
        solutes[name] = np.minimum(solutes[name], most)
    ions = {n: mixture.mol(n) for n in IONS if np.any(mixture.kg(n))}
    _add_acids(mixture, at_ph, solutes, ions)
    if "Na" in ions:
        salt = np.minimum(ions["Na"], ions["Cl"])
        others = sum(ions.values(), np.asarray(0.0)) - 2 * salt
        free_kg = np.maximum(free_kg - others / IONS_SATURATED, 0.0)
        most = _soluble_kg("NaCl", free_kg, temperature_C) / NACL_KG_PER_MOL
        solid = np.maximum(salt - most, 0.0)
        ions["Na"], ions["Cl"] = ions["Na"] - solid, ions["Cl"] - solid
    return Dissolved(water_kg, solutes, ions, polymers)


def _add_acids(
    mixture: Mixture, at_ph: Array, solutes: dict[str, Array], ions: dict[str, Array]
) -> None:
    """Split the acids into solutes and anions, and make the ions neutral.

    The constant of an acid alone in water speaks of the whole acid: anions that protons balance
    stay with it, and only those that a cation balances count as ions. The unnamed buffer and the
    unassigned charge sit on protein and the like and are no particles of their own; what they
    leave unbalanced counts as potassium or chloride.
    """
    with_acids = solution(mixture)
    strength = acidity.charge_balance(with_acids, at_ph)[1] if with_acids.acids else 0.0
    protons = 10 ** (acidity.davies_shift(strength) - at_ph)
    named = [
        (one.name, total, shares)
        for one, total, shares in with_acids.forms(at_ph, strength)
        if not one.name.startswith("buffer")
    ]
    charges = (z * total * s for _, total, shares in named for z, s in enumerate(shares))
    anions = sum(charges, np.zeros(mixture.shape))
    salt = 1 - np.minimum(protons / np.maximum(anions, 1e-30), 1.0)
    for name, total, shares in named:
        amount = total * mixture.kg("water")
        solutes[name] = amount * (1 - salt * (1 - shares[0]))
        for z, share in enumerate(shares[1:], start=1):
            ions[ANIONS[z]] = ions.get(ANIONS[z], 0.0) + amount * salt * share
    charge = sum((CHARGES[ion] * n for ion, n in ions.items()), np.zeros(mixture.shape))
    ions["K"] = ions.get("K", 0.0) + np.maximum(-charge, 0.0)
    ions["Cl"] = ions.get("Cl", 0.0) + np.maximum(charge, 0.0)


def _soluble_kg(solute: str, water_kg: Array, temperature_C: Numbers) -> Array:
    s = solubility_mass_percent(solute, temperature_C)
    return water_kg * s / (100 - s)


@cache
def molality_curve(solute: str, norrish: bool = False) -> Callable[[Array], Array]:
    """Return water activity -> molality of the solute alone in water.

    The hydration model where it is fitted (sucrose, glucose, glycerol): it follows experiment to
    0.0002 and extrapolates more carefully than Norrish's equation, which serves the others, and
    all of them at the boil.
    """
    row = tables.index("hydration").get(solute)
    if row and not norrish:
        return partial(water.hydration_molality, sites=row["sites"], affinity=row["affinity"])
    return partial(water.norrish_molality, K=tables.row("norrish", solute)["K"])


@cache
def moisture_curve(polymer: str) -> Callable[[Array], Array]:
    """Return water activity -> water held by a kilogram of a polymer."""
    row = tables.row("gab", polymer)
    return partial(water.gab_moisture, **{c: row[c] for c in ("Xm_kg_per_kg", "C", "k")})


@cache
def ion_pairs() -> tuple[brine.IonPair, ...]:
    """Return the interaction parameters of all cations with all anions."""
    pairs: dict[tuple[str, str], dict[str, tuple[float, ...]]] = {}
    ends: dict[tuple[str, str], float] = {}
    for r in tables.rows("pitzer"):
        pair = r["cation"], r["anion"]
        pairs.setdefault(pair, {})[r["parameter"]] = tuple(r[f"a{i}"] or 0.0 for i in range(6))
        ends[pair] = _ionic_strength(*pair, r["max_molality_mol_per_kg"] or 0.0)
    return tuple(
        brine.IonPair(*pair, values, max(ends[pair], FITTED_AT_LEAST))
        for pair, values in pairs.items()
    )


def _ionic_strength(cation: str, anion: str, molality: float) -> float:
    """Return the ionic strength of a salt of these ions: m z_c |z_a| (z_c + |z_a|) / 2."""
    z_c, z_a = CHARGES[cation], -CHARGES[anion]
    return molality * z_c * z_a * (z_c + z_a) / 2


@cache
def like_charges() -> Mapping[tuple[str, str], Mapping[str, tuple[float, ...]]]:
    """Return the parameters of two cations with each other: theta, and psi with chloride."""
    pairs: dict[tuple[str, str], dict[str, tuple[float, ...]]] = {}
    for r in tables.rows("like_charges"):
        pair = r["ion"], r["other_ion"]
        pairs.setdefault(pair, {})[r["parameter"]] = tuple(r[f"a{i}"] or 0.0 for i in range(5))
    return pairs


def brine_curve(
    ions_mol: Mapping[str, Array], temperature_C: Numbers = 25.0
) -> Callable[[Array, Any], Array]:
    """Return (molality of all ions together, samples) -> water activity of that brine alone.

    Where a sample has no ions the reference is a sodium chloride brine.
    """
    ions = {"Na": 0.0, "Cl": 0.0} | dict(ions_mol)
    shape = np.broadcast_shapes(np.shape(temperature_C), *(np.shape(n) for n in ions.values()))

    def flat(x: Numbers) -> Array:
        return np.broadcast_to(np.asarray(x, float), shape).reshape(-1)

    total = sum((flat(n) for n in ions.values()), np.asarray(0.0))
    none = total <= 0
    share = {
        ion: np.where(none, 0.5 * (ion in ("Na", "Cl")), flat(n) / np.where(none, 1.0, total))
        for ion, n in ions.items()
    }
    t = flat(temperature_C) if np.ndim(temperature_C) else np.asarray(temperature_C, float)
    slope = brine.debye_huckel_slope(t)
    present = [p for p in ion_pairs() if p.cation in share and p.anion in share]
    interactions = {(p.cation, p.anion): p.at(t) for p in present}
    alike = {
        pair: {name: brine.pitzer_parameter(t, *c) for name, c in values.items()}
        for pair, values in like_charges().items()
        if set(pair) <= set(share)
    }

    def water_activity_of(molality: Array, i: Any) -> Array:
        def at(x: Numbers) -> Numbers:
            return np.asarray(x)[i] if np.ndim(x) else x

        phi = brine.osmotic_coefficient(
            {ion: y[i] * molality for ion, y in share.items()},
            CHARGES,
            {pair: {n: at(v) for n, v in values.items()} for pair, values in interactions.items()},
            at(slope),
            {pair: {n: at(v) for n, v in values.items()} for pair, values in alike.items()},
        )
        return brine.water_activity_from_osmotic_coefficient(molality, phi)

    return water_activity_of


def water_activity(
    mixture: Mixture,
    temperature_C: Numbers = 25.0,
    model: str | None = None,
    at_ph: Array | None = None,
    crystallised: bool = False,
) -> Array:
    """Return the water activity of a mixture at equilibrium.

    Args:
        mixture: any leading axes.
        temperature_C: broadcasts; sugars keep their 25 °C curve (good from 0 to 40 °C), salts
            follow the temperature, and below 0.175 kg water per kg dry, fat-free matter the heat
            of sorption counts (from 0 to 45 °C, held beyond).
        model: None or "shares" for the best estimate; "norrish" for the same with Norrish's curve
            for every non-electrolyte (better at the boil); "ideal" (mole fraction) and "product"
            (each solute alone in all the water) for teaching.
        at_ph: pH of the mixture if it is known already.
        crystallised: sucrose and glucose above their solubility have come out.

    Returns:
        Water activity; nan where there is no water.

    Raises:
        InputError: an unknown model.

    Source:
        See `water.shared_water_activity`.
    """
    model = model or "shares"
    if model not in MODELS:
        raise InputError(f"model must be one of {', '.join(MODELS)}, got {model!r}.")
    d = dissolved(mixture, temperature_C, at_ph, crystallised)
    ions = sum(d.ions_mol.values(), np.zeros(mixture.shape))
    if model == "ideal":
        return _ideal(d)
    if model == "product":
        return _product(d, ions, temperature_C)
    shared = water.shared_water_activity(
        d.water_kg,
        d.solutes_mol,
        {name: molality_curve(name, model == "norrish") for name in d.solutes_mol},
        brine_curve(d.ions_mol, temperature_C),
        ions,
        d.polymers_kg,
        {name: moisture_curve(name) for name in d.polymers_kg},
    )
    if model == "norrish":  # at the boil, where no heat of sorption is known
        return shared
    return water_activity_at_temperature(
        shared, CURVES_C, np.clip(temperature_C, *BOUND_C), heat_of_sorption_kJ_mol(mixture)
    )


def heat_of_sorption_kJ_mol(mixture: Mixture) -> Array:
    """Return the net isosteric heat: what binds the last water beyond its latent heat.

    Linear between the middles of the table, held at its driest row.

    Args:
        mixture: any leading axes.

    Returns:
        kJ per mol of water; 0 where water is not scarce.
    """
    rows = sorted(tables.rows("binding_heat"), key=lambda r: r["moisture_low_kg_per_kg"])
    at = [(r["moisture_low_kg_per_kg"] + r["moisture_high_kg_per_kg"]) / 2 for r in rows]
    heats = [(r["low_kJ_mol"] + r["high_kJ_mol"]) / 2 for r in rows]
    dry = mixture.total_kg - mixture.kg("water", "ethanol", "fat")
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.interp(mixture.kg("water") / dry, at, heats)


def _ideal(d: Dissolved) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        particles = [n / d.water_kg for n in (*d.solutes_mol.values(), *d.ions_mol.values())]
    return water.ideal_water_activity(np.stack(np.broadcast_arrays(*particles), axis=-1))


def _product(d: Dissolved, ions: Array, temperature_C: Numbers) -> Array:
    def brine_alone(molality: Array) -> Array:
        curve = brine_curve(d.ions_mol, temperature_C)
        return curve(np.reshape(molality, -1), slice(None)).reshape(np.shape(molality))

    def solute_alone(name: str) -> Callable[[Array], Array]:
        return partial(water.norrish_water_activity, K=tables.row("norrish", name)["K"])

    with np.errstate(divide="ignore", invalid="ignore"):
        molalities = {name: n / d.water_kg for name, n in d.solutes_mol.items()}
        return water.product_water_activity(
            molalities | {"salts": ions / d.water_kg},
            {name: solute_alone(name) for name in molalities} | {"salts": brine_alone},
        )
