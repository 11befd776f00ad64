"""Fits: known parameters come back, intervals hold, and what data cannot tell is refused."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import curve_fit
from typer.testing import CliRunner

import stillroom as sr
from stillroom.assess.fit import fit_to_dict
from stillroom.assess.fit.models import MODELS
from stillroom.assess.fit.solve import chance_of_runs
from stillroom.cli import app
from stillroom.physics import kinetics
from stillroom.product.counts_file import Counts, parse_counts
from stillroom.product.rates_file import Rates, parse_rates
from stillroom.report.fit import draw_fit

COUNTS = Path(__file__).parents[1] / "kitchen" / "counts"
LN10 = np.log(10)
HOURS = np.linspace(0, 60, 14)
MINUTES = np.repeat(np.linspace(0, 12, 9), 2)
WARM_C = np.array([56.0, 59.0, 62.0, 65.0])
D_WARM = 5.0 * 10 ** ((59.0 - WARM_C) / 6.0)
SCATTER = 0.15


def counts(time_h, y, temperature_C=None, below=None, series=None) -> Counts:
    y = np.asarray(y, float)
    return Counts(
        time_h=np.asarray(time_h, float),
        log10_count=y,
        below=np.zeros(y.size, bool) if below is None else below,
        temperature_C=temperature_C,
        series=[""] * y.size if series is None else series,
        sd_log10=np.ones(y.size),
    )


def noise(size: int, seed: int, scatter: float = SCATTER):
    return np.random.default_rng(seed).normal(0, scatter, size)


def baranyi(time_h=HOURS, seed=1, rate=0.35, lag=10.0, start=3.0, top=8.7, scatter=SCATTER):
    y = kinetics.log10_count(rate * time_h, start, top, rate * lag)
    return counts(time_h, y + noise(time_h.size, seed, scatter))


def straight(seed=1, d=2.5, minutes=MINUTES, start=7.0, scatter=SCATTER):
    return counts(minutes / 60, start - minutes / d + noise(minutes.size, seed, scatter))


def over_z(p=1.0, seed=1, temperatures=WARM_C, scatter=SCATTER, z=6.0, decades=4.0):
    d = 5.0 * 10 ** ((59.0 - np.asarray(temperatures)) / z)
    minutes = np.concatenate([np.linspace(0, decades * one, 8) for one in d])
    T = np.repeat(temperatures, 8)
    y = 6.5 - (minutes / np.repeat(d, 8)) ** p
    return counts(minutes / 60, y + noise(y.size, seed, scatter), T)


def held(value, truth) -> bool:
    """Whether a 99.9 % interval holds the truth: the 95 % one, widened."""
    wide = 1.8
    low, high = value.value - value.low, value.high - value.value
    return value.value - wide * low <= truth <= value.value + wide * high


# --- known parameters come back ---------------------------------------------------------------

SMOOTH = {"rate_per_h": 0.3, "lag_h": 10.0, "log10_max": 8.0, "log10_start_1": 3.0}
KNOWN = {
    "baranyi": (
        lambda t: kinetics.log10_count(0.3 * t, 3.0, 8.0, 3.0),
        {**SMOOTH, "h0": 3.0, "generation_h": np.log(2) / 0.3},
    ),
    "baranyi-no-lag": (
        lambda t: kinetics.log10_count(0.3 * t, 3.0, 8.0),
        {"rate_per_h": 0.3, "log10_max": 8.0, "log10_start_1": 3.0},
    ),
    "baranyi-no-max": (
        lambda t: 3.0 + kinetics.work_done(0.3 * t, 6.0) / LN10,
        {"rate_per_h": 0.3, "lag_h": 20.0, "log10_start_1": 3.0},
    ),
    "three-phase": (
        lambda t: np.clip(3.0 + 0.3 * (t - 10) / LN10, 3.0, 8.0),
        SMOOTH,
    ),
    "linear": (lambda t: 3.0 + 0.2 * t / LN10, {"rate_per_h": 0.2, "log10_start_1": 3.0}),
    "log-linear": (
        lambda t: 7.0 - 60 * t / 900,
        {"d_min": 900.0, "five_decades_min": 4500.0, "log10_start_1": 7.0},
    ),
    "weibull": (
        lambda t: 7.0 - (60 * t / 1000) ** 1.3,
        {"delta_min": 1000.0, "p": 1.3, "five_decades_min": 1000 * 5 ** (1 / 1.3)},
    ),
}


@pytest.mark.parametrize("model", KNOWN)
def test_known_parameters_come_back(model):
    curve, truth = KNOWN[model]
    found = sr.fit(counts(HOURS, curve(HOURS) + noise(HOURS.size, 3)), model)
    assert found.verdict == "fitted", found.refusals
    for name, value in truth.items():
        assert held(found[name], value), (name, found[name])
    assert found.solution.rmse == pytest.approx(SCATTER, rel=0.6)
    assert found.solution.r_squared > 0.97


@pytest.mark.parametrize(("model", "p"), [("log-linear-z", 1.0), ("weibull-z", 1.4)])
def test_d_and_z_come_back_from_all_temperatures_at_once(model, p):
    found = sr.fit(over_z(p), model, reference_C=59.0)
    first = "d_min" if p == 1.0 else "delta_min"
    assert held(found["z_C"], 6.0)
    assert held(found[first], 5.0)
    assert p == 1.0 or held(found["p"], p)
    for T, d in zip(WARM_C, D_WARM, strict=True):
        assert held(found[f"{first}_at_{T:g}_C"], d)
        assert found.at(T).value == pytest.approx(found[f"{first}_at_{T:g}_C"].value)


def test_a_square_root_line_comes_back():
    T = np.array([4.0, 7, 10, 13, 16, 20])
    rates = Rates(T, (0.03 * (T + 2) + noise(6, 2, 0.01)) ** 2, "rate_per_h")
    found = sr.fit(rates)
    assert found.model.name == "square-root"
    assert held(found["b"], 0.03)
    assert held(found["temp_min_C"], -2.0)
    assert held(found.at(10.0), 0.36**2)


def test_published_d_values_give_their_published_z():
    """Odlaug & Pflug 1977, Appl. Environ. Microbiol. 34:23 [seen: abstract]: z 9.4 °C."""
    found = sr.fit(parse_rates("T (°C);D (min)\n104,4;6,0\n110,0;1,6\n115,6;0,4"))
    assert found["z_C"].value == pytest.approx(9.4, rel=0.02)
    assert found["z_C"].low < 9.4 < found["z_C"].high


def test_series_share_all_but_their_start():
    y = np.concatenate([s - MINUTES / 2.5 for s in (7.0, 6.2)]) + noise(36, 5)
    data = counts(np.tile(MINUTES / 60, 2), y, series=["a"] * 18 + ["b"] * 18)
    found = sr.fit(data, "log-linear")
    assert held(found["d_min"], 2.5)
    assert held(found["log10_start_1"], 7.0)
    assert held(found["log10_start_2"], 6.2)


# --- against another hand ---------------------------------------------------------------------


def test_the_smooth_curve_is_that_of_another_fit():
    """Baranyi & Roberts 1994 in its printed form, by scipy.optimize.curve_fit."""

    def printed(t, start, mu, lag, top):
        a = t + np.log(np.exp(-mu * t) + np.exp(-mu * lag) - np.exp(-mu * (t + lag))) / mu
        room = np.exp(LN10 * (top - start))
        return start + (mu * a - np.log(1 + (np.exp(mu * a) - 1) / room)) / LN10

    data = baranyi()
    best, covariance = curve_fit(printed, data.time_h, data.log10_count, [3.1, 0.3, 8, 8.5])
    found = sr.fit(data, "baranyi", profile=False)
    names = ("log10_start_1", "rate_per_h", "lag_h", "log10_max")
    np.testing.assert_allclose([found[n].value for n in names], best, rtol=1e-4)
    np.testing.assert_allclose(
        [found[n].error for n in names], np.sqrt(np.diag(covariance)), rtol=2e-2
    )


def test_shaped_survivors_are_those_of_another_fit():
    data = counts(MINUTES / 60, 7 - (MINUTES / 3) ** 1.4 + noise(18, 8))
    best, covariance = curve_fit(lambda t, s, d, p: s - (t / d) ** p, MINUTES, data.log10_count, [7, 3, 1])  # fmt: skip
    found = sr.fit(data, "weibull", profile=False)
    names = ("log10_start_1", "delta_min", "p")
    np.testing.assert_allclose([found[n].value for n in names], best, rtol=1e-4)
    np.testing.assert_allclose(
        [found[n].error for n in names], np.sqrt(np.diag(covariance)), rtol=2e-2
    )


def test_one_step_d_and_z_are_those_of_another_fit():
    data = over_z()
    which = np.repeat(np.arange(4), 8)

    def curves(t, d, z, *starts):
        slope = 1 / (d * 10 ** ((59.0 - np.repeat(WARM_C, 8)) / z))
        return np.array(starts)[which] - t * slope

    best, covariance = curve_fit(curves, 60 * data.time_h, data.log10_count, [4, 8, 6, 6, 6, 6])
    found = sr.fit(data, "log-linear-z", reference_C=59.0, profile=False)
    errors = np.sqrt(np.diag(covariance))
    for n, name in enumerate(("d_min", "z_C", "log10_start_1")):
        assert found[name].value == pytest.approx(best[n], rel=1e-4)
        assert found[name].error == pytest.approx(errors[n], rel=2e-2)


def test_a_profile_interval_of_d_is_the_exact_one_of_a_straight_line():
    """The slope 1 / D has Student's interval; that of D is its inverse."""
    data = straight()
    line = stats.linregress(MINUTES, data.log10_count)
    reach = stats.t.ppf(0.975, MINUTES.size - 2) * line.stderr
    found = sr.fit(data, "log-linear")["d_min"]
    assert found.method == "profile likelihood"
    exact = [-1 / (line.slope - reach), -1 / (line.slope + reach)]
    np.testing.assert_allclose([found.low, found.high], exact, rtol=2e-3)


@pytest.mark.parametrize(
    ("model", "make", "truth"),
    [
        ("log-linear", lambda n: straight(n, minutes=MINUTES[::2]), {"d_min": 2.5}),
        (
            "baranyi",
            lambda n: baranyi(seed=n),
            {"rate_per_h": 0.35, "lag_h": 10.0, "log10_max": 8.7, "generation_h": np.log(2) / 0.35},
        ),
    ],
)
def test_intervals_hold_the_truth_as_often_as_they_say(model, make, truth):
    fits = [sr.fit(make(n), model, profile=False) for n in range(200)]
    for name, value in truth.items():
        share = np.mean([f[name].low <= value <= f[name].high for f in fits])
        assert 0.90 <= share <= 0.98, (name, share)


def test_counts_below_the_limit_do_not_lengthen_d():
    """Tobin 1958: to leave them out makes D longer, as only lucky tubes are counted."""
    kept, left_out = [], []
    for seed in range(40):
        whole = straight(seed, start=5.0, scatter=0.3)
        below = whole.log10_count < 1.0
        y = np.where(below, 1.0, whole.log10_count)
        data = counts(whole.time_h, y, below=below)
        kept.append(sr.fit(data, "log-linear", profile=False)["d_min"].value)
        seen = data.rows(np.flatnonzero(~below))
        left_out.append(sr.fit(seen, "log-linear", profile=False)["d_min"].value)
    assert np.mean(kept) == pytest.approx(2.5, rel=0.015)
    assert np.mean(left_out) > np.mean(kept) + 0.03


def test_a_heavy_point_draws_the_line():
    text = "time (min),log10 cfu,sd\n" + "".join(f"{t},{7 - t},1\n" for t in range(6))
    light, heavy = (parse_counts(text + f"6,2.5,{sd}") for sd in (10, 0.1))
    d = [sr.fit(data, "log-linear", profile=False)["d_min"].value for data in (light, heavy)]
    assert d[0] == pytest.approx(1.0, rel=0.01)
    assert d[1] > 1.2


# --- laws -------------------------------------------------------------------------------------


@settings(max_examples=8)
@given(st.floats(0.05, 500.0), st.integers(0, 1000))
def test_the_unit_of_time_leaves_d_unchanged(d, seed):
    minutes = np.linspace(0, 4 * d, 9)
    y = 6 - minutes / d + noise(9, seed)
    found = []
    for unit, size in (("s", 1 / 60), ("min", 1), ("h", 60), ("d", 1440)):
        rows = [f"{float(t / size)!r},{n!r}" for t, n in zip(minutes, y.tolist(), strict=True)]
        data = parse_counts("\n".join([f"time ({unit}),log10 cfu/g", *rows]))
        v = sr.fit(data, "log-linear", profile=False)["d_min"]
        found.append([v.value, v.low, v.high])
    np.testing.assert_allclose(found[1:], found[:-1], rtol=1e-5)


def test_where_the_reference_lies_leaves_z_and_every_d_unchanged():
    a, b = (sr.fit(over_z(), "log-linear-z", reference_C=T, profile=False) for T in (56.0, 64.0))
    for name in ("z_C", "d_min_at_62_C"):
        for end in ("value", "low", "high"):
            assert getattr(a[name], end) == pytest.approx(getattr(b[name], end), rel=1e-3)
    assert a["d_min"].value == pytest.approx(a["d_min_at_56_C"].value)


def test_runs_have_the_chances_of_all_orders():
    """Two of one sign and two of the other: 6 orders, of which 2 have two runs and 2 three."""
    assert chance_of_runs(2, 2, 2) == pytest.approx(2 / 6)
    assert chance_of_runs(2, 2, 3) == pytest.approx(4 / 6)
    assert chance_of_runs(2, 2, 4) == pytest.approx(1)
    assert chance_of_runs(5, 0, 1) == 1.0
    assert sum(chance_of_runs(4, 7, r) - chance_of_runs(4, 7, r - 1) for r in range(2, 12)) == pytest.approx(1)  # fmt: skip


# --- the best of several ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "model"),
    [
        (baranyi(), "baranyi"),
        (counts(HOURS, 3 + 0.2 * HOURS / LN10 + noise(14, 1)), "linear"),
        (straight(), "log-linear"),
        (counts(MINUTES / 60, 7 - (MINUTES / 3) ** 1.5 + noise(18, 8)), "weibull"),
        (over_z(), "log-linear-z"),
        (over_z(1.5), "weibull-z"),
    ],
)
def test_the_best_model_is_the_one_the_counts_came_from(data, model):
    found = sr.fit(data, profile=False)
    assert found.model.name == model
    assert "lowest AICc" in found.notes[0]
    determined = [r.aicc for r in found.rivals if not r.remark]
    assert determined == sorted(determined)


def test_models_that_cannot_be_told_apart_are_named():
    found = sr.fit(sr.read_counts(COUNTS / "growth.csv"), profile=False)
    assert "do not tell it from" in found.notes[0]


# --- what the data do not tell ----------------------------------------------------------------


def refused(data, model, name=None, **more):
    found = sr.fit(data, model, **more)
    assert found.verdict == "refused"
    assert found.exit_status == 3
    if name is not None:
        assert np.isnan([found[name].low, found[name].high]).all()
        return found[name].why_not
    return " ".join(found.refusals)


def test_too_few_points_are_refused():
    words = refused(baranyi(np.linspace(0, 60, 5)), "baranyi")
    assert words.startswith("baranyi has 4 parameters here and needs 6 points")
    assert "needs 4 points" in refused(straight(minutes=np.array([0, 4, 8.0])), "log-linear")


def test_many_counts_at_two_times_are_refused():
    words = refused(straight(minutes=np.repeat([0.0, 8.0], 4)), "log-linear")
    assert "2 different times" in words
    assert "needs 3 times" in words


def test_a_curve_of_one_time_is_refused():
    words = refused(straight(minutes=np.zeros(6)), "log-linear")
    assert "fewer than two times" in words


def test_a_d_needs_a_decade_and_is_warned_below_two():
    words = refused(straight(d=20.0, scatter=0.02), "log-linear", "d_min")
    assert words == "The counts fall by 0.61 decades; the D value needs 1."
    found = sr.fit(straight(d=8.0, scatter=0.05), "log-linear")
    assert found.verdict == "fitted"
    assert found.warnings[0] == "The counts fall by 1.5 decades; 2 or more make a D to rely on."


def test_growth_of_less_than_a_decade_gives_no_rate():
    data = counts(HOURS, 3 + 0.03 * HOURS / LN10 + noise(14, 2, 0.03))
    found = sr.fit(data, "linear")
    assert (
        found["rate_per_h"].why_not == "The counts rise by 0.78 decades; the growth rate needs 1."
    )
    assert found["generation_h"].why_not == found["rate_per_h"].why_not


def test_no_plateau_gives_no_maximum():
    words = refused(baranyi(np.linspace(0, 35, 12)), "baranyi", "log10_max")
    assert words.startswith("No plateau is seen")


def test_no_lag_phase_gives_no_lag():
    data = counts(HOURS, kinetics.log10_count(0.3 * HOURS, 3.0, 8.0) + noise(14, 4))
    words = refused(data, "baranyi", "lag_h")
    assert words.startswith("No lag is seen")
    assert sr.fit(data, "baranyi")["h0"].why_not == words or "h0" not in str(words)


def test_an_interval_wider_than_tenfold_determines_nothing():
    minutes = np.linspace(0, 12, 6)
    data = counts(minutes / 60, 7 - (minutes / 4) ** 1.2 + noise(6, 1, 0.9))
    words = refused(data, "weibull", "delta_min")
    assert "not determined by these data" in words
    assert "wider than a factor of ten" in words


def test_a_value_at_the_end_of_its_range_determines_nothing():
    minutes = np.linspace(0, 10, 12)
    data = counts(minutes / 60, np.where(minutes < 9.5, 7.0, 3.0) + noise(12, 1, 0.05))
    assert "not determined" in refused(data, "weibull", "p")


def test_one_temperature_gives_no_z():
    words = refused(over_z(temperatures=WARM_C[:1]), "log-linear-z")
    assert words.startswith("log-linear-z needs 3 temperatures or more; the data have 1.")


def test_two_temperatures_give_a_z_without_interval():
    words = refused(over_z(temperatures=WARM_C[:2]), "log-linear-z", "z_C")
    assert words.endswith("no interval is given.")
    found = sr.fit(over_z(temperatures=WARM_C[:2]), "log-linear-z", profile=False)
    assert found["z_C"].value == pytest.approx(6.0, rel=0.1)
    assert held(found["d_min_at_56_C"], D_WARM[0])


def test_temperatures_too_near_give_no_z():
    near = over_z(temperatures=np.array([58.5, 59.0, 59.5]), scatter=0.01)
    assert "temperatures further apart" in refused(near, "log-linear-z", "z_C")


def test_d_values_that_scatter_over_ten_degrees_give_no_z():
    """B. subtilis in tomato juice, 3 D values [seen: abstract]; z 14 was printed without interval."""
    data = parse_rates("T (degC),D (min)\n90,29.5\n95,15.8\n100,5.7")
    assert "not determined" in refused(data, "z", "z_C")


def test_a_line_is_not_followed_beyond_its_temperatures():
    found = sr.fit(over_z(), "log-linear-z", profile=False)
    with pytest.raises(sr.InputError, match="70 °C is outside 56 to 65 °C"):
        found.at(70.0)
    with pytest.raises(sr.InputError, match="outside 56 to 65 °C"):
        sr.fit(over_z(), "log-linear-z", reference_C=121.1)
    with pytest.raises(sr.InputError, match="knows one temperature only"):
        sr.fit(straight(), "log-linear", profile=False).at(60.0)
    with pytest.raises(sr.InputError, match="no reference temperature"):
        sr.fit(straight(), "log-linear", reference_C=60.0)


def test_a_pattern_in_the_residuals_is_told():
    bent = counts(MINUTES / 60, 7 - (MINUTES / 4) ** 2.2 + noise(18, 3, 0.05))
    said = " ".join(sr.fit(bent, "log-linear", profile=False).warnings)
    assert "data bend otherwise than the model" in said
    assert "bend" not in " ".join(sr.fit(bent, "weibull", profile=False).warnings)


def test_a_fall_after_the_peak_is_told():
    data = baranyi()
    data.log10_count[-3:] -= [1.0, 2.0, 3.0]
    assert "after their peak" in " ".join(sr.fit(data, "baranyi", profile=False).warnings)


def test_a_narrow_span_for_z_and_calculated_points_are_told():
    said = " ".join(
        sr.fit(over_z(temperatures=[57.0, 59.0, 61.0], scatter=1e-9), "log-linear-z").warnings
    )
    assert "Over the 4 °C measured D changes 4.6-fold" in said
    assert "lie on the curve exactly" in said


@pytest.mark.parametrize(
    ("data", "model", "words"),
    [
        (baranyi(), "log-linear", "the counts rise by"),
        (baranyi(), "weibull", "for growth there are baranyi"),
        (straight(), "baranyi", "the counts fall by"),
        (straight(), "linear", "for survival there are log-linear"),
        (straight(), "log-linear-z", "needs a column 'temperature (degC)' with 3 temperatures"),
        (over_z(), "log-linear", "or fit all with log-linear-z"),
        (straight(), "square-root", "is fitted to growth rates over temperature"),
        (Rates(WARM_C, D_WARM, "d_min"), "weibull", "for them there is z."),
        (straight(), "barany", "Near it: baranyi"),
        (straight(), "spline", "there are best, baranyi"),
        (
            counts(np.tile(HOURS, 2), np.tile(3 + HOURS / 20, 2), np.repeat([5.0, 10.0], 14)),
            "best",
            "growth is fitted one temperature at a time",
        ),
    ],
)
def test_data_of_another_kind_are_wrong_input(data, model, words):
    with pytest.raises(sr.InputError) as problem:
        sr.fit(data, model)
    assert words in str(problem.value)


# --- files ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "f.csv is empty"),
        ("# only a note\n", "f.csv is empty"),
        ("hello world", "has one column only"),
        ("time (h)\n0\n1\n", "has one column only"),
        ("time (h),log10 cfu/g\n", "has no rows below its column names"),
        ("0,5\n1,4\n", "line 1: no row of column names"),
        ("time,log10 cfu/g\n0,5", "column 'time' does not say its unit; call it 'time (h)'"),
        ("hours later,log10 cfu/g\n0,5", "no column of times among"),
        ("time (h),growth\n0,5", "no column of counts among"),
        ("time (h),log10 cfu/g\n0,many", "line 2, column 'log10 cfu/g': 'many' is not a number"),
        ("time (h),log10 cfu/g\n0,5\n-1,4", "line 3, column 'time (h)': '-1' is before the start"),
        ("time (h),log10 cfu/g\nnan,5", "'nan' is no number; every row needs one here"),
        ("time (h),log10 cfu/g\n0,nan", "holds no counts"),
        ("time (h),log10 cfu/g\n0,250000", "is no log10 count"),
        ("time (h),log10 cfu/g\n0,3,1", "has 3 cells, the row of names has 2; with decimal commas"),
        ("time (h),cfu/g\n0,-30", "'-30' has no logarithm"),
        ("time (h),cfu/g\n0,0", "write a count of nothing as <limit, <10"),
        ("time (h),cfu/g\n0,>300", "above what can be counted"),
        ("time (h),cfu/g\n0,<", "needs its limit, as in <10"),
        ('time (h),cfu/g\n0,"1,200"', "decimal comma or thousands"),
        ("time (h),cfu/g\n0,5.2\n1,4.1", "looks like logarithms; call it 'log10 cfu/g'"),
        ("time (h),log10 cfu,log10 mpn\n0,5,5", "are columns of the same"),
        ("time (h),log10 cfu,temperature\n0,5,60", "call it 'temperature (degC)'"),
        ("time (h),log10 cfu,temp (°C)\n0,5,600", "'600' is not within -60 to 200 °C"),
        ("time (h),log10 cfu,temp (°C)\n0,5,", "'' is no number; every row needs one here"),
        ("time (h),log10 cfu,sd\n0,5,0", "line 2, column 'sd': '0' is not above 0"),
        ("time (h),cfu,sd\n0,500,20", "must be that of the log10 count"),
        ("time (h),log10 cfu,sd,weight\n0,5,1,1", "give one of them"),
        ('time (h),log10 cfu\n0,"5\n1,4', "a quote is not closed"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_in_one_sentence(text, words):
    with pytest.raises(sr.InputError) as problem:
        parse_counts(text, "f.csv")
    said = str(problem.value)
    assert words in said
    assert said.startswith("f.csv")
    assert "\n" not in said


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("T (degC),rate\n5,1", "call it 'rate (1/h)'"),
        ("T (degC),D\n5,1", "call it 'D (min)'"),
        ("T (degC),D (min)\n5,0", "'0' is not above 0"),
        ("D (min),note\n5,a", "no column of temperatures"),
        ("T (degC),note\n5,a", "one column of growth rates"),
        ("T (degC),rate (1/h),D (min)\n5,1,1", "one column of growth rates"),
    ],
)
def test_rates_that_cannot_be_used_are_refused(text, words):
    with pytest.raises(sr.InputError) as problem:
        parse_rates(text, "f.csv")
    assert words in str(problem.value)


@pytest.mark.parametrize("gap", ["\t", ";"])
def test_decimal_commas_order_replicates_and_limits_are_read(gap):
    rows = ["a title", "time (d);cfu/g;Temp (°F);series;note", "1;<10;140;b;x", "0;2,5e4;140;a;",
            "0;20000;140;b;", "0;20000;140;b;", "2;;140;a;"]  # fmt: skip
    data = parse_counts("\n".join(rows).replace(";", gap))
    np.testing.assert_allclose(data.time_h, [0, 0, 0, 24])
    np.testing.assert_allclose(data.log10_count, np.log10([2.5e4, 2e4, 2e4, 10]))
    np.testing.assert_allclose(data.temperature_C, 60.0)
    assert data.below.tolist() == [False, False, False, True]
    assert list(data.series) == ["a", "b", "b", "b"]
    assert data.unit == "cfu/g"
    said = " ".join(data.remarks)
    for words in ("left out: 1", "put in order", "replicates: 1", "plain counts", "'note'"):
        assert words in said


def test_natural_logarithms_and_weights_are_read():
    data = parse_counts("t (h),ln cfu/ml,weight\n0,23.02585,4")
    assert data.log10_count[0] == pytest.approx(10.0)
    assert data.sd_log10[0] == 0.5
    assert parse_rates("T (C),rate (1/d)\n5,24").value[0] == pytest.approx(1.0)
    assert parse_rates("T (C),D (s)\n5,90").value[0] == pytest.approx(1.5)


def test_one_temperature_can_be_taken():
    data = over_z()
    assert data.at(59.0).temperatures_C == (59.0,)
    with pytest.raises(sr.InputError, match="no counts of 70 °C, but 56 °C, 59 °C"):
        data.at(70.0)


# --- the command ------------------------------------------------------------------------------


def run(*arguments):
    return CliRunner().invoke(app, ["fit", *map(str, arguments)], env={"COLUMNS": "120"})


@pytest.mark.parametrize("path", sorted(COUNTS.glob("*.csv")), ids=lambda p: p.stem)
def test_the_counts_of_the_kitchen_are_fitted(path, tmp_path):
    figure = tmp_path / "figure.svg"
    result = run(path, "--plot", figure)
    assert result.exit_code == 0, result.output
    for words in ("What was fitted", "95 % interval", "Models compared", "How it was calculated"):
        assert words in result.output
    assert "process authority" in " ".join(result.output.split())
    assert "Residual" in " ".join(ET.fromstring(figure.read_text("utf-8")).itertext())


def test_json_holds_the_fit_in_full():
    result = run(COUNTS / "survivors.csv", "--model", "weibull", "--at", "59 degC", "--json")
    data = json.loads(result.output)
    assert data["format"] == 1
    assert data["verdict"] == "fitted"
    first = data["parameters"][0]
    assert first["name"] == "delta_min"
    assert first["interval"][0] < first["value"] < first["interval"][1]
    assert data["points"][-1]["below_limit"] is True
    assert data["points"][-1]["residual"] is None
    assert any("Mafart" in source for source in data["sources"])


def test_what_is_not_determined_is_null_and_status_three(tmp_path):
    path = tmp_path / "counts.csv"
    path.write_text("time (h),log10 cfu\n0,3\n5,3.1\n10,4.2\n15,5\n20,6.1\n25,7\n30,8.1", "utf-8")
    result = run(path, "--model", "baranyi", "--json")
    assert result.exit_code == 3
    data = json.loads(result.output)
    top = next(p for p in data["parameters"] if p["name"] == "log10_max")
    assert top["value"] is top["interval"] is top["method"] is None
    assert top["why_not"] in data["refusals"]
    shown = run(path, "--model", "baranyi").output
    assert "not determined" in shown
    assert "Fitted in part" in shown


def test_a_refused_fit_is_shown_and_drawn(tmp_path):
    path = tmp_path / "counts.csv"
    path.write_text("time (h),log10 cfu\n0,3\n5,3.1\n10,4.2", "utf-8")
    result = run(path, "--plot", tmp_path / "figure.png")
    assert result.exit_code == 3
    assert "Refused" in result.output
    assert (tmp_path / "figure.png").stat().st_size > 10_000
    assert run(path, "--json").exit_code == 3


@pytest.mark.parametrize(
    ("text", "more", "words"),
    [
        ("time (h),log10 cfu\n0,x", (), "'x' is not a number"),
        ("", (), "is empty"),
        ("time (h),log10 cfu\n0,3\n5,4", ("--model", "spline"), "is no model"),
        ("time (h),log10 cfu\n0,3\n5,4", ("--at", "60 degC"), "no temperature column"),
        ("T (degC),D (min)\n60,3", ("--at", "60 degC"), "holds no counts"),
        ("time (h),log10 cfu\n0,3\n5,4", ("--plot", "figure.jpg"), "figure.jpg"),
    ],
)
def test_wrong_input_is_one_sentence_and_status_two(text, more, words, tmp_path):
    path = tmp_path / "counts.csv"
    path.write_text(text, "utf-8")
    result = run(path, *more)
    assert result.exit_code == 2
    assert words in result.stderr
    assert result.stderr.count("\n") == 1


def test_every_ending_of_a_figure_is_written(tmp_path):
    found = sr.fit(parse_rates("T (°C);D (min)\n104,4;6,0\n110,0;1,6\n115,6;0,4"), profile=False)
    for ending in ("svg", "png", "pdf"):
        draw_fit(found, tmp_path / f"figure.{ending}")
    words = " ".join(ET.fromstring((tmp_path / "figure.svg").read_text("utf-8")).itertext())
    assert "log10 of D" in words


def test_every_model_names_its_source():
    for model in MODELS.values():
        assert model.formulas
    data = fit_to_dict(sr.fit(over_z(), "weibull-z", profile=False))
    assert any("Bigelow" in s for s in data["sources"])
    assert any("Tobin" in n for n in fit_to_dict(sr.fit(sr.read_counts(COUNTS / "survivors.csv"), profile=False))["notes"])  # fmt: skip
