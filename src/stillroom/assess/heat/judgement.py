"""What the heat of a packed food is worth: what it reaches, what it leaves, what it costs."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom import tables
from stillroom.assess.hazards import Organism
from stillroom.assess.heat.resistance import (
    Kill,
    class_of,
    kill,
    resistances,
)
from stillroom.assess.heat.targets import (
    BOTULINUM,
    COLD_BOTULINUM,
    COLD_UP_TO_C,
    DRY_WATER_ACTIVITY,
    Target,
    fill_needed_C,
    p90_z_C,
    targets_of,
)
from stillroom.assess.result import Estimate, Verdict
from stillroom.labels import Array
from stillroom.physics import death, heat, phase
from stillroom.physics.death import Scale
from stillroom.product import heat_course, pack_plan
from stillroom.product.heat_course import Course, Scatter
from stillroom.product.pack_plan import Plan
from stillroom.product.process import Batch
from stillroom.product.properties import thermal
from stillroom.product.recipe import Recipe

LITTLE_MIN = 1e-9
COOK = Scale(100.0, 33.0)  # cook value, Mansfield 1962 [memory]

# what is not known exactly: field of Scatter -> (neutral, likely ends, 95 %)
INFLUENCES: Mapping[str, tuple[float, float, float]] = {
    "heating_film": (0.0, -1.0, 1.0),
    "cooling_film": (0.0, -1.0, 1.0),
    "inner_film": (0.0, -1.0, 1.0),
    "conductivity": (1.0, 0.9, 1.1),
    "size": (1.0, 0.97, 1.03),
    "piece": (1.0, 0.95, 1.05),
    "fill": (1.0, 0.97, 1.03),
    "start_C": (0.0, -2.0, 2.0),
    "medium_C": (0.0, -0.5, 0.5),
    "lag": (1.0, 0.9, 1.1),
}


@dataclass(frozen=True)
class Reached:
    """A target and what the pack received.

    Attributes:
        target: asked for.
        lethality: where it is least.
        verdict: of its interval against the target.
        mass_average_min: uniform lethality that would leave as many survivors as the whole pack.
        share: of scattered jars that meet it; None where none were scattered.
    """

    target: Target
    lethality: Estimate
    verdict: Verdict
    mass_average_min: float
    share: float | None = None

    @property
    def low_acid(self) -> bool:
        """Whether only a process authority may set it."""
        return self.target.against == BOTULINUM


@dataclass(frozen=True)
class Kept:
    """What the heat leaves of a vitamin, colour or texture, mean of the pack."""

    item: str
    kind: str
    share: float
    scale: Scale
    d_min: float
    source: str
    provenance: str


@dataclass(frozen=True)
class Heating:
    """The judgement of the heat a pack gets.

    Attributes:
        plan: the pack and its legs.
        course: central, middle and surface over time.
        reached: targets and what was reached.
        kills: what the heat leaves, a row each.
        kept: quality.
        cook_min: cook value, mean of the pack.
        after_off: share of the first target's lethality in the middle that comes after the heat is
            off.
        vacuum_kPa: under the lid when cold, at most; None where nothing is filled hot.
        dry: whether the food is so dry that cells outlive more heat than in wet food.
        fill_needed_C: what a hot fill alone must have after it met the glass, at the estimate and
            at the upper end of the pH; None where the closed pack is heated or the food is dry.
        notes: in words.
    """

    plan: Plan
    course: Course
    reached: tuple[Reached, ...]
    kills: tuple[Kill, ...]
    kept: tuple[Kept, ...]
    cook_min: float
    after_off: float | None
    vacuum_kPa: float | None
    dry: bool
    fill_needed_C: tuple[float, float] | None = None
    notes: tuple[str, ...] = ()

    @property
    def exit_status(self) -> int:
        """0 every target is met, 1 one is not, 3 one may not be or is no more than an estimate."""
        counted = [r for r in self.reached if r.target.use in ("hazard", "spoilage")]
        verdicts = {r.verdict for r in counted} | {self.fill_verdict}
        if "fail" in verdicts:
            return 1
        return 3 if "cannot tell" in verdicts or any(r.low_acid for r in counted) else 0

    @property
    def fill_verdict(self) -> Verdict:
        """Whether a hot fill that is all the heat there is was hot enough for the pH."""
        central, careful = self.fill_needed_C or (0.0, 0.0)
        filled = self.plan.start_C
        return "pass" if filled >= careful else "cannot tell" if filled >= central else "fail"

    def target(self, *uses: str) -> Reached | None:
        """Return the first target of some uses."""
        return next((r for use in uses for r in self.reached if r.target.use == use), None)

    def kill_of(self, organism: Organism) -> Kill | None:
        """Return what the heat does to an organism of the growth table; None where unknown."""
        for name in (organism.name, class_of(organism)):
            for one in self.kills:
                if name in one.stands_for:
                    return one
        return None


# --- the judgement ----------------------------------------------------------------------------


def judge(
    batch: Batch, ph: Estimate, water_activity: Estimate, jars: int | None = None, seed: int = 1
) -> Heating | None:
    """Return what the heat of a batch is worth; None where the pack gets none.

    Args:
        batch: the central one.
        ph: its estimate.
        water_activity: its estimate.
        jars: how many jars to scatter for the share that meets each target; none by default.
        seed: of the scatter.

    Raises:
        InputError: a step that cannot be.
    """
    plan = pack_plan.plan_of(batch)
    return None if plan is None else judge_plan(plan, batch.recipe, ph, water_activity, jars, seed)


def judge_plan(
    plan: Plan,
    recipe: Recipe,
    ph: Estimate,
    water_activity: Estimate,
    jars: int | None = None,
    seed: int = 1,
) -> Heating:
    """Return what the heat of a plan is worth, as judge."""
    p90_z = p90_z_C(recipe)
    asked = targets_of(recipe, ph, water_activity, p90_z)
    standing = resistances(ph.high, water_activity.value, p90_z)
    quality = _quality(recipe)
    scales = list(dict.fromkeys([*(t.scale for t in asked), *(r.scale for r in standing)]))
    own = list(dict.fromkeys([COOK, *(s for _, s, _ in quality)]))
    course = heat_course.run(plan, [*scales, *own], _pairs(plan))
    found = {s: _estimate(course.least_min[:, i]) for i, s in enumerate(scales)}
    inside = {s: course.lethality_min[0, len(scales) + i] for i, s in enumerate(own)}
    shares = _shares(plan, asked, jars, seed) if jars else {}
    everywhere = course.lethality_min[0]
    reached = tuple(
        Reached(
            target=t,
            lethality=found[t.scale],
            verdict=verdict_of(t, found[t.scale]),
            mass_average_min=float(
                death.mass_average_lethality_min(
                    everywhere[scales.index(t.scale)], course.share, t.minutes / t.decades
                )
            ),
            share=shares.get(t),
        )
        for t in asked
    )
    central = replace(
        course,
        centre_C=course.centre_C[:1],
        surface_C=course.surface_C[:1],
        lethality_min=course.lethality_min[:1],
    )
    return Heating(
        plan=plan,
        course=central,
        reached=reached,
        kills=tuple(kill(r, found[r.scale]) for r in standing),
        kept=tuple(
            Kept(
                item=str(r["item"]),
                kind=str(r["kind"]),
                share=float(course.share @ death.fraction_left(inside[s], d)),
                scale=s,
                d_min=d,
                source=str(r["source"]),
                provenance=str(r["provenance"]),
            )
            for r, s, d in quality
        ),
        cook_min=float(course.share @ inside[COOK]),
        after_off=_after_off(central, reached),
        vacuum_kPa=_vacuum_kPa(plan, water_activity.value),
        dry=water_activity.value < DRY_WATER_ACTIVITY,
        fill_needed_C=_fill_needed_C(plan, recipe, ph, asked),
        notes=_notes(plan, recipe, reached),
    )


def least(plan: Plan, asked: Sequence[Target], central: bool = False) -> list[Estimate]:
    """Return the least lethality of a plan on the scale of each target.

    Args:
        plan: the pack and its legs.
        asked: targets.
        central: leave out what is not known: no interval, far quicker.
    """
    scales = [t.scale for t in asked]
    found = heat_course.run(plan, scales, None if central else _pairs(plan)).least_min
    return [_estimate(found[:, i]) for i in range(len(asked))]


def _influences(plan: Plan) -> Mapping[str, tuple[float, float, float]]:
    """Return what matters in a pack."""
    bath = any(leg.heating for leg in plan.legs)
    idle = {
        "lag": plan.given is None,
        "piece": plan.way != "pieces",
        "heating_film": not bath,
        "medium_C": not bath,
    }
    return {name: ends for name, ends in INFLUENCES.items() if not idle.get(name)}


def _pairs(plan: Plan) -> Scatter:
    """Return one pack as planned and a pair for everything that is not known exactly."""
    found = _influences(plan)
    arrays: dict[str, Array] = {}
    for n, (name, (neutral, low, high)) in enumerate(found.items()):
        arrays[name] = np.full(1 + 2 * len(found), neutral)
        arrays[name][1 + 2 * n : 3 + 2 * n] = low, high
    return Scatter(**arrays)


def scattered(plan: Plan, jars: int, seed: int = 1) -> Scatter:
    """Return jars that differ at random, normally, with the likely ends as two deviations.

    Args:
        plan: the pack.
        jars: how many.
        seed: of the random numbers.
    """
    rng = np.random.default_rng(seed)
    return Scatter(
        **{
            name: neutral + (high - low) / 4 * rng.standard_normal(jars)
            for name, (neutral, low, high) in _influences(plan).items()
        }
    )


def _shares(plan: Plan, asked: list[Target], jars: int, seed: int) -> Mapping[Target, float]:
    scales = [t.scale for t in asked]
    found = heat_course.run(plan, scales, scattered(plan, jars, seed)).least_min
    return {t: float(np.mean(found[:, i] >= t.minutes)) for i, t in enumerate(asked)}


def _estimate(samples: Array) -> Estimate:
    """Return a lethality with its interval; the steps add up as squares of their logarithms."""
    value = float(samples[0])
    if value <= LITTLE_MIN:
        return Estimate(value, 0.0, float(samples.max()), "min")
    log = np.log10(np.maximum(samples, LITTLE_MIN))
    pairs = log[1:].reshape(-1, 2) - log[0]
    down = np.sqrt(np.sum(np.minimum(pairs.min(axis=1), 0.0) ** 2))
    up = np.sqrt(np.sum(np.maximum(pairs.max(axis=1), 0.0) ** 2))
    low, high = (float(10 ** (log[0] + step)) for step in (-down, up))
    return Estimate(value, low if low > LITTLE_MIN else 0.0, high, "min")


def verdict_of(target: Target, reached: Estimate) -> Verdict:
    """Return whether a lethality meets a target; None of its interval may fall short to pass."""
    if reached.low >= target.minutes:
        return "pass"
    return "fail" if reached.high < target.minutes and not target.careful_only else "cannot tell"


def _quality(recipe: Recipe) -> list[tuple[tables.Row, Scale, float]]:
    """Return (row, scale, D) of the quality kinetics that speak of foods of the recipe."""
    names = recipe.food_names()
    words = " ".join([*names, *(str(recipe.food(n).row["food"]) for n in names)]).lower()
    found = []
    for r in tables.rows("quality_kinetics"):
        named = [w for w in str(r["foods"]).split(",") if w]
        if named and not any(re.search(rf"\b{w}(s|es)?\b", words) for w in named):
            continue
        z, D = r["z_C"], r["d_min"]
        if z is None:
            z = float(
                death.z_from_activation_energy_C(r["activation_energy_kJ_mol"], r["reference_C"])
            )
        if D is None:
            D = float(death.d_from_rate_constant_min(r["k_per_min"]))
        found.append((r, Scale(r["reference_C"], z), D))
    return found


def _fill_needed_C(
    plan: Plan, recipe: Recipe, ph: Estimate, asked: list[Target]
) -> tuple[float, float] | None:
    keep = recipe.keep()
    cold = keep is not None and keep.temperature <= COLD_UP_TO_C
    filled_hot = not plan.heated and plan.start_C >= pack_plan.HOT_FILL_FROM_C
    if cold or not filled_hot or not any(t.use == "hazard" for t in asked):
        return None
    return fill_needed_C(ph.value), fill_needed_C(ph.high)


def _after_off(course: Course, reached: tuple[Reached, ...]) -> float | None:
    if not reached:
        return None
    F = reached[0].target.scale.minutes(course.time_s, course.centre_C[0])
    off = float(np.interp(course.off_s, course.time_s, F))
    return float(1 - off / F[-1]) if F[-1] > LITTLE_MIN else None


def _vacuum_kPa(plan: Plan, a_w: float) -> float | None:
    if plan.container.family not in ("jar", "bottle") or plan.start_C < pack_plan.HOT_FILL_FROM_C:
        return None
    hot, cold = (
        float(thermal.thermal_property(plan.shares, "density_kg_per_m3", T))
        for T in (plan.start_C, pack_plan.ROOM_C)
    )
    headspace = plan.container.capacity_L / 1000 - plan.net_kg / hot
    if headspace <= 0:
        return None
    shrinkage = plan.net_kg * (1 / hot - 1 / cold)
    return float(
        heat.jar_vacuum_kPa(
            plan.start_C, pack_plan.ROOM_C, plan.pressure_kPa, a_w, headspace, shrinkage
        )
    )


def _notes(plan: Plan, recipe: Recipe, reached: tuple[Reached, ...]) -> tuple[str, ...]:
    notes = [f"heat moves by {plan.way}: {plan.why}", *plan.assumed]
    boiling = float(phase.water_boiling_point_C(plan.pressure_kPa))
    if recipe.made_at.altitude:
        notes.append(f"water boils at {boiling:.1f} °C at {recipe.made_at.altitude:.0f} m")
    if not plan.heated:
        notes.append(f"the lid is taken {plan.lid_below_C:g} °C below the food (common practice)")
    if plan.given and plan.given.j and plan.way == "pieces":
        notes.append("the measured f and j stand for the whole pack, pieces included")
    if any(r.target.against == COLD_BOTULINUM for r in reached):
        z = p90_z_C(recipe)
        notes.append(
            f"z {z:g} °C below 90 °C for non-proteolytic Clostridium botulinum "
            + ("(the stricter of two in print)" if z == 7 else "(as the UK table)")
        )
    return tuple(notes)
