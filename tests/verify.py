"""Run check-case files through the adapters: `.venv/bin/python tests/verify.py FILE... [--json]`.

A file has the columns id, quantity, inputs (a JSON object), expected, unit, tolerance, source,
provenance. Prints predicted beside expected; exits 1 on any failure. A case whose quantity or
input no adapter names is "not covered", never skipped in silence.
"""

from __future__ import annotations

import csv
import json
import math
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from adapters import ByUnit, NotCovered, predict
from adapters import acidity as _acidity  # noqa: F401  (each import registers its adapters)
from adapters import decisions as _decisions  # noqa: F401
from adapters import drying as _drying  # noqa: F401
from adapters import growth as _growth  # noqa: F401
from adapters import heat as _heat  # noqa: F401
from adapters import microbes as _microbes  # noqa: F401
from adapters import packs as _packs  # noqa: F401
from adapters import rules as _rules  # noqa: F401
from adapters import water as _water  # noqa: F401

from stillroom.errors import StillroomError


@dataclass(frozen=True)
class Outcome:
    """What became of one case."""

    case: dict[str, str]
    predicted: Any
    verdict: str  # pass, fail, not covered
    remark: str = ""


def read_cases(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def expected_value(text: str) -> Any:
    """Return a case's expectation: a number, a JSON object or a word."""
    for read in (float, json.loads):
        try:
            return read(text)
        except ValueError:
            continue
    return text


def agrees(predicted: Any, expected: Any, tolerance: str) -> tuple[bool, str]:
    """Return whether a prediction meets the tolerance as the case states it, and a remark."""
    if isinstance(predicted, (set, frozenset, list, tuple)):
        return expected in predicted, "among them" if expected in predicted else ""
    if not isinstance(expected, float):
        if str(predicted) == str(expected) or predicted == expected:
            return True, ""
        allowed = tolerance.startswith("one-sided") and predicted == "growth"
        return allowed, "errs on the careful side" if allowed else ""
    gap = float(predicted) - expected
    number = re.search(r"([\d.]+)\s*(%?)", tolerance)
    allowance = 0.0 if number is None else float(number[1])
    if number is not None and number[2]:
        allowance *= abs(expected) / 100
    if tolerance.startswith("one-sided") and gap < 0:
        return True, "errs on the careful side"
    return math.isfinite(gap) and abs(gap) <= allowance * (1 + 1e-9) + 1e-12, ""


def run(case: dict[str, str]) -> Outcome:
    try:
        predicted = predict(case["quantity"], json.loads(case["inputs"]))
    except NotCovered as gap:
        return Outcome(case, None, "not covered", str(gap))
    except StillroomError as problem:
        return Outcome(case, None, "fail", str(problem))
    if isinstance(predicted, ByUnit):
        if case["unit"] not in predicted:
            return Outcome(case, None, "not covered", f"no answer in {case['unit']}")
        predicted = predicted[case["unit"]]
    passed, remark = agrees(predicted, expected_value(case["expected"]), case["tolerance"])
    return Outcome(case, predicted, "pass" if passed else "fail", remark)


def run_files(paths: list[Path]) -> Iterator[Outcome]:
    for path in paths:
        yield from map(run, read_cases(path))


def plain(value: Any) -> Any:
    """Return a value that JSON and a table can hold."""
    if isinstance(value, (set, frozenset)):
        return sorted(value)
    return value.item() if hasattr(value, "item") else value


def main(arguments: list[str]) -> int:
    paths = [Path(a) for a in arguments if not a.startswith("--")]
    if not paths or [a for a in arguments if a.startswith("--") and a != "--json"]:
        print(__doc__)
        return 2
    missing = [p for p in paths if not p.is_file()]
    if missing:
        print(f"{missing[0]} is not a file.", file=sys.stderr)
        return 2
    outcomes = list(run_files(paths))
    by = {v: [o for o in outcomes if o.verdict == v] for v in ("pass", "fail", "not covered")}
    if "--json" in arguments:
        print(
            json.dumps(
                {
                    "covered": len(by["pass"]) + len(by["fail"]),
                    "passed": len(by["pass"]),
                    "failed": [
                        {
                            "id": o.case["id"],
                            "predicted": plain(o.predicted),
                            "expected": expected_value(o.case["expected"]),
                        }
                        for o in by["fail"]
                    ],
                    "not_covered": [o.case["id"] for o in by["not covered"]],
                }
            )
        )
    else:
        for o in outcomes:
            shown = plain(o.predicted)
            shown = f"{shown:.5g}" if isinstance(shown, float) else str(shown)
            print(
                f"{o.verdict:12}{o.case['id']:10} {o.case['quantity']}: predicted {shown}, "
                f"expected {o.case['expected']} {o.case['unit']} ({o.case['tolerance']}) {o.remark}"
            )
            if o.verdict == "fail":
                print(f"{'':12}source: {o.case['source']}")
        print(
            f"{len(outcomes)} cases: {len(by['pass'])} pass, {len(by['fail'])} fail, "
            f"{len(by['not covered'])} not covered"
        )
    return 1 if by["fail"] else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
