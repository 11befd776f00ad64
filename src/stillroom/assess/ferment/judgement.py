"""What a ferment did: its course with a slow and a fast end, what it reached, what stopped it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from stillroom import tables
from stillroom.assess.ferment.race import SOUR_PH, Runner, hours_to, runners, worth_hours
from stillroom.assess.result import Estimate
from stillroom.labels import Array
from stillroom.physics.ferment import ETHANOL_G_PER_CM3, mass_yield
from stillroom.product import fermenting, properties
from stillroom.product.ferment_course import corrected, follow
from stillroom.product.fermenting import END_PH_ERROR, Correction, Course
from stillroom.product.mixture import Mixture, molar_mass_kg_per_mol
from stillroom.product.process import KILLS_C, LITTLE_SOURED, Batch, Stage
from stillroom.product.recipe import Ferment

# samples: the estimate, the slow end, the fast end. Rates by 40 %, cells by a decade, buffer by
# 40 % (common practice of vegetable buffers); readings leave open what their fit does
OPEN = Correction(
    rate=np.array([1.0, 0.6, 1.6]), start=np.array([1.0, 0.1, 10.0]), buffer=np.array([1, 1.4, 0.7])
)
GOES_ON = 0.005  # share of the sugar that a ferment uses in its last tenth while it goes on
LITTLE_SUGAR = 0.1  # per cent of the food
Stop = Literal["sugar", "acid", "time", "flora", "alcohol"]
GOALS = (5.3, 5.0, SOUR_PH, 4.2)


@dataclass(frozen=True)
class Span:
    """A time with its fast and slow end, hours; inf: not within the ferment."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Content:
    """What is in the food, per cent by mass unless named otherwise."""

    sugar: float
    lactic: float
    acetic: float
    ethanol: float
    ethanol_percent_vol: float
    titratable_acidity: float
    ph: float


@dataclass(frozen=True)
class Fermented:
    """A ferment step, followed.

    Attributes:
        number: of the step.
        plan: of the recipe.
        before: the mixture it starts from.
        course: samples are the estimate, the slow end, the fast end.
        total_h: how long, earlier ferments of its kind included.
        salt_percent: of the water phase.
        water_activity: of the food at the start.
        reached_h: pH -> hours until it is reached, by sample; inf: not within the ferment.
        worth: hours of the rule that the time until pH 4.6, or the end, is worth, by sample.
        end: pH at the end.
        lowest_ph: that all its sugar could bring about, with its buffer.
        most_acid_percent: lactic acid from all its sugar.
        start: content before.
        left: content after, by the estimate.
        gas_kg: carbon dioxide that has left (vinegar: alcohol lost to the air).
        stopped_by: what ended it.
        runners: what could grow meanwhile; lactic ferments.
        worked: whether it, or one it goes on from, used more than a token of the sugar.
        killed: whether heat before has left no flora.
        closed: whether it is in closed packs.
    """

    number: int
    plan: Ferment
    before: Mixture
    course: Course
    total_h: float
    salt_percent: float
    water_activity: float
    reached_h: dict[float, Array]
    worth: Array
    end: Estimate
    lowest_ph: float
    most_acid_percent: float
    start: Content
    left: Content
    gas_kg: float
    stopped_by: Stop
    runners: tuple[Runner, ...]
    worked: bool
    killed: bool = False
    closed: bool = False

    @property
    def hours_to(self) -> dict[float, Span]:
        """PH -> time until it is reached."""
        return {goal: _span(h) for goal, h in self.reached_h.items()}

    @property
    def worth_h(self) -> Span:
        """Hours of the rule that the time until pH 4.6 is worth; inf where it is not reached."""
        return _span(np.where(np.isfinite(self.reached_h[SOUR_PH]), self.worth, np.inf))

    @property
    def least_alcohol(self) -> float:
        """The share of its alcohol that is there at the slow or the fast end."""
        kg = self.course.mixture[-1].kg("ethanol")
        return float(kg.min() / kg[0]) if kg[0] > 0 else 1.0

    @property
    def read(self) -> bool:
        """Whether readings correct it."""
        return bool(self.plan.ph or self.plan.acidity)


def ferments(batch: Batch) -> list[Fermented]:
    """Return every ferment of a batch, followed; one after another counts from the first.

    Args:
        batch: the central one.
    """
    found: list[Fermented] = []
    for n, stage in enumerate(batch.stages):
        if stage.step.ferment is not None:
            before = batch.stages[n - 1]
            same = [f for f in found if f.plan.kind == stage.step.ferment.kind]
            last = same[-1].number if same else 0  # what heat after it leaves does not live
            if same and same[-1].left.ph <= SOUR_PH < float(properties.ph(before.mixture)):
                same = []  # fresh food was added: it has to sour once more
            found.append(
                judge(
                    stage.number,
                    stage.step.ferment,
                    before.mixture,
                    before.cells_g_per_kg,
                    same[-1] if same else None,
                    killed=any(_hot(s) for s in batch.stages[last:n]),
                    closed=before.closed,
                )
            )
    measured = batch.recipe.measured
    if found and measured.ph is not None and found[-1].plan.kind == "lactic":
        half = measured.ph_uncertainty
        end = Estimate(measured.ph, measured.ph - half, measured.ph + half, "", half, "measured")
        found[-1] = replace(found[-1], end=end)
    return found


def judge(
    number: int,
    plan: Ferment,
    before: Mixture,
    cells_g_per_kg: Array | None = None,
    earlier: Fermented | None = None,
    killed: bool = False,
    closed: bool = False,
) -> Fermented:
    """Follow one ferment.

    Args:
        number: of the step.
        plan: of the recipe.
        before: the mixture it starts from, no leading axes.
        cells_g_per_kg: of each lactic flora after an earlier ferment.
        earlier: a ferment of the same kind that it goes on from.
        killed: whether heat before has left no flora.
        closed: whether it is in closed packs.
    """
    cells = None if cells_g_per_kg is None else cells_g_per_kg[:, :1]
    course = follow(before, plan, cells, _open(before, plan, cells))
    a_w = float(properties.water_activity(before))
    lactic = plan.kind == "lactic"
    end, error = float(course.ph[-1, 0]), course.ph_error
    worth = worth_hours(course, plan.temperature, a_w) if lactic else np.zeros(3)
    before_it = earlier.runners if earlier else ()
    running = tuple(runners(course, plan.temperature, a_w, before_it)) if lactic else ()
    reached = {goal: hours_to(course, goal) for goal in GOALS}
    total_h = plan.for_ / 60
    start, left = content(before), content(course.mixture[-1][0])
    worked = max(LITTLE_SUGAR, left.sugar) < (1 - LITTLE_SOURED / 100) * start.sugar
    if earlier is not None:
        worked = worked or earlier.worked
        worth = worth + earlier.worth
        reached = {
            goal: np.where(
                np.isfinite(earlier.reached_h[goal]), earlier.reached_h[goal], h + earlier.total_h
            )
            for goal, h in reached.items()
        }
        total_h += earlier.total_h
    return Fermented(
        number=number,
        plan=plan,
        before=before,
        course=course,
        total_h=total_h,
        salt_percent=float(properties.water_phase_salt_percent(before)),
        water_activity=a_w,
        reached_h=reached,
        worth=worth,
        end=Estimate(end, end - error, end + error, "", error),
        lowest_ph=_lowest_ph(before),
        most_acid_percent=_most_acid(before),
        start=start,
        left=left,
        gas_kg=float(course.gas_kg[-1, 0]),
        stopped_by=_stop(plan, course),
        runners=running,
        worked=worked,
        killed=killed,
        closed=closed,
    )


def _hot(stage: Stage) -> bool:
    """Return whether a step leaves none of the flora that food brings."""
    fill = stage.step.fill
    hot_fill = fill is not None and (fill.temperature or 0.0) >= KILLS_C
    return bool(stage.step.boil or stage.step.heat or hot_fill)


def _open(before: Mixture, plan: Ferment, cells_g_per_kg: Array | None) -> Correction:
    """Return what is not known of a ferment, as the three samples of its course."""
    if plan.kind == "acetic":
        row = tables.row("vinegar", "surface")
        paces = [row[f"{end}percent_per_day"] for end in ("", "slow_", "fast_")]
        return Correction(rate=np.array(paces) / paces[0])
    if plan.ph or plan.acidity:
        found = corrected(before, plan, cells_g_per_kg)
        return found.ends if found.ph_error < END_PH_ERROR else OPEN
    return OPEN


def _span(values: Array) -> Span:
    value, slow, fast = (float(v) for v in values)
    return Span(value, min(value, fast), max(value, slow))


def content(mixture: Mixture) -> Content:
    """Return what a ferment moves.

    Args:
        mixture: no leading axes.
    """
    total = float(mixture.total_kg)
    ethanol = float(mixture.kg("ethanol"))
    litres = total / float(properties.density_g_per_cm3(mixture))
    return Content(
        sugar=100 * float(mixture.kg(*fermenting.HEXOSES)) / total,
        lactic=100 * float(mixture.kg("lactic")) / total,
        acetic=100 * float(mixture.kg("acetic")) / total,
        ethanol=100 * ethanol / total,
        ethanol_percent_vol=100 * ethanol / ETHANOL_G_PER_CM3 / litres,
        titratable_acidity=max(
            float(properties.titratable_acidity_percent(mixture, "lactic")), 0.0
        ),
        ph=float(properties.ph(mixture)),
    )


def _all_soured(mixture: Mixture) -> Array:
    return sum(fermenting.hexose_mol(mixture), np.zeros(()))


def _lowest_ph(mixture: Mixture) -> float:
    hexose, fructose = _all_soured(mixture), fermenting.hexose_mol(mixture)[1]
    return float(properties.ph(fermenting.soured(mixture, {"homolactic": hexose}, 0 * fructose)))


def _most_acid(mixture: Mixture) -> float:
    kg = float(_all_soured(mixture)) * molar_mass_kg_per_mol("glucose")
    return 100 * kg * mass_yield("homolactic", "hexose", "lactic acid") / float(mixture.total_kg)


def _stop(plan: Ferment, course: Course) -> Stop:
    """Return what ended it: what it lives on, what it made, the clock, or no growth at all."""
    end, start = course.mixture[-1][0], course.mixture[0][0]
    total = float(end.total_kg)
    tenth = int(np.searchsorted(course.time_h, 0.9 * course.time_h[-1]))  # the last one
    late, cells = course.mixture[tenth][0], course.cells_g_per_kg[:, :, 0]
    if plan.kind == "acetic":
        if 100 * float(end.kg("ethanol")) / total < LITTLE_SUGAR:
            return "alcohol"
        return "time" if float(late.kg("ethanol") - end.kg("ethanol")) > 1e-9 * total else "acid"
    sugar = [float(m.kg(*fermenting.HEXOSES)) / total for m in (start, late, end)]
    if sugar[0] - sugar[2] < 0.02 * sugar[0]:
        return "time" if cells[:, -1].sum() > cells[:, 0].sum() else "flora"
    if 100 * sugar[2] < LITTLE_SUGAR or sugar[2] < 0.03 * sugar[0]:
        return "sugar"
    growing = plan.kind == "lactic" and np.any(cells[:, -1] > cells[:, tenth])
    if growing or sugar[1] - sugar[2] > GOES_ON * sugar[0]:
        return "time"
    return "alcohol" if plan.kind == "alcoholic" else "acid"
