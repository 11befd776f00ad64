"""Looking things up: foods, explanations and limits, as text for a terminal."""

from __future__ import annotations

from typing import Any

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from stillroom import tables
from stillroom.assess.plain import mixture as mixture_content
from stillroom.errors import InputError
from stillroom.product import foods, properties
from stillroom.product.mixture import of_kind
from stillroom.report.explain import Explanation

MOST_FOODS = 60


def find_foods(words: str) -> list[str]:
    """Return the foods whose name, other name or group holds every word.

    Raises:
        InputError: nothing fits, with near names.
    """
    if words.strip() and words.strip().lower() in foods._names():
        return [str(foods.food_row(words)["food"])]
    wanted = words.lower().replace(",", " ").split()
    rows = tables.rows("foods")
    hits = [
        str(r["food"])
        for r in rows
        if all(w in f"{r['food']} {r['also']} {r['group']}".lower() for w in wanted)
    ]
    if not hits:
        raise InputError(
            "no food of the table fits "
            f"{words!r}.{tables.near(words, (str(r['food']) for r in rows))}"
        )
    return hits


def food_content(name: str) -> dict[str, Any]:
    """Return a food as plain values."""
    food = foods.food(name)
    made = food.mixture()
    return {
        "food": name,
        "also": [a.strip() for a in str(food.row["also"]).split(";") if a.strip()],
        "group": food.group,
        "ph": None if food.ph is None else vars(food.ph),
        "buffer_mmol_per_kg_ph": vars(food.buffer),
        "brix": float(properties.brix(made)),
        "mixture_g_per_kg": mixture_content(made),
        "source": food.row["source"],
        "provenance": food.row["provenance"],
    }


def food_table(names: list[str]) -> RenderableType:
    """Return a list of foods with the figures a cook asks for first."""
    table = Table(box=None, pad_edge=False, header_style="dim")
    for column in ("food", "group", "water %", "sugars %", "acid %", "salt %", "pH"):
        table.add_column(column, justify="left" if column in ("food", "group") else "right")
    for name in names[:MOST_FOODS]:
        r = tables.row("foods", name)
        acid = sum(r[f"{a}_g"] or 0 for a in ("citric", "malic", "tartaric", "lactic", "acetic"))
        salt = (r["sodium_mg"] or 0) * 2.5421 / 1000
        table.add_row(
            name,
            str(r["group"]),
            _cell(r["water_g_100g"]),
            _cell(r["sugars_total_g"]),
            f"{acid:.2g}",
            f"{salt:.1f}" if salt > 0.3 else "",
            _ph(r),
        )
    more = len(names) - MOST_FOODS
    tail = (
        f"and {more} more; add a word to narrow it"
        if more > 0
        else "name one food to see it in full"
    )
    return Group(table, Text(tail, "dim"))


def _cell(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"


def _ph(r: tables.Row) -> str:
    if r["ph_typical"] is None:
        return ""
    low, high = r["ph_low"], r["ph_high"]
    return f"{r['ph_typical']:g}" + (f" ({low:g}-{high:g})" if low and high and low != high else "")


def food_sheet(name: str) -> RenderableType:
    """Return everything known of one food, and how it enters a recipe."""
    c = food_content(name)
    head = Text.assemble((name, "bold"), (f"   {c['group']}", "dim"))
    lines: list[RenderableType] = [head]
    if c["also"]:
        lines.append(Text("also: " + ", ".join(c["also"]), "dim"))
    table = Table.grid(padding=(0, 2))
    for component, amount in sorted(c["mixture_g_per_kg"].items(), key=lambda item: -abs(item[1])):
        pool = component in of_kind("charge", "buffer")
        unit = "mmol/kg" if pool else "g/kg"
        table.add_row(component.replace("_", " "), f"{amount * (1000 if pool else 1):.3g} {unit}")
    lines.append(Padding(table, (0, 0, 0, 2)))
    if c["ph"]:
        lines.append(
            Text(
                f"pH {c['ph']['value']:g}, {c['ph']['low']:g} to {c['ph']['high']:g} "
                f"({c['ph']['kind']}: {c['ph']['source']})"
            )
        )
    lines.append(Text(f"refractometer {c['brix']:.1f} °Brix"))
    lines.append(Text(f"composition: {c['source']} [{c['provenance']}]", "dim"))
    return Group(*lines)


def explanation_text(e: Explanation) -> RenderableType:
    """Return one formula explained."""
    held = ", ".join(f"{name} {low:g} to {high:g}" for name, (low, high) in e.validity.items())
    lines: list[RenderableType] = [
        Text.assemble((e.name, "bold"), (f"   {e.unit}" if e.unit else "", "dim")),
        Text(e.summary),
        Padding(Text(e.equation, "cyan"), (1, 0, 1, 2)),
        Text(e.body),
        Text(f"Source: {e.source}", "dim"),
    ]
    if held:
        lines.append(Text(f"Fitted for {held}", "dim"))
    return Group(*lines, Text(""))
