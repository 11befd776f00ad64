"""Growth limits: what stops an organism alone, and hurdles that stop it together."""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers, formula


@formula(
    unit="", source="Le Marc et al. 2002, Int. J. Food Microbiol. 73:219", place="phi(T), phi(pH)"
)
def hurdle_distance(value: Numbers, lowest: Numbers, best: Numbers) -> Array:
    """Return how far a condition is from the best towards the lowest that allows growth.

    phi = ((best - x) / (best - lowest))**3, 0 beyond the best

    Args:
        value: temperature, pH or water activity, any shape.
        lowest: minimum for growth with all else at its best.
        best: optimum.

    Returns:
        0 at the optimum, 1 at the minimum, above 1 below it.
    """
    away = (np.asarray(best, float) - value) / (np.asarray(best) - np.asarray(lowest))
    return np.maximum(away, 0.0) ** 3


@formula(unit="", source="Le Marc et al. 2002, Int. J. Food Microbiol. 73:219", place="psi")
def interaction_psi(phi: Numbers) -> Array:
    """Return the distance of a set of hurdles to the boundary of growth.

    psi = sum_i phi_i / (2 prod_{j != i} (1 - phi_j))

    Args:
        phi: distance of each hurdle on the last axis.

    Returns:
        Below 0.5 the hurdles act apart; at 1 growth stops; infinite where one hurdle alone stops
        it (phi of 1 or more). A robust design asks for 1.3 or more (common practice).
    """
    phi = np.asarray(phi, float)
    room = np.where(phi < 1, 1 - phi, np.nan)
    others = np.prod(room, axis=-1, keepdims=True) / room
    psi = np.sum(phi / (2 * others), axis=-1)
    return np.where(np.any(phi >= 1, axis=-1), np.inf, psi)


@formula(unit="", source="Le Marc et al. 2002, Int. J. Food Microbiol. 73:219", place="xi")
def interaction_xi(psi: Numbers) -> Array:
    """Return the factor by which interaction slows growth.

    xi = 1 for psi <= 0.5; 2 (1 - psi) between; 0 for psi >= 1

    Args:
        psi: distance to the boundary, any shape.

    Returns:
        1 to 0.
    """
    return np.clip(2 * (1 - np.asarray(psi, float)), 0.0, 1.0)


@formula(
    unit="", source="Coroller et al. 2005; Le Marc et al. 2002", place="several acids together"
)
def acid_distance(undissociated_mmol_per_kg: Numbers, mic_mmol_per_kg: Numbers) -> Array:
    """Return how far the undissociated acids are towards stopping growth.

    phi = 1 - prod_i (1 - HA_i / MIC_i), 1 once any acid alone reaches its limit

    Args:
        undissociated_mmol_per_kg: dose of each acid on the last axis.
        mic_mmol_per_kg: its minimum inhibitory concentration; inf where none is known.

    Returns:
        0 without acid, 1 where growth stops.
    """
    ratio = np.asarray(undissociated_mmol_per_kg, float) / mic_mmol_per_kg
    return 1 - np.prod(1 - np.minimum(ratio, 1.0), axis=-1)
