"""The shape of a judgement: estimates, findings, and the assessment that holds them."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from stillroom.assess.ferment.judgement import Fermented
    from stillroom.assess.heat.judgement import Heating
    from stillroom.product.process import Batch
    from stillroom.product.recipe import Recipe
    from stillroom.working import Working

FORMAT = 1
Verdict = Literal["pass", "fail", "cannot tell"]
Area = Literal["hazard", "spoilage", "law", "quality", "process", "reading"]


class Outcome(StrEnum):
    """How the product keeps, in trade words."""

    SEALED = "keeps sealed at room temperature"
    COLD = "keeps in the cold only"
    NOT = "does not keep"
    UNKNOWN = "cannot be judged from what is given"


@dataclass(frozen=True)
class Estimate:
    """A property with its interval (95 %) and what the interval is made of."""

    value: float
    low: float
    high: float
    unit: str = ""
    model_error: float = 0.0
    kind: str = "calculated"  # or measured
    note: str = ""


@dataclass(frozen=True)
class Finding:
    """One thing that was checked.

    Attributes:
        subject: what was looked at.
        area: hazard, spoilage, law, quality, process or reading.
        verdict: pass, fail or cannot tell. Missing data is never a pass.
        reason: one sentence.
        value: what the product has.
        limit: what it is held against.
        margin: how far it is on the right side, in the unit of the value.
        uncertainty: half width of the value's interval.
        unit: of all four.
        remedy: what would change the verdict.
        citation: instrument or paper.
        provenance: how the limit was obtained.
        market: whose law, for findings of law.
        decides: whether the outcome may hang on it.
    """

    subject: str
    area: Area
    verdict: Verdict
    reason: str
    value: float | None = None
    limit: float | None = None
    margin: float | None = None
    uncertainty: float | None = None
    unit: str = ""
    remedy: str = ""
    citation: str = ""
    provenance: str = ""
    market: str = ""
    decides: bool = False
    hurdles: tuple[str, ...] = ()


@dataclass(frozen=True)
class Assessment:
    """The judgement of a product."""

    recipe: Recipe
    batch: Batch
    outcome: Outcome
    reason: str
    as_declared: bool | None  # None: cannot be judged
    deciding: Finding | None
    single_point: str
    measure: tuple[str, ...]
    remedies: tuple[str, ...]
    cautions: tuple[str, ...]
    properties: dict[str, Estimate]
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]
    working: Working
    teaching: dict[str, float] = field(default_factory=dict)
    heating: Heating | None = None
    ferments: tuple[Fermented, ...] = ()

    @property
    def exit_status(self) -> int:
        """0 keeps as declared, 1 does not, 3 cannot be judged."""
        return {True: 0, False: 1, None: 3}[self.as_declared]

    def of(self, area: Area) -> list[Finding]:
        """Return the findings of an area."""
        return [f for f in self.findings if f.area == area]

    def to_dict(self) -> dict[str, Any]:
        """Return the judgement as plain values, full precision, for JSON."""
        from stillroom.assess.plain import to_dict

        return to_dict(self)
