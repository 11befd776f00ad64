"""Drying: the curve from fresh to dry, the step, its paces, and what a recipe is held against."""

from __future__ import annotations

import json

import numpy as np
import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from typer.testing import CliRunner

import stillroom as sr
from stillroom import tables
from stillroom.assess.dry.recipes import dry
from stillroom.cli import app
from stillroom.physics import air, diffusion, drying
from stillroom.product import properties
from stillroom.product.drying import FAST, FIRST_ROOT, MIDDLE, SLOW
from stillroom.product.foods import food
from stillroom.product.mixture import Mixture, of_kind
from stillroom.product.sorption import isotherm_of_class, sorption_of, water_activity_of

APPLES = 'add = { "apple, raw, with skin" = "10 kg" }'
BEEF = 'add = { "beef, top round, lean, raw" = "5 kg", "salt" = "100 g" }'
PIECE = 'piece = { shape = "slab", thickness = "6 mm" }'
WARM = f'temperature = "58 degC", {PIECE}'
KEEP = 'keep = { temperature = "20 degC", for = "6 months" }'


def recipe(*steps: str, head: str = "") -> sr.Recipe:
    text = f'name = "x"\n{head}\n' + "".join(f"[[steps]]\n{s}\n" for s in steps)
    return sr.parse_recipe(text, "f.toml")


def dried(*steps: str, head: str = ""):
    return dry(recipe(*steps, head=head))


# --- one curve from fresh to dry --------------------------------------------------------------

amounts = st.fixed_dictionaries(
    {
        name: st.floats(0, 100)
        for name in ("sucrose", "fructose", "glucose", "NaCl", "starch", "fibre", "protein",
                     "citric", "fat", "lactose", "sorbitol")
    }
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(amounts)
def test_water_activity_rises_with_water_and_never_jumps(parts):
    solids = Mixture.of(parts)
    if solids.total_kg - solids.kg("fat") < 0.005:
        return
    log = np.linspace(np.log(0.02), np.log(8), 300)
    finer = np.linspace(np.log(0.02), np.log(8), 599)
    dry_kg = solids.total_kg - solids.kg("fat")
    a_w, fine = (
        properties.water_activity(solids.with_amounts(water=np.exp(x) * dry_kg))
        for x in (log, finer)
    )
    known = np.isfinite(a_w)
    assert np.all(np.diff(known.astype(int)) >= 0)  # unknown at the driest end only
    assert np.all(np.diff(a_w[known]) > -1e-6)
    jump, finer_jump = np.nanmax(np.diff(a_w)), np.nanmax(np.diff(fine))
    assert finer_jump < 0.75 * jump or finer_jump < 0.004  # halving the step halves the rise


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("apple, raw, with skin", "sugar-rich dried fruit"),
        ("potato, raw", "starchy or fibrous dried vegetable, potato flake"),
        ("carrot, raw", "starchy or fibrous dried vegetable, potato flake"),
        ("beef, top round, lean, raw", "lean meat, unsalted, dried"),
    ],
)
def test_an_isotherm_of_its_own_meets_the_solution_without_a_jump(name, kind):
    own = isotherm_of_class(kind)
    joined = sorption_of(food(name).mixture(), isotherm=own)
    alone = sorption_of(food(name).mixture())
    inside = np.linspace(own.lowest, 0.88, 30)
    np.testing.assert_allclose(joined.moisture_at(inside), own.moisture(inside), rtol=0.01)
    wet = np.linspace(0.97, 0.985, 10)
    np.testing.assert_allclose(joined.moisture_at(wet), alone.moisture_at(wet), rtol=1e-9)
    steps = np.diff(np.log(joined.moisture_at(np.linspace(0.05, 0.985, 2000))))
    own_steps = np.diff(np.log(alone.moisture_at(np.linspace(0.05, 0.985, 2000))))
    assert np.all(steps > 0)
    assert steps.max() < 1.2 * own_steps.max()  # nowhere steeper than the solution at its wet end


def test_an_isotherm_that_cannot_belong_to_the_food_is_refused():
    own = isotherm_of_class("starchy or fibrous dried vegetable, potato flake")
    wrong = type(own)(**{**vars(own), "kg_per_kg": 100.0})
    with pytest.raises(sr.InputError, match="does not fit what the food is made of"):
        sorption_of(food("potato, raw").mixture(), isotherm=wrong)


def test_moisture_and_water_activity_are_inverse_on_every_sample():
    parts = {"water": [50, 90], "sucrose": [20, 5], "starch": [10, 5], "NaCl": [0, 2]}
    curve = sorption_of(Mixture.of(parts))
    wanted = np.array([0.3, 0.9])
    np.testing.assert_allclose(
        curve.water_activity_at(curve.moisture_at(wanted)), wanted, atol=1e-9
    )
    exact = properties.water_activity(Mixture.of(parts))
    there = curve.water_activity_at(Mixture.of(parts).kg("water") / curve.dry_kg)
    np.testing.assert_allclose(there, exact, atol=1e-6)


def test_dried_fruit_holds_the_water_that_storage_practice_asks_for():
    """Container Handbook, Table 21: water of dried fruit and the humidity it is stored at."""
    known = {"apples, dried": "apple, raw, with skin", "apricots, dried": "apricot, raw"}
    for r in tables.rows("dry_storage"):
        if r["food"] not in known:
            continue
        curve = sorption_of(food(known[r["food"]]).mixture())
        humidity = np.linspace(r["rh_min_percent"], r["rh_max_percent"], 5) / 100
        X = curve.moisture_at(humidity)
        wet = 100 * X / (1 + X)
        assert wet.min() < r["moisture_max_percent"] + 3
        assert wet.max() > r["moisture_min_percent"] - 3


def test_a_sealed_dry_food_reads_higher_when_it_warms_and_a_wet_one_does_not():
    flakes = Mixture.of({"water": 6, "starch": 80, "protein": 10, "fibre": 4})
    cold, warm = (float(properties.water_activity(flakes, t)) for t in (5.0, 38.0))
    assert warm > 1.2 * cold
    syrup = Mixture.of({"water": 30, "sucrose": 70})
    assert float(properties.water_activity(syrup, 38.0)) == pytest.approx(
        float(properties.water_activity(syrup, 5.0)), abs=1e-6
    )


def test_the_recipe_may_bring_its_own_isotherm():
    head = '[isotherm]\nlike = "starchy or fibrous dried vegetable, potato flake"'
    steps = ('add = { "potato, raw" = "5 kg" }', "dry = { until_water_activity = 0.4 }")
    own, plain = (sr.run(recipe(*steps, head=h)).final.mixture for h in (head, ""))
    assert float(own.kg("water")) < 0.8 * float(plain.kg("water"))
    curve = isotherm_of_class("starchy or fibrous dried vegetable, potato flake")
    assert float(water_activity_of(own, isotherm=curve)) == pytest.approx(0.4, abs=2e-3)
    judged = sr.assess(recipe(*steps, KEEP, head=head))
    assert judged.properties["water_activity"].value == pytest.approx(0.4, abs=2e-3)


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ('like = "gravel"', "no isotherm is on file"),
        ('form = "gab"', "gab takes the constants xm, C, K"),
        ('form = "line"\nconstants = { a = 1.0 }', "form 'line' is not one of"),
        ("unit = \"g/g\"", "say like"),
        ('form = "bet"\nconstants = { xm = 0.05, C = 10.0 }\nfrom = 0.6\nto = 0.4', "begins at a lower"),
    ],
)  # fmt: skip
def test_a_wrong_isotherm_is_one_clear_sentence(table, message):
    with pytest.raises(sr.InputError, match=message):
        recipe(APPLES, "dry = { until_water_activity = 0.5 }", head=f"[isotherm]\n{table}")


# --- paces ------------------------------------------------------------------------------------


@settings(max_examples=50, deadline=None)
@given(
    st.floats(0.3, 8), st.floats(0.05, 5), st.floats(0.02, 3), st.floats(0.0, 0.1),
    st.floats(0.02, 0.98),
)  # fmt: skip
def test_the_course_solves_its_own_equation_and_its_inverse(x0, surface, inner, xe, part):
    hours = np.array([part * 20])
    there = drying.moisture_while_drying(hours, x0, surface, inner, xe)
    solved = solve_ivp(
        lambda _, x: -np.minimum(surface, inner * (x - xe)), (0, float(hours[0])), [x0],
        rtol=1e-8, atol=1e-10,
    )  # fmt: skip
    assert float(there[0]) == pytest.approx(float(solved.y[0, -1]), abs=2e-5)
    if float(there[0]) > xe + 1e-6 * x0:
        back = drying.hours_to_dry(x0, there, surface, inner, xe)
        assert float(back[0]) == pytest.approx(float(hours[0]), rel=1e-5, abs=1e-6)


@pytest.mark.parametrize(
    ("shape", "series"), [("slab", "slab"), ("cylinder", "infinite_cylinder"), ("sphere", "sphere")]
)
def test_the_inside_dries_like_the_first_term_of_ficks_series(shape, series):
    """Crank 1975: late in the series only its first term is left; the intercept is left out."""
    fo = np.array([0.4, 0.8])
    left = 1 - diffusion.uptake_fraction(fo, series)
    slope = -np.log(left[1] / left[0]) / 0.4
    k = drying.inner_drying_per_h(1e-9, 1e-3, FIRST_ROOT[shape]) * 1e-6 / 1e-9 / 3600
    assert float(k) == pytest.approx(slope, rel=1e-3)
    assert np.all(np.exp(-k * fo) > left)  # dries later than Fick: the careful side


def test_a_wet_surface_dries_as_its_heat_allows():
    rate = float(drying.surface_drying_kg_per_m2_h(60.0, 28.99, 25.0))
    assert rate == pytest.approx(25 * (60 - 28.99) * 3600 / 2.4320e6, rel=2e-3)


def test_the_air_of_the_dryer_agrees_with_an_independent_library():
    """psychrolib (ASHRAE 2017) for room air that is heated, at 700 m."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    j = dried(
        APPLES,
        f'dry = {{ until_water_activity = 0.6, {WARM}, room = {{ temperature = "18 degC", '
        'humidity = "70 %" } }',
        head='made_at = { altitude = "700 m" }',
    )
    pressure = psychrolib.GetStandardAtmPressure(700)
    ratio = psychrolib.GetHumRatioFromRelHum(18.0, 0.7, pressure)
    found = j.dryings[0].drying.air
    assert found.relative_humidity == pytest.approx(
        psychrolib.GetRelHumFromHumRatio(58.0, ratio, pressure), rel=5e-3
    )
    assert found.wet_bulb_C == pytest.approx(
        psychrolib.GetTWetBulbFromHumRatio(58.0, ratio, pressure), abs=0.05
    )
    assert air.air_humidity_ratio(18.0, 0.7, pressure / 1000) == pytest.approx(ratio, rel=5e-3)


# --- the step ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "end", ["until_water_activity = 0.6", 'until_water = "20 %"', 'until_mass = "2.2 kg"',
            f'for = "6 h", {WARM}'],
)  # fmt: skip
def test_only_water_leaves(end):
    before, after = sr.run(recipe(APPLES, f"dry = {{ {end} }}")).stages
    for name in (n for n in of_kind("sugar", "acid", "ion", "polymer", "solid")):
        assert float(after.mixture.kg(name)) == pytest.approx(float(before.mixture.kg(name)))
    assert float(after.mixture.strong_charge_mol) == pytest.approx(
        float(before.mixture.strong_charge_mol)
    )
    lost = float(before.mixture.total_kg - after.mixture.total_kg)
    assert lost == pytest.approx(float(before.mixture.kg("water") - after.mixture.kg("water")))
    assert lost > 0


def test_it_ends_where_it_is_told_to():
    end = sr.run(recipe(APPLES, "dry = { until_water_activity = 0.6 }")).final.mixture
    assert float(properties.water_activity(end)) == pytest.approx(0.6, abs=1e-3)
    end = sr.run(recipe(APPLES, 'dry = { until_water = "20 %" }')).final.mixture
    assert float(end.kg("water") / end.total_kg) == pytest.approx(0.2)
    end = sr.run(recipe(APPLES, 'dry = { until_mass = "2.2 kg" }')).final.mixture
    assert float(end.total_kg) == pytest.approx(2.2)


def test_a_measured_end_holds_for_every_lot_and_a_weight_does_not():
    by_meter, by_scale = (
        sr.assess(recipe(APPLES, f"dry = {{ {end} }}", KEEP)).properties["water_activity"]
        for end in ("until_water_activity = 0.6", 'until_mass = "1.83 kg"')
    )
    assert by_meter.high - by_meter.low < 0.07
    assert by_scale.high - by_scale.low > 0.2


@settings(max_examples=6, deadline=None)
@given(st.floats(0.3, 0.9), st.floats(0.3, 0.9))
def test_a_drier_end_takes_longer_and_leaves_less(one, other):
    low, high = sorted((one, other))
    first, second = (
        dried(APPLES, f"dry = {{ until_water_activity = {a:.4f}, {WARM} }}").dryings[0].drying
        for a in (low, high)
    )
    assert first.end_kg <= second.end_kg
    assert np.all(first.hours >= second.hours)
    assert first.heat_kWh[0] >= second.heat_kWh[0]


def test_apple_rings_take_the_hours_of_home_practice():
    """Six to twelve hours at 57 to 60 °C in a home dryer (memory of extension tables)."""
    hours = (
        dried(APPLES, f"dry = {{ until_water_activity = 0.55, {WARM} }}").dryings[0].drying.hours
    )
    assert hours[FAST] < 6 < 12 < hours[SLOW]
    assert 4 < hours[MIDDLE] < 15


def test_a_thickness_enters_by_more_than_itself_and_one_face_doubles_it():
    def hours(more: str) -> float:
        j = dried(
            APPLES, f'dry = {{ until_water_activity = 0.6, temperature = "58 degC", {more} }}'
        )
        return float(j.dryings[0].drying.hours[MIDDLE])

    thin = hours('piece = { shape = "slab", thickness = "5 mm" }')
    thick = hours('piece = { shape = "slab", thickness = "10 mm" }')
    assert 2 < thick / thin <= 4.01
    one_face = hours('piece = { shape = "slab", thickness = "5 mm" }, faces = 1')
    assert one_face == pytest.approx(thick)


def test_weighings_on_the_way_set_the_pace():
    plain = dried(APPLES, f"dry = {{ until_water_activity = 0.6, {WARM} }}").dryings[0].drying
    solids = float(plain.curve.dry_kg)
    kg = [solids * (1 + float(plain.moisture_after(h / 2))) for h in (2, 4, 6)]
    read = ", ".join(f'"{h} h" = "{m:.4f} kg"' for h, m in zip((2, 4, 6), kg, strict=True))
    slower = dried(
        APPLES, f"dry = {{ until_water_activity = 0.6, {WARM}, weights = {{ {read} }} }}"
    ).dryings[0].drying  # fmt: skip
    assert slower.hours[MIDDLE] == pytest.approx(2 * plain.hours[MIDDLE], rel=0.01)
    assert slower.hours[SLOW] / slower.hours[FAST] < 1.3 < plain.hours[SLOW] / plain.hours[FAST]
    alone = dried(
        APPLES, f"dry = {{ until_water_activity = 0.6, weights = {{ {read} }} }}"
    ).dryings[0].drying  # fmt: skip
    assert 0 < alone.hours[MIDDLE] < 3 * slower.hours[MIDDLE]


@pytest.mark.parametrize(
    ("steps", "message"),
    [
        ([APPLES, "dry = {}"], "say where drying ends"),
        ([APPLES, 'dry = { until_water = "20 %", until_mass = "2 kg" }'], "one end point only"),
        ([APPLES, 'dry = { for = "6 h" }'], "say where drying ends"),
        ([APPLES, 'dry = { until_water = "95 %" }'], "drier already"),
        ([APPLES, 'dry = { until_mass = "900 g" }'], "less than its dry matter alone"),
        ([APPLES, 'dry = { until_water = "20 %", humidity = "20 %" }'], "temperature too"),
        ([APPLES, f'dry = {{ until_water_activity = 0.3, humidity = "60 %", {WARM} }}'],
         "cannot be dried further"),
        ([APPLES, 'dry = { until_water = "20 %", weights = { "2 h" = "11 kg" } }'], "cannot be"),
        ([APPLES, 'dry = { until_water = "20 %", temperature = "10 degC", room = { '
          'temperature = "30 degC", humidity = "80 %" } }'], "no drying"),
        ([APPLES, 'fill = { container = "jar 1 l" }', 'dry = { until_water = "20 %" }'],
         "put the dry step before fill"),
        ([APPLES, 'dry = { until_water = "20 %", faces = 1 }'], "for a slab"),
        ([APPLES, 'cook = { to = "72 degC", loss = "60 %", humidity = "90 %", in = "steam" }'],
         "wet by themselves"),
        (['add = { "salt" = "1 kg", "water" = "10 g" }', 'cook = { to = "72 degC", loss = "30 %" }'],
         "more water than it holds"),
    ],
)  # fmt: skip
def test_a_drying_that_cannot_be_is_one_clear_sentence(steps, message):
    with pytest.raises(sr.InputError, match=message):
        sr.run(recipe(*steps))


@pytest.mark.parametrize(
    "end",
    [
        'for = "1 min", temperature = "100 degC", piece = { shape = "slab", thickness = "0.5 mm" }',
        'for = "9 d", temperature = "90 degC", piece = { shape = "sphere", diameter = "1 mm" }',
        "until_water_activity = 0.05",
        'until_water = "0.6 %"',
    ],
)
@pytest.mark.parametrize("what", ["potato, raw", "honey", "milk, whole", "lemon juice"])
def test_hot_thin_and_bone_dry_give_numbers(what, end):
    try:
        judged = sr.assess(recipe(f'add = {{ "{what}" = "1 kg" }}', f"dry = {{ {end} }}", KEEP))
    except sr.InputError:
        return  # said in one sentence
    for e in judged.properties.values():
        assert np.isfinite([e.low, e.value, e.high]).all()
        assert e.low <= e.value <= e.high


# --- what it is held against ------------------------------------------------------------------


def verdicts(*steps: str, head: str = "") -> dict[str, str]:
    return {f.subject: f.verdict for f in dried(*steps, head=head).findings}


@pytest.mark.parametrize(
    ("cook", "verdict"),
    [
        ("", "fail"),
        ('cook = { to = "72 degC", in = "water" }', "pass"),
        ('cook = { to = "72 degC", humidity = "92 %" }', "pass"),
        ('cook = { to = "72 degC" }', "cannot tell"),
        ('cook = { to = "65 degC", in = "steam" }', "fail"),
    ],
)
def test_jerky_is_heated_before_it_is_dried(cook, verdict):
    """USDA FSIS jerky compliance guidance: 71 °C for meat, in humid air, before drying."""
    steps = [BEEF, *([cook] if cook else []), f"dry = {{ until_water_activity = 0.7, {WARM} }}"]
    found = verdicts(*steps, head='kind = "jerky"\nmarket = "US"')
    assert found["heat before drying meat"] == verdict
    judged = sr.assess(recipe(*steps, KEEP, head='kind = "jerky"\nmarket = "US"'))
    assert (judged.exit_status == 1) == (verdict == "fail")


def test_poultry_asks_for_more_heat_and_cold_dried_ham_is_not_jerky():
    turkey = 'add = { "turkey, meat only, raw" = "3 kg", "salt" = "60 g" }'
    found = verdicts(
        turkey, 'cook = { to = "72 degC", in = "steam" }',
        f"dry = {{ until_water_activity = 0.7, {WARM} }}",
    )  # fmt: skip
    assert found["heat before drying poultry"] == "fail"
    ham = verdicts(
        BEEF, 'dry = { until_water_activity = 0.88, temperature = "14 degC", humidity = "70 %" }'
    )
    assert ham["heat before drying meat"] == "cannot tell"


def test_hot_air_may_set_a_skin_and_uneven_pieces_are_to_be_conditioned():
    hot = f'dry = {{ until_water_activity = 0.6, temperature = "75 degC", {PIECE}'
    found = verdicts(APPLES, hot + " }")
    assert found["step 2, dry skin"] == "cannot tell"
    assert found["step 2, wettest piece"] == "cannot tell"
    assert verdicts(APPLES, hot + ', condition = "8 days" }')["step 2, conditioning"] == "pass"
    short = verdicts(APPLES, hot + ', condition = "1 day" }')
    assert short["step 2, conditioning"] == "cannot tell"


def test_without_piece_and_air_the_wettest_piece_is_not_passed_in_silence():
    assert (
        verdicts(APPLES, "dry = { until_water_activity = 0.6 }")["step 2, wettest piece"]
        == "cannot tell"
    )


def test_the_wettest_piece_decides_until_it_is_conditioned():
    uneven = f'dry = {{ until_water_activity = 0.6, {WARM}, thickest = "40 %" }}'
    even = uneven.replace('thickest = "40 %"', 'thickest = "40 %", condition = "8 days"')
    first, second = (
        sr.assess(recipe(APPLES, d, KEEP)).properties["water_activity"] for d in (uneven, even)
    )
    assert first.value == pytest.approx(second.value)
    assert first.high > second.high + 0.05


@pytest.mark.parametrize(("given", "verdict"), [("1 h", "fail"), ("8 h", "cannot tell"), ("60 h", "pass")])  # fmt: skip
def test_a_clock_is_held_against_the_paces(given, verdict):
    found = verdicts(APPLES, f'dry = {{ until_water_activity = 0.6, for = "{given}", {WARM} }}')
    assert found["step 2, time to dry"] == verdict


def test_a_time_alone_leaves_the_end_open_to_the_slow_pace():
    judged = sr.assess(recipe(APPLES, f'dry = {{ for = "8 h", {WARM} }}', KEEP))
    assert judged.properties["water_activity"].high > 0.9
    assert judged.exit_status == 3


# --- command ----------------------------------------------------------------------------------


def command(tmp_path, text: str, *more: str):
    path = tmp_path / "r.toml"
    path.write_text(text, "utf-8")
    return CliRunner().invoke(app, ["dry", str(path), *more])


TEXT = (
    'name = "Rings"\n[[steps]]\n' + APPLES
    + f'\n[[steps]]\ndry = {{ until_water_activity = 0.55, {WARM}, condition = "8 days" }}\n'
)  # fmt: skip


def test_the_command_tells_weight_hours_and_the_wettest_piece(tmp_path):
    result = command(tmp_path, TEXT)
    assert result.exit_code == 0, result.output
    for words in ("weight at the end", "wettest piece", "kWh", "Drying kills little"):
        assert words in result.output
    told = json.loads(command(tmp_path, TEXT, "--json").output)
    one = told["dryings"][0]
    assert one["end_kg"]["value"] == pytest.approx(one["start_kg"] - one["water_removed_kg"])
    assert one["curve"]["water_activity"][0] > 0.95
    assert told["findings"]


def test_the_figure_is_drawn_and_a_wrong_one_refused(tmp_path):
    assert command(tmp_path, TEXT, "--plot", str(tmp_path / "d.svg")).exit_code == 0
    assert "mean of the batch" in (tmp_path / "d.svg").read_text("utf-8")
    assert command(tmp_path, TEXT, "--plot", str(tmp_path / "d.txt")).exit_code == 2
    no_pace = TEXT.replace(f"{WARM}, ", "")
    result = command(tmp_path, no_pace, "--plot", str(tmp_path / "e.svg"))
    assert (result.exit_code, "how fast it dries" in " ".join(result.output.split())) == (2, True)


def test_nothing_dried_is_said(tmp_path):
    result = command(tmp_path, f'name = "x"\n[[steps]]\n{APPLES}\n')
    assert result.exit_code == 2
    assert "nothing is dried" in result.output
