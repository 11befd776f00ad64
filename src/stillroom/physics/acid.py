"""Acidity: the pH at which all charges add up, and what follows from it.

Totals are molalities, mol per kg of *water*: sugar, fibre and fat dissolve no acid. pH values do
not average; totals, strong charge and buffer do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.optimize.elementwise import find_root

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.brine import debye_huckel_slope

LN10 = float(np.log(10))
GAS_CONSTANT_J_PER_MOL_K = 8.314462618
SALTING_OUT_UP_TO = 6.0  # mol/kg, ionic strength to which neutral species were measured
WATER_PKA = (13.995, 55.815, -224.6)  # Goldberg, Kishore & Lennen 2002: pK, kJ/mol, J/(mol K)


@formula(
    unit="",
    source="Clarke & Glew 1966; Goldberg, Kishore & Lennen 2002, J. Phys. Chem. Ref. Data 31:231",
    place="constant heat capacity of dissociation",
    temperature_C=(0.0, 75.0),
)
def pka_at_temperature(
    temperature_C: Numbers, pKa: Numbers, delta_h_kJ_mol: Numbers, delta_cp_J_mol_K: Numbers
) -> Array:
    """Return an acid's pKa at another temperature.

    pKa(T) = pKa - dH/(R ln10) (1/th - 1/T) - dCp/(R ln10) (th/T - 1 + ln(T/th)), th = 298.15 K

    Args:
        temperature_C: any shape.
        pKa: thermodynamic value at 25 °C and zero ionic strength.
        delta_h_kJ_mol: enthalpy of dissociation at 25 °C.
        delta_cp_J_mol_K: heat capacity change of dissociation.

    Returns:
        pKa at zero ionic strength.
    """
    T, theta = np.asarray(temperature_C, float) + 273.15, 298.15
    r_ln10 = GAS_CONSTANT_J_PER_MOL_K * LN10
    heat = 1000 * np.asarray(delta_h_kJ_mol) / r_ln10 * (1 / theta - 1 / T)
    capacity = np.asarray(delta_cp_J_mol_K) / r_ln10 * (theta / T - 1 + np.log(T / theta))
    return np.asarray(pKa) - heat - capacity


@formula(
    unit="",
    source="Davies 1962, Ion Association",
    place="with 0.3 I; slope from the dielectric constant of water",
    ionic_strength_mol_per_kg=(0.0, 1.0),
)
def davies_shift(ionic_strength_mol_per_kg: Numbers, temperature_C: Numbers = 25.0) -> Array:
    """Return -log10 of the activity coefficient of a singly charged ion.

    -log10 g_1 = A (sqrt I / (1 + sqrt I) - 0.3 I);  -log10 g_z = z**2 times that

    Nearly flat between 1 and 4 % salt: 0.12 to 0.14. Held at its value at I = 1 above that, where
    the equation turns down and Pitzer's would be needed (error up to 0.1 in pH).

    Args:
        ionic_strength_mol_per_kg: half the sum of c z^2, any shape.
        temperature_C: broadcasts.

    Returns:
        Positive pure number.
    """
    strength = np.minimum(ionic_strength_mol_per_kg, 1.0)
    root = np.sqrt(np.maximum(strength, 0.0))
    return 3 / LN10 * debye_huckel_slope(temperature_C) * (root / (1 + root) - 0.3 * strength)


@formula(
    unit="", source="Davies 1962", place="a_H is an activity (what a meter reads), the rest molal"
)
def mixed_pka(
    pKa: Numbers,
    charge: Numbers,
    shift: Numbers,
    ionic_strength_mol_per_kg: Numbers = 0.0,
    salting_out_kg_per_mol: float = 0.0,
) -> Array:
    """Return the constant that links pH to amounts in a salty solution.

    pKa' = pKa + (2 z - 1) * shift - k_s I [z = 0] + k_s I [z = 1]

    Args:
        pKa: thermodynamic value.
        charge: charge z of the acid form (0 for acetic acid, -1 for its second step ...).
        shift: -log10 of the activity coefficient of a singly charged ion.
        ionic_strength_mol_per_kg: broadcasts.
        salting_out_kg_per_mol: k_s in log10 g_0 = k_s I of neutral species.

    Returns:
        Mixed constant.
    """
    z = np.asarray(charge)
    neutral = np.where(z == 0, -1.0, np.where(z == 1, 1.0, 0.0))
    salting = salting_out_kg_per_mol * np.asarray(ionic_strength_mol_per_kg) * neutral
    return np.asarray(pKa) + (2 * z - 1) * np.asarray(shift) + salting


@dataclass(frozen=True)
class Acid:
    """One acid: charge of its fully protonated form and its dissociation steps at 25 °C."""

    name: str
    pKa: tuple[float, ...]
    charge: int = 0
    delta_h_kJ_mol: tuple[float, ...] = ()
    delta_cp_J_mol_K: tuple[float, ...] = ()

    def pka(self, temperature_C: Numbers) -> list[Array]:
        """Return the constant of each step at a temperature, ionic strength zero."""
        zeros = (0.0,) * len(self.pKa)
        return [
            pka_at_temperature(temperature_C, *step)
            for step in zip(
                self.pKa, self.delta_h_kJ_mol or zeros, self.delta_cp_J_mol_K or zeros, strict=True
            )
        ]


def pseudo_acid(pKa: float) -> Acid:
    """Return the monoprotic neutral acid that stands for unnamed buffer near a pKa.

    HB = H+ + B-

    Args:
        pKa: centre of the buffer.

    Returns:
        An acid with one step and no heat of dissociation.

    Source:
        Pseudo-acids on a unit grid of pKa represent any smooth titration curve.
    """
    return Acid(f"buffer {pKa:g}", (pKa,))


def species_fractions(ph: Numbers, mixed_pkas: Sequence[Numbers]) -> list[Array]:
    """Return the share of each form of an acid, fully protonated first.

    alpha_j = prod_{s<=j} 10**(pH - pKa'_s) / sum over j

    Args:
        ph: any shape.
        mixed_pkas: constant of each step; broadcast with *ph*.

    Returns:
        One array per form; they add up to 1.

    Source:
        Law of mass action, step by step.
    """
    return _shares([10 ** (np.asarray(ph, float) - pk) for pk in mixed_pkas])


def _shares(ratios: Sequence[Array]) -> list[Array]:
    """Return the share of each form from the ratio of each form to the one before it."""
    weights: list[Array] = [np.asarray(1.0)]
    for ratio in ratios:
        weights.append(weights[-1] * ratio)
    total = sum(weights[1:], weights[0])
    return [w / total for w in weights]


@dataclass(frozen=True)
class Solution:
    """Acids and strong ions in a kilogram of water; every amount broadcasts.

    Attributes:
        totals_mol_per_kg: total of each acid in *acids*, in the same order.
        acids: the acids, pseudo-acids of the unnamed buffer included.
        strong_charge_mol_per_kg: net charge of the strong ions (cations minus anions).
        background_mol_per_kg: their ionic strength, half the sum of c z^2.
        temperature_C: of the solution.
        ideal: all activity coefficients are 1, of ions and of neutral species.
        salting_out_kg_per_mol: k_s of neutral species.
    """

    totals_mol_per_kg: Sequence[Numbers]
    acids: Sequence[Acid]
    strong_charge_mol_per_kg: Numbers = 0.0
    background_mol_per_kg: Numbers = 0.0
    temperature_C: Numbers = 25.0
    ideal: bool = False
    salting_out_kg_per_mol: float = 0.0

    @property
    def shape(self) -> tuple[int, ...]:
        """Broadcast shape of all amounts."""
        amounts = (self.strong_charge_mol_per_kg, self.background_mol_per_kg, self.temperature_C)
        return np.broadcast_shapes(*map(np.shape, (*self.totals_mol_per_kg, *amounts)))

    @cached_property
    def pkas(self) -> list[list[Array]]:
        """Constants of every step of every acid at the temperature, ionic strength zero."""
        return [acid.pka(self.temperature_C) for acid in self.acids]

    @cached_property
    def pkw(self) -> Array:
        """Ion product of water at the temperature."""
        return pka_at_temperature(self.temperature_C, *WATER_PKA)

    def shift(self, ionic_strength_mol_per_kg: Numbers) -> Array:
        """Return -log10 of the activity coefficient of a singly charged ion."""
        if self.ideal:
            return np.zeros(np.shape(ionic_strength_mol_per_kg))
        return davies_shift(ionic_strength_mol_per_kg, self.temperature_C)

    def forms(
        self, ph: Numbers, ionic_strength_mol_per_kg: Numbers
    ) -> list[tuple[Acid, Array, list[Array]]]:
        """Return (acid, total, share of each form) of every acid at a pH and ionic strength."""
        return self._forms(self._ratios(ph), ionic_strength_mol_per_kg)

    def _ratios(self, ph: Numbers) -> list[list[Array]]:
        """Return 10**(pH - pKa) of every step at ionic strength zero: costly, done once."""
        return [[10 ** (np.asarray(ph, float) - pk) for pk in steps] for steps in self.pkas]

    def _forms(
        self, ratios: list[list[Array]], strength: Numbers
    ) -> list[tuple[Acid, Array, list[Array]]]:
        ions = 10 ** self.shift(strength)  # 1 / gamma of a singly charged ion
        salting_out = 0.0 if self.ideal else self.salting_out_kg_per_mol
        salt = 10 ** (salting_out * np.minimum(strength, SALTING_OUT_UP_TO))
        forms = []
        for acid, total, steps in zip(self.acids, self.totals_mol_per_kg, ratios, strict=True):
            z, factor, shifted = acid.charge, ions ** (1 - 2 * acid.charge), []
            for ratio in steps:  # 10**(pH - mixed_pka), written as a product
                salting = salt if z == 0 else 1 / salt if z == 1 else 1.0
                shifted.append(ratio * factor * salting)
                z, factor = z - 1, factor * ions * ions
            forms.append((acid, np.asarray(total, float), _shares(shifted)))
        return forms

    def flat(self) -> Solution:
        """Return the same solution with all amounts one-dimensional and of equal length."""

        def flat(x: Numbers) -> Array:
            return np.broadcast_to(np.asarray(x, float), self.shape).reshape(-1)

        temperature = self.temperature_C
        return Solution(
            [flat(c) for c in self.totals_mol_per_kg],
            self.acids,
            flat(self.strong_charge_mol_per_kg),
            flat(self.background_mol_per_kg),
            flat(temperature) if np.ndim(temperature) else temperature,
            self.ideal,
            self.salting_out_kg_per_mol,
        )


def charge_balance(solution: Solution, ph: Numbers) -> tuple[Array, Array]:
    """Return the sum of all charges at a pH, and the ionic strength there.

    f = S + [H+] - [OH-] + sum_i C_i zbar_i(pH);  zbar_i = sum_j (z0_i - j) alpha_ij

    f falls strictly with pH, so the pH at which it is zero is the only one. The ionic strength
    depends on the forms and they on it: four passes bring it to 1e-6.

    Args:
        solution: what is dissolved.
        ph: any shape that broadcasts with the amounts.

    Returns:
        Net charge and ionic strength, mol/kg water.

    Source:
        Electroneutrality; mixed constants by Davies.
    """
    strength = np.asarray(solution.background_mol_per_kg, float)
    ratios = solution._ratios(ph)
    acidity, alkalinity = 10 ** -np.asarray(ph, float), 10 ** (np.asarray(ph, float) - solution.pkw)
    for _ in range(1 if solution.ideal else 4):
        ions = 10 ** solution.shift(strength)  # 1 / gamma of a singly charged ion
        hydrogen, hydroxide = acidity * ions, alkalinity * ions
        charge = solution.strong_charge_mol_per_kg + hydrogen - hydroxide
        squares = hydrogen + hydroxide
        for acid, total, shares in solution._forms(ratios, strength):
            for j, share in enumerate(shares):
                z = acid.charge - j
                if z:
                    charge = charge + z * total * share
                    squares = squares + z**2 * total * share
        strength = solution.background_mol_per_kg + squares / 2
    return charge, strength


def equilibrium_ph(solution: Solution) -> Array:
    """Return the pH of a solution.

    solve f(pH) = 0 by bracketing in [-1, 14]

    Args:
        solution: what is dissolved; every amount broadcasts.

    Returns:
        pH (minus log10 of the hydrogen ion activity), in the broadcast shape.

    Source:
        The bracket always changes sign for physical input: at pH -1 hydrogen ion outweighs any
        strong anion below 10 mol/kg. Elsewhere the result is nan.
    """
    flat = solution.flat()
    size = int(np.prod(solution.shape))

    def balance(ph: Array, i: NDArray[np.int64]) -> Array:
        return charge_balance(_take(flat, i, size), ph)[0]

    root = find_root(
        balance,
        (np.full(size, -1.0), np.full(size, 14.0)),
        args=(np.arange(size),),
        tolerances={"xatol": 1e-9, "xrtol": 0, "fatol": 0, "frtol": 0},
    )
    return np.where(root.success, root.x, np.nan).reshape(solution.shape)


def _take(flat: Solution, i: NDArray[np.int64], size: int) -> Solution:
    if i.size == size:
        return flat
    t = flat.temperature_C
    return Solution(
        [np.asarray(c)[i] for c in flat.totals_mol_per_kg],
        flat.acids,
        np.asarray(flat.strong_charge_mol_per_kg)[i],
        np.asarray(flat.background_mol_per_kg)[i],
        np.asarray(t)[i] if np.ndim(t) else t,
        flat.ideal,
        flat.salting_out_kg_per_mol,
    )


@formula(unit="", source="Henderson 1908; Hasselbalch 1916")
def undissociated_fraction(ph: Numbers, pKa: Numbers) -> Array:
    """Return the undissociated share of an acid with one step.

    alpha_0 = 1 / (1 + 10**(pH - pKa))

    Args:
        ph: any shape.
        pKa: thermodynamic constant (the convention of published inhibition limits), or the mixed
            constant of the salty solution (what is physically there); keep the two apart.

    Returns:
        Share, 0 to 1.
    """
    return 1 / (1 + 10 ** (np.asarray(ph, float) - pKa))
