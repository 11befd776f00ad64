"""The vector of conserved amounts that a food is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers

HYDROGEN_KG_PER_MOL = 1.00794e-3


@cache
def components() -> tuple[str, ...]:
    """Return the names of all components, in the order of the last axis."""
    return tuple(str(r["component"]) for r in tables.rows("components"))


@cache
def position(component: str) -> int:
    """Return the place of a component on the last axis."""
    try:
        return components().index(component)
    except ValueError:
        raise InputError(
            f"{component!r} is not a component of a mixture.{tables.near(component, components())}"
        ) from None


@cache
def of_kind(*kinds: str) -> tuple[str, ...]:
    """Return the components of these kinds, in order."""
    return tuple(str(r["component"]) for r in tables.rows("components") if r["kind"] in kinds)


@cache
def column(name: str, blank: float = 0.0) -> Array:
    """Return a numeric column of the component table as a vector."""
    values = [blank if r[name] is None else r[name] for r in tables.rows("components")]
    vector = np.asarray(values, float)
    vector.setflags(write=False)
    return vector


@cache
def molar_mass_kg_per_mol(component: str) -> float:
    """Return the molar mass of a component."""
    return float(tables.row("components", component)["molar_mass_g_mol"]) / 1000


@cache
def _mass_weights() -> Array:
    """Return the mass that one unit of each component adds to the food.

    Weak acids are counted as free acids, so a strong cation stands in the place of one hydrogen
    per charge and a strong anion brings one along: sodium benzoate weighs benzoic acid + sodium -
    hydrogen. Charge and buffer pools are carried by other components and weigh nothing.
    """
    molar, charge = column("molar_mass_g_mol") / 1000, column("charge")
    kinds = [r["kind"] for r in tables.rows("components")]
    ion = np.array([kind == "ion" for kind in kinds])
    weightless = np.array([kind in ("charge", "buffer") for kind in kinds])
    weights = np.ones(len(kinds))
    weights[ion] = 1 - charge[ion] * HYDROGEN_KG_PER_MOL / molar[ion]
    weights[weightless] = 0
    return weights


@dataclass(frozen=True, eq=False)
class Mixture:
    """Amounts of every component: kg, and mol for charge and buffer pools.

    The last axis is the component; any leading axes (samples, places, times) are free. Mixing is
    addition; `mixture * 2` is a double batch.
    """

    amounts: Array

    def __post_init__(self) -> None:
        array = np.asarray(self.amounts, float)
        if array.shape[-1:] != (len(components()),):
            raise ValueError(f"the last axis must have {len(components())} components.")
        object.__setattr__(self, "amounts", array)

    @classmethod
    def of(cls, parts: Mapping[str, Numbers], unit: str = "g") -> Mixture:
        """Return a mixture of components and pure compounds.

        Args:
            parts: name of a component ("sucrose", "Na") or compound ("NaCl", "potassium_sorbate")
                and its amount; arrays broadcast and become leading axes. Charge and buffer pools
                are always in mol.
            unit: "g" or "kg".

        Raises:
            InputError: an unknown name, an unknown unit, a negative or endless amount.
        """
        if unit not in ("g", "kg"):
            raise InputError(f"unit must be 'g' or 'kg', got {unit!r}.")
        scale = 1e-3 if unit == "g" else 1.0
        shape = np.broadcast_shapes(*(np.shape(a) for a in parts.values()))
        amounts = np.zeros((*shape, len(components())))
        for name, amount in parts.items():
            value = np.asarray(amount, float)
            signed = name == "unassigned_charge"
            if not np.all(np.isfinite(value)) or (np.any(value < 0) and not signed):
                raise InputError(f"{name}: the amount must be 0 or more, got {amount}.")
            pools = of_kind("charge", "buffer")
            for component, factor in _parts_of(name).items():
                s = 1.0 if name in pools else scale
                amounts[..., position(component)] += s * factor * value
        return cls(amounts)

    @classmethod
    def nothing(cls) -> Mixture:
        """Return the empty mixture."""
        return cls(np.zeros(len(components())))

    def __add__(self, other: Mixture) -> Mixture:
        return Mixture(self.amounts + other.amounts)

    def __sub__(self, other: Mixture) -> Mixture:
        return Mixture(self.amounts - other.amounts)

    def __mul__(self, factor: Numbers) -> Mixture:
        return Mixture(self.amounts * np.asarray(factor, float)[..., None])

    __rmul__ = __mul__

    def __getitem__(self, samples: Any) -> Mixture:
        """Return some samples of the leading axes."""
        if not self.shape:
            raise IndexError("this mixture has no leading axis.")
        return Mixture(self.amounts[samples])

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the leading axes."""
        return self.amounts.shape[:-1]

    def kg(self, *names: str) -> Array:
        """Return kilograms of these components together (mol for charge and buffer pools)."""
        return self.amounts[..., [position(name) for name in names]].sum(axis=-1)

    def grams(self, *names: str) -> Array:
        """Return grams of these components together."""
        return 1000 * self.kg(*names)

    def mol(self, name: str) -> Array:
        """Return moles of a component."""
        if name in of_kind("charge", "buffer"):
            return self.amounts[..., position(name)]
        return self.amounts[..., position(name)] / molar_mass_kg_per_mol(name)

    @property
    def total_kg(self) -> Array:
        """Mass of the whole mixture."""
        return self.amounts @ _mass_weights()

    @property
    def total_g(self) -> Array:
        """Mass of the whole mixture in grams."""
        return 1000 * self.total_kg

    @property
    def strong_charge_mol(self) -> Array:
        """Net charge of all strong ions, the unassigned charge included; conserved."""
        molar = column("molar_mass_g_mol") / 1000
        ions = np.array([r["kind"] == "ion" for r in tables.rows("components")])
        per_kg = np.where(ions, column("charge") / np.where(ions, molar, 1), 0.0)
        return self.amounts @ per_kg + self.kg("unassigned_charge")

    def with_amounts(self, **changes: Numbers) -> Mixture:
        """Return a copy in which these components have new amounts (kg; mol for pools)."""
        shape = np.broadcast_shapes(self.shape, *(np.shape(v) for v in changes.values()))
        amounts = np.broadcast_to(self.amounts, (*shape, len(components()))).copy()
        for name, value in changes.items():
            amounts[..., position(name)] = value
        return Mixture(amounts)


@cache
def _parts_of(name: str) -> Mapping[str, float]:
    """Return component -> kg per kg for a component or compound."""
    if name in components():
        return {name: 1.0}
    parts = {
        str(r["component"]): float(r["amount_per_kg"])
        for r in tables.rows("compounds")
        if r["compound"] == name
    }
    if not parts:
        known = [
            *components(),
            *dict.fromkeys(str(r["compound"]) for r in tables.rows("compounds")),
        ]
        raise InputError(
            f"{name!r} is not a component or a pure compound.{tables.near(name, known)}"
        )
    return parts
