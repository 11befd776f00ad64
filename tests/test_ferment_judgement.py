"""The judgement of ferments: salt, the race, the end, what is told of what cannot be; the command."""

from __future__ import annotations

import json

import numpy as np
import pytest
from typer.testing import CliRunner

import stillroom as sr
from stillroom.assess.ferment import race
from stillroom.cli import app
from stillroom.labels import duration
from stillroom.product import fermenting


def test_readings_that_stay_high_never_pass():
    high = ", ".join(f'"{d} d" = 4.7' for d in (2, 5, 10, 15, 21))
    read = f'{{ temperature = "20 degC", for = "21 d", starter = true, ph = {{ {high} }} }}'
    assert sr.ferment(recipe(ferment=read)).exit_status != 0
    assert sr.assess(recipe(ferment=read)).as_declared is not True


def test_a_token_ferment_is_no_ferment():
    token = sr.run(recipe(ferment='{ temperature = "0 degC", for = "1 min" }'))
    assert not token.soured


def test_a_late_reading_says_little_of_the_first_days():
    steps = (
        f'{{ temperature = "20 degC", for = "28 d", ph = {{ {read} }} }}'
        for read in ('"21 d" = 3.6', '"2 d" = 4.9, "3 d" = 4.1')
    )
    late, early = (sr.ferment(recipe(ferment=s)).ferments[0].hours_to[4.6] for s in steps)
    assert late.high - late.low > 2 * (early.high - early.low)


def test_a_minute_is_too_short_not_too_cold():
    judged = sr.ferment(recipe(ferment='{ temperature = "20 degC", for = "1 h" }'))
    assert judged.ferments[0].stopped_by == "time"


def test_nothing_ferments_after_heat_without_a_starter():
    text = """
        name = "test"
        [[steps]]
        add = { "cabbage" = "10 kg", "salt" = "230 g" }
        [[steps]]
        boil = { for = "10 min", evaporation = "1 kg/h" }
        [[steps]]
        ferment = { temperature = "20 degC", for = "30 d" }
        """
    assert verdicts(sr.ferment(sr.parse_recipe(text)))["flora"] == "fail"
    started = text.replace('"30 d"', '"30 d", starter = true')
    assert "flora" not in verdicts(sr.ferment(sr.parse_recipe(started)))


def test_a_closed_pack_that_ferments_is_told_and_no_vinegar_comes_from_juice():
    closed = """
        name = "test"
        [[steps]]
        add = { "cabbage" = "10 kg", "salt" = "230 g" }
        [[steps]]
        fill = { container = "jar 1 l" }
        [[steps]]
        ferment = { temperature = "20 degC", for = "30 d", starter = true }
        """
    assert verdicts(sr.ferment(sr.parse_recipe(closed)))["gas in a closed pack"] == "fail"
    juice = """
        name = "test"
        [[steps]]
        add = { "apple juice, unsweetened" = "10 kg" }
        [[steps]]
        ferment = { kind = "acetic", temperature = "25 degC", for = "30 d" }
        """
    assert verdicts(sr.ferment(sr.parse_recipe(juice)))["strength"] == "fail"


def recipe(salt="250 g", ferment='{ temperature = "20 degC", for = "28 d" }', vegetable="cabbage"):
    return sr.parse_recipe(
        f"""
        name = "test"
        [[steps]]
        add = {{ "{vegetable}" = "10 kg", "salt" = "{salt}" }}
        [[steps]]
        ferment = {ferment}
        [[steps]]
        keep = {{ temperature = "4 degC", for = "3 months", pack = "airtight" }}
        """
    )


def verdicts(judged) -> dict[str, str]:
    return {f.subject.split(": ")[1]: f.verdict for f in judged.findings}


def test_a_ferment_of_its_own_flora_asks_for_a_reading_and_a_starter_does_not():
    wild = sr.ferment(recipe())
    assert verdicts(wild)["souring in time"] == "cannot tell"
    assert wild.exit_status == 3
    started = sr.ferment(
        recipe(ferment='{ temperature = "20 degC", for = "28 d", starter = true }')
    )
    assert verdicts(started)["souring in time"] == "pass"
    assert started.exit_status == 0


@pytest.mark.parametrize(
    ("day_3", "verdict"), [("4.1", "pass"), ("4.4", "cannot tell"), ("5.4", "fail")]
)
def test_a_reading_decides_the_race(day_3, verdict):
    read = f'{{ temperature = "20 degC", for = "28 d", ph = {{ "2 d" = 5.4, "3 d" = {day_3} }} }}'
    assert verdicts(sr.ferment(recipe(ferment=read)))["souring in time"] == verdict


@pytest.mark.parametrize(
    ("salt", "verdict"),
    [("60 g", "fail"), ("170 g", "cannot tell"), ("250 g", "pass"), ("900 g", "cannot tell")],
)
def test_salt_is_held_against_practice(salt, verdict):
    assert verdicts(sr.ferment(recipe(salt=salt)))["salt"] == verdict


def test_too_little_salt_fails_for_the_salt_and_too_little_sugar_for_the_sugar():
    started = '{ temperature = "20 degC", for = "28 d", starter = true }'
    unsalted = sr.assess(recipe(salt="60 g"))
    assert unsalted.as_declared is False
    assert "too little salt" in unsalted.reason
    greens = sr.assess(recipe(vegetable="spinach", ferment=started))
    assert greens.as_declared is False
    assert "sugar" in greens.reason
    assert "used up" in greens.reason


def test_sugar_added_to_poor_greens_makes_them_sour():
    text = """
        name = "test"
        [[steps]]
        add = { "spinach" = "10 kg", "salt" = "250 g", "sugar, white" = "250 g" }
        [[steps]]
        ferment = { temperature = "20 degC", for = "28 d", starter = true }
        """
    found = verdicts(sr.ferment(sr.parse_recipe(text)))
    assert found["acid at the end"] == "pass"


def test_no_ferment_where_nothing_grows():
    cold_and_salt = sr.ferment(recipe(salt="3 kg"))
    assert cold_and_salt.ferments[0].stopped_by == "flora"
    assert verdicts(cold_and_salt)["souring in time"] == "fail"
    hot = sr.ferment(recipe(ferment='{ temperature = "55 degC", for = "7 d" }'))
    assert hot.ferments[0].stopped_by == "flora"


def test_a_ferment_that_just_meets_the_rule_is_worth_the_rule():

    time_h = np.linspace(0, 72, 145)
    ph = np.linspace(race.RULE_START_PH, race.SOUR_PH, time_h.size)[:, None]
    water = sr.Mixture.of({"water": np.full((time_h.size, 1), 900.0)})
    course = fermenting.Course(time_h, water, ph, 0 * ph, np.ones((2, time_h.size, 1)))
    worth = race.worth_hours(course, race.RULE_C, race.RULE_WATER_ACTIVITY)
    assert worth == pytest.approx(72, rel=0.02)
    assert race.worth_hours(course, 10.0, race.RULE_WATER_ACTIVITY)[0] < 40
    assert race.worth_hours(course, race.RULE_C, 0.96)[0] < 40
    assert race.worth_hours(course, 30.0, race.RULE_WATER_ACTIVITY)[0] > 120


def test_limits_rule_over_a_positive_rate():
    """Staphylococcus has a set without pH; below its limit it must not grow all the same."""

    time_h = np.linspace(0, 72, 73)
    ph = np.full((73, 2), 3.6)
    water = sr.Mixture.of({"water": np.full((73, 2), 900.0)})
    course = fermenting.Course(time_h, water, ph, 0 * ph, np.ones((2, 73, 2)))
    assert all(r.alone == 0 for r in race.runners(course, 25.0, 0.98))


def test_listeria_races_in_salt_in_which_it_was_seen_to_grow():
    """EU guidance on Listeria: growth to 16 % salt, a water activity of 0.88 (13 % here)."""
    time_h = np.linspace(0, 240, 73)
    water = sr.Mixture.of({"water": np.full((73, 2), 900.0)})
    course = fermenting.Course(time_h, water, np.full((73, 2), 6.0), time_h, np.ones((2, 73, 2)))
    grown = {r.organism: r.alone for r in race.runners(course, 30.0, 0.895)}
    assert grown["Listeria monocytogenes"] > 0
    assert grown["Salmonella spp."] == 0


def test_a_flora_that_does_not_grow_leaves_room():
    """At 45 °C no flora of vegetables grows: what could grow is not held by it."""
    hot = sr.ferment(recipe(ferment='{ temperature = "45 degC", for = "3 d" }')).ferments[0]
    assert hot.stopped_by == "flora"
    assert max(r.beside for r in hot.runners) > 6


def test_two_stages_count_as_one_ferment():
    text = """
        name = "test"
        [[steps]]
        add = { "cabbage" = "10 kg", "salt" = "230 g" }
        [[steps]]
        ferment = { temperature = "20 degC", for = "36 h" }
        [[steps]]
        ferment = { temperature = "20 degC", for = "30 d" }
        """
    two = sr.ferment(sr.parse_recipe(text))
    one = sr.ferment(recipe(salt="230 g", ferment='{ temperature = "20 degC", for = "756 h" }'))
    assert two.ferments[-1].end.value == pytest.approx(one.ferments[0].end.value, abs=0.03)
    hours = [j.ferments[-1].hours_to[4.6].value for j in (one, two)]
    assert hours[1] == pytest.approx(hours[0], rel=0.05)
    worth = [j.ferments[-1].worth_h.value for j in (one, two)]
    assert worth[1] == pytest.approx(worth[0], rel=0.08)
    grown = [[r.beside for r in j.ferments[-1].runners] for j in (one, two)]
    assert grown[1] == pytest.approx(grown[0], abs=0.6)
    assert [f.subject for f in two.findings if "salt" in f.subject] == ["ferment, step 2: salt"]


def test_preservative_in_what_is_to_ferment_is_told():
    text = """
        name = "test"
        [[steps]]
        add = { "cabbage" = "10 kg", "salt" = "230 g", "potassium sorbate" = "20 g" }
        [[steps]]
        ferment = { temperature = "20 degC", for = "30 d" }
        """
    assert verdicts(sr.ferment(sr.parse_recipe(text)))["preservative"] == "cannot tell"


def test_the_direct_way_reaches_the_same_ph_with_more_acid():
    fermented, vinegar, design = sr.ferment(recipe()).ways
    assert vinegar.content.ph == pytest.approx(fermented.content.ph, abs=0.03)
    assert vinegar.content.titratable_acidity > fermented.content.titratable_acidity
    assert vinegar.content.sugar > fermented.content.sugar
    assert design.content.ph == pytest.approx(4.2, abs=0.03)
    assert design.added_kg_per_kg < vinegar.added_kg_per_kg


def test_no_ferment_is_a_sentence():
    with pytest.raises(sr.InputError, match="nothing ferments"):
        sr.ferment(sr.read_recipe("kitchen/damson-spread.toml"))


def test_fermented_food_is_judged_by_its_own_acid():
    started = '{ temperature = "20 degC", for = "42 d", starter = true }'
    judged = sr.assess(recipe(ferment=started), market="US")
    assert judged.as_declared is True
    assert judged.properties["ph"].model_error == pytest.approx(0.3)
    assert judged.properties["ph"].value == pytest.approx(judged.ferments[0].end.value, abs=0.05)


def test_a_slow_and_a_fast_end_hold_the_estimate():
    f = sr.ferment(recipe()).ferments[0]
    assert np.all(f.course.ph[:, 2] <= f.course.ph[:, 1] + 0.02)
    span = f.hours_to[4.6]
    assert span.low < span.value < span.high


TWICE = """
name = "test"
[[steps]]
add = { "cabbage" = "1 kg", "salt" = "23 g" }
[[steps]]
ferment = { temperature = "20 degC", for = "20 d", starter = true }
[[steps]]
add = { "cabbage" = "20 kg" }
[[steps]]
ferment = { temperature = "12 degC", for = "40 d" }
"""


def test_fresh_food_between_two_ferments_is_asked_its_salt_and_sours_once_more():
    judged = sr.ferment(sr.parse_recipe(TWICE))
    salt = {f.subject: f.verdict for f in judged.findings if f.subject.endswith("salt")}
    assert salt == {"ferment, step 2: salt": "pass", "ferment, step 4: salt": "fail"}
    first, second = judged.ferments
    assert second.hours_to[4.6].value > 1.5 * first.hours_to[4.6].value


def test_a_measured_ph_stands_for_the_end_of_the_ferment():
    text = TWICE.partition('[[steps]]\nadd = { "cabbage" = "20 kg"')[0]
    told = [
        verdicts(sr.ferment(sr.parse_recipe(f"{text}\n[measured]\nph = {ph}\n")))
        for ph in (3.6, 5.5)
    ]
    assert [v["acid at the end"] for v in told] == ["pass", "fail"]


def test_a_ferment_in_the_cold_from_the_start_is_not_passed_by_a_rule_made_for_20_degrees():
    cold = recipe(ferment='{ temperature = "4 degC", for = "120 d" }')
    assert verdicts(sr.ferment(cold))["souring in time"] == "cannot tell"


def test_an_alcoholic_ferment_without_sugar_does_not_pass():
    meat = """
        name = "test"
        [[steps]]
        add = { "spinach" = "10 kg" }
        [[steps]]
        ferment = { kind = "alcoholic", temperature = "20 degC", for = "10 d", starter = true }
        """
    assert verdicts(sr.ferment(sr.parse_recipe(meat)))["alcohol"] == "fail"


@pytest.mark.parametrize(
    ("name", "status", "sour_line"), [("cellar-kraut", 0, True), ("windfall-vinegar", 0, False)]
)
def test_the_command_draws_and_draws_the_same_again(tmp_path, name, status, sour_line):
    drawn = []
    for n in range(2):
        path = tmp_path / f"{n}.svg"
        result = CliRunner().invoke(app, ["ferment", f"kitchen/{name}.toml", "--plot", str(path)])
        assert result.exit_code == status
        drawn.append(path.read_bytes())
    assert drawn[0] == drawn[1]
    figure = drawn[0].decode()
    assert "at the end" in figure
    assert ("pH 4.6" in figure) == sour_line


def test_the_command_prints_what_the_library_says():
    path = "kitchen/barrel-cucumbers.toml"
    result = CliRunner().invoke(app, ["ferment", path, "--json"])
    told, judged = json.loads(result.stdout), sr.ferment(sr.read_recipe(path))
    assert told["format"] == 1
    assert told["ferments"][-1]["end_ph"]["value"] == judged.ferments[-1].end.value
    assert [f["verdict"] for f in told["findings"]] == [f.verdict for f in judged.findings]


def test_a_figure_of_another_ending_is_refused_and_nothing_is_written(tmp_path):
    path = tmp_path / "kraut.doc"
    result = CliRunner().invoke(app, ["ferment", "kitchen/cellar-kraut.toml", "--plot", str(path)])
    assert result.exit_code == 2
    assert not path.exists()


# --- where nothing ferments, and what a ferment makes -----------------------------------------


def steps(*lines: str) -> sr.Recipe:
    return sr.parse_recipe('name = "test"\n' + "\n".join(f"[[steps]]\n{line}" for line in lines))


def started(temperature: str = "20 degC", time: str = "28 d") -> str:
    return f'ferment = {{ temperature = "{temperature}", for = "{time}", starter = true }}'


@pytest.mark.parametrize(
    ("what", "ferment", "reason"),
    [
        ('"honey" = "1 kg"', started(), "water activity is 0.5"),
        ('"beef" = "1 kg", "salt" = "25 g"', started(), "there is no sugar to ferment"),
        ('"beef" = "1 kg", "sugar" = "0.3 g"', started(), "there is no sugar to ferment"),
        ('"cabbage" = "1 kg", "salt" = "25 g"', started("55 degC"), "grow at 55 °C"),
        ('"cabbage" = "1 kg", "salt" = "25 g"', started(time="5 min"), "5 min at 20 °C is too"),
        ('"cabbage" = "1 kg", "vinegar" = "2 kg"', started(), "pH 3.3 from the start"),
        (
            '"cabbage" = "1 kg", "calcium hydroxide (pickling lime)" = "2 g"',
            started(),
            "it is alkaline, pH 12",
        ),
    ],
)
def test_a_ferment_in_which_nothing_happens_fails_and_says_why(what, ferment, reason):
    judged = sr.ferment(steps(f"add = {{ {what} }}", ferment))
    told = next(f for f in judged.findings if f.subject.endswith("flora"))
    assert told.verdict == "fail"
    assert told.reason.startswith("nothing ferments here: ")
    assert reason in told.reason
    assert not any("used up" in f.reason for f in judged.findings)


def test_a_little_alkaline_is_not_known():
    """Lactic bacteria of vegetables stop between pH 8 and 9 (memory)."""
    mix = '"cabbage" = "1 kg", "salt" = "25 g", "calcium hydroxide (pickling lime)" = "0.57 g"'
    judged = sr.ferment(steps(f"add = {{ {mix} }}", started()))
    assert 8 < judged.ferments[0].start.ph < 9
    assert verdicts(judged)["flora"] == "cannot tell"


def test_a_cold_kraut_that_still_sours_is_told_so():
    """At 7.5 °C the plain flora comes up when the gas formers have stopped."""
    cold = recipe(ferment='{ temperature = "7.5 degC", for = "60 d" }')
    f = sr.ferment(cold).ferments[0]
    assert f.course.cells_g_per_kg[1, -1, 0] > f.course.cells_g_per_kg[1, -5, 0]
    assert f.stopped_by == "time"


def test_what_ended_a_ferment_follows_its_course():
    """Standing cells go on to sour for weeks; only where next to no sugar goes has it ended."""
    short, long = (
        sr.ferment(recipe(ferment=f'{{ temperature = "22 degC", for = "{d} d" }}')).ferments[0]
        for d in (10, 90)
    )
    used = [f.course.mixture[:, 0].kg(*fermenting.HEXOSES) for f in (short, long)]
    assert used[0][-12] - used[0][-1] > 0.01 * used[0][0]
    assert used[1][-4] - used[1][-1] < 0.005 * used[1][0]
    assert (short.stopped_by, long.stopped_by) == ("time", "acid")


def test_times_are_printed_as_people_say_them():
    assert [duration(h) for h in (1e-4, 1 / 60, 1.5, 2, 36, 60, 87600)] == [
        "less than a minute", "1 min", "90 min", "2 h", "36 h", "2.5 days", "3650 days",
    ]  # fmt: skip


CROCK = 'add = { "cabbage" = "10 kg", "salt" = "250 g" }'


def cells(*lines: str) -> np.ndarray | None:
    return sr.run(steps(CROCK, started(time="3 d"), *lines)).stages[-1].cells_g_per_kg


def test_what_is_added_thins_the_living_flora_and_heat_ends_it():
    """Masses: 10.25 kg less the gas, and 10.25 kg of fresh food or brine with it."""
    crock = cells()
    gas = float(sr.run(steps(CROCK, started(time="3 d"))).stages[-1].mixture.total_kg)
    more = crock * gas / (gas + 10.25)
    assert cells(CROCK) == pytest.approx(more, rel=1e-6)
    brine = '{ "water" = "10 kg", "salt" = "250 g" }'
    steeped = f"steep = {{ liquor = {brine} }}"
    assert cells(steeped) == pytest.approx(more, rel=1e-6)
    assert cells(steeped, 'drain = { keep = "liquor" }') == pytest.approx(more, rel=1e-6)
    assert cells('boil = { for = "10 min", evaporation = "1 kg/h" }') is None
    assert cells('fill = { container = "jar 1 l", temperature = "85 degC" }') is None


def test_the_brine_of_a_good_batch_starts_fresh_food():
    fresh = 'add = { "cabbage" = "20 kg", "salt" = "500 g" }'
    backslopped = sr.ferment(steps(CROCK, started(time="5 d"), fresh, started()[:-18] + " }"))
    wild = sr.ferment(steps(fresh, started()[:-18] + " }"))
    times = [j.ferments[-1].hours_to[4.6].value for j in (backslopped, wild)]
    assert times[0] < 0.6 * times[1]


def test_a_ferment_after_heat_needs_a_new_starter():
    heated = (
        CROCK,
        started(time="2 d"),
        'boil = { for = "10 min", evaporation = "1 kg/h" }',
        'ferment = { temperature = "20 degC", for = "20 d" }',
    )
    found = sr.ferment(steps(*heated)).findings
    assert any(f.subject == "ferment, step 4: flora" and f.verdict == "fail" for f in found)


def test_only_acid_that_a_ferment_made_makes_a_fermented_food():
    """21 CFR 114.3(b): what added acid brings below pH 4.6 is acidified, whatever ferments then."""
    assert sr.run(steps(CROCK, started())).fermented
    soured = 'add = { "cabbage" = "10 kg", "salt" = "250 g", "vinegar" = "900 g" }'
    batch = sr.run(steps(soured, started()))
    assert batch.soured
    assert not batch.fermented
    late = sr.run(steps(CROCK, started("4 degC", "1 d"), 'add = { "vinegar" = "2 kg" }'))
    assert not late.fermented
