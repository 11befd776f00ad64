"""Batches that differ: what scatters in a recipe, drawn evenly and the same for every seed."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import ndtri
from scipy.stats import qmc

from stillroom import tables
from stillroom.assess.spread import uncertain
from stillroom.labels import Array
from stillroom.plan.stack import Lever, levers_of, with_values
from stillroom.product.foods import CENTRAL
from stillroom.product.mixture import Mixture
from stillroom.product.recipe import Recipe

TWO_SD = 2.0  # standard deviations in half a 95 % interval
MODEL = ("water_activity", "ph")  # predictions whose own error is drawn too
OPEN_UNIT = 1e-12  # so that no draw is endless


@dataclass(frozen=True)
class Source:
    """One thing that scatters.

    Attributes:
        words: what it is.
        kind: "food", "kitchen" or "model".
        food: its name, for a food.
        what: argument of the food's mixture, or the property of a model.
        lever: of the recipe, for the kitchen.
        centre: as the recipe stands.
        below: standard deviation on the lower side.
        above: standard deviation on the upper side.
        origin: where the deviations come from.
    """

    words: str
    kind: str
    centre: float
    below: float
    above: float
    origin: str
    food: str = ""
    what: str = ""
    lever: Lever | None = None

    def at(self, deviations: Array) -> Array:
        """Return values at so many standard deviations from the centre."""
        return self.centre + deviations * np.where(deviations < 0, self.below, self.above)


def sources_of(recipe: Recipe) -> list[Source]:
    """Return what scatters in a recipe: its foods, the kitchen's hands, the models' own errors.

    Args:
        recipe: whose foods may declare their scatter.
    """
    return [*_foods(recipe), *_kitchen(recipe), *_models()]


def _foods(recipe: Recipe) -> list[Source]:
    masses: dict[str, float] = {}
    for _, name, amount in recipe.parts():
        masses[name] = masses.get(name, 0.0) + recipe.kg(name, amount)
    total = sum(masses.values())
    found = []
    for name, kg in masses.items():
        food = recipe.food(name)
        for what, low, high in uncertain(food, kg / total):
            centre = CENTRAL[what](food)
            found.append(
                Source(
                    f"{name}: {WORDS[what]}", "food", centre, (centre - low) / TWO_SD,
                    (high - centre) / TWO_SD, "the food's table row, or the recipe's own scatter",
                    food=name, what=what,
                )
            )  # fmt: skip
    return found


WORDS = {
    "ph": "pH",
    "acid_factor": "acid",
    "buffer": "buffer",
    "solids_shift_percent": "soluble solids",
}


def _kitchen(recipe: Recipe) -> list[Source]:
    rows = {(str(r["verb"]), str(r["key"])): r for r in tables.rows("scatter")}
    found = []
    for lever in levers_of(recipe):
        row = rows.get((lever.verb, "food" if lever.is_food else lever.key))
        if row is None or lever.value == 0:
            continue
        sd = float(row["sd"]) * (lever.value if row["relative"] == "yes" else 1.0)
        found.append(
            Source(lever.words, "kitchen", lever.value, sd, sd,
                   f"{row['what']}: {row['source']}", lever=lever)
        )  # fmt: skip
    return found


def _models() -> list[Source]:
    return [
        Source(f"prediction of the {name.replace('_', ' ')}", "model", 0.0, 1.0, 1.0,
               "half the model's 95 % band", what=name)
        for name in MODEL
    ]  # fmt: skip


@dataclass(frozen=True)
class Sampler:
    """Draws batches of a recipe; batch number n is the same however the run is cut.

    Attributes:
        recipe: to draw from.
        seed: of the scrambled Sobol sequence.
    """

    recipe: Recipe
    seed: int

    @cached_property
    def sources(self) -> list[Source]:
        """What scatters, in the order of the columns of a draw."""
        return sources_of(self.recipe)

    def draw(self, first: int, count: int) -> Array:
        """Return standard deviations from the centre, (count, sources)."""
        engine = qmc.Sobol(len(self.sources), scramble=True, rng=np.random.default_rng(self.seed))
        if first:
            engine.fast_forward(first)
        with warnings.catch_warnings():  # any number of batches may be asked for
            warnings.simplefilter("ignore", UserWarning)
            even = engine.random(count)
        return ndtri(np.clip(even, OPEN_UNIT, 1 - OPEN_UNIT))

    def variant(self, deviations: Array) -> tuple[Recipe, dict[str, Mixture], dict[str, Array]]:
        """Return the recipe and its foods at those deviations, and those of the models.

        Args:
            deviations: (batches, sources), as drawn.
        """
        values = {s: s.at(deviations[:, n]) for n, s in enumerate(self.sources)}
        kitchen = {s.lever: v for s, v in values.items() if s.lever is not None}
        foods = {
            name: self.recipe.food(name).mixture(
                **{s.what: v for s, v in values.items() if s.food == name}
            )
            for name in self.recipe.food_names()
        }
        models = {s.what: v for s, v in values.items() if s.kind == "model"}
        return with_values(self.recipe, _positive(kitchen)), foods, models


def _positive(values: Mapping[Lever, Array]) -> dict[Lever, Array]:
    """Return amounts that stay above nothing, however far they scatter."""
    return {k: np.maximum(v, 0.01 * k.value) if k.unit == "kg" else v for k, v in values.items()}
