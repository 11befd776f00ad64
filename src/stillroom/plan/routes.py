"""The ways to one water activity: take water out, add salt or sugar, or both, dried or boiled."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import drying as drying_physics
from stillroom.physics import heat
from stillroom.physics.phase import pressure_at_altitude_kPa
from stillroom.product import drying, properties, steps
from stillroom.product.drying import FAST, MIDDLE, SLOW, Drying
from stillroom.product.mixture import Mixture, of_kind
from stillroom.product.process import BOIL_C
from stillroom.product.recipe import HOB_EFFICIENCY, Boil, Dry, Recipe
from stillroom.product.sorption import Sorption, sorption_of

SALT_PERCENT = (2.0, 4.0, 8.0)  # of the food: seasoned, salty, a salted food
SUGAR_PERCENT = (10.0, 25.0, 50.0)
CURVE_POINTS = 41
PURE = 0.9  # of a food that is an ingredient of salt or sugar, not the food itself
DRIEST, WETTEST = 0.1, 0.97  # water activities between which there is something to compare
MOST_PERCENT = 300.0  # of the food that is added
PORTION_KG = 0.030
KETTLE_KW = 3.0
SALT_CRYSTALS_BELOW = 0.75  # over saturated salt, Greenspan 1977
CRYSTALS = "below water activity 0.75 salt stands as crystals: more of it takes no water out"
CARAMEL_C = 125.0  # common practice: sugar colours and burns from there on
WARM = Dry.model_validate({
    "until_water_activity": 0.5, "temperature": "58 degC",
    "piece": {"shape": "slab", "thickness": "6 mm"},
})  # fmt: skip


@dataclass(frozen=True)
class Route:
    """One way to the water activity, for a kilogram of food.

    Attributes:
        how: "dry", "boil", or "mix" where nothing need leave.
        adds: "nothing", "salt" or "sugar".
        added_kg: of it, for a kilogram of food.
        water_removed_kg: that leaves.
        removed_between_kg: by the error of the water activity, low and high.
        share_removed: of the water of the food.
        hours: that it takes: slow, middle, fast; nan where it cannot be told.
        energy_kWh: low and high.
        product_kg: that is left, the yield.
        water_percent: of the product.
        salt_percent: of the product.
        sugar_percent: of the product.
        salt_portion_g: in a portion.
        sugar_portion_g: in a portion.
        ph: of the product.
        end_C: of a boil.
        remarks: what stands against it.
    """

    how: str
    adds: str
    added_kg: float
    water_removed_kg: float
    removed_between_kg: tuple[float, float]
    share_removed: float
    hours: tuple[float, float, float]
    energy_kWh: tuple[float, float]
    product_kg: float
    water_percent: float
    salt_percent: float
    sugar_percent: float
    salt_portion_g: float
    sugar_portion_g: float
    ph: float
    end_C: float | None
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class Sweep:
    """How the water to remove falls with what is added, for a kilogram of food.

    Attributes:
        adds: "salt" or "sugar".
        added_kg: for a kilogram of food.
        water_removed_kg: to the water activity.
        hours: of drying, middle pace.
    """

    adds: str
    added_kg: Array
    water_removed_kg: Array
    hours: Array


@dataclass(frozen=True)
class Routes:
    """The ways compared.

    Attributes:
        recipe: whose food it is.
        water_activity: wanted.
        food: that is compared, one kilogram.
        batch_kg: of it in the recipe.
        foods: it is made of, by name.
        portion_kg: of the product.
        routes: compared.
        sweeps: of salt and of sugar.
        assumed: in words.
    """

    recipe: Recipe
    water_activity: float
    food: Mixture
    batch_kg: float
    foods: tuple[str, ...]
    portion_kg: float
    routes: tuple[Route, ...]
    sweeps: tuple[Sweep, ...]
    assumed: tuple[str, ...]


def read_target(text: str) -> float:
    """Return the water activity of words like "aw 0.85".

    Raises:
        InputError: other words, or a water activity that cannot be wanted.
    """
    found = re.fullmatch(r"\s*(?:aw|a_w|water activity)?\s*=?\s*(0?\.\d+)\s*", text, re.IGNORECASE)
    if found is None:
        raise InputError(f'{text!r} is not a target; write "aw 0.85".')
    return float(found[1])


def routes(
    recipe: Recipe,
    water_activity: float,
    salt_percent: Sequence[float] = SALT_PERCENT,
    sugar_percent: Sequence[float] = SUGAR_PERCENT,
) -> Routes:
    """Compare the ways of a food to one water activity.

    The food is what the `add` steps of the recipe hold, without its salt and sugar; air, piece
    and kettle are those of its dry and boil steps, where it has them.

    Args:
        recipe: with the food.
        water_activity: wanted, on the shelf.
        salt_percent: of the food, to be tried.
        sugar_percent: of the food, to be tried.

    Raises:
        InputError: a water activity that cannot be wanted, a food without water.
    """
    food, batch_kg, names = _food(recipe)
    fresh = float(properties.water_activity(food))
    if not DRIEST <= water_activity <= min(WETTEST, fresh):
        raise InputError(
            f"a water activity of {water_activity:g} cannot be compared: the food has {fresh:.3f}, "
            f"and ways are compared from {DRIEST:g} to {min(WETTEST, fresh):.2f}."
        )
    added = {"salt": salt_percent, "sugar": sugar_percent}
    for name, shares in added.items():
        if any(not 0 < s <= MOST_PERCENT for s in shares):
            raise InputError(f"{name} is tried up to {MOST_PERCENT:g} % of the food.")
    boil = next((s.boil for s in recipe.steps if s.boil), None)
    portion = recipe.serving or PORTION_KG
    compare = _Comparison(recipe, food, water_activity, portion, batch_kg, _dryer(recipe), boil)
    tried = [(name, s / 100) for name, shares in added.items() for s in shares]
    found = [compare.dried("nothing", 0.0), *(compare.dried(*t) for t in tried)]
    found += [one for t in tried if (one := compare.boiled(*t)) is not None]
    sweeps = [compare.sweep(name, max(shares) / 100) for name, shares in added.items() if shares]
    return Routes(
        recipe, water_activity, food, batch_kg, names, portion, tuple(found), tuple(sweeps),
        compare.assumed(),
    )  # fmt: skip


def _food(recipe: Recipe) -> tuple[Mixture, float, tuple[str, ...]]:
    """Return a kilogram of what is preserved, how much of it there is, and its names."""
    total, names = Mixture.nothing(), []
    for step in recipe.steps:
        for name, amount in (step.add or {}).items():
            one = recipe.food(name).mixture()
            seasoning = properties.salt_kg(one) + one.kg(*of_kind("sugar"))
            if float(seasoning) < PURE:
                total = total + one * recipe.kg(name, amount)
                names.append(name)
    if not names or float(total.kg("water")) <= 0:
        raise InputError("its add steps hold no food with water: there is nothing to preserve.")
    batch_kg = float(total.total_kg)
    return total * (1 / batch_kg), batch_kg, tuple(dict.fromkeys(names))


def _dryer(recipe: Recipe) -> Dry | None:
    """Return the dryer of the recipe, if it tells enough for the hours."""
    plans = [s.dry for s in recipe.steps if s.dry]
    return next((p for p in plans if p.piece and p.temperature is not None), None)


@dataclass(frozen=True)
class _Comparison:
    recipe: Recipe
    food: Mixture
    water_activity: float
    portion_kg: float
    batch_kg: float
    dryer: Dry | None
    boil: Boil | None

    @property
    def efficiency(self) -> float:
        return self.boil.efficiency if self.boil else HOB_EFFICIENCY

    @property
    def kettle_kW(self) -> float:
        """Power that reaches the kettle."""
        power = self.boil.power if self.boil and self.boil.power else KETTLE_KW
        return power * self.efficiency / 100

    @property
    def pressure_kPa(self) -> float:
        return float(pressure_at_altitude_kPa(self.recipe.made_at.altitude))

    def with_added(self, adds: str, kg: Numbers) -> Mixture:
        compound = {"nothing": "NaCl", "salt": "NaCl", "sugar": "sucrose"}[adds]
        return self.food + Mixture.of({compound: np.asarray(kg)}, unit="kg")

    def followed(self, mixture: Mixture) -> Drying:
        plan = (self.dryer or WARM).model_copy(
            update={"until_water_activity": self.water_activity, "until_water": None,
                    "until_mass": None, "for_": None, "weights": {}}
        )  # fmt: skip
        plain = self.recipe.model_copy(update={"isotherm": None})  # not that of the salted food
        return drying.follow(mixture, plan, plain, self.pressure_kPa)

    def dried(self, adds: str, kg: float) -> Route:
        mixture = self.with_added(adds, kg)
        end_kg = float(self.water_left(mixture))
        if end_kg >= float(mixture.kg("water")):
            return self._route("mix", adds, kg, mixture, (0.0,) * 3, (0.0, 0.0))
        hours: Sequence[float] = (np.nan,) * 3
        energy: Sequence[float] = (np.nan, np.nan)
        remarks: tuple[str, ...] = ()
        try:
            d = self.followed(mixture)
            energy = d.heat_kWh[1:]
            if d.hours is not None:
                hours = tuple(float(h) for h in d.hours)
        except InputError as problem:
            remarks = (str(problem),)
        dry = mixture.with_amounts(water=end_kg)
        return self._route("dry", adds, kg, dry, hours, energy, remarks)

    def boiled(self, adds: str, kg: float) -> Route | None:
        mixture = self.with_added(adds, kg)
        end = self.water_left
        if float(end(mixture)) >= float(mixture.kg("water")):
            return None
        steam_kg = self.batch_kg * (mixture.kg("water") - end(mixture))
        minutes = float(heat.boil_off_min(steam_kg, BOIL_C, self.kettle_kW))
        one = steps.boil(mixture, end, minutes, self.pressure_kPa)
        hot = float(one.end_temperature_C)
        needed = float(steps.heat_of_boiling_kWh(mixture, one, drying.ROOM[0]))
        hours = needed * self.batch_kg / self.kettle_kW
        used = needed * 100 / self.efficiency
        burns = f"it boils at {hot:.0f} °C at the end, where it colours and burns"
        remarks = (burns,) if hot > CARAMEL_C else ()
        return self._route("boil", adds, kg, one.mixture, (hours,) * 3, (used, used), remarks, hot)

    def water_left(self, mixture: Mixture) -> Array:
        """Return the water that may stay in it, kg."""
        curve = sorption_of(mixture)
        return curve.moisture_at(self.water_activity) * curve.dry_kg

    def sweep(self, adds: str, most_kg: float) -> Sweep:
        """Return how it goes with what is added; any number of amounts in one call."""
        added = np.linspace(0.0, most_kg, CURVE_POINTS)
        mixture = self.with_added(adds, added)
        curve = sorption_of(mixture)
        end = curve.moisture_at(self.water_activity)
        removed = np.maximum(mixture.kg("water") - end * curve.dry_kg, 0.0)
        return Sweep(adds, added, removed, self._hours(mixture, curve, end))

    def _hours(self, mixture: Mixture, curve: Sorption, end: Array) -> Array:
        try:
            d = self.followed(mixture[0])
        except InputError:
            return np.full(end.shape, np.nan)
        assert d.surface_per_h is not None
        assert d.inner_per_h is not None
        solids = float(d.curve.dry_kg) / curve.dry_kg  # more solids share the same surface
        start = mixture.kg("water") / curve.dry_kg
        return drying_physics.hours_to_dry(
            start, np.minimum(end, start), d.surface_per_h[MIDDLE] * solids,
            d.inner_per_h[MIDDLE], d.equilibrium,
        )  # fmt: skip

    def _route(
        self, how: str, adds: str, kg: float, product: Mixture, hours: Sequence[float],
        energy: Sequence[float], remarks: Sequence[str] = (), end_C: float | None = None,
    ) -> Route:  # fmt: skip
        total = float(product.total_kg)
        salt = 100 * float(properties.salt_kg(product)) / total
        sugar = 100 * float(product.kg(*of_kind("sugar"))) / total
        band = float(properties.water_activity_band(product, self.water_activity))
        curve = sorption_of(product)
        might_stay = curve.moisture_at(self.water_activity + np.array([band, -band])) * curve.dry_kg
        removed = 1 + kg - total
        if adds == "salt" and self.water_activity < SALT_CRYSTALS_BELOW:
            remarks = (*remarks, CRYSTALS)
        low, high = np.maximum(removed + float(product.kg("water")) - might_stay, 0.0)
        portion_g = 1000 * self.portion_kg
        return Route(
            how, adds, kg, removed, (float(low), float(high)),
            removed / float(self.food.kg("water")),
            (hours[SLOW], hours[MIDDLE], hours[FAST]), (energy[0], energy[1]), total,
            100 * float(product.kg("water")) / total, salt, sugar, salt / 100 * portion_g,
            sugar / 100 * portion_g, float(properties.ph(product)), end_C, tuple(remarks),
        )  # fmt: skip

    def assumed(self) -> tuple[str, ...]:
        said = []
        if self.dryer is None:
            said.append(
                "dried in slices of 6 mm in room air of 20 °C and 60 % humidity warmed to 58 °C (a "
                "dry step of the recipe with a piece says otherwise)"
            )
        if self.boil is None or not self.boil.power:
            said.append(f"boiled on {KETTLE_KW:g} kW, {HOB_EFFICIENCY:g} % of it in the kettle")
        if self.recipe.serving is None:
            said.append(f"a portion of {1000 * PORTION_KG:g} g")
        return tuple(said)
