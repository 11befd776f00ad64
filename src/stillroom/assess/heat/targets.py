"""Which lethality a packed food is asked for: from its acidity, water activity and storage."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from stillroom import tables
from stillroom.assess.result import Estimate
from stillroom.physics.death import Scale
from stillroom.product.recipe import Keep, Recipe

COLD_UP_TO_C = 8.0
DRY_WATER_ACTIVITY = 0.92  # below which cells outlive what wet food would do to them
PROTECTED = 10.0  # D in 60 % sugar over that in wet food, memory
MINUTES_A_DAY = 1440.0
SHORT_LIFE_DAYS = 10.0  # chilled packs of up to ten days need no 90 °C for 10 min, ACMSF
GROWS_FROM_C = 3.0
BOTULINUM = "Clostridium botulinum proteolytic"
COLD_BOTULINUM = "Clostridium botulinum non-proteolytic"


@dataclass(frozen=True)
class Target:
    """A lethality that is asked for.

    Attributes:
        name: of the row.
        words: what it is against.
        scale: of its minutes.
        minutes: asked for.
        decades: that they stand for, of the organism they are against.
        against: organism or class.
        use: hazard, spoilage, quality or comparison.
        note: remark.
        source: where it comes from.
        provenance: how the value was obtained.
        careful_only: asked for at the upper end of the pH only.
    """

    name: str
    words: str
    scale: Scale
    minutes: float
    decades: float
    against: str
    use: str
    note: str
    source: str
    provenance: str
    careful_only: bool = False


def targets(
    ph: float,
    water_activity: float,
    storage_C: float | None,
    foods: Iterable[str],
    p90_z_C: float,
    driest: float | None = None,
) -> list[Target]:
    """Return the lethalities that are asked for.

    Args:
        ph: equilibrium pH of the product.
        water_activity: of the product.
        storage_C: where it is kept; None counts as ambient.
        foods: what is in it, by the names of the table of foods.
        p90_z_C: z below 90 °C for non-proteolytic Clostridium botulinum: 7, or 9 as the UK table.
        driest: lower end of the water activity, where cells are protected most.
    """
    least_wet = water_activity if driest is None else driest
    storage = "chilled" if storage_C is not None and storage_C <= COLD_UP_TO_C else "ambient"
    names = [f.lower() for f in foods]
    return [
        Target(
            name=str(r["target"]),
            words=str(r["words"]),
            scale=Scale(
                r["reference_C"],
                p90_z_C if r["against"] == COLD_BOTULINUM else r["z_C"],
                r["z_above_C"],
            ),
            minutes=r["lethality_min"] * _protection(r, least_wet),
            decades=r["decades"],
            against=str(r["against"]),
            use=str(r["use"]),
            note="; ".join(filter(None, [str(r["note"]), _protected(r, least_wet)])),
            source=str(r["source"]),
            provenance=str(r["provenance"]),
        )
        for r in tables.rows("heat_targets")
        if r["storage"] == storage
        and r["ph_low"] < ph <= r["ph_high"]
        and r["aw_low"] < water_activity <= r["aw_high"]
        and (not r["only_for"] or any(n.startswith(r["only_for"]) for n in names))
    ]


def _protection(r: tables.Row, water_activity: float) -> float:
    """Return the factor on the minutes against cells that sugar, salt or dryness protects."""
    guarded = r["against"] == "vegetative pathogen" and water_activity < DRY_WATER_ACTIVITY
    return PROTECTED if guarded else 1.0


def _protected(r: tables.Row, water_activity: float) -> str:
    if _protection(r, water_activity) == 1.0:
        return ""
    return (
        f"measured in wet food; below water activity {DRY_WATER_ACTIVITY:g} asked {PROTECTED:g} "
        "times [memory]"
    )


def targets_of(
    recipe: Recipe, ph: Estimate, water_activity: Estimate, p90_z_C: float
) -> list[Target]:
    """Return the targets of a product: those at the upper end of its pH, then its estimate's.

    Args:
        recipe: of the product.
        ph: its estimate.
        water_activity: its estimate.
        p90_z_C: as in targets.
    """
    keep = recipe.keep()
    foods = [str(recipe.food(n).row["food"]) for n in recipe.food_names()]
    rest = (keep.temperature if keep else None, foods, p90_z_C, water_activity.low)
    central = targets(ph.value, water_activity.value, *rest)
    careful = targets(ph.high, water_activity.high, *rest)
    if keep is not None and not _botulinum_in_the_cold(keep):
        central, careful = (
            [t for t in some if t.against != COLD_BOTULINUM] for some in (central, careful)
        )
    named = {t.name for t in central}
    both = [replace(t, careful_only=t.name not in named) for t in careful]
    return both + [t for t in central if t.name not in {c.name for c in careful}]


def _botulinum_in_the_cold(keep: Keep) -> bool:
    """Return whether a chilled pack is closed, warm and old enough for it."""
    days = keep.for_ / MINUTES_A_DAY
    return keep.pack != "open" and keep.temperature >= GROWS_FROM_C and days > SHORT_LIFE_DAYS


def fill_needed_C(ph: float) -> float:
    """Return the lowest temperature of a hot fill of acid food by its pH; inf above the table.

    It says nothing of the hold: the five decades of the targets are asked for besides.
    """
    rows = sorted(tables.rows("hot_fill"), key=lambda r: r["ph"])
    fitting = [r["temperature_C"] for r in rows if r["ph"] >= ph - 1e-9]
    return float(fitting[0]) if fitting else float("inf")


def p90_z_C(recipe: Recipe) -> float:
    """Return the z below 90 °C that the recipe chooses for non-proteolytic botulinum."""
    return float(next((s.heat.p90_z for s in recipe.steps if s.heat), 7))
