"""From a published recipe in cups to the public functions: weights, recipe texts, results."""

from __future__ import annotations

import csv
import re
from functools import cache
from pathlib import Path

import stillroom as sr
from stillroom import tables
from stillroom.assess.law import pathway
from stillroom.assess.result import Estimate
from stillroom.product import properties

HERE = Path(__file__).parent
MEASURE = re.compile(r'"([\d.]+) ([a-z][a-z ]+)"')


def read(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as handle:
        lines = list(csv.DictReader(handle))
    for number, line in enumerate(lines, start=2):
        assert None not in [*line, *line.values()], f"{name} row {number}: wrong number of cells"
    return lines


@cache
def weights() -> dict[str, dict[str, str]]:
    return {r["measure"]: r for r in read("weights.csv")}


# --- rows that are a recipe -------------------------------------------------------------------


def text_of(name: str, heaped: float = 0.0, **words: object) -> str:
    """Return a recipe file with its WORDS filled in and its cups and pieces weighed.

    *heaped* moves everything measured loosely (a spread of 5 % or more) by that much of its spread.
    """
    text = (HERE / f"{name}.toml").read_text("utf-8")
    for word, value in words.items():
        assert word in text, f"{name}.toml has no {word}"
        text = text.replace(word, f"{value}")

    def weighed(found: re.Match[str]) -> str:
        row = weights().get(found[2])
        if row is None:
            return found[0]
        spread = float(row["spread_percent"]) / 100
        grams = float(found[1]) * float(row["grams"])
        return f'"{grams * (1 + (heaped * spread if spread >= 0.05 else 0)):.6g} g"'

    return MEASURE.sub(weighed, text)


def recipe(name: str, heaped: float = 0.0, **words: object) -> sr.Recipe:
    return sr.parse_recipe(text_of(name, heaped, **words), name)


@cache
def judged(name: str, **words: object) -> sr.Assessment:
    return sr.assess(recipe(name, **words))


@cache
def batch(name: str, **words: object) -> sr.Batch:
    return sr.run(recipe(name, **words))


def made(name: str, **words: object) -> sr.Mixture:
    return batch(name, **words).made.mixture


def of_recipe(name: str, **words: object) -> dict[str, object]:
    """Return what an assessment says of a recipe: its estimates, its outcome, its US class."""
    a = judged(name, **words)
    volume = a.batch.made.mixture.total_kg / a.properties["density"].value
    said = {"outcome": str(a.outcome), "kg": a.batch.made.mixture.total_kg, "litres": volume}
    return {**a.properties, **said, "class": legal_class(a), **of_heat(a)}


def of_heat(assessment: sr.Assessment) -> dict[str, object]:
    """Return the lethality of the heated pack where it is least, by the scale of what is asked.

    The targets that only the upper end of the pH asks for are left out.
    """
    heating = assessment.heating
    if heating is None or not heating.plan.heated:
        return {}
    leg = next(leg for leg in heating.plan.legs if leg.heating)
    tested = f"heat, tested {leg.seconds / 60:g} min {leg.words}: min at"
    asked = [r for r in heating.reached if r.target.use in ("hazard", "spoilage")]
    return {f"{tested} {r.target.scale}": r.lethality for r in asked if not r.target.careful_only}


def legal_class(assessment: sr.Assessment) -> str:
    """Return the outcome code of the US pathway; "measure: A | B" where the estimate straddles.

    The one place where the checks ask for a class.
    """
    law = [f for f in assessment.findings if f.subject == "falls under" and f.market == "US"]
    if not law:
        return ""
    codes = [
        str(r["outcome"])
        for r in tables.rows("pathway_rules")
        if r["rule_group"] == "US-P" and str(r["words"]).rstrip(".") in law[0].reason
    ]
    names = " | ".join(dict.fromkeys(codes)) or law[0].reason
    return names if law[0].verdict == "pass" else f"measure: {names}"


def canned_class(**facts: object) -> str:
    """Return the class of a canned food from facts alone, by the short list of the law."""
    return pathway.first_match("US-C", facts).outcome


# --- rows that are a composition --------------------------------------------------------------


def one(food: str, **own: object) -> sr.Mixture:
    """Return a kilogram of a food of the table, through a recipe of one line."""
    lines = ['name = "one food"', f'[foods."it"]\nlike = "{food}"']
    lines += [f"{key} = {value}" for key, value in own.items()]
    lines += ['[[steps]]\nadd = { "it" = "1 kg" }']
    return sr.run(sr.parse_recipe("\n".join(lines), food)).made.mixture


def dried_to(mixture: sr.Mixture, water_percent: float) -> sr.Mixture:
    """Return a mixture with so much water taken off (or added) that it has this share."""
    dry = mixture.total_kg - mixture.kg("water")
    return mixture.with_amounts(water=dry * water_percent / (100 - water_percent))


def of_mixture(mixture: sr.Mixture) -> dict[str, object]:
    """Return what the properties say of a composition, with the model's own bands."""
    a_w, at_ph = sr.water_activity(mixture), sr.ph(mixture)
    return {
        "water_activity": _estimate(a_w, properties.water_activity_band(mixture, a_w)),
        "ph": _estimate(at_ph, properties.ph_band(mixture, at_ph)),
        "brix": float(sr.brix(mixture)),
        "kg": float(mixture.total_kg),
    }


def _estimate(value: object, band: object) -> Estimate:
    v, b = float(value), float(band)  # type: ignore[arg-type]
    return Estimate(v, v - b, v + b)
