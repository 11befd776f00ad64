"""How a filled pack heats and cools: conduction, a liquid that moves, or pieces in a liquor.

Every quantity that may vary carries a sample axis, so one jar and a thousand are the same call.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from stillroom import tables
from stillroom.labels import Array, Numbers
from stillroom.physics import conduction, heat, penetration, transfer
from stillroom.physics.death import Scale
from stillroom.product.pack_plan import WAITING, Leg, Plan
from stillroom.product.properties import thermal

CELLS = (12, 16)
SLAB_CELLS = 24
STEP_S = 15.0
SLOW_STEP_S = 60.0  # in air, where nothing moves fast
TIMES = 240  # at least, of a liquid or mixed pack


@dataclass(frozen=True)
class Scatter:
    """What may differ from jar to jar; numbers, or one sample axis.

    Films: -1 the lowest of the table, 0 the typical, 1 the highest.

    Attributes:
        heating_film: of the medium while the heat is on.
        cooling_film: of what is around the pack the rest of the time.
        inner_film: in a liquid, on a piece, in the headspace.
        conductivity: factor; of a liquid or measured pack, of 1 / f.
        size: factor on the diameter or thickness of the pack.
        piece: factor on the size of a piece.
        fill: factor on the height of the content.
        start_C: added to the start.
        medium_C: added to the medium while the heat is on.
        lag: factor on j.
    """

    heating_film: Numbers = 0.0
    cooling_film: Numbers = 0.0
    inner_film: Numbers = 0.0
    conductivity: Numbers = 1.0
    size: Numbers = 1.0
    piece: Numbers = 1.0
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
        heating: whether the heat is on.
        centre_C: where it heats last, (samples, times).
        surface_C: of the content at the wall, (samples, times).
        lethality_min: on each scale at each place, (samples, scales, places).
        share: of the volume, of each place.
        off_s: when the heat goes off.
    """

    time_s: Array
    medium_C: Array
    heating: NDArray[np.bool_]
    centre_C: Array
    surface_C: Array
    lethality_min: Array
    share: Array
    off_s: float

    @property
    def least_min(self) -> Array:
        """Lethality on each scale where it is least, (samples, scales)."""
        return self.lethality_min.min(axis=-1)


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
    inside = _conducting if plan.way == "conduction" and plan.given is None else _moving
    course = inside(plan, scales, scatter)
    return course if plan.container.diameter_m is None else _with_lid(plan, scales, course)


def _with_lid(plan: Plan, scales: Sequence[Scale], course: Course) -> Course:
    """Return a course with the lid as one more place, of no volume.

    While a medium hotter than the content heats the pack it has the temperature of the medium, and
    stays below that of the content otherwise.
    """
    below = course.surface_C - plan.lid_below_C
    lid = np.where(course.heating & (course.medium_C > course.surface_C), course.medium_C, below)
    found = np.zeros((*course.lethality_min.shape[:2], 1))
    for n, scale in enumerate(scales):
        found[:, n, 0] = scale.minutes(course.time_s, lid)[:, -1]
    return replace(
        course,
        lethality_min=np.concatenate([course.lethality_min, found], axis=-1),
        share=np.append(course.share, 0.0),
    )


def _film(name: str, position: Numbers) -> Array:
    """Return a film of the table between its lowest (-1) and highest (1)."""
    r = tables.row("films", name)
    low, typical, high = (float(r[f"{c}_W_per_m2_K"]) for c in ("low", "typical", "high"))
    x = np.clip(np.asarray(position, float), -1, 1)
    return np.where(x < 0, typical * (low / typical) ** (-x), typical * (high / typical) ** x)


def _around(leg: Leg, scatter: Scatter) -> Array:
    return _film(leg.film, scatter.heating_film if leg.heating else scatter.cooling_film)


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
        wall = _through_wall(plan, _around(leg, scatter))
        over = 1 / (1 / wall + 1 / _film("headspace", scatter.inner_film))
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
        heating=_heating(plan, [r.time_s for r in runs]),
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


def _heating(plan: Plan, times: Sequence[Array]) -> NDArray[np.bool_]:
    each = zip(times, plan.legs, strict=True)
    return np.concatenate([np.full(t.size, leg.heating) for t, leg in each])


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
        heating=_heating(plan, times),
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
    wall = _through_wall(plan, _around(leg, scatter))
    inside = _film("inside of a liquid pack", scatter.inner_film)
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
        plan.piece.half_size_m * np.asarray(scatter.piece, float),
        _film("liquor on a piece", scatter.inner_film),
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
