"""What happens in a pack, as findings: texture, mixed parts, and what begins to grow in it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from stillroom.assess.keep.ending import End, Kept
from stillroom.assess.keep.findings import in_days
from stillroom.assess.keeping import Judgement
from stillroom.assess.pack.limits import Crossing, Packed, limit_words
from stillroom.assess.result import Finding, Outcome, Verdict

SUBJECT = "in its pack"
BOTH_WAYS = (
    "a part that loses water holds more than one that takes it up at the same water activity, so "
    "the shared one is good to a few hundredths: measure it after two weeks in the pack"
)
WORSE: Mapping[Verdict, int] = {"pass": 0, "cannot tell": 1, "fail": 2}
WEIGHED_DAYS = 30.0
TIGHTER = "a tighter film, a drier room, or food packed drier"


def growth(kept: Kept, as_packed: Sequence[Finding]) -> list[Finding]:
    """Return what ends a product in its pack and is not told as sure of it when it is closed.

    Args:
        kept: the product in its pack for the declared time.
        as_packed: findings of the growth table for the product when it is closed.
    """
    before = {f"{SUBJECT}: {f.subject}": f.verdict for f in as_packed}
    found = [_growing(e, kept.history.days) for e in kept.ends if e.area != "quality"]
    return [f for f in found if WORSE[f.verdict] > WORSE[before.get(f.subject, "pass")]]


def _growing(e: End, days: float) -> Finding:
    verdict: Verdict = "fail" if e.typical_days <= days else "cannot tell"
    usual = f", typically after {in_days(e.typical_days)}" if e.typical_days <= days else ""
    return Finding(
        subject=f"{SUBJECT}: {e.subject}",
        area=e.area,
        verdict=verdict,
        reason=f"{e.end}, at the earliest after {in_days(e.earliest_days)}{usual}: {e.reason}",
        value=e.earliest_days,
        limit=days,
        margin=e.earliest_days - days,
        unit="days",
        remedy=TIGHTER,
        citation="; ".join(filter(None, [e.source, e.limits])),
        provenance=e.provenance,
        decides=True,
    )


def quality(packed: Packed) -> Iterator[Finding]:
    """Yield what a pack does to the water and the texture of a product, and to each part.

    Args:
        packed: the product in its pack.
    """
    course = packed.course
    if packed.mixed:
        start = float(course.band[1, 0])
        for p in packed.parts:
            own = p.own_water_activity or start
            way = "takes up water" if own < start else "gives water off"
            yield Finding(
                subject=f"{SUBJECT}: {p.name}",
                area="process",
                verdict="pass",
                reason=f"water activity {own:.2f} on its own, {start:.2f} with the others "
                f"({packed.shared:.2f} by the balance of the parts): it {way}; {BOTH_WAYS}",
                value=start,
                uncertainty=float(course.band[2, 0] - course.band[0, 0]) / 2,
                citation="balance of water",
                provenance="computed",
            )
    yield from (_crossing(c) for c in packed.crossings)


def _crossing(c: Crossing) -> Finding:
    reached = c.earliest_days < float("inf")
    return Finding(
        subject=f"{SUBJECT}: {c.subject}",
        area="quality",
        verdict=c.verdict,
        reason=told(c),
        value=c.earliest_days if reached else None,
        limit=c.days if reached else None,
        margin=c.earliest_days - c.days if reached else None,
        unit="days",
        remedy=film_remedy(c),
        citation=c.source,
        provenance=c.provenance,
    )


def told(c: Crossing) -> str:
    """Return in words when a pack comes to a limit."""
    where = f"water activity {limit_words(c)}"
    if c.earliest_days == float("inf"):
        return f"never reaches {where} in this room"
    if c.typical_days == 0:
        return f"there from the start: {where}, and it has {c.start:.2f} when packed"
    early = "perhaps from the start" if c.earliest_days == 0 else (
        f"after {in_days(c.earliest_days)} at the earliest"
    )  # fmt: skip
    usual = in_days(c.typical_days) if c.typical_days < float("inf") else "never"
    return f"{where} {early}, typically {usual}"


def film_remedy(c: Crossing) -> str:
    """Return what would hold a texture for the declared time, "" where nothing has to."""
    if c.verdict == "pass":
        return ""
    if c.film_at_most is not None:
        return (
            f"a film that lets through {c.film_at_most:.2g} g/(m² d) at 38 °C and 90 % at most, at "
            "the upper end of its range"
        )
    if c.earliest_days > 0:
        return "close its holes: no film would hold it with them"
    apart = f", or {c.part} apart from the others" if c.part else ""
    return f"pack it {'drier' if c.rising else 'moister'}{apart}"


def to_measure(packed: Packed | None) -> tuple[str, ...]:
    """Return what to weigh: nothing where no water passes.

    Args:
        packed: the product in its pack.
    """
    if packed is None or packed.course.pack.barrier is None:
        return ()
    course = packed.course
    days = min(WEIGHED_DAYS, course.declared_days)
    low, middle, high = (float(np.interp(days, course.days, g)) for g in course.gained_g)
    return (
        f"weigh ten packs for {in_days(days)} in the room: predicted {middle:+.2g} g each, between "
        f"{low:+.2g} and {high:+.2g}",
    )


def join(
    judgement: Judgement, growing: Sequence[Finding], packed: Packed | None
) -> tuple[Judgement, tuple[str, ...]]:
    """Return the judgement of a product with what its pack does to it, and what would help.

    Growth in the pack decides as growth does; so does a texture that is lost within the declared
    time, though it harms nobody.

    Args:
        judgement: of the product as packed.
        growing: findings of `growth`.
        packed: the product in its pack.
    """
    textures = packed.textures if packed else ()
    lost = [_crossing(c) for c in textures if c.verdict == "fail"]
    failing = [f for f in growing if f.verdict == "fail"]
    first = next(iter([f for f in failing if f.area == "hazard"] or failing or lost), None)
    if first is not None:
        harmless = "" if failing else "; nothing dangerous comes of it"
        reason = f"{first.subject}: {first.reason}{harmless}"
        if judgement.as_declared is False and judgement.outcome is not Outcome.COLD:
            return judgement, (first.remedy,)
        return Judgement(Outcome.NOT, reason, False), (first.remedy,)
    if growing and judgement.as_declared:
        reason = f"{growing[0].subject}: {growing[0].reason}"
        return replace(judgement, outcome=Outcome.UNKNOWN, reason=reason, as_declared=None), (
            growing[0].remedy,
        )
    return judgement, ()
