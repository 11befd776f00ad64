"""The command line: what a user types, reads, and gets as exit status."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

from stillroom.cli import app

ROOT = Path(__file__).parents[1]
KITCHEN = sorted((ROOT / "kitchen").glob("*.toml"))
EXPECTED = {
    "damson-spread": 0,
    "damson-spread-light": 0,
    "orchard-chutney": 0,
    "blackcurrant-cordial": 0,
    "salted-lemons": 0,
    "fridge-carrots": 0,
    "dill-cucumbers": 0,
    "pears-in-syrup": 0,
    "chilled-beetroot": 0,
    "beans-in-water": 1,
    "cellar-kraut": 0,
    "barrel-cucumbers": 0,
    "hasty-kraut": 1,
    "sour-greens": 1,
    "windfall-vinegar": 0,
    "garlic-in-oil": 1,
    "dried-apple-rings": 0,
    "plum-jerky": 0,
    "millpond-trout": 0,
    "air-dried-loin": 3,
    "carrot-crisps-bag": 1,
    "carrot-crisps-metallised": 0,
    "orchard-trail-mix": 1,
    "damp-apricots": 1,
}


def run(*arguments: str):
    return CliRunner().invoke(app, [str(a) for a in arguments], env={"COLUMNS": "120"})


def test_the_kitchen_is_complete():
    assert {p.stem for p in KITCHEN} == set(EXPECTED)


@pytest.mark.parametrize("path", KITCHEN, ids=lambda p: p.stem)
def test_every_demo_recipe_is_judged(path):
    result = run("assess", path)
    assert result.exit_code == EXPECTED[path.stem], result.output
    text = result.output
    for word in (
        "What was made",
        "What it is",
        "What could grow in it",
        "What the law says",
        "Before it is sold",
    ):
        assert word in text
    assert "process authority" in " ".join(text.split())
    assert not re.search(r"\bsafe\b|\bnan\b|Traceback", text, re.IGNORECASE)


def test_json_holds_the_same_judgement():
    result = run("assess", KITCHEN[0], "--json")
    data = json.loads(result.output)
    assert data["format"] == 1
    assert {"outcome", "reason", "properties", "findings", "stages", "working", "cautions"} <= set(
        data
    )
    assert (
        data["properties"]["water_activity"]["low"] < data["properties"]["water_activity"]["value"]
    )
    assert result.exit_code == EXPECTED[KITCHEN[0].stem]


def test_working_is_shown_step_by_step():
    text = run("assess", ROOT / "kitchen/damson-spread.toml", "--working").output
    order = [
        text.index(w)
        for w in (
            "from grams to moles",
            "The simple rule",
            "The better estimate",
            "Acidity",
            "Sources",
        )
    ]
    assert order == sorted(order)
    assert "understates" in text


def test_every_organism_can_be_listed():
    short = run("assess", ROOT / "kitchen/damson-spread.toml").output
    full = run("assess", ROOT / "kitchen/damson-spread.toml", "--all").output
    assert "Wallemia sebi" in full
    assert full.count("\n") > short.count("\n") + 40


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"name = = 3", "is not TOML"),
        (b"\xff\xfe", "is not UTF-8 text"),
        (b'name = "x"\n[[steps]]\nadd = { "plumm" = "1 kg" }', "'plumm' is not in the table of foods. Near it: plum"),
        (b'name = "x"\n[[steps]]\nadd = { "plum" = "1 kg" }\n[[steps]]\nboil = { until_mass = "2 kg" }',
         "step 2, boil: the boil cannot end at 2 kg"),
        (b"", "name is missing"),
    ],
)  # fmt: skip
def test_wrong_input_is_one_clear_sentence_and_status_2(tmp_path, content, message):
    path = tmp_path / "r.toml"
    path.write_bytes(content)
    result = run("assess", path)
    assert result.exit_code == 2
    assert message in result.output
    assert "r.toml" in result.output
    assert "Traceback" not in result.output


@pytest.mark.parametrize("arguments", [
    ["assess", "no-such-file.toml"], ["assess", "."], ["assess", "kitchen/damson-spread.toml", "--market", "Mars"],
    ["assess", "kitchen/damson-spread.toml", "--on", "soon"], ["foods", "qqqqqq"], ["explain", "love"],
])  # fmt: skip
def test_wrong_arguments_end_with_status_2(arguments, monkeypatch):
    monkeypatch.chdir(ROOT)
    result = run(*arguments)
    assert result.exit_code == 2
    assert result.output.startswith("stillroom: ")


def test_new_writes_a_recipe_that_can_be_judged_and_never_overwrites(tmp_path):
    path = tmp_path / "mine.toml"
    assert run("new", path).exit_code == 0
    assert run("assess", path).exit_code in (0, 1, 3)
    before = path.read_bytes()
    again = run("new", path)
    assert again.exit_code == 2
    assert "exists already" in again.output
    assert path.read_bytes() == before
    assert run("new", tmp_path / "no/such/folder.toml").exit_code == 2


def test_foods_lists_many_and_shows_one():
    assert "plum, raw" in run("foods", "plum").output
    assert "apricot, dried" in run("foods", "dried").output
    assert json.loads(run("foods", "plum", "--json").output)[0]["ph"]["value"] == 3.3


def test_an_organism_is_shown_with_its_limits_d_and_z():
    text = run("organisms", "Listeria").output
    assert "grows from" in text
    assert "ACMSF" in text
    data = json.loads(run("organisms", "botulinum", "--json").output)
    assert any(
        r["d_value_min"] == 0.21 and r["temperature_C"] == 121.1 for r in data["heat_resistance"]
    )
    assert run("organisms", "unicorn").exit_code == 2


def test_explain_gives_equation_source_and_validity():
    text = run("explain", "water activity").output
    assert "X_m * C * k" in text
    assert "Stokes & Robinson 1966" in text
    assert "Fitted for water_activity" in text


def commands_in(path: Path) -> list[str]:
    return re.findall(r"^\.venv/bin/stillroom ([^#\n]*)", path.read_text("utf-8"), re.M)


@pytest.mark.parametrize("line", commands_in(ROOT / "README.md"))
def test_every_command_of_the_readme_works(line, tmp_path, monkeypatch):
    monkeypatch.chdir(ROOT)
    arguments = [a.replace("my-product.toml", str(tmp_path / "p.toml")) for a in shlex.split(line)]
    assert run(*arguments).exit_code in (0, 1, 3)


def test_help_is_short_and_names_every_command():
    text = run("--help").output
    for command in ("assess", "heat", "log", "new", "foods", "organisms", "limits", "explain"):
        assert command in text
