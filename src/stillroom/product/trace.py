"""Reading a temperature log: what was recognised or repaired is said, the rest is refused."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.product.log_file import (
    CLOCK,
    DATE,
    NUMBER,
    Column,
    Log,
    is_gap,
    parse_log,
    read_log,
)

POSSIBLE = {"C": (-60.0, 200.0), "F": (-76.0, 392.0), "": (-76.0, 392.0)}  # "": either unit
ASSUMED_C = (-20.0, 140.0)  # readings without a unit are taken as °C within these
SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}
DAY_S = 86400.0
EXAMPLE = "'time (min)' or 'time (s)'"

_TIME_WORD = re.compile(r"(?i)time|zeit|elapsed|clock|duration")
_DATE_WORD = re.compile(r"(?i)(?<![a-z])date|datum")
_TIME_UNIT = re.compile(
    r"(?i)(?:^|[\s_/(\[])\s*(?:(?P<s>s|secs?|seconds?|sek|sekunden)"
    r"|(?P<min>mins?|minutes?|minuten)|(?P<h>h|hrs?|hours?|std|stunden))\.?\s*[)\]]?$"
)
_MINUTES_SECONDS = re.compile(r"(?i)(?<![h:])\bm\w*:s")
_DEGREES = re.compile(
    r"(?i)[(\[]?\s*(?:[°º˚]|(?<![a-z])deg(?:rees?)?[\s_.]*)\s*([cf])(?:elsius|ahrenheit)?"
    r"(?![a-z])\s*[)\]]?|[(\[]?\b(?:(c)elsius|(f)ahrenheit)\b[)\]]?|[(\[]\s*([cf])\s*[)\]]"
    r"|(?:^|[_/]|(?<=temp)\s+|(?<=temperature)\s+)([cf])$"
)
_HUMIDITY = re.compile(r"(?i)humid|(?<![a-z])r\.?\s?h\.?(?![a-z])")
_OTHER = re.compile(  # names of columns that are no temperature
    r"(?i)(?<![a-z])date|datum|pressure|humidity|battery|volt|lethality|%"
    r"|\b(?:m?bar|psi|[km]?pa|f0)\b"
    r"|^(?:(?:record|reading|sample|scan|row|line)?\s*(?:no|nr|number|index|#)\.?|record)$"
)


@dataclass(frozen=True)
class Trace:
    """A logged run.

    Attributes:
        time_s: from the first reading, strictly rising.
        temperature_C: channel name -> readings on those times; nan where a channel has a gap.
        remarks: what was recognised or repaired, in words.
        relative_humidity: of the room, 0 to 1, nan in a gap; None where none was logged.
    """

    time_s: Array
    temperature_C: Mapping[str, Array]
    remarks: tuple[str, ...]
    relative_humidity: Array | None = None


def read_trace(path: str | Path, room: bool = False) -> Trace:
    """Read a temperature log.

    Args:
        path: of a text file with a time column and one or more temperature columns.
        room: whether columns of humidity count, as in the log of a store.

    Returns:
        Times in seconds, temperatures in °C.

    Raises:
        InputError: one sentence with its place in the file.
    """
    return _trace(read_log(Path(path)), room)


def parse_trace(text: str, where: str = "trace", room: bool = False) -> Trace:
    """Read the text of a temperature log.

    Args:
        text: lines of cells separated by comma, semicolon or tab.
        where: what to call it in messages.
        room: whether columns of humidity count, as in the log of a store.

    Returns:
        Times in seconds, temperatures in °C.

    Raises:
        InputError: one sentence with its place in the text.
    """
    return _trace(parse_log(text, where), room)


def _trace(log: Log, room: bool) -> Trace:
    time, others, joined = _time_column(log)
    seconds, read = _seconds(time)
    damp = [c for c in others if room and _is_humidity(c.name)]
    others = [c for c in others if c not in damp]
    humidity, humid = _humidity(damp)
    channels, converted = _channels(others, log.where)
    seconds, kept, repaired = _rising(time, seconds, channels)
    if len(seconds) < 2:
        raise InputError(f"{log.where} has one reading only; a run has two or more.")
    time_s = seconds - seconds[0]
    return Trace(
        time_s=time_s,
        temperature_C={name: readings[kept] for name, readings in channels.items()},
        remarks=(*log.remarks, *joined, *read, *repaired, *converted, *humid, *_silences(time_s)),
        relative_humidity=None if humidity is None else humidity[kept],
    )


def _is_humidity(name: str) -> bool:
    return bool(_HUMIDITY.search(name)) and not _channel_and_unit(name)[1]


def _humidity(columns: Sequence[Column]) -> tuple[Array | None, list[str]]:
    """Return the humidity of the room, 0 to 1: the mean of its columns, in per cent."""
    if not columns:
        return None, []
    readings = [c.numbers() for c in columns]
    for column, percent in zip(columns, readings, strict=True):
        words = "is not a relative humidity in per cent, 0 to 100"
        column.refuse((percent < 0) | (percent > 100), words)
        if np.nanmax(percent, initial=0.0) <= 1 and np.nanmax(percent, initial=0.0) > 0:
            raise InputError(
                f"{column.where}: column {column.name!r} reads like a share of 1; write per cent."
            )
    known = np.isfinite(readings).sum(axis=0)
    if not known.any():
        return None, [f"{c.name!r} has no readings and is left out" for c in columns]
    mean = np.nansum(readings, axis=0) / np.where(known, known, np.nan)
    return mean / 100, [f"{c.name!r}: humidity of the room, per cent" for c in columns]


def _time_column(log: Log) -> tuple[Column, list[Column], list[str]]:
    """Return the time, with dates of another column before it, and the columns left."""
    dates = [c for c in log.columns if _DATE_WORD.search(c.name)]
    times = [c for c in log.columns if _is_time(c.name)] or dates
    if not times:
        names = ", ".join(repr(c.name) for c in log.columns)
        raise InputError(f"{log.where}: no time among the columns {names}; call one {EXAMPLE}.")
    time = times[0]
    others = [c for c in log.columns if c is not time]
    days = next((c for c in dates if DATE.fullmatch(c.cells[0])), None)
    if days is None or not CLOCK.fullmatch(time.cells[0]):
        return time, others, []
    others.remove(days)
    cells = [f"{day} {clock}".strip() for day, clock in zip(days.cells, time.cells, strict=True)]
    words = f"dates in {days.name!r} and times in {time.name!r} read together"
    return replace(time, cells=cells), others, [words]


def _is_time(name: str) -> bool:
    unit = _TIME_UNIT.search(name)
    bare = name[: unit.start()].rstrip() if unit else name
    return not _DEGREES.search(name) and bool(
        _TIME_WORD.search(name) or bare == "t" or (unit and not bare)
    )


def _seconds(time: Column) -> tuple[Array, list[str]]:
    """Return the time of each row in seconds from any start."""
    if DATE.match(time.cells[0]):
        return _dated(time), []
    if not NUMBER.fullmatch(time.cells[0]):
        return _clocked(time)
    unit = _TIME_UNIT.search(time.name)
    if not unit:
        words = f"column {time.name!r} does not say the unit of its numbers; call it {EXAMPLE}"
        raise InputError(f"{time.where}: {words}.")
    numbers = time.numbers()
    time.refuse(~(np.abs(numbers) < 1e12), "is not a time")
    return numbers * SECONDS[str(unit.lastgroup)], []


def _clocked(time: Column) -> tuple[Array, list[str]]:
    """Return clock times or durations in seconds; a fall of over 12 h is a midnight."""
    seconds, remarks = _parsed(time.cells, _clock_s), []
    time.refuse(np.isnan(seconds), "is not a time such as 14:03:20")
    if time.cells[0].count(":") == 1:
        unit = _TIME_UNIT.search(time.name)
        if (unit and unit.lastgroup != "h") or _MINUTES_SECONDS.search(time.name):
            words = "could be hours:minutes or minutes:seconds; write it as 0:12:30"
            raise time.problem(0, words)
        remarks.append(f"times such as {time.cells[0]!r} read as hours:minutes")
    midnight = np.diff(seconds) < -DAY_S / 2
    if midnight.any() and seconds.max() < DAY_S:
        seconds[1:] += DAY_S * np.cumsum(midnight)
        remarks.append(f"midnights passed by the clock: {midnight.sum()}")
    return seconds, remarks


def _dated(time: Column) -> Array:
    """Return date-times in seconds, with day and month in the one order that is possible."""
    halves = [cell.replace("T", " ", 1).partition(" ") for cell in time.cells]
    clock_s = _parsed([clock for _, _, clock in halves], _clock_s)
    orders = [
        _parsed([day for day, _, _ in halves], partial(_day_s, day_first=day_first))
        for day_first in (True, False)
    ]
    # the order that more rows from the top are possible in
    day_s = max(orders, key=lambda days: int(np.argmax(np.append(np.isnan(days), True))))
    wanted = "2026-05-31 14:03:20 or 31.05.2026 14:03, in one order throughout"
    time.refuse(np.isnan(day_s + clock_s), f"is not a date and time such as {wanted}")
    if np.ptp(orders[0] - orders[1]) > 0:
        words = "has day or month first, and times depend on it; write dates as 2026-05-03"
        raise time.problem(0, words)
    return day_s - day_s[0] + clock_s


def _parsed(texts: Sequence[str], parse: Callable[[str], float]) -> Array:
    """Return the value of each text; equal ones are parsed once."""
    values = {text: parse(text) for text in set(texts)}
    return np.fromiter(map(values.__getitem__, texts), float, len(texts))


def _clock_s(text: str) -> float:
    """Return the time after midnight, nan if it is none; universal if an offset is given."""
    match = CLOCK.fullmatch(text.strip())
    if not match:
        return np.nan
    hour, minute, second, half, ahead_h, ahead_min = match.groups()
    hours = int(hour)
    if half:
        if not 1 <= hours <= 12:
            return np.nan
        hours = hours % 12 + 12 * (half in "pP")
    seconds = 3600.0 * hours + 60 * int(minute) + float((second or "0").replace(",", "."))
    if ahead_h:
        seconds -= 3600 * int(ahead_h) + 60 * int(ahead_h[0] + ahead_min)
    return seconds


def _day_s(text: str, day_first: bool) -> float:
    """Return the start of a day, nan if it is none; with dots the day is always first."""
    match = DATE.fullmatch(text)
    if not match:
        return np.nan
    a, mark, b, c = match.groups()
    year, month, day = (c, b, a) if day_first or mark == "." else (c, a, b)
    if len(a) == 4:
        year, month, day = a, b, c
    try:
        return date(int(year) + 2000 * (len(year) < 4), int(month), int(day)).toordinal() * DAY_S
    except ValueError:
        return np.nan


def _channels(columns: Sequence[Column], where: str) -> tuple[dict[str, Array], list[str]]:
    """Return the temperatures by channel in °C, and what was left out or converted."""
    channels: dict[str, Array] = {}
    remarks: list[str] = []
    left_out: list[str] = []
    for column in columns:
        channel, unit = _channel_and_unit(column.name)
        if not unit and _is_other(column):
            left_out.append(repr(column.name))
            continue
        readings = column.numbers()
        missing = int(np.isnan(readings).sum())
        if missing == len(readings):
            remarks.append(f"{column.name!r} has no readings and is left out")
            continue
        if channel in channels:
            raise InputError(f"{where}: two columns are called {channel!r}; name them apart.")
        channels[channel] = _celsius(column, readings, unit)
        if unit != "C":
            words = "°F converted to °C" if unit else "no unit in the header, °C assumed"
            remarks.append(f"{channel!r}: {words}")
        if missing:
            remarks.append(f"{channel!r}: readings missing: {missing}")
    if not channels:
        raise InputError(f"{where} has no temperature column; name one such as 'jar 1 (°C)'.")
    if left_out:
        remarks.append("left out, not temperatures: " + ", ".join(left_out))
    return channels, remarks


def _channel_and_unit(name: str) -> tuple[str, str]:
    """Return the name of a column without its unit, and the unit, C or F, if it says one."""
    degrees = _DEGREES.search(name)
    channel = " ".join(_DEGREES.sub(" ", name).split()).rstrip(" _-/,;:")
    return channel or "temperature", degrees[degrees.lastindex or 0].upper() if degrees else ""


def _is_other(column: Column) -> bool:
    """Return whether a column without °C or °F is named as something else, or holds words."""
    unit = _TIME_UNIT.search(column.name)
    if _is_time(column.name) or _OTHER.search(column.name) or (unit and not unit[0][0].isspace()):
        return True
    return not any(map(NUMBER.fullmatch, column.cells)) and not all(map(is_gap, column.cells))


def _celsius(column: Column, readings: Array, unit: str) -> Array:
    lowest, highest = POSSIBLE[unit]
    words = "is not possible (-60 to 200 °C); leave the cell empty where a sensor failed"
    column.refuse((readings < lowest) | (readings > highest), words)
    if unit == "F":
        return (readings - 32) / 1.8
    low, high = np.nanmin(readings), np.nanmax(readings)
    if not unit and not ASSUMED_C[0] <= low <= high <= ASSUMED_C[1]:
        words = f"reads {low:g} to {high:g} without a unit; say °C or °F in the header"
        raise InputError(f"{column.where}: column {column.name!r} {words}.")
    return readings


def _rising(
    time: Column, seconds: Array, channels: Mapping[str, Array]
) -> tuple[Array, NDArray[np.bool_], list[str]]:
    """Return strictly rising times, which rows they belong to, and what was done for it."""
    steps = np.diff(seconds)
    if (steps < 0).any():
        n = int(np.argmax(steps < 0))
        above = f"{time.cells[n]!r} on line {time.lines[n]}"
        raise time.problem(n + 1, f"is before {above}; put the rows in order, or add dates")
    rises = np.append(True, steps > 0)
    if rises.all():
        return seconds, rises, []
    if not (seconds % 60).any() and rises[1:].any() and steps[rises[1:]].min() == 60:
        words = "several readings a minute under one time, spread evenly within the minute"
        return _spread(seconds, rises), np.full_like(rises, True), [words]
    table = np.nan_to_num(np.array(list(channels.values())), nan=-999)  # a gap equals a gap
    differs = ~rises[1:] & (table[:, 1:] != table[:, :-1]).any(axis=0)
    if differs.any():
        n = int(np.argmax(differs))
        words = f"is also the time of line {time.lines[n]}, with other readings; give each its own"
        raise time.problem(n + 1, words)
    return seconds[rises], rises, [f"rows equal to the row above, counted once: {(~rises).sum()}"]


def _spread(seconds: Array, rises: NDArray[np.bool_]) -> Array:
    """Return times to the minute with the rows of each minute spread evenly in it."""
    starts = np.flatnonzero(rises)
    counts = np.diff(np.append(starts, len(seconds)))
    place = np.arange(len(seconds)) - np.repeat(starts, counts)
    return seconds + 60 * place / np.repeat(counts, counts)


def _silences(time_s: Array) -> list[str]:
    steps = np.diff(time_s)
    found = np.flatnonzero((steps > 5 * np.median(steps)) & (steps > 60))
    minutes = [(round(time_s[n] / 60, 1), round(time_s[n + 1] / 60, 1)) for n in found[:5]]
    remarks = [f"no reading between {start:g} and {end:g} min" for start, end in minutes]
    return remarks + [f"and {len(found) - 5} more gaps in time"] * (len(found) > 5)
