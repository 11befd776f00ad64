"""Judged heat as plain values, full precision: what machines read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from stillroom.assess.heat.judgement import Heating, Kept, Reached
from stillroom.assess.heat.log import Channel, LogJudgement
from stillroom.assess.heat.resistance import Kill
from stillroom.assess.heat.ways import Way
from stillroom.assess.result import FORMAT
from stillroom.labels import Array
from stillroom.physics.death import Scale

CURVE_STEP_S = 60.0


def heating_to_dict(h: Heating, found: Sequence[Way] = ()) -> dict[str, Any]:
    """Return judged heat as plain values; the curve once a minute.

    Args:
        h: the judged heat.
        found: other processes, where they were looked for.
    """
    plan, course = h.plan, h.course
    return {
        "format": FORMAT,
        "container": plan.container.name,
        "net_kg": plan.net_kg,
        "way": plan.way,
        "why": plan.why,
        "start_C": plan.start_C,
        "legs": [
            {
                "words": leg.words,
                "minutes": leg.seconds / 60,
                "medium_C": list(leg.medium_C),
                "heating": leg.heating,
            }
            for leg in plan.legs
        ],
        "reached": [_reached(r) for r in h.reached],
        "kills": [_kill(k) for k in h.kills],
        "kept": [_kept(k) for k in h.kept],
        "cook_value_min": h.cook_min,
        "share_after_heat_is_off": h.after_off,
        "vacuum_at_most_kPa": h.vacuum_kPa,
        "notes": list(h.notes),
        "curve": _curve(
            course.time_s,
            medium_C=course.medium_C,
            surface_C=course.surface_C[0],
            middle_C=course.centre_C[0],
        ),
        "ways": [_way(w) for w in found],
    }


def log_to_dict(j: LogJudgement) -> dict[str, Any]:
    """Return a judged log as plain values.

    Args:
        j: the judged log.
    """
    return {
        "format": FORMAT,
        "name": j.recipe.name,
        "met": j.met,
        "coldest": j.coldest,
        "reached": [_reached(r) for r in j.reached],
        "channels": [_channel(c, j) for c in j.channels],
        "medium": None if j.medium is None else dict(vars(j.medium)),
        "to_make_good": list(j.to_make_good),
        "notes": list(j.notes),
        "cautions": list(j.cautions),
    }


def _scale(s: Scale) -> dict[str, float]:
    above = s.z_C if s.z_above_C is None else s.z_above_C
    return {"reference_C": s.reference_C, "z_C": s.z_C, "z_above_C": above}


def _reached(r: Reached) -> dict[str, Any]:
    t = r.target
    return {
        "target": t.name,
        "words": t.words,
        "against": t.against,
        "use": t.use,
        "scale": _scale(t.scale),
        "asked_min": t.minutes,
        "lethality_min": r.lethality.value,
        "low_min": r.lethality.low,
        "high_min": r.lethality.high,
        "mass_average_min": r.mass_average_min,
        "verdict": r.verdict,
        "share_of_jars": r.share,
        "note": t.note,
        "source": t.source,
        "provenance": t.provenance,
    }


def _kill(k: Kill) -> dict[str, Any]:
    return {
        "organism": k.organism,
        "stands_for": list(k.stands_for),
        "scale": _scale(k.scale),
        "d_typical_min": k.d_typical_min,
        "d_longest_min": k.d_min,
        "decades": k.decades.value,
        "decades_low": k.decades.low,
        "decades_high": k.decades.high,
        "medium": k.medium,
        "source": k.source,
        "provenance": k.provenance,
    }


def _kept(k: Kept) -> dict[str, Any]:
    return {**vars(k), "scale": _scale(k.scale)}


def _way(w: Way) -> dict[str, Any]:
    kept = {k.item: k.share for k in w.heating.kept} if w.heating else {}
    return {
        "medium_C": w.medium_C,
        "hold_min": w.hold_min,
        "kept": kept,
        "cook_value_min": w.heating.cook_min if w.heating else None,
        "why_not": w.why_not,
    }


def _channel(c: Channel, j: LogJudgement) -> dict[str, Any]:
    p = c.penetration
    return {
        "name": c.name,
        "peak_C": c.peak_C,
        "lethality_min": {
            r.target.name: F for r, F in zip(j.reached, c.lethality_min, strict=True)
        },
        "f_min": p and p.f_min,
        "f_error_min": p and p.f_error_min,
        "j": p and p.j,
        "log10_j_error": p and p.log10_j_error,
        "r_squared": p and p.r_squared,
        "remark": c.remark,
    }


def _curve(time_s: Array, **courses: Array) -> dict[str, list[float]]:
    every = np.arange(0.0, time_s[-1] + 1e-6, CURVE_STEP_S)
    at = {name: np.interp(every, time_s, c).tolist() for name, c in courses.items()}
    return {"time_min": (every / 60).tolist(), **at}
