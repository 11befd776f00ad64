"""The ferments of a recipe, judged."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.assess.cure import degree_hours, is_sausage
from stillroom.assess.ferment.beside import Way, ways
from stillroom.assess.ferment.findings import findings
from stillroom.assess.ferment.judgement import Fermented, ferments
from stillroom.assess.pipeline import make
from stillroom.assess.result import Finding
from stillroom.errors import InputError
from stillroom.product.recipe import Recipe


@dataclass(frozen=True)
class FermentJudgement:
    """The ferments of a recipe, what they are held against, and the other way to sour it.

    Attributes:
        recipe: of the product.
        ferments: followed, in order.
        findings: what they are held against.
        ways: the ferment and its like with vinegar; none where nothing is soured.
        notes: what was assumed or corrected.
    """

    recipe: Recipe
    ferments: tuple[Fermented, ...]
    findings: tuple[Finding, ...]
    ways: tuple[Way, ...]
    notes: tuple[str, ...]

    @property
    def exit_status(self) -> int:
        """0 held, 1 not, 3 cannot tell."""
        verdicts = {f.verdict for f in self.findings if f.decides or f.area == "quality"}
        return 1 if "fail" in verdicts else 3 if "cannot tell" in verdicts else 0


def ferment(recipe: Recipe) -> FermentJudgement:
    """Judge the ferments of a recipe.

    Args:
        recipe: with a ferment step.

    Raises:
        InputError: a step that cannot be done, or no ferment at all.
    """
    central = make(recipe).central
    found = tuple(ferments(central))
    if not found:
        raise InputError(
            'nothing ferments: add a step such as ferment = { temperature = "18 degC", for = "5 '
            'weeks" }.'
        )
    sausage = is_sausage(recipe)
    lactic = [f for f in found if f.plan.kind == "lactic"]
    return FermentJudgement(
        recipe,
        found,
        (*findings(found, sausage), *(degree_hours(central, recipe.market) if sausage else ())),
        ways(lactic[0], lactic[-1]) if lactic and not sausage else (),
        tuple(f"step {s.number}: {w}" for s in central.of("ferment") for w in s.assumed),
    )
