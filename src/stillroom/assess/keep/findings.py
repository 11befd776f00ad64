"""Keeping times as findings: the declared time, an excursion, the opened pack, quality."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom.assess.keep.ending import End, KeepTimes, Kept
from stillroom.assess.result import Finding, Verdict
from stillroom.labels import duration

SUBJECT = "keeping time"
NOTHING = "nothing counted here ends it in the {days} looked at"


def keeping_findings(times: KeepTimes) -> list[Finding]:
    """Return a finding for every history, and one for every change of quality as declared.

    None of them decides how the product keeps: that is the growth table's. An opened pack has no
    declared time, so its finding only tells.

    Args:
        times: what ends the product.
    """
    return [*(_of(k) for k in times.kept), *_quality(times.declared)]


def told(kept: Kept) -> str:
    """Return in words what ends a product in a history."""
    first, days = kept.first, kept.history.days
    if first is None:
        return NOTHING.format(days=in_days(days))
    # another organism may come first by the estimate
    usual = min(kept.ends, key=lambda e: e.typical_days)
    early = f"{first.subject}, at the earliest after {in_days(first.earliest_days)}"
    if kept.typical_days > days:
        return f"{early}; by the estimate not within the {in_days(days)} looked at"
    also = "" if usual is first else f" ({usual.subject})"
    return f"{early}, typically after {in_days(kept.typical_days)}{also}"


def in_days(days: float) -> str:
    """Return a time as people write it."""
    return duration(24 * days)


def _of(kept: Kept) -> Finding:
    first = kept.first
    verdict: Verdict = "pass" if kept.opened else kept.verdict
    remedy = {"cannot tell": "measure it: a storage trial", "pass": ""}.get(
        verdict, "print a shorter time, or change what stops it"
    )
    declared = None if kept.opened else kept.history.days
    return Finding(
        subject=f"{SUBJECT}, {kept.history.words}",
        area="process" if kept.opened or first is None else first.area,
        verdict=verdict,
        reason=told(kept),
        value=first.earliest_days if first else None,
        limit=declared,
        margin=first.earliest_days - declared if first and declared is not None else None,
        unit="days",
        remedy=remedy,
        citation=first.source if first else "",
        provenance=first.provenance if first else "",
    )


def _quality(kept: Kept) -> Iterator[Finding]:
    for e in kept.quality:
        yield Finding(
            subject=f"{SUBJECT}, {e.subject}",
            area="quality",
            verdict="fail" if e.typical_days <= kept.history.days else "cannot tell",
            reason=fades(e),
            value=e.earliest_days,
            limit=kept.history.days,
            margin=e.earliest_days - kept.history.days,
            unit="days",
            citation=e.source,
            provenance=e.provenance,
        )


def fades(e: End) -> str:
    """Return in words what a change of quality comes to."""
    if e.earliest_days == 0:
        return f"{e.end}: {e.reason}"
    usual = "later" if e.typical_days == float("inf") else in_days(e.typical_days)
    return f"{e.end} after {in_days(e.earliest_days)} at the earliest, typically {usual}"
