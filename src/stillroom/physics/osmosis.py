"""What a concentrated solution does to a cell."""

from __future__ import annotations

import numpy as np

from stillroom.labels import Array, Numbers, formula

GAS_CONSTANT_J_PER_MOL_K = 8.314462618
WATER_MOLAR_VOLUME_M3_PER_MOL = 18.07e-6


@formula(unit="MPa", source="thermodynamics of solutions", place="molar volume 18.07 cm3/mol")
def water_potential_MPa(water_activity: Numbers, temperature_C: Numbers = 25.0) -> Array:
    """Return the water potential; water flows towards the lower one.

    psi = (R T / V_w) ln a_w

    Args:
        water_activity: above 0, any shape.
        temperature_C: broadcasts.

    Returns:
        Negative pressure; the osmotic pressure is minus it (2.8 MPa at 0.98, 39.5 at 0.75).
    """
    T = np.asarray(temperature_C, float) + 273.15
    scale = GAS_CONSTANT_J_PER_MOL_K * T / WATER_MOLAR_VOLUME_M3_PER_MOL / 1e6
    return scale * np.log(water_activity)


@formula(unit="MPa", source="van't Hoff 1887", particles_mol_per_L=(0.0, 0.5))
def vant_hoff_pressure_MPa(particles_mol_per_L: Numbers, temperature_C: Numbers = 25.0) -> Array:
    """Return the osmotic pressure of a thin solution, the classroom rule.

    pi = c R T

    Args:
        particles_mol_per_L: all dissolved particles, any shape.
        temperature_C: broadcasts.

    Returns:
        Osmotic pressure; far too low above 0.5 mol/L (13 instead of 20 MPa at 65 % sucrose).
    """
    T = np.asarray(temperature_C, float) + 273.15
    return np.asarray(particles_mol_per_L, float) * GAS_CONSTANT_J_PER_MOL_K * T / 1000


@formula(unit="", source="Boyle-van't Hoff relation")
def relative_cell_volume(
    external_osmotic_pressure_MPa: Numbers,
    initial_osmotic_pressure_MPa: Numbers,
    nonosmotic_fraction: Numbers,
) -> Array:
    """Return how far a cell without turgor shrinks.

    V / V_0 = b + (1 - b) P_0 / P, at most 1

    Shrinkage is not death: living cells recover by taking up compatible solutes, and solutes that
    cross the membrane (glycerol, ethanol) shrink less at the same water activity.

    Args:
        external_osmotic_pressure_MPa: P outside, any shape.
        initial_osmotic_pressure_MPa: P_0 inside at zero turgor.
        nonosmotic_fraction: b, 0.3-0.5 for yeasts and bacteria.

    Returns:
        Volume relative to the cell at zero turgor, 1 while P is below P_0.
    """
    b = np.asarray(nonosmotic_fraction, float)
    ratio = np.asarray(initial_osmotic_pressure_MPa, float) / external_osmotic_pressure_MPa
    return b + (1 - b) * np.minimum(ratio, 1.0)
