"""How fast organisms grow, and how many there are along any history; counts in log10.

Rates are in natural logarithms an hour. Growth with a lag and a maximum depends on the history only
through the integral of the rate, so a varying temperature has a closed form too.
"""

from __future__ import annotations

import numpy as np
from scipy.integrate import cumulative_trapezoid

from stillroom.labels import Array, Numbers, formula

LN10 = np.log(10)
TAU_STEPS = 400


@formula(
    unit="",
    source="Rosso et al. 1993, J. theor. Biol. 162:447; 1995, Appl. Environ. Microbiol. 61:610",
    place="cardinal model; n = 2 for temperature, 1 for pH",
)
def cardinal_factor(
    value: Numbers, lowest: Numbers, best: Numbers, highest: Numbers, n: int = 2
) -> Array:
    """Return the share of the best rate that a condition allows.

    (x - max)(x - min)^n / ((opt - min)^(n-1) ((opt - min)(x - opt) - (opt - max)((n - 1) opt + min
    - n x)))

    Args:
        value: temperature, pH or water activity, any shape.
        lowest: below which nothing grows.
        best: optimum; above the middle of the two ends for n = 2.
        highest: above which nothing grows.
        n: 2 for temperature and water activity, 1 for pH.

    Returns:
        0 to 1; 0 at and outside the ends.
    """
    x, low, opt, high = (np.asarray(v, float) for v in (value, lowest, best, highest))
    above = (x - high) * (x - low) ** n
    below = (opt - low) ** (n - 1) * (
        (opt - low) * (x - opt) - (opt - high) * ((n - 1) * opt + low - n * x)
    )
    inside = (x > low) & (x < high)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(inside, np.clip(above / below, 0.0, 1.0), 0.0)


@formula(unit="", source="Mejlholm & Dalgaard 2009, J. Food Prot. 72:2132", place="straight line")
def linear_factor(value: Numbers, lowest: Numbers, best: Numbers) -> Array:
    """Return the share of the best rate by a straight line.

    (x - min) / (opt - min), 0 below, 1 above the best

    Args:
        value: water activity, any shape.
        lowest: below which nothing grows.
        best: from where on it is no hindrance.

    Returns:
        0 to 1.
    """
    x, low = np.asarray(value, float), np.asarray(lowest, float)
    return np.clip((x - low) / (np.asarray(best, float) - low), 0.0, 1.0)


@formula(unit="1/h", source="Ratkowsky et al. 1982, 1983, J. Bacteriol.", place="square-root model")
def square_root_rate_per_h(
    temperature_C: Numbers,
    b: Numbers,
    temp_min_C: Numbers,
    c: Numbers | None = None,
    temp_max_C: Numbers | None = None,
) -> Array:
    """Return a growth rate by the square-root model.

    sqrt(mu) = b (T - T_min) (1 - exp(c (T - T_max))), the last factor over the full range only

    Args:
        temperature_C: any shape.
        b: slope, 1/(°C sqrt(h)).
        temp_min_C: where the line meets zero.
        c: bend near the upper end; none by default.
        temp_max_C: above which nothing grows.

    Returns:
        Rate, natural logarithms an hour; 0 outside.
    """
    T = np.asarray(temperature_C, float)
    root = np.asarray(b, float) * np.maximum(T - temp_min_C, 0.0)
    if c is not None and temp_max_C is not None:
        root = root * np.maximum(1 - np.exp(c * (T - np.asarray(temp_max_C, float))), 0.0)
    return root**2


@formula(unit="", source="Mejlholm & Dalgaard 2009, J. Food Prot. 72:2132", place="acid terms")
def acid_factor(
    undissociated_mmol_per_kg: Numbers, mic_mmol_per_kg: Numbers, power: Numbers = 1.0
) -> Array:
    """Return the share of the rate that an undissociated acid leaves.

    1 - (HA / MIC)^p, 0 from the MIC on

    Args:
        undissociated_mmol_per_kg: in the water phase, any shape.
        mic_mmol_per_kg: that stops growth; inf where none is known.
        power: 1 for lactic, benzoic, sorbic and citric acid, 0.5 for acetic acid.

    Returns:
        0 to 1.
    """
    ratio = np.asarray(undissociated_mmol_per_kg, float) / np.asarray(mic_mmol_per_kg, float)
    return 1 - np.clip(ratio, 0.0, 1.0) ** np.asarray(power, float)


@formula(unit="", source="Baranyi & Roberts 1994, Int. J. Food Microbiol. 23:277", place="lag")
def work_done(growth_potential: Numbers, h0: Numbers) -> Array:
    """Return how much of a growth potential becomes growth once the lag is worked off.

    Y = ln(1 + q) - ln(1 + q0), ln q = ln q0 + M, q0 = 1 / (exp(h0) - 1)

    Args:
        growth_potential: integral of the rate over time, natural logarithms, any shape.
        h0: work to be done before growth, >= 0; 0: none.

    Returns:
        Growth without a maximum, natural logarithms.
    """
    M, h = np.asarray(growth_potential, float), np.asarray(h0, float)
    # ln(exp(-h) + (1 - exp(-h)) exp(-M)) + M, in logs
    held = np.logaddexp(-h, np.log(-np.expm1(-np.maximum(h, 1e-300))) - M)
    return np.where(h > 0, M + held, M)


@formula(unit="log10", source="Baranyi & Roberts 1994, Int. J. Food Microbiol. 23:277")
def log10_count(
    growth_potential: Numbers, log10_start: Numbers, log10_max: Numbers, h0: Numbers = 0.0
) -> Array:
    """Return the count after a growth potential, with a lag and a maximum.

    ln N = ln N0 + Y - ln(1 + (exp(Y) - 1) N0 / Nmax), Y as work_done

    Args:
        growth_potential: integral of the rate over time, natural logarithms, any shape.
        log10_start: count at the start.
        log10_max: maximum count; a start above it stays.
        h0: as work_done; 0, no lag, for a careful verdict.

    Returns:
        Count.
    """
    Y = work_done(growth_potential, h0)
    start = np.asarray(log10_start, float)
    room = LN10 * np.maximum(np.asarray(log10_max, float) - start, 0.0)
    crowding = np.logaddexp(Y, np.log(np.expm1(np.maximum(room, 1e-12)))) - room
    grown: Array = start + np.where(room > 0, (Y - crowding) / LN10, 0.0)
    return grown


@formula(
    unit="log10",
    source="Buchanan, Whiting & Damert 1997, Food Microbiol. 14:313",
    place="three-phase linear model [memory]",
)
def three_phase_log10_count(
    time_h: Numbers,
    log10_start: Numbers,
    rate_per_h: Numbers,
    lag_h: Numbers = 0.0,
    log10_max: Numbers = np.inf,
) -> Array:
    """Return the count by straight lines: a lag, growth at a constant rate, a plateau.

    log10 N = log10 N0 + mu (t - lag) / ln 10, held at N0 before the lag ends and at Nmax after

    Args:
        time_h: at constant conditions, any shape.
        log10_start: count at the start.
        rate_per_h: natural logarithms an hour.
        lag_h: before growth; none by default.
        log10_max: maximum count, none by default; a start above it stays.

    Returns:
        Count.
    """
    start = np.asarray(log10_start, float)
    growing_h = np.maximum(np.asarray(time_h, float) - lag_h, 0.0)
    grown = start + np.asarray(rate_per_h, float) * growing_h / LN10
    return np.minimum(grown, np.maximum(np.asarray(log10_max, float), start))


def growth_potential(
    time_h: Numbers, rate_per_h: Numbers, middle_rate_per_h: Numbers | None = None
) -> Array:
    """Return the growth potential up to every time of a history.

    M(t) = integral of mu dt, trapezoid rule; Simpson's rule where the rates amid steps are known

    Args:
        time_h: on the last axis, rising, of any step.
        rate_per_h: on the last axis, any leading axes.
        middle_rate_per_h: in the middle of every step. Temperatures that swing by some degrees
            from one reading to the next need it, as the rate between them is no straight line.

    Returns:
        Natural logarithms, 0 at the first time.

    Source:
        Definition; with it the lag and the maximum have a closed form under any history.
    """
    t, rate = np.asarray(time_h, float), np.asarray(rate_per_h, float)
    M = cumulative_trapezoid(rate, t, axis=-1, initial=0)
    if middle_rate_per_h is not None:  # 2/3 of how far the middle lies above the straight line
        bulge = np.asarray(middle_rate_per_h, float) - (rate[..., 1:] + rate[..., :-1]) / 2
        M[..., 1:] += np.cumsum(2 / 3 * np.diff(t) * bulge, axis=-1)
    return M


@formula(unit="log10", source="Jameson 1962; Gimenez & Dalgaard 2004, J. Appl. Microbiol. 96:96")
def log10_counts_competing(
    time_h: Numbers, rate_per_h: Numbers, log10_start: Numbers, log10_max: Numbers
) -> Array:
    """Return the counts of organisms that share one maximum.

    d ln N_i / dt = mu_i (1 - sum N / Nmax): N_i = N_i0 exp(mu_i tau), t = integral of d tau /
    (1 - sum N / Nmax)

    Args:
        time_h: one time, from 0.
        rate_per_h: of each organism, on the last axis.
        log10_start: of each organism, on the last axis.
        log10_max: of all together, above their start.

    Returns:
        Count of each organism at that time.
    """
    mu, start = np.asarray(rate_per_h, float), np.asarray(log10_start, float)
    top = np.asarray(log10_max, float)[..., None]

    def filled(tau: Array) -> Array:
        return np.sum(10 ** (start - top) * np.exp(mu * tau[..., None]), axis=-1)

    low = np.zeros(np.broadcast_shapes(mu.shape, start.shape)[:-1])
    fastest = np.maximum(mu.max(axis=-1), 1e-300)
    high = LN10 * (np.max(top - start, axis=-1) + 1) / fastest
    for _ in range(200):  # where the maximum is reached
        middle = (low + high) / 2
        over = filled(middle) > 1
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    # steps that crowd towards the end, where time runs away
    share = 1 - np.logspace(0, -13, TAU_STEPS)
    tau = low * share[:, None] if low.ndim else low * share
    slowed = 1 / np.maximum(1 - filled(tau), 1e-300)
    clock = cumulative_trapezoid(slowed, tau, axis=0, initial=0)
    shape = low.shape
    flat_clock, flat_tau = clock.reshape(TAU_STEPS, -1), tau.reshape(TAU_STEPS, -1)
    wanted = np.broadcast_to(np.asarray(time_h, float), shape).reshape(-1)
    at = [np.interp(t, flat_clock[:, i], flat_tau[:, i]) for i, t in enumerate(wanted)]
    reached = np.reshape(at, shape)[..., None]
    return start + mu * reached / LN10


@formula(unit="h", source="definition", place="lag, then growth at a constant rate")
def time_to_increase_h(log10_increase: Numbers, rate_per_h: Numbers, lag_h: Numbers = 0.0) -> Array:
    """Return the time to an increase at constant conditions, far from the maximum.

    t = lag + x ln 10 / mu

    Args:
        log10_increase: decades, any shape.
        rate_per_h: natural logarithms an hour; 0: never.
        lag_h: before growth.

    Returns:
        Hours.
    """
    with np.errstate(divide="ignore"):
        return lag_h + np.asarray(log10_increase, float) * LN10 / np.asarray(rate_per_h, float)


@formula(
    unit="d",
    source="Cauvain & Seiler 1992, mould-free shelf life of cakes",
    water_activity=(0.74, 0.90),
    temperature_C=(21, 27),
)
def mould_free_days(water_activity: Numbers, temperature_C: Numbers) -> Array:
    """Return the days before mould shows on an unpreserved food, by an empirical line.

    log10 d = 6.42 - 6.47 a_w at 27 °C, 7.91 - 8.1 a_w at 21 °C; between them by temperature

    Args:
        water_activity: any shape.
        temperature_C: held within 21 to 27 °C.

    Returns:
        Days; below water activity 0.74 only xerophiles grow, and the line must not be used.
    """
    a = 100 * np.asarray(water_activity, float)
    warm, cool = 6.42 - 0.0647 * a, 7.91 - 0.081 * a
    cool = np.maximum(cool, warm)  # the lines cross near 0.91
    share = (np.clip(np.asarray(temperature_C, float), 21, 27) - 21) / 6
    days: Array = 10 ** (cool + share * (warm - cool))
    return days


@formula(
    unit="d",
    source="Skinner & Larkin 1998, J. Food Prot. 61:1154",
    place="envelope of the earliest toxin [memory]",
    temperature_C=(3, 30),
)
def earliest_toxin_days(temperature_C: Numbers) -> Array:
    """Return the earliest day botulinal toxin was seen in optimal media.

    log10 d = 0.65 - 0.0525 T + 2.74 / T

    Args:
        temperature_C: any shape.

    Returns:
        Days.
    """
    T = np.asarray(temperature_C, float)
    days: Array = 10 ** (0.65 - 0.0525 * T + 2.74 / T)
    return days
