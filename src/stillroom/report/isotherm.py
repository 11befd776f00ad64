"""A fitted isotherm as text for a terminal, and as the table that a recipe takes."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from stillroom.assess.isotherm_fit import IsothermFit
from stillroom.assess.result import FORMAT
from stillroom.report.heat import section
from stillroom.report.words import bullets, number


def isotherm_blocks(f: IsothermFit, where: str) -> Iterable[RenderableType]:
    """Yield the parts of the report on a fitted isotherm, in reading order.

    Args:
        f: the fit.
        where: the points are from.
    """
    yield Text(f"{where}: {f.form}", "bold")
    yield Text(*(("Refused.", "bold red") if f.refusals else ("Fitted.", "bold green")))
    if f.refusals:
        yield section("Why it must not be used", bullets(f.refusals))
    if f.warnings:
        yield section("Read first", bullets(f.warnings))
    if f.values:
        yield section("Constants, with 95 % intervals", _constants(f))
        yield section("Points, g water per g dry solids", _points(f))
    if not f.refusals:
        yield section("For the recipe", Text(recipe_lines(f, where)))
    yield section("How it was done", bullets(f.notes))


def recipe_lines(f: IsothermFit, where: str) -> str:
    """Return the table that a recipe takes.

    Args:
        f: a fit that is not refused.
        where: the points are from.
    """
    constants = ", ".join(f"{name} = {value:.6g}" for name, value in f.constants.items())
    low, high = f.water_activity[[0, -1]]
    source = json.dumps(f"fitted to {where}")
    return (
        f'[isotherm]\nform = "{f.form}"\nconstants = {{ {constants} }}\nunit = "g/g"\n'
        f"from = {low:g}\nto = {high:g}\nsource = {source}"
    )


def isotherm_content(f: IsothermFit, where: str) -> dict[str, Any]:
    """Return a fitted isotherm as plain values, full precision.

    Args:
        f: the fit.
        where: the points are from.
    """
    return {
        "format": FORMAT,
        "data": where,
        "form": f.form,
        "verdict": f.verdict,
        "refusals": list(f.refusals),
        "warnings": list(f.warnings),
        "parameters": [
            {"name": v.name, "value": v.value, "interval": [v.low, v.high]} for v in f.values
        ],
        "mean_relative_deviation_percent": f.deviation_percent if f.values else None,
        "points": [
            {"water_activity": a, "moisture_g_per_g": m, "fitted": fit if f.values else None}
            for a, m, fit in zip(
                f.water_activity.tolist(), f.moisture.tolist(), f.fitted.tolist(), strict=True
            )
        ],
        "notes": list(f.notes),
    }


def _constants(f: IsothermFit) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    for v in f.values:
        table.add_row(v.name, number(v.value), f"{number(v.low)} to {number(v.high)}")
    table.add_row("E", f"{f.deviation_percent:.2g} %", "mean relative deviation")
    return table


def _points(f: IsothermFit) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("water activity", "measured", "fitted", "off by %"):
        table.add_column(column, justify="right")
    for a, m, fit in zip(f.water_activity, f.moisture, f.fitted, strict=True):
        table.add_row(f"{a:.3f}", f"{m:.4f}", f"{fit:.4f}", f"{100 * (fit - m) / m:+.1f}")
    return table
