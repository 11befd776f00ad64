"""Additives of a food against the limits of a market: one judgement from many rows.

Where a fact or the exact food is not given, every possibility is judged; the answer stands only
if all of them agree.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from stillroom.assess.law.case import Case, case_of, met
from stillroom.assess.law.limits import Limit, find_limits
from stillroom.assess.law.selection import Rows, standing_rows
from stillroom.assess.law.variables import VARIABLES, Fact
from stillroom.assess.law.verdicts import (
    CANNOT_DECIDE,
    FAIL,
    PASS,
    Check,
    holds,
    worst,
)
from stillroom.assess.law.weighing import Amount, Gap, check, citation, ratio

__all__ = ["Amount", "Judgement", "find_limits", "fraction_sum", "judge"]

POSITIVE_LISTS = ("EU", "UK-GB", "Codex", "Canada", "AU-NZ")  # no row = not permitted
# permitted in most foods as needed, by lists that the table does not hold in full
GENERALLY_PERMITTED = ("acids", "ascorbates", "calcium chloride", "lime", "pectins", "lactates")
NO_ROW = "no row of the list as held here, in part from memory"
PRESERVATIVES = (
    "sorbates", "benzoates", "parabens", "propionates", "sulphites", "nitrites", "nisin",
    "natamycin", "dimethyl dicarbonate",
)  # fmt: skip


@dataclass(frozen=True)
class Judgement:
    """What the limits say of the additives in a food.

    Attributes:
        verdict: PASS, FAIL or CANNOT_DECIDE.
        reason: one sentence.
        checks: one for each row that was held against an amount.
        needs: what is missing.
    """

    verdict: str
    reason: str
    checks: tuple[Check, ...] = ()
    needs: tuple[str, ...] = ()

    @property
    def to_verify(self) -> bool:
        """Whether anything it rests on is from memory."""
        return any(c.to_verify for c in self.checks)


def judge(
    market: str,
    food: str,
    amounts: Iterable[Amount],
    on: date | None = None,
    facts: Mapping[str, object] | None = None,
) -> Judgement:
    """Return whether the additives of a food are within the limits of a market.

    Args:
        market: such as US or EU.
        food: category code of the market's list, and the words that pick a row.
        amounts: each with its basis and unit; one of zero is no use.
        on: day of placing on the market; today by default.
        facts: what the words do not say, such as low_sugar or sold_raw.

    Raises:
        InputError: an unknown market, additive or fact, or an impossible amount.
    """
    case = case_of(market, food, amounts, on, facts)
    if not case.used:
        return Judgement(PASS, "No limited additive is in the food.")
    if not case.where.code and any(x.codes for x in case.rows) and not case.banned({}):
        need = f"the category code of the list of {case.market}"
        return Judgement(CANNOT_DECIDE, f"Cannot be decided without {need}.", (), (need,))
    return _merged(
        {world: _checks(case, *world_of) for world, world_of in case.worlds().items()}, case
    )


def fraction_sum(
    market: str,
    food: str,
    amounts: Iterable[Amount],
    on: date | None = None,
    facts: Mapping[str, object] | None = None,
) -> Check:
    """Return the sum of the shares that preservatives take of their limits, at most 1.

    sum(c_i / L_i) <= 1; the law of Australia and New Zealand, elsewhere a careful reading.

    Args:
        market, food, amounts, on, facts: as in judge.

    Raises:
        InputError: as in judge.
    """
    case = case_of(market, food, amounts, on, facts)
    found = {_fractions(case, _active(case, *world)) for world in case.worlds().values()}
    if len(found) == 1:
        return found.pop()
    need = "which food of the category it is"
    return Check(
        "sum of fractions", CANNOT_DECIDE, f"Cannot be decided without {need}.", needs=(need,)
    )


# --- one possibility ----------------------------------------------------------------------------


def _checks(case: Case, chosen: Rows, assumed: dict[str, Fact]) -> tuple[Check, ...]:
    """Return what the rows say when they are the ones meant and the facts are as assumed."""
    active = _active(case, chosen, assumed)
    found = [_banned(x, a) for x, a in case.banned(assumed)]
    found += [c for c in (check(x, case.used) for x in active) if c]
    found += [c for c in (_permission(case, active, a) for a in case.used) if c]
    preservatives = [f for f in case.families if f in PRESERVATIVES]
    if len(preservatives) > 1 and any(x.combines == "fractions" for x in case.listed):
        found.append(_fractions(case, active))
    return tuple(dict.fromkeys(found))


def _active(case: Case, chosen: Rows, assumed: dict[str, Fact]) -> Rows:
    return tuple(x for x in chosen if met(x, case.facts | assumed))


def _banned(limit: Limit, amount: Amount) -> Check:
    return Check(
        amount.name,
        FAIL,
        f"not permitted ({limit.condition or limit.food}).",
        amount.value,
        0.0,
        unit=amount.unit,
        citation=citation(limit),
        provenance=limit.provenance,
        row=limit.row,
    )


def _permission(case: Case, active: Rows, amount: Amount) -> Check | None:
    """Return a check if no row permits the additive: not permitted, or not known here."""
    permitting = ("each", "sum", "minimum", "levels elsewhere")
    if any(x.permits(amount.substance) and x.combines in permitting for x in active):
        return None
    family = amount.substance.family
    standing, _ = standing_rows(case.lists, frozenset({family}), case.where)
    in_force = [x for x in standing if x.in_force(case.day)]
    rows = in_force or standing
    cited = rows[0].citation if rows else f"the permitted additives of {case.market}"
    if standing and not in_force:
        need = f"the rule of {case.day}: the table holds rows of other dates only"
    elif case.market not in POSITIVE_LISTS:
        need = f"a regulation or an opinion that allows {amount.name} here: the table holds none"
    elif family in GENERALLY_PERMITTED and not in_force:
        need = f"the full list of the category: {amount.name} is permitted in most foods"
    else:
        reason = "not permitted in this food: no row of the list allows it."
        return Check(amount.name, FAIL, reason, amount.value, 0.0, "<=", amount.unit, cited, NO_ROW)
    reason = f"cannot be decided without {need}."
    return Check(
        amount.name, CANNOT_DECIDE, reason, citation=cited, provenance=NO_ROW, needs=(need,)
    )


def _fractions(case: Case, active: Rows) -> Check:
    families = [f for f in case.families if f in PRESERVATIVES]
    law = next((x for x in case.listed if x.combines == "fractions"), None)
    cited = law.citation if law else "a careful reading, not the law of this market"
    how = law.provenance if law else "common practice"
    what = "sum of fractions"
    try:
        value = sum(ratio(active, case.used, f) for f in families)
    except Gap as gap:
        reason = f"cannot be decided without {gap}."
        return Check(what, CANNOT_DECIDE, reason, citation=cited, provenance=how, needs=(str(gap),))
    verdict = PASS if holds(value, "<=", 1.0) else FAIL
    reason = f"{value:.4g} of the limits of {' and '.join(families)}, at most 1."
    return Check(what, verdict, reason, value, 1.0, citation=cited, provenance=how)


# --- all of them --------------------------------------------------------------------------------


def _merged(worlds: Mapping[tuple[object, ...], tuple[Check, ...]], case: Case) -> Judgement:
    """Return the judgement on which every possibility agrees, or what would settle it."""
    verdicts = {world: worst(c.verdict for c in checks) for world, checks in worlds.items()}
    checks = tuple(dict.fromkeys(c for found in worlds.values() for c in found))
    verdict = next(iter(verdicts.values()))
    if set(verdicts.values()) == {CANNOT_DECIDE}:
        needs = tuple(dict.fromkeys(n for c in checks for n in c.needs))
        reason = f"Cannot be decided without {'; '.join(needs)}."
        return Judgement(verdict, reason, checks, needs)
    if len(set(verdicts.values())) == 1:
        nearest = sorted(worlds.values(), key=_least_margin)[0 if verdict == PASS else -1]
        telling = (f"{c.subject}: {c.reason}" for c in nearest if c.verdict == verdict)
        return Judgement(verdict, " ".join(telling), nearest)
    needs = tuple(_settling(verdicts, case))
    reason = f"Cannot be decided without knowing: {'; '.join(needs)}."
    return Judgement(CANNOT_DECIDE, reason, checks, needs)


def _least_margin(checks: Iterable[Check]) -> float:
    return min((c.margin for c in checks if c.margin is not None), default=math.inf)


def _settling(verdicts: Mapping[tuple[object, ...], str], case: Case) -> Iterable[str]:
    """Yield what makes a difference: the food that is meant, and each unknown fact."""
    names = next(iter(case.worlds().values()))[1]
    for place, name in enumerate(["food", *names]):
        rest: dict[tuple[object, ...], set[str]] = {}
        for world, verdict in verdicts.items():
            rest.setdefault((*world[:place], *world[place + 1 :]), set()).add(verdict)
        if any(len(found) > 1 for found in rest.values()):
            yield f"{name} ({VARIABLES[name].words})" if place else _which(case)


def _which(case: Case) -> str:
    foods = dict.fromkeys(x.food for rows in case.choices() for x in rows)
    return f"which food it is of: {' / '.join(foods)}"
