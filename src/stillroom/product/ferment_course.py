"""A ferment as a recipe writes it; readings of pH and acidity correct the prediction."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.optimize import least_squares

from stillroom.labels import Array, duration
from stillroom.product import properties
from stillroom.product.fermenting import (
    AS_TABLED,
    EARLY_H,
    EARLY_TIMES,
    END_PH_ERROR,
    Correction,
    Course,
    acetic,
    alcoholic,
    lactic,
)
from stillroom.product.mixture import Mixture
from stillroom.product.recipe import Ferment

FACTORS = ("rate", "start", "buffer")
# what a factor may be without readings, standard deviation of its logarithm
SPREAD = {"rate": 0.25, "start": 1.2, "buffer": 0.2}
STEP = 0.05  # of a logarithm, in units of its spread
FAR = 3.0  # misfits
READ_PH, READ_ACID = 0.1, 0.1  # misfit of a reading: pH, and share of the acidity


def follow(
    mixture: Mixture,
    plan: Ferment,
    cells_g_per_kg: Array | None = None,
    variation: Correction = AS_TABLED,
    time_h: Array | None = None,
) -> Course:
    """Follow a ferment as a recipe writes it; its readings correct the prediction.

    Args:
        mixture: at the start, no or one leading axis; the first sample is the central one.
        plan: of the recipe.
        cells_g_per_kg: of each lactic flora after an earlier ferment.
        variation: factors by sample, on top of what readings say.
        time_h: wanted; every 2 h of the first 10 days and then ever wider by default.
    """
    hours = plan.for_ / 60
    if plan.kind != "lactic":
        way = alcoholic if plan.kind == "alcoholic" else acetic
        start = properties.ph(mixture).reshape(-1)[0]
        found = way(mixture, plan.temperature, hours, plan.starter, variation, time_h)
        moved = abs(float(found.ph[-1].reshape(-1)[0] - start))
        return replace(found, ph_error=min(0.1 + moved, END_PH_ERROR))
    if not (plan.ph or plan.acidity):
        return lactic(
            mixture, plan.temperature, hours, plan.starter, cells_g_per_kg, variation, time_h
        )
    fitted = corrected(mixture, plan, cells_g_per_kg)
    both = Correction(*(
        getattr(fitted.correction, f) * np.asarray(getattr(variation, f)) for f in FACTORS
    ))  # fmt: skip
    found = lactic(mixture, plan.temperature, hours, plan.starter, cells_g_per_kg, both, time_h)
    return replace(found, ph_error=fitted.ph_error, remarks=(fitted.words,))


@dataclass(frozen=True)
class Corrected:
    """What readings say about a batch.

    Attributes:
        correction: the factors.
        ends: on top of them, for the estimate, the slow end and the fast end of souring, 95 %.
        ph_error: of the pH at the end, 95 %, one way.
        words: for the notes.
    """

    correction: Correction
    ends: Correction
    ph_error: float
    words: str


def corrected(mixture: Mixture, plan: Ferment, cells_g_per_kg: Array | None = None) -> Corrected:
    """Return the factors that bring a lactic ferment closest to its readings.

    Least squares on the logarithms of the factors, each held by its own spread, so that two
    readings move little and ten move much.

    Args:
        mixture: at the start; the first sample is fitted.
        plan: with readings.
        cells_g_per_kg: of each flora after an earlier ferment.
    """
    central = mixture.amounts.reshape(-1, mixture.amounts.shape[-1])[0]
    cells = None if cells_g_per_kg is None else tuple(cells_g_per_kg[:, 0])
    return _corrected(tuple(central), cells, _Readings.of(plan))


@dataclass(frozen=True)
class _Readings:
    """The readings of a plan as pairs of minutes and values."""

    ph: tuple[tuple[float, float], ...]
    acidity: tuple[tuple[float, float], ...]
    temperature_C: float
    hours: float
    starter: bool

    @classmethod
    def of(cls, plan: Ferment) -> _Readings:
        ph, acidity = (tuple(sorted(r.items())) for r in (plan.ph, plan.acidity))
        return cls(ph, acidity, plan.temperature, plan.for_ / 60, plan.starter)


@lru_cache(maxsize=64)
def _corrected(
    amounts: tuple[float, ...], cells_g_per_kg: tuple[float, ...] | None, read: _Readings
) -> Corrected:
    central = Mixture(np.array(amounts)[None])
    minutes = sorted({m for m, _ in (*read.ph, *read.acidity)} | {60 * read.hours})
    times = np.array([0.0, *minutes]) / 60
    place = {m: 1 + n for n, m in enumerate(minutes)}
    spread = np.array([SPREAD[f] for f in FACTORS])

    def run(x: Array, at: Array = times) -> Course:
        """Follow the ferment with factors that are three rows of logarithms in units of spread."""
        factors = Correction(*np.exp(x * spread[:, None]))
        cells = None if cells_g_per_kg is None else np.array(cells_g_per_kg)[:, None]
        return lactic(central, read.temperature_C, read.hours, read.starter, cells, factors, at)

    def around(x: Array, at: Array = times) -> Course:
        steps = STEP * np.eye(3)
        return run(x[:, None] + np.concatenate([steps, -steps], axis=1), at)

    def around_early(x: Array) -> Array:
        """Return the mean pH of the first days, which rises with every delay."""
        early = np.linspace(0.0, min(read.hours, EARLY_H), EARLY_TIMES)
        return around(x, early).ph.mean(axis=0)

    def slope(values: Array) -> Array:
        return (values[..., :3] - values[..., 3:]) / (2 * STEP)

    def misfit(course: Course) -> Array:
        found = [(course.ph[place[m]] - ph) / READ_PH for m, ph in read.ph]
        for m, acid in read.acidity:
            at = properties.titratable_acidity_percent(course.mixture[place[m]], "lactic")
            found.append((at / acid - 1) / READ_ACID)
        return np.array(found)

    def residuals(x: Array) -> Array:
        return np.concatenate([misfit(run(x[:, None]))[:, 0], x])

    def slopes(x: Array) -> Array:
        return np.concatenate([slope(misfit(around(x))), np.eye(3)])

    found = least_squares(
        residuals, np.zeros(3), jac=slopes, bounds=(-3, 3), xtol=1e-3, ftol=1e-3, max_nfev=12
    )
    jacobian = slopes(found.x)
    off = found.fun[:-3]
    scatter = max(1.0, float(np.mean(off**2)))  # readings that scatter more say less
    covariance = scatter * np.linalg.inv(jacobian.T @ jacobian)
    at_end = slope(around(found.x).ph[-1])
    error = 1.96 * float(np.sqrt(at_end @ covariance @ at_end + scatter * (READ_PH / 2) ** 2))
    late = slope(around_early(found.x))
    later = 1.96 * covariance @ late / max(float(np.sqrt(late @ covariance @ late)), 1e-6)
    ends = Correction(*np.exp(np.outer(spread * later, [0.0, 1.0, -1.0])))
    rate, start, buffer = np.exp(found.x * spread)
    words = (
        f"{off.size} readings correct the ferment: rate times {rate:.2f}, cells at the start times "
        f"{start:.2g}, buffer times {buffer:.2f}"
    )
    far = [m for (m, _), o in zip((*read.ph, *read.acidity), off, strict=True) if abs(o) > FAR]
    if far:
        when = " and ".join(duration(m / 60) for m in far)
        words += f"; the reading after {when} does not fit: measure again"
        error = max(END_PH_ERROR, READ_PH * float(np.abs(off).max()))
    else:
        error = min(error, END_PH_ERROR)
    return Corrected(Correction(rate, start, buffer), ends, error, words)
