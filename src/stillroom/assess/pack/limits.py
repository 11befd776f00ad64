"""Which water activities end a packed product by its texture, and when it comes to them.

The limits follow from what is in the pack: by the words of its name and of its foods, and by their
groups. Where dry foods are packed together, each part has its own.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom import tables
from stillroom.assess.keep.history import History
from stillroom.assess.pack.course import CENTRE, CORNERS, PackCourse, follow
from stillroom.assess.result import Estimate, Verdict
from stillroom.physics.ingress import sealed_mix_water_activity
from stillroom.product.film import HIGH
from stillroom.product.process import Batch
from stillroom.product.recipe import Recipe
from stillroom.product.sorption import Sorption, sorption_of

DRY_BELOW = 0.85  # water activity of parts that share their water when packed together
LEAST_SHARE = 0.05  # of what is packed, for a part to count
LEAST_WATER = 0.01  # of a part; crystals of salt and sugar have none to share
WET_VERBS = ("boil", "steep", "ferment", "dry", "drain", "heat")
COOKED_VERBS = ("boil", "steep", "ferment")  # after which a food has no texture of its own
MAIN_SHARE = 0.2  # of the largest food, for a food to count in the texture of the whole
MOULD = "mould within months"
DRIED = {"fruit, fresh": "fruit, dried"}  # what a drying makes of a group


@dataclass(frozen=True)
class Part:
    """A food in a pack, or all of it.

    Attributes:
        name: how it is called; "" for the whole product.
        words: of its name and foods, in which the limits are looked for.
        groups: of its foods.
        own_water_activity: before it is packed with the others; None for the whole product.
        dry_share: of the dry solids in the pack.
        curve: of its water, at the temperature it is kept at; None for the whole product.
    """

    name: str
    words: str
    groups: frozenset[str]
    own_water_activity: float | None = None
    dry_share: float = 1.0
    curve: Sorption | None = None


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
    return Packed(course, parts, crossings(course, parts), _shared(parts))


def _shared(parts: Sequence[Part]) -> float | None:
    known = [(p.dry_share, p.own_water_activity, p.curve.moisture_at) for p in parts if p.curve]
    if not known:
        return None
    solids, own, curves = zip(*known, strict=True)
    return float(sealed_mix_water_activity(np.array(solids), np.array(own, float), curves))


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


def limits_of(part: Part) -> list[tables.Row]:
    """Return the limits of texture that hold for a part; a crisp fruit is a crisp.

    Args:
        part: of the pack, or all of it.
    """
    rows = tables.rows("critical_water_activity")
    named = [
        r for r in rows
        if r["words"] and re.search(rf"\b({'|'.join(_words(r))})(s|es)?\b", part.words)
    ]  # fmt: skip
    return named or [r for r in rows if r["groups"] and set(_groups(r)) & part.groups]


def _words(row: tables.Row) -> list[str]:
    return str(row["words"]).split(";")


def _groups(row: tables.Row) -> list[str]:
    return str(row["groups"]).split(";")


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


# --- what is in the pack ----------------------------------------------------------------------


def parts_of(batch: Batch) -> tuple[Part, ...]:
    """Return the dry foods that are packed together, or else the product as one.

    Args:
        batch: the recipe carried out, the central one.
    """
    recipe = batch.recipe
    return _mixed(batch) or (Part("", *_whole(recipe)),)


def _whole(recipe: Recipe) -> tuple[str, frozenset[str]]:
    masses: dict[str, float] = {}
    for _, name, amount in recipe.parts():
        masses[name] = masses.get(name, 0.0) + recipe.kg(name, amount)
    most = max(masses.values())
    verbs = [s.verb for s in recipe.steps]
    dried, cooked = "dry" in verbs, bool(set(verbs) & set(COOKED_VERBS))
    main = [n for n, kg in masses.items() if kg > MAIN_SHARE * most and (dried or not cooked)]
    foods = [str(recipe.food(n).row["food"]) for n in main]
    groups = {recipe.food(n).group for n in main}
    words = " ".join([recipe.name, recipe.kind or "", *main, *foods]).lower()
    return words, frozenset(DRIED.get(g, g) if dried else g for g in groups)


def _mixed(batch: Batch) -> tuple[Part, ...]:
    """Return what was dry before it was packed with other dry foods; none where it was not."""
    recipe, plan = batch.recipe, batch.recipe.keep()
    T = plan.temperature if plan else 20.0
    wet = [s for s in batch.stages if s.step.verb in WET_VERBS and not s.closed]
    last = wet[-1].number if wet else 0
    isotherm = recipe.isotherm.curve if recipe.isotherm else None
    found = []
    if wet:
        words, groups = _whole(recipe)
        found.append((recipe.name, words, groups, wet[-1].mixture, isotherm))
    for name, kg in _added(recipe, last).items():
        one = recipe.food(name)
        words = f"{name} {one.row['food']}".lower()
        found.append((name, words, frozenset({one.group}), one.mixture() * kg, None))
    total = sum(float(m.total_kg) for _, _, _, m, _ in found)
    parts = []
    for name, words, groups, mixture, curve in found:
        kg, water = float(mixture.total_kg), float(mixture.kg("water"))
        if kg < LEAST_SHARE * total or water < LEAST_WATER * kg:
            continue
        own = sorption_of(mixture, T, curve)
        a_w = float(own.water_activity_at(water / own.dry_kg))
        parts.append((Part(name, words, groups, a_w, curve=own), float(own.dry_kg)))
    if len(parts) < 2 or any((p.own_water_activity or 1.0) >= DRY_BELOW for p, _ in parts):
        return ()
    dry = sum(kg for _, kg in parts)
    return tuple(replace(p, dry_share=kg / dry) for p, kg in parts)


def _added(recipe: Recipe, after: int) -> dict[str, float]:
    """Return the kilograms of each food that is added after a step."""
    masses: dict[str, float] = {}
    for n, step in enumerate(recipe.steps, start=1):
        for name, amount in (step.add or {}).items() if n > after else ():
            masses[name] = masses.get(name, 0.0) + recipe.kg(name, amount)
    return masses
