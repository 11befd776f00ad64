"""Heat into packs and what it kills: laws of nature, exact series, general libraries."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from stillroom.errors import InputError
from stillroom.physics import conduction, death, penetration, transfer
from stillroom.product import heating
from stillroom.product.mixture import Mixture
from stillroom.product.properties import thermal

# a 370 ml jar of spread in a water bath (invented; sizes of the trade)
MEDIUM_S, MEDIUM_C = np.array([0, 15, 45, 55, 100]) * 60.0, np.array([60.0, 95, 95, 30, 30])
JAR = transfer.Body("finite_cylinder", 1.4157e-7, 0.045, 0.0355, 0.55, 259.26)


def jar(**changed):
    faces = dict.fromkeys(("side_W_per_m2_K", "bottom_W_per_m2_K", "top_W_per_m2_K"), 259.26)
    same = {
        "radius_m": 0.0355,
        "height_m": 0.09,
        "conductivity_W_per_m_K": 0.55,
        "heat_capacity_J_per_m3_K": 0.55 / 1.4157e-7,
    }
    return conduction.Pack(**(same | faces | changed))


def heated(pack=None, **how):
    return conduction.heat_pack(pack or jar(), 60.0, MEDIUM_S, MEDIUM_C, **how)


def exact(time_s):
    return transfer.temperature_C(JAR, time_s, 60.0, MEDIUM_S, MEDIUM_C)


# --- finite volumes ---------------------------------------------------------------------------


def test_the_error_falls_with_the_square_of_the_step():
    errors = []
    for cells, step_s in (((10, 14), 30.0), ((20, 28), 15.0), ((40, 56), 7.5)):
        run = heated(cells=cells, step_s=step_s)
        errors.append(np.abs(run.axis_C[0] - exact(run.time_s)).max())
    ratios = np.divide(errors[:-1], errors[1:])
    assert np.all(ratios > 3.6), errors
    assert errors[-1] < 0.03


def test_the_error_in_time_alone_falls_with_the_square_of_the_step():
    fine = heated(step_s=1.25, cells=(10, 14)).axis_C[0]
    errors = [
        np.abs(heated(step_s=s, cells=(10, 14)).axis_C[0] - fine[:: int(s / 1.25)]).max()
        for s in (40.0, 20.0, 10.0)
    ]
    assert np.all(np.divide(errors[:-1], errors[1:]) > 3.0), errors


def test_the_lethality_of_the_middle_is_within_half_a_percent_of_the_series():
    run = heated()
    ours = death.lethality_min(run.time_s / 60, run.axis_C[0], 85, 7.5)
    series = death.lethality_min(run.time_s / 60, exact(run.time_s), 85, 7.5)
    assert ours == pytest.approx(series, rel=0.005)
    assert series == pytest.approx(19.87, rel=0.005)  # own calculation by another program


def test_most_of_the_lethality_comes_after_the_heat_is_off():
    run = heated()
    F = death.accumulated_lethality_min(run.time_s / 60, run.axis_C[0], 85, 7.5)
    off = np.searchsorted(run.time_s, 45 * 60)
    assert F[off] < 0.12 * F[-1]


def test_a_slab_is_a_cylinder_with_an_insulated_side():
    pouch = jar(
        height_m=0.015,
        conductivity_W_per_m_K=0.5,
        heat_capacity_J_per_m3_K=0.5 / 1.5e-7,
        side_W_per_m2_K=0.0,
        bottom_W_per_m2_K=700.0,
        top_W_per_m2_K=700.0,
    )
    time, medium = np.array([0, 4, 20, 24, 50]) * 60.0, [25.0, 90, 90, 18, 18]
    run = conduction.heat_pack(pouch, 25.0, time, medium, step_s=2.0, cells=(1, 60))
    body = transfer.Body("slab", 1.5e-7, 0.0075, None, 0.5, 700.0)
    expected = transfer.temperature_C(body, run.time_s, 25.0, time, medium)
    assert np.abs(run.axis_C[0] - expected).max() < 0.03


def test_temperature_dependent_properties_converge_too():
    pack = jar(
        conductivity_W_per_m_K=lambda T: 0.48 + 0.0012 * T,
        heat_capacity_J_per_m3_K=lambda T: 3.7e6 + 2.0e3 * T,
    )
    peaks = [heated(pack, cells=c, step_s=s).axis_C.max() for c, s in
             (((10, 14), 40.0), ((20, 28), 20.0), ((40, 56), 10.0))]  # fmt: skip
    assert (peaks[1] - peaks[0]) / (peaks[2] - peaks[1]) == pytest.approx(4.0, rel=0.3)


def test_constant_properties_given_as_functions_change_nothing():
    given = jar(
        conductivity_W_per_m_K=lambda T: np.full_like(T, 0.55),
        heat_capacity_J_per_m3_K=lambda T: np.full_like(T, 0.55 / 1.4157e-7),
    )
    np.testing.assert_allclose(
        heated(given, cells=(8, 10)).axis_C, heated(cells=(8, 10)).axis_C, atol=1e-9
    )


def test_heat_that_cannot_leave_stays():
    shut = dict.fromkeys(("side_W_per_m2_K", "bottom_W_per_m2_K", "top_W_per_m2_K"), 0.0)
    run = heated(jar(**shut), cells=(6, 8))
    np.testing.assert_allclose(run.mean_C, 60.0, atol=1e-9)


def test_the_heat_in_the_pack_is_what_passed_its_surface():
    pack = jar(bottom_W_per_m2_K=0.0, top_W_per_m2_K=0.0, side_W_per_m2_K=80.0)
    run = heated(pack, step_s=1.0, cells=(20, 4))
    flow = 80.0 * (np.interp(run.time_s, MEDIUM_S, MEDIUM_C) - run.side_C)  # W/m2
    passed = np.concatenate([[0.0], np.cumsum((flow[1:] + flow[:-1]) / 2 * np.diff(run.time_s))])
    held = 0.55 / 1.4157e-7 * 0.0355 / 2 * (run.mean_C - 60.0)  # J/m2 of the side
    assert np.abs(passed - held).max() < 0.005 * np.abs(held).max()


def test_an_insulated_top_moves_the_cold_spot_up():
    run = heated(jar(top_W_per_m2_K=5.0), until_s=45 * 60.0)
    assert run.cell_height[np.argmin(run.final_C[0])] > 0.6


def test_many_packs_at_once_are_each_pack_alone():
    rng = np.random.default_rng(3)
    radius, film = rng.normal(0.0355, 0.001, 6), rng.uniform(100, 400, 6)
    together = heated(
        jar(radius_m=radius, side_W_per_m2_K=film), cells=(8, 10), scales=[death.Scale(85.0, 7.5)]
    )
    for i in range(6):
        alone = heated(
            jar(radius_m=radius[i], side_W_per_m2_K=film[i]),
            cells=(8, 10),
            scales=[death.Scale(85.0, 7.5)],
        )
        np.testing.assert_allclose(together.axis_C[i], alone.axis_C, rtol=1e-12)
        np.testing.assert_allclose(together.lethality_min[i], alone.lethality_min, rtol=1e-10)


def test_each_pack_may_have_its_own_medium():
    both = conduction.heat_pack(
        jar(), 60.0, MEDIUM_S, np.stack([MEDIUM_C, MEDIUM_C - 5]), cells=(8, 10)
    )
    assert np.all(both.axis_C[1, 0, 50:] < both.axis_C[0, 0, 50:])


@pytest.mark.parametrize("how", [{"cells": (0, 10)}, {"step_s": 0.0}, {"until_s": 0.0}])
def test_a_grid_that_cannot_be_is_refused(how):
    with pytest.raises(ValueError, match="at least one cell"):
        heated(**how)


# --- series -----------------------------------------------------------------------------------


@pytest.mark.parametrize("shape", ["slab", "infinite_cylinder", "sphere"])
@given(biot=st.floats(0.01, 1000))
def test_the_series_starts_at_one_and_falls(shape, biot):
    fo = np.linspace(0.02, 3, 40)
    left = transfer.unaccomplished_change(shape, fo, biot, "mean")
    assert np.all(np.diff(left) < 1e-12)
    slower = transfer.unaccomplished_change(shape, fo, biot / 2, "mean")
    assert np.all(slower >= left - 1e-9)
    weights = transfer.coefficients(shape, transfer.eigenvalues(shape, biot))
    assert np.all(np.diff(transfer.eigenvalues(shape, biot)) > 0)
    assert weights[0] >= 1 - 1e-9


def test_one_term_tables():
    """Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, table 5.1 [memory]."""
    for shape, biot, root, weight in (
        ("slab", 0.1, 0.3111, 1.0161),
        ("infinite_cylinder", 10.0, 2.1795, 1.5677),
        ("sphere", 1.0, 1.5708, 1.2732),
    ):
        found = transfer.eigenvalues(shape, biot)[0]
        assert found == pytest.approx(root, abs=2e-4)
        assert transfer.coefficients(shape, found) == pytest.approx(weight, abs=2e-4)


def test_f_and_j_are_those_of_the_simulated_curve():
    medium = np.array([95.0, 95.0])
    run = conduction.heat_pack(jar(), 20.0, [0.0, 9000.0], medium, cells=(40, 56))
    fit = penetration.fit_penetration(run.time_s / 60, run.axis_C[0], 95.0, 20.0, resolution_C=0.05)
    assert fit.f_min == pytest.approx(transfer.heating_rate_fh_min(JAR), rel=0.01)
    assert fit.j == pytest.approx(transfer.lag_factor_jh(JAR), rel=0.03)


def test_the_volume_mean_of_the_places_is_the_mean_term_by_term():
    places, weights = transfer.quadrature(JAR)
    t = np.array([1500.0])
    values = [transfer.temperature_C(JAR, t, 60.0, MEDIUM_S, MEDIUM_C, p)[0] for p in places]
    mean = transfer.temperature_C(JAR, t, 60.0, MEDIUM_S, MEDIUM_C, "mean")[0]
    assert weights @ values == pytest.approx(mean, abs=1e-3)


@pytest.mark.parametrize(
    "body", [transfer.Body("sphere", 1e-7), transfer.Body("slab", 1e-7, 0.01, None, None, 100.0)]
)
def test_a_body_without_its_sizes_or_conductivity_is_refused(body):
    with pytest.raises(ValueError, match="needs"):
        body.directions()


# --- lethality and the formula method ---------------------------------------------------------


@given(st.floats(60, 120), st.floats(5, 30), st.floats(0.1, 60))
def test_a_hold_is_worth_its_rate(temperature, z, minutes):
    F = death.lethality_min([0, minutes], [temperature] * 2, 93.3, z)
    assert minutes == pytest.approx(death.equivalent_hold_min(temperature, F, 93.3, z), rel=1e-9)


def test_simpson_refuses_unequal_steps():
    with pytest.raises(ValueError, match="equal time steps"):
        death.lethality_min([0, 1, 3], [80, 90, 95], 90, 10, rule="simpson")


@given(st.lists(st.floats(0, 50), min_size=2, max_size=8))
def test_the_mass_average_lies_between_the_coldest_part_and_the_mean(parts):
    F, w = np.array(parts), np.ones(len(parts))
    average = death.mass_average_lethality_min(F, w, 1.0)
    assert F.min() - 1e-9 <= average <= F.mean() + 1e-9


@pytest.mark.parametrize("g", [0.05, 1.0, 5.0])
def test_balls_integral_is_the_lethality_of_his_curve(g):
    """Heating line, hyperbola and cooling line sampled finely, by the general method."""
    f, z, Tm, span = 30.0, 10.0, 121.1, 100.0
    top = Tm - g
    m = span - g
    heating = np.linspace(0, f * np.log10(44.444 / g), 20001)
    warm = Tm - 44.444 * 10 ** (-heating / f)
    turn = 0.175 * np.sqrt((1 + 0.343 / 0.3) ** 2 - 1)
    x = np.linspace(0, turn, 20001)
    bend = top + 0.3 * m - 0.3 * m * np.sqrt(1 + (x / 0.175) ** 2)
    y = np.linspace(0, 2, 20001)
    down = Tm - span + 0.657 * m * 10 ** (-y)
    U = sum(
        float(death.lethality_min(t, T, Tm, z))
        for t, T in ((heating, warm), (x * f, bend), (y * f, down))
    )
    assert penetration.ball_fh_over_u(g, z, span) == pytest.approx(f / U, rel=1e-4)
    assert penetration.ball_g_C(f / U, z, span) == pytest.approx(g, rel=1e-3)


def test_the_formula_table_is_never_extrapolated():
    with pytest.raises(ValueError, match="integrate the curve"):
        heating.stumbo_g_C(0.1, 1.4)
    with pytest.raises(ValueError, match="integrate the curve"):
        heating.stumbo_g_C(1.0, 2.5)


@pytest.mark.parametrize(
    ("time", "temperature"), [([0, 1], [60, 70]), ([0, 1, 2, 3], [80, 75, 70, 65])]
)
def test_a_line_needs_points_that_approach_the_medium(time, temperature):
    with pytest.raises(ValueError, match=r"three points|does not approach"):
        penetration.fit_penetration(time, temperature, 95.0, 60.0)


# --- properties, balances, tables -------------------------------------------------------------


def test_pure_water_has_the_properties_of_water():
    """Choi & Okos for the component water against IAPWS, within what they claim."""
    water = Mixture.of({"water": 1.0})
    for T in (20.0, 60.0, 95.0):
        at = ("T", T + 273.15, "P", 101325.0, "Water")
        assert thermal.heat_capacity_J_per_kg_K(water, T) == pytest.approx(
            PropsSI("C", *at), rel=0.01
        )
        assert thermal.conductivity_W_per_m_K(water, T) == pytest.approx(
            PropsSI("CONDUCTIVITY", *at), rel=0.015
        )


@given(st.floats(0, 0.8), st.floats(20, 120))
def test_sugar_lowers_conductivity_and_heat_capacity(share, T):
    syrup = Mixture.of({"water": 1 - share, "sucrose": share})
    stronger = Mixture.of({"water": 0.95 * (1 - share), "sucrose": 1 - 0.95 * (1 - share)})
    for of in (thermal.conductivity_W_per_m_K, thermal.heat_capacity_J_per_kg_K):
        assert of(stronger, T) < of(syrup, T)
    shares = thermal.mass_shares(syrup)
    assert sum(shares.values()) == pytest.approx(1.0)


def test_a_process_that_was_not_tested_is_not_made_up():
    assert heating.home_process_min("peaches", "hot", "quart", 500.0) == 30
    with pytest.raises(InputError, match="no tested process"):
        heating.home_process_min("peaches", "hot", "half-gallon", 0.0)
