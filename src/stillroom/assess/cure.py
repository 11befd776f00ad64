"""What cured and salted meat and fish are held against beside the law of additives."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from stillroom import tables
from stillroom.assess.result import Finding, Verdict
from stillroom.physics import curing, salting
from stillroom.product import properties
from stillroom.product.mixture import Mixture
from stillroom.product.process import Batch, Stage
from stillroom.product.recipe import Ferment, Recipe
from stillroom.working import Known, Working

AUTHORITIES = {"US": "US", "Canada": "CA"}  # market -> jurisdiction of the degree-hours
COLD_UP_TO_C = 8.0
HALF = 0.5  # share of meat that makes a ferment a sausage
NITRITE_MG_PER_KG = 100.0  # from which smoked fish may hold less salt
SODIUM_NITRITE_OVER_ION = 68.9953 / 46.0055  # molar masses


def findings(batch: Batch, markets: Sequence[str]) -> list[Finding]:
    """Return what a cured, salted or fermented meat or fish is held against.

    Args:
        batch: the central one.
        markets: whose rules.
    """
    groups = {batch.recipe.food(n).group for n in batch.recipe.food_names()}
    found = [f for s in batch.of("cure") for f in _middle(s)]
    if is_sausage(batch.recipe):
        found += degree_hours(batch, markets)
    if "fish and seafood" in groups and "US" in markets:
        found += _salted_fish(batch)
    return found


def is_sausage(recipe: Recipe) -> bool:
    """Return whether what ferments is mostly meat."""
    masses = [(recipe.food(n).group, recipe.kg(n, amount)) for _, n, amount in recipe.parts()]
    meat = sum(kg for group, kg in masses if group.startswith("meat"))
    return meat >= HALF * sum(kg for _, kg in masses)


def _middle(stage: Stage) -> Iterator[Finding]:
    """Yield whether the salt has time to reach the middle."""
    if "middle_slow_hours" not in stage.facts:
        return
    fast, slow = (float(stage.facts[f"middle_{pace}_hours"]) / 24 for pace in ("fast", "slow"))
    given = stage.minutes / 1440 if stage.minutes else None
    row = tables.row("moisture_diffusivity", ("meat or fish, cold", "salt"))
    verdict: Verdict = "cannot tell"
    if given is not None and given >= slow:
        verdict = "pass"
    elif given is not None and given < fast:
        verdict = "fail"
    words = {
        "pass": "time enough",
        "fail": "the middle stays raw: longer, thinner, or pumped",
        "cannot tell": "measure the salt of the middle, or give it longer in the cold",
    }[verdict]
    told = "no time is given" if given is None else f"{given:.3g} days are given"
    yield Finding(
        subject=f"step {stage.number}, salt in the middle",
        area="hazard",  # organisms are judged by the mean, which the middle must have reached
        verdict=verdict,
        reason=f"the middle has nine tenths of its salt after {fast:.2g} to {slow:.2g} days; "
        f"{told}: {words}",
        value=given,
        limit=slow,
        margin=None if given is None else given - slow,
        unit="d",
        citation=f"Fick's law, Crank 1975; {row['source']}",
        provenance=str(row["provenance"]),
        decides=True,
    )


# --- degree-hours -----------------------------------------------------------------------------


def degree_hours(batch: Batch, markets: Sequence[str]) -> list[Finding]:
    """Return whether a fermented sausage is sour before staphylococci can make toxin.

    Args:
        batch: the central one.
        markets: whose limits; the US practice where none has its own.
    """
    asked = [m for m in markets if m in AUTHORITIES] or ["US"]
    return [f for m in asked for f in _degree_hours(batch, m)]


def _degree_hours(batch: Batch, market: str) -> Iterator[Finding]:
    plans = [s.step.ferment for s in batch.of("ferment") if s.step.ferment]
    plans = [p for p in plans if p.kind == "lactic"]
    if not plans:
        return
    rows = [r for r in tables.rows("degree_hours") if r["jurisdiction"] == AUTHORITIES[market]]
    to_ph = float(rows[0]["to_ph"])
    hours = _hours_above(plans, to_ph)
    unknown = Finding(
        subject=f"degree-hours to pH {to_ph:g}",
        area="hazard",
        verdict="cannot tell",
        reason="no reading of its pH tells when it is sour enough",
        remedy='measure it and write ph = { "18 h" = 5.2 } in the ferment step',
        citation=str(rows[0]["source"]),
        provenance="; ".join(dict.fromkeys(str(r["provenance"]) for r in rows)),
        market=market,
        decides=True,
    )
    if hours is None:
        yield unknown
        return
    unit, threshold = str(rows[0]["unit"]), float(rows[0]["threshold"])
    warm = np.array([p.temperature * 1.8 + 32 if unit == "F" else p.temperature for p in plans])
    total = float(salting.degree_hours(hours, warm, threshold))
    below, up_to, allowed = (
        np.array([np.inf if r[c] is None else float(r[c]) for r in rows])
        for c in ("hottest_below", "hottest_up_to", "limit_degree_hours")
    )
    limit = float(salting.degree_hours_limit(warm.max(), below, up_to, allowed))
    held = total < limit
    yield replace(
        unknown,
        verdict="pass" if held else "fail",
        reason=f"{total:.0f} degree-hours (°{unit} above {threshold:g}) until pH {to_ph:g}, "
        f"{limit:.0f} allowed at the hottest stage",
        value=total,
        limit=limit,
        margin=limit - total,
        remedy="" if held else "a faster starter, more sugar, or less warm: test for toxin",
    )


def _hours_above(plans: Sequence[Ferment], to_ph: float) -> np.ndarray | None:
    """Return the hours of each stage until a reading is at or below a pH; None where none is."""
    found = []
    for plan in plans:
        sour = [minutes for minutes, ph in plan.ph.items() if ph <= to_ph]
        if sour:
            found.append(min(sour) / 60)
            return np.array(found + [0.0] * (len(plans) - len(found)))
        found.append(plan.for_ / 60)
    return None


# --- salted and smoked fish -------------------------------------------------------------------


def _salted_fish(batch: Batch) -> Iterator[Finding]:
    """Yield the salt in the water phase that guidance asks of packed fish."""
    keep = batch.recipe.keep()
    made = batch.made.mixture
    salt = float(properties.water_phase_salt_percent(made))
    if keep is None or salt < 1.0:
        return
    rows = [r for r in tables.rows("water_phase_salt") if r["jurisdiction"] == "US"]
    shelf = keep.temperature > COLD_UP_TO_C
    if not shelf and keep.pack == "open":
        return
    nitrite = 1e6 * float(made.kg("nitrite") / made.total_kg) * SODIUM_NITRITE_OVER_ION
    wanted = "salted fish kept" if shelf else "smoked fish"
    mine = [r for r in rows if str(r["product"]).startswith(wanted)]
    plain = [
        r for r in mine if bool(r["condition"]) == (not shelf and nitrite >= NITRITE_MG_PER_KG)
    ]
    row = (plain or mine)[0]
    asked = float(row["low_percent"])
    yield Finding(
        subject="salt in the water of fish",
        area="law",
        verdict="pass" if salt >= asked else "fail",
        reason=f"{salt:.1f} % salt in the water phase, {asked:g} % asked of {row['product']}",
        value=salt,
        limit=asked,
        margin=salt - asked,
        unit="%",
        remedy="" if salt >= asked else "more salt, more time in it, or drier",
        citation=str(row["source"]),
        provenance=str(row["provenance"]),
        market="US",
    )


# --- working ----------------------------------------------------------------------------------


def write(board: Working, batch: Batch) -> None:
    """Write what cures put in on a board.

    Args:
        board: to write on.
        batch: the central one.
    """
    for stage in batch.of("cure"):
        plan = stage.step.cure
        assert plan is not None
        board.heading(f"Cure, step {stage.number}: {plan.method}")
        mix = sum(
            (
                batch.recipe.food(n).mixture() * batch.recipe.kg(n, kg)
                for n, kg in plan.with_.items()
            ),
            Mixture.nothing(),
        )
        ion = Known(float(mix.kg("nitrite")), "kg", "calculated", "what the cure holds")
        green = Known(float(stage.facts["green_kg"]), "kg", "calculated", "green weight")
        pickle = Known(float(mix.total_kg), "kg", "calculated", "recipe")
        if float(ion.value) > 0:
            words = "ingoing nitrite, as the ion"
            if plan.method == "pumped":
                board.apply(
                    curing.ingoing_pumped_mg_per_kg, words, nitrite_kg=ion,
                    pump_fraction=Known(plan.pump / 100, "", "given", "recipe"), pickle_kg=pickle,
                )  # fmt: skip
            elif plan.method == "immersed":
                board.apply(
                    curing.ingoing_immersed_mg_per_kg, words, nitrite_kg=ion, meat_kg=green,
                    pickle_kg=pickle,
                )  # fmt: skip
            else:
                board.apply(curing.ingoing_mg_per_kg, words, nitrite_kg=ion, meat_kg=green)
        salt = float(properties.water_phase_salt_percent(stage.mixture))
        board.say(f"The cured pieces hold {salt:.2f} % salt in their water phase.")
