"""Drying curves of a thin layer: moisture ratio MR = (M - Me) / (M0 - Me) over time.

Constants are fitted and hold for one food, thickness, air and unit of time, within the time they
were fitted to. Curves whose a is not 1 do not begin at 1; the logarithmic one and that of Wang and
Singh may fall below 0 or turn up. k of the modified Page curve is not that of Page.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from stillroom.labels import Array, Numbers, formula


@formula(unit="", source="Lewis 1921, Ind. Eng. Chem. 13:427", place="also called Newton")
def moisture_ratio_lewis(time_min: Numbers, k: Numbers) -> Array:
    """Return the moisture ratio by Lewis.

    MR = exp(-k t)

    Args:
        time_min: any shape.
        k: 1/min.

    Returns:
        Moisture ratio.
    """
    return np.exp(-k * np.asarray(time_min, float))


@formula(unit="", source="Page 1949, thesis, Purdue University")
def moisture_ratio_page(time_min: Numbers, k: Numbers, n: Numbers) -> Array:
    """Return the moisture ratio by Page.

    MR = exp(-k t^n)

    Args:
        time_min: any shape.
        k: 1/min^n.
        n: below 1 where the rate falls more than in proportion.

    Returns:
        Moisture ratio.
    """
    return np.exp(-k * np.asarray(time_min, float) ** np.asarray(n, float))


@formula(unit="", source="Overhults et al. 1973, Trans. ASAE 16:112", place="modified Page")
def moisture_ratio_modified_page(time_min: Numbers, k: Numbers, n: Numbers) -> Array:
    """Return the moisture ratio by Page as modified.

    MR = exp(-(k t)^n)

    Args:
        time_min: any shape.
        k: 1/min.
        n: as in the curve of Page.

    Returns:
        Moisture ratio.
    """
    return np.exp(-((k * np.asarray(time_min, float)) ** np.asarray(n, float)))


@formula(unit="", source="Henderson & Pabis 1961, J. Agric. Eng. Res. 6:169")
def moisture_ratio_henderson_pabis(time_min: Numbers, a: Numbers, k: Numbers) -> Array:
    """Return the moisture ratio by Henderson and Pabis.

    MR = a exp(-k t)

    Args:
        time_min: any shape.
        a: moisture ratio at the start.
        k: 1/min.

    Returns:
        Moisture ratio.
    """
    return a * np.exp(-k * np.asarray(time_min, float))


@formula(unit="", source="Yagcioglu, Degirmencioglu & Cagatay 1999", place="logarithmic")
def moisture_ratio_logarithmic(time_min: Numbers, a: Numbers, k: Numbers, c: Numbers) -> Array:
    """Return the moisture ratio by the curve called logarithmic.

    MR = a exp(-k t) + c

    Args:
        time_min: any shape.
        a: part that dries.
        k: 1/min.
        c: part that stays.

    Returns:
        Moisture ratio.
    """
    return a * np.exp(-k * np.asarray(time_min, float)) + c


@formula(unit="", source="Henderson 1974, Trans. ASAE 17:1167", place="two terms")
def moisture_ratio_two_term(
    time_min: Numbers, a: Numbers, k0: Numbers, b: Numbers, k1: Numbers
) -> Array:
    """Return the moisture ratio by two exponentials.

    MR = a exp(-k0 t) + b exp(-k1 t)

    Args:
        time_min: any shape.
        a: first part.
        k0: of the first part, 1/min.
        b: second part.
        k1: of the second part, 1/min.

    Returns:
        Moisture ratio.
    """
    t = np.asarray(time_min, float)
    return a * np.exp(-k0 * t) + b * np.exp(-k1 * t)


@formula(unit="", source="Midilli, Kucuk & Yapar 2002, Drying Technol. 20:1503")
def moisture_ratio_midilli(
    time_min: Numbers, a: Numbers, k: Numbers, n: Numbers, b: Numbers
) -> Array:
    """Return the moisture ratio by Midilli.

    MR = a exp(-k t^n) + b t

    Args:
        time_min: any shape.
        a: moisture ratio at the start.
        k: 1/min^n.
        n: as in the curve of Page.
        b: 1/min, small.

    Returns:
        Moisture ratio.
    """
    t = np.asarray(time_min, float)
    return a * np.exp(-k * t ** np.asarray(n, float)) + b * t


@formula(unit="", source="Wang & Singh 1978, ASAE paper 78-6505")
def moisture_ratio_wang_singh(time_min: Numbers, a: Numbers, b: Numbers) -> Array:
    """Return the moisture ratio by Wang and Singh.

    MR = 1 + a t + b t^2

    Args:
        time_min: any shape.
        a: 1/min, negative.
        b: 1/min², positive: the curve turns up at t = -a / (2 b).

    Returns:
        Moisture ratio.
    """
    t = np.asarray(time_min, float)
    return 1 + t * (a + b * t)


CURVES: Mapping[str, Callable[..., Array]] = {
    "lewis": moisture_ratio_lewis,
    "page": moisture_ratio_page,
    "modified_page": moisture_ratio_modified_page,
    "henderson_pabis": moisture_ratio_henderson_pabis,
    "logarithmic": moisture_ratio_logarithmic,
    "two_term": moisture_ratio_two_term,
    "midilli": moisture_ratio_midilli,
    "wang_singh": moisture_ratio_wang_singh,
}
