"""Jam, jelly and fruit butter: the name a product may carry, by market, fruit and day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from stillroom import tables
from stillroom.assess.law.standards import (
    against,
    fruit_minimum,
    fruit_named,
    level_of,
    parts,
    rows_of,
)
from stillroom.assess.law.verdicts import (
    CANNOT_DECIDE,
    FAIL,
    Check,
    Ruling,
    market_named,
)
from stillroom.errors import InputError

BY_WHAT = {"EU": "under the Directive", "UK-GB": "under the jam regulations"}
US_KINDS = ("jam", "jelly", "fruit butter", "marmalade")
MOST_FRUITS = 5  # 21 CFR 150.140(b)(2), 150.110(b)(2): two to five fruits


# --- United States ------------------------------------------------------------------------------


def us_juice_weight_kg(
    fruit: str,
    juice_kg: float,
    soluble_solids_percent: float,
    added_solids_kg: float = 0.0,
    kind: str = "jelly",
) -> float:
    """Return the weight of single-strength juice or fruit that a concentrate or puree stands for.

    W = (m * SS / 100 - m_added) * factor

    Args:
        fruit: a fruit of the standard.
        juice_kg: m, as weighed.
        soluble_solids_percent: SS, by refractometer.
        added_solids_kg: sugar or other solids that do not come from the fruit.
        kind: jelly, or fruit butter.

    Raises:
        InputError: a fruit that has no factor, more solids added than there are.
    """
    rows = rows_of("US", kind, date.today(), "juice_factor")
    by_fruit = {str(r["fruits"]): r for r in rows}
    name = fruit_named(fruit, by_fruit)
    if name is None:
        near = tables.near(fruit, by_fruit)
        raise InputError(f"{fruit!r} has no factor in the standard of {kind}.{near}")
    solids_kg = juice_kg * soluble_solids_percent / 100 - added_solids_kg
    if solids_kg < 0:
        raise InputError(f"{added_solids_kg:g} kg of added solids is more than the juice holds.")
    return solids_kg * (level_of(by_fruit[name]) or 0)


def us_standard(
    fruits_kg: Mapping[str, float],
    sweetener_solids_kg: float | None,
    soluble_solids_percent: float | None,
    kind: str = "jam",
) -> tuple[Check, ...]:
    """Return what 21 CFR part 150, or agency advice, says of a jam, jelly, butter or marmalade.

    Args:
        fruits_kg: fruit -> weight, without added water; for jelly the weight of juice by the
            factor rule.
        sweetener_solids_kg: the dry part of all sweeteners (a 77 % syrup counts 0.77).
        soluble_solids_percent: of the finished food, by refractometer, not corrected for
            insoluble solids.
        kind: one of US_KINDS.

    Raises:
        InputError: another kind, an impossible weight.
    """
    if kind not in US_KINDS:
        raise InputError(f"kind {kind!r} is not one of {', '.join(US_KINDS)}.")
    if any(m < 0 for m in fruits_kg.values()) or not sum(fruits_kg.values()) > 0:
        raise InputError(f"the fruit must weigh more than 0 kg, got {dict(fruits_kg)}.")
    if sweetener_solids_kg is not None and sweetener_solids_kg < 0:
        raise InputError(f"sweetener solids must be 0 kg or more, got {sweetener_solids_kg:g}.")
    today = date.today()
    solids = rows_of("US", kind, today, "soluble_solids_percent")
    checks = [_us_ratio(kind, fruits_kg, sweetener_solids_kg, today)]
    checks += [against(r, soluble_solids_percent) for r in solids]
    return (*checks, *_us_mixture(kind, fruits_kg, today))


def _us_ratio(
    kind: str, fruits_kg: Mapping[str, float], sweetener_solids_kg: float | None, on: date
) -> Check:
    """Hold fruit : sweetener against the row of its fruit group; Group II if any fruit is."""
    rows = rows_of("US", kind, on, "fruit_to_sweetener_solids")
    listing = rows if any(r["fruits"] for r in rows) else rows_of("US", kind, on, "juice_factor")
    listed = {f: r for r in listing for f in parts(r["fruits"])}
    named = {f: fruit_named(f, listed) for f, m in fruits_kg.items() if m}
    groups = [listed[name] for name in named.values() if name]
    mildest = min(groups or rows, key=lambda r: level_of(r) or 0) if listing is rows else rows[0]
    unknown = [f for f, name in named.items() if name is None]
    if unknown:
        need = f"the fruit group of {', '.join(unknown)}: not a fruit of the standard"
        return against(mildest, None, missing=need)
    if sweetener_solids_kg is None:
        return against(mildest, None)
    ratio = sum(fruits_kg.values()) / sweetener_solids_kg if sweetener_solids_kg else float("inf")
    return against(mildest, ratio)


def _us_mixture(kind: str, fruits_kg: Mapping[str, float], on: date) -> list[Check]:
    shares = [100 * m / sum(fruits_kg.values()) for m in fruits_kg.values() if m]
    if len(shares) < 2:
        return []
    checks = [against(r, min(shares)) for r in rows_of("US", kind, on, "fruit_share_percent")]
    if len(shares) > MOST_FRUITS:
        reason = f"{len(shares)} fruits, at most {MOST_FRUITS}."
        cited, how = (checks[0].citation, checks[0].provenance) if checks else ("", "")
        checks.append(
            Check("number of fruits", FAIL, reason, len(shares), MOST_FRUITS, "<=", "", cited, how)
        )
    return checks


# --- European Union, Great Britain --------------------------------------------------------------


def jam_name(
    market: str,
    fruit_g_per_kg: float | None,
    soluble_dry_matter_percent: float | None,
    made: date,
    fruits: Mapping[str, float] | None = None,
    pulp_unconcentrated: bool | None = None,
    kind: str = "jam",
    sweeteners_replace_sugar: bool = False,
) -> Ruling:
    """Return the highest name a product may carry in the EU or Great Britain.

    Args:
        market: EU or UK-GB.
        fruit_g_per_kg: fruit used for a kilogram of finished product.
        soluble_dry_matter_percent: by refractometer at 20 °C.
        made: day it was made and labelled.
        fruits: name -> amount; without them the general, highest figures hold.
        pulp_unconcentrated: whether all fruit is unconcentrated pulp; unknown is never extra.
        kind: jam or jelly.
        sweeteners_replace_sugar: wholly or partly; then the soluble dry matter is free.

    Raises:
        InputError: another market or kind.
    """
    market = market_named(market)
    if market not in BY_WHAT or kind not in ("jam", "jelly"):
        raise InputError(f"jam_name knows jam and jelly in {', '.join(BY_WHAT)}, not {kind!r}.")
    of_fruit = {k: rows_of(market, k, made, "fruit_g_per_kg") for k in (kind, f"extra {kind}")}
    solids = rows_of(market, kind, made, "soluble_solids_percent")
    if not of_fruit[kind]:
        return _open_name(f"the rule of {made}: the table does not reach back to it")
    checks = (
        [] if sweeteners_replace_sugar else [against(r, soluble_dry_matter_percent) for r in solids]
    )
    fruit = _fruit_check(of_fruit[kind], fruit_g_per_kg, fruits)
    refused = f"not a {kind} {BY_WHAT[market]}"
    for check in (*checks, fruit):
        if check.verdict == FAIL:
            return _name(refused, check)
    for check in (*checks, fruit):
        if check.verdict == CANNOT_DECIDE:
            return _open_name(check.needs[0], check)
    extra = _fruit_check(of_fruit[f"extra {kind}"], fruit_g_per_kg, fruits)
    if (
        extra.verdict == FAIL
        or pulp_unconcentrated is False
        or not _may_mix(market, kind, made, fruits)
    ):
        return _name(kind, fruit)
    if extra.verdict == CANNOT_DECIDE or pulp_unconcentrated is None:
        return _name(kind, fruit, needs=("pulp_unconcentrated",))
    return _name(f"extra {kind}", extra)


def _fruit_check(
    rows: list[tables.Row], fruit_g_per_kg: float | None, fruits: Mapping[str, float] | None
) -> Check:
    general = next(r for r in rows if not r["fruits"])
    level = fruit_minimum(rows, fruits or {})
    telling = [r for r in rows for f in fruits or () if fruit_named(f, parts(r["fruits"]))]
    row = telling[0] if len(telling) == 1 else general
    if level is None:
        return against(general, None, missing="the least fruit for this fruit")
    return against(row, fruit_g_per_kg, level)


def _may_mix(market: str, kind: str, made: date, fruits: Mapping[str, float] | None) -> bool:
    """Whether extra jam may be made of this mixture: some fruits stand alone only."""
    if len(fruits or ()) < 2:
        return True
    rows = rows_of(market, f"extra {kind}", made, "not_mixed_with_others")
    alone = [f for r in rows for f in parts(r["fruits"])]
    return not any(fruit_named(f, alone) for f in fruits or ())


def _name(name: str, check: Check, needs: tuple[str, ...] = ()) -> Ruling:
    return Ruling(
        name,
        f"{name}: {check.subject} {check.reason}",
        check.citation,
        check.provenance,
        needs=needs,
    )


def _open_name(need: str, check: Check | None = None) -> Ruling:
    cited = (check.citation, check.provenance) if check else ("", "")
    return Ruling(CANNOT_DECIDE, f"Cannot be decided without {need}.", *cited, needs=(need,))


# --- Canada -------------------------------------------------------------------------------------


def canada_jam_name(
    fruit_percent: float | None,
    soluble_solids_percent: float | None,
    pectin_added: bool | None,
    fruits: Mapping[str, float] | None = None,
    on: date | None = None,
) -> Ruling:
    """Return the name a jam may carry in Canada: jam, jam with pectin, or neither.

    Args:
        fruit_percent: fruit used, % of the finished product.
        soluble_solids_percent: water soluble solids.
        pectin_added: whether pectin was added.
        fruits: name -> amount; apple and rhubarb jams have rules of their own.
        on: day; today by default.
    """
    if any(fruit_named(f, ("apple", "rhubarb")) for f in fruits or ()):
        return _open_name("the shares of apple or rhubarb and of the named fruit (B.11.203)")
    if pectin_added is None:
        return _open_name("whether pectin was added")
    kind = "jam with pectin" if pectin_added else "jam"
    values = {
        "fruit_g_per_kg": None if fruit_percent is None else 10 * fruit_percent,
        "soluble_solids_percent": soluble_solids_percent,
    }
    checks = [against(r, values[r["measure"]]) for r in rows_of("Canada", kind, on or date.today())]
    for verdict in (FAIL, CANNOT_DECIDE):
        for check in checks:
            if check.verdict == verdict:
                return (
                    _name("not a jam", check)
                    if verdict == FAIL
                    else _open_name(check.needs[0], check)
                )
    return _name(kind, checks[0])
