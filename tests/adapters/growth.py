"""Adapters for growth along a history, competition and empirical shelf lives."""

from __future__ import annotations

import numpy as np

from adapters import ByUnit, NotCovered, adapter
from stillroom.assess import rates
from stillroom.physics import kinetics
from stillroom.product import properties
from stillroom.product.mixture import Mixture


@adapter("gamma_T_ctmi")
def gamma_t(temperature_C, temp_min_C, temp_opt_C, temp_max_C):
    return float(kinetics.cardinal_factor(temperature_C, temp_min_C, temp_opt_C, temp_max_C))


@adapter("gamma_pH_cpm")
def gamma_ph(pH, ph_min, ph_opt, ph_max):
    return float(kinetics.cardinal_factor(pH, ph_min, ph_opt, ph_max, n=1))


@adapter("baranyi_log10_count")
def baranyi(time_h, log10_N0, log10_Nmax, mu_per_h, h0, note=None):
    return float(kinetics.log10_count(mu_per_h * time_h, log10_N0, log10_Nmax, h0))


CARDINALS = {"mu_opt_per_h", "temp_min_C", "temp_opt_C", "temp_max_C"}


@adapter("dynamic_growth_log10")
def dynamic_growth(
    organism,
    mu_model,
    duration_h,
    log10_N0,
    log10_Nmax,
    h0,
    profile_h_C,
    interpolation,
    repeat_every_h=None,
):
    if unknown := set(mu_model) - CARDINALS:
        raise NotCovered(f"unknown input {', '.join(sorted(unknown))}")
    at, T = np.array(profile_h_C, float).T
    fine = np.linspace(0, duration_h, 60001)
    clock = fine if repeat_every_h is None else fine % repeat_every_h
    if interpolation == "step":
        temperature = T[np.searchsorted(at, clock, side="right") - 1]
    else:
        temperature = np.interp(clock, at, T)
    best, *cardinals = (
        mu_model[k] for k in ("mu_opt_per_h", "temp_min_C", "temp_opt_C", "temp_max_C")
    )
    rate = best * kinetics.cardinal_factor(temperature, *cardinals)
    potential = kinetics.growth_potential(fine, rate)[-1]
    return float(kinetics.log10_count(potential, log10_N0, log10_Nmax, h0))


@adapter("jameson_log10_pathogen")
def jameson(
    mu_pathogen_per_h, mu_flora_per_h, log10_N0_pathogen, log10_N0_flora, log10_Nmax_total, time_h
):
    counts = kinetics.log10_counts_competing(
        time_h,
        [mu_pathogen_per_h, mu_flora_per_h],
        [log10_N0_pathogen, log10_N0_flora],
        log10_Nmax_total,
    )
    return float(counts[0])


@adapter("time_to_increase_h")
def time_to_increase(mu_per_h, lag_h, log10_increase):
    return float(kinetics.time_to_increase_h(log10_increase, mu_per_h, lag_h))


@adapter("mould_free_shelf_life_days")
def mould_free(temperature_C, water_activity):
    return float(kinetics.mould_free_days(water_activity, temperature_C))


@adapter("mu_max")
def mu_max(set_id, temperature_C, organism=None):
    return float(rates.set_named(set_id).rate_per_h(temperature_C))


@adapter("generation_time")
def generation_time(organism, temperature_C, medium="", pH=None, nacl_percent=None):
    a_w = None
    if nacl_percent is not None:
        brine = Mixture.of({"water": 100 - nacl_percent, "NaCl": nacl_percent})
        a_w = properties.water_activity(brine, temperature_C)
    one = rates.rate_set(organism, medium, temperature_C)
    hours = np.log(2) / one.rate_per_h(temperature_C, pH, a_w)
    return ByUnit(h=float(hours), min=float(60 * hours))
