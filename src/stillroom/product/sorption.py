"""How much water one product holds, from fresh to dry: its solution joined to an isotherm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics.sorption import FORMS
from stillroom.product import properties
from stillroom.product.mixture import Mixture

DRIEST, WETTEST, POINTS = 0.004, 5.0, 160  # kg water per kg dry solids, and how many between
MEETS_AT_MOST = 0.90  # water activity above which no isotherm is believed
SOLUTION_FROM = 0.96  # where the solution rules alone again
PER_KG = {"g/g": 1.0, "g/100 g": 0.01}


@dataclass(frozen=True)
class Isotherm:
    """An isotherm of the food itself, measured or of its class.

    Attributes:
        form: a key of physics.sorption.FORMS without a temperature.
        constants: by name, as the form takes them.
        kg_per_kg: what one of its units of moisture is, kg per kg dry solids.
        lowest: water activity where it begins.
        highest: water activity where it ends.
        named: how it is called where it is shown.
        source: of the constants.
    """

    form: str
    constants: dict[str, float]
    kg_per_kg: float
    lowest: float
    highest: float
    named: str
    source: str

    def moisture(self, water_activity: Numbers) -> Array:
        """Return kg water per kg dry solids."""
        held = FORMS[self.form].moisture(np.asarray(water_activity, float), **self.constants)
        return self.kg_per_kg * held


def isotherm_of_class(name: str) -> Isotherm:
    """Return an isotherm of the table, by the name of its food.

    Raises:
        InputError: no such food, or none whose form needs no temperature.
    """
    plain = {
        str(r["food"]): r
        for r in tables.rows("isotherms")
        if not FORMS[str(r["form"])].with_temperature
    }
    if name not in plain:
        raise InputError(
            f"no isotherm is on file for {name!r}.{tables.near(name, plain)} "
            f"On file: {'; '.join(plain)}."
        )
    row = plain[name]
    form = str(row["form"])
    return Isotherm(
        form=form,
        constants={c: float(row[c]) for c in FORMS[form].constants},
        kg_per_kg=PER_KG[str(row["moisture_unit"])],
        lowest=float(row["water_activity_min"]),
        highest=float(row["water_activity_max"]),
        named=f"{name} ({row['use']})",
        source=f"{row['source']} [{row['provenance']}]",
    )


@dataclass(frozen=True)
class Sorption:
    """Water activity and moisture of one product, either from the other.

    Attributes:
        dry_kg: dry solids of the mixture, everything but water and alcohol.
        temperature_C: it holds at.
        moisture: kg water per kg dry solids, rising on the last axis.
        water_activity: at those moistures, rising on the last axis.
        isotherm: of the food itself, if one was joined.
    """

    dry_kg: Array
    temperature_C: float
    moisture: Array
    water_activity: Array
    isotherm: Isotherm | None = None

    def water_activity_at(self, moisture_kg_per_kg: Numbers) -> Array:
        """Return the water activity at a moisture, kg water per kg dry solids."""
        log = np.log(np.maximum(moisture_kg_per_kg, 1e-9))
        return between(log, np.log(self.moisture), self.water_activity)

    def moisture_at(self, water_activity: Numbers) -> Array:
        """Return the moisture at a water activity, kg water per kg dry solids."""
        return np.exp(between(water_activity, self.water_activity, np.log(self.moisture)))


def sorption_of(
    mixture: Mixture, temperature_C: float = 25.0, isotherm: Isotherm | None = None
) -> Sorption:
    """Return how the water activity of a mixture goes with its water, from fresh to dry.

    The curve is that of the mixture's own sugars, salts, acids and polymers. An isotherm of the
    food itself corrects it: the moisture at every water activity takes the ratio of the two,
    held below the lowest point of the isotherm and faded out above its highest, so that there is
    no jump where they meet.

    Args:
        mixture: any leading axes; the isotherm is held against the first sample.
        temperature_C: of the product.
        isotherm: of the whole product, its dry solids counted without fat or with, as in the
            mixture: with.

    Returns:
        The curve.

    Raises:
        InputError: an isotherm that cannot belong to this composition.
    """
    dry_kg = mixture.total_kg - mixture.kg("water", "ethanol")
    now = mixture.kg("water") / dry_kg
    log = np.linspace(np.log(DRIEST), np.log(max(WETTEST, 1.5 * float(np.max(now)))), POINTS)
    moisture = np.broadcast_to(np.exp(log), (*mixture.shape, POINTS))
    moisture = np.sort(np.concatenate([moisture, now[..., None]], axis=-1), axis=-1)
    held = Mixture(mixture.amounts[..., None, :]).with_amounts(water=moisture * dry_kg[..., None])
    a_w = _from_nothing(moisture, properties.water_activity(held, temperature_C))
    if isotherm is not None:
        moisture = moisture * _joined_ratio(isotherm, moisture, a_w)
    return Sorption(dry_kg, temperature_C, moisture, a_w, isotherm)


def water_activity_of(
    mixture: Mixture, temperature_C: float = 25.0, isotherm: Isotherm | None = None
) -> Array:
    """Return the water activity of a mixture, by its own isotherm where it has one."""
    if isotherm is None:
        return properties.water_activity(mixture, temperature_C)
    curve = sorption_of(mixture, temperature_C, isotherm)
    return curve.water_activity_at(mixture.kg("water") / curve.dry_kg)


def _from_nothing(moisture: Array, a_w: Array) -> Array:
    """Return a curve without gaps: in proportion below the driest point that could be solved."""
    known = np.isfinite(a_w)
    first = np.argmax(known, axis=-1)[..., None]
    per_moisture = np.take_along_axis(a_w / moisture, first, -1)
    return np.maximum.accumulate(np.where(known, a_w, moisture * per_moisture), axis=-1)


def _joined_ratio(isotherm: Isotherm, moisture: Array, a_w: Array) -> Array:
    """Return by how much the isotherm holds more water than the composition tells."""
    first_moisture, first_a_w = (x.reshape(-1, x.shape[-1])[0] for x in (moisture, a_w))
    top = min(isotherm.highest, MEETS_AT_MOST)
    grid = np.linspace(isotherm.lowest, top, POINTS)
    ratio = np.log(
        isotherm.moisture(grid) / np.exp(np.interp(grid, first_a_w, np.log(first_moisture)))
    )
    fade = np.clip((SOLUTION_FROM - a_w) / (SOLUTION_FROM - top), 0.0, 1.0)
    factor = np.exp(np.interp(a_w, grid, ratio) * fade**2 * (3 - 2 * fade))
    joined = first_moisture * factor.reshape(-1, a_w.shape[-1])[0]
    if not np.all(np.diff(joined) > 0):
        worst = float(np.exp(ratio[np.argmax(abs(ratio))]))
        raise InputError(
            f"the isotherm {isotherm.named} does not fit what the food is made of: it holds "
            f"{worst:.2g} times the water; check its unit, its basis and the composition."
        )
    return factor


def between(x: Numbers, rising: Array, values: Array) -> Array:
    """Return values interpolated along the last axis, each sample on its own curve."""
    at = np.broadcast_to(np.asarray(x, float), np.broadcast_shapes(np.shape(x), rising.shape[:-1]))
    rising, values = (np.broadcast_to(c, (*at.shape, c.shape[-1])) for c in (rising, values))
    above = np.clip((rising <= at[..., None]).sum(axis=-1), 1, rising.shape[-1] - 1)[..., None]
    x1, x2 = (np.take_along_axis(rising, i, -1)[..., 0] for i in (above - 1, above))
    y1, y2 = (np.take_along_axis(values, i, -1)[..., 0] for i in (above - 1, above))
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(x2 > x1, (at - x1) / (x2 - x1), 0.0)
    return y1 + (y2 - y1) * np.clip(part, 0.0, 1.0)
