"""A packed product as text and as a figure: its water activity over the declared time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from stillroom.assess.keep.ending import KeepTimes
from stillroom.assess.keep.findings import in_days
from stillroom.assess.pack.findings import BOTH_WAYS, film_remedy
from stillroom.assess.pack.limits import Crossing, Packed, limit_words
from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.report.heat import section
from stillroom.report.panels import COLOURS, QUIET, Curve, draw_lines, our_settings, page, style
from stillroom.report.words import STYLES, number, sentence

WORDS = {"pass": "held", "fail": "not held", "cannot tell": "measure"}
HANGS_ON = "What the typical time hangs on"


def pack_blocks(packed: Packed) -> Iterable[RenderableType]:
    """Yield the parts of the report on a pack, in reading order.

    Args:
        packed: the product in its pack.
    """
    yield section("In its pack", Group(*_pack(packed)))
    if packed.mixed:
        yield section("What shares its water", _parts(packed))
    shown = next((c for c in packed.crossings if 0 < c.typical_days < np.inf), None)
    if shown is not None and packed.course.pack.barrier is not None:
        yield section(f"{HANGS_ON}: {shown.subject}", _moved(shown))


def _pack(packed: Packed) -> Iterable[RenderableType]:
    course, barrier = packed.course, packed.course.pack.barrier
    start, end = course.band[:, 0], course.band[:, -1]
    if barrier is None:
        yield Text(f"Taken as tight: water activity {_range(start)} throughout.")
    else:
        low, middle, high = barrier.wvtr_g_per_m2_day
        yield Text(
            f"{barrier.named}; lets through {_short(middle)} g/(m² d) at 38 °C and 90 % "
            f"({_short(low)} to {_short(high)})"
        )
        gained = course.gained_g[1, -1]
        way = "gains" if gained >= 0 else "loses"
        yield Text(
            f"Water activity {_range(start)} when packed, {_range(end)} after "
            f"{in_days(course.declared_days)}; a pack {way} {_short(abs(gained))} g of water."
        )
    if not packed.crossings:
        yield Text("No limit of texture is on file for it.")
        return
    table = Table(box=None, pad_edge=False, header_style="dim")
    for name in ("", "water activity", "earliest", "typical", "latest", "", ""):
        table.add_column(name, justify="right" if name[-2:] in ("st", "al") else "left")
    for c in packed.crossings:
        table.add_row(
            c.subject,
            limit_words(c) + (" or more" if c.rising else " or less"),
            *(_when(d) for d in (c.earliest_days, c.typical_days, c.latest_days)),
            Text(WORDS[c.verdict], STYLES[c.verdict]),
            Text(_would_hold(c), "dim"),
        )
    yield table


def _would_hold(c: Crossing) -> str:
    remedy = film_remedy(c)
    return sentence(remedy) if remedy else ""


def _short(value: float) -> str:
    return number(float(f"{value:.2g}"))


def _range(band: Array) -> str:
    low, middle, high = band
    return f"{middle:.2f} ({low:.2f} to {high:.2f})"


def _when(days: float) -> str:
    if days == 0:
        return "at once"
    return in_days(days) if days < float("inf") else "never"


def _parts(packed: Packed) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for name in ("", "share of dry solids", "water activity alone", "with the others"):
        table.add_column(name, justify="right" if name else "left")
    shared = packed.course.band[1, 0]
    for p in packed.parts:
        own = "" if p.own_water_activity is None else f"{p.own_water_activity:.2f}"
        table.add_row(p.name, f"{100 * p.dry_share:.0f} %", own, f"{shared:.2f}")
    balance = f"By the balance of their own curves they come to {packed.shared:.2f}."
    return Group(table, Text(balance), Text(sentence(BOTH_WAYS), "dim"))


def _moved(c: Crossing) -> RenderableType:
    table = Table(box=None, pad_edge=False, show_header=False)
    table.add_column("")
    table.add_column("", justify="right")
    table.add_row("as it is", _when(c.typical_days))
    for words, days in c.moved.items():
        table.add_row(words, _when(days))
    return table


def pack_sources(packed: Packed) -> list[str]:
    """Return a line for every film and limit that stands in the tables."""
    barrier = packed.course.pack.barrier
    layers = barrier.layers if barrier else ()
    limits = [f"{c.subject}: {c.source} [{c.provenance}]" for c in packed.crossings]
    return [*(f"{x.named}: {x.source}" for x in layers), *dict.fromkeys(limits)]


# --- figure -----------------------------------------------------------------------------------


@our_settings()
def draw_pack(times: KeepTimes, path: Path) -> None:
    """Write the figure of a packed product as SVG, PNG or PDF, by the ending of the path.

    Args:
        times: its keeping times.
        path: to write; a file there is replaced.

    Raises:
        InputError: no pack whose water activity moves, another ending, or a path that cannot be
            written.
    """
    packed = times.packed
    if packed is None or packed.course.pack.barrier is None:
        raise InputError("no film is given that water passes: there is no course to draw.")
    course, barrier = packed.course, packed.course.pack.barrier
    low, middle, high = course.band
    words = f"water activity, {middle[-1]:.2f} at the end\n({low[-1]:.2f} to {high[-1]:.2f})"
    upper = [Curve(words, course.days, middle, *style(0)), *_limits(packed.crossings, course.days)]
    light, gained, heavy = course.gained_g
    lower = [Curve(f"water gained, {_short(gained[-1])} g a pack", course.days, gained, *style(0))]
    head = [times.name, f"{barrier.named}; {times.declared.history.words}"]
    headings = (
        "Water activity in the pack; the band is film, food and room at their ends",
        "Grams of water a pack has gained",
    )
    foot = ("days from the closing of the pack", "A prediction.")
    with page(path, head, headings, (upper, lower), foot) as (above, below):
        above.fill_between(course.days, low, high, color=COLOURS[0], alpha=0.14, linewidth=0)
        below.fill_between(course.days, light, heavy, color=COLOURS[0], alpha=0.14, linewidth=0)
        every = [low, high, *(c.height for c in upper)]
        above.set_ylim(
            max(0.0, min(float(e.min()) for e in every) - 0.05),
            min(1.0, max(float(e.max()) for e in every) + 0.05),
        )
        room = max(0.1, 0.05 * float(np.ptp([light, heavy])))
        below.set_ylim(min(0.0, light.min()) - room, max(0.0, heavy.max()) + room)
        draw_lines(above, upper)
        draw_lines(below, lower)


def _ends(c: Crossing) -> tuple[tuple[float, str], tuple[float, str]]:
    near, far = (c.low, c.high) if c.rising else (c.high, c.low)
    return (near, "may begin"), (far, "for certain")


def _limits(crossings: Sequence[Crossing], days: Array) -> list[Curve]:
    """Return the lines of the limits, each once, from where one begins to where it is certain."""
    lines: dict[float, list[str]] = {}
    for c in crossings:
        for limit, word in _ends(c):
            told = c.subject if c.low == c.high else f"{c.subject}, {word}"
            if told not in lines.setdefault(limit, []):
                lines[limit].append(told)
    ends = days[[0, -1]]
    return [
        Curve("\n".join([f"{limit:.2f}: {told[0]}", *told[1:]]), ends, np.full(2, limit), QUIET,
              (4, 2), 1.0)
        for limit, told in sorted(lines.items())
    ]  # fmt: skip
