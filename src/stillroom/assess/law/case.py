"""What is to be judged: a food, its additives, the rows that speak of them, what is not known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import product

from stillroom.assess.law.categories import Category, category
from stillroom.assess.law.conditions import evaluate, names_in
from stillroom.assess.law.limits import NO_LIMIT, Limit, of_market
from stillroom.assess.law.selection import Rows, alternatives
from stillroom.assess.law.variables import Fact, checked
from stillroom.assess.law.verdicts import holds, market_named
from stillroom.assess.law.weighing import Amount, Gap, total


@dataclass(frozen=True)
class Case:
    """A food, the additives used in it, and the rows of its market that speak of them."""

    market: str
    where: Category
    used: tuple[Amount, ...]
    day: date
    facts: dict[str, Fact]
    listed: Rows  # of the market, at any date
    rows: Rows  # those of the families used

    @property
    def families(self) -> tuple[str, ...]:
        """The families of the additives used."""
        return tuple(dict.fromkeys(a.substance.family for a in self.used))

    @property
    def lists(self) -> Rows:
        """The rows that may permit or limit."""
        return tuple(x for x in self.rows if x.combines not in ("prohibited", *NO_LIMIT))

    def banned(self, facts: dict[str, Fact]) -> list[tuple[Limit, Amount]]:
        """Every prohibition that holds, with the additive it meets."""
        return [
            (x, a)
            for x in self.rows
            if x.combines == "prohibited" and x.in_force(self.day) and x.covers(self.where)
            and (not x.words or self.where.names(x.words)) and met(x, self.facts | facts)
            for a in self.used
            if x.permits(a.substance)
        ]  # fmt: skip

    def choices(self) -> list[Rows]:
        """The sets of rows that may be meant, those of required companions among them."""
        required = [x for x in self.lists if x.combines == "minimum"]
        families = dict.fromkeys([*self.families, *(f for x in required for f in x.families)])
        return alternatives(self.lists, families, self.where, self.day)

    def worlds(self) -> dict[tuple[object, ...], tuple[Rows, dict[str, Fact]]]:
        """Every possibility: the rows that may be meant, the unknown facts either way."""
        chosen = self.choices()
        conditions = [x.only_if for x in self.rows if x.only_if and x.combines == "prohibited"]
        conditions += [x.only_if for rows in chosen for x in rows if x.only_if]
        names = dict.fromkeys(n for c in conditions for n in names_in(c) if n not in self.facts)
        return {
            (n, *values): (rows, dict(zip(names, values, strict=True)))
            for n, rows in enumerate(chosen)
            for values in product((False, True), repeat=len(names))
        }


def case_of(
    market: str,
    food: str,
    amounts: Iterable[Amount],
    on: date | None,
    facts: Mapping[str, object] | None,
) -> Case:
    """Return the case; see additives.judge for the arguments."""
    where, day, market = category(food), on or date.today(), market_named(market)
    listed = of_market(market, day)
    used = _present([a for a in amounts if a.value is None or a.value > 0], listed)
    families = {a.substance.family for a in used}
    rows = tuple(x for x in listed if families & {*x.families, *x.with_families})
    known = {**where.facts, **checked(facts or {})}
    return Case(market, where, used, day, known, listed, rows)


def _present(amounts: Sequence[Amount], listed: Rows) -> tuple[Amount, ...]:
    """Return the amounts less those that by the law of the list count as not present."""
    absent: list[Amount] = []
    for x in {x.families: x for x in listed if x.absent_up_to is not None}.values():
        own = [a for a in amounts if a.substance.family in x.families]
        units = {a.unit for a in own}  # the figure holds per kilogram and per litre
        try:
            found = [total(own, replace(x, unit=unit), x.families) for unit in units]
        except Gap:
            continue
        if all(holds(v, "<=", x.absent_up_to or 0) for v in found):
            absent += [a for a in own if x.permits(a.substance)]
    return tuple(a for a in amounts if a not in absent)


def met(limit: Limit, facts: Mapping[str, Fact]) -> bool:
    """Return whether the condition of a row is known to hold."""
    return not limit.only_if or evaluate(limit.only_if, facts) is True
