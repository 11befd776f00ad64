"""What is in a pack: one product, or dry foods that share their water; and their limits of texture.

The limits follow from words of names and from groups of foods.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom import tables
from stillroom.physics.ingress import sealed_mix_water_activity
from stillroom.product.process import Batch
from stillroom.product.recipe import Recipe, Step
from stillroom.product.sorption import Sorption, sorption_of

DRY_BELOW = 0.85  # water activity of parts that share their water when packed together
LEAST_SHARE = 0.05  # of what is packed, for a part to count
LEAST_WATER = 0.01  # of a part; crystals of salt and sugar have none to share
WET_VERBS = ("boil", "steep", "cure", "ferment", "cook", "dry", "drain")
# after which a food has no texture of its own
COOKED_VERBS = ("boil", "steep", "cure", "ferment", "cook")
MAIN_SHARE = 0.2  # of the largest food, for a food to count in the texture of the whole
DRIED = {"fruit, fresh": "fruit, dried"}  # what a drying makes of a group


@dataclass(frozen=True)
class Part:
    """A food in a pack, or all of it.

    Attributes:
        name: how it is called; "" for the whole product.
        words: of its name and foods, in which the limits are looked for.
        groups: of its foods.
        own_water_activity: before it is packed with the others; None for the whole product.
        dry_share: of the dry solids in the pack.
        curve: of its water, at the temperature it is kept at; None for the whole product.
    """

    name: str
    words: str
    groups: frozenset[str]
    own_water_activity: float | None = None
    dry_share: float = 1.0
    curve: Sorption | None = None


def parts_of(batch: Batch) -> tuple[Part, ...]:
    """Return the dry foods that are packed together, or else the product as one.

    Args:
        batch: the recipe carried out, the central one.
    """
    recipe = batch.recipe
    return _mixed(batch) or (Part("", *_whole(recipe, recipe.steps)),)


def _whole(recipe: Recipe, steps: Sequence[Step]) -> tuple[str, frozenset[str]]:
    """Return words and groups of what some steps make."""
    masses = _added(recipe, steps)
    most = max(masses.values(), default=0.0)
    verbs = [s.verb for s in steps]
    dried, cooked = "dry" in verbs, bool(set(verbs) & set(COOKED_VERBS))
    main = [n for n, kg in masses.items() if kg > MAIN_SHARE * most and (dried or not cooked)]
    foods = [str(recipe.food(n).row["food"]) for n in main]
    groups = {recipe.food(n).group for n in main}
    words = " ".join([recipe.name, recipe.kind or "", *main, *foods]).lower()
    return words, frozenset(DRIED.get(g, g) if dried else g for g in groups)


def _mixed(batch: Batch) -> tuple[Part, ...]:
    """Return what was dry before it was packed with other dry foods; none where it was not."""
    recipe, plan = batch.recipe, batch.recipe.keep()
    T = plan.temperature if plan else 20.0
    wet = [s for s in batch.stages if s.step.verb in WET_VERBS and not s.closed]
    last = wet[-1].number if wet else 0
    isotherm = recipe.isotherm.curve if recipe.isotherm else None
    found = []
    if wet:
        words, groups = _whole(recipe, recipe.steps[:last])
        found.append((recipe.name, words, groups, wet[-1].mixture, isotherm))
    for name, kg in _added(recipe, recipe.steps[last:]).items():
        one = recipe.food(name)
        words = f"{name} {one.row['food']}".lower()
        found.append((name, words, frozenset({one.group}), one.mixture() * kg, None))
    total = sum(float(m.total_kg) for _, _, _, m, _ in found)
    parts = []
    for name, words, groups, mixture, curve in found:
        kg, water = float(mixture.total_kg), float(mixture.kg("water"))
        if kg < LEAST_SHARE * total or water < LEAST_WATER * kg:
            continue
        own = sorption_of(mixture, T, curve)
        a_w = float(own.water_activity_at(water / own.dry_kg))
        parts.append((Part(name, words, groups, a_w, curve=own), float(own.dry_kg)))
    if len(parts) < 2 or any((p.own_water_activity or 1.0) >= DRY_BELOW for p, _ in parts):
        return ()
    dry = sum(kg for _, kg in parts)
    return tuple(replace(p, dry_share=kg / dry) for p, kg in parts)


def _added(recipe: Recipe, steps: Sequence[Step]) -> dict[str, float]:
    """Return the kilograms of each food that goes in in some steps."""
    masses: dict[str, float] = {}
    for step in steps:
        liquor = step.steep.liquor if step.steep else {}
        for name, amount in {**(step.add or {}), **liquor}.items():
            masses[name] = masses.get(name, 0.0) + recipe.kg(name, amount)
    return masses


def shared_water_activity(parts: Sequence[Part]) -> float | None:
    """Return what the parts come to by the balance of their own curves; None for one product."""
    known = [(p.dry_share, p.own_water_activity, p.curve.moisture_at) for p in parts if p.curve]
    if not known:
        return None
    solids, own, curves = zip(*known, strict=True)
    return float(sealed_mix_water_activity(np.array(solids), np.array(own, float), curves))


# --- limits of texture --------------------------------------------------------------------


def limits_of(part: Part) -> list[tables.Row]:
    """Return the limits of texture that hold for a part; a crisp fruit is a crisp.

    Args:
        part: of the pack, or all of it.
    """
    rows = tables.rows("critical_water_activity")
    named = [
        r for r in rows
        if r["words"] and re.search(rf"\b({'|'.join(_words(r))})(s|es)?\b", part.words)
    ]  # fmt: skip
    return named or [r for r in rows if r["groups"] and set(_groups(r)) & part.groups]


def _words(row: tables.Row) -> list[str]:
    return str(row["words"]).split(";")


def _groups(row: tables.Row) -> list[str]:
    return str(row["groups"]).split(";")
