"""Judged ferments as text for a terminal, and their curves as a figure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from stillroom.assess.ferment.beside import Way
from stillroom.assess.ferment.judgement import Fermented, Span
from stillroom.assess.ferment.race import RULE_C, RULE_H, SOUR_PH
from stillroom.assess.ferment.recipes import FermentJudgement
from stillroom.assess.result import Finding
from stillroom.errors import InputError
from stillroom.labels import Array, duration
from stillroom.product import fermenting
from stillroom.report.heat import section
from stillroom.report.panels import COLOURS, Curve, draw_lines, our_settings, page, style
from stillroom.report.words import bullets, findings_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LINES = 13  # of the course
OUTCOMES = {
    0: ("The ferment does what it should", "bold green"),
    1: ("The ferment does not do what it should", "bold red"),
    3: ("Whether the ferment does what it should is to be measured", "bold yellow"),
}
CAUTIONS = (
    "A prediction is no proof: read the pH on the way and at the end with a meter, in every batch.",
    "Keep everything under the brine and air out; mould, slime, a foul smell: throw it away "
    "untasted.",
    "Have the process of anything sold set or reviewed by a process authority, and follow the code "
    "of your own country.",
)


def ferment_blocks(j: FermentJudgement) -> Iterable[RenderableType]:
    """Yield the parts of the report on ferments, in reading order.

    Args:
        j: the judgement.
    """
    yield Text(j.recipe.name, "bold")
    words, colour = OUTCOMES[j.exit_status]
    yield Text(f"{words}.", colour)
    yield section("What it is held against", findings_table(_plainly(j.findings)))
    for f in j.ferments:
        yield section(f"Step {f.number}: {_about(f)}", _course(f))
    for f in j.ferments:
        if f.plan.kind == "lactic" and f.start.ph > SOUR_PH:
            yield section(f"Step {f.number}: the race to the acid", _race(f))
    if j.ways:
        yield section("Fermented, or soured directly", _ways(j.ways))
    if j.notes:
        yield section("Assumed", bullets(j.notes))
    yield section("Before it is eaten or sold", bullets(CAUTIONS))


def _about(f: Fermented) -> str:
    start = ", with a starter" if f.plan.starter else ""
    return f"{f.plan.kind}, {duration(f.plan.for_ / 60)} at {f.plan.temperature:g} °C{start}"


def _plainly(findings: Sequence[Finding]) -> list[Finding]:
    return [replace(f, subject=f.subject.removeprefix("ferment, ")) for f in findings]


def _course(f: Fermented) -> RenderableType:
    c, m = f.course, f.course.mixture[:, 0]
    table = Table(box=None, pad_edge=False, header_style="dim")
    columns = ["after", "pH", "between", "sugar %", "lactic %", "acetic %", "alcohol %", "gas g/kg"]
    for column in columns:
        table.add_column(column, justify="left" if column == "between" else "right")
    total = m.total_kg
    rows = zip(
        c.time_h, c.ph, 100 * m.kg(*fermenting.HEXOSES) / total,
        *(100 * m.kg(a) / total for a in ("lactic", "acetic", "ethanol")),
        1000 * c.gas_kg[:, 0] / total[0], strict=True,
    )  # fmt: skip
    every = list(rows)
    wanted = c.time_h[-1] * np.linspace(0, 1, LINES) ** 1.6  # most happens in the first days
    for n in np.unique(np.searchsorted(c.time_h, wanted)):
        hours, ph, *amounts = every[n]
        low, high = ph.min(), ph.max()
        between = f"{low:.2f} to {high:.2f}" if high - low > 0.005 else ""
        cells = [f"{a:.2f}" for a in amounts[:-1]]
        table.add_row(
            duration(hours) if hours else "start",
            f"{ph[0]:.2f}",
            between,
            *cells,
            f"{amounts[-1]:.1f}",
        )
    return Group(table, Text(_ends(f), "dim"))


def _ends(f: Fermented) -> str:
    left = f.left
    if f.plan.kind == "alcoholic":
        return (
            f"{left.ethanol_percent_vol:.1f} % alcohol by volume. Slow and fast end: rates by 40 %."
        )
    if f.plan.kind == "acetic":
        return (
            "What leaves as gas is alcohol. Slow and fast end: a still vessel by its depth and air."
        )
    lowest = ""
    if np.isfinite(f.lowest_ph):  # more sugar than water has none
        lowest = f" All its sugar would bring pH {f.lowest_ph:.2f} at the lowest."
    open_ = (
        "what the readings leave open" if f.read else "rates by 40 %, cells by ten, buffer by 40 %"
    )
    return f"At the end {left.titratable_acidity:.2f} % acid as lactic.{lowest} Between: {open_}."


def _race(f: Fermented) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    for ph, span in f.hours_to.items():
        table.add_row(f"below pH {ph:g}", _time(span))
    table.add_row(
        f"until pH {SOUR_PH:g} worth",
        f"{f.worth_h.value:.0f} h at {RULE_C:g} °C ({f.worth_h.low:.0f} to {f.worth_h.high:.0f}; "
        f"{RULE_H:.0f} h allowed, common practice)"
        if np.isfinite(f.worth_h.value)
        else "not reached",
    )
    grown = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("could grow meanwhile, decades", "beside the flora", "alone, at worst", ""):
        grown.add_column(
            column, justify="left" if column.startswith("could") or not column else "right"
        )
    for r in f.runners:
        grown.add_row(r.organism, f"{r.beside:.1f}", f"{r.alone:.1f}", Text(r.provenance, "dim"))
    return Group(
        table,
        Text(""),
        grown,
        Text(
            "Models of broth and rich food; the flora that fills the food first leaves no room, "
            "which is no proof without a trial.",
            "dim",
        ),
    )


def _time(span: Span) -> str:
    if not np.isfinite(span.value):
        return "not reached"
    high = duration(span.high) if np.isfinite(span.high) else "not within the ferment"
    return f"{duration(span.value)} ({duration(span.low)} to {high})"


def _ways(ways: Sequence[Way]) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("")
    for w in ways:
        table.add_column(w.words, justify="right")

    def row(words: str, told: Callable[[Way], str]) -> None:
        table.add_row(words, *(told(w) for w in ways))

    row("pH", lambda w: f"{w.content.ph:.2f}")
    row("time to pH 4.6", _hours)
    row("vinegar for a kilogram, kg", lambda w: f"{w.added_kg_per_kg:.2f}")
    row("product of a kilogram, kg", lambda w: f"{w.yield_kg_per_kg:.2f}")
    row("acid as lactic, %", lambda w: f"{w.content.titratable_acidity:.2f}")
    row("lactic, acetic acid, %", lambda w: f"{w.content.lactic:.2f}, {w.content.acetic:.2f}")
    row("undissociated lactic, acetic, mmol/kg", _doses)
    row("salt, %", lambda w: f"{w.salt_percent:.2f}")
    row("sugar left, %", lambda w: f"{w.content.sugar:.2f}")
    row("water activity", lambda w: f"{w.water_activity:.3f}")
    parts: list[RenderableType] = [table]
    for w in ways[:2]:
        words = w.words if w is ways[0] else "vinegar"
        parts += [Text(""), Text(words, "bold"), bullets(w.remarks)]
    return Group(*parts)


def _hours(w: Way) -> str:
    if w.hours_to_sour is None:
        return "see below"
    return duration(w.hours_to_sour) if np.isfinite(w.hours_to_sour) else "never"


def _doses(w: Way) -> str:
    return ", ".join(f"{dose:.0f}" for dose in w.undissociated_mmol_per_kg.values())


# --- figure -----------------------------------------------------------------------------------


@our_settings()
def draw_ferment(j: FermentJudgement, path: Path) -> None:
    """Write the figure of the ferments of a recipe, as SVG, PNG or PDF by the ending of the path.

    Args:
        j: the judgement.
        path: to write; a file there is replaced.

    Raises:
        InputError: another ending, or a path that cannot be written.
    """
    parts = list(j.ferments)
    if not parts:
        raise InputError("nothing ferments.")
    starts = np.cumsum([0.0, *(f.course.time_h[-1] / 24 for f in parts)])
    days = np.concatenate([f.course.time_h / 24 + t for f, t in zip(parts, starts, strict=False)])
    ph = np.concatenate([f.course.ph for f in parts])
    upper_curves = [
        Curve(
            f"pH, {parts[-1].end.value:.2f} ± {parts[-1].end.model_error:.2f} at the end",
            days,
            ph[:, 0],
            *style(0),
        ),
    ]
    if ph.max() > SOUR_PH:
        line = Curve(f"pH {SOUR_PH:g}", days[[0, -1]], np.full(2, SOUR_PH), width=1.0)
        upper_curves.append(line)
    lower_curves = _amounts(parts, days)
    head = [j.recipe.name, "; then ".join(_about(f) for f in parts)]
    headings = ("pH; the band is the slow and the fast end", "Per cent of the food")
    foot = ("days from the start", "A prediction.")
    with page(path, head, headings, (upper_curves, lower_curves), foot) as (upper, lower):
        upper.fill_between(
            days, ph.min(axis=1), ph.max(axis=1), color=COLOURS[0], alpha=0.14, linewidth=0
        )
        upper.set_ylim(np.floor(2 * ph.min() - 0.2) / 2, np.ceil(2 * ph.max() + 0.1) / 2)
        draw_lines(upper, upper_curves)
        lower.set_ylim(0, 1.1 * max(c.highest for c in lower_curves) or 1.0)
        draw_lines(lower, lower_curves)
        _mark_readings(upper, parts, starts)


def _amounts(parts: Sequence[Fermented], days: Array) -> list[Curve]:
    found: list[Curve] = []
    for words, names in (
        ("sugar", tuple(fermenting.HEXOSES)),
        ("lactic acid", ("lactic",)),
        ("acetic acid", ("acetic",)),
        ("alcohol", ("ethanol",)),
        ("mannitol", ("mannitol",)),
    ):
        height = np.concatenate(
            [
                100 * f.course.mixture[:, 0].kg(*names) / f.course.mixture[:, 0].total_kg
                for f in parts
            ]
        )
        if height.max() > 0.02:
            label = f"{words}, {height[-1]:.2f} %"
            found.append(Curve(label, days, height, *style(len(found))))
    return found


def _mark_readings(axes: Axes, parts: Sequence[Fermented], starts: Array) -> None:
    for f, start in zip(parts, starts, strict=False):
        if f.plan.ph:
            at = np.array(list(f.plan.ph)) / 1440 + start
            axes.plot(at, list(f.plan.ph.values()), "o", color="#1d1d1f", markersize=4, zorder=3)
