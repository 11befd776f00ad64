"""Adapters for pH, acid doses, sulfur dioxide, acid in pieces and ferment arithmetic."""

from __future__ import annotations

import numpy as np

from adapters import NotCovered, adapter
from stillroom.physics import acid, brine, diffusion, ferment, preservative, titration
from stillroom.product import properties
from stillroom.product.mixture import molar_mass_kg_per_mol

MODELS = {"ideal": True, "davies_b0.3": False}


def solution_of(
    acids,
    strong_cation,
    pseudo,
    nacl=0.0,
    temperature_C=25.0,
    model="ideal",
    salting_out=0.0,
):
    """Return a solution in the conventions of the cases: |SID| as monovalent ions, plus NaCl."""
    if model not in MODELS:
        raise NotCovered(f"activity model {model}")
    return acid.Solution(
        [*acids.values(), *(amount for amount, _ in pseudo)],
        [*map(properties.acid, acids), *(acid.pseudo_acid(pk) for _, pk in pseudo)],
        strong_cation,
        abs(strong_cation) / 2 + nacl,
        temperature_C,
        MODELS[model],
        salting_out,
    )


@adapter("pKa_at_temperature")
def pka_at_temperature(acid_id, step, pKa_25C, delta_h_kJ_mol, delta_cp_J_mol_K, temperature_C):
    return float(acid.pka_at_temperature(temperature_C, pKa_25C, delta_h_kJ_mol, delta_cp_J_mol_K))


@adapter("equilibrium_pH")
def equilibrium_ph(
    model,
    acids_mol_per_kg_water,
    net_strong_cation_mol_per_kg_water,
    pseudo_acids_C_pK=(),
    temperature_C=25.0,
    neutral_salting_out_kg_per_mol=0.0,
    nacl_mol_per_kg_water=0.0,
):
    return float(
        acid.equilibrium_ph(
            solution_of(
                acids_mol_per_kg_water,
                net_strong_cation_mol_per_kg_water,
                pseudo_acids_C_pK,
                nacl_mol_per_kg_water,
                temperature_C,
                model,
                neutral_salting_out_kg_per_mol,
            )
        )
    )


@adapter("pH_after_fermentation")
def ph_after_fermentation(
    acids_mol_per_kg_water, lactic_acid_formed_mol_per_kg_water, **solution_words
):
    acids = dict(acids_mol_per_kg_water)
    acids["lactic"] = acids.get("lactic", 0.0) + lactic_acid_formed_mol_per_kg_water
    return equilibrium_ph(acids_mol_per_kg_water=acids, **_known(solution_words))


@adapter("lactic_acid_when_growth_stops_mol_per_kg_water")
def lactic_when_growth_stops(
    acids_mol_per_kg_water,
    limit_pH,
    limit_undissociated_lactic_mol_per_kg_water,
    **solution_words,
):
    """Both limits rise with the lactic total, so a fine ladder of totals finds the first."""
    lactic = np.linspace(0.0, 0.6, 20001)
    acids = dict(acids_mol_per_kg_water)
    acids["lactic"] = acids.get("lactic", 0.0) + lactic
    words = _known(solution_words)
    made = solution_of(
        acids,
        words["net_strong_cation_mol_per_kg_water"],
        words.get("pseudo_acids_C_pK", ()),
        words.get("nacl_mol_per_kg_water", 0.0),
        words.get("temperature_C", 25.0),
        words["model"],
        words.get("neutral_salting_out_kg_per_mol", 0.0),
    )
    ph = acid.equilibrium_ph(made)
    strength = acid.charge_balance(made, ph)[1]
    share = next(s[0] for a, _, s in made.forms(ph, strength) if a.name == "lactic")
    reached = (ph <= limit_pH) | (share * lactic >= limit_undissociated_lactic_mol_per_kg_water)
    return float(lactic[np.argmax(reached)])


SOLUTION_WORDS = {
    "model",
    "net_strong_cation_mol_per_kg_water",
    "pseudo_acids_C_pK",
    "temperature_C",
    "neutral_salting_out_kg_per_mol",
    "nacl_mol_per_kg_water",
}


def _known(words):
    unknown = set(words) - SOLUTION_WORDS
    if unknown:
        raise NotCovered(f"unknown input {', '.join(sorted(unknown))}")
    return words


def from_titration(part):
    def run(
        model,
        dominant_acid,
        measured_pH,
        titratable_acidity_eq_per_kg_water,
        titration_endpoint_pH=8.1,
        temperature_C=25.0,
    ):
        if model != "ideal":
            raise NotCovered(f"activity model {model}")
        return float(
            titration.acid_and_charge_from_titration(
                properties.acid(dominant_acid),
                measured_pH,
                titratable_acidity_eq_per_kg_water,
                titration_endpoint_pH,
                temperature_C,
            )[part]
        )

    return run


adapter("total_acid_from_pH_and_TA")(from_titration(0))
adapter("net_strong_cation_from_pH_and_TA")(from_titration(1))

INGREDIENT_WORDS = {
    "name",
    "water_kg_per_kg",
    "acids_mol_per_kg",
    "net_strong_cation_mol_per_kg",
    "nacl_mol_per_kg",
    "pseudo_acids_C_pK",
}


def blend(ingredients_kg):
    """Return (water, acids, strong cation, NaCl, pseudo-acids) of a blend, per kg of its water."""
    water = cation = nacl = 0.0
    acids: dict[str, float] = {}
    pseudo: list[list[float]] = []
    for kg, item in ingredients_kg:
        if set(item) - INGREDIENT_WORDS:
            raise NotCovered(f"ingredient words {', '.join(set(item) - INGREDIENT_WORDS)}")
        water += kg * item["water_kg_per_kg"]
        cation += kg * item.get("net_strong_cation_mol_per_kg", 0.0)
        nacl += kg * item.get("nacl_mol_per_kg", 0.0)
        for name, amount in item.get("acids_mol_per_kg", {}).items():
            acids[name] = acids.get(name, 0.0) + kg * amount
        pseudo += [[kg * amount, pk] for amount, pk in item.get("pseudo_acids_C_pK", ())]
    per_water = {name: amount / water for name, amount in acids.items()}
    return per_water, cation / water, nacl / water, [[c / water, pk] for c, pk in pseudo]


def blend_solution(model, ingredients_kg, temperature_C, neutral_salting_out_kg_per_mol):
    acids, cation, nacl, pseudo = blend(ingredients_kg)
    return solution_of(
        acids, cation, pseudo, nacl, temperature_C, model, neutral_salting_out_kg_per_mol
    )


@adapter("equilibrium_pH_of_blend")
def equilibrium_ph_of_blend(
    model, ingredients_kg, temperature_C=25.0, neutral_salting_out_kg_per_mol=0.0
):
    made = blend_solution(model, ingredients_kg, temperature_C, neutral_salting_out_kg_per_mol)
    return float(acid.equilibrium_ph(made))


@adapter("undissociated_acid_mmol_per_kg_water")
def undissociated_acid(
    model, ingredients_kg, acid_id, temperature_C=25.0, neutral_salting_out_kg_per_mol=0.0
):
    made = blend_solution(model, ingredients_kg, temperature_C, neutral_salting_out_kg_per_mol)
    ph = acid.equilibrium_ph(made)
    strength = acid.charge_balance(made, ph)[1]
    amounts = {a.name: total * s[0] for a, total, s in made.forms(ph, strength)}
    return 1000 * float(amounts[acid_id])


@adapter("dose_to_target_pH")
def dose_to_target_ph(
    model,
    ingredient_1_kg,
    acid_added,
    target_pH,
    temperature_C=25.0,
    neutral_salting_out_kg_per_mol=0.0,
):
    made = blend_solution(
        model, [[1.0, ingredient_1_kg]], temperature_C, neutral_salting_out_kg_per_mol
    )
    dose = titration.dose_for_ph(made, properties.acid(acid_added), target_pH)
    water_kg = ingredient_1_kg["water_kg_per_kg"]
    return 1000 * float(dose) * water_kg * molar_mass_kg_per_mol(acid_added)


@adapter("buffer_capacity")
def buffer_capacity(
    model,
    acids_mol_per_kg_water,
    pH,
    pseudo_acids_C_pK=(),
    temperature_C=25.0,
    net_strong_cation_mol_per_kg_water=0.0,
    nacl_mol_per_kg_water=0.0,
    neutral_salting_out_kg_per_mol=0.0,
):
    made = solution_of(
        acids_mol_per_kg_water,
        net_strong_cation_mol_per_kg_water,
        pseudo_acids_C_pK,
        nacl_mol_per_kg_water,
        temperature_C,
        model,
        neutral_salting_out_kg_per_mol,
    )
    return 1000 * float(titration.buffer_capacity_mol_per_kg(made, pH))


@adapter("undissociated_fraction")
def undissociated_fraction(
    acid_id,
    pH,
    model="ideal",
    ionic_strength_mol_per_kg=0.0,
    neutral_salting_out_kg_per_mol=0.0,
    temperature_C=25.0,
):
    made = solution_of(
        {acid_id: 1.0}, 0.0, (), 0.0, temperature_C, model, neutral_salting_out_kg_per_mol
    )
    return float(made.forms(pH, ionic_strength_mol_per_kg)[0][2][0])


@adapter("undissociated_acid")
def undissociated_acid_mM(total_mM, pH, pKa):
    return total_mM * float(acid.undissociated_fraction(pH, pKa))


@adapter("so2_molecular_mg_L")
def so2_molecular(free_so2_mg_L, pH, pKa=1.81):
    return float(preservative.molecular_so2_mg_per_L(free_so2_mg_L, pH, pKa))


@adapter("free_so2_needed_mg_L")
def free_so2_needed(molecular_target_mg_L, pH, pKa=1.81):
    return float(preservative.free_so2_for_molecular_mg_per_L(molecular_target_mg_L, pH, pKa))


@adapter("so2_free_mg_L")
def so2_free(total_so2_mg_L, acetaldehyde_mg_L, Kd_mol_L):
    so2, aldehyde = preservative.SULFUR_DIOXIDE_G_PER_MOL, 44.053
    free = preservative.free_so2_mol_per_L(
        total_so2_mg_L / 1000 / so2, [acetaldehyde_mg_L / 1000 / aldehyde], [Kd_mol_L]
    )
    return 1000 * so2 * float(free)


@adapter("aqueous_undissociated_mg_per_L_water")
def aqueous_undissociated(
    acid_id,
    pH,
    pKa,
    oil_water_partition_of_undissociated,
    oil_volume_fraction,
    total_mg_per_L_product,
):
    return float(
        preservative.undissociated_in_water_phase(
            total_mg_per_L_product,
            acid.undissociated_fraction(pH, pKa),
            oil_water_partition_of_undissociated,
            oil_volume_fraction,
        )
    )


@adapter("titratable_acidity_converted")
def titratable_acidity_converted(value_percent, from_acid, to_acid):
    mass = properties.equivalent_mass_kg_per_mol
    return float(titration.titratable_acidity_as(value_percent, mass(from_acid), mass(to_acid)))


@adapter("fraction_of_final_uptake")
def fraction_of_final_uptake(
    shape,
    position,
    diffusivity_m2_s,
    time_h,
    bath_to_solid_capacity="inf",
    radius_m=None,
    half_thickness_m=None,
):
    time_s = 3600 * time_h
    if shape == "finite_cylinder":
        if bath_to_solid_capacity != "inf":
            raise NotCovered("a short cylinder in a limited bath")
        fo = [
            diffusion.fourier_number(diffusivity_m2_s, time_s, size)
            for size in (half_thickness_m, radius_m)
        ]
        return float(diffusion.finite_uptake_fraction(fo, ("slab", "infinite_cylinder"), position))
    size = half_thickness_m if shape == "slab" else radius_m
    fo = diffusion.fourier_number(diffusivity_m2_s, time_s, size)
    return float(diffusion.uptake_fraction(fo, shape, position, float(bath_to_solid_capacity)))


@adapter("time_to_fraction_of_final_uptake")
def time_to_fraction(
    shape,
    position,
    diffusivity_m2_s,
    fraction,
    bath_to_solid_capacity="inf",
    radius_m=None,
    half_thickness_m=None,
):
    if shape == "finite_cylinder":
        raise NotCovered("time for a short cylinder")
    size = half_thickness_m if shape == "slab" else radius_m
    fo = diffusion.fourier_for_uptake(fraction, shape, position, float(bath_to_solid_capacity))
    return float(fo) * size**2 / diffusivity_m2_s / 3600


@adapter("equilibrium_salt_percent_of_water_phase")
def equilibrium_salt(
    vegetable_kg, vegetable_water_fraction, brine_kg, brine_salt_percent_ww, dry_salt_kg=0.0
):
    return float(
        brine.equilibrium_salt_percent(
            vegetable_kg, vegetable_water_fraction, brine_kg, brine_salt_percent_ww, dry_salt_kg
        )
    )


@adapter("initial_brine_strength_percent_ww")
def initial_brine(
    vegetable_kg, vegetable_water_fraction, brine_kg, target_equilibrium_percent_of_water_phase
):
    return float(
        brine.initial_brine_percent(
            vegetable_kg,
            vegetable_water_fraction,
            brine_kg,
            target_equilibrium_percent_of_water_phase,
        )
    )


@adapter("fermentation_yield_g_per_g")
def fermentation_yield(pathway, substrate, product):
    return ferment.mass_yield(pathway, substrate, product)


@adapter("potential_alcohol_percent_vol")
def potential_alcohol(fermentable_sugar_g_L, conversion_g_L_per_percent=16.83):
    return float(
        ferment.potential_alcohol_percent_vol(fermentable_sugar_g_L, conversion_g_L_per_percent)
    )


@adapter("brix_from_specific_gravity")
def brix_from_specific_gravity(specific_gravity_20_20):
    return float(ferment.brix_from_specific_gravity(specific_gravity_20_20))


@adapter("gdl_hydrolysed_fraction")
def gdl_hydrolysed(rate_constant_25C_per_s, activation_energy_kJ_mol, temperature_C, time_min):
    return float(
        titration.lactone_hydrolysed_fraction(
            time_min, temperature_C, rate_constant_25C_per_s, activation_energy_kJ_mol
        )
    )
