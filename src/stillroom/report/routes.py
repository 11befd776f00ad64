"""Compared ways to one water activity as text for a terminal, and as a figure."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from stillroom.errors import InputError
from stillroom.plan.routes import Route, Routes
from stillroom.report.heat import section
from stillroom.report.panels import SMALL, Curve, draw_lines, our_settings, page, style
from stillroom.report.words import bullets

THEN = {"dry": "dried", "boil": "boiled", "mix": "nothing leaves"}
CAUTIONS = (
    "One water activity is one hurdle: judge the whole recipe with `stillroom assess`.",
    "Salt and sugar slow the water in the food and may set a crust: dried, it takes longer than "
    "told. Boiled, pieces go soft and what is volatile leaves with the steam.",
    "Measure the water activity at the end, whichever way is taken.",
)


def routes_blocks(r: Routes) -> Iterable[RenderableType]:
    """Yield the parts of the report on compared ways, in reading order.

    Args:
        r: the comparison.
    """
    yield Text(r.recipe.name, "bold")
    names = ", ".join(r.foods)
    water = 1000 * float(r.food.kg("water"))
    yield Text(
        f"A kilogram of {names}, {water:.0f} g of it water, to water activity {r.water_activity:g}:"
    )
    yield _table(r)
    remarks = [f"{_way(one)}: {words}" for one in r.routes for words in one.remarks]
    if remarks:
        yield section("What stands against", bullets(remarks))
    if r.assumed:
        yield section("Assumed", bullets(r.assumed))
    yield section("Before one is chosen", bullets(CAUTIONS))


def _way(one: Route) -> str:
    return f"{_added(one)}, {THEN[one.how]}" if one.added_kg else THEN[one.how]


def _added(one: Route) -> str:
    return f"{1000 * one.added_kg:.0f} g {one.adds}" if one.added_kg else "nothing"


def _table(r: Routes) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("added", no_wrap=True)
    table.add_column("then", no_wrap=True)
    for column in ("water out", "hours", "kWh", "yield", "salt", "sugar"):
        table.add_column(column, justify="right", no_wrap=True)
    for one in r.routes:
        low, high = (1000 * kg for kg in one.removed_between_kg)
        table.add_row(
            _added(one), THEN[one.how],
            f"{1000 * one.water_removed_kg:.0f} ({low:.0f}-{high:.0f})",
            _range(one.hours[-1], one.hours[0]), _range(*one.energy_kWh),
            f"{1000 * one.product_kg:.0f}", f"{one.salt_portion_g:.1f}",
            f"{one.sugar_portion_g:.0f}",
        )  # fmt: skip
    table.caption = (
        "Water out and yield in g, kWh for that kilogram; salt and sugar in g of a portion of "
        f"{1000 * r.portion_kg:g} g; hours of boiling for the batch of {r.batch_kg:.3g} kg."
    )
    table.caption_justify = "left"
    return table


def _range(low: float, high: float) -> str:
    if not np.isfinite(low):
        return "?"
    one, other = f"{low:.2g}", f"{high:.2g}"
    return one if one == other else f"{one}-{other}"


@our_settings()
def draw_routes(r: Routes, path: Path) -> None:
    """Write what salt and sugar save as a figure.

    Args:
        r: the comparison.
        path: to write, as SVG, PNG or PDF by its ending.

    Raises:
        InputError: another ending, a path that cannot be written, or nothing that was tried.
    """
    if not r.sweeps:
        raise InputError("a figure needs salt or sugar to be tried.")
    widest = max(float(s.added_kg[-1]) for s in r.sweeps)
    longest = next(s for s in r.sweeps if float(s.added_kg[-1]) == widest)
    removed, hours = [], []
    for n, s in enumerate(sorted(r.sweeps, key=lambda s: s is not longest)):
        x, how = 1000 * s.added_kg, style(n)
        removed.append(Curve(f"with {s.adds}", x, 1000 * s.water_removed_kg, *how))
        hours.append(Curve(f"with {s.adds}", x, s.hours, *how))
    panels_of = (removed, hours)
    head = [
        r.recipe.name,
        f"to water activity {r.water_activity:g}: what salt and sugar save, for a kilogram of food",
    ]
    headings = ("Water to take out, g", "Hours in the dryer, middle pace")
    foot = ("g added to a kilogram of food", "A prediction.")
    with page(path, head, headings, panels_of, foot) as panels:
        for axes, curves in zip(panels, panels_of, strict=True):
            axes.set_ylim(0, 1.1 * max(c.highest for c in curves) or 1.0)
            draw_lines(axes, curves[:1])
            for c in curves[1:]:
                axes.plot(c.time_min, c.height, color=c.colour, linestyle=(0, c.dashes))
                axes.text(
                    c.time_min[-1], c.last, f"  {c.words}", size=SMALL, color=c.colour, va="center"
                )
