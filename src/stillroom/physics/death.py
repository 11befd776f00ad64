"""How heat kills: times at one temperature that stand for a time at another."""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers, formula


@formula(
    unit="min",
    source="bigelow1921; Chilled Food Association 2006 for the two z of the UK equivalents",
    place="straight-line model; table of equivalents of 90 °C for 10 min",
    temperature_C=(80, 100),
)
def equivalent_hold_min(
    temperature_C: Numbers,
    reference_min: Numbers,
    reference_C: Numbers,
    z_below_C: Numbers,
    z_above_C: Numbers,
) -> Array:
    """Return the hold at one temperature that kills as much as a reference hold.

    t = t_ref * 10**((T_ref - T) / z),  z = z_below where T < T_ref, else z_above

    Args:
        temperature_C: of the hold, any shape.
        reference_min: hold at the reference temperature.
        reference_C: reference temperature.
        z_below_C: rise that makes the kill ten times faster, below the reference, > 0.
        z_above_C: the same at and above the reference, > 0.

    Returns:
        Minutes, in the broadcast shape of the inputs.

    Raises:
        ValueError: a z is not positive.

    Source:
        Non-proteolytic Clostridium botulinum, 90 °C for 10 min: z = 9 °C below and 10 °C above
        reproduce the UK table; spores recovered without lysozyme fit z = 7 °C below.
    """
    if np.any(np.asarray(z_below_C) <= 0) or np.any(np.asarray(z_above_C) <= 0):
        raise ValueError(f"z must be above 0 °C, got {z_below_C} and {z_above_C}.")
    t, t_ref = np.asarray(temperature_C, float), np.asarray(reference_C, float)
    z = np.where(t < t_ref, z_below_C, z_above_C)
    hold: Array = np.asarray(reference_min, float) * 10 ** ((t_ref - t) / z)
    return hold
