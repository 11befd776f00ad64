"""Salts in water: osmotic coefficient of a brine of any ions, and the words of brine makers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.water import WATER_MOLAR_MASS_KG_PER_MOL

# Bradley & Pitzer 1979, J. Phys. Chem. 83:1599, dielectric constant of water
_U = (3.4279e2, -5.0866e-3, 9.4690e-7, -2.0525, 3.1159e3, -1.8289e2, -8.0325e3, 4.2142e6, 2.1417)
_ELEMENTARY_CHARGE_C, _AVOGADRO, _BOLTZMANN = 1.602176634e-19, 6.02214076e23, 1.380649e-23
_VACUUM_PERMITTIVITY = 8.8541878128e-12


@formula(unit="", source="Bradley & Pitzer 1979, J. Phys. Chem. 83:1599", temperature_C=(0, 350))
def dielectric_constant(temperature_C: Numbers) -> Array:
    """Return the static dielectric constant of water at 1 bar.

    eps = U1 exp(U2 T + U3 T^2) + C ln((B + 1) / (B + 1000));
    C = U4 + U5 / (U6 + T); B = U7 + U8 / T + U9 T

    Args:
        temperature_C: any shape; T is in kelvin.

    Returns:
        Relative permittivity.
    """
    T = np.asarray(temperature_C, float) + 273.15
    C = _U[3] + _U[4] / (_U[5] + T)
    B = _U[6] + _U[7] / T + _U[8] * T
    return _U[0] * np.exp(_U[1] * T + _U[2] * T**2) + C * np.log((B + 1) / (B + 1000))


@formula(unit="kg/m³", source="Kell 1975, J. Chem. Eng. Data 20:97", temperature_C=(0, 150))
def water_density_kg_per_m3(temperature_C: Numbers) -> Array:
    """Return the density of pure water at 1 atm.

    rho = (999.83952 + 16.945176 t - 7.9870401e-3 t^2 - 46.170461e-6 t^3 + 105.56302e-9 t^4
    - 280.54253e-12 t^5) / (1 + 16.879850e-3 t)

    Args:
        temperature_C: any shape.

    Returns:
        Density.
    """
    t = np.asarray(temperature_C, float)
    top = 999.83952 + t * (
        16.945176
        + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    return top / (1 + 16.879850e-3 * t)


@formula(unit="", source="Debye & Hückel 1923; Pitzer 1973", temperature_C=(0, 150))
def debye_huckel_slope(temperature_C: Numbers) -> Array:
    """Return A_phi, the Debye-Hückel slope of the osmotic coefficient.

    A_phi = (1/3) sqrt(2 pi N_A rho) (e^2 / (4 pi eps_0 eps k T))^1.5

    Args:
        temperature_C: any shape.

    Returns:
        A_phi in sqrt(kg/mol): 0.3767 at 0 °C, 0.3914 at 25 °C, 0.4606 at 100 °C. The slope of
        log10 gamma (Davies) is 3 A_phi / ln 10.
    """
    T = np.asarray(temperature_C, float) + 273.15
    bjerrum = _ELEMENTARY_CHARGE_C**2 / (
        4 * np.pi * _VACUUM_PERMITTIVITY * dielectric_constant(temperature_C) * _BOLTZMANN * T
    )
    rho = water_density_kg_per_m3(temperature_C)
    return np.sqrt(2 * np.pi * _AVOGADRO * rho) * bjerrum**1.5 / 3


@formula(
    unit="",
    source="Pitzer parameter file of PHREEQC (US Geological Survey)",
    place="temperature expression",
    temperature_C=(0, 200),
)
def pitzer_parameter(
    temperature_C: Numbers, a0: float, a1: float, a2: float, a3: float, a4: float, a5: float = 0.0
) -> Array:
    """Return an ion-interaction parameter at a temperature.

    P = a0 + a1 (1/T - 1/Tr) + a2 ln(T/Tr) + a3 (T - Tr) + a4 (T^2 - Tr^2) + a5 (1/T^2 - 1/Tr^2)

    Args:
        temperature_C: any shape; Tr is 298.15 K.
        a0: value at 25 °C.
        a1: coefficient of 1/T.
        a2: coefficient of ln T.
        a3: coefficient of T.
        a4: coefficient of T squared.
        a5: coefficient of 1/T squared.

    Returns:
        Parameter in the unit of a0.
    """
    T, Tr = np.asarray(temperature_C, float) + 273.15, 298.15
    return (
        a0
        + a1 * (1 / T - 1 / Tr)
        + a2 * np.log(T / Tr)
        + a3 * (T - Tr)
        + a4 * (T**2 - Tr**2)
        + a5 * (1 / T**2 - 1 / Tr**2)
    )


@dataclass(frozen=True)
class IonPair:
    """Interaction of one cation with one anion: coefficients a0..a5 of each parameter."""

    cation: str
    anion: str
    parameters: Mapping[str, tuple[float, ...]]  # beta0, beta1, beta2, Cphi
    ionic_strength_cap: float = 7.0  # end of the fit

    def at(self, temperature_C: Numbers) -> dict[str, Numbers]:
        """Return the parameters at a temperature, and the end of the fit."""
        values = {n: pitzer_parameter(temperature_C, *c) for n, c in self.parameters.items()}
        return {**values, "cap": self.ionic_strength_cap}


Interactions = Mapping[tuple[str, str], Mapping[str, Numbers]]


def unsymmetrical_mixing(ionic_strength: Numbers, slope: Numbers) -> Array:
    """Return E_theta + I dE_theta/dI of a singly with a doubly charged ion of the same sign.

    E + I E' = [x_2 J'(x_2) - x_1 J'(x_1) / 2 - x_4 J'(x_4) / 2] / (4 I);  x_k = 6 k A_phi sqrt I
    J(x) = x / (4 + u);  u = 4.581 x^-0.7237 exp(-0.0120 x^0.528)

    Args:
        ionic_strength: mol/kg, any shape.
        slope: A_phi; broadcasts.

    Returns:
        kg/mol.

    Source:
        Pitzer 1975, J. Solution Chem. 4:249; J as fitted by Pitzer (PHREEQC uses the same terms).
    """
    strength = np.maximum(np.asarray(ionic_strength, float), 1e-9)

    def x_slope(k: int) -> Array:
        x = 6 * k * np.asarray(slope) * np.sqrt(strength)
        power = 0.0120 * x**0.528
        u = 4.581 * x**-0.7237 * np.exp(-power)
        return x * (4 + u * (1 + 0.7237 + 0.528 * power)) / (4 + u) ** 2

    return (x_slope(2) - x_slope(1) / 2 - x_slope(4) / 2) / (4 * strength)


def osmotic_coefficient(
    ions_mol_per_kg: Mapping[str, Numbers],
    charges: Mapping[str, int],
    interactions: Interactions,
    slope: Numbers,
    like_charges: Interactions | None = None,
) -> Array:
    """Return the osmotic coefficient of a brine of any cations and anions.

    phi - 1 = (2 / sum m) [ -A_phi I^1.5 / (1 + 1.2 sqrt I) + sum_c sum_a m_c m_a (B_ca + Z C_ca)
              + sum_c<c' m_c m_c' (theta_cc' + E_cc' + psi_cc'Cl m_Cl) ]
    B = b0 + b1 exp(-2 sqrt I) + b2 exp(-12 sqrt I);  Z = sum m |z|;  C = C_phi / (2 sqrt |z_c z_a|)

    Args:
        ions_mol_per_kg: molality of each ion; each broadcasts. The brine must be neutral.
        charges: charge number of each ion.
        interactions: (cation, anion) -> beta0, beta1, beta2, Cphi at the temperature, and the cap:
            above this ionic strength (the pairs' own, weighed by m_c m_a) phi keeps its value at
            the cap along the same proportions, because the polynomials are not fitted there.
        slope: A_phi at the temperature.
        like_charges: (cation, cation) -> theta, psi with chloride; none by default.

    Returns:
        Osmotic coefficient (1 where there are no ions).

    Source:
        Pitzer 1973; Pitzer & Kim 1974. Terms between anions are left out.
    """
    m = {ion: np.asarray(x, float) for ion, x in ions_mol_per_kg.items()}
    pairs = {p: value for p, value in interactions.items() if p[0] in m and p[1] in m}
    strength = 0.5 * sum((charges[ion] ** 2 * x for ion, x in m.items()), np.asarray(0.0))
    shrink = np.minimum(1.0, _cap(m, pairs) / np.maximum(strength, 1e-30))
    m = {ion: x * shrink for ion, x in m.items()}
    strength = strength * shrink
    root = np.sqrt(strength)
    Z = sum((abs(charges[ion]) * x for ion, x in m.items()), np.asarray(0.0))
    decay = {"beta0": 1.0, "beta1": np.exp(-2 * root), "beta2": np.exp(-12 * root)}
    bracket = -np.asarray(slope) * strength * root / (1 + 1.2 * root)
    for (cation, anion), value in pairs.items():
        B = sum((decay[name] * value[name] for name in decay if name in value), np.asarray(0.0))
        C = np.asarray(value["Cphi"]) / (2 * np.sqrt(abs(charges[cation] * charges[anion])))
        bracket = bracket + m[cation] * m[anion] * (B + Z * C)
    alike = {p: v for p, v in (like_charges or {}).items() if p[0] in m and p[1] in m}
    if any(charges[a] != charges[b] for a, b in alike):
        mixing = unsymmetrical_mixing(strength, slope)
    for (a, b), value in alike.items():
        E = mixing if charges[a] != charges[b] else 0.0
        psi = value["psi"] * m.get("Cl", np.asarray(0.0))
        bracket = bracket + m[a] * m[b] * (value["theta"] + E + psi)
    total = sum(m.values(), np.asarray(0.0))
    return 1 + 2 * bracket / np.maximum(total, 1e-30)


def _cap(m: Mapping[str, Array], pairs: Interactions) -> Array:
    """Return the ionic strength to which the fits of the pairs reach, weighed by their amounts."""
    weights = {pair: m[pair[0]] * m[pair[1]] for pair in pairs}
    total = sum(weights.values(), np.asarray(0.0))
    capped = sum((w * pairs[p].get("cap", np.inf) for p, w in weights.items()), np.asarray(0.0))
    return np.where(total > 0, capped / np.where(total > 0, total, 1.0), np.inf)


@formula(unit="", source="definition of the osmotic coefficient")
def water_activity_from_osmotic_coefficient(
    solutes_mol_per_kg: Numbers, osmotic_coefficient: Numbers
) -> Array:
    """Return the water activity of a brine.

    ln a_w = -M_w * phi * sum m_i

    Args:
        solutes_mol_per_kg: molality of all ions together, any shape.
        osmotic_coefficient: phi; broadcasts.

    Returns:
        Water activity.
    """
    m = np.asarray(solutes_mol_per_kg, float)
    return np.exp(-WATER_MOLAR_MASS_KG_PER_MOL * np.asarray(osmotic_coefficient) * m)


@formula(
    unit="",
    source="Greenspan 1977, J. Res. NBS 81A:89",
    place="polynomials; ASTM E104 lists the same salts",
)
def saturated_salt_water_activity(
    temperature_C: Numbers, a0: float, a1: float, a2: float, a3: float
) -> Array:
    """Return the water activity over a saturated salt, the check of a meter.

    RH% = a0 + a1 t + a2 t^2 + a3 t^3

    Args:
        temperature_C: any shape.
        a0: relative humidity at 0 °C, per cent.
        a1: per cent per °C.
        a2: per cent per °C squared.
        a3: per cent per °C cubed.

    Returns:
        Water activity, 0 to 1.
    """
    t = np.asarray(temperature_C, float)
    return (a0 + t * (a1 + t * (a2 + t * a3))) / 100


@formula(unit="°SAL", source="common practice: 100 degrees is 26.395 % salt at 60 °F")
def salometer_degrees(NaCl_mass_percent: Numbers) -> Array:
    """Return the reading of a salometer in a pure salt brine.

    SAL = 100 * w / 26.395

    Sugar or other solids in the brine make it over-read; scales with other end points exist.

    Args:
        NaCl_mass_percent: g salt per 100 g brine.

    Returns:
        Degrees salometer at 15.6 °C.
    """
    return 100 * np.asarray(NaCl_mass_percent, float) / 26.395


@formula(unit="%", source="definition")
def water_phase_salt_percent(salt_kg: Numbers, water_kg: Numbers) -> Array:
    """Return the salt of the water phase, the basis of the limits for microbes.

    WPS = 100 * salt / (salt + water)

    Args:
        salt_kg: sodium chloride, any shape.
        water_kg: all the water of the food; broadcasts.

    Returns:
        Per cent of salt plus water.
    """
    salt = np.asarray(salt_kg, float)
    return 100 * salt / (salt + water_kg)


@formula(unit="%", source="mass balance")
def equilibrium_salt_percent(
    vegetable_kg: Numbers,
    vegetable_water_fraction: Numbers,
    brine_kg: Numbers,
    brine_salt_percent_ww: Numbers,
    dry_salt_kg: Numbers = 0.0,
) -> Array:
    """Return the salt of the water phase when vegetable and brine have come to equilibrium.

    WPS = 100 * (brine * s + dry) / (brine * s + dry + brine * (1 - s) + vegetable * w)

    Args:
        vegetable_kg: vegetable packed.
        vegetable_water_fraction: its water, 0 to 1.
        brine_kg: brine poured on.
        brine_salt_percent_ww: g salt per 100 g brine.
        dry_salt_kg: salt rubbed or sprinkled in.

    Returns:
        Per cent of salt plus water.
    """
    strength = np.asarray(brine_salt_percent_ww, float) / 100
    salt = np.asarray(brine_kg) * strength + dry_salt_kg
    water = np.asarray(brine_kg) * (1 - strength) + np.asarray(vegetable_kg) * np.asarray(
        vegetable_water_fraction
    )
    return water_phase_salt_percent(salt, water)


@formula(unit="%", source="mass balance")
def initial_brine_percent(
    vegetable_kg: Numbers,
    vegetable_water_fraction: Numbers,
    brine_kg: Numbers,
    target_percent_of_water_phase: Numbers,
) -> Array:
    """Return the strength at which to mix a brine so that the pack ends at a target.

    salt = t * (vegetable * w + brine);  s = 100 * salt / brine

    Args:
        vegetable_kg: vegetable packed.
        vegetable_water_fraction: its water, 0 to 1.
        brine_kg: brine poured on.
        target_percent_of_water_phase: salt / (salt + water) wanted, per cent.

    Returns:
        g salt per 100 g brine.
    """
    target = np.asarray(target_percent_of_water_phase, float) / 100
    brine = np.asarray(brine_kg, float)
    all_water_and_salt = np.asarray(vegetable_kg) * np.asarray(vegetable_water_fraction) + brine
    return 100 * target * all_water_and_salt / brine
