"""Air, drying curves and times, salting: against psychrolib and CoolProp, laws, published numbers."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from stillroom import tables
from stillroom.physics import (
    air,
    diffusion,
    drying,
    osmotic_drying,
    phase,
    salting,
    sorption,
    thin_layer,
)
from stillroom.product import properties

RNG = np.random.default_rng(3)
PLACES = RNG.uniform([10, 0.1, 70], [90, 0.95, 103], (200, 3))  # °C, RH, kPa


@pytest.fixture(autouse=True)
def _si():
    psychrolib.SetUnitSystem(psychrolib.SI)


# --- air --------------------------------------------------------------------------------------


def test_humidity_is_that_of_psychrolib():
    T, rh, p = PLACES.T
    ours = air.air_humidity_ratio(T, rh, p)
    theirs = [psychrolib.GetHumRatioFromRelHum(*x[:2], 1000 * x[2]) for x in PLACES]
    np.testing.assert_allclose(ours, theirs, rtol=1e-3)
    np.testing.assert_allclose(air.air_relative_humidity(T, ours, p), rh)


def test_the_wet_bulb_is_that_of_psychrolib():
    T, rh, p = PLACES.T
    ours = air.wet_bulb_C(T, air.air_humidity_ratio(T, rh, p), p)
    theirs = [psychrolib.GetTWetBulbFromRelHum(*x[:2], 1000 * x[2]) for x in PLACES]
    np.testing.assert_allclose(ours, theirs, atol=0.01)


def test_moist_air_as_a_real_gas_differs_little():
    for T, rh, p in PLACES[:40]:
        state = ("T", T + 273.15, "P", 1000 * p, "R", rh)
        assert air.air_humidity_ratio(T, rh, p) == pytest.approx(HAPropsSI("W", *state), rel=0.015)
        wet = air.wet_bulb_C(T, air.air_humidity_ratio(T, rh, p), p)
        assert wet == pytest.approx(HAPropsSI("B", *state) - 273.15, abs=0.25)


def test_vapour_pressure_and_latent_heat_are_those_of_the_steam_tables():
    for T in (0.1, 5, 25, 38, 60, 100, 150):
        kelvin = ("T", T + 273.15, "Q")
        assert 1000 * phase.saturation_pressure_kPa(T) == pytest.approx(
            PropsSI("P", *kelvin, 1, "Water"), rel=3e-4
        )
        steam = (PropsSI("H", *kelvin, 1, "Water") - PropsSI("H", *kelvin, 0, "Water")) / 1000
        assert air.latent_heat_kJ_per_kg(T) == pytest.approx(steam, rel=1e-4)


def test_heated_room_air_dries():
    """20 °C, 60 % heated to 60 °C: 7.0 % RH, wet bulb 26.9 °C, 0.0139 kg/kg at most (psychrolib);
    60 °C, 10 %: 0.01249 kg/kg, wet bulb 28.99 °C."""
    W = air.air_humidity_ratio(20.0, 0.6)
    assert air.air_relative_humidity(60.0, W) == pytest.approx(0.0704, abs=2e-4)
    assert air.wet_bulb_C(60.0, W) == pytest.approx(26.9, abs=0.05)
    assert air.adiabatic_pick_up(60.0, W) == pytest.approx(0.0139, abs=1e-4)
    assert air.air_humidity_ratio(60.0, 0.1) == pytest.approx(0.01249, rel=1e-3)
    assert air.wet_bulb_C(60.0, air.air_humidity_ratio(60.0, 0.1)) == pytest.approx(28.99, abs=0.01)


@given(st.floats(5, 95), st.floats(0.05, 0.99))
def test_the_wet_bulb_lies_below_the_air_and_nothing_is_taken_up_by_wet_air(T, rh):
    W = air.air_humidity_ratio(T, rh)
    wet = air.wet_bulb_C(T, W)
    if np.isfinite(wet):  # nan below the freezing point
        assert wet <= T
        assert air.adiabatic_pick_up(T, W) >= -1e-9
    else:
        assert T < 20
    assert air.adiabatic_pick_up(T, air.air_humidity_ratio(T, 1.0)) == pytest.approx(0, abs=1e-6)


# --- balances and times -----------------------------------------------------------------------


@given(st.floats(0.01, 0.99))
def test_the_two_bases_are_inverse(w):
    assert drying.wet_basis_moisture(drying.dry_basis_moisture(w)) == pytest.approx(w)


@given(st.floats(0.1, 1000), st.floats(0.5, 0.95), st.floats(0.02, 0.45))
def test_dry_solids_stay(mass, before, after):
    left = drying.dried_mass_kg(mass, before, after)
    assert left < mass
    assert left * (1 - after) == pytest.approx(mass * (1 - before))


def test_drying_time_is_that_of_the_differential_equation():
    Ws, A, Rc, X0, Xc, Xe = 2.0, 1.5, 1.2, 5.0, 2.5, 0.1

    def slope(t, X):
        return -A * Rc / Ws * np.clip((X - Xe) / (Xc - Xe), None, 1.0)

    for begin, end in ((X0, 0.4), (X0, 3.0), (2.0, 0.4)):
        t = float(drying.drying_time_h(Ws, A, Rc, begin, Xc, end, Xe))
        run = solve_ivp(slope, (0, t), [begin], rtol=1e-9, atol=1e-11, max_step=t / 200)
        assert run.y[0, -1] == pytest.approx(end, abs=2e-5)
    assert np.isinf(drying.drying_time_h(Ws, A, Rc, X0, Xc, 0.1, Xe))
    assert np.isinf(drying.falling_rate_time(X0, 0.05, 0.3, Xe))
    t = drying.falling_rate_time(X0, 0.4, 0.3, Xe)
    assert thin_layer.moisture_ratio_lewis(t, 0.3) == pytest.approx((0.4 - Xe) / (X0 - Xe))


def test_a_piece_dries_by_the_series_of_crank_and_early_by_the_root_of_time():
    """Crank 1975; short times 1 - 2 sqrt(Fo / pi) for a slab."""
    fo = np.array([0.002, 0.01, 0.04])
    left = 1 - diffusion.uptake_fraction(fo)
    np.testing.assert_allclose(left, 1 - 2 * np.sqrt(fo / np.pi), atol=1e-6)
    n = np.arange(2000)
    odd = (2 * n + 1) ** 2
    series = 8 / np.pi**2 * np.sum(np.exp(-odd * np.pi**2 * 0.1 / 4) / odd)
    assert 1 - diffusion.uptake_fraction(0.1) == pytest.approx(series, abs=1e-6)


def test_mango_dries_faster_when_it_is_hot():
    """Akoy 2014, Int. Food Res. J. 21:1911: 4.97e-10 at 60 °C, 10.83e-10 at 80 °C, 37.99 kJ/mol."""
    row = tables.row("moisture_diffusivity", ("mango slices", "water"))
    hot = drying.moisture_diffusivity_m2_per_s(
        row["D_ref_m2_per_s"], row["reference_C"], row["activation_energy_kJ_mol"], 80.0
    )
    assert hot == pytest.approx(row["high_m2_per_s"], rel=0.01)


def test_no_shipped_diffusivity_of_water_exceeds_that_in_water():
    """Water in water: 2.3e-9 m2/s at 25 °C, about 1e-8 at 90 °C; 10 % published error allowed for."""
    for r in tables.rows("moisture_diffusivity"):
        assert 0 < r["low_m2_per_s"] <= r["high_m2_per_s"] <= 1.3e-8, r["food"]


def test_heat_and_efficiency():
    """0.70 kWh/kg from 20 to 60 °C; 5 kJ/mol of binding are 278 kJ/kg. Michigan State University
    Extension: 19.35 kWh for 18 lb of peaches, about 24 % (moistures assumed)."""
    assert drying.least_heat_kWh_per_kg(20.0, 60.0) == pytest.approx(0.70, abs=0.003)
    bound = drying.least_heat_kWh_per_kg(20.0, 60.0, 5.0) - drying.least_heat_kWh_per_kg(20.0, 60.0)
    assert 3600 * bound == pytest.approx(278, abs=1)
    water = 8.165 - drying.dried_mass_kg(8.165, 0.889, 0.20)
    assert drying.dryer_efficiency(water, 2357.7, 19.35) == pytest.approx(0.24, abs=0.005)


# --- thin layers ------------------------------------------------------------------------------

# gum-coated sour cherry, Ultrasonics Sonochemistry 100:106633 (2023) Table 1: its own predictions
CHERRY = {
    "page": ([15, 30, 60], [0.673, 0.511, 0.321]),
    "logarithmic": ([90], [0.218]),
    "midilli": ([30], [0.518]),
}


@pytest.mark.parametrize("equation", CHERRY)
def test_drying_curves_are_those_of_the_paper(equation):
    row = tables.row("thin_layer", ("sour cherry, gum-coated", equation))
    assert row["time_unit"] == "min"
    constants = {n: row[n] for n in "knabc" if row[n] is not None}
    minutes, expected = CHERRY[equation]
    ours = thin_layer.CURVES[equation](np.array(minutes, float), **constants)
    np.testing.assert_allclose(ours, expected, atol=1e-3)


@given(st.floats(0, 500), st.floats(1e-4, 0.05), st.floats(0.5, 1.5))
def test_drying_curves_are_special_cases_of_each_other(t, k, n):
    lewis = thin_layer.moisture_ratio_lewis(t, k)
    assert 0 <= lewis <= 1
    assert thin_layer.moisture_ratio_page(t, k, 1.0) == pytest.approx(lewis)
    assert thin_layer.moisture_ratio_henderson_pabis(t, 1.0, k) == pytest.approx(lewis)
    assert thin_layer.moisture_ratio_logarithmic(t, 1.0, k, 0.0) == pytest.approx(lewis)
    assert thin_layer.moisture_ratio_two_term(t, 0.4, k, 0.6, k) == pytest.approx(lewis)
    page = thin_layer.moisture_ratio_page(t, k, n)
    assert thin_layer.moisture_ratio_midilli(t, 1.0, k, n, 0.0) == pytest.approx(page)
    modified = thin_layer.moisture_ratio_modified_page(t, k, n)
    assert thin_layer.moisture_ratio_page(t, k**n, n) == pytest.approx(modified)
    assert thin_layer.moisture_ratio_wang_singh(0.0, -k, k**2) == 1


# --- osmotic ----------------------------------------------------------------------------------


@given(st.floats(40, 95), st.floats(0.5, 0.95), st.floats(0.3, 0.9))
def test_what_is_lost_less_what_is_gained_is_the_loss_of_mass(final, before, after):
    lost = osmotic_drying.water_loss(100.0, before, final, after)
    gained = osmotic_drying.solids_gain(100.0, before, final, after)
    assert lost - gained == pytest.approx((100 - final) / 100)


def test_a_worked_osmotic_balance():
    """100 g of 85 % water become 65 g of 65 %: 0.4275 lost, 0.0775 gained, 0.35 lighter."""
    assert osmotic_drying.water_loss(100, 0.85, 65, 0.65) == pytest.approx(0.4275)
    assert osmotic_drying.solids_gain(100, 0.85, 65, 0.65) == pytest.approx(0.0775)


@given(st.floats(0.1, 0.8), st.floats(0.002, 0.2))
def test_a_fit_of_azuara_gives_limit_and_rate_back(limit, s1):
    t = np.array([[10.0, 30, 60, 120, 240]] * 2)
    change = osmotic_drying.azuara_change(t, limit, s1)
    np.testing.assert_allclose(osmotic_drying.azuara_limit(t, change), limit)
    np.testing.assert_allclose(osmotic_drying.azuara_rate_per_min(t, change), s1)
    assert osmotic_drying.azuara_change(1 / s1, limit, s1) == pytest.approx(limit / 2)


def test_peleg_goes_from_the_start_to_the_end():
    t = np.array([0.0, 1e9])
    np.testing.assert_allclose(osmotic_drying.peleg_moisture(t, 5.0, 20.0, 0.25), [5, 1], atol=1e-6)


# --- salt and routes --------------------------------------------------------------------------


def nacl(molality):
    curve = properties.brine_curve({}, 25.0)
    return curve(2 * np.reshape(molality, -1), slice(None)).reshape(np.shape(molality))


def lean_meat(moisture):
    return sorption.water_activity_gab(moisture, 0.06, 12, 0.97)


def test_salt_saves_drying():
    """Lean meat, 735 g water and 265 g solids, to water activity 0.85: 89 g may remain, with 40 g
    of salt 220 g (15.4 % of the water phase), 20 % less water to remove and 43 % less time."""
    salt = np.array([0.0, 0.040]) / properties.NACL_KG_PER_MOL
    plain, salted = 1000 * drying.water_left_kg(0.85, 0.265, salt, lean_meat, nacl)
    assert plain == pytest.approx(89, abs=0.5)
    assert salted == pytest.approx(220, abs=1)
    assert 100 * 40 / (40 + salted) == pytest.approx(15.4, abs=0.05)
    assert (735 - salted) / (735 - plain) == pytest.approx(0.80, abs=0.005)
    times = drying.falling_rate_time(735 / 265, np.array([plain, salted]) / 265, 1.0)
    assert times[1] / times[0] == pytest.approx(0.57, abs=0.005)


@given(st.floats(0.7, 0.95), st.floats(0.01, 0.04), st.floats(0.5, 3.0))
def test_a_wetter_target_leaves_more_water_and_the_product_holds(a, step, salt):
    left, wetter = drying.water_left_kg(np.array([a, a + step]), 0.265, salt, lean_meat, nacl)
    assert wetter > left
    matrix = np.nan_to_num(lean_meat(left / 0.265), nan=1.0)
    assert matrix * nacl(salt / left) == pytest.approx(a, abs=1e-6)


def test_crystals_of_salt_lower_nothing():
    """Saturated brine has 0.753: however much salt, it goes no lower than that times the matrix."""
    heaps = np.array([5.0, 50.0])
    one, other = drying.water_left_kg(0.70, 0.265, heaps, lean_meat, nacl, 6.15)
    assert one == pytest.approx(other)
    assert lean_meat(one / 0.265) == pytest.approx(0.70 / nacl(6.15), abs=1e-6)


def test_the_brine_of_a_water_activity_is_found():
    """Pitzer: 0.85 at 19.08 % of the water phase; regulators round to 20 %."""
    m = salting.molality_at_water_activity(np.array([0.85, 0.95]), nacl)
    np.testing.assert_allclose(nacl(m), [0.85, 0.95], atol=1e-9)
    salt = m[0] * properties.NACL_KG_PER_MOL
    assert 100 * salt / (1 + salt) == pytest.approx(19.08, abs=0.02)


@given(st.floats(0.005, 0.2), st.floats(0.1, 100), st.floats(0.1, 100))
def test_the_salt_of_a_brine_ends_at_the_target(target, meat, water):
    salt = salting.brine_salt_kg(target, meat, water)
    assert salt / (meat + water + salt) == pytest.approx(target)


def test_cure_and_sausage():
    """9 CFR 424.21(c): 156 mg/kg of sodium nitrite are 1/4 oz in 100 lb; bacon 120 as KNO2 148,
    dry 200 as KNO2 246; 10 % of a belly with its rind takes no cure."""
    assert salting.cure_mass_kg(45.3592, 156.25, 1.0) == pytest.approx(0.25 * 0.0283495, rel=1e-4)
    assert salting.cure_mass_kg(2.5, 150.0, 0.0625) == pytest.approx(0.006)
    assert salting.cure_mass_kg(2.5, 150.0, 0.0625, 0.1) == pytest.approx(0.0054)
    np.testing.assert_allclose(
        salting.potassium_nitrite_mg_per_kg(np.array([120, 200])), [148, 246.7], atol=0.1
    )
    mass = salting.mass_at_mpr_kg(2.0, 0.75, 0.22, 0.75, 0.06)
    assert mass == pytest.approx(0.890)
    water = mass - 2.0 * 0.25 - 0.06
    assert salting.moisture_protein_ratio(water, 2.0 * 0.22) == pytest.approx(0.75)


def limits(jurisdiction):
    rows = [r for r in tables.rows("degree_hours") if r["jurisdiction"] == jurisdiction]
    ends = {
        c: np.array([np.inf if r[c] is None else r[c] for r in rows])
        for c in ("hottest_below", "hottest_up_to", "limit_degree_hours")
    }
    return rows[0]["threshold"], ends


def test_degree_hours_go_by_the_hottest_stage():
    """US: 1200 below 90 °F, 1000 to 100 °F, 900 above; Canada: 665 below 33 °C, 555 to 37 °C, 500
    above."""
    threshold, us = limits("US")
    hottest = np.array([80.0, 89.9, 90.0, 100.0, 100.1])
    np.testing.assert_array_equal(
        salting.degree_hours_limit(hottest, **us), [1200, 1200, 1000, 1000, 900]
    )
    assert threshold == 60
    threshold, canada = limits("CA")
    np.testing.assert_array_equal(
        salting.degree_hours_limit(np.array([32.9, 33.0, 37.0, 38.0]), **canada),
        [665, 555, 555, 500],
    )
    assert threshold == 15.6


@given(st.floats(61, 110), st.floats(100, 2000))
def test_the_longest_time_uses_up_the_limit(T, limit):
    hours = salting.degree_hours_limit_h(limit, T, 60.0)
    assert salting.degree_hours(np.array([hours]), np.array([T]), 60.0) == pytest.approx(limit)
    cold = salting.degree_hours(np.array([hours, 48.0]), np.array([T, 40.0]), 60.0)
    assert cold == pytest.approx(limit)  # a cold rest takes nothing back
    assert np.isinf(salting.degree_hours_limit_h(limit, 60.0, 60.0))
