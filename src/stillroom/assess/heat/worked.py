"""The working behind judged heat, written under the rest of the board."""

from __future__ import annotations

import numpy as np

from stillroom import tables
from stillroom.assess.heat.judgement import Heating, Reached
from stillroom.physics import death, heat
from stillroom.product.pack_plan import Plan
from stillroom.product.process import JAR_C, Batch
from stillroom.product.properties import thermal
from stillroom.working import Known, Working

TOUCHED = 0.01  # decades; less is not worth a line


def write(board: Working, heating: Heating, batch: Batch) -> None:
    """Write what the heat of a pack is worth on a board.

    Args:
        board: to write on.
        heating: the judged heat.
        batch: the central one.
    """
    board.heading("7. What the heat is worth")
    _fill(board, heating.plan, batch)
    _wall(board, heating.plan)
    board.say(_solved(heating.plan))
    for reached in heating.reached:
        _lethality(board, heating, reached)
    touched = [k for k in heating.kills if k.decades.low >= TOUCHED]
    for kill in sorted(touched, key=lambda k: k.decades.low):
        board.apply(
            death.log_reductions,
            f"decades of {kill.organism}, at least, at {kill.scale}",
            lethality_min=Known(
                kill.decades.low * kill.d_min, "min", "calculated", "lower end, coldest place"
            ),
            d_min=Known(kill.d_min, "min", "tabulated", kill.source, "longest D"),
        )
    for kept in heating.kept:
        F = -kept.d_min * np.log10(max(kept.share, 1e-12))
        board.apply(
            death.fraction_left,
            f"{kept.item} left, at {kept.scale}",
            lethality_min=Known(float(F), "min", "calculated", "mean of the pack"),
            d_min=Known(kept.d_min, "min", "tabulated", kept.source),
        )


def _fill(board: Working, plan: Plan, batch: Batch) -> None:
    fill = batch.of("fill")[-1].step.fill
    if fill is None or fill.temperature is None or fill.pieces_temperature is not None:
        return
    jar_C = JAR_C if fill.jar_temperature is None else fill.jar_temperature
    kind = "assumed" if fill.jar_temperature is None else "given"
    glass = float(thermal.material("glass", "heat_capacity_J_per_kg_K", jar_C))
    capacity = float(thermal.heat_capacity_J_per_kg_K(plan.mixture, fill.temperature))
    board.apply(
        heat.filled_temperature_C,
        "temperature of food and container after the fill",
        product_kg=Known(plan.net_kg, "kg", "calculated", "the fill", "content"),
        product_J_per_kg_K=Known(capacity, "J/(kg·K)", "calculated", "Choi & Okos 1986"),
        fill_C=Known(fill.temperature, "°C", "given", "recipe"),
        jar_kg=Known(plan.container.mass_kg, "kg", "assumed", "common practice", "container"),
        jar_J_per_kg_K=Known(glass, "J/(kg·K)", "tabulated", "glass handbooks"),
        jar_C=Known(jar_C, "°C", kind, "recipe" if kind == "given" else "room"),
    )


def _wall(board: Working, plan: Plan) -> None:
    material = plan.container.material
    conductivity = float(thermal.material(material, "conductivity_W_per_m_K", plan.mean_C))
    for leg in plan.legs:
        r = tables.row("films", leg.film)
        board.apply(
            heat.overall_conductance_W_per_m2_K,
            f"film and wall, {leg.words}",
            film_W_per_m2_K=Known(
                r["typical_W_per_m2_K"], "W/(m²·K)", "tabulated", str(r["source"])
            ),
            wall_m=Known(plan.container.wall_m, "m", "assumed", "table of containers"),
            wall_W_per_m_K=Known(conductivity, "W/(m·K)", "tabulated", f"{material}, handbooks"),
        )


def _solved(plan: Plan) -> str:
    k, rho, c = (
        plan.thermal(q)
        for q in ("conductivity_W_per_m_K", "density_kg_per_m3", "heat_capacity_J_per_kg_K")
    )
    how = {
        "conduction": "finite volumes in the pack, heat_pack",
        "convection": "a well mixed content, followed_C",
        "pieces": "a well mixed liquor, followed_C, and the series in a piece, temperatures_C",
    }[plan.way]
    return (
        f"The content conducts {k:.3f} W/(m·K), weighs {rho:.0f} kg/m³ and holds {c:.0f} J/(kg·K), "
        f"so its diffusivity is {k / rho / c * 1e7:.2f}e-7 m²/s. Its course is computed by {how} "
        "(`stillroom explain` has each)."
    )


def _lethality(board: Working, heating: Heating, reached: Reached) -> None:
    scale = reached.target.scale
    peak = float(heating.course.centre_C[0].max())
    board.apply(
        death.lethal_rate,
        f"what a minute of the middle at its hottest is worth, at {scale}",
        temperature_C=Known(min(peak, scale.highest_C), "°C", "calculated", "course"),
        reference_C=Known(scale.reference_C, "°C", "tabulated", reached.target.source),
        z_C=Known(scale.z_C, "°C", "tabulated", reached.target.source),
        z_above_C=Known(scale.z_above_C or scale.z_C, "°C", "tabulated", reached.target.source),
    )
    e = reached.lethality
    board.say(
        f"Added up over the whole way, where it is least: {e.value:.3g} min ({e.low:.3g} to "
        f"{e.high:.3g}) of {reached.target.minutes:g} against {reached.target.words}."
    )
