"""A history as an organism meets it: temperatures, and the water activity a pack lets come."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stillroom.assess.keep.history import HOURS_A_DAY, History
from stillroom.assess.keeping import Situation
from stillroom.assess.pack.course import PackCourse
from stillroom.labels import Array

WETNESSES = 24  # so many water activities stand for a course


@dataclass(frozen=True)
class Moment:
    """A product at a temperature."""

    situation: Situation
    temperature_C: float
    wetness: int


@dataclass(frozen=True)
class Moments:
    """The moments that stand for a history.

    Attributes:
        history: with the edges of the pack's stages among its times.
        each: the moments.
        which: of them stands for each time.
    """

    history: History
    each: tuple[Moment, ...]
    which: NDArray[np.intp]

    def situations(self) -> Iterator[tuple[Situation, NDArray[np.bool_]]]:
        """Yield each situation once, from dry to wet, and the times it stands for."""
        wetness = np.array([m.wetness for m in self.each])
        for n in np.unique(wetness):
            first = next(m for m in self.each if m.wetness == n)
            yield first.situation, wetness[self.which] == n


def moments(situation: Situation, history: History, course: PackCourse | None) -> Moments:
    """Return the moments of a history.

    Args:
        situation: the product as it is packed.
        history: that it is kept at.
        course: of the water activity in its pack; None where it stays.
    """
    if course is None:
        levels, which = history.levels()
        each = tuple(Moment(situation, float(T), 0) for T in levels)
        return Moments(history, each, which)
    history = history.with_times(HOURS_A_DAY * course.days)
    levels, warm = history.levels()
    band = np.stack([np.interp(history.time_h, HOURS_A_DAY * course.days, b) for b in course.band])
    situations, wet = _situations(situation, band)
    pairs, which = np.unique(np.stack([wet, warm]), axis=1, return_inverse=True)
    each = tuple(Moment(situations[k], float(levels[T]), int(k)) for k, T in pairs.T)
    return Moments(history, each, which.reshape(-1))


def _situations(situation: Situation, band: Array) -> tuple[list[Situation], NDArray[np.intp]]:
    """Return the product at a few water activities, each the wettest of its times, and which."""
    wetness = band[1] + band[2]
    low, high = wetness.min(), wetness.max()
    if high - low < 1e-6:
        step = np.zeros(wetness.size, np.intp)
    else:
        step = np.ceil((wetness - low) / (high - low) * (WETNESSES - 1)).astype(np.intp)
    used, which = np.unique(step, return_inverse=True)
    found = []
    for n in used:
        dry, middle, wet = (float(x) for x in band[:, step == n].max(axis=1))
        a_w = replace(situation.water_activity, value=middle, low=dry, high=wet)
        found.append(replace(situation, water_activity=a_w))
    return found, which
