"""Laws of water activity."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import stillroom as sr
from stillroom import tables
from stillroom.physics import osmosis, water
from stillroom.product.mixture import of_kind

SOLUTES = ["sucrose", "glucose", "fructose", "maltose", "sorbitol", "xylitol", "glycerol", "ethanol",
           "NaCl", "KCl", "CaCl2", "MgCl2", "sodium_lactate", "citric", "acetic"]  # fmt: skip
BASES = st.fixed_dictionaries(
    {"sucrose": st.floats(0, 900), "NaCl": st.floats(0, 120), "glucose": st.floats(0, 300)}
)


def test_pure_water_is_one():
    assert float(sr.water_activity(sr.Mixture.of({"water": 100.0}))) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("solute", SOLUTES)
@given(base=BASES)
def test_every_solute_lowers_it(solute, base):
    amounts = np.linspace(0, 80, 9)
    ladder = sr.Mixture.of({"water": 1000.0, **base}) + sr.Mixture.of({solute: amounts})
    assert np.all(np.diff(sr.water_activity(ladder)) < 0)


@given(base=BASES)
def test_polymers_that_hold_water_lower_it(base):
    ladder = sr.Mixture.of({"water": 1000.0, "sucrose": 5.0, **base}) + sr.Mixture.of(
        {"protein": np.linspace(0, 300, 5)}
    )
    assert np.all(np.diff(sr.water_activity(ladder)) < 1e-12)


def test_fat_changes_nothing():
    lean = sr.Mixture.of({"water": 60.0, "NaCl": 3.0})
    fat = lean + sr.Mixture.of({"fat": 40.0})
    assert float(sr.water_activity(fat)) == pytest.approx(float(sr.water_activity(lean)), abs=1e-10)


def test_salt_beyond_its_solubility_is_crystals():
    """Saturated sodium chloride at 25 °C: 0.753, Greenspan 1977."""
    assert float(sr.water_activity(sr.Mixture.of({"water": 100.0, "NaCl": 60.0}))) == pytest.approx(
        0.753, abs=0.003
    )


def test_the_simple_rule_reads_high_for_sugar_and_salt_and_low_for_acid():
    """Directions stated in the literature collected: Norrish 1966; Chirife et al. 1980."""
    for solute, amount in (("sucrose", 800.0), ("NaCl", 200.0)):
        m = sr.Mixture.of({"water": 1000.0, solute: amount})
        assert sr.water_activity(m, model="ideal") > sr.water_activity(m)
    acid = sr.Mixture.of({"water": 1000.0, "lactic": 500.0})
    assert sr.water_activity(acid, model="ideal") < sr.water_activity(acid)


def test_the_product_rule_reads_high_for_syrups():
    """Ross 1975 against sharing: +0.012 to +0.035 in jams."""
    jam = sr.Mixture.of({"water": 35.0, "sucrose": 45.0, "glucose": 10.0, "fructose": 10.0})
    gap = float(sr.water_activity(jam, model="product") - sr.water_activity(jam))
    assert 0.010 < gap < 0.035


def test_an_unknown_model_is_refused():
    with pytest.raises(sr.InputError, match="model must be one of shares, norrish, ideal, product"):
        sr.water_activity(sr.Mixture.of({"water": 1.0}), model="magic")


@pytest.mark.parametrize("solute", of_kind("sugar", "polyol", "alcohol"))
def test_norrish_and_its_inverse_are_a_round_trip(solute):
    K = tables.row("norrish", solute)["K"]
    m = np.array([0.01, 0.5, 2.0, 6.0, 15.0])
    a_w = water.norrish_water_activity(m, K)
    np.testing.assert_allclose(water.norrish_molality(a_w, K), m, rtol=1e-7)


def test_hydration_and_norrish_agree_for_sucrose():
    """Both follow Robinson & Stokes 1959 to 6 mol/kg: 0.0002 and 0.0007."""
    m = np.linspace(0.2, 6, 30)
    a_w = water.norrish_water_activity(m, 6.47)
    np.testing.assert_allclose(water.hydration_molality(a_w, 11, 0.994), m, rtol=0.02)


def test_mole_share_norrish_agrees_with_sharing_for_sugars():
    """Ferro Fontan, Chirife & Boquet 1981: within 0.004."""
    jam = sr.Mixture.of({"water": 350.0, "sucrose": 450.0, "glucose": 100.0, "fructose": 100.0})
    m = [float(jam.mol(s)) / 0.35 for s in ("sucrose", "glucose", "fructose")]
    other = water.mole_share_norrish_water_activity(m, [6.47, 2.25, 2.25])
    assert float(sr.water_activity(jam)) == pytest.approx(float(other), abs=0.004)


def test_trade_figures_of_mole_fraction():
    """Common practice, no source: a fresh berry, and a preserve taken as sucrose and water."""
    berry = water.water_mole_fraction(np.array([1000 * 20.0 / 342.297 / 138.0]))
    assert float(berry) == pytest.approx(0.99, abs=0.005)
    preserve = sr.Mixture.of({"water": 516.8, "sucrose": 2224 - 516.8})
    simple = float(sr.water_activity(preserve, model="ideal"))
    assert simple == pytest.approx(0.85, abs=0.005)
    assert float(sr.water_activity(preserve)) < simple - 0.05  # the simple rule errs high


def test_physiological_saline_presses_with_0_7_megapascal():
    """0.9 % sodium chloride: a_w 0.995 and 0.71 MPa, CRC Handbook and osmotic theory."""
    saline = sr.water_activity(sr.Mixture.of({"water": 99.1, "NaCl": 0.9}))
    assert float(saline) == pytest.approx(0.995, abs=0.0005)
    assert float(sr.osmotic_pressure_MPa(saline)) == pytest.approx(0.71, abs=0.03)


def test_a_cell_shrinks_as_the_chart_says():
    """Boyle-van't Hoff with b = 0.4 and P0 = 1 MPa: 0.98 -> 0.62, 0.95 -> 0.485, 0.90 -> 0.44."""
    pressure = -osmosis.water_potential_MPa(np.array([0.98, 0.95, 0.90]))
    volume = osmosis.relative_cell_volume(pressure, 1.0, 0.4)
    np.testing.assert_allclose(volume, [0.617, 0.485, 0.441], atol=0.002)


def test_frozen_food_has_the_water_activity_of_ice():
    """0.953 at -5 °C, 0.907 at -10 °C, 0.822 at -20 °C: ice-water equilibrium."""
    from stillroom.physics.phase import water_activity_of_ice

    np.testing.assert_allclose(
        water_activity_of_ice(np.array([5.0, 10.0, 20.0])), [0.953, 0.907, 0.822], atol=0.001
    )
