"""How heat kills: lethality along a temperature history, and what it leaves.

A lethality is minutes at a reference temperature, and means nothing without that temperature and
its z. Histories carry time on the last axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.integrate import cumulative_trapezoid, simpson

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.phase import GAS_CONSTANT_J_PER_MOL_K

Rule = Literal["trapezoid", "simpson"]

ZERO_C = 273.15
TRUSTED_Z = 3.0  # how many z from its reference a straight line is followed


@dataclass(frozen=True)
class Scale:
    """What minutes of heat are counted in: a lethality means nothing without it.

    Attributes:
        reference_C: a minute here counts as a minute.
        z_C: rise that makes the kill ten times faster.
        z_above_C: another z above the reference; the same by default.
    """

    reference_C: float
    z_C: float
    z_above_C: float | None = None

    def __str__(self) -> str:
        z = f"z {self.z_C:.3g} °C"
        if self.z_above_C not in (None, self.z_C):
            z = f"z {self.z_above_C:.3g} °C above, {self.z_C:.3g} °C below"
        return f"{self.reference_C:g} °C, {z}"

    @property
    def lowest_C(self) -> float:
        """Below this nothing is counted: no line is known to run so far."""
        return self.reference_C - TRUSTED_Z * self.z_C

    @property
    def highest_C(self) -> float:
        """Above this no more is counted than there."""
        return self.reference_C + TRUSTED_Z * (self.z_above_C or self.z_C)

    def rate(self, temperature_C: Numbers) -> Array:
        """Return the lethal rate; none below three z under the reference, no more above three.

        Args:
            temperature_C: any shape.
        """
        T = np.asarray(temperature_C, float)
        counted = np.minimum(T, self.highest_C)
        rate = lethal_rate(counted, self.reference_C, self.z_C, self.z_above_C)
        return np.where(self.lowest_C > T, 0.0, rate)

    def minutes(self, time_s: Numbers, temperature_C: Numbers) -> Array:
        """Return the lethality up to every time of a history, trapezoid rule on the rates.

        Args:
            time_s: on the last axis, rising, of any step.
            temperature_C: on the last axis, any leading axes.
        """
        t = np.asarray(time_s, float) / 60
        return cumulative_trapezoid(self.rate(temperature_C), t, axis=-1, initial=0)


@formula(unit="", source="Bigelow 1921; Ball 1923", place="straight-line model")
def lethal_rate(
    temperature_C: Numbers,
    reference_C: Numbers,
    z_C: Numbers,
    z_above_C: Numbers | None = None,
) -> Array:
    """Return how many minutes at the reference temperature a minute here is worth.

    L = 10**((T - T_ref) / z)

    Args:
        temperature_C: any shape.
        reference_C: reference temperature.
        z_C: rise that makes the kill ten times faster, > 0.
        z_above_C: another z above the reference temperature; the same by default.

    Returns:
        Lethal rate, in the broadcast shape of the inputs.

    Raises:
        ValueError: a z is not positive.
    """
    above = z_C if z_above_C is None else z_above_C
    if np.any(np.asarray(z_C) <= 0) or np.any(np.asarray(above) <= 0):
        raise ValueError(f"z must be above 0 °C, got {z_C} and {above}.")
    over = np.asarray(temperature_C, float) - np.asarray(reference_C, float)
    z = z_C if z_above_C is None else np.where(over < 0, z_C, above)
    rate: Array = np.exp(over * (np.log(10) / np.asarray(z, float)))
    return rate


def accumulated_lethality_min(
    time_min: Numbers,
    temperature_C: Numbers,
    reference_C: Numbers,
    z_C: Numbers,
    z_above_C: Numbers | None = None,
) -> Array:
    """Return the lethality up to every time of a history.

    F(t) = integral of L dt, trapezoid rule on the lethal rates

    Args:
        time_min: times on the last axis, rising, of any step.
        temperature_C: temperatures on the last axis, any leading axes.
        reference_C: as in lethal_rate.
        z_C: as in lethal_rate.
        z_above_C: as in lethal_rate.

    Returns:
        Minutes at the reference temperature, zero at the first time.

    Source:
        General method, Bigelow 1920. Steps over a minute near the peak bias it by some per cent.
    """
    rate = lethal_rate(temperature_C, reference_C, z_C, z_above_C)
    return cumulative_trapezoid(rate, np.asarray(time_min, float), axis=-1, initial=0)


def lethality_min(
    time_min: Numbers,
    temperature_C: Numbers,
    reference_C: Numbers,
    z_C: Numbers,
    z_above_C: Numbers | None = None,
    rule: Rule = "trapezoid",
) -> Array:
    """Return the lethality of a whole history.

    F = integral of L dt

    Args:
        time_min: times on the last axis, rising.
        temperature_C: temperatures on the last axis, any leading axes.
        reference_C: as in lethal_rate.
        z_C: as in lethal_rate.
        z_above_C: as in lethal_rate.
        rule: "trapezoid" for any steps, "simpson" for equal steps only.

    Returns:
        Minutes at the reference temperature.

    Raises:
        ValueError: Simpson's rule asked for on unequal steps.

    Source:
        General method, Bigelow 1920.
    """
    if rule == "trapezoid":
        args = (time_min, temperature_C, reference_C, z_C, z_above_C)
        return accumulated_lethality_min(*args)[..., -1]
    steps = np.diff(np.asarray(time_min, float))
    if not np.allclose(steps, steps[..., :1]):
        raise ValueError("Simpson's rule needs equal time steps; use the trapezoid rule.")
    rate = lethal_rate(temperature_C, reference_C, z_C, z_above_C)
    total: Array = np.asarray(simpson(rate, x=np.asarray(time_min, float), axis=-1))
    return total


@formula(
    unit="min",
    source="Bigelow 1921; Chilled Food Association 2006 for the two z of the UK equivalents",
    place="straight-line model; table of equivalents of 90 °C for 10 min",
    temperature_C=(60, 130),
)
def equivalent_hold_min(
    temperature_C: Numbers,
    reference_min: Numbers,
    reference_C: Numbers,
    z_C: Numbers,
    z_above_C: Numbers | None = None,
) -> Array:
    """Return the hold at one temperature that kills as much as a reference hold.

    t = t_ref / L = t_ref * 10**((T_ref - T) / z)

    Args:
        temperature_C: of the hold, any shape.
        reference_min: hold at the reference temperature; a D there gives the D here.
        reference_C: reference temperature.
        z_C: as in lethal_rate.
        z_above_C: as in lethal_rate.

    Returns:
        Minutes, in the broadcast shape of the inputs.

    Raises:
        ValueError: a z is not positive.

    Source:
        Non-proteolytic Clostridium botulinum, 90 °C for 10 min: z = 9 °C below and 10 °C above
        reproduce the UK table; spores recovered without lysozyme fit z = 7 °C below.
    """
    rate = lethal_rate(temperature_C, reference_C, z_C, z_above_C)
    hold: Array = np.asarray(reference_min, float) / rate
    return hold


@formula(unit="", source="Bigelow 1921", place="survivors fall by a power of ten in each D")
def log_reductions(lethality_min: Numbers, d_min: Numbers) -> Array:
    """Return by how many powers of ten a lethality reduces an organism.

    n = F / D

    Args:
        lethality_min: with the organism's own z, any shape.
        d_min: decimal reduction time at the reference temperature of the lethality, > 0.

    Returns:
        Decades.
    """
    n: Array = np.asarray(lethality_min, float) / np.asarray(d_min, float)
    return n


@formula(unit="min", source="Stumbo 1973", place="F of a wanted reduction")
def lethality_for_reductions_min(log_reductions: Numbers, d_min: Numbers) -> Array:
    """Return the lethality that reduces an organism by so many powers of ten.

    F = n D

    Args:
        log_reductions: decades wanted, any shape.
        d_min: decimal reduction time at the reference temperature.

    Returns:
        Minutes at that reference temperature.
    """
    F: Array = np.asarray(log_reductions, float) * np.asarray(d_min, float)
    return F


@formula(unit="", source="first-order decay", place="D model")
def fraction_left(lethality_min: Numbers, d_min: Numbers) -> Array:
    """Return the share of a vitamin, colour or texture that a heat treatment leaves.

    c / c_0 = 10**(-F / D)

    Args:
        lethality_min: with the z of the reaction, any shape.
        d_min: time to a tenth at the reference temperature of the lethality, > 0.

    Returns:
        Share left.
    """
    left: Array = 10 ** -log_reductions(lethality_min, d_min)
    return left


@formula(unit="min", source="Stumbo 1973", place="mass-average survivors")
def mass_average_lethality_min(
    lethality_min: Numbers, weights: Numbers, d_min: Numbers = 1.0
) -> Array:
    """Return the uniform lethality that would leave as many survivors as the whole pack has.

    F_s = -D log10( sum w 10**(-F / D) / sum w )

    Args:
        lethality_min: of the parts of a pack, on the last axis.
        weights: volume of each part, on the last axis.
        d_min: decimal reduction time at the reference temperature.

    Returns:
        Minutes at the reference temperature; the coldest part governs it.
    """
    F, w = np.asarray(lethality_min, float), np.asarray(weights, float)
    least = np.where(w > 0, F, np.inf).min(axis=-1, keepdims=True)
    above = np.maximum(F - least, 0.0)  # places of no volume may lie below
    left = np.sum(w * 10 ** (-above / d_min), axis=-1) / w.sum(axis=-1)
    average: Array = least[..., 0] - np.asarray(d_min, float) * np.log10(left)
    return average


@formula(unit="°C", source="Bigelow 1921", place="slope of log10 D over temperature")
def z_from_d_values_C(temperature_C: Numbers, d_min: Numbers) -> Array:
    """Return the z of D values at several temperatures.

    z = -1 / slope of log10 D over T, by least squares

    Args:
        temperature_C: on the last axis, two or more.
        d_min: decimal reduction times, on the last axis.

    Returns:
        z.
    """
    T = np.asarray(temperature_C, float)
    y = np.log10(np.asarray(d_min, float))
    dT, dy = T - T.mean(axis=-1, keepdims=True), y - y.mean(axis=-1, keepdims=True)
    z: Array = -np.sum(dT**2, axis=-1) / np.sum(dT * dy, axis=-1)
    return z


@formula(unit="°C", source="definition", place="the two models have one slope at one temperature")
def z_from_activation_energy_C(activation_energy_kJ_mol: Numbers, temperature_C: Numbers) -> Array:
    """Return the z that has the slope of an activation energy at one temperature.

    z = ln 10 R T**2 / E_a

    Args:
        activation_energy_kJ_mol: any shape.
        temperature_C: where the slopes agree.

    Returns:
        z; the two models part away from that temperature.
    """
    T = np.asarray(temperature_C, float) + ZERO_C
    E = 1000 * np.asarray(activation_energy_kJ_mol, float)
    z: Array = np.log(10) * GAS_CONSTANT_J_PER_MOL_K * T**2 / E
    return z


@formula(unit="as k_ref", source="Arrhenius 1889")
def rate_constant(
    k_ref: Numbers,
    reference_C: Numbers,
    activation_energy_kJ_mol: Numbers,
    temperature_C: Numbers,
) -> Array:
    """Return a first-order rate at another temperature.

    k = k_ref exp(-E_a / R (1 / T - 1 / T_ref))

    Args:
        k_ref: rate at the reference temperature, any unit and shape.
        reference_C: reference temperature.
        activation_energy_kJ_mol: of the reaction.
        temperature_C: any shape.

    Returns:
        Rate, in the unit of k_ref.
    """
    T, T_ref = np.asarray(temperature_C, float) + ZERO_C, np.asarray(reference_C, float) + ZERO_C
    E = 1000 * np.asarray(activation_energy_kJ_mol, float)
    k: Array = k_ref * np.exp(-E / GAS_CONSTANT_J_PER_MOL_K * (1 / T - 1 / T_ref))
    return k


@formula(unit="min", source="definition", place="a first-order rate falls to a tenth in D")
def d_from_rate_constant_min(rate_per_min: Numbers) -> Array:
    """Return the time to a tenth of a first-order reaction.

    D = ln 10 / k

    Args:
        rate_per_min: any shape.

    Returns:
        Minutes.
    """
    D: Array = np.log(10) / np.asarray(rate_per_min, float)
    return D


@formula(unit="min", source="Mafart et al. 2002", place="equation 2, solved for the time")
def weibull_time_min(log_reduction: Numbers, delta_min: Numbers, p: Numbers) -> Array:
    """Return the time to a log reduction where survivors have a shoulder or a tail.

    t = delta n**(1 / p)

    Args:
        log_reduction: decades wanted, any shape.
        delta_min: time to the first decade.
        p: above 1 a shoulder, below 1 a tail.

    Returns:
        Minutes at one temperature.
    """
    t: Array = delta_min * np.asarray(log_reduction, float) ** (1 / np.asarray(p, float))
    return t


@formula(unit="", source="Mafart et al. 2002", place="equation 2")
def weibull_log_reduction(time_min: Numbers, delta_min: Numbers, p: Numbers) -> Array:
    """Return the log reduction where survivors have a shoulder or a tail.

    n = (t / delta)**p

    Args:
        time_min: at one temperature, any shape.
        delta_min: time to the first decade.
        p: above 1 a shoulder, below 1 a tail.

    Returns:
        Decades.
    """
    n: Array = (np.asarray(time_min, float) / delta_min) ** np.asarray(p, float)
    return n


@formula(unit="", source="definition", place="D falls tenfold in each z of water activity")
def d_ratio_from_water_activity(
    water_activity: Numbers, other_water_activity: Numbers, z_water_activity: Numbers
) -> Array:
    """Return how many times longer D is at another water activity: dry cells outlive wet ones.

    D_2 / D_1 = 10**((a_1 - a_2) / z_a)

    Args:
        water_activity: at the temperature of the treatment, any shape.
        other_water_activity: where the ratio is asked for.
        z_water_activity: fall in water activity that makes D ten times longer.

    Returns:
        Ratio of the D values.
    """
    drier = np.asarray(water_activity, float) - np.asarray(other_water_activity, float)
    ratio: Array = 10 ** (drier / np.asarray(z_water_activity, float))
    return ratio
