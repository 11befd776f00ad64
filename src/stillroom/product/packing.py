"""A packed product against the room: how its water and its water activity go while it is kept.

The food in a pack is at one water activity throughout, in step with a desiccant beside it: the
film resists, the food does not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import ingress
from stillroom.physics.barrier import vapour_pressure_Pa
from stillroom.physics.sorption import water_activity_at_temperature
from stillroom.product import film, properties
from stillroom.product.film import MIDDLE, Barrier
from stillroom.product.mixture import Mixture
from stillroom.product.properties.water import BOUND_C
from stillroom.product.recipe import Desiccant, Fill, Keep, Recipe
from stillroom.product.sorption import Isotherm, Sorption, between, sorption_of

ROOM_HUMIDITY = 0.65  # where a recipe does not say
HEADSPACE = 0.92  # a pack is filled to so much of its brim
MINUTES_A_DAY = 1440.0


@dataclass(frozen=True)
class Climate:
    """The room, stage by stage.

    Attributes:
        days: length of each stage.
        temperature_C: in each stage.
        relative_humidity: in each stage, 0 to 1; leading axes are free.
    """

    days: Array
    temperature_C: Array
    relative_humidity: Array


@dataclass(frozen=True)
class Pack:
    """One pack of a product, closed.

    Attributes:
        barrier: film, holes and area; None where nothing passes.
        dry_g: dry solids in it, any leading axes.
        curve: of the food, at the temperature it is kept at.
        heat_kJ_mol: net isosteric heat at the moisture it is packed with.
        packed_moisture: of the food when it is closed, kg per kg dry.
        desiccant: name and grams beside a gram of dry solids; None without.
        remarks: what was assumed, in words.
    """

    barrier: Barrier | None
    dry_g: Array
    curve: Sorption
    heat_kJ_mol: Array
    packed_moisture: Array
    desiccant: tuple[str, Array] | None
    remarks: tuple[str, ...]

    @property
    def food_points(self) -> tuple[Array, Array]:
        """Moisture and water activity of the food, from nothing on, on a last axis."""
        nothing = np.zeros((*self.curve.moisture.shape[:-1], 1))
        return (
            np.concatenate([nothing, self.curve.moisture], axis=-1),
            np.concatenate([nothing, self.curve.water_activity], axis=-1),
        )

    @property
    def points(self) -> tuple[Array, Array]:
        """The same with the water of a desiccant in the moisture."""
        M, a_w = self.food_points
        if self.desiccant is None:
            return M, a_w
        name, each = self.desiccant
        return M + each[..., None] * film.desiccant_held_g_per_g(name, a_w), a_w

    def closed_with(self) -> Array:
        """Return the moisture in the pack when it is closed, a desiccant's load included."""
        preload = film.PRELOAD_G_PER_G * self.desiccant[1] if self.desiccant else 0.0
        return self.packed_moisture + preload

    def water_activity(self, moisture: Numbers, temperature_C: Numbers) -> Array:
        """Return the water activity of the food at the moisture of the pack.

        Args:
            moisture: desiccant included, any shape that broadcasts with the leading axes.
            temperature_C: of the pack.
        """
        return np.minimum(between(moisture, *self.points) * self.warmer(temperature_C), 1.0)

    def moisture(self, water_activity: Numbers, temperature_C: Numbers) -> Array:
        """Return the moisture of the pack at a water activity of the food."""
        M, a_w = self.points
        return between(water_activity / self.warmer(temperature_C), a_w, M)

    def warmer(self, temperature_C: Numbers) -> Array:
        """Return by how much a water activity rises from the temperature of the curve."""
        T = np.clip(temperature_C, *BOUND_C)
        return water_activity_at_temperature(1.0, self.curve.temperature_C, T, self.heat_kJ_mol)

    def exchange(self, conductance_g_per_day_Pa: Numbers, days: Numbers, T: Numbers) -> Array:
        """Return x = G p_s t / W_s, as the points of the curve take it at a temperature."""
        pull = conductance_g_per_day_Pa * vapour_pressure_Pa(T, 1.0) * self.warmer(T)
        return np.asarray(pull * days / self.dry_g)

    def follow(self, climate: Climate, conductance: Array, start: Array) -> Array:
        """Return the moisture of the pack at the start and after every stage, on a last axis.

        Args:
            climate: the room.
            conductance: g/(d Pa) in each stage, on the last axis.
            start: moisture when it is closed, any leading axes.
        """
        seen = [np.asarray(start, float)]
        stages = climate.days.shape[-1]
        conductance = np.broadcast_to(conductance, (*conductance.shape[:-1], stages))
        for n in range(stages):
            T, outside = climate.temperature_C[n], climate.relative_humidity[..., n]
            x = self.exchange(conductance[..., n], climate.days[n], T)
            seen.append(
                ingress.moisture_after_exchange(x, seen[-1], outside / self.warmer(T),
                                                *self.points)
            )  # fmt: skip
        shape = np.broadcast_shapes(*(m.shape for m in seen))
        return np.stack([np.broadcast_to(m, shape) for m in seen], axis=-1)


# --- of a recipe ------------------------------------------------------------------------------


def net_kg(mixture: Mixture, plan: Fill) -> Array:
    """Return what goes into one pack: as told, or some 8 % short of the brim."""
    if plan.net:
        return np.asarray(plan.net)
    return HEADSPACE * plan.capacity_L * properties.density_g_per_cm3(mixture)


def pack_of(recipe: Recipe, mixture: Mixture, plan: Keep) -> Pack | None:
    """Return one pack of a product as it is kept; None where it has no pack.

    Args:
        recipe: with its last fill, its own isotherm and its readings.
        mixture: that is packed, any leading axes.
        plan: how it is kept.

    Raises:
        InputError: a film around an open pack, or a product without dry solids.
    """
    fills = [s.fill for s in recipe.steps if s.fill]
    if not fills:
        return None
    fill = fills[-1]
    if plan.pack == "open":
        if fill.film is None:
            return None
        raise InputError(
            'a film around an open pack holds nothing: write pack = "airtight", or leave the film '
            "out of the fill."
        )
    isotherm = recipe.isotherm.curve if recipe.isotherm else None
    curve = sorption_of(mixture, plan.temperature, isotherm)
    if np.any(curve.dry_kg <= 0):
        raise InputError("there are no dry solids in the pack.")
    packed = mixture.kg("water") / curve.dry_kg
    if recipe.measured.water_activity is not None:
        packed = between(recipe.measured.water_activity, curve.water_activity, curve.moisture)
    dry_g = 1000 * net_kg(mixture, fill) * curve.dry_kg / mixture.total_kg
    barrier = fill.barrier
    return Pack(
        barrier=barrier,
        dry_g=dry_g,
        curve=curve,
        heat_kJ_mol=properties.heat_of_sorption_kJ_mol(mixture),
        packed_moisture=packed,
        desiccant=_beside(fill.desiccant, dry_g),
        remarks=_remarks(barrier, plan, fill.desiccant, isotherm),
    )


def _beside(plan: Desiccant | None, dry_g: Array) -> tuple[str, Array] | None:
    return None if plan is None else (plan.of, 1000 * plan.mass / dry_g)


def humidity(plan: Keep) -> float:
    """Return the humidity of the room, 0 to 1."""
    return ROOM_HUMIDITY if plan.humidity is None else plan.humidity / 100


def _remarks(
    barrier: Barrier | None, plan: Keep, desiccant: Desiccant | None, isotherm: Isotherm | None
) -> tuple[str, ...]:
    if barrier is None:
        return ("no film is given: the pack is taken as tight against water",)
    remarks = [
        *barrier.remarks,
        "the food in a pack is at one water activity throughout: its surface is ahead of its "
        "middle where pieces are thick and the film is weak",
    ]
    if plan.humidity is None:
        remarks.append(f"the room has {100 * ROOM_HUMIDITY:g} % humidity (none is given)")
    if not barrier.holes:
        remarks.append("seals without holes: test them, for one hole may let in more than a film")
    if desiccant is not None:
        remarks.append(
            f"{desiccant.of}: as at 25 °C, {100 * film.PRELOAD_G_PER_G:g} % taken up before the "
            "pack is closed, in step with the food from the first day"
        )
    if isotherm is None:
        remarks.append(
            "how much water it holds at a water activity is told by its composition, the same "
            "drying and taking up; an own [isotherm] is better"
        )
    return tuple(remarks)


@dataclass(frozen=True)
class Gained:
    """What a keeping does to the water of a product.

    Attributes:
        water_kg: of the whole batch at its end.
        end_water_activity: of the food.
        gained_g: by a pack, its desiccant included; negative where it dries out.
    """

    water_kg: Array
    end_water_activity: Array
    gained_g: Array


def gained(recipe: Recipe, mixture: Mixture, plan: Keep) -> Gained | None:
    """Return the water of a product at the end of its keeping; None where none can pass.

    By the middle of the film, in a steady room.

    Args:
        recipe: as `pack_of`.
        mixture: as `pack_of`.
        plan: as `pack_of`.

    Raises:
        InputError: as `pack_of`.
    """
    fills = [s.fill for s in recipe.steps if s.fill]
    if not fills or fills[-1].film is None or not plan.for_:
        return None
    pack = pack_of(recipe, mixture, plan)
    assert pack is not None
    assert pack.barrier is not None
    T = np.array([plan.temperature])
    climate = Climate(np.array([plan.for_ / MINUTES_A_DAY]), T, np.array([humidity(plan)]))
    conductance = pack.barrier.conductance_g_per_day_Pa(T)[..., MIDDLE]
    moisture = pack.follow(climate, conductance, pack.closed_with())
    end = pack.water_activity(moisture[..., -1], plan.temperature)
    food = between(moisture[..., -1], pack.points[0], pack.food_points[0])
    return Gained(
        water_kg=mixture.kg("water") + (food - pack.packed_moisture) * pack.curve.dry_kg,
        end_water_activity=end,
        gained_g=(moisture[..., -1] - moisture[..., 0]) * pack.dry_g,
    )
