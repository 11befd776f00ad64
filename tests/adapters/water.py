"""Adapters for water activity, boiling, freezing, refraction, density and sugar."""

from __future__ import annotations

from adapters import adapter
from stillroom.physics import brine, osmosis, phase, sugar
from stillroom.product import properties
from stillroom.product.mixture import Mixture


@adapter("water_activity")
def water_activity(mixture_g, temperature_C=25.0):
    return float(properties.water_activity(Mixture.of(mixture_g), temperature_C))


@adapter("water_activity_salted_food")
def water_activity_salted_food(NaCl_mol_per_kg_water, temperature_C=25.0):
    salted = Mixture.of({"water": 1000.0, "NaCl": 58.443 * NaCl_mol_per_kg_water})
    return float(properties.water_activity(salted, temperature_C))


@adapter("freezing_point_depression")
def freezing_point_depression(mixture_g):
    return -float(properties.freezing_point_C(Mixture.of(mixture_g)))


@adapter("water_activity_from_freezing_point")
def water_activity_from_freezing_point(freezing_point_depression_K):
    return float(phase.water_activity_of_ice(freezing_point_depression_K))


@adapter("saturated_salt_water_activity")
def saturated_salt_water_activity(salt, temperature_C):
    return properties.saturated_salt_water_activity(salt, temperature_C)


@adapter("boiling_point")
def boiling_point(mixture_g, pressure_kPa=phase.STANDARD_PRESSURE_KPA):
    return float(properties.boiling_point_C(Mixture.of(mixture_g), pressure_kPa))


@adapter("boiling_point_elevation")
def boiling_point_elevation(mixture_g, pressure_kPa=phase.STANDARD_PRESSURE_KPA):
    pure = float(phase.water_boiling_point_C(pressure_kPa))
    return float(properties.boiling_point_C(Mixture.of(mixture_g), pressure_kPa)) - pure


@adapter("refractive_index")
def refractive_index(mixture_g, temperature_C=20.0):
    _only_at_20(temperature_C)
    return float(properties.refractive_index(Mixture.of(mixture_g)))


@adapter("apparent_brix")
def apparent_brix(mixture_g, temperature_C=20.0):
    _only_at_20(temperature_C)
    return float(properties.brix(Mixture.of(mixture_g)))


@adapter("density")
def density(mixture_g, temperature_C=20.0):
    _only_at_20(temperature_C)
    return float(properties.density_g_per_cm3(Mixture.of(mixture_g)))


def _only_at_20(temperature_C):
    from adapters import NotCovered

    if temperature_C != 20:
        raise NotCovered(f"this property is given at 20 °C, asked at {temperature_C} °C")


@adapter("salometer_degrees")
def salometer_degrees(NaCl_mass_percent):
    return float(brine.salometer_degrees(NaCl_mass_percent))


@adapter("brix_temperature_correction")
def brix_temperature_correction(brix_reading, temperature_C):
    return properties.brix_temperature_correction(brix_reading, temperature_C)


@adapter("solubility")
def solubility(solute, temperature_C):
    return float(properties.solubility_mass_percent(solute, temperature_C))


@adapter("sucrose_inversion_rate")
def sucrose_inversion_rate(pH, temperature_C, water_g_per_cm3=1.0):
    return float(sugar.inversion_rate_per_min(pH, temperature_C, water_g_per_cm3))


@adapter("sucrose_fraction_inverted")
def sucrose_fraction_inverted(pH, temperature_C, time_min, water_g_per_cm3=1.0):
    rate = sugar.inversion_rate_per_min(pH, temperature_C, water_g_per_cm3)
    return float(sugar.inverted_fraction(rate, time_min))


@adapter("water_potential")
def water_potential(water_activity, temperature_C=25.0):
    return float(osmosis.water_potential_MPa(water_activity, temperature_C))


@adapter("relative_cell_volume")
def relative_cell_volume(
    nonosmotic_fraction, initial_osmotic_pressure_MPa, external_osmotic_pressure_MPa
):
    return float(
        osmosis.relative_cell_volume(
            external_osmotic_pressure_MPa, initial_osmotic_pressure_MPa, nonosmotic_fraction
        )
    )
