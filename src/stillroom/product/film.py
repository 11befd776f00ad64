"""Films of packs against moisture: layers of the table or a measured sheet, holes, desiccants."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import barrier

MEASURED_SPREAD = 0.15  # between laboratories, common practice
FAR_OFF = 5.0  # times the table, above which a figure is doubted
FILM_UM = 50.0  # depth of a hole where no thickness is known
PRELOAD_G_PER_G = 0.03  # of a desiccant, by handling; 0.02 to 0.04
TEST = (38.0, 0.9)  # the usual test, in which a transmission is told
LOW, MIDDLE, HIGH = range(3)


@dataclass(frozen=True)
class Layer:
    """One film with what it lets through.

    Attributes:
        named: how it is called where it is shown.
        permeance_g_per_m2_day_Pa: lowest, middle and highest, at the temperature of the test.
        test_C: temperature of the test.
        activation_energy_kJ_mol: of permeation; None where none is on file.
        thickness_um: None where it is not known.
        source: of the figures, with how they were obtained.
        remarks: what is to be told of it.
    """

    named: str
    permeance_g_per_m2_day_Pa: Array
    test_C: float
    activation_energy_kJ_mol: float | None
    thickness_um: float | None
    source: str
    remarks: tuple[str, ...] = ()

    def at(self, temperature_C: Numbers, steady: bool = False) -> Array:
        """Return the permeances at temperatures, on a last axis; *steady*: as in the test."""
        energy = 0.0 if steady else self.activation_energy_kJ_mol or 0.0
        T = np.asarray(temperature_C, float)[..., None]
        return barrier.permeance_at_temperature_g_per_m2_day_Pa(
            self.permeance_g_per_m2_day_Pa, self.test_C, energy, T
        )


@dataclass(frozen=True)
class Barrier:
    """What a whole pack lets in or out.

    Attributes:
        layers: on each other.
        area_m2: both faces.
        holes: how many.
        hole_um: diameter of each.
        remarks: what was assumed, in words.
        mouth_m: width of the mouth, once it is opened; 0 while it is closed.
    """

    layers: tuple[Layer, ...]
    area_m2: float
    holes: int = 0
    hole_um: float = 0.0
    remarks: tuple[str, ...] = ()
    mouth_m: float = 0.0

    @property
    def named(self) -> str:
        """Films and area in words."""
        return f"{' / '.join(x.named for x in self.layers)}, {1e4 * self.area_m2:.0f} cm²"

    def conductance_g_per_day_Pa(
        self, temperature_C: Numbers, steady: bool = False, holes: int | None = None
    ) -> Array:
        """Return the conductances of the pack: lowest, middle and highest on a last axis.

        Args:
            temperature_C: any shape.
            steady: the permeance of the test at every temperature.
            holes: another number of holes; of 50 um where the pack has none.
        """
        T = np.asarray(temperature_C, float)
        films = np.stack([x.at(T, steady) for x in self.layers], axis=-1)
        depth = sum(x.thickness_um or 0.0 for x in self.layers) or FILM_UM
        each = barrier.hole_g_per_day_Pa(self.hole_um or FILM_UM, depth, T)
        leak = (self.holes if holes is None else holes) * np.asarray(each)[..., None]
        if self.mouth_m:
            mouth = barrier.hole_g_per_day_Pa(1e6 * self.mouth_m, depth, T)
            leak = leak + np.asarray(mouth)[..., None]
        return barrier.conductance_g_per_day_Pa(barrier.laminate(films), self.area_m2, leak)

    @property
    def wvtr_g_per_m2_day(self) -> Array:
        """Transmission of the film alone in the usual test: lowest, middle, highest."""
        P = barrier.laminate(np.stack([x.at(TEST[0]) for x in self.layers], axis=-1))
        return barrier.wvtr_g_per_m2_day(P, *TEST)


# --- films ------------------------------------------------------------------------------------


def layer(name: str, thickness_um: float | None = None) -> Layer:
    """Return a film of the table; where sources differ, from the lowest to the highest of them.

    Args:
        name: of the film.
        thickness_um: a film of one substance scales with it; others are as thick as they are.

    Raises:
        InputError: no such film, no figure for water, or a thickness that it cannot have.
    """
    rows = [r for r in _films() if str(r["film"]).lower() == name.strip().lower()]
    names = list(dict.fromkeys(str(r["film"]) for r in _films()))
    if not rows:
        known = tables.near(name, names) or f" On file: {'; '.join(names)}."
        what = "a transmission of water" if name in _all_films() else "such a film"
        raise InputError(f"{name!r}: {what} is not on file.{known}")
    named = str(rows[0]["film"])
    sized = [r for r in rows if r["thickness_um"] is not None]
    if rows[0]["structure"] == "mono" and sized:
        if thickness_um is None:
            raise InputError(f'{named}: say its thickness, such as thickness = "30 um".')
        return _of_rows(f"{named} {thickness_um:g} µm", sized, thickness_um)
    own = sized[0]["thickness_um"] if sized else None
    if thickness_um is not None and (own is None or abs(thickness_um / own - 1) > 0.01):
        stands = "its thickness is not on file" if own is None else f"on file it has {own:g} µm"
        raise InputError(
            f"{named}: {stands}, and its barrier does not go by thickness; leave thickness out or "
            "give its measured wvtr."
        )
    return _of_rows(named, rows, own)


def _all_films() -> set[str]:
    return {str(r["film"]) for r in tables.rows("films_barrier")}


@cache
def _films() -> tuple[tables.Row, ...]:
    return tuple(r for r in tables.rows("films_barrier") if r["wvtr_high_g_per_m2_day"] is not None)


def _of_rows(named: str, rows: Sequence[tables.Row], thickness_um: float | None) -> Layer:
    ends = np.array([[r["wvtr_low_g_per_m2_day"], r["wvtr_high_g_per_m2_day"]] for r in rows])
    if thickness_um is not None:
        own = np.array([[r["thickness_um"]] for r in rows])
        ends = barrier.at_thickness(ends, own, thickness_um)
    low, high = float(ends.min()), float(ends.max())
    energy = next((r["activation_energy_kJ_mol"] for r in rows
                   if r["activation_energy_kJ_mol"] is not None), None)  # fmt: skip
    test_C, humidity = rows[0]["wvtr_test_C"], rows[0]["wvtr_test_relative_humidity"]
    notes = [f"{named}: {r['note']}" for r in rows if r["note"]]
    return Layer(
        named,
        barrier.permeance_g_per_m2_day_Pa(_three(low, high), test_C, humidity),
        test_C,
        energy,
        thickness_um,
        "; ".join(dict.fromkeys(f"{r['source']} [{r['provenance']}]" for r in rows)),
        tuple(dict.fromkeys([*_energy_told(named, energy), *notes])),
    )  # fmt: skip


def _three(low: float, high: float) -> Array:
    return np.array([low, np.sqrt(low * high) if low > 0 else (low + high) / 2, high])


def _energy_told(named: str, energy: float | None) -> list[str]:
    if energy is not None:
        return []
    return [
        f"{named}: how it goes with temperature is not on file, so it is taken as in its test, "
        "which is more than it lets through when cooler"
    ]


def measured(
    wvtr_g_per_m2_day: float,
    test_C: float,
    test_relative_humidity: float,
    name: str | None = None,
    thickness_um: float | None = None,
) -> Layer:
    """Return a film by the figure of its data sheet.

    Args:
        wvtr_g_per_m2_day: of this film as it is.
        test_C: temperature of the test.
        test_relative_humidity: on the humid side, dry on the other.
        name: of a film of the table, which lends how it goes with temperature.
        thickness_um: of that film.

    Raises:
        InputError: as `layer`.
    """
    P = float(barrier.permeance_g_per_m2_day_Pa(wvtr_g_per_m2_day, test_C, test_relative_humidity))
    known = layer(name, thickness_um) if name is not None else None
    energy = known.activation_energy_kJ_mol if known else None
    named = (
        f"{known.named if known else 'film'}, measured {wvtr_g_per_m2_day:g} g/(m² d) at "
        f"{test_C:g} °C and {100 * test_relative_humidity:g} %"
    )
    remarks = [] if known and energy is not None else _energy_told(named, energy)
    if known:
        table = known.at(test_C)
        off = max(table[LOW] / P if P > 0 else np.inf, P / table[HIGH] if table[HIGH] > 0 else 1.0)
        if off > FAR_OFF:
            told = barrier.wvtr_g_per_m2_day(table, test_C, test_relative_humidity)
            remarks.append(
                f"{named}: more than {FAR_OFF:g} times off the table, {told[LOW]:.3g} to "
                f"{told[HIGH]:.3g} g/(m² d) in that test: check its unit, test and thickness"
            )
    return Layer(
        named,
        P * np.array([1 - MEASURED_SPREAD, 1.0, 1 + MEASURED_SPREAD]),
        test_C,
        energy,
        thickness_um,
        f"recipe, ± {100 * MEASURED_SPREAD:g} % between laboratories [given; common practice]",
        tuple(remarks),
    )


# --- desiccants -------------------------------------------------------------------------------


def desiccant_held_g_per_g(name: str, water_activity: Numbers) -> Array:
    """Return what a desiccant holds at a humidity: straight lines, from nothing at 0.

    Args:
        name: of the table.
        water_activity: of the air around it, any shape; held above the last point.

    Raises:
        InputError: no such desiccant.
    """
    names = list(dict.fromkeys(str(r["desiccant"]) for r in tables.rows("desiccants")))
    rows = [r for r in tables.rows("desiccants") if r["desiccant"] == name]
    if not rows:
        known = tables.near(name, names) or f" On file: {'; '.join(names)}."
        raise InputError(f"{name!r} is not a desiccant on file.{known}")
    points = sorted((r["relative_humidity"], r["capacity_g_per_g"]) for r in rows)
    at, held = zip((0.0, 0.0), *points, strict=True)
    return np.asarray(np.interp(water_activity, at, held))
