"""The rows of the handbook tables, and checks that go through them one by one."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest

from stillroom.physics import water
from stillroom.product.mixture import Mixture

HANDBOOK = Path(__file__).parent / "handbook"
IONS = {  # particles of a formula unit
    "NaCl": {"Na": 1, "Cl": 1}, "KCl": {"K": 1, "Cl": 1}, "CaCl2": {"Ca": 1, "Cl": 2},
    "MgCl2": {"Mg": 1, "Cl": 2}, "NaNO3": {"Na": 1, "nitrate": 1}, "KNO3": {"K": 1, "nitrate": 1},
    "NaNO2": {"Na": 1, "nitrite": 1}, "KNO2": {"K": 1, "nitrite": 1},
    "sodium_acetate": {"Na": 1, "carboxylate": 1}, "potassium_acetate": {"K": 1, "carboxylate": 1},
    "sodium_propionate": {"Na": 1, "carboxylate": 1},
    "sodium_benzoate": {"Na": 1, "carboxylate": 1},
    "potassium_benzoate": {"K": 1, "carboxylate": 1},
    "trisodium_citrate": {"Na": 3, "carboxylate_3": 1},
}  # fmt: skip
M_W = water.WATER_MOLAR_MASS_KG_PER_MOL


def cell(text: str) -> str | float:
    try:
        return float(text)
    except ValueError:
        return text


@cache
def handbook(name: str) -> list[dict]:
    with (HANDBOOK / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        return [{k: cell(v) for k, v in row.items()} for row in csv.DictReader(handle)]


def handbook_row(name: str, solute: str, mass_percent: float) -> dict:
    rows = handbook(name)
    return next(r for r in rows if (r["solute"], r["mass_percent"]) == (solute, mass_percent))


def each(name: str, *columns: str, only=lambda row: True, defect=lambda row: ""):
    """Parametrise over the rows of a table; *defect* names what the product does wrong."""
    params = []
    for row in filter(only, handbook(name)):
        marks = [pytest.mark.xfail(strict=True, reason=defect(row))] if defect(row) else []
        params.append(pytest.param(row, id="-".join(f"{row[c]}" for c in columns), marks=marks))
    return pytest.mark.parametrize("row", params)


def check(predicted, row: dict, column: str, tolerance: float) -> None:
    gap = float(predicted) - row[column]
    assert abs(gap) <= tolerance, (
        f"{column} {float(predicted):.5g}, handbook {row[column]:g} +-{tolerance:.2g}: "
        f"{row['source']} [{row['provenance']}]"
    )


def solution(row: dict) -> Mixture:
    w = row["mass_percent"]
    return Mixture.of({"water": 100 - w, row.get("solute", "sucrose"): w})


def at_molality(substance: str, m: float) -> Mixture:
    grams = {r["substance"]: r["molar_mass_g_mol"] for r in handbook("molar_mass")}[substance] * m
    return Mixture.of({"water": 1000.0, substance: grams})
