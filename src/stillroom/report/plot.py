"""Figures of heat: what a predicted pack shows, and what a measured run."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from stillroom.assess.heat.judgement import COOK, Heating, Reached
from stillroom.labels import Array
from stillroom.physics.death import Scale
from stillroom.product.heat_course import Course
from stillroom.product.pack_plan import Plan, Way
from stillroom.report.panels import (
    ACROSS,
    HIGH,
    INK,
    LONGEST,
    SMALL,
    Curve,
    draw_lethalities,
    draw_temperatures,
    one_line,
    our_settings,
    page,
    spread,
    style,
    wide,
)
from stillroom.report.words import number

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DRAWN = ("hazard", "spoilage")  # uses of a target
COOLED_C = 40.0  # under this nothing more is gained
AFTER_OFF = 1.25  # the figure ends no sooner than so many times the heat
WAYS: Mapping[Way, str] = {
    "conduction": "heat conducts through it",
    "convection": "it moves as it warms",
    "pieces": "pieces in a liquor",
}
TEMPERATURE = "Temperature, °C"
NOTHING_ASKED = "Cook value of the middle, minutes; no lethality is asked for"
ASKED = "Lethality of the middle, per cent of what is asked for; bars beside: the coldest place"

BAND_HEAD = 0.5  # inches over the curves, for the words of the legs
WRAP, NARROW = 42, 12  # characters
MEDIUM, HOT_LEG, OTHER_LEG = "#808489", "#fbf1e4", "#f1f5f8"


@our_settings()
def draw_heat(heating: Heating, path: Path, title: str) -> None:
    """Write the figure of a heated pack as SVG, PNG or PDF, by the ending of the path.

    Args:
        heating: the judged heat.
        path: to write; a file there is replaced.
        title: name of the product.

    Raises:
        InputError: another ending, or a path that cannot be written.
    """
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
    bands = _bands(plan, float(above[0].time_min[-1]))
    head, headings = [title, about, *_key(bands)], (TEMPERATURE, ASKED if asked else NOTHING_ASKED)
    foot = ("minutes from the closing of the pack", "A prediction.")
    with page(path, head, headings, (above, below), foot) as (upper, lower):
        draw_temperatures(upper, above, BAND_HEAD)
        draw_lethalities(lower, below, 100.0 if asked else None, " %" if asked else "")
        _shade(upper, lower, bands)
        _mark_off(upper, lower, heating)


@our_settings()
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
    t = np.asarray(time_s, float) / 60
    styles = {name: style(n) for n, name in enumerate({**temperature_C, **lethality})}
    above, below = (
        [Curve(one_line(c, WRAP), t, height, *styles[c]) for c, height in channels.items()]
        for channels in (temperature_C, lethality)
    )
    below = [replace(c, words=f"{c.words}: {number(c.last)} min") for c in below]
    if asked_min is not None:
        below.append(_asked(f"asked for: {number(asked_min)} min", asked_min, t))
    headings = (TEMPERATURE, f"Lethality, minutes at {scale}")
    foot = ("minutes from the first reading", "One measured run.")
    with page(path, [title, "measured"], headings, (above, below), foot) as (upper, lower):
        draw_temperatures(upper, above)
        draw_lethalities(lower, below, asked_min)


def _asked(words: str, height: float, time_min: Array) -> Curve:
    return Curve(words, time_min[[0, -1]], np.full(2, height), width=1.0)


# --- lines of a heated pack -------------------------------------------------------------------


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
        return [*curves, Curve(words, t, middle, *style(0))]
    names = ("liquor", "middle of a piece") if pieces else ("food at the wall", "food, middle")
    return [*curves, *(Curve(names[n], t, (wall, middle)[n], *style(1 - n)) for n in (0, 1))]


def _shares(heating: Heating, asked: Sequence[Reached], seen: slice) -> list[Curve]:
    """Return the lethality in the middle as per cent of the minutes of each target."""
    course, curves = heating.course, []
    for n, one in enumerate(asked):
        each = 100 / one.target.minutes
        F = each * one.target.scale.minutes(course.time_s, course.centre_C[0])
        least = one.lethality
        coldest = (each * least.low, each * least.value, each * least.high)
        words = _target_words(one, float(F[-1]), coldest)
        curves.append(Curve(words, course.time_s[seen] / 60, F[seen], *style(n), coldest=coldest))
    return curves


def _target_words(one: Reached, middle: float, coldest: tuple[float, float, float]) -> str:
    target = one.target
    words = f"{target.words}: {number(target.minutes)} min at {target.scale}"
    if target.careful_only:
        words += ", at the upper end of the pH"
    inside, low, _, high = (number(float(f"{share:.3g}")) for share in (middle, *coldest))
    ends = low if low == high else f"{low} to {high}"
    return f"{_wrapped(words)}\n{_wrapped(f'middle {inside} %, coldest place {ends} %')}"


def _wrapped(words: str, longest: int = WRAP) -> str:
    """Return words in lines that keep a number and its unit together."""
    held = re.sub(r" (?=°C|%|min)|(?<= z) ", "\xa0", words)
    return textwrap.fill(held, longest).replace("\xa0", " ")


def _cook_value(heating: Heating, seen: slice) -> Curve:
    course = heating.course
    F = COOK.minutes(course.time_s, course.centre_C[0])
    got = f"middle {number(F[-1])} min in all, mean of the pack {number(heating.cook_min)} min"
    return Curve(f"cook value at {COOK}\n{got}", course.time_s[seen] / 60, F[seen], *style(0))


# --- legs and the end of the heat -------------------------------------------------------------


@dataclass(frozen=True)
class Band:
    """A leg as it is seen: its words where they fit, else a number and the words in a key."""

    shown: str
    key: str  # "" where the words fit
    start_min: float
    end_min: float
    heating: bool


def _bands(plan: Plan, end_min: float) -> list[Band]:
    """Return the legs that are seen; one that goes on after the figure does not say how long."""
    bands: list[Band] = []
    start = 0.0
    for leg in plan.legs:
        end = start + leg.seconds / 60
        seen = min(end, end_min)
        how_long = f"\n{number(end - start)} min" if end == seen else ""
        if start < end_min:
            room = (seen - start) / end_min * ACROSS
            tries = [_wrapped(leg.words, longest) + how_long for longest in (WRAP, NARROW)]
            fitting = next((words for words in tries if wide(words) < room), "")
            n = 1 + sum(bool(b.key) for b in bands)
            key = "" if fitting else f"{n} {tries[0]}"
            bands.append(Band(fitting or str(n), key, start, seen, leg.heating))
        start = end
    return bands


def _key(bands: Sequence[Band]) -> list[str]:
    """Return the lines that say what the numbered bands are."""
    items = [b.key.replace("\n", ", ").replace(" ", "\xa0") for b in bands if b.key]
    return textwrap.wrap(" · ".join(items), LONGEST)


def _shade(upper: Axes, lower: Axes, bands: Sequence[Band]) -> None:
    """Shade the legs and put the words of each, or its number in the key, at the top."""
    for band in bands:
        tone = HOT_LEG if band.heating else OTHER_LEG
        for axes in (upper, lower):
            axes.axvspan(band.start_min, band.end_min, color=tone, linewidth=0, zorder=0)
            axes.axvline(band.start_min, color="white", linewidth=1.5, zorder=0.5)
    middles = np.array([(b.start_min + b.end_min) / 2 for b in bands]) / bands[-1].end_min
    places = spread(middles * ACROSS, np.array([wide(b.shown) for b in bands]), 0.0, ACROSS)
    for band, at in zip(bands, places, strict=True):
        _put(upper, at / ACROSS, 1 - 0.05 / HIGH, band.shown, "center")


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
    _put(upper, across, -0.06 / HIGH, words, side)


def _put(axes: Axes, across: float, up: float, words: str, side: str) -> None:
    """Put small words under a point of a panel, in shares of it."""
    place: dict[str, Any] = {"transform": axes.transAxes, "ha": side, "va": "top"}
    axes.text(across, up, words, size=SMALL, **place)
