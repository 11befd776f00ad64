"""A recipe whose quantities are arrays: many variants of it in one run.

The form of a recipe is checked when it is read; here its checked numbers are replaced, one or many
at a time, and the steps carry the new leading axis along.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from stillroom.labels import Numbers
from stillroom.product.recipe import Recipe

ALSO = ("sugar", "salt", "citric acid")  # what may be added that a recipe does not hold


@dataclass(frozen=True)
class Lever:
    """A quantity of a recipe that its maker can change.

    Attributes:
        step: of the recipe, from 1.
        verb: of the step.
        key: of the verb, or the food that is added.
        value: in the recipe, in the unit inside.
        unit: kg, °C, min, % or nothing.
    """

    step: int
    verb: str
    key: str
    value: float
    unit: str

    @property
    def is_food(self) -> bool:
        """Whether it is an amount of a food."""
        return self.verb in ("add", "steep")

    @property
    def words(self) -> str:
        """How it is called where it is shown."""
        name = self.key.rstrip("_").replace("_", " ")
        return f"step {self.step}, {self.verb}: {name}"


KEYS: Mapping[str, Mapping[str, str]] = {
    "boil": {"until_soluble_solids": "%", "until_mass": "kg", "until_temperature": "°C",
             "for_": "min"},
    "cook": {"loss": "%"},
    "dry": {"until_water_activity": "", "until_water": "%", "until_mass": "kg"},
    "ferment": {"temperature": "°C", "for_": "min"},
    "fill": {"temperature": "°C", "hold": "min"},
    "heat": {"temperature": "°C", "hold": "min"},
    "keep": {"temperature": "°C"},
}  # fmt: skip


def levers_of(recipe: Recipe) -> Iterator[Lever]:
    """Yield what the maker of a recipe can change, in the order of the work.

    Args:
        recipe: to look through. Sugar, salt and acid that it does not hold yield an amount of 0
            at its first `add`.
    """
    there = {str(recipe.food(name).row["food"]) for name in recipe.food_names()}
    for number, step in enumerate(recipe.steps, start=1):
        foods = step.add or (step.steep.liquor if step.steep else {})
        for name, amount in foods.items():
            yield Lever(number, step.verb, name, recipe.kg(name, amount), "kg")
        if step.add and all(s.add is None for s in recipe.steps[: number - 1]):
            for name in ALSO:
                if str(recipe.food(name).row["food"]) not in there:
                    yield Lever(number, "add", name, 0.0, "kg")
        for key, unit in KEYS.get(step.verb, {}).items():
            value = getattr(getattr(step, step.verb), key)
            if value is not None:
                yield Lever(number, step.verb, key, float(value), unit)


def with_values(recipe: Recipe, values: Mapping[Lever, Numbers]) -> Recipe:
    """Return a recipe with other quantities, numbers or arrays.

    Args:
        recipe: checked already.
        values: of its levers, in their units.
    """
    steps = list(recipe.steps)
    for lever, value in values.items():
        step = steps[lever.step - 1]
        if lever.verb == "add":
            change: object = {**(step.add or {}), lever.key: value}
        elif lever.verb == "steep":
            assert step.steep is not None
            liquor = {**step.steep.liquor, lever.key: value}
            change = step.steep.model_copy(update={"liquor": liquor})
        else:
            change = getattr(step, lever.verb).model_copy(update={lever.key: value})
        steps[lever.step - 1] = step.model_copy(update={lever.verb: change})
    return recipe.model_copy(update={"steps": tuple(steps)})
