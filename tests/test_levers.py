"""What moves what: slopes of one stacked run against recipes changed and run again."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

import stillroom as sr
from stillroom.assess import hazards
from stillroom.cli import app
from stillroom.plan.stack import levers_of, with_values
from stillroom.product import properties

KITCHEN = sorted((Path(__file__).parents[1] / "kitchen").glob("*.toml"))
JAM = """name = "x"
[[steps]]
add = { "plum" = "10 kg", "sugar" = "8 kg", "lemon juice" = "300 g" }
[[steps]]
boil = { until_soluble_solids = "62 %", for = "20 min" }
[[steps]]
fill = { container = "jar 250 ml", temperature = "85 degC" }
[[steps]]
keep = { temperature = "20 degC", for = "6 months" }
"""


@pytest.fixture(scope="module")
def jam():
    return sr.levers(sr.parse_recipe(JAM, "f.toml"))


def effect(found, what: str):
    return next(e for e in found.effects if e.lever.key.rstrip("_") == what)


@pytest.mark.parametrize(
    ("what", "old", "new"),
    [
        ("sugar", '"sugar" = "8 kg"', '"sugar" = "{} kg"'),
        ("lemon juice", '"lemon juice" = "300 g"', '"lemon juice" = "{} kg"'),
        ("until_soluble_solids", '"62 %"', '"{} %"'),
    ],
)
def test_a_slope_is_that_of_recipes_changed_by_hand(jam, what, old, new):
    found = effect(jam, what)
    at = []
    for side in (-0.2, 0.2):
        text = JAM.replace(old, new.format(round(found.lever.value + side * found.per, 6)))
        made = sr.run(sr.parse_recipe(text, "f.toml")).made.mixture
        at.append((float(properties.water_activity(made)), float(properties.ph(made))))
    by_hand = (np.array(at[1]) - at[0]) / 0.4
    assert found.properties["water_activity"] == pytest.approx(by_hand[0], rel=0.02, abs=2e-5)
    assert found.properties["ph"] == pytest.approx(by_hand[1], rel=0.02, abs=2e-4)


def test_levers_move_as_nature_does(jam):
    assert effect(jam, "citric acid").properties["ph"] < 0
    assert effect(jam, "salt").properties["water_activity"] < 0
    assert effect(jam, "until_soluble_solids").properties["water_activity"] < 0
    assert effect(jam, "until_soluble_solids").properties["brix"] == pytest.approx(1.0, abs=1e-3)
    filling = next(e for e in jam.effects if e.lever.verb == "fill")
    assert filling.properties["heat_times"] > 0
    assert filling.properties["water_activity"] == 0
    keeping = next(e for e in jam.effects if e.lever.verb == "keep")
    assert {m for (_, hurdle), m in keeping.margins.items() if hurdle == "cold"} == {-1.0}


def test_margins_move_with_the_properties_they_are_made_of(jam):
    for e in jam.effects:
        for (_, hurdle), slope in e.margins.items():
            if hurdle == "acidity":
                assert slope == pytest.approx(-e.properties["ph"], abs=1e-9)
            if hurdle == "water activity":
                assert slope == pytest.approx(-e.properties["water_activity"], abs=1e-9)


def test_what_it_hangs_on_is_the_organism_nearest_to_growing(jam):
    organism, hurdle = jam.hangs_on["dangerous"]
    pathogens = {o.title for o in hazards.organisms() if o.group == "pathogen"}
    assert organism in pathogens
    best = {}
    for (name, _), margin in jam.margins.items():
        best.setdefault(name, []).append(margin)
    assert jam.margins[organism, hurdle] in best[organism]


def test_many_variants_in_one_run_are_each_of_them_alone():
    recipe = sr.parse_recipe(JAM, "f.toml")
    lever = next(one for one in levers_of(recipe) if one.key == "sugar")
    amounts = np.array([6.0, 8.0, 12.0])
    stacked = sr.run(with_values(recipe, {lever: amounts})).made.mixture
    for n, kg in enumerate(amounts):
        alone = sr.run(with_values(recipe, {lever: float(kg)})).made.mixture
        np.testing.assert_allclose(stacked.amounts[n], alone.amounts, rtol=1e-6, atol=1e-12)


@pytest.mark.parametrize("path", KITCHEN[::4], ids=lambda p: p.stem)
def test_every_lever_of_a_demo_recipe_is_moved_or_says_why(path):
    recipe = sr.read_recipe(path)
    found = sr.levers(recipe)
    assert len(found.effects) + len(found.refused) == len(list(levers_of(recipe)))
    for e in found.effects:
        assert np.isfinite([e.properties[k] for k in ("water_activity", "ph", "brix")]).all()


def test_the_command_shows_a_table_and_json(tmp_path):
    path = tmp_path / "r.toml"
    path.write_text(JAM, "utf-8")
    told = CliRunner().invoke(app, ["levers", str(path)])
    assert told.exit_code == 0, told.output
    assert "Nearest to growing" in told.output
    data = json.loads(CliRunner().invoke(app, ["levers", str(path), "--json"]).output)
    assert {"properties", "margins", "levers", "hangs_on"} <= set(data)
    path.write_text("name = 3", "utf-8")
    assert CliRunner().invoke(app, ["levers", str(path)]).exit_code == 2
