"""Keeping times as plain values, full precision: what machines read."""

from __future__ import annotations

from typing import Any

from stillroom.assess.keep.ending import End, KeepTimes, Kept
from stillroom.assess.pack.plain import packed_to_dict
from stillroom.assess.plain import estimate, plain
from stillroom.assess.result import FORMAT


def keep_times_to_dict(times: KeepTimes) -> dict[str, Any]:
    """Return keeping times as plain values; null days: not within the days looked at.

    Args:
        times: what ends the product.
    """
    return {
        "format": FORMAT,
        "name": times.name,
        "temperature_C": times.temperature_C,
        "days": times.days,
        "pack": times.pack,
        "ph": estimate(times.ph),
        "water_activity": estimate(times.water_activity),
        "acids_mmol_per_kg": {a: list(map(plain, d)) for a, d in times.acids_mmol_per_kg.items()},
        "verdict": times.declared.verdict,
        "kept": [_kept(k) for k in times.kept],
        "packed": packed_to_dict(times.packed) if times.packed else None,
        "notes": list(times.notes),
        "cautions": list(times.cautions),
    }


def _kept(k: Kept) -> dict[str, Any]:
    T = k.history.temperature_C
    return {
        "history": k.history.words,
        "days_looked_at": k.history.days,
        "coldest_C": plain(T.min()),
        "warmest_C": plain(T.max()),
        "opened": k.opened,
        "verdict": k.verdict,
        "earliest_days": plain(k.earliest_days),
        "typical_days": plain(k.typical_days),
        "ends": [_end(e) for e in k.ends],
        "quality": [_end(e) for e in k.quality],
        "not_counted": list(k.watched),
    }


def _end(e: End) -> dict[str, Any]:
    return {name: plain(value) for name, value in vars(e).items()}
