"""Adapters for lethality, heat transfer, heat penetration, filling and the kettle."""

from __future__ import annotations

import numpy as np

from adapters import NotCovered, adapter
from stillroom import tables
from stillroom.assess.heat.targets import fill_needed_C
from stillroom.physics import death, heat, penetration, phase, transfer
from stillroom.product import heating
from stillroom.product.properties import thermal

# --- lethality --------------------------------------------------------------------------------


@adapter("lethal_rate")
def lethal_rate(temperature_C, reference_C, z_C):
    return float(death.lethal_rate(temperature_C, reference_C, z_C))


@adapter("lethality")
def lethality(time_min, temperature_C, reference_C, z_C, rule="trapezoid", interpolation=None):
    if interpolation == "linear":  # the line between the points is the history
        fine = np.union1d(time_min, np.linspace(time_min[0], time_min[-1], 4001))
        time_min, temperature_C = fine, np.interp(fine, time_min, temperature_C)
    return float(death.lethality_min(time_min, temperature_C, reference_C, z_C, rule=rule))


@adapter("lethality_two_slope")
def lethality_two_slope(
    time_min, temperature_C, reference_C, z_below_C, z_above_C, rule="trapezoid"
):
    return float(
        death.lethality_min(time_min, temperature_C, reference_C, z_below_C, z_above_C, rule)
    )


@adapter("lethality_from_lethal_rates")
def lethality_from_lethal_rates(interior_sum_of_L, L_first, L_last, step_min):
    return step_min * (interior_sum_of_L + (L_first + L_last) / 2)


@adapter("time_equivalent_to_90C_10min")
def time_equivalent(temperature_C, z_below_90_C=9.0, z_above_90_C=10.0):
    return float(death.equivalent_hold_min(temperature_C, 10, 90, z_below_90_C, z_above_90_C))


@adapter("time_for_5log_min")
def time_for_5log(F_ref_min, reference_C, z_C, temperature_C, organism=None, medium=None):
    return float(death.equivalent_hold_min(temperature_C, F_ref_min, reference_C, z_C))


@adapter("D_value")
def d_value(D_ref_min, reference_C, temperature_C, z_C):
    return float(death.equivalent_hold_min(temperature_C, D_ref_min, reference_C, z_C))


@adapter("PU_beverage")
def pasteurisation_units(temperature_C, time_min, base, reference_C):
    return float(time_min * death.lethal_rate(temperature_C, reference_C, 1 / np.log10(base)))


@adapter("F_for_log_reductions")
def lethality_for(D_ref_min, log_reductions):
    return float(death.lethality_for_reductions_min(log_reductions, D_ref_min))


@adapter("log_reductions")
def log_reductions(F_min, D_ref_min, z_C=None):
    return float(death.log_reductions(F_min, D_ref_min))


@adapter("retention")
def retention(temperature_C, time_min, D_ref_min, reference_C, z_C):
    F = time_min * death.lethal_rate(temperature_C, reference_C, z_C)
    return float(death.fraction_left(F, D_ref_min))


@adapter("z_from_D_values")
def z_from_d_values(temperature_C, D_min):
    return float(death.z_from_d_values_C(temperature_C, D_min))


@adapter("z_from_activation_energy")
def z_from_activation_energy(activation_energy_kJ_mol, temperature_C):
    return float(death.z_from_activation_energy_C(activation_energy_kJ_mol, temperature_C))


@adapter("rate_constant_arrhenius")
def rate_constant(k_ref, reference_C, activation_energy_kJ_mol, temperature_C):
    return float(death.rate_constant(k_ref, reference_C, activation_energy_kJ_mol, temperature_C))


@adapter("fraction_left_first_order")
def fraction_left(k_ref_per_min, reference_C, activation_energy_kJ_mol, temperature_C, time_min):
    k = death.rate_constant(k_ref_per_min, reference_C, activation_energy_kJ_mol, temperature_C)
    return float(death.fraction_left(time_min, death.d_from_rate_constant_min(k)))


@adapter("weibull_time_for_log_reduction")
def weibull_time(delta_min, p, log_reduction):
    return float(death.weibull_time_min(log_reduction, delta_min, p))


@adapter("weibull_log_reduction")
def weibull_log_reduction(delta_min, p, time_min):
    return float(death.weibull_log_reduction(time_min, delta_min, p))


@adapter("D_ratio_from_aw")
def d_ratio(z_water_activity, water_activity_1, water_activity_2, organism=None):
    return float(
        death.d_ratio_from_water_activity(water_activity_1, water_activity_2, z_water_activity)
    )


# --- conduction -------------------------------------------------------------------------------


def body_of(
    shape,
    alpha_m2_s=1.0,
    h_W_m2K="inf",
    k_W_mK=None,
    half_thickness_m=None,
    radius_m=None,
):
    return transfer.Body(shape, alpha_m2_s, half_thickness_m, radius_m, k_W_mK, float(h_W_m2K))


def seconds(minutes):
    return 60 * np.asarray(minutes, float)


@adapter("unaccomplished_change")
def unaccomplished_change(shape, position, Fo, Bi):
    return float(transfer.unaccomplished_change(shape, Fo, float(Bi), position))


@adapter("first_eigenvalue")
def first_eigenvalue(shape, Bi):
    return float(transfer.eigenvalues(shape, float(Bi))[0])


@adapter("first_coefficient")
def first_coefficient(shape, Bi):
    return float(transfer.coefficients(shape, transfer.eigenvalues(shape, float(Bi))[0]))


@adapter("fh_conduction")
def fh_conduction(shape, alpha_m2_s, **body):
    return transfer.heating_rate_fh_min(body_of(shape, alpha_m2_s, **known(body)))


@adapter("jh_conduction_centre")
def jh_conduction(shape, Bi):
    if float(Bi) != np.inf:
        raise NotCovered("a Biot number without sizes")
    return transfer.lag_factor_jh(body_of(shape, half_thickness_m=1.0, radius_m=1.0))


BODY = {"h_W_m2K", "k_W_mK", "half_thickness_m", "radius_m"}


def known(body):
    if unknown := set(body) - BODY:
        raise NotCovered(f"unknown input {', '.join(sorted(unknown))}")
    return body


@adapter("centre_temperature")
def centre_temperature(shape, alpha_m2_s, start_C, medium_time_min, medium_C, at_min, **body):
    body = body_of(shape, alpha_m2_s, **known(body))
    t = seconds(at_min)
    return float(transfer.temperature_C(body, t, start_C, seconds(medium_time_min), medium_C))


def history(shape, alpha_m2_s, start_C, medium_time_min, medium_C, until_min, body, place):
    time = np.linspace(0, seconds(until_min), 2001)
    body = body_of(shape, alpha_m2_s, **known(body))
    course = transfer.temperature_C(body, time, start_C, seconds(medium_time_min), medium_C, place)
    return time / 60, course


@adapter("centre_peak_temperature")
def centre_peak(shape, alpha_m2_s, start_C, medium_time_min, medium_C, **body):
    until = medium_time_min[-1]
    args = (shape, alpha_m2_s, start_C, medium_time_min, medium_C, until, body, "centre")
    return float(history(*args)[1].max())


@adapter("centre_lethality")
def centre_lethality(
    shape,
    alpha_m2_s,
    start_C,
    medium_time_min,
    medium_C,
    reference_C,
    z_C,
    until_min,
    **body,
):
    args = (shape, alpha_m2_s, start_C, medium_time_min, medium_C, until_min, body, "centre")
    return float(death.lethality_min(*history(*args), reference_C, z_C))


def everywhere(shape, alpha_m2_s, start_C, medium_time_min, medium_C, reference_C, z_C, body):
    """Return (lethality at places all over the body, share of the volume of each)."""
    body = body_of(shape, alpha_m2_s, **known(body))
    places, weights = transfer.quadrature(body)
    time = np.linspace(0, seconds(medium_time_min[-1]), 2001)
    courses = transfer.temperatures_C(
        body, time, start_C, seconds(medium_time_min), medium_C, places
    )
    return death.lethality_min(time / 60, courses, reference_C, z_C), weights


@adapter("mass_average_retention")
def mass_average_retention(
    shape, alpha_m2_s, start_C, medium_time_min, medium_C, D_ref_min, reference_C, z_C, **body
):
    F, weights = everywhere(
        shape, alpha_m2_s, start_C, medium_time_min, medium_C, reference_C, z_C, body
    )
    return float(weights @ death.fraction_left(F, D_ref_min))


@adapter("mass_average_lethality")
def mass_average_lethality(
    shape, alpha_m2_s, start_C, medium_time_min, medium_C, D_ref_min, reference_C, z_C, **body
):
    F, weights = everywhere(
        shape, alpha_m2_s, start_C, medium_time_min, medium_C, reference_C, z_C, body
    )
    return float(death.mass_average_lethality_min(F, weights, D_ref_min))


# --- penetration ------------------------------------------------------------------------------


@adapter("fh_from_logger")
def fh_from_logger(time_min, temperature_C, medium_C, start_C, come_up_min=0.0):
    fit = penetration.fit_penetration(time_min, temperature_C, medium_C, start_C, come_up_min)
    return fit.f_min


@adapter("jh_from_logger")
def jh_from_logger(time_min, temperature_C, medium_C, start_C, come_up_min=0.0):
    return penetration.fit_penetration(time_min, temperature_C, medium_C, start_C, come_up_min).j


@adapter("jh_with_come_up_correction")
def jh_with_come_up(
    log10_intercept_at_steam_on, fh_min, medium_C, start_C, come_up_min, effective_fraction
):
    return float(
        penetration.lag_factor_after_come_up(
            log10_intercept_at_steam_on, fh_min, medium_C, start_C, come_up_min, effective_fraction
        )
    )


@adapter("g_from_fh_over_U_Stumbo")
def g_stumbo(fh_over_U, jc, z_F):
    if z_F != 18:
        raise NotCovered("the table is for z = 18 F")
    return float(heating.stumbo_g_C(fh_over_U, jc)) * penetration.FAHRENHEIT_PER_KELVIN


@adapter("g_Ball_integral")
def g_ball(fh_over_U, jc, fc_over_fh, m_plus_g_C, z_C, heating_from_below_Tm_C):
    if jc != 1.41:
        raise NotCovered("Ball's cooling curve has j 1.41")
    return penetration.ball_g_C(fh_over_U, z_C, m_plus_g_C, fc_over_fh, heating_from_below_Tm_C)


@adapter("Ball_process_time_B")
def ball_process_time(F0_min, medium_C, start_C, fh_min, jh, jc, z_C, g_table):
    if g_table != "Stumbo" or z_C != 10:
        raise NotCovered("the table is for z = 10 C")
    U = death.equivalent_hold_min(medium_C, F0_min, 121.1, z_C)
    g_C = heating.stumbo_g_C(fh_min / float(U), jc)
    return float(penetration.process_time_min(fh_min, jh, medium_C, start_C, g_C))


def broken(time, f1_min, f2_min, jh, t_break_min, medium_C, start_C):
    return penetration.heating_line_C(time, medium_C, start_C, f1_min, jh, t_break_min, f2_min)


@adapter("broken_heating_g_end")
def broken_g(f1_min, f2_min, jh, t_break_min, medium_C, start_C, B_min):
    return medium_C - float(broken(B_min, f1_min, f2_min, jh, t_break_min, medium_C, start_C))


@adapter("broken_heating_F0_heating_phase")
def broken_lethality(f1_min, f2_min, jh, t_break_min, medium_C, start_C, B_min):
    time = np.linspace(0, B_min, 4001)
    course = broken(time, f1_min, f2_min, jh, t_break_min, medium_C, start_C)
    return float(death.lethality_min(time, course, 121.1, 10.0))


@adapter("fh_lumped_convection")
def fh_lumped(mass_kg, cp_J_kgK, U_W_m2K, area_m2):
    return float(heat.mixed_heating_rate_min(mass_kg, cp_J_kgK, U_W_m2K, area_m2))


@adapter("overall_heat_transfer_coefficient")
def overall(h_medium_W_m2K, wall_m, k_wall_W_mK):
    return float(heat.overall_conductance_W_per_m2_K(h_medium_W_m2K, wall_m, k_wall_W_mK))


# --- properties -------------------------------------------------------------------------------


@adapter("mixture_k")
def mixture_k(mass_fractions, temperature_C):
    return float(thermal.thermal_property(mass_fractions, "conductivity_W_per_m_K", temperature_C))


@adapter("mixture_rho")
def mixture_rho(mass_fractions, temperature_C):
    return float(thermal.thermal_property(mass_fractions, "density_kg_per_m3", temperature_C))


@adapter("mixture_cp")
def mixture_cp(mass_fractions, temperature_C):
    c = thermal.thermal_property(mass_fractions, "heat_capacity_J_per_kg_K", temperature_C)
    return float(c) / 1000


@adapter("mixture_alpha")
def mixture_alpha(mass_fractions, temperature_C):
    return float(thermal.diffusivity_m2_per_s(mass_fractions, temperature_C))


@adapter("cp_proximate_linear")
def cp_proximate(coefficients_kJ_kgK, **shares):
    return sum(shares[n] * c for n, c in coefficients_kJ_kgK.items())


# --- kettle, filling, canner ------------------------------------------------------------------


@adapter("boiling_point_water_at_altitude")
def boiling_point_at_altitude(altitude_m):
    return float(phase.water_boiling_point_C(phase.pressure_at_altitude_kPa(altitude_m)))


@adapter("jam_finish_temperature")
def jam_finish(altitude_m):
    return boiling_point_at_altitude(altitude_m) + 8 / penetration.FAHRENHEIT_PER_KELVIN


@adapter("canner_steam_temperature")
def canner(altitude_m, gauge_psi):
    return float(heat.steam_temperature_C(phase.pressure_at_altitude_kPa(altitude_m), gauge_psi))


@adapter("water_to_evaporate")
def water_to_evaporate(mass_kg, solids_start, solids_end):
    return float(heat.water_to_boil_off_kg(mass_kg, solids_start, solids_end))


@adapter("boil_down_time")
def boil_down_time(mass_kg, solids_start, solids_end, boil_C, net_power_kW):
    water = heat.water_to_boil_off_kg(mass_kg, solids_start, solids_end)
    return float(heat.boil_off_min(water, boil_C, net_power_kW))


@adapter("kettle_heat_up_time_constant_power")
def heat_up(mass_kg, cp_J_kgK, start_C, end_C, net_power_kW):
    return float(heat.heat_up_min(mass_kg, cp_J_kgK, start_C, end_C, net_power_kW))


@adapter("kettle_heat_up_time_steam_jacket")
def jacket(mass_kg, cp_J_kgK, U_W_m2K, area_m2, steam_C, start_C, end_C):
    return float(
        heat.jacket_heat_up_min(mass_kg, cp_J_kgK, U_W_m2K, area_m2, steam_C, start_C, end_C)
    )


@adapter("jar_vacuum")
def jar_vacuum(fill_C, cool_C, atmospheric_kPa, water_activity, headspace_ml, shrinkage_ml):
    return float(
        heat.jar_vacuum_kPa(
            fill_C, cool_C, atmospheric_kPa, water_activity, headspace_ml, shrinkage_ml
        )
    )


@adapter("hot_fill_equilibrium_temperature")
def hot_fill_temperature(product_kg, product_cp_kJ_kgK, fill_C, jar_kg, jar_cp_kJ_kgK, jar_C):
    return float(
        heat.filled_temperature_C(
            product_kg, product_cp_kJ_kgK, fill_C, jar_kg, jar_cp_kJ_kgK, jar_C
        )
    )


@adapter("fill_temperature_by_pH")
def fill_temperature(pH):
    return fill_needed_C(pH)


@adapter("home_canning_process_time")
def home_canning_time(product, pack, jar, altitude_ft, method):
    return heating.home_process_min(
        product, pack, jar, heating.METRES_PER_FOOT * altitude_ft, method
    )


@adapter("can_code_to_mm")
def can_code(code, which):
    column = {"diameter": "outer_diameter_mm", "height": "outer_height_mm"}[which]
    row = tables.index("containers").get(f"can_{code}")
    if row is None:
        raise NotCovered(f"can {code}")
    return row[column]


@adapter("can_capacity")
def can_capacity(code):
    row = tables.index("containers").get(f"can_{code}")
    if row is None:
        raise NotCovered(f"can {code}")
    return row["capacity_ml"]
