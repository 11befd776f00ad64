"""The facts a rule may ask for: what each one means, its type and its possible range."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from stillroom import tables
from stillroom.errors import InputError

Fact = bool | float | str
PH, WATER_ACTIVITY = (-2.0, 16.0), (0.0, 1.0)


@dataclass(frozen=True)
class Variable:
    """What a fact means; its kind is "number", "yes or no", "text" or "date"."""

    words: str
    kind: str = "yes or no"
    low: float = -math.inf
    high: float = math.inf
    allowed: tuple[str, ...] = ()


def _number(words: str, low: float = 0.0, high: float = math.inf) -> Variable:
    return Variable(words, "number", low, high)


VARIABLES: Mapping[str, Variable] = {
    # measures of the finished food
    "pH": _number("finished equilibrium pH of the whole container", *PH),
    "max_component_pH": _number("highest equilibrium pH of any piece", *PH),
    "pH_before_acid": _number("pH before acid is added, natural or after fermentation", *PH),
    "water_activity": _number("water activity of the finished food", *WATER_ACTIVITY),
    "aqueous_salt_percent": _number("salt in the water phase, %", 0, 100),
    "low_acid_fraction": _number("mass share of ingredients with a natural pH above 4.6", 0, 1),
    "SO2_mg_kg": _number("total sulphur dioxide in the food as sold, mg/kg"),
    "acetic_percent": _number("acetic acid, %", 0, 100),
    "benzoic_percent": _number("benzoic acid, %", 0, 100),
    "growth_log_over_shelf_life": _number("growth of Listeria over the shelf life, log10", -20),
    "shelf_life_days": _number("shelf life, days"),
    "shelf_life_months": _number("shelf life, months"),
    "storage_C": _number("highest storage temperature, °C", -273.15),
    "dilution": _number("litres of drink from a litre of the concentrate, by its label", 1, 1000),
    # what is done to it
    "hermetic": Variable("packed in a hermetically sealed container"),
    "thermal": Variable("given a heat process"),
    "refrigerated": Variable("stored, distributed and sold refrigerated"),
    "frozen": Variable("stored, distributed and sold frozen"),
    "fermented": Variable("its acid made by fermentation in the food"),
    "acid_added": Variable("acid or acid food added"),
    "preservative": Variable("a preservative added; clears no duty"),
    "pH_shift_significant": Variable("pH differs from that of its predominant acid food"),
    "heat_as_90C_10min": Variable("heated throughout as by 10 min at 90 °C"),
    "proven_combination": Variable("a combination of factors shown to prevent growth and toxin"),
    # what it is
    "category": Variable("kind of food in the words of the rule table", "text"),
    "is_tomato": Variable("a tomato or tomato product"),
    "alcoholic_beverage": Variable("an alcoholic beverage"),
    "meat_poultry": Variable("a meat or poultry product"),
    "animal_origin": Variable("a food of animal origin"),
    "ready_to_eat": Variable("eaten without further cooking"),
    "infant_or_medical": Variable("for infants or special medical purposes"),
    "microbiologically_perishable": Variable("perishable, an early danger after a short time"),
    "low_sugar": Variable("a low-sugar, low-calorie or sugar-free product"),
    "sterilised": Variable("sterilised (Fo above 3.00 min)"),
    "sulphited_fruit": Variable("made with sulphited fruit"),
    "pulp_unconcentrated": Variable("all its fruit is unconcentrated pulp"),
    "high_fat": Variable("60 % fat or more"),
    "sold_raw": Variable("a fruit or vegetable served or sold raw or presented as fresh"),
    "thiamine_source": Variable("recognised as a source of vitamin B1"),
    # who makes and sells it, and what was shown
    "retail_only": Variable("made and sold at retail only"),
    "cottage": Variable("made in a home kitchen under cottage food law"),
    "serves_vulnerable_persons": Variable("served to vulnerable persons"),
    "approved_recipe": Variable("made by an approved recipe"),
    "lab_tested_recipe": Variable("made by a recipe tested in a laboratory"),
    "process_authority": Variable("approved by a process authority"),
    "batch_pH_tested": Variable("pH of each batch tested"),
    "pathogen_kill_evidence": Variable(
        "written evidence of a process authority for an acid kill with its hold time"
    ),
    "shown_below_100_over_shelf_life": Variable("Listeria shown below 100 cfu/g over shelf life"),
    "pathway": Variable("outcome of the pathway rules", "text"),
    "table": Variable("Food Code table", "text", allowed=("A", "B")),
    "date": Variable("date of placing on the market", "date"),
}


def checked(facts: Mapping[str, object]) -> dict[str, Fact]:
    """Return the known facts, each of its right type; None means unknown and is left out.

    Raises:
        InputError: an unknown name, a wrong type or an impossible value.
    """
    return {name: _value(name, value) for name, value in facts.items() if value is not None}


def _value(name: str, value: object) -> Fact:
    if name not in VARIABLES:
        raise InputError(f"{name!r} is not a fact a rule asks for.{tables.near(name, VARIABLES)}")
    variable = VARIABLES[name]
    match variable.kind:
        case "yes or no":
            if not isinstance(value, bool):
                raise InputError(f"{name} must be true or false, got {value!r}.")
            return value
        case "number":
            return _in_range(name, value, variable)
        case "date":
            return _iso(name, value)
    if not isinstance(value, str):
        raise InputError(f"{name} must be text, got {value!r}.")
    if variable.allowed and value not in variable.allowed:
        raise InputError(f"{name} must be one of {', '.join(variable.allowed)}, got {value!r}.")
    return value


def _in_range(name: str, value: object, variable: Variable) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise InputError(f"{name} must be a number, got {value!r}.")
    if not variable.low <= value <= variable.high:
        raise InputError(
            f"{name} must be from {variable.low:g} to {variable.high:g}, got {value:g}."
        )
    return float(value)


def _iso(name: str, value: object) -> str:
    try:
        return (value if isinstance(value, date) else date.fromisoformat(str(value))).isoformat()[
            :10
        ]
    except ValueError:
        raise InputError(f"{name} must be a date like 2026-07-01, got {value!r}.") from None
