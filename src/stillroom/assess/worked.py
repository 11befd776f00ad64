"""The working behind the judgement, as a teacher would write it on the board.

Only the central recipe is written down. Every line can be replayed from its inputs.
"""

from __future__ import annotations

import numpy as np

from stillroom import tables
from stillroom.physics import acid as acidity
from stillroom.physics import brine, osmosis, sugar, water
from stillroom.product import properties
from stillroom.product.mixture import Mixture, molar_mass_kg_per_mol
from stillroom.working import Known, Working

LEAST_SHARE_OF_WATER = 0.002  # solutes that need less of the water are summed up in words
NAMES = {"Na": "sodium", "K": "potassium", "Ca": "calcium", "Mg": "magnesium", "Cl": "chloride"}


def write(mixture: Mixture, ph: float, a_w: float) -> Working:
    """Return the worked solution for a finished product.

    Args:
        mixture: the product as packed, no leading axes.
        ph: its pH.
        a_w: its water activity, best estimate.
    """
    board = Working()
    _amounts(board, mixture, ph)
    _simple(board, mixture, ph)
    _sharing(board, mixture, ph, a_w)
    _acids(board, mixture, ph)
    _solids(board, mixture)
    _cell(board, a_w)
    return board


def _batch(value: float, unit: str, name: str) -> Known:
    return Known(value, unit, "calculated", "mass balance of the batch", name)


def _molar_mass(component: str) -> Known:
    return Known(
        1000 * molar_mass_kg_per_mol(component), "g/mol", "tabulated", "IUPAC atomic weights"
    )


def _amounts(board: Working, mixture: Mixture, ph: float) -> None:
    board.heading("1. What is dissolved in the batch, from grams to moles")
    d = properties.dissolved(mixture, at_ph=np.asarray(ph))
    board.apply(
        water.amount_mol,
        "water",
        mass_g=_batch(float(mixture.grams("water")), "g", "water"),
        molar_mass_g_mol=_molar_mass("water"),
    )
    ranked = sorted(d.solutes_mol.items(), key=lambda item: -float(item[1]))
    for name, n in ranked:
        if float(n) * molar_mass_kg_per_mol(name) < 1e-3 * float(mixture.total_kg):
            continue
        grams = 1000 * float(n) * molar_mass_kg_per_mol(name)
        board.apply(
            water.amount_mol,
            name,
            mass_g=_batch(grams, "g", name),
            molar_mass_g_mol=_molar_mass(name),
        )
    ions = {NAMES.get(i, i): float(n) for i, n in d.ions_mol.items() if float(n) > 1e-6}
    if ions:
        listed = ", ".join(
            f"{name} {n:.3g} mol" for name, n in sorted(ions.items(), key=lambda x: -x[1])
        )
        board.say(f"Ions count one by one: {listed}.")


def _particles(mixture: Mixture, ph: float) -> np.ndarray:
    d = properties.dissolved(mixture, at_ph=np.asarray(ph))
    return np.array(
        [float(n) / float(d.water_kg) for n in (*d.solutes_mol.values(), *d.ions_mol.values())]
    )


def _simple(board: Working, mixture: Mixture, ph: float) -> None:
    board.heading("2. The simple rule: the share of water among all particles")
    particles = Known(_particles(mixture, ph), "mol/kg", "calculated", "part 1", "all particles")
    board.apply(water.water_mole_fraction, "mole fraction of water", solutes_mol_per_kg=particles)
    board.apply(
        water.ideal_water_activity,
        "water activity by the simple rule",
        solutes_mol_per_kg=particles,
    )


def _sharing(board: Working, mixture: Mixture, ph: float, a_w: float) -> None:
    board.heading("3. The better estimate: how much water each solute claims")
    board.say(
        f"At a water activity of {a_w:.4f} every solute claims the water in which it alone would "
        "have that water activity; the claims must add up to the water there is."
    )
    d = properties.dissolved(mixture, at_ph=np.asarray(ph))
    at = Known(a_w, "", "calculated", "solved so that the claims add up", "water activity")
    claimed, small = 0.0, 0.0
    for name, n in sorted(d.solutes_mol.items(), key=lambda item: -float(item[1])):
        m0 = float(properties.molality_curve(name)(np.asarray(a_w)))
        share = float(n) / m0
        claimed += share
        if share < LEAST_SHARE_OF_WATER * float(d.water_kg):
            small += share
            continue
        alone = _alone(board, name, at)
        board.apply(
            water.water_share_kg,
            f"water claimed by {name}",
            amount_mol=_batch(float(n), "mol", name),
            solute_mol_per_kg=alone,
        )
    claimed += _brine_share(board, d, a_w)
    for name, kg in d.polymers_kg.items():
        row = tables.row("gab", name)
        held = board.apply(
            water.gab_moisture,
            f"water held by a kilogram of {name}",
            water_activity=at,
            **{
                c: Known(row[c], "", "tabulated", str(row["source"]))
                for c in ("Xm_kg_per_kg", "C", "k")
            },
        )
        claimed += float(held.value) * float(kg)
        board.say(
            f"{name}: {float(kg):.3g} kg hold {float(held.value) * float(kg):.3g} kg of water."
        )
    if small:
        board.say(f"All other solutes together claim {small:.3g} kg.")
    board.say(
        f"Together {claimed:.4g} kg are claimed; the batch holds {float(d.water_kg):.4g} kg of "
        "water."
    )
    board.say(
        difference(
            float(properties.water_activity(mixture, model="ideal", at_ph=np.asarray(ph))), a_w
        )
    )


def _alone(board: Working, name: str, at: Known) -> Known:
    row = tables.index("hydration").get(name)
    words = f"molality of {name} alone at that water activity"
    if row:
        return board.apply(
            water.hydration_molality,
            words,
            water_activity=at,
            sites=Known(int(row["sites"]), "", "tabulated", str(row["source"])),
            affinity=Known(row["affinity"], "", "tabulated", str(row["source"])),
        )
    row = tables.row("norrish", name)
    return board.apply(
        water.norrish_molality,
        words,
        water_activity=at,
        K=Known(row["K"], "", "tabulated", str(row["source"])),
    )


def _brine_share(board: Working, d: properties.Dissolved, a_w: float) -> float:
    ions = float(sum(float(n) for n in d.ions_mol.values()))
    if ions <= 1e-9:
        return 0.0
    curve = properties.brine_curve(d.ions_mol)
    ladder = np.geomspace(1e-6, 40, 4000)
    brine_a_w = np.array(curve(ladder, np.zeros(ladder.size, int)))
    molality = float(np.interp(-a_w, -brine_a_w, ladder))
    board.say(
        f"The salts claim {ions / molality:.3g} kg: a brine of these ions alone has that water "
        f"activity at {molality:.3g} mol of ions per kilogram (Pitzer's equations)."
    )
    return ions / molality


def difference(simple: float, better: float) -> str:
    """Return which way the simple rule errs and what that means."""
    if abs(simple - better) < 0.0005:
        return "The simple rule agrees with the better estimate here."
    if simple > better:
        return (
            f"The simple rule gives {simple:.3f}, the better estimate {better:.3f}: solutes bind "
            "water, "
            "so the simple rule reads too high and understates how well the product keeps. A "
            "design "
            "made with it would use more sugar or salt than needed."
        )
    return (
        f"The simple rule gives {simple:.3f}, the better estimate {better:.3f}: here it reads "
        "too low "
        "and overstates how well the product keeps. Do not rely on it."
    )


def _acids(board: Working, mixture: Mixture, ph: float) -> None:
    solved = properties.solution(mixture)
    if not solved.acids:
        return
    board.heading("4. Acidity: the pH at which all charges add up")
    strength = float(properties.ionic_strength_mol_per_kg(mixture, ph))
    ionic = Known(strength, "mol/kg", "calculated", "all ions of the water phase", "ionic strength")
    shift = board.apply(
        acidity.davies_shift,
        "minus log activity coefficient of a single charge",
        ionic_strength_mol_per_kg=ionic,
    )
    total_charge = float(solved.strong_charge_mol_per_kg)
    board.say(
        "Strong ions (minerals less chloride, and what the foods' own pH asks for): "
        f"{1000 * total_charge:+.1f} mmol/kg water."
    )
    for one, total, shares in solved.forms(ph, strength):
        mean = sum((one.charge - j) * float(s) for j, s in enumerate(shares))
        if abs(float(total) * mean) < 1e-4:
            continue
        board.say(
            f"{one.name}: {1000 * float(total):.1f} mmol/kg water, mean charge {mean:+.3f}, "
            f"carries {1000 * float(total) * mean:+.1f} mmol/kg."
        )
    board.say(f"They balance at pH {ph:.2f} (a meter reads the activity of hydrogen ions).")
    for one, total, _ in solved.forms(ph, strength):
        if (
            one.name in ("acetic", "lactic", "sorbic", "benzoic", "propionic")
            and float(total) > 1e-4
        ):
            source = str(tables.row("acids", (one.name, 1.0))["source"])
            pk = board.apply(
                acidity.mixed_pka,
                f"constant of {one.name} acid in this brine",
                pKa=Known(one.pKa[0], "", "tabulated", source),
                charge=Known(one.charge, "", "tabulated", source),
                shift=shift,
                ionic_strength_mol_per_kg=ionic,
                salting_out_kg_per_mol=Known(
                    properties.SALTING_OUT_KG_PER_MOL, "", "tabulated", "PHREEQC default"
                ),
            )
            board.apply(
                acidity.undissociated_fraction,
                f"undissociated share of {one.name} acid",
                ph=Known(ph, "", "calculated", "this part", "pH"),
                pKa=pk,
            )


def _solids(board: Working, mixture: Mixture) -> None:
    board.heading("5. What the instruments read")
    reading = Known(
        float(properties.brix(mixture)),
        "°Brix",
        "calculated",
        "mass balance and refraction of each solute",
        "refractometer reading",
    )
    board.apply(sugar.refractive_index, "refractive index", brix=reading)
    board.apply(
        brine.water_phase_salt_percent,
        "salt of the water phase",
        salt_kg=_batch(float(properties.salt_kg(mixture)), "kg", "salt"),
        water_kg=_batch(float(mixture.kg("water")), "kg", "water"),
    )
    if float(mixture.kg("sucrose")) > 0.01 * float(mixture.total_kg):
        row = float(properties.solubility_mass_percent("sucrose", 20.0))
        board.apply(
            sugar.saturation_ratio,
            "sucrose against its solubility at 20 °C",
            solute_kg=_batch(float(mixture.kg("sucrose")), "kg", "sucrose"),
            water_kg=_batch(float(mixture.kg("water")), "kg", "water"),
            solubility_mass_percent=Known(row, "%", "tabulated", "solubility table"),
        )


def _cell(board: Working, a_w: float) -> None:
    board.heading("6. What that does to a cell")
    at = Known(a_w, "", "calculated", "part 3", "water activity")
    psi = board.apply(
        osmosis.water_potential_MPa,
        "water potential",
        water_activity=at,
        temperature_C=Known(25.0, "°C", "assumed", "room temperature"),
    )
    pressure = max(-float(psi.value), 1e-3)
    board.apply(
        osmosis.relative_cell_volume,
        "volume of a bacterium or yeast that cannot resist",
        external_osmotic_pressure_MPa=Known(
            pressure, "MPa", "calculated", "minus the water potential"
        ),
        initial_osmotic_pressure_MPa=Known(
            1.0, "MPa", "assumed", "typical of yeasts and bacteria at zero turgor"
        ),
        nonosmotic_fraction=Known(0.4, "", "assumed", "0.3-0.5 for yeasts and bacteria"),
    )
    board.say(
        "Water leaves the cell until inside and outside are equal. Shrinking is not dying: a "
        "living cell pumps in solutes and recovers."
    )
