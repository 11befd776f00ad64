"""What the law says of a recipe: the facts are read right, and unknown is never met."""

from datetime import date

import pytest

import stillroom as sr
from stillroom.product.recipe_file import parse_recipe

JAM = """
name = "Jam"
kind = "jam"
market = ["US", "EU"]
[[steps]]
add = {{ "{fruit}" = "{fruit_kg} kg", "sugar" = "{sugar_kg} kg" }}
[[steps]]
boil = {{ until_soluble_solids = "{brix} %" }}
[[steps]]
fill = {{ container = "jar 250 ml", temperature = "88 degC" }}
[[steps]]
keep = {{ temperature = "20 degC", for = "9 months", pack = "airtight" }}
"""


def findings(text, market=None, on=date(2026, 12, 1)):
    return sr.assess(parse_recipe(text, "recipe.toml"), market, on).of("law")


def one(found, market, subject):
    hits = [f for f in found if f.market == market and f.subject == subject]
    assert len(hits) == 1, [(f.market, f.subject) for f in found]
    return hits[0]


def jam(fruit="strawberry", fruit_kg=10, sugar_kg=11, brix=68):
    return JAM.format(fruit=fruit, fruit_kg=fruit_kg, sugar_kg=sugar_kg, brix=brix)


def pickle(
    extra="", liquor='"vinegar, distilled (5 % acidity)" = "9 kg", "salt" = "600 g"', keep=20
):
    return f"""
name = "Pickle"
kind = "vinegar pickle"
market = ["US", "Codex", "Canada"]
{extra}
[[steps]]
add = {{ "cucumber" = "10 kg" }}
[[steps]]
steep = {{ liquor = {{ {liquor} }}, temperature = "20 degC", for = "14 days" }}
[[steps]]
fill = {{ container = "jar 500 ml" }}
[[steps]]
keep = {{ temperature = "{keep} degC", for = "6 months", pack = "airtight" }}
"""


def test_the_same_jam_has_two_answers():
    """US by fruit to sweetener (21 CFR 150.160), EU by fruit in a kilogram (Directive 2001/113)."""
    found = findings(jam(fruit_kg=10, sugar_kg=11, brix=68))
    ratio = one(found, "US", "fruit to sweetener solids, kg/kg")
    assert ratio.value == pytest.approx(10 / 11, rel=2e-3)
    assert ratio.limit == pytest.approx(47 / 55)
    assert ratio.verdict == "pass"
    assert one(found, "EU", "the name jam").verdict == "pass"


def test_fruit_of_a_kilogram_uses_the_yield_after_boiling():
    thick = one(findings(jam(fruit_kg=7, sugar_kg=10, brix=72)), "EU", "the name jam")
    assert "450" in thick.reason
    grams = float(thick.reason.split(" g ")[1].split(",")[0])
    assert grams == pytest.approx(1000 * 7 / (10.4 / 0.72), rel=0.06)  # 7 kg fruit at about 6 Brix


@pytest.mark.parametrize(("day", "asked"), [("2026-06-13", "350"), ("2026-06-14", "450")])
def test_the_day_picks_the_directive(day, asked):
    """Directive (EU) 2024/1438 applies from 14 June 2026."""
    found = findings(jam(), on=date.fromisoformat(day))
    assert f"asked >= {asked}" in one(found, "EU", "the name jam").reason


def test_soluble_solids_at_the_limit_must_be_measured():
    found = findings(jam(brix=65))
    assert one(found, "US", "soluble solids, %").verdict == "cannot tell"
    measured = jam(brix=65) + '[measured]\nsoluble_solids = "66 %"\n'
    assert one(findings(measured), "US", "soluble solids, %").verdict == "pass"


def test_a_jam_below_its_standard_loses_the_exclusion():
    """21 CFR 114.3(b) excludes the jams of part 150 only; pepper-like spreads are not among them."""
    meets = one(findings(jam(brix=68)), "US", "falls under")
    assert "standardised jam" in meets.reason or "outside parts 113 and 114" in meets.reason
    thin = one(findings(jam(sugar_kg=12.5, brix=63)), "US", "falls under")
    assert "standardised jam" not in thin.reason


def test_a_vinegar_pickle_is_acidified_and_has_duties():
    found = findings(pickle())
    assert "acidified" in one(found, "US", "falls under").reason
    duties = [f for f in found if f.market == "US" and f.subject == "duty"]
    assert any("10 days" in f.reason for f in duties)
    assert any("60 days" in f.reason for f in duties)


def test_no_heat_and_no_evidence_is_open_not_met():
    """21 CFR 114.80(a)(1): heat, or evidence; a preservative does not clear it."""
    cold = pickle(liquor='"vinegar, distilled (5 % acidity)" = "9 kg", "potassium sorbate" = "9 g"')
    open_ = [f for f in findings(cold) if f.subject == "duty" and f.verdict == "cannot tell"]
    assert any("pathogen_kill_evidence" in f.reason for f in open_)
    shown = findings(
        cold.replace("[[steps]]", "[law]\npathogen_kill_evidence = false\n[[steps]]", 1)
    )
    assert [f for f in shown if f.subject == "duty" and f.verdict == "fail"]


def test_kept_cold_it_is_no_acidified_food():
    assert "refrigerated" in one(findings(pickle(keep=4)), "US", "falls under").reason


def test_a_small_share_of_low_acid_food_is_a_judgement():
    """21 CFR 114.3(b): small amounts without a significant shift; 10 % is draft guidance, memory."""
    text = pickle().replace('"cucumber" = "10 kg"', '"apple" = "10 kg", "onion" = "500 g"')
    found = one(findings(text), "US", "falls under")
    assert found.verdict == "cannot tell"
    assert "pH_shift_significant" in found.reason
    told = text.replace("[[steps]]", "[law]\npH_shift_significant = false\n[[steps]]", 1)
    assert "An acid food" in one(findings(told), "US", "falls under").reason


def test_the_acid_of_a_ferment_is_made_in_the_food():
    text = """
name = "Kraut"
kind = "fermented vegetable"
market = "US"
[[steps]]
add = { "cabbage" = "10 kg", "salt" = "200 g" }
[[steps]]
ferment = { for = "20 days" }
[[steps]]
fill = { container = "jar 500 ml" }
[[steps]]
keep = { temperature = "20 degC", for = "6 months", pack = "airtight" }
"""
    for told in (text, text + "[measured]\nph = 3.6\n"):
        assert "made in the food" in one(findings(told), "US", "falls under").reason
    short = text.replace("20 days", "30 h")
    assert one(findings(short), "US", "falls under").verdict != "pass"


def test_sorbate_is_counted_as_the_acid_and_full_sugar_jam_may_hold_none():
    """Union list 04.2.5.2; potassium sorbate to sorbic acid 0.7464 (atomic weights)."""
    with_sorbate = jam().replace('"sugar"', '"potassium sorbate" = "10 g", "sugar"')
    assert one(findings(with_sorbate, "EU"), "EU", "potassium sorbate").verdict == "fail"
    light = with_sorbate.replace('kind = "jam"', 'kind = "low-sugar jam"').replace("68 %", "62 %")
    found = one(findings(light, "EU"), "EU", "sorbates + benzoates")
    made = sr.assess(parse_recipe(light, "r.toml"), "EU").batch.made.mixture
    assert found.value == pytest.approx(1e6 * float(made.kg("sorbic") / made.total_kg))
    assert 0.85 < found.value / (1e4 * 0.7464 / float(made.total_kg)) <= 1  # steam takes some
    assert found.verdict == "pass"


def test_curing_salt_counts_on_the_meat():
    """9 CFR 424.22(b): ingoing nitrite on the raw weight; 6.25 % of 250 g on 100 kg is 156 ppm."""
    text = """
name = "Bacon"
kind = "dry cured bacon"
market = "US"
[[steps]]
add = { "pork belly" = "100 kg", "curing salt no. 1 (6.25 % nitrite)" = "250 g", "salt" = "2 kg" }
[[steps]]
keep = { temperature = "3 degC", for = "20 days", pack = "vacuum" }
"""
    found = [f for f in findings(text) if f.unit == "mg/kg" and f.value]
    assert any(f.value == pytest.approx(156.25, rel=1e-3) for f in found), found


def test_sulphites_above_a_limit_ask_for_a_reading():
    text = jam().replace('"sugar"', '"sodium metabisulphite" = "4 g", "sugar"')
    found = [f for f in findings(text, "EU") if "sulphi" in f.subject]
    assert any(f.subject == "sulphite label" and "must be declared" in f.reason for f in found)
    over = [f for f in found if f.limit and f.value and f.value > f.limit]
    assert over
    assert all(f.verdict == "cannot tell" for f in over)


def test_a_concentrate_counts_as_drunk():
    text = """
name = "Cordial"
kind = "cordial"
market = "EU"
{law}
[[steps]]
add = {{ "lemon juice" = "2 kg", "sugar" = "3 kg", "water" = "1 kg", "potassium sorbate" = "6 g" }}
[[steps]]
keep = {{ temperature = "20 degC", for = "6 months", pack = "airtight" }}
"""
    bare = one(findings(text.format(law="")), "EU", "sorbates")
    assert bare.verdict == "cannot tell"
    drunk = one(findings(text.format(law="[law]\ndilution = 5")), "EU", "sorbates")
    assert drunk.verdict == "pass"
    assert drunk.value == pytest.approx(bare.value / 5)


def test_without_a_kind_additives_are_open():
    text = (
        jam().replace('kind = "jam"\n', "").replace('"sugar"', '"sodium benzoate" = "5 g", "sugar"')
    )
    assert one(findings(text, "EU"), "EU", "additives").verdict == "cannot tell"


def test_an_unknown_legal_fact_is_refused():
    text = jam().replace("[[steps]]", "[law]\nready_to_eta = true\n[[steps]]", 1)
    with pytest.raises(sr.InputError, match=r"law: 'ready_to_eta'.*ready_to_eat"):
        findings(text)


def test_law_and_biology_never_mix():
    judged = sr.assess(parse_recipe(jam(), "r.toml"))
    without = sr.assess(parse_recipe(jam().replace('market = ["US", "EU"]\n', ""), "r.toml"))
    assert without.of("law") == []
    assert judged.outcome == without.outcome
    assert judged.of("hazard") == without.of("hazard")
