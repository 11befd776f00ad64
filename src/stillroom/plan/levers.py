"""What moves what: every property and margin of a product per unit of what can be changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from stillroom.assess import hazards
from stillroom.assess.heat.judgement import judge as judge_heat
from stillroom.assess.keeping import ROOM_C, YARDSTICK, Situation, treatment
from stillroom.assess.pipeline import make, situation_of
from stillroom.assess.result import Estimate
from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.plan.stack import Lever, levers_of, with_values
from stillroom.product import properties
from stillroom.product.mixture import Mixture
from stillroom.product.process import Batch, run
from stillroom.product.recipe import Recipe
from stillroom.product.sorption import water_activity_of

STACKED = ("add", "steep", "boil")  # steps that take an array; others are run again
HEATED = ("fill", "heat")
NUDGE = {"kg": 0.002, "°C": 0.5, "min": 0.02, "%": 0.25, "": 0.005}  # kg: of the batch; min: of it
TOLD_FOR = {"kg": 0.01, "°C": 1.0, "min": 1.0, "%": 1.0, "": 0.01}  # kg: of the batch
LEAST_MIN = 1.0
Group = Literal["dangerous", "spoiling"]
GROUPS: tuple[Group, ...] = ("dangerous", "spoiling")


@dataclass(frozen=True)
class Effect:
    """What one lever moves.

    Attributes:
        lever: that is moved.
        per: change of the lever that the numbers are told for, in its unit.
        properties: name -> change of the property.
        margins: organism and hurdle -> change of its margin, in the unit of the hurdle.
    """

    lever: Lever
    per: float
    properties: Mapping[str, float]
    margins: Mapping[tuple[str, str], float]


@dataclass(frozen=True)
class Levers:
    """The levers of a recipe.

    Attributes:
        recipe: as it is.
        properties: as it is.
        margins: organism and hurdle -> margin as it is; positive where it is stopped.
        hangs_on: the organism nearest to growing, dangerous and spoiling, and what holds it best.
        effects: of every lever.
        refused: levers that could not be moved, and why.
    """

    recipe: Recipe
    properties: Mapping[str, float]
    margins: Mapping[tuple[str, str], float]
    hangs_on: Mapping[Group, tuple[str, str]]
    effects: tuple[Effect, ...]
    refused: Mapping[str, str]


def levers(recipe: Recipe) -> Levers:
    """Return how much every property and margin moves with what the maker can change.

    Amounts, boils and storage move in one stacked run; what follows a course (drying, a ferment)
    is run once for each.

    Args:
        recipe: to move.

    Raises:
        InputError: a step that cannot be done as the recipe stands.
    """
    made = make(recipe)
    situation = situation_of(
        recipe, made.batch.made.mixture, made.estimates["ph"], made.estimates["water_activity"]
    )
    air = treatment(made.central, None).air
    judge = _Judge(recipe, situation, air)
    every = list(levers_of(recipe))
    batch_kg = sum(recipe.kg(name, amount) for _, name, amount in recipe.parts())
    here = judge.values(recipe, None, heated=True)
    effects: list[Effect] = []
    refused: dict[str, str] = {}
    stacked = [one for one in every if one.verb in STACKED]
    for group in (stacked, *([one] for one in every if one.verb not in STACKED)):
        effects += _moved(judge, group, batch_kg, refused)
    effects.sort(key=lambda e: every.index(e.lever))
    properties_here = {k: float(v) for k, v in here.items() if isinstance(k, str)}
    margins_here = {
        k: float(v) for k, v in here.items() if not isinstance(k, str) and np.isfinite(v)
    }
    return Levers(
        recipe,
        properties_here,
        margins_here,
        _hangs_on(margins_here, situation.organisms()),
        tuple(effects),
        refused,
    )


def _moved(
    judge: _Judge, group: list[Lever], batch_kg: float, refused: dict[str, str]
) -> list[Effect]:
    """Return the effects of levers moved in one run; one by one where that cannot be done."""
    if not group:
        return []
    up = np.array([_size(one, batch_kg, NUDGE) for one in group])
    down = np.array([min(n, one.value) for one, n in zip(group, up, strict=True)])
    present = np.array([one.value for one in group])
    table = np.tile(present, (1 + 2 * len(group), 1))  # as it is, then a pair for each lever
    rows = 1 + 2 * np.arange(len(group))
    table[rows, np.arange(len(group))] -= down
    table[rows + 1, np.arange(len(group))] += up
    try:
        if group[0].verb in STACKED:
            stack = dict(zip(group, table.T, strict=True))
            found = judge.values(with_values(judge.recipe, stack), len(table))
        else:
            each = [
                judge.values(with_values(judge.recipe, {group[0]: float(v)}), None, heated=True)
                for v in table[:, 0]
            ]
            found = {k: np.array([one[k] for one in each]) for k in each[0]}
    except InputError as problem:
        if len(group) == 1:
            refused[group[0].words] = str(problem)
            return []
        return [e for one in group for e in _moved(judge, [one], batch_kg, refused)]
    effects = []
    for n, one in enumerate(group):
        per = _size(one, batch_kg, TOLD_FOR)
        slope = {
            k: float((v[2 + 2 * n] - v[1 + 2 * n]) / (down[n] + up[n]) * per)
            for k, v in found.items()
        }
        effects.append(
            Effect(
                one,
                per,
                {k: s for k, s in slope.items() if isinstance(k, str)},
                {k: s for k, s in slope.items() if not isinstance(k, str) and np.isfinite(s)},
            )
        )
    return effects


def _size(lever: Lever, batch_kg: float, sizes: Mapping[str, float]) -> float:
    size = sizes[lever.unit]
    if lever.unit == "kg":
        return size * batch_kg
    if lever.unit == "min" and sizes is NUDGE:
        return max(size * lever.value, LEAST_MIN)
    return size


@dataclass(frozen=True)
class _Judge:
    """What is looked at in every variant."""

    recipe: Recipe
    situation: Situation
    air: str

    def values(
        self, variant: Recipe, shape: int | None, heated: bool = False
    ) -> dict[str | tuple[str, str], Array]:
        """Return every property, and every margin by organism and hurdle, of each variant."""
        batch = run(variant, None)
        made = _with_shape(batch.made.mixture, shape)
        own = variant.isotherm.curve if variant.isotherm else None
        at_ph = properties.ph(made)
        a_w = water_activity_of(made, isotherm=own)
        found: dict[str | tuple[str, str], Array] = {
            "water_activity": a_w,
            "ph": at_ph,
            "brix": properties.brix(made),
            "salt": 100 * properties.salt_kg(made) / made.total_kg,
            "batch_kg": made.total_kg,
        }
        if heated and self.is_heated:
            found["heat_times"] = np.asarray(self._heat_times(batch, at_ph, a_w))
        return found | self._margins(variant, batch, made, at_ph, a_w, shape)

    @property
    def is_heated(self) -> bool:
        """Whether the pack gets a heat that is asked for something."""
        return any(s.verb in HEATED for s in self.recipe.steps)

    def _heat_times(self, batch: Batch, at_ph: Array, a_w: Array) -> float:
        """Return how many times over the first target of the heat is reached."""
        ph, dry = (Estimate(float(v), float(v), float(v)) for v in (at_ph, a_w))
        heating = judge_heat(batch, ph, dry)
        reached = heating.target("hazard", "spoilage") if heating else None
        return reached.lethality.value / reached.target.minutes if reached else np.nan

    def _margins(
        self, variant: Recipe, batch: Batch, made: Mixture, at_ph: Array, a_w: Array,
        shape: int | None,
    ) -> dict[tuple[str, str], Array]:  # fmt: skip
        who = self.situation.organisms()
        keep = variant.keep()
        temperature = np.asarray(ROOM_C if keep is None else keep.temperature, float)
        doses = {
            acid: properties.undissociated_mmol_per_kg(made, acid, at_ph)
            for acid in self.situation.doses_central
        }
        conditions = hazards.Conditions(
            ph=at_ph,
            water_activity=a_w,
            temperature_C=temperature if shape is None else np.broadcast_to(temperature, (shape,)),
            undissociated_mmol_per_kg=doses,
            humectants=self.situation.humectants,
            air=self.air,
        )
        return {
            (organism.title, hurdle): np.broadcast_to(m, (*at_ph.shape, len(who)))[..., n]
            for hurdle, m in hazards.margins(conditions, who).items()
            for n, organism in enumerate(who)
        }


def _with_shape(mixture: Mixture, shape: int | None) -> Mixture:
    if shape is None:
        return mixture
    return Mixture(np.broadcast_to(mixture.amounts, (shape, mixture.amounts.shape[-1])))


def _hangs_on(
    margins: Mapping[tuple[str, str], float], who: list[hazards.Organism]
) -> dict[Group, tuple[str, str]]:
    """Return the organism of either group nearest to growing, and what holds it best."""
    best: dict[str, tuple[float, str]] = {}
    for (organism, hurdle), margin in margins.items():
        scaled = margin / YARDSTICK[hurdle]
        if organism not in best or scaled > best[organism][0]:
            best[organism] = scaled, hurdle
    found: dict[Group, tuple[str, str]] = {}
    for group in GROUPS:
        mine = [o.title for o in who if (o.group == "pathogen") == (group == "dangerous")]
        near = min((t for t in mine if t in best), key=lambda t: best[t][0], default=None)
        if near is not None:
            found[group] = near, best[near][1]
    return found
