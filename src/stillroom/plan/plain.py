"""What was planned as plain values, full precision: what machines read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from stillroom.assess.plain import plain
from stillroom.assess.result import FORMAT
from stillroom.plan.levers import Levers
from stillroom.plan.population import Passing, Population
from stillroom.plan.routes import Routes


def routes_to_dict(r: Routes) -> dict[str, Any]:
    """Return compared ways as plain values.

    Args:
        r: the comparison.
    """
    return {
        "format": FORMAT,
        "name": r.recipe.name,
        "water_activity": r.water_activity,
        "foods": list(r.foods),
        "batch_kg": r.batch_kg,
        "portion_kg": r.portion_kg,
        "routes": [{k: plain(v) for k, v in vars(one).items()} for one in r.routes],
        "sweeps": [{k: plain(v) for k, v in vars(one).items()} for one in r.sweeps],
        "assumed": list(r.assumed),
    }


def levers_to_dict(found: Levers) -> dict[str, Any]:
    """Return levers as plain values.

    Args:
        found: the levers of a recipe.
    """
    return {
        "format": FORMAT,
        "name": found.recipe.name,
        "properties": {k: plain(v) for k, v in found.properties.items()},
        "margins": _margins(found.margins),
        "hangs_on": {
            group: {"organism": o, "hurdle": h} for group, (o, h) in found.hangs_on.items()
        },
        "levers": [
            {
                "step": e.lever.step,
                "verb": e.lever.verb,
                "what": e.lever.key.rstrip("_"),
                "value": e.lever.value,
                "unit": e.lever.unit,
                "per": e.per,
                "properties": {k: plain(v) for k, v in e.properties.items()},
                "margins": _margins(e.margins),
            }
            for e in found.effects
        ],
        "refused": dict(found.refused),
    }


def _margins(margins: Mapping[tuple[str, str], float]) -> list[dict[str, Any]]:
    return [{"organism": o, "hurdle": h, "margin": plain(m)} for (o, h), m in margins.items()]


def population_to_dict(p: Population) -> dict[str, Any]:
    """Return many batches as plain values.

    Args:
        p: the batches.
    """
    return {
        "format": FORMAT,
        "name": p.recipe.name,
        "batches": p.batches,
        "seed": p.seed,
        "every_danger_held": _passing(p.every_danger),
        "everything_held": _passing(p.everything),
        "organisms": [_passing(one) for one in p.passing],
        "properties": [
            {**vars(s), "quantiles": list(s.quantiles), "causes": dict(s.causes)}
            for s in p.properties
        ],
        "jars_by_counting": p.by_counting,
        "sources": [
            {
                "what": s.words,
                "kind": s.kind,
                "centre": s.centre,
                "sd_below": s.below,
                "sd_above": s.above,
                "source": s.origin,
            }
            for s in p.sources
        ],
        "notes": list(p.notes),
    }


def _passing(one: Passing) -> dict[str, Any]:
    return {k: plain(v) for k, v in vars(one).items()}
