"""What is not known exactly about the foods, carried through the whole recipe in one run.

The foods get a sample axis: the central recipe first, then a pair of samples for each thing that
may be lower or higher. The spread of a result is the root of the sum of the squared steps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from stillroom.assess.result import Estimate
from stillroom.labels import Array
from stillroom.product import properties
from stillroom.product.foods import CENTRAL, Food
from stillroom.product.mixture import Mixture
from stillroom.product.recipe import Recipe

LEAST_SHARE = 0.005  # of the batch; the pH of less than that does not matter
ACID_SPREAD = 0.2  # titratable acidity of a food, common practice
DECLARED_ACID_SPREAD = 0.02  # strength of a vinegar or a pure acid
DECLARED_GROUPS = ("vinegar", "salt, acid and preservative", "salt and leavening")


@dataclass(frozen=True)
class Influence:
    """One thing of a food that may be lower or higher, and the two samples in which it is.

    Attributes:
        food: name in the recipe.
        what: argument of `Food.mixture`.
        low: lowest value that is likely.
        high: highest value that is likely.
        sample: number of the sample with the low value; the high one follows.
    """

    food: str
    what: str
    low: float
    high: float
    sample: int


@dataclass(frozen=True)
class Spread:
    """The foods of a recipe with a sample axis."""

    foods: Mapping[str, Mixture]
    influences: tuple[Influence, ...]


def spread_of(recipe: Recipe) -> Spread:
    """Return the foods of a recipe with everything uncertain lower and higher once."""
    masses: dict[str, float] = {}
    for _, name, amount in recipe.parts():
        masses[name] = masses.get(name, 0.0) + recipe.kg(name, amount)
    total = sum(masses.values())
    influences: list[Influence] = []
    for name, kg in masses.items():
        for what, low, high in uncertain(recipe.food(name), kg / total):
            influences.append(Influence(name, what, low, high, 1 + 2 * len(influences)))
    size = 1 + 2 * len(influences)
    foods = {
        name: _samples(recipe.food(name), [i for i in influences if i.food == name], size)
        for name in masses
    }
    return Spread(foods, tuple(influences))


def _samples(food: Food, influences: list[Influence], size: int) -> Mixture:
    arguments: dict[str, Array] = {}
    for i in influences:
        array = arguments.setdefault(i.what, np.full(size, CENTRAL[i.what](food)))
        array[i.sample : i.sample + 2] = i.low, i.high
    return food.mixture(**arguments)


def uncertain(food: Food, share: float) -> list[tuple[str, float, float]]:
    """Return (argument of its mixture, low, high) of what is uncertain in a food.

    Args:
        food: of the recipe.
        share: of the batch.
    """
    if share < LEAST_SHARE:
        return []
    items = []
    if food.ph is not None and food.ph.low < food.ph.high:
        items.append(("ph", food.ph.low, food.ph.high))
    acids = _acid_spread(food)
    if acids:
        items.append(("acid_factor", 1 - acids, 1 + acids))
    if food.buffer.high > food.buffer.low:
        items.append(("buffer", food.buffer.low, food.buffer.high))
    if food.soluble_solids or _is_juicy(food):
        brix = float(properties.brix(food.mixture()))
        step = min(2 * food.spread_percent, 0.3 * brix)  # two standard deviations
        items.append(("solids_shift_percent", -step, step))
    return items


def _is_juicy(food: Food) -> bool:
    """Return whether the sugars of the food vary from lot to lot, unlike those of a sugar."""
    return (food.row["sugars_total_g"] or 0) > 1 and (food.row["water_g_100g"] or 0) > 30


def _acid_spread(food: Food) -> float:
    if food.acidity:
        measured = food.acidity[0]
        return (measured.high - measured.value) / measured.value
    if food.group in DECLARED_GROUPS:
        return DECLARED_ACID_SPREAD
    acids = sum(
        food.row[f"{a}_g"] or 0 for a in ("citric", "malic", "tartaric", "lactic", "acetic")
    )
    return ACID_SPREAD if acids > 0.05 else 0.0


def estimate(
    samples: Array,
    influences: tuple[Influence, ...],
    model_error: float = 0.0,
    unit: str = "",
    note: str = "",
) -> Estimate:
    """Return a property with its interval.

    Args:
        samples: value of the property in every sample, the central one first.
        influences: the pairs of samples.
        model_error: of the property, 95 %, one way.
        unit: of the property.
        note: a remark on the number.
    """
    values = np.broadcast_to(np.asarray(samples, float), (1 + 2 * len(influences),))
    centre = float(values[0])
    pairs = [values[i.sample : i.sample + 2] - centre for i in influences]
    down = np.sqrt(sum((min(*pair, 0.0) ** 2 for pair in pairs), model_error**2))
    up = np.sqrt(sum((max(*pair, 0.0) ** 2 for pair in pairs), model_error**2))
    return Estimate(centre, centre - float(down), centre + float(up), unit, model_error, note=note)
