"""The race between the acid of a ferment and what could grow before the acid holds it.

Trade practice asks a vegetable ferment to pass pH 4.6 within three days at 18-22 °C. A colder,
warmer, saltier or sooner acid ferment gives a pathogen less or more; so what it could grow until pH
4.6 is weighed against what it could grow in a ferment that just meets the rule.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom.assess import hazards, rates
from stillroom.assess.hazards import Conditions
from stillroom.labels import Array
from stillroom.physics import kinetics
from stillroom.product import properties
from stillroom.product.fermenting import Course

SOUR_PH = 4.6
RULE_H = 72.0  # common practice
RULE_C, RULE_WATER_ACTIVITY, RULE_START_PH = 20.0, 0.987, 6.0  # 2.2 % salt in the water phase
INFECTS = ("Escherichia coli pathogenic", "Salmonella spp.", "Listeria monocytogenes")
RACERS = (*INFECTS, "Staphylococcus aureus")
WEIGHED = INFECTS
START, MOST, LAG_H0 = 1.0, 9.0, 2.0  # log10 per g; work before growth of vegetative cells
FULL_G_PER_KG = 0.1  # dry cells of a flora that fills the food, 10^8.5 per g
IN_RAW_FOOD = 0.5  # rates of broth overpredict raw food two to three times (Tamplin 2002, beef)
SLOW, TYPICAL = 1, 0  # samples of a course


@dataclass(frozen=True)
class Runner:
    """What an organism could grow while a ferment sours.

    Attributes:
        organism: of the growth table.
        alone: decades, were it alone, with no lag, in the slow course.
        beside: decades beside the flora that fills the food, with a lag, by the estimate.
        potentials: what both rest on, natural logarithms.
        source: of its rates.
        provenance: of its rates.
    """

    organism: str
    alone: float
    beside: float
    potentials: tuple[float, float]
    source: str
    provenance: str


def runners(
    course: Course, temperature_C: float, water_activity: float, earlier: Sequence[Runner] = ()
) -> list[Runner]:
    """Return what each organism could grow in the whole ferment, or since the first of several.

    Args:
        course: with the samples TYPICAL and SLOW.
        temperature_C: of the ferment.
        water_activity: of the food.
        earlier: what they could grow in the ferment before.
    """
    cells = course.cells_g_per_kg.sum(axis=0)[:, TYPICAL]
    room = np.clip(1 - cells / max(float(cells.max()), FULL_G_PER_KG), 0.0, 1.0)
    found = []
    for n, organism in enumerate(RACERS):
        one = _rates_of(organism)
        rate = _rate(one, course, temperature_C, water_activity)
        slowed = IN_RAW_FOOD * rate[:, TYPICAL] * room
        both = kinetics.growth_potential(course.time_h, np.stack([rate[:, SLOW], slowed]))[:, -1]
        both = both + np.array(earlier[n].potentials if earlier else (0.0, 0.0))
        alone, beside = kinetics.log10_count(both, START, MOST, np.array([0.0, LAG_H0])) - START
        potentials = (float(both[0]), float(both[1]))
        told = (str(one.row["source"]), str(one.row["provenance"]))
        found.append(Runner(organism, float(alone), float(beside), potentials, *told))
    return found


def _rates_of(organism: str) -> rates.RateSet:
    """Return the careful rates, which stop no sooner in salt than the growth table does."""
    one = rates.rate_set(organism)
    if one.row["aw_min"] is None:
        return one
    lowest = (o.aw_min for o in _growing(organism) if o.aw_min is not None)
    return replace(one, row={**one.row, "aw_min": min(one.row["aw_min"], *lowest)})


def _growing(organism: str) -> list[hazards.Organism]:
    return [o for o in hazards.named(organism) if o.limit_for == "growth"]


def _rate(one: rates.RateSet, course: Course, temperature_C: float, a_w: float) -> Array:
    """Return the rate at every time and sample; the limits of the growth table rule over it."""
    mixture, ph = course.mixture, course.ph
    doses = {a: properties.undissociated_mmol_per_kg(mixture, a, ph) for a in ("lactic", "acetic")}
    found = Conditions(ph, np.full(ph.shape, a_w), np.full(ph.shape, temperature_C), doses)
    stopped = hazards.stopped(found, _growing(one.organism), together=False).all(axis=-1)
    rate = one.rate_per_h(temperature_C, ph, a_w, doses["lactic"])
    return np.where(stopped, 0.0, rate)


def worth_hours(course: Course, temperature_C: float, water_activity: float) -> Array:
    """Return how many hours of the rule the time until pH 4.6, or the end, is worth, by sample.

    Args:
        course: of the ferment.
        temperature_C: of the ferment.
        water_activity: of the food.

    Returns:
        Hours; the worst organism counts.
    """
    before = np.cumsum(course.ph <= SOUR_PH, axis=0) == 0
    rule_h = np.linspace(0.0, RULE_H, 145)
    rule_ph = np.linspace(RULE_START_PH, SOUR_PH, rule_h.size)
    worst = np.zeros(course.ph.shape[1])
    for organism in WEIGHED:
        one = _rates_of(organism)
        rate = np.where(before, _rate(one, course, temperature_C, water_activity), 0.0)
        here = kinetics.growth_potential(course.time_h, rate.T)[:, -1]
        rule = one.rate_per_h(RULE_C, rule_ph, RULE_WATER_ACTIVITY)
        worst = np.maximum(worst, RULE_H * here / kinetics.growth_potential(rule_h, rule)[-1])
    return worst


def hours_to(course: Course, ph: float) -> Array:
    """Return hours until a pH is reached, by sample; inf where it is not.

    Args:
        course: of the ferment.
        ph: wanted.
    """
    return np.array([_first(course.time_h, one, ph) for one in course.ph.T])


def _first(time_h: Sequence[float] | Array, ph: Array, wanted: float) -> float:
    below = np.flatnonzero(ph <= wanted)
    if not below.size:
        return np.inf
    n = int(below[0])
    if n == 0:
        return 0.0
    return float(np.interp(-wanted, -ph[n - 1 : n + 1], np.asarray(time_h)[n - 1 : n + 1]))
