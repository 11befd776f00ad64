"""The curve nearest to the points, and the interval of each parameter."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from math import comb
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import special, stats

from stillroom.assess.fit.models import Model, Parameters, Points, Term
from stillroom.assess.fit.result import CONFIDENCE, Method, Runs, Solution, Value, quantile
from stillroom.labels import Array, Numbers

if TYPE_CHECKING:
    from lmfit import Minimizer  # type: ignore[import-untyped]
    from lmfit.minimizer import MinimizerResult  # type: ignore[import-untyped]

TRIED = 3  # of the best places to begin, refined
FAR = 1e6  # residuals are held within this
EXACT = 1e-7  # scatter below this is that of arithmetic


def solve(
    model: Model, points: Points, reference_C: float, profile: bool
) -> tuple[Solution, tuple[Value, ...]]:
    """Return the nearest curve and its parameters with their intervals.

    Least squares on the points found. A limit of detection enters by the chance of finding less,
    ln Phi((limit - curve) / scatter), Tobin 1958, Econometrica 26:24, with the scatter of the
    points found.

    Args:
        model: to fit.
        points: more of them found than parameters.
        reference_C: of D or delta; nan where they do not go by z.
        profile: intervals of the shape by profile likelihood where the model is smooth; else from
            the covariance.
    """
    with np.errstate(all="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        minimizer, nearest, scatter = _nearest(model, points, reference_C)
        solution = _solution(model, points, nearest, scatter)
        ends: dict[str, tuple[float, float]] = {}
        if profile and model.smooth and scatter > EXACT:
            ends = _profile(minimizer, nearest, model, scatter, solution.freedom)
        values = [_value(t, solution, ends.get(t.name)) for t in model.terms]
    return solution, (*values, *_starts(points, solution))


def _nearest(
    model: Model, points: Points, reference_C: float
) -> tuple[Minimizer, MinimizerResult, float]:
    """Return what minimises, the minimum and the scatter of the points found."""
    from lmfit import Minimizer

    found = points.only(~points.below)
    known = {"reference_C": reference_C} if np.isfinite(reference_C) else {}
    for n, c in enumerate(found.curves(), 1):
        if points.labels:
            known[f"log10_start_{n}"] = float(c.y[c.time_h == c.time_h.min()].mean())
    shape = [t.name for t in model.terms]
    begins = [
        {**known, **{name: at[name] for name in shape}} for at in model.begin(found, reference_C)
    ]
    begins.sort(key=lambda p: float(np.sum(_away(p, model, found, 1.0) ** 2)))
    some = [_parameters(model, p) for p in begins[:TRIED]]
    minimizers = [Minimizer(_away_by_name, p, fcn_args=(model, found, 1.0)) for p in some]
    tried = [(m, m.leastsq()) for m in minimizers]
    minimizer, nearest = min(tried, key=lambda pair: float(pair[1].chisqr))
    freedom = found.y.size - nearest.nvarys
    scatter = _scatter(_plain(nearest.params, model), model, found, freedom)
    for _ in range(3 if points.below.any() else 0):
        minimizer = Minimizer(_away_by_name, nearest.params, fcn_args=(model, points, scatter))
        nearest = minimizer.leastsq()
        scatter = _scatter(_plain(nearest.params, model), model, found, freedom)
    return minimizer, nearest, scatter


def _parameters(model: Model, at: Parameters) -> Any:
    """Return what lmfit varies, within its bounds."""
    import lmfit

    p = lmfit.Parameters()
    for t in model.terms:
        low, high = t.low + t.shift, t.high + t.shift
        p.add(t.name, value=at[t.name] + t.shift, min=low, max=high)
    for name, value in at.items():
        if name.startswith("log10_start") or name == "reference_C":
            p.add(name, value=value, vary=name != "reference_C")
    return p


def _plain(params: Any, model: Model) -> dict[str, float]:
    """Return parameters as numbers, without what was added for the fit."""
    p: dict[str, float] = params.valuesdict()
    return {**p, **{t.name: p[t.name] - t.shift for t in model.terms}}


def _curve(p: Parameters, model: Model, points: Points) -> Array:
    start: Numbers = 0.0
    if points.labels:
        starts = [p[f"log10_start_{n}"] for n in range(1, len(points.labels) + 1)]
        start = np.array(starts)[points.curve]
    return model.curve(p, start, points.time_h, points.temperature_C)


def _away_by_name(params: Any, model: Model, points: Points, scatter: float) -> Array:
    return _away(_plain(params, model), model, points, scatter)


def _away(p: Parameters, model: Model, points: Points, scatter: float) -> Array:
    """Return the residuals; that of a limit of detection is a root of its likelihood."""
    away = (points.y - _curve(p, model, points)) / points.sd
    if points.below.any():
        unseen = scatter * np.sqrt(-2 * special.log_ndtr(away / scatter))
        away = np.where(points.below, unseen, away)
    return np.nan_to_num(np.clip(away, -FAR, FAR), nan=FAR)


def _scatter(p: Parameters, model: Model, found: Points, freedom: int) -> float:
    away = _away(p, model, found, 1.0)
    return max(float(np.sqrt(np.sum(away**2) / freedom)), EXACT)


def _solution(model: Model, points: Points, nearest: Any, scatter: float) -> Solution:
    best = _plain(nearest.params, model)
    fitted = _curve(best, model, points)
    residuals = np.where(points.below, np.nan, points.y - fitted)
    found, sd = ~points.below, points.sd
    w = 1 / sd[found] ** 2
    squares = float(np.sum(w * residuals[found] ** 2))
    y, n, k = points.y[found], int(found.sum()), nearest.nvarys + 1  # the scatter is fitted too
    whole = float(np.sum(w * (y - np.average(y, weights=w)) ** 2))
    small = 2 * k * (k + 1) / (n - k - 1) if n > k + 1 else np.inf
    covariance = np.full((nearest.nvarys, nearest.nvarys), np.nan)
    if getattr(nearest, "covar", None) is not None:
        covariance = nearest.covar * (scatter**2 / nearest.redchi if nearest.redchi > 0 else 0.0)
    return Solution(
        best=best,
        names=tuple(nearest.var_names),
        covariance=covariance,
        freedom=n - nearest.nvarys,
        fitted=fitted,
        residuals=residuals,
        rmse=float(np.sqrt(np.sum(residuals[found] ** 2) / (n - nearest.nvarys))),
        r_squared=1 - squares / whole if whole > 0 else np.nan,
        aicc=n * float(np.log(max(squares, n * EXACT**2) / n)) + 2 * k + small,
        runs=_runs(residuals[found]),
    )


# --- intervals --------------------------------------------------------------------------------


def _profile(
    minimizer: Minimizer, nearest: MinimizerResult, model: Model, scatter: float, freedom: int
) -> dict[str, tuple[float, float]]:
    """Return where the likelihood along each parameter has fallen too far; infinite: nowhere.

    A parameter along which that cannot be followed is left out.
    """
    from lmfit import conf_interval
    from lmfit.minimizer import MinimizerException

    def chance(best: Any, other: Any) -> float:
        return float(stats.f.cdf((other.chisqr - best.chisqr) / scatter**2, 1, freedom))

    ends = {}
    for name in (t.name for t in model.terms):
        how: dict[str, Any] = {"p_names": [name], "sigmas": [CONFIDENCE], "prob_func": chance}
        with warnings.catch_warnings(record=True) as said:
            warnings.simplefilter("always")
            try:
                found = conf_interval(minimizer, nearest, **how)[name]
            except (MinimizerException, ValueError):
                continue
        if len(found) == 3 and not any("maxiter" in str(w.message) for w in said):
            ends[name] = (float(found[0][1]), float(found[2][1]))
    return ends


def _value(term: Term, solution: Solution, profile: tuple[float, float] | None) -> Value:
    value = solution.best[term.name]
    error = _error(solution, term.name)
    if profile is not None:
        low, high = (end - term.shift for end in profile)
        low, high = max(low, term.low), min(high, term.high)
    elif term.kind == "ratio":
        reach = quantile(solution.freedom) * error / value if value > 0 else np.inf
        factor = float(np.exp(reach))
        low, high = value / factor, value * factor
    else:
        half = quantile(solution.freedom) * error
        low, high = value - half, value + half
    method: Method = "covariance" if profile is None else "profile likelihood"
    return Value(term.name, term.words, term.unit, value, low, high, error, method)


def _starts(points: Points, solution: Solution) -> Iterator[Value]:
    for n, label in enumerate(points.labels, 1):
        name = f"log10_start_{n}"
        value, error = solution.best[name], _error(solution, name)
        half = quantile(solution.freedom) * error
        words = f"start count{label and ', '}{label}"
        yield Value(name, words, "log10", value, value - half, value + half, error, "covariance")


def _error(solution: Solution, name: str) -> float:
    n = solution.names.index(name)
    return float(np.sqrt(solution.covariance[n, n]))


# --- signs of the residuals -------------------------------------------------------------------


def _runs(residuals: Array) -> Runs:
    """Return the runs of one sign; points of all curves one behind the other."""
    signs = np.sign(residuals[residuals != 0])
    up, down = int((signs > 0).sum()), int((signs < 0).sum())
    runs = int((np.diff(signs) != 0).sum()) + (signs.size > 0)
    expected = 1 + 2 * up * down / max(up + down, 1)
    return Runs(runs, expected, chance_of_runs(up, down, runs))


def chance_of_runs(up: int, down: int, runs: int) -> float:
    """Return the chance of so few runs or fewer, of so many of each sign in any order.

    Args:
        up: how many are of one sign.
        down: of the other.
        runs: of one sign.
    """
    if not (up and down):
        return 1.0

    def ways(r: int) -> int:
        half = r // 2
        if r % 2 == 0:
            return 2 * comb(up - 1, half - 1) * comb(down - 1, half - 1)
        return comb(up - 1, half) * comb(down - 1, half - 1) + comb(up - 1, half - 1) * comb(
            down - 1, half
        )

    return sum(map(ways, range(2, runs + 1))) / comb(up + down, up)
