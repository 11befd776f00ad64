"""The one place that opens a data table; each table is checked the first time it is read.

A row is a read-only mapping from column to value: text, a number in the columns declared here as
numbers, None where an optional cell is blank (unknown, never zero). Every row carries `source` and
`provenance`: `seen`, `memory`, `computed` or `common practice`, each with any remark.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from io import StringIO
from types import MappingProxyType
from typing import Any

from stillroom.errors import InputError, TableError

Row = Mapping[str, Any]
PROVENANCE = ("seen", "memory", "computed", "common practice")


@dataclass(frozen=True)
class Table:
    """What the loader asks of a table."""

    key: tuple[str, ...] = ()  # these columns are filled, and together unique
    required: tuple[str, ...] = ()  # these columns are filled
    numbers: tuple[str, ...] = ()  # these columns hold a finite number or nothing


_FOOD_NUMBERS = [
    "water_g_100g",
    "sucrose_g",
    "glucose_g",
    "fructose_g",
    "lactose_g",
    "maltose_g",
    "galactose_g",
    "starch_g",
    "fibre_g",
    "protein_g",
    "fat_g",
    "ash_g",
    "alcohol_g",
    "sodium_mg",
    "potassium_mg",
    "calcium_mg",
    "magnesium_mg",
    "phosphorus_mg",
    "chloride_mg",
    "ascorbic_mg",
    "citric_g",
    "malic_g",
    "tartaric_g",
    "lactic_g",
    "acetic_g",
    "other_named_g",
    "sugars_total_g",
    "carbohydrate_by_difference_g",
    "water_sd_g",
    "ph_typical",
    "ph_low",
    "ph_high",
]

TABLES: Mapping[str, Table] = {
    # what a mixture is made of
    "components": Table(("component",), ("name", "kind"), ("molar_mass_g_mol", "charge")),
    "compounds": Table(("compound", "component"), (), ("amount_per_kg",)),
    "foods": Table(("food",), ("group",), tuple(_FOOD_NUMBERS)),
    "food_groups": Table(
        ("group",),
        (),
        (
            "assumed_ph",
            "assumed_ph_low",
            "assumed_ph_high",
            "buffer_low",
            "buffer_high",
            "other_solutes_mol_per_kg",
        ),
    ),
    "additives": Table(("additive",), ("family",), ("residues",)),
    "stated_words": Table(("fact",), ("yes", "no")),
    "additive_foods": Table(("food", "additive"), (), ("share",)),
    "buffers": Table(("food",), ("profile",), ("buffer_low", "buffer_high")),
    "buffer_profiles": Table(("profile", "pool"), (), ("share", "at_ph")),
    # water
    "norrish": Table(("solute",), ("K",), ("K", "max_molality_mol_per_kg")),
    "hydration": Table(("solute",), (), ("sites", "affinity", "max_molality_mol_per_kg")),
    "pitzer": Table(
        ("cation", "anion", "parameter"),
        ("a0",),
        ("a0", "a1", "a2", "a3", "a4", "a5", "max_molality_mol_per_kg"),
    ),
    "like_charges": Table(("ion", "other_ion", "parameter"), (), ("a0", "a1", "a2", "a3", "a4")),
    "gab": Table(("polymer",), (), ("Xm_kg_per_kg", "C", "k")),
    "refraction": Table(("solute",), (), ("r0", "r1", "r2")),
    "specific_volume": Table(("solute",), (), ("v0", "v1", "v2")),
    "solubility": Table(("solute", "temperature_C"), (), ("temperature_C", "mass_percent")),
    "saturated_salts": Table(
        ("salt",), (), ("a0", "a1", "a2", "a3", "lowest_C", "highest_C", "uncertainty_percent")
    ),
    "brix_correction": Table(
        ("temperature_C", "brix"), (), ("temperature_C", "brix", "correction_brix")
    ),
    "error_bands": Table(("product_class",), ("why",), ("low", "high", "band")),
    # acids
    "acids": Table(
        ("acid", "step"),
        (),
        ("step", "charge", "pKa", "delta_h_kJ_mol", "delta_cp_J_mol_K"),
    ),
    "volatility": Table(("component",), (), ("relative_volatility",)),
    "partition": Table(("acid",), (), ("oil_water_partition",)),
    "so2_binding": Table(("carbonyl",), (), ("Kd_mol_per_L",)),
    "diffusivity": Table(("solute",), (), ("diffusivity_m2_per_s",)),
    # dried, salted and packed food
    "isotherms": Table(
        ("food", "form", "source"),
        ("direction", "basis", "moisture_unit", "use"),
        (
            "xm",
            "C",
            "K",
            "A",
            "B",
            "N",
            "E",
            "F",
            "temperature_min_C",
            "temperature_max_C",
            "water_activity_min",
            "water_activity_max",
            "deviation_percent",
            "moisture_error_percent",
        ),
    ),
    "monolayers": Table(
        ("food", "state", "method"),
        ("direction",),
        ("temperature_C", "monolayer_kg_per_kg"),
    ),
    "binding_heat": Table(
        ("moisture_low_kg_per_kg",),
        (),
        ("moisture_low_kg_per_kg", "moisture_high_kg_per_kg", "low_kJ_mol", "high_kJ_mol"),
    ),
    "critical_water_activity": Table(("event", "foods", "source"), (), ("low", "high")),
    "dry_storage": Table(
        ("food",),
        (),
        ("moisture_min_percent", "moisture_max_percent", "rh_min_percent", "rh_max_percent"),
    ),
    "thin_layer": Table(("food", "equation"), ("time_unit",), ("k", "n", "a", "b", "c")),
    "moisture_diffusivity": Table(
        ("food", "substance"),
        ("low_m2_per_s", "high_m2_per_s"),
        (
            "low_m2_per_s",
            "high_m2_per_s",
            "lowest_C",
            "highest_C",
            "D_ref_m2_per_s",
            "reference_C",
            "activation_energy_kJ_mol",
            "activation_energy_high_kJ_mol",
        ),
    ),
    "scatter": Table(("verb", "key"), ("what", "relative"), ("sd",)),
    "drying_practice": Table((), ("subject", "foods", "quantity"), ("low", "high")),
    "degree_hours": Table(
        (),
        ("jurisdiction", "unit", "limit_degree_hours"),
        ("threshold", "hottest_below", "hottest_up_to", "limit_degree_hours", "to_ph"),
    ),
    "water_phase_salt": Table((), ("jurisdiction", "product"), ("low_percent", "high_percent")),
    "films_barrier": Table(
        ("film", "source"),
        ("structure",),
        (
            "thickness_um",
            "wvtr_low_g_per_m2_day",
            "wvtr_high_g_per_m2_day",
            "wvtr_test_C",
            "wvtr_test_relative_humidity",
            "activation_energy_kJ_mol",
            "otr_low_cm3_per_m2_day_atm",
            "otr_high_cm3_per_m2_day_atm",
            "otr_test_C",
            "otr_test_relative_humidity",
        ),
    ),
    "pack_needs": Table(
        ("product",),
        ("wvtr_low_g_per_m2_day", "wvtr_high_g_per_m2_day"),
        (
            "wvtr_low_g_per_m2_day",
            "wvtr_high_g_per_m2_day",
            "wvtr_test_C",
            "wvtr_test_relative_humidity",
            "otr_low_cm3_per_m2_day_bar",
            "otr_high_cm3_per_m2_day_bar",
            "otr_test_C",
            "otr_test_relative_humidity",
        ),
    ),
    "desiccants": Table(
        ("desiccant", "relative_humidity"),
        ("capacity_g_per_g",),
        ("relative_humidity", "capacity_g_per_g", "temperature_C"),
    ),
    # heat
    "thermal": Table(
        ("material", "property"),
        ("a0", "a1", "a2"),
        ("a0", "a1", "a2", "lowest_C", "highest_C"),
    ),
    "containers": Table(
        ("container",),
        ("family",),
        (
            "fill_ml",
            "capacity_ml",
            "outer_diameter_mm",
            "outer_height_mm",
            "wall_mm",
            "inner_diameter_mm",
            "inner_height_mm",
            "thickness_mm",
        ),
    ),
    "films": Table(
        ("medium",),
        ("low_W_per_m2_K", "typical_W_per_m2_K", "high_W_per_m2_K"),
        ("low_W_per_m2_K", "typical_W_per_m2_K", "high_W_per_m2_K"),
    ),
    "heat_resistance": Table(
        (),
        ("organism", "kind"),
        (
            "temperature_C",
            "d_value_min",
            "d_low_min",
            "d_high_min",
            "z_value_C",
            "z_low_C",
            "z_high_C",
            "ph",
            "aw",
            "ph_from",
            "ph_to",
        ),
    ),
    "acid_hold": Table(
        (),
        ("organism", "ph_max", "acid", "hours_5log"),
        (
            "ph_max",
            "acetic_min_percent",
            "benzoic_min_mmol_per_kg",
            "fumaric_min_mmol_per_kg",
            "salt_max_percent",
            "temperature_C",
            "hours_5log",
        ),
    ),
    "heat_targets": Table(
        ("target",),
        ("words", "storage", "use"),
        (
            "ph_low",
            "ph_high",
            "aw_low",
            "aw_high",
            "lethality_min",
            "reference_C",
            "z_C",
            "z_above_C",
            "decades",
        ),
    ),
    "quality_kinetics": Table(
        ("item",),
        ("kind", "reference_C"),
        ("d_min", "k_per_min", "reference_C", "z_C", "activation_energy_kJ_mol"),
    ),
    "stumbo": Table(
        ("fh_over_u",), ("g_low_F", "g_high_F"), ("fh_over_u", "g_low_F", "g_high_F", "z_C")
    ),
    "home_canning": Table(
        ("product", "pack", "jar", "method", "altitude_low_ft"),
        ("time_min",),
        ("altitude_low_ft", "altitude_high_ft", "time_min"),
    ),
    # microbes
    "growth_limits": Table(
        (),
        ("organism", "group", "limit_for", "evidence_class"),
        ("aw_min", "ph_min", "ph_max", "water_phase_salt_max_pct", "temp_min_C", "temp_max_C"),
    ),
    "fallback_limits": Table(("life",), (), ("aw_min", "ph_min")),
    "acid_limits": Table(
        ("organism", "acid"),
        ("mic_high_mmol_per_kg",),
        ("mic_low_mmol_per_kg", "mic_high_mmol_per_kg"),
    ),
    "alcohol_limits": Table(
        ("stands_for",), ("ethanol_max_percent_vol",), ("ethanol_max_percent_vol",)
    ),
    "cardinals": Table(
        ("organism",),
        (),
        (
            "temp_min_C",
            "temp_opt_C",
            "temp_max_C",
            "ph_min",
            "ph_opt",
            "ph_max",
            "aw_min",
            "aw_opt",
        ),
    ),
    "growth_rates": Table(
        ("set_id",),
        ("organism", "use", "mu_opt_per_h"),
        (
            "mu_opt_per_h",
            "temp_min_C",
            "temp_opt_C",
            "temp_max_C",
            "ph_min",
            "ph_opt",
            "ph_max",
            "aw_min",
            "aw_opt",
            "mic_lactic_mmol_per_kg",
            "h0",
            "nmax_log10",
            "lowest_C",
            "highest_C",
        ),
    ),
    "spoilage_rates": Table(
        ("kind",),
        ("stands_for", "sign"),
        (
            "mu_opt_per_h",
            "accuracy",
            "temp_min_C",
            "temp_opt_C",
            "temp_max_C",
            "ph_opt",
            "ph_max",
            "aw_fitted_min",
            "aw_opt",
            "h0",
            "lowest_C",
            "highest_C",
            "clean_log10",
            "clean_high_log10",
            "raw_log10",
            "raw_high_log10",
            "end_log10",
        ),
    ),
    "mould_rates": Table(
        ("kind",),
        ("stands_for",),
        (
            "rate_opt_mm_per_h",
            "accuracy",
            "temp_min_C",
            "temp_opt_C",
            "temp_max_C",
            "ph_opt",
            "ph_max",
            "aw_opt",
            "aw_max",
            "visible_mm",
            "visible_least_mm",
            "germination_mm",
            "germination_least_mm",
            "lowest_C",
            "highest_C",
        ),
    ),
    "pathogen_ends": Table(("kind",), ("words",), ("decades", "envelope_factor")),
    "storage_losses": Table(
        ("item",),
        ("foods", "per_day", "per_day_high"),
        (
            "least_mg_per_kg",
            "per_day",
            "per_day_high",
            "reference_C",
            "activation_energy_kJ_mol",
            "left",
            "lowest_C",
            "highest_C",
        ),
    ),
    "floras": Table(
        ("flora",),
        ("kind", "b"),
        (
            "b",
            "temp_min_C",
            "c",
            "temp_max_C",
            "half_sugar_mol_per_kg",
            "lactic_limit_mmol_per_kg",
            "acetic_limit_mmol_per_kg",
            "ph_min",
            "ph_max",
            "aw_min",
            "aw_best",
            "ph_stop",
            "death_per_h",
            "per_growth_mol_per_g",
            "standing_mol_per_g_h",
            "natural_log10_per_g",
            "starter_log10_per_g",
        ),
    ),
    "yeasts": Table(
        ("yeast",),
        ("b",),
        (
            "b",
            "temp_min_C",
            "c",
            "temp_max_C",
            "half_sugar_mol_per_kg",
            "ethanol_limit_percent_vol",
            "aw_min",
            "aw_best",
            "most_cells_g_per_kg",
            "per_growth_mol_per_g",
            "standing_mol_per_g_h",
            "natural_log10_per_g",
            "starter_log10_per_g",
            "cell_g",
            "alcohol_yield",
        ),
    ),
    "vinegar": Table(
        ("process",),
        ("percent_per_day",),
        (
            "percent_per_day",
            "slow_percent_per_day",
            "fast_percent_per_day",
            "temp_min_C",
            "temp_opt_C",
            "temp_max_C",
            "acid_limit_percent",
            "vinegar_yield",
            "lag_days",
        ),
    ),
    "hot_fill": Table(("ph",), ("temperature_C",), ("ph", "temperature_C")),
    "outside_hazards": Table((), ("group", "caution")),
    # what people like, and what sets
    "quality_windows": Table(("window",), ("words",), ("low", "high")),
    # law
    "food_code_tables": Table(
        (),
        ("table_id", "row_type", "outcome"),
        ("aw_low", "aw_high", "ph_low", "ph_high"),
    ),
    "additive_limits": Table((), ("jurisdiction", "citation", "additive", "max_level")),
    "product_standards": Table((), ("jurisdiction", "citation", "product", "parameter")),
    "pathway_rules": Table(("rule_id",), ("jurisdiction", "condition", "outcome")),
    "kinds": Table(("kind",)),
}


def parse(name: str, text: str) -> tuple[Row, ...]:
    """Return the checked rows of CSV *text* by the rules of table *name*.

    Raises:
        TableError: naming the row and column that is wrong.
    """
    table = TABLES[name]
    lines = csv.DictReader(StringIO(text), strict=True)
    needed = {*table.key, *table.required, *table.numbers, "source", "provenance"}
    missing = needed - set(lines.fieldnames or ())
    if missing:
        raise TableError(f"{name}.csv has no column {', '.join(sorted(missing))}.")
    rows: list[Row] = []
    seen: dict[tuple[Any, ...], int] = {}
    for number, line in enumerate(lines, start=2):
        where = f"{name}.csv row {number}"
        row = _checked(table, line, where)
        key = tuple(row[column] for column in table.key)
        if key and key in seen:
            raise TableError(f"{where}: {key} stands in row {seen[key]} already.")
        seen[key] = number
        rows.append(MappingProxyType(row))
    return tuple(rows)


def _checked(table: Table, line: Mapping[str | None, Any], where: str) -> dict[str, Any]:
    if None in line or None in line.values():
        raise TableError(f"{where} has not as many cells as the header.")
    row: dict[str, Any] = {str(column): text.strip() for column, text in line.items()}
    for column in (*table.key, *table.required, "source", "provenance"):
        if not row[column]:
            raise TableError(f"{where}, column {column} is blank.")
    if not row["provenance"].startswith(PROVENANCE):
        raise TableError(
            f"{where}, column provenance: {row['provenance']!r} does not start with "
            f"{', '.join(PROVENANCE)}."
        )
    for column in table.numbers:
        row[column] = _number(row[column], f"{where}, column {column}")
    return row


def _number(text: str, where: str) -> float | None:
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise TableError(f"{where}: {text!r} is not a number.")
    return value


@cache
def rows(name: str) -> tuple[Row, ...]:
    """Return every row of the table *name*, in the order of the file."""
    return parse(name, (files("stillroom") / "data" / f"{name}.csv").read_text("utf-8"))


@cache
def index(name: str) -> Mapping[Any, Row]:
    """Return the rows of *name* by their key; a key of one column is that value itself."""
    key = TABLES[name].key
    if not key:
        raise TypeError(f"table {name} has no key.")
    return MappingProxyType(
        {tuple(r[c] for c in key) if len(key) > 1 else r[key[0]]: r for r in rows(name)}
    )


def row(name: str, key: Any) -> Row:
    """Return the row of *name* with this key.

    Raises:
        InputError: naming the nearest keys.
    """
    try:
        return index(name)[key]
    except KeyError:
        raise InputError(
            f"{key!r} is not in the table {name}.{near(str(key), map(str, index(name)))}"
        ) from None


def near(word: str, known: Iterable[str]) -> str:
    """Return " Near it: a, b." or "" for the *known* words closest to *word*."""
    known = list(known)
    lower = {k.lower(): k for k in reversed(known)}
    hits = [lower[h] for h in get_close_matches(word.lower(), lower, n=4, cutoff=0.6)]
    first = word.lower().split(",")[0].split()
    hits += [k for k in known if first and all(w in k.lower() for w in first) and k not in hits]
    return f" Near it: {'; '.join(hits[:6])}." if hits else ""
