"""Figures of heat, temperatures above and lethality below: of a predicted pack, of a measured run.

Words stand at the ends of their lines and neighbours differ in their dashes, so that a figure is
read without its colours. Lengths on paper are inches.
"""

from __future__ import annotations

import re
import textwrap
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import numpy as np

from stillroom.assess.heat.judgement import COOK, Heating, Reached
from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.physics.death import Scale
from stillroom.product.heat_course import Course
from stillroom.product.pack_plan import Plan, Way
from stillroom.report.words import number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# endings, with the metadata that would tell one drawing from the next
ENDINGS: Mapping[str, dict[str, Any]] = {
    ".svg": {"Date": None},
    ".png": {},
    ".pdf": {"CreationDate": None},
}
DRAWN = ("hazard", "spoilage")  # uses of a target
COOLED_C = 40.0  # under this nothing more is gained
AFTER_OFF = 1.25  # the figure ends no sooner than so many times the heat
LINEAR_UP_TO = 5.0  # times what is asked for; above, the axis is logarithmic
DECADES = 2  # of that axis, under what is asked for
WAYS: Mapping[Way, str] = {
    "conduction": "heat conducts through it",
    "convection": "it moves as it warms",
    "pieces": "pieces in a liquor",
}
AUTHORITY = "Have the process of anything sold in sealed packs set by a process authority."
NOTHING_ASKED = "Cook value of the middle, minutes; no lethality is asked for"
ASKED = "Lethality of the middle, per cent of what is asked for; bars beside: the coldest place"

LEFT, ACROSS, RIGHT = 0.9, 6.2, 3.4
ABOVE, HIGH, BETWEEN, BELOW = 0.95, 2.9, 0.66, 0.85
BAND_HEAD = 0.5  # over the curves, for the words of the legs
LEADER, RANGE = 0.2, 0.09  # from the panel to its words; between bars of the coldest place
TITLE, TEXT, SMALL, CAUTION = 13.0, 9.0, 8.0, 7.0  # points
LINE, APART = 1.3 * SMALL / 72, 0.6  # height of a line of small words; lines between two words
WRAP, NARROW, LONGEST, LONGEST_TITLE = 42, 12, 110, 72  # characters
DOTS = 160  # an inch

INK, QUIET, GRID, MEDIUM = "#1d1d1f", "#5f6266", "#dcdfe2", "#808489"
HOT_LEG, OTHER_LEG = "#fbf1e4", "#f1f5f8"
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
    def lines(self) -> int:
        """How many lines the words take."""
        return self.words.count("\n") + 1


@dataclass(frozen=True)
class Band:
    """A leg as it is seen in the figure, with its words as they fit into it, if they do."""

    words: str
    start_min: float
    end_min: float
    heating: bool
    fitting: str | None


# --- the two figures --------------------------------------------------------------------------


def draw_heat(heating: Heating, path: Path, title: str) -> None:
    """Write the figure of a heated pack as SVG, PNG or PDF, by the ending of the path.

    Args:
        heating: the judged heat.
        path: to write; a file there is replaced.
        title: name of the product.

    Raises:
        InputError: another ending, or a path that cannot be written.
    """
    _check_ending(path)
    plan, asked = heating.plan, [r for r in heating.reached if r.target.use in DRAWN]
    seen = _seen(heating.course)
    above = _temperatures(heating, seen)
    below = _shares(heating, asked, seen) if asked else [_cook_value(heating, seen)]
    if asked:
        below.append(_asked("asked for", 100.0, above[0].time_min))
    about = (
        f"{plan.container.name}, {1000 * plan.net_kg:.0f} g, {plan.start_C:.0f} °C when closed; "
        f"{WAYS[plan.way]}"
    )
    headings = ("Temperature, °C", ASKED if asked else NOTHING_ASKED)
    with _settings():
        bands = _bands(plan, float(above[0].time_min[-1]))
        figure, upper, lower = _panels([title, about, *_key(bands)], headings, [above, below])
        _label_time(figure, lower, "minutes from the closing of the pack", "A prediction.")
        _draw_temperatures(upper, above, BAND_HEAD)
        _draw_lethalities(lower, below, 100.0 if asked else None, " %" if asked else "")
        _shade(upper, lower, bands)
        _mark_off(upper, lower, heating)
        _write(figure, path)


def draw_log(
    time_s: Array,
    temperature_C: Mapping[str, Array],
    path: Path,
    title: str,
    scale: Scale,
    lethality: Mapping[str, Array],
    asked_min: float | None,
) -> None:
    """Write the figure of a measured run as SVG, PNG or PDF, by the ending of the path.

    Args:
        time_s: of the readings, rising.
        temperature_C: channel -> readings, nan in a gap.
        path: to write; a file there is replaced.
        title: name of the run.
        scale: what the lethalities are counted in.
        lethality: channel -> minutes on the scale up to every time.
        asked_min: minutes that are asked for, if any.

    Raises:
        InputError: another ending, or a path that cannot be written.
    """
    _check_ending(path)
    t = np.asarray(time_s, float) / 60
    styles = {name: _style(n) for n, name in enumerate({**temperature_C, **lethality})}
    above = [Curve(_line(c, WRAP), t, T, *styles[c]) for c, T in temperature_C.items()]
    below = [Curve(_line(c, WRAP), t, F, *styles[c]) for c, F in lethality.items()]
    below = [replace(c, words=f"{c.words}: {number(c.last)} min") for c in below]
    if asked_min is not None:
        below.append(_asked(f"asked for: {number(asked_min)} min", asked_min, t))
    headings = ("Temperature, °C", f"Lethality, minutes at {scale}")
    with _settings():
        figure, upper, lower = _panels([title, "measured"], headings, [above, below])
        _label_time(figure, lower, "minutes from the first reading", "One measured run.")
        _draw_temperatures(upper, above)
        _draw_lethalities(lower, below, asked_min)
        _write(figure, path)


def _asked(words: str, height: float, time_min: Array) -> Curve:
    return Curve(words, time_min[[0, -1]], np.full(2, height), width=1.0)


# --- what a heated pack shows -----------------------------------------------------------------


def _seen(course: Course) -> slice:
    """Return the times of the figure: until the middle is cool and the heat is long off."""
    warm = np.flatnonzero(course.centre_C[0] >= COOLED_C)
    cool = warm[-1] + 2 if warm.size else course.time_s.size
    return slice(max(int(cool), int(np.searchsorted(course.time_s, AFTER_OFF * course.off_s))))


def _temperatures(heating: Heating, seen: slice) -> list[Curve]:
    """Return medium, wall and middle; one line for the food where all of it is alike."""
    course, pieces = heating.course, heating.plan.way == "pieces"
    t = course.time_s[seen] / 60
    middle, wall = course.centre_C[0, seen], course.surface_C[0, seen]
    curves = [Curve("medium", t, course.medium_C[seen], MEDIUM, width=2.4)]
    if np.array_equal(middle, wall):
        words = "food, all of it alike" if heating.plan.given is None else "food, slowest place"
        return [*curves, Curve(words, t, middle, *_style(0))]
    names = ("liquor", "middle of a piece") if pieces else ("food at the wall", "food, middle")
    return [*curves, *(Curve(names[n], t, (wall, middle)[n], *_style(1 - n)) for n in (0, 1))]


def _shares(heating: Heating, asked: Sequence[Reached], seen: slice) -> list[Curve]:
    """Return the lethality in the middle as per cent of the minutes of each target."""
    course, curves = heating.course, []
    for n, one in enumerate(asked):
        each = 100 / one.target.minutes
        F = each * one.target.scale.minutes(course.time_s, course.centre_C[0])
        least = one.lethality
        coldest = (each * least.low, each * least.value, each * least.high)
        words = _target_words(one, float(F[-1]), coldest)
        curves.append(Curve(words, course.time_s[seen] / 60, F[seen], *_style(n), coldest=coldest))
    return curves


def _target_words(one: Reached, middle: float, coldest: tuple[float, float, float]) -> str:
    target = one.target
    words = f"{target.words}: {number(target.minutes)} min at {target.scale}"
    if target.careful_only:
        words += ", at the upper end of the pH"
    inside, low, _, high = (number(float(f"{share:.3g}")) for share in (middle, *coldest))
    ends = low if low == high else f"{low} to {high}"
    got = f"middle {inside} %, coldest place {ends} %"
    return f"{_wrapped(words, WRAP)}\n{_wrapped(got, WRAP)}"


def _wrapped(words: str, longest: int) -> str:
    """Return words in lines that keep a number and its unit together."""
    held = re.sub(r" (?=°C|%|min)|(?<= z) ", "\xa0", words)
    return textwrap.fill(held, longest).replace("\xa0", " ")


def _cook_value(heating: Heating, seen: slice) -> Curve:
    course = heating.course
    F = COOK.minutes(course.time_s, course.centre_C[0])
    got = f"middle {number(F[-1])} min in all, mean of the pack {number(heating.cook_min)} min"
    return Curve(f"cook value at {COOK}\n{got}", course.time_s[seen] / 60, F[seen], *_style(0))


# --- legs and the end of the heat -------------------------------------------------------------


def _bands(plan: Plan, end_min: float) -> list[Band]:
    """Return the legs that are seen; one that goes on after the figure does not say how long."""
    bands, start = [], 0.0
    for leg in plan.legs:
        end = start + leg.seconds / 60
        seen = min(end, end_min)
        how_long = f"\n{number(end - start)} min" if end == seen else ""
        if start < end_min:
            room = (seen - start) / end_min * ACROSS
            tries = [_wrapped(leg.words, longest) + how_long for longest in (WRAP, NARROW)]
            fits = next((words for words in tries if _wide(words) < room), None)
            bands.append(Band(tries[0], start, seen, leg.heating, fits))
        start = end
    return bands


def _wide(words: str) -> float:
    """Return how wide small words are, with some air."""
    from matplotlib.textpath import TextPath

    lines = (TextPath((0, 0), line, size=SMALL) for line in words.split("\n"))
    return max(float(line.get_extents().width) for line in lines) / 72 + 0.08


def _key(bands: Sequence[Band]) -> list[str]:
    """Return the lines that say what the numbered bands are."""
    numbered = [b.words.replace("\n", ", ") for b in bands if not b.fitting]
    items = [f"{n} {words}".replace(" ", "\xa0") for n, words in enumerate(numbered, 1)]
    return textwrap.wrap(" · ".join(items), LONGEST)


def _shade(upper: Axes, lower: Axes, bands: Sequence[Band]) -> None:
    """Shade the legs and put the words of each, or its number in the key, at the top."""
    numbers = iter(range(1, len(bands) + 1))
    words = [b.fitting or str(next(numbers)) for b in bands]
    edges = np.array([(b.start_min, b.end_min) for b in bands]) / bands[-1].end_min * ACROSS
    widths = np.array([_wide(w) for w in words])
    for band in bands:
        tone = HOT_LEG if band.heating else OTHER_LEG
        for axes in (upper, lower):
            axes.axvspan(band.start_min, band.end_min, color=tone, linewidth=0, zorder=0)
            axes.axvline(band.start_min, color="white", linewidth=1.5, zorder=0.5)
    for text, at in zip(words, spread(edges.mean(axis=1), widths, 0.0, ACROSS), strict=True):
        place: dict[str, Any] = {"transform": upper.transAxes, "ha": "center", "va": "top"}
        upper.text(at / ACROSS, 1 - 0.05 / HIGH, text, size=SMALL, **place)


def _mark_off(upper: Axes, lower: Axes, heating: Heating) -> None:
    """Draw the line where the heat goes off, through both panels, with its words between them."""
    off_min, end_min = heating.course.off_s / 60, upper.get_xlim()[1]
    if not 0 < off_min < end_min:
        return
    for axes in (upper, lower):
        axes.axvline(off_min, color=INK, linewidth=0.9, zorder=1.5)
    words = f"{'heat off' if heating.plan.heated else 'cooling begins'}, {number(off_min)} min"
    across = off_min / end_min
    side = "left" if across < 0.1 else "right" if across > 0.9 else "center"
    place: dict[str, Any] = {"transform": upper.transAxes, "ha": side, "va": "top"}
    upper.text(across, -0.06 / HIGH, words, size=SMALL, **place)


# --- panels -----------------------------------------------------------------------------------


def _panels(
    head: Sequence[str], headings: Sequence[str], curves: Sequence[Sequence[Curve]]
) -> tuple[Figure, Axes, Axes]:
    """Return two empty panels over one time, high enough for their words, under a head."""
    from matplotlib.figure import Figure

    above = ABOVE + LINE * max(0, len(head) - 2)
    tall = [max(HIGH, LINE * sum(c.lines + APART for c in some)) for some in curves]
    wide, high = LEFT + ACROSS + RIGHT, above + tall[0] + BETWEEN + tall[1] + BELOW
    figure = Figure(figsize=(wide, high), facecolor="white")
    floors = (BELOW + tall[1] + BETWEEN, BELOW)
    panels = []
    for floor, one, heading in zip(floors, tall, headings, strict=True):
        axes = figure.add_axes((LEFT / wide, floor / high, ACROSS / wide, one / high))
        axes.set_title(heading, loc="left", size=TEXT, pad=5)
        axes.grid(axis="y", color=GRID, linewidth=0.6)
        axes.set_axisbelow(True)
        panels.append(axes)
    upper, lower = panels
    upper.sharex(lower)
    upper.tick_params(axis="x", labelbottom=False, length=0)
    title = _line(head[0], LONGEST_TITLE)
    figure.text(LEFT / wide, 1 - 0.34 / high, title, size=TITLE, weight="bold")
    for n, words in enumerate(head[1:]):
        place = (LEFT / wide, 1 - (0.55 + n * LINE) / high)
        figure.text(*place, _line(words, LONGEST), size=SMALL, color=QUIET if n == 0 else INK)
    return figure, upper, lower


def _label_time(figure: Figure, lower: Axes, words: str, caution: str) -> None:
    lower.set_xlabel(words)
    wide, high = figure.get_size_inches()
    place = (LEFT / wide, 0.16 / high)
    figure.text(*place, f"{caution} {AUTHORITY}", size=CAUTION, color=QUIET)


def _draw_temperatures(axes: Axes, curves: Sequence[Curve], head: float = 0.0) -> None:
    """Draw the upper panel, with room for words over the curves."""
    every = np.concatenate([c.height for c in curves])
    low, high = 10 * np.floor((np.nanmin(every) - 2) / 10), np.nanmax(every)
    axes.set_ylim(low, low + 1.04 * (high - low) / (1 - head / HIGH))
    axes.set_yticks([T for T in axes.get_yticks() if low <= T <= high + 2])
    _draw(axes, curves)


def _draw_lethalities(
    axes: Axes, curves: Sequence[Curve], asked: float | None, unit: str = ""
) -> None:
    """Draw the lower panel: straight where all of it can be seen, else logarithmic."""
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
    _draw(axes, curves, RANGE * (len(ranged) + 0.8) if ranged else 0.0)


def _draw_coldest(axes: Axes, curve: Curve, across: float) -> None:
    """Draw the range of the coldest place as a bar beside the panel."""
    assert curve.coldest
    low, likely, high = (np.clip(v, *axes.get_ylim()) for v in curve.coldest)
    place: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "clip_on": False}
    style: dict[str, Any] = {"color": curve.colour, "solid_capstyle": "butt"}
    axes.plot([across, across], [low, high], linewidth=2.2, **style, **place)
    axes.plot([across], [likely], marker="o", markersize=4.4, **style, **place)


def _draw(axes: Axes, curves: Sequence[Curve], aside: float = 0.0) -> None:
    """Draw lines and, at the right, the words of each, clear of each other and led to it."""
    for c in curves:
        axes.plot(c.time_min, c.height, color=c.colour, linestyle=(0, c.dashes), linewidth=c.width)
    axes.set_xlim(curves[0].time_min[0], curves[0].time_min[-1])
    tall = axes.bbox.height / axes.figure.dpi
    ends = np.array([_up(axes, c.last) for c in curves])
    sizes = LINE * np.array([c.lines + APART for c in curves])
    places = spread(tall * ends, sizes, 0.0, tall) / tall
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


def _style(n: int) -> tuple[str, tuple[float, ...]]:
    return COLOURS[n % len(COLOURS)], DASHES[n % len(DASHES)]


def _line(text: str, longest: int) -> str:
    """Return text as one line that every format can hold."""
    plain = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return plain if len(plain) <= longest else f"{plain[: longest - 1]}…"


# --- the file ---------------------------------------------------------------------------------


@contextmanager
def _settings() -> Iterator[None]:
    """Draw by our settings, whatever those of the user are."""
    import matplotlib

    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(SETTINGS)
        yield


def _check_ending(path: Path) -> None:
    if path.suffix.lower() not in ENDINGS:
        raise InputError(f"{path}: write a figure as .svg, .png or .pdf.")


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
