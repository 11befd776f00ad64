"""Adapters for growth limits and the growth boundary."""

from __future__ import annotations

from adapters import NotCovered, adapter
from stillroom.assess import hazards
from stillroom.assess.heat import hold
from stillroom.physics import acid as acidity
from stillroom.physics import growth
from stillroom.product import properties

HUMECTANT = {"NaCl": "salt", "sucrose": "sugar", "glucose": "sugar", "fructose": "sugar",
             "sugar": "sugar", "sugars": "sugar", "glycerol": "glycerol"}  # fmt: skip
ACIDS = ("lactic", "acetic", "citric", "propionic", "sorbic", "benzoic", "formic")


@adapter("growth_observation")
def growth_observation(
    organism,
    temperature_C,
    pH,
    water_activity=None,
    humectant=None,
    nacl_percent=None,
    atmosphere=None,
    acid=None,
    medium=None,
    days=None,
    **doses,
):
    total = {a: doses.pop(f"{a}_total_mM") for a in ACIDS if f"{a}_total_mM" in doses}
    free = {
        a: doses.pop(f"{a}_undissociated_mM") for a in ACIDS if f"{a}_undissociated_mM" in doses
    }
    if doses:
        raise NotCovered(f"unknown input {', '.join(doses)}")
    for name, amount in total.items():
        pkas = list(properties.acid(name).pKa)
        free[name] = amount * float(acidity.species_fractions(pH, pkas)[0])
    classes = [HUMECTANT[w] for w in (humectant or "").replace(",", " ").split() if w in HUMECTANT]
    conditions = hazards.Conditions(
        ph=pH,
        water_activity=water_activity,
        temperature_C=temperature_C,
        undissociated_mmol_per_kg=free,
        humectants=tuple(classes) or None,
        air="none" if atmosphere == "anaerobic" else "air",
        water_phase_salt_percent=nacl_percent,
    )
    return "growth" if hazards.can_grow(organism, conditions) else "no growth"


@adapter("interaction_xi")
def interaction_xi(phi):
    return float(growth.interaction_xi(growth.interaction_psi(phi)))


@adapter("interaction_psi")
def interaction_psi(phi):
    return float(growth.interaction_psi(phi))


HOLDS = {"organism", "pH", "acid", "temperature_C", "fumaric_mM", "benzoic_mM", "acetic_percent",
         "nacl_percent"}  # fmt: skip


def brine(given):
    if unknown := set(given) - HOLDS:
        raise NotCovered(f"unknown input {', '.join(sorted(unknown))}")
    return hold.Brine(
        ph=given["pH"],
        acid=given["acid"],
        temperature_C=given["temperature_C"],
        acetic_percent=given.get("acetic_percent", 0.0),
        benzoic_mmol_per_kg=given.get("benzoic_mM", 0.0),
        fumaric_mmol_per_kg=given.get("fumaric_mM", 0.0),
        salt_percent=given.get("nacl_percent", 0.0),
    )


@adapter("acid_hold_time_5log_h")
def acid_hold_time(organism, **given):
    return hold.hold(brine(given), organism).hours


@adapter("acid_hold_D_h")
def acid_hold_d(organism, **given):
    return hold.hold(brine(given), organism).d_hours
