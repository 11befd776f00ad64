"""What moves what, as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from stillroom.assess.keeping import UNITS, WORDS
from stillroom.plan.levers import Effect, Levers
from stillroom.report.heat import section
from stillroom.report.words import bullets

COLUMNS = {  # property -> heading, digits
    "water_activity": ("a_w", 4),
    "ph": ("pH", 3),
    "brix": ("Brix", 2),
    "heat_times": ("heat", 2),
}
CAUTIONS = (
    "Slopes at the recipe as it stands; far from it they change. Judge the changed recipe with "
    "`stillroom assess`.",
    "More preservative than the law allows is no lever: see `stillroom limits`.",
)


def levers_blocks(found: Levers) -> Iterable[RenderableType]:
    """Yield the parts of the report on levers, in reading order.

    Args:
        found: the levers of a recipe.
    """
    yield Text(found.recipe.name, "bold")
    yield section("Nearest to growing", _hangs_on(found))
    yield section("What each lever moves", _table(found))
    yield Text(
        "Foods: for 1 % of the batch more; temperatures for 1 °C, times for 1 min, soluble solids "
        "for 1 %, water activity for 0.01. Heat: times over what is asked.",
        "dim",
    )
    if found.refused:
        yield section(
            "Could not be moved", bullets(f"{k}: {why}" for k, why in found.refused.items())
        )
    yield section("Before one is pulled", bullets(CAUTIONS))


def _hangs_on(found: Levers) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    for letter, (group, key) in zip("AB", found.hangs_on.items(), strict=False):
        organism, hurdle = key
        margin = found.margins[key]
        held = "by a margin of" if margin > 0 else "not held: short by"
        unit = f" {UNITS[hurdle]}" if UNITS[hurdle] else ""
        table.add_row(
            letter, f"{organism} ({group})", f"{WORDS[hurdle]}, {held} {abs(margin):.3g}{unit}"
        )
    return table


def _table(found: Levers) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("lever", min_width=20)
    table.add_column("now", justify="right", no_wrap=True)
    shown = {
        k: v
        for k, v in COLUMNS.items()
        if any(abs(e.properties.get(k, 0.0)) > 0 for e in found.effects)
    }
    for heading, _ in shown.values():
        table.add_column(heading, justify="right", no_wrap=True)
    for letter, _ in zip("AB", found.hangs_on, strict=False):
        table.add_column(letter, justify="right", no_wrap=True)
    for e in found.effects:
        cells = [
            _signed(e.properties.get(name, 0.0), digits) for name, (_, digits) in shown.items()
        ]
        cells += [_signed(e.margins.get(key, 0.0), 3) for key in found.hangs_on.values()]
        table.add_row(_called(e), _now(e), *cells)
    return table


def _called(e: Effect) -> str:
    lever = e.lever
    name = lever.key.rstrip("_").replace("_", " ")
    return f"{lever.step} {name}" if lever.is_food else f"{lever.step} {lever.verb}, {name}"


def _now(e: Effect) -> str:
    return f"{e.lever.value:.3g} {e.lever.unit}".strip() if e.lever.value else "none"


def _signed(value: float, digits: int) -> str:
    text = f"{value:+.{digits}f}"
    return "" if float(text) == 0 else text
