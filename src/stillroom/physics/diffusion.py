"""Acid and salt on their way into a piece of food (Fick's law, Crank's series)."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from scipy import special
from scipy.optimize import brentq
from scipy.optimize.elementwise import find_root

from stillroom.labels import Array, Numbers, formula

Shape = Literal["slab", "infinite_cylinder", "sphere"]
Position = Literal["mean", "centre"]

TERMS = 500


@formula(unit="", source="definition")
def fourier_number(diffusivity_m2_per_s: Numbers, time_s: Numbers, size_m: Numbers) -> Array:
    """Return the dimensionless time of diffusion.

    Fo = D t / L^2

    Args:
        diffusivity_m2_per_s: D in the piece, any shape.
        time_s: broadcasts.
        size_m: half thickness of a slab, radius of a cylinder or sphere.

    Returns:
        Fourier number.
    """
    return np.asarray(diffusivity_m2_per_s, float) * time_s / np.asarray(size_m) ** 2


def _endless_bath(shape: Shape, position: Position) -> tuple[Any, Any]:
    """Return q and w of uptake = 1 - sum w exp(-q^2 Fo) in a bath that never tires."""
    n = np.arange(TERMS)
    if shape == "slab":
        q = (n + 0.5) * np.pi
        return q, 2 / q**2 if position == "mean" else 2 * (-1.0) ** n / q
    if shape == "infinite_cylinder":
        q = special.jn_zeros(0, TERMS)
        return q, 4 / q**2 if position == "mean" else 2 / (q * special.j1(q))
    q = (n + 1) * np.pi
    return q, 6 / q**2 if position == "mean" else 2 * (-1.0) ** n


def _limited_bath(shape: Shape, position: Position, a: float) -> tuple[Array, Array]:
    """Return the same for a bath that holds only *a* times what the piece holds."""
    equations: dict[Shape, Callable[[float], float]] = {
        "slab": lambda q: np.sin(q) + a * q * np.cos(q),
        "infinite_cylinder": lambda q: a * q * special.j0(q) + 2 * special.j1(q),
        "sphere": lambda q: (3 + a * q**2) * np.sin(q) - 3 * q * np.cos(q),
    }
    # between consecutive asymptotes lies exactly one root
    edges = {
        "slab": (np.arange(TERMS + 1) + 0.5) * np.pi,
        "infinite_cylinder": special.jn_zeros(0, TERMS + 1),
        "sphere": (np.arange(TERMS + 1) + 1) * np.pi,
    }[shape]
    ends = itertools.pairwise(edges)
    q = np.array([brentq(equations[shape], low, high) for low, high in ends])
    k, at_centre = {
        "slab": (1, np.cos(q)),
        "infinite_cylinder": (2, special.j0(q)),
        "sphere": (3, np.sin(q) / q),
    }[shape]
    mean = 2 * k * a * (1 + a) / (k**2 * (1 + a) + a**2 * q**2)
    return q, mean if position == "mean" else -mean / (a * at_centre)


@lru_cache(maxsize=64)
def _series(shape: Shape, position: Position, bath_to_solid: float) -> tuple[Array, Array]:
    if np.isinf(bath_to_solid):
        return _endless_bath(shape, position)
    return _limited_bath(shape, position, bath_to_solid)


def uptake_fraction(
    fourier: Numbers,
    shape: Shape = "slab",
    position: Position = "mean",
    bath_to_solid: float = np.inf,
) -> Array:
    """Return the share of the final uptake that a piece has reached.

    E = 1 - sum_n w_n exp(-q_n^2 Fo)

    Args:
        fourier: dimensionless time, any shape.
        shape: "slab", "infinite_cylinder" or "sphere".
        position: "mean" over the piece or its "centre".
        bath_to_solid: water in the bath over water in the pieces (times the partition
            coefficient); inf for a bath that keeps its strength. A limited bath comes to
            equilibrium faster.

    Returns:
        0 to 1. For Fo below 1e-5 the mean follows the law of a thin skin and the centre has
        received nothing.

    Source:
        Crank 1975, The Mathematics of Diffusion, sections 4.3, 5.3 and 6.3.
    """
    q, weight = _series(shape, position, float(bath_to_solid))
    fo = np.asarray(fourier, float)
    series = 1 - np.sum(weight * np.exp(-(q**2) * fo[..., None]), axis=-1)
    early = _thin_skin(fo, shape, bath_to_solid) if position == "mean" else 0.0
    return np.clip(np.where(fo < 1e-5, early, series), 0.0, 1.0)


def _thin_skin(fourier: Array, shape: Shape, bath_to_solid: float) -> Array:
    """Return the mean uptake while only a thin skin is reached, curvature to first order."""
    dimension = {"slab": 1, "infinite_cylinder": 2, "sphere": 3}[shape]
    root = np.sqrt(fourier)
    depth = dimension * root * (1 - (dimension - 1) * np.sqrt(np.pi) * root / 4)
    if np.isinf(bath_to_solid):
        return 2 / np.sqrt(np.pi) * depth
    return (1 + bath_to_solid) * (1 - special.erfcx(depth / bath_to_solid))


def finite_uptake_fraction(
    fouriers: Numbers, shapes: tuple[Shape, ...], position: Position = "mean"
) -> Array:
    """Return the uptake of a body with several directions, such as a slice of a cylinder.

    E = 1 - prod_d (1 - E_d)

    Args:
        fouriers: Fourier number of each direction on the last axis.
        shapes: shape of each direction: a short cylinder is a slab and an infinite cylinder, a
            brick three slabs.
        position: "mean" or "centre".

    Returns:
        0 to 1.

    Source:
        Newman 1936 product rule; exact for a bath that keeps its strength.
    """
    fo = np.asarray(fouriers, float)
    left = [1 - uptake_fraction(fo[..., d], shape, position) for d, shape in enumerate(shapes)]
    return 1 - np.prod(left, axis=0)


def fourier_for_uptake(
    fraction: Numbers,
    shape: Shape = "slab",
    position: Position = "mean",
    bath_to_solid: float = np.inf,
) -> Array:
    """Return the Fourier number at which a share of the final uptake is reached.

    solve E(Fo) = fraction

    Args:
        fraction: wanted share, above 0 and below 1.
        shape: as in uptake_fraction.
        position: as in uptake_fraction.
        bath_to_solid: as in uptake_fraction.

    Returns:
        Dimensionless time, in the shape of *fraction*.

    Source:
        The uptake rises with time, so there is one answer.
    """
    wanted = np.asarray(fraction, float)

    def gap(log_fo: Array, target: Array) -> Array:
        return uptake_fraction(np.exp(log_fo), shape, position, bath_to_solid) - target

    ends = (np.full(wanted.shape, -25.0), np.full(wanted.shape, 10.0))
    return np.exp(find_root(gap, ends, args=(wanted,)).x)


@formula(
    unit="m²/s",
    source="Stokes-Einstein: D follows T over the viscosity of water",
    temperature_C=(0, 60),
)
def diffusivity_at_temperature(diffusivity_m2_per_s: Numbers, temperature_C: Numbers) -> Array:
    """Return a diffusivity at another temperature.

    D(T) = D_25 (T / 298.15) (mu_25 / mu_T); mu = 2.414e-5 * 10**(247.8 / (T - 140))

    Args:
        diffusivity_m2_per_s: at 25 °C, any shape.
        temperature_C: broadcasts; about 2.3 % per degree.

    Returns:
        Diffusivity at the temperature.
    """
    T = np.asarray(temperature_C, float) + 273.15
    viscosity_ratio = 10 ** (247.8 / (298.15 - 140) - 247.8 / (T - 140))
    return np.asarray(diffusivity_m2_per_s, float) * T / 298.15 * viscosity_ratio
