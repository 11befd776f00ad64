"""The water activity in a pack over its keeping, with what is not known of film, food and room.

Corners: film, water activity when packed and humidity, each low, middle and high. Beside them, one
thing at a time is moved from the middle, to show what the time hangs on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from scipy.integrate import cumulative_trapezoid

from stillroom.assess.keep.history import HOURS_A_DAY, History
from stillroom.assess.result import Estimate
from stillroom.labels import Array
from stillroom.physics.ingress import exchange_to_moisture
from stillroom.product import packing
from stillroom.product.film import HIGH, LOW, MIDDLE
from stillroom.product.packing import Climate, Pack
from stillroom.product.process import Batch

HUMIDITY_ERROR, LOGGED_ERROR = 0.10, 0.03  # of a room as told, as logged; common practice
PERMEANCE_STEP, ACTIVITY_STEP = 0.30, 0.02
STAGES, MOST_STAGES = 120, 400
CORNERS, CENTRE = 27, 13
MOUTH_M = 0.10  # of a bag that was opened and not closed again, common practice
LIMITS = (0.001, 0.999)  # of a water activity or humidity that is moved


@dataclass(frozen=True)
class Case:
    """One way it may be.

    Attributes:
        words: what is moved from the middle.
        wetter: water activity of the food at every moisture, added to its curve.
        film: which end of the film.
        humidity: of the room, added.
        permeance: factor on what film and holes let through.
        steady: the film of the test at every temperature.
        holes: another number of holes.
    """

    words: str
    wetter: float = 0.0
    film: int = MIDDLE
    humidity: float = 0.0
    permeance: float = 1.0
    steady: bool = False
    holes: int | None = None


@dataclass(frozen=True)
class PackCourse:
    """A pack in a room, in every case.

    Attributes:
        pack: with its film and its curve.
        cases: the corners, the middle of them at CENTRE, then one thing at a time.
        days: at the edges of the stages, from 0.
        climate: in the stages; the humidity, less what a case adds to the curve, has the cases on
            its first axis.
        after: one stage that goes on when they are over.
        conductance: of the stages and of the one after, cases on the first axis.
        moisture: of the pack, cases and edges.
        water_activity: likewise, at the temperature of the stage before the edge.
    """

    pack: Pack
    cases: tuple[Case, ...]
    days: Array
    climate: Climate
    after: Climate
    conductance: tuple[Array, Array]
    moisture: Array
    water_activity: Array

    @property
    def declared_days(self) -> float:
        """How long it is looked at."""
        return float(self.days[-1])

    @property
    def band(self) -> Array:
        """Lowest, middle and highest water activity at the edges."""
        corners = self.water_activity[:CORNERS]
        return np.stack([corners.min(axis=0), corners[CENTRE], corners.max(axis=0)])

    @property
    def gained_g(self) -> Array:
        """Least, middle and most water a pack has gained at the edges; negative where it dries."""
        gained = (self.moisture[:CORNERS] - self.moisture[:CORNERS, :1]) * self.pack.dry_g
        return np.stack([gained.min(axis=0), gained[CENTRE], gained.max(axis=0)])

    def days_to(self, limit: float, rising: bool) -> Array:
        """Return when each case reaches a water activity; inf: never in this room.

        Args:
            limit: water activity.
            rising: whether it is reached from below.
        """
        way = 1.0 if rising else -1.0
        past = way * (self.water_activity - limit) >= 0
        days = np.full(len(self.cases), np.inf)
        for n, case in enumerate(self.cases):
            if past[n, 0]:
                days[n] = 0.0
            elif past[n].any():
                k = int(np.argmax(past[n])) - 1
                days[n] = self.days[k] + self._more(limit - case.wetter, way, n, k)
            else:
                days[n] = self.days[-1] + self._more(limit - case.wetter, way, n, None)
        return days

    def _more(self, limit: float, way: float, case: int, stage: int | None) -> float:
        """Return days from the start of a stage, or the end of all, to a water activity."""
        climate, n = (self.after, 0) if stage is None else (self.climate, stage)
        pack, T = self.pack, climate.temperature_C[n]
        here, there = self.moisture[case, -1 if stage is None else stage], pack.moisture(limit, T)
        if way * (here - there) >= 0:  # a change of temperature alone
            return 0.0
        G = self.conductance[stage is None][case, n]
        outside = climate.relative_humidity[case, n] / pack.warmer(T)
        x = exchange_to_moisture(here, there, outside, *pack.points)
        a_day = pack.exchange(G, 1.0, T)
        return float(x / a_day) if a_day > 0 else float("inf")


def cases_of(water_activity: Estimate, humidity_error: float, leaks: int) -> tuple[Case, ...]:
    """Return the corners, and one thing at a time.

    Args:
        water_activity: of the product, with its interval.
        humidity_error: of the room.
        leaks: holes of the pack.
    """
    middle = water_activity.value
    curves = (water_activity.low - middle, 0.0, water_activity.high - middle)
    corners = product((LOW, MIDDLE, HIGH), curves, (-humidity_error, 0.0, humidity_error))
    singles = (
        Case(f"permeance - {100 * PERMEANCE_STEP:g} %", permeance=1 - PERMEANCE_STEP),
        Case(f"permeance + {100 * PERMEANCE_STEP:g} %", permeance=1 + PERMEANCE_STEP),
        Case(f"water activity - {ACTIVITY_STEP:g}", -ACTIVITY_STEP),
        Case(f"water activity + {ACTIVITY_STEP:g}", ACTIVITY_STEP),
        Case(f"humidity - {100 * HUMIDITY_ERROR:g} %", humidity=-HUMIDITY_ERROR),
        Case(f"humidity + {100 * HUMIDITY_ERROR:g} %", humidity=HUMIDITY_ERROR),
        Case("film as in its test at any temperature", steady=True),
        Case("film only, without its holes", holes=0)
        if leaks
        else Case("with a leak: one hole of 50 µm", holes=1),
    )
    return (*(Case("", a, film, damp) for film, a, damp in corners), *singles)


def follow(
    batch: Batch,
    water_activity: Estimate,
    history: History | None = None,
    opened: bool = False,
) -> PackCourse | None:
    """Return the course of a product in its pack; None where it has no closed pack or no time.

    Args:
        batch: the recipe carried out, the central one.
        water_activity: of the product as packed, with its interval.
        history: that it is kept at; as declared by default.
        opened: whether the bag stands open from the start.

    Raises:
        InputError: as `packing.pack_of`.
    """
    plan = batch.recipe.keep()
    if plan is None or not plan.for_:
        return None
    pack = packing.pack_of(batch.recipe, batch.made.mixture, plan)
    if pack is None:
        return None
    if opened and pack.barrier is not None:
        pack = replace(pack, barrier=replace(pack.barrier, mouth_m=MOUTH_M))
    room = packing.humidity(plan)
    if history is None:
        days = np.linspace(0.0, plan.for_ / packing.MINUTES_A_DAY, STAGES + 1)
        T, damp = np.full(STAGES, float(plan.temperature)), np.full(STAGES, room)
    else:
        days, T, damp = _stages(history, room)
    logged = history is not None and history.relative_humidity is not None
    leaks = pack.barrier.holes if pack.barrier else 0
    cases = cases_of(water_activity, LOGGED_ERROR if logged else HUMIDITY_ERROR, leaks)
    climate = _climate(np.diff(days), T, damp, cases)
    later = room if plan.humidity is not None or not logged else float(np.mean(damp))
    after = _climate(np.ones(1), np.array([plan.temperature]), np.array([later]), cases)
    through = tuple(_conductance(pack, c.temperature_C, cases) for c in (climate, after))
    moisture = pack.follow(climate, through[0], pack.closed_with())
    wetter = np.array([[c.wetter] for c in cases])
    at_edge = np.concatenate([T[:1], T])
    return PackCourse(
        pack=pack,
        cases=cases,
        days=days,
        climate=climate,
        after=after,
        conductance=(through[0], through[1]),
        moisture=moisture,
        water_activity=np.clip(pack.water_activity(moisture, at_edge) + wetter, 0.0, 1.0),
    )


def _climate(days: Array, T: Array, damp: Array, cases: tuple[Case, ...]) -> Climate:
    moved = np.array([[c.humidity - c.wetter] for c in cases]) + damp
    return Climate(days, T, np.clip(moved, *LIMITS))


def _conductance(pack: Pack, T: Array, cases: tuple[Case, ...]) -> Array:
    if pack.barrier is None:
        return np.zeros((len(cases), T.size))
    known = {
        (steady, holes): pack.barrier.conductance_g_per_day_Pa(T, steady, holes)
        for steady, holes in {(c.steady, c.holes) for c in cases}
    }
    return np.stack([c.permeance * known[c.steady, c.holes][:, c.film] for c in cases])


def _stages(history: History, room: float) -> tuple[Array, Array, Array]:
    """Return edges in days, and the mean temperature and humidity of the stages between them."""
    time = history.time_h
    jumps = time[np.flatnonzero(np.diff(time) == 0)]
    few = time if time.size <= MOST_STAGES else jumps
    even = np.linspace(0.0, time[-1], MOST_STAGES if time.size > MOST_STAGES else STAGES)
    edges = np.unique(np.concatenate([even, few]))

    def mean(values: Array) -> Array:
        whole = cumulative_trapezoid(values, time, initial=0)
        return np.diff(np.interp(edges, time, whole)) / np.diff(edges)

    damp = history.relative_humidity
    humid = np.full(edges.size - 1, room) if damp is None else mean(damp)
    return edges / HOURS_A_DAY, mean(history.temperature_C), humid
