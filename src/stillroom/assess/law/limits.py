"""Additive limits: the rows of the table, which are in force, and which speak of a food."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date
from functools import cache

from stillroom import tables
from stillroom.assess.law.categories import Category, category, code, is_within, words
from stillroom.assess.law.conditions import parsed
from stillroom.assess.law.substances import Substance, substance, substances
from stillroom.assess.law.verdicts import market_named, rests_on_memory
from stillroom.errors import InputError, TableError

GB_KEEPS = date(2020, 12, 31)  # the EU rows in force on this day live on in Great Britain
AS_NEEDED = ("GMP", "quantum satis")
UNVERIFIED = "unverified"
COMBINES = (
    "each", "sum", "prohibited", "minimum", "fractions", "when measured", "levels elsewhere",
    "declaration", "policy", "other law",
)  # fmt: skip
NO_LIMIT = ("fractions", "declaration", "policy", "other law")  # rows that judge no amount


@dataclass(frozen=True)
class Limit:
    """One row of the table of additive limits.

    Attributes:
        row: number of the row in the file.
        market: whose law.
        citation: instrument.
        additive: as the instrument names it.
        numbers: the permitted members.
        families: additive families the row speaks of.
        codes: category codes; empty where the list goes by words.
        food: the food category in words.
        words: what picks this row among those of its code.
        not_words: what rules it out.
        only_if: condition the product must meet.
        level: highest amount; None for as needed or unverified.
        max_level: as printed.
        unit: of the level.
        form: what the level is expressed as (acid, SO2, NO2 ... or named).
        basis: in_food, added, residual or surface.
        combines: how amounts are held against the level.
        caps: family -> highest part inside a sum.
        with_families: in play only beside these.
        without_families: in play only without these.
        counts: families counted in, not permitted by the row.
        absent_up_to: an amount up to this counts as not present.
        start, end: first and last day in force.
        condition: of the instrument, in words.
        source, provenance, note: how the figure was obtained.
    """

    row: int
    market: str
    citation: str
    additive: str
    numbers: frozenset[str]
    families: tuple[str, ...]
    codes: tuple[tuple[int, ...], ...]
    food: str
    words: str
    not_words: str
    only_if: str
    level: float | None
    max_level: str
    unit: str
    form: str
    basis: str
    combines: str
    caps: tuple[tuple[str, float], ...]
    with_families: tuple[str, ...]
    without_families: tuple[str, ...]
    counts: tuple[str, ...]
    absent_up_to: float | None
    start: date | None
    end: date | None
    condition: str
    source: str
    provenance: str
    note: str

    @property
    def to_verify(self) -> bool:
        """Whether the figure rests on memory or was carried over to Great Britain."""
        return rests_on_memory(self.provenance)

    def in_force(self, on: date) -> bool:
        """Whether the row holds on a day."""
        return (self.start is None or self.start <= on) and (self.end is None or on <= self.end)

    def permits(self, of: Substance) -> bool:
        """Whether the substance is a member of the row."""
        return of.family in self.families and (
            not of.number or not self.numbers or of.number in self.numbers
        )

    def covers(self, where: Category) -> bool:
        """Whether the code of a food is one of the row's, or stands below one."""
        return not self.codes or any(is_within(where.code, c) for c in self.codes)


def _parts(cell: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in cell.split(";") if part.strip())


def _numbers(cell: str) -> frozenset[str]:
    """Return "200;202;210-213" as single numbers."""
    found: set[str] = set()
    for part in _parts(cell):
        first, dash, last = part.partition("-")
        found |= set(map(str, range(int(first), int(last) + 1))) if dash else {part}
    return frozenset(found)


def _limit(number: int, r: tables.Row) -> Limit:
    where = f"additive_limits.csv row {number}"
    printed = str(r["max_level"])
    if not (re.fullmatch(r"\d+(\.\d+)?", printed) or printed in (*AS_NEEDED, UNVERIFIED)):
        raise TableError(f"{where}, column max_level: {printed!r} is no level.")
    if r["combines"] not in COMBINES:
        raise TableError(f"{where}, column combines: {r['combines']!r} is not known.")
    if r["only_if"]:
        parsed(str(r["only_if"]), where)
    caps = (part.rsplit(" ", 1) for part in _parts(r["caps"]))
    try:
        return Limit(
            row=number,
            market=r["jurisdiction"],
            citation=r["citation"],
            additive=r["additive"],
            numbers=_numbers(r["ins_e_number"]),
            families=_parts(r["family"]),
            codes=tuple(code(c) for c in _parts(r["codes"])),
            food=r["food_category"],
            words=r["words"],
            not_words=r["not_words"],
            only_if=r["only_if"],
            level=float(printed) if printed[0].isdigit() else None,
            max_level=printed,
            unit=r["unit"],
            form=r["expressed"],
            basis=r["basis"],
            combines=r["combines"],
            caps=tuple((family, float(value)) for family, value in caps),
            with_families=_parts(r["with_families"]),
            without_families=_parts(r["without_families"]),
            counts=_parts(r["counts"]),
            absent_up_to=float(r["absent_up_to"]) if r["absent_up_to"] else None,
            start=date.fromisoformat(r["from_date"]) if r["from_date"] else None,
            end=date.fromisoformat(r["to_date"]) if r["to_date"] else None,
            condition=r["condition"],
            source=r["source"],
            provenance=r["provenance"],
            note=r["note"],
        )
    except ValueError as problem:
        raise TableError(f"{where}: {problem}.") from None


@cache
def limits() -> tuple[Limit, ...]:
    """Return every row of the table, checked.

    Raises:
        TableError: naming the row that cannot be read.
    """
    return tuple(_limit(n, r) for n, r in enumerate(tables.rows("additive_limits"), start=2))


@cache
def of_market(market: str, on: date) -> tuple[Limit, ...]:
    """Return the rows of a market that bear on a day, those out of force included.

    Great Britain has its own rows; for what they do not speak of, the EU rows as of 2020-12-31.
    """
    own = tuple(x for x in limits() if x.market == market)
    if market != "UK-GB":
        return own
    then = min(on, GB_KEEPS)
    replaced = {(f, c) for x in own if x.in_force(on) for f in x.families for c in x.codes}
    kept = (x for x in limits() if x.market == "EU" and x.in_force(then))
    return own + tuple(
        _carried_over(x)
        for x in kept
        if not any((f, c) in replaced for f in x.families for c in x.codes)
    )


def _carried_over(eu: Limit) -> Limit:
    return replace(
        eu,
        market="UK-GB",
        citation=f"{eu.citation}, as assimilated in Great Britain",
        provenance=f"{eu.provenance}; carry-over to Great Britain from memory",
        start=None,
        end=None,
    )


def find_limits(
    additive: str | None = None,
    category: str | None = None,
    market: str | None = None,
    on: date | None = None,
) -> tuple[Limit, ...]:
    """Return the limits that fit what is asked, in the order of the table.

    Args:
        additive: name, number or family, such as sorbate, E 202, sulphites.
        category: code or words of a food, such as 04.2.5.2 or dried apricots.
        market: such as US or EU; every market by default.
        on: the day the rows must be in force; today by default.

    Raises:
        InputError: an unknown additive, food or market, with near names.
    """
    day = on or date.today()
    found = [x for x in limits() if x.in_force(day)]
    if market is not None:
        found = [x for x in of_market(market_named(market), day) if x.in_force(day)]
    if additive is not None:
        found = [x for x in found if _speaks_of(x, additive)]
    if category is not None:
        found = _about(found, category)
    return tuple(found)


def _speaks_of(limit: Limit, additive: str) -> bool:
    named = words(additive)
    families = [f for f in _families() if words(f) == named]
    if families:
        return families[0] in limit.families
    return limit.permits(substance(additive))


@cache
def _families() -> tuple[str, ...]:
    return tuple(dict.fromkeys(s.family for s in substances()))


def _about(found: list[Limit], text: str) -> list[Limit]:
    asked = category(text)
    hits = [
        x
        for x in found
        if (
            not asked.code
            or any(is_within(asked.code, c) or is_within(c, asked.code) for c in x.codes)
        )
        and set(asked.words) <= set(words(f"{x.food} {x.words}"))
    ]
    if found and not hits:
        known = dict.fromkeys(w for x in found for w in words(x.food))
        foods = dict.fromkeys(x.food for x in found)
        raise InputError(
            f"no limit speaks of {text!r}.{tables.near(text, known) or tables.near(text, foods)}"
        )
    return hits
