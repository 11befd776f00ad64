"""What the tables know of heating a pack: tested home processes, formula tables."""

from __future__ import annotations

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import penetration

STUMBO_J = (0.40, 2.00)  # lag factors of cooling of the two columns of the table
METRES_PER_FOOT = 0.3048


def stumbo_g_C(fh_over_u: Numbers, j_cooling: Numbers) -> Array:
    """Return how far below the medium a process may end, from Stumbo's table for z = 10 °C.

    Raises:
        ValueError: outside the table.
    """
    rows = sorted(tables.rows("stumbo"), key=lambda r: r["fh_over_u"])
    wanted, low, high = (
        np.array([r[c] for r in rows]) for c in ("fh_over_u", "g_low_F", "g_high_F")
    )
    g_F = penetration.stumbo_g(fh_over_u, j_cooling, wanted, low, high, *STUMBO_J)
    return g_F / penetration.FAHRENHEIT_PER_KELVIN


def home_process_min(
    product: str, pack: str, jar: str, altitude_m: float, method: str = "boiling water"
) -> float:
    """Return the minutes of a tested home process, for its exact recipe only.

    Looked up, never interpolated between bands of altitude or jar sizes.

    Raises:
        InputError: no such process in the table.
    """
    feet = round(altitude_m / METRES_PER_FOOT)
    for r in tables.rows("home_canning"):
        same = (r["product"], r["method"]) == (product, method)
        covers = all(
            set(word.split(" or ")) <= set(str(r[column]).split(" or "))
            for word, column in ((pack, "pack"), (jar, "jar"))
        )
        if same and covers and r["altitude_low_ft"] <= feet <= r["altitude_high_ft"]:
            return float(r["time_min"])
    raise InputError(
        f"no tested process is on file for {product}, {pack} pack, {jar}, at {altitude_m:.0f} m."
    )
