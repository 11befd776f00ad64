"""Packs that rest on one hurdle: chilled vacuum packs (UK), acidified food filled cold (US)."""

from __future__ import annotations

from collections.abc import Mapping

from stillroom import tables
from stillroom.assess.law.pathway import first_match
from stillroom.assess.law.verdicts import Ruling, holds
from stillroom.physics.death import equivalent_hold_min

LOWEST_C = 80.0  # the guidance gives no equivalent below
REFERENCE_C, REFERENCE_MIN = 90.0, 10.0
Z_BELOW_C, Z_ABOVE_C = 9.0, 10.0  # reproduce the table of the guidance


def minutes_as_90C_10min(temperature_C: float) -> float:
    """Return the minutes that stand for 10 min at 90 °C: the guidance's own, between them its z.

    The table of the guidance is short at 80 °C, and where a food holds lysozyme (egg, crab, roe,
    many vegetables) even 10 min at 90 °C is not enough.

    Args:
        temperature_C: at the slowest-heating point.
    """
    for r in tables.rows("food_code_tables"):
        if (
            r["table_id"] == "UK_90C10min_equivalents"
            and float(r["temperature_C"]) == temperature_C
        ):
            return float(r["time_min"])
    return float(
        equivalent_hold_min(temperature_C, REFERENCE_MIN, REFERENCE_C, Z_BELOW_C, Z_ABOVE_C)
    )


def heated_as_90C_10min(temperature_C: float, hold_min: float) -> bool:
    """Return whether a hold stands for 10 min at 90 °C; below 80 °C none does.

    Args:
        temperature_C: at the slowest-heating point.
        hold_min: minutes at it.
    """
    return temperature_C >= LOWEST_C and holds(hold_min, ">=", minutes_as_90C_10min(temperature_C))


def vacuum_pack_over_10_days(facts: Mapping[str, object]) -> Ruling:
    """Return whether a chilled vacuum or MAP pack may have more than 10 days (UK guidance).

    Args:
        facts: storage_C, max_component_pH, aqueous_salt_percent, water_activity,
            heat_as_90C_10min, proven_combination; each holds throughout the food.
    """
    return first_match("UK-V", facts)


def cold_fill(facts: Mapping[str, object]) -> Ruling:
    """Return whether published studies support an acidified food that is not heated (US).

    Args:
        facts: pH, acetic_percent, benzoic_percent, thermal.
    """
    return first_match("US-A", facts)
