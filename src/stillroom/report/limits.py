"""Looking up what the law allows: additives, product standards, kinds of product."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from stillroom import tables
from stillroom.assess.law import standards
from stillroom.assess.law.categories import printed
from stillroom.assess.law.categories import words as telling_words
from stillroom.assess.law.kinds import CATEGORY_COLUMNS, kinds
from stillroom.assess.law.limits import Limit, find_limits
from stillroom.assess.law.substances import substances
from stillroom.assess.law.verdicts import market_named, rests_on_memory
from stillroom.errors import InputError

BASIS_WORDS = {
    "in_food": "in the food as sold",
    "added": "as added",
    "residual": "as measured in the food",
    "surface": "on the surface",
}
REMARK = 'A screening aid, not legal advice; what is marked "to verify" rests on memory.'


def look_up(
    words: str, food: str | None = None, market: str | None = None, on: date | None = None
) -> list[dict[str, Any]]:
    """Return what the law allows, for an additive or a food.

    Args:
        words: an additive (name, number, family) or a food (words, category code).
        food: narrows an additive to a food.
        market: such as US or EU; every market by default.
        on: the day the rules must be in force; today by default.

    Raises:
        InputError: nothing is known by these words, with near names.
    """
    try:
        found = find_limits(words, food, market, on)
        named = food
    except InputError as not_an_additive:
        if food is not None:
            raise
        try:
            found = find_limits(None, words, market, on)
        except InputError:
            found = ()
        named = words
        if not found and not _standards(words, market, on):
            known = [*(s.name for s in substances()), *(k.name for k in kinds())]
            raise InputError(
                f"nothing is known of {words!r}, neither as an additive nor as a food."
                f"{tables.near(words, known)}"
            ) from not_an_additive
    return [
        *map(_limit, found),
        *(_standard(r) for r in (_standards(named, market, on) if named else [])),
    ]


def _limit(x: Limit) -> dict[str, Any]:
    form = {"acid": "as the free acid", "named": ""}.get(x.form, f"as {x.form}")
    level = f"{x.max_level} {x.unit}" if x.level is not None else x.max_level
    return {
        "market": x.market,
        "what": x.additive,
        "food": x.food,
        "category": "; ".join(printed(c, x.market) for c in x.codes),
        "level": "not permitted" if x.level == 0 else level,
        "counted": " ".join(filter(None, [form, BASIS_WORDS[x.basis]])),
        "condition": x.condition,
        "citation": x.citation,
        "from": str(x.start or ""),
        "to": str(x.end or ""),
        "provenance": x.provenance,
    }


def _standards(text: str, market: str | None, on: date | None) -> list[tables.Row]:
    asked, day = set(telling_words(text)), on or date.today()
    wanted = market_named(market) if market else None
    return [
        r
        for r in standards.standards()
        if r["measure"] in standards.MEASURES
        and asked <= set(telling_words(f"{r['kind']} {r['product']}"))
        and wanted in (None, r["jurisdiction"])
        and (standards.day_of(r, "from_date") or date.min) <= day
        and day <= (standards.day_of(r, "to_date") or date.max)
    ]


def _standard(r: tables.Row) -> dict[str, Any]:
    return {
        "market": r["jurisdiction"],
        "what": standards.MEASURES[r["measure"]],
        "food": r["product"],
        "category": "",
        "level": " ".join(filter(None, [r["operator"], r["value"], r["unit"]])),
        "counted": r["expressed_as"],
        "condition": r["condition"],
        "citation": r["citation"],
        "from": r["from_date"],
        "to": r["to_date"],
        "provenance": r["provenance"],
    }


def limit_table(found: Iterable[dict[str, Any]]) -> RenderableType:
    """Return the rows as text, by market; a source is named where it changes."""
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("", "what", "food", "allowed", "condition and source"):
        table.add_column(column)
    market = source = ""
    for row in found:
        about = Text("; ".join(filter(None, [row["counted"], row["condition"]])))
        if _source(row) != source:
            source = _source(row)
            about.append(f"\n{source}", "dim")
        code = f" ({row['category']})" if row["category"] else ""
        head = row["market"] if row["market"] != market else ""
        market = row["market"]
        level = Text(row["level"], "bold")
        table.add_row(Text(head, "bold"), row["what"], row["food"] + code, level, about)
    return Group(table, Text(REMARK, "dim"))


def _source(row: dict[str, Any]) -> str:
    since = f", from {row['from']}" if row["from"] else ""
    until = f" to {row['to']}" if row["to"] else ""
    verify = "; to verify" if rests_on_memory(row["provenance"]) else ""
    return f"{row['citation']}{since}{until}{verify}"


def kind_table() -> RenderableType:
    """Return the kinds of product a recipe may declare."""
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("kind", "what it is", "EU category", "Codex category"):
        table.add_column(column)
    for kind in kinds():
        table.add_row(
            kind.name, kind.words, *(str(kind.row[CATEGORY_COLUMNS[m]]) for m in ("EU", "Codex"))
        )
    return Group(
        table, Text("A blank category is not known: limits cannot be decided there.", "dim")
    )
