"""How fast an organism comes to the end of a product: its class or its own set, its own limits.

The growth table rules: it says where nothing grows. Here a rate says how fast, with the minimum of
pH and water activity that the table has for the organism, so one near its limit is slow.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from stillroom import tables
from stillroom.assess import hazards, rates
from stillroom.assess.hazards import BEYOND_TABLE, Organism
from stillroom.assess.keep.classes import pathogen_end, row_of
from stillroom.assess.keeping import Situation
from stillroom.errors import InputError
from stillroom.labels import Array, formula_of
from stillroom.physics import kinetics
from stillroom.physics.ageing import potential_for_growth

HOURS_A_DAY = 24.0
SET_ACCURACY = 1.5  # accuracy factor of a good set, Ross 1999 (memory)
LINE_AW = (0.74, 0.90)  # where the mould-free line was fitted
LINE_C = (21.0, 27.0)
ENVELOPE_C = (3.0, 37.0)
_RARE = "; only where it is in the plant, which few are"
ENDS = 2  # the first axis: the estimate, the careful end


@dataclass(frozen=True)
class Pace:
    """The progress of an organism towards the end of a product.

    Attributes:
        per_h: temperature -> progress an hour, at the estimate and at the careful end.
        wanted: progress at the end, likewise.
        end: what the end is, in words.
        basis: what the rate is.
        source: of the rate.
        provenance: how it was obtained.
        fitted_C: range of temperature it holds in.
    """

    per_h: Callable[[Array], Array]
    wanted: Array
    end: str
    basis: str
    source: str
    provenance: str
    fitted_C: tuple[float, float]


def pace_of(organism: Organism, situation: Situation, food: str, clean: bool, T: Array) -> Pace:
    """Return how fast an organism comes to its end in a product.

    Args:
        organism: of the growth table.
        situation: the product.
        food: names of what is in it, with commas.
        clean: whether it was boiled or heated, so that few cells start.
        T: temperatures it will meet, °C.
    """
    if organism.life == "mould":
        return _colony(organism, situation)
    if organism.group != "pathogen":
        return _spoiling(organism, situation, clean)
    end = pathogen_end(organism)
    if end["decades"] is None:
        return _envelope(end)
    return _infecting(organism, situation, end, food, T)


# --- counts -----------------------------------------------------------------------------------


def _spoiling(organism: Organism, situation: Situation, clean: bool) -> Pace:
    row = row_of("spoilage_rates", organism)
    state = "clean" if clean else "raw"
    start = np.array([row[f"{state}_log10"], row[f"{state}_high_log10"]])
    growth = kinetics.LN10 * np.maximum(row["end_log10"] - start, 0.0)
    wanted = potential_for_growth(growth, np.array([row["h0"], 0.0]))
    rate = _count_rate(organism, situation, row, row, row["accuracy"], False)
    if row["rare"]:
        rate = _where_present(rate)
    if row["aw_fitted_min"] is not None:
        rate = _at_least_in_months(rate, float(wanted[1]), _temperatures(organism, row))
    return Pace(
        per_h=rate,
        wanted=wanted,
        end=f"{row['sign']}: {_count(row['end_log10'])} per g from {_count(start[0])} (careful "
        f"from {_count(start[1])}){_RARE if row['rare'] else ''}",
        basis=f"rates of the class {row['kind']}, within its own limits",
        source=str(row["source"]),
        provenance=str(row["provenance"]),
        fitted_C=(row["lowest_C"], row["highest_C"]),
    )


def _where_present(rate: Callable[[Array], Array]) -> Callable[[Array], Array]:
    """Return a rate that counts at the careful end only."""
    return lambda T: np.array([[0.0], [1.0]]) * rate(T)


def _at_least_in_months(
    rate: Callable[[Array], Array], wanted: float, temperatures: tuple[float, float, float]
) -> Callable[[Array], Array]:
    """Return a rate that comes to the end in months where the table, not the fit, lets it grow.

    The careful end is no later than mould at the dry end of the mould-free line.
    """
    here = kinetics.cardinal_factor(LINE_C[0], *temperatures)

    def slow(T: Array) -> Array:
        warmth = np.minimum(kinetics.cardinal_factor(T, *temperatures) / here, 1.0)
        return warmth * wanted / (HOURS_A_DAY * kinetics.mould_free_days(LINE_AW[0], T))

    def per_h(T: Array) -> Array:
        typical, careful = rate(T)
        return np.stack([typical, np.maximum(careful, slow(T))])

    return per_h


def _infecting(
    organism: Organism, situation: Situation, end: tables.Row, food: str, T: Array
) -> Pace:
    kind = row_of("spoilage_rates", organism)
    one = _set_of(organism, food, T)
    row = kind if one is None else one.row
    middle = one is not None and not one.careful
    growth = np.full(ENDS, kinetics.LN10 * end["decades"])
    return Pace(
        per_h=_count_rate(
            organism,
            situation,
            row,
            kind,
            kind["accuracy"] if one is None else SET_ACCURACY,
            careful=one is not None and one.careful,
            widened=not middle,
        ),
        wanted=potential_for_growth(growth, np.array([kind["h0"], 0.0])),
        end=str(end["words"]),
        basis=f"rates of the class {kind['kind']}, within its own limits"
        if one is None
        else f"growth rates {one.name}",
        source=str(row["source"]),
        provenance=str(row["provenance"]),
        fitted_C=(row["lowest_C"], row["highest_C"]),
    )


def _set_of(organism: Organism, food: str, T: Array) -> rates.RateSet | None:
    """Return the set of the food if it holds at every temperature, else the careful one."""
    try:
        cold, warm = (rates.rate_set(organism.name, food, float(x)) for x in (T.min(), T.max()))
        return cold if cold.name == warm.name else rates.rate_set(organism.name)
    except InputError:
        return None


def _count_rate(
    organism: Organism,
    situation: Situation,
    row: tables.Row,
    kind: tables.Row,
    accuracy: float,
    careful: bool,
    widened: bool = True,
) -> Callable[[Array], Array]:
    """Return temperature -> natural logarithms an hour, at the estimate and the careful end.

    Args:
        organism: its limits.
        situation: the product.
        row: with the best rate and the temperatures; its own cardinals where it has them.
        kind: row of the class, for what the other lacks.
        accuracy: factor between a middle rate and the fastest.
        careful: whether the row gives the fastest, else the middle.
        widened: whether the temperatures reach to the limits of the growth table.
    """
    given = {name: value for name, value in row.items() if value is not None}
    food = _in_food(organism, situation, {**kind, **given})
    speed = np.array([1 / accuracy, 1.0] if careful else [1.0, accuracy])[:, None]
    temperatures = _temperatures(organism, row) if widened else _fitted(row)
    return lambda T: row["mu_opt_per_h"] * speed * food * kinetics.cardinal_factor(T, *temperatures)


def _fitted(row: tables.Row) -> tuple[float, float, float]:
    return row["temp_min_C"], row["temp_opt_C"], row["temp_max_C"]


def _temperatures(organism: Organism, row: tables.Row) -> tuple[float, float, float]:
    """Return cardinal temperatures, no stricter than the growth table.

    A fitted minimum lies below the lowest temperature of growth: the lower of the two is used.
    """
    low, best, high = _fitted(row)
    low = low if organism.temp_min_C is None else min(low, organism.temp_min_C)
    high = high if organism.temp_max_C is None else max(high, organism.temp_max_C)
    return low, best, high


def _in_food(organism: Organism, situation: Situation, row: Mapping[str, Any]) -> Array:
    """Return the share of the best rate that acidity, water and acids leave, as a column.

    At the estimate with the minima of the growth table; at the careful end a step beyond them, by
    the better of the estimate and the high end.
    """
    ph_low, aw_low = (
        min(x for x in (getattr(organism, c), row.get(c)) if x is not None)
        for c in ("ph_min", "aw_min")
    )
    aw_low = max(aw_low, row.get("aw_fitted_min") or 0.0)
    ph_high = max(x for x in (organism.ph_max, row["ph_max"]) if x is not None)
    ph = np.array([situation.ph.value, situation.ph.high])
    a_w = np.minimum([situation.water_activity.value, situation.water_activity.high], 1.0)
    aw_max = row.get("aw_max")
    if aw_max is None:  # wetter than its best is no hindrance
        a_w, aw_max = np.minimum(a_w, row["aw_opt"]), rates.WET

    def share(step: float) -> Array:
        sour = kinetics.cardinal_factor(
            ph, ph_low - step * BEYOND_TABLE["ph_min"], row["ph_opt"], ph_high, n=1
        )
        wet = kinetics.cardinal_factor(
            a_w, aw_low - step * BEYOND_TABLE["aw_min"], row["aw_opt"], aw_max, n=2
        )
        return sour * wet

    alike = replace(organism, name=row.get("acids_as") or organism.name)
    middle = [hazards.acid_left(situation.doses_central, o, middle=True) for o in (organism, alike)]
    acids = [np.minimum(*middle), hazards.acid_left(situation.doses_careful, organism)]
    return np.array([share(0.0)[0] * acids[0], share(1.0).max() * acids[1]])[:, None]


# --- moulds and toxins ------------------------------------------------------------------------


def _colony(organism: Organism, situation: Situation) -> Pace:
    row = row_of("mould_rates", organism)
    speed = np.array([1.0, row["accuracy"]])[:, None]
    food = _in_food(organism, situation, row)
    temperatures = _temperatures(organism, row)
    shown = np.array(
        [
            row["visible_mm"] + row["germination_mm"],
            row["visible_least_mm"] + row["germination_least_mm"],
        ]
    )
    dry = np.array([situation.water_activity.value, situation.water_activity.high]) < LINE_AW[0]

    def per_h(T: Array) -> Array:
        mm = row["rate_opt_mm_per_h"] * speed * food * kinetics.cardinal_factor(T, *temperatures)
        share = mm / shown[:, None]
        # where only xerophiles grow: never before the end of the line, and no typical time
        slowest = 1 / (HOURS_A_DAY * kinetics.mould_free_days(LINE_AW[0], T))
        bound = np.stack([np.zeros_like(slowest), slowest])
        return np.where(dry[:, None], np.minimum(share, bound), share)

    words = "; below water activity 0.74 months, and xerophiles only" if dry.any() else ""
    words += _RARE if row["rare"] else ""
    return Pace(
        per_h=_where_present(per_h) if row["rare"] else per_h,
        wanted=np.ones(ENDS),
        end=f"a colony of {row['visible_mm']:g} mm (careful {row['visible_least_mm']:g}){words}",
        basis=f"germination and diameter of the class {row['kind']}, within its own limits",
        source=str(row["source"]),
        provenance=str(row["provenance"]),
        fitted_C=(row["lowest_C"], row["highest_C"]),
    )


def mould_line(situation: Situation, T: Array) -> Pace | None:
    """Return the empirical mould-free time of an unpreserved food; None outside where it holds.

    Args:
        situation: the product.
        T: temperatures it will meet, °C.
    """
    a_w = np.array([situation.water_activity.value, situation.water_activity.high])
    preserved = any(situation.doses_central.get(a) for a in ("sorbic", "benzoic", "propionic"))
    inside = LINE_AW[0] <= a_w[0] and a_w[1] <= LINE_AW[1]
    if preserved or not inside or T.min() < LINE_C[0] or T.max() > LINE_C[1]:
        return None
    label = formula_of(kinetics.mould_free_days)
    return Pace(
        per_h=lambda T: 1 / (HOURS_A_DAY * kinetics.mould_free_days(a_w[:, None], T)),
        wanted=np.array([1.0, 1 / SET_ACCURACY]),
        end="mould seen by eye",
        basis="mould-free time of unpreserved cakes by water activity, pH not counted",
        source=label.source,
        provenance="seen",
        fitted_C=LINE_C,
    )


def _envelope(end: tables.Row) -> Pace:
    def per_h(T: Array) -> Array:
        days = kinetics.earliest_toxin_days(np.clip(T, *ENVELOPE_C))
        return np.broadcast_to(1 / (HOURS_A_DAY * days), (ENDS, T.size))

    return Pace(
        per_h=per_h,
        wanted=np.array([end["envelope_factor"], 1.0]),
        end=str(end["words"]),
        basis="envelope of the earliest toxin in optimal media; typically twice as long",
        source=str(end["source"]),
        provenance=str(end["provenance"]),
        fitted_C=formula_of(kinetics.earliest_toxin_days).validity["temperature_C"],
    )


def _count(log10: float) -> str:
    return f"{10**log10:g}" if -3 < log10 < 3 and log10 == int(log10) else f"10^{log10:g}"
