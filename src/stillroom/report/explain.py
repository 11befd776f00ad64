"""What a quantity is, by which equation, from which source, and where it holds."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from stillroom import physics, tables
from stillroom.errors import InputError
from stillroom.labels import Formula

# the quantities of a report, and the formulas each one rests on, in order
QUANTITIES: Mapping[str, tuple[str, ...]] = {
    "water_activity": (
        "shared_water_activity",
        "hydration_molality",
        "norrish_molality",
        "osmotic_coefficient",
        "gab_moisture",
        "ideal_water_activity",
        "product_water_activity",
    ),
    "ph": ("equilibrium_ph", "charge_balance", "pka_at_temperature", "davies_shift", "mixed_pka"),
    "undissociated_acid": ("undissociated_fraction", "undissociated_in_water_phase", "mixed_pka"),
    "buffer_capacity": ("buffer_capacity_mol_per_kg",),
    "titratable_acidity": ("titratable_acidity_mol_per_kg", "titratable_acidity_as"),
    "brix": ("apparent_brix", "refractive_index"),
    "density": ("density_g_per_cm3",),
    "boiling_point": (
        "boiling_point_C",
        "saturation_pressure_kPa",
        "water_boiling_point_C",
        "pressure_at_altitude_kPa",
    ),
    "freezing_point": ("freezing_point_depression_K", "water_activity_of_ice"),
    "inversion": ("inversion_rate_per_min", "inverted_fraction"),
    "crystallisation": ("saturation_ratio",),
    "osmotic_pressure": ("water_potential_MPa", "vant_hoff_pressure_MPa", "relative_cell_volume"),
    "salt": (
        "water_phase_salt_percent",
        "equilibrium_salt_percent",
        "initial_brine_percent",
        "salometer_degrees",
    ),
    "middle_of_a_piece": ("uptake_fraction", "fourier_number", "diffusivity_at_temperature"),
    "lethality": (
        "lethality_min",
        "lethal_rate",
        "equivalent_hold_min",
        "log_reductions",
        "mass_average_lethality_min",
        "weibull_log_reduction",
    ),
    "heating_of_a_pack": (
        "unaccomplished_change",
        "temperature_C",
        "heat_pack",
        "heating_rate_fh_min",
        "lag_factor_jh",
        "overall_conductance_W_per_m2_K",
        "mixed_heating_rate_min",
        "heating_line_C",
        "process_time_min",
    ),
    "filling_and_closing": ("filled_temperature_C", "jar_vacuum_kPa"),
    "growth": (
        "log10_count",
        "work_done",
        "growth_potential",
        "cardinal_factor",
        "square_root_rate_per_h",
        "acid_factor",
        "log10_counts_competing",
        "time_to_increase_h",
        "mould_free_days",
        "earliest_toxin_days",
    ),
    "keeping_time": (
        "growth_potential",
        "potential_for_growth",
        "time_reached",
        "cardinal_factor",
        "mould_free_days",
        "earliest_toxin_days",
        "rate_constant",
    ),
    "ferment": (
        "lactic_growth_rate_per_h",
        "acid_made_mol_per_kg_h",
        "square_root_rate_per_h",
        "potential_alcohol_percent_vol",
        "ethanol_mol_per_kg_water",
        "ethanol_percent_vol",
        "acetic_made_percent",
    ),
    "sorption": (
        "moisture_gab",
        "water_activity_gab",
        "gab_domain_end",
        "moisture_bet",
        "moisture_oswin",
        "moisture_halsey",
        "moisture_peleg",
        "moisture_mod_chung_pfost",
        "moisture_mod_henderson",
        "water_activity_at_temperature",
        "mean_relative_deviation_percent",
    ),
    "drying": (
        "dried_mass_kg",
        "drying_time_h",
        "falling_rate_time",
        "moisture_ratio_page",
        "uptake_fraction",
        "moisture_diffusivity_m2_per_s",
        "air_humidity_ratio",
        "wet_bulb_C",
        "adiabatic_pick_up",
        "least_heat_kWh_per_kg",
        "dryer_efficiency",
        "water_left_kg",
    ),
    "osmotic_drying": ("water_loss", "solids_gain", "azuara_change", "azuara_limit"),
    "pack": (
        "permeance_g_per_m2_day_Pa",
        "permeance_at_temperature_g_per_m2_day_Pa",
        "laminate",
        "conductance_g_per_day_Pa",
        "hole_g_per_day_Pa",
        "days_to_moisture_linear",
        "days_to_water_activity",
        "water_activity_through_climate",
        "sealed_mix_water_activity",
        "desiccant_g",
    ),
    "curing": (
        "ingoing_mg_per_kg",
        "ingoing_pumped_mg_per_kg",
        "ingoing_immersed_mg_per_kg",
        "cure_mass_kg",
        "brine_salt_kg",
        "moisture_protein_ratio",
        "mass_at_mpr_kg",
        "degree_hours",
        "degree_hours_limit",
    ),
    "growth_boundary": ("hurdle_distance", "acid_distance", "interaction_psi", "interaction_xi"),
    "sulfur_dioxide": (
        "molecular_so2_mg_per_L",
        "free_so2_mol_per_L",
        "free_so2_for_molecular_mg_per_L",
    ),
}


@dataclass(frozen=True)
class Explanation:
    """One formula, explained."""

    name: str
    summary: str
    equation: str
    unit: str
    source: str
    validity: Mapping[str, tuple[float, float]]
    body: str


@cache
def _functions() -> Mapping[str, Callable[..., Any]]:
    """Return every public function of the physics, by name."""
    found: dict[str, Callable[..., Any]] = {}
    for module in iter_modules(physics.__path__):
        loaded = import_module(f"stillroom.physics.{module.name}")
        for name, value in vars(loaded).items():
            public = inspect.isfunction(value) and not name.startswith("_")
            if public and value.__module__ == loaded.__name__:
                found[name] = value
    return found


def formulas() -> Mapping[str, Callable[..., Any]]:
    """Return every function that carries a formula label."""
    return {name: f for name, f in _functions().items() if hasattr(f, "formula")}


def explain(quantity: str) -> list[Explanation]:
    """Return the formulas behind a quantity, or one formula by its name.

    Raises:
        InputError: an unknown quantity, with near ones.
    """
    word = quantity.strip().lower().replace(" ", "_").replace("-", "_")
    names = QUANTITIES.get(word) or ((word,) if word in _functions() else ())
    by_case = {name.lower(): name for name in _functions()}
    if not names and word in by_case:
        names = (by_case[word],)
    if not names:
        known = [*QUANTITIES, *_functions()]
        raise InputError(
            f"{quantity!r} is not a quantity.{tables.near(word, known)} "
            f"Quantities: {', '.join(QUANTITIES)}."
        )
    return [_explanation(name) for name in names]


def _explanation(name: str) -> Explanation:
    function = _functions()[name]
    label = getattr(function, "formula", None)
    summary, *paragraphs = (inspect.getdoc(function) or "").split("\n\n")
    summary, _, equation = summary.partition("\n")
    source = next((p for p in paragraphs if p.startswith("Source:")), "")
    own = " ".join(source.removeprefix("Source:").split())
    labelled = f"{label.source}. {label.place}".rstrip(". ") if isinstance(label, Formula) else ""
    return Explanation(
        name=name,
        summary=summary,
        equation=equation or paragraphs.pop(0),
        unit=label.unit if isinstance(label, Formula) else "",
        source=". ".join(filter(None, [labelled, own])),
        validity=label.validity if isinstance(label, Formula) else {},
        body="\n\n".join(p for p in paragraphs if p != source),
    )
