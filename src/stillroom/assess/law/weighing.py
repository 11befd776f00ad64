"""Amounts held against the rows that apply: each row gives one check."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from stillroom.assess.law.categories import printed
from stillroom.assess.law.limits import AS_NEEDED, NO_LIMIT, UNVERIFIED, Limit
from stillroom.assess.law.substances import Substance, factor, substance
from stillroom.assess.law.verdicts import CANNOT_DECIDE, FAIL, PASS, Check, holds
from stillroom.errors import InputError

BASES = ("in_food", "added", "residual", "surface")
# an amount as sold is what a residual limit means; what was added never is, nor the reverse
ANSWERS = {
    "in_food": ("in_food", "residual"),
    "residual": ("in_food", "residual"),
    "added": ("added",),
    "surface": ("surface",),
}
SAID = {
    "in_food": "in the food as sold", "added": "as added", "residual": "as measured in the food",
    "surface": "on the surface",
}  # fmt: skip
FORM_WORDS = {
    "acid": " as free acid",
    "named": "",
    "NO2": " as nitrite ion",
    "NO3": " as nitrate ion",
}
MOST_CODES = 3  # of a citation


@dataclass(frozen=True)
class Amount:
    """How much of an additive: value in the unit, None if only its use is known.

    What is given on one basis counts as all there is of the family on that basis.

    Attributes:
        name: name or number of the additive.
        value: as weighed or measured, of the named substance.
        basis: in_food, added, residual or surface.
        unit: mg/kg or mg/L.
        density_g_per_cm3: of the food, which takes one unit to the other; None if unknown.
    """

    name: str
    value: float | None
    basis: str = "in_food"
    unit: str = "mg/kg"
    density_g_per_cm3: float | None = None
    substance: Substance = field(init=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "substance", substance(self.name))
        if self.basis not in BASES:
            raise InputError(f"basis {self.basis!r} is not one of {', '.join(BASES)}.")
        if self.value is not None and not (math.isfinite(self.value) and self.value >= 0):
            raise InputError(f"{self.name} must be 0 {self.unit} or more, got {self.value:g}.")

    def in_unit(self, unit: str) -> float | None:
        """Return the value per kilogram or per litre, None where that is not known."""
        if self.value is None or unit == self.unit:
            return self.value
        if self.density_g_per_cm3 is None or {unit, self.unit} != {"mg/kg", "mg/L"}:
            return None
        dense = self.density_g_per_cm3
        return self.value * dense if unit == "mg/L" else self.value / dense


class Gap(Exception):
    """What is missing for a comparison, in words."""


def total(amounts: Iterable[Amount], limit: Limit, families: Sequence[str]) -> float:
    """Return the sum of the amounts of these families in the form, unit and basis of a limit.

    Raises:
        Gap: an amount on this basis, in this unit or of this form is missing.
    """
    amounts = [a for a in amounts if a.substance.family in families]
    fitting = [a for a in amounts if a.basis in ANSWERS[limit.basis]]
    for family in dict.fromkeys(a.substance.family for a in amounts):
        if family not in {a.substance.family for a in fitting}:
            raise Gap(f"{family} {SAID[limit.basis]}")
    value = 0.0
    for a in fitting:
        share = factor(a.substance, limit.form)
        amount = a.in_unit(limit.unit)
        if amount is None:
            known = a.value is not None
            raise Gap(
                f"{a.name} in {limit.unit}"
                if known
                else f"the amount of {a.name} {SAID[limit.basis]}"
            )
        if share is None:
            raise Gap(f"{a.substance.family}{FORM_WORDS.get(limit.form, f' as {limit.form}')}")
        value += amount * share
    return value


def check(limit: Limit, amounts: Sequence[Amount]) -> Check | None:
    """Return what a row says of the amounts, None if it says nothing.

    Args:
        limit: a row whose condition is met.
        amounts: of the additives used.
    """
    present = {a.substance.family for a in amounts}
    members = [a for a in amounts if limit.permits(a.substance)]
    counted = [a for a in amounts if a.substance.family in limit.counts]
    beside = set(limit.with_families) <= present and not set(limit.without_families) & present
    if limit.combines in NO_LIMIT or not beside:
        return None
    if limit.combines == "minimum":
        return _against(limit, members, ">=") if members else _open(limit, _wanted(limit))
    if not members:
        return None
    if limit.max_level == UNVERIFIED or limit.combines == "levels elsewhere":
        return _open(limit, "the figure of the instrument, which is not verified here")
    if limit.max_level in AS_NEEDED:
        return _as_needed(limit, members)
    if limit.combines == "when measured" and not any(a.basis == "residual" for a in members):
        return None
    return _against(limit, [*members, *counted], "<=")


def ratio(limits: Sequence[Limit], amounts: Sequence[Amount], family: str) -> float:
    """Return how much of its limit a family takes up; inf if no row gives it a level.

    Raises:
        Gap: an amount is missing.
    """
    own = [a for a in amounts if a.substance.family == family]
    levels = [
        x for x in limits if x.level and all(x.permits(a.substance) for a in own)
        and x.combines in ("each", "sum")
    ]  # fmt: skip
    return max((total(own, x, (family,)) / x.level for x in levels if x.level), default=math.inf)


def _against(limit: Limit, amounts: Sequence[Amount], operator: str) -> Check:
    families = (*limit.families, *limit.counts)
    assert limit.level is not None
    try:
        value = total(amounts, limit, families)
        caps = [(f, cap, total(amounts, limit, (f,))) for f, cap in limit.caps]
    except Gap as gap:
        return _open(limit, str(gap))
    over = [
        (f"{f} within the sum", cap, part) for f, cap, part in caps if not holds(part, "<=", cap)
    ]
    passed = holds(value, operator, limit.level)
    subject, level, shown = over[0] if passed and over else (limit.additive, limit.level, value)
    word = "at most" if operator == "<=" else "at least"
    form = FORM_WORDS.get(limit.form, f" as {limit.form}")
    return Check(
        subject=subject,
        verdict=PASS if passed and not over else FAIL,
        reason=f"{shown:.5g} {limit.unit}{form}, {word} {level:g} {SAID[limit.basis]}; "
        f"{_where(limit)}.",
        value=shown,
        limit=level,
        operator=operator,
        unit=limit.unit,
        citation=citation(limit),
        provenance=limit.provenance,
        row=limit.row,
    )


def _as_needed(limit: Limit, members: Sequence[Amount]) -> Check:
    if limit.basis == "surface" and any(a.basis != "surface" for a in members):
        return _open(limit, "whether it is used on the surface only")
    return Check(
        limit.additive,
        PASS,
        f"no figure, as much as is needed ({limit.max_level}); {_where(limit)}.",
        citation=citation(limit),
        provenance=limit.provenance,
        row=limit.row,
    )


def _open(limit: Limit, need: str) -> Check:
    return Check(
        limit.additive,
        CANNOT_DECIDE,
        f"cannot be decided without {need}; {_where(limit)}.",
        limit=limit.level,
        unit=limit.unit,
        citation=citation(limit),
        provenance=limit.provenance,
        row=limit.row,
        needs=(need,),
    )


def _wanted(limit: Limit) -> str:
    return f"the amount of {limit.additive}, at least {limit.level:g} {limit.unit} being required"


def _where(limit: Limit) -> str:
    return f"{limit.food[:1].lower()}{limit.food[1:]}"


def citation(limit: Limit) -> str:
    """Return the instrument with the first category codes of the row."""
    codes = [printed(c, limit.market) for c in limit.codes[:MOST_CODES]]
    more = " ..." if len(limit.codes) > MOST_CODES else ""
    return f"{limit.citation}, category {', '.join(codes)}{more}" if codes else limit.citation
