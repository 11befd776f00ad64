"""Labels and duties that are table rules: sulphites, date mark, dates of duties."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from stillroom.assess.law.pathway import first_match, group_for, groups
from stillroom.assess.law.verdicts import Ruling, market_named
from stillroom.errors import InputError


def sulphite_declaration(market: str, so2_mg_kg: float | None) -> Ruling:
    """Return whether sulphites must be declared, by total sulphur dioxide in the food as sold.

    Args:
        market: such as US (10 or more) or EU (more than 10).
        so2_mg_kg: None if unknown.

    Raises:
        InputError: a market whose rule the table does not hold.
    """
    return first_match(_group("sulphite label", market), {"SO2_mg_kg": so2_mg_kg})


def date_mark(
    market: str, microbiologically_perishable: bool | None, shelf_life_months: float | None
) -> Ruling:
    """Return the kind of date a label carries.

    Args:
        market: EU.
        microbiologically_perishable: an early danger after a short time.
        shelf_life_months: from packing.

    Raises:
        InputError: a market whose rule the table does not hold.
    """
    facts = {
        "microbiologically_perishable": microbiologically_perishable,
        "shelf_life_months": shelf_life_months,
    }
    return first_match(_group("date mark", market), facts)


@dataclass(frozen=True)
class DutyDates:
    """The last days of the duties of a maker of acidified or low-acid canned food (US)."""

    register_by: date
    records_until: date


def duty_dates(first_manufacture: date, manufactured: date | None = None) -> DutyDates:
    """Return when to register, and how long to keep the records of a lot.

    Args:
        first_manufacture: day the product was first made.
        manufactured: day the lot was made; the first day by default.
    """
    rows = {r["rule_id"]: r for r in groups()["US-D"]}
    days, years = int(rows["US-D-114-1"]["days"]), int(rows["US-D-114-5"]["years"])
    return DutyDates(
        register_by=first_manufacture + timedelta(days=days),
        records_until=_years_later(manufactured or first_manufacture, years),
    )


def _years_later(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year + years)
    except ValueError:  # 29 February
        return date(day.year + years, 3, 1)


def _group(subject: str, market: str) -> str:
    group = group_for(subject, market)
    if group is None:
        raise InputError(f"the tables hold no rule on {subject} in {market_named(market)}.")
    return group
