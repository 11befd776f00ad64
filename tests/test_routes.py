"""The ways to one water activity, compared."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

import stillroom as sr
from stillroom.cli import app
from stillroom.plan.routes import read_target
from stillroom.product import properties

BEEF = 'name = "x"\n[[steps]]\nadd = { "beef, top round, lean, raw" = "5 kg", "salt" = "50 g" }\n'
PLUM = 'name = "x"\n[[steps]]\nadd = { "plum" = "5 kg", "sugar, white" = "2 kg" }\n'


def routes(text: str, to: float, **how):
    return sr.routes(sr.parse_recipe(text, "f.toml"), to, **how)


@pytest.fixture(scope="module")
def beef():
    return routes(BEEF, 0.85, salt_percent=(4.0,), sugar_percent=(25.0,))


def of(found, how: str, adds: str):
    return next(r for r in found.routes if (r.how, r.adds) == (how, adds))


def test_salt_saves_water_time_and_energy_and_costs_taste(beef):
    alone, salted = of(beef, "dry", "nothing"), of(beef, "dry", "salt")
    assert salted.water_removed_kg < 0.85 * alone.water_removed_kg
    assert salted.hours[1] < 0.7 * alone.hours[1]
    assert salted.energy_kWh[0] < alone.energy_kWh[0]
    assert salted.product_kg > alone.product_kg
    assert salted.salt_portion_g > 10 * alone.salt_portion_g


def test_lean_meat_to_0_85_as_in_the_worked_example(beef):
    """Worked example of the drying notes: 735 g water and 265 g solids by a class isotherm.

    No salt: 646 g leave. With 40 g salt by Ross's product: 515 g, which reads high for jerky
    (measured drier than it says); the sharing of water says less, and the interval must hold it.
    """
    alone, salted = of(beef, "dry", "nothing"), of(beef, "dry", "salt")
    assert alone.water_removed_kg == pytest.approx(0.646, abs=0.03)
    low, high = salted.removed_between_kg
    assert low < 0.515 < high + 0.02


def test_every_way_ends_at_the_water_activity_that_is_wanted(beef):
    for one in beef.routes:
        compound = {"nothing": "NaCl", "salt": "NaCl", "sugar": "sucrose"}[one.adds]
        mixed = beef.food + sr.Mixture.of({compound: one.added_kg}, unit="kg")
        if one.how == "dry":
            left = mixed.with_amounts(water=mixed.kg("water") - one.water_removed_kg)
            assert float(properties.water_activity(left)) == pytest.approx(0.85, abs=1e-3)
        assert one.product_kg == pytest.approx(1 + one.added_kg - one.water_removed_kg)
        assert one.removed_between_kg[0] <= one.water_removed_kg <= one.removed_between_kg[1]


def test_boiling_takes_the_same_water_but_for_what_boiling_does_to_the_sugar():
    found = routes(PLUM, 0.85, salt_percent=(), sugar_percent=(50.0,))
    dried, boiled = of(found, "dry", "sugar"), of(found, "boil", "sugar")
    assert boiled.water_removed_kg < dried.water_removed_kg  # inverted sugar holds more water
    assert boiled.water_removed_kg == pytest.approx(dried.water_removed_kg, rel=0.25)
    assert boiled.end_C > 101


@settings(max_examples=3, deadline=None)
@given(st.floats(0.6, 0.93))
def test_more_added_never_asks_for_more_water_to_leave(to):
    for sweep in routes(PLUM, round(to, 3), salt_percent=(8.0,), sugar_percent=(80.0,)).sweeps:
        assert np.all(np.diff(sweep.water_removed_kg) <= 1e-4)
        if sweep.adds == "sugar":  # salt past its crystals only makes the surface scarcer
            known = sweep.hours[np.isfinite(sweep.hours)]
            assert np.all(np.diff(known) <= 1e-3)


def test_the_sweep_and_the_routes_agree(beef):
    salted = of(beef, "dry", "salt")
    sweep = next(s for s in beef.sweeps if s.adds == "salt")
    assert sweep.water_removed_kg[-1] == pytest.approx(salted.water_removed_kg, abs=1e-3)
    assert sweep.hours[-1] == pytest.approx(salted.hours[1], rel=0.03)


def test_salt_below_its_crystals_and_sugar_that_burns_are_said():
    dry = routes(PLUM, 0.5, salt_percent=(8.0,), sugar_percent=(80.0,))
    assert any("crystals" in words for words in of(dry, "dry", "salt").remarks)
    sticky = routes(PLUM, 0.3, salt_percent=(), sugar_percent=(200.0,))
    assert any("burns" in words for words in of(sticky, "boil", "sugar").remarks)


def test_where_sugar_alone_is_enough_nothing_leaves():
    found = routes(PLUM, 0.95, salt_percent=(), sugar_percent=(100.0,))
    one = next(r for r in found.routes if r.adds == "sugar")
    assert (one.how, one.water_removed_kg) == ("mix", 0.0)
    assert not any(r.how == "boil" for r in found.routes)


def test_air_too_damp_is_said_not_hidden():
    damp = PLUM + (
        '[[steps]]\ndry = { until_water_activity = 0.6, temperature = "40 degC", humidity = "70 %", '
        'piece = { shape = "slab", thickness = "6 mm" } }\n'
    )
    one = of(routes(damp, 0.5), "dry", "nothing")
    assert np.isnan(one.hours).all()
    assert any("cannot be dried further" in words for words in one.remarks)


@pytest.mark.parametrize(("text", "value"), [("aw 0.85", 0.85), ("water activity .6", 0.6), ("0.7", 0.7)])  # fmt: skip
def test_a_target_is_read_as_people_write_it(text, value):
    assert read_target(text) == value


@pytest.mark.parametrize("text", ["aw 85", "dry", "aw 1.2", "ph 4", ""])
def test_another_target_is_refused(text):
    with pytest.raises(sr.InputError, match="is not a target"):
        read_target(text)


@pytest.mark.parametrize(
    ("text", "to", "how", "message"),
    [
        (BEEF, 0.999, {}, "cannot be compared"),
        (BEEF, 0.05, {}, "cannot be compared"),
        (BEEF, 0.8, {"salt_percent": (0.0,)}, "salt is tried up to"),
        ('name = "x"\n[[steps]]\nadd = { "salt" = "1 kg" }\n', 0.8, {}, "no food with water"),
    ],
)
def test_what_cannot_be_compared_is_one_clear_sentence(text, to, how, message):
    with pytest.raises(sr.InputError, match=message):
        routes(text, to, **how)


def test_the_command_prints_a_table_json_and_a_figure(tmp_path):
    path = tmp_path / "r.toml"
    path.write_text(BEEF, "utf-8")
    ask = ["routes", str(path), "--to", "aw 0.85", "--salt", "4 %", "--sugar", "25 %"]
    plain = CliRunner().invoke(app, [*ask, "--plot", str(tmp_path / "r.svg")])
    assert plain.exit_code == 0, plain.output
    assert "water out" in plain.output
    assert "with salt" in (tmp_path / "r.svg").read_text("utf-8")
    told = json.loads(CliRunner().invoke(app, [*ask, "--json"]).output)
    assert told["routes"][0]["how"] == "dry"
    assert CliRunner().invoke(app, [*ask[:3], "ph 4"]).exit_code == 2
