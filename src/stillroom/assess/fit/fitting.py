"""Fitting: what is fitted to what, and what follows from it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from difflib import get_close_matches
from functools import partial

import numpy as np

from stillroom.assess.fit import rules
from stillroom.assess.fit.models import (
    MEASURED,
    MODELS,
    Model,
    Parameters,
    Points,
    at_temperature,
)
from stillroom.assess.fit.result import Fit, Rival, Value
from stillroom.assess.fit.solve import solve
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import death
from stillroom.product.counts_file import Counts
from stillroom.product.rates_file import Rates

BEST = "best"
AS_GOOD = 2.0  # AICc; models nearer than this are not told apart (Burnham & Anderson 2002)
WRONG_WAY = (0.5, 3.0)  # decades and t value from which counts go the other way


def fit(
    data: Counts | Rates,
    model: str = BEST,
    *,
    reference_C: float | None = None,
    profile: bool = True,
) -> Fit:
    """Fit a model of growth, survival or their dependence on temperature.

    Args:
        data: counts over time, or rates or D values over temperature.
        model: its name; "best" takes the one with the lowest AICc of those that apply.
        reference_C: of a D that goes by z; the temperature measured nearest their middle if not
            given.
        profile: intervals by profile likelihood, else from the covariance, which is faster.

    Returns:
        Values with intervals, and sentences on what the data do not determine.

    Raises:
        InputError: no such model, or one that describes other data.
    """
    if model == BEST:
        return _best(data, reference_C, profile)
    if model not in MODELS:
        near = get_close_matches(model, MODELS, 1)
        hint = f" Near it: {near[0]}." if near else ""
        raise InputError(f"{model!r} is no model; there are {BEST}, {', '.join(MODELS)}.{hint}")
    return _fit(data, MODELS[model], reference_C, profile)


def _fit(data: Counts | Rates, model: Model, reference_C: float | None, profile: bool) -> Fit:
    points = _points(data, model)
    _of_its_kind(data, model, points)
    at_C = _reference_C(data, model, points, reference_C)
    why_not = tuple(rules.not_fitted(model, points))
    if why_not:
        return Fit(model, data, points, None, (), (), why_not, (), ())
    solution, values = solve(model, points, at_C, profile)
    case = rules.Case(model, points, solution)
    told = tuple(rules.judged(case, v) for v in values)
    refusals = tuple(dict.fromkeys(v.why_not for v in told if v.why_not))
    return Fit(
        model=model,
        data=data,
        points=points,
        solution=solution,
        values=told,
        derived=tuple(_derived(case, told)),
        refusals=refusals,
        warnings=tuple(rules.warnings(case)),
        notes=tuple(_notes(case, told)),
    )


# --- what is fitted to what -------------------------------------------------------------------


def _points(data: Counts | Rates, model: Model) -> Points:
    if isinstance(data, Rates):
        n = data.value.size
        y = np.sqrt(data.value) if data.quantity == "rate_per_h" else np.log10(data.value)
        none, curve = np.zeros(n, bool), np.zeros(n, int)
        return Points(y, none, np.ones(n), curve, (), np.zeros(n), data.temperature_C)
    T = np.full(data.time_h.size, np.nan) if data.temperature_C is None else data.temperature_C
    keys = list(zip(T.tolist(), data.series, strict=True))
    if data.temperature_C is None:
        keys = [(0.0, name) for _, name in keys]
    curves = list(dict.fromkeys(keys))
    several = len({T for T, _ in curves}) > 1
    labels = tuple(
        " ".join(filter(None, [f"{T:g} °C" if several else "", name])) for T, name in curves
    )
    curve = np.array([curves.index(key) for key in keys])
    return Points(data.log10_count, data.below, data.sd_log10, curve, labels, data.time_h, T)


def _of_its_kind(data: Counts | Rates, model: Model, points: Points) -> None:
    """Refuse data that the model does not describe."""
    kind = data.quantity if isinstance(data, Rates) else "counts"
    needs = model.about if model.about in ("rate_per_h", "d_min") else "counts"
    words = {
        "rate_per_h": "growth rates over temperature",
        "d_min": "D values over temperature",
        "counts": "counts over time",
    }
    if kind != needs:
        fitting = ", ".join(m.name for m in MODELS.values() if kind in (m.about, "counts"))
        raise InputError(
            f"{data.where}: {model.name} is fitted to {words[needs]}, and these are {words[kind]}; "
            f"for them there is {fitting}."
        )
    if not isinstance(data, Counts):
        return
    if model.over_temperature and data.temperature_C is None:
        raise InputError(
            f"{data.where}: {model.name} needs a column 'temperature (degC)' with "
            f"{rules.TEMPERATURES} temperatures or more."
        )
    if not model.over_temperature and len(data.temperatures_C) > 1:
        there = ", ".join(f"{T:g} °C" for T in data.temperatures_C)
        other = f", or fit all with {model.name}-z" if model.about == "survival" else ""
        raise InputError(
            f"{data.where}: {model.name} is fitted to one temperature, and there are {there}; "
            f"choose one{other}."
        )
    rise, t = rules.trend(points)
    least, clear = WRONG_WAY
    wrong = rise if model.about == "survival" else -rise
    if wrong > least and abs(t) > clear:
        way, others = ("rise", "growth") if rise > 0 else ("fall", "survival")
        names = ", ".join(m.name for m in MODELS.values() if m.about == others)
        raise InputError(
            f"{data.where}: the counts {way} by {wrong:.2g} decades, and {model.name} describes "
            f"{model.about}; for {others} there are {names}."
        )


def _reference_C(data: Counts | Rates, model: Model, points: Points, wanted: float | None) -> float:
    """Return the reference temperature of a model with z, nan for another."""
    if all(t.name != "z_C" for t in model.terms):
        if wanted is not None:
            raise InputError(f"{model.name} has no reference temperature.")
        return np.nan
    T = points.temperature_C
    if wanted is None:
        return float(T[np.argmin(np.abs(T - T.mean()))])
    if not T.min() <= wanted <= T.max():
        raise InputError(
            f"{data.where}: {wanted:g} °C is outside {T.min():g} to {T.max():g} °C, where D was "
            "measured; a line must not be followed further."
        )
    return wanted


# --- the best of several ----------------------------------------------------------------------


def _best(data: Counts | Rates, reference_C: float | None, profile: bool) -> Fit:
    """Fit the model with the lowest AICc, of those the data determine if there are any."""
    names = _candidates(data)
    tried = {name: _fit(data, MODELS[name], reference_C, False) for name in names}

    def order(name: str) -> tuple[bool, float, int]:
        f = tried[name]
        return bool(f.refusals), f.solution.aicc if f.solution else np.inf, len(f.model.terms)

    ranked = sorted(names, key=order)
    rivals = tuple(_rival(tried[name]) for name in ranked)
    found = tried[ranked[0]]
    if found.solution is None:
        return replace(found, rivals=rivals)
    final = _fit(data, found.model, reference_C, profile)
    note = (
        f"{found.model.name} was chosen by the lowest AICc, of the models whose parameters the "
        "data determine if there are any."
    )
    near = [r.model for r in rivals[1:] if not r.remark and r.aicc - rivals[0].aicc < AS_GOOD]
    if near:
        note += f" The data do not tell it from {' and '.join(near)}."
    return replace(final, rivals=rivals, notes=(note, *final.notes))


def _candidates(data: Counts | Rates) -> list[str]:
    if isinstance(data, Rates):
        return [m.name for m in MODELS.values() if m.about == data.quantity]
    several = len(data.temperatures_C) > 1
    way = "growth" if rules.trend(_points(data, MODELS["linear"]))[0] > 0 else "survival"
    if several and way == "growth":
        there = ", ".join(f"{T:g} °C" for T in data.temperatures_C)
        raise InputError(
            f"{data.where}: growth is fitted one temperature at a time, and there are {there}; "
            "choose one."
        )
    return [m.name for m in MODELS.values() if m.about == way and m.over_temperature == several]


def _rival(f: Fit) -> Rival:
    return Rival(f.model.name, f.solution.aicc if f.solution else np.nan, " ".join(f.refusals))


# --- what follows -----------------------------------------------------------------------------


def _derived(case: rules.Case, values: tuple[Value, ...]) -> Iterator[Value]:
    """Yield what follows from the parameters, as far as the data determine those."""
    model, v = case.model, {v.name: v for v in values}
    if model.about == "growth":
        yield _mapped(v["rate_per_h"], lambda mu: LN2 / mu, "generation_h", "generation time", "h")
    if "lag_h" in v and case.solution.best["lag_h"] > 0:
        work = ("h0", "work done in the lag, h0", "")
        yield _followed(case, v, *work, lambda p: p["rate_per_h"] * p["lag_h"])
    if model.name == "log-linear":
        yield _mapped(v["d_min"], lambda d: rules.FIVE * d, *FIVE_DECADES)
    if model.name == "weibull":
        yield _followed(case, v, *FIVE_DECADES, _five_decades)
    if model.over_temperature:
        yield from _at_each(case, v)


LN2 = float(np.log(2))
FIVE_DECADES = ("five_decades_min", "time to 5 decades", "min")


def _five_decades(p: Parameters, temperature_C: float = np.nan) -> Array:
    return death.weibull_time_min(rules.FIVE, at_temperature(p, temperature_C), p["p"])


def _at_each(case: rules.Case, v: dict[str, Value]) -> Iterator[Value]:
    """Yield D, delta or the rate at every temperature measured."""
    term = MEASURED.get(case.model.terms[0].name, case.model.terms[0])
    for T in np.unique(case.points.temperature_C).tolist():
        at, words = f"_at_{T:g}_C", f" at {T:g} °C"
        here = (term.name + at, term.words + words, term.unit)
        yield _followed(case, v, *here, partial(at_temperature, temperature_C=T))
        if "p" in v:
            name, what, unit = FIVE_DECADES
            five = partial(_five_decades, temperature_C=T)
            yield _followed(case, v, name + at, what + words, unit, five)


def _mapped(
    v: Value, function: Callable[[float], float], name: str, words: str, unit: str
) -> Value:
    """Return what follows from one parameter alone, with its interval."""
    low, high = sorted(map(function, (v.low, v.high)))
    error = abs(function(v.value * (1 + 1e-6)) - function(v.value)) / 1e-6 * v.error / v.value
    return Value(name, words, unit, function(v.value), low, high, error, v.method, v.why_not)


def _followed(
    case: rules.Case,
    v: dict[str, Value],
    name: str,
    words: str,
    unit: str,
    function: Callable[[Parameters], Numbers],
) -> Value:
    """Return what follows from the parameters of the shape, where the data determine them all."""
    missing = (v[t.name].why_not for t in case.model.terms if np.isnan(v[t.name].value))
    if why_not := next(missing, ""):
        return Value(name, words, unit, np.nan, why_not=why_not)
    return case.solution.follow(name, words, unit, function)


def _notes(case: rules.Case, values: tuple[Value, ...]) -> Iterator[str]:
    """Yield how it was done and where it holds."""
    profiled = [v.words for v in values if v.method.startswith("profile")]
    yield "Least squares by lmfit (Levenberg and Marquardt), from several places to begin."
    if profiled:
        yield (
            f"95 % intervals of {', '.join(profiled)} by profile likelihood (F test of the sum of "
            "squares); all others from the covariance (Student's t; of a positive quantity on its "
            "logarithm)."
        )
    else:
        yield (
            "95 % intervals from the covariance (Student's t; of a positive quantity on its "
            "logarithm)."
        )
    points = case.points
    if points.below.any():
        yield (
            f"Counts below the limit of detection: {points.below.sum()}; each enters by the chance "
            "of finding less than its limit (Tobin 1958)."
        )
    if np.ptp(points.sd) > 0:
        yield "Points are weighted by 1 / sd squared; how much all scatter comes from the fit."
    if len(points.labels) > 1:
        yield "Each curve has a start count of its own; all else is common to them."
    yield f"It holds for this organism in this food, {_range(case)}, and no further."


def _range(case: rules.Case) -> str:
    T, t = case.points.temperature_C, case.points.time_h
    words = ""
    if case.points.labels:
        survival = case.model.about == "survival"
        words = f"to {60 * t.max():.3g} min" if survival else f"to {t.max():.3g} h"
    if np.isfinite(T).all():
        words += f"{words and ', '}{T.min():g}" + (f" to {T.max():g}" if np.ptp(T) > 0 else "")
        words += " °C"
    return words
