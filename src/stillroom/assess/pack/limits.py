"""When a packed product comes to the water activities that end it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stillroom import tables
from stillroom.assess.keep.history import History
from stillroom.assess.pack.course import CENTRE, CORNERS, PackCourse, follow
from stillroom.assess.pack.parts import (
    DRY_BELOW,
    Part,
    limits_of,
    parts_of,
    shared_water_activity,
)
from stillroom.assess.result import Estimate, Verdict
from stillroom.product.film import HIGH
from stillroom.product.process import Batch

MOULD = "mould within months"


@dataclass(frozen=True)
class Crossing:
    """When a packed product comes to a water activity that matters.

    Attributes:
        part: of the pack; "" for the whole product.
        event: what happens there.
        rising: whether it is reached from below.
        low: water activity where it may begin.
        high: where it is there for certain.
        start: water activity in the pack when it is closed, the parts shared out.
        end: at the end of the declared time.
        days: declared.
        earliest_days: careful corner of film, food and room, and the near end of the limit.
        typical_days: in the middle.
        latest_days: the other corner; inf: never.
        moved: what is moved from the middle -> typical days.
        film_at_most: g/(m² d) in the usual test with which the earliest time would be the declared
            one; None where no film would do, or none has to.
        source: of the limit.
        provenance: how it was obtained.
        note: a remark on it.
    """

    part: str
    event: str
    rising: bool
    low: float
    high: float
    start: float
    end: float
    days: float
    earliest_days: float
    typical_days: float
    latest_days: float
    moved: Mapping[str, float]
    film_at_most: float | None
    source: str
    provenance: str
    note: str

    @property
    def verdict(self) -> Verdict:
        """Whether the declared time is held."""
        if self.typical_days <= self.days:
            return "fail"
        return "cannot tell" if self.earliest_days <= self.days else "pass"

    @property
    def subject(self) -> str:
        """What and where."""
        if self.event == MOULD:
            return f"{self.event}, limit {self.low:.2f}"
        return f"{self.part}: {self.event}" if self.part else self.event

    @property
    def middle(self) -> float:
        """Middle of the limit."""
        return (self.low + self.high) / 2


@dataclass(frozen=True)
class Packed:
    """A product in its pack.

    Attributes:
        course: of its water activity.
        parts: what is in it.
        crossings: of the limits of texture, then of mould.
        shared: water activity the parts come to by the balance of their own curves; None for one.
    """

    course: PackCourse
    parts: tuple[Part, ...]
    crossings: tuple[Crossing, ...]
    shared: float | None = None

    @property
    def textures(self) -> tuple[Crossing, ...]:
        """The crossings that end it by its texture."""
        return tuple(c for c in self.crossings if c.event != MOULD)

    @property
    def mixed(self) -> bool:
        """Whether dry parts share their water."""
        return len(self.parts) > 1


def packed_of(
    batch: Batch,
    water_activity: Estimate,
    history: History | None = None,
    opened: bool = False,
) -> Packed | None:
    """Return a product in its pack; None where neither a film nor a dry texture asks for it.

    Args:
        batch: the recipe carried out, the central one.
        water_activity: of the product as packed, with its interval.
        history: that it is kept at; as declared by default.
        opened: whether the bag stands open from the start.

    Raises:
        InputError: as `course.follow`.
    """
    film = any(s.fill.film for s in batch.recipe.steps if s.fill)
    dry = water_activity.value < DRY_BELOW
    parts = parts_of(batch) if dry else ()
    if not film and not any(map(limits_of, parts)):
        return None
    course = follow(batch, water_activity, history, opened)
    if course is None:
        return None
    return Packed(course, parts, crossings(course, parts), shared_water_activity(parts))


def limit_words(c: Crossing) -> str:
    """Return a limit in words: one number, or from where to where."""
    return f"{c.low:.2f}" if c.low == c.high else f"{c.low:.2f} to {c.high:.2f}"


def crossings(course: PackCourse, parts: Sequence[Part]) -> tuple[Crossing, ...]:
    """Return when a pack comes to each limit of its parts.

    Args:
        course: of its water activity.
        parts: what is in it.
    """
    found = [_crossing(course, part.name, row) for part in parts for row in limits_of(part)]
    if course.pack.barrier is not None:
        rows = [r for r in tables.rows("critical_water_activity") if r["event"] == MOULD]
        found += [_crossing(course, "", r) for r in rows]
    return tuple(found)


def _crossing(course: PackCourse, part: str, row: tables.Row) -> Crossing:
    low, high, rising = float(row["low"]), float(row["high"]), row["above"] == "yes"
    near, far = (low, high) if rising else (high, low)
    middle = course.days_to((low + high) / 2, rising)
    earliest = float(course.days_to(near, rising)[:CORNERS].min())
    band = course.band[1]
    return Crossing(
        part=part,
        event=str(row["event"]),
        rising=rising,
        low=low,
        high=high,
        start=float(band[0]),
        end=float(band[-1]),
        days=course.declared_days,
        earliest_days=earliest,
        typical_days=float(middle[CENTRE]),
        latest_days=float(course.days_to(far, rising)[:CORNERS].max()),
        moved={c.words: float(d) for c, d in zip(course.cases[CORNERS:], middle[CORNERS:],
                                                 strict=True)},
        film_at_most=_film_at_most(course, earliest),
        source=str(row["source"]),
        provenance=str(row["provenance"]),
        note=str(row["note"] or ""),
    )  # fmt: skip


def _film_at_most(course: PackCourse, earliest_days: float) -> float | None:
    """Return the transmission with which the earliest time would be the declared one.

    Times are inversely proportional to what film and holes let through, in a steady room.
    """
    barrier = course.pack.barrier
    if barrier is None or not 0 < earliest_days < course.declared_days:
        return None
    T = course.after.temperature_C[0]
    film, whole = (float(barrier.conductance_g_per_day_Pa(T, holes=n)[HIGH]) for n in (0, None))
    left = whole * earliest_days / course.declared_days - (whole - film)
    return float(barrier.wvtr_g_per_m2_day[HIGH]) * left / film if left > 0 else None
