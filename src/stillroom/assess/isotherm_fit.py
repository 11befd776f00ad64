"""Fit an isotherm to points measured over saturated salts, and say what they do not tell."""

from __future__ import annotations

import warnings as python_warnings
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any, Literal

import numpy as np

from stillroom.assess.fit.result import Runs, Value, quantile
from stillroom.assess.fit.solve import chance_of_runs
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers, formula_of
from stillroom.physics.sorption import FORMS, gab_domain_end, mean_relative_deviation_percent

Points = Sequence[float] | Array
Weights = Literal["relative", "none", "sd"]
FITTED = ("gab", "bet", "oswin", "halsey", "henderson", "smith", "caurie", "iglesias_chirife",
          "peleg")  # fmt: skip
ANY_SIGN = {("smith", "A"), ("caurie", "A"), ("iglesias_chirife", "A")}  # may be 0 or less
LEAST_POINTS, SPARE_POINTS, GOOD_POINTS = 5, 2, 8
GOOD_SPAN = (
    0.15,
    0.85,
)  # water activities within which the lowest and highest point should not lie
GOOD, POOR = 5.0, 10.0  # per cent of E; Lomauro, Bakshi & Labuza 1985
CHANCE = 0.05  # of so few runs of one sign, below which the residuals are a pattern
DOMAIN = 0.999  # of 1 / K, from which the highest point sits at the end of the curve
MONOLAYER_C, MONOLAYER_K = 5.67, 0.24  # Lewicki 1997: below them the monolayer is off by over 15 %
SLACK = 0.05  # of water activity beyond the usual range of a form
SMALL, EXACT = 1e-12, 1e-6


@dataclass(frozen=True, eq=False)
class IsothermFit:
    """An isotherm with what it was fitted to.

    Attributes:
        form: a key of physics.sorption.FORMS.
        water_activity: of the points, rising.
        moisture: of the points, dry basis.
        values: constants with 95 % intervals; none where the points do not allow a fit.
        fitted: moistures of the isotherm at the points.
        deviation_percent: mean relative deviation E.
        runs: of residuals of one sign.
        refusals: why it must not be used, in sentences.
        warnings: to read before it is used.
        notes: how it was done.
    """

    form: str
    water_activity: Array
    moisture: Array
    values: tuple[Value, ...]
    fitted: Array
    deviation_percent: float
    runs: Runs | None
    refusals: tuple[str, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def verdict(self) -> Literal["fitted", "refused"]:
        """Whether the points determine the isotherm."""
        return "refused" if self.refusals else "fitted"

    @property
    def constants(self) -> Mapping[str, float]:
        """Constants by name, as the formula takes them."""
        return {v.name: v.value for v in self.values}

    def __getitem__(self, name: str) -> Value:
        """Return a constant with its interval."""
        for value in self.values:
            if value.name == name:
                return value
        raise KeyError(f"{name!r} is not among {', '.join(self.constants)}.")

    def moisture_at(self, water_activity: Numbers) -> Array:
        """Return the moisture within the measured water activities.

        Args:
            water_activity: any shape.

        Raises:
            InputError: it is refused, or a water activity lies outside the points.
        """
        if self.refusals:
            raise InputError(" ".join(self.refusals))
        a, low, high = np.asarray(water_activity, float), *self.water_activity[[0, -1]]
        outside = a[(a < low) | (a > high)]
        if outside.size:
            raise InputError(
                f"Water activity {outside.flat[0]:g} is outside {low:g} to {high:g}, where the "
                "isotherm was measured; it must not be followed further."
            )
        return FORMS[self.form].moisture(a, **self.constants)


def fit_isotherm(
    water_activity: Points,
    moisture: Points,
    form: str = "gab",
    weights: Weights | None = None,
    *,
    sd: Points | None = None,
    needed: tuple[float, float] | None = None,
) -> IsothermFit:
    """Fit an isotherm of one temperature and direction by nonlinear least squares.

    Args:
        water_activity: of each point, between 0 and 1.
        moisture: of each point, dry basis in any unit, > 0.
        form: one of FITTED.
        weights: "relative" divides each residual by the moisture, "sd" by its standard deviation,
            "none" leaves it; "sd" where it is given, else "relative", by default.
        sd: standard deviation of each moisture, with weights "sd".
        needed: lowest and highest water activity it is meant for, such as the limits of a pack.

    Returns:
        Constants with intervals, and sentences on what the points do not tell.

    Raises:
        InputError: no such form, or points that are none.
    """
    weights = weights or ("relative" if sd is None else "sd")
    a, M, scale = _points(water_activity, moisture, form, weights, sd)
    least = max(LEAST_POINTS, len(FORMS[form].constants) + SPARE_POINTS)
    if np.unique(a).size < least:
        why = (
            f"{form} needs points at {least} water activities or more; there are "
            f"{np.unique(a).size}."
        )
        return IsothermFit(form, a, M, (), np.full(a.size, np.nan), np.nan, None, (why,), (), ())
    nearest = _nearest(form, a, M, scale)
    constants: dict[str, float] = nearest.params.valuesdict()
    fitted = FORMS[form].moisture(a, **constants)
    E = float(mean_relative_deviation_percent(M, fitted))
    runs = _runs(M - fitted) if E > EXACT else None
    values = tuple(_value(name, nearest) for name in FORMS[form].constants)
    return IsothermFit(
        form=form,
        water_activity=a,
        moisture=M,
        values=values,
        fitted=fitted,
        deviation_percent=E,
        runs=runs,
        refusals=tuple(_refusals(form, a, values, E, runs, needed)),
        warnings=tuple(_warnings(form, a, constants, E)),
        notes=tuple(_notes(form, weights)),
    )


# --- before a fit -----------------------------------------------------------------------------


def _points(
    water_activity: Points,
    moisture: Points,
    form: str,
    weights: str,
    sd: Points | None,
) -> tuple[Array, Array, Array]:
    """Return water activities, rising, moistures and what each residual is divided by."""
    if form not in FITTED:
        raise InputError(f"{form!r} is no isotherm that is fitted; there are {', '.join(FITTED)}.")
    a, M = np.asarray(water_activity, float), np.asarray(moisture, float)
    if a.ndim != 1 or a.shape != M.shape:
        raise InputError(f"There are {a.size} water activities and {M.size} moistures.")
    if not (np.all((a > 0) & (a < 1)) and np.all(M > 0)):
        raise InputError("Each water activity must be between 0 and 1, each moisture above 0.")
    scales: dict[str, Any] = {"relative": M, "none": np.ones(M.size), "sd": sd}
    if weights not in scales:
        raise InputError(f"weights must be one of {', '.join(scales)}, got {weights!r}.")
    if (sd is not None) is not (weights == "sd"):
        raise InputError("A standard deviation of each point goes with weights 'sd', and only so.")
    scale = np.asarray(scales[weights], float)
    if scale.shape != M.shape or not np.all(scale > 0):
        raise InputError("Each point needs a standard deviation above 0.")
    order = np.argsort(a, kind="stable")
    return a[order], M[order], scale[order]


# --- the fit ----------------------------------------------------------------------------------


def _nearest(form: str, a: Array, M: Array, scale: Array) -> Any:
    from lmfit import Minimizer, Parameters  # type: ignore[import-untyped]

    def away(params: Any) -> Array:
        with np.errstate(all="ignore"):
            fitted = FORMS[form].moisture(a, **params.valuesdict())
        return np.nan_to_num((M - fitted) / scale, nan=1e6, posinf=1e6, neginf=-1e6)

    def begun(at: Mapping[str, float]) -> Any:
        p = Parameters()
        for name in FORMS[form].constants:
            highest = (1 - SMALL) / a.max() if (form, name) == ("gab", "K") else np.inf
            lowest = -np.inf if (form, name) in ANY_SIGN else SMALL
            p.add(name, value=float(np.clip(at[name], lowest, highest)), min=lowest, max=highest)
        return p

    with python_warnings.catch_warnings():
        python_warnings.simplefilter("ignore")
        tried = [Minimizer(away, begun(at)).leastsq() for at in _begin(form, a, M)]
    return min(tried, key=lambda result: float(result.chisqr))


def _begin(form: str, a: Array, M: Array) -> Iterator[dict[str, float]]:
    """Yield constants to begin at; straight plots distort errors and serve for that alone."""
    at_a_quarter, at_a_half = np.interp([0.25, 0.5], a, M)
    if form in ("gab", "bet"):
        for C, K in product((3.0, 10.0, 30.0), (0.7, 0.9) if form == "gab" else (1.0,)):
            yield {"xm": at_a_quarter, "C": C, "K": K}
    elif form == "oswin":
        for B in (0.3, 0.6):
            yield {"A": at_a_half, "B": B}
    elif form == "peleg":
        for n2 in (2.0, 5.0, 10.0):
            yield {"k1": at_a_half, "n1": 0.5, "k2": M[-1], "n2": n2}
    else:
        x, y = {
            "halsey": (-np.log(M), np.log(-np.log(a))),
            "henderson": (np.log(M), np.log(-np.log1p(-a))),
            "smith": (-np.log1p(-a), M),
            "caurie": (a, np.log(M)),
            "iglesias_chirife": (a / (1 - a), M),
        }[form]
        slope, intercept = np.polyfit(x, y, 1)
        A = np.exp(intercept) if form in ("halsey", "henderson") else intercept
        yield {"A": float(A), "B": float(slope)}


def _value(name: str, nearest: Any) -> Value:
    p = nearest.params[name]
    error = np.nan if p.stderr is None else float(p.stderr)
    half = quantile(nearest.nfree) * error
    value = float(p.value)
    return Value(name, name, "", value, value - half, value + half, error, "covariance")


def _runs(residuals: Array) -> Runs:
    signs = np.sign(residuals[residuals != 0])
    up, down = int((signs > 0).sum()), int((signs < 0).sum())
    runs = int((np.diff(signs) != 0).sum()) + 1
    return Runs(runs, 1 + 2 * up * down / (up + down), chance_of_runs(up, down, runs))


# --- what is said -----------------------------------------------------------------------------


def _refusals(
    form: str,
    a: Array,
    values: Sequence[Value],
    E: float,
    runs: Runs | None,
    needed: tuple[float, float] | None,
) -> Iterator[str]:
    """Yield why an isotherm must not be used."""
    if not E <= POOR:
        yield f"The mean relative deviation is {E:.3g} %, above {POOR:g} %: {form} does not fit."
    if runs is not None and runs.chance < CHANCE:
        yield (
            f"The residuals keep their sign in {runs.runs} runs, where {runs.expected:.0f} are "
            f"expected (chance {100 * runs.chance:.1g} %): the food sorbs otherwise than {form}."
        )
    for v in values:
        if (form, v.name) not in ANY_SIGN and not v.low > 0:
            yield (
                f"{v.name} is not determined by these points: its 95 % interval, {v.low:.2g} to "
                f"{v.high:.2g}, holds 0."
            )
        if (form, v.name) == ("gab", "K") and a[-1] >= DOMAIN * gab_domain_end(v.value):
            yield f"K a reaches 1 at water activity {a[-1]:g}: the curve ends there."
    if needed is not None and not a[0] <= min(needed) <= max(needed) <= a[-1]:
        yield (
            f"It is needed from {min(needed):g} to {max(needed):g} and measured from {a[0]:g} to "
            f"{a[-1]:g}: measure the rest."
        )


def _warnings(form: str, a: Array, constants: Mapping[str, float], E: float) -> Iterator[str]:
    """Yield sentences to read before an isotherm is used."""
    if GOOD < E <= POOR:
        yield f"The mean relative deviation is {E:.2g} %: a reasonable fit, no good one."
    if a.size < GOOD_POINTS:
        yield f"There are {a.size} points; {GOOD_POINTS} or more make an isotherm to rely on."
    if a[0] > GOOD_SPAN[0] or a[-1] < GOOD_SPAN[1]:
        yield f"The points span {a[0]:g} to {a[-1]:g}; 0.1 to 0.9 is usual."
    low, high = formula_of(FORMS[form].moisture).validity.get("water_activity", (0.0, 1.0))
    if a[0] < low - SLACK or a[-1] > high + SLACK:
        yield f"{form} holds from water activity {low:g} to {high:g}; leave points beyond out."
    if form == "gab" and (constants["C"] < MONOLAYER_C or not MONOLAYER_K < constants["K"] <= 1):
        yield (
            f"The monolayer is told within 15 % where C is {MONOLAYER_C:g} or more and K between "
            f"{MONOLAYER_K:g} and 1 (Lewicki 1997); here it is less certain."
        )


def _notes(form: str, weights: str) -> Iterator[str]:
    words = {
        "relative": "each residual divided by its moisture",
        "none": "no weights",
        "sd": "each residual divided by its standard deviation",
    }
    label = formula_of(FORMS[form].moisture)
    yield f"{label.equation}; {label.source}."
    yield f"Least squares by lmfit (Levenberg and Marquardt) on the moisture, {words[weights]}."
    yield "95 % intervals from the covariance (Student's t)."
    yield "It holds for this food at this temperature and in this direction of sorption."
