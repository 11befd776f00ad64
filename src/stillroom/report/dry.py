"""Judged dryings as text for a terminal, and their curves as a figure."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from stillroom.assess.dry.judgement import Dried
from stillroom.assess.dry.recipes import DryJudgement
from stillroom.errors import InputError
from stillroom.labels import duration
from stillroom.product.drying import FAST, MIDDLE, SLOW
from stillroom.report.heat import section
from stillroom.report.panels import COLOURS, Curve, draw_lines, our_settings, page, style
from stillroom.report.words import bullets, findings_table

LINES = 11  # of the course
OUTCOMES = {
    0: ("It dries as it should", "bold green"),
    1: ("It does not dry as it should", "bold red"),
    3: ("Whether it dries as it should is to be measured", "bold yellow"),
}
CAUTIONS = (
    "Dry to the weight and measure the water activity of the wettest piece after it has "
    "evened out.",
    "Drying kills little: what is not killed before waits in the dry food. Wash, heat first what "
    "must be heated, keep it dry.",
    "Have the process of anything sold set or reviewed by a process authority, and follow the code "
    "of your own country.",
)


def dry_blocks(j: DryJudgement) -> Iterable[RenderableType]:
    """Yield the parts of the report on dryings, in reading order.

    Args:
        j: the judgement.
    """
    yield Text(j.recipe.name, "bold")
    words, colour = OUTCOMES[j.exit_status]
    yield Text(f"{words}.", colour)
    yield section("What it is held against", findings_table(j.findings))
    for one in j.dryings:
        yield section(f"Step {one.number}: drying", Group(_facts(one, j), *_course(one)))
    if j.notes:
        yield section("Assumed", bullets(j.notes))
    yield section("Before it is eaten or sold", bullets(CAUTIONS))


def _facts(one: Dried, j: DryJudgement) -> RenderableType:
    d = one.drying
    table = Table.grid(padding=(0, 2))
    began, percent = float(d.before.total_kg), 100 / float(d.before.total_kg)
    table.add_row("water", f"{d.water_kg:.4g} kg of {began:.4g} kg leave")
    table.add_row("weight at the end", f"{d.end_kg:.4g} kg, {percent * d.end_kg:.1f} %")
    e = j.water_activity
    table.add_row("water activity", f"{e.value:.3f}, between {e.low:.3f} and {e.high:.3f}")
    if d.hours is not None:
        fast, middle, slow = (duration(float(d.hours[pace])) for pace in (FAST, MIDDLE, SLOW))
        table.add_row("time", f"{middle}, between {fast} and {slow}")
        table.add_row("wettest piece", f"water activity {one.wettest_water_activity:.3f}")
    if one.centre_water_activity is not None:
        table.add_row("middle of a piece", f"{one.centre_water_activity:.3f} before it evens out")
    if d.air is not None:
        table.add_row(
            "air",
            f"{d.air.temperature_C:g} °C, {100 * d.air.relative_humidity:.0f} % humidity; wet food "
            f"sits at {d.air.wet_bulb_C:.0f} °C; a kilogram takes up "
            f"{1000 * d.air.most_kg_per_kg:.0f} g of water at the most",
        )
    least, low, high = d.heat_kWh
    used = f"{low:.3g} kWh" if low == high else f"{low:.3g} to {high:.3g} kWh"
    table.add_row("energy", f"{least:.3g} kWh at the least; the dryer uses {used}")
    return table


def _course(one: Dried) -> Iterable[RenderableType]:
    d = one.drying
    if d.hours is None:
        return
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("after", "kg", "water %", "between", "water activity"):
        table.add_column(column, justify="left" if column == "between" else "right")
    solids = float(d.curve.dry_kg)
    alcohol = d.end_kg - solids * (1 + d.end)
    for hour in np.linspace(0.0, float(d.hours[MIDDLE]), LINES):
        middle = float(d.moisture_after(hour))
        wet = [float(d.water_percent_after(hour, pace)) for pace in (MIDDLE, FAST, SLOW)]
        table.add_row(
            duration(hour) if hour else "start",
            f"{solids * (1 + middle) + alcohol:.4g}", f"{wet[0]:.1f}",
            f"{wet[1]:.0f} to {wet[2]:.0f}", f"{float(d.curve.water_activity_at(middle)):.3f}",
        )  # fmt: skip
    yield table


@our_settings()
def draw_dry(j: DryJudgement, path: Path) -> None:
    """Write the courses of moisture and water activity as a figure.

    Args:
        j: the judgement; its last drying is drawn.
        path: to write, as SVG, PNG or PDF by its ending.

    Raises:
        InputError: another ending, a path that cannot be written, or no pace to draw.
    """
    one = j.dryings[-1]
    d = one.drying
    if d.hours is None:
        raise InputError(
            "nothing tells how fast it dries: give the temperature of the air and a piece, or "
            "weights on the way."
        )
    hours = np.linspace(0.0, float(d.hours[SLOW]), 201)
    paces = [d.water_percent_after(hours, pace) for pace in (MIDDLE, SLOW, FAST)]
    a_w = d.curve.water_activity_at(d.moisture_after(hours))
    at_end = d.end_water_percent
    upper_curves = [
        Curve("mean of the batch", hours, paces[0], *style(0)),
        Curve(f"end, {at_end:.1f} %", hours[[0, -1]], np.full(2, at_end), width=1.0),
    ]
    lower_curves = [
        Curve("mean of the batch", hours, a_w, *style(0)),
        Curve(
            f"end, {one.water_activity:.2f}", hours[[0, -1]], np.full(2, one.water_activity),
            width=1.0,
        ),
    ]  # fmt: skip
    head = [j.recipe.name, f"drying to {d.end_kg:.4g} kg of {float(d.before.total_kg):.4g} kg"]
    headings = ("Water, % of the whole; the band is the slow and the fast pace", "Water activity")
    foot = ("hours in the dryer", "A prediction.")
    with page(path, head, headings, (upper_curves, lower_curves), foot) as panels:
        upper, lower = panels
        upper.fill_between(hours, paces[1], paces[2], color=COLOURS[0], alpha=0.14, linewidth=0)
        upper.set_ylim(0, 1.05 * float(paces[0][0]))
        draw_lines(upper, upper_curves)
        lower.set_ylim(0, 1.02)
        draw_lines(lower, lower_curves)
