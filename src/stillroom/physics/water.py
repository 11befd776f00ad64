"""Water activity of solutions and foods.

Every solute is described by a *binary curve*: the molality at which it alone in water has a given
water activity. A mixture is at the water activity at which the water that each solute would need,
plus the water held by polymers, adds up to the water that is there (Zdanovskii-Stokes-Robinson
with bound water). Salts enter through one brine of all the ions present.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray
from scipy.optimize.elementwise import find_root

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.sorption import moisture_gab

WATER_MOLAR_MASS_KG_PER_MOL = 0.01801527


@formula(unit="mol/kg", source="definition")
def molality(solute_g: Numbers, molar_mass_g_mol: Numbers, water_g: Numbers) -> Array:
    """Return the amount of solute in a kilogram of water.

    m = 1000 * (solute / M) / water

    Args:
        solute_g: mass of the dissolved, anhydrous solute, any shape.
        molar_mass_g_mol: molar mass; broadcasts.
        water_g: all the water of the mixture, hydrate water included; broadcasts.

    Returns:
        mol of solute per kg of water, in the broadcast shape.
    """
    return 1000 * np.asarray(solute_g, float) / molar_mass_g_mol / np.asarray(water_g, float)


@formula(unit="mol", source="definition")
def amount_mol(mass_g: Numbers, molar_mass_g_mol: Numbers) -> Array:
    """Return the amount of a substance in moles.

    n = mass / M

    Args:
        mass_g: any shape.
        molar_mass_g_mol: broadcasts.

    Returns:
        mol.
    """
    return np.asarray(mass_g, float) / molar_mass_g_mol


@formula(unit="kg", source="Stokes & Robinson 1966, J. Phys. Chem. 70:2126", place="sharing rule")
def water_share_kg(amount_mol: Numbers, solute_mol_per_kg: Numbers) -> Array:
    """Return the water in which a solute alone would have the water activity of the mixture.

    share = n / m_0(a_w)

    Args:
        amount_mol: amount of the solute, any shape.
        solute_mol_per_kg: molality m_0 at which it alone has that water activity; broadcasts.

    Returns:
        kg of water; the shares of all solutes and the water held by polymers add up to the water.
    """
    return np.asarray(amount_mol, float) / solute_mol_per_kg


@formula(unit="", source="definition")
def water_mole_fraction(solutes_mol_per_kg: Numbers) -> Array:
    """Return the share of water among all molecules and ions.

    x_w = 1 / (1 + M_w * sum m_i)

    Args:
        solutes_mol_per_kg: molality of every dissolved particle (each ion counts) on the last
            axis.

    Returns:
        Mole fraction of water; the last axis is summed.
    """
    total = np.sum(np.asarray(solutes_mol_per_kg, float), axis=-1)
    return 1 / (1 + WATER_MOLAR_MASS_KG_PER_MOL * total)


@formula(unit="", source="Raoult 1887", place="ideal solution", solutes_mol_per_kg=(0.0, 0.5))
def ideal_water_activity(solutes_mol_per_kg: Numbers) -> Array:
    """Return the water activity of an ideal solution, the classroom baseline.

    a_w = x_w = 1 / (1 + M_w * sum m_i)

    It reads high for sugars and salts (0.911 instead of 0.865 at 65 % sucrose), so it understates
    preservation; it reads low for lactic and acetic acid.

    Args:
        solutes_mol_per_kg: molality of every dissolved particle on the last axis.

    Returns:
        Water activity; the last axis is summed.
    """
    return water_mole_fraction(solutes_mol_per_kg)


@formula(
    unit="",
    source="Norrish 1966, J. Food Technol. 1:25",
    place="natural-logarithm form of Chirife, Ferro Fontan & Benmergui 1980",
    solute_mol_per_kg=(0.0, 7.0),
)
def norrish_water_activity(solute_mol_per_kg: Numbers, K: Numbers) -> Array:
    """Return the water activity of one non-electrolyte in water.

    ln a_w = ln x_w - K * x_s**2

    Args:
        solute_mol_per_kg: molality of the solute, any shape.
        K: Norrish constant for the natural logarithm (2.3026 times the log10 constant of 1966).

    Returns:
        Water activity, in the broadcast shape.
    """
    x_w = water_mole_fraction(np.asarray(solute_mol_per_kg, float)[..., None])
    return x_w * np.exp(-np.asarray(K) * (1 - x_w) ** 2)


@formula(
    unit="mol/kg",
    source="Norrish 1966, J. Food Technol. 1:25",
    place="inverted by Newton's method",
    water_activity=(0.65, 1.0),
)
def norrish_molality(water_activity: Numbers, K: Numbers) -> Array:
    """Return the molality at which a non-electrolyte alone has this water activity.

    solve ln a_w = ln(1 - x) - K * x**2 for x;  m = x / ((1 - x) * M_w)

    Args:
        water_activity: 0 < a_w < 1, any shape.
        K: Norrish constant (natural logarithm), above -1.9 so that the curve stays monotone.

    Returns:
        mol/kg water, in the broadcast shape.

    Source:
        Newton from the ideal solution: five steps reach 1e-12 for every K of the table.
    """
    y = -np.log(water_activity)
    x = -np.expm1(-y)
    for _ in range(5):
        x = x - (K * x**2 - np.log1p(-x) - y) / (2 * K * x + 1 / (1 - x))
        x = np.clip(x, 0.0, 1 - 1e-12)
    return x / (1 - x) / WATER_MOLAR_MASS_KG_PER_MOL


@formula(
    unit="mol/kg",
    source="Stokes & Robinson 1966, J. Phys. Chem. 70:2126",
    place="hydration equilibrium model",
    water_activity=(0.7, 1.0),
)
def hydration_molality(water_activity: Numbers, sites: int, affinity: float) -> Array:
    """Return the molality at which a solute with hydration sites has this water activity.

    1 / (M_w * m) = a_w / (1 - a_w) + h;  h = sum(i * x**i) / sum(x**i), i = 0..n;  x = K * a_w

    Args:
        water_activity: 0 < a_w < 1, any shape.
        sites: number n of hydration sites of a molecule.
        affinity: equilibrium constant K of one hydration step.

    Returns:
        mol/kg water.
    """
    a_w = np.asarray(water_activity, float)
    x = affinity * a_w
    shells = np.ones_like(x)
    bound = np.zeros_like(x)
    for i in range(int(sites), 0, -1):  # Horner, both sums at once
        bound = bound * x + i
        shells = shells * x + 1
    hydration = bound * x / shells
    return 1 / WATER_MOLAR_MASS_KG_PER_MOL / (a_w / (1 - a_w) + hydration)


@formula(
    unit="kg/kg",
    source="van den Berg 1984; Timmermann, Chirife & Iglesias 2001",
    place="Guggenheim-Anderson-de Boer isotherm",
    water_activity=(0.1, 0.97),
)
def gab_moisture(water_activity: Numbers, Xm_kg_per_kg: float, C: float, k: float) -> Array:
    """Return the water held by a kilogram of dry polymer.

    X = X_m * C * k * a / ((1 - k * a) * (1 - k * a + C * k * a)), a at most 0.97

    Args:
        water_activity: 0 < a_w < 1, any shape; above 0.97 the value at 0.97 is kept, because
            the equation diverges near 1/k.
        Xm_kg_per_kg: monolayer water.
        C: surface heat constant.
        k: multilayer constant.

    Returns:
        kg water per kg dry matter.
    """
    return moisture_gab(np.minimum(water_activity, 0.97), Xm_kg_per_kg, C, k)


# --- several solutes together ---------------------------------------------------------------

Curve = Callable[[Array], Array]  # water activity -> what one mol (or kg) is dissolved in or holds


def shared_water_activity(
    water_kg: Numbers,
    solutes_mol: Mapping[str, Numbers],
    molality_curves: Mapping[str, Curve],
    brine_water_activity: Callable[[Array, NDArray[np.int64]], Array],
    ions_mol: Numbers,
    polymers_kg: Mapping[str, Numbers] | None = None,
    moisture_curves: Mapping[str, Curve] | None = None,
) -> Array:
    """Return the water activity at which everybody's share of water adds up.

    sum_i n_i / m_i0(a_w) + n_ions / M(a_w) + sum_j s_j * X_j(a_w) = water

    The unknown is M, the molality of the brine of the food's own ions that is in equilibrium
    with the mixture (the isopiestic reference); it fixes a_w, and a_w fixes every other share.

    Args:
        water_kg: water in the mixture, above 0, any shape.
        solutes_mol: amount of each non-electrolyte; each broadcasts with *water_kg*.
        molality_curves: for each of them, a_w -> molality of the solute alone in water.
        brine_water_activity: (molality of all ions together, index of the sample) -> a_w.
        ions_mol: amount of all dissolved ions together; may be 0.
        polymers_kg: dry mass of each water-holding polymer.
        moisture_curves: for each of them, a_w -> kg water per kg.

    Returns:
        Water activity, in the broadcast shape; nan where there is no water.

    Source:
        Stokes & Robinson 1966 for the addition of shares; the polymer's water is taken from the
        solution as in any bound-water model. Merging or splitting an ingredient changes nothing.
    """
    polymers_kg, moisture_curves = polymers_kg or {}, moisture_curves or {}
    shape = np.broadcast_shapes(
        *(np.shape(x) for x in (water_kg, ions_mol, *solutes_mol.values(), *polymers_kg.values()))
    )

    def flat(x: Numbers) -> Array:
        return np.broadcast_to(np.asarray(x, float), shape).reshape(-1)

    water = flat(water_kg)
    solutes = [(flat(n), molality_curves[name]) for name, n in solutes_mol.items()]
    polymers = [(flat(s), moisture_curves[name]) for name, s in polymers_kg.items()]
    ions = flat(ions_mol) + 1e-9 * water  # a trace keeps the reference brine defined

    def surplus(log_molality: Array, i: NDArray[np.int64]) -> Array:
        brine = np.exp(log_molality)
        a_w = np.clip(brine_water_activity(brine, i), 1e-4, 1 - 1e-13)
        needed = ions[i] / brine
        for n, curve in solutes:
            needed = needed + n[i] / curve(a_w)
        for s, curve in polymers:
            needed = needed + s[i] * curve(a_w)
        return np.log(needed / water[i])

    every = np.arange(water.size)
    with np.errstate(divide="ignore", invalid="ignore"):
        root = find_root(
            surplus,
            (np.full(water.size, np.log(1e-9)), np.full(water.size, np.log(1e6))),
            args=(every,),
            tolerances={"xatol": 1e-9, "xrtol": 0, "fatol": 1e-11, "frtol": 0},
        )
        a_w = brine_water_activity(np.exp(root.x), every)
    return np.where(root.success & (water > 0), a_w, np.nan).reshape(shape)


def product_water_activity(
    molalities: Mapping[str, Numbers], water_activity_curves: Mapping[str, Curve]
) -> Array:
    """Return the product of the water activities of each solute alone in all the water.

    a_w = prod_i a_w,i(m_i)

    Systematically high for sugars and for mixed salts (looks less preserved): +0.003 in dilute
    brines, +0.012 to +0.035 in jams. Shown beside the better estimate for teaching.

    Args:
        molalities: mol/kg of each solute in all the water.
        water_activity_curves: for each of them, molality -> water activity alone.

    Returns:
        Water activity, in the broadcast shape.

    Source:
        Ross 1975, Food Technol. 29(3):26.
    """
    result: Array = np.asarray(1.0)
    for name, m in molalities.items():
        result = result * water_activity_curves[name](np.asarray(m, float))
    return result


def mole_share_norrish_water_activity(solutes_mol_per_kg: Numbers, K: Numbers) -> Array:
    """Return the water activity of several non-electrolytes by one Norrish constant.

    ln a_w = ln x_w - K_mix * x_s**2;  K_mix = sum_i y_i * K_i (y: mole share among solutes)

    Args:
        solutes_mol_per_kg: molality of each solute on the last axis.
        K: Norrish constant of each solute on the last axis.

    Returns:
        Water activity; the last axis is summed.

    Source:
        Ferro Fontan, Chirife & Boquet 1981, J. Food Technol. 16:553; within 0.004 of the sharing
        rule for sugars. A second opinion, used in tests.
    """
    m = np.asarray(solutes_mol_per_kg, float)
    total = np.sum(m, axis=-1)
    K_mix = np.sum(m * K, axis=-1) / np.where(total > 0, total, 1)
    return norrish_water_activity(total, K_mix)
