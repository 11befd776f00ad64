"""Labels that make a number traceable: its type, the unit in a name, what a formula rests on.

And a time in the words of a person.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Numbers: TypeAlias = float | Array  # what a formula takes: one value, or any shape of them

F = TypeVar("F", bound=Callable[..., object])

# The last words of a name say its unit; longer suffixes first.
SUFFIXES: Mapping[str, str] = {
    "mol_per_kg": "mol/kg",
    "mmol_per_kg": "mmol/kg",
    "kg_per_mol": "kg/mol",
    "g_per_mol": "g/mol",
    "g_mol": "g/mol",
    "kg_per_kg": "kg/kg",
    "mg_per_kg": "mg/kg",
    "mg_per_L": "mg/L",
    "g_per_cm3": "g/cm³",
    "kJ_per_mol": "kJ/mol",
    "kJ_mol": "kJ/mol",
    "J_mol_K": "J/(mol·K)",
    "psi": "psi",
    "W_per_m_K": "W/(m·K)",
    "W_per_m2_K": "W/(m²·K)",
    "J_per_kg_K": "J/(kg·K)",
    "J_per_m3_K": "J/(m³·K)",
    "kJ_per_kg_K": "kJ/(kg·K)",
    "kJ_per_kg": "kJ/kg",
    "kWh": "kWh",
    "g_per_m2_day_Pa": "g/(m²·d·Pa)",
    "g_per_m2_day": "g/(m²·d)",
    "g_per_day_Pa": "g/(d·Pa)",
    "kg_per_m2_h": "kg/(m²·h)",
    "g_per_g": "g/g",
    "um": "µm",
    "kg_per_m3": "kg/m³",
    "m3": "m³",
    "m2": "m²",
    "kW": "kW",
    "m2_per_s": "m²/s",
    "per_min": "1/min",
    "percent": "%",
    "brix": "°Brix",
    "eq": "eq",
    "C": "°C",
    "K": "K",
    "kg": "kg",
    "g": "g",
    "mg": "mg",
    "mol": "mol",
    "kPa": "kPa",
    "Pa": "Pa",
    "MPa": "MPa",
    "min": "min",
    "days": "d",
    "h": "h",
    "s": "s",
    "m": "m",
    "mm": "mm",
    "L": "L",
}


def unit_of(name: str) -> str:
    """Return the unit that the suffix of *name* stands for, "" for a pure number."""
    for suffix in sorted(SUFFIXES, key=len, reverse=True):
        if name.endswith("_" + suffix):
            return SUFFIXES[suffix]
    return ""


def duration(hours: float) -> str:
    """Return a time in the unit and with the digits a person would use."""
    if 60 * hours < 1:
        return "less than a minute"
    if hours < 2:
        return f"{60 * hours:.0f} min"
    amount, unit = (hours, "h") if hours < 48 else (hours / 24, "days")
    return f"{amount:.0f} {unit}" if amount >= 10 else f"{amount:.2g} {unit}"


@dataclass(frozen=True)
class Formula:
    """What a labelled function rests on."""

    name: str
    unit: str
    source: str
    place: str
    validity: Mapping[str, tuple[float, float]]
    equation: str
    summary: str


def formula(
    unit: str, source: str, place: str = "", **validity: tuple[float, float]
) -> Callable[[F], F]:
    """Label a function with its unit, source and fitted range; the function itself is unchanged.

    Args:
        unit: unit of the result, "" for a pure number.
        source: author and year, or the instrument.
        place: equation, table or section of the source.
        validity: argument name = (lowest, highest) value the formula was fitted to.
    """

    def label(function: F) -> F:
        summary, _, rest = (function.__doc__ or "").partition("\n")
        body = [line.strip() for line in rest.strip().splitlines()]
        equation = "\n".join(body[: body.index("")] if "" in body else body)
        function.formula = Formula(  # type: ignore[attr-defined]
            name=function.__name__,
            unit=unit,
            source=source,
            place=place,
            validity=validity,
            equation=equation,
            summary=summary.strip(),
        )
        return function

    return label


def formula_of(function: Callable[..., object]) -> Formula:
    """Return the label of *function*."""
    label = getattr(function, "formula", None)
    if not isinstance(label, Formula):
        raise TypeError(f"{function!r} carries no formula label.")
    return label
