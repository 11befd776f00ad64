"""Reading counts over time, to be fitted.

What was recognised is said, the rest is refused. A count below the detection limit is written
"<10" and stays what it is: below that limit.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.product.log_file import Column, is_gap
from stillroom.product.table_file import (
    TEMPERATURE,
    TIME_UNIT,
    TIME_UNITS,
    Table,
    celsius,
    complete,
    hours,
    parse_table,
    read_table,
)

LOG10_POSSIBLE = (-6.0, 13.0)  # more cells than that do not fit into a gram
SAME_C = 0.05  # temperatures nearer than that are one
LN10 = float(np.log(10))

TIME = re.compile(rf"(?i)^(?:time|t|age|storage)(?![a-z])|^{TIME_UNITS}$")
_LOG = re.compile(r"(?i)\b(log(?:_?10)?|ln)(?![a-z])")
COUNT = re.compile(rf"{_LOG.pattern}|cfu|kbe|mpn|pfu|\bcells\b|\bcounts?\b")
_COUNT_UNIT = re.compile(r"(?i)\b(?:cfu|kbe|mpn|pfu|cells|counts?)\b(?:\s*(?:/|per)\s*[a-z0-9²]+)?")
_SERIES = re.compile(r"(?i)^(?:series|curve|run|batch|lot|strain|rep(?:licate)?)s?(?![a-z])")
_SD = re.compile(r"(?i)^(?:sd|s\.d\.|standard deviation)(?![a-z])")
_WEIGHT = re.compile(r"(?i)^weights?(?![a-z])")
_THOUSANDS = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+")


@dataclass(frozen=True, eq=False)
class Counts:
    """Counts over time, in order of curve and time.

    Attributes:
        time_h: of each count, from the start.
        log10_count: as found; the detection limit where nothing was.
        below: where nothing was found.
        temperature_C: of each count; none if it is not told.
        series: of each count; one word throughout if it is not told.
        sd_log10: standard deviation of each count beside the others.
        unit: of the counts, "cfu/g".
        where: file they were read from.
        remarks: what was recognised or left out, in words.
    """

    time_h: Array
    log10_count: Array
    below: NDArray[np.bool_]
    temperature_C: Array | None
    series: Sequence[str]
    sd_log10: Array
    unit: str = "cfu"
    where: str = "counts"
    remarks: tuple[str, ...] = ()

    @property
    def temperatures_C(self) -> tuple[float, ...]:
        """The different temperatures, rising."""
        return () if self.temperature_C is None else tuple(np.unique(self.temperature_C).tolist())

    def at(self, temperature_C: float) -> Counts:
        """Return the counts of one temperature.

        Args:
            temperature_C: to keep.

        Raises:
            InputError: there are none.
        """
        T = np.nan if self.temperature_C is None else self.temperature_C
        keep = np.flatnonzero(np.abs(T - temperature_C) < SAME_C * np.ones_like(self.time_h))
        if not keep.size:
            there = ", ".join(f"{T:g} °C" for T in self.temperatures_C) or "no temperature column"
            raise InputError(f"{self.where}: no counts of {temperature_C:g} °C, but {there}.")
        return self.rows(keep)

    def rows(self, kept: Sequence[int] | NDArray[np.intp]) -> Counts:
        """Return some of the counts.

        Args:
            kept: their places.
        """
        at = np.asarray(kept, int)
        return replace(
            self,
            time_h=self.time_h[at],
            log10_count=self.log10_count[at],
            below=self.below[at],
            temperature_C=None if self.temperature_C is None else self.temperature_C[at],
            series=[self.series[n] for n in at],
            sd_log10=self.sd_log10[at],
        )


def read_counts(path: str | Path) -> Counts:
    """Read counts over time.

    Args:
        path: of a text file with a column of times, such as 'time (h)', one of counts, such as
            'log10 cfu/g' or 'cfu/g', and optional columns 'temperature (degC)', 'series', 'sd'
            (of the log10 count) or 'weight'.

    Returns:
        Hours and log10 counts, in order of curve and time.

    Raises:
        InputError: one sentence with its place in the file.
    """
    return counts_of(read_table(Path(path)))


def parse_counts(text: str, where: str = "counts") -> Counts:
    """Read the text of counts over time.

    Args:
        text: as read_counts.
        where: what to call it in messages.

    Raises:
        InputError: one sentence with its place in the text.
    """
    return counts_of(parse_table(text, where))


def counts_of(table: Table) -> Counts:
    """Return the counts of a table.

    Args:
        table: with the columns of read_counts.

    Raises:
        InputError: one sentence with its place in the table.
    """
    degrees = table.find(TEMPERATURE)
    time = table.need(TIME, "times", "time (h)", degrees)
    sd, weight, series = (table.find(p, degrees, time) for p in (_SD, _WEIGHT, _SERIES))
    used = (degrees, time, sd, weight, series)
    column = table.need(COUNT, "counts", "log10 cfu/g", *used)
    time_h = complete(time) * hours(time, TIME_UNIT, "time (h)")
    time.refuse(time_h < 0, "is before the start; count time from 0")
    y, below, remarks = _log10(column)
    if not np.isfinite(y).any():
        raise InputError(f"{table.where}: column {column.name!r} holds no counts.")
    if sd and not (_LOG.search(column.name) or _LOG.search(sd.name)):
        words = "must be that of the log10 count; call it 'sd log10' if it is"
        raise InputError(f"{table.where}: column {sd.name!r} {words}.")
    everything = Counts(
        time_h=time_h,
        log10_count=y,
        below=below,
        temperature_C=celsius(degrees) if degrees else None,
        series=series.cells if series else [""] * y.size,
        sd_log10=_sd(sd, weight, y.size),
        unit=unit[0] if (unit := _COUNT_UNIT.search(column.name)) else "counts",
        where=table.where,
    )
    order, sorting = _in_order(everything)
    remarks = [*table.remarks, *remarks, *sorting, *table.left_out(column, *used)]
    return replace(everything.rows(order), remarks=tuple(remarks))


def _in_order(c: Counts) -> tuple[list[int], list[str]]:
    """Return the rows with a count by curve and time, and what was done for it."""
    T = np.zeros_like(c.time_h) if c.temperature_C is None else c.temperature_C
    keys = [(T[n], c.series[n], c.time_h[n]) for n in range(T.size)]
    known = np.isfinite(c.log10_count)
    order = [n for n in sorted(range(T.size), key=keys.__getitem__) if known[n]]
    twice = len(order) - len({(*keys[n], c.log10_count[n]) for n in order})
    missing = int((~known).sum())
    remarks = {
        f"rows without a count, left out: {missing}": missing,
        "rows put in order of curve and time": order != sorted(order),
        f"rows equal to another, counted as replicates: {twice}": twice,
    }
    return order, [words for words, true in remarks.items() if true]


def _log10(column: Column) -> tuple[Array, NDArray[np.bool_], list[str]]:
    """Return log10 counts, nan in a gap, which are limits of detection, and what was recognised."""
    above = [cell.startswith(">") for cell in column.cells]
    words = "is above what can be counted; dilute further, or leave the cell empty"
    column.refuse(np.array(above), words)
    below = np.array([cell.startswith("<") for cell in column.cells])
    bare = replace(column, cells=[cell.removeprefix("<").strip() for cell in column.cells])
    column.refuse(below & np.array([is_gap(c) for c in bare.cells]), "needs its limit, as in <10")
    numbers = bare.numbers()
    scale = _LOG.search(column.name)
    remarks = []
    if not scale:
        thousands = np.array([bool(_THOUSANDS.fullmatch(c)) for c in bare.cells])
        column.refuse(thousands, "could have a decimal comma or thousands; write it without comma")
        column.refuse(numbers <= 0, "has no logarithm; write a count of nothing as <limit, <10")
        if np.nanmax(numbers, initial=0) < LOG10_POSSIBLE[1] and np.any(numbers % 1 > 0):
            words = f"column {column.name!r} looks like logarithms; call it 'log10 cfu/g'"
            raise InputError(f"{column.where}: {words}, or write counts as whole numbers.")
        numbers = np.log10(numbers)
        remarks.append(f"{column.name!r}: plain counts turned into log10")
    elif scale[1].lower() == "ln":
        numbers = numbers / LN10
        remarks.append(f"{column.name!r}: natural logarithms turned into log10")
    low, high = LOG10_POSSIBLE
    words = f"is no log10 count ({low:g} to {high:g}); name a column of plain counts 'cfu/g'"
    column.refuse((numbers < low) | (numbers > high), words)
    return numbers, below, remarks


def _sd(sd: Column | None, weight: Column | None, size: int) -> Array:
    """Return the standard deviation of each count beside the others."""
    if sd and weight:
        raise InputError(f"{sd.where}: columns {sd.name!r} and {weight.name!r}; give one of them.")
    given = sd or weight
    if given is None:
        return np.ones(size)
    numbers = complete(given)
    given.refuse(numbers <= 0, "is not above 0")
    return numbers if sd else 1 / np.sqrt(numbers)
