"""A small table typed by hand: column names in its first row, cells below."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.product.log_file import NUMBER, Column, bytes_of, decoded, rows_of

POSSIBLE_C = (-60.0, 200.0)
HOURS = {"s": 1 / 3600, "min": 1 / 60, "h": 1.0, "d": 24.0}
TIME_UNITS = (
    r"(?:(?P<s>s|secs?|seconds?)|(?P<min>mins?|minutes?)|(?P<h>h|hrs?|hours?)|(?P<d>d|days?))\.?"
)
TIME_UNIT = re.compile(rf"(?i)(?:^|[\s_(\[/,]){TIME_UNITS}\s*[)\]]?$")
TEMPERATURE = re.compile(
    r"(?i)^(?:temp(?:erature)?|t)(?![a-z])(?=.*[cf]\b)|^temp|[°º]|\bdeg(?:rees?)?[ _]*[cf]\b"
)
_DEGREES = re.compile(
    r"(?i)(?:[°º]|(?<![a-z])deg(?:rees?)?)[\s_]*([cf])(?![a-z])|[(\[_ ]([cf])\W*$"
)
_CELSIUS = re.compile(r"(?i)(celsius)|(fahrenheit)")


@dataclass(frozen=True)
class Table:
    """The columns of a table.

    Attributes:
        where: what to call it in messages.
        columns: of equal length, in the order of the file.
        remarks: what was recognised, in words.
    """

    where: str
    columns: Sequence[Column]
    remarks: tuple[str, ...] = ()

    def find(self, pattern: re.Pattern[str], *but: Column | None) -> Column | None:
        """Return the one column whose name a pattern finds, other than some.

        Args:
            pattern: searched for in the names.
            *but: columns that mean something else.

        Raises:
            InputError: two columns are called so.
        """
        found = [c for c in self.columns if c not in but and pattern.search(c.name)]
        if len(found) > 1:
            names = " and ".join(repr(c.name) for c in found[:2])
            raise InputError(
                f"{self.where}: {names} are columns of the same; keep one, and put replicates "
                "under each other."
            )
        return found[0] if found else None

    def need(
        self, pattern: re.Pattern[str], what: str, example: str, *but: Column | None
    ) -> Column:
        """Return the one column whose name a pattern finds; without one, say what would be right.

        Args:
            pattern: as find.
            what: it holds.
            example: of a name.
            *but: as find.

        Raises:
            InputError: no column, or two, are called so.
        """
        column = self.find(pattern, *but)
        if column is None:
            names = ", ".join(repr(c.name) for c in self.columns)
            raise InputError(
                f"{self.where}: no column of {what} among {names}; call one {example!r}."
            )
        return column

    def left_out(self, *used: Column | None) -> list[str]:
        """Return a remark on the columns that were not used, if there are any."""
        names = ", ".join(repr(c.name) for c in self.columns if c not in used)
        return [f"columns left out: {names}"] if names else []


def read_table(path: Path) -> Table:
    """Read a table.

    Args:
        path: of a text file.

    Raises:
        InputError: one sentence with its place in the file.
    """
    text, remarks = decoded(bytes_of(path), path)
    return parse_table(text, str(path), remarks)


def parse_table(text: str, where: str, remarks: Sequence[str] = ()) -> Table:
    """Divide the text of a table into columns.

    Args:
        text: lines of cells separated by comma, semicolon or tab; those beginning with # are notes.
        where: what to call it in messages.
        remarks: what is known of it already.

    Raises:
        InputError: one sentence with its place in the text.
    """
    if not re.search(r"^[^#\n]*\w", text, re.M):
        raise InputError(f"{where} is empty; it needs a row of column names and rows of numbers.")
    rows = list(rows_of(text, where))
    while rows and sum(map(bool, rows[0][1])) < 2:  # a title stands above
        del rows[0]
    if not rows:
        words = "has one column only; put a comma, semicolon or tab between two or more"
        raise InputError(f"{where} {words}.")
    (top, names), body = rows[0], rows[1:]
    if all(NUMBER.fullmatch(cell.lstrip("< ")) for cell in names if cell):
        raise InputError(
            f"{where}: line {top}: no row of column names stands above the numbers; put one there, "
            "such as 'time (h),log10 cfu/g'."
        )
    if not body:
        raise InputError(f"{where} has no rows below its column names.")
    width = len(names)
    for line, cells in body:
        if any(cells[width:]):
            raise InputError(
                f"{where}: line {line} has {len(cells)} cells, the row of names has {width}; with "
                "decimal commas, put a semicolon or tab between cells."
            )
    lines = [line for line, _ in body]
    filled = [(cells + [""] * width)[:width] for _, cells in body]
    columns = [
        Column(" ".join(name.split()) or f"column {n + 1}", [c[n] for c in filled], lines, where)
        for n, name in enumerate(names)
    ]
    return Table(where, columns, tuple(remarks))


def complete(column: Column) -> Array:
    """Return the numbers of a column without gaps.

    Args:
        column: to read.

    Raises:
        InputError: a cell is empty or no finite number.
    """
    numbers = column.numbers()
    column.refuse(~np.isfinite(numbers), "is no number; every row needs one here")
    return numbers


def celsius(column: Column) -> Array:
    """Return a column of temperatures in °C.

    Args:
        column: to read; its name says °C or °F.

    Raises:
        InputError: no unit, a gap, or a temperature no food can have.
    """
    letter, word = _DEGREES.search(column.name), _CELSIUS.search(column.name)
    if not (letter or word):
        words = f"column {column.name!r} does not say its unit; call it 'temperature (degC)'"
        raise InputError(f"{column.where}: {words}.")
    fahrenheit = word[2] if word else letter and letter[letter.lastindex or 0].lower() == "f"
    readings = complete(column)
    if fahrenheit:
        readings = (readings - 32) / 1.8
    low, high = POSSIBLE_C
    column.refuse((readings < low) | (readings > high), f"is not within {low:g} to {high:g} °C")
    return readings


def hours(column: Column, pattern: re.Pattern[str], example: str) -> float:
    """Return how many hours the unit of time in the name of a column has.

    Args:
        column: to look at.
        pattern: that finds the unit, such as TIME_UNIT.
        example: of a name.

    Raises:
        InputError: the name says no unit.
    """
    unit = pattern.search(column.name)
    if not unit:
        words = f"column {column.name!r} does not say its unit; call it {example!r}"
        raise InputError(f"{column.where}: {words}.")
    return HOURS[str(unit.lastgroup)]
