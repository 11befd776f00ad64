"""Run every row of products.csv and ferments.csv that can be run: predicted beside measured, with a verdict."""

from __future__ import annotations

import inspect
import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

import stillroom as sr
from products import compositions, ferments, recipes
from products.kitchen import made, read, recipe
from stillroom.assess.result import Estimate

Predict = Callable[[], dict[str, object]]
ALSO = {  # one prediction held against two statements
    "ph against the specification": "ph",
    "ph below the limit of the note": "ph",
    "ph against the usual": "ph",
}
CAREFUL_HIGH = ("water_activity", "ph", "hours")  # an error upwards is on the careful side


@cache
def predictions() -> dict[str, Predict]:
    """Return row -> the function that enters it."""
    found = {}
    for module in (recipes, ferments, compositions):
        for name, function in inspect.getmembers(module, inspect.isfunction):
            if name.startswith(("SP_", "FER_")):
                found[name.replace("_", "-")] = function
    return found


@cache
def predicted(row: str) -> dict[str, object]:
    return predictions()[row]()


def entered(row: str) -> str:
    """Return how a row is entered, in words."""
    return " ".join((predictions()[row].__doc__ or "").split())


@dataclass(frozen=True)
class Result:
    """One number or word of a row beside what Stillroom says."""

    row: str
    strength: str  # exact, plausible, class, trap
    kind: str
    quantity: str
    predicted: object
    expected: str
    tolerance: str
    basis: str
    verdict: str  # agrees, open, misses, shown
    side: str  # of a miss: careful, unsafe or ""
    known: bool  # the miss is explained
    remark: str

    @property
    def value(self) -> object:
        return self.predicted.value if isinstance(self.predicted, Estimate) else self.predicted


def rows() -> dict[str, dict[str, str]]:
    return {r["id"]: r for name in ("products.csv", "ferments.csv") for r in read(name)}


def strength(row: dict[str, str]) -> str:
    return re.match(r"\[(\w+)", row["note"])[1]  # type: ignore[index]


def results() -> Iterator[Result]:
    """Yield every check, in the order of the file."""
    for row in dict.fromkeys(check["row"] for check in read("checks.csv")):
        yield from results_of(row)


def results_of(name: str) -> Iterator[Result]:
    """Yield the checks of a row."""
    row, said = rows()[name], predicted(name)
    for check in (c for c in read("checks.csv") if c["row"] == name):
        value = said[ALSO.get(check["quantity"], check["quantity"])]
        verdict, side = judge(value, check["expected"], check["tolerance"], check["quantity"])
        yield Result(
            name, strength(row), row["kind"], check["quantity"], value, check["expected"],
            check["tolerance"], check["basis"], verdict, side, check["known"] == "miss",
            check["remark"],
        )  # fmt: skip


def judge(value: object, expected: str, tolerance: str, quantity: str) -> tuple[str, str]:
    """Return the verdict, and of a miss the side on which it errs."""
    if expected == "shown":
        return "shown", ""
    if isinstance(value, str):
        verdict = _judge_word(value, expected)
        about_keeping = verdict == "misses" and quantity.startswith("outcome")
        side = "unsafe" if expected.startswith("not ") else "careful"
        return verdict, side if about_keeping else ""
    number = value.value if isinstance(value, Estimate) else float(value)  # type: ignore[arg-type]
    low, high = _allowed(expected, tolerance)
    if isinstance(value, Estimate) and quantity.startswith("heat"):
        # a tested process reaches what is asked: a miss is one that we call a failure
        return ("agrees", "") if value.high >= low else ("misses", "careful")
    if low <= number <= high:
        return "agrees", ""
    if not quantity.startswith(CAREFUL_HIGH) or "above" in quantity or "below SP" in quantity:
        return "misses", ""
    return "misses", "careful" if number > high else "unsafe"


def _judge_word(value: str, expected: str) -> str:
    if expected.startswith("not "):
        return "misses" if value == expected.removeprefix("not ") else "agrees"
    wanted = expected.split(" or ")
    if value in wanted:
        return "agrees"
    among = value.startswith("measure: ") and any(
        w in value.removeprefix("measure: ").split(" | ") for w in wanted
    )
    undecided = value == str(sr.Outcome.UNKNOWN)
    return "open" if among or undecided else "misses"


def _allowed(expected: str, tolerance: str) -> tuple[float, float]:
    if expected[0] in "<>":
        limit = float(expected[1:])
        return (-math.inf, limit) if expected[0] == "<" else (limit, math.inf)
    low, _, high = expected.partition("..")
    ends = float(low), float(high or low)
    if tolerance.startswith("factor"):
        factor = float(tolerance.split()[1])
        return ends[0] / factor, ends[1] * factor
    if tolerance.endswith("%"):
        share = float(tolerance.rstrip(" %")) / 100
        return ends[0] * (1 - share), ends[1] * (1 + share)
    by = float(tolerance) + 1e-9
    return ends[0] - by, ends[1] + by


def loose() -> Iterator[tuple[str, float, float, float]]:
    """Yield (row, pH with every loose measure scant, as weighed, heaped)."""
    for row, (name, words) in recipes.LOOSE.items():
        scant, heaped = (
            float(sr.ph(sr.run(recipe(name, heaped=by, **words)).made.mixture)) for by in (-1, 1)
        )
        yield row, scant, float(sr.ph(made(name, **words))), heaped


def trade_statements() -> Iterator[tuple[str, sr.Mixture]]:
    """Yield what the trade says of the mole fraction of water, as mixtures."""
    yield "fresh berry, solids as sucrose", sr.Mixture.of({"water": 138, "sucrose": 20})
    yield "fresh berry, solids as invert sugar", sr.Mixture.of({"water": 138, "invert_sugar": 20})
    solids = 2224 - 516.8
    yield "preserve, solids as sucrose", sr.Mixture.of({"water": 516.8, "sucrose": solids})
    yield (
        "preserve, a third of the sucrose inverted",
        sr.Mixture.of({"water": 516.8, "sucrose": solids * 2 / 3, "invert_sugar": solids / 3}),
    )
