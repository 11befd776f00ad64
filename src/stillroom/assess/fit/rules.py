"""What data must show before a number is taken from a fit, and what is said where they do not.

The thresholds are common practice of the field; each is named once, here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from stillroom.assess.fit.models import Model, Points, Term
from stillroom.assess.fit.result import Solution, Value

SPARE_POINTS = 2  # beyond the parameters
LEAST_DECADES, GOOD_DECADES = 1.0, 2.0
TENFOLD = 10.0  # an interval wider than this determines nothing
DOUBLING = float(np.log10(2))  # a lag ends, and a plateau begins, a doubling away
TEMPERATURES = 3  # for a slope over temperature
Z_SPAN = 1 / 3  # of z that the temperatures must cover: D changes twofold
CHANCE = 0.05  # of so few runs, below which a pattern is told
AFTER_PEAK = 1.0  # decades of fall after a peak that a growth curve has no word for
FIVE = 5.0  # decades, a usual aim
EXACT = 1e-6  # log10; calculated, not counted


# --- before a fit -----------------------------------------------------------------------------


def trend(points: Points) -> tuple[float, float]:
    """Return the mean rise over the whole time of the curves, decades, and its t value."""
    x, y = [], []
    for c in points.curves():
        if c.y.size > 1 and np.ptp(c.time_h) > 0:
            x.append((c.time_h - c.time_h.mean()) / np.ptp(c.time_h))
            y.append(c.y - c.y.mean())
    if not x:
        return 0.0, 0.0
    at, up = np.concatenate(x), np.concatenate(y)
    rise = float(at @ up / (at @ at))
    freedom = max(at.size - len(x) - 1, 1)
    error = np.sqrt(np.sum((up - rise * at) ** 2) / freedom / (at @ at))
    return rise, float(rise / max(error, 1e-12))


def not_fitted(model: Model, points: Points) -> Iterator[str]:
    """Yield sentences on what forbids a fit of the model at all.

    Args:
        model: to fit.
        points: of the data.
    """
    wanted = len(model.terms) + len(points.labels)
    spare = 1 if model.about == "d_min" else SPARE_POINTS  # three D give a z
    found = points.only(~points.below)
    if found.y.size < wanted + spare:
        yield (
            f"{model.name} has {wanted} parameters here and needs {wanted + spare} points above "
            f"the limit of detection or more; there are {found.y.size}."
        )
    if model.over_temperature:
        several = np.unique(found.temperature_C).size
        least = 2 if points.labels else TEMPERATURES
        if several < least:
            yield (
                f"{model.name} needs {TEMPERATURES} temperatures or more; the data have {several}."
            )
    if points.labels:
        times = [np.unique(c.time_h).size for c in found.curves()]
        if len(times) < len(points.labels) or min(times) < 2:
            yield "A curve has counts at fewer than two times; take it out or count it more often."
        elif sum(times) <= wanted:
            yield (
                f"The counts are of {sum(times)} different times; {model.name} has {wanted} "
                f"parameters here and needs {wanted + 1} times or more."
            )


# --- after a fit ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Case:
    """A model, what it was fitted to and the nearest curve."""

    model: Model
    points: Points
    solution: Solution

    def seen(self, near: np.ndarray) -> int:
        """Return the most times of one curve at which something holds and counts were found."""
        p = self.points
        at = near & ~p.below
        return max(np.unique(p.time_h[at & (p.curve == n)]).size for n in np.unique(p.curve))

    def change(self) -> list[float]:
        """Return by how many decades the fitted curve of each rises or falls over its counts."""
        p = self.points
        each = (self.solution.fitted[(p.curve == n) & ~p.below] for n in np.unique(p.curve))
        return [float(np.ptp(fitted)) for fitted in each]


def judged(case: Case, v: Value) -> Value:
    """Return a value as it may be told: without a number where the data do not determine it.

    Args:
        case: what was fitted.
        v: a parameter.
    """
    term = next((t for t in case.model.terms if t.name == v.name), None)
    if term is None:  # a start count is in nobody's way
        return v
    why = next(filter(None, (rule(case, term, v) for rule in RULES)), "")
    if why:
        return Value(v.name, v.words, v.unit, np.nan, why_not=why)
    if v.name == "z_C" and np.unique(case.points.temperature_C).size < TEMPERATURES:
        why = "z comes from two temperatures, which show no straight line: no interval is given."
        return Value(v.name, v.words, v.unit, v.value, why_not=why)
    return v


Rule = Callable[[Case, Term, Value], str]


def _too_little_change(case: Case, term: Term, v: Value) -> str:
    if not case.points.labels:
        return ""
    most = max(case.change())
    way = "rise" if case.model.about == "growth" else "fall"
    words = f"The counts {way} by {most:.2g} decades; the {term.words} needs {LEAST_DECADES:g}."
    return words if most < LEAST_DECADES else ""


def _unseen_phase(case: Case, term: Term, v: Value) -> str:
    best, points, fitted = case.solution.best, case.points, case.solution.fitted
    if v.name == "lag_h":
        starts = np.array([best[f"log10_start_{n + 1}"] for n in range(len(points.labels))])
        if case.seen(fitted - starts[points.curve] < DOUBLING) < 2:
            return "No lag is seen: fewer than two times lie before the first doubling."
    if v.name == "log10_max" and case.seen(v.value - fitted < DOUBLING) < 2:
        highest = points.y[~points.below].max()
        return (
            "No plateau is seen: fewer than two times lie within a doubling of a maximum; the "
            f"highest count is {highest:.3g} log10."
        )
    return ""


def _at_an_end(case: Case, term: Term, v: Value) -> str:
    if v.name == "lag_h":
        return ""
    for end in (term.low, term.high):
        if abs(v.value - end) < 1e-3 * abs(v.value):
            return (
                f"The {term.words} is not determined by these data: the best value is at the end "
                f"of what is looked at, {end:g} {term.unit}."
            )
    return ""


def _too_wide(case: Case, term: Term, v: Value) -> str:
    far = "a factor of ten"
    if term.kind == "ratio":
        narrow: bool = v.low > 0 and v.high / v.low <= TENFOLD
    elif term.kind == "log10":
        narrow = v.high - v.low <= 1.0
    else:
        narrow = v.high - v.low <= float(np.ptp(case.points.temperature_C))
        far = "the temperatures measured"
    if narrow:
        return ""
    low, high = (f"{end:.2g}" if np.isfinite(end) else "any value" for end in (v.low, v.high))
    return (
        f"The {v.words} is not determined by these data: its 95 % interval, {low} to {high} "
        f"{v.unit}".rstrip()
        + f", is wider than {far}."
    )


def _narrow_span(case: Case, term: Term, v: Value) -> str:
    span = np.ptp(case.points.temperature_C)
    if v.name != "z_C" or span >= Z_SPAN * v.value:
        return ""
    return (
        f"The temperatures span {span:.2g} °C, over which D changes less than twofold; z needs "
        "temperatures further apart."
    )


RULES: tuple[Rule, ...] = (_too_little_change, _unseen_phase, _at_an_end, _too_wide, _narrow_span)


# --- what is said -----------------------------------------------------------------------------


def warnings(case: Case) -> Iterator[str]:
    """Yield sentences to read before the numbers are used.

    Args:
        case: what was fitted.
    """
    points, solution = case.points, case.solution
    if case.model.about == "survival":
        yield from _of_survival(case)
    if case.model.about == "growth":
        yield from _of_growth(case)
    span, z = np.ptp(points.temperature_C), solution.best.get("z_C", 0.0)
    if Z_SPAN * z <= span < z:
        yield (
            f"Over the {span:.3g} °C measured D changes {10 ** (span / z):.2g}-fold; a tenfold "
            "change would make z better."
        )
    runs = solution.runs
    if runs.chance < CHANCE:
        yield (
            f"The residuals keep their sign in {runs.runs} runs, where {runs.expected:.0f} are "
            f"expected (chance {100 * runs.chance:.1g} %): the data bend otherwise than the model."
        )
    if solution.rmse < EXACT:
        yield "The points lie on the curve exactly, which no measured count does."


def _of_survival(case: Case) -> Iterator[str]:
    change = case.change()
    for label, fall in zip(case.points.labels, change, strict=True):
        if fall < GOOD_DECADES:
            yield (
                f"The counts{label and ' of '}{label} fall by {fall:.2g} decades; "
                f"{GOOD_DECADES:g} or more make a D to rely on."
            )
    told = "p" in case.solution.best or not case.model.over_temperature
    if told and max(change) < FIVE:
        yield (
            f"The counts fall by {max(change):.2g} decades at most; the time to {FIVE:g} decades "
            "follows the curve beyond them."
        )


def _of_growth(case: Case) -> Iterator[str]:
    for c in case.points.curves():
        fall = c.y.max() - c.y[c.time_h == c.time_h.max()].mean()
        if fall > AFTER_PEAK:
            yield (
                f"The counts fall by {fall:.2g} decades after their peak, which no growth model "
                "describes; leave those rows out."
            )
