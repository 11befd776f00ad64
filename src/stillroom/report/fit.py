"""A fit as text for a terminal, and its figure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from stillroom.assess.fit.result import Fit, Solution, Value
from stillroom.labels import Array, formula_of
from stillroom.physics.death import lethal_rate
from stillroom.report.heat import section
from stillroom.report.panels import Curve, draw_lines, one_line, our_settings, page, style
from stillroom.report.words import bullets, number, sentence

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DENSE = 200  # times of a drawn curve
MARKERS = "osD^v"
Y_WORDS = {
    "growth": "log10 count",
    "survival": "log10 count",
    "rate_per_h": "square root of the rate, 1/√h",
    "d_min": "log10 of D, min",
}
CAUTIONS = (
    "An interval holds the scatter of these points only: strains, batches and days differ more, "
    "in D most of all.",
    "A fitted D or z sets no process: have that of anything sold in sealed packs set or reviewed "
    "by a process authority.",
)


def fit_blocks(f: Fit) -> Iterable[RenderableType]:
    """Yield the parts of the report on a fit, in reading order.

    Args:
        f: the fit.
    """
    yield Text.assemble((f.data.where, "bold"), (f"   {f.model.name}: {f.model.words}", "dim"))
    yield _answer(f)
    if f.solution is not None:
        yield section("What was fitted", value_table(f.values))
        if f.derived:
            yield section("What follows", value_table(f.derived))
    if f.refusals:
        yield section("What these data do not tell", bullets(f.refusals))
    if f.warnings:
        yield section("Read this first", bullets(f.warnings))
    if f.rivals:
        yield section("Models compared", _rival_table(f))
    if f.solution is not None:
        yield section("How near it comes", _nearness(f.solution))
        yield section("Point by point", _point_table(f, f.solution))
    yield section("How it was calculated", _how(f))
    yield section("Before it is used", bullets(CAUTIONS))


def _answer(f: Fit) -> Text:
    if f.solution is None:
        return Text("Refused: the data do not allow this fit.", "bold yellow")
    if f.refusals:
        return Text("Fitted in part: the data do not determine all of it.", "bold yellow")
    return Text("Fitted.", "bold green")


def value_table(values: Sequence[Value]) -> RenderableType:
    """Return values beside their intervals, and how those were found."""
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("", "value", "95 % interval", "standard error", "unit", "interval by"):
        table.add_column(
            column, justify="right" if column in ("value", "standard error") else "left"
        )
    for v in values:
        if np.isnan(v.value):
            table.add_row(v.words, Text("not determined", "yellow"), "", "", v.unit, "")
        elif np.isnan(v.low):
            table.add_row(v.words, number(v.value), Text("none", "yellow"), "", v.unit, "")
        else:
            ends = f"{number(v.low)} to {number(v.high)}"
            how = Text(v.method.partition(" ")[0], "dim")
            table.add_row(v.words, number(v.value), ends, number(v.error), v.unit, how)
    return table


def _rival_table(f: Fit) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("model", "AICc", "above the best", "what it leaves open"):
        table.add_column(column, justify="right" if "A" in column or "b" in column else "left")
    best = f.rivals[0].aicc
    for r in f.rivals:
        known = np.isfinite([r.aicc, best]).all()
        above = f"{r.aicc - best:.1f}" if known else ""
        table.add_row(r.model, f"{r.aicc:.1f}" if known else "", above, Text(r.remark, "dim"))
    return table


def _nearness(s: Solution) -> RenderableType:
    runs = s.runs
    aicc = f"AICc {s.aicc:.1f}" if np.isfinite(s.aicc) else "too few points for an AICc"
    lines = [
        f"RMSE {number(s.rmse)} at {s.freedom} degrees of freedom, r² {s.r_squared:.4f}, {aicc}.",
        f"Residuals of one sign: {runs.runs} runs, {runs.expected:.1f} expected; chance of so few "
        f"{100 * runs.chance:.0f} %.",
    ]
    return Group(*map(Text, lines), _correlations(s))


def _correlations(s: Solution) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("correlation")
    for name in s.names[:-1]:
        table.add_column(name, justify="right")
    for n, name in enumerate(s.names[1:], 1):
        table.add_row(name, *(f"{r:.2f}" for r in s.correlation[n, :n]))
    return table


def _point_table(f: Fit, s: Solution) -> RenderableType:
    p = f.points
    over_time, warm = bool(p.labels), bool(np.isfinite(p.temperature_C).all())
    table = Table(box=None, pad_edge=False, header_style="dim")
    along, per_hour = ("min", 60.0) if f.model.about == "survival" else ("h", 1.0)
    for column in ([along] if over_time else []) + (["°C"] if warm else []):
        table.add_column(column, justify="right")
    for column in (Y_WORDS[f.model.about], "fitted", "residual"):
        table.add_column(column, justify="right")
    for n in range(p.y.size):
        row = [number(per_hour * p.time_h[n])] if over_time else []
        row += [f"{p.temperature_C[n]:g}"] if warm else []
        limit, away = ("< ", "") if p.below[n] else ("", f"{s.residuals[n]:+.3f}")
        table.add_row(*row, f"{limit}{p.y[n]:.3f}", f"{s.fitted[n]:.3f}", away)
    return table


def _how(f: Fit) -> RenderableType:
    formulas = map(formula_of, f.model.formulas)
    lines = [f"{one.equation.replace(chr(10), ' ')} ({one.source})" for one in formulas]
    if f.solution and "reference_C" in f.solution.best:
        lines.append(f"Reference temperature {f.solution.best['reference_C']:g} °C.")
    return bullets([*lines, *f.notes, *map(sentence, f.data.remarks)])


# --- the figure -------------------------------------------------------------------------------


@our_settings()
def draw_fit(f: Fit, path: Path) -> None:
    """Write points, curve and residuals as SVG, PNG or PDF, by the ending of the path.

    Args:
        f: the fit.
        path: to write; a file there is replaced.

    Raises:
        InputError: another ending, or a path that cannot be written.
    """
    x, along = _across(f)
    above = _curves(f, x)
    ends = above[0].time_min[[0, -1]]
    below = [Curve("on the curve", ends, np.zeros(2), width=1.0)]
    head = [one_line(Path(f.data.where).name, 60), f"{f.model.name}: {f.model.words}"]
    hollow = "; hollow: below the limit of detection" if f.points.below.any() else ""
    headings = (Y_WORDS[f.model.about] + hollow, "Residual")
    with page(path, head, headings, (above, below), (along, "A fit.")) as (upper, lower):
        _room(upper, np.concatenate([f.points.y, *(c.height for c in above)]))
        draw_lines(upper, above)
        if f.solution is not None:
            _room(lower, np.append(f.solution.residuals, 0.0))
        draw_lines(lower, below)
        _mark(upper, lower, f, x)


def _across(f: Fit) -> tuple[Array, str]:
    """Return where each point stands across, and what that is: with z, one scale of minutes."""
    p = f.points
    if not p.labels:
        return p.temperature_C, "temperature, °C"
    if f.model.about == "growth":
        return p.time_h, "hours"
    rate, words = _rates(f, p.temperature_C), "minutes"
    if f.solution is not None and "z_C" in f.solution.best:
        words = f"minutes worth those at {f.solution.best['reference_C']:g} °C"
    return 60 * p.time_h * rate, words


def _rates(f: Fit, temperature_C: Array) -> Array:
    """Return how many minutes at the reference temperature one at another is worth."""
    best = f.solution.best if f.solution is not None else {}
    if "z_C" not in best:
        return np.ones_like(temperature_C)
    return lethal_rate(temperature_C, best["reference_C"], best["z_C"])


def _curves(f: Fit, x: Array) -> list[Curve]:
    p = f.points
    dense = np.linspace(0.0 if p.labels else x.min(), x.max(), DENSE)
    curves = []
    for n in range(max(len(p.labels), 1)):
        height = np.full(DENSE, np.nan)
        if f.solution is not None:
            minutes = f.model.about == "survival"
            a_minute = 60 * _rates(f, p.temperature_C[p.curve == n][:1])
            height = f.curve(dense / a_minute if minutes else dense, n)
        curves.append(Curve(_words(f, n), dense, height, *style(n)))
    return curves


def _words(f: Fit, n: int) -> str:
    """Return what stands at the end of a curve: which it is, and what it comes to."""
    label = f.points.labels[n] if f.points.labels else ""
    at = f" at {label}" if label else ""
    told = [v for v in f.derived if v.words.endswith(at) and np.isfinite(v.low)]
    if not told or not f.points.labels:
        return one_line(label or f.model.name, 40)
    v = told[0]
    return f"{v.words}: {number(v.value)} {v.unit}\n({number(v.low)} to {number(v.high)})"


def _room(axes: Axes, heights: Array) -> None:
    known = heights[np.isfinite(heights)]
    air = 0.08 * max(float(np.ptp(known)), 0.1)
    axes.set_ylim(known.min() - air, known.max() + air)


def _mark(upper: Axes, lower: Axes, f: Fit, x: Array) -> None:
    p = f.points
    for n in np.unique(p.curve):
        look: dict[str, Any] = {"linestyle": "", "color": style(int(n))[0], "clip_on": False}
        look |= {"marker": MARKERS[n % len(MARKERS)], "markersize": 4.5}
        found, limit = (p.curve == n) & ~p.below, (p.curve == n) & p.below
        upper.plot(x[found], p.y[found], **look)
        upper.plot(x[limit], p.y[limit], fillstyle="none", **look)
        if f.solution is not None:
            lower.plot(x[found], f.solution.residuals[found], **look)
