"""Packs against moisture: closed forms against quadrature and solvers, laws, published numbers."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from stillroom import tables
from stillroom.physics import barrier, ingress, sorption

SNACK = (0.0365, 12.0, 0.93)


def snack(a):
    return sorption.moisture_gab(a, *SNACK)


def raisin(a):
    return sorption.moisture_gab(a, 0.082, 5.0, 1.02)


def flake(a):
    return sorption.moisture_gab(a, 0.05, 15.0, 0.9)


def straight(a):
    return 0.15 * a + 0.01


# --- films ------------------------------------------------------------------------------------


@given(st.floats(1e-3, 500), st.floats(5, 50), st.floats(0.3, 1.0), st.floats(0, 0.25))
def test_permeance_and_transmission_are_inverse(wvtr, T, rh, other):
    P = barrier.permeance_g_per_m2_day_Pa(wvtr, T, rh, other)
    assert barrier.wvtr_g_per_m2_day(P, T, rh, other) == pytest.approx(wvtr)


def test_the_usual_test_divides_by_5969_pascal():
    """38 °C, 90 % RH: 0.9 x 6633 Pa (CoolProp)."""
    drive = 0.9 * PropsSI("P", "T", 311.15, "Q", 1, "Water")
    assert drive == pytest.approx(5969, abs=2)
    permeance = barrier.permeance_g_per_m2_day_Pa(40.0, 38.0, 0.9)
    assert permeance == pytest.approx(40 / drive, rel=3e-4)


def test_layers_units_and_thickness():
    assert barrier.laminate([40.0, 11.811]) == pytest.approx(9.1185, rel=1e-4)
    assert barrier.laminate([[40.0, 0.0], [40.0, 40.0]]) == pytest.approx([0.0, 20.0])  # foil
    assert barrier.at_thickness(23.25, 25.4, 50.0) == pytest.approx(11.811, rel=1e-4)
    per_mil = barrier.transmission_in(1.0, "g mil/(100 in2 day)", "g mil/(m2 day)")
    assert per_mil == pytest.approx(15.5, abs=1e-3)
    assert barrier.transmission_in(1.0, "g mil/(m2 day)", "g mm/(m2 day)") == pytest.approx(0.0254)
    assert barrier.transmission_in(1.0, "g/(m2 h)", "g/(m2 day)") == pytest.approx(24)
    with pytest.raises(ValueError, match="differ by a thickness"):
        barrier.transmission_in(1.0, "g/(m2 day)", "g mil/(m2 day)")
    with pytest.raises(ValueError, match="'perm' is no unit of transmission"):
        barrier.transmission_in(1.0, "perm", "g/(m2 day)")


def test_a_cooler_drier_room_draws_a_quarter_through_polyethylene():
    """LDPE, 33.5 kJ/mol: 38 °C/90 % to 25 °C/75 % is a factor of 0.23."""
    P = barrier.permeance_g_per_m2_day_Pa(1.0, 38.0, 0.9)
    cool = barrier.permeance_at_temperature_g_per_m2_day_Pa(P, 38.0, 33.5, 25.0)
    assert barrier.wvtr_g_per_m2_day(cool, 25.0, 0.75) == pytest.approx(0.23, abs=0.005)
    same = barrier.permeance_at_temperature_g_per_m2_day_Pa(P, 38.0, 0.0, 25.0)
    assert same == P


def test_a_pinhole_is_more_than_all_the_film_of_a_foil_pouch():
    foil = next(r for r in tables.rows("films_barrier") if "aluminium" in r["film"])
    P = barrier.permeance_g_per_m2_day_Pa(
        foil["wvtr_high_g_per_m2_day"], foil["wvtr_test_C"], foil["wvtr_test_relative_humidity"]
    )
    hole = barrier.hole_g_per_day_Pa(50.0, 71.0)
    assert hole > P * 0.05
    assert barrier.conductance_g_per_day_Pa(P, 0.05, hole) == pytest.approx(P * 0.05 + hole)
    # in a film of no depth a hole passes 2 r D, the exact answer for a disc in a wall
    thin = barrier.hole_g_per_day_Pa(50.0, 0.0)
    gram = 1000 * 0.01801527 / (8.314462618 * 298.15)
    assert thin == pytest.approx(86400 * 2 * 25e-6 * 2.5e-5 * gram, rel=1e-6)


# --- the table of films -----------------------------------------------------------------------

FILMS = tables.rows("films_barrier")


@pytest.mark.parametrize("row", FILMS, ids=lambda r: r["film"])
def test_no_transmission_without_the_condition_of_its_test(row):
    low, high = row["wvtr_low_g_per_m2_day"], row["wvtr_high_g_per_m2_day"]
    if low is not None:
        assert 0 <= low <= high
        assert 20 <= row["wvtr_test_C"] <= 40
        assert 0.5 <= row["wvtr_test_relative_humidity"] <= 1
    low, high = row["otr_low_cm3_per_m2_day_atm"], row["otr_high_cm3_per_m2_day_atm"]
    assert low is None or 0 <= low <= high
    assert row["structure"] in ("mono", "coated", "metallised", "laminate", "rigid")


def film(name, source):
    return next(r for r in FILMS if r["film"] == name and source in r["source"])


def test_films_of_different_sources_agree_by_thickness():
    """12 um of the handbook's PET are 33 to 66 g/m2 d; a vendor prints 40."""
    handbook, vendor = film("PET", "Biosystems"), film("PET", "vendor")
    low, high = (
        barrier.at_thickness(handbook[c], handbook["thickness_um"], vendor["thickness_um"])
        for c in ("wvtr_low_g_per_m2_day", "wvtr_high_g_per_m2_day")
    )
    assert (low, high) == pytest.approx((33, 66), abs=1)
    assert low < vendor["wvtr_low_g_per_m2_day"] < high


def test_a_bag_of_polyethylene_lies_within_the_handbook():
    """Tec de Monterrey 2017: 2.935e-3 g/(m2 d Pa) at 37.8 °C is 17.33 g/m2 d."""
    bag, handbook = film("LDPE bag", "Monterrey"), film("LDPE", "Biosystems")
    wvtr = barrier.wvtr_g_per_m2_day(2.935e-3, bag["wvtr_test_C"], 0.9)
    assert wvtr == pytest.approx(bag["wvtr_low_g_per_m2_day"], rel=1e-3)
    assert handbook["wvtr_low_g_per_m2_day"] < wvtr < handbook["wvtr_high_g_per_m2_day"]


def test_a_published_outlier_is_far_from_the_handbook():
    """J. Sci. Res. Rep. 30(6) 2024: 120 g/m2 d through 65 um of LDPE, 10 times too high by mil."""
    handbook = film("LDPE", "Biosystems")
    told = barrier.at_thickness(120.3, 65.0, handbook["thickness_um"])
    assert told > 5 * handbook["wvtr_high_g_per_m2_day"]


def test_lives_in_two_films_are_as_their_transmissions():
    """Garlic powder at 40 °C/90 %: LDPE 24 d, HDPE 78 d; the handbook's films have 3.3 between."""
    ldpe, hdpe = (
        r["wvtr_low_g_per_m2_day"] + r["wvtr_high_g_per_m2_day"]
        for r in (film("LDPE", "Biosystems"), film("HDPE", "Biosystems"))
    )
    assert ldpe / hdpe == pytest.approx(78 / 24, rel=0.05)


# --- water in and out -------------------------------------------------------------------------


@pytest.mark.parametrize(("start", "limit", "outside"), [(0.15, 0.45, 0.65), (0.6, 0.35, 0.3)])
def test_a_straight_isotherm_has_the_closed_form(start, limit, outside):
    closed = ingress.days_to_moisture_linear(
        100.0, 4e-5, 25.0, outside, 0.15, 0.01, straight(start), straight(limit)
    )
    assert ingress.days_to_water_activity(
        100.0, 4e-5, 25.0, outside, start, limit, straight
    ) == pytest.approx(closed, rel=1e-9)


@pytest.mark.parametrize(
    ("curve", "start", "limit", "outside"),
    [(snack, 0.15, 0.45, 0.65), (raisin, 0.6, 0.5, 0.3), (snack, 0.02, 0.5999, 0.6)],
)
def test_any_isotherm_has_the_integral_over_its_moisture(curve, start, limit, outside):
    form = sorption.FORMS["gab"]
    constants = SNACK if curve is snack else (0.082, 5.0, 1.02)
    integral, _ = quad(
        lambda M: 1 / (outside - form.water_activity(M, *constants)),
        curve(start),
        curve(limit),
        limit=500,
        epsrel=1e-10,
    )
    days = ingress.days_to_water_activity(98.0, 8e-6, 25.0, outside, start, limit, curve)
    drive = 8e-6 * barrier.vapour_pressure_Pa(25.0, 1.0)
    assert days == pytest.approx(98 * integral / drive, rel=1e-6)


def test_never_is_infinite_and_already_there_is_nothing():
    limit = np.array([0.15, 0.5, 0.6, 0.1])
    days = ingress.days_to_water_activity(98.0, 1e-5, 25.0, 0.5, 0.15, limit, snack)
    np.testing.assert_array_equal(days, [0, np.inf, np.inf, np.inf])
    M = ingress.days_to_moisture_linear(
        100.0, 4e-5, 25.0, 0.6, 0.15, 0.0, 0.03, np.array([0.03, 0.09, 0.1, 0.02])
    )
    np.testing.assert_array_equal(M, [0, np.inf, np.inf, np.inf])
    tight = ingress.days_to_water_activity(98.0, 0.0, 25.0, 0.5, 0.15, 0.3, snack)
    assert np.isinf(tight)  # glass


lives = st.tuples(
    st.floats(0.05, 0.3), st.floats(0.32, 0.5), st.floats(0.55, 0.9), st.floats(5, 40)
)


@given(lives, st.floats(1e-7, 1e-3), st.floats(1.1, 50))
def test_life_is_inversely_proportional_to_permeance_and_proportional_to_solids(case, G, factor):
    start, limit, outside, T = case
    days = ingress.days_to_water_activity(98.0, G, T, outside, start, limit, snack)
    tighter = ingress.days_to_water_activity(98.0, G / factor, T, outside, start, limit, snack)
    fuller = ingress.days_to_water_activity(98 * factor, G, T, outside, start, limit, snack)
    assert tighter == pytest.approx(factor * days)
    assert fuller == pytest.approx(factor * days)


@given(lives)
def test_a_wetter_room_ends_it_sooner(case):
    start, limit, outside, T = case
    wetter = np.array([outside, outside + 0.05])
    days = ingress.days_to_water_activity(98.0, 1e-5, T, wetter, start, limit, snack)
    assert days[1] < days[0]


def test_samples_run_side_by_side():
    xm = np.array([0.03, 0.0365, 0.04])
    together = ingress.days_to_water_activity(
        98.0,
        np.array([[1e-5], [2e-5]]),
        25.0,
        0.65,
        0.15,
        0.45,
        lambda a: sorption.moisture_gab(a, xm, 12.0, 0.93),
    )
    assert together.shape == (2, 3)
    alone = ingress.days_to_water_activity(98.0, 2e-5, 25.0, 0.65, 0.15, 0.45, snack)
    assert together[1, 1] == pytest.approx(alone)


# --- a changing climate -----------------------------------------------------------------------


def test_one_long_stage_is_the_constant_climate():
    days = ingress.days_to_water_activity(98.0, 8e-6, 25.0, 0.65, 0.15, 0.45, snack)
    end = ingress.water_activity_through_climate(
        98.0, [8e-6], [float(days)], [25.0], [0.65], 0.15, snack
    )
    assert end[-1] == pytest.approx(0.45, abs=1e-5)


def test_a_changing_climate_is_that_of_the_differential_equation():
    """Moisture as the state, temperature in vapour pressure, permeance and water activity."""
    span, T, rh = [20.0, 45.0, 30.0], [32.0, 8.0, 24.0], [0.8, 0.55, 0.3]
    G = barrier.permeance_at_temperature_g_per_m2_day_Pa(8e-6, 38.0, 33.5, np.array(T))
    q, form = 4.0, sorption.FORMS["gab"]
    ours = ingress.water_activity_through_climate(50.0, G, span, T, rh, 0.2, snack, q)
    M, seen = float(snack(0.2)), []
    for n in range(3):

        def activity(m, n=n):
            at_25 = form.water_activity(m, *SNACK)
            return sorption.water_activity_at_temperature(at_25, 25.0, T[n], q)

        def slope(t, m, n=n):
            return G[n] * barrier.vapour_pressure_Pa(T[n], 1.0) * (rh[n] - activity(m)) / 50

        M = solve_ivp(slope, (0, span[n]), [M], rtol=1e-10, atol=1e-12).y[0, -1]
        seen.append(float(activity(M)))
    np.testing.assert_allclose(ours, seen, atol=2e-6)


def test_the_error_falls_with_the_square_of_the_substeps():
    case = (50.0, [3e-5, 3e-5], [20.0, 30.0], [30.0, 20.0], [0.8, 0.3], 0.2, snack)
    fine = ingress.water_activity_through_climate(*case, substeps=2000)[-1]
    errors = [
        abs(ingress.water_activity_through_climate(*case, substeps=n)[-1] - fine)
        for n in (10, 20, 40)
    ]
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.3)
    assert errors[1] / errors[2] == pytest.approx(4, rel=0.3)


@given(st.floats(1e-6, 10.0), st.floats(0.05, 0.7), st.floats(0.05, 0.7))
def test_no_pack_however_weak_overshoots_the_room(G, start, outside):
    course = ingress.water_activity_through_climate(
        98.0, [G] * 3, [30.0] * 3, [25.0] * 3, [outside] * 3, start, snack, substeps=5
    )
    low, high = sorted((start, outside))
    assert np.all((course >= low - 1e-12) & (course <= high + 1e-12))
    assert np.all(np.diff(course) * (outside - start) >= -1e-12)


# --- several things in one pack ---------------------------------------------------------------


@given(st.floats(1, 100), st.floats(1, 100), st.floats(0.05, 0.7), st.floats(0.05, 0.7))
def test_water_is_conserved_in_a_sealed_mix(one, other, a1, a2):
    solids, start, curves = [one, other], [a1, a2], (raisin, flake)
    a = ingress.sealed_mix_water_activity(solids, start, curves)
    before = one * raisin(a1) + other * flake(a2)
    assert one * raisin(a) + other * flake(a) == pytest.approx(before, rel=1e-7)
    assert min(a1, a2) - 1e-9 <= a <= max(a1, a2) + 1e-9
    turned = ingress.sealed_mix_water_activity(solids[::-1], start[::-1], curves[::-1])
    assert turned == pytest.approx(a, abs=1e-9)


def test_straight_isotherms_mix_in_closed_form():
    """Salwin & Slawson 1959."""
    solids, slope, start = [70.0, 30.0], [0.2, 0.1], [0.55, 0.2]
    closed = ingress.sealed_mix_water_activity_linear(solids, slope, start)
    assert closed == pytest.approx(0.48824, abs=1e-5)
    curves = [lambda a, b=b: b * a for b in slope]
    assert ingress.sealed_mix_water_activity(solids, start, curves) == pytest.approx(closed)


def test_crisp_flakes_soften_beside_fruit():
    solids = np.array([[60.0, 40.0], [6.0, 94.0]])
    a = ingress.sealed_mix_water_activity(solids, [0.55, 0.2], (raisin, flake))
    crisp = tables.rows("critical_water_activity")[0]
    assert a[0] > crisp["low"]
    assert a[1] < a[0]


def test_a_wet_part_beyond_the_end_of_another_isotherm_is_no_trouble():
    """Raisins end at water activity 0.98; a part at 0.985 shares its water with them."""
    a = ingress.sealed_mix_water_activity([60.0, 0.5], [0.55, 0.985], (raisin, flake))
    assert 0.55 < a < 0.6


def test_a_litre_of_air_holds_next_to_nothing():
    """0.0115 g at 25 °C and 50 % RH (ideal gas; CoolProp)."""
    held = ingress.headspace_water_g(1.0, 25.0, 0.5)
    half = 0.5 * PropsSI("P", "T", 298.15, "Q", 1, "Water")
    assert held == pytest.approx(PropsSI("D", "T", 298.15, "P", half, "Water"), rel=2e-3)


def test_desiccant_takes_what_comes_in():
    row = tables.row("desiccants", ("silica gel", 0.2))
    G = barrier.conductance_g_per_day_Pa(barrier.permeance_g_per_m2_day_Pa(2.0, 38.0, 0.9), 0.05)
    water = ingress.water_gained_g(G, 25.0, 0.6, 0.2, 180.0)
    mass = ingress.desiccant_g(water, row["capacity_g_per_g"], 0.02)
    assert mass == pytest.approx(38.23, rel=0.002)
    assert mass * (row["capacity_g_per_g"] - 0.02) == pytest.approx(water)
    assert np.isinf(ingress.desiccant_g(1.0, 0.1, 0.1))
    held = [
        r["capacity_g_per_g"] for r in tables.rows("desiccants") if r["desiccant"] == "silica gel"
    ]
    assert held == sorted(held)
