"""The temperatures that a pack is kept at: declared, with an excursion, swinging, logged."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stillroom.labels import Array, duration
from stillroom.product.trace import Trace

HOURS_A_DAY = 24.0
SWING_STEP_H = 1.0
FEW_LEVELS = 24  # so many temperatures are judged one by one, more on a grid of half degrees


@dataclass(frozen=True)
class History:
    """Temperatures over time.

    Attributes:
        words: what it is.
        time_h: rising from 0; two equal times are a jump.
        temperature_C: at these times, a straight line between them.
        relative_humidity: of the room, likewise, 0 to 1; None where it was not logged.
    """

    words: str
    time_h: Array
    temperature_C: Array
    relative_humidity: Array | None = None

    @property
    def days(self) -> float:
        """How long it is."""
        return float(self.time_h[-1]) / HOURS_A_DAY

    def levels(self) -> tuple[Array, NDArray[np.intp]]:
        """Return temperatures that stand for all of them, and which stands for each time."""
        exact, which = np.unique(np.round(self.temperature_C, 2), return_inverse=True)
        if exact.size <= FEW_LEVELS:
            return exact, which
        return np.unique(np.round(2 * self.temperature_C) / 2, return_inverse=True)

    def with_times(self, time_h: Array) -> History:
        """Return the same history with more times, which must lie within it."""
        more = np.setdiff1d(time_h, self.time_h)
        into = np.searchsorted(self.time_h, more)
        damp = self.relative_humidity

        def filled(values: Array) -> Array:
            return np.insert(values, into, np.interp(more, self.time_h, values))

        return replace(
            self,
            time_h=np.insert(self.time_h, into, more),
            temperature_C=filled(self.temperature_C),
            relative_humidity=None if damp is None else filled(damp),
        )


def constant(words: str, temperature_C: float, days: float) -> History:
    """Return a history of one temperature.

    Args:
        words: what it is.
        temperature_C: throughout.
        days: how long.
    """
    return History(words, np.array([0.0, HOURS_A_DAY * days]), np.full(2, float(temperature_C)))


def with_excursion(history: History, temperature_C: float, days: float) -> History:
    """Return a history that begins with some days at another temperature, if that is warmer.

    Args:
        history: without it.
        temperature_C: of the excursion.
        days: how long.
    """
    end = min(HOURS_A_DAY * days, float(history.time_h[-1]))
    first, rest = history.time_h < end, history.time_h > end
    at_end = np.interp(end, history.time_h, history.temperature_C)
    T = np.concatenate([history.temperature_C[first], [at_end]])
    damp = history.relative_humidity
    if damp is not None:
        mid = np.interp(end, history.time_h, damp)
        damp = np.concatenate([damp[first], [mid, mid], damp[rest]])
    return History(
        f"{days:g} {'day' if days == 1 else 'days'} at {temperature_C:g} °C first, then "
        f"{history.words}",
        np.concatenate([history.time_h[first], [end, end], history.time_h[rest]]),
        np.concatenate([np.maximum(T, temperature_C), [at_end], history.temperature_C[rest]]),
        damp,
    )


def with_swing(history: History, swing_C: float) -> History:
    """Return a history with a daily swing on top, a sine.

    Args:
        history: without it.
        swing_C: from the coolest to the warmest hour.
    """
    end = float(history.time_h[-1])
    time = np.union1d(np.arange(0.0, end, SWING_STEP_H), history.time_h)
    wave = swing_C / 2 * np.sin(2 * np.pi * time / HOURS_A_DAY)
    T = np.interp(time, history.time_h, history.temperature_C) + wave
    damp = history.relative_humidity
    damp = None if damp is None else np.interp(time, history.time_h, damp)
    return History(f"{history.words}, swinging by {swing_C:g} °C a day", time, T, damp)


def logged(trace: Trace, then_C: float, days: float, then_humidity: float | None = None) -> History:
    """Return a log, then one temperature until some days are full.

    The warmest channel counts at every time, and in a gap the warmer of its two ends; the
    humidity, where it was logged, goes straight through a gap.

    Args:
        trace: of temperatures.
        then_C: temperature after the log.
        days: how long in all; a longer log counts whole.
        then_humidity: of the room after the log, 0 to 1; the mean of the log by default.
    """
    hottest = np.fmax.reduce(list(trace.temperature_C.values()))
    known = np.isfinite(hottest)
    time, T = trace.time_s[known] / 3600, hottest[known]
    time, T = time - time[0], T.astype(float)
    time, T = _gaps_warm(time, T)
    damp = None
    if trace.relative_humidity is not None:
        read = np.isfinite(trace.relative_humidity)
        start = trace.time_s[known][0]
        at_h = (trace.time_s[read] - start) / 3600
        damp = np.interp(time, at_h, trace.relative_humidity[read])
        then_humidity = float(np.mean(damp)) if then_humidity is None else then_humidity
    words, left = f"as logged, {duration(float(time[-1]))}", HOURS_A_DAY * days - time[-1]
    if left <= 0:
        return History(words, time, T, damp)
    return History(
        f"{words}, then {then_C:g} °C",
        np.concatenate([time, [time[-1], time[-1] + left]]),
        np.concatenate([T, [then_C, then_C]]),
        None if damp is None else np.concatenate([damp, [then_humidity, then_humidity]]),
    )


def _gaps_warm(time_h: Array, T: Array) -> tuple[Array, Array]:
    """Return a log with the warmer end held through every gap."""
    steps = np.diff(time_h)
    gaps = np.flatnonzero(steps > 5 * np.median(steps))
    ends = np.stack([time_h[gaps], time_h[gaps + 1]], axis=-1)
    warm = np.repeat(np.maximum(T[gaps], T[gaps + 1]), 2)
    into = np.repeat(gaps + 1, 2)
    return np.insert(time_h, into, ends.ravel()), np.insert(T, into, warm)
