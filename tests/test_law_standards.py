"""Product standards: names and compositions of jams, and the rows of other kinds."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom import tables
from stillroom.assess.law import jam, kinds, standards
from stillroom.assess.law.verdicts import CANNOT_DECIDE, FAIL, MARKETS, PASS, worst
from stillroom.errors import InputError

OLD, NEW = date(2026, 6, 13), date(2026, 6, 14)  # Directive (EU) 2024/1438
TODAY = date(2026, 11, 1)
LISTED = ("redcurrant", "rowanberry", "sea buckthorn", "blackcurrant", "rosehip", "quince")


def us(fruits, sweetener, solids=66.0, kind="jam"):
    return worst(c.verdict for c in jam.us_standard(fruits, sweetener, solids, kind))


def eu(fruit, made=NEW, solids=61.0, market="EU", **more):
    return jam.jam_name(market, fruit, solids, made, **more).outcome


def check(market, kind, acid=None, **values):
    found = standards.check_standard(market, kind, values, TODAY, acid=acid)
    return {c.subject: c.verdict for c in found}


# --- the table ----------------------------------------------------------------------------------


def test_every_row_can_be_read_and_every_kind_has_its_standard():
    assert standards.standards()
    known = {k for market in MARKETS for k in standards.kinds(market)}
    for kind in kinds.kinds():
        assert not kind.standard or kind.standard in known, kind.name


def test_every_day_has_at_most_one_version_of_a_row_in_force():
    keys = {}
    for r in standards.standards():
        key = (r["jurisdiction"], r["kind"], r["product"], r["fruits"], r["measure"], r["citation"])
        span = (
            standards.day_of(r, "from_date") or date.min,
            standards.day_of(r, "to_date") or date.max,
        )
        for other in keys.setdefault(key, []):
            assert r["kind"] == "" or span[0] > other[1] or other[0] > span[1], key
        keys[key].append(span)


# --- United States ------------------------------------------------------------------------------


def test_the_ratio_is_forty_five_to_fifty_five_not_its_printed_decimal():
    """21 CFR 150.160(d): 45/55 = 0.81818 must pass though the table prints 0.8182."""
    assert us({"peach": 45}, 55) == PASS
    assert us({"peach": 44.99}, 55) == FAIL
    assert us({"strawberry": 47}, 55) == PASS
    assert us({"strawberry": 46.99}, 55) == FAIL


def test_a_mixture_with_group_two_takes_the_lower_ratio():
    assert us({"strawberry": 30, "raspberry": 15}, 55) == FAIL
    assert us({"strawberry": 30, "peach": 15}, 55) == PASS


def test_each_fruit_of_a_mixture_is_a_fifth_and_five_are_the_most():
    """21 CFR 150.140(b)(2), 150.110(b)(2)."""
    assert us({"peach": 40, "plum": 10}, 50) == PASS
    assert us({"peach": 40, "plum": 9.9}, 50) == FAIL
    six = dict.fromkeys(("peach", "plum", "pear", "fig", "guava", "quince"), 10.0)
    assert us(six, 50) == FAIL


def test_what_is_not_given_or_not_listed_is_no_pass():
    assert us({"peach": 45}, None) == CANNOT_DECIDE
    assert us({"peach": 45}, 55, None) == CANNOT_DECIDE
    assert us({"mango": 90}, 55) == CANNOT_DECIDE
    assert us({"mango": 90}, 55, 64.9) == FAIL
    assert us({"peach": 45}, 55, 64.96) == FAIL  # not rounded
    with pytest.raises(InputError, match="the fruit must weigh more than 0 kg"):
        us({}, 55)
    with pytest.raises(InputError, match="kind 'curd' is not one of jam, jelly"):
        us({"peach": 45}, 55, kind="curd")


def test_butter_and_marmalade():
    """21 CFR 150.110: 5 : 2 and 43 %; agency advice on marmalade."""
    assert us({"apple": 50}, 20, 43, "fruit butter") == PASS
    assert us({"apple": 49.9}, 20, 43, "fruit butter") == FAIL
    assert us({"lemon": 25}, 75, kind="marmalade") == PASS
    assert us({"sweet orange": 30}, 70, kind="marmalade") == PASS
    assert us({"sweet orange": 29}, 70, kind="marmalade") == FAIL


@pytest.mark.parametrize(
    ("fruit", "factor"),
    [("grape", 7.0), ("strawberries, raw", 12.5), ("red currant", 9.5), ("redcurrants", 9.5),
     ("crab apple", 6.5), ("apple", 7.5), ("grapefruit", 11.0), ("black raspberry", 9.0)],
)  # fmt: skip
def test_the_factor_rule(fruit, factor):
    """21 CFR 150.140(b)(1): W = (m SS - added) * factor."""
    assert jam.us_juice_weight_kg(fruit, 100, 16) == pytest.approx(16 * factor)
    assert jam.us_juice_weight_kg(fruit, 100, 16, 6) == pytest.approx(10 * factor)


def test_the_factor_rule_says_what_is_wrong():
    with pytest.raises(InputError, match=r"'strawbery' has no factor .* Near it: strawberry"):
        jam.us_juice_weight_kg("strawbery", 100, 16)
    with pytest.raises(InputError, match="20 kg of added solids is more than the juice holds"):
        jam.us_juice_weight_kg("grape", 100, 16, 20)


def test_a_factor_makes_juice_of_its_own_strength_of_itself():
    """factor = 100 / SS of the average juice: between 5 and 20 % soluble solids."""
    for r in standards.rows_of("US", "jelly", TODAY, "juice_factor"):
        assert 5 < 100 / standards.level_of(r) < 20, r["fruits"]


# --- European Union -----------------------------------------------------------------------------


def test_the_jam_change_of_june_2026():
    """Directive 2001/113/EC: 350 and 450; Directive (EU) 2024/1438: 450 and 500."""
    refused = "not a jam under the Directive"
    assert [eu(g, OLD) for g in (349.9, 350)] == [refused, "jam"]
    assert [eu(g, NEW) for g in (350, 449.9, 450)] == [refused, refused, "jam"]
    extra = {"pulp_unconcentrated": True}
    assert [eu(g, OLD, **extra) for g in (449.9, 450)] == ["jam", "extra jam"]
    assert [eu(g, NEW, **extra) for g in (499.9, 500)] == ["jam", "extra jam"]
    assert eu(500, kind="jelly", pulp_unconcentrated=True) == "extra jelly"
    assert eu(300, date(1999, 1, 1)) == CANNOT_DECIDE


def test_extra_needs_unconcentrated_pulp_and_unknown_is_not_extra():
    assert eu(600, pulp_unconcentrated=False) == "jam"
    unknown = jam.jam_name("EU", 600, 61, NEW)
    assert (unknown.outcome, unknown.needs) == ("jam", ("pulp_unconcentrated",))


def test_some_fruits_make_extra_jam_alone_only():
    """Directive 2001/113/EC Annex I."""
    assert eu(600, pulp_unconcentrated=True, fruits={"pear": 1}) == "extra jam"
    assert eu(600, pulp_unconcentrated=True, fruits={"pear": 1, "plum": 1}) == "jam"
    assert eu(600, pulp_unconcentrated=True, fruits={"pineapple": 1, "plum": 1}) == "extra jam"


def test_soluble_dry_matter():
    assert eu(600, solids=59.99) == "not a jam under the Directive"
    assert eu(600, solids=60) == "jam"
    assert eu(600, solids=40, sweeteners_replace_sugar=True) == "jam"
    assert eu(600, solids=None) == CANNOT_DECIDE
    assert eu(None) == CANNOT_DECIDE
    assert eu(100, solids=None) == "not a jam under the Directive"


@pytest.mark.parametrize("fruit", LISTED)
def test_listed_fruits_need_less(fruit):
    """Directive 2001/113/EC Annex I, seen: 250 and 350; from 2026 350 and 450, from memory."""
    assert eu(250, OLD, fruits={fruit: 1}) == "jam"
    assert eu(350, OLD, fruits={fruit: 1}, pulp_unconcentrated=True) == "extra jam"
    assert eu(349, NEW, fruits={fruit: 1}) != "jam"
    assert jam.jam_name("EU", 350, 61, NEW, {fruit: 1}).to_verify
    assert eu(250, TODAY, market="UK-GB", fruits={fruit: 1}) == "jam"


@given(st.floats(0.01, 10), st.floats(0.01, 10), st.sampled_from([OLD, NEW]))
def test_a_mixture_needs_what_its_fruits_need_in_proportion(a, b, made):
    rows = standards.rows_of("EU", "jam", made, "fruit_g_per_kg")
    single = [standards.fruit_minimum(rows, {f: 1.0}) for f in ("plum", "quince")]
    mixed = standards.fruit_minimum(rows, {"plum": a, "quince": b})
    assert mixed == pytest.approx((single[0] * a + single[1] * b) / (a + b))
    assert single[1] < mixed < single[0]


@given(st.floats(0, 1000), st.floats(0, 500), st.booleans())
def test_more_fruit_never_lowers_the_name(fruit, more, pulp):
    ladder = ["not a jam under the Directive", "jam", "extra jam"]
    names = [ladder.index(eu(g, pulp_unconcentrated=pulp)) for g in (fruit, fruit + more)]
    assert names[0] <= names[1]


def test_great_britain_has_not_taken_over_the_new_directive():
    assert eu(400, TODAY, market="UK-GB") == "jam"
    assert eu(400, TODAY, market="UK-GB", solids=59) == "not a jam under the jam regulations"
    with pytest.raises(InputError, match="jam_name knows jam and jelly in EU, UK-GB"):
        eu(400, market="US")


# --- Canada -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fruit", "solids", "pectin", "name"),
    [
        (45, 66, False, "jam"), (44.9, 66, False, "not a jam"), (45, 65.9, False, "not a jam"),
        (27, 66, True, "jam with pectin"), (26.9, 66, True, "not a jam"),
        (30, 66, False, "not a jam"), (50, 66, None, CANNOT_DECIDE), (None, 66, True, CANNOT_DECIDE),
    ],
)  # fmt: skip
def test_canadian_names(fruit, solids, pectin, name):
    """FDR B.11.201, B.11.202."""
    assert jam.canada_jam_name(fruit, solids, pectin).outcome == name


def test_apple_and_rhubarb_have_rules_of_their_own_in_canada():
    """FDR B.11.203."""
    assert jam.canada_jam_name(50, 67, False, {"apple": 1}).outcome == CANNOT_DECIDE


# --- other kinds --------------------------------------------------------------------------------


def test_strict_and_plain_operators():
    """CXS 260 (below 4.6) against CXS 115 (4.6 at most)."""
    assert check("Codex", "pickled fruits and vegetables", pH=4.6) == {"equilibrium pH": FAIL}
    assert check("Codex", "pickled cucumbers", pH=4.6) == {"equilibrium pH": PASS}
    assert check("Codex", "pickled cucumbers", pH=4.604) == {"equilibrium pH": FAIL}
    assert check("Codex", "pickled cucumbers") == {"equilibrium pH": CANNOT_DECIDE}


@pytest.mark.parametrize(
    ("acid", "mass"),
    [
        ("acetic", 60.05),
        ("lactic", 90.08),
        ("citric", 64.04),
        ("malic", 67.04),
        ("tartaric", 75.04),
    ],
)
def test_acidity_carries_its_acid(acid, mass):
    """Equivalent masses of the law note, g/eq."""
    assert standards.equivalent_g_per_eq(acid) == pytest.approx(mass, abs=0.01)
    assert standards.acidity_as(1.0, acid, "lactic") == pytest.approx(90.08 / mass, rel=2e-4)


def test_acidity_is_converted_before_it_is_compared():
    """CXS 223: kimchi at most 1.0 % as lactic acid; 0.8 % as acetic is 1.2 % as lactic."""
    kimchi = {"total_acidity_percent": 0.8, "salt_percent": 2.0, "drained_weight_percent": 85}
    assert check("Codex", "kimchi", acid="lactic", **kimchi)["total acidity, %"] == PASS
    assert check("Codex", "kimchi", acid="acetic", **kimchi)["total acidity, %"] == FAIL
    assert check("Codex", "kimchi", **kimchi)["total acidity, %"] == CANNOT_DECIDE
    with pytest.raises(
        InputError, match=r"'actic' is not an acid of the table. Near it: a?l?actic"
    ):
        standards.acidity_as(1.0, "actic", "lactic")


def test_between_holds_on_both_sides():
    for salt, outcome in ((0.99, FAIL), (1.0, PASS), (4.0, PASS), (4.01, FAIL)):
        assert check("Codex", "kimchi", salt_percent=salt)["salt, %"] == outcome
    found = standards.check_standard("Codex", "kimchi", {"salt_percent": 4.5}, TODAY)
    assert [(c.limit, c.margin) for c in found if c.subject == "salt, %"] == [(4.0, -0.5)]


def test_good_practice_is_no_figure_and_unverified_no_answer():
    """CXS 66; CXS 296 lower tier."""
    assert check("Codex", "dehydrated olives", brine_salt_percent=8.0, pH=5.0) == {
        "salt in the brine after osmotic balance, %": PASS,
        "equilibrium pH": PASS,
    }
    found = standards.check_standard(
        "Codex", "jam", {"fruit_g_per_kg": 400, "soluble_solids_percent": 62}, TODAY, {"mango": 1}
    )
    assert worst(c.verdict for c in found) == CANNOT_DECIDE


def test_a_market_without_a_standard_says_nothing_and_a_wrong_measure_is_named():
    assert standards.check_standard("US", "kimchi", {"pH": 4.0}) == ()
    with pytest.raises(InputError, match=r"'brix' is no measure. Near it: syrup_brix"):
        standards.check_standard("Codex", "kimchi", {"brix": 4.0})


def test_every_check_cites_and_what_is_from_memory_says_so():
    for market in MARKETS:
        for kind in standards.kinds(market):
            for c in standards.check_standard(market, kind, {}, TODAY):
                assert c.citation
                assert c.verdict in (CANNOT_DECIDE, PASS)
    honey = standards.check_standard("Codex", "honey", {"moisture_percent": 19}, TODAY)
    assert all(c.to_verify for c in honey)


def test_sources_and_provenance_are_kept():
    for name in ("additive_limits", "product_standards", "pathway_rules", "food_code_tables"):
        for r in tables.rows(name):
            assert r["source"]
            assert r["provenance"].startswith(tables.PROVENANCE)


def test_the_dates_of_a_row_are_those_printed():
    for name in ("additive_limits", "product_standards"):
        for r in tables.rows(name):
            printed = "/".join(filter(None, (r["from_date"], r["to_date"])))
            assert printed == r["effective_date"], r["citation"]
