"""A recipe carried out: the mixture after every step."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import diffusion, heat, phase
from stillroom.product import curing, drying, fermenting, packing, properties, steps
from stillroom.product.ferment_course import follow
from stillroom.product.mixture import Mixture, of_kind
from stillroom.product.properties import thermal
from stillroom.product.recipe import (
    Boil,
    Cook,
    Cool,
    Cure,
    Drain,
    Dry,
    Ferment,
    Fill,
    Heat,
    Keep,
    Piece,
    Recipe,
    Steep,
    Step,
)

BOIL_C = 102.0  # for the latent heat alone, which hardly depends on it
ASSUMED_BOIL_MIN = 20.0  # common practice where a recipe does not say
OPEN_STEAM_C = 1.5  # weather moves a boiling point by 0.7 °C either way
LOW_PRESSURE_C = 12.0  # a measured boiling point may lie so far below, where no altitude is given
COLDEST_HEAT_C = 50.0
SYRUP_ABOVE_C = 15.0
TALLEST = 10.0  # content over diameter, or diameter over content
SOUR_PH = 4.6  # below which Clostridium botulinum does not grow
WHOLE = (
    "pieces and brine are taken as one; out of whole vegetables sugar comes, and into them acid "
    "goes, over days to weeks"
)
LITTLE_SOURED = 5.0  # per cent of the sugar; less makes no fermented food
KILLS_C = 60.0  # what is hotter leaves no lactic cells (common practice)
JAR_C = 20.0  # of an empty jar, where a recipe does not say


@dataclass(frozen=True, kw_only=True)
class State:
    """What is in the kettle.

    Attributes:
        mixture: everything in the batch.
        temperature_C: at the end of the step.
        minutes: that the step took, where it is known.
        pieces: the solid pieces, where pieces lie in a liquor.
        liquor: the liquor around them.
        closed: whether it is in closed packs.
        cells_g_per_kg: of each lactic flora, on the first axis, after a lactic ferment.
        facts: figures of the step worth showing (steam, inverted share, packs ...).
        assumed: what was assumed, in words.
    """

    mixture: Mixture
    temperature_C: float = 20.0
    minutes: float = 0.0
    pieces: Mixture | None = None
    liquor: Mixture | None = None
    closed: bool = False
    cells_g_per_kg: Array | None = None
    facts: Mapping[str, Array] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Stage(State):
    """The product after a step.

    Attributes:
        number: of the step, from 1.
        step: the step itself.
    """

    number: int
    step: Step


@dataclass(frozen=True)
class Batch:
    """A recipe carried out."""

    recipe: Recipe
    stages: tuple[Stage, ...]

    @property
    def made(self) -> Stage:
        """The product as it is packed: the last stage before it is kept."""
        before = [s for s in self.stages if s.step.verb != "keep"]
        return (before or list(self.stages))[-1]

    @property
    def final(self) -> Stage:
        """The product at the end of its keeping."""
        return self.stages[-1]

    @property
    def soured(self) -> bool:
        """Whether a lactic ferment makes acid in it."""
        return any(True for _ in self._soured())

    @property
    def fermented(self) -> bool:
        """Whether a lactic ferment, not acid that was added, brought it down to pH 4.6."""
        return any(
            float(np.min(properties.ph(before.mixture))) > SOUR_PH
            and float(np.max(properties.ph(after.mixture))) <= SOUR_PH
            for before, after in self._soured()
        )

    def _soured(self) -> Iterator[tuple[Stage, Stage]]:
        """Yield the stages before and after every lactic ferment that is more than a token."""
        for before, after in pairwise(self.stages):
            plan = after.step.ferment
            if plan is None or plan.kind != "lactic":
                continue
            if float(np.min(after.facts["sugar_used_percent"])) > LITTLE_SOURED:
                yield before, after

    def of(self, verb: str) -> list[Stage]:
        """Return the stages of a verb."""
        return [s for s in self.stages if s.step.verb == verb]


@dataclass(frozen=True)
class _Kitchen:
    """What every step may reach for."""

    recipe: Recipe
    one_kg: Mapping[str, Mixture]
    pressure_kPa: float

    def blend(self, amounts: Mapping[str, float]) -> Mixture:
        """Return foods weighed together."""
        return sum(
            (self.one_kg[name] * self.recipe.kg(name, amount) for name, amount in amounts.items()),
            Mixture.nothing(),
        )


def run(recipe: Recipe, foods: Mapping[str, Mixture] | None = None) -> Batch:
    """Carry out a recipe.

    Args:
        recipe: to carry out.
        foods: a kilogram of each food, with any leading axes (samples); the central foods by
            default.

    Returns:
        The batch, a stage after every step.

    Raises:
        InputError: a step that cannot be done, with its number.
    """
    one_kg = foods or {name: recipe.food(name).mixture() for name in recipe.food_names()}
    pressure = float(phase.pressure_at_altitude_kPa(recipe.made_at.altitude))
    kitchen = _Kitchen(recipe, one_kg, pressure)
    kettle, stages = State(mixture=Mixture.nothing()), []
    for number, step in enumerate(recipe.steps, start=1):
        try:
            if step.verb != "add" and not np.any(kettle.mixture.amounts):
                raise InputError("there is nothing in the kettle yet; start with an `add` step.")
            after = _STEPS[step.verb](kettle, getattr(step, step.verb), kitchen)
            stage = Stage(**vars(after), number=number, step=step)
            _check(stage, kettle.mixture)
        except InputError as problem:
            raise InputError(f"step {number}, {step.verb}: {problem}") from None
        stages.append(stage)
        kettle = after
    return Batch(recipe, tuple(stages))


def _check(stage: Stage, before: Mixture) -> None:
    if not np.all(np.isfinite(stage.mixture.amounts)):
        raise InputError(
            "what it leaves cannot be computed, for the mix has no pH: too little water, or too "
            "much salt, lime or lye; check the amounts."
        )
    if np.any(stage.mixture.kg("water") <= 0):
        raise InputError("no water is left in the mix.")
    if stage.step.boil and np.any(stage.mixture.kg("water") < 0.02 * before.kg("water")):
        raise InputError(
            "the end point asks for less than a fiftieth of the water: too little is dissolved in "
            "the mix to reach it."
        )
    acid = stage.mixture.kg(*of_kind("acid"))
    if stage.step.verb in ("add", "boil", "steep") and np.any(acid > stage.mixture.kg("water")):
        raise InputError("there is more acid than water in the mix; check the amounts.")


def _add(before: State, plan: Mapping[str, float], kitchen: _Kitchen) -> State:
    mixture = before.mixture + kitchen.blend(plan)
    return State(
        mixture=mixture,
        temperature_C=before.temperature_C,
        cells_g_per_kg=_thinned(before, mixture),
    )


def _thinned(before: State, mixture: Mixture) -> Array | None:
    """Return the living cells spread over a larger mixture."""
    if before.cells_g_per_kg is None:
        return None
    return before.cells_g_per_kg * before.mixture.total_kg / mixture.total_kg


def _boil(before: State, plan: Boil, kitchen: _Kitchen) -> State:
    end = _boil_end(plan, before.mixture, kitchen.pressure_kPa)
    minutes, assumed = plan.for_, []
    if minutes is None and plan.power:
        water_kg = before.mixture.kg("water") - end(before.mixture)
        into_kW = plan.power * plan.efficiency / 100
        minutes = float(np.mean(heat.boil_off_min(water_kg, BOIL_C, into_kW)))
        assumed.append(
            f"{plan.efficiency:g} % of the {plan.power:g} kW taken to reach the kettle: it boils "
            f"for {minutes:.0f} min"
        )
    if minutes is None and plan.evaporation:
        lost = float(np.mean(before.mixture.kg("water") - end(before.mixture)))
        minutes = 60 * lost / plan.evaporation
    if minutes is None:
        minutes = ASSUMED_BOIL_MIN
        assumed.append(
            f"boiled for {minutes:g} min (no time given; it governs the inversion of sugar)"
        )
    boiled = steps.boil(before.mixture, end, minutes, kitchen.pressure_kPa)
    facts = {
        "energy_kWh": steps.heat_of_boiling_kWh(before.mixture, boiled, before.temperature_C),
        "steam_kg": boiled.steam_kg,
        "boil_end_C": boiled.end_temperature_C,
        "inverted_percent": 100 * boiled.inverted_fraction,
    }
    return State(
        mixture=boiled.mixture,
        temperature_C=float(np.mean(boiled.end_temperature_C)),
        minutes=minutes,
        facts=facts,
        assumed=tuple(assumed),
    )


def _boil_end(plan: Boil, mixture: Mixture, pressure: float) -> Callable[[Mixture], Array]:
    if plan.until_soluble_solids is not None:
        target = plan.until_soluble_solids
        return lambda m: steps.water_at_brix(m, target)
    if plan.until_mass is not None:
        mass = plan.until_mass
        return lambda m: steps.water_at_mass(m, mass)
    if plan.until_temperature is not None:
        hot = plan.until_temperature
        return lambda m: steps.water_at_temperature(m, hot, pressure)
    assert plan.for_ is not None
    assert plan.evaporation is not None
    left = mixture.kg("water") - plan.evaporation * plan.for_ / 60
    if np.any(left <= 0):
        raise InputError("the boil takes more water than there is; shorten it.")
    return lambda m: np.minimum(left, m.kg("water"))


def _steep(before: State, plan: Steep, kitchen: _Kitchen) -> State:
    liquor = kitchen.blend(plan.liquor)
    facts = {"steeped_minutes": np.asarray(plan.for_)} if plan.for_ is not None else {}
    if plan.exchange is not None:
        pieces, around, moved = curing.exchange(before.mixture, liquor, plan, plan.exchange)
        return State(
            mixture=before.mixture + liquor,
            temperature_C=plan.temperature,
            minutes=plan.for_ or 0.0,
            pieces=pieces,
            liquor=around,
            facts=facts | moved,
        )
    pieces, around = steps.steep(before.mixture, liquor)
    if plan.piece is not None:
        sour = _share_to_sour(before.mixture, pieces)
        for name, share in (("middle_90_percent_hours", 0.9), ("middle_sour_hours", sour)):
            if share is not None:
                facts[name] = _hours_to_middle(share, plan, plan.piece, pieces, around)
    mixture = before.mixture + liquor
    return State(
        mixture=mixture,
        temperature_C=plan.temperature,
        minutes=plan.for_ or 0.0,
        pieces=pieces,
        liquor=around,
        cells_g_per_kg=None if plan.temperature >= KILLS_C else _thinned(before, mixture),
        facts=facts,
    )


def _hours_to_middle(
    share: float, plan: Steep, piece: Piece, pieces: Mixture, liquor: Mixture
) -> Array:
    """Return hours until the middle of a piece has a share of its final salt, sugar and acid.

    The slowest of what the liquor brings governs; tissue is taken at the slow end.
    """
    brought = [
        s
        for s in ("acetic", "citric", "lactic", "malic", "tartaric", "sucrose", "glucose")
        if np.any(liquor.kg(s) > 1e-3 * liquor.total_kg)
    ]
    brought += ["NaCl"] if np.any(properties.salt_kg(liquor) > 1e-3 * liquor.total_kg) else []
    slowest = min(
        float(tables.row("diffusivity", s)["diffusivity_m2_per_s"]) for s in brought or ["NaCl"]
    )
    D = diffusion.diffusivity_at_temperature(
        slowest * curing.TISSUE[piece.tissue], plan.temperature
    )
    ratio = float(np.mean(liquor.kg("water") / pieces.kg("water")))
    fo = diffusion.fourier_for_uptake(share, curing.SHAPES[piece.shape], "centre", round(ratio, 2))
    return fo * piece.half_size_m**2 / D / 3600


def _share_to_sour(before: Mixture, after: Mixture) -> float | None:
    """Return the share of the final uptake at which a piece comes to pH 4.6.

    None where it is below from the start, or is not even at the end.
    """
    first, last = (m[0] if m.shape else m for m in (before, after))
    shares = np.linspace(0.0, 0.999, 60)
    at_ph = properties.ph(first * (1 - shares) + last * shares)
    if at_ph[0] <= SOUR_PH or at_ph[-1] > SOUR_PH:
        return None
    return float(np.interp(-SOUR_PH, -at_ph, shares))


def _drain(before: State, plan: Drain, _: _Kitchen) -> State:
    if plan.liquid is not None:
        stays, gone = steps.pour_off(before.mixture, plan.liquid)
    elif before.pieces is None or before.liquor is None:
        raise InputError(
            "there are no pieces in a liquor to drain; use `steep` before, or liquid = ..."
        )
    else:
        both = (before.pieces, before.liquor)
        stays, gone = both if plan.keep == "pieces" else both[::-1]
    facts = {"drained_kg": gone.total_kg}
    return State(
        mixture=stays,
        temperature_C=before.temperature_C,
        cells_g_per_kg=before.cells_g_per_kg,
        facts=facts,
    )


def _fill(before: State, plan: Fill, kitchen: _Kitchen) -> State:
    density = properties.density_g_per_cm3(before.mixture)
    brimful = plan.capacity_L * density
    net = packing.net_kg(before.mixture, plan)
    if np.any(net > brimful * 1.0001):
        raise InputError(
            f"{float(np.max(net)) * 1000:.0f} g do not go into {plan.container!r}: it holds "
            f"{float(np.min(brimful)) * 1000:.0f} g of this product to the brim."
        )
    facts = {"net_kg": net, "packs": before.mixture.total_kg / net, "density_g_per_cm3": density}
    closed = partial(_on, before, closed=True, facts=facts)
    _check_pack(plan, float(np.mean(net / density)) / 1000)
    if plan.temperature is None:
        return closed()
    _check_not_boiling(plan.temperature, kitchen)
    jar_C = JAR_C if plan.jar_temperature is None else plan.jar_temperature
    _check_not_boiling(jar_C, kitchen)
    assumed: tuple[str, ...] = ()
    if plan.jar_temperature is None and plan.pack.mass_kg:
        assumed = (f"filled into packs of {jar_C:g} °C (no jar_temperature is given)",)
    filled = float(np.mean(_filled_C(before, plan, net, jar_C)))
    hot: dict[str, Any] = {"cells_g_per_kg": None} if plan.temperature >= KILLS_C else {}
    return closed(temperature_C=filled, assumed=assumed, **hot)


def _check_pack(plan: Fill, content_m3: float) -> None:
    """Refuse a diameter or thickness that no such pack has."""
    one = plan.pack
    if one.diameter_m is not None:
        high = content_m3 / (np.pi / 4 * one.diameter_m**2)
        if not one.diameter_m / TALLEST < high < one.diameter_m * TALLEST:
            raise InputError(
                f"a diameter of {1000 * one.diameter_m:.0f} mm would let the food stand "
                f"{1000 * high:.0f} mm high in {plan.container!r}; give the inner diameter."
            )


def _check_not_boiling(temperature_C: float, kitchen: _Kitchen) -> None:
    boiling = float(phase.water_boiling_point_C(kitchen.pressure_kPa))
    if temperature_C > boiling + SYRUP_ABOVE_C:
        raise InputError(
            f"{temperature_C:g} °C is too hot to fill at: water boils at "
            f"{boiling:.1f} °C there, the thickest syrup some {SYRUP_ABOVE_C:g} °C higher."
        )


def _filled_C(before: State, plan: Fill, net: Array, jar_C: float) -> Array:
    """Return the temperature that content, cold pieces and container come to."""
    assert plan.temperature is not None
    content: Numbers = plan.temperature
    if plan.pieces_temperature is not None:
        if before.pieces is None or before.liquor is None:
            raise InputError("pieces_temperature needs pieces in a liquor: use `steep` before.")
        share = before.pieces.total_kg / (before.pieces.total_kg + before.liquor.total_kg)
        content = share * plan.pieces_temperature + (1 - share) * plan.temperature
    capacity = thermal.heat_capacity_J_per_kg_K(before.mixture, content)
    glass = float(thermal.material("glass", "heat_capacity_J_per_kg_K", jar_C))
    return heat.filled_temperature_C(net, capacity, content, plan.pack.mass_kg, glass, jar_C)


def medium_C(plan: Heat, altitude_m: float) -> float:
    """Return the temperature of the medium of a heat step.

    Raises:
        InputError: water hotter than it can be there, or a medium that does not heat.
    """
    pressure = float(phase.pressure_at_altitude_kPa(altitude_m))
    boiling = float(phase.water_boiling_point_C(pressure))
    if plan.in_ == "pressure steam":
        hot = plan.temperature
        if hot is None:
            hot = float(phase.water_boiling_point_C(pressure + (plan.gauge or 0.0)))
        if hot < boiling - OPEN_STEAM_C:
            raise InputError(f"pressure steam is above {boiling:.1f} °C there, not {hot:g} °C.")
    else:
        hot = boiling if plan.temperature is None else plan.temperature
        if plan.in_ in ("boiling water", "steam") and hot < boiling - LOW_PRESSURE_C:
            raise InputError(
                f"{plan.in_} of {hot:g} °C cannot be: water boils at {boiling:.1f} °C there; "
                'use in = "hot water".'
            )
        if hot > boiling + OPEN_STEAM_C:
            raise InputError(
                f"{plan.in_} of {hot:g} °C cannot be: water boils at {boiling:.1f} °C there; "
                'use in = "pressure steam".'
            )
    if hot < COLDEST_HEAT_C:
        raise InputError(f"{hot:g} °C heats nothing worth counting; above {COLDEST_HEAT_C:g} °C.")
    return hot


def _heat(before: State, plan: Heat, kitchen: _Kitchen) -> State:
    if not before.closed:
        raise InputError("what is heated is a closed pack: put a fill step before it.")
    hot = medium_C(plan, kitchen.recipe.made_at.altitude)
    if plan.start is not None:
        _check_not_boiling(plan.start, kitchen)
    facts = {"medium_C": np.asarray(hot)}
    minutes = plan.come_up + plan.hold
    return _on(before, temperature_C=hot, minutes=minutes, facts=facts, cells_g_per_kg=None)


def _cool(before: State, plan: Cool, _: _Kitchen) -> State:
    if not before.closed:
        raise InputError("what cools here is a closed pack: put a fill step before it.")
    if plan.temperature >= before.temperature_C:
        raise InputError(
            f"{plan.in_} of {plan.temperature:g} °C cools nothing: the pack is at "
            f"{before.temperature_C:.0f} °C."
        )
    return _on(before, temperature_C=plan.temperature, minutes=plan.for_ or 0.0)


def _keep(before: State, plan: Keep, kitchen: _Kitchen) -> State:
    kept = steps.keep(before.mixture, plan.temperature, plan.for_)
    sucrose = before.mixture.kg("sucrose")
    lost = np.where(sucrose > 0, 1 - kept.kg("sucrose") / np.where(sucrose > 0, sucrose, 1), 0.0)
    facts = {"inverted_percent": 100 * lost}
    through = packing.gained(kitchen.recipe, before.mixture, plan)
    if through is not None:
        passed = through.water_kg - before.mixture.kg("water")
        kept = kept.with_amounts(water=kept.kg("water") + passed)
        facts["end_water_activity"] = through.end_water_activity
        facts["gained_g"] = through.gained_g
    return _on(before, mixture=kept, temperature_C=plan.temperature, minutes=plan.for_, facts=facts)


def _ferment(before: State, plan: Ferment, _: _Kitchen) -> State:
    if not np.all(np.isfinite(properties.ph(before.mixture))):
        raise InputError("what is to ferment holds too little water, or too much lime, for a pH.")
    course = follow(before.mixture, plan, before.cells_g_per_kg)
    fermented = course.mixture[-1] if before.mixture.shape else course.mixture[-1][0]
    sugar = sum(fermenting.hexose_mol(before.mixture), np.zeros(()))
    left = sum(fermenting.hexose_mol(fermented), np.zeros(()))
    facts = {
        "gas_kg": course.gas_kg[-1] if before.mixture.shape else course.gas_kg[-1][0],
        "sugar_used_percent": 100 * np.where(sugar > 0, 1 - left / np.maximum(sugar, 1e-12), 0.0),
        "ph_error": np.asarray(course.ph_error),
    }
    changes: dict[str, Any] = {"mixture": fermented, "facts": facts, "assumed": course.remarks}
    if before.pieces is not None and before.liquor is not None:
        in_pieces = before.pieces.kg("water") / before.mixture.kg("water")
        changes["pieces"], changes["liquor"] = steps.split(fermented, in_pieces)
        changes["assumed"] += (WHOLE,)
    if plan.kind == "lactic":
        changes["cells_g_per_kg"] = course.cells_g_per_kg[:, -1]
    return _on(before, temperature_C=plan.temperature, minutes=plan.for_, **changes)


def _cure(before: State, plan: Cure, kitchen: _Kitchen) -> State:
    if before.closed:
        raise InputError("nothing is cured in closed packs: put the cure step before fill.")
    cured = curing.cure(before.mixture, kitchen.blend(plan.with_), plan)
    return State(
        mixture=cured.mixture,
        temperature_C=plan.temperature,
        minutes=plan.for_ or 0.0,
        facts=cured.facts,
        assumed=cured.assumed,
    )


def _cook(before: State, plan: Cook, kitchen: _Kitchen) -> State:
    if before.closed:
        raise InputError("what is in closed packs is heated by a `heat` step.")
    _check_not_boiling(plan.to, kitchen)
    lost = before.mixture.total_kg * plan.loss / 100
    if np.any(lost >= before.mixture.kg("water")):
        raise InputError(f"a loss of {plan.loss:g} % is more water than it holds.")
    cooked = steps.evaporate(before.mixture, lost)
    return State(mixture=cooked, temperature_C=plan.to, minutes=plan.hold)


def _dry(before: State, plan: Dry, kitchen: _Kitchen) -> State:
    if before.closed:
        raise InputError("nothing dries in closed packs: put the dry step before fill.")
    mixture = before.mixture
    central = mixture[0] if mixture.shape else mixture
    dried = drying.follow(central, plan, kitchen.recipe, kitchen.pressure_kPa)
    end = mixture.with_amounts(water=drying.water_at_end_kg(mixture, plan, kitchen.recipe, dried))
    facts = {
        "dried_kg": end.total_kg,
        "wettest_water_activity": dried.curve.water_activity_at(dried.thickest),
    }
    minutes = plan.for_ or (60 * float(dried.hours[1]) if dried.hours is not None else 0.0)
    return State(
        mixture=end,
        temperature_C=before.temperature_C if plan.temperature is None else plan.temperature,
        minutes=minutes,
        facts=facts,
        assumed=dried.assumed,
    )


def _on(before: State, **changes: Any) -> State:
    """Return the state a step leaves that keeps what is in the pack: only its own facts are new."""
    return replace(before, **{"minutes": 0.0, "facts": {}, "assumed": (), **changes})


_STEPS: Mapping[str, Callable[..., State]] = {
    "add": _add,
    "boil": _boil,
    "steep": _steep,
    "drain": _drain,
    "fill": _fill,
    "keep": _keep,
    "heat": _heat,
    "cool": _cool,
    "ferment": _ferment,
    "cure": _cure,
    "cook": _cook,
    "dry": _dry,
}
