"""A recipe carried out: the mixture after every step."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.physics import diffusion, phase
from stillroom.product import properties, steps
from stillroom.product.mixture import Mixture, of_kind
from stillroom.product.recipe import Boil, Drain, Fill, Piece, Recipe, Steep, Step

ASSUMED_BOIL_MIN = 20.0  # common practice where a recipe does not say
UNCOMPUTED = {
    "heat": "what the middle of the pack receives",
    "ferment": "how far the ferment goes",
    "dry": "how the food dries",
}
# effective diffusivity in tissue over that in water, slow side (common practice: raw 0.1-0.4 for
# the first day, blanched 0.4-0.7)
TISSUE = {"raw": 0.1, "blanched": 0.4}
PIECE_SHAPES: Mapping[str, diffusion.Shape] = {
    "slab": "slab",
    "cylinder": "infinite_cylinder",
    "sphere": "sphere",
}


@dataclass(frozen=True)
class Stage:
    """The product after a step.

    Attributes:
        number: of the step, from 1.
        step: the step itself.
        mixture: everything in the batch.
        temperature_C: at the end of the step.
        minutes: that the step took, where it is known.
        pieces: the solid pieces, where pieces lie in a liquor.
        liquor: the liquor around them.
        facts: figures of the step worth showing (steam, inverted share, packs ...).
        assumed: what was assumed, in words.
    """

    number: int
    step: Step
    mixture: Mixture
    temperature_C: float
    minutes: float = 0.0
    pieces: Mixture | None = None
    liquor: Mixture | None = None
    facts: Mapping[str, Array] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()


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

    def of(self, verb: str) -> list[Stage]:
        """Return the stages of a verb."""
        return [s for s in self.stages if s.step.verb == verb]


@dataclass(frozen=True)
class _Kettle:
    """What a step finds and leaves."""

    mixture: Mixture
    temperature_C: float = 20.0
    pieces: Mixture | None = None
    liquor: Mixture | None = None


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
    kettle, stages = _Kettle(Mixture.nothing()), []
    for number, step in enumerate(recipe.steps, start=1):
        try:
            if step.verb != "add" and not np.any(kettle.mixture.amounts):
                raise InputError("there is nothing in the kettle yet; start with an `add` step.")
            stage = _STEPS[step.verb](kettle, step, number, recipe, one_kg, pressure)
            _check(stage, kettle.mixture)
        except InputError as problem:
            raise InputError(f"step {number}, {step.verb}: {problem}") from None
        stages.append(stage)
        kettle = _Kettle(stage.mixture, stage.temperature_C, stage.pieces, stage.liquor)
    return Batch(recipe, tuple(stages))


def _check(stage: Stage, before: Mixture) -> None:
    if np.any(stage.mixture.kg("water") <= 0):
        raise InputError("no water is left in the mix.")
    if stage.step.boil and np.any(stage.mixture.kg("water") < 0.02 * before.kg("water")):
        raise InputError(
            "the end point asks for less than a fiftieth of the water: too little is dissolved in "
            "the mix to reach it."
        )
    acid = stage.mixture.kg(*of_kind("acid"))
    if np.any(acid > stage.mixture.kg("water")):
        raise InputError("there is more acid than water in the mix; check the amounts.")


def _blend(amounts: Mapping[str, float], recipe: Recipe, one_kg: Mapping[str, Mixture]) -> Mixture:
    return sum(
        (one_kg[name] * recipe.kg(name, amount) for name, amount in amounts.items()),
        Mixture.nothing(),
    )


def _add(
    kettle: _Kettle,
    step: Step,
    number: int,
    recipe: Recipe,
    one_kg: Mapping[str, Mixture],
    _: float,
) -> Stage:
    assert step.add is not None
    mixture = kettle.mixture + _blend(step.add, recipe, one_kg)
    return Stage(number, step, mixture, kettle.temperature_C)


def _boil(
    kettle: _Kettle,
    step: Step,
    number: int,
    recipe: Recipe,
    one_kg: Mapping[str, Mixture],
    pressure: float,
) -> Stage:
    assert step.boil is not None
    plan, assumed = step.boil, []
    end = _boil_end(plan, kettle.mixture, pressure)
    minutes = plan.for_
    if minutes is None and plan.evaporation:
        lost = float(np.mean(kettle.mixture.kg("water") - end(kettle.mixture)))
        minutes = 60 * lost / plan.evaporation
    if minutes is None:
        minutes = ASSUMED_BOIL_MIN
        assumed.append(
            f"boiled for {minutes:g} min (no time given; it governs the inversion of sugar)"
        )
    boiled = steps.boil(kettle.mixture, end, minutes, pressure)
    facts = {
        "steam_kg": boiled.steam_kg,
        "boil_end_C": boiled.end_temperature_C,
        "inverted_percent": 100 * boiled.inverted_fraction,
    }
    end_C = float(np.mean(boiled.end_temperature_C))
    return Stage(number, step, boiled.mixture, end_C, minutes, facts=facts, assumed=tuple(assumed))


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


def _steep(
    kettle: _Kettle,
    step: Step,
    number: int,
    recipe: Recipe,
    one_kg: Mapping[str, Mixture],
    _: float,
) -> Stage:
    assert step.steep is not None
    plan = step.steep
    liquor = _blend(plan.liquor, recipe, one_kg)
    pieces, around = steps.steep(kettle.mixture, liquor)
    mixture = kettle.mixture + liquor
    facts = {"steeped_minutes": np.asarray(plan.for_)} if plan.for_ is not None else {}
    if plan.piece is not None:
        facts["middle_90_percent_hours"] = _hours_to_middle(plan, plan.piece, pieces, around)
    return Stage(number, step, mixture, plan.temperature, plan.for_ or 0.0, pieces, around, facts)


def _hours_to_middle(plan: Steep, piece: Piece, pieces: Mixture, liquor: Mixture) -> Array:
    """Return hours until the middle of a piece has 90 % of its final salt, sugar and acid.

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
    D = diffusion.diffusivity_at_temperature(slowest * TISSUE[piece.tissue], plan.temperature)
    ratio = float(np.mean(liquor.kg("water") / pieces.kg("water")))
    fo = diffusion.fourier_for_uptake(0.9, PIECE_SHAPES[piece.shape], "centre", round(ratio, 2))
    return fo * piece.half_size_m**2 / D / 3600


def _drain(
    kettle: _Kettle,
    step: Step,
    number: int,
    recipe: Recipe,
    one_kg: Mapping[str, Mixture],
    _: float,
) -> Stage:
    plan: Drain | None = step.drain
    assert plan is not None
    if plan.liquid is not None:
        stays, gone = steps.pour_off(kettle.mixture, plan.liquid)
    elif kettle.pieces is None or kettle.liquor is None:
        raise InputError(
            "there are no pieces in a liquor to drain; use `steep` before, or liquid = ..."
        )
    else:
        both = (kettle.pieces, kettle.liquor)
        stays, gone = both if plan.keep == "pieces" else both[::-1]
    return Stage(number, step, stays, kettle.temperature_C, facts={"drained_kg": gone.total_kg})


def _fill(
    kettle: _Kettle,
    step: Step,
    number: int,
    recipe: Recipe,
    one_kg: Mapping[str, Mixture],
    _: float,
) -> Stage:
    plan: Fill | None = step.fill
    assert plan is not None
    density = properties.density_g_per_cm3(kettle.mixture)
    brimful = plan.capacity_L * density
    net = np.asarray(plan.net) if plan.net else 0.92 * brimful  # some 8 % of headspace
    if np.any(net > brimful * 1.0001):
        raise InputError(
            f"{float(np.max(net)) * 1000:.0f} g do not go into {plan.container!r}: it holds "
            f"{float(np.min(brimful)) * 1000:.0f} g of this product to the brim."
        )
    facts = {"net_kg": net, "packs": kettle.mixture.total_kg / net, "density_g_per_cm3": density}
    temperature = kettle.temperature_C if plan.temperature is None else plan.temperature
    return Stage(
        number, step, kettle.mixture, temperature, 0.0, kettle.pieces, kettle.liquor, facts
    )


def _keep(
    kettle: _Kettle,
    step: Step,
    number: int,
    recipe: Recipe,
    one_kg: Mapping[str, Mixture],
    _: float,
) -> Stage:
    plan = step.keep
    assert plan is not None
    kept = steps.keep(kettle.mixture, plan.temperature, plan.for_)
    before = kettle.mixture.kg("sucrose")
    lost = np.where(before > 0, 1 - kept.kg("sucrose") / np.where(before > 0, before, 1), 0.0)
    facts = {"inverted_percent": 100 * lost}
    return Stage(
        number, step, kept, plan.temperature, plan.for_, kettle.pieces, kettle.liquor, facts
    )


def _recorded(
    kettle: _Kettle,
    step: Step,
    number: int,
    recipe: Recipe,
    one_kg: Mapping[str, Mixture],
    _: float,
) -> Stage:
    assumed = (f"recorded; {UNCOMPUTED[step.verb]} is not computed yet",)
    return Stage(
        number,
        step,
        kettle.mixture,
        kettle.temperature_C,
        0.0,
        kettle.pieces,
        kettle.liquor,
        assumed=assumed,
    )


_STEPS: Mapping[str, Callable[..., Stage]] = {
    "add": _add,
    "boil": _boil,
    "steep": _steep,
    "drain": _drain,
    "fill": _fill,
    "keep": _keep,
    "heat": _recorded,
    "ferment": _recorded,
    "dry": _recorded,
}
