"""Density, specific heat and conductivity of a mixture at cooking temperatures.

Components add up by mass (specific heat) or by volume (density, conductivity). The conductivity of
a layered or airy food is lower: the rule takes all components side by side.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Literal

import numpy as np

from stillroom import tables
from stillroom.labels import Array, Numbers
from stillroom.product.mixture import Mixture, of_kind

Property = Literal["density_kg_per_m3", "heat_capacity_J_per_kg_K", "conductivity_W_per_m_K"]


@cache
def _classes() -> Mapping[str, tuple[str, ...]]:
    """Return material of the table -> components that count as it."""
    fibre = ("fibre", "pectin", "other_solids")
    own = ("protein", "fat", *fibre, "ash")
    polymers = tuple(n for n in of_kind("polymer", "solid") if n not in own)
    return {
        "water": ("water",),
        "ethanol": ("ethanol",),
        "protein": ("protein",),
        "fat": ("fat",),
        "fibre": fibre,
        "ash": ("ash", *of_kind("ion")),
        "carbohydrate": (*of_kind("sugar", "polyol", "solute", "acid"), *polymers),
    }


def mass_shares(mixture: Mixture) -> dict[str, Array]:
    """Return material of the thermal table -> its share of the mass."""
    return {m: mixture.kg(*names) / mixture.total_kg for m, names in _classes().items()}


def material(name: str, quantity: Property, temperature_C: Numbers) -> Array:
    """Return a property of one material of the thermal table, a parabola in temperature."""
    r = tables.row("thermal", (name, quantity))
    T = np.asarray(temperature_C, float)
    value: Array = r["a0"] + r["a1"] * T + r["a2"] * T**2
    return value


def thermal_property(
    shares: Mapping[str, Numbers], quantity: Property, temperature_C: Numbers
) -> Array:
    """Return a property of a blend from the mass shares of its materials.

    1 / rho = sum x / rho; c = sum x c; k = sum v k, v = x rho / rho_i

    Args:
        shares: material -> kilograms in a kilogram, any shape.
        quantity: which.
        temperature_C: broadcasts; the parabolas hold from 0 to 150 °C, unfrozen.

    Returns:
        In the unit of the name.

    Source:
        Choi & Okos 1986; ASHRAE Handbook Refrigeration 2006, chapter 9.
    """
    zero = np.zeros(())
    if quantity == "heat_capacity_J_per_kg_K":
        parts = [np.asarray(x) * material(n, quantity, temperature_C) for n, x in shares.items()]
        return sum(parts, zero)
    volumes = {
        n: np.asarray(x) / material(n, "density_kg_per_m3", temperature_C)
        for n, x in shares.items()
    }
    total = sum(volumes.values(), zero)
    if quantity == "density_kg_per_m3":
        return 1 / total
    conducted = [v * material(n, quantity, temperature_C) for n, v in volumes.items()]
    return sum(conducted, zero) / total


def conductivity_W_per_m_K(mixture: Mixture, temperature_C: Numbers) -> Array:
    """Return the thermal conductivity of a mixture without air; within some 10 %."""
    return thermal_property(mass_shares(mixture), "conductivity_W_per_m_K", temperature_C)


def heat_capacity_J_per_kg_K(mixture: Mixture, temperature_C: Numbers) -> Array:
    """Return the specific heat of a mixture; within some 5 %."""
    return thermal_property(mass_shares(mixture), "heat_capacity_J_per_kg_K", temperature_C)


def thermal_diffusivity_m2_per_s(mixture: Mixture, temperature_C: Numbers) -> Array:
    """Return conductivity over density and specific heat of a mixture without air."""
    return diffusivity_m2_per_s(mass_shares(mixture), temperature_C)


def diffusivity_m2_per_s(shares: Mapping[str, Numbers], temperature_C: Numbers) -> Array:
    """Return k / (rho c) of a blend; diffusivities of components must not be averaged."""
    k, rho, c = (
        thermal_property(shares, q, temperature_C)
        for q in ("conductivity_W_per_m_K", "density_kg_per_m3", "heat_capacity_J_per_kg_K")
    )
    return k / (rho * c)
