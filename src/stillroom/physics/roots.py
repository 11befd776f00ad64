"""One unknown in each sample: where a gap changes its sign."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.optimize.elementwise import find_root

from stillroom.labels import Array, Numbers, formula

HUGE = 1e30  # a curve that runs off to infinity still has a sign


@formula(
    unit="as the ends", source="Chandrupatla 1997, Adv. Eng. Software 28:145", place="as in scipy"
)
def root_between(gap: Callable[[Array], Array], low: Numbers, high: Numbers) -> Array:
    """Return the value between two ends at which a gap is nothing.

    gap(x) = 0, low < x < high

    Args:
        gap: of an array in the common shape of both ends; it may hold arrays of that shape.
        low: one end, any shape.
        high: other end; broadcasts.

    Returns:
        The value; nan where the gap has one sign at both ends.

    Source:
        The method hands over the samples that are still open; the gap is asked for all, so that it
        may be written without an index.
    """
    below, above = np.broadcast_arrays(np.asarray(low, float), np.asarray(high, float))
    now = np.array((below + above) / 2)
    every = np.arange(now.size)

    def some(x: Array, i: NDArray[np.int64]) -> Array:
        now.flat[i] = x
        return np.clip(np.broadcast_to(gap(now), now.shape).reshape(-1)[i], -HUGE, HUGE)

    with np.errstate(all="ignore"):
        found = find_root(some, (below.reshape(-1), above.reshape(-1)), args=(every,))
    return np.where(found.success, found.x, np.nan).reshape(now.shape)
