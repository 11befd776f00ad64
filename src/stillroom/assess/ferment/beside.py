"""The same food soured directly with vinegar, beside its ferment: what each costs and leaves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom.assess.ferment.judgement import Content, Fermented, content
from stillroom.assess.ferment.race import SOUR_PH
from stillroom.assess.remedies import DESIGN_PH
from stillroom.product import properties
from stillroom.product.foods import food
from stillroom.product.mixture import Mixture

VINEGAR = "vinegar, distilled (5 % acidity)"
MOST_VINEGAR = 3.0  # kg for a kilogram of food
GRID = 121
DIRECT = (
    "sour at once in the liquor; the middle of a piece only when the acid is there: hours for "
    "shreds, days for whole ones (a `piece` in a steep step tells)",
    "all its sugar is left for yeasts: heat it, preserve it, or keep it cold",
)


@dataclass(frozen=True)
class Way:
    """One way to sour a food.

    Attributes:
        words: what it is.
        hours_to_sour: until all of it is below pH 4.6; None where nobody can tell yet.
        content: what it leaves.
        salt_percent: of the whole.
        water_activity: of the product.
        undissociated_mmol_per_kg: acid -> what works against spoilers.
        added_kg_per_kg: vinegar for a kilogram of food.
        yield_kg_per_kg: product from a kilogram of food.
        remarks: what else tells them apart.
    """

    words: str
    hours_to_sour: float | None
    content: Content
    salt_percent: float
    water_activity: float
    undissociated_mmol_per_kg: dict[str, float]
    added_kg_per_kg: float
    yield_kg_per_kg: float
    remarks: tuple[str, ...]


def ways(first: Fermented, f: Fermented) -> tuple[Way, ...]:
    """Return a lactic ferment, and vinegar to the same pH and to the one that is designed for.

    Args:
        first: the first ferment, followed.
        f: the last one, the same where there is one only.

    Returns:
        The ferment, then vinegar where some amount of it gets there.
    """
    fermented = _way(
        "fermented",
        first.before,
        f.course.mixture[-1][0],
        f.hours_to[SOUR_PH].value,
        0.0,
        (
            f"{f.left.sugar:.1f} % sugar left of {first.start.sugar:.1f} %, for yeasts where air "
            "gets in",
            "a living flora: keep it cold, or heat the closed pack",
            "must be followed: pathogens have hours or days before it is sour",
        ),
    )
    goals = {"the same pH": float(f.course.ph[-1, 0]), f"pH {DESIGN_PH:g}": DESIGN_PH}
    found = [fermented]
    for words, goal in goals.items():
        kg = _vinegar_kg(first.before, goal)
        if kg is not None:
            poured = first.before + food(VINEGAR).mixture() * (kg * float(first.before.total_kg))
            name = f"5 % vinegar to {words}"
            found.append(_way(name, first.before, poured, None, kg, DIRECT))
    return tuple(found)


def _vinegar_kg(before: Mixture, target_ph: float) -> float | None:
    """Return the vinegar for a kilogram of food that brings it to a pH; None: out of reach."""
    total = float(before.total_kg)
    shares = MOST_VINEGAR * np.linspace(0.0, 1.0, GRID) ** 2
    at_ph = properties.ph(before + food(VINEGAR).mixture() * (shares * total))
    if at_ph[-1] > target_ph:
        return None
    return float(np.interp(-target_ph, -at_ph, shares))


def _way(
    words: str,
    before: Mixture,
    after: Mixture,
    hours: float | None,
    added: float,
    remarks: tuple[str, ...],
) -> Way:
    found = content(after)
    return Way(
        words=words,
        hours_to_sour=hours,
        content=found,
        salt_percent=100 * float(properties.salt_kg(after) / after.total_kg),
        water_activity=float(properties.water_activity(after)),
        undissociated_mmol_per_kg={
            a: float(properties.undissociated_mmol_per_kg(after, a, found.ph))
            for a in ("lactic", "acetic")
        },
        added_kg_per_kg=added,
        yield_kg_per_kg=float(after.total_kg / before.total_kg),
        remarks=remarks,
    )
