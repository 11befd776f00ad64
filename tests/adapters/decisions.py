"""Adapters for decision tables of the microbe cases: Food Code, canning classes, chilled packs."""

from __future__ import annotations

from adapters import NotCovered, adapter
from stillroom.assess.law import chilled, pathway
from stillroom.assess.law.verdicts import CANNOT_DECIDE

# the words of the cases for the outcomes of the rule table
IN_CASE_WORDS = {
    "NON_TCS": "non-TCS",
    "PRODUCT_ASSESSMENT_REQUIRED": "PA",
    "UK_OVER_10_DAYS_ALLOWED": "yes",
    "UK_AT_MOST_10_DAYS": "no",
    "UK_NOT_CHILLED": "no",
    "ACID_HOLD_SUPPORTED": "yes",
    "STUDY_NEEDED": "no",
}


def in_case_words(ruling):
    return IN_CASE_WORDS.get(ruling.outcome, ruling.outcome)


@adapter("tcs_decision")
def tcs_decision(table, water_activity=None, pH=None):
    facts = {"table": table, "water_activity": water_activity, "pH": pH}
    return in_case_words(pathway.first_match("US-T", facts))


@adapter("us_canned_food_class")
def us_canned_food_class(
    finished_equilibrium_pH,
    water_activity,
    acid_added=None,
    refrigerated=None,
    natural_pH=None,
    product="",
    alcoholic=False,
    fermented=None,
):
    # a case names the product where it is a tomato or an alcoholic one
    facts = {
        "pH": finished_equilibrium_pH,
        "pH_before_acid": natural_pH,
        "water_activity": water_activity,
        "acid_added": acid_added,
        "refrigerated": refrigerated,
        "is_tomato": "tomato" in product,
        "alcoholic_beverage": alcoholic or "alcohol" in product,
        "fermented": fermented,
    }
    return pathway.first_match("US-C", facts).outcome


@adapter("eu_listeria_growth_supporting")
def eu_listeria_growth_supporting(pH=None, water_activity=None, shelf_life_days=None):
    return pathway.listeria_growth_supporting(
        {"pH": pH, "water_activity": water_activity, "shelf_life_days": shelf_life_days}
    )


@adapter("uk_vp_map_shelf_life_over_10_days_allowed")
def uk_vp_map_over_10_days(
    storage_C=None,
    pH=None,
    aqueous_salt_percent=None,
    water_activity=None,
    heat=None,
    proven_combination=False,
):
    # heat null is no heat; a case that names no combination has none
    facts = {
        "storage_C": storage_C,
        "max_component_pH": pH,
        "aqueous_salt_percent": aqueous_salt_percent,
        "water_activity": water_activity,
        "heat_as_90C_10min": bool(heat)
        and chilled.heated_as_90C_10min(heat["temperature_C"], heat["minutes"]),
        "proven_combination": proven_combination,
    }
    return in_case_words(chilled.vacuum_pack_over_10_days(facts))


@adapter("time_equivalent_to_90C_10min")
def time_equivalent(temperature_C):
    return chilled.minutes_as_90C_10min(temperature_C)


@adapter("acid_cold_fill_allowed_without_study")
def acid_cold_fill(pH=None, acetic_percent=None, benzoic_percent=None, heat=None):
    ruling = chilled.cold_fill(
        {
            "pH": pH,
            "acetic_percent": acetic_percent,
            "benzoic_percent": benzoic_percent,
            "thermal": heat,
        }
    )
    if ruling.outcome in ("NOT_A_COLD_FILL", CANNOT_DECIDE):
        raise NotCovered(ruling.words)
    return in_case_words(ruling)
