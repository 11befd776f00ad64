"""Heat penetration as canners record it: f and j of a logged curve, and processes by formula.

Heating: T_m - T = j_h (T_m - T_0) 10^(-t / f_h). Lethality by the formula serves where the medium
is constant; the general method of `death` on the real curve is to be preferred.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special, stats
from scipy.integrate import quad

from stillroom.labels import Array, Numbers, formula

LN10 = np.log(10)
COUNTED_OF_COME_UP = 0.42
FAHRENHEIT_PER_KELVIN = 1.8
STRAIGHT_TO = 0.005  # share of f; a heating line of real food is no straighter
# Ball's cooling curve: a hyperbola over the first 0.343 of the way, then straight with j = 1.41
BALL_SHARE, BALL_A, BALL_B = 0.343, 0.3, 0.175


@dataclass(frozen=True)
class Penetration:
    """The straight part of a heating or cooling curve.

    Attributes:
        f_min: time in which the distance to the medium shrinks tenfold.
        j: lag factor at time zero.
        f_error_min: standard error of f, what the line bends included.
        log10_j_error: standard error of log10 j, as of f.
        r_squared: of the straight line.
        used: which points of the record were fitted.
    """

    f_min: float
    j: float
    f_error_min: float
    log10_j_error: float
    r_squared: float
    used: tuple[int, ...]


def fit_penetration(
    time_min: Numbers,
    temperature_C: Numbers,
    medium_C: float,
    start_C: float,
    come_up_min: float = 0.0,
    resolution_C: float = 0.1,
    begin_min: float | None = None,
) -> Penetration:
    """Return f and j of a logged curve.

    log10 |T_m - T| = log10(j |T_m - T_0|) - t / f, by least squares

    Args:
        time_min: of the record.
        temperature_C: of the cold spot.
        medium_C: constant temperature of the medium.
        start_C: of the product at time zero.
        come_up_min: time the medium took; j counts from 0.58 of it.
        resolution_C: of the sensor; points nearer to the medium than five of it bend the line and
            are left out.
        begin_min: start of the straight part; by default the points below half of the first
            distance are taken, or all if those are fewer than three.

    Returns:
        Penetration, with standard errors.

    Raises:
        ValueError: fewer than three usable points, or a curve that does not approach the medium.

    Source:
        Ball 1923; Ball & Olson 1957 for the 42 % of the come-up time that count.
    """
    t, T = np.asarray(time_min, float), np.asarray(temperature_C, float)
    sign = 1.0 if start_C < medium_C else -1.0
    gap = sign * (medium_C - T)
    clear = np.isfinite(T) & (gap > 5 * resolution_C)
    if begin_min is not None:
        clear &= t >= begin_min
    else:
        settled = clear & (gap < 0.5 * abs(medium_C - start_C))
        clear = settled if np.count_nonzero(settled) >= 3 else clear
    if np.count_nonzero(clear) < 3:
        raise ValueError("a heat penetration line needs three points clear of the medium.")
    line = stats.linregress(t[clear], np.log10(gap[clear]))
    if not line.slope < 0:
        raise ValueError("the temperature does not approach that of the medium.")
    zero = (1 - COUNTED_OF_COME_UP) * come_up_min
    f = -1 / line.slope
    slope_bend, intercept_bend = _bend(t[clear], np.log10(gap[clear]), line.slope, line.intercept)
    return Penetration(
        f_min=float(f),
        j=float(10 ** (line.intercept - zero / f) / abs(medium_C - start_C)),
        f_error_min=float(np.linalg.norm([line.stderr, slope_bend, STRAIGHT_TO / f]) * f**2),
        log10_j_error=float(np.hypot(line.intercept_stderr, intercept_bend)),
        r_squared=float(line.rvalue**2),
        used=tuple(np.flatnonzero(clear).tolist()),
    )


def _bend(t: Array, y: Array, slope: float, intercept: float) -> tuple[float, float]:
    """Return what the later half of a line differs by from the whole, in slope and intercept."""
    half = t.size // 2
    if half < 3:
        return 0.0, 0.0
    later = stats.linregress(t[half:], y[half:])
    return abs(later.slope - slope), abs(later.intercept - intercept)


@formula(unit="", source="Ball & Olson 1957", place="42 % of a linear come-up time counts")
def lag_factor_after_come_up(
    log10_intercept: Numbers,
    f_min: Numbers,
    medium_C: Numbers,
    start_C: Numbers,
    come_up_min: Numbers,
    counted: Numbers = COUNTED_OF_COME_UP,
) -> Array:
    """Return the lag factor counted from the corrected zero.

    j = 10**(intercept - (1 - c) CUT / f) / (T_m - T_0)

    Args:
        log10_intercept: log10 of the distance where the line meets steam-on.
        f_min: slope of the line.
        medium_C: temperature of the medium.
        start_C: of the product at steam-on.
        come_up_min: come-up time.
        counted: share of it that counts as time at temperature.

    Returns:
        Lag factor.
    """
    zero = (1 - np.asarray(counted, float)) * come_up_min
    rise = np.asarray(medium_C, float) - np.asarray(start_C, float)
    j: Array = 10 ** (np.asarray(log10_intercept, float) - zero / f_min) / rise
    return j


@formula(unit="°C", source="Ball 1923", place="straight heating line, never below the start")
def heating_line_C(
    time_min: Numbers,
    medium_C: Numbers,
    start_C: Numbers,
    f_min: Numbers,
    j: Numbers,
    break_min: Numbers | None = None,
    f_after_min: Numbers | None = None,
) -> Array:
    """Return the temperature of the cold spot on a straight or once broken heating line.

    T = T_m - j (T_m - T_0) 10**(-t / f), after a break with another f

    Args:
        time_min: since the corrected zero, any shape.
        medium_C: constant temperature of the medium.
        start_C: of the product.
        f_min: until the break.
        j: lag factor.
        break_min: when the product changes (starch swells); none by default.
        f_after_min: after the break.

    Returns:
        Temperature, not below the start.
    """
    t = np.asarray(time_min, float)
    decades = t / f_min
    if break_min is not None and f_after_min is not None:
        late = np.maximum(t - np.asarray(break_min, float), 0.0)
        decades = np.minimum(t, break_min) / f_min + late / f_after_min
    T = medium_C - j * (np.asarray(medium_C, float) - start_C) * 10 ** (-decades)
    return np.maximum(T, start_C)


def followed_C(
    time_s: Array,
    start_C: Numbers,
    medium_C: Array,
    f_min: Numbers,
    j: Numbers = 1.0,
    break_s: float | None = None,
    f_after_min: Numbers | None = None,
) -> Array:
    """Return how a cold spot of known f and j follows any medium.

    dT/dt = ln 10 / f (T_m - T), exact over straight lines of the medium; j above 1 is a dead time
    f log10 j, j below 1 a share 1 - j that follows at once

    Args:
        time_s: rising from 0.
        start_C: any leading axes.
        medium_C: of the medium at these times, the last axis; any leading axes.
        f_min: time in which the distance to a constant medium shrinks tenfold, any leading axes.
        j: lag factor.
        break_s: when the product changes (starch swells); none by default.
        f_after_min: after the break.

    Returns:
        Temperature at every time, (..., times).

    Source:
        Ball 1923: the straight heating line as the answer of a linear system, superposed.
    """
    start, f, lag = (np.asarray(x, float) for x in (start_C, f_min, j))
    medium = np.asarray(medium_C, float)
    shape = np.broadcast_shapes(start.shape, f.shape, lag.shape, medium.shape[:-1])
    medium = np.broadcast_to(medium, (*shape, time_s.size)).reshape(-1, time_s.size)
    start, f, lag = (np.broadcast_to(x, shape).reshape(-1) for x in (start, f, lag))
    later = f if f_after_min is None else np.broadcast_to(f_after_min, shape).reshape(-1)
    dead = 60 * f * np.log10(np.maximum(lag, 1.0))
    each = zip(dead, medium, start, strict=True)
    felt = np.stack([np.interp(time_s - d, time_s, m, left=T) for d, m, T in each])
    T = np.empty_like(felt)
    T[:, 0] = start
    for n, step in enumerate(np.diff(time_s), start=1):
        broken = break_s is not None and time_s[n] > break_s
        k = LN10 / 60 / (later if broken else f)
        rise = (felt[:, n] - felt[:, n - 1]) / step
        gap = T[:, n - 1] - felt[:, n - 1] + rise / k
        T[:, n] = felt[:, n] - rise / k + gap * np.exp(-k * step)
    at_once = 1 - np.minimum(lag, 1.0)[:, None]
    return (at_once * medium + (1 - at_once) * T).reshape(*shape, time_s.size)


def ball_fh_over_u(
    g_C: float,
    z_C: float,
    cooling_range_C: float,
    cooling_to_heating_f: float = 1.0,
    heated_from_C: float = 80 / FAHRENHEIT_PER_KELVIN,
) -> float:
    """Return f_h / U of a process that ends g below the medium.

    U / f_h = (E1(ln 10 g / z) - E1(ln 10 h / z)) / ln 10 + cooling by a hyperbola, then j 1.41

    Args:
        g_C: how far the cold spot is below the medium when cooling starts, > 0.
        z_C: of the organism.
        cooling_range_C: temperature of the medium less that of the cooling water.
        cooling_to_heating_f: f of cooling over f of heating.
        heated_from_C: distance below the medium from where lethality counts; 80 °F by custom.

    Returns:
        f_h / U, where U is the minutes at the medium that the process is worth.

    Source:
        Ball 1923; Ball & Olson 1957. j of cooling is 1.41 by assumption: with a lower real one
        the lethality is overstated.
    """
    a = LN10 / z_C
    heating = (special.exp1(a * g_C) - special.exp1(a * heated_from_C)) / LN10
    m = cooling_range_C - g_C

    def early(x: float) -> float:  # x: time over f of cooling
        drop = BALL_A * m * (np.sqrt(1 + (x / BALL_B) ** 2) - 1)
        return float(np.exp(-a * (g_C + drop)))

    turn = BALL_B * np.sqrt((1 + BALL_SHARE / BALL_A) ** 2 - 1)
    first = quad(early, 0.0, turn)[0]
    rest = m * (1 - BALL_SHARE)  # the straight line: distance to the water shrinks from here
    top = -a * (g_C + m)
    late = quad(lambda x: float(np.exp(top + a * rest * 10 ** (-x))), 0.0, 2.0)[0]
    return float(1 / (heating + cooling_to_heating_f * (first + late)))


def ball_g_C(
    fh_over_u: float,
    z_C: float,
    cooling_range_C: float,
    cooling_to_heating_f: float = 1.0,
    heated_from_C: float = 80 / FAHRENHEIT_PER_KELVIN,
) -> float:
    """Return how far below the medium a process may end that must be worth U.

    solve f_h / U (g) = wanted

    Args:
        fh_over_u: wanted.
        z_C: as in ball_fh_over_u.
        cooling_range_C: as in ball_fh_over_u.
        cooling_to_heating_f: as in ball_fh_over_u.
        heated_from_C: as in ball_fh_over_u.

    Returns:
        g.

    Source:
        As ball_fh_over_u; f_h / U rises with g, so there is one answer.
    """
    low, high = 1e-12, min(heated_from_C, cooling_range_C) * (1 - 1e-9)
    rest = (z_C, cooling_range_C, cooling_to_heating_f, heated_from_C)
    for _ in range(80):
        middle = np.sqrt(low * high)
        low, high = (middle, high) if ball_fh_over_u(middle, *rest) < fh_over_u else (low, middle)
    return float(np.sqrt(low * high))


@formula(unit="", source="Stumbo 1973", place="linear in the lag factor of cooling")
def stumbo_g(
    fh_over_u: Numbers,
    j_cooling: Numbers,
    table_fh_over_u: Array,
    table_g_low: Array,
    table_g_high: Array,
    j_low: float,
    j_high: float,
) -> Array:
    """Return g from two columns of a printed table.

    log g linear in log(f_h / U); g linear in j_c

    Args:
        fh_over_u: wanted, within the table, any shape.
        j_cooling: lag factor of cooling, within the columns.
        table_fh_over_u: rows of the table, rising.
        table_g_low: g at j_low.
        table_g_high: g at j_high.
        j_low: lag factor of the first column.
        j_high: lag factor of the second.

    Returns:
        g, in the unit of the table.

    Raises:
        ValueError: outside the table; it must not be extrapolated.
    """
    x = np.asarray(fh_over_u, float)
    j = np.asarray(j_cooling, float)
    if np.any((x < table_fh_over_u[0]) | (x > table_fh_over_u[-1]) | (j < j_low) | (j > j_high)):
        raise ValueError(
            f"the table holds f_h/U {table_fh_over_u[0]:g} to {table_fh_over_u[-1]:g} and j "
            f"{j_low:g} to {j_high:g}: integrate the curve instead."
        )
    at = np.log(x), np.log(table_fh_over_u)
    low = np.exp(np.interp(*at, np.log(table_g_low)))
    high = np.exp(np.interp(*at, np.log(table_g_high)))
    g: Array = low + (high - low) * (j - j_low) / (j_high - j_low)
    return g


@formula(unit="min", source="Ball 1923", place="process time by formula")
def process_time_min(
    f_min: Numbers, j: Numbers, medium_C: Numbers, start_C: Numbers, g_C: Numbers
) -> Array:
    """Return the heating time from the corrected zero until the cold spot is g below the medium.

    B = f log10(j (T_m - T_0) / g)

    Args:
        f_min: of heating.
        j: of heating.
        medium_C: temperature of the medium.
        start_C: of the product.
        g_C: distance at the end of heating.

    Returns:
        Minutes; with a come-up time the clock at temperature shows 0.42 of it less.
    """
    rise = np.asarray(medium_C, float) - np.asarray(start_C, float)
    B: Array = np.asarray(f_min, float) * np.log10(j * rise / np.asarray(g_C, float))
    return B
