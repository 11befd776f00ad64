"""Quantities as people write them ("40 kg", "88 degC", "66 %"), read at the edge only."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING

from stillroom.errors import InputError
from stillroom.physics import barrier

if TYPE_CHECKING:
    from pint import UnitRegistry

# what is asked -> (unit inside, lowest and highest value that make sense, examples)
WANTED: Mapping[str, tuple[str, float, float, str]] = {
    "mass": ("kg", 0, 1e6, '"40 kg", "400 g" or "12 oz"'),
    "volume": ("liter", 0, 1e6, '"250 ml" or "1.5 l"'),
    "temperature": ("degC", -60, 200, '"88 degC" or "190 degF"'),
    "time": ("minute", 0, 100 * 525960, '"10 min", "36 h" or "18 months"'),
    "length": ("meter", 0, 9000, '"12 mm" or "350 m"'),
    "share": ("percent", 0, 100, '"66 %"'),
    "rate": ("kg/hour", 0, 1e5, '"4 kg/h"'),
    "pressure": ("kPa", 0, 300, '"10 psi" or "70 kPa"'),
    "power": ("kW", 0, 1000, '"9 kW"'),
    "area": ("meter**2", 0, 100, '"480 cm2"'),
    "concentration": ("mg/kg", 0, 1e6, '"250 mg/kg" or "0.5 %"'),
}
_NUMBER = re.compile(
    r"\s*([-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?)"
    r"\s*((?:[A-Za-zµμ°%/ ][A-Za-zµμ°%/ 2²]{0,23}?)?)\s*"
)
_TRANSMISSION = re.compile(r"\s*([0-9]+(?:\.[0-9]*)?|\.[0-9]+)\s*(g.{2,20}?)\s*")
_WORDS = {
    "°c": "degC",
    "°f": "degF",
    "c": "degC",
    "f": "degF",
    "deg c": "degC",
    "deg f": "degF",
    "%": "percent",
    "l": "liter",
    "L": "liter",
    "ml": "milliliter",
    "mL": "milliliter",
    "cl": "centiliter",
    "dl": "deciliter",
    "min": "minute",
    "h": "hour",
    "d": "day",
    "mo": "month",
    "g": "gram",
    "t": "metric_ton",
    "m": "meter",
    "brix": "percent",
    "um": "micrometer",
    "µm": "micrometer",
    "μm": "micrometer",
    "m2": "meter**2",
    "dm2": "decimeter**2",
    "cm2": "centimeter**2",
    "mm2": "millimeter**2",
    "in2": "inch**2",
}


@cache
def _registry() -> UnitRegistry:
    import pint

    registry: UnitRegistry = pint.UnitRegistry(cache_folder=":auto:")
    return registry


def read(text: object, wanted: str) -> float:
    """Return a quantity in the unit used inside.

    Args:
        text: number and unit, such as "40 kg".
        wanted: a key of WANTED.

    Returns:
        kg, litres, °C, minutes, metres, square metres, per cent, kg/h or mg/kg.

    Raises:
        InputError: no number, an unknown unit, a wrong dimension, a value out of bounds.
    """
    unit, lowest, highest, examples = WANTED[wanted]
    match = _NUMBER.fullmatch(text) if isinstance(text, str) else None
    if not match or not match[2]:
        raise InputError(f"{text!r} is not {_a(wanted)} with its unit; write {examples}.")
    word = match[2].replace("²", "2")
    unit_word = _WORDS.get(word, _WORDS.get(word.lower(), word))
    value = _convert(float(match[1]), unit_word, unit, text, wanted)
    if not lowest <= value <= highest:
        raise InputError(
            f"{text!r} is out of bounds; {_a(wanted)} here is {lowest:g} to {highest:g} {unit}."
        )
    return value


def _a(wanted: str) -> str:
    return f"an {wanted}" if wanted[0] in "aeiou" else f"a {wanted}"


def read_transmission(text: object) -> float:
    """Return a transmission of water vapour, g/(m² d).

    Args:
        text: such as "0.8 g/(m2 day)" or "0.05 g/(100 in2 day)".

    Raises:
        InputError: no number, or a unit that is not one of transmission.
    """
    match = _TRANSMISSION.fullmatch(text.replace("²", "2")) if isinstance(text, str) else None
    unit = re.sub(r"\bd\b", "day", match[2]) if match else ""
    unit = re.sub(r"/\(?(100 in2|m2)[ /]+(day|24 h|h)\)?", r"/(\1 \2)", unit)
    if not match or barrier.TRANSMISSION_UNITS.get(unit, (True,))[0]:
        raise InputError(
            f'{text!r} is not a transmission with its unit; write "0.8 g/(m2 day)" or '
            '"0.05 g/(100 in2 day)".'
        )
    return float(barrier.transmission_in(float(match[1]), unit, "g/(m2 day)"))


def _convert(number: float, word: str, unit: str, text: object, wanted: str) -> float:
    import pint

    try:
        value = _registry().Quantity(number, word).to(unit).magnitude
    except pint.DimensionalityError:
        raise InputError(f"{text!r} is not {_a(wanted)}; write {WANTED[wanted][3]}.") from None
    except (pint.PintError, AttributeError, ValueError, TypeError, SyntaxError, ArithmeticError):
        raise InputError(
            f"{text!r} has a unit that is not known; write {WANTED[wanted][3]}."
        ) from None
    return float(value)
