"""How far a prediction may be off, by class of product."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stillroom import tables
from stillroom.labels import Array, Numbers
from stillroom.product.mixture import Mixture, of_kind
from stillroom.product.properties.acidity import ionic_strength_mol_per_kg
from stillroom.product.properties.solids import NACL_KG_PER_MOL, brix, salt_kg


def product_classes(mixture: Mixture, a_w: Numbers) -> dict[str, NDArray[np.bool_]]:
    """Return class of product -> whether a mixture of this water activity belongs to it."""
    sugars = mixture.kg(*of_kind("sugar", "polyol"))
    water_kg = mixture.kg("water")
    salt_molality = salt_kg(mixture) / NACL_KG_PER_MOL / water_kg
    sugar_ratio = sugars / water_kg
    a_w = np.asarray(a_w)
    tissue = mixture.kg("protein", "starch") / mixture.total_kg > 0.05
    others_kg = mixture.total_kg - water_kg - sugars - salt_kg(mixture)
    return {
        "tissue": tissue,
        "dried_tissue": tissue & (a_w < 0.90),
        "concentrate": (a_w < 0.76) & (sugar_ratio > 0.5),
        "mixed": (salt_molality > 0.2)
        & ((sugar_ratio > 0.05) | (others_kg / mixture.total_kg > 0.02)),
        "divalent_brine": (mixture.mol("Ca") + mixture.mol("Mg")) / water_kg > 0.2,
        "salt_brine": (sugar_ratio < 0.05) & (salt_molality > 0.2),
        "spread": brix(mixture) >= 55,
        "dilute": a_w >= 0.95,
    }


def water_activity_band(mixture: Mixture, a_w: Numbers) -> Array:
    """Return the model error of a water activity, plus or minus, 95 %: the widest that applies."""
    bands = {name: float(row["band"]) for name, row in tables.index("error_bands").items()}
    classes = product_classes(mixture, a_w)
    widest = np.max([np.where(is_one, bands[n], 0.0) for n, is_one in classes.items()], axis=0)
    return np.where(widest > 0, widest, bands["syrup"])


def ph_band(mixture: Mixture, at_ph: Numbers) -> Array:
    """Return the model error of a pH, plus or minus, 95 %.

    0.05 for Davies activities in 1-4 % salt, 0.1 and more above ionic strength 1; sugar adds to
    0.3 at 62 Brix, because activities in syrup are not modelled; dissolved calcium and magnesium
    bind acids, which is not modelled either: 0.01 per mmol/kg.
    """
    strength = ionic_strength_mol_per_kg(mixture, at_ph)
    salty = np.where(strength > 1, 0.1 + 0.05 * np.minimum(strength - 1, 4), 0.05)
    sugary = 0.3 * np.clip((brix(mixture) - 25) / 37, 0.0, 1.0)
    divalent = 1000 * (mixture.mol("Ca") + mixture.mol("Mg")) / mixture.kg("water")
    return np.sqrt(salty**2 + sugary**2 + np.minimum(0.01 * divalent, 0.2) ** 2)


def humectants(mixture: Mixture) -> tuple[str, ...]:
    """Return what lowers the water activity: every class with a fifth of the particles or more."""
    particles = {
        "salt": 2 * salt_kg(mixture) / NACL_KG_PER_MOL,
        "sugar": sum((mixture.mol(n) for n in of_kind("sugar")), np.asarray(0.0)),
        "glycerol": sum((mixture.mol(n) for n in of_kind("polyol")), np.asarray(0.0)),
    }
    total = sum(particles.values(), np.asarray(0.0))
    return tuple(n for n, p in particles.items() if np.mean(p) >= 0.2 * np.mean(total) > 0)
