"""A filled pack and its way through heat: what the fill, heat and cool steps of a batch come to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.physics import phase
from stillroom.product import properties
from stillroom.product.container import Container
from stillroom.product.mixture import Mixture, of_kind
from stillroom.product.process import Batch, Stage, medium_C
from stillroom.product.properties import thermal
from stillroom.product.recipe import Fill, Heat, Piece
from stillroom.product.recipe import Penetration as Given

Way = Literal["conduction", "convection", "pieces"]

WAITING = "closed, waiting"
# what was not said, common practice
COLD_FILL_C = 40.0
HOT_FILL_FROM_C = 60.0  # what is filled cooler is no heat treatment
DIP_S = 300.0  # a shorter heating is no treatment of its own
HOLD_MIN = 2.0
ROOM_C = 20.0
COOL_WATER_C = 15.0
COOL_UNTIL_MIN = 90.0
LID_UPRIGHT_C, LID_INVERTED_C = 8.0, 3.0  # lid below the product of a hot fill
THICK_POLYMERS = 0.01  # starch, pectin, fibre and protein that keep a liquid from moving
THICK_BRIX = 55.0


@dataclass(frozen=True)
class Leg:
    """A part of the way of the closed pack.

    Attributes:
        words: what is done.
        film: row of the table of films.
        time_s: corners of the medium, from 0.
        medium_C: temperature there.
        heating: whether the heat is on.
    """

    words: str
    film: str
    time_s: tuple[float, ...]
    medium_C: tuple[float, ...]
    heating: bool = False

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return self.time_s[-1]


@dataclass(frozen=True)
class Plan:
    """A pack and what is done with it.

    Attributes:
        container: filled.
        mixture: its content; one, without leading axes.
        net_kg: of content.
        start_C: after the fill, content and glass together.
        legs: in order.
        way: how heat moves in it.
        why: what that rests on; the recipe overrules it.
        piece: that heats last, for pieces in a liquor.
        piece_start_C: of the pieces.
        given: heat penetration that was measured.
        lid_below_C: by how much the lid stays below the content of a hot fill.
        assumed: what was assumed, in words.
        pressure_kPa: of the air.
    """

    container: Container
    mixture: Mixture
    net_kg: float
    start_C: float
    legs: tuple[Leg, ...]
    way: Way
    why: str
    pressure_kPa: float
    piece: Piece | None = None
    piece_start_C: float | None = None
    given: Given | None = None
    lid_below_C: float = 0.0
    assumed: tuple[str, ...] = field(default=())

    @property
    def heated(self) -> bool:
        """Whether the closed pack is heated: not for a moment, nor by what is cooler than it."""
        return any(
            leg.heating and max(leg.medium_C) >= self.start_C and leg.seconds >= DIP_S
            for leg in self.legs
        )

    @property
    def mean_C(self) -> float:
        """Middle of the temperatures that the pack goes through, for its properties."""
        hottest = max(max(leg.medium_C) for leg in self.legs if leg.heating or not self.heated)
        return (self.start_C + max(hottest, self.start_C)) / 2

    @cached_property
    def shares(self) -> Mapping[str, Array]:
        """Materials of the content."""
        return thermal.mass_shares(self.mixture)

    def thermal(self, quantity: thermal.Property) -> float:
        """Return a thermal property of the content at its middle temperature."""
        return float(thermal.thermal_property(self.shares, quantity, self.mean_C))

    @property
    def volume_m3(self) -> float:
        """Volume of the content."""
        return self.net_kg / self.thermal("density_kg_per_m3")

    @property
    def height_m(self) -> float:
        """Height of the content, or the thickness of a pouch."""
        if self.container.diameter_m is None:
            return float(self.container.thickness_m or 0.0)
        return self.volume_m3 / (np.pi / 4 * self.container.diameter_m**2)


def plan_of(batch: Batch) -> Plan | None:
    """Return the pack of a batch and its way through heat; None where nothing is hot.

    Args:
        batch: the central one, without sample axes.

    Raises:
        InputError: a measured penetration or a way that cannot be.
    """
    fills = batch.of("fill")
    if not fills or not batch.made.closed:
        return None
    stage, fill = fills[-1], fills[-1].step.fill
    assert fill is not None
    after = batch.stages[stage.number :]
    heats = [s.step.heat for s in after if s.step.heat]
    if not heats and (fill.temperature is None or fill.temperature < HOT_FILL_FROM_C):
        return None
    if any(h.by or h.piece or h.penetration or h.start is not None for h in heats[1:]):
        raise InputError(
            "start, by, piece and penetration stand in the first heat step of a pack; a later one "
            "goes on from there."
        )
    assumed = [*stage.assumed, *([fill.pack.assumed] if fill.pack.assumed else [])]
    start = stage.temperature_C
    if heats and heats[0].start is not None:
        start = heats[0].start
    elif fill.temperature is None and start > COLD_FILL_C:
        start = ROOM_C
        assumed.append(f"filled at {start:g} °C: neither fill nor heat names a temperature")
    legs = _legs(batch.recipe.made_at.altitude, fill, after, start, assumed)
    way, why = _way(stage.mixture, stage.pieces is not None, heats)
    piece = _piece(batch, heats) if way == "pieces" else None
    if way == "pieces" and piece is None:
        way = "conduction"
        why = "pieces of unknown size: taken as one mass, the slower way"
    cold = fill.pieces_temperature
    return Plan(
        container=fill.pack,
        mixture=stage.mixture,
        net_kg=float(stage.facts["net_kg"]),
        start_C=start,
        legs=tuple(legs),
        way=way,
        why=why,
        pressure_kPa=float(phase.pressure_at_altitude_kPa(batch.recipe.made_at.altitude)),
        piece=piece,
        piece_start_C=start if cold is None else cold,
        given=heats[0].penetration if heats else None,
        lid_below_C=LID_INVERTED_C if fill.inverted else LID_UPRIGHT_C,
        assumed=tuple(assumed),
    )


def _legs(
    altitude_m: float, fill: Fill, stages: Sequence[Stage], start_C: float, assumed: list[str]
) -> list[Leg]:
    legs = []
    if fill.temperature is not None:
        hold = fill.hold
        if hold is None and not any(s.step.heat for s in stages):
            hold = HOLD_MIN
            assumed.append(f"closed for {hold:g} min before it cools (no hold given)")
        if hold:
            legs.append(Leg(WAITING, "air", (0.0, 60 * hold), (ROOM_C, ROOM_C)))
    temperature = start_C  # the bath as warm as the jars, or they crack
    cooled = False
    for stage in stages:
        if stage.step.heat:
            plan = stage.step.heat
            hot = medium_C(plan, altitude_m)
            corners: tuple[float, ...] = (0.0, 60 * plan.hold)
            medium: tuple[float, ...] = (hot, hot)
            if plan.come_up:
                corners = (0.0, 60 * plan.come_up, 60 * (plan.come_up + plan.hold))
                medium = (min(temperature, hot), hot, hot)
            legs.append(Leg(f"in {plan.in_}", plan.in_, corners, medium, True))
            temperature = hot
        elif stage.step.cool:
            cool = stage.step.cool
            legs.append(_cooling(cool.in_, cool.temperature, cool.for_ or COOL_UNTIL_MIN))
            temperature, cooled = cool.temperature, True
    if not cooled:
        assumed.append(
            f"put into water of {COOL_WATER_C:g} °C at once: no cool step is given, and slower "
            "cooling may not be counted on"
        )
        legs.append(_cooling("water", COOL_WATER_C, COOL_UNTIL_MIN))
    return legs


def _cooling(film: str, at_C: float, minutes: float) -> Leg:
    return Leg(f"in {film} of {at_C:g} °C", film, (0.0, 60 * minutes), (at_C, at_C))


def _way(mixture: Mixture, pieces: bool, heats: Sequence[Heat]) -> tuple[Way, str]:
    given = next((h.by for h in heats if h.by), None)
    if given:
        return given, "as the recipe says"
    if pieces:
        return "pieces", "pieces in a liquor: the liquor moves, a piece conducts"
    total = float(mixture.total_kg)
    swollen = float(mixture.kg(*of_kind("polymer"))) / total
    if swollen > THICK_POLYMERS:
        return "conduction", f"thick or set: {100 * swollen:.1f} % starch, fibre, pectin, protein"
    brix = float(properties.brix(mixture))
    if brix > THICK_BRIX:
        return "conduction", f"thick as a syrup of {brix:.0f} °Brix"
    return "convection", "thin: it pours like water or a light syrup, and moves as it warms"


def _piece(batch: Batch, heats: Sequence[Heat]) -> Piece | None:
    own = [h.piece for h in heats if h.piece]
    steeped = [s.step.steep.piece for s in batch.of("steep") if s.step.steep]
    return next((p for p in [*own, *reversed(steeped)] if p), None)
