"""From margins to findings, and from findings to how the product keeps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from stillroom.assess import hazards
from stillroom.assess.hazards import Conditions, Organism
from stillroom.assess.heat.findings import Leaves, leaves
from stillroom.assess.heat.judgement import Heating
from stillroom.assess.heat.targets import COLD_UP_TO_C
from stillroom.assess.result import Estimate, Finding, Outcome
from stillroom.labels import Array
from stillroom.product.process import Batch

COLD_C = 5.0
ROOM_C = 25.0
UNITS = {
    "water activity": "",
    "acidity": "pH",
    "alkalinity": "pH",
    "cold": "°C",
    "warmth": "°C",
    "acid dose": "of the inhibiting dose",
    "salt": "%",
    "no air": "",
    "alcohol": "% vol",
}
# a margin of this size counts the same for every hurdle when the strongest is looked for
YARDSTICK = {
    "water activity": 0.02,
    "acidity": 0.2,
    "alkalinity": 0.2,
    "cold": 2.0,
    "warmth": 2.0,
    "acid dose": 0.5,
    "salt": 1.0,
    "no air": 1.0,
    "alcohol": 1.0,
}
WORDS = {
    "water activity": "too little free water",
    "acidity": "acidity",
    "alkalinity": "too little acid for it",
    "cold": "cold",
    "warmth": "too warm for it",
    "acid dose": "undissociated acid and preservative",
    "salt": "salt",
    "no air": "no air",
    "alcohol": "alcohol",
    "together": "hurdles together",
    "heat": "heat and the seal",
    "acid hold": "the acid, in time",
}

SHORT_OF_AIR = (
    "it needs air, and the airtight pack holds that of its headspace alone: whether that is enough "
    "is not known; fill to the brim"
)
MADE_SO = "ferment"  # findings of what the process made, whatever the storage


@dataclass(frozen=True)
class Treatment:
    """What the steps do beside the composition."""

    sealed: bool
    air: str
    heating: Heating | None

    @property
    def thermal(self) -> bool | None:
        """Whether the law would call it heat treated in the pack; None where that is open.

        Low-acid food counts when the closed pack is heated at all; acid food when what must die
        does.
        """
        if self.heating is None or not self.sealed:
            return False
        asked = self.heating.target("hazard")
        if asked is None:
            return True
        if asked.low_acid:
            return self.heating.plan.heated
        return {"pass": True, "fail": False}.get(asked.verdict)


def treatment(batch: Batch, heating: Heating | None) -> Treatment:
    """Return what the pack and its heat do.

    Args:
        batch: the central one.
        heating: what its heat is worth; None where it gets none.
    """
    keep = batch.recipe.keep()
    pack = keep.pack if keep else "open"
    air = {"open": "air", "airtight": "little", "vacuum": "none"}[pack]
    if air == "little" and batch.soured and heating is None:
        air = "none"  # a living ferment uses up what oxygen the pack holds, and fills it with gas
    return Treatment(pack != "open", air, heating)


@dataclass(frozen=True)
class Situation:
    """The product as an organism finds it: the central estimate and the careful end."""

    ph: Estimate
    water_activity: Estimate
    doses_central: Mapping[str, float]
    doses_careful: Mapping[str, float]
    humectants: tuple[str, ...]
    salt_percent: float
    groups: frozenset[str]
    ethanol_percent_vol: tuple[float, float] = (0.0, 0.0)  # of the water phase

    def conditions(self, temperature_C: float, air: str) -> Conditions:
        """Return both ends as one stack: the central estimate first, the careful end second."""
        doses = {
            a: np.array([self.doses_central[a], self.doses_careful[a]]) for a in self.doses_central
        }
        return Conditions(
            ph=np.array([self.ph.value, self.ph.high]),
            water_activity=np.array([self.water_activity.value, self.water_activity.high]),
            temperature_C=temperature_C,
            undissociated_mmol_per_kg=doses,
            humectants=self.humectants,
            air=air,
            ethanol_percent_vol=np.array(self.ethanol_percent_vol),
        )

    def organisms(self) -> list[Organism]:
        """Return the organisms that matter in such a product."""
        present = {
            "": True,
            "fish": "fish and seafood" in self.groups,
            "salt": self.salt_percent >= hazards.HALOPHILE_SALT_PERCENT,
            "sugar": "sugar" in self.humectants,
        }
        return [o for o in hazards.organisms(self.humectants) if present[o.only_in]]


def judge_organisms(situation: Situation, how: Treatment, temperature_C: float) -> list[Finding]:
    """Return a finding for every organism that matters, at a storage temperature."""
    who = situation.organisms()
    conditions = situation.conditions(temperature_C, how.air)
    margins = hazards.margins(conditions, who)
    psi = hazards.interaction(conditions, who)
    toxins = {o.name for o in who if o.limit_for == "toxin"}
    findings = []
    for n, organism in enumerate(who):
        mine = {
            hurdle: np.broadcast_to(m, (2, len(who)))[:, n]
            for hurdle, m in margins.items()
            if np.isfinite(np.broadcast_to(m, (2, len(who)))[0, n])
        }
        finding = _judge(organism, mine, psi[:, n], situation, temperature_C)
        if finding.verdict == "fail" and how.air == "little" and _lives_on_air(organism):
            finding = replace(finding, verdict="cannot tell", reason=SHORT_OF_AIR)
        if finding.verdict != "pass":
            finding = _treated(finding, organism, how)
        # Staphylococcus and moulds harm by their toxin; botulinum's growth counts as toxin
        harmless_growth = (
            organism.limit_for == "growth"
            and organism.name in toxins
            and not organism.name.startswith("Clostridium")
        )
        findings.append(replace(finding, decides=finding.decides and not harmless_growth))
    return findings


def _lives_on_air(organism: Organism) -> bool:
    """Return whether the air of a headspace may be too little; a mould makes do with it."""
    return organism.needs_air and organism.life != "mould" and organism.group != "pathogen"


def _judge(
    organism: Organism,
    margins: Mapping[str, Array],
    psi: Array,
    situation: Situation,
    temperature_C: float,
) -> Finding:
    careful = {h: float(m[1]) for h, m in margins.items() if m[1] > 0}
    central = {h: float(m[0]) for h, m in margins.items() if m[0] > 0}
    base = Finding(
        subject=organism.title,
        area="hazard" if organism.group == "pathogen" else "spoilage",
        verdict="fail",
        reason="",
        citation="; ".join(organism.sources),
        provenance="; ".join(organism.provenance),
        decides=True,
        hurdles=tuple(careful),
    )
    if careful:
        hurdle = max(careful, key=lambda h: careful[h] / YARDSTICK[h])
        return _with_numbers(
            replace(
                base,
                verdict="pass",
                reason=f"stopped by {WORDS[hurdle]}",
                hurdles=(hurdle, *(h for h in careful if h != hurdle)),
            ),
            organism,
            hurdle,
            margins,
            situation,
            temperature_C,
        )
    if psi[1] >= hazards.ROBUST_PSI:
        return replace(
            base,
            verdict="pass",
            value=float(psi[0]),
            limit=hazards.ROBUST_PSI,
            margin=float(psi[1]) - hazards.ROBUST_PSI,
            hurdles=("together",),
            reason="the boundary model suggests that the hurdles stop it together",
        )
    near = central or {h: float(m[0]) for h, m in margins.items()}
    hurdle = max(near, key=lambda h: near[h] / YARDSTICK[h])
    told = _with_numbers(base, organism, hurdle, margins, situation, temperature_C)
    if central:
        return replace(
            told,
            verdict="cannot tell",
            reason=f"{WORDS[hurdle]} stops it by the estimate, but not within its uncertainty: "
            "measure it",
        )
    return replace(told, reason="can grow: nothing in the food stops it")


def _with_numbers(
    finding: Finding,
    organism: Organism,
    hurdle: str,
    margins: Mapping[str, Array],
    situation: Situation,
    temperature_C: float,
) -> Finding:
    alcohol = hazards.alcohol_limit(organism)
    value, limit, half = {
        "water activity": (
            situation.water_activity.value,
            organism.aw_min,
            _half(situation.water_activity),
        ),
        "acidity": (situation.ph.value, organism.ph_min, _half(situation.ph)),
        "alkalinity": (situation.ph.value, organism.ph_max, _half(situation.ph)),
        "cold": (temperature_C, organism.temp_min_C, None),
        "warmth": (temperature_C, organism.temp_max_C, None),
        "acid dose": (float(margins.get("acid dose", np.zeros(2))[0]) + 1, 1.0, None),
        "salt": (situation.salt_percent, organism.salt_max_percent, None),
        "no air": (None, None, None),
        "alcohol": (situation.ethanol_percent_vol[0], alcohol["ethanol_max_percent_vol"], None),
    }[hurdle]
    if hurdle == "alcohol":
        source, provenance = str(alcohol["source"]), str(alcohol["provenance"])
        finding = replace(finding, citation=source, provenance=provenance)
    margin = float(margins[hurdle][1])
    return replace(
        finding, value=value, limit=limit, margin=margin, uncertainty=half, unit=UNITS[hurdle]
    )


def _half(estimate: Estimate) -> float:
    return (estimate.high - estimate.low) / 2


def _treated(finding: Finding, organism: Organism, how: Treatment) -> Finding:
    """Return the finding with what the declared process does about the organism."""
    if how.heating is not None and how.sealed:
        return _heated(finding, leaves(how.heating, organism))
    return finding


def _heated(finding: Finding, left: Leaves) -> Finding:
    if left.verdict != "pass" and finding.verdict == "cannot tell":
        return replace(finding, decides=not left.watched)
    toxin = "; toxin made before stays" if finding.subject.startswith("toxin of") else ""
    told = replace(
        finding,
        verdict=left.verdict,
        reason=left.reason + (toxin if left.verdict == "pass" else ""),
        citation="; ".join(filter(None, [finding.citation, left.citation])),
        provenance=left.provenance or finding.provenance,
        decides=not left.watched,
        value=None,
        limit=None,
        margin=None,
    )
    if left.verdict != "pass":
        return told
    return replace(told, hurdles=("heat",), remedy="once opened, keep cold and use up")


# --- outcome ----------------------------------------------------------------------------------


def state_of(findings: list[Finding], area: str) -> str:
    """Return the worst verdict among the findings of an area that decide."""
    verdicts = {f.verdict for f in findings if f.area == area and f.decides}
    return next((v for v in ("fail", "cannot tell") if v in verdicts), "pass")


@dataclass(frozen=True)
class Judgement:
    """How the product keeps, why, and whether that is what was declared."""

    outcome: Outcome
    reason: str
    as_declared: bool | None


def judge(temperature_C: float | None, here: list[Finding], cold: list[Finding]) -> Judgement:
    """Join the findings at the declared temperature and in the cold to an outcome.

    Args:
        temperature_C: declared temperature of storage, None where none is declared.
        here: findings at that temperature.
        cold: findings at refrigerator temperature.
    """
    if temperature_C is None:
        return Judgement(
            Outcome.UNKNOWN,
            "no `keep` step says how warm, how long and in what pack it is kept",
            None,
        )
    danger, spoilage = state_of(here, "hazard"), state_of(here, "spoilage")
    if temperature_C <= COLD_UP_TO_C:
        return _judge_cold(danger, here)
    if danger == "pass" and spoilage == "pass":
        return Judgement(
            Outcome.SEALED, "nothing dangerous and nothing that spoils it can grow", True
        )
    in_cold = state_of(cold, "hazard")
    if "fail" in (danger, spoilage):
        who = _first(here, "fail", "hazard" if danger == "fail" else "spoilage")
        what = f"{who.subject}: {who.reason}"
        if not who.subject.startswith(MADE_SO):
            what += f"; kept at {temperature_C:g} °C"
        if in_cold == "pass":
            return Judgement(
                Outcome.COLD, f"{what}; at {COLD_C:g} °C nothing dangerous can grow", False
            )
        end = (
            "; nor does cold hold it"
            if in_cold == "fail"
            else "; whether cold would hold it cannot be told"
        )
        return Judgement(Outcome.NOT, what + end, False)
    who = _first(here, "cannot tell", "hazard" if danger != "pass" else "spoilage")
    return Judgement(Outcome.UNKNOWN, f"{who.subject}: {who.reason}", None)


def _judge_cold(danger: str, here: list[Finding]) -> Judgement:
    if danger == "pass":
        return Judgement(Outcome.COLD, "nothing dangerous can grow in the cold", True)
    who = _first(here, danger, "hazard")
    if danger == "fail":
        even = "" if who.subject.startswith(MADE_SO) else ", even in the cold"
        return Judgement(Outcome.NOT, f"{who.subject}{even}: {who.reason}", False)
    return Judgement(Outcome.UNKNOWN, f"{who.subject}: {who.reason}", None)


def _first(findings: list[Finding], verdict: str, area: str) -> Finding:
    return next(f for f in findings if f.verdict == verdict and f.area == area and f.decides)


def deciding(findings: list[Finding]) -> Finding | None:
    """Return the deciding finding with the smallest margin: what holds the product."""
    worst = state_of(findings, "hazard")
    if worst != "pass":
        return _first(findings, worst, "hazard")
    held = [f for f in findings if f.area == "hazard" and f.decides and f.margin is not None]
    measured = [f for f in held if f.hurdles and f.hurdles[0] in YARDSTICK]
    return min(measured, key=lambda f: (f.margin or 0.0) / YARDSTICK[f.hurdles[0]], default=None)


def single_point(findings: list[Finding]) -> str:
    """Return a warning where one hurdle alone holds a dangerous organism, "" otherwise."""
    alone: dict[str, list[str]] = {}
    for f in findings:
        if f.area == "hazard" and f.decides and f.verdict == "pass" and len(f.hurdles) == 1:
            alone.setdefault(f.hurdles[0], []).append(f.subject)
    if not alone:
        return ""
    hurdle, who = max(alone.items(), key=lambda item: len(item[1]))
    others = f" and {len(who) - 1} more" if len(who) > 1 else ""
    return (
        f"One hurdle alone, {WORDS[hurdle]}, stands against {who[0]}{others}: if it slips in a "
        "batch, nothing else stands behind it."
    )
