"""How fast an organism grows in a food: the parameter set that fits, and the rate it gives.

A positive rate is no proof of growth and none is no proof of its absence: the limits of the growth
table rule (`hazards`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from stillroom import tables
from stillroom.assess.hazards import named
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import kinetics

WET = 1.0 + 1e-6  # the model ends at water activity 1, where the best still grows


@dataclass(frozen=True)
class RateSet:
    """Cardinal values of an organism, with the best rate in a food.

    Attributes:
        name: of the row.
        organism: of the growth table.
        careful: whether it stands for the fastest in any food.
        row: of the table.
    """

    name: str
    organism: str
    careful: bool
    row: tables.Row

    def rate_per_h(
        self,
        temperature_C: Numbers,
        ph: Numbers | None = None,
        water_activity: Numbers | None = None,
        lactic_mmol_per_kg: Numbers = 0.0,
    ) -> Array:
        """Return the growth rate; what is not given is taken at its best.

        Args:
            temperature_C: any shape.
            ph: of the food.
            water_activity: of the food.
            lactic_mmol_per_kg: undissociated, in the water phase.

        Returns:
            Natural logarithms an hour.
        """
        r = self.row
        rate = r["mu_opt_per_h"] * kinetics.cardinal_factor(
            temperature_C, r["temp_min_C"], r["temp_opt_C"], r["temp_max_C"]
        )
        if ph is not None and r["ph_min"] is not None:
            rate = rate * kinetics.cardinal_factor(ph, r["ph_min"], r["ph_opt"], r["ph_max"], n=1)
        if water_activity is not None and r["aw_min"] is not None:
            rate = rate * kinetics.cardinal_factor(
                water_activity, r["aw_min"], r["aw_opt"], WET, n=2
            )
        if r["mic_lactic_mmol_per_kg"] is not None:
            rate = rate * kinetics.acid_factor(lactic_mmol_per_kg, r["mic_lactic_mmol_per_kg"])
        return rate

    def covers(self, temperature_C: float) -> bool:
        """Return whether a temperature lies in the range the set was fitted to."""
        return bool(self.row["lowest_C"] <= temperature_C <= self.row["highest_C"])


def rate_set(organism: str, food: str = "", temperature_C: float | None = None) -> RateSet:
    """Return the set that stands for an organism in a food.

    A set of that food within its range of temperature, or else the careful one.

    Args:
        organism: of the growth table, or an alias.
        food: words, such as "milk".
        temperature_C: at which it is wanted.

    Raises:
        InputError: no set is on file.
    """
    names = {o.name for o in named(organism)}
    sets = [
        RateSet(str(r["set_id"]), str(r["organism"]), r["use"] == "careful", r)
        for r in tables.rows("growth_rates")
        if r["organism"] in names
    ]
    for one in sets:
        in_range = temperature_C is None or one.covers(temperature_C)
        if in_range and _speaks_of(one, food):
            return one
    careful = [s for s in sets if s.careful]
    if not careful:
        raise InputError(f"no growth rate is on file for {organism}.")
    return careful[0]


def _speaks_of(one: RateSet, food: str) -> bool:
    """Return whether a set was measured in a food; where several are named, in each of them."""
    words = [w for w in str(one.row["foods"]).split(",") if w]
    kinds = re.split(r",| or | and ", food.lower())
    return bool(words) and all(any(w in kind for w in words) for kind in kinds)


def set_named(name: str) -> RateSet:
    """Return a set by its own name.

    Raises:
        InputError: it is not on file.
    """
    r = tables.row("growth_rates", name)
    return RateSet(name, str(r["organism"]), r["use"] == "careful", r)
