"""The keeping time of a recipe."""

from __future__ import annotations

from stillroom.assess import keeping
from stillroom.assess.ferment.judgement import ferments
from stillroom.assess.heat.judgement import judge
from stillroom.assess.keep.ending import KeepTimes
from stillroom.assess.keep.times import keep_times_of
from stillroom.assess.pipeline import make, situation_of
from stillroom.product.recipe import Recipe
from stillroom.product.trace import Trace


def keep_times(recipe: Recipe, trace: Trace | None = None, swing_C: float = 0.0) -> KeepTimes:
    """Return what ends a product and when: as declared, after an excursion, and opened.

    Args:
        recipe: with a keep step.
        trace: logged temperatures that stand in the place of the declared one while they last.
        swing_C: daily swing of the declared temperature, coolest to warmest hour.

    Raises:
        InputError: a step that cannot be done or is not computed yet, or no keep step.
    """
    one = make(recipe)
    ph, a_w = one.estimates["ph"], one.estimates["water_activity"]
    how = keeping.treatment(one.central, judge(one.central, ph, a_w))
    situation = situation_of(recipe, one.batch.made.mixture, ph, a_w, ferments(one.central))
    return keep_times_of(one.central, situation, how, trace, swing_C)
