"""What a ferment makes of a mixture: sugar to acid, alcohol and gas, along the stoichiometry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from stillroom import tables
from stillroom.labels import Array, Numbers
from stillroom.physics import ferment, titration
from stillroom.physics.ferment import Yeast
from stillroom.physics.kinetics import cardinal_factor
from stillroom.physics.lactic import Flora, Souring, lactic_course
from stillroom.product import properties
from stillroom.product.mixture import Mixture, molar_mass_kg_per_mol, of_kind

# moles of (glucose or galactose, fructose) and water taken up for a mole of each sugar
HEXOSES: Mapping[str, tuple[int, int, int]] = {
    "glucose": (1, 0, 0),
    "galactose": (1, 0, 0),
    "fructose": (0, 1, 0),
    "sucrose": (1, 1, 1),
    "maltose": (2, 0, 1),
    "lactose": (2, 0, 1),
}
SOURING_ACIDS = ("lactic", "acetic", "malic")
COMPONENTS = {  # name in a pathway -> component
    "lactic acid": "lactic",
    "acetic acid": "acetic",
    "malic acid": "malic",
    "ethanol": "ethanol",
    "mannitol": "mannitol",
}
CELL_G = 3e-13  # dry mass of a bacterium
EARLY_H, EARLY_TIMES, LATE_TIMES = 240.0, 121, 60
END_PH_ERROR = 0.3  # of a ferment without readings


@dataclass(frozen=True)
class Correction:
    """What readings of a ferment say about this batch; 1: nothing.

    Attributes:
        rate: factor on every rate.
        start: factor on the cells at the start.
        buffer: factor on the unnamed buffer of the food.
    """

    rate: Numbers = 1.0
    start: Numbers = 1.0
    buffer: Numbers = 1.0


AS_TABLED = Correction()


@dataclass(frozen=True)
class Course:
    """A ferment over time; times first, samples second.

    Attributes:
        time_h: from the start.
        mixture: at every time.
        ph: at every time.
        gas_kg: carbon dioxide that has left.
        cells_g_per_kg: of each flora, on the first axis.
        ph_error: of the pH at the end, 95 %, one way.
        remarks: what was assumed or corrected, in words.
    """

    time_h: Array
    mixture: Mixture
    ph: Array
    gas_kg: Array
    cells_g_per_kg: Array
    ph_error: float = END_PH_ERROR
    remarks: tuple[str, ...] = ()


def hexose_mol(mixture: Mixture) -> tuple[Array, Array]:
    """Return moles of (glucose and galactose, fructose) that the sugars hold."""
    glucose = sum(((mixture.mol(s) * g) for s, (g, _, _) in HEXOSES.items()), np.zeros(()))
    fructose = sum(((mixture.mol(s) * f) for s, (_, f, _) in HEXOSES.items()), np.zeros(()))
    return glucose, fructose


@cache
def floras(starter: bool) -> tuple[Flora, ...]:
    """Return the lactic floras, as they come with the food or from a starter culture."""
    wanted = "starter_log10_per_g" if starter else "natural_log10_per_g"
    own = (*Flora.__dataclass_fields__,)
    return tuple(
        Flora(
            **{c: r[c] for c in own if c not in ("start_g_per_kg", "gas_forming")},
            start_g_per_kg=10 ** (r[wanted] + 3) * CELL_G,
            gas_forming=r["gas_forming"] == "true",
        )
        for r in tables.rows("floras")
        if r["kind"] == "lactic"
    )


def lactic(
    mixture: Mixture,
    temperature_C: float,
    hours: float,
    starter: bool = False,
    cells_g_per_kg: Array | None = None,
    correction: Correction = AS_TABLED,
    time_h: Array | None = None,
) -> Course:
    """Follow a lactic ferment.

    Args:
        mixture: at the start, no or one leading axis.
        temperature_C: of the ferment.
        hours: how long.
        starter: a culture is added.
        cells_g_per_kg: of each flora at the start, on the first axis; those of the table else.
        correction: from readings; by sample.
        time_h: wanted; every 2 h of the first 10 days and then ever wider by default.
    """
    start = rebuffered(_sampled(mixture, correction), correction.buffer)
    water = start.kg("water")
    glucose, fructose = hexose_mol(start)
    acids = [properties.acid(a) for a in SOURING_ACIDS]
    souring = Souring(properties.solution(start), acids)
    kinds = floras(starter)
    if cells_g_per_kg is not None:
        kinds = tuple(
            replace(k, start_g_per_kg=np.maximum(c, k.start_g_per_kg))
            for k, c in zip(kinds, cells_g_per_kg, strict=True)
        )
    found = lactic_course(
        _times(hours) if time_h is None else time_h,
        lambda _: temperature_C,
        glucose / water,
        fructose / water,
        [start.mol(a) / water for a in SOURING_ACIDS],
        properties.water_activity(start, at_ph=souring.start_ph),
        souring,
        kinds,
        correction.rate,
        correction.start,
    )
    turned = {pathway: moles * water for pathway, moles in found.turned_mol_per_kg.items()}
    return Course(
        found.time_h,
        soured(start, turned, found.fructose_mol_per_kg * water),
        found.ph,
        _gas_kg(turned),
        found.cells_g_per_kg,
    )


def rebuffered(mixture: Mixture, factor: Numbers) -> Mixture:
    """Return a mixture with its unnamed buffer changed and its pH kept.

    Args:
        mixture: any leading axes.
        factor: on the buffer.
    """
    if np.all(np.asarray(factor) == 1):
        return mixture
    at_ph = properties.ph(mixture)
    pools = {name: mixture.kg(name) * factor for name in of_kind("buffer")}
    bare = mixture.with_amounts(**pools, unassigned_charge=0.0)
    per_kg = titration.strong_charge_for_ph(properties.solution(bare), at_ph)
    return bare.with_amounts(unassigned_charge=per_kg * bare.kg("water"))


def soured(mixture: Mixture, turned_mol: Mapping[str, Array], fructose_mol: Array) -> Mixture:
    """Return a mixture after the pathways have run.

    Sugars of two hexoses are split as they are used.

    Args:
        mixture: at the start.
        turned_mol: pathway -> times it has run, any leading axes before those of the mixture; a
            name that is no pathway takes hexose away.
        fructose_mol: fructose units that are left.
    """
    made: dict[str, Array] = {}
    for pathway, times in turned_mol.items():
        substrates, products = ferment.PATHWAYS.get(pathway, ({"hexose": 1}, {}))
        for name, each in (*((k, -v) for k, v in substrates.items()), *products.items()):
            made[name] = made.get(name, np.zeros(())) + each * times
    glucose, fructose = hexose_mol(mixture)
    used = -made.get("hexose", np.zeros(()))
    left = np.maximum(glucose + fructose - used, 0.0)
    fructose_left = np.clip(fructose_mol, left - glucose, np.minimum(fructose, left))
    glucose_left = left - fructose_left
    share = np.minimum(_share(glucose_left, glucose), _share(fructose_left, fructose))
    changes = {s: mixture.kg(s) * share for s, (_, _, w) in HEXOSES.items() if w}
    changes["galactose"] = mixture.kg("galactose") * share
    held = [np.zeros(()), np.zeros(())]
    water = mixture.mol("water") + made.get("water", np.zeros(()))
    for s, kg in changes.items():
        moles = kg / molar_mass_kg_per_mol(s)
        g, f, w = HEXOSES[s]
        held = [held[0] + g * moles, held[1] + f * moles]
        water = water - w * (mixture.mol(s) - moles)
    for name, left, in_others in (
        ("glucose", glucose_left, held[0]),
        ("fructose", fructose_left, held[1]),
    ):
        changes[name] = np.maximum(left - in_others, 0.0) * molar_mass_kg_per_mol(name)
    changes["water"] = water * molar_mass_kg_per_mol("water")
    for name, component in COMPONENTS.items():
        if name in made:
            kg = made[name] * molar_mass_kg_per_mol(component)
            changes[component] = np.maximum(mixture.kg(component) + kg, 0.0)
    return mixture.with_amounts(**changes)


def alcoholic(
    mixture: Mixture,
    temperature_C: float,
    hours: float,
    starter: bool = False,
    correction: Correction = AS_TABLED,
    time_h: Array | None = None,
) -> Course:
    """Follow an alcoholic ferment; the pH is left where the acids put it.

    Args:
        mixture: at the start, no or one leading axis.
        temperature_C: of the ferment.
        hours: how long.
        starter: yeast is added.
        correction: its rate; by sample.
        time_h: wanted; every 2 h of the first 10 days and then ever wider by default.
    """
    start = _sampled(mixture, correction)
    row = tables.rows("yeasts")[0]
    wanted = row["starter_log10_per_g" if starter else "natural_log10_per_g"]
    own = [c for c in Yeast.__dataclass_fields__ if c != "start_g_per_kg"]
    yeast = Yeast(**{c: row[c] for c in own}, start_g_per_kg=10 ** (wanted + 3) * row["cell_g"])
    water = start.kg("water")
    glucose, fructose = hexose_mol(start)
    found = ferment.yeast_course(
        _times(hours) if time_h is None else time_h,
        lambda _: temperature_C,
        (glucose + fructose) / water,
        start.mol("ethanol") / water,
        properties.water_activity(start),
        yeast,
        row["alcohol_yield"],
        correction.rate,
    )
    used = found.turned_mol_per_kg * water
    fermented = used * row["alcohol_yield"]
    left = fructose * (1 - _share(used, glucose + fructose))
    beside = used - fermented  # cells and by-products, counted mass for mass
    after = soured(start, {"alcoholic": fermented, "aside": beside}, left)
    kg = beside * ferment.MOLAR_MASS_G_PER_MOL["hexose"] / 1000
    after = after.with_amounts(other_solutes=after.kg("other_solutes") + kg)
    gas = _gas_kg({"alcoholic": fermented})
    return Course(found.time_h, after, properties.ph(after), gas, found.cells_g_per_kg[None])


def acetic(
    mixture: Mixture,
    temperature_C: float,
    hours: float,
    starter: bool = False,
    correction: Correction = AS_TABLED,
    time_h: Array | None = None,
) -> Course:
    """Follow a vinegar ferment at the surface; alcohol that becomes no acid is lost to the air.

    Args:
        mixture: at the start, no or one leading axis.
        temperature_C: of the ferment.
        hours: how long.
        starter: a mother is added.
        correction: its rate; by sample.
        time_h: wanted; every 2 h of the first 10 days and then ever wider by default.
    """
    start = _sampled(mixture, correction)
    row = tables.row("vinegar", "surface")
    times = _times(hours) if time_h is None else np.asarray(time_h, float)
    lag = 0.0 if starter else row["lag_days"]
    days = np.maximum(times / 24 - lag, 0.0)[:, None]
    warm = cardinal_factor(temperature_C, *(row[f"temp_{e}_C"] for e in ("min", "opt", "max")))
    total = start.total_kg
    made = ferment.acetic_made_percent(
        days,
        row["percent_per_day"] * warm * np.asarray(correction.rate),
        100 * start.kg("ethanol") / total,
        row["vinegar_yield"],
        np.maximum(row["acid_limit_percent"] - 100 * start.kg("acetic") / total, 0.0),
    )
    moles = made / 100 * total / molar_mass_kg_per_mol("acetic")
    lost = moles * (1 / row["vinegar_yield"] - 1) * molar_mass_kg_per_mol("ethanol")
    after = soured(start, {"acetic": moles}, hexose_mol(start)[1])
    after = after.with_amounts(ethanol=np.maximum(after.kg("ethanol") - lost, 0.0))
    return Course(times, after, properties.ph(after), lost, np.zeros((1, *moles.shape)))


def _times(hours: float) -> Array:
    early = np.linspace(0.0, min(hours, EARLY_H), EARLY_TIMES)
    if hours <= EARLY_H:
        return early
    late = EARLY_H + (hours - EARLY_H) * np.linspace(0, 1, LATE_TIMES + 1)[1:] ** 1.5
    return np.concatenate([early, late])


def _sampled(mixture: Mixture, correction: Correction) -> Mixture:
    shape = np.broadcast_shapes(
        mixture.shape, (1,), *(np.shape(getattr(correction, f)) for f in ("rate", "buffer"))
    )
    return Mixture(np.broadcast_to(mixture.amounts, (*shape, mixture.amounts.shape[-1])))


def _share(part: Array, whole: Array) -> Array:
    shape = np.broadcast_shapes(part.shape, whole.shape)
    found = np.divide(part, whole, out=np.ones(shape), where=whole > 0)
    return np.clip(found, 0.0, 1.0)


def _gas_kg(turned_mol: Mapping[str, Array]) -> Array:
    moles = sum(
        (ferment.PATHWAYS[p][1].get("carbon dioxide", 0) * n for p, n in turned_mol.items()),
        np.zeros(()),
    )
    return np.maximum(moles, 0.0) * ferment.MOLAR_MASS_G_PER_MOL["carbon dioxide"] / 1000
