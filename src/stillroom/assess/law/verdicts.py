"""The shape of a legal answer: pass, fail or cannot decide, with the row it rests on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from stillroom import tables
from stillroom.errors import InputError

PASS, FAIL, CANNOT_DECIDE = "PASS", "FAIL", "CANNOT_DECIDE"
NO_RULE = "NO_RULE_APPLIES"
GUARD = 1e-9  # 0.85 typed as a decimal equals the limit; otherwise values are compared unrounded

MARKETS = ("US", "EU", "UK-GB", "Codex", "Canada", "AU-NZ")
ALSO = {
    "USA": "US", "UNITED STATES": "US", "GB": "UK-GB", "UK": "UK-GB", "GREAT BRITAIN": "UK-GB",
    "NI": "EU", "NORTHERN IRELAND": "EU", "CA": "Canada", "ANZ": "AU-NZ", "AU": "AU-NZ",
    "NZ": "AU-NZ", "AUSTRALIA": "AU-NZ", "NEW ZEALAND": "AU-NZ",
}  # fmt: skip


@dataclass(frozen=True)
class Ruling:
    """What a rule of the table says.

    Attributes:
        outcome: the code of the table, CANNOT_DECIDE or NO_RULE_APPLIES.
        words: the same as a sentence.
        citation: the instrument.
        provenance: how the rule was obtained.
        rule_id: of the row that decided.
        needs: the facts without which nothing can be said.
        possible: the outcomes still open when it cannot be decided.
    """

    outcome: str
    words: str
    citation: str = ""
    provenance: str = ""
    rule_id: str = ""
    needs: tuple[str, ...] = ()
    possible: tuple[str, ...] = ()

    @property
    def to_verify(self) -> bool:
        """Whether the rule, or part of it, rests on memory."""
        return rests_on_memory(self.provenance)


@dataclass(frozen=True)
class Check:
    """One amount or property held against one limit.

    Attributes:
        subject: what was held against the limit.
        verdict: PASS, FAIL or CANNOT_DECIDE.
        reason: one sentence.
        value: what the product has, in the unit and form of the limit.
        limit: the limit.
        operator: how they are compared.
        unit: of value, limit and margin.
        citation: the instrument and its food category.
        provenance: how the limit was obtained.
        needs: what is missing.
        row: number of the row in its table, None where no row speaks.
    """

    subject: str
    verdict: str
    reason: str
    value: float | None = None
    limit: float | None = None
    operator: str = "<="
    unit: str = ""
    citation: str = ""
    provenance: str = ""
    needs: tuple[str, ...] = ()
    row: int | None = None

    @property
    def margin(self) -> float | None:
        """How far the value is on the right side of the limit, in its unit."""
        if self.value is None or self.limit is None:
            return None
        return self.limit - self.value if self.operator.startswith("<") else self.value - self.limit

    @property
    def to_verify(self) -> bool:
        """Whether the limit, or part of it, rests on memory."""
        return rests_on_memory(self.provenance)


def rests_on_memory(provenance: str) -> bool:
    """Return whether a row must be shown as "to verify"."""
    return "memory" in provenance


def worst(verdicts: Iterable[str]) -> str:
    """Return FAIL if anything fails, else CANNOT_DECIDE if anything is open, else PASS."""
    found = set(verdicts)
    return next((v for v in (FAIL, CANNOT_DECIDE) if v in found), PASS)


def holds(value: float, operator: str, limit: float) -> bool:
    """Return whether *value* meets *limit*, by the absolute method."""
    match operator:
        case "<=":
            return value <= limit + GUARD
        case "<":
            return value < limit - GUARD
        case ">=":
            return value >= limit - GUARD
        case ">":
            return value > limit + GUARD
    raise ValueError(f"operator {operator!r} is not one of <=, <, >=, >.")


def market_named(market: str) -> str:
    """Return the market as the tables spell it.

    Raises:
        InputError: naming the known markets.
    """
    spelt = {m.upper(): m for m in MARKETS} | ALSO
    try:
        return spelt[market.strip().upper()]
    except KeyError:
        raise InputError(
            f"market {market!r} is not one of {', '.join(MARKETS)}.{tables.near(market, MARKETS)}"
        ) from None
