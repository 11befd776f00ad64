"""How a filled pack heats and cools: what the fill, heat and cool steps of a batch come to.

One pack, its legs (closed and waiting, in the medium, cooling), and one of three ways heat moves in
it. Every quantity that may vary carries a sample axis, so one jar and a thousand are the same call.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

from stillroom import tables
from stillroom.labels import Array, Numbers
from stillroom.physics import conduction, heat, penetration, phase, transfer
from stillroom.physics.death import Scale
from stillroom.product import properties
from stillroom.product.container import Container
from stillroom.product.mixture import Mixture, of_kind
from stillroom.product.process import Batch, medium_C
from stillroom.product.properties import thermal
from stillroom.product.recipe import Fill, Heat, Piece
from stillroom.product.recipe import Penetration as Given

Way = Literal["conduction", "convection", "pieces"]

CELLS = (12, 16)
SLAB_CELLS = 24
WAITING = "closed, waiting"
STEP_S = 15.0
SLOW_STEP_S = 60.0  # in air, where nothing moves fast
TIMES = 240  # at least, of a liquid or mixed pack
# what was not said, common practice
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
class Scatter:
    """What may differ from jar to jar; numbers, or one sample axis.

    Attributes:
        film: -1 the lowest of the table, 0 the typical, 1 the highest.
        conductivity: factor; of a liquid or measured pack, of 1 / f.
        size: factor on diameter or thickness.
        fill: factor on the height of the content.
        start_C: added to the start.
        medium_C: added to the medium while the heat is on.
        lag: factor on j.
    """

    film: Numbers = 0.0
    conductivity: Numbers = 1.0
    size: Numbers = 1.0
    fill: Numbers = 1.0
    start_C: Numbers = 0.0
    medium_C: Numbers = 0.0
    lag: Numbers = 1.0

    @property
    def samples(self) -> int:
        """How many."""
        return int(np.broadcast_shapes((1,), *(np.shape(v) for v in vars(self).values()))[0])


@dataclass(frozen=True)
class Course:
    """How the packs went.

    Attributes:
        time_s: from the closing of the pack.
        medium_C: around it.
        centre_C: where it heats last, (samples, times).
        surface_C: of the content at the wall, (samples, times).
        lethality_min: on each scale at each place, (samples, scales, places).
        share: of the volume, of each place.
        off_s: when the heat goes off.
    """

    time_s: Array
    medium_C: Array
    centre_C: Array
    surface_C: Array
    lethality_min: Array
    share: Array
    off_s: float

    @property
    def least_min(self) -> Array:
        """Lethality on each scale where it is least, (samples, scales)."""
        return self.lethality_min.min(axis=-1)


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
        lid_C: by how much the lid stays below the content; a hot fill only.
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
    lid_C: float = 0.0
    assumed: tuple[str, ...] = field(default=())

    @property
    def heated(self) -> bool:
        """Whether the closed pack is heated, not only filled hot."""
        return any(leg.heating for leg in self.legs)

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
    heats = [s.step.heat for s in batch.of("heat") if s.step.heat]
    if not fills:
        return None
    stage, fill = fills[-1], fills[-1].step.fill
    assert fill is not None
    if fill.temperature is None and not heats:
        return None
    assumed = [fill.pack.assumed] if fill.pack.assumed else []
    start = stage.temperature_C
    if heats and heats[0].start is not None:
        start = heats[0].start
    legs = _legs(batch, fill, heats, assumed)
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
        lid_C=0.0 if heats else LID_INVERTED_C if fill.inverted else LID_UPRIGHT_C,
        assumed=tuple(assumed),
    )


def _legs(batch: Batch, fill: Fill, heats: Sequence[Heat], assumed: list[str]) -> list[Leg]:
    legs = []
    stages = batch.stages[batch.of("fill")[-1].number :]
    if fill.temperature is not None:
        hold = fill.hold
        if hold is None and not heats:
            hold = HOLD_MIN
            assumed.append(f"closed for {hold:g} min before it cools (no hold given)")
        if hold:
            legs.append(Leg(WAITING, "air", (0.0, 60 * hold), (ROOM_C, ROOM_C)))
    temperature = batch.of("fill")[-1].temperature_C  # the bath as warm as the jars, or they crack
    cooled = False
    for stage in stages:
        if stage.step.heat:
            plan = stage.step.heat
            hot = medium_C(plan, batch.recipe.made_at.altitude)
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


# --- the run ----------------------------------------------------------------------------------


def run(plan: Plan, scales: Sequence[Scale], scatter: Scatter | None = None) -> Course:
    """Return how the pack heats and cools, and what that is worth on each scale.

    Args:
        plan: the pack and its legs.
        scales: of the lethalities to add up.
        scatter: what differs from sample to sample; one pack as planned by default.

    Returns:
        Course.

    Source:
        Conduction by finite volumes; liquids as well mixed, or by measured f and j; a piece by the
        exact series in the liquor around it.
    """
    scatter = scatter or Scatter()
    if plan.way == "conduction" and plan.given is None:
        return _conducting(plan, scales, scatter)
    return _moving(plan, scales, scatter)


def _film(name: str, position: Numbers) -> Array:
    """Return a film of the table between its lowest (-1) and highest (1)."""
    r = tables.row("films", name)
    low, typical, high = (float(r[f"{c}_W_per_m2_K"]) for c in ("low", "typical", "high"))
    x = np.clip(np.asarray(position, float), -1, 1)
    return np.where(x < 0, typical * (low / typical) ** (-x), typical * (high / typical) ** x)


def _through_wall(plan: Plan, film: Numbers) -> Array:
    one = plan.container
    conductivity = float(thermal.material(one.material, "conductivity_W_per_m_K", plan.mean_C))
    return heat.overall_conductance_W_per_m2_K(film, one.wall_m, conductivity)


def _shifted(leg: Leg, scatter: Scatter) -> Array:
    """Return the medium of a leg at its corners, (samples, corners)."""
    shift = np.broadcast_to(scatter.medium_C if leg.heating else 0.0, (scatter.samples,))
    return np.asarray(leg.medium_C) + shift[:, None]


def _step_s(leg: Leg) -> float:
    return SLOW_STEP_S if leg.film == "air" else STEP_S


def _conducting(plan: Plan, scales: Sequence[Scale], scatter: Scatter) -> Course:
    n = scatter.samples
    slab = plan.container.diameter_m is None
    k = plan.thermal("conductivity_W_per_m_K") * np.asarray(scatter.conductivity)
    held = plan.thermal("density_kg_per_m3") * plan.thermal("heat_capacity_J_per_kg_K")
    state: Numbers | conduction.Heated = np.broadcast_to(plan.start_C + scatter.start_C, (n,))
    runs = []
    for leg in plan.legs:
        wall = _through_wall(plan, _film(leg.film, scatter.film))
        over = 1 / (1 / wall + 1 / _film("headspace", scatter.film))
        pack = conduction.Pack(
            radius_m=1.0 if slab else plan.container.diameter_m / 2 * np.asarray(scatter.size),  # type: ignore[operator]
            height_m=plan.height_m * np.asarray(scatter.size if slab else scatter.fill),
            conductivity_W_per_m_K=k,
            heat_capacity_J_per_m3_K=held,
            side_W_per_m2_K=0.0 if slab else wall,
            bottom_W_per_m2_K=wall,
            top_W_per_m2_K=wall if slab else over,
        )
        state = conduction.heat_pack(
            pack,
            state,
            np.asarray(leg.time_s),
            _shifted(leg, scatter),
            step_s=_step_s(leg),
            cells=(1, SLAB_CELLS) if slab else CELLS,
            probe_heights=(0.5, 0.0),
            scales=scales,
        )
        runs.append(state)
    places = int(np.prod(runs[0].final_C.shape[-2:]))
    layers = runs[0].cell_height.size
    lethality = sum(r.lethality_min for r in runs)
    walls = [r.axis_C[..., 1, :] if slab else r.side_C for r in runs]
    starts = np.cumsum([0.0, *(leg.seconds for leg in plan.legs)])
    return Course(
        time_s=np.concatenate([t + r.time_s for t, r in zip(starts, runs, strict=False)]),
        medium_C=_medium(plan, [r.time_s for r in runs]),
        centre_C=np.concatenate([r.axis_C[..., 0, :] for r in runs], axis=-1),
        surface_C=np.concatenate(walls, axis=-1),
        lethality_min=np.reshape(lethality, (n, len(scales), places)),
        share=np.repeat(runs[0].volume_share, layers) / layers,
        off_s=_off_s(plan),
    )


def _medium(plan: Plan, times: Sequence[Array]) -> Array:
    parts = [
        np.interp(t, leg.time_s, leg.medium_C) for t, leg in zip(times, plan.legs, strict=True)
    ]
    return np.concatenate(parts)


def _off_s(plan: Plan) -> float:
    """Return when the heat goes off: the end of the last heating, or of the hold of a hot fill."""
    kept = [i for i, leg in enumerate(plan.legs) if leg.heating or leg.words == WAITING]
    return float(sum(leg.seconds for leg in plan.legs[: max(kept, default=-1) + 1]))


def _moving(plan: Plan, scales: Sequence[Scale], scatter: Scatter) -> Course:
    n = scatter.samples
    T: Array = np.broadcast_to(plan.start_C + scatter.start_C, (n,)).astype(float)
    times, liquids = [], []
    for leg in plan.legs:
        steps = max(int(leg.seconds / _step_s(leg)), TIMES // len(plan.legs))
        t = np.linspace(0.0, leg.seconds, steps + 1)
        corners = _shifted(leg, scatter)
        medium = np.stack([np.interp(t, leg.time_s, row) for row in corners])
        f, j, broken, after = _penetration(plan, leg, scatter)
        course = penetration.followed_C(t, T, medium, f, j, broken, after)
        T = course[:, -1]
        times.append(t)
        liquids.append(course)
    starts = np.cumsum([0.0, *(leg.seconds for leg in plan.legs)])
    time = np.concatenate([s + t for s, t in zip(starts, times, strict=False)])
    liquid = np.concatenate(liquids, axis=-1)
    if plan.way == "pieces" and plan.given is None:
        places, share = _in_piece(plan, scatter, time, liquid)
    else:
        places, share = liquid[:, None], np.ones(1)
    return Course(
        time_s=time,
        medium_C=_medium(plan, times),
        centre_C=places[:, 0],
        surface_C=liquid,
        lethality_min=np.stack([s.minutes(time, places)[..., -1] for s in scales], axis=1),
        share=share,
        off_s=_off_s(plan),
    )


def _penetration(
    plan: Plan, leg: Leg, scatter: Scatter
) -> tuple[Array, Numbers, float | None, Numbers | None]:
    """Return (f in min, j, break in s, f after it) of the content, or of its liquor, in a leg."""
    slower = 1 / np.asarray(scatter.conductivity, float)
    if plan.given is not None and leg.heating:
        g = plan.given
        later = None if g.f_after is None else g.f_after * slower
        broken = None if g.break_after is None else 60 * g.break_after
        return g.f * slower, g.j * np.asarray(scatter.lag), broken, later
    wall = _through_wall(plan, _film(leg.film, scatter.film))
    inside = _film("inside of a liquid pack", scatter.film)
    area = _wetted_m2(plan) * np.asarray(scatter.size)
    f = heat.mixed_heating_rate_min(
        plan.net_kg * np.asarray(scatter.fill),
        plan.thermal("heat_capacity_J_per_kg_K"),
        1 / (1 / wall + 1 / inside),
        area,
    )
    return f, 1.0, None, None


def _wetted_m2(plan: Plan) -> float:
    """Return the wall in touch with the content: side and bottom, or both faces of a pouch."""
    d = plan.container.diameter_m
    if d is None:
        return 2 * plan.volume_m3 / plan.height_m
    return float(np.pi * d * plan.height_m + np.pi / 4 * d**2)


SHAPES: Mapping[str, Literal["slab", "infinite_cylinder", "sphere"]] = {
    "slab": "slab",
    "cylinder": "infinite_cylinder",
    "sphere": "sphere",
}


def _in_piece(plan: Plan, scatter: Scatter, time: Array, liquid: Array) -> tuple[Array, Array]:
    """Return (temperature at places of the piece, (samples, places, times); their shares)."""
    assert plan.piece is not None
    k, rho, c = (
        plan.thermal(q)
        for q in ("conductivity_W_per_m_K", "density_kg_per_m3", "heat_capacity_J_per_kg_K")
    )
    rows = np.broadcast_arrays(
        k * np.asarray(scatter.conductivity, float),
        plan.piece.half_size_m * np.asarray(scatter.size, float),
        _film("liquor on a piece", scatter.film),
        np.asarray(plan.piece_start_C) + scatter.start_C,
        np.zeros(scatter.samples),
    )[:4]
    found = []
    share = np.ones(1)
    grid = np.unique(time, return_index=True)[1]  # legs meet at one time
    for (conductivity, half, film, start), around in zip(
        np.stack(rows, axis=-1), liquid, strict=True
    ):
        body = transfer.Body(
            SHAPES[plan.piece.shape], conductivity / (rho * c), half, half, conductivity, film
        )
        places, share = transfer.quadrature(body)
        found.append(
            transfer.temperatures_C(body, time, start, time[grid], around[grid], [(0.0,), *places])
        )
    return np.stack(found), np.concatenate([[0.0], share])
