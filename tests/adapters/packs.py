"""Adapters for films and packs against moisture."""

from __future__ import annotations

import math
import re

from adapters import NotCovered, adapter
from stillroom.physics import barrier, ingress, sorption

NEVER = ("not reached", math.inf)  # two ways to write it


def days(value):
    return NEVER if math.isinf(value) else float(value)


# --- films ------------------------------------------------------------------------------------


@adapter("permeance_from_wvtr")
def permeance_from_wvtr(wvtr_g_m2_day, test_C, test_relative_humidity):
    return float(barrier.permeance_g_per_m2_day_Pa(wvtr_g_m2_day, test_C, test_relative_humidity))


@adapter("wvtr_from_permeance")
def wvtr_from_permeance(permeance_g_m2_day_Pa, test_C, test_relative_humidity):
    return float(barrier.wvtr_g_per_m2_day(permeance_g_m2_day_Pa, test_C, test_relative_humidity))


@adapter("unit_conversion_wvtr")
def unit_conversion_wvtr(value, **units):
    if set(units) != {"from", "to"}:
        raise NotCovered(f"unknown input {', '.join(units)}")
    try:
        return float(barrier.transmission_in(value, units["from"], units["to"]))
    except ValueError as problem:
        raise NotCovered(str(problem)) from None


@adapter("wvtr_thickness_scaling")
def wvtr_thickness_scaling(wvtr_g_m2_day, thickness_um, new_thickness_um):
    return float(barrier.at_thickness(wvtr_g_m2_day, thickness_um, new_thickness_um))


@adapter("laminate_wvtr_series")
def laminate_wvtr(layers_wvtr_g_m2_day):
    return float(barrier.laminate(layers_wvtr_g_m2_day))


@adapter("wvtr_ratio")
def wvtr_ratio(
    activation_energy_kJ_mol, from_C, from_relative_humidity, to_C, to_relative_humidity
):
    P = barrier.permeance_g_per_m2_day_Pa(1.0, from_C, from_relative_humidity)
    P = barrier.permeance_at_temperature_g_per_m2_day_Pa(P, from_C, activation_energy_kJ_mol, to_C)
    return float(barrier.wvtr_g_per_m2_day(P, to_C, to_relative_humidity))


# --- packs ------------------------------------------------------------------------------------


class Pack:
    """A film and an area, in the words of the cases: wvtr_38C_90rh_g_m2_day and the like."""

    def __init__(self, area_m2, permeance_temperature_correction, words):
        self.energy = words.pop("activation_energy_kJ_mol", None)
        if (permeance_temperature_correction == "none") is (self.energy is not None):
            raise NotCovered(f"correction {permeance_temperature_correction}, {self.energy}")
        named = {n: re.fullmatch(r"wvtr_(\d+)C_(\d+)rh_g_m2_day", n) for n in words}
        if len(named) != 1 or None in named.values():
            raise NotCovered(f"unknown input {', '.join(words)}")
        ((name, test),) = named.items()
        self.test_C = float(test[1])
        self.P = barrier.permeance_g_per_m2_day_Pa(words[name], self.test_C, int(test[2]) / 100)
        self.area_m2 = area_m2

    def conductance(self, temperature_C):
        P = barrier.permeance_at_temperature_g_per_m2_day_Pa(
            self.P, self.test_C, self.energy or 0.0, temperature_C
        )
        return barrier.conductance_g_per_day_Pa(P, self.area_m2)


def ignored(headspace):
    if headspace != "ignored":
        raise NotCovered(f"headspace {headspace}")


def gab(xm, C, K=1.0):
    return lambda a: sorption.moisture_gab(a, xm, C, K)


def activity(water_activity, moisture, curve):
    """Return a water activity that is given as such or as a moisture."""
    if (water_activity is None) is (moisture is None):
        raise NotCovered("a water activity or a moisture")
    if moisture is None:
        return water_activity
    return float(sorption.water_activity_gab(moisture, **curve))


@adapter("package_shelf_life_linear_isotherm")
def shelf_life_linear(
    dry_solids_g,
    area_m2,
    outside_C,
    outside_relative_humidity,
    isotherm_slope_g_per_g_per_aw,
    m_initial=None,
    m_limit=None,
    isotherm_intercept=0.0,
    water_activity_initial=None,
    water_activity_limit=None,
    permeance_temperature_correction="none",
    **film,
):
    def moisture(m, a):
        if (m is None) is (a is None):
            raise NotCovered("a water activity or a moisture")
        return m if a is None else isotherm_slope_g_per_g_per_aw * a + isotherm_intercept

    pack = Pack(area_m2, permeance_temperature_correction, film)
    return days(
        ingress.days_to_moisture_linear(
            dry_solids_g,
            pack.conductance(outside_C),
            outside_C,
            outside_relative_humidity,
            isotherm_slope_g_per_g_per_aw,
            isotherm_intercept,
            moisture(m_initial, water_activity_initial),
            moisture(m_limit, water_activity_limit),
        )
    )


@adapter("package_shelf_life_gab")
def shelf_life_gab(
    dry_solids_g,
    area_m2,
    outside_C,
    outside_relative_humidity,
    xm,
    C,
    K=1.0,
    water_activity_initial=None,
    water_activity_limit=None,
    m_initial=None,
    m_limit=None,
    permeance_temperature_correction="none",
    headspace="ignored",
    **film,
):
    ignored(headspace)
    pack = Pack(area_m2, permeance_temperature_correction, film)
    curve = {"xm": xm, "C": C, "K": K}
    return days(
        ingress.days_to_water_activity(
            dry_solids_g,
            pack.conductance(outside_C),
            outside_C,
            outside_relative_humidity,
            activity(water_activity_initial, m_initial, curve),
            activity(water_activity_limit, m_limit, curve),
            gab(**curve),
        )
    )


@adapter("package_water_activity_after_storage_steps")
def water_activity_after_steps(
    dry_solids_g,
    area_m2,
    xm,
    C,
    steps,
    K=1.0,
    water_activity_initial=None,
    m_initial=None,
    permeance_temperature_correction="none",
    headspace="ignored",
    **film,
):
    ignored(headspace)
    words = ("days", "outside_C", "outside_relative_humidity")
    if any(set(step) != set(words) for step in steps):
        raise NotCovered("words of a step")
    span, outside_C, humidity = ([step[w] for step in steps] for w in words)
    pack = Pack(area_m2, permeance_temperature_correction, film)
    curve = {"xm": xm, "C": C, "K": K}
    course = ingress.water_activity_through_climate(
        dry_solids_g,
        [pack.conductance(T) for T in outside_C],
        span,
        outside_C,
        humidity,
        activity(water_activity_initial, m_initial, curve),
        gab(**curve),
    )
    return float(course[-1])


@adapter("sealed_mix_water_activity")
def sealed_mix(components, headspace="ignored"):
    ignored(headspace)
    words = {"dry_solids_g", "xm", "C", "K", "water_activity_initial", "m_initial", "name"}
    if unknown := {w for c in components for w in c} - words:
        raise NotCovered(f"unknown input {', '.join(unknown)}")
    curves = [{"xm": c["xm"], "C": c["C"], "K": c.get("K", 1.0)} for c in components]
    start = [
        activity(c.get("water_activity_initial"), c.get("m_initial"), curve)
        for c, curve in zip(components, curves, strict=True)
    ]
    solids = [c["dry_solids_g"] for c in components]
    return float(ingress.sealed_mix_water_activity(solids, start, [gab(**c) for c in curves]))


@adapter("sealed_mix_water_activity_linear")
def sealed_mix_linear(components):
    words = ("dry_solids_g", "slope_g_per_g_per_aw", "water_activity_initial")
    if unknown := {w for c in components for w in c} - {*words, "name"}:
        raise NotCovered(f"unknown input {', '.join(unknown)}")
    return float(
        ingress.sealed_mix_water_activity_linear(*([c[w] for c in components] for w in words))
    )


@adapter("headspace_water_mass")
def headspace_water(volume_L, temperature_C, relative_humidity):
    return float(ingress.headspace_water_g(volume_L, temperature_C, relative_humidity))


@adapter("desiccant_mass")
def desiccant_mass(
    area_m2,
    outside_C,
    outside_relative_humidity,
    inside_relative_humidity,
    days,
    preload_g_per_g=0.0,
    excess_water_g=0.0,
    permeance_temperature_correction="none",
    **words,
):
    capacities = [n for n in words if re.fullmatch(r".+_capacity_g_per_g(_at_\d+rh)?", n)]
    if len(capacities) != 1:
        raise NotCovered(f"capacity in {', '.join(words)}")
    capacity = words.pop(capacities[0])
    pack = Pack(area_m2, permeance_temperature_correction, words)
    gained = ingress.water_gained_g(
        pack.conductance(outside_C),
        outside_C,
        outside_relative_humidity,
        inside_relative_humidity,
        days,
    )
    return float(ingress.desiccant_g(excess_water_g + gained, capacity, preload_g_per_g))
