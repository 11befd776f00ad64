"""Foods become conserved quantities that give back what is known of them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import stillroom as sr
from stillroom import tables
from stillroom.product import foods

ALL = [str(r["food"]) for r in tables.rows("foods")]
PROBABLY_WET = [n for n in ALL if (foods.food_row(n)["water_g_100g"] or 0) > 30]


def test_a_kilogram_of_every_food_weighs_a_kilogram():
    for name in ALL:
        assert float(foods.food(name).mixture().total_kg) == pytest.approx(1.0, abs=1e-9), name


def test_every_wet_food_returns_its_own_ph():
    for name in PROBABLY_WET:
        food = foods.food(name)
        if food.ph is not None:
            assert float(sr.ph(food.mixture())) == pytest.approx(food.ph.value, abs=1e-3), name


def test_charge_and_minerals_of_a_cucumber_are_those_of_the_worked_example():
    """Cucumber: cations +57 meq/kg, strong charge near 47 at pH 5.6 [US composition table, memory]."""
    cucumber = foods.food("cucumber").mixture()
    assert 30 < 1000 * float(cucumber.strong_charge_mol) < 60


def test_acid_fruit_needs_little_unassigned_charge():
    """Minerals and acids of SR26 explain the pH of a fruit to within some 20 meq/kg."""
    for name in ("apple", "strawberry", "plum", "orange", "lemon juice"):
        assert abs(1000 * float(foods.food(name).mixture().kg("unassigned_charge"))) < 25, name


def test_raw_meat_and_fruit_have_the_water_activity_the_trade_knows():
    """Fresh lean meat 0.990-0.993, fresh fruit 0.97-0.99 and above [common practice]."""
    for name in ("beef", "pork loin, lean, raw", "cod, Atlantic, raw"):
        a_w = float(sr.water_activity(foods.food(name).mixture()))
        assert a_w == pytest.approx(0.990, abs=0.0035), name
    for name in ("apple", "plum", "pear"):
        assert 0.975 < float(sr.water_activity(foods.food(name).mixture())) < 0.995


def test_buffer_strength_is_what_the_table_says():
    for name, low, high in (
        ("cucumber", 8, 15),
        ("mushroom", 30, 45),
        ("egg, hard-boiled", 50, 70),
    ):
        beta = float(sr.buffer_capacity_mmol_per_kg(foods.food(name).mixture(), 5.0))
        assert low * 0.9 < beta < high * 1.1, name


@given(st.floats(2.9, 4.2), st.floats(6, 25), st.floats(0.6, 2.5))
def test_a_measured_fruit_reads_as_it_was_measured(ph, brix, acidity):
    r = sr.parse_recipe(f"""
name = "test"
[foods.fruit]
like = "plum"
ph = {ph}
soluble_solids = "{brix} %"
titratable_acidity = {{ value = "{acidity} %", as = "malic" }}
[[steps]]
add = {{ fruit = "1 kg" }}
""")
    m = r.food("fruit").mixture()
    assert float(sr.ph(m)) == pytest.approx(ph, abs=2e-3)
    assert float(sr.brix(m)) == pytest.approx(brix, abs=0.05)
    assert float(sr.titratable_acidity_percent(m, "malic")) == pytest.approx(acidity, rel=0.03)
    assert float(m.total_kg) == pytest.approx(1.0, abs=1e-6)


def test_a_food_can_vary_along_an_axis():
    plum = foods.food("plum")
    m = plum.mixture(ph=np.array([3.0, 3.3, 3.6]), solids_shift_percent=np.array([-1.0, 0.0, 1.0]))
    np.testing.assert_allclose(sr.ph(m), [3.0, 3.3, 3.6], atol=1e-3)
    np.testing.assert_allclose(np.diff(sr.brix(m)), [1.0, 1.0], atol=0.02)


@pytest.mark.parametrize(
    "word", ["sugar", "Salt", "water", "vinegar", "plum", "PLUM, RAW", "potassium sorbate"]
)
def test_short_and_other_names_are_understood(word):
    assert foods.food(word).row["food"] in ALL


def test_an_unknown_food_gets_near_names():
    with pytest.raises(
        sr.InputError, match=r"'strawbery' is not in the table of foods\. Near it: strawberry"
    ):
        foods.food("strawbery")


def test_vinegar_is_as_sour_as_vinegar():
    """5 % acetic acid: pH 2.41 computed, FDA list 2.40-3.40."""
    assert 2.35 < float(sr.ph(foods.food("spirit vinegar or acetic acid, 5 % w/w").mixture())) < 2.5


def test_every_food_group_is_described():
    for r in tables.rows("foods"):
        assert r["group"] in tables.index("food_groups")
