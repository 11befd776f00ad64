"""Reading growth rates or D values over temperature, to be fitted."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.product.counts_file import COUNT, TIME, Counts, counts_of
from stillroom.product.table_file import (
    TEMPERATURE,
    TIME_UNITS,
    Table,
    celsius,
    complete,
    hours,
    parse_table,
    read_table,
)

_RATE = re.compile(r"(?i)^(?:growth[ _])?(?:rate|mu)(?![a-z])")
_PER = re.compile(rf"(?i)(?:1\s*/\s*|/\s*|per[ _]){TIME_UNITS}\s*[)\]]?$")
_D_UNIT = re.compile(rf"(?i)[\s_(\[/,]{TIME_UNITS}\s*[)\]]?$")
_D_VALUE = re.compile(r"(?i)^d(?:[ _-]?values?)?(?![a-z])")


@dataclass(frozen=True, eq=False)
class Rates:
    """Growth rates or D values at temperatures.

    Attributes:
        temperature_C: of each value.
        value: growth rates, natural logarithms an hour, or D values, minutes.
        quantity: which of the two.
        where: file they were read from.
        remarks: what was recognised or left out, in words.
    """

    temperature_C: Array
    value: Array
    quantity: Literal["rate_per_h", "d_min"]
    where: str = "rates"
    remarks: tuple[str, ...] = ()


def read_rates(path: str | Path) -> Rates:
    """Read growth rates or D values at temperatures.

    Args:
        path: of a text file with a column 'temperature (degC)' and one such as 'rate (1/h)' or
            'D (min)'.

    Returns:
        Rates an hour or D values in minutes.

    Raises:
        InputError: one sentence with its place in the file.
    """
    return _rates(read_table(Path(path)))


def parse_rates(text: str, where: str = "rates") -> Rates:
    """Read the text of growth rates or D values at temperatures.

    Args:
        text: as read_rates.
        where: what to call it in messages.

    Raises:
        InputError: one sentence with its place in the text.
    """
    return _rates(parse_table(text, where))


def read_data(path: str | Path, temperature_C: float | None = None) -> Counts | Rates:
    """Read whichever a file holds: counts if it has times, else rates or D values.

    Args:
        path: as read_counts or read_rates.
        temperature_C: take the counts of this temperature only.

    Raises:
        InputError: one sentence with its place in the file.
    """
    table = read_table(Path(path))
    degrees = table.find(TEMPERATURE)
    if degrees and not (table.find(TIME, degrees) or table.find(COUNT, degrees)):
        if temperature_C is not None:
            raise InputError(f"{table.where} holds no counts to take one temperature of.")
        return _rates(table)
    counts = counts_of(table)
    return counts if temperature_C is None else counts.at(temperature_C)


def _rates(table: Table) -> Rates:
    rate = table.find(_RATE)
    d = table.find(_D_VALUE, rate)
    if (rate is None) == (d is None):
        names = ", ".join(repr(c.name) for c in table.columns)
        raise InputError(
            f"{table.where}: one column of growth rates, such as 'rate (1/h)', or of D values, "
            f"'D (min)', is needed beside the temperatures; there are {names}."
        )
    degrees = table.need(TEMPERATURE, "temperatures", "temperature (degC)", rate, d)
    column = rate or d
    assert column is not None
    values = complete(column)
    column.refuse(values <= 0, "is not above 0")
    if rate:
        values = values / hours(rate, _PER, "rate (1/h)")
    else:
        values = values * 60 * hours(column, _D_UNIT, "D (min)")
    return Rates(
        temperature_C=celsius(degrees),
        value=values,
        quantity="rate_per_h" if rate else "d_min",
        where=table.where,
        remarks=(*table.remarks, *table.left_out(degrees, column)),
    )
