"""What drying takes: mass, time, heat; moisture M on the dry basis and w on the wet basis."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.air import latent_heat_kJ_per_kg
from stillroom.physics.death import rate_constant
from stillroom.physics.roots import root_between
from stillroom.physics.water import WATER_MOLAR_MASS_KG_PER_MOL

KJ_PER_KWH = 3600.0
Curve = Callable[[Array], Array]


@formula(unit="kg/kg", source="definition")
def dry_basis_moisture(moisture_wet_basis: Numbers) -> Array:
    """Return the water over the dry solids, the basis of isotherms.

    M = w / (1 - w)

    Args:
        moisture_wet_basis: water over the whole food, 0 to 1, any shape.

    Returns:
        kg water per kg dry solids.
    """
    w = np.asarray(moisture_wet_basis, float)
    return w / (1 - w)


@formula(unit="kg/kg", source="definition")
def wet_basis_moisture(moisture_dry_basis: Numbers) -> Array:
    """Return the water over the whole food, the basis of labels and laws.

    w = M / (1 + M)

    Args:
        moisture_dry_basis: water over dry solids, any shape.

    Returns:
        kg water per kg food.
    """
    M = np.asarray(moisture_dry_basis, float)
    return M / (1 + M)


@formula(unit="kg", source="mass balance", place="dry solids stay")
def dried_mass_kg(
    mass_kg: Numbers, moisture_wet_basis: Numbers, final_moisture_wet_basis: Numbers
) -> Array:
    """Return the mass at a moisture, the end point that a scale shows.

    m_f = m_0 (1 - w_0) / (1 - w_f)

    Args:
        mass_kg: before drying, any shape.
        moisture_wet_basis: before drying, 0 to 1.
        final_moisture_wet_basis: wanted.

    Returns:
        Mass; what is lost as drip or pieces must be taken off first.
    """
    solids = np.asarray(mass_kg, float) * (1 - np.asarray(moisture_wet_basis, float))
    return solids / (1 - np.asarray(final_moisture_wet_basis, float))


@formula(
    unit="h",
    source="Perry's Chemical Engineers' Handbook, drying",
    place="constant rate, then a rate that falls in a straight line to the equilibrium moisture",
)
def drying_time_h(
    dry_solids_kg: Numbers,
    area_m2: Numbers,
    constant_rate_kg_per_m2_h: Numbers,
    X0: Numbers,
    Xc: Numbers,
    Xf: Numbers,
    Xe: Numbers = 0.0,
) -> Array:
    """Return the time to dry from one moisture to another.

    t = W_s / (A R_c) ((X0 - Xc) + (Xc - Xe) ln((Xc - Xe) / (Xf - Xe)))

    Args:
        dry_solids_kg: W_s, any shape.
        area_m2: A, of the surface that dries.
        constant_rate_kg_per_m2_h: R_c while the surface is wet.
        X0: moisture at the start, dry basis; below Xc the rate falls from the start.
        Xc: critical moisture, below which the rate falls.
        Xf: moisture wanted; above Xc only the constant rate is used.
        Xe: equilibrium moisture in the air of the dryer.

    Returns:
        Hours; inf where the equilibrium moisture is not below the one wanted.
    """
    x0, xc, xf, xe = (np.asarray(x, float) for x in (X0, Xc, Xf, Xe))
    at_constant_rate = np.maximum(x0 - np.maximum(xc, xf), 0.0)
    begin, end = np.minimum(x0, xc), np.minimum(np.minimum(x0, xc), xf)
    at_falling_rate = (xc - xe) * _log_of_fall(begin, end, xe)
    return (
        np.asarray(dry_solids_kg, float)
        / (np.asarray(area_m2, float) * constant_rate_kg_per_m2_h)
        * (at_constant_rate + at_falling_rate)
    )


@formula(unit="1 / unit of k", source="Lewis 1921", place="solved for the time")
def falling_rate_time(X0: Numbers, Xf: Numbers, k: Numbers, Xe: Numbers = 0.0) -> Array:
    """Return the time to dry at a rate in proportion to the moisture still to go.

    t = ln((X0 - Xe) / (Xf - Xe)) / k

    At equal k the ratio of two times compares two ways of drying.

    Args:
        X0: moisture at the start, dry basis, any shape.
        Xf: moisture wanted.
        k: drying constant, 1 / time.
        Xe: equilibrium moisture.

    Returns:
        Time in the unit of k; inf where the equilibrium moisture is not below the one wanted.
    """
    x0, xf, xe = (np.asarray(x, float) for x in (X0, Xf, Xe))
    return _log_of_fall(x0, xf, xe) / np.asarray(k, float)


def _log_of_fall(begin: Array, end: Array, equilibrium: Array) -> Array:
    """Return ln of how many times nearer to equilibrium; inf where it is never reached."""
    with np.errstate(divide="ignore", invalid="ignore"):
        fall = np.log((begin - equilibrium) / (end - equilibrium))
    return np.where(end > equilibrium, fall, np.inf)


@formula(unit="kg/(m² h)", source="heat balance of a wet surface", place="at the wet bulb")
def surface_drying_kg_per_m2_h(
    air_C: Numbers, wet_bulb_C: Numbers, film_W_per_m2_K: Numbers
) -> Array:
    """Return how fast a wet surface dries in moving air, the most that the air can take.

    R_c = alpha (T - T_wb) / h(T_wb)

    Args:
        air_C: T, any shape.
        wet_bulb_C: T_wb, where the wet surface sits.
        film_W_per_m2_K: alpha, of the moving air.

    Returns:
        Water, for a square metre of wet surface.
    """
    heat_kJ_per_m2_h = 3.6 * np.asarray(film_W_per_m2_K, float) * (air_C - np.asarray(wet_bulb_C))
    return heat_kJ_per_m2_h / latent_heat_kJ_per_kg(wet_bulb_C)


@formula(
    unit="1/h",
    source="Crank 1975, The Mathematics of Diffusion",
    place="first term of the series: slab, endless cylinder, sphere",
)
def inner_drying_per_h(
    diffusivity_m2_per_s: Numbers, half_size_m: Numbers, first_root: Numbers
) -> Array:
    """Return how fast a piece dries from the inside, once its outside is dry.

    k = z^2 D / L^2;  z = pi / 2 of a slab, 2.405 of a cylinder, pi of a sphere

    Args:
        diffusivity_m2_per_s: D, of water in the piece, any shape.
        half_size_m: L, half the thickness (all of it where one face dries) or the radius.
        first_root: z.

    Returns:
        Share of the moisture still to go that leaves in an hour.
    """
    return 3600 * np.square(first_root) * diffusivity_m2_per_s / np.square(half_size_m)


@formula(
    unit="kg/kg",
    source="Perry's Chemical Engineers' Handbook, drying",
    place="constant rate, then a rate that falls in a straight line to the equilibrium moisture",
)
def moisture_while_drying(
    time_h: Numbers, X0: Numbers, surface_per_h: Numbers, inner_per_h: Numbers, Xe: Numbers
) -> Array:
    """Return the mean moisture of a piece in the dryer.

    X_0 - N t down to X_c = X_e + N / k, then X_e + (X_c - X_e) exp(-k (t - t_c))

    Args:
        time_h: any shape.
        X0: at the start, dry basis.
        surface_per_h: N, what the air can take from a kilogram of dry solids, kg/(kg h).
        inner_per_h: k, of the inside.
        Xe: equilibrium moisture in the air of the dryer.

    Returns:
        Dry basis; never below the equilibrium moisture.
    """
    t, x0, xe = (np.asarray(x, float) for x in (time_h, X0, Xe))
    xc = np.minimum(x0, xe + np.asarray(surface_per_h, float) / inner_per_h)
    falls_from = (x0 - xc) / surface_per_h
    falling = xe + (xc - xe) * np.exp(-inner_per_h * np.maximum(t - falls_from, 0.0))
    return np.where(t < falls_from, x0 - surface_per_h * t, falling)


@formula(
    unit="h",
    source="Perry's Chemical Engineers' Handbook, drying",
    place="moisture_while_drying, solved for the time",
)
def hours_to_dry(
    X0: Numbers, X: Numbers, surface_per_h: Numbers, inner_per_h: Numbers, Xe: Numbers
) -> Array:
    """Return when a piece in the dryer has a mean moisture.

    t = (X_0 - X_c) / N + ln((X_c - X_e) / (X - X_e)) / k, X_c = X_e + N / k

    Args:
        X0: at the start, dry basis, any shape.
        X: wanted.
        surface_per_h: N, as in moisture_while_drying.
        inner_per_h: k, as in moisture_while_drying.
        Xe: equilibrium moisture in the air of the dryer.

    Returns:
        Hours; inf where the air is too damp for it.
    """
    xc = np.asarray(Xe, float) + np.asarray(surface_per_h, float) / inner_per_h
    return drying_time_h(1.0, 1.0, surface_per_h, X0, xc, X, Xe)


@formula(unit="m²/s", source="Arrhenius 1889", place="moisture diffusivity of one moisture range")
def moisture_diffusivity_m2_per_s(
    D_ref_m2_per_s: Numbers,
    reference_C: Numbers,
    activation_energy_kJ_mol: Numbers,
    temperature_C: Numbers,
) -> Array:
    """Return the diffusivity of water in a food at another temperature.

    D = D_ref exp(-E_a / R (1 / T - 1 / T_ref))

    It falls tenfold and more while a piece dries and shrinks: one value tells end times too short.

    Args:
        D_ref_m2_per_s: at the reference temperature, any shape.
        reference_C: reference temperature.
        activation_energy_kJ_mol: 15 to 40 for most fruit and vegetables.
        temperature_C: of the piece.

    Returns:
        Diffusivity.
    """
    return rate_constant(D_ref_m2_per_s, reference_C, activation_energy_kJ_mol, temperature_C)


@formula(unit="kWh/kg", source="heat balance", place="no dryer losses")
def least_heat_kWh_per_kg(
    product_C: Numbers,
    evaporation_C: Numbers,
    net_isosteric_heat_kJ_mol: Numbers = 0.0,
    heat_capacity_kJ_per_kg_K: Numbers = 4.18,
) -> Array:
    """Return the least heat that a kilogram of water takes to leave the food.

    Q = c_p (T - T_0) + h(T) + q / M_w

    Args:
        product_C: T_0, of the food at the start, any shape.
        evaporation_C: T, at which the water leaves.
        net_isosteric_heat_kJ_mol: q, binding of the last water; none for wet food.
        heat_capacity_kJ_per_kg_K: c_p of water.

    Returns:
        Heat for a kilogram of water removed.
    """
    warm_up = heat_capacity_kJ_per_kg_K * (np.asarray(evaporation_C, float) - product_C)
    binding = np.asarray(net_isosteric_heat_kJ_mol, float) / WATER_MOLAR_MASS_KG_PER_MOL
    return (warm_up + latent_heat_kJ_per_kg(evaporation_C) + binding) / KJ_PER_KWH


@formula(unit="", source="definition", place="useful heat over what was consumed")
def dryer_efficiency(water_kg: Numbers, useful_kJ_per_kg: Numbers, consumed_kWh: Numbers) -> Array:
    """Return the share of the energy of a dryer that evaporated water.

    eta = m_w h / E

    Args:
        water_kg: removed, any shape.
        useful_kJ_per_kg: heat for a kilogram of water.
        consumed_kWh: by the meter.

    Returns:
        0 to 1.
    """
    useful = np.asarray(water_kg, float) * useful_kJ_per_kg
    return useful / (KJ_PER_KWH * np.asarray(consumed_kWh, float))


@formula(unit="kg", source="Ross 1975, Food Technol. 29(3):26", place="product of the parts")
def water_left_kg(
    water_activity: Numbers,
    nonsalt_solids_kg: Numbers,
    salt_mol: Numbers,
    matrix_water_activity: Curve,
    salt_water_activity: Curve,
    saturated_mol_per_kg: Numbers = np.inf,
) -> Array:
    """Return the water that may stay in a salted food at a water activity.

    solve a = a_matrix(w / s) a_salt(n / w) for w; n / w at most that of the saturated salt

    With and without salt it compares drying alone with salting and drying.

    Args:
        water_activity: wanted, any shape.
        nonsalt_solids_kg: s, dry solids without the salt.
        salt_mol: n, dissolved in all the water.
        matrix_water_activity: moisture of the solids without the salt -> water activity.
        salt_water_activity: mol/kg water -> water activity of the salt alone.
        saturated_mol_per_kg: beyond it salt is crystals.

    Returns:
        Water; nan where no amount of water gives that water activity.

    Source:
        Reads high for jerky, which is drier than it says; errs by 0.01-0.02 either way with salts
        and sugars together.
    """
    wanted, solids, salt, most = np.broadcast_arrays(
        np.asarray(water_activity, float), nonsalt_solids_kg, salt_mol, saturated_mol_per_kg
    )

    def surplus(log_water: Array) -> Array:
        water = np.exp(log_water)
        matrix = matrix_water_activity(water / solids)
        matrix = np.where(np.isnan(matrix), 1.0, matrix)  # wetter than the isotherm knows
        return matrix * salt_water_activity(np.minimum(salt / water, most)) - wanted

    return np.exp(root_between(surplus, np.log(1e-4 * solids), np.log(1e4 * solids)))
