"""What a charge balance tells of titrations: doses, buffers, and acids from measurements."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.acid import (
    GAS_CONSTANT_J_PER_MOL_K,
    LN10,
    Acid,
    Solution,
    charge_balance,
)


def strong_charge_for_ph(solution: Solution, ph: Numbers) -> Array:
    """Return the extra strong charge that makes a measured pH come true.

    U = -f(pH), with |U| counted in the ionic strength

    Args:
        solution: what is known to be dissolved.
        ph: measured pH, broadcasts.

    Returns:
        Unassigned strong charge, mol/kg water; positive means cations.

    Source:
        Charge balance solved for the strong ions, under the same activity model that later solves
        the blend: otherwise the whole salt correction appears as a spurious shift of acid.
    """
    unassigned: Array = np.zeros(np.broadcast_shapes(solution.shape, np.shape(ph)))
    for _ in range(1 if solution.ideal else 12):
        known = replace(
            solution,
            background_mol_per_kg=solution.background_mol_per_kg + np.abs(unassigned) / 2,
        )
        unassigned = -charge_balance(known, ph)[0]
    return unassigned


def dose_for_ph(solution: Solution, added: Acid, target_ph: Numbers) -> Array:
    """Return the amount of an acid that brings a solution to a pH.

    d = -f(pH_target) / zbar_added(pH_target)

    Args:
        solution: what is dissolved before.
        added: the acid to add, in its free form.
        target_ph: wanted pH, broadcasts.

    Returns:
        mol per kg of water; negative where the solution is more acid already.

    Source:
        The charge balance is linear in the dose; the ionic strength is brought along in passes.
    """
    dose: Array = np.zeros(np.broadcast_shapes(solution.shape, np.shape(target_ph)))
    for _ in range(1 if solution.ideal else 8):
        with_dose = replace(
            solution,
            totals_mol_per_kg=[*solution.totals_mol_per_kg, dose],
            acids=[*solution.acids, added],
        )
        charge, strength = charge_balance(with_dose, target_ph)
        shares = with_dose.forms(target_ph, strength)[-1][2]
        mean = sum(((added.charge - j) * s for j, s in enumerate(shares)), np.asarray(0.0))
        dose = dose - charge / mean
    return dose


def buffer_capacity_mol_per_kg(solution: Solution, ph: Numbers) -> Array:
    """Return how much strong base a unit of pH takes.

    beta = ln10 * ([H+] + [OH-] + sum_i C_i Var(z)_i)

    Args:
        solution: what is dissolved.
        ph: pH at which the capacity is asked, broadcasts.

    Returns:
        mol per kg of water and pH unit, at constant ionic strength.

    Source:
        Van Slyke 1922, J. Biol. Chem. 52:525; the derivative of the charge balance.
    """
    strength = charge_balance(solution, ph)[1]
    ions = 10 ** solution.shift(strength)
    capacity = (10 ** -np.asarray(ph, float) + 10 ** (np.asarray(ph) - solution.pkw)) * ions
    for acid, total, shares in solution.forms(ph, strength):
        charges = [acid.charge - j for j in range(len(shares))]
        mean = sum((z * s for z, s in zip(charges, shares, strict=True)), np.asarray(0.0))
        square = sum((z * z * s for z, s in zip(charges, shares, strict=True)), np.asarray(0.0))
        capacity = capacity + total * (square - mean**2)
    return LN10 * capacity


def titratable_acidity_mol_per_kg(solution: Solution, endpoint_ph: Numbers = 8.1) -> Array:
    """Return the strong base that brings a solution to the end point of a titration.

    TA = -f(pH_endpoint)

    Args:
        solution: what is dissolved.
        endpoint_ph: 8.1 (ISO 750), 8.2 (US fruit and wine), 7.0 (OIV wine).

    Returns:
        eq per kg of water.

    Source:
        Charge balance; the base's own cation is counted, its dilution is not.
    """
    return -charge_balance(solution, endpoint_ph)[0]


@formula(unit="mol/kg", source="charge balance at two pH values", place="two linear equations")
def total_acid_from_titration(
    mean_charge_at_ph: Numbers,
    mean_charge_at_endpoint: Numbers,
    titratable_acidity_eq: Numbers,
    free_ions_at_ph_mol_per_kg: Numbers,
    free_ions_at_endpoint_mol_per_kg: Numbers,
) -> Array:
    """Return the total of the dominant acid from a pH and a titration.

    C = (TA - (h_0 - oh_0) + (h_e - oh_e)) / (zbar(pH_0) - zbar(pH_e))

    Args:
        mean_charge_at_ph: mean charge of the acid at the measured pH (between 0 and -n).
        mean_charge_at_endpoint: the same at the end point.
        titratable_acidity_eq: base used, eq per kg of water.
        free_ions_at_ph_mol_per_kg: [H+] - [OH-] at the measured pH.
        free_ions_at_endpoint_mol_per_kg: the same at the end point.

    Returns:
        Total acid, mol per kg of water.
    """
    numerator = (
        np.asarray(titratable_acidity_eq, float)
        - free_ions_at_ph_mol_per_kg
        + free_ions_at_endpoint_mol_per_kg
    )
    return numerator / (np.asarray(mean_charge_at_ph) - np.asarray(mean_charge_at_endpoint))


def acid_and_charge_from_titration(
    acid: Acid,
    ph: Numbers,
    titratable_acidity_eq: Numbers,
    endpoint_ph: float = 8.1,
    temperature_C: Numbers = 25.0,
) -> tuple[Array, Array]:
    """Return the total of one dominant acid and the strong charge, from pH and titration.

    C by total_acid_from_titration;  S = -C zbar(pH_0) - h_0 + oh_0

    Args:
        acid: the dominant acid.
        ph: measured pH, any shape.
        titratable_acidity_eq: base used to the end point, eq per kg of water; broadcasts.
        endpoint_ph: of the titration.
        temperature_C: of both.

    Returns:
        Total acid and net strong charge, mol per kg of water.

    Raises:
        ValueError: the pair is impossible (a negative total acid).

    Source:
        Ideal activities on both sides of the two equations.
    """

    def at(p: Numbers) -> tuple[Array, Array]:
        one = Solution([1.0], [acid], temperature_C=temperature_C, ideal=True)
        free = charge_balance(replace(one, totals_mol_per_kg=[0.0]), p)[0]
        return charge_balance(one, p)[0] - free, free

    (z_0, free_0), (z_e, free_e) = at(ph), at(endpoint_ph)
    total = total_acid_from_titration(z_0, z_e, titratable_acidity_eq, free_0, free_e)
    if np.any(total < 0):
        raise ValueError(
            f"a titratable acidity of {titratable_acidity_eq} eq/kg is too small for pH {ph}."
        )
    return total, -total * z_0 - free_0


@formula(unit="%", source="equivalent masses")
def titratable_acidity_as(
    value_percent: Numbers, equivalent_mass_from: float, equivalent_mass_to: float
) -> Array:
    """Return a titratable acidity expressed as another acid.

    TA_to = TA_from * E_to / E_from

    Args:
        value_percent: acidity as the first acid, g per 100 g or 100 mL.
        equivalent_mass_from: g per equivalent of the first acid (lactic 90.08).
        equivalent_mass_to: g per equivalent of the second acid (citric 64.04).

    Returns:
        Acidity in the same unit.
    """
    return np.asarray(value_percent, float) * equivalent_mass_to / equivalent_mass_from


@formula(
    unit="",
    source="Sawyer & Bagger 1959",
    place="polarimetry at 25 °C; activation energy 15 kcal/mol",
    temperature_C=(0.0, 50.0),
)
def lactone_hydrolysed_fraction(
    time_min: Numbers,
    temperature_C: Numbers = 25.0,
    rate_constant_25C_per_s: float = 2.26e-4,
    activation_energy_kJ_mol: float = 62.8,
) -> Array:
    """Return the share of glucono-delta-lactone turned into gluconic acid.

    X = 1 - exp(-k t);  k = k_25 exp(-E/R (1/T - 1/298.15))

    Args:
        time_min: any shape.
        temperature_C: broadcasts.
        rate_constant_25C_per_s: first-order constant at 25 °C; independent of pH from 3 to 5.
        activation_energy_kJ_mol: E.

    Returns:
        Share, 0 to 1; the way back (some 13 % of the undissociated acid) is ignored.
    """
    T = np.asarray(temperature_C, float) + 273.15
    arrhenius = -1000 * activation_energy_kJ_mol / GAS_CONSTANT_J_PER_MOL_K * (1 / T - 1 / 298.15)
    k = rate_constant_25C_per_s * np.exp(arrhenius)
    return -np.expm1(-k * 60 * np.asarray(time_min, float))
