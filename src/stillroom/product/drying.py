"""A food in a dryer: where it ends, how long it takes, how wet its thickest piece is then."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import air, drying
from stillroom.product import properties
from stillroom.product.mixture import Mixture
from stillroom.product.recipe import Dry, Recipe
from stillroom.product.sorption import DRIEST, Sorption, sorption_of

SHELF_C = 25.0  # the end point is a water activity on the shelf, not in the dryer
FIRST_ROOT = {"slab": np.pi / 2, "cylinder": 2.404826, "sphere": np.pi}  # Crank 1975
AREA_PER_VOLUME = {"slab": 1.0, "cylinder": 2.0, "sphere": 3.0}  # times the half size
CENTRE_OVER_MEAN = {"slab": np.pi / 2, "cylinder": 2.3161, "sphere": np.pi**2 / 3}  # first term
ROOM = (20.0, 60.0)  # °C and % of the room, where a recipe does not say
MEAT = ("meat", "fish")
READ_WITHIN = 1.1  # a single weighing tells the pace to a tenth
SLOW, MIDDLE, FAST = range(3)


@dataclass(frozen=True)
class DryingAir:
    """The air of a dryer.

    Attributes:
        temperature_C: of the air.
        relative_humidity: 0 to 1.
        wet_bulb_C: where wet food sits.
        most_kg_per_kg: water that a kilogram of it can take up at the most.
    """

    temperature_C: float
    relative_humidity: float
    wet_bulb_C: float
    most_kg_per_kg: float


@dataclass(frozen=True)
class Drying:
    """A drying followed, of the central food.

    Attributes:
        plan: the step.
        before: the mixture that goes in.
        curve: its water activity on the shelf.
        air: of the dryer, if it is told.
        start: moisture at the start, kg per kg dry solids.
        end: moisture at the end.
        end_kg: mass of the batch at the end.
        equilibrium: moisture that the air would leave in it, if it is told.
        surface_per_h: what the air can take, kg/(kg h): slow, middle, fast.
        inner_per_h: of the inside, 1/h: slow, middle, fast.
        hours: to the end: slow, middle, fast; None where nothing tells the pace.
        thickest: moisture of the thickest piece at the end, and at the slow pace.
        heat_kWh: the least that the water takes, and what dryers use, low and high.
        assumed: in words.
    """

    plan: Dry
    before: Mixture
    curve: Sorption
    air: DryingAir | None
    start: float
    end: float
    end_kg: float
    equilibrium: float
    surface_per_h: Array | None
    inner_per_h: Array | None
    hours: Array | None
    thickest: float
    heat_kWh: tuple[float, float, float]
    assumed: tuple[str, ...]

    @property
    def water_kg(self) -> float:
        """Water that leaves."""
        return float(self.before.total_kg) - self.end_kg

    @property
    def end_water_percent(self) -> float:
        """Water of the whole at the end."""
        return 100 * float(drying.wet_basis_moisture(self.end))

    def water_percent_after(self, hours: Numbers, pace: int = MIDDLE) -> Array:
        """Return the water of the whole after some hours, per cent."""
        return 100 * drying.wet_basis_moisture(self.moisture_after(hours, pace))

    def moisture_after(self, hours: Numbers, pace: int = MIDDLE) -> Array:
        """Return the mean moisture after some hours, at a pace."""
        assert self.surface_per_h is not None
        assert self.inner_per_h is not None
        return drying.moisture_while_drying(
            hours, self.start, self.surface_per_h[pace], self.inner_per_h[pace], self.equilibrium
        )


def follow(mixture: Mixture, plan: Dry, recipe: Recipe, pressure_kPa: float) -> Drying:
    """Follow a drying.

    Args:
        mixture: that goes in, without a leading axis.
        plan: the step.
        recipe: of the product, for the kind of its foods and its isotherm.
        pressure_kPa: of the air.

    Raises:
        InputError: an end that cannot be, air that cannot dry to it, weighings that rise.
    """
    own = recipe.isotherm.curve if recipe.isotherm else None
    curve = sorption_of(mixture, SHELF_C, own)
    solids_kg = float(curve.dry_kg)
    spirit_kg = float(mixture.kg("ethanol"))
    if solids_kg <= 0:
        raise InputError("there is nothing in it that would stay dry.")
    start = float(mixture.kg("water")) / solids_kg
    assumed: list[str] = []
    dry_air = _air(plan, pressure_kPa, assumed)
    equilibrium = DRIEST
    if dry_air is not None:
        warm = sorption_of(mixture, dry_air.temperature_C, own)
        equilibrium = max(DRIEST, float(warm.moisture_at(dry_air.relative_humidity)))
    paces = _paces(mixture, plan, recipe, dry_air, start, equilibrium, solids_kg, assumed)
    end = _end(mixture, plan, curve, paces, start, equilibrium)
    if end > start:
        raise InputError(
            f"it is drier already: {float(mixture.total_kg):.4g} kg hold "
            f"{100 * start / (1 + start):.1f} % water, the end point asks for "
            f"{100 * end / (1 + end):.1f} %."
        )
    if end <= DRIEST:
        raise InputError(
            f"{100 * end:.2g} % of its dry weight is less water than anything can be told of; dry "
            f"it to {100 * DRIEST:g} % or more."
        )
    if end <= equilibrium and dry_air is not None:
        raise InputError(
            f"air of {dry_air.temperature_C:g} °C and {100 * dry_air.relative_humidity:.0f} % "
            f"humidity leaves {100 * equilibrium / (1 + equilibrium):.1f} % water in it at the "
            "least: it cannot be dried further there."
        )
    hours, thickest, surface, inner = None, end, None, None
    if paces is not None:
        surface, inner = paces
        hours = drying.hours_to_dry(start, end, surface, inner, equilibrium)
        at, pace = float(hours[MIDDLE]), MIDDLE
        if plan.for_ is not None and not plan.until:  # a clock says nothing of the pace
            at, pace = plan.for_ / 60, SLOW
        thicker = 1.0 if plan.condition else 1 + plan.thickest / 100
        wet = drying.moisture_while_drying(
            at, start, surface[pace] / thicker, inner[pace] / thicker**2, equilibrium
        )
        thickest = float(wet)
    end_kg = solids_kg * (1 + end) + spirit_kg
    leaving = solids_kg * np.linspace(end, start, 50)
    return Drying(
        plan, mixture, curve, dry_air, start, end, end_kg, equilibrium, surface, inner, hours,
        thickest, _heat_kWh(mixture, plan, dry_air, leaving), tuple(assumed),
    )  # fmt: skip


def water_at_end_kg(mixture: Mixture, plan: Dry, recipe: Recipe, dried: Drying) -> Array:
    """Return the water that stays in every sample of a food.

    A water activity or a moisture is measured, so every sample reaches it; a weight finds every
    sample at another moisture, because its solids vary.

    Args:
        mixture: any leading axes.
        plan: the step.
        recipe: of the product, for its isotherm.
        dried: the central drying.
    """
    solids_kg = mixture.total_kg - mixture.kg("water", "ethanol")
    if plan.until_mass is not None:
        left = mixture.kg("water") - (mixture.total_kg - plan.until_mass)
        return np.maximum(left, DRIEST * solids_kg)
    if plan.until_water_activity is None or not mixture.shape:
        return dried.end * solids_kg
    own = recipe.isotherm.curve if recipe.isotherm else None
    return solids_kg * sorption_of(mixture, SHELF_C, own).moisture_at(plan.until_water_activity)


def _air(plan: Dry, pressure_kPa: float, assumed: list[str]) -> DryingAir | None:
    if plan.temperature is None:
        return None
    room_C, room_percent = plan.room.temperature, plan.room.humidity
    ratio = air.air_humidity_ratio(room_C, room_percent / 100, pressure_kPa)
    humidity = air.air_relative_humidity(plan.temperature, ratio, pressure_kPa)
    if plan.humidity is not None:
        humidity = np.asarray(plan.humidity / 100)
        ratio = air.air_humidity_ratio(plan.temperature, humidity, pressure_kPa)
    elif "room" not in plan.model_fields_set:
        assumed.append(f"air of {room_C:g} °C and {room_percent:g} % humidity is heated")
    if humidity >= 1:
        raise InputError(
            f"air of {plan.temperature:g} °C holds less water than its room: no drying."
        )
    return DryingAir(
        plan.temperature,
        float(humidity),
        float(air.wet_bulb_C(plan.temperature, ratio, pressure_kPa)),
        float(air.adiabatic_pick_up(plan.temperature, ratio, pressure_kPa)),
    )


def _paces(
    mixture: Mixture,
    plan: Dry,
    recipe: Recipe,
    dry_air: DryingAir | None,
    start: float,
    equilibrium: float,
    solids_kg: float,
    assumed: list[str],
) -> tuple[Array, Array] | None:
    """Return (what the air takes, what the inside gives), each slow, middle, fast; per hour."""
    surface, inner = np.full(3, 1e6), np.ones(3)
    if plan.piece is not None and dry_air is not None:
        one, shape = plan.piece, plan.piece.shape
        half = one.half_size_m * (2 if plan.faces == 1 else 1)
        row = tables.row("moisture_diffusivity", (_diffusing(recipe), "water"))
        at_C = float(np.clip(dry_air.temperature_C, row["lowest_C"], row["highest_C"]))
        D = drying.moisture_diffusivity_m2_per_s(
            np.array([row["low_m2_per_s"], row["D_ref_m2_per_s"], row["high_m2_per_s"]]),
            row["reference_C"], row["activation_energy_kJ_mol"], at_C,
        )  # fmt: skip
        inner = drying.inner_drying_per_h(D, half, FIRST_ROOT[shape])
        low, high = _practice("moving air", "film coefficient of heat")
        films = np.array([low, np.sqrt(low * high), high])
        solids_per_m3 = 1000 * float(properties.density_g_per_cm3(mixture))
        solids_per_m3 *= solids_kg / float(mixture.total_kg)
        per_m2 = solids_per_m3 * half / AREA_PER_VOLUME[shape]
        surface = drying.surface_drying_kg_per_m2_h(
            dry_air.temperature_C, dry_air.wet_bulb_C, films
        )
        surface = surface / per_m2
        assumed.append(
            f"water moves in the piece as in {row['food'].removesuffix(', working value')} at "
            f"large: {D[0]:.2g} to {D[2]:.2g} m²/s; weigh it on the way (`weights`) to narrow the "
            "hours"
        )
    elif not plan.weights:
        return None
    if plan.weights:
        factor = _pace_read(plan, mixture, start, equilibrium, solids_kg, surface[1], inner[1])
        surface, inner = surface[1] * factor, inner[1] * factor
    return surface, inner


def _pace_read(
    plan: Dry, mixture: Mixture, start: float, equilibrium: float, solids_kg: float,
    surface: float, inner: float,
) -> Array:  # fmt: skip
    """Return how much faster it goes than foreseen by its weighings: slow, middle, fast."""
    spirit = float(mixture.kg("ethanol"))
    seen = []
    for minutes, kg in sorted(plan.weights.items()):
        X = (kg - spirit) / solids_kg - 1
        if not equilibrium < X < start:
            raise InputError(
                f"{kg:g} kg after {minutes / 60:g} h cannot be: it starts at "
                f"{float(mixture.total_kg):.4g} kg and would end in that air at "
                f"{solids_kg * (1 + equilibrium) + spirit:.4g} kg."
            )
        seen.append(
            float(drying.hours_to_dry(start, X, surface, inner, equilibrium)) * 60 / minutes
        )
    log = np.log(seen)
    half = max(2 * float(np.std(log)), np.log(READ_WITHIN))
    return np.exp(np.mean(log) + half * np.array([-1, 0, 1]))


def _end(
    mixture: Mixture, plan: Dry, curve: Sorption, paces: tuple[Array, Array] | None,
    start: float, equilibrium: float,
) -> float:  # fmt: skip
    if plan.until_water_activity is not None:
        return float(curve.moisture_at(plan.until_water_activity))
    spirit = float(mixture.kg("ethanol"))
    if plan.until_water is not None:
        w = plan.until_water / 100
        return w / (1 - w) * (1 + spirit / float(curve.dry_kg))
    if plan.until_mass is not None:
        left = (plan.until_mass - spirit) / float(curve.dry_kg) - 1
        if left <= 0:
            raise InputError(
                f"{plan.until_mass:g} kg is less than its dry matter alone, "
                f"{float(curve.dry_kg) + spirit:.4g} kg."
            )
        return left
    if paces is None or plan.for_ is None:
        raise InputError(
            "say where drying ends: until_water_activity, until_water or until_mass; or for = "
            '"8 h" with the temperature of the air and a piece, or with weights.'
        )
    surface, inner = (p[MIDDLE] for p in paces)
    return float(drying.moisture_while_drying(plan.for_ / 60, start, surface, inner, equilibrium))


def _diffusing(recipe: Recipe) -> str:
    groups = [recipe.food(name).group for name in recipe.food_names()]
    animal = any(g.startswith(MEAT) for g in groups)
    return f"{'meat or fish' if animal else 'fruit or vegetable'}, working value"


def _practice(subject: str, quantity: str) -> tuple[float, float]:
    for r in tables.rows("drying_practice"):
        if (r["subject"], r["quantity"]) == (subject, quantity):
            return float(r["low"]), float(r["high"])
    raise KeyError(subject)


def _heat_kWh(
    mixture: Mixture, plan: Dry, dry_air: DryingAir | None, water_kg: Array
) -> tuple[float, float, float]:
    """Return the least heat, and what dryers use, for the water from its last to its first."""
    wet = plan.room.temperature if dry_air is None else dry_air.wet_bulb_C
    bound = properties.heat_of_sorption_kJ_mol(mixture.with_amounts(water=water_kg))
    each = drying.least_heat_kWh_per_kg(plan.room.temperature, wet, bound)
    least = float(np.mean(each) * (water_kg[-1] - water_kg[0]))
    low, high = _practice("efficiency", "share of the energy")
    if plan.efficiency is not None:
        low = high = plan.efficiency / 100
    return least, least / high, least / low
