"""How organisms stand heat: the row that stands for each, and the decades a lethality takes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from stillroom import tables
from stillroom.assess.hazards import Organism
from stillroom.assess.heat.targets import COLD_BOTULINUM, DRY_WATER_ACTIVITY, PROTECTED
from stillroom.assess.result import Estimate
from stillroom.physics import death
from stillroom.physics.death import Scale


@dataclass(frozen=True)
class Kill:
    """By how many powers of ten the heat reduces an organism.

    Attributes:
        organism: of the row of heat resistance.
        stands_for: organisms and classes of the growth table.
        scale: its own reference and z: the lower z below, the higher above.
        d_min: decimal reduction time at the reference, the longer end.
        d_typical_min: the middle of the range.
        decades: estimate; its lower end uses the longer D and the least heat.
        medium: in which it was measured.
        source: of the row.
        provenance: of the row.
    """

    organism: str
    stands_for: tuple[str, ...]
    scale: Scale
    d_min: float
    d_typical_min: float
    decades: Estimate
    medium: str
    source: str
    provenance: str


@dataclass(frozen=True)
class Resistance:
    """A row of heat resistance as a line.

    Attributes:
        row: of the table.
        scale: the lower z below the reference, the higher above: the careful side of both.
        longest_min: upper end of D there.
        typical_min: middle of its range.
    """

    row: tables.Row
    scale: Scale
    longest_min: float
    typical_min: float

    @property
    def stands_for(self) -> tuple[str, ...]:
        """Organisms and classes of the growth table."""
        return _names(self.row)


@cache
def _design_rows() -> tuple[tables.Row, ...]:
    return tuple(r for r in tables.rows("heat_resistance") if r["stands_for"])


def _names(r: tables.Row) -> tuple[str, ...]:
    return tuple(n.strip() for n in str(r["stands_for"]).split(";"))


def resistances(ph: float, water_activity: float, p90_z_C: float) -> list[Resistance]:
    """Return how every organism with a design row stands heat in a food.

    Args:
        ph: of the food, the careful end.
        water_activity: of the food; dry and sugary food protects yeasts and moulds.
        p90_z_C: as in targets.
    """
    return [
        _resistance(r, water_activity, p90_z_C)
        for r in _design_rows()
        if (r["ph_from"] is None or ph > r["ph_from"]) and (r["ph_to"] is None or ph <= r["ph_to"])
    ]


def _resistance(r: tables.Row, water_activity: float, p90_z_C: float) -> Resistance:
    low, high = r["z_low_C"] or r["z_value_C"], r["z_high_C"] or r["z_value_C"]
    if COLD_BOTULINUM in _names(r):
        low = p90_z_C
    longest, typical = r["d_high_min"] or r["d_value_min"], r["d_value_min"]
    if typical is None:
        typical = float(np.sqrt(r["d_low_min"] * r["d_high_min"]))
    factor = 0.2 if r["kind"] == "5log_time" else 1.0
    fungus = {"yeast", "mould", "lactic acid bacteria", "Zygosaccharomyces rouxii"}
    if fungus & set(_names(r)) and water_activity < DRY_WATER_ACTIVITY:
        factor *= PROTECTED
    return Resistance(r, Scale(r["temperature_C"], low, high), factor * longest, factor * typical)


def kill(one: Resistance, lethality: Estimate) -> Kill:
    """Return what a lethality on the scale of an organism does to it.

    Args:
        one: how it stands heat.
        lethality: minutes on its scale, with their interval.
    """
    value, low, high = (
        float(death.log_reductions(F, D))
        for F, D in (
            (lethality.value, one.typical_min),
            (lethality.low, one.longest_min),
            (lethality.high, one.typical_min),
        )
    )
    return Kill(
        organism=str(one.row["organism"]),
        stands_for=one.stands_for,
        scale=one.scale,
        d_min=one.longest_min,
        d_typical_min=one.typical_min,
        decades=Estimate(value, low, high, "decades"),
        medium=str(one.row["medium"]),
        source=str(one.row["source"]),
        provenance=str(one.row["provenance"]),
    )


def class_of(organism: Organism) -> str:
    """Return the class of an organism of the growth table that has no row of its own, or ""."""
    if organism.heat_class != "vegetative":
        return ""
    if organism.life in ("mould", "yeast", "lactic acid bacteria"):
        return organism.life
    return "vegetative pathogen" if organism.group == "pathogen" else "vegetative spoilage"
