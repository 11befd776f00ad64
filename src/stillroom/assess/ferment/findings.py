"""What a ferment is held against: salt, the race to pH 4.6, its end, the hold, what it leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from stillroom.assess.ferment.judgement import LITTLE_SUGAR, Fermented
from stillroom.assess.ferment.race import INFECTS, RULE_C, RULE_H, SOUR_PH
from stillroom.assess.heat.hold import brine_of, hold
from stillroom.assess.result import Finding, Verdict
from stillroom.errors import InputError
from stillroom.labels import duration, formula_of
from stillroom.physics.kinetics import earliest_toxin_days
from stillroom.product import fermenting, properties

SALT = (1.5, 2.0, 8.0)  # per cent of the water phase: too little, little, much (common practice)
RULE = "fermented vegetables: below pH 4.6 within 3 days at 18-22 °C, else discard"
SALT_RULE = "fermented vegetables: 2 to 8 % salt in the water phase"
COLD_C, NO_TOXIN_PH = 10.0, 5.0  # where non-proteolytic botulinum decides, and its lowest pH
HOLD_ORGANISM = "Escherichia coli O157:H7"
PRESERVATIVES = ("sorbic", "benzoic", "sulfurous")
LITTLE_PRESERVATIVE = 0.2  # mmol/kg of the water phase, undissociated
SAME_SALT = 0.2  # per cent; a ferment that goes on as it was is not asked again
START_ERROR = 0.3  # of the pH of a mix of raw foods
ALKALINE_PH = 8.0  # lactic bacteria of vegetables grow to pH 8-9 (memory)
GAS_G_PER_L = 1.84  # carbon dioxide at 20 °C and 101.3 kPa
LITTLE_GAS = 0.3  # litres a kilogram
REFERMENTS = 0.5  # per cent of sugar that a closed pack would turn into gas
LITTLE_ALCOHOL = 0.5  # per cent by volume; less is no alcoholic ferment
ALCOHOL_LEFT = 0.5  # per cent; below it a vinegar is ripe, above it goes on


def findings(ferments: Sequence[Fermented], sausage: bool = False) -> list[Finding]:
    """Return what the ferments of a recipe are held against.

    Args:
        ferments: followed, in order.
        sausage: whether it is meat that ferments, of which the rules of vegetables do not speak.
    """
    found: list[Finding] = []
    for n, f in enumerate(ferments):
        found += [*_preservative(f), *_flora(f), *_gas(f)]
        if f.plan.kind == "lactic":
            goes_on = any(later.plan.kind == "lactic" for later in ferments[n + 1 :])
            raw = f.start.ph > SOUR_PH - START_ERROR
            salted = [e.salt_percent for e in ferments[:n] if e.plan.kind == "lactic"]
            asked = any(abs(s - f.salt_percent) < SAME_SALT for s in salted)
            found += [_salt(f)] if raw and not asked and not sausage else []
            found += [] if goes_on or sausage else [_race(f), _end(f), *_hold(f)]
        else:
            found += [_alcohol(f) if f.plan.kind == "alcoholic" else _vinegar(f)]
    return found


def _finding(f: Fermented, what: str, verdict: Verdict, reason: str) -> Finding:
    return Finding(
        subject=f"ferment, step {f.number}: {what}",
        area="hazard",
        verdict=verdict,
        reason=reason,
        provenance="common practice",
        decides=True,
    )


def _flora(f: Fermented) -> list[Finding]:
    if f.killed and not f.plan.starter:
        none = "the heat before has left nothing that could ferment it"
        remedy = "add a starter (starter = true), or ferment before it is heated"
        return [replace(_finding(f, "flora", "fail", none), remedy=remedy)]
    if f.plan.kind != "lactic":
        return []
    if not f.worked:
        nothing = f"nothing ferments here: {_hindrance(f)}"
        return [replace(_finding(f, "flora", "fail", nothing), remedy=_remedy(f))]
    if f.start.ph > ALKALINE_PH:
        slow = f"lactic bacteria hardly grow at pH {f.start.ph:.1f}: whether it sours is not known"
        return [replace(_finding(f, "flora", "cannot tell", slow), remedy=_remedy(f))]
    return []


def _hindrance(f: Fermented) -> str:
    """Return what keeps the lactic floras from growing from the start."""
    kinds, T = fermenting.floras(f.plan.starter), f.plan.temperature
    driest, most_sour = (min(getattr(k, c) for k in kinds) for c in ("aw_min", "ph_min"))
    if f.start.sugar < LITTLE_SUGAR:
        return "there is no sugar to ferment"
    if all(float(k.rate_per_h(T)) <= 0 for k in kinds):
        return f"no lactic bacteria of vegetables grow at {T:g} °C"
    if f.water_activity < driest:
        return (
            f"its water activity is {f.water_activity:.2f} ({f.salt_percent:.1f} % salt in the "
            f"water phase), and lactic bacteria of vegetables grow from {driest:g} on"
        )
    if f.start.ph > max(k.ph_max for k in kinds):
        return f"it is alkaline, pH {f.start.ph:.1f}, and lactic bacteria grow up to about pH 9"
    if f.start.ph < most_sour:
        return f"it is pH {f.start.ph:.1f} from the start, and they grow from {most_sour:g} on"
    if f.stopped_by == "time":
        return f"{duration(f.plan.for_ / 60)} at {T:g} °C is too short"
    sour = f", pH {f.start.ph:.1f} at the start" if f.start.ph <= SOUR_PH else ""
    return f"lactic bacteria hardly grow at {T:g} °C and {f.salt_percent:.1f} % salt{sour}"


def _gas(f: Fermented) -> list[Finding]:
    if not f.closed or f.plan.kind == "acetic":
        return []
    litres = 1000 * f.gas_kg / float(f.before.total_kg) / GAS_G_PER_L
    if litres < LITTLE_GAS:
        return []
    told = _finding(f, "gas in a closed pack", "fail", f"{litres:.1f} l of gas a kilogram")
    return [
        replace(
            told,
            reason=f"it makes {litres:.1f} l of gas a kilogram: a closed pack bursts or leaks",
            remedy="close the pack when it is over, or let the gas out",
        )
    ]


def _salt(f: Fermented) -> Finding:
    little, enough, much = SALT
    salt = f.salt_percent
    held = _finding(f, "salt", "pass", f"{salt:.1f} % of the water phase, as ferments are salted")
    numbers = replace(held, value=salt, limit=enough, margin=salt - enough, unit="%")
    numbers = replace(numbers, citation=SALT_RULE)
    if salt < little and not f.plan.starter:
        return replace(
            numbers,
            verdict="fail",
            reason=f"too little salt, {salt:.1f} % of the water phase: nothing holds back the "
            "wrong bacteria until it is sour, and the pieces go soft",
            remedy=f"salt to {enough:g} to 3 % of the water phase",
        )
    if salt < enough:
        return replace(
            numbers,
            verdict="cannot tell",
            reason=f"little salt, {salt:.1f} % of the water phase: it may go soft or wrong",
            remedy=f"salt to {enough:g} to 3 % of the water phase",
        )
    if salt > much:
        return replace(
            numbers,
            verdict="cannot tell",
            reason=f"much salt, {salt:.1f} % of the water phase: it may sour late or not at all",
            limit=much,
            margin=much - salt,
            remedy=f"salt to no more than {much:g} % of the water phase, or follow its pH",
        )
    return numbers


def _race(f: Fermented) -> Finding:
    worth, hours = f.worth_h, f.hours_to[SOUR_PH]
    told = replace(
        _finding(f, "souring in time", "pass", ""),
        value=worth.value,
        limit=RULE_H,
        margin=RULE_H - worth.high,
        uncertainty=(worth.high - worth.low) / 2,
        unit="h",
        citation=RULE,
    )
    if hours.value == float("inf"):
        return replace(
            told,
            verdict="fail",
            reason=f"pH {SOUR_PH} is not reached: {_why(f)}",
            value=None,
            margin=None,
            uncertainty=None,
            remedy=_remedy(f),
        )
    if hours.high == 0:
        return replace(told, reason=f"below pH {SOUR_PH} from the start")
    counted = (
        f"pH {SOUR_PH} after {_hours(hours.value)} ({_hours(hours.low)} to {_hours(hours.high)}), "
        f"worth {worth.value:.0f} h at {RULE_C:g} °C"
    )
    toxin_h = 24 * float(earliest_toxin_days(f.plan.temperature))
    if f.plan.temperature < COLD_C and f.hours_to[NO_TOXIN_PH].high > toxin_h:
        return replace(
            told,
            verdict="cannot tell",
            reason=f"{counted}; so cold it may stay above pH {NO_TOXIN_PH:g} for longer than the "
            f"{_hours(toxin_h)} in which non-proteolytic Clostridium botulinum was seen to make "
            "toxin, and the rule was made for 18 to 22 °C",
            remedy="start it at 18 to 20 °C until it is sour, then move it to the cold",
            citation=f"{RULE}; {formula_of(earliest_toxin_days).source}",
        )
    if worth.high <= RULE_H:
        return replace(told, reason=f"{counted}, also at the slow end within {RULE_H:g} h")
    if worth.value > RULE_H:
        return replace(
            told,
            verdict="fail",
            reason=f"sours too slowly: {counted}, where {RULE_H:g} h are allowed",
            remedy="add a starter or the brine of a good batch, or ferment nearer to 20 °C",
        )
    return replace(
        told,
        verdict="cannot tell",
        reason=f"{counted}, but at the slow end too late: measure its pH on the third day; above "
        f"{SOUR_PH}, discard",
        remedy='read its pH on the way and write it into the step (ph = { "3 d" = ... }), or add '
        "a starter",
    )


def _end(f: Fermented) -> Finding:
    end = f.end
    told = replace(
        _finding(f, "acid at the end", "pass", ""),
        value=end.value,
        limit=SOUR_PH,
        margin=SOUR_PH - end.high,
        uncertainty=end.model_error,
        unit="pH",
        citation="21 CFR 114.3; growth limit of Clostridium botulinum",
        provenance="seen",
    )
    left = f.left
    made = f"pH {end.value:.2f} ± {end.model_error:.2f}, {left.titratable_acidity:.2f} % acid"
    if end.high <= SOUR_PH:
        return replace(told, reason=f"{made}; {_why(f)}")
    if end.value > SOUR_PH:
        return replace(told, verdict="fail", reason=f"ends at {made}: {_why(f)}", remedy=_remedy(f))
    return replace(
        told,
        verdict="cannot tell",
        reason=f"ends at {made}, not below {SOUR_PH} within its uncertainty ({_why(f)}): measure "
        "it",
        remedy=_remedy(f),
    )


def _why(f: Fermented) -> str:
    """Return what ended a lactic ferment."""
    if not f.worked:
        return _hindrance(f)
    if f.stopped_by == "sugar":
        words = f"its sugar, {f.start.sugar:.1f} %, is used up"
        if f.lowest_ph > SOUR_PH - 0.2:
            words += (
                f"; all of it makes {f.most_acid_percent:.1f} % acid and, against its buffer, "
                f"brings pH {f.lowest_ph:.1f} at the lowest"
            )
        return words
    return {
        "acid": f"the acid stopped it with {f.left.sugar:.1f} % sugar left",
        "time": f"it was still souring after {_hours(f.plan.for_ / 60)}, "
        f"{f.left.sugar:.1f} % sugar left",
        "flora": _hindrance(f),
    }[f.stopped_by]


def _remedy(f: Fermented) -> str:
    if f.start.ph > ALKALINE_PH:
        return "wash the lime or lye out first, to below pH 7"
    if not f.worked and f.start.ph <= SOUR_PH:
        return "ferment first, and add acid or sugar when it is over"
    if f.lowest_ph > SOUR_PH - 0.2:
        return "mix with a sweeter vegetable or add sugar, or acidify it directly"
    if f.stopped_by == "flora":
        return "ferment between 15 and 24 °C with 2 to 5 % salt"
    return "ferment longer or nearer to 20 °C"


def _hold(f: Fermented) -> list[Finding]:
    """Return whether the acid stands long enough to kill what grew before it; it watches only."""
    hours = f.hours_to[SOUR_PH]
    if hours.high == float("inf") or f.end.high > SOUR_PH:
        return []
    brine = brine_of(f.course.mixture[-1][0], f.end.high, f.plan.temperature, f.salt_percent)
    try:
        shown = hold(replace(brine, acid="lactic"), HOLD_ORGANISM)
    except InputError:
        return []
    stands = f.total_h - hours.high
    worst = max((r for r in f.runners if r.organism in INFECTS), key=lambda r: r.beside)
    grown = f"{worst.organism} may have grown {worst.beside:.0f} decades beside the flora"
    told = _finding(f, "acid hold", "pass", "")
    told = replace(
        told,
        value=stands,
        limit=shown.hours,
        margin=stands - shown.hours,
        unit="h",
        citation=shown.source,
        provenance=shown.provenance,
        decides=False,
    )
    kill = f"five decades of {shown.organism} die in {_hours(shown.hours)} ({shown.medium})"
    if stands >= shown.hours:
        return [replace(told, reason=f"{grown}; {kill}, the acid stands {_hours(stands)}")]
    return [
        replace(
            told,
            verdict="cannot tell",
            reason=f"{grown}; {kill}, the acid stands only {_hours(stands)} of the ferment",
            remedy=f"leave it {_hours(shown.hours - stands)} longer before it is eaten; cold slows "
            "the kill",
        )
    ]


def _preservative(f: Fermented) -> list[Finding]:
    at_ph = f.start.ph
    found = []
    for acid in PRESERVATIVES:
        dose = float(properties.undissociated_mmol_per_kg(f.before, acid, at_ph))
        if acid == "sulfurous":  # bound and dissociated sulfite hinders too
            dose = 1000 * float(f.before.mol(acid) / f.before.kg("water"))
        if dose > LITTLE_PRESERVATIVE:
            told = _finding(f, "preservative", "cannot tell", "")
            reason = (
                f"{acid} acid, {dose:.1f} mmol/kg undissociated, hinders the ferment: whether it "
                "starts is not computed"
            )
            remedy = "leave the preservative out until the ferment is over"
            found.append(replace(told, reason=reason, remedy=remedy, unit="mmol/kg", value=dose))
    return found


def _alcohol(f: Fermented) -> Finding:
    left = f.left
    made = f"{left.ethanol_percent_vol:.1f} % alcohol by volume, {left.sugar:.1f} % sugar left"
    told = replace(_finding(f, "alcohol", "pass", made), area="quality", decides=False)
    told = replace(told, value=left.ethanol_percent_vol, unit="% vol")
    if left.ethanol_percent_vol - f.start.ethanol_percent_vol < LITTLE_ALCOHOL:
        nothing = f"{made}: no alcohol was made"
        return replace(told, verdict="fail", reason=nothing, remedy="give it sugar, yeast or time")
    if f.stopped_by == "flora":
        no_growth = f"the yeast does not grow at {f.plan.temperature:g} °C in so much sugar or salt"
        return replace(told, verdict="fail", reason=no_growth)
    if left.sugar > REFERMENTS:
        why = {"time": "it is still going on", "alcohol": "the yeast stops at its alcohol"}
        return replace(
            told,
            verdict="cannot tell",
            reason=f"{made}: {why.get(f.stopped_by, 'it has stopped')}; in a closed pack the sugar "
            "may ferment on and burst it",
            remedy="wait until its gravity stands still, or heat the closed pack",
        )
    return told


def _vinegar(f: Fermented) -> Finding:
    left = f.left
    made = f"{left.acetic:.1f} % acetic acid, {left.ethanol:.1f} % alcohol left"
    told = replace(_finding(f, "strength", "pass", made), area="quality", decides=False)
    told = replace(told, value=left.acetic, unit="%")
    if f.start.ethanol < ALCOHOL_LEFT:
        why = f"{made}: there is no alcohol to turn into acid"
        return replace(told, verdict="fail", reason=why, remedy="let it ferment to alcohol first")
    if left.ethanol > ALCOHOL_LEFT:
        reasons = {"time": "not ripe yet", "acid": "the bacteria stop at their own acid"}
        return replace(
            told,
            verdict="cannot tell",
            reason=f"{made}: {reasons.get(f.stopped_by, 'it has stopped')}",
            remedy="give it more time, air and warmth, or dilute a strong must",
        )
    return told


def _hours(hours: float) -> str:
    return "not within the ferment" if hours == float("inf") else duration(hours)
