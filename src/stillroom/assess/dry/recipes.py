"""The dryings of a recipe, judged."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.assess.dry.judgement import Dried, dryings, findings
from stillroom.assess.pipeline import make
from stillroom.assess.result import Estimate, Finding
from stillroom.errors import InputError
from stillroom.product.recipe import Recipe


@dataclass(frozen=True)
class DryJudgement:
    """The dryings of a recipe and what they are held against.

    Attributes:
        recipe: of the product.
        dryings: followed, in order.
        water_activity: of the product, with its interval.
        findings: what they are held against.
        notes: what was assumed.
    """

    recipe: Recipe
    dryings: tuple[Dried, ...]
    water_activity: Estimate
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]

    @property
    def exit_status(self) -> int:
        """0 held, 1 not, 3 cannot tell."""
        verdicts = {f.verdict for f in self.findings}
        return 1 if "fail" in verdicts else 3 if "cannot tell" in verdicts else 0


def dry(recipe: Recipe) -> DryJudgement:
    """Judge the dryings of a recipe.

    Args:
        recipe: with a dry step.

    Raises:
        InputError: a step that cannot be done, or no drying at all.
    """
    one = make(recipe)
    found = tuple(dryings(one.central, one.batch, one.spread))
    if not found:
        raise InputError(
            "nothing is dried: add a step such as dry = { until_water_activity = 0.6, "
            'temperature = "58 degC", piece = { shape = "slab", thickness = "6 mm" } }.'
        )
    return DryJudgement(
        recipe,
        found,
        one.estimates["water_activity"],
        tuple(findings(found, recipe.kind)),
        tuple(f"step {s.number}: {w}" for s in one.central.of("dry") for w in s.assumed),
    )
