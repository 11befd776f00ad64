"""Judged heat, other processes and judged logs as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
from rich.console import Group, RenderableType
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from stillroom.assess.heat.findings import ESTIMATE
from stillroom.assess.heat.judgement import COOK, Heating, Reached
from stillroom.assess.heat.log import LogJudgement, accumulated_min
from stillroom.assess.heat.ways import Way, kindest
from stillroom.assess.result import Estimate, Verdict
from stillroom.report.words import STYLES, bullets, number, sentence

LINES = 14  # of the curve
WORDS: dict[Verdict, str] = {"pass": "met", "fail": "not met", "cannot tell": "measure"}
CAUTIONS = (
    "A prediction is no proof: log the coldest place of the coldest pack in a real run.",
    "Have the process of anything sold in sealed packs set or reviewed by a process authority, and "
    "follow the code of your own country.",
)


def heat_blocks(name: str, h: Heating, found: Sequence[Way] = ()) -> Iterable[RenderableType]:
    """Yield the parts of the report on heat, in reading order.

    Args:
        name: of the product.
        h: the judged heat.
        found: other processes, where they were looked for.
    """
    yield Text.assemble((name, "bold"), (f"   {h.plan.container.name}", "dim"))
    yield _answer(h)
    yield section("What it reaches where it is least", reached_table(h.reached))
    yield section("The way", _way_table(h))
    yield section("The curve", _curve(h))
    yield section("What it leaves", kill_table(h))
    yield section("What it costs", _kept_table(h))
    if found:
        yield section("Other processes that meet it", _ways_table(found))
    yield section("Assumed", bullets(h.notes))
    yield section("Before it is sold", bullets(CAUTIONS))


def section(title: str, body: RenderableType) -> RenderableType:
    """Return a part of a report under its rule."""
    return Group(Text(""), Rule(title, align="left", style="dim"), body)


def _answer(h: Heating) -> RenderableType:
    first = h.target("hazard", "spoilage", "quality")
    if first is None:
        return Text("No lethality is asked of this product; what the heat kills stands below.")
    lines = [_told(first)]
    if first.low_acid:
        lines.append(Text(sentence(ESTIMATE), "bold yellow"))
    if h.after_off is not None:
        off = "the heat is off" if h.plan.heated else "the hold ends"
        lines.append(
            Text(
                f"{100 * h.after_off:.0f} % of it in the middle comes after {off}: it counts only "
                "while packs cool as written."
            )
        )
    if h.vacuum_kPa is not None:
        lines.append(
            Text(
                f"Vacuum under a good lid when cold: at most {h.vacuum_kPa:.0f} kPa, in practice "
                "30 to 60."
            )
        )
    return Group(*lines)


def _told(r: Reached) -> Text:
    words = {"pass": "meets", "fail": "falls short of", "cannot tell": "may fall short of"}
    return Text(
        f"The coldest place {words[r.verdict]} what is asked against {r.target.words}: "
        f"{_with_ends(r.lethality)} of {number(r.target.minutes)} min at {r.target.scale}.",
        STYLES[r.verdict],
    )


def _with_ends(e: Estimate) -> str:
    return f"{number(e.value)} ({number(e.low)} to {number(e.high)})"


def reached_table(reached: Sequence[Reached]) -> RenderableType:
    """Return the targets beside what was reached, each with its scale."""
    logged = all(r.lethality.kind == "measured" for r in reached)
    jars = any(r.share is not None for r in reached)
    columns = [
        "against",
        "min",
        "between",
        "asked",
        "at",
        *([] if logged else ["mean of pack"]),
        "",
    ]
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in [*columns, *(["jars that meet it"] if jars else [])]:
        table.add_column(column, justify="right" if column in ("min", "asked") else "left")
    for r in reached:
        e = r.lethality
        verdict = Text(WORDS[r.verdict], STYLES[r.verdict])
        if r.target.use == "comparison":
            verdict = Text("for comparison", "dim")
        table.add_row(
            r.target.words,
            number(e.value),
            f"{number(e.low)} to {number(e.high)}",
            number(r.target.minutes),
            str(r.target.scale),
            *([] if logged else [number(r.mass_average_min)]),
            verdict,
            *([] if r.share is None else [f"{100 * r.share:.1f} %"]),
        )
    asked = [r.target for r in reached]
    notes = [Text(f"{t.words}: {t.note}", "dim") for t in asked if t.note]
    sources = [Text(f"{t.words}: {t.source} [{t.provenance}]", "dim") for t in asked]
    return Group(table, *notes, *sources)


def _way_table(h: Heating) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("", "min", "medium °C", "middle °C at its end", "at the wall"):
        table.add_column(column, justify="left" if not column else "right")
    table.add_row("after the fill", "0", "", f"{h.plan.start_C:.1f}", f"{h.plan.start_C:.1f}")
    end = 0.0
    for leg in h.plan.legs:
        end += leg.seconds
        middle, wall = (
            np.interp(end, h.course.time_s, c[0]) for c in (h.course.centre_C, h.course.surface_C)
        )
        around = " to ".join(dict.fromkeys(f"{T:.1f}" for T in leg.medium_C))
        table.add_row(leg.words, number(leg.seconds / 60), around, f"{middle:.1f}", f"{wall:.1f}")
    return table


def _curve(h: Heating) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    first = h.target("hazard", "spoilage", "quality")
    counted = first.target.scale if first else COOK
    for column in (
        "min",
        "medium °C",
        "at the wall",
        "middle",
        f"min at {counted}, middle",
        "share",
    ):
        table.add_column(column, justify="right")
    t = h.course.time_s
    F = counted.minutes(t, h.course.centre_C[0])
    for at in _times(h, F):
        row = [
            np.interp(at, t, c)
            for c in (h.course.medium_C, h.course.surface_C[0], h.course.centre_C[0], F)
        ]
        share = f"{100 * row[3] / F[-1]:.0f} %" if F[-1] > 0 else ""
        off = "  heat off" if at == h.course.off_s and h.plan.heated else ""
        table.add_row(
            f"{at / 60:.0f}", *(f"{x:.1f}" for x in row[:3]), number(float(row[3])), share + off
        )
    return table


def _times(h: Heating, F: np.ndarray) -> list[float]:
    """Return times worth a line: evenly until nearly all is added, with the end of the heat."""
    t = h.course.time_s
    done = t[int(np.searchsorted(F, 0.999 * F[-1]))] if F[-1] > 0 else t[-1]
    last = min(max(float(done), 1.3 * h.course.off_s), float(t[-1]))
    return sorted({*np.linspace(0.0, last, LINES).tolist(), h.course.off_s})


def kill_table(h: Heating) -> RenderableType:
    """Return by how many decades the heat reduces each organism, with D, z and source."""
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("organism", "decades", "D min", "at", "measured in; source"):
        table.add_column(column, justify="right" if column in ("decades", "D min") else "left")
    for k in sorted(h.kills, key=lambda k: k.decades.low):
        d = k.decades
        table.add_row(
            k.organism,
            f"{_decades(d.low)} to {_decades(d.high)}",
            number(k.d_typical_min)
            + (f" to {number(k.d_min)}" if k.d_min > 1.001 * k.d_typical_min else ""),
            str(k.scale),
            Text(
                "; ".join(filter(None, [k.medium, f"{k.source} [{_short(k.provenance)}]"])), "dim"
            ),
        )
    return Group(
        table,
        Text(
            "Decades from the longest D and least heat to the typical D and most heat; the lower z "
            "below the reference, the higher above.",
            "dim",
        ),
    )


def _short(provenance: str) -> str:
    return provenance.partition("(")[0].partition(";")[0].strip()


def _decades(value: float) -> str:
    return "> 20" if value > 20 else f"{value:.1f}"


def _kept_table(h: Heating) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("", "left, mean of the pack", "D min", "at", "source"):
        table.add_column(column, justify="left" if column in ("", "at", "source") else "right")
    for k in h.kept:
        table.add_row(
            k.item,
            f"{100 * k.share:.0f} %",
            number(k.d_min),
            str(k.scale),
            Text(f"{k.source} [{k.provenance}]", "dim"),
        )
    cook = Text(f"Cook value, mean of the pack: {number(h.cook_min)} min at {COOK}.")
    spread = Text("One study each; varieties differ two- to threefold.", "dim")
    return Group(table, cook, spread) if h.kept else cook


def _ways_table(found: Sequence[Way]) -> RenderableType:
    best = kindest(found)
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("°C", "shortest hold, min", "quality kept", "cook value, min", ""):
        table.add_column(column, justify="left" if not column else "right")
    for w in found:
        if w.heating is None:
            table.add_row(f"{w.medium_C:.1f}", "none", "", "", w.why_not)
            continue
        kept = f"{100 * w.kept:.0f} %" if w.heating.kept else ""
        mark = Text("keeps most", "green") if w is best and w.heating.kept else Text("")
        table.add_row(f"{w.medium_C:.1f}", str(w.hold_min), kept, number(w.heating.cook_min), mark)
    remark = "Whole minutes, careful end of what is not known; cooled as written. "
    return Group(table, Text(remark + "Quality kept: mean of the items above.", "dim"))


# --- logs -------------------------------------------------------------------------------------


def log_blocks(j: LogJudgement) -> Iterable[RenderableType]:
    """Yield the parts of the report on a logged run, in reading order.

    Args:
        j: the judged log.
    """
    about = f"   {len(j.channels)} probes, {j.trace.time_s[-1] / 60:.0f} min"
    yield Text.assemble((j.recipe.name, "bold"), (about, "dim"))
    words, style = {
        True: ("The run meets what is asked", "bold green"),
        False: ("The run falls short", "bold red"),
        None: ("Whether the run meets what is asked cannot be told", "bold yellow"),
    }[j.met]
    yield Text.assemble((words, style), f"; coldest probe: {j.coldest}.")
    if any(r.low_acid for r in j.reached):
        yield Text(sentence(ESTIMATE), "bold yellow")
    yield section("What the coldest probe received", reached_table(j.reached))
    yield section("Probe by probe", _channel_table(j))
    if j.medium is not None:
        yield section("The medium", _medium(j))
    if j.to_make_good:
        yield section("To make it good", bullets(j.to_make_good))
    yield section("Read and assumed", bullets(j.notes))
    yield section("Before anything is done with it", bullets(j.cautions))


def _channel_table(j: LogJudgement) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    scales = [str(r.target.scale) for r in j.reached]
    for column in ("probe", "peak °C", *(f"min at {s}" for s in scales), "f min", "j", "r²", ""):
        table.add_column(column, justify="left" if column in ("probe", "") else "right")
    for c in j.channels:
        p = c.penetration
        fit = ["", "", ""]
        if p is not None:
            error = 10**p.log10_j_error - 1
            fit = [
                f"{p.f_min:.1f} ± {1.96 * p.f_error_min:.1f}",
                f"{p.j:.2f} ± {1.96 * p.j * error:.2f}",
                f"{p.r_squared:.4f}",
            ]
        table.add_row(c.name, f"{c.peak_C:.1f}", *map(number, c.lethality_min), *fit, c.remark)
    return table


def _medium(j: LogJudgement) -> RenderableType:
    m = j.medium
    assert m is not None
    words = f"{m.name}: hottest {m.highest_C:.1f} °C"
    if m.planned_C is not None and m.held_min is not None and m.planned_min is not None:
        words += (
            f"; {m.held_min:.1f} min within a degree of {m.planned_C:.1f} °C or above, "
            f"{m.planned_min:g} min are written"
        )
    return Text(words + ".")


def draw_judged_log(j: LogJudgement, path: Path) -> None:
    """Write the figure of a judged log, as SVG, PNG or PDF by the ending of the path.

    Args:
        j: the judged log.
        path: to write.

    Raises:
        InputError: another ending, or a path that cannot be written.
    """
    from stillroom.report.plot import draw_log

    target = j.reached[0].target
    added = {c.name: accumulated_min(j.trace, c.name, target.scale) for c in j.channels}
    draw_log(
        j.trace.time_s,
        j.trace.temperature_C,
        path,
        j.recipe.name,
        target.scale,
        added,
        target.minutes,
    )
