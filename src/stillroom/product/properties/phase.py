"""Boiling, freezing and osmotic pressure of a mixture."""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers
from stillroom.physics import osmosis, phase
from stillroom.product.mixture import Mixture
from stillroom.product.properties.acidity import ph
from stillroom.product.properties.water import water_activity

COLDEST_BRINE_C = -30.0  # the brine of the food is taken as it is there when it is colder


def boiling_point_C(mixture: Mixture, pressure_kPa: Numbers = phase.STANDARD_PRESSURE_KPA) -> Array:
    """Return the boiling point of the mixture at an air pressure."""
    at_ph = ph(mixture)
    return phase.boiling_point_C(
        lambda t: water_activity(mixture, t, "norrish", at_ph), pressure_kPa
    )


def freezing_point_C(mixture: Mixture) -> Array:
    """Return the temperature at which the first ice forms."""
    at_ph = ph(mixture)
    start = water_activity(mixture, at_ph=at_ph)
    return -phase.freezing_point_depression_K(
        lambda t: water_activity(mixture, np.maximum(t, COLDEST_BRINE_C), at_ph=at_ph), start
    )


def osmotic_pressure_MPa(a_w: Numbers, temperature_C: Numbers = 25.0) -> Array:
    """Return the osmotic pressure that goes with a water activity."""
    return -osmosis.water_potential_MPa(a_w, temperature_C)
