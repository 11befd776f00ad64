"""The dryings of a batch, followed, and what they are held against."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from stillroom import tables
from stillroom.assess.result import Estimate, Finding, Verdict
from stillroom.assess.spread import Spread, estimate
from stillroom.labels import duration
from stillroom.physics.phase import pressure_at_altitude_kPa
from stillroom.product import drying
from stillroom.product.drying import FAST, MIDDLE, SLOW, Drying
from stillroom.product.process import Batch
from stillroom.product.recipe import Cook, Recipe

UNEVEN = 0.03  # of water activity between the mean and the wettest piece
WARM_C = 40.0  # meat dried above it is no slow, cold ham
HUMID = 90.0  # per cent
HOUR = 60.0


@dataclass(frozen=True)
class Dried:
    """A drying of a recipe.

    Attributes:
        number: of the step.
        drying: followed.
        end_kg: weight of the batch at the end; its solids vary.
        water_activity: of the mean at the end, on the shelf.
        wettest_water_activity: of the thickest piece.
        centre_water_activity: in the middle of a mean piece before it evens out.
        cooked: the last heating of the food itself before it.
        animal: "meat", "poultry" or nothing.
    """

    number: int
    drying: Drying
    end_kg: Estimate
    water_activity: float
    wettest_water_activity: float
    centre_water_activity: float | None
    cooked: Cook | None
    animal: str


def dryings(central: Batch, batch: Batch, spread: Spread) -> Iterator[Dried]:
    """Follow the dryings of a batch.

    Args:
        central: without a sample axis.
        batch: with what is uncertain on a sample axis.
        spread: of the foods.
    """
    recipe = central.recipe
    pressure = float(pressure_at_altitude_kPa(recipe.made_at.altitude))
    cooked: Cook | None = None
    for before, stage in zip(central.stages, central.stages[1:], strict=False):
        cooked = stage.step.cook or cooked
        plan = stage.step.dry
        if plan is None:
            continue
        d = drying.follow(before.mixture, plan, recipe, pressure)
        centre = None
        if d.hours is not None and plan.piece is not None:
            over = drying.CENTRE_OVER_MEAN[plan.piece.shape]
            middle = d.equilibrium + over * (d.end - d.equilibrium)
            centre = float(d.curve.water_activity_at(min(middle, d.start)))
        yield Dried(
            stage.number,
            d,
            estimate(
                batch.stages[stage.number - 1].facts["dried_kg"], spread.influences, 0.0, "kg"
            ),
            float(d.curve.water_activity_at(d.end)),
            float(d.curve.water_activity_at(d.thickest)),
            centre,
            cooked,
            _animal(recipe),
        )


def _animal(recipe: Recipe) -> str:
    """Return whether it is dried meat of mammals or of poultry, by the groups of its foods."""
    groups = [(recipe.food(n).group, str(recipe.food(n).row["food"])) for n in recipe.food_names()]
    meats = [food for group, food in groups if group.startswith("meat")]
    if any(food.startswith(("chicken", "turkey", "duck", "goose")) for food in meats):
        return "poultry"
    return "meat" if meats else ""


# --- what it is held against ------------------------------------------------------------------


def findings(dried: Sequence[Dried], kind: str | None) -> list[Finding]:
    """Return what dryings are held against.

    Args:
        dried: the dryings of a recipe.
        kind: of product, as the recipe names it.
    """
    found = []
    for one in dried:
        found += [_end(one), *_time(one), *_uneven(one), *_crust(one)]
    if dried and dried[0].animal:
        found.append(_heat_first(dried[0], kind))
    return found


def _end(one: Dried) -> Finding:
    d = one.drying
    began = float(d.before.total_kg)
    low, high = one.end_kg.low, one.end_kg.high
    reason = (
        f"done when {began:.4g} kg weigh {d.end_kg:.4g} kg, {100 * d.end_kg / began:.1f} % of what "
        f"went in, with {d.end_water_percent:.1f} % water"
    )
    if high > low:
        reason += (
            f"; by the solids of the batch between {low:.4g} and {high:.4g} kg, so that a weight "
            "alone proves nothing: measure"
        )
    return Finding(
        subject=f"step {one.number}, end weight",
        area="process",
        verdict="pass",
        reason=reason,
        value=d.end_kg,
        uncertainty=(high - low) / 2,
        unit="kg",
    )


def _time(one: Dried) -> list[Finding]:
    d = one.drying
    given = d.plan.for_
    if d.hours is None or given is None or not d.plan.until:
        return []
    slow, fast = float(d.hours[SLOW]), float(d.hours[FAST])
    verdict: Verdict = "cannot tell"
    if given / HOUR >= slow:
        verdict = "pass"
    elif given / HOUR < fast:
        verdict = "fail"
    words = {
        "pass": "time enough",
        "fail": "too short for that end point",
        "cannot tell": "dry to the weight, not to the clock",
    }[verdict]
    return [
        Finding(
            subject=f"step {one.number}, time to dry",
            area="process",
            verdict=verdict,
            reason=f"takes {duration(fast)} to {duration(slow)}, {duration(given / HOUR)} given: "
            f"{words}",
            value=given / HOUR,
            limit=float(d.hours[MIDDLE]),
            unit="h",
            citation="constant and falling rate; Fick's law, Crank 1975",
            provenance="common practice",
        )
    ]


def _uneven(one: Dried) -> list[Finding]:
    d = one.drying
    apart = one.wettest_water_activity - one.water_activity
    if d.plan.condition is not None:
        row = practice("conditioning", "fruit")
        days = d.plan.condition / 1440
        enough = days >= float(row["low"])
        return [
            Finding(
                subject=f"step {one.number}, conditioning",
                area="process",
                verdict="pass" if enough else "cannot tell",
                reason=f"{days:.3g} days in closed jars let the pieces come to one water activity"
                + ("" if enough else f"; {row['low']:g} to {row['high']:g} days are usual"),
                remedy="" if enough else "condition it longer and measure the wettest piece",
                value=days,
                limit=float(row["low"]),
                unit="d",
                citation=str(row["source"]),
                provenance=str(row["provenance"]),
            )
        ]
    if d.hours is None:
        return [
            Finding(
                subject=f"step {one.number}, wettest piece",
                area="process",
                verdict="cannot tell",
                reason="nothing is told of piece and air, so how wet the thickest piece stays is "
                "not known: the mean alone is judged",
                remedy='give piece and temperature, or condition it (condition = "7 days"), and '
                "measure the wettest",
            )
        ]
    good = apart <= UNEVEN
    return [
        Finding(
            subject=f"step {one.number}, wettest piece",
            area="process",
            verdict="pass" if good else "cannot tell",
            reason=f"a piece {d.plan.thickest:g} % thicker stands at water activity "
            f"{one.wettest_water_activity:.2f} when the mean is at {one.water_activity:.2f}",
            remedy=""
            if good
            else 'condition it (condition = "7 days"), cut evenly, or dry on; measure the wettest',
            value=one.wettest_water_activity,
            limit=one.water_activity + UNEVEN,
            margin=UNEVEN - apart,
            citation="judged by the wettest piece, not the mean",
            provenance="common practice",
        )
    ]


def _crust(one: Dried) -> list[Finding]:
    air = one.drying.air
    row = practice("too hot at the start", "apple cubes")
    if air is None or one.animal or air.temperature_C <= float(row["low"]):
        return []
    return [
        Finding(
            subject=f"step {one.number}, dry skin",
            area="process",
            verdict="cannot tell",
            reason=f"air of {air.temperature_C:g} °C can set a dry skin over a wet middle, which "
            "moulds later though the weight is met",
            remedy="begin at 55 to 60 °C, condition, and measure the water activity after that",
            value=air.temperature_C,
            limit=float(row["low"]),
            unit="°C",
            citation=str(row["source"]),
            provenance=str(row["provenance"]),
        )
    ]


def _heat_first(one: Dried, kind: str | None) -> Finding:
    """Return whether meat was heated before it was dried: drying itself is no heat treatment."""
    row = practice("heat before drying", f"jerky of {one.animal}")
    asked = float(row["low"])
    air, cook = one.drying.air, one.cooked
    verdict: Verdict = "fail"
    reason = f"raw {one.animal} is dried: it must be heated to {asked:g} °C first"
    if air is not None:
        reason += (
            f"; in the dryer it stays near {air.wet_bulb_C:.0f} °C while wet, and what dries "
            "slowly stands the heat after"
        )
    if cook is not None and cook.to >= asked:
        humid = cook.in_ != "air" or (cook.humidity or 0) >= HUMID
        verdict = "pass" if humid else "cannot tell"
        reason = f"heated to {cook.to:g} °C before it is dried, {asked:g} °C are asked"
        if not humid:
            reason += f"; air under {HUMID:g} % humidity dries the surface, where cells outlive it"
    elif cook is None and kind != "jerky" and (air is None or air.temperature_C < WARM_C):
        verdict = "cannot tell"
        reason = "raw meat is dried cold: salt, cure and time must stop what heat does not kill"
    return Finding(
        subject=f"heat before drying {one.animal}",
        area="hazard",
        verdict=verdict,
        reason=reason,
        remedy=""
        if verdict == "pass"
        else f'heat it first: cook = {{ to = "{asked:g} degC", in = "steam" }}, measured in the '
        "thickest strip; or have your own process validated",
        value=None if cook is None else cook.to,
        limit=asked,
        margin=None if cook is None else cook.to - asked,
        unit="°C",
        citation=str(row["source"]),
        provenance=str(row["provenance"]),
        decides=True,
    )


def practice(subject: str, foods: str) -> tables.Row:
    """Return a row of what is common in drying."""
    rows = tables.rows("drying_practice")
    return next(r for r in rows if (r["subject"], r["foods"]) == (subject, foods))
