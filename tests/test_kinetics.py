"""Growth along a history: closed forms against a differential-equation solver, laws of nature."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from stillroom.physics import kinetics

CARDINALS = (-1.72, 37.0, 45.5)


def solved(mu, h0, start, top, hours):
    """Baranyi & Roberts 1994, differential form in logarithms, by scipy."""

    def slope(t, y):
        ln_q, ln_n = y
        lag = 1 / (1 + np.exp(-ln_q))
        return [mu(t), mu(t) * lag * (1 - np.exp(ln_n - np.log(10) * top))]

    ln_q0 = -np.log(np.expm1(h0))
    run = solve_ivp(
        slope, (0, hours), [ln_q0, start * np.log(10)], rtol=1e-9, atol=1e-9, max_step=0.5
    )
    return run.y[1, -1] / np.log(10)


@pytest.mark.parametrize("h0", [0.2, 2.0, 8.0])
def test_a_varying_history_has_the_closed_form_of_the_differential_equations(h0):
    def temperature(t):
        return 8 + 6 * np.sin(2 * np.pi * np.asarray(t) / 24)

    def mu(t):
        return 0.9 * kinetics.cardinal_factor(temperature(t), *CARDINALS)

    t = np.linspace(0, 96, 9601)
    potential = kinetics.growth_potential(t, mu(t))[-1]
    ours = kinetics.log10_count(potential, 2.0, 7.0, h0)
    assert ours == pytest.approx(solved(lambda x: float(mu(x)), h0, 2.0, 7.0, 96.0), abs=2e-4)


def test_competition_is_that_of_the_differential_equations():
    mu, start, top = np.array([0.08, 0.11, 0.02]), np.array([1.0, 3.0, 2.0]), 8.0

    def slope(t, y):
        return mu * (1 - np.sum(10 ** (y / np.log(10) - top)))

    run = solve_ivp(slope, (0, 300), start * np.log(10), rtol=1e-9, atol=1e-9)
    ours = kinetics.log10_counts_competing(300.0, mu, start, top)
    np.testing.assert_allclose(ours, run.y[:, -1] / np.log(10), atol=2e-3)


@given(st.floats(0, 400), st.floats(0, 12), st.floats(0, 6), st.floats(6.5, 9.5))
def test_growth_is_bounded_and_never_backwards(potential, h0, start, top):
    count = kinetics.log10_count(potential, start, top, h0)
    assert start - 1e-9 <= count <= top + 1e-9
    assert kinetics.log10_count(potential + 1, start, top, h0) >= count - 1e-9
    assert kinetics.log10_count(potential, start, top, h0 + 1) <= count + 1e-9


@given(st.floats(-20, 80), st.floats(0, 14), st.integers(1, 2))
def test_cardinal_factors_lie_between_nothing_and_the_best(T, ph, n):
    assert 0 <= kinetics.cardinal_factor(T, *CARDINALS) <= 1
    assert 0 <= kinetics.cardinal_factor(ph, 4.7, 7.1, 9.6, n) <= 1


def test_cardinal_factors_are_continuous_and_zero_outside():
    T = np.linspace(-10, 60, 70001)
    factor = kinetics.cardinal_factor(T, *CARDINALS)
    assert np.abs(np.diff(factor)).max() < 1e-3
    assert factor[CARDINALS[0] >= T].max() == factor[CARDINALS[2] <= T].max() == 0
    assert kinetics.cardinal_factor(37.0, *CARDINALS) == pytest.approx(1)
    rising = factor[(CARDINALS[0] < T) & (T < 37)]
    assert np.all(np.diff(rising) > -1e-12)


def test_a_start_above_the_maximum_stays():
    assert kinetics.log10_count(50.0, 9.0, 8.5, 1.0) == 9.0


def test_earliest_toxin_falls_with_temperature():
    """Skinner & Larkin 1998 as worked in a note of ours [memory]: 25 d at 3 °C, 8.6 at 5, 2.5 at 10."""
    days = kinetics.earliest_toxin_days([3.0, 5.0, 10.0])
    np.testing.assert_allclose(days, [25, 8.6, 2.5], rtol=0.03)


def test_the_potential_of_a_square_root_rate_along_straight_lines_is_exact():
    """mu = (b (T - T_min))^2 with T straight between readings has a cubic integral: Simpson's."""
    t = np.array([0.0, 1, 3, 4, 8])
    T = np.array([4.0, 9, 2, 12, 5])
    exact = np.cumsum(np.diff(t) / 3 * (T[1:] ** 2 + T[1:] * T[:-1] + T[:-1] ** 2))
    middle = ((T[1:] + T[:-1]) / 2) ** 2
    ours = kinetics.growth_potential(t, np.stack([T**2, 2 * T**2]), np.stack([middle, 2 * middle]))
    np.testing.assert_allclose(ours[:, 1:], [exact, 2 * exact], rtol=1e-12)
    assert np.all(kinetics.growth_potential(t, T**2)[1:] > exact)


def test_three_phases_are_straight_lines_between_start_and_maximum():
    t = np.array([0.0, 5, 10, 20, 100])
    y = kinetics.three_phase_log10_count(t, 3.0, np.log(10) / 5, 5.0, 7.0)
    np.testing.assert_allclose(y, [3, 3, 4, 6, 7])
    assert kinetics.three_phase_log10_count(10.0, 8.0, 1.0, 0.0, 7.0) == 8.0
    assert kinetics.three_phase_log10_count(10.0, 3.0, np.log(10)) == pytest.approx(13.0)
