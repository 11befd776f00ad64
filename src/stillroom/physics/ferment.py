"""Ferments: what sugar becomes, by stoichiometry."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from stillroom.labels import Array, Numbers, formula

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
