"""Every check case: one row, one outside check."""

from __future__ import annotations

from pathlib import Path

import pytest
import verify

# what a later capability will cover
LATER = {"us_nutrition_round", "eu_nutrition_round"}
CASES = [
    c for p in sorted((Path(__file__).parent / "cases").glob("*.csv")) for c in verify.read_cases(p)
]


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_case(case):
    outcome = verify.run(case)
    if case["quantity"] in LATER:
        assert outcome.verdict == "not covered", "covered now: take it off the list"
        return
    assert outcome.verdict == "pass", (
        f"predicted {outcome.predicted}, expected {case['expected']} ({case['tolerance']}); "
        f"{outcome.remark}; source: {case['source']}"
    )


def test_an_unknown_quantity_or_input_is_never_skipped_in_silence():
    base = CASES[0]
    for change in ({"quantity": "charm"}, {"inputs": '{"charm": 1}'}):
        assert verify.run(base | change).verdict == "not covered"


def test_a_wrong_prediction_fails():
    assert verify.run(CASES[0] | {"expected": "0.5"}).verdict == "fail"
    assert verify.run(CASES[0] | {"expected": "growth"}).verdict == "fail"


def test_one_sided_growth_errs_on_the_careful_side_only():
    assert verify.agrees("growth", "no growth", "one-sided: x")[0]
    assert not verify.agrees("no growth", "growth", "exact (must not predict no growth)")[0]
    assert not verify.agrees("growth", "no growth", "exact")[0]
