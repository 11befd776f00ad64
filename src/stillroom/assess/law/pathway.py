"""Which part of the law a product falls under: groups of rules, first match wins."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

from stillroom import tables
from stillroom.assess.law.conditions import Unknown, evaluate, names_in, parsed
from stillroom.assess.law.variables import VARIABLES, Fact, checked
from stillroom.assess.law.verdicts import CANNOT_DECIDE, NO_RULE, Ruling, market_named
from stillroom.errors import InputError


@dataclass(frozen=True)
class Duties:
    """Every duty that applies, and those that cannot be decided."""

    apply: tuple[Ruling, ...]
    undecided: tuple[Ruling, ...]

    @property
    def needs(self) -> tuple[str, ...]:
        """The facts that would decide the rest."""
        return tuple(dict.fromkeys(n for r in self.undecided for n in r.needs))


@cache
def groups() -> Mapping[str, tuple[tables.Row, ...]]:
    """Return rule group -> its rows in order; every condition is checked here.

    Raises:
        TableError: naming the rule whose condition cannot be read.
    """
    found: dict[str, list[tables.Row]] = {}
    for row in tables.rows("pathway_rules"):
        parsed(str(row["condition"]), f"pathway_rules.csv rule {row['rule_id']}")
        found.setdefault(str(row["rule_group"]), []).append(row)
    return {group: tuple(rows) for group, rows in found.items()}


def group_for(subject: str, market: str) -> str | None:
    """Return the group of a market that rules on *subject*, None if the tables hold none.

    Args:
        subject: pathway, duties, listeria, sulphite label, date mark, jam rules ...
        market: such as US or EU.

    Raises:
        InputError: an unknown market or subject.
    """
    market = market_named(market)
    subjects = {str(r["subject"]) for r in tables.rows("pathway_rules")}
    if subject not in subjects:
        raise InputError(f"{subject!r} is not one of {', '.join(sorted(subjects))}.")
    hits = [
        group
        for group, rows in groups().items()
        if (rows[0]["subject"], rows[0]["jurisdiction"]) == (subject, market)
    ]
    return hits[0] if hits else None


def needed_facts(group: str) -> tuple[str, ...]:
    """Return every fact the rules of a group speak of."""
    names = (n for row in _rows(group) for n in names_in(str(row["condition"])))
    return tuple(dict.fromkeys(names))


def first_match(group: str, facts: Mapping[str, object]) -> Ruling:
    """Return the ruling of the first rule that holds.

    A rule that cannot be decided before one holds makes the whole answer CANNOT_DECIDE.

    Args:
        group: rule group such as US-P.
        facts: name -> value; None or left out is unknown.

    Raises:
        InputError: an unknown group or fact, or a fact of the wrong type.
    """
    rows, known = _rows(group), checked(facts)
    open_: list[tuple[tables.Row, Unknown]] = []
    for row in rows:
        truth = _holds(row, known)
        if isinstance(truth, Unknown):
            open_.append((row, truth))
        elif truth:
            return _undecided(open_, row) if open_ else ruling_of(row)
    if open_:
        return _undecided(open_)
    return Ruling(NO_RULE, f"No rule of {group} applies.", str(rows[0]["citation"]))


def duties(group: str, facts: Mapping[str, object]) -> Duties:
    """Return every rule of a group that holds, and those that cannot be decided.

    Args:
        group: rule group such as US-D.
        facts: name -> value; None or left out is unknown.

    Raises:
        InputError: an unknown group or fact, or a fact of the wrong type.
    """
    known = checked(facts)
    apply, undecided = [], []
    for row in _rows(group):
        truth = _holds(row, known)
        if isinstance(truth, Unknown):
            undecided.append(_undecided([(row, truth)]))
        elif truth:
            apply.append(ruling_of(row))
    return Duties(tuple(apply), tuple(undecided))


def listeria(market: str, facts: Mapping[str, object]) -> Ruling:
    """Return the Listeria criterion of a market; Great Britain keeps the EU criteria of 2020.

    Raises:
        InputError: a market without Listeria rules, an unknown fact.
    """
    group = group_for("listeria", market)
    if group is None:
        raise InputError(f"the tables hold no Listeria criteria of {market_named(market)}.")
    ruling = first_match(group, facts)
    if ruling.outcome != "AS_EU_RULES_WITHOUT_2024_2895":
        return ruling
    as_eu = first_match("EU-L", {**facts, "date": "2020-12-31"})
    return replace(
        as_eu,
        citation=f"{ruling.citation}; {as_eu.citation}",
        provenance=f"{ruling.provenance}; {as_eu.provenance}",
    )


def listeria_growth_supporting(facts: Mapping[str, object]) -> str:
    """Return yes, no or CANNOT_DECIDE: whether a ready-to-eat food supports Listeria, EU limits.

    Args:
        facts: pH, water_activity, shelf_life_days.
    """
    plain = {"ready_to_eat": True, "infant_or_medical": False, "date": "2020-12-31"}
    ruling = first_match("EU-L", {**facts, **plain, "shown_below_100_over_shelf_life": False})
    if ruling.outcome == CANNOT_DECIDE:
        return CANNOT_DECIDE
    return "no" if ruling.outcome == "EU_LM_1_3_100_CFU_G" else "yes"


def ruling_of(row: tables.Row) -> Ruling:
    """Return what a row of the rule table says."""
    return Ruling(
        outcome=str(row["outcome"]),
        words=str(row["words"]),
        citation=str(row["citation"]),
        provenance=str(row["provenance"]),
        rule_id=str(row["rule_id"]),
    )


def _rows(group: str) -> tuple[tables.Row, ...]:
    try:
        return groups()[group]
    except KeyError:
        raise InputError(f"{group!r} is no rule group; known: {', '.join(groups())}.") from None


def _holds(row: tables.Row, facts: Mapping[str, Fact]) -> bool | Unknown:
    return evaluate(str(row["condition"]), facts, f"pathway_rules.csv rule {row['rule_id']}")


def _undecided(open_: list[tuple[tables.Row, Unknown]], then: tables.Row | None = None) -> Ruling:
    """Return CANNOT_DECIDE with what is needed and what is still possible."""
    needs = tuple(dict.fromkeys(n for _, truth in open_ for n in truth.needs))
    rows = [row for row, _ in open_]
    last = str(then["outcome"]) if then else NO_RULE
    wanted = "; ".join(f"{n} ({VARIABLES[n].words})" for n in needs)
    return replace(
        ruling_of(rows[0]),
        outcome=CANNOT_DECIDE,
        words=f"Cannot be decided without knowing: {wanted}.",
        needs=needs,
        possible=tuple(dict.fromkeys([*(str(r["outcome"]) for r in rows), last])),
    )
