"""Keeping times as text for a terminal: the answer first, then what it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from stillroom.assess.keep.ending import End, KeepTimes, Kept
from stillroom.assess.keep.findings import fades, in_days, told
from stillroom.assess.result import Verdict
from stillroom.report.heat import section
from stillroom.report.pack import pack_blocks, pack_sources
from stillroom.report.words import STYLES, bullets, number, sentence

SHOWN = 4  # classes of what may end it, in each history
ANSWER: dict[Verdict, str] = {
    "pass": "The declared time is held",
    "fail": "The declared time is not held",
    "cannot tell": "Measure it: the declared time lies between the earliest and the typical end",
}
WORDS: dict[Verdict, str] = {"pass": "held", "fail": "not held", "cannot tell": "measure"}


def keep_blocks(times: KeepTimes) -> Iterable[RenderableType]:
    """Yield the parts of the report on keeping times, in reading order.

    Args:
        times: what ends the product.
    """
    about = f"   {times.temperature_C:g} °C, {in_days(times.days)}, {times.pack}"
    yield Text.assemble((times.name, "bold"), (about, "dim"))
    yield _answer(times)
    yield section("How long", _overview(times.kept))
    if times.packed is not None:
        yield from pack_blocks(times.packed)
    for k in times.kept:
        if k.ends:
            yield section(f"What ends it: {k.history.words}", _ends_table(k))
    quality = times.declared.quality
    if quality:
        yield section(f"What fades: {times.declared.history.words}", _quality_table(quality))
    yield section("What it rests on", bullets(_sources(times)))
    yield section("Assumed", bullets(times.notes))
    yield section("Before a time is printed", bullets(times.cautions))


def _answer(times: KeepTimes) -> RenderableType:
    declared = times.declared
    verdict = declared.verdict
    lines = [
        Text(ANSWER[verdict] + ".", f"bold {STYLES[verdict]}"),
        Text(sentence(told(declared))),
    ]
    if declared.first is not None:
        lines.append(Text(sentence(declared.first.reason), "dim"))
    if declared.quality:
        first = declared.quality[0]
        lines.append(Text(sentence(f"what fades first: {first.subject}, {fades(first)}")))
    return Group(*lines)


def _table(*columns: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in columns:
        table.add_column(column, justify="right" if column in ("earliest", "typical") else "left")
    return table


def _overview(kept: Sequence[Kept]) -> RenderableType:
    table = _table("", "earliest", "typical", "", "first")
    for k in kept:
        verdict = Text("") if k.opened else Text(WORDS[k.verdict], STYLES[k.verdict])
        table.add_row(
            k.history.words,
            _days(k.earliest_days, k),
            _days(k.typical_days, k),
            verdict,
            k.first.subject if k.first else "",
        )
    return table


def _days(days: float, kept: Kept) -> str:
    return in_days(days) if days < float("inf") else f"none in {in_days(kept.history.days)}"


def _ends_table(kept: Kept) -> RenderableType:
    """Return what may end a product, the first of each class."""
    table = _table("", "earliest", "typical", "counts as the end", "why it may")
    groups = _by_basis(kept.ends)
    for group in groups[:SHOWN]:
        first = group[0]
        more = f" and {len(group) - 1} more alike" if len(group) > 1 else ""
        usual = min(e.typical_days for e in group)
        table.add_row(
            first.subject + more,
            in_days(first.earliest_days),
            _days(usual, kept),
            first.end,
            Text(first.reason, "dim"),
        )
    rest = sum(map(len, groups[SHOWN:]))
    return Group(table, Text(f"and {rest} later", "dim")) if rest else table


def _by_basis(ends: Iterable[End]) -> list[list[End]]:
    groups: dict[str, list[End]] = {}
    for e in ends:
        groups.setdefault(e.basis, []).append(e)
    return list(groups.values())


def _quality_table(quality: Sequence[End]) -> RenderableType:
    table = _table("", "earliest", "typical", "to", "")
    for e in quality:
        late = "later" if e.typical_days == float("inf") else in_days(e.typical_days)
        early = "any day" if e.earliest_days == 0 else in_days(e.earliest_days)
        table.add_row(e.subject, early, late, e.end, Text(e.reason, "dim"))
    return table


def _sources(times: KeepTimes) -> list[str]:
    """Return a line for every rate that stands in the tables above."""
    shown = [g[0] for k in times.kept for g in _by_basis(k.ends)[:SHOWN]]
    lines = [_rests_on(e) for e in [*shown, *times.declared.quality]]
    table = "the growth table and the heat say what may grow at all: see assess"
    packed = pack_sources(times.packed) if times.packed else []
    return [_product(times), table, *dict.fromkeys(lines), *packed]


def _product(times: KeepTimes) -> str:
    acids = [
        f"{acid} {number(middle)} (careful {number(careful)})"
        for acid, (middle, careful) in times.acids_mmol_per_kg.items()
    ]
    words = (
        f"pH {times.ph.value:.2f} (careful {times.ph.high:.2f}), water activity "
        f"{times.water_activity.value:.3f} (careful {times.water_activity.high:.3f})"
    )
    return words + (f", undissociated acids in mmol/kg of water: {', '.join(acids)}" * bool(acids))


def _rests_on(e: End) -> str:
    holds = f", {e.fitted_C[0]:g} to {e.fitted_C[1]:g} °C" if e.fitted_C else ""
    beyond = f"; outside its range: {e.outside}" if e.outside else ""
    return f"{e.subject}: {e.basis}{holds}; {e.source} [{e.provenance}]{beyond}"
