"""What was planned as plain values, full precision: what machines read."""

from __future__ import annotations

from typing import Any

from stillroom.assess.plain import plain
from stillroom.assess.result import FORMAT
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
