"""Looking up an organism: what stops it, and how it stands heat."""

from __future__ import annotations

from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from stillroom import tables
from stillroom.errors import InputError
from stillroom.report.words import number

GROWTH = ("aw_min", "ph_min", "ph_max", "water_phase_salt_max_pct", "temp_min_C", "temp_max_C")


def find_organisms(words: str) -> dict[str, list[tables.Row]]:
    """Return the rows of growth limits and of heat resistance that hold every word.

    Args:
        words: of the name of an organism.

    Raises:
        InputError: nothing fits, with near names.
    """
    wanted = words.lower().split()
    found = {
        name: [r for r in tables.rows(name) if all(w in _names(r) for w in wanted)]
        for name in ("growth_limits", "heat_resistance")
    }
    if not wanted or not any(found.values()):
        known = dict.fromkeys(str(r["organism"]) for name in found for r in tables.rows(name))
        raise InputError(f"no organism of the tables fits {words!r}.{tables.near(words, known)}")
    return found


def _names(r: tables.Row) -> str:
    return f"{r['organism']} {r.get('aliases', '')} {r.get('stands_for', '')}".lower()


def organism_content(words: str) -> dict[str, Any]:
    """Return the rows as plain values."""
    return {name: [dict(r) for r in rows] for name, rows in find_organisms(words).items()}


def organism_tables(words: str) -> RenderableType:
    """Return what stops an organism and how it stands heat, a line a source."""
    found = find_organisms(words)
    return Group(_growth(found["growth_limits"]), Text(""), _heat(found["heat_resistance"]))


def _growth(rows: list[tables.Row]) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    heads = ("grows from", "aw", "pH", "to pH", "salt %", "°C", "to °C", "source")
    for head in heads:
        table.add_column(head, justify="left" if head in ("grows from", "source") else "right")
    for r in rows:
        what = str(r["organism"]) + (", toxin" if r["limit_for"] == "toxin" else "")
        cells = ["" if r[c] is None else f"{r[c]:g}" for c in GROWTH]
        table.add_row(what, *cells, Text(f"{r['source']} [{r['provenance']}]", "dim"))
    return table if rows else Text("No growth limits on file.", "dim")


def _heat(rows: list[tables.Row]) -> RenderableType:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for head in ("stands heat", "min", "what", "°C", "z °C", "in; source"):
        table.add_column(head, justify="right" if head in ("min", "°C", "z °C") else "left")
    for r in rows:
        medium = ", ".join(filter(None, [r["medium"], f"pH {r['ph']:g}" if r["ph"] else ""]))
        table.add_row(
            str(r["organism"]),
            _range(r["d_value_min"], r["d_low_min"], r["d_high_min"]),
            str(r["kind"]).replace("_", " "),
            "" if r["temperature_C"] is None else f"{r['temperature_C']:g}",
            _range(r["z_value_C"], r["z_low_C"], r["z_high_C"]),
            Text("; ".join(filter(None, [medium, f"{r['source']} [{r['provenance']}]"])), "dim"),
        )
    return table if rows else Text("No heat resistance on file.", "dim")


def _range(value: float | None, low: float | None, high: float | None) -> str:
    if low is not None and high is not None and low != high:
        return f"{number(low)} to {number(high)}"
    return "" if value is None else number(value)
