"""What fades in storage: vitamins, colour, and sugar that comes out of solution."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from stillroom import tables
from stillroom.assess.keep.ending import End
from stillroom.assess.keep.history import HOURS_A_DAY, History
from stillroom.labels import formula_of
from stillroom.physics import death
from stillroom.physics.ageing import time_reached
from stillroom.physics.kinetics import growth_potential
from stillroom.product import properties
from stillroom.product.mixture import Mixture
from stillroom.product.recipe import Recipe

LEAST_SHARE = 0.2  # of what goes in, for a food to give a product its colour and vitamin
SOLUTES = {"sucrose": "sugar grains", "glucose": "glucose sets to a crust"}


def losses(recipe: Recipe, mixture: Mixture, history: History) -> list[End]:
    """Return when vitamins and colours of a product are down to their share.

    Args:
        recipe: of the product.
        mixture: as packed, no leading axes.
        history: that it is kept at.
    """
    return [_loss(r, history) for r in _rows(recipe, mixture)]


def _rows(recipe: Recipe, mixture: Mixture) -> Iterator[tables.Row]:
    main = _main_foods(recipe)
    for r in tables.rows("storage_losses"):
        component = str(r["component"])
        held = 1e6 * float(mixture.kg(component) / mixture.total_kg) if component else np.inf
        stems = "|".join(rf"{w}(s|es)?|{w[:-1]}ies" for w in str(r["foods"]).split(";"))
        if held >= r["least_mg_per_kg"] and re.search(rf"\b({stems})\b", main):
            yield r


def _main_foods(recipe: Recipe) -> str:
    """Return the names of the foods that make up a fair share of what goes in."""
    masses: dict[str, float] = {}
    for _, name, amount in recipe.parts():
        masses[name] = masses.get(name, 0.0) + recipe.kg(name, amount)
    least = LEAST_SHARE * sum(masses.values())
    main = [name for name, kg in masses.items() if kg >= least]
    return ", ".join([*main, *(str(recipe.food(n).row["food"]) for n in main)]).lower()


def _loss(r: tables.Row, history: History) -> End:
    T = history.temperature_C
    per_day = np.array([r["per_day"], r["per_day_high"]])[:, None]
    k = death.rate_constant(per_day, r["reference_C"], r["activation_energy_kJ_mol"], T)
    done = growth_potential(history.time_h / HOURS_A_DAY, k)
    typical, earliest = time_reached(
        history.time_h / HOURS_A_DAY, done, np.full(2, -np.log(r["left"]))
    )
    return End(
        subject=str(r["item"]),
        area="quality",
        earliest_days=float(earliest),
        typical_days=float(typical),
        end=f"{100 * r['left']:.0f} % left",
        reason=str(r["note"]),
        basis=f"first-order loss of {r['per_day']:g} to {r['per_day_high']:g} a day at "
        f"{r['reference_C']:g} °C, {r['activation_energy_kJ_mol']:g} kJ/mol",
        source=f"{r['source']}; {formula_of(death.rate_constant).source}",
        provenance=str(r["provenance"]),
        fitted_C=(r["lowest_C"], r["highest_C"]),
        outside=outside(T, (r["lowest_C"], r["highest_C"])),
    )


def crystals(made: Mixture, kept: Mixture, history: History) -> list[End]:
    """Return the sugars that may come out of solution at the coldest of a history.

    Args:
        made: the product as packed, no leading axes.
        kept: the product at the end of its keeping, no leading axes.
        history: that it is kept at.
    """
    coldest = float(history.temperature_C.min())
    found = []
    for solute, what in SOLUTES.items():
        ratio = max(float(properties.saturation_ratio(m, solute, coldest)) for m in (made, kept))
        if ratio > 1:
            found.append(
                End(
                    subject=f"crystals of {solute}",
                    area="quality",
                    earliest_days=0.0,
                    typical_days=np.inf,
                    end=what,
                    reason=f"{ratio:.2f} times what dissolves at {coldest:g} °C: any day, once a "
                    "grain starts it",
                    basis="solubility of the sugar alone",
                    source="solubility table",
                    provenance="common practice",
                )
            )
    return found


def outside(T: np.ndarray, fitted_C: tuple[float, float]) -> str:
    """Return a sentence where temperatures lie outside the range of a rate, else "".

    Args:
        T: temperatures, °C.
        fitted_C: range the rate holds in.
    """
    low, high = fitted_C
    if T.size == 0 or (T.min() >= low and T.max() <= high):
        return ""
    met = dict.fromkeys(f"{x:g}" for x in (T.min(), T.max()))
    return f"met at {' to '.join(met)} °C, fitted at {low:g} to {high:g} °C"
