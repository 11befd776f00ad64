"""The vector of amounts: mixing is addition, and the batch size does not matter."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import stillroom as sr
from stillroom.product.mixture import components

AMOUNTS = {
    "water": st.floats(100, 2000),
    "sucrose": st.floats(0, 1500),
    "glucose": st.floats(0, 400),
    "NaCl": st.floats(0, 150),
    "acetic": st.floats(0, 60),
    "citric": st.floats(0, 30),
    "K": st.floats(0, 5),
    "protein": st.floats(0, 100),
}
PARTS = st.fixed_dictionaries(AMOUNTS)


@given(PARTS, PARTS)
def test_mixing_is_addition(a, b):
    together = sr.Mixture.of({k: a[k] + b[k] for k in a})
    mixed = sr.Mixture.of(a) + sr.Mixture.of(b)
    np.testing.assert_allclose(mixed.amounts, together.amounts, rtol=1e-12, atol=1e-15)
    assert float(mixed.total_g) == pytest.approx(
        float(sr.Mixture.of(a).total_g) + float(sr.Mixture.of(b).total_g)
    )


@given(PARTS, st.floats(0.01, 100))
def test_properties_do_not_depend_on_the_size_of_the_batch(parts, factor):
    m = sr.Mixture.of(parts)
    for prop in (sr.water_activity, sr.ph, sr.brix, sr.density_g_per_cm3):
        assert float(prop(m * factor)) == pytest.approx(float(prop(m)), abs=2e-7)


@given(PARTS)
def test_splitting_an_ingredient_changes_nothing(parts):
    whole = sr.Mixture.of(parts)
    split = sr.Mixture.of({k: v / 3 for k, v in parts.items()})
    split = split + sr.Mixture.of({k: 2 * v / 3 for k, v in reversed(parts.items())})
    assert float(sr.water_activity(split)) == pytest.approx(
        float(sr.water_activity(whole)), abs=1e-8
    )
    assert float(sr.ph(split)) == pytest.approx(float(sr.ph(whole)), abs=1e-7)


def test_grams_unless_said():
    m = sr.Mixture.of({"water": 33.3, "sucrose": 66.7})
    assert float(m.grams("water")) == pytest.approx(33.3)
    assert float(m.total_g) == pytest.approx(100.0)
    assert float(sr.Mixture.of({"water": 1.0}, unit="kg").total_g) == pytest.approx(1000.0)


def test_any_leading_shape_is_free():
    m = sr.Mixture.of({"water": np.ones((3, 2)), "sucrose": np.linspace(0, 2, 2)})
    assert m.shape == (3, 2)
    assert sr.water_activity(m).shape == (3, 2)
    assert sr.ph(m[0]).shape == (2,)


def test_one_recipe_and_a_thousand_are_the_same_numbers():
    parts = {
        "water": 350.0,
        "sucrose": 500.0,
        "glucose": 60.0,
        "citric": 8.0,
        "K": 1.5,
        "NaCl": 4.0,
    }
    one = sr.Mixture.of(parts)
    many = sr.Mixture.of({k: np.full(1000, v) for k, v in parts.items()})
    for prop in (sr.water_activity, sr.ph, sr.brix, sr.boiling_point_C, sr.freezing_point_C):
        stacked = prop(many)
        assert np.ptp(stacked) == 0
        assert stacked[0] == pytest.approx(float(prop(one)), abs=1e-9)


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        ({"suger": 1.0}, "Near it: sugar|not a component"),
        ({"water": -1.0}, "water: the amount must be 0 or more"),
        ({"water": float("nan")}, "0 or more"),
        ({"water": float("inf")}, "0 or more"),
    ],
)
def test_bad_amounts_are_named(parts, message):
    with pytest.raises(sr.InputError, match=message):
        sr.Mixture.of(parts)


def test_salts_of_weak_acids_weigh_what_they_weigh():
    benzoate = sr.Mixture.of({"sodium_benzoate": 144.105})
    assert float(benzoate.total_g) == pytest.approx(144.105, abs=0.01)
    assert float(benzoate.strong_charge_mol) == pytest.approx(1.0, abs=1e-3)


def test_amounts_name_every_component():
    assert sr.Mixture.nothing().amounts.shape == (len(components()),)
