"""Which organism or change ends a product first, in each history; top to bottom as on paper.

Whether an organism may grow is the judgement of the growth table and of the heat, temperature by
temperature; how fast it comes to the end is its pace along the history.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from stillroom.assess import keeping
from stillroom.assess.hazards import Organism
from stillroom.assess.heat.targets import COLD_UP_TO_C
from stillroom.assess.keep import fading, history
from stillroom.assess.keep.ending import End, KeepTimes, Kept
from stillroom.assess.keep.history import HOURS_A_DAY, History
from stillroom.assess.keep.moments import Moments, moments
from stillroom.assess.keep.pace import Pace, mould_line, pace_of
from stillroom.assess.keeping import COLD_C, ROOM_C, Situation, Treatment
from stillroom.assess.pack.course import MOUTH_M
from stillroom.assess.pack.limits import Crossing, Packed, limit_words, packed_of
from stillroom.assess.result import Finding
from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.physics.ageing import time_reached
from stillroom.physics.kinetics import growth_potential
from stillroom.product.process import Batch
from stillroom.product.recipe import Keep, Recipe
from stillroom.product.trace import Trace

MINUTES_A_DAY = 1440.0
HOT_WEEK = (35.0, 7.0)  # °C, days
BROKEN_COLD = (12.0, 1.0)
HARDY = "; by the estimate only its hardiest strains"
MOULDS = "moulds, as counted on unpreserved food"
# what a ferment is made by does not spoil it: ferment -> lives and organisms; film yeasts need air
OWN_FLORA: Mapping[str, tuple[str, ...]] = {
    "lactic": ("lactic acid bacteria",),
    "alcoholic": ("yeast",),
    "acetic": ("Acetic acid bacteria (Acetobacter, Gluconobacter)",),
}
WITHOUT_AIR: Mapping[str, tuple[str, ...]] = {"lactic": ("yeast", "mould")}


@dataclass(frozen=True)
class _Case:
    """A product, what was done to it, and what is its own flora."""

    situation: Situation
    how: Treatment
    food: str
    clean: bool  # boiled, heated or fermented, so that few other cells start
    own: tuple[str, ...]


def keep_times_of(
    batch: Batch,
    situation: Situation,
    how: Treatment,
    trace: Trace | None = None,
    swing_C: float = 0.0,
) -> KeepTimes:
    """Return what ends a product: as declared, after an excursion, and opened.

    Args:
        batch: the recipe carried out, the central one.
        situation: the product as an organism finds it.
        how: pack and heat.
        trace: logged temperatures that stand in the place of the declared one while they last.
        swing_C: daily swing of the declared temperature, coolest to warmest hour.

    Raises:
        InputError: no keep step, or a step that is not computed yet.
    """
    recipe = batch.recipe
    keep = recipe.keep()
    if keep is None:
        raise InputError("no `keep` step says how warm, how long and in what pack it is kept.")
    days = keep.for_ / MINUTES_A_DAY
    if days <= 0:
        raise InputError('the `keep` step says no time: give one, such as for = "6 weeks".')
    closed = _case(batch, situation, how)
    opened = _case(batch, situation, replace(how, sealed=False, air="air", heating=None), closed)
    declared = _declared(keep, days, trace, swing_C)
    cold = keep.temperature <= COLD_UP_TO_C
    shaken = history.with_excursion(declared, *(BROKEN_COLD if cold else HOT_WEEK))
    a_w = situation.water_activity
    in_pack = [packed_of(batch, a_w, h) for h in (declared, shaken)]
    after = [
        history.constant(f"opened, kept at {COLD_C:g} °C", COLD_C, days),
        history.constant(f"opened, kept at {ROOM_C:g} °C", ROOM_C, days),
    ]
    kept = (
        *(
            _with_quality(_kept(closed, h, packed=p), batch)
            for h, p in zip((declared, shaken), in_pack, strict=True)
        ),
        *(
            _kept(opened, h, opened=True, packed=packed_of(batch, a_w, h, opened=True))
            for h in after
        ),
    )
    return KeepTimes(
        name=recipe.name,
        temperature_C=keep.temperature,
        days=days,
        pack=keep.pack,
        ph=situation.ph,
        water_activity=situation.water_activity,
        acids_mmol_per_kg={
            acid: (dose, situation.doses_careful[acid])
            for acid, dose in situation.doses_central.items()
        },
        kept=kept,
        packed=in_pack[0],
        notes=_notes(recipe, closed, trace, [w for k in kept for w in k.watched], in_pack[0]),
        cautions=_cautions(situation, how),
    )


def kept_in_pack(batch: Batch, situation: Situation, how: Treatment, packed: Packed) -> Kept:
    """Return what ends a product in its pack, kept as declared.

    Args:
        batch: the recipe carried out, the central one.
        situation: the product as an organism finds it.
        how: pack and heat.
        packed: the product in its pack.
    """
    keep = batch.recipe.keep()
    assert keep is not None
    declared = _declared(keep, keep.for_ / MINUTES_A_DAY, None, 0.0)
    return _kept(_case(batch, situation, how), declared, packed=packed)


def _case(batch: Batch, situation: Situation, how: Treatment, before: _Case | None = None) -> _Case:
    kinds = [s.step.ferment.kind for s in batch.stages if s.step.ferment]
    heated = how.heating is not None or bool(batch.of("boil"))
    own = [w for k in kinds for w in OWN_FLORA[k]]
    if how.air != "air":
        own += [w for k in kinds for w in WITHOUT_AIR.get(k, ())]
    return _Case(
        situation=situation,
        how=how,
        food=", ".join(_plain_name(batch.recipe, n) for n in batch.recipe.food_names()),
        clean=heated or bool(kinds) if before is None else before.clean,
        own=tuple(dict.fromkeys(own)),
    )


def _plain_name(recipe: Recipe, food: str) -> str:
    """Return what a food is, without how it is: milk, not milk, whole."""
    return str(recipe.food(food).row["food"]).partition(",")[0]


def _declared(keep: Keep, days: float, trace: Trace | None, swing_C: float) -> History:
    if trace is not None:
        damp = None if keep.humidity is None else keep.humidity / 100
        return history.logged(trace, keep.temperature, days, damp)
    plain = history.constant(f"kept at {keep.temperature:g} °C", keep.temperature, days)
    return history.with_swing(plain, swing_C) if swing_C else plain


# --- one history ------------------------------------------------------------------------------


def _kept(
    case: _Case, history: History, opened: bool = False, packed: Packed | None = None
) -> Kept:
    """Return what ends a product in a history."""
    who = case.situation.organisms()
    through = packed.course if packed and packed.course.pack.barrier else None
    along = moments(case.situation, history, through)
    history, which = along.history, along.which
    judged = [keeping.judge_organisms(m.situation, case.how, m.temperature_C) for m in along.each]
    ends, watched = [], []
    moulds = np.zeros((2, history.time_h.size), bool)
    for n, organism in enumerate(who):
        found = [at[n] for at in judged]
        grows = _grows(found)[:, which]
        if not grows.any() or _own(organism, case.own):
            continue
        if organism.raw_material_risk:
            watched.append(organism.name)
            continue
        if not _counts(organism, found):
            continue
        pace = partial(_pace, organism, case.food, case.clean)
        worst = max(found, key=lambda f: ("pass", "cannot tell", "fail").index(f.verdict))
        ends.append(_end(organism.title, worst, pace, along, grows))
        if organism.life == "mould" and organism.group != "pathogen":
            moulds |= grows
    if moulds.any():
        seen = Finding(MOULDS, "spoilage", "fail", "moulds can grow on it")
        ends.append(_end(MOULDS, seen, mould_line, along, moulds))
    texture = [_texture(c) for c in packed.textures] if packed else []
    within = [e for e in (*ends, *texture) if e is not None and np.isfinite(e.earliest_days)]
    return Kept(
        history=history,
        opened=opened,
        ends=tuple(sorted(within, key=lambda e: (e.earliest_days, e.typical_days))),
        watched=tuple(dict.fromkeys(watched)),
    )


def _pace(organism: Organism, food: str, clean: bool, situation: Situation, T: Array) -> Pace:
    return pace_of(organism, situation, food, clean, T)


def _grows(found: Sequence[Finding]) -> Array:
    """Return by level whether an organism grows: at the estimate, and at the careful end."""
    return np.array(
        [[f.verdict == "fail" for f in found], [f.verdict != "pass" for f in found]], bool
    )


def _own(organism: Organism, own: tuple[str, ...]) -> bool:
    return organism.group != "pathogen" and (organism.life in own or organism.name in own)


def _counts(organism: Organism, found: Sequence[Finding]) -> bool:
    """Return whether an organism can end a product.

    Growth that harms by a toxin counts as the toxin does, but it spoils all the same.
    """
    return organism.group != "pathogen" or any(f.decides for f in found if f.verdict != "pass")


def _end(
    subject: str,
    finding: Finding,
    pace_in: Callable[[Situation, Array], Pace | None],
    along: Moments,
    grows: Array,
) -> End | None:
    """Return when growth along a history comes to its end; None where no pace is known."""
    T, time = along.history.temperature_C, along.history.time_h
    speed, pace = np.zeros((2, T.size)), None
    for situation, here in along.situations():
        here = here & grows[1]
        one = pace_in(situation, T[here]) if here.any() else None
        if one is not None:
            pace = one
            speed[:, here] = one.per_h(T[here])
    if pace is None:
        return None
    done = growth_potential(time, np.where(grows, speed, 0.0))
    typical, earliest = time_reached(time, done, pace.wanted) / HOURS_A_DAY
    first = grows[0].any() and not speed[0, grows[0]].any()
    return End(
        subject=subject,
        area=finding.area,
        earliest_days=float(earliest),
        typical_days=float(typical),
        end=pace.end,
        reason=finding.reason + (HARDY if first else "") + _from_when(time, grows),
        basis=pace.basis,
        source=pace.source,
        provenance=pace.provenance,
        fitted_C=pace.fitted_C,
        outside=fading.outside(T[grows[1]], pace.fitted_C),
        limits=finding.citation,
    )


def _from_when(time_h: Array, grows: Array) -> str:
    """Return from when on the food in its pack lets an organism grow, "" from the start on."""
    if grows[1, 0]:
        return ""
    typical, earliest = (
        f"day {time_h[np.argmax(g)] / HOURS_A_DAY:.0f}" if g.any() else "" for g in grows
    )
    usual = f", by the estimate from {typical}" if typical else ""
    return f"; in its pack wet enough from {earliest} at the earliest{usual}"


def _texture(c: Crossing) -> End:
    way = "more" if c.rising else "less"
    return End(
        subject=c.subject,
        area="quality",
        earliest_days=c.earliest_days if c.earliest_days <= c.days else np.inf,
        typical_days=c.typical_days if c.typical_days <= c.days else np.inf,
        end=f"water activity {limit_words(c)} or {way}",
        reason=f"water activity {c.start:.2f} when packed, {c.end:.2f} at the end",
        basis="water through the pack, by its film and the water the food holds",
        source=c.source,
        provenance=c.provenance,
    )


def _with_quality(kept: Kept, batch: Batch) -> Kept:
    made, final = batch.made.mixture, batch.final.mixture
    found = [
        *fading.losses(batch.recipe, made, kept.history),
        *fading.crystals(made, final, kept.history),
    ]
    within = [e for e in found if np.isfinite(e.earliest_days)]
    return replace(kept, quality=tuple(sorted(within, key=lambda e: e.earliest_days)))


# --- words ------------------------------------------------------------------------------------


def _notes(
    recipe: Recipe,
    case: _Case,
    trace: Trace | None,
    watched: Sequence[str],
    packed: Packed | None,
) -> tuple[str, ...]:
    notes = [
        "boiled, heated or fermented: few other cells start"
        if case.clean
        else "not heated: it starts with the flora of raw food",
        "once opened: counted from the start, air let in, new yeasts, moulds and bacteria, and the "
        "heat no longer counts; used with clean tools and closed again",
        "typical: at the estimate, middle rate, a lag; earliest: careful end of pH, water activity "
        "and acids, fastest rate, no lag, many cells",
        "light, and a seal that fails, are not counted",
    ]
    if packed is not None:
        notes += packed.course.pack.remarks
        if packed.course.pack.barrier is not None:
            notes.append(
                f"once opened: it stands open, {100 * MOUTH_M:g} cm wide, in the humidity of the "
                "room"
            )
    else:
        notes.append("the pack is taken as tight: no film is given that water could pass")
    kinds = {s.ferment.kind for s in recipe.steps if s.ferment}
    if "lactic" in kinds:
        notes.append(
            "lactic bacteria made it and do not end it; film yeasts and moulds count once air gets "
            "to it; whether it soured in time is judged apart"
        )
    notes += [
        f"the {kind} ferment's own flora does not end it" for kind in sorted(kinds - {"lactic"})
    ]
    if watched:
        notes.append(
            f"not counted, for they come with the raw material and clean fruit holds them down: "
            f"{', '.join(dict.fromkeys(watched))}"
        )
    if trace is not None:
        notes += list(trace.remarks)
        if len(trace.temperature_C) > 1:
            notes.append("the warmest of the logged channels counts at every time")
    return tuple(notes)


def _cautions(situation: Situation, how: Treatment) -> tuple[str, ...]:
    cautions = [
        "A prediction is no proof: store packs of three batches at the warm end, and count and "
        "taste to past the time you print.",
        "Nothing is told beyond the days looked at.",
    ]
    if how.sealed and situation.ph.high > 4.6 and situation.water_activity.high > 0.85:
        cautions.append(
            "Low-acid food in a sealed pack: only a process set by a process authority makes any "
            "time its time."
        )
    return tuple(cautions)
