"""Adapters for the law: pathways, additive limits, product standards, labels, cures."""

from __future__ import annotations

import re
from datetime import date

from adapters import NotCovered, adapter
from stillroom.assess.law import jam, labelling, pathway, substances
from stillroom.assess.law.additives import Amount, fraction_sum, judge
from stillroom.assess.law.variables import VARIABLES
from stillroom.assess.law.verdicts import worst
from stillroom.errors import InputError
from stillroom.physics import curing


def day(text):
    return None if text is None else date.fromisoformat(text)


def facts_of(given):
    unknown = [name for name in given if name not in VARIABLES]
    if unknown:
        raise NotCovered(f"unknown input {', '.join(unknown)}")
    return given


# --- rules ---------------------------------------------------------------------------------------


@adapter("pathway", "listeria_category", "tcs", "sulfite_label", "eu_date_mark", "cottage_food")
def first_match(rule_group, jurisdiction=None, **facts):
    return pathway.first_match(rule_group, facts_of(facts)).outcome


@adapter("pH_method", "duties")
def duties(rule_group, jurisdiction=None, **facts):
    return {r.outcome for r in pathway.duties(rule_group, facts_of(facts)).apply}


@adapter("duty_dates")
def duty_dates(first_manufacture, manufactured=None):
    dates = labelling.duty_dates(day(first_manufacture), day(manufactured))
    return {name: value.isoformat() for name, value in vars(dates).items()}


# --- additives -----------------------------------------------------------------------------------


@adapter("as_acid_mg_kg")
def as_acid(salt, mg_kg):
    return substances.as_acid_mg_kg(salt, mg_kg)


@adapter("as_SO2_mg_kg")
def as_so2(salt, mg_kg):
    return substances.as_so2_mg_kg(salt, mg_kg)


@adapter("as_NO2_mg_kg")
def as_no2(salt, mg_kg):
    return substances.as_no2_mg_kg(salt, mg_kg)


@adapter("as_NO3_mg_kg")
def as_no3(salt, mg_kg):
    return substances.as_no3_mg_kg(salt, mg_kg)


def amounts_of(given):
    """Read sodium_nitrite_added_mg_kg, residual_NO2_mg_kg, SO2_mg_L, sulfite_added: true ..."""
    amounts = []
    for name, value in given.items():
        known = re.fullmatch(
            r"(?P<before>residual_)?(?P<substance>.+?)(?:_(?P<after>added|residual|surface))?"
            r"(?:_(?P<unit>mg_kg|mg_L))?",
            name,
        )
        basis = (known["before"] or known["after"] or "in_food").strip("_")
        used = isinstance(value, bool)
        if used is bool(known["unit"]):
            raise NotCovered(f"unknown input {name}")
        try:
            amount = Amount(
                known["substance"],
                (None if value else 0.0) if used else value,
                basis,
                (known["unit"] or "mg_kg").replace("_", "/"),
            )
        except InputError as problem:
            raise NotCovered(str(problem)) from None
        amounts.append(amount)
    return amounts


def case_of(given):
    facts = {n: v for n, v in given.items() if n in VARIABLES and not re.search(r"_mg_(kg|L)$", n)}
    amounts = amounts_of({n: v for n, v in given.items() if n not in facts and v is not None})
    if not amounts:
        raise NotCovered("no amount of an additive")
    return amounts, facts


@adapter("limit_check")
def limit_check(jurisdiction, category, date=None, food=None, **given):
    amounts, facts = case_of(given)
    return judge(jurisdiction, category, amounts, day(date), facts).verdict


@adapter("limit_fraction_sum")
def limit_fraction_sum(jurisdiction, category, date=None, food=None, **given):
    amounts, facts = case_of(given)
    return fraction_sum(jurisdiction, category, amounts, day(date), facts).value


# --- curing --------------------------------------------------------------------------------------


@adapter("ingoing_nitrite_ppm")
def ingoing_nitrite(
    method,
    cure_kg=None,
    cure_g=None,
    cure_nitrite_percent=None,
    nitrite_kg=None,
    nitrite_g=None,
    meat_kg=None,
    meat_g=None,
    pickle_kg=None,
    pickle_g=None,
    pump_percent=None,
    pick_up_percent=None,
    pickup_percent=None,
):
    take_up = next(
        (x for x in (pump_percent, pick_up_percent, pickup_percent) if x is not None), None
    )
    nitrite = kilograms(nitrite_kg, nitrite_g)
    cure, meat, pickle = (
        kilograms(*pair) for pair in ((cure_kg, cure_g), (meat_kg, meat_g), (pickle_kg, pickle_g))
    )
    if nitrite is None:
        nitrite = given("cure_kg", cure) * given("cure_nitrite_percent", cure_nitrite_percent) / 100
    if method in ("comminuted", "dry", "dry_cured", "dry_rubbed", "dry_bacon"):
        return float(curing.ingoing_mg_per_kg(nitrite, given("meat_kg", meat)))
    pickle = given("pickle_kg", pickle)
    if method in ("pumped", "pumped_bacon", "massaged") or take_up is not None:
        share = given("pump_percent", take_up) / 100
        return float(curing.ingoing_pumped_mg_per_kg(nitrite, share, pickle))
    if method in ("immersion", "immersion_bacon", "immersed_equilibrium"):
        return float(curing.ingoing_immersed_mg_per_kg(nitrite, given("meat_kg", meat), pickle))
    raise NotCovered(f"method {method}")


def given(name, value):
    if value is None:
        raise NotCovered(f"needs {name}")
    return value


def kilograms(kg, g):
    return g / 1000 if kg is None and g is not None else kg


# --- standards -----------------------------------------------------------------------------------


def fruit_shares(fruit, fruit_kg=1.0):
    """Read a fruit, a list of fruits (equal parts or weights) or fruit -> weight."""
    if fruit is None or isinstance(fruit, dict):
        return fruit
    fruits = [fruit] if isinstance(fruit, str) else fruit
    weights = fruit_kg if isinstance(fruit_kg, list) else [fruit_kg / len(fruits)] * len(fruits)
    return dict(zip(fruits, weights, strict=True))


@adapter("us_jam_standard")
def us_jam_standard(
    fruit,
    fruit_kg=None,
    sweetener_solids_kg=None,
    soluble_solids_percent=None,
    sweetener_kg=None,
    sweetener_solids_percent=100,
    product="jam",
):
    if sweetener_solids_kg is None and sweetener_kg is not None:
        sweetener_solids_kg = sweetener_kg * sweetener_solids_percent / 100
    checks = jam.us_standard(
        fruit_shares(fruit, fruit_kg), sweetener_solids_kg, soluble_solids_percent, product
    )
    return worst(c.verdict for c in checks)


@adapter("us_jelly_juice_weight")
def us_jelly_juice_weight(fruit, juice_kg, soluble_solids_percent, added_sugar_kg=0.0):
    return jam.us_juice_weight_kg(fruit, juice_kg, soluble_solids_percent, added_sugar_kg)


@adapter("us_butter_fruit_weight")
def us_butter_fruit_weight(fruit, fruit_kg, soluble_solids_percent, added_sugar_kg=0.0):
    return jam.us_juice_weight_kg(
        fruit, fruit_kg, soluble_solids_percent, added_sugar_kg, "fruit butter"
    )


def market_jam_name(market, fruit_g_per_kg, soluble, made, fruit, pulp, product, sweeteners):
    made = day(made)
    shares = fruit_shares(fruit)
    return jam.jam_name(
        market, fruit_g_per_kg, soluble, made, shares, pulp, product, sweeteners
    ).outcome


@adapter("eu_jam_name")
def eu_jam_name(
    fruit_g_per_kg,
    soluble_dry_matter_percent,
    made,
    fruit=None,
    pulp_unconcentrated=None,
    product="jam",
    sweeteners_replace_sugar=False,
    jurisdiction="EU",
):
    return market_jam_name(
        jurisdiction,
        fruit_g_per_kg,
        soluble_dry_matter_percent,
        made,
        fruit,
        pulp_unconcentrated,
        product,
        sweeteners_replace_sugar,
    )


@adapter("uk_jam_name")
def uk_jam_name(
    fruit_g_per_kg,
    soluble_dry_matter_percent,
    made,
    fruit=None,
    pulp_unconcentrated=None,
    product="jam",
):
    return market_jam_name(
        "UK-GB",
        fruit_g_per_kg,
        soluble_dry_matter_percent,
        made,
        fruit,
        pulp_unconcentrated,
        product,
        False,
    )


@adapter("canada_jam_name")
def canada_jam_name(fruit_percent, soluble_solids_percent, pectin_added=None, fruit=None):
    return jam.canada_jam_name(
        fruit_percent, soluble_solids_percent, pectin_added, fruit_shares(fruit)
    ).outcome
