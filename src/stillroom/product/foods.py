"""Foods as conserved quantities: what the composition tables and a cook know, made a mixture.

A food enters a blend as water, sugars, acids, minerals, polymers, an unnamed buffer, and the
unassigned strong charge that makes its own pH true under the activity model that later solves the
blend.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import acid as acidity
from stillroom.physics import titration
from stillroom.product import properties
from stillroom.product.mixture import Mixture, of_kind

SUGARS = {
    f"{s}_g": s for s in ["sucrose", "glucose", "fructose", "lactose", "maltose", "galactose"]
}
ACIDS = {f"{a}_g": a for a in ["citric", "malic", "tartaric", "lactic", "acetic"]}
MINERALS = {"sodium_mg": "Na", "potassium_mg": "K", "calcium_mg": "Ca", "magnesium_mg": "Mg"}
PLANT_GROUPS = ("fruit", "citrus", "vegetable", "herb", "sweet preserve")
CHLORIDE_PER_SODIUM = 1.542  # by mass, in sodium chloride
SALTED_FROM_MG = 150.0  # sodium per 100 g above which a food counts as salted
PHOSPHORIC_PER_PHOSPHORUS = 3.1637
DRY_BELOW = 0.25  # water share below which a pH is that of one part in ten of water
STRONG_ANIONS_EQ = 0.010  # chloride, sulfate and nitrate of unsalted plant tissue, per kilogram
SMALL_SOLUTES_KG = 0.01  # per kilogram of plant tissue
ROUNDING = 0.006  # of a kilogram: rounded analyses of a pure substance
SUGAR_SPLIT = {"sucrose": 0.2, "glucose": 0.4, "fructose": 0.4}  # where only the total is known


@dataclass(frozen=True)
class Uncertain:
    """A value with the range it may have, and where both come from."""

    value: float
    low: float
    high: float
    kind: str  # given, tabulated, assumed
    source: str


@dataclass(frozen=True)
class Food:
    """A food of the table, or one's own: a row, and corrections on top of it.

    Attributes:
        name: as the recipe calls it.
        row: composition per 100 g; a blank cell is unknown, never zero.
        ph: with its range; None for pure salts, acids and the like.
        buffer: mmol strong base per kg and pH unit, at the pH of its profile.
        profile: which unnamed buffer pools carry it.
        corrections: grams per 100 g of components that overrule the row.
        soluble_solids: a refractometer reading that overrules the sugars, or None.
        acidity: (titratable acidity in %, acid it is expressed as, end point), or None.
        spread_percent: scatter of the soluble solids, per cent of the whole, one way.
    """

    name: str
    row: tables.Row
    ph: Uncertain | None
    buffer: Uncertain
    profile: str
    corrections: Mapping[str, float] = field(default_factory=dict)
    soluble_solids: Uncertain | None = None
    acidity: tuple[Uncertain, str, float] | None = None
    spread_percent: float = 1.0

    @property
    def group(self) -> str:
        """Food group of the table."""
        return str(self.row["group"])

    def mixture(
        self,
        ph: Numbers | None = None,
        acid_factor: Numbers = 1.0,
        buffer: Numbers | None = None,
        solids_shift_percent: Numbers = 0.0,
    ) -> Mixture:
        """Return one kilogram of the food.

        Args:
            ph: of the food; its own by default. Broadcasts, like the following.
            acid_factor: multiplies the organic acids.
            buffer: mmol/(kg pH); its own by default.
            solids_shift_percent: added to the soluble solids, taken from the water.
        """
        strength = self.buffer.value if buffer is None else buffer
        base = _with_buffer(_base(self), self.profile, strength)
        at_ph = None if self.ph is None else (self.ph.value if ph is None else np.asarray(ph))
        shift = np.asarray(solids_shift_percent, float)
        target = self._brix(base) + shift if self.soluble_solids or np.any(shift) else None
        for _ in range(3 if self.acidity else 1):  # acid reads on a refractometer too
            if self.acidity and at_ph is not None:
                base = _with_titration(base, self, at_ph)
            if target is not None:
                base = _with_brix(base, target, self.name)
        base = _scale_acids(base, acid_factor)
        if at_ph is None:
            return base
        return _with_charge(base, at_ph, titrated=self.acidity is not None)

    def _brix(self, base: Mixture) -> Numbers:
        return self.soluble_solids.value if self.soluble_solids else properties.brix(base)


# arguments of `Food.mixture` -> their values as the food stands
CENTRAL: Mapping[str, Callable[[Food], float]] = {
    "ph": lambda f: f.ph.value if f.ph else 7.0,
    "acid_factor": lambda _: 1.0,
    "buffer": lambda f: f.buffer.value,
    "solids_shift_percent": lambda _: 0.0,
}


# --- from the table ---------------------------------------------------------------------------


@cache
def _names() -> Mapping[str, str]:
    """Return every accepted name, lower case -> name in the table."""
    names: dict[str, str] = {}
    for r in tables.rows("foods"):
        short = str(r["food"]).removesuffix(", raw")
        for name in (r["food"], short, *str(r["also"]).split(";")):
            if name.strip():
                names.setdefault(name.strip().lower(), str(r["food"]))
    names.update({str(r["food"]).lower(): str(r["food"]) for r in tables.rows("foods")})
    return names


def food_row(name: str) -> tables.Row:
    """Return the row of a food by its name, a short name or another name of it.

    Raises:
        InputError: naming the nearest foods.
    """
    known = _names().get(name.strip().lower())
    if known is None:
        raise InputError(
            f"{name!r} is not in the table of foods.{tables.near(name, _names())} "
            "Look one up with `stillroom foods WORD`, or add your own under [foods]."
        )
    return tables.row("foods", known)


def food(name: str) -> Food:
    """Return a food of the table."""
    return _food(name, food_row(name))


def _food(name: str, row: tables.Row) -> Food:
    group = tables.row("food_groups", str(row["group"]))
    strength = _buffer_row(str(row["food"])) or group
    low, high = float(strength["buffer_low"] or 0), float(strength["buffer_high"] or 0)
    buffer = Uncertain((low + high) / 2, low, high, "tabulated", str(strength["source"]))
    spread = row["water_sd_g"] if row["water_sd_g"] is not None else 1.0
    return Food(
        name,
        row,
        _table_ph(row, group),
        buffer,
        str(strength["profile"]),
        spread_percent=float(spread),
    )


def _buffer_row(name: str) -> tables.Row | None:
    hits = [r for r in tables.rows("buffers") if name.startswith(str(r["food"]))]
    return max(hits, key=lambda r: len(str(r["food"]))) if hits else None


def _table_ph(row: tables.Row, group: tables.Row) -> Uncertain | None:
    if row["ph_typical"] is not None:
        low, high = row["ph_low"] or row["ph_typical"], row["ph_high"] or row["ph_typical"]
        source = f"{row['ph_source']} [{row['ph_provenance']}]"
        return Uncertain(row["ph_typical"], low, high, "tabulated", source)
    if group["assumed_ph"] is None or _is_strong_acid(row):
        return None
    ph = float(group["assumed_ph"])
    low, high = float(group["assumed_ph_low"]), float(group["assumed_ph_high"])
    return Uncertain(ph, low, high, "assumed", f"usual for {group['group']}")


def _is_strong_acid(row: tables.Row) -> bool:
    """Return whether the food is an acid in water: its pH follows from its composition."""
    return sum(row[c] or 0 for c in ACIDS) > 3.5 and row["group"] == "vinegar"


# --- composition ------------------------------------------------------------------------------


def _base(f: Food) -> Mixture:
    """Return the components of a kilogram, closed to exactly one kilogram."""
    grams = _grams_per_100g(f.row)
    mixture = Mixture.of({n: 10 * g for n, g in grams.items()})
    mixture = mixture + Mixture.of({n: 10 * g for n, g in _named_extras(f.row).items()})
    if "water" in f.corrections:  # a drier or wetter lot: its dry matter keeps its proportions
        wet = float(mixture.kg("water"))
        dry = mixture.with_amounts(water=0.0) * ((1 - f.corrections["water"] / 100) / (1 - wet))
        mixture = dry.with_amounts(water=wet)
    mixture = mixture.with_amounts(**{n: g / 100 for n, g in f.corrections.items()})
    return _close(mixture, f)


def _named_extras(row: tables.Row) -> dict[str, float]:
    """Return compound -> g per 100 g of the cell "name grams; name grams"."""
    extras: dict[str, float] = {}
    for item in filter(None, (part.strip() for part in str(row["other_named"]).split(";"))):
        name, _, grams = item.rpartition(" ")
        extras[name] = float(grams)
    return extras


def _grams_per_100g(row: tables.Row) -> dict[str, float]:
    group = tables.row("food_groups", str(row["group"]))
    phosphate, calcium = (group[f"{n}_counts"] == "yes" for n in ("phosphate", "calcium"))
    grams = {"water": row["water_g_100g"] or 0.0, "ethanol": row["alcohol_g"] or 0.0}
    grams |= _sugars(row)
    grams |= {acid: row[column] or 0.0 for column, acid in ACIDS.items()}
    grams["ascorbic"] = (row["ascorbic_mg"] or 0.0) / 1000
    grams["phosphoric"] = (
        phosphate * (row["phosphorus_mg"] or 0.0) * PHOSPHORIC_PER_PHOSPHORUS / 1000
    )
    grams |= {ion: (row[column] or 0.0) / 1000 for column, ion in MINERALS.items()}
    grams["Ca"] *= calcium
    grams["Cl"] = _chloride_g(row)
    fibre = "pectin" if "pectin" in str(row["food"]) else "fibre"
    for name, column in (
        ("starch", "starch_g"),
        (fibre, "fibre_g"),
        ("protein", "protein_g"),
        ("fat", "fat_g"),
    ):
        grams[name] = row[column] or 0.0
    named = sum(grams[n] for n in ("Na", "K", "Ca", "Mg", "Cl", "phosphoric"))
    grams["ash"] = max((row["ash_g"] or 0.0) - named, 0.0)
    return grams


def _sugars(row: tables.Row) -> dict[str, float]:
    split = {sugar: row[column] for column, sugar in SUGARS.items() if row[column] is not None}
    if split or not row["sugars_total_g"]:
        return {name: float(g) for name, g in split.items()}
    return {name: share * row["sugars_total_g"] for name, share in SUGAR_SPLIT.items()}


def _chloride_g(row: tables.Row) -> float:
    if row["chloride_mg"] is not None:
        return float(row["chloride_mg"]) / 1000
    sodium = row["sodium_mg"] or 0.0
    return sodium * CHLORIDE_PER_SODIUM / 1000 if sodium > SALTED_FROM_MG else 0.0


def _close(mixture: Mixture, f: Food) -> Mixture:
    """Return a mixture of exactly one kilogram.

    What no analysis names is half dissolved, half solid in plants and solid elsewhere; of the
    dissolved half the first centigram per gram are small solutes (polyols, phenolics), the rest
    are oligosaccharides (the fructans of garlic and onion). Where the
    analyses add up to more, the organic solids are scaled down; water and salt stay as measured.
    """
    free_solutes = _other_solutes_kg(f, mixture)
    mixture = mixture + Mixture.of(free_solutes, "kg")
    if free_solutes:  # the small solutes of flesh stand in the protein of the analysis
        mixture = mixture.with_amounts(
            protein=np.maximum(mixture.kg("protein") - free_solutes["other_solutes"], 0.0)
        )
    rest = 1.0 - float(mixture.total_kg)
    if rest >= 0:
        soluble = 0.5 * rest if f.group.startswith(PLANT_GROUPS) else 0.0
        small = min(soluble, SMALL_SOLUTES_KG)
        unnamed = {"other_solutes": small, "oligosaccharides": soluble - small}
        return mixture + Mixture.of(unnamed | {"other_solids": rest - soluble}, "kg")
    if rest > -ROUNDING:
        return mixture * (1 / float(mixture.total_kg))
    scaled = [n for n in of_kind("sugar", "polymer", "solid") if n not in {"ash", *f.corrections}]
    organic = float(mixture.kg(*scaled))
    if organic + rest <= 0:
        raise InputError(
            f"{f.name!r}: water, salts and given components add up to more than 100 g per 100 g."
        )
    factor = 1 + rest / organic
    return mixture.with_amounts(**{n: mixture.kg(n) * factor for n in scaled})


def _other_solutes_kg(f: Food, mixture: Mixture) -> dict[str, float]:
    per_kg = tables.row("food_groups", f.group)["other_solutes_mol_per_kg"]
    if not per_kg or float(mixture.kg("protein")) < 0.05:
        return {}
    return {"other_solutes": per_kg * 0.150 * float(mixture.kg("water"))}


def _with_brix(mixture: Mixture, target: Array, name: str) -> Mixture:
    """Return the food with its sugars and water changed so that a refractometer reads *target*."""
    soluble = of_kind("sugar", "polyol", "solute")
    movable = mixture.kg(*soluble)
    if np.any(movable <= 0):
        raise InputError(f"{name!r}: soluble_solids was given for a food without sugars.")
    factor = np.ones(np.shape(target))
    changed = mixture
    for _ in range(30):
        gain = (factor - 1) * movable
        water = mixture.kg("water") - gain
        changed = mixture.with_amounts(water=water, **{n: mixture.kg(n) * factor for n in soluble})
        factor = factor + (target - properties.brix(changed)) * water / movable / 100
    if np.any(~np.isfinite(factor)) or np.any(factor < 0) or np.any(changed.kg("water") <= 0):
        raise InputError(
            f"{name!r}: soluble solids of {np.max(target):.3g} % cannot be: the food has "
            f"{100 * float(np.max(mixture.kg('water'))):.3g} % water in the table."
        )
    return changed


def _scale_acids(mixture: Mixture, factor: Numbers) -> Mixture:
    if np.ndim(factor) == 0 and factor == 1.0:
        return mixture
    organic = [n for n in of_kind("acid") if n not in ("phosphoric", "carbonic")]
    gain = (np.asarray(factor) - 1) * mixture.kg(*organic)
    return mixture.with_amounts(
        water=mixture.kg("water") - gain,
        **{n: mixture.kg(n) * np.asarray(factor) for n in organic if np.any(mixture.kg(n))},
    )


def _with_titration(mixture: Mixture, f: Food, at_ph: Numbers) -> Mixture:
    """Return the food with its organic acids scaled to a measured titratable acidity."""
    assert f.acidity is not None
    measured, as_acid, endpoint = f.acidity
    organic = [n for n in of_kind("acid") if n not in ("phosphoric", "carbonic")]
    wanted_eq = measured.value / 100 / properties.equivalent_mass_kg_per_mol(as_acid)
    if not np.any(mixture.kg(*organic) > 1e-4):
        kg = measured.value / 100
        mixture = mixture + Mixture.of({as_acid: kg, "water": 0.0}, "kg")
        mixture = mixture.with_amounts(water=mixture.kg("water") - kg)

    def titrated(factor: Numbers) -> Array:
        wet = _diluted(_scale_acids(mixture, factor))
        known = properties.solution(wet)
        strong = known.strong_charge_mol_per_kg + titration.strong_charge_for_ph(known, at_ph)
        full = replace(known, strong_charge_mol_per_kg=strong)
        return titration.titratable_acidity_mol_per_kg(full, endpoint) * wet.kg("water")

    none = titrated(0.0)
    factor: Array = np.ones(np.shape(none))
    for _ in range(4):  # nearly linear: the ionic strength moves a little
        factor = factor * (wanted_eq - none) / (titrated(factor) - none)
    if np.any(factor <= 0):
        raise InputError(
            f"{f.name!r}: a titratable acidity of {measured.value:g} % is less than its buffer "
            f"alone takes between pH {float(np.min(at_ph)):g} and {endpoint:g}."
        )
    return _scale_acids(mixture, factor)


def _with_buffer(mixture: Mixture, profile: str, strength_mmol: Numbers) -> Mixture:
    """Return the mixture with the buffer its named acids leave unexplained, as pools."""
    rows = [r for r in tables.rows("buffer_profiles") if r["profile"] == profile]
    if not rows or not np.any(strength_mmol):
        return mixture
    at_ph = float(rows[0]["at_ph"])
    named = properties.solution(mixture, 25.0)
    ideal = acidity.Solution(named.totals_mol_per_kg, named.acids, ideal=True)
    free = acidity.Solution([], [], ideal=True)
    acids = titration.buffer_capacity_mol_per_kg(
        ideal, at_ph
    ) - titration.buffer_capacity_mol_per_kg(free, at_ph)
    water = np.maximum(mixture.kg("water"), 1e-9)
    missing = np.maximum(np.asarray(strength_mmol, float) / 1000 - acids * water, 0.0)
    unit = sum(
        r["share"]
        * titration.buffer_capacity_mol_per_kg(
            acidity.Solution([1.0], [properties.acid(str(r["pool"]))], ideal=True), at_ph
        )
        for r in rows
    )
    total = missing / unit
    return mixture.with_amounts(
        **{str(r["pool"]): mixture.kg(str(r["pool"])) + r["share"] * total for r in rows}
    )


def _diluted(mixture: Mixture) -> Mixture:
    """Return the mixture as its pH is measured: a dry food in nine parts of water."""
    water = mixture.kg("water")
    return mixture.with_amounts(water=np.where(water < DRY_BELOW, water + 9.0, water))


def _with_charge(mixture: Mixture, at_ph: Numbers, titrated: bool) -> Mixture:
    """Return the mixture with the unassigned charge that makes its pH true.

    Anions that no analysis names are chloride, sulfate and nitrate as far as is usual; the rest
    are weak acids (oxalic, isocitric, amino acids, pectin) and come in as a buffer pool, which
    titrates, where a strong anion would not. A food whose acid was *titrated* has no more.
    """
    measured = _diluted(mixture)

    def missing(m: Mixture) -> Array:
        return titration.strong_charge_for_ph(properties.solution(m), at_ph) * m.kg("water")

    anions = np.maximum(-missing(measured) - STRONG_ANIONS_EQ, 0.0)
    if np.any(anions) and not titrated:
        for pool, pKa, chosen in (
            ("buffer_3.2", 3.2, np.asarray(at_ph) < 3.6),
            ("buffer_3.8", 3.8, np.asarray(at_ph) >= 3.6),
        ):
            amount = np.where(chosen, anions * (1 + 10.0 ** (pKa - np.asarray(at_ph))), 0.0)
            measured = measured.with_amounts(**{pool: measured.kg(pool) + amount})
            mixture = mixture.with_amounts(**{pool: mixture.kg(pool) + amount})
    return mixture.with_amounts(unassigned_charge=missing(measured))
