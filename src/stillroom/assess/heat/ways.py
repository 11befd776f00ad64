"""Other processes for the same pack: the shortest that meets its targets, and the kindest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache

from stillroom.assess.heat.judgement import Heating, judge_plan, least
from stillroom.assess.result import Estimate
from stillroom.errors import InputError
from stillroom.physics import phase
from stillroom.product.pack_plan import ROOM_C, WAITING, Leg, Plan
from stillroom.product.process import OPEN_STEAM_C
from stillroom.product.recipe import Recipe

LONGEST_MIN = 240
OPEN_C = (75.0, 80.0, 85.0, 90.0, 95.0)
CLOSED_C = (105.0, 110.0, 115.0, 121.0, 126.0)
COUNTED = ("hazard", "spoilage")


@dataclass(frozen=True)
class Way:
    """A process that meets every target at its careful end, as short as whole minutes allow.

    Attributes:
        medium_C: of the medium; of food and container after the fill where that is all the heat.
        hold_min: at that temperature, after the come-up; None where none is short enough.
        heating: what it is worth; None with hold_min.
        why_not: where there is none.
    """

    medium_C: float
    hold_min: int | None
    heating: Heating | None
    why_not: str = ""

    @property
    def kept(self) -> float:
        """Mean share kept of what the heat costs; 0 where there is no process."""
        items = [k.share for k in self.heating.kept if k.kind != "enzyme"] if self.heating else []
        return sum(items) / len(items) if items else 0.0


def ways(
    heating: Heating,
    recipe: Recipe,
    ph: Estimate,
    water_activity: Estimate,
    media_C: Sequence[float] = (),
) -> list[Way]:
    """Return the shortest process at each of some temperatures of the medium.

    Args:
        heating: of the process as written.
        recipe: whose targets count.
        ph: its estimate.
        water_activity: its estimate.
        media_C: temperatures to try; a spread of them around the process by default.

    Raises:
        InputError: nothing is asked of the heat.
    """
    if not any(r.target.use in COUNTED for r in heating.reached):
        raise InputError("no lethality is asked of this product: there is nothing to search for.")
    tried = media_C or _media(heating.plan)
    return [shortest(heating, recipe, ph, water_activity, T) for T in tried]


def kindest(found: Sequence[Way]) -> Way | None:
    """Return the process that keeps most of the quality; None where there is none."""
    possible = [w for w in found if w.heating]
    return max(possible, key=lambda w: w.kept, default=None)


def _media(plan: Plan) -> tuple[float, ...]:
    boiling = float(phase.water_boiling_point_C(plan.pressure_kPa))
    if not _bath(plan):
        return tuple(T for T in OPEN_C if boiling > T)
    hottest = max(max(leg.medium_C) for leg in plan.legs if leg.heating)
    if hottest > boiling + 2:
        return CLOSED_C
    return (*(T for T in OPEN_C if boiling - 2 > T), round(boiling, 1))


def _bath(plan: Plan) -> bool:
    """Return whether the heat of a medium is searched, not that of the fill."""
    return any(leg.heating for leg in plan.legs)


def changed(plan: Plan, medium_C: float, hold_min: float) -> Plan:
    """Return a plan with another temperature and hold of its last heating, or of its fill.

    Args:
        plan: as written.
        medium_C: of the medium; of food and container where a hot fill is all the heat.
        hold_min: at that temperature.
    """
    seconds = 60.0 * hold_min
    legs = list(plan.legs)
    if not _bath(plan):
        rest = legs[1:] if legs[0].words == WAITING else legs
        wait = Leg(WAITING, "air", (0.0, seconds), (ROOM_C, ROOM_C))
        return replace(plan, start_C=medium_C, legs=(wait, *rest))
    last = max(i for i, leg in enumerate(legs) if leg.heating)
    legs[last] = _with_hold(_still(legs[last], medium_C, plan), medium_C, seconds)
    return replace(plan, legs=tuple(legs))


def _still(leg: Leg, medium_C: float, plan: Plan) -> Leg:
    """Return a leg in boiling water or open steam as one in hot water, where that is cooler."""
    boiling = float(phase.water_boiling_point_C(plan.pressure_kPa))
    if leg.film not in ("boiling water", "steam") or medium_C >= boiling - OPEN_STEAM_C:
        return leg
    return replace(leg, film="hot water", words="in hot water")


def _with_hold(leg: Leg, medium_C: float, seconds: float) -> Leg:
    come_up = leg.time_s[-2]  # 0 where there is none
    first = (leg.medium_C[0],) if come_up else ()
    rest = (0.0, come_up) if come_up else (0.0,)
    return replace(leg, time_s=(*rest, come_up + seconds), medium_C=(*first, medium_C, medium_C))


def shortest(
    heating: Heating, recipe: Recipe, ph: Estimate, water_activity: Estimate, medium_C: float
) -> Way:
    """Return the shortest process at one temperature of the medium, as ways."""
    impossible = _impossible(heating, medium_C)
    if impossible:
        return Way(medium_C, None, None, impossible)
    asked = [r.target for r in heating.reached if r.target.use in COUNTED]

    @cache
    def meets(hold: int, central: bool) -> bool:
        plan = changed(heating.plan, medium_C, hold)
        hottest = max(medium_C, plan.start_C)
        minutes = sum(leg.seconds for leg in plan.legs) / 60
        # no place is ever hotter than the medium: where even that is too little, spare the course
        if any(t.scale.rate(hottest) * minutes < t.minutes for t in asked):
            return False
        found = zip(least(plan, asked, central), asked, strict=True)
        return all((F.value if central else F.low) >= t.minutes for F, t in found)

    guess = _first(lambda hold: meets(hold, True), 1)
    hold = None if guess is None else _first(lambda hold: meets(hold, False), guess)
    if hold is None:
        return Way(medium_C, None, None, f"not within {LONGEST_MIN} min")
    judged = judge_plan(changed(heating.plan, medium_C, hold), recipe, ph, water_activity)
    if judged.fill_verdict != "pass":
        return Way(medium_C, None, None, _too_cool(judged))
    return Way(medium_C, hold, judged)


def _first(meets: Callable[[int], bool], guess: int) -> int | None:
    """Return the first whole minute that meets; None where the longest does not."""
    low, high = guess - 1, guess
    step = 1
    while not meets(high):
        if high == LONGEST_MIN:
            return None
        low, high, step = high, min(high + step, LONGEST_MIN), 2 * step
    step = 1
    while low > 0 and high == guess and meets(low):
        low, high, guess, step = max(low - step, 0), low, low, 2 * step
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if meets(middle) else (middle, high)
    return high


def _too_cool(heating: Heating) -> str:
    wanted = (heating.fill_needed_C or (0.0, 0.0))[1]
    return f"food of this pH wants {wanted:.0f} °C after the fill"


def _impossible(heating: Heating, medium_C: float) -> str:
    """Return why a temperature cannot be, "" where it can."""
    plan = heating.plan
    boiling = float(phase.water_boiling_point_C(plan.pressure_kPa))
    if not _bath(plan) and heating.fill_needed_C and medium_C < heating.fill_needed_C[1]:
        return _too_cool(heating)
    closed = any(leg.film == "pressure steam" for leg in plan.legs)
    if not closed and medium_C > boiling + OPEN_STEAM_C:
        return f"water boils at {boiling:.1f} °C there"
    return ""
