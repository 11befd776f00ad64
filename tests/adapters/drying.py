"""Adapters for sorption, drying air and times, osmotic dehydration, salting and sausages."""

from __future__ import annotations

import numpy as np

from adapters import NotCovered, adapter
from stillroom.assess.isotherm_fit import fit_isotherm
from stillroom.errors import InputError
from stillroom.physics import (
    air,
    brine,
    drying,
    osmotic_drying,
    salting,
    sorption,
    thin_layer,
)
from stillroom.physics.isotherms import moisture_halsey, moisture_oswin
from stillroom.product import properties

STANDARD_KPA = 101.325


def bound(function, *values, **constants):
    """Call a function of named constants; other constants than its own are not covered."""
    try:
        return function(*values, **constants)
    except TypeError as problem:
        raise NotCovered(str(problem)) from None


# --- isotherms --------------------------------------------------------------------------------


@adapter("moisture_wet_to_dry_basis")
def moisture_wet_to_dry_basis(moisture_wet_basis_percent):
    return 100 * float(drying.dry_basis_moisture(moisture_wet_basis_percent / 100))


@adapter("isotherm_gab_moisture")
def isotherm_gab_moisture(xm, C, water_activity, K=1.0):
    return float(sorption.moisture_gab(water_activity, xm, C, K))


@adapter("isotherm_gab_inverse_aw")
def isotherm_gab_inverse(xm, C, moisture_db, K=1.0):
    return float(sorption.water_activity_gab(moisture_db, xm, C, K))


@adapter("isotherm_halsey_moisture")
def isotherm_halsey_moisture(A, B, water_activity):
    return float(moisture_halsey(water_activity, A, B))


@adapter("isotherm_oswin_moisture")
def isotherm_oswin_moisture(A, B, water_activity):
    return float(moisture_oswin(water_activity, A, B))


@adapter("bet_monolayer_from_linear_plot")
def bet_monolayer(plot, intercept, slope):
    if plot.replace(" ", "") != "aw/[(1-aw)*M]againstaw":
        raise NotCovered(f"plot {plot}")
    return float(sorption.bet_monolayer(intercept, slope))


DECIMAL = ("chung_pfost_emc",)  # moisture a fraction; per cent in the others


@adapter("equilibrium_moisture_percent")
def equilibrium_moisture(equation, parameters, water_activity, basis, temperature_C=25.0):
    if equation not in sorption.FORMS or basis not in ("wet", "dry"):
        raise NotCovered(f"equation {equation}, basis {basis}")
    form = sorption.FORMS[equation]
    warmth = {"temperature_C": temperature_C} if form.with_temperature else {}
    M = float(bound(form.moisture, water_activity, **parameters, **warmth))
    M = M if equation in DECIMAL else M / 100
    return 100 * float(M if basis == "dry" else drying.wet_basis_moisture(M))


@adapter("water_activity_temperature_shift")
def water_activity_shift(
    water_activity, temperature_C, new_temperature_C, net_isosteric_heat_kJ_mol
):
    return float(
        sorption.water_activity_at_temperature(
            water_activity, temperature_C, new_temperature_C, net_isosteric_heat_kJ_mol
        )
    )


@adapter("isotherm_fit_mean_relative_deviation")
def mean_relative_deviation(observed, predicted):
    return float(sorption.mean_relative_deviation_percent(observed, predicted))


@adapter("isotherm_fit_gab")
def isotherm_fit_gab(water_activity, moisture, weights, parameter, sd=None):
    try:
        fitted = fit_isotherm(water_activity, moisture, "gab", weights, sd=sd)
        return fitted[parameter].value
    except (InputError, KeyError) as problem:
        raise NotCovered(str(problem)) from None


# --- air --------------------------------------------------------------------------------------


@adapter("rh_after_heating_ambient_air")
def rh_after_heating(ambient_C, ambient_relative_humidity, heated_to_C, pressure_kPa=STANDARD_KPA):
    W = air.air_humidity_ratio(ambient_C, ambient_relative_humidity, pressure_kPa)
    return float(air.air_relative_humidity(heated_to_C, W, pressure_kPa))


@adapter("max_adiabatic_moisture_pickup")
def adiabatic_pick_up(inlet_C, humidity_ratio_kg_kg, pressure_kPa=STANDARD_KPA):
    return float(air.adiabatic_pick_up(inlet_C, humidity_ratio_kg_kg, pressure_kPa))


@adapter("wet_bulb_temperature")
def wet_bulb(dry_bulb_C, relative_humidity, pressure_kPa=STANDARD_KPA):
    W = air.air_humidity_ratio(dry_bulb_C, relative_humidity, pressure_kPa)
    return float(air.wet_bulb_C(dry_bulb_C, W, pressure_kPa))


@adapter("latent_heat_vaporisation")
def latent_heat(temperature_C):
    return float(air.latent_heat_kJ_per_kg(temperature_C))


# --- drying -----------------------------------------------------------------------------------


@adapter("final_mass_after_drying")
def final_mass(initial_mass_kg, moisture_initial_wb_percent, moisture_final_wb_percent):
    return float(
        drying.dried_mass_kg(
            initial_mass_kg, moisture_initial_wb_percent / 100, moisture_final_wb_percent / 100
        )
    )


@adapter("thin_layer_mr")
def thin_layer_mr(equation, parameters, time_min):
    name = {"newton": "lewis"}.get(equation, equation)
    if name not in thin_layer.CURVES:
        raise NotCovered(f"equation {equation}")
    return float(bound(thin_layer.CURVES[name], time_min, **parameters))


@adapter("diffusivity_arrhenius")
def diffusivity(D_ref_m2_s, reference_C, activation_energy_kJ_mol, temperature_C):
    return float(
        drying.moisture_diffusivity_m2_per_s(
            D_ref_m2_s, reference_C, activation_energy_kJ_mol, temperature_C
        )
    )


@adapter("drying_time_constant_plus_falling")
def drying_time(dry_solids_kg, area_m2, constant_rate_kg_m2_h, X0, Xc, Xf, Xe=0.0):
    return float(
        drying.drying_time_h(dry_solids_kg, area_m2, constant_rate_kg_m2_h, X0, Xc, Xf, Xe)
    )


@adapter("minimum_heat_per_kg_water")
def minimum_heat(product_C, evaporation_C, cp_water_kJ_kgK=4.18, net_isosteric_heat_kJ_mol=0.0):
    return float(
        drying.least_heat_kWh_per_kg(
            product_C, evaporation_C, net_isosteric_heat_kJ_mol, cp_water_kJ_kgK
        )
    )


@adapter("dryer_efficiency")
def dryer_efficiency(
    electricity_kWh,
    fresh_mass_kg,
    moisture_initial_wb_percent,
    moisture_final_wb_percent,
    useful_heat_kJ_per_kg_water,
):
    dried = final_mass(fresh_mass_kg, moisture_initial_wb_percent, moisture_final_wb_percent)
    return float(
        drying.dryer_efficiency(fresh_mass_kg - dried, useful_heat_kJ_per_kg_water, electricity_kWh)
    )


@adapter("osmotic_azuara_water_loss")
def azuara(wl_inf_g_per_g, s1_per_min, time_min):
    return float(osmotic_drying.azuara_change(time_min, wl_inf_g_per_g, s1_per_min))


@adapter("osmotic_azuara_fit_wl_inf")
def azuara_fit(time_min, wl_g_per_g):
    return float(osmotic_drying.azuara_limit(time_min, wl_g_per_g))


@adapter("osmotic_water_loss")
def osmotic_water_loss(initial_g, initial_water_percent, final_g, final_water_percent):
    return float(
        osmotic_drying.water_loss(
            initial_g, initial_water_percent / 100, final_g, final_water_percent / 100
        )
    )


# --- salt, cure, sausages ---------------------------------------------------------------------


def nacl_water_activity(temperature_C=25.0):
    """Return molality -> water activity of a sodium chloride brine."""
    curve = properties.brine_curve({}, temperature_C)
    return lambda m: curve(2 * np.reshape(m, -1), slice(None)).reshape(np.shape(m))


@adapter("water_phase_salt")
def water_phase_salt(salt_percent, moisture_percent):
    return float(brine.water_phase_salt_percent(salt_percent, moisture_percent))


@adapter("water_phase_salt_for_water_activity")
def water_phase_salt_for(water_activity, temperature_C=25.0):
    m = salting.molality_at_water_activity(water_activity, nacl_water_activity(temperature_C))
    return float(brine.water_phase_salt_percent(m * properties.NACL_KG_PER_MOL, 1.0))


@adapter("route_water_to_remove")
def route_water_to_remove(
    water_g, nonsalt_solids_g, salt_added_g, target_water_activity, matrix_gab
):
    left_kg = drying.water_left_kg(
        target_water_activity,
        nonsalt_solids_g / 1000,
        salt_added_g / 1000 / properties.NACL_KG_PER_MOL,
        lambda moisture: bound(sorption.water_activity_gab, moisture, **{"K": 1.0} | matrix_gab),
        nacl_water_activity(),
    )
    return water_g - 1000 * float(left_kg)


@adapter("route_drying_time_ratio")
def route_drying_time_ratio(X0, Xf_no_salt, Xf_salted, Xe=0.0):
    salted, plain = (drying.falling_rate_time(X0, x, 1.0, Xe) for x in (Xf_salted, Xf_no_salt))
    return float(salted / plain)


@adapter("equilibrium_brine_salt")
def equilibrium_brine_salt(meat_g, water_g, target_salt_fraction_of_total):
    return 1000 * float(
        salting.brine_salt_kg(target_salt_fraction_of_total, meat_g / 1000, water_g / 1000)
    )


@adapter("cure_mass_dry_rub")
def cure_mass(meat_g, target_ppm, cure_nitrite_fraction, rind_fraction=0.0):
    return 1000 * float(
        salting.cure_mass_kg(meat_g / 1000, target_ppm, cure_nitrite_fraction, rind_fraction)
    )


@adapter("nitrite_potassium_equivalent")
def nitrite_potassium_equivalent(sodium_nitrite_ppm):
    return float(salting.potassium_nitrite_mg_per_kg(sodium_nitrite_ppm))


@adapter("moisture_protein_ratio")
def moisture_protein_ratio(moisture_percent, protein_percent):
    return float(salting.moisture_protein_ratio(moisture_percent, protein_percent))


@adapter("final_mass_for_mpr")
def final_mass_for_mpr(
    lean_meat_g, moisture_percent, protein_percent, target_mpr, added_dry_ingredients_g=0.0
):
    return 1000 * float(
        salting.mass_at_mpr_kg(
            lean_meat_g / 1000,
            moisture_percent / 100,
            protein_percent / 100,
            target_mpr,
            added_dry_ingredients_g / 1000,
        )
    )


@adapter("degree_hours")
def degree_hours(stages, threshold, temperature_unit):
    if any(set(stage) != {"hours", "temperature"} for stage in stages):
        raise NotCovered("words of a stage")
    hours, temperature = ([s[w] for s in stages] for w in ("hours", "temperature"))
    return float(salting.degree_hours(hours, temperature, threshold))


@adapter("degree_hours_limit_time")
def degree_hours_limit_time(temperature, threshold, limit_degree_hours, temperature_unit):
    return float(salting.degree_hours_limit_h(limit_degree_hours, temperature, threshold))
