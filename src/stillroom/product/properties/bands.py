"""How far a prediction may be off, by class of product."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stillroom import tables
from stillroom.labels import Array, Numbers
from stillroom.physics import acid as acidity
from stillroom.product.mixture import Mixture, of_kind
from stillroom.product.properties.acidity import solution
from stillroom.product.properties.solids import NACL_KG_PER_MOL, brix, salt_kg


def product_class(mixture: Mixture, a_w: Numbers) -> NDArray[np.str_]:
    """Return the class of product whose error band applies to a water activity."""
    sugars = mixture.kg(*of_kind("sugar", "polyol"))
    water_kg = mixture.kg("water")
    salt_molality = salt_kg(mixture) / NACL_KG_PER_MOL / water_kg
    sugar_ratio = sugars / water_kg
    gelled = mixture.kg("protein", "starch") / mixture.total_kg
    divalent = (mixture.mol("Ca") + mixture.mol("Mg")) / water_kg
    brix_now = brix(mixture)
    choices = [
        (gelled > 0.05, "tissue"),
        ((np.asarray(a_w) < 0.76) & (sugar_ratio > 0.5), "concentrate"),
        ((salt_molality > 0.2) & (sugar_ratio > 0.05), "mixed"),
        ((sugar_ratio < 0.05) & (divalent > 0.2), "divalent_brine"),
        ((sugar_ratio < 0.05) & (salt_molality > 0.2), "salt_brine"),
        (brix_now >= 55, "spread"),
        (np.asarray(a_w) >= 0.95, "dilute"),
    ]
    return np.select([c for c, _ in choices], [name for _, name in choices], default="syrup")


def water_activity_band(mixture: Mixture, a_w: Numbers) -> Array:
    """Return the model error of a water activity, plus or minus, 95 %."""
    bands = {name: float(row["band"]) for name, row in tables.index("error_bands").items()}
    return np.vectorize(bands.__getitem__, otypes=[float])(product_class(mixture, a_w))


def ph_band(mixture: Mixture, at_ph: Numbers) -> Array:
    """Return the model error of a pH, plus or minus, 95 %.

    0.05 for Davies activities in 1-4 % salt, 0.1 and more above ionic strength 1; sugar adds to
    0.3 at 62 Brix, because activities in syrup are not modelled; dissolved calcium and magnesium
    bind acids, which is not modelled either: 0.01 per mmol/kg.
    """
    strength = acidity.charge_balance(solution(mixture), at_ph)[1]
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
