"""The working behind followed dryings, written under the rest of the board."""

from __future__ import annotations

from collections.abc import Sequence

from stillroom.assess.dry.judgement import Dried
from stillroom.physics import drying
from stillroom.product.drying import FAST, MIDDLE, SLOW
from stillroom.working import Known, Working


def write(board: Working, dried: Sequence[Dried]) -> None:
    """Write what dryings do on a board.

    Args:
        board: to write on.
        dried: followed, in order.
    """
    for one in dried:
        d = one.drying
        board.heading(f"Drying, step {one.number}")
        own = d.curve.isotherm
        board.say(
            f"At water activity {one.water_activity:.3f} a kilogram of its dry solids holds "
            f"{d.end:.4g} kg of water: by what its sugars, salts, acids and polymers hold at one "
            "water activity" + (f", corrected by {own.named}, {own.source}." if own else ".")
        )
        end = board.apply(
            drying.wet_basis_moisture,
            "moisture at the end",
            moisture_dry_basis=Known(d.end, "kg/kg", "calculated", "water activity"),
        )
        board.apply(
            drying.dried_mass_kg,
            "weight at the end",
            mass_kg=Known(float(d.before.total_kg), "kg", "calculated", "mass balance"),
            moisture_wet_basis=Known(d.start / (1 + d.start), "kg/kg", "calculated", "recipe"),
            final_moisture_wet_basis=end,
        )
        if d.hours is None or d.inner_per_h is None or d.surface_per_h is None:
            continue
        for pace, word in ((MIDDLE, "middle"), (SLOW, "slow"), (FAST, "fast")):
            board.apply(
                drying.hours_to_dry,
                f"time to dry, {word} pace",
                X0=Known(d.start, "kg/kg", "calculated", "recipe"),
                X=Known(d.end, "kg/kg", "calculated", "water activity"),
                surface_per_h=Known(
                    float(d.surface_per_h[pace]), "kg/(kg h)", "calculated", "air at its wet bulb"
                ),
                inner_per_h=Known(
                    float(d.inner_per_h[pace]), "1/h", "calculated", "diffusion in the piece"
                ),
                Xe=Known(d.equilibrium, "kg/kg", "calculated", "humidity of the air"),
            )
