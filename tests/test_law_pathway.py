"""Which part of the law applies: orders, boundaries, and two transcriptions of one table."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import adapters.decisions
import adapters.rules  # noqa: F401
import numpy as np
import pytest
import verify
from adapters import ADAPTERS

from stillroom import tables
from stillroom.assess.law import chilled, labelling, pathway
from stillroom.assess.law.verdicts import CANNOT_DECIDE, NO_RULE
from stillroom.errors import InputError
from stillroom.physics.death import equivalent_hold_min

CASES = Path(__file__).parent / "cases"
MINE = {q for q, f in ADAPTERS.items() if f.__module__ in ("adapters.rules", "adapters.decisions")}
LAW_CASES = [
    c
    for name in ("cases_rules", "cases_microbes")
    for c in verify.read_cases(CASES / f"{name}.csv")
    if c["quantity"] in MINE
]

PLAIN = {
    "pH": 4.0, "max_component_pH": 4.0, "pH_before_acid": 5.8, "water_activity": 0.97,
    "low_acid_fraction": 0.8, "pH_shift_significant": True, "hermetic": True, "thermal": True,
    "refrigerated": False, "frozen": False, "acid_added": True, "fermented": False,
    "is_tomato": False, "alcoholic_beverage": False, "meat_poultry": False, "category": "pickle",
}  # fmt: skip


def us(**changes):
    return pathway.first_match("US-P", PLAIN | changes)


@pytest.mark.parametrize("case", LAW_CASES, ids=lambda c: c["id"])
def test_case(case):
    outcome = verify.run(case)
    assert outcome.verdict == "pass", f"{outcome.predicted}: {outcome.remark}; {case['source']}"


@pytest.mark.parametrize("case", LAW_CASES, ids=lambda c: c["id"])
def test_a_word_that_no_adapter_names_is_not_covered(case):
    inputs = json.dumps(json.loads(case["inputs"]) | {"phase_of_the_moon": "new"})
    assert verify.run(case | {"inputs": inputs}).verdict == "not covered"


# --- the Food Code tables stand twice -----------------------------------------------------------


def cell_says(cell, water_activity, ph):
    def within(value, low, low_in, high, high_in):
        above = low is None or value > low or (low_in == "True" and value == low)
        below = high is None or value < high or (high_in == "True" and value == high)
        return above and below

    return within(
        water_activity, cell["aw_low"], cell["aw_low_inclusive"], cell["aw_high"], cell["aw_high_inclusive"]
    ) and within(ph, cell["ph_low"], cell["ph_low_inclusive"], cell["ph_high"], cell["ph_high_inclusive"])  # fmt: skip


@pytest.mark.parametrize("table", ["A", "B"])
def test_rules_and_cells_of_the_food_code_agree_on_a_fine_grid(table):
    """FDA Food Code 2022 1-201.10, tables A and B: rules US-T against the 25 cells."""
    cells = [
        r for r in tables.rows("food_code_tables")
        if r["table_id"] == f"FoodCode_{table}" and r["row_type"] == "cell"
    ]  # fmt: skip
    assert len(cells) == {"A": 9, "B": 16}[table]
    wording = {"non-TCS": "NON_TCS", "PA": "PRODUCT_ASSESSMENT_REQUIRED"}
    for water_activity in np.round(np.arange(0.86, 0.981, 0.002), 3).tolist():
        for ph in np.round(np.arange(4.0, 5.81, 0.05), 2).tolist():
            hits = [c for c in cells if cell_says(c, water_activity, ph)]
            assert len(hits) == 1, (water_activity, ph)
            facts = {"table": table, "water_activity": water_activity, "pH": ph}
            assert pathway.first_match("US-T", facts).outcome == wording[hits[0]["outcome"]], facts


def test_the_eu_listeria_limits_stand_twice_and_agree():
    """Regulation (EC) 2073/2005 note 8, as rule EU-L-2 and as rows of the decision table."""
    rows = [
        r for r in tables.rows("food_code_tables") if r["table_id"] == "EU_2073_Listeria_cat1.3"
    ]
    by_ph_aw = {(r["ph_high"], r["aw_high"]) for r in rows if r["ph_high"] or r["aw_high"]}
    assert by_ph_aw == {(4.4, None), (None, 0.92), (5.0, 0.94)}
    for ph in (4.4, 4.401, 5.0, 5.001):
        for aw in (0.92, 0.921, 0.94, 0.941):
            held = any((p is None or ph <= p) and (a is None or aw <= a) for p, a in by_ph_aw)
            facts = {"pH": ph, "water_activity": aw, "shelf_life_days": 30}
            assert pathway.listeria_growth_supporting(facts) == ("no" if held else "yes"), facts


# --- first match --------------------------------------------------------------------------------


def test_a_missing_fact_before_a_match_is_never_a_pass():
    ruling = pathway.first_match("US-P", {k: v for k, v in PLAIN.items() if k != "refrigerated"})
    assert ruling.outcome == CANNOT_DECIDE
    assert ruling.needs == ("refrigerated",)
    assert ruling.possible == ("US_117_REFRIGERATED", "US_114")
    assert "stored, distributed and sold refrigerated" in ruling.words


@pytest.mark.parametrize("name", [n for n in PLAIN if n not in ("acid_added", "fermented")])
def test_taking_a_fact_away_never_changes_the_class_into_another(name):
    known = {k: v for k, v in PLAIN.items() if k != name}
    assert pathway.first_match("US-P", known).outcome in (us().outcome, CANNOT_DECIDE)


def test_what_no_rule_speaks_of_is_said():
    assert pathway.first_match("EU-L", {"ready_to_eat": False}).outcome == NO_RULE
    assert pathway.first_match("EU-L", {}).possible[-1] == NO_RULE


@pytest.mark.parametrize(
    ("ph", "outcome"), [(4.6, "US_114"), (4.600000000001, "US_114"), (4.604, "US_113"), (4.61, "US_113")]
)  # fmt: skip
def test_the_line_at_4_6(ph, outcome):
    """21 CFR 114.3(b), 113.3(n): 4.6 itself is acidified, 4.604 does not round down."""
    assert us(pH=ph).outcome == outcome


def test_traps_of_the_us_pathway():
    """21 CFR 113.3, 114.3: each a mistake that was made."""
    assert us(is_tomato=True, pH=4.9, pH_before_acid=4.5).outcome == "US_113"  # only below 4.7
    assert us(category="pepper_jelly").outcome == "US_114"  # no standardised jam
    assert us(category="standard_jam_jelly", pH_before_acid=5.2).outcome == "US_114"
    assert us(fermented=True, pH_before_acid=4.9).outcome == "US_114"  # acid added afterwards
    assert us(frozen=True, pH=5.0, thermal=False).outcome == "US_117_FROZEN"
    assert us(pH=5.0, thermal=False).outcome == "US_NOT_PERMITTED_AMBIENT"


def test_a_preservative_clears_no_duty():
    """21 CFR 114.80(a)(1)."""
    acidified = {"pathway": "US_114", "pH": 4.2, "thermal": False, "pathogen_kill_evidence": False}
    outcomes = [r.outcome for r in pathway.duties("US-D", acidified | {"preservative": True}).apply]
    assert "NOT_COMPLIANT_VEGETATIVE_CELLS" in outcomes
    open_ = pathway.duties("US-D", {"pathway": "US_114", "pH": 4.2, "thermal": False})
    assert open_.needs == ("pathogen_kill_evidence",)


def test_component_and_blend_are_not_the_same():
    """CXC 23-1979, FDR B.27.001: any component above 4.6 makes it low-acid."""
    facts = PLAIN | {"pH": 4.4, "pH_before_acid": 4.3, "max_component_pH": 5.1}
    assert pathway.first_match("CX-P", facts).outcome == "CX_LOW_ACID"
    assert pathway.first_match("CA-P", facts).outcome == "CA_COMMERCIAL_STERILITY_REQUIRED"


def test_exactly_4_4_passes_in_the_eu_and_fails_in_australia():
    """Regulation (EC) 2073/2005 note 8 (<=) against Standard 1.6.1 (<)."""
    facts = {"ready_to_eat": True, "infant_or_medical": False, "pH": 4.4, "water_activity": 0.98,
             "shelf_life_days": 60, "refrigerated": True, "frozen": False,
             "growth_log_over_shelf_life": 2.0}  # fmt: skip
    assert pathway.listeria("EU", facts).outcome == "EU_LM_1_3_100_CFU_G"
    assert pathway.listeria("AU-NZ", facts).outcome == "ANZ_LM_NOT_DETECTED_25G"


def test_great_britain_keeps_the_criteria_of_2020():
    facts = {"ready_to_eat": True, "infant_or_medical": False, "pH": 5.5, "water_activity": 0.98,
             "shelf_life_days": 60, "shown_below_100_over_shelf_life": False}  # fmt: skip
    late = facts | {"date": date(2026, 8, 1)}
    assert pathway.listeria("EU", late).outcome.endswith("WHOLE_SHELF_LIFE")
    british = pathway.listeria("UK-GB", late)
    assert british.outcome.endswith("BEFORE_LEAVING_PRODUCER")
    assert british.to_verify


@pytest.mark.parametrize(
    ("facts", "outcome"),
    [
        ({"pH_before_acid": 5.8, "pH": 3.6, "acid_added": False, "fermented": True}, "acid"),
        ({"pH_before_acid": 5.8, "pH": 3.6, "acid_added": False, "fermented": None}, CANNOT_DECIDE),
        ({"pH_before_acid": 4.65, "pH": 4.65, "is_tomato": True}, "not low-acid"),
        ({"pH_before_acid": 4.65, "pH": 4.7, "is_tomato": True}, "low-acid"),
        ({"alcoholic_beverage": True}, "alcoholic"),
    ],
)
def test_us_canned_food_classes(facts, outcome):
    """21 CFR 114.3, in the order alcohol, water activity, cold, acid, acidified, tomato."""
    names = ("pH_before_acid", "pH", "water_activity", "refrigerated", "acid_added", "is_tomato",
             "fermented", "alcoholic_beverage")  # fmt: skip
    known = {k: v for k, v in PLAIN.items() if k in names} | {"acid_added": False} | facts
    assert pathway.first_match("US-C", known).outcome == outcome


def test_every_outcome_has_a_sentence_and_no_bare_code():
    for row in tables.rows("pathway_rules"):
        assert str(row["words"]).endswith("."), row["rule_id"]
        assert " " in row["words"]
        assert row["outcome"] not in row["words"] or row["outcome"].islower()


def test_one_rule_group_has_one_market_and_one_subject():
    for group, rows in pathway.groups().items():
        assert len({(r["jurisdiction"], r["subject"]) for r in rows}) == 1, group
        assert all(str(r["rule_id"]).startswith(group) for r in rows)
    assert pathway.group_for("pathway", "us") == "US-P"
    assert pathway.group_for("pathway", "EU") is None


def test_unknown_groups_and_subjects_are_named():
    with pytest.raises(InputError, match="'US-X' is no rule group; known: US-P"):
        pathway.first_match("US-X", {})
    with pytest.raises(InputError, match="'charm' is not one of canned food class"):
        pathway.group_for("charm", "US")


# --- chilled packs, cold fill -------------------------------------------------------------------


def test_two_z_values_reproduce_the_table_of_equivalents_within_rounding():
    """FSA table of equivalents of 90 °C for 10 min: z = 9 °C below, 10 °C above."""
    rows = [
        r for r in tables.rows("food_code_tables") if r["table_id"] == "UK_90C10min_equivalents"
    ]
    assert len(rows) == 21
    for r in rows:
        t, printed = float(r["temperature_C"]), float(r["time_min"])
        assert equivalent_hold_min(t, 10, 90, 9, 10) == pytest.approx(
            printed, abs=0.5 if t < 90 else 0.05
        )
        assert chilled.minutes_as_90C_10min(t) == printed


def test_one_z_hotter_is_ten_times_faster():
    assert equivalent_hold_min(100, 10, 90, 9, 10) == pytest.approx(1.0)
    assert equivalent_hold_min([81, 90], 10, 90, 9, 10) == pytest.approx([100.0, 10.0])
    assert equivalent_hold_min(85, 10, 90, 7, 10) == pytest.approx(51.8, abs=0.05)  # US seafood
    with pytest.raises(ValueError, match="z must be above 0"):
        equivalent_hold_min(85, 10, 90, 0, 10)


def test_the_printed_minutes_are_enough_and_below_80_none_are():
    assert chilled.heated_as_90C_10min(80, 129)
    assert not chilled.heated_as_90C_10min(80, 128)
    assert not chilled.heated_as_90C_10min(79.9, 10_000)


def test_one_factor_throughout_is_enough_and_a_missing_one_is_no_pass():
    facts = {"storage_C": 5, "max_component_pH": 5.4, "aqueous_salt_percent": 3.4,
             "water_activity": 0.98, "heat_as_90C_10min": False, "proven_combination": False}  # fmt: skip
    assert chilled.vacuum_pack_over_10_days(facts).outcome == "UK_AT_MOST_10_DAYS"
    for better in (
        {"max_component_pH": 5.0},
        {"aqueous_salt_percent": 3.5},
        {"water_activity": 0.97},
    ):
        ruling = chilled.vacuum_pack_over_10_days(facts | better | {"heat_as_90C_10min": None})
        assert ruling.outcome == "UK_OVER_10_DAYS_ALLOWED"
    assert chilled.vacuum_pack_over_10_days(facts | {"storage_C": 9}).outcome == "UK_NOT_CHILLED"
    unknown = chilled.vacuum_pack_over_10_days(facts | {"max_component_pH": None})
    assert unknown.needs == ("max_component_pH",)


@pytest.mark.parametrize(
    ("ph", "acetic", "benzoic", "outcome"),
    [
        (3.3, 1.0, 0.0, "ACID_HOLD_SUPPORTED"), (3.3, 0.0, 0.0, "STUDY_NEEDED"),
        (3.31, 1.0, 0.0, "STUDY_NEEDED"), (3.5, 2.5, 0.0, "ACID_HOLD_SUPPORTED"),
        (3.51, 2.5, 0.0, "STUDY_NEEDED"), (3.8, 2.5, 0.1, "ACID_HOLD_SUPPORTED"),
        (3.8, 2.5, 0.09, "STUDY_NEEDED"), (3.81, 3.0, 0.2, "STUDY_NEEDED"),
    ],
)  # fmt: skip
def test_a_cold_fill_needs_a_study_outside_what_was_studied(ph, acetic, benzoic, outcome):
    """Breidt et al. 2007, 2013."""
    facts = {"pH": ph, "acetic_percent": acetic, "benzoic_percent": benzoic, "thermal": False}
    assert chilled.cold_fill(facts).outcome == outcome


# --- labels and dates ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("market", "at_ten"),
    [("US", True), ("Canada", True), ("AU-NZ", True), ("EU", False), ("UK-GB", False)],
)
def test_ten_milligrams_of_sulphite_are_declared_by_some(market, at_ten):
    """21 CFR 130.9 (10 or more) against Regulation (EU) 1169/2011 Annex II (more than 10)."""
    says = labelling.sulphite_declaration
    assert (says(market, 10.0).outcome == "DECLARE_SULFITES") is at_ten
    assert says(market, 10.4).outcome == "DECLARE_SULFITES"
    assert says(market, 9.9).outcome == "NO_SULFITE_DECLARATION"
    assert says(market, None).outcome == CANNOT_DECIDE


def test_date_marks():
    """Regulation (EU) 1169/2011 Art. 24, Annex X."""
    assert labelling.date_mark("EU", True, 1).outcome == "USE_BY"
    marks = [labelling.date_mark("EU", False, m).outcome for m in (3, 3.1, 18, 18.1)]
    assert marks == ["BEST_BEFORE_DAY_MONTH", "BEST_BEFORE_END_MONTH_YEAR",
                     "BEST_BEFORE_END_MONTH_YEAR", "BEST_BEFORE_END_YEAR"]  # fmt: skip
    with pytest.raises(InputError, match="no rule on date mark in US"):
        labelling.date_mark("US", False, 3)


def test_duty_dates_count_days_and_years():
    """21 CFR 108.25(c)(1), 114.100(e)."""
    dates = labelling.duty_dates(date(2026, 12, 25))
    assert (dates.register_by, dates.records_until) == (date(2027, 1, 4), date(2029, 12, 25))
    assert labelling.duty_dates(date(2028, 2, 29)).records_until == date(2031, 3, 1)
    lot = labelling.duty_dates(date(2026, 3, 2), manufactured=date(2027, 1, 1))
    assert lot.records_until == date(2030, 1, 1)
