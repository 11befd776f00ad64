"""Lactic ferments: how fast a flora grows and sours a food, its pH by the charge balance."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

from stillroom.labels import Array, Numbers, formula
from stillroom.physics import acid as acidity
from stillroom.physics.ferment import REFERENCE_C, acid_made_mol_per_kg_h
from stillroom.physics.kinetics import acid_factor, linear_factor, square_root_rate_per_h


@formula(
    unit="1/h",
    source="Passos et al. 1993, Appl. Environ. Microbiol. 59:475 (limits); exponents taken as 1",
    place="growth of lactic bacteria in a vegetable juice",
)
def lactic_growth_rate_per_h(
    rate_at_best_per_h: Numbers,
    sugar_mol_per_kg: Numbers,
    lactic_mmol_per_kg: Numbers,
    acetic_mmol_per_kg: Numbers,
    ph: Numbers,
    water_activity: Numbers,
    half_sugar_mol_per_kg: float,
    lactic_limit_mmol_per_kg: float,
    acetic_limit_mmol_per_kg: float,
    ph_min: float,
    ph_max: float,
    aw_min: float,
    aw_best: float,
) -> Array:
    """Return the growth rate of a lactic flora in a souring food.

    mu = mu_T S / (Ks + S) (1 - HLa / HLa_max) (1 - HAc / HAc_max) (1 - 10^(pH_min - pH))
    (1 - 10^(pH - pH_max)) (a_w - a_w,min) / (a_w,best - a_w,min), every factor held within 0 and 1

    Args:
        rate_at_best_per_h: at the temperature, all else at its best.
        sugar_mol_per_kg: hexose in the water phase, any shape.
        lactic_mmol_per_kg: undissociated lactic acid in the water phase.
        acetic_mmol_per_kg: undissociated acetic acid.
        ph: of the food.
        water_activity: of the food; carries the salt.
        half_sugar_mol_per_kg: sugar that halves the rate.
        lactic_limit_mmol_per_kg: dose that stops growth.
        acetic_limit_mmol_per_kg: dose that stops growth.
        ph_min: that stops growth.
        ph_max: that stops growth.
        aw_min: that stops growth.
        aw_best: from which on it is no hindrance.

    Returns:
        Natural logarithms an hour, never negative.
    """
    S = np.maximum(np.asarray(sugar_mol_per_kg, float), 0.0)
    return (
        np.asarray(rate_at_best_per_h, float)
        * (S / (half_sugar_mol_per_kg + S))
        * acid_factor(lactic_mmol_per_kg, lactic_limit_mmol_per_kg)
        * acid_factor(acetic_mmol_per_kg, acetic_limit_mmol_per_kg)
        * _within(ph, ph_min, ph_max)
        * linear_factor(water_activity, aw_min, aw_best)
    )


def _within(ph: Numbers, lowest: float, highest: float) -> Array:
    """Return the share that a pH between two limits leaves."""
    pH = np.asarray(ph, float)
    sour, alkaline = 1 - 10 ** (lowest - pH), 1 - 10 ** (pH - highest)
    return np.clip(sour, 0.0, 1.0) * np.clip(alkaline, 0.0, 1.0)


# --- the charge balance, tabulated ------------------------------------------------------------


class Souring:
    """pH of a food in which a few acids come and go: its charge balance, tabulated once.

    The charge that everything else carries depends on the pH alone, as long as the ionic strength
    does not change; acid that neutralises a buffer hardly changes it (0.01 pH).
    """

    GRID = np.concatenate(
        [np.arange(0.0, 2.0, 0.2), np.arange(2.0, 8.0, 0.05), np.arange(8.0, 14.01, 0.2)]
    )

    def __init__(
        self,
        solution: acidity.Solution,
        moving: Sequence[acidity.Acid],
    ) -> None:
        """Tabulate a solution.

        Args:
            solution: amounts of one sample axis.
            moving: the acids that come and go, in order.
        """
        flat = solution.flat()
        self.start_ph = acidity.equilibrium_ph(flat)
        strength = acidity.charge_balance(flat, self.start_ph)[1]
        names = [a.name for a in moving]
        grid = self.GRID[:, None]
        shift = flat.shift(strength)
        fixed = flat.strong_charge_mol_per_kg + 10**shift * (10**-grid - 10 ** (grid - flat.pkw))
        for one, total, shares in flat.forms(grid, strength):
            if one.name not in names:
                fixed = fixed + total * _mean_charge(one, shares)
        self.fixed = fixed
        alone = acidity.Solution(
            [1.0] * len(moving),
            moving,
            temperature_C=flat.temperature_C,
            salting_out_kg_per_mol=flat.salting_out_kg_per_mol,
        )
        self.charges = [_mean_charge(a, s) for a, _, s in alone.forms(grid, strength)]

    def ph(self, totals_mol_per_kg: Sequence[Array]) -> Array:
        """Return the pH.

        Args:
            totals_mol_per_kg: of each moving acid, by sample.
        """
        charge = self.fixed + sum(
            z * total for z, total in zip(self.charges, totals_mol_per_kg, strict=True)
        )
        # it falls with pH: the last point above zero and the next hold the root
        last = np.clip((charge > 0).sum(axis=0) - 1, 0, self.GRID.size - 2)
        n = np.arange(charge.shape[1])
        above, below = charge[last, n], charge[last + 1, n]
        part = np.clip(above / (above - below), 0.0, 1.0)
        return self.GRID[last] + part * (self.GRID[last + 1] - self.GRID[last])


def _mean_charge(one: acidity.Acid, shares: Sequence[Array]) -> Array:
    return sum(((one.charge - j) * share for j, share in enumerate(shares)), np.zeros(1))


# --- lactic ferment ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Flora:
    """How a lactic flora grows and what it makes.

    Attributes:
        b: slope of the square-root model, 1/(°C sqrt(h)).
        temp_min_C: where that line meets zero.
        c: its bend at the upper end.
        temp_max_C: above which nothing grows.
        half_sugar_mol_per_kg: see lactic_growth_rate_per_h, as the following.
        lactic_limit_mmol_per_kg: of growth.
        acetic_limit_mmol_per_kg: of growth.
        ph_min: of growth.
        ph_max: of growth and of acid.
        aw_min: of growth.
        aw_best: for growth.
        ph_stop: below which standing cells make no more acid.
        death_per_h: at 30 °C.
        per_growth_mol_per_g: acid made while a gram of cells grows.
        standing_mol_per_g_h: acid made by cells that only live, at 30 °C.
        start_g_per_kg: dry cells at the start.
        gas_forming: heterolactic, or else homolactic.
    """

    b: float
    temp_min_C: float
    c: float
    temp_max_C: float
    half_sugar_mol_per_kg: float
    lactic_limit_mmol_per_kg: float
    acetic_limit_mmol_per_kg: float
    ph_min: float
    ph_max: float
    aw_min: float
    aw_best: float
    ph_stop: float
    death_per_h: float
    per_growth_mol_per_g: float
    standing_mol_per_g_h: float
    start_g_per_kg: float
    gas_forming: bool

    def rate_per_h(self, temperature_C: Numbers) -> Array:
        """Return the growth rate at a temperature, all else at its best."""
        return square_root_rate_per_h(
            temperature_C, self.b, self.temp_min_C, self.c, self.temp_max_C
        )


@dataclass(frozen=True)
class LacticCourse:
    """A lactic ferment over time; times first, samples last.

    Attributes:
        time_h: from the start.
        turned_mol_per_kg: pathway -> times it has run, mol per kg of water.
        fructose_mol_per_kg: what is left of it.
        cells_g_per_kg: of each flora, on the first axis.
        ph: of the food.
    """

    time_h: Array
    turned_mol_per_kg: Mapping[str, Array]
    fructose_mol_per_kg: Array
    cells_g_per_kg: Array
    ph: Array


LACTIC_PATHWAYS = ("homolactic", "heterolactic", "heterolactic with fructose", "malolactic")
FRUCTOSE_TAKEN_FIRST = 0.75  # of what gas formers use, as long as there is fructose
LITTLE_FRUCTOSE = 0.005  # mol/kg
NO_SUGAR = 1e-6  # mol/kg
MALIC_PER_G_H = 0.05  # kg/(g h): malic acid is gone within a day of full growth
LACTIC_PKA, ACETIC_PKA = 3.86, 4.76  # ideal, the convention of the limits


def lactic_course(
    time_h: Numbers,
    temperature_C: Callable[[float], float],
    glucose_mol_per_kg: Array,
    fructose_mol_per_kg: Array,
    acids_mol_per_kg: Sequence[Array],
    water_activity: Array,
    souring: Souring,
    floras: Sequence[Flora],
    rate_factor: Numbers = 1.0,
    start_factor: Numbers = 1.0,
) -> LacticCourse:
    """Follow a lactic ferment, every sample at once.

    d ln X / dt = mu - k_d;  dP/dt = (a mu + b) X, shared out over the pathways; pH by the charge
    balance at every step

    Args:
        time_h: at which it is wanted, rising from 0.
        temperature_C: of the ferment at a time.
        glucose_mol_per_kg: hexose other than fructose in the water phase, by sample.
        fructose_mol_per_kg: by sample.
        acids_mol_per_kg: lactic, acetic and malic acid at the start, by sample.
        water_activity: at the start; it hardly moves.
        souring: pH from these three acids.
        floras: what grows.
        rate_factor: on every rate, by sample.
        start_factor: on the cells at the start, by sample.

    Returns:
        The course. The mixture moves by it along the stoichiometry of PATHWAYS.

    Source:
        Passos et al. 1993, 1994 for homolactic growth; the same form for gas formers.
    """
    times = np.asarray(time_h, float)
    size, kinds = souring.start_ph.size, len(floras)
    hexose0 = glucose_mol_per_kg + fructose_mol_per_kg
    factor = np.broadcast_to(np.asarray(rate_factor, float), size)

    def acids(turned: Array) -> list[Array]:
        homo, hetero, mannitol, malo = turned
        lactic, acetic, malic = acids_mol_per_kg
        return [lactic + 2 * homo + hetero + mannitol + malo, acetic + mannitol, malic - malo]

    def slope(at: float, state: Array) -> Array:
        y = state.reshape(kinds + 5, size)
        turned, fructose = y[kinds : kinds + 4], np.maximum(y[-1], 0.0)
        hexose = np.maximum(hexose0 - turned[0] - turned[1] - 3 * turned[2], 0.0)
        now = acids(turned)
        ph = souring.ph(now)
        lactic = 1000 * now[0] / (1 + 10 ** (ph - LACTIC_PKA))
        acetic = 1000 * now[1] / (1 + 10 ** (ph - ACETIC_PKA))
        change = np.zeros_like(y)
        warm = float(temperature_C(at))
        for n, f in enumerate(floras):
            cells = np.exp(np.minimum(y[n], 5.0))
            speed = factor * f.rate_per_h(warm)
            mu = lactic_growth_rate_per_h(
                speed, hexose, lactic, acetic, ph, water_activity,
                f.half_sugar_mol_per_kg, f.lactic_limit_mmol_per_kg, f.acetic_limit_mmol_per_kg,
                f.ph_min, f.ph_max, f.aw_min, f.aw_best,
            )  # fmt: skip
            pace = speed / f.rate_per_h(REFERENCE_C)
            fed = hexose / (f.half_sugar_mol_per_kg + hexose)
            awake = fed * _within(ph, f.ph_stop, f.ph_max)
            made = acid_made_mol_per_kg_h(
                mu, cells, f.per_growth_mol_per_g, f.standing_mol_per_g_h * pace * awake
            )
            change[n] = mu - f.death_per_h * pace
            if f.gas_forming:
                share = FRUCTOSE_TAKEN_FIRST * fructose / (LITTLE_FRUCTOSE + fructose)
                change[kinds + 1] += made * (1 - share)
                change[kinds + 2] += made * share / 3
                change[-1] -= made * share * 2 / 3
                eaten = made * (1 - share)
            else:
                change[kinds] += made / 2
                eaten = made / 2
            change[-1] -= eaten * np.minimum(fructose / np.maximum(hexose, NO_SUGAR), 1.0)
            change[kinds + 3] += MALIC_PER_G_H * pace * cells * np.maximum(now[2], 0.0)
        return change.reshape(-1)

    start = np.zeros((kinds + 5, size))
    for n, f in enumerate(floras):
        start[n] = np.log(f.start_g_per_kg * np.asarray(start_factor, float))
    start[-1] = fructose_mol_per_kg
    solved = solve_ivp(
        slope, (0.0, float(times[-1])), start.reshape(-1), method="RK45", t_eval=times,
        rtol=1e-4, atol=1e-5,
    )  # fmt: skip
    y = solved.y.reshape(kinds + 5, size, times.size).transpose(0, 2, 1)
    turned = y[kinds : kinds + 4].copy()
    used = turned[0] + turned[1] + 3 * turned[2]  # a step may overshoot by 1e-7
    turned[:3] *= np.minimum(1.0, np.divide(hexose0, used, out=np.ones_like(used), where=used > 0))
    turned[3] = np.minimum(turned[3], acids_mol_per_kg[2])
    ph = np.stack([souring.ph(acids(turned[:, n])) for n in range(times.size)])
    return LacticCourse(
        times,
        dict(zip(LACTIC_PATHWAYS, turned, strict=True)),
        np.maximum(y[-1], 0.0),
        np.exp(y[:kinds]),
        ph,
    )
