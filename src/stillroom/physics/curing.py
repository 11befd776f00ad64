"""Nitrite that goes into meat: parts per million of the green (raw) weight."""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers, formula

HANDBOOK = "USDA FSIS, Processing Inspectors' Calculations Handbook 1995"


@formula(unit="mg/kg", source=HANDBOOK, place="comminuted and dry cured products")
def ingoing_mg_per_kg(nitrite_kg: Numbers, meat_kg: Numbers) -> Array:
    """Return the ingoing nitrite of comminuted or dry cured meat.

    ppm = m_nitrite * 1e6 / m_green

    All that is put on the meat counts: this is also the upper bound of an immersion cure.

    Args:
        nitrite_kg: pure nitrite (cure times its nitrite fraction), any shape.
        meat_kg: green weight, never the finished weight, > 0.

    Returns:
        Milligrams of nitrite per kilogram of raw meat.

    Raises:
        ValueError: meat_kg is not positive.
    """
    return np.asarray(nitrite_kg, float) * 1e6 / _positive("meat_kg", meat_kg)


@formula(unit="mg/kg", source=HANDBOOK, place="pumped products")
def ingoing_pumped_mg_per_kg(
    nitrite_kg: Numbers, pump_fraction: Numbers, pickle_kg: Numbers
) -> Array:
    """Return the ingoing nitrite of pumped or massaged meat.

    ppm = m_nitrite * pump_fraction * 1e6 / m_pickle

    Args:
        nitrite_kg: nitrite in the whole pickle.
        pump_fraction: pickle taken up / green weight; also a known pick-up of an immersion cure.
        pickle_kg: mass of the whole pickle, > 0.

    Returns:
        Milligrams of nitrite per kilogram of raw meat.

    Raises:
        ValueError: pickle_kg is not positive.
    """
    taken = np.asarray(nitrite_kg, float) * pump_fraction
    return taken * 1e6 / _positive("pickle_kg", pickle_kg)


@formula(unit="mg/kg", source="common practice: equilibrium of meat and pickle", place="immersion")
def ingoing_immersed_mg_per_kg(nitrite_kg: Numbers, meat_kg: Numbers, pickle_kg: Numbers) -> Array:
    """Return the ingoing nitrite of meat that lies in a pickle until both are equal.

    ppm = m_nitrite * 1e6 / (m_meat + m_pickle)

    An estimate, no bound: all nitrite on the meat is the upper bound, the weight gain gives the
    lower one.

    Args:
        nitrite_kg: nitrite in the whole pickle.
        meat_kg: green weight.
        pickle_kg: mass of the whole pickle; meat and pickle together > 0.

    Returns:
        Milligrams of nitrite per kilogram.

    Raises:
        ValueError: no mass.
    """
    together = np.asarray(meat_kg, float) + np.asarray(pickle_kg, float)
    return np.asarray(nitrite_kg, float) * 1e6 / _positive("meat_kg + pickle_kg", together)


def _positive(name: str, value: Numbers) -> Array:
    array = np.asarray(value, float)
    if np.any(array <= 0):
        raise ValueError(f"{name} must be above 0 kg, got {value}.")
    return array
