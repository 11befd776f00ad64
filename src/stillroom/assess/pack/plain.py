"""A pack as plain values, full precision: what machines read."""

from __future__ import annotations

from typing import Any

from stillroom.assess.pack.limits import Crossing, Packed
from stillroom.assess.plain import plain
from stillroom.labels import Array


def packed_to_dict(packed: Packed) -> dict[str, Any]:
    """Return a packed product as plain values; null days: never in this room.

    Args:
        packed: the product in its pack.
    """
    course = packed.course
    pack, barrier = course.pack, course.pack.barrier
    return {
        "film": barrier.named if barrier else None,
        "area_m2": barrier.area_m2 if barrier else None,
        "wvtr_g_per_m2_day": plain(barrier.wvtr_g_per_m2_day) if barrier else None,
        "dry_solids_g": plain(pack.dry_g),
        "gained_g": _three(course.gained_g[:, -1]),
        "days": plain(course.days),
        "water_activity": _three(course.band),
        "parts": [
            {
                "food": p.name,
                "water_activity_before": p.own_water_activity,
                "share_of_dry_solids": p.dry_share,
            }
            for p in packed.parts
            if packed.mixed
        ],
        "shared_water_activity": packed.shared,
        "limits": [_crossing(c) for c in packed.crossings],
        "sources": [f"{x.named}: {x.source}" for x in barrier.layers] if barrier else [],
        "assumed": list(pack.remarks),
    }


def _three(band: Array) -> dict[str, Any]:
    return dict(zip(("low", "middle", "high"), map(plain, band), strict=True))


def _crossing(c: Crossing) -> dict[str, Any]:
    known = {name: plain(value) for name, value in vars(c).items() if name != "moved"}
    return {
        "subject": c.subject,
        "verdict": c.verdict,
        **known,
        "typical_days_with": {words: plain(days) for words, days in c.moved.items()},
    }
