"""The working behind followed ferments, written under the rest of the board."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stillroom import tables
from stillroom.assess.ferment.judgement import Fermented
from stillroom.assess.ferment.race import SOUR_PH
from stillroom.physics import ferment, kinetics, lactic
from stillroom.product import fermenting, properties
from stillroom.working import Known, Working


def write(board: Working, ferments: Sequence[Fermented]) -> None:
    """Write what ferments do on a board.

    Args:
        board: to write on.
        ferments: followed, in order.
    """
    for f in ferments:
        board.heading(f"Ferment, step {f.number}: {f.plan.kind}")
        {"lactic": _lactic, "alcoholic": _alcoholic, "acetic": _acetic}[f.plan.kind](board, f)


def _lactic(board: Working, f: Fermented) -> None:
    sugar = sum(fermenting.hexose_mol(f.before)) / f.before.kg("water")
    board.say(
        f"Its sugars hold {float(sugar):.3f} mol of hexose in a kilogram of water: "
        f"{f.most_acid_percent:.2f} % lactic acid at the most, which with the buffer of the food "
        f"would bring pH {f.lowest_ph:.2f}."
    )
    rows = [r for r in tables.rows("floras") if r["kind"] == "lactic"]
    acids = {a: float(f.before.mol(a) / f.before.kg("water")) for a in ("lactic", "acetic")}
    doses = {a: float(properties.undissociated_mmol_per_kg(f.before, a, f.start.ph)) for a in acids}
    for r in rows:
        source = str(r["source"])

        def tabled(column: str, unit: str = "", r: tables.Row = r, source: str = source) -> Known:
            return Known(r[column], unit, "tabulated", source)

        best = board.apply(
            kinetics.square_root_rate_per_h,
            f"rate of {r['flora']} at the temperature, all else at its best",
            temperature_C=Known(f.plan.temperature, "°C", "given", "recipe"),
            b=tabled("b"),
            temp_min_C=tabled("temp_min_C", "°C"),
            c=tabled("c"),
            temp_max_C=tabled("temp_max_C", "°C"),
        )
        board.apply(
            lactic.lactic_growth_rate_per_h,
            f"rate of {r['flora']} at the start",
            rate_at_best_per_h=best,
            sugar_mol_per_kg=Known(float(sugar), "mol/kg", "calculated", "mass balance"),
            lactic_mmol_per_kg=Known(doses["lactic"], "mmol/kg", "calculated", "charge balance"),
            acetic_mmol_per_kg=Known(doses["acetic"], "mmol/kg", "calculated", "charge balance"),
            ph=Known(f.start.ph, "", "calculated", "charge balance"),
            water_activity=Known(f.water_activity, "", "calculated", "mixture"),
            **{c: tabled(c) for c in LIMITS},
        )
    sour = f.hours_to[SOUR_PH].value
    passed = f"passes {SOUR_PH:g} after {sour:.0f} h" if np.isfinite(sour) else "stays above 4.6"
    board.say(
        "From there the pH is solved from the charge balance at every step (lactic_course): it "
        f"{passed} and ends at {f.end.value:.2f}, with {f.left.lactic:.2f} % lactic and "
        f"{f.left.acetic:.2f} % acetic acid and {f.left.sugar:.2f} % sugar left."
    )


LIMITS = (
    "half_sugar_mol_per_kg",
    "lactic_limit_mmol_per_kg",
    "acetic_limit_mmol_per_kg",
    "ph_min",
    "ph_max",
    "aw_min",
    "aw_best",
)


def _alcoholic(board: Working, f: Fermented) -> None:
    litres = float(f.before.total_kg / properties.density_g_per_cm3(f.before))
    grams = float(f.before.grams(*fermenting.HEXOSES))
    board.apply(
        ferment.potential_alcohol_percent_vol,
        "alcohol that its sugar can give",
        fermentable_sugar_g_per_L=Known(grams / litres, "g/L", "calculated", "mass balance"),
        conversion_g_per_L=Known(16.83, "g/L", "tabulated", "Regulation (EC) 606/2009"),
    )
    row = tables.rows("yeasts")[0]
    board.apply(
        ferment.ethanol_mol_per_kg_water,
        "alcohol at which the yeast stops",
        ethanol_percent_vol=Known(
            row["ethanol_limit_percent_vol"], "% vol", "tabulated", str(row["source"])
        ),
    )
    board.say(
        f"Followed by yeast_course: {f.left.ethanol_percent_vol:.1f} % by volume, "
        f"{f.left.sugar:.2f} % sugar left."
    )


def _acetic(board: Working, f: Fermented) -> None:
    row = tables.row("vinegar", "surface")
    source = str(row["source"])
    pace = board.apply(
        kinetics.cardinal_factor,
        "share of the best pace at the temperature",
        value=Known(f.plan.temperature, "°C", "given", "recipe"),
        lowest=Known(row["temp_min_C"], "°C", "tabulated", source),
        best=Known(row["temp_opt_C"], "°C", "tabulated", source),
        highest=Known(row["temp_max_C"], "°C", "tabulated", source),
    )
    lag = 0.0 if f.plan.starter else row["lag_days"]
    board.apply(
        ferment.acetic_made_percent,
        "acetic acid made",
        days=Known(max(f.plan.for_ / 1440 - lag, 0.0), "d", "given", "recipe, after the lag"),
        percent_per_day=Known(
            row["percent_per_day"] * float(pace.value), "%/d", "tabulated", source
        ),
        ethanol_percent=Known(f.start.ethanol, "%", "calculated", "mass balance"),
        vinegar_yield=Known(row["vinegar_yield"], "", "tabulated", source),
        room_percent=Known(
            max(row["acid_limit_percent"] - f.start.acetic, 0.0), "%", "tabulated", source
        ),
    )
