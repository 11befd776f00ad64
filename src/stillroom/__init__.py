"""Stillroom: from a recipe and a process to a defensible judgement of a preserved food.

>>> import stillroom as sr
>>> syrup = sr.Mixture.of({"water": 33.3, "sucrose": 66.7})
>>> round(float(sr.water_activity(syrup)), 2)
0.85
"""

from stillroom.assess.dry.recipes import DryJudgement, dry
from stillroom.assess.ferment.recipes import FermentJudgement, ferment
from stillroom.assess.fit import Fit, fit
from stillroom.assess.heat.judgement import Heating
from stillroom.assess.heat.recipes import heat, heat_ways, judge_log
from stillroom.assess.isotherm_fit import IsothermFit, fit_isotherm
from stillroom.assess.keep.ending import KeepTimes
from stillroom.assess.keep.recipes import keep_times
from stillroom.assess.pipeline import assess
from stillroom.assess.result import Assessment, Estimate, Finding, Outcome
from stillroom.errors import InputError, StillroomError
from stillroom.plan.levers import Levers, levers
from stillroom.plan.population import Population, population
from stillroom.plan.routes import Routes, routes
from stillroom.product.counts_file import Counts, read_counts
from stillroom.product.mixture import Mixture
from stillroom.product.process import Batch, Stage, run
from stillroom.product.properties import (
    acid_dose_for_ph_kg,
    boiling_point_C,
    brix,
    buffer_capacity_mmol_per_kg,
    density_g_per_cm3,
    dry_matter_percent,
    freezing_point_C,
    osmotic_pressure_MPa,
    ph,
    refractive_index,
    saturation_ratio,
    titratable_acidity_percent,
    undissociated_mmol_per_kg,
    water_activity,
    water_phase_salt_percent,
)
from stillroom.product.rates_file import Rates, read_rates
from stillroom.product.recipe import Recipe
from stillroom.product.recipe_file import parse_recipe, read_recipe
from stillroom.product.sorption_file import SorptionPoints, read_sorption
from stillroom.product.trace import Trace, read_trace

__version__ = "0.1.0"

__all__ = [
    "Assessment",
    "Batch",
    "Counts",
    "DryJudgement",
    "Estimate",
    "FermentJudgement",
    "Finding",
    "Fit",
    "Heating",
    "InputError",
    "IsothermFit",
    "KeepTimes",
    "Levers",
    "Mixture",
    "Outcome",
    "Population",
    "Rates",
    "Recipe",
    "Routes",
    "SorptionPoints",
    "Stage",
    "StillroomError",
    "Trace",
    "acid_dose_for_ph_kg",
    "assess",
    "boiling_point_C",
    "brix",
    "buffer_capacity_mmol_per_kg",
    "density_g_per_cm3",
    "dry",
    "dry_matter_percent",
    "ferment",
    "fit",
    "fit_isotherm",
    "freezing_point_C",
    "heat",
    "heat_ways",
    "judge_log",
    "keep_times",
    "levers",
    "osmotic_pressure_MPa",
    "parse_recipe",
    "ph",
    "population",
    "read_counts",
    "read_rates",
    "read_recipe",
    "read_sorption",
    "read_trace",
    "refractive_index",
    "routes",
    "run",
    "saturation_ratio",
    "titratable_acidity_percent",
    "undissociated_mmol_per_kg",
    "water_activity",
    "water_phase_salt_percent",
]
