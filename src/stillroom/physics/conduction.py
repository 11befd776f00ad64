"""Conduction in an upright pack by finite volumes: any medium, its own film on every face.

The pack is a cylinder, symmetric about its axis; a slab is one whose side is insulated. Cells hold
heat, faces pass it, so heat is conserved to rounding. Time steps alternate the implicit direction.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.labels import Array, Numbers
from stillroom.physics.death import Scale

Property = Numbers | Callable[[Array], Array]

CHUNK = 256  # samples at once: a step stays in the cache


@dataclass(frozen=True)
class Pack:
    """What is heated; numbers, or any leading axes of samples.

    Attributes:
        radius_m: inner radius; of no account for a slab.
        height_m: of the product, bottom to top; the thickness of a slab.
        conductivity_W_per_m_K: a value, or a function of temperature with the samples last.
        heat_capacity_J_per_m3_K: density x specific heat, as the conductivity.
        side_W_per_m2_K: film and wall of the side; 0 insulates it, inf has no resistance.
        bottom_W_per_m2_K: the same of the bottom.
        top_W_per_m2_K: the same of the top; little under a headspace.
    """

    radius_m: Numbers
    height_m: Numbers
    conductivity_W_per_m_K: Property
    heat_capacity_J_per_m3_K: Property
    side_W_per_m2_K: Numbers
    bottom_W_per_m2_K: Numbers
    top_W_per_m2_K: Numbers


@dataclass(frozen=True)
class Heated:
    """The course of a pack; samples on the leading axes.

    Attributes:
        time_s: from 0.
        axis_C: temperature on the axis at each probe height, (..., probes, times).
        side_C: surface of the side at half height, (..., times).
        mean_C: volume mean, (..., times).
        final_C: of every cell at the end, (..., radial, axial).
        lethality_min: of every cell on each scale, (..., scales, radial, axial).
        volume_share: of every cell, (radial,); the same at every height.
        cell_height: middle of each layer as a share of the height, (axial,).
    """

    time_s: Array
    axis_C: Array
    side_C: Array
    mean_C: Array
    final_C: Array
    lethality_min: Array
    volume_share: Array
    cell_height: Array


def heat_pack(
    pack: Pack,
    start: Numbers | Heated,
    medium_time_s: Numbers,
    medium_C: Numbers,
    until_s: float | None = None,
    step_s: float = 10.0,
    cells: tuple[int, int] = (30, 40),
    probe_heights: tuple[float, ...] = (0.5,),
    scales: Sequence[Scale] = (),
) -> Heated:
    """Return how a pack heats and cools.

    Args:
        pack: to heat.
        start: temperature of the whole pack, °C, any leading axes; or the run to go on from.
        medium_time_s: corners of the history of the medium, rising, from 0.
        medium_C: temperature there on the last axis, any leading axes; linear between.
        until_s: end; that of the history by default.
        step_s: longest time step.
        cells: radial and axial; (1, n) for a slab.
        probe_heights: where on the axis to keep the course, shares of the height.
        scales: of the lethalities to add up in every cell.

    Returns:
        Heated.

    Raises:
        ValueError: fewer than one cell, or a step or an end that is not above zero.

    Source:
        Finite volumes, Patankar 1980; alternating directions, Peaceman & Rachford 1955; second
        order in space and time.
    """
    corners, medium = np.asarray(medium_time_s, float), np.asarray(medium_C, float)
    until = float(corners[-1]) if until_s is None else until_s
    if min(cells) < 1 or not until > 0 or not step_s > 0:
        raise ValueError("heating needs at least one cell, and a time step and an end above 0 s.")
    numbers = {k: v for k, v in vars(pack).items() if not callable(v)}
    earlier = start.final_C if isinstance(start, Heated) else None
    uniform = 0.0 if isinstance(start, Heated) else start
    given = {**numbers, "start": uniform, "medium": medium[..., 0]}
    if earlier is not None:
        given["start"] = np.zeros(earlier.shape[:-2])
    shape = np.broadcast_shapes(*(np.shape(v) for v in given.values()))
    flat = {k: np.broadcast_to(np.asarray(v, float), shape).reshape(-1) for k, v in given.items()}
    flat |= {k: v for k, v in vars(pack).items() if callable(v)}
    steps = int(np.ceil(until / step_s - 1e-9))
    time = np.linspace(0.0, until, steps + 1)
    driven = _between(np.broadcast_to(medium, (*shape, medium.shape[-1])), corners, time)
    if earlier is not None:
        cells = (earlier.shape[-2], earlier.shape[-1])
        earlier = np.broadcast_to(earlier, (*shape, *cells)).reshape(-1, *cells)
    parts = []
    for first in range(0, max(int(np.prod(shape)), 1), CHUNK):
        some = slice(first, first + CHUNK)
        own = {k: v if callable(v) else v[some] for k, v in flat.items()}
        if earlier is not None:
            own["start"] = np.moveaxis(earlier[some], 0, -1)
        parts.append(_heat(own, [d[some] for d in driven], time, cells, probe_heights, scales))
    axis, side, mean, final, lethality = (
        np.concatenate([p[n] for p in parts], axis=0) for n in range(5)
    )
    edge = np.linspace(0.0, 1.0, cells[0] + 1)
    return Heated(
        time_s=time,
        axis_C=axis.reshape(*shape, len(probe_heights), -1),
        side_C=side.reshape(*shape, -1),
        mean_C=mean.reshape(*shape, -1),
        final_C=final.reshape(*shape, *cells),
        lethality_min=lethality.reshape(*shape, len(scales), *cells),
        volume_share=np.diff(edge**2),
        cell_height=(np.arange(cells[1]) + 0.5) / cells[1],
    )


def _between(medium: Array, corners: Array, time: Array) -> tuple[Array, Array]:
    """Return (medium at every time, its mean over every step), one row for a sample."""
    rows = medium.reshape(-1, medium.shape[-1])
    fine = np.union1d(np.clip(corners, time[0], time[-1]), time)
    at = np.stack([np.interp(fine, corners, r) for r in rows])
    area = np.concatenate(
        [np.zeros((len(rows), 1)), np.cumsum((at[:, 1:] + at[:, :-1]) / 2 * np.diff(fine), axis=1)],
        axis=1,
    )
    here = np.searchsorted(fine, time)
    return at[:, here], np.diff(area[:, here], axis=1) / np.diff(time)


# --- one chunk; arrays are (radial, axial, samples) --------------------------------------------


class _Direction:
    """Heat along one axis of the grid: what faces pass, over what cells hold."""

    def __init__(
        self, inner: Array, low: Array, high: Array, held: Array, half_step: float, axis: int
    ) -> None:
        """inner, low, high: conductance of inner faces and of the two ends, W/K of a unit."""
        self.axis = axis
        shape = np.broadcast_shapes(held.shape, low.shape, high.shape)
        down, up = np.zeros(shape), np.zeros(shape)
        below, above = _along(axis, slice(1, None)), _along(axis, slice(None, -1))
        down[below] = inner
        up[above] = inner
        ends = np.zeros(shape)
        ends[_along(axis, slice(0, 1))] += low
        ends[_along(axis, slice(-1, None))] += high
        scale = half_step / held
        self.down, self.up, self.ends = down * scale, up * scale, ends * scale
        # elimination, ready for any right-hand side
        n = shape[axis]
        diagonal = 1 + self.down + self.up + self.ends
        self.inverse, self.ratio = np.empty(shape), np.empty(shape)
        for i in range(n):
            here, before = _along(axis, i), _along(axis, i - 1)
            pivot = diagonal[here] - (self.down[here] * self.ratio[before] if i else 0.0)
            self.inverse[here] = 1 / pivot
            self.ratio[here] = self.up[here] / pivot
        self.weight = self.down * self.inverse

    def explicit(self, T: Array) -> Array:
        """Return T plus half a step of what flows, the medium left out."""
        gain = -(self.down + self.up + self.ends) * T
        below, above = _along(self.axis, slice(1, None)), _along(self.axis, slice(None, -1))
        gain[below] += self.down[below] * T[above]
        gain[above] += self.up[above] * T[below]
        return T + gain

    def drive(self, right: Array, medium: Array) -> None:
        """Add what the medium gives the outer cells in half a step."""
        for i in {0, right.shape[self.axis] - 1}:
            here = _along(self.axis, i)
            right[here] += self.ends[here] * medium

    def solve(self, right: Array, x: Array) -> None:
        """Put the temperatures whose implicit half step gives *right* into x."""
        np.multiply(right, self.inverse, out=x)
        rows = list(np.moveaxis(x, self.axis, 0))
        part = np.empty_like(rows[0])
        for one, before, share in zip(rows[1:], rows, self._rows(self.weight)[1:], strict=False):
            one += np.multiply(share, before, out=part)
        ratios = self._rows(self.ratio)
        for one, after, share in zip(rows[-2::-1], rows[::-1], ratios[-2::-1], strict=False):
            one += np.multiply(share, after, out=part)

    def _rows(self, values: Array) -> list[Array]:
        return list(np.moveaxis(values, self.axis, 0))


def _along(axis: int, item: int | slice) -> tuple[slice | int, ...]:
    return (item,) if axis == 0 else (slice(None), item)


def _film(conductivity: Array, half_cell: Array, surface: Array) -> Array:
    """Return the conductance between the middle of an outer cell and the medium."""
    with np.errstate(divide="ignore"):
        return 1 / (half_cell / conductivity + 1 / surface)


def _heat(
    own: Mapping[str, Property],
    driven: list[Array],
    time: Array,
    cells: tuple[int, int],
    probe_heights: tuple[float, ...],
    scales: Sequence[Scale],
) -> tuple[Array, Array, Array, Array, Array]:
    nr, nz = cells
    radius, height, start = (np.asarray(own[k]) for k in ("radius_m", "height_m", "start"))
    dr, dz = radius / nr, height / nz
    edge = np.arange(nr + 1)[:, None] * dr
    ring = (edge[1:] ** 2 - edge[:-1] ** 2)[:, None] / 2  # volume of a cell, unit height and angle
    conductivity, capacity = own["conductivity_W_per_m_K"], own["heat_capacity_J_per_m3_K"]
    varies = callable(conductivity) or callable(capacity)
    half_step = float(time[1] - time[0]) / 2
    at_medium, mean_medium = driven
    T = np.broadcast_to(start, (nr, nz, start.shape[-1])).copy()

    def at(quantity: Property, temperature: Array) -> Array:
        value = quantity(temperature) if callable(quantity) else np.asarray(quantity)
        return np.broadcast_to(value, temperature.shape if varies else (1, 1, start.shape[-1]))

    def directions(temperature: Array) -> tuple[_Direction, _Direction, Array]:
        k, c = at(conductivity, temperature), at(capacity, temperature)
        if varies:
            across = (k[1:] + k[:-1]) / 2
            along = (k[:, 1:] + k[:, :-1]) / 2
        else:
            across = along = k
        round_ = _Direction(
            across * (edge[1:-1] / dr)[:, None],
            np.zeros((1, 1, 1)),
            edge[-1] * _film(k[-1:], dr / 2, np.asarray(own["side_W_per_m2_K"])),
            c * ring,
            half_step,
            0,
        )
        upright = _Direction(
            along / dz,
            _film(k[:, :1], dz / 2, np.asarray(own["bottom_W_per_m2_K"])),
            _film(k[:, -1:], dz / 2, np.asarray(own["top_W_per_m2_K"])),
            c * dz + np.zeros((1, nz, 1)),
            half_step,
            1,
        )
        return round_, upright, k

    round_, upright, k = directions(T)
    volume = np.diff(np.linspace(0.0, 1.0, nr + 1) ** 2)
    lethality = np.zeros((len(scales), *T.shape))
    axis = np.empty((len(probe_heights), time.size, start.shape[-1]))
    side, mean = np.empty((time.size, start.shape[-1])), np.empty((time.size, start.shape[-1]))
    side_film = np.asarray(own["side_W_per_m2_K"])

    def record(n: int) -> None:
        line = (9 * T[0] - T[1]) / 8 if nr > 1 else T[0]
        for p, share in enumerate(probe_heights):
            axis[p, n] = _at_height(line, share)
        mean[n] = volume @ T.mean(axis=1)
        outer = _at_height(T[-1], 0.5)
        inward = 2 * k[-1, k.shape[1] // 2] / dr
        with np.errstate(invalid="ignore"):
            wall = (inward * outer + side_film * at_medium[:, n]) / (inward + side_film)
        side[n] = np.where(np.isinf(side_film), at_medium[:, n], wall)

    record(0)
    explicit = upright.explicit(T)
    rates = [s.rate(T) for s in scales]
    previous, middle = T.copy(), np.empty_like(T)
    for n in range(1, time.size):
        if varies:
            round_, upright, k = directions(1.5 * T - 0.5 * previous)  # half a step ahead
            explicit = upright.explicit(T)
            previous[...] = T
        round_.drive(explicit, mean_medium[:, n - 1])
        upright.drive(explicit, mean_medium[:, n - 1])
        round_.solve(explicit, middle)
        middle *= 2
        middle -= explicit
        round_.drive(middle, mean_medium[:, n - 1])
        upright.drive(middle, mean_medium[:, n - 1])
        upright.solve(middle, T)
        np.multiply(T, 2, out=explicit)
        explicit -= middle
        record(n)
        hottest = float(T.max()) if scales else 0.0
        for i, scale in enumerate(scales):
            if hottest < scale.lowest_C and not rates[i].any():
                continue
            later = scale.rate(T)
            lethality[i] += (rates[i] + later) * (half_step / 60)
            rates[i] = later
    return (
        np.moveaxis(axis, -1, 0),
        side.T,
        mean.T,
        np.moveaxis(T, -1, 0),
        np.moveaxis(lethality, -1, 0),
    )


def _at_height(line: Array, share: float) -> Array:
    """Return the value at a share of the height, between the middles of the layers."""
    nz = line.shape[0]
    x = min(max(share * nz - 0.5, 0.0), nz - 1.0)
    low = min(int(x), max(nz - 2, 0))
    high = min(low + 1, nz - 1)
    return line[low] + (x - low) * (line[high] - line[low])
