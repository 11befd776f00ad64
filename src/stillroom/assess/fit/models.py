"""The models that can be fitted, each with its parameters and where to begin."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any, Literal

import numpy as np
from scipy import stats

from stillroom.labels import Array, Numbers
from stillroom.physics import death, kinetics
from stillroom.physics.kinetics import LN10

About = Literal["growth", "survival", "rate_per_h", "d_min"]
Parameters = Mapping[str, Any]
Curve = Callable[[Parameters, Numbers, Array, Array], Array]


@dataclass(frozen=True, eq=False)
class Points:
    """What a model is fitted to.

    Attributes:
        y: log10 counts; square roots of rates; log10 of D values.
        below: where y is a limit of detection.
        sd: of each beside the others.
        curve: number of the curve each belongs to, rising.
        labels: of the curves; none where a curve has no start of its own.
        time_h: of each.
        temperature_C: of each; nan where it is not told.
    """

    y: Array
    below: np.ndarray
    sd: Array
    curve: np.ndarray
    labels: tuple[str, ...]
    time_h: Array
    temperature_C: Array

    def curves(self) -> Iterator[Points]:
        """Yield the points of each curve that were found."""
        for n in np.unique(self.curve):
            yield self.only((self.curve == n) & ~self.below)

    def only(self, kept: np.ndarray) -> Points:
        """Return some of the points."""
        parts = (self.y, self.below, self.sd, self.curve, self.time_h, self.temperature_C)
        y, below, sd, curve, t, T = (part[kept] for part in parts)
        return Points(y, below, sd, curve, self.labels, t, T)


@dataclass(frozen=True)
class Term:
    """A parameter of a model.

    Attributes:
        name: with its unit.
        words: for people.
        unit: of the value.
        low: least value that is looked at.
        high: greatest.
        kind: a ratio is positive and its interval a factor; a log10 or a difference has a width.
        shift: added while it is fitted, where 0 is no special value.
    """

    name: str
    words: str
    unit: str
    low: float
    high: float
    kind: Literal["ratio", "log10", "difference"] = "ratio"
    shift: float = 0.0


@dataclass(frozen=True)
class Model:
    """A model that can be fitted.

    Attributes:
        name: as typed.
        words: for people.
        about: what it describes.
        terms: parameters beside the start count of each curve.
        curve: (parameters, start counts, hours, °C) -> what Points.y holds.
        begin: (points, reference °C) -> sets of parameters to begin at.
        formulas: it rests on.
    """

    name: str
    words: str
    about: About
    terms: tuple[Term, ...]
    curve: Curve
    begin: Callable[[Points, float], Iterator[dict[str, float]]]
    formulas: tuple[Callable[..., Any], ...]

    @property
    def over_temperature(self) -> bool:
        """Whether it holds for several temperatures."""
        return self.about in ("rate_per_h", "d_min") or any(t.name == "z_C" for t in self.terms)

    @property
    def smooth(self) -> bool:
        """Whether its likelihood has no steps, which a kink that passes a point makes."""
        return kinetics.three_phase_log10_count not in self.formulas or LAG not in self.terms


# the ends are far beyond any organism; a fit that comes to one says nothing
RATE = Term("rate_per_h", "growth rate", "1/h", 1e-6, 10.0)
LAG = Term("lag_h", "lag", "h", 0.0, np.inf)
MAX = Term("log10_max", "maximum count", "log10", -6.0, 15.0, "log10")
D = Term("d_min", "D value", "min", 1e-6, np.inf)
DELTA = Term("delta_min", "time to the first decade", "min", 1e-6, np.inf)
P = Term("p", "shape p", "", 0.05, 20.0)
Z = Term("z_C", "z value", "°C", 0.5, 200.0)
B = Term("b", "slope b", "1/(°C √h)", 1e-6, np.inf)
T_MIN = Term(
    "temp_min_C", "where the line meets no growth", "°C", -90.0, 90.0, "difference", 273.15
)

# what a model over temperature says at one, by its first parameter
MEASURED = {"b": RATE}


# --- curves -----------------------------------------------------------------------------------


def _baranyi(p: Parameters, start: Numbers, time_h: Array, _: Array) -> Array:
    potential = p["rate_per_h"] * time_h
    h0 = p["rate_per_h"] * p.get("lag_h", 0.0)
    if "log10_max" not in p:
        return start + kinetics.work_done(potential, h0) / LN10
    return kinetics.log10_count(potential, start, p["log10_max"], h0)


def _three_phase(p: Parameters, start: Numbers, time_h: Array, _: Array) -> Array:
    lag, top = p.get("lag_h", 0.0), p.get("log10_max", np.inf)
    return kinetics.three_phase_log10_count(time_h, start, p["rate_per_h"], lag, top)


def _log_linear(p: Parameters, start: Numbers, time_h: Array, T: Array) -> Array:
    return start - death.log_reductions(60 * time_h, at_temperature(p, T))


def _weibull(p: Parameters, start: Numbers, time_h: Array, T: Array) -> Array:
    return start - death.weibull_log_reduction(60 * time_h, at_temperature(p, T), p["p"])


def _log10_d(p: Parameters, _: Numbers, __: Array, T: Array) -> Array:
    return np.log10(at_temperature(p, T))


def _root_of_rate(p: Parameters, _: Numbers, __: Array, T: Array) -> Array:
    return np.sqrt(at_temperature(p, T))


def at_temperature(p: Parameters, temperature_C: Numbers) -> Array:
    """Return the growth rate, D or delta at temperatures; one value where the model has no z.

    Args:
        p: parameters of the model.
        temperature_C: any shape.
    """
    if "b" in p:
        return kinetics.square_root_rate_per_h(temperature_C, p["b"], p["temp_min_C"])
    value = p["d_min"] if "d_min" in p else p["delta_min"]
    if "z_C" not in p:
        return np.asarray(value, float)
    return death.equivalent_hold_min(temperature_C, value, p["reference_C"], p["z_C"])


# --- where to begin ---------------------------------------------------------------------------


def _begin_growth(points: Points, _: float) -> Iterator[dict[str, float]]:
    """Begin at the steepest rises between any two counts, with several lags."""
    top = float(points.y.max())
    for c in points.curves():
        t, y = _means(c)
        i, j = np.triu_indices(t.size, 1)
        slope = (y[j] - y[i]) / (t[j] - t[i])
        for n in np.argsort(slope)[::-1][: 3 * t.size : 2]:
            if slope[n] > 0:
                middle, height = (t[i[n]] + t[j[n]]) / 2, (y[i[n]] + y[j[n]]) / 2
                meets = middle - (height - y[0]) / slope[n]
                for lag in (0.02 * t[-1], max(meets, 0.05 * t[-1])):
                    rate = min(slope[n] * LN10, 0.9 * RATE.high)
                    yield {"rate_per_h": rate, "lag_h": lag, "log10_max": top}


def _begin_survival(points: Points, reference_C: float) -> Iterator[dict[str, float]]:
    """Begin at the fall of each curve, several shapes and z."""
    falls = [(c.temperature_C[0], d) for c in points.curves() if (d := _d_min(c)) > 0]
    if not falls:
        falls = [(float(points.temperature_C[0]), 60 * float(np.ptp(points.time_h)) or 1.0)]
    T, d = np.array(falls).T
    z, several = [6.0, 12.0], float(np.ptp(T)) > 0
    if several:
        z.insert(0, float(np.clip(death.z_from_d_values_C(T, d), 2.0, 60.0)))
    seen = max(float(np.ptp(c.y)) for c in points.curves() if c.y.size)
    for z_C, p in product(z, (1.0, 0.6, 1.7)):
        steps = (T - reference_C) / z_C if several else 0.0
        d_min = float(10 ** np.mean(np.log10(d) + steps))
        delta = d_min * max(seen, 0.1) ** (1 - 1 / p)  # the same fall in the time seen
        yield {"z_C": z_C, "p": p, "d_min": d_min, "delta_min": delta}


def _begin_d(points: Points, reference_C: float) -> Iterator[dict[str, float]]:
    line = stats.linregress(points.temperature_C, points.y)
    z = float(np.clip(-1 / line.slope, 2.0, 60.0)) if line.slope < 0 else 10.0
    steps = (points.temperature_C.mean() - reference_C) / z
    yield {"z_C": z, "d_min": float(10 ** (points.y.mean() + steps))}


def _begin_root(points: Points, _: float) -> Iterator[dict[str, float]]:
    line = stats.linregress(points.temperature_C, points.y)
    slope = max(float(line.slope), 1e-4)
    zero_C = float(points.temperature_C.mean() - points.y.mean() / slope)
    yield {"b": slope, "temp_min_C": float(np.clip(zero_C, -60, 60))}


def _means(points: Points) -> tuple[Array, Array]:
    """Return the times and the mean count at each."""
    t = np.unique(points.time_h)
    return t, np.array([points.y[points.time_h == at].mean() for at in t])


def _d_min(points: Points) -> float:
    """Return D of a straight line, minutes; nan where there is none."""
    t, y = _means(points)
    slope = stats.linregress(60 * t, y).slope if t.size > 1 else 0.0
    return -1 / slope if slope < 0 else np.nan


# --- the list ---------------------------------------------------------------------------------

_BEGIN = {
    "growth": _begin_growth,
    "survival": _begin_survival,
    "rate_per_h": _begin_root,
    "d_min": _begin_d,
}
_FORMULAS: Mapping[Callable[..., Any], tuple[Callable[..., Any], ...]] = {
    _baranyi: (kinetics.work_done, kinetics.log10_count),
    _three_phase: (kinetics.three_phase_log10_count,),
    _log_linear: (death.log_reductions,),
    _weibull: (death.weibull_log_reduction,),
    _root_of_rate: (kinetics.square_root_rate_per_h,),
    _log10_d: (),
}


def _model(name: str, words: str, about: About, curve: Curve, *terms: Term) -> Model:
    rests_on = _FORMULAS[curve] + ((death.equivalent_hold_min,) if Z in terms else ())
    return Model(name, words, about, terms, curve, _BEGIN[about], rests_on)


_LIST = (
    _model("baranyi", "lag, growth and plateau, smooth", "growth", _baranyi, RATE, LAG, MAX),
    _model("baranyi-no-lag", "growth and plateau, smooth", "growth", _baranyi, RATE, MAX),
    _model("baranyi-no-max", "lag and growth, smooth", "growth", _baranyi, RATE, LAG),
    _model("three-phase", "lag, growth, plateau, straight", "growth", _three_phase, RATE, LAG, MAX),
    _model("linear", "growth at one rate from the start", "growth", _three_phase, RATE),
    _model("log-linear", "a straight line of survivors", "survival", _log_linear, D),
    _model("weibull", "survivors with a shoulder or tail", "survival", _weibull, DELTA, P),
    _model("log-linear-z", "straight lines, D by z", "survival", _log_linear, D, Z),
    _model("weibull-z", "one shape, delta by z", "survival", _weibull, DELTA, P, Z),
    _model("square-root", "square root of the rate", "rate_per_h", _root_of_rate, B, T_MIN),
    _model("z", "log D in a straight line", "d_min", _log10_d, D, Z),
)
MODELS: Mapping[str, Model] = {m.name: m for m in _LIST}
