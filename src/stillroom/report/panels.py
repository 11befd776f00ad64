"""Two panels over one time, temperatures above and lethality below, drawn and written to a file.

Words stand at the ends of their lines and neighbours differ in their dashes, so that a figure is
read without its colours. Lengths on paper are inches.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import numpy as np

from stillroom.errors import InputError
from stillroom.labels import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# endings, with the metadata that would tell one drawing from the next
ENDINGS: Mapping[str, dict[str, Any]] = {
    ".svg": {"Date": None},
    ".png": {},
    ".pdf": {"CreationDate": None},
}
DOTS = 160  # an inch
AUTHORITY = "Have the process of anything sold in sealed packs set by a process authority."
LINEAR_UP_TO = 5.0  # times what is asked for; above, the axis is logarithmic
DECADES = 2  # of that axis, under what is asked for

LEFT, ACROSS, RIGHT = 0.9, 6.2, 3.4
ABOVE, HIGH, BETWEEN, BELOW = 0.95, 2.9, 0.66, 0.85
LEADER, RANGE = 0.2, 0.09  # from the panel to its words; between bars of the coldest place
TITLE, TEXT, SMALL, CAUTION = 13.0, 9.0, 8.0, 7.0  # points
LINE, APART = 1.3 * SMALL / 72, 0.6  # height of a line of small words; lines between two words
LONGEST, LONGEST_TITLE = 110, 72  # characters

INK, QUIET, GRID = "#1d1d1f", "#5f6266", "#dcdfe2"
COLOURS = ("#17375e", "#b5521b", "#2a8c82", "#7b4b94", "#94801a")
DASHES: tuple[tuple[float, ...], ...] = ((), (6, 2), (1.4, 1.5), (7, 2, 1.4, 2))
SETTINGS: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": TEXT,
    "text.parse_math": False,
    "text.color": INK,
    "axes.labelcolor": INK,
    "axes.edgecolor": QUIET,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "pdf.fonttype": 42,
    "svg.fonttype": "none",
    "svg.hashsalt": "stillroom",
}


@dataclass(frozen=True)
class Curve:
    """A line of a panel.

    Attributes:
        words: at its end.
        time_min: along.
        height: what is drawn, nan in a gap.
        colour: of line and words.
        dashes: on and off in line widths; none for an unbroken line.
        width: in points.
        coldest: lowest, likely and highest end of it in the coldest place of the pack.
    """

    words: str
    time_min: Array
    height: Array
    colour: str = INK
    dashes: tuple[float, ...] = ()
    width: float = 1.8
    coldest: tuple[float, float, float] | None = None

    @property
    def last(self) -> float:
        """The last height that is known; nan if none is."""
        known = self.height[np.isfinite(self.height)]
        return float(known[-1]) if known.size else float("nan")

    @property
    def highest(self) -> float:
        """The highest of the line and of its coldest place; 0 where nothing is known."""
        return float(np.nanmax(self.height, initial=max(self.coldest or (0.0,))))

    @property
    def room(self) -> float:
        """How high its words stand, with some air."""
        return LINE * (self.words.count("\n") + 1 + APART)


def style(n: int) -> tuple[str, tuple[float, ...]]:
    """Return colour and dashes of a line by its number."""
    return COLOURS[n % len(COLOURS)], DASHES[n % len(DASHES)]


def one_line(text: str, longest: int) -> str:
    """Return text as one line that every format can hold."""
    plain = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return plain if len(plain) <= longest else f"{plain[: longest - 1]}…"


def wide(words: str) -> float:
    """Return how wide small words are, with some air."""
    from matplotlib.textpath import TextPath

    lines = (TextPath((0, 0), line, size=SMALL) for line in words.split("\n"))
    return max(float(line.get_extents().width) for line in lines) / 72 + 0.08


def spread(wanted: Array, sizes: Array, low: float, high: float) -> Array:
    """Return places as near to the wanted ones as can be, without overlap.

    Args:
        wanted: middles.
        sizes: of what is placed.
        low: where places begin; the first give way where not all fit.
        high: where they end.
    """
    from scipy.optimize import isotonic_regression

    order = np.argsort(wanted, kind="stable")
    stacked = np.cumsum(sizes[order]) - sizes[order] / 2
    free = isotonic_regression(wanted[order] - stacked).x
    places = np.empty_like(stacked)
    places[order] = np.minimum(np.maximum(free, low), high - sizes.sum()) + stacked
    return places


# --- the page ---------------------------------------------------------------------------------


@contextmanager
def our_settings() -> Iterator[None]:
    """Draw by our settings, whatever those of the user are."""
    import matplotlib

    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(SETTINGS)
        yield


@contextmanager
def page(
    path: Path,
    head: Sequence[str],
    headings: Sequence[str],
    curves: Sequence[Sequence[Curve]],
    foot: tuple[str, str],
) -> Iterator[tuple[Axes, Axes]]:
    """Give two empty panels over one time, high enough for their words; at the end, write them.

    Args:
        path: to write, as SVG, PNG or PDF by its ending; a file there is replaced.
        head: title, then lines under it.
        headings: of the upper and the lower panel.
        curves: that each of them will hold.
        foot: what the time is, and what the figure is.

    Raises:
        InputError: another ending, or a path that cannot be written.
    """
    from matplotlib.figure import Figure

    if path.suffix.lower() not in ENDINGS:
        raise InputError(f"{path}: write a figure as .svg, .png or .pdf.")
    above = ABOVE + LINE * max(0, len(head) - 2)
    tall = [max(HIGH, sum(c.room for c in some)) for some in curves]
    size = LEFT + ACROSS + RIGHT, above + tall[0] + BETWEEN + tall[1] + BELOW
    figure = Figure(figsize=size, facecolor="white")
    floors = (BELOW + tall[1] + BETWEEN, BELOW)
    upper, lower = (_panel(figure, *each) for each in zip(floors, tall, headings, strict=True))
    upper.sharex(lower)
    upper.tick_params(axis="x", labelbottom=False, length=0)
    lower.set_xlabel(foot[0])
    _letter(figure, head, foot[1])
    yield upper, lower
    _write(figure, path)


def _panel(figure: Figure, floor: float, tall: float, heading: str) -> Axes:
    across, up = figure.get_size_inches()
    axes = figure.add_axes((LEFT / across, floor / up, ACROSS / across, tall / up))
    axes.set_title(heading, loc="left", size=TEXT, pad=5)
    axes.grid(axis="y", color=GRID, linewidth=0.6)
    axes.set_axisbelow(True)
    return axes


def _letter(figure: Figure, head: Sequence[str], caution: str) -> None:
    """Put the words over and under the panels."""
    high = figure.get_figheight()

    def put(height: float, words: str, **how: Any) -> None:
        figure.text(LEFT / figure.get_figwidth(), height / high, words, **how)

    put(high - 0.34, one_line(head[0], LONGEST_TITLE), size=TITLE, weight="bold")
    for n, words in enumerate(head[1:]):
        colour = QUIET if n == 0 else INK
        put(high - 0.55 - n * LINE, one_line(words, LONGEST), size=SMALL, color=colour)
    put(0.16, f"{caution} {AUTHORITY}", size=CAUTION, color=QUIET)


def _write(figure: Figure, path: Path) -> None:
    """Write beside the path and rename, so that nothing half-written is ever there."""
    ending = path.suffix.lower()
    part = path.with_name(f".{uuid4().hex}{ending}")
    try:
        with part.open("xb") as file, warnings.catch_warnings():
            if ending == ".svg":  # keeps the letters; fonts are for whoever shows it
                warnings.filterwarnings("ignore", "Glyph")
            figure.savefig(file, format=ending[1:], dpi=DOTS, metadata=ENDINGS[ending])
        part.replace(path)
    except OSError as problem:
        raise InputError(f"{path} cannot be written: {problem.strerror}.") from None
    finally:
        with suppress(OSError):
            part.unlink()


# --- what the panels hold ---------------------------------------------------------------------


def draw_temperatures(axes: Axes, curves: Sequence[Curve], head: float = 0.0) -> None:
    """Draw the upper panel, with room for words over the curves.

    Args:
        axes: of the panel.
        curves: to draw.
        head: height of that room.
    """
    every = np.concatenate([c.height for c in curves])
    low, high = 10 * np.floor((np.nanmin(every) - 2) / 10), np.nanmax(every)
    axes.set_ylim(low, low + 1.04 * (high - low) / (1 - head / HIGH))
    axes.set_yticks([T for T in axes.get_yticks() if low <= T <= high + 2])
    draw_lines(axes, curves)


def draw_lethalities(
    axes: Axes, curves: Sequence[Curve], asked: float | None, unit: str = ""
) -> None:
    """Draw the lower panel: straight where all of it can be seen, else logarithmic.

    Args:
        axes: of the panel.
        curves: to draw.
        asked: height that is asked for, if any.
        unit: after the numbers of the axis.
    """
    top = 1.15 * max(c.highest for c in curves) or 1.0
    if asked and top > LINEAR_UP_TO * asked:
        axes.set_yscale("log", nonpositive="clip")
        low, top = asked / 10**DECADES, 1.5 * top
        axes.set_yticks(10.0 ** np.arange(np.ceil(np.log10(low)), np.log10(top)))
        axes.set_yticks([], minor=True)
        axes.set_ylim(low, top)
    else:
        axes.set_ylim(0, top)
    axes.yaxis.set_major_formatter(lambda v, _: f"{v:,.6g}{unit}".replace(",", " "))
    ranged = [c for c in curves if c.coldest]
    for n, c in enumerate(ranged, 1):
        _draw_coldest(axes, c, 1 + RANGE * n / ACROSS)
    draw_lines(axes, curves, RANGE * (len(ranged) + 0.8) if ranged else 0.0)


def _draw_coldest(axes: Axes, curve: Curve, across: float) -> None:
    """Draw the range of the coldest place as a bar beside the panel."""
    assert curve.coldest
    low, likely, high = (np.clip(v, *axes.get_ylim()) for v in curve.coldest)
    place: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "clip_on": False}
    place |= {"color": curve.colour, "solid_capstyle": "butt"}
    axes.plot([across, across], [low, high], linewidth=2.2, **place)
    axes.plot([across], [likely], marker="o", markersize=4.4, **place)


def draw_lines(axes: Axes, curves: Sequence[Curve], aside: float = 0.0) -> None:
    """Draw lines and, at the right, the words of each, clear of each other and led to it.

    Args:
        axes: of the panel.
        curves: to draw.
        aside: room between panel and words.
    """
    for c in curves:
        axes.plot(c.time_min, c.height, color=c.colour, linestyle=(0, c.dashes), linewidth=c.width)
    axes.set_xlim(curves[0].time_min[0], curves[0].time_min[-1])
    tall = axes.bbox.height / axes.figure.dpi
    ends = np.array([_up(axes, c.last) for c in curves])
    places = spread(tall * ends, np.array([c.room for c in curves]), 0.0, tall) / tall
    across = [1.0, 1 + aside / ACROSS, 1 + (aside + LEADER) / ACROSS]
    for c, end, at in zip(curves, ends, places, strict=True):
        place: dict[str, Any] = {"transform": axes.transAxes, "color": c.colour}
        axes.plot(across, [end, end, at], linewidth=0.6, clip_on=False, zorder=1, **place)
        axes.text(across[-1] + 0.05 / ACROSS, at, c.words, size=SMALL, va="center", **place)


def _up(axes: Axes, height: float) -> float:
    """Return where a height is between the floor (0) and the top (1) of a panel; nan is on it."""
    low, high = axes.get_ylim()
    inside = low if np.isnan(height) else float(np.clip(height, low, high))
    return float(axes.transAxes.inverted().transform(axes.transData.transform((0, inside)))[1])
