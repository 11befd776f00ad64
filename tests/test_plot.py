"""Figures: what is written, what they say, and what is left behind when it cannot be written."""

from __future__ import annotations

import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import stillroom as sr
from stillroom.physics.death import Scale
from stillroom.report.plot import draw_heat, draw_log, spread

RECIPE = """
name = "plums"
[[steps]]
add = { "plum" = "40 kg", "sugar" = "SUGAR" }
[[steps]]
boil = { until_soluble_solids = "BRIX" }
[[steps]]
PROCESS
[[steps]]
keep = { temperature = "20 degC", for = "1 year" }
"""
HOT_FILL = """
fill = { container = "jar 370 ml", temperature = "88 degC", hold = "5 min", inverted = true }
[[steps]]
cool = { in = "air", temperature = "20 degC" }
"""
BOILED = """
fill = { container = "jar 500 ml", temperature = "80 degC", hold = "3 min" }
[[steps]]
heat = { in = "boiling water", hold = "20 min" }
[[steps]]
cool = { in = "air", temperature = "20 degC", for = "6 h" }
"""
NOTHING_HOLDS = "C" * 300  # longer than a name can be
TIME_S = np.arange(0.0, 3600.0, 30.0)
SCALE = Scale(85.0, 8.3)


def heating(sugar: str, brix: str, process: str) -> sr.Heating:
    text = RECIPE.replace("SUGAR", sugar).replace("BRIX", brix).replace("PROCESS", process)
    return sr.heat(sr.parse_recipe(text))


@pytest.fixture(scope="module")
def jam() -> sr.Heating:
    """As if no lethality were asked for."""
    return replace(heating("30 kg", "66 %", HOT_FILL), reached=())


@pytest.fixture(scope="module")
def jar() -> sr.Heating:
    return heating("8 kg", "40 %", BOILED)


def words_of(path: Path) -> str:
    """Return the words of an SVG; fails where it is not valid XML."""
    root = ET.fromstring(path.read_text("utf-8"))
    return " ".join(" ".join(root.itertext()).split())


def svg(heated: sr.Heating, folder: Path, title: str = "Plums") -> str:
    draw_heat(heated, folder / "figure.svg", title)
    return words_of(folder / "figure.svg")


def test_a_heated_jar_names_its_legs_and_what_is_asked(jar, tmp_path):
    words = svg(jar, tmp_path)
    for leg in jar.plan.legs:
        assert leg.words in words
    asked = [r.target for r in jar.reached if r.target.use in ("hazard", "spoilage")]
    assert asked
    for target in asked:
        assert f"{target.words}: {target.minutes:g} min at {target.scale}" in words
    for said in ("Plums", "jar 500 ml", "heat off, 23 min", "asked for", "coldest place", "100 %"):
        assert said in words
    assert "A prediction. Have the process of anything sold in sealed packs set by" in words


def test_a_target_at_the_upper_end_of_the_ph_only_is_said_to_be_so(jar, tmp_path):
    assert any(r.target.careful_only for r in jar.reached)
    assert "at the upper end of the pH" in svg(jar, tmp_path)


def test_the_figure_ends_when_the_middle_is_cool(jar, tmp_path):
    assert jar.course.time_s[-1] / 60 > 380
    words = svg(jar, tmp_path).split()
    assert "150" in words
    assert not {"250", "300", "360"} & set(words)


def test_a_hot_fill_of_which_nothing_is_asked_shows_its_cook_value(jam, tmp_path):
    words = svg(jam, tmp_path)
    for said in (
        "closed, waiting",
        "in air of 20 °C",
        "cooling begins, 5 min",
        "cook value at 100",
    ):
        assert said in words
    assert "asked for:" not in words


def test_a_leg_too_short_for_its_words_is_numbered(jar, tmp_path):
    assert "1 closed, waiting, 3 min" in svg(jar, tmp_path)


def test_food_that_is_alike_all_through_is_one_line(jar, tmp_path):
    alike = replace(jar, course=replace(jar.course, surface_C=jar.course.centre_C))
    words = svg(alike, tmp_path)
    assert "food, all of it alike" in words
    assert "food at the wall" not in words


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_the_same_figure_is_the_same_file(jar, tmp_path, ending):
    one, two = tmp_path / f"one.{ending}", tmp_path / f"two.{ending}"
    draw_heat(jar, one, "Plums")
    draw_heat(jar, two, "Plums")
    assert one.read_bytes() == two.read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == [one.name, two.name]


@pytest.mark.parametrize("name", ["figure.jpg", "figure", "figure.svg.gz"])
def test_another_ending_is_refused(jar, tmp_path, name):
    with pytest.raises(
        sr.InputError, match=r"write a figure as \.svg, \.png or \.pdf\."
    ) as refused:
        draw_heat(jar, tmp_path / name, "Plums")
    assert str(refused.value).startswith(str(tmp_path / name))
    assert not list(tmp_path.iterdir())


def test_the_ending_may_be_in_capitals(jam, tmp_path):
    draw_heat(jam, tmp_path / "FIGURE.PNG", "Plums")
    assert (tmp_path / "FIGURE.PNG").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("missing/figure.svg", "No such file or directory"),
        ("file.txt/figure.svg", "Not a directory"),
        ("folder.svg", "Is a directory"),
        (f"{NOTHING_HOLDS}.svg", "File name too long"),
    ],
)
def test_nothing_is_left_of_a_figure_that_cannot_be_written(jam, tmp_path, name, why):
    (tmp_path / "file.txt").touch()
    (tmp_path / "folder.svg").mkdir()
    with pytest.raises(sr.InputError, match=rf"cannot be written: {why}\.$"):
        draw_heat(jam, tmp_path / name, "Plums")
    assert {p.name for p in tmp_path.rglob("*")} == {"file.txt", "folder.svg"}


def test_the_old_figure_stays_where_drawing_breaks(jam, tmp_path, monkeypatch):
    from matplotlib.figure import Figure

    def break_off(figure, file, **_):
        file.write(b"<svg")
        raise KeyboardInterrupt

    path = tmp_path / "figure.svg"
    path.write_text("old")
    monkeypatch.setattr(Figure, "savefig", break_off)
    with pytest.raises(KeyboardInterrupt):
        draw_heat(jam, path, "Plums")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_name_is_not_taken_for_markup(jam, tmp_path):
    words = svg(jam, tmp_path, "Plums & <more>, $5 to\n$6\x07 each")
    assert "Plums & <more>, $5 to $6 each" in words


def test_letters_that_our_font_lacks_stay_letters(jam, tmp_path):
    assert "梅ジャム" in svg(jam, tmp_path, "梅ジャム")


def test_settings_of_the_user_change_nothing(jam, tmp_path):
    import matplotlib

    draw_heat(jam, tmp_path / "one.svg", "Plums")
    with matplotlib.rc_context({"font.size": 30, "axes.facecolor": "red", "svg.hashsalt": "other"}):
        draw_heat(jam, tmp_path / "two.svg", "Plums")
        assert matplotlib.rcParams["font.size"] == 30
    assert (tmp_path / "one.svg").read_bytes() == (tmp_path / "two.svg").read_bytes()


def test_the_import_does_not_load_the_drawing():
    code = "import sys, stillroom.report.plot; sys.exit('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# --- a measured run ---------------------------------------------------------------------------


def run(hottest_C: float) -> np.ndarray:
    return 20 + (hottest_C - 20) * np.sin(np.pi * TIME_S / TIME_S[-1])


def log(folder: Path, asked_min: float | None, hottest_C: float = 90.0) -> str:
    channels = {"water": run(hottest_C + 5), "jar 1": run(hottest_C), "jar_2 $": run(hottest_C - 3)}
    channels["jar 1"][40:50] = np.nan
    added = {
        name: SCALE.minutes(TIME_S, np.nan_to_num(channels[name], nan=20.0))
        for name in ("jar 1", "jar_2 $")
    }
    draw_log(TIME_S, channels, folder / "log.svg", "Run 7", SCALE, added, asked_min)
    return words_of(folder / "log.svg")


@pytest.mark.parametrize("hottest_C", [60.0, 90.0, 105.0])
def test_a_log_shows_every_channel_and_what_is_asked(tmp_path, hottest_C):
    words = log(tmp_path, 5.0, hottest_C)
    assert "Lethality, minutes at 85 °C, z 8.3 °C" in words
    for said in ("Run 7", "water", "jar 1", "jar_2 $", "jar 1: ", "asked for: 5 min"):
        assert said in words
    assert "water: " not in words  # no lethality was asked of it
    assert "One measured run." in words


def test_a_log_need_not_ask_for_anything(tmp_path):
    assert "asked for" not in log(tmp_path, None)


def test_a_channel_without_readings_is_still_named(tmp_path):
    channels = {"lost": np.full(TIME_S.size, np.nan), "jar": run(90.0)}
    added = {"jar": SCALE.minutes(TIME_S, channels["jar"])}
    draw_log(TIME_S, channels, tmp_path / "log.svg", "Run 7", SCALE, added, 5.0)
    assert "lost" in words_of(tmp_path / "log.svg")


def test_the_same_log_is_the_same_file_and_other_endings_are_refused(tmp_path):
    log(tmp_path, 5.0)
    first = (tmp_path / "log.svg").read_bytes()
    log(tmp_path, 5.0)
    assert (tmp_path / "log.svg").read_bytes() == first
    with pytest.raises(sr.InputError, match="write a figure as"):
        draw_log(TIME_S, {"jar": run(90.0)}, tmp_path / "log.txt", "", SCALE, {}, None)


# --- places of words --------------------------------------------------------------------------


def test_words_that_are_clear_of_each_other_stay():
    wanted = np.array([3.0, 1.0, 2.0])
    assert spread(wanted, np.full(3, 0.5), 0.0, 4.0) == pytest.approx(wanted)


def test_words_part_evenly_and_stay_within():
    assert spread(np.array([2.0, 2.0]), np.ones(2), 0.0, 4.0) == pytest.approx([1.5, 2.5])
    assert spread(np.array([4.0, 4.0]), np.ones(2), 0.0, 4.0) == pytest.approx([2.5, 3.5])
    assert spread(np.array([0.0, 0.1]), np.ones(2), 0.0, 4.0) == pytest.approx([0.5, 1.5])


def test_words_keep_the_order_of_their_lines_and_never_overlap():
    rng = np.random.default_rng(1)
    for _ in range(50):
        wanted, sizes = rng.uniform(0, 4, 6), rng.uniform(0.1, 0.6, 6)
        places = spread(wanted, sizes, 0.0, 4.0)
        order = np.argsort(wanted)
        gaps = np.diff(places[order]) - (sizes[order][1:] + sizes[order][:-1]) / 2
        assert gaps.min() > -1e-9
        assert (places - sizes / 2).min() > -1e-9
        assert (places + sizes / 2).max() < 4 + 1e-9
