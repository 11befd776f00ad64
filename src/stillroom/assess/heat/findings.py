"""The judged heat as findings, and as an answer for every organism that could grow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom.assess.hazards import Organism
from stillroom.assess.heat.hold import brine_of, hold
from stillroom.assess.heat.judgement import Heating, Reached
from stillroom.assess.heat.resistance import Kill
from stillroom.assess.heat.targets import BOTULINUM, COLD_BOTULINUM, COLD_UP_TO_C, targets
from stillroom.assess.result import Area, Estimate, Finding, Verdict
from stillroom.errors import InputError
from stillroom.product.mixture import Mixture
from stillroom.product.recipe import Keep

FILL_SUBJECT = "hot fill: temperature"
ESTIMATE = "an estimate, not a scheduled process: a process authority must set it"
USE_AREA: Mapping[str, Area] = {"hazard": "hazard", "spoilage": "process", "quality": "quality"}


def findings(heating: Heating, unheated: Sequence[Finding] = ()) -> list[Finding]:
    """Return a finding for every target that counts.

    Args:
        heating: the judged heat.
        unheated: what would be found without it; an acid that kills stands for heat that does not.
    """
    counted = [r for r in heating.reached if r.target.use in USE_AREA]
    found = [*_fill(heating), *(_finding(r) for r in counted)]
    held = [f for f in unheated if f.verdict == "pass"]
    if not held:
        return found
    replaced = {_subject(r) for r in counted if r.target.against == "vegetative pathogen"}
    replaced.add(FILL_SUBJECT)
    kept = [f for f in found if f.verdict == "pass" or f.subject not in replaced]
    return kept if len(kept) == len(found) else [*kept, *held]


def _fill(heating: Heating) -> list[Finding]:
    """Return the finding of the fill temperature, where a hot fill is all the heat there is."""
    if heating.fill_needed_C is None:
        return []
    _, careful = heating.fill_needed_C
    filled, verdict = heating.plan.start_C, heating.fill_verdict
    if careful == float("inf"):
        reason = "no hot fill alone will do at this pH: heat the closed pack"
    else:
        reason = (
            f"food and container come to {filled:.0f} °C after the fill; food of this pH wants "
            f"{careful:.0f} °C: " + FILL_WORDS[verdict]
        )
    return [
        Finding(
            subject=FILL_SUBJECT,
            area="hazard",
            verdict=verdict,
            reason=reason,
            value=filled,
            limit=careful if np.isfinite(careful) else None,
            margin=filled - careful if np.isfinite(careful) else None,
            uncertainty=2.0,
            unit="°C",
            citation="University of Arkansas, fill temperatures for acidified foods",
            provenance="seen (page)",
            decides=True,
            hurdles=("heat",) if verdict == "pass" else (),
        )
    ]


def no_heat(
    mixture: Mixture, ph: Estimate, water_activity: Estimate, keep: Keep, salt_percent: float
) -> list[Finding]:
    """Return the finding on pathogens that ride into an acid pack which gets no heat.

    Args:
        mixture: the product, no leading axes.
        ph: its estimate.
        water_activity: its estimate.
        keep: how it is kept.
        salt_percent: of the water phase.
    """
    asked = [
        t
        for t in targets(ph.high, water_activity.high, keep.temperature, (), 7.0)
        if t.against == "vegetative pathogen" and t.use == "hazard"
    ]
    if not asked or keep.temperature <= COLD_UP_TO_C:
        return []
    base = Finding(
        subject="cells that ride in: E. coli O157:H7, Salmonella, Listeria",
        area="hazard",
        verdict="cannot tell",
        reason="",
        citation=asked[0].source,
        provenance=asked[0].provenance,
        decides=True,
    )
    try:
        found = hold(brine_of(mixture, ph.high, keep.temperature, salt_percent))
    except InputError as problem:
        return [replace(base, reason=f"they do not grow here, but live: {problem}".rstrip("."))]
    days = int(np.ceil(found.hours / 24))
    return [
        replace(
            base,
            verdict="pass",
            reason=f"the acid takes five decades of them in {days} days at {keep.temperature:g} °C "
            f"({found.medium}): hold it so long before it is sold",
            value=found.hours,
            unit="h",
            citation=found.source,
            provenance=found.provenance,
            hurdles=("acid hold",),
        )
    ]


FILL_WORDS = {
    "pass": "hot enough",
    "fail": "fill hotter or warm the jars",
    "cannot tell": "hot enough for the estimated pH, not for its upper end: measure the pH",
}


def _subject(r: Reached) -> str:
    return f"heat against {r.target.words}"


def _finding(r: Reached) -> Finding:
    t, F = r.target, r.lethality
    reason = (
        f"the coldest place gets {_minutes(F.value)} min ({_minutes(F.low)} to "
        f"{_minutes(F.high)}) of {t.minutes:g} at {t.scale}"
    )
    verdict: Verdict = r.verdict
    if r.verdict == "cannot tell":
        reason += (
            ", which only the upper end of the pH asks for: measure the pH"
            if t.careful_only
            else ": log the middle of a pack"
        )
    if r.low_acid and r.verdict == "pass":
        verdict, reason = "cannot tell", f"{reason}; {ESTIMATE}"
    return Finding(
        subject=_subject(r),
        area=USE_AREA[t.use],
        verdict=verdict,
        reason=reason,
        value=F.value,
        limit=t.minutes,
        margin=F.low - t.minutes,
        uncertainty=(F.high - F.low) / 2,
        unit="min",
        citation=t.source,
        provenance=t.provenance,
        decides=t.use == "hazard",
        hurdles=("heat",) if verdict == "pass" else (),
    )


@dataclass(frozen=True)
class Leaves:
    """What the heat leaves of an organism that could grow afterwards."""

    verdict: Verdict
    reason: str
    citation: str = ""
    provenance: str = ""
    watched: bool = False  # held by clean raw material, not by the recipe


MANY = 20
THERMOPHILES_FROM_C = 30.0  # what grows only above it stands far more heat than other spores
NEEDED = {"pathogen spore": 6.0, "pathogen": 5.0, "spoilage": 5.0}


def leaves(heating: Heating, organism: Organism) -> Leaves:
    """Return whether the heat of a sealed pack deals with an organism that could grow in it.

    Args:
        heating: the judged heat.
        organism: of the growth table.
    """
    spore = organism.heat_class != "vegetative"
    against = organism.name if organism.name in (BOTULINUM, COLD_BOTULINUM) else None
    mild = organism.temp_min_C is None or organism.temp_min_C < THERMOPHILES_FROM_C
    if spore and against is None and organism.group != "pathogen" and mild:
        against = "spore"
    judged = [
        r
        for r in heating.reached
        if r.target.against == against and r.target.use in ("hazard", "spoilage")
    ]
    if judged and not organism.raw_material_risk:
        return _by_target(judged)
    kill = heating.kill_of(organism)
    if kill is None:
        return Leaves("fail", "can grow, and how it stands heat is not known")
    if heating.dry and kill.stands_for == ("vegetative pathogen",):
        return Leaves("fail", "can grow, and dry or sugary food protects it from heat")
    needed = NEEDED["spoilage"]
    if organism.group == "pathogen":
        needed = NEEDED["pathogen spore" if spore else "pathogen"]
    return _by_decades(kill, needed, organism.raw_material_risk)


def _by_target(judged: list[Reached]) -> Leaves:
    order: tuple[Verdict, ...] = ("fail", "cannot tell", "pass")
    r = min(judged, key=lambda r: order.index(r.verdict))
    found = f"{_minutes(r.lethality.value)} of {r.target.minutes:g} min at {r.target.scale}"
    reason = {
        "pass": f"killed by the heat ({found}) and kept out by the seal",
        "fail": f"can grow: the heat falls short ({found})",
        "cannot tell": f"the heat may fall short ({found}, at least "
        f"{_minutes(r.lethality.low)}): "
        + ("measure the pH" if r.target.careful_only else "log the middle of a pack"),
    }[r.verdict]
    verdict: Verdict = r.verdict
    if r.low_acid and verdict == "pass":
        verdict, reason = "cannot tell", f"the heat reaches {found}: {ESTIMATE}"
    return Leaves(verdict, reason, r.target.source, r.target.provenance)


def _by_decades(kill: Kill, needed: float, watched: bool) -> Leaves:
    d = kill.decades
    found = f"{_decades(d.low)} to {_decades(d.high)} decades"
    wanted = f"{found}, {needed:g} wanted"
    by = (kill.source, kill.provenance)
    if d.low >= needed:
        least = f"at least {_decades(d.low)} decades" if d.low <= MANY else f"over {MANY} decades"
        return Leaves("pass", f"killed by the heat ({least}) and kept out by the seal", *by)
    if watched:
        return Leaves(
            "cannot tell",
            f"may survive this heat ({found}): held down by clean fruit, little air and quick "
            "cooling, which no recipe shows",
            *by,
            watched=True,
        )
    if d.high >= needed:
        return Leaves("cannot tell", f"the heat may leave some ({wanted}): log the middle", *by)
    return Leaves("fail", f"can grow: the heat leaves too many ({wanted})", *by)


def _decades(value: float) -> str:
    return f"{value:.0f}" if value >= 10 else f"{value:.2g}" if value >= 0.01 else "0"


def _minutes(value: float) -> str:
    return f"{value:.3g}" if value >= 0.01 or value == 0 else "less than 0.01"
