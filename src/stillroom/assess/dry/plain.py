"""Judged dryings as plain values, full precision: what machines read."""

from __future__ import annotations

from typing import Any

import numpy as np

from stillroom.assess.dry.judgement import Dried
from stillroom.assess.dry.recipes import DryJudgement
from stillroom.assess.plain import estimate, finding, plain
from stillroom.assess.result import FORMAT
from stillroom.product.drying import FAST, MIDDLE, SLOW

POINTS = 101


def dry_to_dict(j: DryJudgement) -> dict[str, Any]:
    """Return judged dryings as plain values.

    Args:
        j: the judgement.
    """
    return {
        "format": FORMAT,
        "name": j.recipe.name,
        "water_activity": estimate(j.water_activity),
        "dryings": [_dried(one) for one in j.dryings],
        "findings": [finding(f) for f in j.findings],
        "notes": list(j.notes),
    }


def _dried(one: Dried) -> dict[str, Any]:
    d = one.drying
    least, low, high = d.heat_kWh
    return {
        "step": one.number,
        "start_kg": float(d.before.total_kg),
        "end_kg": estimate(one.end_kg),
        "water_removed_kg": d.water_kg,
        "start_moisture_kg_per_kg": d.start,
        "end_moisture_kg_per_kg": d.end,
        "equilibrium_moisture_kg_per_kg": d.equilibrium,
        "thickest_moisture_kg_per_kg": d.thickest,
        "water_activity": one.water_activity,
        "wettest_water_activity": one.wettest_water_activity,
        "centre_water_activity": one.centre_water_activity,
        "air": None if d.air is None else dict(vars(d.air)),
        "hours": None if d.hours is None else plain(d.hours),
        "energy_kWh": {"least": least, "low": low, "high": high},
        "curve": _curve(one),
    }


def _curve(one: Dried) -> dict[str, Any] | None:
    d = one.drying
    if d.hours is None:
        return None
    hours = np.linspace(0.0, float(d.hours[SLOW]), POINTS)
    return {
        "time_h": plain(hours),
        **{
            name: plain(d.moisture_after(hours, pace))
            for name, pace in (
                ("moisture_kg_per_kg", MIDDLE),
                ("moisture_slow", SLOW),
                ("moisture_fast", FAST),
            )
        },
        "water_activity": plain(d.curve.water_activity_at(d.moisture_after(hours))),
    }
