"""The file of a temperature log: its text, and its cells as named columns with line numbers."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from stillroom.errors import InputError
from stillroom.labels import Array

LARGEST_FILE_BYTES = 200_000_000
GAPS = frozenset({"", "-", "--", "nan", "+nan", "-nan", "n/a", "err", "ol", "open"})

NUMBER = re.compile(r"[-+]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][-+]?[0-9]+)?")
CLOCK = re.compile(  # with am or pm, and the offset from universal time
    r"(?i)([0-9]{1,4}):([0-5][0-9])(?::([0-5][0-9](?:[.,][0-9]*)?))?"
    r"\s*(?:([ap])\.?m\.?)?(?:z|([-+][0-9]{2}):?([0-9]{2}))?"
)
DATE = re.compile(r"([0-9]{4}|[0-9]{1,2})([-./])([0-9]{1,2})\2([0-9]{4}|[0-9]{1,2})(?![0-9])")
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f]")


@dataclass(frozen=True, eq=False)
class Column:
    """A column of a log as text.

    Attributes:
        name: from the header, else by its first cell or its place.
        cells: one a row, without blanks around them.
        lines: where each row stands in the file.
        where: what to call the file in messages.
    """

    name: str
    cells: Sequence[str]
    lines: Sequence[int]
    where: str

    def problem(self, row: int, words: str) -> InputError:
        """Return an error about one cell, with its place."""
        place = f"{self.where}: line {self.lines[row]}, column {self.name!r}"
        return InputError(f"{place}: {self.cells[row]!r} {words}.")

    def refuse(self, bad: NDArray[np.bool_], words: str) -> None:
        """Raise an error about the first bad cell, if there is one."""
        if bad.any():
            raise self.problem(int(np.argmax(bad)), words)

    def numbers(self) -> Array:
        """Return the cells as numbers, nan for a gap."""
        numbers = np.fromiter(map(_number, self.cells), float, len(self.cells))
        for row in np.flatnonzero(np.isnan(numbers)).tolist():
            if not is_gap(self.cells[row]):
                raise self.problem(row, "is not a number; leave a missing reading empty")
        return numbers


@dataclass(frozen=True)
class Log:
    """The cells of a log.

    Attributes:
        where: what to call the file in messages.
        columns: of equal length, in the order of the file.
        remarks: what was recognised or skipped, in words.
    """

    where: str
    columns: Sequence[Column]
    remarks: tuple[str, ...]


def read_log(path: Path) -> Log:
    """Read the cells of a log.

    Args:
        path: of a text file.

    Raises:
        InputError: one sentence with its place in the file.
    """
    text, remarks = decoded(bytes_of(path), path)
    return parse_log(text, str(path), remarks)


def parse_log(text: str, where: str, remarks: Sequence[str] = ()) -> Log:
    """Divide the text of a log into cells.

    Args:
        text: lines of cells separated by comma, semicolon or tab; those beginning with # are notes.
        where: what to call it in messages.
        remarks: what is known of it already.

    Raises:
        InputError: one sentence with its place in the text.
    """
    rows = rows_of(text, where)
    names, first, above = _header(rows, where)
    names = [" ".join(name.split()) or f"column {n}" for n, name in enumerate(names, 1)]
    width = len(names)
    lines: list[int] = []
    cells: list[str] = []  # one flat list: a list for each row costs seconds in a long log
    for line, row in chain([first], rows):
        if len(row) != width:
            if any(row[width:]):
                raise InputError(
                    f"{where}: line {line} has {len(row)} cells, the header has {width}; with "
                    "decimal commas, put a semicolon or tab between cells."
                )
            row = (row + [""] * width)[:width]
        lines.append(line)
        cells += row
    columns = [Column(name, cells[n::width], lines, where) for n, name in enumerate(names)]
    skipped = [f"lines skipped above the readings: {above}"] if above else []
    return Log(where, columns, (*remarks, *skipped))


def is_gap(cell: str) -> bool:
    """Return whether a cell says that there is no reading."""
    return cell.lower() in GAPS


def _number(cell: str) -> float:
    try:
        return np.nan if "_" in cell else float(cell.replace(",", "."))  # 9_3 is 93 to float()
    except ValueError:
        return np.nan


def _is_value(cell: str) -> bool:
    return bool(NUMBER.fullmatch(cell) or CLOCK.fullmatch(cell) or DATE.match(cell))


def bytes_of(path: Path) -> bytes:
    """Return what is in a file of readings.

    Raises:
        InputError: no file, too large a one, or one that cannot be read.
    """
    if not path.exists():
        raise InputError(f"{path} does not exist.")
    if not path.is_file():
        raise InputError(f"{path} is not a file; give the path of one table.")
    try:
        if (size := path.stat().st_size) > LARGEST_FILE_BYTES:
            limit = f"{LARGEST_FILE_BYTES / 1e6:g}"
            raise InputError(f"{path} has {size / 1e6:.1f} MB; a table is below {limit} MB.")
        return path.read_bytes()
    except OSError as problem:
        raise InputError(f"{path} cannot be read: {problem.strerror}.") from None


def decoded(raw: bytes, path: Path) -> tuple[str, list[str]]:
    """Return the text, and a remark if its encoding was guessed."""
    wide = raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    for encoding in ["utf-16"] if wide else ["utf-8-sig", "cp1252"]:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        guessed = sorted(c for c in set(text) if not c.isascii()) if encoding == "cp1252" else []
        if all(c.isalpha() or c in "°º" for c in guessed) and not _CONTROL.search(text):
            words = f"the file is not UTF-8, read as cp1252 with {' '.join(guessed)}"
            return text, [words] if guessed else []
    raise InputError(f"{path} is not text; save it as CSV in UTF-8.")


def rows_of(text: str, where: str) -> Iterator[tuple[int, list[str]]]:
    """Yield the line number and the cells of each line that is neither blank nor a note."""
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    numbers = [  # a note begins with #, a header may have a column called #
        n
        for n, line in enumerate(lines, 1)
        if line.strip(' \t,;"') and (line[0] != "#" or line[1:2] in (",", ";", "\t"))
    ]
    if not numbers:
        raise InputError(f"{where} is empty; a table has a line of column names and its readings.")
    lines = [lines[n - 1] for n in numbers]
    reader = csv.reader(lines, delimiter=_separator(lines[-3:]), skipinitialspace=True)
    done = 0
    try:
        for row in reader:
            if reader.line_num > done + 1:
                raise csv.Error  # a row of several lines
            yield numbers[done], [cell.strip() for cell in row]
            done += 1
    except csv.Error:  # or a cell of more than 131072 characters
        raise InputError(f"{where}: line {numbers[done]}: a quote is not closed.") from None


def _separator(last: list[str]) -> str:
    """Return what separates cells in most of the last lines, where no free text stands."""
    bare = [re.sub(r'"[^"]*"', "", line) for line in last]
    return next((s for s in "\t;" if 2 * sum(s in line for line in bare) > len(bare)), ",")


def _header(
    rows: Iterator[tuple[int, list[str]]], where: str
) -> tuple[list[str], tuple[int, list[str]], int]:
    """Return the names, the first row of readings and how many rows of free text stand above."""
    above: list[str] = []
    for n, (line, row) in enumerate(rows):
        if _begins(row):
            if len(above) > 1 and not _begins(above):
                return above, (line, row), n - 1
            if all(_is_value(cell) or is_gap(cell) for cell in row):
                if not NUMBER.fullmatch(row[0]):
                    return [_name(cell) for cell in row], (line, row), n
                raise InputError(
                    f"{where}: line {line}: the time has no unit, as no line of column names "
                    "stands above; put one there, with names such as 'time (min)' and 'jar 1 (°C)'."
                )
        above = row
    raise InputError(
        f"{where} has no readings below a line of column names; a row of readings begins with a "
        "number, clock time or date, then a comma, semicolon or tab."
    )


def _begins(row: list[str]) -> bool:
    """Return whether a row looks like readings, by its first cell."""
    return len(row) > 1 and _is_value(next(filter(None, row), ""))


def _name(cell: str) -> str:
    """Return a name for a column without one, by its first cell."""
    if DATE.fullmatch(cell):
        return "date"
    return "" if NUMBER.fullmatch(cell) or not _is_value(cell) else "time"
