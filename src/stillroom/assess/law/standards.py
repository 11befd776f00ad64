"""Product standards: what a name asks of a product, row by row."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import date
from functools import cache

from stillroom import tables
from stillroom.assess.law.categories import words
from stillroom.assess.law.verdicts import (
    CANNOT_DECIDE,
    FAIL,
    PASS,
    Check,
    holds,
    market_named,
)
from stillroom.errors import InputError, TableError

OPERATORS = ("<=", "<", ">=", ">", "between", "=", "not in")
MEASURES: Mapping[str, str] = {
    "soluble_solids_percent": "soluble solids, %",
    "fruit_g_per_kg": "fruit per kilogram of finished product, g",
    "endocarp_g_per_kg": "citrus endocarp per kilogram of finished product, g",
    "named_fruit_g_per_kg": "the named fruit per kilogram of finished product, g",
    "apple_or_rhubarb_g_per_kg": "apple or rhubarb per kilogram of finished product, g",
    "fruit_to_sweetener_solids": "fruit to sweetener solids, kg/kg",
    "fruit_share_percent": "share of each fruit in the fruit, %",
    "pH": "equilibrium pH",
    "pH_diluted": "pH of a 1:10 dilution",
    "water_activity": "water activity",
    "salt_percent": "salt, %",
    "fermentation_salt_percent": "salt at fermentation, %",
    "brine_salt_percent": "salt in the brine after osmotic balance, %",
    "salt_g_per_L": "salt, g/L",
    "total_acidity_percent": "total acidity, %",
    "total_acidity_g_per_100ml": "total acidity, g/100 ml",
    "total_acidity_g_per_L": "total acidity, g/L",
    "moisture_percent": "moisture, %",
    "moisture_protein_ratio": "moisture : protein",
    "water_protein_ratio": "water : protein",
    "fat_percent": "fat, %",
    "egg_yolk_solids_percent": "egg yolk solids, %",
    "drained_weight_percent": "drained weight, % of that declared",
    "fructose_and_glucose_percent": "fructose and glucose, %",
    "sucrose_percent": "sucrose, %",
    "HMF_mg_per_kg": "hydroxymethylfurfural, mg/kg",
    "total_nitrogen_g_per_L": "total nitrogen, g/L",
    "amino_nitrogen_percent": "amino-acid nitrogen, % of the total",
    "histamine_mg_per_100g": "histamine, mg/100 g",
    "fermentation_months": "fermentation, months",
    "syrup_brix": "cut-out strength of the syrup, °Brix",
}
OTHER_MEASURES = ("juice_factor", "not_mixed_with_others", "application")  # read where they apply


@cache
def standards() -> tuple[tables.Row, ...]:
    """Return every row of the table, checked.

    Raises:
        TableError: naming the row that cannot be read.
    """
    rows = tables.rows("product_standards")
    for number, r in enumerate(rows, start=2):
        where = f"product_standards.csv row {number}"
        if r["operator"] not in OPERATORS:
            raise TableError(f"{where}, column operator: {r['operator']!r} is not known.")
        if r["measure"] not in (*MEASURES, *OTHER_MEASURES):
            raise TableError(f"{where}, column measure: {r['measure']!r} is not known.")
        try:
            figures = [float(r[c]) for c in ("value_number", "value_high") if r[c]]
            days = [day_of(r, column) for column in ("from_date", "to_date")]
        except ValueError as problem:
            raise TableError(f"{where}: {problem}.") from None
        if not all(map(math.isfinite, figures)) or (days[0] or date.min) > (days[1] or date.max):
            raise TableError(f"{where}: a figure or a pair of dates is impossible.")
    return rows


def parts(cell: str) -> tuple[str, ...]:
    """Return the items of a cell such as "jam;jelly"."""
    return tuple(part.strip() for part in cell.split(";") if part.strip())


def day_of(row: tables.Row, column: str) -> date | None:
    """Return a date of a row, None where it is blank."""
    return date.fromisoformat(str(row[column])) if row[column] else None


def level_of(row: tables.Row) -> float | None:
    """Return the figure of a row, None where it gives none."""
    return float(row["value_number"]) if row["value_number"] else None


def kinds(market: str) -> tuple[str, ...]:
    """Return the kinds of product a market's rows speak of."""
    named = (k for r in standards() if r["jurisdiction"] == market for k in parts(r["kind"]))
    return tuple(dict.fromkeys(named))


def rows_of(market: str, kind: str, on: date, measure: str | None = None) -> list[tables.Row]:
    """Return the rows of a kind of product in force on a day.

    Args:
        market: as the table spells it.
        kind: such as jam, extra jelly, kimchi.
        on: day of placing on the market, or of making where the text says so.
        measure: what it limits; every one by default.
    """
    return [
        r
        for r in standards()
        if r["jurisdiction"] == market
        and kind in parts(r["kind"])
        and measure in (None, r["measure"])
        and (day_of(r, "from_date") or date.min) <= on <= (day_of(r, "to_date") or date.max)
    ]


# --- fruit --------------------------------------------------------------------------------------


def fruit_named(name: str, listed: Iterable[str]) -> str | None:
    """Return which listed fruit a name means, the longest that fits; None if none does.

    Args:
        name: such as "strawberries, raw" or "black currant".
        listed: fruits as the standard names them.
    """
    told = words(name)
    runs = {"".join(told[a:b]) for a in range(len(told)) for b in range(a + 1, len(told) + 1)}
    hits = [f for f in listed if "".join(words(f)) in runs]
    return max(hits, key=len, default=None)


def fruit_minimum(rows: Iterable[tables.Row], fruits: Mapping[str, float]) -> float | None:
    """Return the least fruit per kilogram, each fruit's own figure in proportion to its share.

    Args:
        rows: of one kind and day, measure fruit_g_per_kg; one without fruits is the general rule.
        fruits: name -> amount, any unit; empty: the general rule.

    Returns:
        Grams per kilogram; None where a row in question gives no figure or no row holds.
    """
    by_fruit = {f: r for r in rows for f in parts(r["fruits"]) or ("",)}
    shares = fruits or {"": 1.0}
    found = [
        (by_fruit.get(fruit_named(f, filter(None, by_fruit)) or ""), m) for f, m in shares.items()
    ]
    levels = [(level_of(r) if r else None, m) for r, m in found]
    if any(level is None for level, _ in levels) or sum(shares.values()) <= 0:
        return None
    return sum((level or 0) * m for level, m in levels) / sum(shares.values())


# --- acidity ------------------------------------------------------------------------------------


def equivalent_g_per_eq(acid: str) -> float:
    """Return the mass of an acid that gives one mole of protons: molar mass / protons.

    Raises:
        InputError: not an acid of the table.
    """
    protons = [int(r["step"]) for r in tables.rows("acids") if r["acid"] == acid]
    if not protons:
        known = dict.fromkeys(str(r["acid"]) for r in tables.rows("acids"))
        raise InputError(f"{acid!r} is not an acid of the table.{tables.near(acid, known)}")
    return float(tables.row("components", acid)["molar_mass_g_mol"]) / max(protons)


def acidity_as(value: float, from_acid: str, to_acid: str) -> float:
    """Return a titratable acidity counted as another acid: value * E_to / E_from.

    Raises:
        InputError: not an acid of the table.
    """
    return value * equivalent_g_per_eq(to_acid) / equivalent_g_per_eq(from_acid)


# --- the check ----------------------------------------------------------------------------------


def check_standard(
    market: str,
    kind: str,
    values: Mapping[str, float | None],
    on: date | None = None,
    fruits: Mapping[str, float] | None = None,
    acid: str | None = None,
) -> tuple[Check, ...]:
    """Return what the standard of a kind of product says of its measures, a check for each row.

    Args:
        market: such as US or EU.
        kind: such as jam, kimchi, treated olives.
        values: measure (see MEASURES) -> value; None or left out is unknown.
        on: day of placing on the market; today by default.
        fruits: name -> amount of the fruit, where the figure depends on it.
        acid: the acid that total acidity is counted as.

    Returns:
        Empty where the market has no standard for the kind.

    Raises:
        InputError: an unknown market or measure.
    """
    for measure in values:
        if measure not in MEASURES:
            raise InputError(f"{measure!r} is no measure.{tables.near(measure, MEASURES)}")
    rows = rows_of(market_named(market), kind, on or date.today())
    plain = [r for r in rows if r["measure"] in MEASURES and not parts(r["fruits"])]
    checks = []
    for r in plain:
        value, missing = _value(r, values, acid)
        level = level_of(r)
        if r["measure"] == "fruit_g_per_kg":
            level = fruit_minimum([x for x in rows if x["measure"] == r["measure"]], fruits or {})
            if level is None:
                value, missing = None, "the figure of the standard for this fruit"
        if r["measure"] not in ("fruit_to_sweetener_solids", "fruit_share_percent"):
            checks.append(against(r, value, level, missing))
    return tuple(checks)


def _value(
    row: tables.Row, values: Mapping[str, float | None], acid: str | None
) -> tuple[float | None, str]:
    """Return the value in the row's terms, and what is missing if there is none."""
    value = values.get(row["measure"])
    if value is None:
        return None, MEASURES[row["measure"]]
    if not row["acid"]:
        return value, ""
    if acid is None:
        return None, "the acid that total acidity is counted as"
    return acidity_as(value, acid, str(row["acid"])), ""


def against(
    row: tables.Row, value: float | None, level: float | None = None, missing: str = ""
) -> Check:
    """Return a value held against a row.

    Args:
        row: of the table.
        value: in the measure of the row; None if unknown.
        level: the figure, where it is not simply that of the row.
        missing: what is not known, in words.
    """
    level = level_of(row) if level is None else level
    what = MEASURES[row["measure"]]
    unit = "" if row["unit"] in ("pH", "aw") else str(row["unit"])
    cited, how = str(row["citation"]), str(row["provenance"])
    if row["value"] == "GMP":
        reason = "no figure, good practice."
        return Check(what, PASS, reason, value, unit=unit, citation=cited, provenance=how)
    if value is None or level is None:
        need = missing or (what if value is None else "the figure of the standard")
        reason = f"cannot be decided without {need}."
        operator = str(row["operator"])
        return Check(what, CANNOT_DECIDE, reason, value, level, operator, unit, cited, how, (need,))
    operator, limit, passed, bound = _compared(row, value, level)
    reason = f"{value:.5g}, asked {bound}."
    verdict = PASS if passed else FAIL
    return Check(what, verdict, reason, value, limit, operator, unit, cited, how)


def _compared(row: tables.Row, value: float, level: float) -> tuple[str, float, bool, str]:
    """Return the operator and figure that bear, whether they hold, and the bound in words."""
    operator = str(row["operator"])
    if operator != "between":
        return operator, level, holds(value, operator, level), f"{operator} {level:.6g}"
    high = float(row["value_high"])
    nearer = ("<=", high) if high - value < value - level else (">=", level)
    passed = holds(value, ">=", level) and holds(value, "<=", high)
    return *nearer, passed, f"{level:g} to {high:g}"
