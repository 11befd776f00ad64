"""Whole products measured by others, run end to end."""

from __future__ import annotations

import re

import make_verification
import pytest
from products import ferments, hard_rows, kitchen, runner

import stillroom as sr
from stillroom.assess.result import Estimate

ROWS = runner.rows()


@pytest.mark.parametrize("row", sorted(runner.predictions()))
def test_row_agrees_with_what_was_measured_or_misses_as_explained(row):
    for r in runner.results_of(row):
        said = f"{r.quantity}: predicted {r.value}, expected {r.expected} ({r.tolerance})"
        if r.known:
            assert r.verdict == "misses", f"{said} agrees now: take the mark off in checks.csv"
        else:
            assert r.verdict != "misses", f"{said}; source: {ROWS[row]['source']}"


def test_every_row_is_run_or_says_what_it_waits_for():
    run, waiting = set(runner.predictions()), {r["row"] for r in kitchen.read("not_run.csv")}
    assert run | waiting == set(ROWS)
    assert not run & waiting
    assert {c["row"] for c in kitchen.read("checks.csv")} == run


def test_every_known_miss_is_explained():
    for check in kitchen.read("checks.csv"):
        assert check["known"] in ("", "miss")
        assert check["known"] == "" or check["remark"].startswith(
            ("row:", "table:", "model:", "data:")
        )


def test_every_expected_number_stands_in_its_row():
    for check in kitchen.read("checks.csv"):
        if check["basis"] in ("", "trap") or not check["expected"][0].isdigit():
            continue
        row = ROWS[check["row"]]
        text = " ".join((row["product"], row["composition"], row["measured"], row["note"]))
        found = {float(n) for n in re.findall(r"\d+(?:\.\d+)?", text)}
        for number in check["expected"].split(".."):
            assert float(number) in found, f"{check['row']}: {number} is not in the row"


def test_every_tolerance_of_a_note_stands_in_it():
    for check in kitchen.read("checks.csv"):
        if check["basis"] == "note" and check["tolerance"]:
            assert check["tolerance"] in ROWS[check["row"]]["note"], check["row"]


def test_every_row_and_weight_has_its_source():
    for line in [*ROWS.values(), *kitchen.weights().values()]:
        assert line["source"]
        assert line["provenance"].startswith(("seen", "memory", "computed", "common practice"))


def test_a_wrong_prediction_misses_on_the_side_it_errs():
    assert runner.judge(0.90, "0.95", "0.02", "water_activity") == ("misses", "unsafe")
    assert runner.judge(4.9, "4.5", "0.2", "ph") == ("misses", "careful")
    assert runner.judge(60.0, "64", "3", "brix") == ("misses", "")
    assert runner.judge(5.0, "2..4", "factor 2", "hours") == ("agrees", "")
    assert runner.judge(9.0, "2..4", "factor 2", "hours") == ("misses", "careful")
    assert runner.judge(float("nan"), "3.5", "0.2", "ph")[0] == "misses"


def test_a_tested_process_agrees_where_the_upper_end_reaches_what_is_asked():
    heat = "heat, tested 5 min in boiling water: min at 85 °C, z 8.3 °C"
    assert runner.judge(Estimate(3.0, 1.0, 6.0), "> 5", "", heat) == ("agrees", "")
    assert runner.judge(Estimate(3.0, 1.0, 4.0), "> 5", "", heat) == ("misses", "careful")


def test_a_word_agrees_is_open_or_misses():
    assert runner.judge("US_114", "US_114", "", "class")[0] == "agrees"
    assert runner.judge("measure: US_114 | US_113", "US_114", "", "class")[0] == "open"
    assert runner.judge("measure: US_113", "US_114", "", "class")[0] == "misses"
    assert runner.judge("acid", "not acid", "", "class")[0] == "misses"


def test_an_outcome_that_is_too_hopeful_is_on_the_unsafe_side():
    keeps, cold = (str(o) for o in (sr.Outcome.SEALED, sr.Outcome.COLD))
    assert runner.judge(keeps, f"not {keeps}", "", "outcome") == ("misses", "unsafe")
    assert runner.judge(cold, keeps, "", "outcome") == ("misses", "careful")


def test_a_heaped_cup_weighs_more_and_a_pound_does_not():
    text = kitchen.text_of("corn-relish")
    heaped = kitchen.text_of("corn-relish", heaped=1.0)
    assert '"sweet corn, yellow, raw" = "1540 g"' in text
    assert '"sweet corn, yellow, raw" = "1663.2 g"' in heaped
    assert '"cabbage, white, raw" = "25 lb"' in kitchen.text_of("sauerkraut", heaped=1.0)


@pytest.mark.parametrize("sweet", [True, False])
def test_what_a_ferment_does_with_its_sugar_lifts_its_end_step_by_step(sweet):
    for tank in (ferments.salt_tank(sweet), ferments.calcium_tank(sweet)):
        ph = list(ferments.what_lifts_the_end(tank).values())
        assert ph[0] == pytest.approx(tank.lowest_ph, abs=1e-3)
        assert ph[:3] == sorted(ph[:3])
        assert ph[2] - 0.02 < ph[3] == pytest.approx(float(tank.course.ph[-1, 0]))


def test_ends_of_a_ferment_are_in_order_and_hold_the_estimate():
    found = ferments.ends([3.4, 3.6, 3.5])
    assert (found.low, found.value, found.high) == (3.4, 3.4, 3.6)


def test_an_acidity_that_is_not_reached_is_never():
    f = ferments.dry_salted("spinach, raw", 2.25, 20, 28)
    assert ferments.days_to_acidity(f, 3.0).value == float("inf")
    assert ferments.days_to_acidity(f, 0.35).value < 28


def test_every_hard_row_of_growth_passes_and_says_how():
    for case, what, *_, words in hard_rows.rows():  # a row that fails stops it
        assert what
        assert words, case


def test_the_brine_of_the_hard_row_can_grow_by_both_readings_of_twelve_per_cent():
    words, a_w, said = zip(*hard_rows.brines(), strict=True)
    assert "100 g" in words[0]
    assert "100 ml" in words[1]
    assert a_w[0] < 0.92 < a_w[1]
    assert set(said) == {"can grow"}


def test_the_committed_report_is_up_to_date():
    committed = make_verification.TARGET.read_text("utf-8")
    found = make_verification.differences(committed, make_verification.report())
    assert not found, "run python tests/make_verification.py:\n" + "\n".join(found)


def test_a_number_that_moved_is_seen_in_the_report():
    same, moved, text = "| 3.52 |", "| 3.54 |", "| 3.52, open |"
    assert not make_verification.differences(same, "| 3.53 |")
    assert make_verification.differences(same, moved)
    assert make_verification.differences(same, text)
    assert make_verification.differences("12 of 14", "13 of 14")
