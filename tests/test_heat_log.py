"""Logged runs: what was simulated is read back, and nothing is made of what was not logged."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from stillroom.assess.heat.judgement import judge_plan
from stillroom.assess.heat.log import accumulated_min, judge_log
from stillroom.assess.result import Estimate
from stillroom.cli import app
from stillroom.errors import InputError
from stillroom.physics import penetration, transfer
from stillroom.physics.death import Scale
from stillroom.product import heat_course, process
from stillroom.product.pack_plan import plan_of
from stillroom.product.recipe_file import parse_recipe
from stillroom.product.trace import Trace, parse_trace

KEEP = 'keep = { temperature = "20 degC", for = "12 months" }'
WATER = 'cool = { in = "water", temperature = "15 degC", for = "60 min" }'
FILL = 'fill = { container = "jar 500 ml", temperature = "40 degC", jar_temperature = "40 degC" }'
POUCH = 'fill = { container = "pouch 200 ml", temperature = "40 degC" }'
CONTENTS = {
    "conduction": ('add = { "apple, Granny Smith, raw" = "5 kg" }',),
    "convection": ('add = { "water" = "5 kg", "sugar" = "500 g", "citric acid" = "20 g" }',),
    "pieces": (
        'add = { "pear, Bartlett, raw" = "3 kg" }',
        'steep = { liquor = { "water" = "2 kg", "sugar" = "300 g" }, '
        'piece = { shape = "slab", thickness = "20 mm", tissue = "blanched" } }',
    ),
}
A_W = Estimate(0.98, 0.978, 0.982)
FAST = Scale(85.0, 8.3)


class Run:
    """A recipe with its process as planned, and traces of it."""

    def __init__(self, way, *steps, ph=3.9):
        lines = "\n".join(f"[[steps]]\n{s}" for s in (*CONTENTS[way], *steps))
        self.recipe = parse_recipe(f'name = "test"\n{lines}')
        self.ph = Estimate(ph, ph - 0.01, ph + 0.01)
        self.plan = plan_of(process.run(self.recipe))
        self.planned = judge_plan(self.plan, self.recipe, self.ph, A_W)
        self.course = self.planned.course

    def times(self, every_s=20.0):
        return np.arange(0.0, self.course.time_s[-1] + 1e-6, every_s)

    def reading(self, every_s=20.0):
        return np.interp(self.times(every_s), self.course.time_s, self.course.centre_C[0])

    def bath(self, every_s=20.0):
        return np.interp(self.times(every_s), self.course.time_s, self.course.medium_C)

    def judge(self, every_s=20.0, planned=True, **channels):
        names = {k.replace("_", " "): v for k, v in channels.items()}
        trace = Trace(self.times(every_s), names, ())
        return self.judge_trace(trace, planned)

    def judge_trace(self, trace, planned=True):
        return judge_log(trace, self.recipe, self.ph, A_W, self.planned if planned else None)


def bath(temperature, hold_min, how=""):
    return f'heat = {{ in = "stirred water", temperature = "{temperature} degC", hold = "{hold_min} min"{how} }}'


@pytest.fixture(scope="module")
def runs():
    """Return a good run of each way that heat moves."""
    return {
        way: Run(way, FILL, bath(95, hold), WATER, KEEP)
        for way, hold in (("conduction", 60), ("convection", 25), ("pieces", 30))
    }


@pytest.fixture(scope="module")
def juice(runs):
    return runs["convection"]


@pytest.fixture(scope="module")
def short():
    """Return a run of a thick food that was taken out early."""
    return Run("conduction", POUCH, bath(85, 10), WATER, KEEP)


# --- lethality --------------------------------------------------------------------------------


@pytest.mark.parametrize("way", CONTENTS)
def test_the_lethality_of_a_simulated_run_is_recovered(way, runs):
    run = runs[way]
    judged = run.judge(bath=run.bath(), jar_1=run.reading())
    assert judged.met
    assert [r.target for r in judged.reached] == [r.target for r in run.planned.reached]
    for r in judged.reached:
        minutes = r.target.scale.minutes(run.course.time_s, run.course.centre_C[0])[-1]
        assert r.lethality.value == pytest.approx(minutes, rel=0.02)
        assert r.lethality.low < minutes < r.lethality.high


def test_a_log_at_one_temperature_is_worth_its_minutes():
    trace = Trace(np.arange(0, 1201, 30.0), {"jar": np.full(41, 81.93)}, ())
    total = accumulated_min(trace, "jar", Scale(71.1, 10.83))
    assert total[-1] == pytest.approx(20 * 10, rel=1e-9)  # a z above the reference
    assert np.all(np.diff(total) >= 0)


@given(st.lists(st.floats(20, 100), min_size=4, max_size=20), st.integers(0, 19), st.floats(0, 5))
def test_a_warmer_reading_never_counts_less(readings, where, warmer):
    t = 30.0 * np.arange(len(readings))
    T = np.array(readings)
    more = T.copy()
    more[where % len(readings)] += warmer
    less, greater = (accumulated_min(Trace(t, {"x": x}, ()), "x", FAST)[-1] for x in (T, more))
    assert greater >= less - 1e-12


def test_the_sensor_may_be_half_a_degree_off(juice):
    judged = juice.judge(bath=juice.bath(), jar_1=juice.reading())
    for r in judged.reached:
        off = 10 ** (0.5 / r.target.scale.z_C)
        assert off <= r.lethality.value / r.lethality.low < 1.1 * off  # and what lies between steps
    cold, hot = (juice.judge(bath=juice.bath(), jar_1=juice.reading() + d) for d in (-0.45, 0.45))
    for r, c, h in zip(judged.reached, cold.reached, hot.reached, strict=True):
        assert r.lethality.low <= c.lethality.value <= r.lethality.value
        assert r.lethality.value <= h.lethality.value <= r.lethality.high


@pytest.mark.parametrize("every_s", [30, 60, 120, 240, 360, 480, 600])
def test_a_coarse_log_never_proves_more_than_a_fine_one(every_s, short):
    """The lower end of what a log shows is what the food had at least."""
    fine, coarse = (short.judge(s, False, jar_1=short.reading(s)) for s in (5, every_s))
    for f, c in zip(fine.reached, coarse.reached, strict=True):
        assert c.lethality.low <= f.lethality.value


def test_fahrenheit_is_celsius(juice):
    t, C = juice.times(), juice.reading()
    rows = "\n".join(f"{a / 60:.4f},{b:.4f}" for a, b in zip(t, C, strict=True))
    warm = "\n".join(f"{a / 60:.4f},{32 + 1.8 * b:.4f}" for a, b in zip(t, C, strict=True))
    one = juice.judge_trace(parse_trace("time (min),jar (°C)\n" + rows))
    other = juice.judge_trace(parse_trace("time (min),jar (°F)\n" + warm))
    for a, b in zip(one.reached, other.reached, strict=True):
        assert a.lethality.value == pytest.approx(b.lethality.value, rel=1e-3)


# --- probes and media -------------------------------------------------------------------------


def test_the_coldest_probe_counts(juice):
    T = juice.reading()
    judged = juice.judge(jar_1=T, jar_2=T - 3, bath=juice.bath(), jar_3=T - 1)
    assert judged.coldest == "jar 2"
    assert len(judged.channels) == 3
    alone = juice.judge(jar_2=T - 3, bath=juice.bath())
    assert [r.lethality for r in judged.reached] == [r.lethality for r in alone.reached]


def test_each_target_is_held_against_its_own_coldest_probe(juice):
    """Long and mild against short and hot: no probe is the coldest for both z."""
    t = juice.times()
    mild, hot = np.full(t.size, 68.0), np.where((t > 600) & (t < 660), 92.0, 20.0)
    judged = juice.judge(mild=mild, hot=hot)
    for n, r in enumerate(judged.reached):
        assert r.lethality.value == min(c.lethality_min[n] for c in judged.channels)


@pytest.mark.parametrize("name", ["bath", "Water bath 2", "steam", "Retort", "kettle", "canner", "medium", "ambient", "Wasserbad", "Dampf"])  # fmt: skip
def test_the_medium_is_known_by_its_name(name, juice):
    judged = juice.judge_trace(
        Trace(juice.times(), {"jar": juice.reading(), name: juice.bath()}, ())
    )
    assert [c.name for c in judged.channels] == ["jar"]
    assert judged.medium.name == name
    assert judged.medium.planned_C == pytest.approx(95.0)
    assert judged.medium.held_min == pytest.approx(judged.medium.planned_min, abs=0.5)
    assert judged.medium.highest_C == pytest.approx(95.0)


@pytest.mark.parametrize("name", ["mushroom jar", "watermelon rind", "watercress soup", "coconut water 2"])  # fmt: skip
def test_a_food_is_not_taken_for_a_medium(name, juice):
    """The coldest probe of all must not drop out because of the letters of its name."""
    T = juice.reading()
    trace = Trace(juice.times(), {"bath": juice.bath(), name: T - 40, "jar 1": T}, ())
    judged = juice.judge_trace(trace)
    said = any(name in n for n in judged.notes)
    assert said or not judged.met


def test_the_air_of_the_room_is_not_the_bath(juice):
    room = np.full(juice.times().size, 21.0)
    judged = juice.judge(room_air=room, bath=juice.bath(), jar_1=juice.reading())
    assert judged.medium.name == "bath"
    assert judged.channels[0].penetration is not None


def test_a_silence_of_the_log_is_not_time_at_temperature(juice):
    """Ten minutes at 95 °C, half an hour without a row, then cold: held for ten."""
    t = np.concatenate([np.arange(0, 601, 20.0), np.arange(2400, 3001, 20.0)])
    medium = np.where(t <= 600, 95.0, 20.0)
    food = np.where(t <= 600, 85.0, 20.0)
    judged = juice.judge_trace(Trace(t, {"bath": medium, "jar": food}, ()))
    assert judged.medium.held_min == pytest.approx(10.0, abs=0.5)


def test_a_food_hotter_than_anything_around_it_is_not_believed(juice):
    """One reading of a broken lead, 150 °C in a bath of 95, in a jar that never passed 60 °C."""
    T = juice.reading() - 40
    T[40] = 150.0
    judged = juice.judge(bath=juice.bath(), jar_1=T)
    assert any("jar 1" in n for n in judged.notes)
    assert judged.met is not True


def test_without_a_medium_the_plan_stands_for_it(juice):
    judged = juice.judge(jar_1=juice.reading())
    assert judged.medium is None
    assert judged.channels[0].penetration is not None
    alone = juice.judge(planned=False, jar_1=juice.reading())
    assert alone.channels[0].penetration is None
    assert "no medium" in alone.channels[0].remark
    assert [r.lethality for r in alone.reached] == [r.lethality for r in judged.reached]


def test_a_log_without_a_food_or_a_target_is_refused(juice):
    with pytest.raises(InputError, match="named like a medium"):
        juice.judge(bath=juice.bath(), steam=juice.bath())
    cold = parse_recipe(
        'name = "t"\n[[steps]]\nadd = { "beet" = "1 kg" }\n[[steps]]\n'
        'keep = { temperature = "4 degC", for = "5 days" }'
    )
    trace = Trace(juice.times(), {"jar": juice.reading()}, ())
    with pytest.raises(InputError, match="no lethality is asked"):
        judge_log(trace, cold, juice.ph, A_W, None)


# --- gaps -------------------------------------------------------------------------------------


def test_a_gap_counts_at_its_colder_end():
    t = np.arange(0, 1201, 30.0)
    T = np.where(t < 600, 85.0, 93.3)
    missing = (t > 300) & (t < 900)
    holed = np.where(missing, np.nan, T)
    F = accumulated_min(Trace(t, {"jar": holed}, ()), "jar", FAST)
    assert F[-1] == pytest.approx(5 + 10 + 5 * 10, rel=1e-6)  # 10 min of gap at 85 °C
    without = accumulated_min(Trace(t[~missing], {"jar": T[~missing]}, ()), "jar", FAST)
    assert without[-1] == pytest.approx(F[-1])


@pytest.mark.parametrize("where", ["start", "end"])
def test_what_was_not_logged_at_the_ends_counts_for_nothing(where):
    t = np.arange(0, 1201, 30.0)
    T = np.full(t.size, 85.0)
    T[(t < 600) if where == "start" else (t > 600)] = np.nan
    F = accumulated_min(Trace(t, {"jar": T}, ()), "jar", FAST)
    assert F[-1] == pytest.approx(10.0)


@given(st.integers(1, 160), st.integers(12, 60))
def test_a_gap_never_adds(first, length, ):  # fmt: skip
    t = np.arange(0, 5401, 30.0)
    T = 20 + 75 * np.exp(-(((t - 2700) / 900) ** 2))
    holed = T.copy()
    holed[first : first + length] = np.nan
    if np.isfinite(holed[-1]):
        ends = min(holed[first - 1], holed[first + length])
        hidden = T[first : first + length]
        if hidden.min() >= ends:  # over a top: what is hidden was warmer than its colder end
            whole, part = (
                accumulated_min(Trace(t, {"x": x}, ()), "x", FAST)[-1] for x in (T, holed)
            )
            assert part <= whole + 1e-9


def test_a_probe_with_one_reading_proves_nothing(juice):
    T = np.full(juice.times().size, np.nan)
    T[5] = 90.0
    judged = juice.judge(bath=juice.bath(), jar_1=T, jar_2=juice.reading())
    assert judged.coldest == "jar 1"
    assert not judged.met


# --- f and j ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("f", "j"), [(12.0, 1.0), (15.0, 1.4), (18.0, 1.2)])
def test_f_and_j_of_a_noisy_line_lie_within_their_confidence(f, j, juice):
    """Three in four of the intervals printed as 95 % hold the line that was logged."""
    t = juice.times()
    line = penetration.followed_C(t, 40.0, juice.bath(), f, j)
    rng = np.random.default_rng(5)
    hits = []
    for _ in range(40):
        noisy = line + rng.normal(0, 0.05, t.size)
        noisy[0] = 40.0
        p = juice.judge(bath=juice.bath(), jar_1=noisy).channels[0].penetration
        half = 1.96 * p.j * (10**p.log10_j_error - 1)
        hits.append(abs(p.f_min - f) <= 1.96 * p.f_error_min and abs(p.j - j) <= 1.2 * half)
        assert p.f_min == pytest.approx(f, rel=0.05)
        assert p.j == pytest.approx(j, rel=0.05)
    assert np.mean(hits) >= 0.75


@pytest.mark.parametrize("container", ["pouch 400 ml", "jar 250 ml"])
def test_f_of_a_conducting_pack_lies_within_its_printed_confidence(container, monkeypatch):
    """Read to 0.1 °C every 30 s; the truth is the slope of the same pack after hours."""
    fill = f'fill = {{ container = "{container}", temperature = "30 degC", jar_temperature = "30 degC" }}'
    run = Run("conduction", fill, bath(95, 20 if "pouch" in container else 75), WATER, KEEP)
    seen = np.round(run.reading(30.0), 1)
    p = run.judge(every_s=30.0, bath=run.bath(30.0), jar_1=seen).channels[0].penetration
    leg = run.plan.legs[0]
    hours = replace(run.plan, legs=(replace(leg, time_s=(0.0, 14400.0)),))
    course = heat_course.run(hours, [])
    far = (course.time_s > 1800) & (95 - course.centre_C[0] > 1e-3)
    late = np.flatnonzero(far)[-60:]
    slope = np.polyfit(course.time_s[late] / 60, np.log10(95 - course.centre_C[0][late]), 1)[0]
    printed = max(round(1.96 * p.f_error_min, 1), 0.05)
    assert p.f_min == pytest.approx(-1 / slope, rel=0.02)
    assert abs(p.f_min + 1 / slope) <= printed


def test_f_of_a_pouch_is_that_of_the_slab():
    """ln 10 / (a (l / x)²), Ball & Olson 1957."""
    fill = 'fill = { container = "pouch 400 ml", temperature = "30 degC" }'
    run = Run("conduction", fill, bath(95, 20), WATER, KEEP)
    p = run.judge(bath=run.bath(), jar_1=run.reading()).channels[0].penetration
    plan = run.plan
    k, rho, c = (
        plan.thermal(q)
        for q in ("conductivity_W_per_m_K", "density_kg_per_m3", "heat_capacity_J_per_kg_K")
    )
    U = 1 / (1 / 900 + plan.container.wall_m / 0.2)  # polypropylene about 0.2 W/(m K)
    slab = transfer.Body("slab", k / (rho * c), plan.height_m / 2, None, k, U)
    assert p.f_min == pytest.approx(transfer.heating_rate_fh_min(slab), rel=0.03)
    assert p.j == pytest.approx(transfer.lag_factor_jh(slab), rel=0.05)
    assert p.r_squared > 0.999


def test_a_run_that_never_approaches_its_medium_has_no_line(juice):
    flat = np.full(juice.times().size, 60.0)
    judged = juice.judge(bath=juice.bath(), jar_1=flat)
    assert judged.channels[0].penetration is None
    assert judged.channels[0].remark.startswith("no f and j")


# --- a run that fell short --------------------------------------------------------------------


def minutes_more(words):
    return float(re.search(r": ([\d.]+) min more", words)[1])


def process_of(words):
    found = re.search(r"starts again: (\d+) min at ([\d.]+) °C", " ".join(words))
    return int(found[1]), float(found[2])


def test_a_short_run_fails_and_says_what_is_missing(short):
    judged = short.judge(bath=short.bath(), jar_1=short.reading(), jar_2=short.reading() - 1)
    r = next(r for r in judged.reached if r.target.use == "spoilage")
    assert r.verdict == "fail"
    told = next(w for w in judged.to_make_good if str(r.target.scale) in w)
    assert "missing in jar 2" in told
    missing = float(told.split()[0])
    assert missing == pytest.approx(r.target.minutes - r.lethality.low, rel=0.01)


def test_the_process_that_makes_it_good_does(short):
    """The real pack, cold again, held as long as told, meets every target by its middle."""
    judged = short.judge(bath=short.bath(), jar_1=short.reading())
    hold_min, medium_C = process_of(judged.to_make_good)
    hot = short.plan.legs[0]
    legs = (
        replace(hot, time_s=(0.0, 60.0 * hold_min), medium_C=(medium_C,) * 2),
        *short.plan.legs[1:],
    )
    again = replace(short.plan, legs=legs, start_C=20.0)
    targets = [r.target for r in judged.reached if r.target.use in ("hazard", "spoilage")]
    course = heat_course.run(again, [t.scale for t in targets])
    for t, least in zip(targets, course.least_min[0], strict=True):
        assert least >= t.minutes


@pytest.mark.parametrize("minutes", [0.7, 0.9, 1.05, 1.15, 1.25])
def test_the_minutes_more_are_enough(minutes, juice):
    """Rounded up, never down: a few seconds more are not "0 min more"."""
    t = np.arange(0, 60 * minutes + 0.1, 3.0)
    judged = juice.judge_trace(Trace(t, {"jar 1": np.full(t.size, 71.1)}, ()))
    r = judged.reached[0]
    assert r.target.scale.reference_C == 71.1
    if r.verdict == "pass":
        assert not any("71.1" in w for w in judged.to_make_good)
        return
    more = minutes_more(next(w for w in judged.to_make_good if "71.1 °C, z" in w))
    longer = np.arange(0, 60 * (minutes + more) + 0.1, 3.0)
    again = juice.judge_trace(Trace(longer, {"jar 1": np.full(longer.size, 71.1)}, ()))
    assert again.reached[0].verdict == "pass"


def jar_meets(judged, f, j):
    """Return whether a jar of this f and j meets every target by the process that was told."""
    hold_min, medium_C = process_of(judged.to_make_good)
    time = np.arange(0, 60 * hold_min + 3600, 10.0)
    medium = np.where(time <= 60 * hold_min, medium_C, 15.0)
    T = penetration.followed_C(time, 20.0, medium, f, j)
    counted = [r.target for r in judged.reached if r.target.use in ("hazard", "spoilage")]
    return all(t.scale.minutes(time, T)[-1] >= t.minutes for t in counted)


@pytest.fixture(scope="module")
def weak():
    return Run("convection", FILL, bath(85, 12), WATER, KEEP)


def test_the_process_is_made_for_the_slowest_jar_even_without_its_line(weak):
    """A jar whose heating was not logged, but that was colder than computed, is not helped by the
    line of a faster one nor by the computation it belies: a process that fits it, or none."""
    t = weak.times()
    fast, slow = (penetration.followed_C(t, 40.0, weak.bath(), f) for f in (6.0, 25.0))
    late = np.where(t < 12 * 60, np.nan, slow)
    judged = weak.judge(bath=weak.bath(), jar_1=fast, jar_2=late)
    assert judged.coldest == "jar 2"
    assert not judged.channels[1].penetration
    if "starts again" in " ".join(judged.to_make_good):
        assert jar_meets(judged, 25.0, 1.0)


def test_the_process_is_made_for_the_longest_lag_too(weak):
    """The slope of one jar is a little slower, the lag of the other much longer."""
    t = weak.times()
    jars = ((15.0, 0.9), (14.5, 2.0))
    one, other = (penetration.followed_C(t, 40.0, weak.bath(), f, j) for f, j in jars)
    judged = weak.judge(bath=weak.bath(), jar_1=one, jar_2=other)
    assert all(c.penetration for c in judged.channels)
    assert all(jar_meets(judged, f, j) for f, j in jars)


def test_a_good_run_needs_nothing(runs):
    run = runs["conduction"]
    judged = run.judge(bath=run.bath(), jar_1=run.reading())
    assert judged.to_make_good == ()
    assert judged.met


def test_a_log_is_not_kinder_than_the_process_it_shows():
    """Dangerous cells dead, spoilage alive: `heat` says 1, so does the log of the same run."""
    run = Run("convection", FILL, bath(75, 20), WATER, KEEP)
    judged = run.judge(bath=run.bath(), jar_1=run.reading())
    assert {r.target.use: r.verdict for r in judged.reached} == {"hazard": "pass", "spoilage": "fail"}  # fmt: skip
    assert run.planned.exit_status == 1
    assert judged.to_make_good
    assert judged.met is not True


def test_low_acid_food_is_never_met():
    steam = 'heat = { in = "pressure steam", temperature = "121 degC", hold = "30 min" }'
    run = Run("convection", FILL, steam, WATER, KEEP, ph=5.5)
    judged = run.judge(bath=run.bath(), jar_1=run.reading())
    assert judged.reached[0].verdict == "pass"
    assert judged.met is None


# --- the command line -------------------------------------------------------------------------


@pytest.fixture(scope="module")
def recipe_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("log") / "juice.toml"
    steps = (*CONTENTS["convection"], FILL, bath(90, 10), WATER, KEEP)
    head = 'name = "Juice"\n[measured]\nph = 3.5\nph_uncertainty = 0.02\nwater_activity = 0.98\n'
    path.write_text(head + "\n".join(f"[[steps]]\n{s}" for s in steps), "utf-8")
    return path


def command(*arguments):
    return CliRunner().invoke(app, [str(a) for a in arguments], env={"COLUMNS": "160"})


def strict(text):
    def refuse(word):
        raise ValueError(f"{word} is not JSON")

    return json.loads(text, parse_constant=refuse)


HEAD = "time (min),jar (°C)\n"
WRONG = {
    "empty": ("", "is empty"),
    "blank lines": ("\n\n\n", "is empty"),
    "no readings": (HEAD, "no readings"),
    "one reading": (HEAD + "0,20\n", "one reading only"),
    "text in a number": (HEAD + "0,20\n1,hot\n2,40\n", "'hot' is not a number"),
    "time backwards": (HEAD + "0,20\n2,30\n1,40\n", "is before"),
    "two values at one time": ("time (s),jar (°C)\n0,20\n30,30\n30,40\n", "is also the time of"),
    "too many cells": (HEAD + "0,20\n1,30,7\n", "3 cells"),
    "no unit of time": ("time,jar (°C)\n0,20\n1,30\n", "unit"),
    "no time": ("jar (°C),bath (°C)\n20,30\n30,40\n", "time"),
    "no temperature": ("time (min),pressure (bar)\n0,1\n1,1\n", "temperature"),
    "all media": ("time (min),bath (°C),steam (°C)\n0,20,20\n1,90,90\n", "named like a medium"),
    "all gaps": (HEAD + "0,\n1,\n2,\n", "temperature"),
    "absolute cold": (HEAD + "0,-80\n1,20\n", "not possible"),
    "furnace": (HEAD + "0,20\n1,900\n", "not possible"),
    "two of one name": ("time (min),jar (°C),jar (°C)\n0,20,20\n1,30,30\n", "two columns"),
    "binary": ("\x00\x01\x02\x03", "not text"),
    "infinite": (HEAD + "0,20\n1,inf\n", "inf"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_log_is_one_clear_sentence(name, recipe_file, tmp_path):
    text, words = WRONG[name]
    path = tmp_path / "run.csv"
    path.write_text(text, "utf-8")
    result = command("log", path, "--recipe", recipe_file)
    assert result.exit_code == 2, result.output
    assert result.output.startswith("stillroom: ")
    assert len(result.output.strip().splitlines()) == 1
    assert words in result.output
    assert "Traceback" not in result.output


def test_a_directory_or_nothing_is_one_clear_sentence(recipe_file, tmp_path):
    for path, words in ((tmp_path, "is not a file"), (tmp_path / "no.csv", "does not exist")):
        result = command("log", path, "--recipe", recipe_file)
        assert result.exit_code == 2
        assert words in result.output
    log = tmp_path / "run.csv"
    log.write_text(HEAD + "0,20\n1,90\n", "utf-8")
    for recipe in (tmp_path, tmp_path / "no.toml", log):
        assert command("log", log, "--recipe", recipe).exit_code == 2


ODD = {
    "constant": HEAD + "".join(f"{n},71.1\n" for n in range(21)),
    "exactly straight": "time (min),bath (°C),jar (°C)\n"
    + "".join(f"{n},90,{90 - 70 * 10 ** (-n / 12):.3f}\n" for n in range(40)),
    "cold": "time (min),bath (°C),jar (°C)\n" + "".join(f"{n},5,4\n" for n in range(20)),
    "medium mostly missing": "time (min),bath (°C),jar (°C)\n"
    + "".join(f"{n},{'' if n < 59 else 20},{20 + n}\n" for n in range(60)),
    "only one reading of a jar": "time (min),jar 1 (°C),jar 2 (°C)\n"
    + "".join(f"{n},{90 if n == 3 else ''},80\n" for n in range(30)),
}


@pytest.mark.parametrize("name", ODD)
def test_an_odd_log_gives_json_or_a_sentence(name, recipe_file, tmp_path):
    path = tmp_path / "run.csv"
    path.write_text(ODD[name], "utf-8")
    result = command("log", path, "--recipe", recipe_file, "--json")
    assert result.exit_code in (0, 1, 3), result.output
    data = strict(result.output)
    assert data["format"] == 1
    assert data["met"] == {0: True, 1: False, 3: None}[result.exit_code]
    for r in data["reached"]:
        assert set(r["scale"]) == {"reference_C", "z_C", "z_above_C"}
        assert r["low_min"] <= r["lethality_min"] <= r["high_min"]
    for c in data["channels"]:
        assert set(c["lethality_min"]) == {r["target"] for r in data["reached"]}
        assert (c["f_min"] is None) == bool(c["remark"])
    if name == "constant":
        assert data["reached"][0]["lethality_min"] == pytest.approx(20.0)
    if name == "exactly straight":
        assert data["channels"][0]["f_min"] == pytest.approx(12.0, rel=0.01)


def test_a_million_rows_give_an_answer(recipe_file, tmp_path):
    n = 1_000_000
    t = np.arange(n) / 100
    T = 20 + 70 * np.clip(t / 5000, 0, 1)
    path = tmp_path / "run.csv"
    rows = "\n".join(f"{a:.2f},{b:.2f}" for a, b in zip(t.tolist(), T.tolist(), strict=True))
    path.write_text("time (s),jar (°C)\n" + rows, "utf-8")
    result = command("log", path, "--recipe", recipe_file, "--json")
    assert result.exit_code == 0, result.output[-300:]
    z = 10.83
    ramp = 5000 / 60 / 70 * z / np.log(10) * (10 ** ((90 - 71.1) / z) - 10 ** (-3 * 1.0))
    hold = (n / 100 - 5000) / 60 * 10 ** ((90 - 71.1) / z)
    asked = strict(result.output)["reached"][0]
    assert asked["scale"]["reference_C"] == 71.1
    assert asked["lethality_min"] == pytest.approx(ramp + hold, rel=0.002)


def test_the_words_of_the_report(recipe_file, tmp_path):
    path = tmp_path / "run.csv"
    path.write_text(ODD["exactly straight"], "utf-8")
    text = command("log", path, "--recipe", recipe_file).output
    assert "The run meets what is asked" in text
    assert "prove that it does" in text
    assert not re.search(r"\bsafe\b|\bnan\b|\binf\b|Traceback", text, re.IGNORECASE)
