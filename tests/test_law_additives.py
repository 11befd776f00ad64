"""Additive limits: conversions, the rows that apply, and how amounts are held against them."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom import tables
from stillroom.assess.law import kinds, limits, substances
from stillroom.assess.law.additives import Amount, find_limits, fraction_sum, judge
from stillroom.assess.law.categories import category, is_within
from stillroom.assess.law.verdicts import CANNOT_DECIDE, FAIL, MARKETS, PASS
from stillroom.errors import InputError, TableError
from stillroom.physics import curing

BEFORE, SINCE = date(2025, 10, 8), date(2025, 10, 9)  # Regulation (EU) 2023/2108
TODAY = date(2026, 11, 1)


def verdict(market, food, *amounts, on=TODAY, **facts):
    return judge(market, food, [Amount(*a) for a in amounts], on, facts).verdict


# --- conversions --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("salt", "form", "factor"),
    [
        ("sodium benzoate", "acid", 0.8475), ("potassium benzoate", "acid", 0.7623),
        ("potassium sorbate", "acid", 0.7464), ("calcium propionate", "acid", 0.7956),
        ("sodium metabisulphite", "SO2", 0.6740), ("potassium metabisulfite", "SO2", 0.5763),
        ("sodium bisulfite", "SO2", 0.6156), ("sodium sulphite", "SO2", 0.5082),
        ("sodium nitrite", "NO2", 0.6668), ("potassium nitrite", "NO2", 0.5406),
        ("sodium nitrate", "NO3", 0.7295), ("potassium nitrate", "NO3", 0.6133),
    ],
)  # fmt: skip
def test_factors_of_the_law_note(salt, form, factor):
    """Factors from IUPAC atomic weights, to the digits printed."""
    assert substances.factor(substances.substance(salt), form) == pytest.approx(factor, abs=5e-5)


@pytest.mark.parametrize(
    ("compound", "component", "salt", "form"),
    [
        ("sodium_benzoate", "benzoic", "sodium benzoate", "acid"),
        ("potassium_benzoate", "benzoic", "potassium benzoate", "acid"),
        ("potassium_sorbate", "sorbic", "potassium sorbate", "acid"),
        ("calcium_propionate", "propionic", "calcium propionate", "acid"),
        ("NaNO2", "nitrite", "sodium nitrite", "NO2"),
        ("KNO3", "nitrate", "potassium nitrate", "NO3"),
    ],
)
def test_the_law_and_the_mixture_count_the_same_acid(compound, component, salt, form):
    """compounds.csv, computed apart: the same grams of acid or ion in a gram of salt."""
    held = tables.row("compounds", (compound, component))["amount_per_kg"]
    assert substances.factor(substances.substance(salt), form) == pytest.approx(held, rel=1e-4)


def test_conversion_refuses_what_is_not_of_the_family():
    assert substances.as_so2_mg_kg("SO2", 100) == 100
    with pytest.raises(InputError, match="'sodium nitrite' is not expressed as SO2"):
        substances.as_so2_mg_kg("sodium nitrite", 100)
    with pytest.raises(
        InputError, match=r"additive 'sodum benzoate' is not known. Near it: sodium"
    ):
        substances.as_acid_mg_kg("sodum benzoate", 100)
    assert substances.substance("E 202") is substances.substance("potassium sorbate")
    assert substances.substance("INS-223").name == "sodium metabisulphite"


# --- the table ----------------------------------------------------------------------------------


def test_every_row_can_be_read_and_every_family_is_known():
    families = {s.family for s in substances.substances()}
    numbers = {s.number for s in substances.substances()}
    for x in limits.limits():
        assert set(x.families) <= families, x.row
        assert x.families or x.combines == "fractions", x.row
        assert x.numbers <= numbers, x.row
        assert x.market in MARKETS
        assert x.basis in ("in_food", "added", "residual", "surface"), x.row
        assert {f for f, _ in x.caps} <= set(x.families), x.row
        assert (x.combines == "prohibited") is (x.level == 0), x.row


def test_every_day_has_at_most_one_version_of_a_row_in_force():
    versions = defaultdict(list)
    for x in limits.limits():
        key = (x.market, x.families, x.numbers, x.codes, x.food, x.words, x.only_if, x.basis,
               x.combines, x.without_families)  # fmt: skip
        versions[key].append(x)
    edges = {d for x in limits.limits() for d in (x.start, x.end) if d}
    days = sorted({d + timedelta(n) for d in edges for n in (-1, 0, 1)})
    for key, rows in versions.items():
        for day in days:
            assert sum(x.in_force(day) for x in rows) <= 1, key


def test_a_row_that_cannot_be_read_is_named(monkeypatch):
    good = dict(tables.rows("additive_limits")[0])
    for column, value, message in (
        ("max_level", "lots", "row 2, column max_level: 'lots' is no level"),
        ("combines", "maybe", "row 2, column combines: 'maybe' is not known"),
        ("only_if", "if raw", "row 2: 'if raw' is not a condition"),
        ("from_date", "1977", "row 2: Invalid isoformat string"),
    ):
        monkeypatch.setattr(limits.tables, "rows", lambda _, bad=good | {column: value}: [bad])
        limits.limits.cache_clear()
        with pytest.raises(TableError, match=message):
            limits.limits()
    monkeypatch.undo()
    limits.limits.cache_clear()


@pytest.mark.parametrize("kind", kinds.kinds(), ids=lambda k: k.name)
def test_the_categories_of_every_kind_stand_in_the_lists(kind):
    for market in MARKETS:
        text = kind.category(market, ["apricot"])
        where = category(text or "")
        if where.code:
            codes = [c for x in limits.limits() if x.market in (market, "EU") for c in x.codes]
            assert any(is_within(where.code, c) or is_within(c, where.code) for c in codes), text


def test_kinds_guess_nothing():
    assert kinds.kind_named("chutney").category("EU") is None
    assert "thiamine_source" not in kinds.kind_named("soup").additive_facts
    assert kinds.kind_named("dried fruit").category("EU", ["apricot"]) == "04.2.1 dried apricot"
    with pytest.raises(InputError, match=r"'jame' is not in the table kinds. Near it: jam"):
        kinds.kind_named("jame")


# --- which row ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("food", "at_most"),
    [
        ("04.2.1 dried apricots", 2000), ("04.2.1 raisins", 2000), ("04.2.1 dried bananas", 1000),
        ("04.2.1 dried pears", 600), ("04.2.1 dried cherries", 500), ("04.2.1 dried coconut", 50),
        ("04.2.1 dried mushrooms", 100), ("04.2.1 dried tomatoes", 200), ("12.4 mustard", 250),
        ("12.4 Dijon mustard", 500), ("04.2.2 yellow peppers in brine", 500),
        ("04.2.2 cucumbers in vinegar", 100), ("4.2.1 dried apple", 600),
        ("04.2.5.2 jam made with sulphited fruit", 100), ("04.2.5.2 jam without sulphited fruit", 50),
        ("08.2 breakfast sausages", 450),
    ],
)  # fmt: skip
def test_words_pick_the_row_among_those_of_a_code(food, at_most):
    """Union list, sulphur dioxide."""
    assert verdict("EU", food, ("SO2", at_most)) == PASS
    assert verdict("EU", food, ("SO2", at_most + 0.1)) == FAIL


def test_a_bare_code_is_decided_only_if_every_food_of_it_agrees():
    assert verdict("EU", "04.2.1", ("SO2", 50)) == PASS  # the lowest, coconut
    assert verdict("EU", "04.2.1", ("SO2", 2001)) == FAIL
    open_ = judge("EU", "04.2.1", [Amount("SO2", 600)], TODAY)
    assert open_.verdict == CANNOT_DECIDE
    assert "Dried bananas" in open_.needs[0]
    assert verdict("EU", "04.2.1 dried moonfruit", ("SO2", 40)) == CANNOT_DECIDE


def test_a_fact_that_is_not_given_is_no_pass():
    need = judge("EU", "04.2.5.2 jam", [Amount("sorbic acid", 300)], TODAY).needs
    assert need == ("low_sugar (a low-sugar, low-calorie or sugar-free product)",)
    assert verdict("EU", "04.2.5.2 jam", ("sorbic acid", 300), low_sugar=True) == PASS
    assert verdict("EU", "04.2.5.2 jam", ("sorbic acid", 300), low_sugar=False) == FAIL
    assert verdict("EU", "04.2.5.2 jam", ("sorbic acid", 1001)) == FAIL  # either way
    assert verdict("EU", "low-sugar jam", ("sorbic acid", 300)) == CANNOT_DECIDE  # no code
    with pytest.raises(InputError, match="'low_sugr' is not a fact a rule asks for"):
        verdict("EU", "04.2.5.2 jam", ("sorbic acid", 300), low_sugr=True)


def test_no_row_is_not_permitted_and_in_the_us_a_question():
    assert verdict("EU", "04.2.5.1 full-sugar extra jam", ("sorbic acid", 1)) == FAIL
    assert verdict("EU", "04.2.5.1 extra jam", ("SO2", 11)) == FAIL  # no carry-over allowance
    assert verdict("EU", "04.2.2 fruit in vinegar", ("sorbic acid", 100)) == FAIL  # vegetables only
    assert verdict("EU", "04.2.5.2 low-sugar jam", ("acetic acid", 100)) == FAIL  # closed list
    assert verdict("US", "jam", ("potassium benzoate", 100)) == CANNOT_DECIDE


def test_withdrawn_members_slip_through_no_range():
    """Regulation (EU) 2018/98 and Directive 95/2/EC as amended: E 201, 203, 216, 217, 225."""
    for number in ("E 201", "E 203", "E 216", "E 217", "E 225"):
        assert verdict("EU", "04.2.2 vegetables in vinegar", (number, 11)) == FAIL, number
    assert verdict("EU", "04.2.2 vegetables in vinegar", ("E 202", 11)) == PASS


def test_old_household_preservatives_are_prohibited():
    for name in ("salicylic acid", "boric acid"):
        for market, food in (("EU", "04.2.2 vegetables"), ("US", "pickle"), ("UK-GB", "04.2.2")):
            assert verdict(market, food, (name, 1)) == FAIL
    assert verdict("EU", "04.2.2 vegetables", ("alum", 1)) == FAIL
    assert verdict("US", "pickle", ("alum", 1)) == PASS


def test_the_same_burger_has_opposite_answers():
    """Union list 08.2 against 21 CFR 182.3739."""
    assert verdict("EU", "08.2 burger meat", ("SO2", 450)) == PASS
    assert verdict("US", "burger meat", ("SO2", 450)) == FAIL


def test_sulphites_in_the_us_hang_on_what_the_food_is():
    """21 CFR 182.3616 to 182.3862."""
    assert verdict("US", "dried apricots", ("sodium metabisulfite", 3000)) == PASS
    assert verdict("US", "fresh-cut apple", ("sulphites", None)) == FAIL
    assert verdict("US", "apple", ("sulphites", None)) == CANNOT_DECIDE
    assert verdict("US", "apple", ("sulphites", None), sold_raw=False) == PASS
    assert verdict("US", "pork and apple pie", ("SO2", 20), sold_raw=False) == CANNOT_DECIDE


# --- how amounts combine ------------------------------------------------------------------------


def test_a_sum_with_an_inner_cap():
    """Union list 04.2.5.2: sorbates + benzoates <= 1000, benzoates <= 500."""

    def jam(sorbic, benzoic):
        return verdict(
            "EU", "04.2.5.2 low-sugar", ("sorbic acid", sorbic), ("benzoic acid", benzoic)
        )

    assert jam(500, 500) == PASS
    assert jam(500.1, 500) == FAIL
    assert jam(100, 500.1) == FAIL


def test_alone_and_together_are_different_rules():
    """Union list 14.1.4: alone 300 or 150, together at most 250 and 150."""

    def drink(sorbic, benzoic, unit="mg/L"):
        return verdict("EU", "14.1.4", ("sorbic acid", sorbic, "in_food", unit),
                       ("benzoic acid", benzoic, "in_food", unit))  # fmt: skip

    assert drink(300, 0) == PASS
    assert drink(300.1, 0) == FAIL
    assert drink(250, 150) == PASS
    assert drink(250.1, 1) == FAIL
    assert drink(1, 150.1) == FAIL
    assert drink(100, 0, "mg/kg") == CANNOT_DECIDE  # per litre and per kilogram are kept apart


def test_codex_holds_each_to_its_own_limit():
    """GSFA 12.6: the sum of fractions is no law there."""
    amounts = [("sorbic acid", 900), ("benzoic acid", 900)]
    assert verdict("Codex", "12.6 sauce", *amounts) == PASS
    assert verdict("AU-NZ", "20.2 sauce", *amounts) == FAIL


def test_sum_of_fractions():
    """Standard 1.3.1-6: sum(c / L) <= 1."""
    check = fraction_sum("AU-NZ", "20.2", [Amount("sorbic acid", 600), Amount("benzoic acid", 500)])
    assert (check.value, check.verdict) == (pytest.approx(1.1), FAIL)
    assert check.to_verify
    assert verdict("AU-NZ", "20.2", ("sorbic acid", 600), ("benzoic acid", 400)) == PASS
    assert verdict("AU-NZ", "20.2 sauce", ("sorbic acid", 900), ("SO2", 100)) == FAIL


def test_a_commodity_standard_governs():
    """CXS 260 over GSFA 04.2.2.3: benzoates 1000, though the list has 2000."""
    assert verdict("Codex", "04.2.2.3 pickled onions", ("benzoic acid", 1001)) == FAIL
    assert verdict("Codex", "04.2.2.3 olives in brine", ("benzoic acid", 1001)) == PASS
    assert verdict("Codex", "04.1.2.2 dried apricots", ("SO2", 2000)) == PASS  # CXS 130


def test_the_us_limit_is_on_the_salt_as_named():
    """21 CFR 184.1733: 1000 mg/kg of sodium benzoate, 847 as acid."""
    assert verdict("US", "jam", ("sodium benzoate", 1000)) == PASS
    assert verdict("US", "jam", ("sodium benzoate", 1001)) == FAIL
    assert verdict("EU", "12.4 mustard", ("sodium benzoate", 1179)) == PASS  # 999 as acid


def test_ten_milligrams_of_sulphur_dioxide_count_as_absent_in_the_eu():
    """Union list, total from all sources."""
    assert verdict("EU", "04.2.5.1 extra jam", ("SO2", 10)) == PASS
    assert verdict("EU", "04.2.5.1 extra jam", ("sodium metabisulfite", 14)) == PASS
    assert verdict("EU", "04.2.5.1 extra jam", ("SO2", 10.01)) == FAIL
    assert verdict("EU", "04.2.5.1 extra jam", ("SO2", 6), ("sodium bisulfite", 10)) == FAIL


def test_carry_over_adds_up():
    assert verdict("EU", "12.4 mustard", ("sorbic acid", 600), ("potassium sorbate", 600)) == FAIL


def test_added_is_never_held_against_residual():
    added = judge("EU", "04.2.1 dried apple", [Amount("sodium metabisulfite", 100, "added")], TODAY)
    assert added.verdict == CANNOT_DECIDE
    assert added.needs == ("sulphites as measured in the food",)
    both = [("sodium nitrite", 100, "added"), ("NO2", 45, "residual")]
    assert verdict("EU", "08.3.1", *both) == PASS
    assert verdict("EU", "08.3.1", both[0]) == CANNOT_DECIDE
    assert verdict("EU", "08.3.1", both[1]) == CANNOT_DECIDE
    assert verdict("EU", "08.3.1", ("sodium nitrite", 121, "added")) == FAIL


# --- dates --------------------------------------------------------------------------------------


def test_the_nitrite_change_of_october_2025():
    """Regulation (EU) 2023/2108: 150 as NaNO2 until the 8th, 80 as ion from the 9th."""
    assert verdict("EU", "08.3.1", ("sodium nitrite", 150, "added"), on=BEFORE) == PASS
    assert verdict("EU", "08.3.1", ("sodium nitrite", 150, "added"), on=SINCE) == FAIL
    residual = ("NO2", 20, "residual")
    assert verdict("EU", "08.3.1", ("sodium nitrite", 119.9, "added"), residual, on=SINCE) == PASS
    assert verdict("EU", "08.3.1", ("sodium nitrite", 120, "added"), residual, on=SINCE) == FAIL


@pytest.mark.parametrize(
    "food", ["08.3.4.2 dry cured bacon", "08.3.4.1 Wiltshire ham", "08.3.4.3 ham"]
)
def test_an_expired_figure_never_answers(food):
    amount = ("NaNO2", 1, "residual")
    assert verdict("EU", food, amount, on=SINCE) == CANNOT_DECIDE
    assert (
        verdict("EU", "04.2.2 vegetables", ("sorbic acid", 1), on=date(2010, 1, 1)) == CANNOT_DECIDE
    )


def test_great_britain_keeps_the_rows_of_2020():
    assert verdict("UK-GB", "08.3.1", ("sodium nitrite", 150, "added")) == PASS
    assert verdict("UK-GB", "08.3.4.2 dry cured bacon", ("NaNO2", 175, "residual")) == PASS
    carried = judge("UK-GB", "12.4 mustard", [Amount("sorbic acid", 900)], TODAY)
    assert carried.verdict == PASS
    assert carried.to_verify
    assert verdict("UK-GB", "04.2.2 vegetables", ("E 203", 20)) == FAIL


# --- cures --------------------------------------------------------------------------------------


def test_us_cures():
    """9 CFR 424.21(c), 424.22(b): maxima, required ascorbate, potassium nitrite, skin."""
    ascorbate = ("sodium ascorbate", 550, "added")
    assert verdict("US", "meat comminuted", ("sodium nitrite", 156, "added")) == PASS
    assert verdict("US", "meat comminuted", ("sodium nitrite", 156.25, "added")) == FAIL
    assert verdict("US", "pumped bacon", ("sodium nitrite", 120, "added"), ascorbate) == PASS
    assert verdict("US", "pumped bacon", ("sodium nitrite", 120, "added")) == CANNOT_DECIDE
    assert verdict("US", "pumped bacon", ("sodium nitrite", 120, "added"),
                   ("sodium erythorbate", 549, "added")) == FAIL  # fmt: skip
    assert verdict("US", "pumped bacon", ("potassium nitrite", 148, "added"), ascorbate) == PASS
    assert (
        verdict("US", "pumped bacon, skin on", ("sodium nitrite", 109, "added"), ascorbate) == FAIL
    )
    assert verdict("US", "dry cured bacon", ("sodium nitrite", 200, "added")) == PASS
    assert verdict("US", "pumped bacon", ("sodium nitrate", 1, "added")) == FAIL
    dry = ("sodium nitrite", 625, "added")
    assert verdict("US", "meat dry cured", dry) == CANNOT_DECIDE  # and 200 left at most
    assert verdict("US", "meat dry cured", dry, ("NaNO2", 200, "residual")) == PASS


def test_ingoing_nitrite_counts_raw_meat():
    """FSIS handbook 1995: 0.25 oz in 100 lb is 156 ppm; 2 kg in 1000 kg at 10 % pump is 200."""
    assert curing.ingoing_mg_per_kg(0.25 / 16, 100) == pytest.approx(156.25)
    assert curing.ingoing_pumped_mg_per_kg(2.0, 0.10, 1000) == pytest.approx(200.0)
    with pytest.raises(ValueError, match="meat_kg must be above 0 kg"):
        curing.ingoing_mg_per_kg(0.01, 0)


@given(st.floats(1e-4, 0.1), st.floats(1, 100), st.floats(1, 100))
def test_the_equilibrium_of_an_immersion_lies_below_its_upper_bound(nitrite, meat, pickle):
    estimate = curing.ingoing_immersed_mg_per_kg(nitrite, meat, pickle)
    assert estimate < curing.ingoing_mg_per_kg(nitrite, meat)
    assert estimate == pytest.approx(
        curing.ingoing_pumped_mg_per_kg(nitrite, pickle / (meat + pickle), pickle)
    )


# --- laws ---------------------------------------------------------------------------------------

FOODS = sorted({(m, k.category(m, ["apricot"])) for k in kinds.kinds() for m in MARKETS} - {
    (m, None) for m in MARKETS
})  # fmt: skip
ADDITIVES = [
    ("potassium sorbate", "in_food"), ("benzoic acid", "in_food"), ("SO2", "residual"),
    ("sodium nitrite", "added"), ("NO2", "residual"), ("citric acid", "in_food"),
]  # fmt: skip


@given(
    st.sampled_from(FOODS),
    st.lists(st.tuples(st.sampled_from(ADDITIVES), st.floats(0, 3000)), min_size=1, max_size=3),
    st.floats(1, 10),
    st.sampled_from([BEFORE, SINCE, TODAY]),
)
def test_raising_an_amount_never_turns_fail_into_pass(where, recipe, rise, on):
    market, food = where

    def judged(times):
        amounts = [(name, value * (times if n == 0 else 1), basis)
                   for n, ((name, basis), value) in enumerate(recipe)]  # fmt: skip
        return verdict(market, food, *amounts, on=on)

    if judged(1.0) == FAIL:
        assert judged(rise) == FAIL
    if judged(rise) == PASS:
        assert judged(1.0) == PASS


@given(st.sampled_from(FOODS), st.sampled_from(ADDITIVES), st.floats(0, 3000))
def test_a_missing_fact_answers_only_what_both_ways_answer(where, additive, value):
    market, food = where
    amount = (additive[0], value, additive[1])
    answer = verdict(market, food, amount)
    for fact in ("low_sugar", "sterilised", "sold_raw"):
        if fact not in category(food).facts:
            both = {verdict(market, food, amount, **{fact: yes}) for yes in (True, False)}
            assert answer == CANNOT_DECIDE or both == {answer}


def test_impossible_amounts_are_named():
    for value in (-1, float("nan"), float("inf")):
        with pytest.raises(InputError, match="SO2 must be 0 mg/kg or more"):
            Amount("SO2", value)
    with pytest.raises(InputError, match="basis 'ingoing' is not one of in_food, added"):
        Amount("SO2", 1, "ingoing")
    assert judge("EU", "04.2.2 vegetables", [Amount("sorbic acid", 0)]).verdict == PASS


def test_every_answer_says_where_it_comes_from():
    for market, food in FOODS:
        for check in judge(market, food, [Amount("sorbic acid", 500)], TODAY).checks:
            assert check.citation, (market, food)
            assert check.provenance
            assert check.reason.endswith(".")


# --- looking up ---------------------------------------------------------------------------------


def test_limits_are_found_by_name_number_family_and_food():
    named = find_limits("sorbate", "jam", "EU", TODAY)
    assert {x.food for x in named} == {
        "Extra jam and extra jelly, low-sugar only",
        "Jam, jelly, marmalade: low-sugar, low-calorie, sugar-free; mermeladas",
        "Mermeladas",
    } or len(named) >= 2
    assert all("sorbates" in x.families for x in named)
    assert find_limits("E 202", market="Canada", on=TODAY) == find_limits(
        "potassium sorbate", market="Canada", on=TODAY
    )
    apricots = find_limits("sulfites", "dried apricots", on=TODAY)
    assert {(x.market, x.level) for x in apricots} >= {("EU", 2000.0), ("Codex", 2000.0)}
    assert all(x.in_force(BEFORE) for x in find_limits("nitrites", market="EU", on=BEFORE))


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"additive": "sorbat"}, "additive 'sorbat' is not known. Near it: sorbate"),
        ({"category": "jame"}, "no limit speaks of 'jame'. Near it: jam"),
        ({"market": "Mars"}, "market 'Mars' is not one of US, EU"),
    ],
)
def test_an_unknown_word_is_named_with_near_ones(asked, message):
    with pytest.raises(InputError) as problem:
        find_limits(**asked)
    assert str(problem.value).startswith(message)
