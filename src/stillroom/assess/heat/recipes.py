"""The heat of a recipe: judged, other processes found for it, held against a log."""

from __future__ import annotations

from collections.abc import Sequence

from stillroom.assess.heat import judgement, log
from stillroom.assess.heat.judgement import Heating
from stillroom.assess.heat.ways import Way, ways
from stillroom.assess.pipeline import make
from stillroom.errors import InputError
from stillroom.product.recipe import Recipe
from stillroom.product.trace import Trace


def heat(recipe: Recipe, jars: int | None = None, seed: int = 1) -> Heating:
    """Return what the heat of a recipe is worth: reached, killed, kept.

    Args:
        recipe: with a hot fill or a heat step.
        jars: how many jars to scatter for the share that meets each target; none by default.
        seed: of the scatter.

    Raises:
        InputError: a step that cannot be done, or no heat at all.
    """
    one = make(recipe)
    ph, a_w = one.estimates["ph"], one.estimates["water_activity"]
    return _some(judgement.judge(one.central, ph, a_w, jars, seed))


def heat_ways(recipe: Recipe, media_C: Sequence[float] = ()) -> list[Way]:
    """Return the shortest process at each of some temperatures that meets every target.

    Args:
        recipe: with a hot fill or a heat step.
        media_C: temperatures of the medium, or of food and container after a hot fill; a spread
            around the process as written by default.

    Raises:
        InputError: no heat, or nothing is asked of it.
    """
    one = make(recipe)
    ph, a_w = one.estimates["ph"], one.estimates["water_activity"]
    return ways(_some(judgement.judge(one.central, ph, a_w)), recipe, ph, a_w, media_C)


def judge_log(trace: Trace, recipe: Recipe) -> log.LogJudgement:
    """Judge a logged run by what its product asks for.

    Args:
        trace: of temperatures.
        recipe: of the product.

    Raises:
        InputError: no probe in the food, or nothing is asked of the heat.
    """
    one = make(recipe)
    ph, a_w = one.estimates["ph"], one.estimates["water_activity"]
    return log.judge_log(trace, recipe, ph, a_w, judgement.judge(one.central, ph, a_w))


def _some(heating: Heating | None) -> Heating:
    if heating is None:
        raise InputError(
            "no closed pack is heated or filled hot: add a heat step, or a temperature to the fill."
        )
    return heating
