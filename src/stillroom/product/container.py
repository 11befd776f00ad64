"""Jars, bottles, cans and pouches: their sizes, walls and what they hold."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.product import quantity

Family = Literal["jar", "bottle", "can", "pouch", "tub"]

FAMILIES: dict[str, Family] = {
    "jar": "jar",
    "bottle": "bottle",
    "can": "can",
    "tin": "can",
    "pouch": "pouch",
    "bag": "pouch",
    "tub": "tub",
    "bucket": "tub",
}
WALLS: dict[Family, tuple[str, float]] = {  # material, thickness in m where the table has none
    "jar": ("glass", 0.003),
    "bottle": ("glass", 0.0035),
    "can": ("steel", 0.0002),
    "pouch": ("polypropylene", 0.0001),
    "tub": ("polypropylene", 0.0008),
}
SLENDER = {"bottle": 2.2, "tub": 0.8}  # height of the content over its diameter, common practice
JAR_KG, JAR_ML, JAR_POWER = 0.19, 370.0, 0.75  # mass of an empty jar, common practice
SAME_SIZE = 0.03


@dataclass(frozen=True)
class Container:
    """A pack before it is filled.

    Attributes:
        name: as in the recipe.
        family: jar, bottle, can, pouch or tub.
        capacity_L: to the brim.
        diameter_m: inner; None for a pouch.
        thickness_m: of a filled pouch; None for the others.
        wall_m: of the side.
        material: of the wall, a row of the thermal table.
        mass_kg: of the empty container.
        assumed: what was assumed of it, in words.
    """

    name: str
    family: Family
    capacity_L: float
    diameter_m: float | None
    thickness_m: float | None
    wall_m: float
    material: str
    mass_kg: float
    assumed: str = ""


def container(
    name: str,
    diameter_m: float | None = None,
    wall_m: float | None = None,
    thickness_m: float | None = None,
    mass_kg: float | None = None,
) -> Container:
    """Return the container of a name, such as "jar 250 ml" or "can 307x409".

    Args:
        name: a family and a capacity, or a row of the table of containers.
        diameter_m: inner diameter, where it was measured.
        wall_m: thickness of the wall, where it was measured.
        thickness_m: of the filled pouch, where it was measured.
        mass_kg: of the empty container, where it was weighed.

    Raises:
        InputError: neither a capacity nor a known container.
    """
    known = tables.index("containers").get(name.strip().replace(" ", "_"))
    capacity_L = known["capacity_ml"] / 1000 if known else _capacity_L(name)
    family = _family(name)
    material, wall = WALLS[family]
    row = known or _nearest(family, 1000 * capacity_L)
    diameter = thickness = None
    if row is None:
        diameter = float(np.cbrt(4 * capacity_L / 1000 / (np.pi * SLENDER[family])))
        about = f"{1000 * diameter:.0f} mm wide"
    else:
        wall = row["wall_mm"] / 1000
        larger = 1.0 if known else 1000 * capacity_L / row["fill_ml"]
        scale = 1.0 if abs(larger - 1) <= SAME_SIZE else float(np.cbrt(larger))
        if family == "pouch":
            thickness = scale * row["thickness_mm"] / 1000
            about = f"{1000 * thickness:.0f} mm thick when filled"
        else:
            diameter = scale * row["inner_diameter_mm"] / 1000
            about = f"{1000 * diameter:.0f} mm wide inside"
    measured = thickness_m if family == "pouch" else diameter_m
    found = Container(
        name=name,
        family=family,
        capacity_L=capacity_L,
        diameter_m=diameter,
        thickness_m=thickness,
        wall_m=wall,
        material=material,
        mass_kg=_mass_kg(family, capacity_L),
        assumed="" if measured else f"{name} taken as {about}: measure it",
    )
    given = {
        "diameter_m": diameter_m if family != "pouch" else None,
        "thickness_m": thickness_m if family == "pouch" else None,
        "wall_m": wall_m,
        "mass_kg": mass_kg,
    }
    return replace(found, **{k: v for k, v in given.items() if v is not None})  # type: ignore[arg-type]


def _capacity_L(name: str) -> float:
    found = re.search(r"(?<![\d.,])([\d.]+ ?(?:ml|mL|cl|dl|l|L))\b", name)
    capacity = quantity.read(found[1], "volume") if found else 0.0
    if found and capacity <= 0:
        raise InputError("the container must hold more than nothing.")
    if not found:
        raise InputError('name the container with its capacity, such as "jar 250 ml".')
    return capacity


def _family(name: str) -> Family:
    words = re.findall(r"[a-z]+", name.lower())
    return next((FAMILIES[w] for w in words if w in FAMILIES), "jar")


def _nearest(family: Family, fill_ml: float) -> tables.Row | None:
    rows = [
        r
        for r in tables.rows("containers")
        if _family(str(r["family"])) == family and "US" not in str(r["container"])
    ]
    if family in SLENDER or not rows:
        return None
    return min(rows, key=lambda r: abs(np.log(r["fill_ml"] / fill_ml)))


def flat_area_m2(one: Container) -> float | None:
    """Return both faces of a pouch of usual shape, or None where a pack is no pouch."""
    row = _nearest(one.family, 1000 * one.capacity_L) if one.family == "pouch" else None
    if row is None:
        return None
    flat = 2e-6 * float(row["outer_diameter_mm"] * row["outer_height_mm"])  # width and length
    return flat * float(1000 * one.capacity_L / row["capacity_ml"]) ** (2 / 3)


def _mass_kg(family: Family, capacity_L: float) -> float:
    if family in ("jar", "bottle"):
        return float(JAR_KG * (1000 * capacity_L / JAR_ML) ** JAR_POWER)
    return 0.0  # of no account for the heat of a fill
