"""What time does: how much growth an end asks for, and when a history reaches it."""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers, formula


@formula(
    unit="",
    source="Baranyi & Roberts 1994, Int. J. Food Microbiol. 23:277",
    place="lag, solved for the growth potential",
)
def potential_for_growth(growth: Numbers, h0: Numbers = 0.0) -> Array:
    """Return the growth potential that a growth takes when a lag is worked off first.

    M = h0 + Y + ln(1 - exp(-Y) (1 - exp(-h0))), the inverse of the lag's Y(M)

    Args:
        growth: natural logarithms, >= 0, any shape.
        h0: work to be done before growth, >= 0; 0: none.

    Returns:
        Integral of the rate over time, natural logarithms.
    """
    Y, h = np.asarray(growth, float), np.asarray(h0, float)
    return h + Y + np.log1p(np.exp(-Y) * np.expm1(-h))


def time_reached(time: Numbers, done: Numbers, wanted: Numbers) -> Array:
    """Return when a history has done what is wanted, the first time.

    t with done(t) = wanted, straight lines between the times

    Args:
        time: on the last axis, rising; two equal times are a jump.
        done: on the last axis, never falling, any leading axes.
        wanted: of each leading axis.

    Returns:
        Time in the unit of the history; inf where it is not reached within it.

    Source:
        Definition; exact where the rate is constant between the times.
    """
    t, d = np.asarray(time, float), np.asarray(done, float)
    want = np.asarray(wanted, float)[..., None]
    there = d >= want
    after = np.argmax(there, axis=-1)[..., None]
    before = np.maximum(after - 1, 0)
    d1, d0 = (np.take_along_axis(d, n, axis=-1) for n in (after, before))
    part = np.where(d1 > d0, (want - d0) / np.where(d1 > d0, d1 - d0, 1.0), 0.0)
    reached = t[before] + np.clip(part, 0.0, 1.0) * (t[after] - t[before])
    return np.where(there.any(axis=-1), reached[..., 0], np.inf)
