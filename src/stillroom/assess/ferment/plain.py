"""Judged ferments as plain values, full precision: what machines read."""

from __future__ import annotations

from typing import Any

import numpy as np

from stillroom.assess.ferment.beside import Way
from stillroom.assess.ferment.judgement import Fermented, Span
from stillroom.assess.ferment.recipes import FermentJudgement
from stillroom.assess.plain import estimate, finding, plain
from stillroom.assess.result import FORMAT
from stillroom.product import fermenting


def ferment_to_dict(j: FermentJudgement) -> dict[str, Any]:
    """Return judged ferments as plain values.

    Args:
        j: the judgement.
    """
    return {
        "format": FORMAT,
        "name": j.recipe.name,
        "ferments": [fermented(f) for f in j.ferments],
        "findings": [finding(f) for f in j.findings],
        "ways": [_way(w) for w in j.ways],
        "notes": list(j.notes),
    }


def fermented(f: Fermented) -> dict[str, Any]:
    """Return one ferment as plain values, with its curve.

    Args:
        f: the ferment, followed.
    """
    c, m = f.course, f.course.mixture[:, 0]
    total = m.total_kg
    percent = {a: 100 * m.kg(a) / total for a in ("lactic", "acetic", "ethanol")}
    return {
        "step": f.number,
        "kind": f.plan.kind,
        "temperature_C": f.plan.temperature,
        "salt_percent": f.salt_percent,
        "water_activity": f.water_activity,
        "hours_to_ph": {str(ph): _span(s) for ph, s in f.hours_to.items()},
        "worth_h": _span(f.worth_h),
        "end_ph": estimate(f.end),
        "lowest_ph": plain(f.lowest_ph),
        "most_acid_percent": f.most_acid_percent,
        "start": dict(vars(f.start)),
        "left": dict(vars(f.left)),
        "gas_kg": f.gas_kg,
        "stopped_by": f.stopped_by,
        "could_grow": [dict(vars(r)) for r in f.runners],
        "curve": {
            "time_h": plain(c.time_h),
            "ph": plain(c.ph[:, 0]),
            "ph_slow": plain(c.ph[:, 1]),
            "ph_fast": plain(c.ph[:, 2]),
            "sugar_percent": plain(np.asarray(100 * m.kg(*fermenting.HEXOSES) / total)),
            **{f"{a}_percent": plain(np.asarray(v)) for a, v in percent.items()},
            "gas_kg": plain(c.gas_kg[:, 0]),
        },
    }


def _span(s: Span) -> dict[str, Any]:
    return {k: plain(v) for k, v in vars(s).items()}


def _way(w: Way) -> dict[str, Any]:
    return {
        **{k: plain(v) for k, v in vars(w).items()},
        "content": dict(vars(w.content)),
        "remarks": list(w.remarks),
    }
