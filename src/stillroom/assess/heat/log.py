"""A logged run held against what the product asks for, and against its process as written."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stillroom.assess.heat.judgement import Heating, Reached, judge_plan, verdict_of
from stillroom.assess.heat.targets import Target, p90_z_C, targets_of
from stillroom.assess.heat.ways import shortest
from stillroom.assess.result import Estimate
from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.physics.death import Scale
from stillroom.physics.penetration import Penetration, fit_penetration
from stillroom.product.pack_plan import ROOM_C
from stillroom.product.recipe import Penetration as Given
from stillroom.product.recipe import Recipe
from stillroom.product.trace import Trace

SENSOR_C = 0.5  # what a calibrated logger is good for, common practice
LONG_STEPS, LONG_S = 5.0, 60.0  # a gap: so many usual steps, and longer than this
COARSE_S = 60.0
STRAIGHT = 0.97  # r² below which a heating line is none
NEAR_C = 1.0  # of the medium: at its temperature
MEDIUM_WORDS = frozenset(
    [
        "medium",
        "bath",
        "water",
        "steam",
        "kettle",
        "canner",
        "retort",
        "ambient",
        "room",
        "air",
        "wasser",
        "wasserbad",
        "dampf",
    ]
)
PLACES = frozenset(
    [
        "the",
        "in",
        "of",
        "at",
        "top",
        "bottom",
        "left",
        "right",
        "inlet",
        "outlet",
        "heating",
        "cooling",
        "hot",
        "cold",
        "temperature",
        "temp",
        "probe",
        "sensor",
        "tank",
    ]
)
FAR_C = 2.0  # above everything around it: no food gets there
CAUTIONS = (
    "Each food probe is taken to sit in the coldest place of the coldest pack: prove that it does.",
    "A batch that fell short is set aside; only a process authority may say what becomes of it.",
)


@dataclass(frozen=True)
class Channel:
    """One probe.

    Attributes:
        name: of its column.
        peak_C: hottest reading.
        lethality_min: of each target.
        penetration: f and j of its heating; None where no line can be fitted.
        remark: why not.
    """

    name: str
    peak_C: float
    lethality_min: tuple[float, ...]
    penetration: Penetration | None
    remark: str = ""


@dataclass(frozen=True)
class MediumRun:
    """What the heating medium did.

    Attributes:
        name: of its column.
        planned_C: of the process as written; None where none is.
        planned_min: at that temperature.
        held_min: logged within a degree of it or above.
        highest_C: reading.
    """

    name: str
    planned_C: float | None
    planned_min: float | None
    held_min: float | None
    highest_C: float


@dataclass(frozen=True)
class LogJudgement:
    """A logged run, judged.

    Attributes:
        recipe: what was made.
        trace: the log.
        channels: food probes.
        medium: what the medium did; None where it was not logged.
        reached: every target and what the coldest probe received.
        coldest: name of that probe, of the first target.
        planned: the process as written; None where the recipe has no heat.
        to_make_good: what a run that fell short would need, in words.
        notes: of the reading and the judging.
        cautions: the usual ones.
    """

    recipe: Recipe
    trace: Trace
    channels: tuple[Channel, ...]
    medium: MediumRun | None
    reached: tuple[Reached, ...]
    coldest: str
    planned: Heating | None
    to_make_good: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS

    @property
    def met(self) -> bool | None:
        """Whether every target against danger and spoilage is met; None where it may or may not."""
        asked = {
            "cannot tell" if r.low_acid and r.verdict == "pass" else r.verdict
            for r in self.reached
            if r.target.use in ("hazard", "spoilage")
        }
        return False if "fail" in asked else None if "cannot tell" in asked or not asked else True


def is_medium(name: str) -> bool:
    """Return whether a column is named like what is around the packs: of such words alone.

    Args:
        name: of the column; "water bath 2" is one, "coconut water" is a food.
    """
    words = set(re.findall(r"[^\W\d_]+", name.lower()))
    return bool(words & MEDIUM_WORDS) and words <= MEDIUM_WORDS | PLACES


def accumulated_min(trace: Trace, name: str, scale: Scale) -> Array:
    """Return the lethality of a channel up to every time of the log, trapezoid rule.

    Where a reading is missing for long, the colder end of the gap counts.

    Args:
        trace: the log.
        name: of the channel.
        scale: of the minutes.
    """
    t, low, middle, _ = _steps(trace, name, scale)
    gap = _gaps(t, trace)
    total = np.concatenate([[0.0], np.cumsum(np.where(gap, low, middle))])
    return np.interp(trace.time_s, t, total)


def _gaps(time_s: Array, trace: Trace | None = None) -> NDArray[np.bool_]:
    """Return which steps are so long that what lies between is not known."""
    step = np.diff(time_s)
    usual = float(np.median(step if trace is None else np.diff(trace.time_s)))
    return (step > LONG_STEPS * usual) & (step > LONG_S)


def _steps(trace: Trace, name: str, scale: Scale) -> tuple[Array, Array, Array, Array]:
    """Return (known times, minutes of every step by its colder end, their mean, its hotter end)."""
    T = trace.temperature_C[name]
    known = np.isfinite(T) & (_believed_C(trace, name) >= T)
    t, rate = trace.time_s[known], scale.rate(T[known])
    step = np.diff(t) / 60
    first, last = rate[:-1], rate[1:]
    ends = np.minimum(first, last), (first + last) / 2, np.maximum(first, last)
    low, middle, high = (e * step for e in ends)
    return t, low, middle, high


def _believed_C(trace: Trace, name: str) -> float:
    """Return the hottest reading of a probe that is believed: what is around it, or its start."""
    around = [T for n, T in trace.temperature_C.items() if is_medium(n)]
    if not around:
        return float("inf")
    own = trace.temperature_C[name]
    hottest = max(float(np.nanmax(T)) for T in around)
    return max(hottest, float(own[np.isfinite(own)][0])) + FAR_C


def _lethality(trace: Trace, name: str, scale: Scale) -> Estimate:
    """Return the lethality of a channel between what its readings and its sensor leave open."""
    _, low, _, high = _steps(trace, name, scale)
    off = 10 ** (SENSOR_C / min(scale.z_C, scale.z_above_C or scale.z_C))
    value = float(accumulated_min(trace, name, scale)[-1])
    ends = float(low.sum()) / off, float(high.sum()) * off
    return Estimate(value, *ends, "min", kind="measured")


def judge_log(
    trace: Trace,
    recipe: Recipe,
    ph: Estimate,
    water_activity: Estimate,
    planned: Heating | None,
) -> LogJudgement:
    """Judge a logged run.

    Args:
        trace: the log.
        recipe: what was made.
        ph: its estimate.
        water_activity: its estimate.
        planned: the process as written; None where the recipe has no heat.

    Raises:
        InputError: no food probe, or nothing is asked of the heat.
    """
    food = [n for n in trace.temperature_C if not is_medium(n)]
    if not food:
        raise InputError(
            f"every column ({', '.join(trace.temperature_C)}) is named like a medium; name the "
            "probe in the food, such as 'jar 1 (°C)'."
        )
    asked = targets_of(recipe, ph, water_activity, p90_z_C(recipe))
    if not asked:
        raise InputError("no lethality is asked of this product: the log cannot be held to one.")
    medium = _medium(trace, planned)
    channels = tuple(_channel(trace, n, asked, medium, planned) for n in food)
    reached = tuple(_reached(t, [_lethality(trace, n, t.scale) for n in food]) for t in asked)
    coldest = min(channels, key=lambda c: c.lethality_min[0])
    return LogJudgement(
        recipe=recipe,
        trace=trace,
        channels=channels,
        medium=medium,
        reached=reached,
        coldest=coldest.name,
        planned=planned,
        to_make_good=_to_make_good(reached, channels, planned, recipe, ph, water_activity),
        notes=(*trace.remarks, *_notes(trace, channels)),
    )


def _reached(target: Target, each: list[Estimate]) -> Reached:
    value, low, high = (min(getattr(e, end) for e in each) for end in ("value", "low", "high"))
    least = Estimate(value, low, high, "min", kind="measured")
    return Reached(target, least, verdict_of(target, least), least.value)


def _medium(trace: Trace, planned: Heating | None) -> MediumRun | None:
    names = [n for n in trace.temperature_C if is_medium(n)]
    if not names:
        return None
    name = max(names, key=lambda n: float(np.nanmax(trace.temperature_C[n])))
    T = np.nan_to_num(trace.temperature_C[name], nan=-np.inf)
    hot = _hot_leg(planned)
    held = None
    if hot is not None:
        at = hot[0] - NEAR_C <= T
        held = float(np.sum(np.diff(trace.time_s)[at[1:] & at[:-1] & ~_gaps(trace.time_s)]) / 60)
    return MediumRun(
        name=name,
        planned_C=hot[0] if hot else None,
        planned_min=hot[1] if hot else None,
        held_min=held,
        highest_C=float(T.max()),
    )


def _hot_leg(planned: Heating | None) -> tuple[float, float] | None:
    """Return (temperature, hold in min) of the last heating of the process as written."""
    legs = [leg for leg in planned.plan.legs if leg.heating] if planned else []
    if not legs:
        return None
    return legs[-1].medium_C[-1], (legs[-1].time_s[-1] - legs[-1].time_s[-2]) / 60


def _channel(
    trace: Trace,
    name: str,
    asked: list[Target],
    medium: MediumRun | None,
    planned: Heating | None,
) -> Channel:
    T = trace.temperature_C[name]
    hot = _hot_leg(planned)
    minutes = trace.time_s / 60
    found, remark = None, "no medium is logged or planned: no f and j"
    if medium is not None:
        logged = trace.temperature_C[medium.name]
        found, remark = _penetration(minutes, T, _heat_on(minutes, logged))
    elif hot is not None:
        found, remark = _penetration(minutes, T, _HeatOn(hot[0], minutes[0], minutes[0], np.inf))
    return Channel(
        name=name,
        peak_C=float(np.nanmax(T)),
        lethality_min=tuple(float(accumulated_min(trace, name, t.scale)[-1]) for t in asked),
        penetration=found,
        remark=remark,
    )


@dataclass(frozen=True)
class _HeatOn:
    """When a logged medium was on: it starts to rise, stands, falls; minutes, °C."""

    stands_C: float
    on_min: float
    up_min: float
    off_min: float


def _heat_on(time_min: Array, medium_C: Array) -> _HeatOn:
    stands = float(np.nanmedian(medium_C[medium_C > np.nanmax(medium_C) - 5 * NEAR_C]))
    at = np.flatnonzero(medium_C >= stands - NEAR_C)
    before = np.flatnonzero(medium_C[: at[0] + 1] <= medium_C[0] + 2 * NEAR_C)
    on = int(before[-1]) if before.size else 0
    return _HeatOn(stands, *(float(time_min[i]) for i in (on, at[0], at[-1])))


def _penetration(time_min: Array, T: Array, heat: _HeatOn) -> tuple[Penetration | None, str]:
    """Return (f and j of the heating, why there are none)."""
    heating = np.isfinite(T) & (time_min >= heat.on_min) & (time_min <= heat.off_min)
    heating &= np.arange(T.size) <= np.nanargmax(T)
    if not heating.any():
        return None, "no f and j: the food was hottest before the medium was"
    t, food = time_min[heating] - heat.on_min, T[heating]
    come_up = heat.up_min - heat.on_min
    try:
        fit = fit_penetration(t, food, heat.stands_C, float(food[0]), come_up)
    except ValueError as problem:
        return None, f"no f and j: {problem}"
    if fit.r_squared < STRAIGHT:
        return None, f"no f and j: the line is not straight (r² {fit.r_squared:.2f})"
    return fit, ""


def _to_make_good(
    reached: tuple[Reached, ...],
    channels: tuple[Channel, ...],
    planned: Heating | None,
    recipe: Recipe,
    ph: Estimate,
    water_activity: Estimate,
) -> tuple[str, ...]:
    short = [
        (i, r)
        for i, r in enumerate(reached)
        if r.verdict != "pass" and r.target.use in ("hazard", "spoilage")
    ]
    if not short:
        return ()
    words = []
    for i, r in short:
        cold = min(channels, key=lambda c: c.lethality_min[i])
        missing = r.target.minutes - r.lethality.low
        words.append(f"{missing:.3g} min at {r.target.scale} are missing in {cold.name}")
        rate = float(r.target.scale.rate(cold.peak_C - SENSOR_C))
        if rate > 0:
            more = int(np.ceil(missing / rate))
            words[-1] += f": {more} min more at its peak of {cold.peak_C:.1f} °C"
    if planned is not None and planned.plan.heated:
        words.append(_again(planned, channels, recipe, ph, water_activity))
    return tuple(words)


def _again(
    planned: Heating,
    channels: tuple[Channel, ...],
    recipe: Recipe,
    ph: Estimate,
    water_activity: Estimate,
) -> str:
    """Return the process that a pack which has cooled would need, by the slowest logged line."""
    fits = [c.penetration for c in channels if c.penetration]
    fits = fits if len(fits) == len(channels) else []  # a jar without a line may be the slowest
    hot = _hot_leg(planned)
    assert hot is not None
    plan, by = planned.plan, "as computed"
    if fits:
        slowest = max(fits, key=lambda p: p.f_min)
        given = Given.model_validate(
            {"f": f"{slowest.f_min:.4f} min", "j": min(max(slowest.j, 0.1), 5.0)}
        )
        plan, by = replace(plan, given=given), f"with f {slowest.f_min:.1f} min as logged"
    cold = replace(plan, start_C=ROOM_C, piece_start_C=ROOM_C)
    way = shortest(judge_plan(cold, recipe, ph, water_activity), recipe, ph, water_activity, hot[0])
    if way.hold_min is None:
        return f"a pack that has cooled to {ROOM_C:g} °C: {way.why_not}"
    return (
        f"a pack that has cooled to {ROOM_C:g} °C starts again: {way.hold_min} min at "
        f"{hot[0]:.1f} °C, {by}; what the first run gave does not count"
    )


def _notes(trace: Trace, channels: tuple[Channel, ...]) -> list[str]:
    usual = float(np.median(np.diff(trace.time_s)))
    notes = [f"{len(channels)} probes in the food; sensors taken as good to {SENSOR_C:g} °C"]
    notes += [
        f"{c.name}: hotter than anything around it ({c.peak_C:.1f} °C); readings above "
        f"{_believed_C(trace, c.name):.1f} °C are left out"
        for c in channels
        if c.peak_C > _believed_C(trace, c.name)
    ]
    if usual > COARSE_S:
        notes.append(
            f"readings every {usual / 60:.1f} min: steps over a minute near the peak bias a "
            "lethality by several per cent"
        )
    return notes
