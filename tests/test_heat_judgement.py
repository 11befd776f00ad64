"""What heat is worth: targets, intervals, kills, ways to reach it, and the sentences of a user."""

from __future__ import annotations

import json
import re
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

import stillroom as sr
from stillroom.assess import hazards
from stillroom.assess.heat.findings import findings, leaves
from stillroom.assess.heat.hold import Brine, hold
from stillroom.assess.heat.judgement import judge_plan, verdict_of
from stillroom.assess.heat.resistance import kill, resistances
from stillroom.assess.heat.targets import targets, targets_of
from stillroom.assess.heat.ways import changed, ways
from stillroom.assess.result import Estimate, Outcome
from stillroom.cli import app
from stillroom.errors import InputError
from stillroom.product import process
from stillroom.product.pack_plan import plan_of
from stillroom.product.recipe_file import parse_recipe

PUREE = 'add = { "apple, Granny Smith, raw" = "5 kg" }'
JUICE = 'add = { "water" = "5 kg", "sugar" = "500 g", "citric acid" = "20 g" }'
BEET = 'add = { "beet" = "5 kg", "water" = "500 g" }'
WARM = 'fill = { container = "jar 500 ml", temperature = "40 degC", jar_temperature = "40 degC" }'
KEEP = 'keep = { temperature = "20 degC", for = "12 months" }'
COLD = 'keep = { temperature = "5 degC", for = "5 weeks", pack = "vacuum" }'
POUCH = 'fill = { container = "pouch 200 ml", temperature = "40 degC" }'
AIR = 'cool = { in = "air", temperature = "20 degC", for = "2 h" }'
QUICK = 'cool = { in = "water", temperature = "15 degC", for = "30 min" }'
HAZARD = ("hazard", "spoilage")
VEGETATIVE = "E. coli O157:H7"


def recipe_of(*steps, head=""):
    lines = "\n".join(f"[[steps]]\n{s}" for s in steps)
    return parse_recipe(f'name = "test"\n{head}\n{lines}')


def estimate(value, half=0.01):
    return Estimate(value, value - half, value + half)


@cache
def judged(*steps, ph=3.5, half=0.01, aw=0.98, jars=None):
    """Return the judged heat of a recipe, its pH and water activity as if measured."""
    recipe = recipe_of(*steps)
    plan = plan_of(process.run(recipe))
    return judge_plan(plan, recipe, estimate(ph, half), estimate(aw, 0.002), jars)


def hot_fill(temperature, hold_min=3, how=""):
    return (
        f'fill = {{ container = "jar 500 ml", temperature = "{temperature} degC", '
        f'jar_temperature = "{temperature} degC", hold = "{hold_min} min"{how} }}'
    )


def bath(temperature, hold_min, how=""):
    return f'heat = {{ in = "stirred water", temperature = "{temperature} degC", hold = "{hold_min} min"{how} }}'


def reached(heating, word):
    return next(r for r in heating.reached if word in r.target.name)


def measured(ph, aw=0.98):
    return f"[measured]\nph = {ph}\nph_uncertainty = 0.02\nwater_activity = {aw}\n"


def worst(heating):
    """Return the worst verdict among the findings on dangers that heat decides."""
    verdicts = {f.verdict for f in findings(heating) if f.area == "hazard"}
    return next((v for v in ("fail", "cannot tell") if v in verdicts), "pass")


# --- targets ----------------------------------------------------------------------------------


def names(ph, aw=0.98, storage_C=20.0, foods=(), use=HAZARD):
    return {t.name for t in targets(ph, aw, storage_C, foods, 7.0) if t.use in use}


@pytest.mark.parametrize(
    ("ph", "asked", "not_asked"),
    [
        (3.5, "acid, pH up to 4.1", "acidified, pH 4.1 to 4.6"),
        (4.1, "acid, pH up to 4.1", "acidified, pH 4.1 to 4.6"),
        (4.1001, "acidified, pH 4.1 to 4.6", "acid, pH up to 4.1"),
        (4.6, "acidified, pH 4.1 to 4.6", "low acid"),
        (4.6001, "low acid", "acidified, pH 4.1 to 4.6"),
        (7.0, "low acid", "acid, pH up to 4.1"),
    ],
)
def test_the_target_follows_the_ph(ph, asked, not_asked):
    """Breidt 2010 to pH 4.1, Breidt 2014 to 4.6; above it the botulinum cook."""
    assert asked in names(ph, use=("hazard",))
    assert not_asked not in names(ph)


def test_no_danger_is_asked_about_below_water_activity_85():
    for ph in (3.5, 4.4, 5.5):
        assert not names(ph, aw=0.85, use=("hazard",))
        assert names(ph, aw=0.8501, use=("hazard",))


def test_every_acid_and_low_acid_food_that_keeps_warm_is_asked_for_something():
    for ph in np.arange(2.0, 9.0, 0.05):
        assert names(float(ph), use=("hazard",)), ph


@pytest.mark.parametrize(("storage_C", "warm"), [(8.0, False), (8.01, True), (None, True), (3.0, False)])  # fmt: skip
def test_what_is_kept_above_8_degrees_counts_as_warm(storage_C, warm):
    assert ("low acid" in names(5.5, storage_C=storage_C)) == warm
    assert ("chilled, vacuum" in names(5.5, storage_C=storage_C)) != warm


@pytest.mark.parametrize(("ph", "aw", "asked"), [(5.0, 0.98, False), (5.01, 0.98, True), (6.0, 0.97, False), (6.0, 0.971, True)])  # fmt: skip
def test_botulinum_in_the_cold_is_held_by_ph_5_or_water_activity_97(ph, aw, asked):
    """ACMSF 1992: pH 5.0 or below, water activity 0.97 or below throughout."""
    assert ("chilled, vacuum" in names(ph, aw, 4.0)) == asked


@pytest.mark.parametrize(
    ("keep", "asked"),
    [
        ('temperature = "5 degC", for = "10 days", pack = "vacuum"', False),
        ('temperature = "5 degC", for = "241 h", pack = "vacuum"', True),
        ('temperature = "5 degC", for = "5 weeks"', True),
        ('temperature = "5 degC", for = "5 weeks", pack = "open"', False),
        ('temperature = "3 degC", for = "5 weeks", pack = "vacuum"', True),
        ('temperature = "2.9 degC", for = "5 weeks", pack = "vacuum"', False),
        ('temperature = "8 degC", for = "5 weeks", pack = "vacuum"', True),
    ],
)
def test_botulinum_in_the_cold_needs_a_closed_pack_3_degrees_and_10_days(keep, asked):
    recipe = recipe_of(BEET, f"keep = {{ {keep} }}")
    found = targets_of(recipe, estimate(6.0), estimate(0.985, 0.002), 7.0)
    assert any(t.name == "chilled, vacuum" for t in found) == asked
    assert any("Listeria" in t.words for t in found)


def test_a_ph_across_a_limit_is_asked_for_both_sides():
    found = targets_of(recipe_of(PUREE, KEEP), estimate(4.58, 0.05), estimate(0.98, 0.002), 7.0)
    by_name = {t.name: t for t in found}
    assert by_name["low acid"].careful_only
    assert not by_name["acidified, pH 4.1 to 4.6"].careful_only


@pytest.mark.parametrize(
    ("head", "foods", "asked"),
    [
        ("", '"olive, ripe, canned" = "5 kg"', True),
        ('[foods."black fruit"]\nlike = "olive, ripe, canned"\n', '"black fruit" = "5 kg"', True),
        ("", '"green bean" = "5 kg", "olive oil" = "100 g"', False),
    ],
)
def test_ripe_olives_are_known_by_the_food_not_by_a_word_of_its_name(head, foods, asked):
    recipe = recipe_of(f"add = {{ {foods} }}", KEEP, head=head)
    found = targets_of(recipe, estimate(6.5), estimate(0.98, 0.002), 7.0)
    assert any(t.name == "ripe olives" for t in found) == asked


def test_two_slopes_below_90_degrees_are_those_in_print():
    """UK table of equivalents (Chilled Food Association 2006) for 9; US FDA Fish Guide for 7."""
    uk, us = (next(t for t in targets(6.0, 0.98, 5.0, (), z) if t.name == "chilled, vacuum") for z in (9.0, 7.0))  # fmt: skip
    for T, minutes in ((80, 129.0), (85, 36.0), (95, 3.2), (100, 1.0)):
        assert uk.minutes / uk.scale.rate(T) == pytest.approx(minutes, rel=0.03)
    assert us.minutes / us.scale.rate(85) == pytest.approx(51.8, rel=0.01)
    assert us.minutes / us.scale.rate(100) == pytest.approx(1.0, rel=0.03)


def test_the_recipe_chooses_the_slope():
    def worth(z):
        heating = judged(BEET, POUCH, bath(86, 20, f", p90_z = {z}"), QUICK, COLD, ph=6.0, aw=0.985)
        assert any(f"z {z} °C below 90 °C" in n for n in heating.notes)
        return reached(heating, "chilled, vacuum").lethality.value

    assert worth(9) > 1.1 * worth(7)


# --- verdicts ---------------------------------------------------------------------------------

MINUTES = st.floats(0.001, 1000)


@given(MINUTES, st.floats(0, 1), st.floats(0, 1), st.booleans())
def test_a_target_inside_the_interval_cannot_be_told(value, down, up, careful):
    target = next(t for t in targets(4.0, 0.98, 20, (), 7) if t.use == "hazard")
    target = type(target)(**{**vars(target), "careful_only": careful})
    e = Estimate(value, value * (1 - down), value * (1 + up))
    wanted = "pass" if e.low >= target.minutes else "fail" if e.high < target.minutes else ""
    if wanted == "fail" and careful:
        wanted = ""
    assert verdict_of(target, e) == (wanted or "cannot tell")


def test_as_much_as_is_asked_is_not_enough_to_pass():
    low, high = 0.5, 90.0
    for _ in range(8):
        hold_min = (low * high) ** 0.5
        r = reached(judged(JUICE, WARM, bath(80, f"{hold_min:.3f}"), QUICK, KEEP), "up to 4.1")
        low, high = (low, hold_min) if r.lethality.value > r.target.minutes else (hold_min, high)
    assert r.lethality.value == pytest.approx(r.target.minutes, rel=0.3)
    assert r.lethality.low < r.target.minutes < r.lethality.high
    assert r.verdict == "cannot tell"


PROCESSES = [
    (PUREE, POUCH, bath(68, 8), QUICK, KEEP),
    (PUREE, hot_fill(85, 5), AIR, KEEP),
    (JUICE, WARM, bath(70, 12), AIR, KEEP),
    (BEET, POUCH, bath(92, 15), AIR, COLD),
]  # fmt: skip


@pytest.mark.parametrize("steps", PROCESSES, ids=range(len(PROCESSES)))
def test_an_interval_holds_its_value_and_no_more_than_the_medium_could_give(steps):
    heating = judged(*steps, ph=3.5 if steps[0] is not BEET else 6.0, aw=0.985)
    minutes = sum(leg.seconds for leg in heating.plan.legs) / 60
    hottest = max(heating.plan.start_C, *(T for leg in heating.plan.legs for T in leg.medium_C))
    assert heating.reached
    for r in heating.reached:
        e = r.lethality
        assert 0 <= e.low <= e.value <= e.high
        assert e.high <= minutes * r.target.scale.rate(hottest + 2.5)
        assert r.mass_average_min >= e.value * (1 - 1e-9)


@pytest.mark.parametrize("steps", PROCESSES, ids=range(len(PROCESSES)))
def test_each_thing_that_is_not_known_lies_inside_the_interval(steps):
    """One of them alone at its careful end, the rest as planned."""
    from stillroom.product.heat_course import Scatter, run

    ph = 3.5 if steps[0] is not BEET else 6.0
    heating = judged(*steps, ph=ph, aw=0.985)
    scales = [r.target.scale for r in heating.reached]
    heated = {"heating_film": -1.0, "medium_C": -0.5} if heating.plan.heated else {}
    for alone in (heated, {"cooling_film": 1.0}, {"start_C": -2.0}):
        for name, value in alone.items():
            found = run(heating.plan, scales, Scatter(**{name: value})).least_min[0]
            for r, F in zip(heating.reached, found, strict=True):
                assert r.lethality.low <= F * (1 + 1e-6), name


@pytest.mark.parametrize("hold_min", [12, 30])
def test_low_acid_food_never_passes(hold_min):
    steam = f'heat = {{ in = "pressure steam", temperature = "126 degC", hold = "{hold_min} min" }}'
    heating = judged(BEET, POUCH, steam, QUICK, KEEP, ph=6.0)
    cook = reached(heating, "low acid")
    assert heating.exit_status in ((3,) if cook.verdict == "pass" else (1, 3))
    against = next(f for f in findings(heating) if "botulinum cook" in f.subject)
    assert against.verdict != "pass"
    assert "heat" not in against.hurdles
    for one in hazards.named("Clostridium botulinum proteolytic"):
        left = leaves(heating, one)
        assert left.verdict != "pass"
    if cook.verdict == "pass":
        assert "process authority must set it" in against.reason
        assert "process authority must set it" in left.reason


def test_a_ph_that_may_be_low_acid_is_never_passed_either():
    steam = 'heat = { in = "pressure steam", temperature = "126 degC", hold = "30 min" }'
    heating = judged(BEET, POUCH, steam, QUICK, KEEP, ph=4.58, half=0.05)
    assert worst(heating) == "cannot tell"
    weak = judged(BEET, POUCH, bath(95, 20), QUICK, KEEP, ph=4.58, half=0.05)
    assert reached(weak, "low acid").verdict == "cannot tell"
    assert any("measure the pH" in f.reason for f in findings(weak))


# --- hot fill ---------------------------------------------------------------------------------


def test_a_hot_fill_is_judged_at_the_lid():
    """A lid 8 °C colder, 3 °C where the jar is turned over: a rate 10**(8 / z) lower."""
    upright, over = judged(JUICE, hot_fill(85), KEEP), judged(JUICE, hot_fill(85, 3, ", inverted = true"), KEEP)  # fmt: skip
    assert (upright.plan.lid_below_C, over.plan.lid_below_C) == (8.0, 3.0)
    r, t = reached(upright, "up to 4.1"), reached(over, "up to 4.1")
    z = r.target.scale.z_C
    food = (
        upright.course.lethality_min[
            0, [*dict.fromkeys(q.target.scale for q in upright.reached)].index(r.target.scale)
        ]
        .min()
    )  # fmt: skip
    assert r.lethality.value == pytest.approx(food, rel=1e-6)
    assert t.lethality.value / r.lethality.value == pytest.approx(10 ** (5 / z), rel=0.02)
    assert t.lethality.low > r.lethality.low
    assert any("the lid is taken 8 °C below" in n for n in upright.notes)


@pytest.mark.parametrize(("ph", "filled", "verdict"), [(3.9, 85, "pass"), (3.9, 82, "fail"), (3.5, 78, "pass"), (4.55, 99, "fail")])  # fmt: skip
def test_the_fill_temperature_is_asked_by_ph(ph, filled, verdict):
    """University of Arkansas: 182 °F at pH 3.9, 167 °F at 3.5, none above 4.5."""
    heating = judged(JUICE, hot_fill(filled, 10, ", inverted = true"), KEEP, ph=ph)
    found = next(f for f in findings(heating) if f.subject == "hot fill: temperature")
    assert found.verdict == verdict


def test_the_report_of_the_heat_knows_that_a_fill_is_too_cool():
    """`stillroom heat` says 0 only where `stillroom assess` would not refuse the same heat."""
    heating = judged(JUICE, hot_fill(78, 20, ", inverted = true"), KEEP, ph=3.69)
    assert worst(heating) == "fail"  # 80.6 °C is asked at pH 3.7
    assert heating.exit_status != 0


def test_cooler_water_around_a_hot_fill_does_not_make_it_better():
    """A minute in a bath colder than the food: neither lid nor fill temperature are forgotten."""
    alone = judged(JUICE, hot_fill(74, 5), KEEP, ph=3.6)
    token = judged(JUICE, hot_fill(74, 5), bath(60, 1), KEEP, ph=3.6)
    assert worst(alone) == "fail"
    assert worst(token) != "pass"


def test_a_moment_in_barely_hotter_water_does_not_make_up_for_a_cool_fill():
    """Six seconds at 75 °C are worth 0.2 min at 71.1 °C to a lid, of 1.2 that are asked."""
    alone = judged(JUICE, hot_fill(74, 5), KEEP, ph=3.6)
    moment = judged(JUICE, hot_fill(74, 5), bath(75, 0.1), KEEP, ph=3.6)
    assert worst(alone) == "fail"
    assert worst(moment) != "pass"


def test_what_is_called_cooling_does_not_heat():
    """Five hours in water of 95 °C after a fill at 78 °C: refused, or no hotter than the fill."""
    hotter = 'cool = { in = "water", temperature = "95 degC", for = "5 h" }'
    try:
        heating = judged(JUICE, hot_fill(78, 1), hotter, KEEP)
    except InputError:
        return
    assert heating.course.centre_C.max() <= heating.plan.start_C + 0.1


def test_without_a_cool_step_a_pack_counts_as_cooled_at_once_and_says_so():
    quick = 'cool = { in = "water", temperature = "15 degC", for = "90 min" }'
    silent, said, slow = (judged(JUICE, WARM, bath(85, 40), *cool, KEEP) for cool in ((), (quick,), (AIR,)))  # fmt: skip
    assert any("no cool step is given" in n for n in silent.notes)
    for a, b, c in zip(silent.reached, said.reached, slow.reached, strict=True):
        assert a.lethality.value == pytest.approx(b.lethality.value)
        assert a.lethality.value < c.lethality.value
    assert silent.after_off < slow.after_off


# --- acid that kills without heat -------------------------------------------------------------


@pytest.mark.parametrize(
    ("brine", "hours"),
    [
        (Brine(3.3, "acetic", 10.0), 136.8),
        (Brine(3.3, "acetic", 25.0), 34.3),
        (Brine(3.3, "acetic", 24.9), 136.8),
        (Brine(3.5, "acetic", 10.0, acetic_percent=2.5), 96),
        (Brine(3.8, "acetic", 10.0, acetic_percent=2.5, benzoic_mmol_per_kg=8.2), 96),
        (Brine(3.31, "acetic", 10.0), None),
        (Brine(3.3, "acetic", 9.9), None),
        (Brine(3.5, "acetic", 10.0, acetic_percent=2.4), None),
        (Brine(3.51, "acetic", 10.0, acetic_percent=2.5), None),
        (Brine(3.8, "acetic", 10.0, acetic_percent=2.5, benzoic_mmol_per_kg=8.0), None),
        (Brine(3.0, "citric", 25.0), None),
        (Brine(3.0, "malic", 25.0), None),
        (Brine(3.0, "lactic", 25.0), None),
    ],
)
def test_acid_is_credited_only_where_an_experiment_covers_it(brine, hours):
    """Breidt 2007: 5.7 d at 10 °C, 1.4 d at 25 °C at pH 3.3; Breidt 2013: 4 d with 2.5 % acetic."""
    if hours is None:
        with pytest.raises(InputError, match="no experiment on file"):
            hold(brine)
    else:
        assert hold(brine).hours == pytest.approx(hours)


@given(st.floats(2.5, 4.6), st.floats(4, 30), st.floats(0, 4), st.floats(0, 10), st.floats(0, 6))
def test_a_stronger_brine_never_needs_a_longer_hold(ph, temperature, acetic, benzoic, salt):
    def hours(**more):
        same = {
            "ph": ph,
            "acid": "acetic",
            "temperature_C": temperature,
            "acetic_percent": acetic,
            "benzoic_mmol_per_kg": benzoic,
            "salt_percent": salt,
        }
        try:
            return hold(Brine(**(same | more))).hours
        except InputError:
            return np.inf

    plain = hours()
    assert hours(ph=ph - 0.3) <= plain
    assert hours(temperature_C=temperature + 5) <= plain
    assert hours(acetic_percent=acetic + 1) <= plain
    assert hours(benzoic_mmol_per_kg=benzoic + 2) <= plain
    assert hours(salt_percent=max(salt - 1, 0)) <= plain


BRINE = 'add = { "vinegar, distilled (5 % acidity)" = "4 kg", "water" = "4 kg", "salt" = "100 g" }'


def dangers(assessment, words):
    return [f for f in assessment.of("hazard") if words in f.subject]


def test_a_little_heat_does_not_take_away_what_the_acid_does():
    """A brine at pH 3.1 whose acid kills in six days goes on killing after a lukewarm bath."""
    head, jar = measured(3.1), 'fill = { container = "jar 500 ml" }'
    cold = sr.assess(recipe_of(BRINE, jar, KEEP, head=head))
    warm = sr.assess(recipe_of(BRINE, jar, bath(55, 5), KEEP, head=head))
    (held,) = dangers(cold, "ride in")
    assert (held.verdict, held.hurdles) == ("pass", ("acid hold",))
    assert "days at 20 °C" in held.reason
    assert all(f.verdict != "fail" for f in dangers(warm, "coli O157"))


def test_an_acid_without_an_experiment_is_not_passed():
    lemon = 'add = { "water" = "5 kg", "citric acid" = "60 g", "sugar" = "500 g" }'
    a = sr.assess(recipe_of(lemon, 'fill = { container = "jar 500 ml" }', KEEP, head=measured(2.6)))
    (found,) = dangers(a, "ride in")
    assert found.verdict == "cannot tell"
    assert "no experiment on file" in found.reason
    assert a.exit_status != 0


# --- what heat leaves of what could grow ------------------------------------------------------


def test_what_fails_without_heat_passes_with_it():
    raw = sr.assess(recipe_of(JUICE, 'fill = { container = "jar 500 ml" }', KEEP, head=measured(3.4)))  # fmt: skip
    hot = sr.assess(recipe_of(JUICE, hot_fill(90, 5, ", inverted = true"), AIR, KEEP, head=measured(3.4)))  # fmt: skip
    assert raw.exit_status == 1
    assert (hot.outcome, hot.exit_status) == (Outcome.SEALED, 0)
    by_heat = [f for f in hot.findings if f.hurdles == ("heat",)]
    assert any("Saccharomyces" in f.subject for f in by_heat)
    watched = [f for f in hot.of("spoilage") if "may survive this heat" in f.reason]
    assert {f.subject.split()[0] for f in watched} >= {"Byssochlamys"}
    watched += [f for f in hot.findings if f.subject == "Alicyclobacillus spp."]  # hangs on the air
    assert not any(f.decides or f.verdict == "pass" for f in watched)


def test_dry_food_protects_cells_from_heat():
    wet, dry = (judged(JUICE, hot_fill(90, 5), AIR, KEEP, ph=4.05, aw=aw) for aw in (0.93, 0.90))
    assert (wet.dry, dry.dry) == (False, True)
    for name in ("Staphylococcus aureus", "Listeria monocytogenes", "Salmonella spp."):
        for one in hazards.named(name):
            assert leaves(wet, one).verdict == "pass"
            assert leaves(dry, one).verdict == "fail"
            assert "protects it from heat" in leaves(dry, one).reason


def test_spores_are_held_to_six_decades_and_cells_to_five():
    heating = judged(BEET, POUCH, bath(95, 60), QUICK, COLD, ph=6.0, aw=0.985)
    (cereus,) = hazards.named("Bacillus cereus")[:1]
    d = heating.kill_of(cereus).decades
    verdict = "pass" if d.low >= 6 else "cannot tell" if d.high >= 6 else "fail"
    assert leaves(heating, cereus).verdict == verdict


def test_spores_of_hot_places_are_not_passed_by_the_figure_for_milder_ones():
    """Flat sour above 40 °C: Geobacillus stearothermophilus, D at 121 °C 3 to 8 min (FDA 2010)."""
    steam = 'heat = { in = "pressure steam", temperature = "121 degC", hold = "20 min" }'
    heating = judged(
        BEET, POUCH, steam, QUICK, 'keep = { temperature = "45 degC", for = "1 year" }', ph=6.0
    )
    for name in ("Geobacillus stearothermophilus", "Thermoanaerobacterium thermosaccharolyticum"):
        (one,) = hazards.named(name)[:1]
        decades = heating.kill_of(one).decades
        assert reached(heating, "low acid, spoilage").verdict == "pass"
        assert decades.low >= 5 or leaves(heating, one).verdict != "pass"


@pytest.mark.parametrize("steps", PROCESSES, ids=range(len(PROCESSES)))
def test_decades_are_in_order(steps):
    heating = judged(*steps, ph=3.5 if steps[0] is not BEET else 6.0, aw=0.985)
    assert heating.kills
    for one in heating.kills:
        d = one.decades
        assert 0 <= d.low <= d.value <= d.high


@given(
    st.floats(3, 7),
    st.floats(0.85, 0.99),
    st.floats(50, 130),
    st.floats(0.1, 100),
    st.floats(0.3, 1),
    st.floats(1, 3),
)
def test_a_kill_takes_the_careful_side_of_z_and_d(ph, aw, temperature, minutes, down, up):
    for one in resistances(ph, aw, 7.0):
        F = float(one.scale.rate(temperature)) * minutes
        found = kill(one, Estimate(F, F * down, F * up)).decades
        assert found.low <= found.value <= found.high
        r = one.row
        D = [r[c] for c in ("d_value_min", "d_low_min", "d_high_min") if r[c] is not None]
        z = [r[c] for c in ("z_value_C", "z_low_C", "z_high_C") if r[c] is not None]
        share = 0.2 if r["kind"] == "5log_time" else 1.0
        if abs(temperature - r["temperature_C"]) < 3 * min(z):
            printed = [
                minutes * 10 ** ((temperature - r["temperature_C"]) / b) / (share * a)
                for a in D
                for b in z
            ]
            assert kill(one, Estimate(F, F, F)).decades.low <= min(printed) * (1 + 1e-9)


def test_sugar_protects_yeasts_and_moulds_tenfold():
    def longest(aw):
        return {str(r.row["organism"]): r.longest_min for r in resistances(3.5, aw, 7.0)}

    wet, dry = longest(0.95), longest(0.90)
    assert dry["Yeasts, vegetative"] == pytest.approx(10 * wet["Yeasts, vegetative"])
    assert dry["Byssochlamys fulva"] == wet["Byssochlamys fulva"]


# --- other processes --------------------------------------------------------------------------


@cache
def found_ways(*steps, ph=3.9, media=()):
    heating = judged(*steps, ph=ph)
    recipe = recipe_of(*steps)
    return heating, recipe, ways(heating, recipe, estimate(ph), estimate(0.98, 0.002), media)


POUCHES = (PUREE, POUCH, bath(85, 10), QUICK, KEEP)


def meets(heating):
    return all(r.verdict == "pass" for r in heating.reached if r.target.use in HAZARD)


def test_every_way_meets_what_is_asked_and_hotter_is_shorter():
    _, _, found = found_ways(JUICE, *POUCHES[1:], media=(82.0, 85.0, 92.0))
    holds = [w.hold_min for w in found]
    assert holds == sorted(holds, reverse=True)
    assert holds[0] > holds[-1] >= 1
    assert all(meets(w.heating) for w in found)


def test_a_minute_less_would_not_do():
    heating, recipe, found = found_ways(*POUCHES, media=(92.0,))  # fmt: skip
    for way in found:
        less = changed(heating.plan, way.medium_C, way.hold_min - 1)
        assert not meets(judge_plan(less, recipe, estimate(3.9), estimate(0.98, 0.002))), way.medium_C  # fmt: skip


def test_the_shortest_way_does_not_hang_on_the_process_as_written():
    weak, strong = (
        found_ways(JUICE, POUCH, bath(85, m), QUICK, KEEP, media=(88.0,))[2][0].hold_min
        for m in (4, 15)
    )
    assert weak == strong


def test_a_way_of_a_hot_fill_is_as_hot_as_its_ph_asks():
    """180 °F at pH 4.0 (University of Arkansas): what `assess` would refuse is not offered."""
    _, _, found = found_ways(JUICE, hot_fill(90, 5, ", inverted = true"), AIR, KEEP, ph=3.68, media=(76.0, 85.0))  # fmt: skip
    cool, hot = found
    assert hot.hold_min is not None
    assert cool.hold_min is None


def test_a_way_of_a_jar_filled_hot_and_heated_is_one_that_passes():
    """A bath cooler than the fill leaves a hot fill, which is 83.9 °C at pH 3.9 to 4.0."""
    heat = 'heat = { in = "boiling water", hold = "10 min" }'
    _, _, found = found_ways(JUICE, hot_fill(82, 0), heat, AIR, KEEP, media=(80.0, 85.0))
    for way in found:
        assert way.heating is None or way.heating.exit_status == 0, way.medium_C


def test_a_way_below_boiling_is_computed_for_water_that_does_not_boil():
    """The film of boiling water is 3000 W/(m² K), of still hot water 350: written down, it holds."""
    boiling = 'heat = { in = "boiling water", hold = "10 min" }'
    _, _, (way,) = found_ways(PUREE, POUCH, boiling, QUICK, KEEP, ph=3.5, media=(80.0,))
    still = f'heat = {{ in = "hot water", temperature = "80 degC", hold = "{way.hold_min} min" }}'
    assert meets(judged(PUREE, POUCH, still, QUICK, KEEP, ph=3.5))


def test_a_hot_fill_that_is_not_held_can_be_held_longer():
    """The search changes the hold, not the cooling."""
    heating = judged(JUICE, hot_fill(85, 0, ", inverted = true"), AIR, KEEP)
    longer = changed(heating.plan, 85.0, 10)
    cooling = [leg for leg in heating.plan.legs if "20 °C" in leg.words]
    assert [leg for leg in longer.legs if "20 °C" in leg.words] == cooling


def test_open_water_is_not_searched_above_its_boiling_point():
    heating, recipe = judged(*POUCHES, ph=3.9), recipe_of(*POUCHES)
    try:
        (found,) = ways(heating, recipe, estimate(3.9), estimate(0.98, 0.002), (140.0,))
    except InputError:
        return
    assert found.hold_min is None


def test_where_nothing_is_asked_there_is_nothing_to_search_for():
    recipe = recipe_of(BEET, POUCH, bath(85, 20), COLD)
    heating = judge_plan(plan_of(process.run(recipe)), recipe, estimate(4.0), estimate(0.98, 0.002))
    assert not heating.reached
    with pytest.raises(InputError, match="nothing to search for"):
        ways(heating, recipe, estimate(4.0), estimate(0.98, 0.002))


# --- scattered jars ---------------------------------------------------------------------------


@pytest.mark.parametrize("minutes", [4, 20])
def test_the_share_of_jars_goes_with_the_verdict(minutes):
    heating = judged(PUREE, POUCH, bath(80, minutes), QUICK, KEEP, jars=300)
    for r in heating.reached:
        assert 0 <= r.share <= 1
        if r.target.use in HAZARD:
            assert r.share >= 0.97 if r.verdict == "pass" else r.share < 1.0
            assert r.verdict != "fail" or r.share <= 0.05


def test_jars_scatter_alike_with_the_same_seed():
    recipe = recipe_of(PUREE, POUCH, bath(80, 4), QUICK, KEEP)
    plan = plan_of(process.run(recipe))

    def share(seed):
        found = judge_plan(plan, recipe, estimate(3.5), estimate(0.98, 0.002), 100, seed)
        return [r.share for r in found.reached]

    assert share(3) == share(3)


# --- the command line -------------------------------------------------------------------------


def command(*arguments):
    return CliRunner().invoke(app, [str(a) for a in arguments], env={"COLUMNS": "160"})


def strict(text):
    def refuse(word):
        raise ValueError(f"{word} is not JSON")

    return json.loads(text, parse_constant=refuse)


def write(path, *steps, head=""):
    path.write_text(
        f'name = "test"\n{head}\n' + "\n".join(f"[[steps]]\n{s}" for s in steps), "utf-8"
    )
    return path


@pytest.mark.parametrize(
    ("name", "steps", "ph"),
    [
        ("hot filled, low acid", (JUICE, hot_fill(90), KEEP), 5.8),
        ("cold", (JUICE, WARM, bath(55, 1), KEEP), 3.4),
    ],
)
def test_json_is_json_and_every_minute_has_its_scale(name, steps, ph, tmp_path):
    path = write(tmp_path / "r.toml", *steps, head=measured(ph))
    result = command("heat", path, "--json")
    assert result.exit_code in (0, 1, 3), result.output
    data = strict(result.output)
    assert data["format"] == 1
    for one in [*data["reached"], *data["kills"], *data["kept"]]:
        assert set(one["scale"]) == {"reference_C", "z_C", "z_above_C"}
        assert one["source"]
        assert one["provenance"]
    curve = data["curve"]
    assert len({len(c) for c in curve.values()}) == 1
    assert all(np.isfinite(c).all() for c in curve.values())
    if ph > 5:
        strict(command("assess", path, "--json").output)


def test_json_of_the_search_and_the_words_of_the_report(tmp_path):
    path = write(tmp_path / "r.toml", JUICE, *POUCHES[1:], head=measured(3.9))
    data = strict(command("heat", path, "--json", "--at", "88 degC", "--jars", "20").output)
    assert data["ways"][0]["medium_C"] == 88.0
    assert all(0 <= r["share_of_jars"] <= 1 for r in data["reached"])
    text = command("heat", path).output
    assert not re.search(r"\bsafe\b|\bnan\b|\binf\b|Traceback", text, re.IGNORECASE)
    assert "log the coldest place" in text
    assert "process authority" in text


def heat_step(words):
    return f"heat = {{ {words} }}"


WRONG = {
    "oven": (heat_step('in = "oven", hold = "30 min"'), "uneven"),
    "unknown medium": (heat_step('in = "lava", hold = "30 min"'), "boiling water"),
    "no temperature": (heat_step('in = "hot water", hold = "30 min"'), "needs its temperature"),
    "no temperature, stirred": (heat_step('in = "stirred water", hold = "3 min"'), "needs its temperature"),
    "steam without gauge": (heat_step('in = "pressure steam", hold = "30 min"'), "gauge"),
    "steam with both": (heat_step('in = "pressure steam", hold = "30 min", gauge = "10 psi", temperature = "116 degC"'), "gauge"),
    "gauge on open steam": (heat_step('in = "steam", hold = "30 min", gauge = "10 psi"'), "has no gauge"),
    "water above boiling": (bath(105, 20), "water boils at"),
    "boiling water of 70": (heat_step('in = "boiling water", temperature = "70 degC", hold = "20 min"'), "boil"),
    "open steam of 70": (heat_step('in = "steam", temperature = "70 degC", hold = "20 min"'), "steam"),
    "pressure steam of 90": (heat_step('in = "pressure steam", temperature = "90 degC", hold = "20 min"'), "is above"),
    "lukewarm": (bath(40, 20), "heats nothing"),
    "zero hold": (bath(85, 0), "above 0"),
    "negative hold": (bath(85, -5), "time"),
    "hold without a unit": (heat_step('in = "boiling water", hold = 20'), "unit"),
    "no hold": (heat_step('in = "boiling water"'), "hold"),
    "negative come-up": (bath(85, 20, ', come_up = "-5 min"'), "time"),
    "p90_z of 8": (bath(85, 20, ", p90_z = 8"), "7"),
    "unknown way": (bath(85, 20, ', by = "radiation"'), "conduction"),
    "unknown key": (bath(85, 20, ', holt = "3 min"'), "hold"),
    "j too low": (bath(85, 20, ', penetration = { f = "20 min", j = 0.01 }'), "greater than or equal to 0.1"),
    "j too high": (bath(85, 20, ', penetration = { f = "20 min", j = 9 }'), "less than or equal to 5"),
    "f of nothing": (bath(85, 20, ', penetration = { f = "0 min" }'), "above 0"),
    "half a broken line": (bath(85, 20, ', penetration = { f = "20 min", break_after = "5 min" }'), "both break_after and f_after"),
    "other half": (bath(85, 20, ', penetration = { f = "20 min", f_after = "5 min" }'), "both break_after and f_after"),
    "piece without a size": (bath(85, 20, ', piece = { shape = "sphere" }'), "needs its diameter"),
    "start hotter than it boils": (bath(85, 1, ', start = "185 degC"'), "185"),
    "cooled in snow": ('cool = { in = "snow" }', "moving air"),
    "cooled for no time": ('cool = { in = "air", for = "0 min" }', "above 0"),
}  # fmt: skip
WRONG_FILLS = {
    "hold without a temperature": ('container = "jar 250 ml", hold = "3 min"', "hot fill"),
    "turned over cold": ('container = "jar 250 ml", inverted = true', "hot fill"),
    "two metres wide": ('container = "jar 250 ml", diameter = "2 m"', "less than or equal to 1"),
    "filled hotter than it boils": ('container = "jar 250 ml", temperature = "185 degC"', "185"),
    "seven millimetres wide": ('container = "jar 250 ml", temperature = "88 degC", diameter = "7 mm"', "diameter"),
    "no width": ('container = "jar 250 ml", diameter = "0 mm"', "above 0"),
    "no container": ('temperature = "88 degC"', "container"),
    "no capacity": ('container = "a jar", temperature = "88 degC"', "capacity"),
    "too much in it": ('container = "jar 250 ml", net = "2 kg", temperature = "88 degC"', "do not go into"),
    "pieces that are none": ('container = "jar 250 ml", temperature = "88 degC", pieces_temperature = "20 degC"', "pieces in a liquor"),
}  # fmt: skip


def says(tmp_path, steps, words):
    result = command("heat", write(tmp_path / "r.toml", *steps))
    assert result.exit_code == 2, result.output
    assert result.output.startswith("stillroom: ")
    assert "r.toml" in result.output
    assert "Traceback" not in result.output
    assert words in result.output, result.output
    assert len(result.output.strip().splitlines()) == 1


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_heat_is_one_clear_sentence(name, tmp_path):
    step, words = WRONG[name]
    says(tmp_path, (JUICE, WARM, step, KEEP), words)


@pytest.mark.parametrize("name", WRONG_FILLS)
def test_a_wrong_fill_is_one_clear_sentence(name, tmp_path):
    fill, words = WRONG_FILLS[name]
    says(tmp_path, (JUICE, f"fill = {{ {fill} }}", KEEP), words)


def test_heat_before_the_fill_is_one_clear_sentence(tmp_path):
    says(tmp_path, (JUICE, bath(85, 20), WARM, KEEP), "put a fill step before it")
    says(tmp_path, (JUICE, AIR, WARM, KEEP), "put a fill step before it")


def test_no_heat_at_all_is_one_clear_sentence(tmp_path):
    says(tmp_path, (JUICE, 'fill = { container = "jar 250 ml" }', KEEP), "add a heat step")


@pytest.mark.parametrize("option", [("--at", "88"), ("--jars", "3")])  # fmt: skip
def test_a_wrong_option_ends_with_status_2(option, tmp_path):
    path = write(tmp_path / "r.toml", JUICE, *POUCHES[1:])
    result = command("heat", path, *option)
    assert result.exit_code == 2
    assert "Traceback" not in result.output
