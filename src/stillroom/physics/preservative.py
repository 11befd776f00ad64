"""Preservatives in the water phase: what fat takes away and what sulfur dioxide is bound to."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize.elementwise import find_root

from stillroom.labels import Array, Numbers, formula

SULFUR_DIOXIDE_G_PER_MOL = 64.066


@formula(unit="mg/L", source="mass balance over oil and water; Lueck & Jager for the partition")
def undissociated_in_water_phase(
    total_mg_per_L: Numbers,
    undissociated_share: Numbers,
    oil_water_partition: Numbers,
    oil_volume_fraction: Numbers,
) -> Array:
    """Return the undissociated preservative in the water of a food with fat.

    c_w = c / ((1 - phi) + phi P alpha_0);  dose = alpha_0 c_w

    Only the undissociated form enters the fat: at 40 % oil and pH 4.2 sorbic acid loses about
    half of its dose in the water.

    Args:
        total_mg_per_L: preservative per litre of product (any unit of amount per volume).
        undissociated_share: alpha_0 at the pH, 0 to 1.
        oil_water_partition: P, oil over water, of the undissociated form.
        oil_volume_fraction: phi, 0 to 1.

    Returns:
        Undissociated preservative per litre of water phase, in the unit of the first argument.
    """
    phi, alpha = np.asarray(oil_volume_fraction, float), np.asarray(undissociated_share, float)
    in_water = np.asarray(total_mg_per_L, float) / ((1 - phi) + phi * oil_water_partition * alpha)
    return alpha * in_water


@formula(unit="mg/L", source="Henderson-Hasselbalch; pKa 1.81 by the convention of wine practice")
def molecular_so2_mg_per_L(free_so2_mg_per_L: Numbers, ph: Numbers, pKa: float = 1.81) -> Array:
    """Return the molecular part of free sulfur dioxide, the part that acts.

    molecular = free / (1 + 10**(pH - pKa))

    Args:
        free_so2_mg_per_L: any shape.
        ph: broadcasts.
        pKa: 1.81 (20 °C); ethanol and warmth raise it.

    Returns:
        Molecular SO2 in the unit of the first argument.
    """
    return np.asarray(free_so2_mg_per_L, float) / (1 + 10 ** (np.asarray(ph, float) - pKa))


@formula(unit="mg/L", source="the same relation turned round")
def free_so2_for_molecular_mg_per_L(
    molecular_so2_mg_per_L: Numbers, ph: Numbers, pKa: float = 1.81
) -> Array:
    """Return the free sulfur dioxide needed for a molecular target.

    free = molecular * (1 + 10**(pH - pKa))

    Args:
        molecular_so2_mg_per_L: target, any shape.
        ph: broadcasts.
        pKa: 1.81 by convention.

    Returns:
        Free SO2 in the unit of the first argument.
    """
    return np.asarray(molecular_so2_mg_per_L, float) * (1 + 10 ** (np.asarray(ph, float) - pKa))


def free_so2_mol_per_L(
    total_mol_per_L: Numbers, carbonyls_mol_per_L: Numbers, Kd_mol_per_L: Numbers
) -> Array:
    """Return the free sulfur dioxide left over by the carbonyls that bind it.

    free + sum_i B_i free / (K_i + free) = total

    Args:
        total_mol_per_L: all sulfur dioxide, any shape.
        carbonyls_mol_per_L: concentration of each carbonyl on the last axis; the rest broadcasts.
        Kd_mol_per_L: dissociation constant of each adduct on the last axis.

    Returns:
        Free SO2, mol/L; the left side rises with it, so there is exactly one answer.

    Source:
        Burroughs & Sparks 1973: 1:1 adducts. Free SO2 also leaves by oxidation and evaporation.
    """
    carbonyls = np.asarray(carbonyls_mol_per_L, float)
    shape = np.broadcast_shapes(np.shape(total_mol_per_L), carbonyls.shape[:-1])
    total = np.broadcast_to(np.asarray(total_mol_per_L, float), shape)
    carbonyls = np.broadcast_to(carbonyls, (*shape, carbonyls.shape[-1])).reshape(total.size, -1)
    kd = np.asarray(Kd_mol_per_L, float)

    def excess(free: Array, i: NDArray[np.int64]) -> Array:
        bound = carbonyls[i] * free[..., None] / (kd + free[..., None])
        return free + bound.sum(-1) - total.reshape(-1)[i]

    every = np.arange(total.size)
    bracket = (np.zeros(total.size), total.reshape(-1) + 1e-12)
    root = find_root(excess, bracket, args=(every,), tolerances={"xatol": 1e-14, "xrtol": 1e-10})
    return root.x.reshape(total.shape)
