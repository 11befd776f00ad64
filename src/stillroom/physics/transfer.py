"""Heat or moisture into a body with a film at its surface: exact series, any medium.

theta = (T_medium - T) / (T_medium - T_start) = sum C_n exp(-l_n^2 Fo), C and l by the Biot number.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from scipy import special
from scipy.optimize import brentq

from stillroom.labels import Array, Numbers, formula

Direction = Literal["slab", "infinite_cylinder", "sphere"]
Place = Literal["centre", "surface", "mean"]

TERMS = 60
LN10 = np.log(10)
POINTS = 12  # of a quadrature over half a direction


@lru_cache(maxsize=256)
def eigenvalues(shape: Direction, biot: float, terms: int = TERMS) -> Array:
    """Return the first roots of the surface condition.

    slab: l tan l = Bi; cylinder: l J1(l) = Bi J0(l); sphere: 1 - l cot l = Bi

    Args:
        shape: "slab", "infinite_cylinder" or "sphere".
        biot: surface conductance x half thickness or radius / conductivity; inf: the surface
            has the temperature of the medium.
        terms: how many.

    Returns:
        Roots, radians.

    Raises:
        ValueError: the Biot number is not above zero.

    Source:
        Carslaw & Jaeger 1959, Conduction of Heat in Solids, sections 3.11, 7.7 and 9.4.
    """
    if not biot > 0:
        raise ValueError(f"the Biot number must be above 0, got {biot}.")
    n = np.arange(terms)
    rigid = np.asarray(
        {
            "slab": (n + 0.5) * np.pi,
            "infinite_cylinder": special.jn_zeros(0, terms),
            "sphere": (n + 1) * np.pi,
        }[shape],
        float,
    )
    if np.isinf(biot):
        return rigid
    conditions: dict[Direction, Callable[[float], float]] = {
        "slab": lambda q: q * np.sin(q) - biot * np.cos(q),
        "infinite_cylinder": lambda q: q * special.j1(q) - biot * special.j0(q),
        "sphere": lambda q: (1 - biot) * np.sin(q) - q * np.cos(q),
    }
    low = {
        "slab": n * np.pi,
        "infinite_cylinder": np.concatenate([[0.0], special.jn_zeros(1, terms)[:-1]]),
        "sphere": n * np.pi,
    }[shape]
    low = np.maximum(low, 1e-9)
    return np.array([brentq(conditions[shape], a, b) for a, b in zip(low, rigid, strict=True)])


def coefficients(shape: Direction, eigenvalue: Numbers) -> Array:
    """Return the weight of each term at the centre.

    slab: 4 sin l / (2 l + sin 2 l); cylinder: 2 J1 / (l (J0^2 + J1^2));
    sphere: 4 (sin l - l cos l) / (2 l - sin 2 l)

    Args:
        shape: as in eigenvalues.
        eigenvalue: roots, any shape.

    Returns:
        Weights; they add up to one.

    Source:
        As eigenvalues.
    """
    q = np.asarray(eigenvalue, float)
    if shape == "slab":
        return 4 * np.sin(q) / (2 * q + np.sin(2 * q))
    if shape == "sphere":
        return 4 * (np.sin(q) - q * np.cos(q)) / (2 * q - np.sin(2 * q))
    j0, j1 = special.j0(q), special.j1(q)
    return 2 * j1 / (q * (j0**2 + j1**2))


def _profile(shape: Direction, q: Array, place: Place | float) -> Array:
    """Return each term at a place over its value at the centre; a number is the share of the way
    from the centre to the surface."""
    if place == "mean":
        if shape == "slab":
            return np.sin(q) / q
        if shape == "infinite_cylinder":
            return 2 * special.j1(q) / q
        return 3 * (np.sin(q) - q * np.cos(q)) / q**3
    x = {"centre": 0.0, "surface": 1.0}[place] if isinstance(place, str) else place
    if shape == "slab":
        return np.cos(q * x)
    if shape == "infinite_cylinder":
        return special.j0(q * x)
    inside: Array = np.sinc(q * x / np.pi)
    return inside


def unaccomplished_change(
    shape: Direction, fourier: Numbers, biot: float = np.inf, place: Place | float = "centre"
) -> Array:
    """Return the share of the way to the medium that is still to go, medium and start constant.

    theta = sum C_n X_n exp(-l_n^2 Fo)

    Args:
        shape: "slab", "infinite_cylinder" or "sphere".
        fourier: diffusivity x time / (half thickness or radius)^2, any shape; from 1e-3 on.
        biot: as in eigenvalues.
        place: "centre", "surface", "mean", or the share of the way from centre to surface.

    Returns:
        1 at the start, 0 when all is done. The product over directions serves a brick or a can.

    Source:
        Carslaw & Jaeger 1959; Newman 1936 for the product.
    """
    q = eigenvalues(shape, float(biot))
    weight = coefficients(shape, q) * _profile(shape, q, place)
    fo = np.asarray(fourier, float)
    return np.clip(np.sum(weight * np.exp(-(q**2) * fo[..., None]), axis=-1), 0.0, 1.0)


@dataclass(frozen=True)
class Body:
    """A body of one material, the same film all round.

    Attributes:
        shape: "slab", "infinite_cylinder", "sphere" or "finite_cylinder".
        diffusivity_m2_per_s: thermal diffusivity, > 0.
        half_thickness_m: of a slab, or half the height of a finite cylinder.
        radius_m: of the round shapes.
        conductivity_W_per_m_K: of the material; needed with a finite film.
        surface_W_per_m2_K: film and wall together; inf: no resistance.
    """

    shape: Literal["slab", "infinite_cylinder", "sphere", "finite_cylinder"]
    diffusivity_m2_per_s: float
    half_thickness_m: float | None = None
    radius_m: float | None = None
    conductivity_W_per_m_K: float | None = None
    surface_W_per_m2_K: float = np.inf

    def directions(self) -> list[tuple[Direction, float, float]]:
        """Return (direction, half size in m, Biot number) of each direction.

        Raises:
            ValueError: a size or the conductivity is missing.
        """
        found: list[tuple[Direction, float, float]] = []
        parts: list[tuple[Direction, float | None]] = []
        if self.shape == "finite_cylinder":
            parts = [("infinite_cylinder", self.radius_m), ("slab", self.half_thickness_m)]
        elif self.shape == "slab":
            parts = [("slab", self.half_thickness_m)]
        else:
            parts = [(self.shape, self.radius_m)]
        for direction, size in parts:
            if size is None or not size > 0:
                raise ValueError(f"a {self.shape} needs its sizes, above 0 m.")
            biot = np.inf
            if np.isfinite(self.surface_W_per_m2_K):
                if self.conductivity_W_per_m_K is None:
                    raise ValueError("a finite film needs the conductivity of the body.")
                biot = self.surface_W_per_m2_K * size / self.conductivity_W_per_m_K
            found.append((direction, size, biot))
        return found


def _terms(body: Body, places: Sequence[Place | float]) -> tuple[Array, Array]:
    """Return (weight, rate in 1/s) of every product term; places one for each direction."""
    weight, rate = np.ones(1), np.zeros(1)
    for (direction, size, biot), place in zip(body.directions(), places, strict=True):
        q = eigenvalues(direction, biot)
        w = coefficients(direction, q) * _profile(direction, q, place)
        b = body.diffusivity_m2_per_s * (q / size) ** 2
        weight = np.outer(weight, w).ravel()
        rate = np.add.outer(rate, b).ravel()
    kept = np.argsort(rate)[: TERMS * 8]
    return weight[kept], rate[kept]


def temperature_C(
    body: Body,
    time_s: Numbers,
    start_C: float,
    medium_time_s: Numbers,
    medium_C: Numbers,
    place: Place | Sequence[Place | float] = "centre",
) -> Array:
    """Return the temperature at a place of a body while its medium changes in straight lines.

    T = T_m(t) - sum y_n; over a line of slope s: y_n <- y_n e^(-b_n dt) + A_n s (1 - e^(-b_n dt)) /
    b_n, y_n = A_n (T_m(0) - T_0) at the start

    Args:
        body: to heat or cool.
        time_s: when, any shape.
        start_C: of the whole body at time zero.
        medium_time_s: corners of the history of the medium, rising, from 0.
        medium_C: temperature there, linear between and constant after; a first value other than
            the start is a step.
        place: "centre", "surface", "mean", or one place for each direction.

    Returns:
        Temperature at every time.

    Source:
        Duhamel's theorem on the series of Carslaw & Jaeger 1959.
    """
    each = (place,) * len(body.directions()) if isinstance(place, str) else place
    t = np.asarray(time_s, float)
    found = temperatures_C(body, t.ravel(), start_C, medium_time_s, medium_C, [each])
    return np.reshape(found[0], t.shape)


def temperatures_C(
    body: Body,
    time_s: Array,
    start_C: float,
    medium_time_s: Numbers,
    medium_C: Numbers,
    places: Sequence[Sequence[Place | float]],
) -> Array:
    """Return the temperature at several places of a body at once.

    as temperature_C

    Args:
        body: as in temperature_C.
        time_s: one axis.
        start_C: as in temperature_C.
        medium_time_s: as in temperature_C.
        medium_C: as in temperature_C.
        places: each with one place for each direction.

    Returns:
        (places, times).

    Source:
        As temperature_C.
    """
    corners, medium = np.asarray(medium_time_s, float), np.asarray(medium_C, float)
    grid = np.union1d(time_s, corners[corners < np.max(time_s)])
    at = np.interp(grid, corners, medium)
    terms = [_terms(body, p) for p in places]
    weight, rate = np.stack([w for w, _ in terms]), terms[0][1]
    part = np.full(rate.shape, medium[0] - start_C)  # of each term, before its weight
    lag = np.empty((len(places), grid.size))
    lag[:, 0] = weight @ part
    steps = np.diff(grid)
    for n, (step, rise) in enumerate(zip(steps, np.diff(at), strict=True), start=1):
        left = np.exp(-rate * step)
        part = part * left + (rise / step) * (1 - left) / rate
        lag[:, n] = weight @ part
    return (at - lag)[:, np.searchsorted(grid, time_s)]


def quadrature(body: Body) -> tuple[list[tuple[float, ...]], Array]:
    """Return places all over a body and the share of its volume that each stands for.

    Args:
        body: any shape.

    Returns:
        (places as shares of the way from centre to surface, weights adding up to one).

    Source:
        Gauss-Legendre rule on the volume of each direction.
    """
    node, weight = np.polynomial.legendre.leggauss(POINTS)
    u, w = (node + 1) / 2, weight / 2  # share of the volume inside
    power = {"slab": 1, "infinite_cylinder": 2, "sphere": 3}
    axes = [(u ** (1 / power[d]), w) for d, _, _ in body.directions()]
    places = list(itertools.product(*(x.tolist() for x, _ in axes)))
    weights = np.array([np.prod(c) for c in itertools.product(*(w.tolist() for _, w in axes))])
    return places, weights


@formula(unit="min", source="Ball & Olson 1957", place="slope of the first term")
def heating_rate_fh_min(body: Body) -> float:
    """Return the time in which the distance to the medium shrinks tenfold, once settled.

    f_h = ln 10 / sum over directions of a (l_1 / x)^2

    Args:
        body: conducting.

    Returns:
        Minutes.
    """
    slowest = sum(
        body.diffusivity_m2_per_s * (eigenvalues(d, biot)[0] / size) ** 2
        for d, size, biot in body.directions()
    )
    return float(LN10 / slowest / 60)


@formula(unit="", source="Ball & Olson 1957", place="intercept of the first term")
def lag_factor_jh(body: Body) -> float:
    """Return the lag factor of the centre of a conducting body.

    j_h = product over directions of C_1

    Args:
        body: conducting.

    Returns:
        1.27 slab, 1.60 cylinder, 2.00 sphere, 2.04 can without a film; less with one.
    """
    firsts = [coefficients(d, eigenvalues(d, biot)[0]) for d, _, biot in body.directions()]
    return float(np.prod(firsts))
