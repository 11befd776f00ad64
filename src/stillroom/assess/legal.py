"""What the law of each market says of a product: its class, duties, limits, names and labels.

Legal and biological answers are never mixed: nothing here reads a hazard, and no hazard reads
this. Where the ends of an estimate fall under different rules, the answer is to measure it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from stillroom.assess.facts import ENDS, Product, known_to_additives, product_of
from stillroom.assess.keeping import Treatment
from stillroom.assess.law import additives, jam, standards
from stillroom.assess.law.chilled import vacuum_pack_over_10_days
from stillroom.assess.law.pathway import duties, first_match, group_for, listeria
from stillroom.assess.law.verdicts import CANNOT_DECIDE, FAIL, PASS, Check, Ruling
from stillroom.assess.result import Estimate, Finding, Verdict
from stillroom.assess.spread import Spread
from stillroom.physics import salting
from stillroom.product.process import Batch
from stillroom.product.recipe import Recipe

VERDICTS: Mapping[str, Verdict] = {PASS: "pass", FAIL: "fail", CANNOT_DECIDE: "cannot tell"}
BREACHES = (
    "US_NOT_PERMITTED_AMBIENT",
    "NOT_COMPLIANT_VEGETATIVE_CELLS",
    "DEVIATION_REPROCESS_OR_SET_ASIDE",
    "CA_COMMERCIAL_STERILITY_REQUIRED",
)
UNDER = "falls under"
CURED_MEAT = "cured meat"  # in the words of the US list, which then asks how it is cured
LEAST_PROTEIN = 0.05  # of the product, below which its ratio to water names nothing
METHOD_WORDS = {
    "dry rubbed": "meat dry cured",
    "comminuted": "meat comminuted",
    "pumped": "meat pumped",
    "immersed": "meat pumped",
}
DILUTED = ("EU", "UK-GB", "Codex")
TO_BE_SHOWN = ("PRODUCT_ASSESSMENT_REQUIRED", "US_TCS", "NOT_COTTAGE_UNTIL_PH_SHOWN")
Facts = Mapping[str, object]


def findings(
    recipe: Recipe,
    batch: Batch,
    estimates: Mapping[str, Estimate],
    how: Treatment,
    spread: Spread,
    markets: Sequence[str],
    on: date | None,
) -> list[Finding]:
    """Return what the law of each market says.

    Args:
        recipe: of the product.
        batch: the recipe carried out, without samples.
        estimates: properties with their intervals.
        how: what the steps do.
        spread: the foods, with samples.
        markets: whose law.
        on: day of placing on the market; the recipe's, or today.

    Raises:
        InputError: a fact under [law] that no rule asks for, or of a wrong type.
    """
    if not markets:
        return []
    product = product_of(recipe, batch, estimates, how, spread, on)
    return [finding for market in markets for finding in _of_market(product, market)]


def _of_market(p: Product, market: str) -> Iterable[Finding]:
    named = _standard(p, market)
    if market == "US":
        p = _without_the_jam_exclusion(p, named)
    yield from _class_and_duties(p, market)
    yield from _tables(p, market)
    yield from named
    yield from _additives(p, market)
    yield from _labels(p, market)


# --- rules ------------------------------------------------------------------------------------


def _ruled(p: Product, market: str, subject: str, rule: Callable[[Facts], Ruling]) -> Finding:
    """Return what a rule says in every world; where worlds differ, that it must be measured."""
    rulings = {r.outcome: r for r in map(rule, p.worlds)}
    first, *others = rulings.values()
    if others:
        decided = [r for r in rulings.values() if r.outcome != CANNOT_DECIDE]
        words = " Or: ".join(r.words for r in decided)
        needs = dict.fromkeys(n for r in rulings.values() for n in r.needs)
        asked = f" It also asks for {', '.join(needs)}." if needs else ""
        first = replace(
            decided[0],
            outcome=CANNOT_DECIDE,
            words=f"The estimate straddles a limit, so it must be measured. {words}{asked}",
        )
    return _from_ruling(first, market, subject)


def _from_ruling(ruling: Ruling, market: str, subject: str) -> Finding:
    verdict: Verdict = "fail" if ruling.outcome in BREACHES else "pass"
    return Finding(
        subject=subject,
        area="law",
        verdict="cannot tell" if ruling.outcome in (CANNOT_DECIDE, *TO_BE_SHOWN) else verdict,
        reason=ruling.words.rstrip("."),
        citation=ruling.citation,
        provenance=ruling.provenance,
        market=market,
    )


def _class_and_duties(p: Product, market: str) -> Iterable[Finding]:
    pathway = group_for("pathway", market)
    if pathway:
        yield _ruled(p, market, UNDER, lambda facts: first_match(pathway, facts))
    group = group_for("duties", market)
    if group is None:
        return
    worlds = [
        {**w, "pathway": first_match(pathway, w).outcome if pathway else None} for w in p.worlds
    ]
    if any(w["pathway"] == CANNOT_DECIDE for w in worlds):
        return  # the class itself says what it needs
    found = [duties(group, w) for w in worlds]
    applying = {r.rule_id: r for d in found for r in d.apply}
    for rule_id, ruling in applying.items():
        if all(rule_id in {r.rule_id for r in d.apply} for d in found):
            yield _from_ruling(ruling, market, "duty")
        else:
            yield replace(
                _from_ruling(ruling, market, "duty"),
                verdict="cannot tell",
                reason=f"Depends on the measured value: {ruling.words.rstrip('.')}",
            )
    for ruling in {r.rule_id: r for d in found for r in d.undecided}.values():
        yield _from_ruling(ruling, market, "duty")


def _tables(p: Product, market: str) -> Iterable[Finding]:
    """Yield the retail table of temperature control, Listeria, and the chilled vacuum pack."""
    first = p.worlds[0]
    warm = first["refrigerated"] is False and first["frozen"] is False
    group = group_for("time and temperature control", market)
    if group and warm:
        table = "A" if first["hermetic"] and first["thermal"] else "B"
        subject = f"Food Code table {table}"
        yield _ruled(p, market, subject, lambda w: first_match(group, {**w, "table": table}))
    if group_for("listeria", market):
        yield _ruled(p, market, "Listeria", lambda w: listeria(market, w))
    days = first["shelf_life_days"]
    if market == "UK-GB" and first["refrigerated"] and first["hermetic"] and days and days > 10:  # type: ignore[operator]
        yield _ruled(p, market, "chilled pack over 10 days", vacuum_pack_over_10_days)


def _labels(p: Product, market: str) -> Iterable[Finding]:
    group = group_for("sulphite label", market)
    if group and (p.so2_unknown or p.worlds[0]["SO2_mg_kg"]):
        yield _ruled(p, market, "sulphite label", lambda facts: first_match(group, facts))
    dates = group_for("date mark", market)
    if dates:
        yield _ruled(p, market, "date mark", lambda facts: first_match(dates, facts))


# --- additives --------------------------------------------------------------------------------


def _additives(p: Product, market: str) -> Iterable[Finding]:
    if not p.amounts:
        return
    food = p.kind.category(market, p.fruits_kg) if p.kind else None
    if food == CURED_MEAT and len(p.cured) == 1:
        food = METHOD_WORDS[p.cured[0]]
    if food is None:
        what = f"the kind {p.kind.name!r} has no category in" if p.kind else "no kind is given for"
        yield Finding(
            "additives",
            "law",
            "cannot tell",
            f"{what} the list of {market}; look it up with `stillroom limits`",
            market=market,
        )
        return
    amounts, diluted = _as_drunk(p, market)
    judged = additives.judge(market, food, amounts, p.day, known_to_additives(p.declared, p.kind))
    if judged.verdict == CANNOT_DECIDE:
        cited = next((c for c in judged.checks if c.verdict == CANNOT_DECIDE), None)
        yield Finding(
            "additives",
            "law",
            "cannot tell",
            judged.reason.rstrip("."),
            citation=cited.citation if cited else "",
            provenance=cited.provenance if cited else "",
            market=market,
        )
    for check in judged.checks:
        if check.verdict != CANNOT_DECIDE:
            yield _over(_from_check(check, market), diluted)


def _as_drunk(p: Product, market: str) -> tuple[Sequence[additives.Amount], str]:
    """Return the amounts the limits count: those of a concentrate after its dilution.

    Regulation (EC) 1333/2008 Art. 11(4), memory; the Codex standard counts the same way.
    """
    if not (p.kind and p.kind.concentrate and market in DILUTED):
        return p.amounts, ""
    times = p.declared.get("dilution")
    if times is None:
        return p.amounts, "it counts in the drink as diluted: give law.dilution"
    thinner = (a.value and a.value / float(str(times)) for a in p.amounts)
    diluted = [replace(a, value=v) for a, v in zip(p.amounts, thinner, strict=True)]
    return diluted, f"in the drink, diluted 1 to {times:g}"


def _over(f: Finding, diluted: str) -> Finding:
    """Return a finding above a limit as open where a loss or a dilution is not known."""
    if f.verdict == "fail" and f.limit and "sulph" in f.subject:
        lost = "; some is lost in the kettle and in the pack: measure what is left"
        return replace(f, verdict="cannot tell", reason=f.reason + lost)
    if f.limit and diluted:
        verdict: Verdict = "cannot tell" if f.verdict == "fail" and "give" in diluted else f.verdict
        return replace(f, verdict=verdict, reason=f"{f.reason}; {diluted}")
    return f


def _from_check(check: Check, market: str) -> Finding:
    return Finding(
        subject=check.subject,
        area="law",
        verdict=VERDICTS[check.verdict],
        reason=check.reason.rstrip("."),
        value=check.value,
        limit=check.limit,
        margin=check.margin,
        unit=check.unit,
        citation=check.citation,
        provenance=check.provenance,
        market=market,
    )


# --- names and standards ----------------------------------------------------------------------


def _standard(p: Product, market: str) -> list[Finding]:
    """Return what the standard of the declared kind asks, in this market."""
    if p.kind is None or not p.kind.standard:
        return []
    plain = p.kind.standard.removeprefix("extra ")
    if market == "US" and plain in jam.US_KINDS and p.fruits_kg:
        ends = [
            jam.us_standard(p.fruits_kg, p.sweetener_solids_kg, _brix(p, end), plain)
            for end in ENDS
        ]
        return [_agreed(three, market) for three in zip(*ends, strict=True)]
    if market in jam.BY_WHAT and plain in ("jam", "jelly"):
        return [_name(p, market, plain, lambda end: _eu_name(p, market, plain, end))]
    if market == "Canada" and plain == "jam":
        return [_name(p, market, plain, lambda end: _canada_name(p, end))]
    ends = [
        standards.check_standard(
            market, p.kind.standard, _measures(p, end), p.day, p.fruits_kg, _acid(p)
        )
        for end in ENDS
    ]
    return [_agreed(three, market) for three in zip(*ends, strict=True)]


def _agreed(three: Sequence[Check], market: str) -> Finding:
    """Return a check on which both ends of the estimate agree, or that it must be measured."""
    low, central, high = three
    found = _from_check(central, market)
    if low.verdict == high.verdict == central.verdict:
        return found
    straddles = f"{central.reason.rstrip('.')}; the estimate runs from {low.value:.4g} to "
    return replace(found, verdict="cannot tell", reason=f"{straddles}{high.value:.4g}: measure it")


def _name(p: Product, market: str, plain: str, ruled: Callable[[str], Ruling]) -> Finding:
    """Return whether the product may carry the name of its kind."""
    assert p.kind
    rulings = [ruled(end) for end in ENDS]
    central = rulings[1]
    finding = _from_ruling(central, market, f"the name {p.kind.name}")
    if len({r.outcome for r in rulings}) > 1:
        return replace(finding, verdict="cannot tell", reason=f"{finding.reason}; measure it")
    allowed = {f"extra {plain}", plain} if p.kind.name == plain else {p.kind.name}
    if plain == "jam":
        allowed |= {"jam with pectin"} if p.kind.name == "jam" else set()
    if central.outcome == CANNOT_DECIDE or (central.needs and central.outcome not in allowed):
        return replace(finding, verdict="cannot tell")
    return replace(finding, verdict="pass" if central.outcome in allowed else "fail")


def _eu_name(p: Product, market: str, plain: str, end: str) -> Ruling:
    return jam.jam_name(
        market,
        _fruit_g_per_kg(p),
        _brix(p, end),
        p.day,
        p.fruits_kg,
        p.declared.get("pulp_unconcentrated"),  # type: ignore[arg-type]
        plain,
    )


def _canada_name(p: Product, end: str) -> Ruling:
    pectin = any(a.substance.family == "pectins" for a in p.amounts)
    return jam.canada_jam_name(_fruit_g_per_kg(p) / 10, _brix(p, end), pectin, p.fruits_kg, p.day)


def _without_the_jam_exclusion(p: Product, named: Iterable[Finding]) -> Product:
    """Return the product without the category of a standardised jam, unless it meets the standard.

    The exclusion of 21 CFR 114.3(b) is for jams of part 150 only.
    """
    if p.worlds[0]["category"] != "standard_jam_jelly":
        return p
    verdicts = {f.verdict for f in named} or {"cannot tell"}
    if verdicts == {"pass"}:
        return p
    category = "fruit_spread" if "fail" in verdicts else None
    return replace(p, worlds=tuple({**w, "category": category} for w in p.worlds))


def _brix(p: Product, end: str) -> float:
    return float(getattr(p.estimates["brix"], end))


def _fruit_g_per_kg(p: Product) -> float:
    return 1000 * sum(p.fruits_kg.values()) / p.kilograms


def _acid(p: Product) -> str:
    return p.estimates["titratable_acidity"].note.split()[1]


def _measures(p: Product, end: str) -> dict[str, float | None]:
    """Return what standards measure, at one end of the estimates; the rest is unknown."""
    e = {name: float(getattr(estimate, end)) for name, estimate in p.estimates.items()}
    density = e["density"]
    return {
        "soluble_solids_percent": e["brix"],
        "fruit_g_per_kg": _fruit_g_per_kg(p),
        "pH": e["ph"],
        "water_activity": min(e["water_activity"], 1.0),
        "salt_percent": e["salt"],
        "brine_salt_percent": e["water_phase_salt"],
        "salt_g_per_L": 10 * e["salt"] * density,
        "total_acidity_percent": e["titratable_acidity"],
        "total_acidity_g_per_100ml": e["titratable_acidity"] * density,
        "total_acidity_g_per_L": 10 * e["titratable_acidity"] * density,
        "moisture_percent": 100 - e["dry_matter"],
        "moisture_protein_ratio": _moisture_protein(p),
        "fructose_and_glucose_percent": _percent(p, "fructose", "glucose"),
        "sucrose_percent": _percent(p, "sucrose"),
    }


def _moisture_protein(p: Product) -> float | None:
    protein = float(p.made.kg("protein"))
    if protein < LEAST_PROTEIN * p.kilograms:
        return None
    return float(salting.moisture_protein_ratio(p.made.kg("water"), protein))


def _percent(p: Product, *components: str) -> float:
    return 100 * float(p.made.kg(*components)) / p.kilograms
