"""Many batches of a recipe as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from stillroom.plan.population import Passing, Population
from stillroom.report.heat import section
from stillroom.report.words import bullets

NAMES = {
    "water_activity": "water activity",
    "ph": "pH",
    "brix": "soluble solids, °Brix",
    "salt": "salt, %",
}
RAREST, CAUSES, LEAST_CAUSE = 8, 3, 0.03
CAUTIONS = (
    "Scatter that is not declared is the tables' own or common practice; yours may be wider: "
    "measure your batches.",
    "A share is no permission: what fails in one batch of a hundred is sold a hundred times.",
)


def population_blocks(p: Population) -> Iterable[RenderableType]:
    """Yield the parts of the report on many batches, in reading order.

    Args:
        p: the batches.
    """
    yield Text(p.recipe.name, "bold")
    yield Text(f"{p.batches} batches, seed {p.seed}")
    yield section("Batches that keep what they promise", _whole(p))
    yield section("Where batches fail", _rarest(p))
    yield section("How they scatter", _scatter(p))
    yield section("Left out", bullets(p.notes))
    yield section("Before it is relied on", bullets(CAUTIONS))


def _whole(p: Population) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    for words, one in (
        ("nothing dangerous can grow", p.every_danger),
        ("nothing at all can grow", p.everything),
    ):
        table.add_row(words, _share(one))
    return table


def _share(one: Passing) -> str:
    return f"{100 * one.share:.2f} % ({100 * one.low:.2f} to {100 * one.high:.2f})"


def _rarest(p: Population) -> RenderableType:
    failing = [one for one in p.passing if one.share < 1]
    if not failing:
        return Text("In no batch.")
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("organism", "", "held in", "held best by", "jars to measure"):
        table.add_column(column, justify="right" if column.startswith("jars") else "left")
    for one in failing[:RAREST]:
        jars = "no number shows it" if one.jars is None else str(one.jars)
        table.add_row(one.subject, one.group, f"{100 * one.share:.2f} %", one.hurdle, jars)
    table.caption = (
        f"Jars whose values show 95 % of batches with 95 % confidence; by counting alone "
        f"{p.by_counting} jars without a failure."
    )
    table.caption_justify = "left"
    return table


def _scatter(p: Population) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("", "mean", "sd", "95 % of batches", "mostly from"):
        table.add_column(column, justify="right" if column in ("mean", "sd") else "left")
    for s in p.properties:
        low, _, high = s.quantiles
        causes = [
            f"{words} {100 * share:.0f} %"
            for words, share in list(s.causes.items())[:CAUSES]
            if share >= LEAST_CAUSE
        ]
        table.add_row(
            NAMES[s.name], f"{s.mean:.3g}", f"{s.sd:.2g}", f"{low:.3g} to {high:.3g}",
            "; ".join(causes),
        )  # fmt: skip
    table.caption = (
        "The 95 % hold the error of the prediction, sd does not. Shares of the variance."
    )
    table.caption_justify = "left"
    return table
