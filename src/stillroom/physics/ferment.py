"""Ferments: what sugar becomes by stoichiometry, and how fast a flora turns it over."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

from stillroom.labels import Array, Numbers, formula
from stillroom.physics.kinetics import linear_factor, square_root_rate_per_h

# pathway -> (moles of each substrate, moles of each product)
PATHWAYS: Mapping[str, tuple[Mapping[str, int], Mapping[str, int]]] = {
    "homolactic": ({"hexose": 1}, {"lactic acid": 2}),
    "heterolactic": ({"hexose": 1}, {"lactic acid": 1, "ethanol": 1, "carbon dioxide": 1}),
    "heterolactic with fructose": (
        {"hexose": 3, "water": 1},
        {"lactic acid": 1, "acetic acid": 1, "carbon dioxide": 1, "mannitol": 2},
    ),
    "alcoholic": ({"hexose": 1}, {"ethanol": 2, "carbon dioxide": 2}),
    "acetic": ({"ethanol": 1, "oxygen": 1}, {"acetic acid": 1, "water": 1}),
    "malolactic": ({"malic acid": 1}, {"lactic acid": 1, "carbon dioxide": 1}),
    "inversion": ({"sucrose": 1, "water": 1}, {"hexose": 2}),
}
MOLAR_MASS_G_PER_MOL: Mapping[str, float] = {
    "hexose": 180.156,
    "sucrose": 342.297,
    "lactic acid": 90.078,
    "acetic acid": 60.052,
    "malic acid": 134.087,
    "ethanol": 46.068,
    "carbon dioxide": 44.009,
    "mannitol": 182.172,
    "water": 18.015,
    "oxygen": 31.998,
}


def mass_yield(pathway: str, substrate: str, product: str) -> float:
    """Return the grams of product from a gram of substrate when all of it is turned over.

    Y = (n_product M_product) / (n_substrate M_substrate)

    Args:
        pathway: a key of PATHWAYS.
        substrate: of that pathway.
        product: of that pathway.

    Returns:
        g per g.

    Raises:
        ValueError: the pathway or substance is not known.

    Source:
        Balanced equations; practice reaches 90-98 % of them.
    """
    if pathway not in PATHWAYS:
        raise ValueError(f"{pathway!r} is not one of {', '.join(PATHWAYS)}.")
    substrates, products = PATHWAYS[pathway]
    if substrate not in substrates or product not in products:
        raise ValueError(
            f"{pathway} turns {', '.join(substrates)} into {', '.join(products)}, "
            f"not {substrate} into {product}."
        )
    made = products[product] * MOLAR_MASS_G_PER_MOL[product]
    return made / (substrates[substrate] * MOLAR_MASS_G_PER_MOL[substrate])


@formula(unit="% vol", source="Regulation (EC) 606/2009 convention: 16.83 g/L of sugar per % vol")
def potential_alcohol_percent_vol(
    fermentable_sugar_g_per_L: Numbers, conversion_g_per_L: float = 16.83
) -> Array:
    """Return the alcohol a must can reach.

    A = sugar / 16.83

    Args:
        fermentable_sugar_g_per_L: any shape.
        conversion_g_per_L: g/L of sugar for one per cent by volume (16.5-17.2 in laboratories).

    Returns:
        Per cent by volume.
    """
    return np.asarray(fermentable_sugar_g_per_L, float) / conversion_g_per_L


@formula(
    unit="°Brix",
    source="cubic through the sucrose tables",
    specific_gravity_20_20=(1.0, 1.18),
)
def brix_from_specific_gravity(specific_gravity_20_20: Numbers) -> Array:
    """Return degrees Brix from a hydrometer reading.

    B = 182.4601 SG^3 - 775.6821 SG^2 + 1262.7794 SG - 669.5622

    Args:
        specific_gravity_20_20: any shape.

    Returns:
        Degrees Brix.
    """
    sg = np.asarray(specific_gravity_20_20, float)
    return ((182.4601 * sg - 775.6821) * sg + 1262.7794) * sg - 669.5622


REFERENCE_C = 30.0


# --- rates ------------------------------------------------------------------------------------


@formula(
    unit="mol/(kg h)",
    source="Luedeking & Piret 1959; Passos et al. 1994, Appl. Environ. Microbiol. 60:2627",
    place="a = 0.0519 mol/g, b = 0.0072 mol/(g h) at 30 °C",
)
def acid_made_mol_per_kg_h(
    growth_rate_per_h: Numbers,
    cells_g_per_kg: Numbers,
    per_growth_mol_per_g: Numbers,
    standing_mol_per_g_h: Numbers,
) -> Array:
    """Return the acid that growing and standing cells make.

    dP/dt = (a mu + b) X

    Args:
        growth_rate_per_h: any shape.
        cells_g_per_kg: dry cells in the water phase.
        per_growth_mol_per_g: a, acid made while a gram of cells grows.
        standing_mol_per_g_h: b, acid made by cells that only live.

    Returns:
        Acid an hour in a kilogram of the water phase.
    """
    mu, X = np.asarray(growth_rate_per_h, float), np.asarray(cells_g_per_kg, float)
    return (np.asarray(per_growth_mol_per_g) * mu + np.asarray(standing_mol_per_g_h)) * X


# --- alcohol and vinegar ----------------------------------------------------------------------


@dataclass(frozen=True)
class Yeast:
    """How a yeast turns sugar into alcohol.

    Attributes:
        b: slope of the square-root model, 1/(°C sqrt(h)).
        temp_min_C: where that line meets zero.
        c: its bend at the upper end.
        temp_max_C: above which nothing grows.
        half_sugar_mol_per_kg: sugar that halves the rate.
        ethanol_limit_percent_vol: at which it stops.
        aw_min: of growth.
        aw_best: for growth.
        most_cells_g_per_kg: that the food feeds.
        per_growth_mol_per_g: alcohol made while a gram of cells grows.
        standing_mol_per_g_h: alcohol made by cells that only live, at 30 °C.
        start_g_per_kg: dry cells at the start.
    """

    b: float
    temp_min_C: float
    c: float
    temp_max_C: float
    half_sugar_mol_per_kg: float
    ethanol_limit_percent_vol: float
    aw_min: float
    aw_best: float
    most_cells_g_per_kg: float
    per_growth_mol_per_g: float
    standing_mol_per_g_h: float
    start_g_per_kg: float

    def rate_per_h(self, temperature_C: Numbers) -> Array:
        """Return the growth rate at a temperature, all else at its best."""
        return square_root_rate_per_h(
            temperature_C, self.b, self.temp_min_C, self.c, self.temp_max_C
        )


ETHANOL_G_PER_CM3 = 0.78924  # 20 °C, OIML R 22


@formula(unit="mol/kg", source="definition; water and alcohol taken to keep their volumes")
def ethanol_mol_per_kg_water(ethanol_percent_vol: Numbers) -> Array:
    """Return the alcohol of a strength per kilogram of the water beside it.

    m = A 789.24 / (46.068 (100 - A) 0.9982)

    Args:
        ethanol_percent_vol: strength, any shape.

    Returns:
        mol per kg of water.
    """
    A = np.asarray(ethanol_percent_vol, float)
    molar = MOLAR_MASS_G_PER_MOL["ethanol"]
    return A * 1000 * ETHANOL_G_PER_CM3 / (molar * (100 - A) * 0.9982)


@formula(unit="% vol", source="definition; water and alcohol taken to keep their volumes")
def ethanol_percent_vol(ethanol_mol_per_kg_water: Numbers) -> Array:
    """Return the strength of alcohol and the water beside it, ethanol_mol_per_kg_water turned over.

    A = 100 / (1 + 789.24 / (46.068 0.9982 m))

    Args:
        ethanol_mol_per_kg_water: mol per kg of water, any shape.

    Returns:
        Per cent by volume of the two.
    """
    litres = MOLAR_MASS_G_PER_MOL["ethanol"] / 1000 / ETHANOL_G_PER_CM3
    alcohol = np.asarray(ethanol_mol_per_kg_water, float) * litres
    return 100 * alcohol / (alcohol + 1 / 0.9982)


@dataclass(frozen=True)
class YeastCourse:
    """An alcoholic ferment over time; times first, samples last.

    Attributes:
        time_h: from the start.
        turned_mol_per_kg: hexose used, mol per kg of water.
        cells_g_per_kg: dry cells.
    """

    time_h: Array
    turned_mol_per_kg: Array
    cells_g_per_kg: Array


def yeast_course(
    time_h: Numbers,
    temperature_C: Callable[[float], float],
    hexose_mol_per_kg: Array,
    ethanol_mol_per_kg: Array,
    water_activity: Array,
    yeast: Yeast,
    alcohol_yield: float = 1.0,
    rate_factor: Numbers = 1.0,
) -> YeastCourse:
    """Follow an alcoholic ferment, every sample at once.

    mu = mu_T S / (Ks + S) (1 - E / E_max) (1 - X / X_max) f(a_w);  dE/dt = (a mu + b s (1 - E /
    E_max)) X;  dS/dt = -dE/dt / (2 y)

    Args:
        time_h: at which it is wanted, rising from 0.
        temperature_C: of the ferment at a time.
        hexose_mol_per_kg: in the water phase, by sample.
        ethanol_mol_per_kg: at the start, by sample.
        water_activity: at the start, by sample.
        yeast: what grows.
        alcohol_yield: share of the sugar that becomes alcohol and gas.
        rate_factor: on every rate, by sample.

    Returns:
        The course.

    Source:
        Luedeking & Piret 1959, with the straight-line inhibition by alcohol of Ghose & Tyagi 1979.
    """
    times = np.asarray(time_h, float)
    size = hexose_mol_per_kg.size
    most = ethanol_mol_per_kg_water(yeast.ethanol_limit_percent_vol)
    roomy = linear_factor(water_activity, yeast.aw_min, yeast.aw_best)
    top = yeast.most_cells_g_per_kg

    def slope(at: float, state: Array) -> Array:
        cells, turned = np.exp(state[:size]), state[size:]
        sugar = np.maximum(hexose_mol_per_kg - turned, 0.0)
        ethanol = ethanol_mol_per_kg + 2 * alcohol_yield * turned
        speed = rate_factor * yeast.rate_per_h(float(temperature_C(at)))
        free = np.clip(1 - ethanol / most, 0.0, 1.0)
        fed = sugar / (yeast.half_sugar_mol_per_kg + sugar) * free
        mu = speed * fed * roomy * np.clip(1 - cells / top, 0.0, 1.0)
        pace = speed / yeast.rate_per_h(REFERENCE_C)
        made = acid_made_mol_per_kg_h(
            mu, cells, yeast.per_growth_mol_per_g, yeast.standing_mol_per_g_h * pace * fed
        )
        return np.concatenate([mu, made / (2 * alcohol_yield)])

    start = np.concatenate([np.full(size, np.log(yeast.start_g_per_kg)), np.zeros(size)])
    solved = solve_ivp(
        slope, (0.0, float(times[-1])), start, method="RK45", t_eval=times, rtol=1e-4, atol=1e-5
    )
    return YeastCourse(
        times,
        np.minimum(solved.y[size:].T, hexose_mol_per_kg),
        np.exp(solved.y[:size].T),
    )


@formula(
    unit="g/100 g",
    source="surface process at its own pace; stoichiometry of PATHWAYS",
    place="straight line until the alcohol or the tolerated acid is reached",
)
def acetic_made_percent(
    days: Numbers,
    percent_per_day: Numbers,
    ethanol_percent: Numbers,
    vinegar_yield: float,
    room_percent: Numbers,
) -> Array:
    """Return the acetic acid a vinegar ferment has made.

    A = min(r t, 1.3035 y E, room)

    Args:
        days: of the ferment, any shape.
        percent_per_day: acid made a day at the temperature.
        ethanol_percent: alcohol at the start, by mass.
        vinegar_yield: share of the alcohol that becomes acid (0.95-0.98 in practice).
        room_percent: acid up to which the bacteria go on.

    Returns:
        Acetic acid made, g in 100 g.
    """
    all_of_it = mass_yield("acetic", "ethanol", "acetic acid") * vinegar_yield
    most = np.minimum(all_of_it * np.asarray(ethanol_percent, float), room_percent)
    return np.minimum(np.asarray(percent_per_day, float) * np.asarray(days, float), most)
