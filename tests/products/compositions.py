"""Rows entered as a composition; the docstring says how, and is printed in the report.

A function is named after its row and returns quantity -> what Stillroom says.
"""

from __future__ import annotations

import stillroom as sr
from products.kitchen import dried_to, made, of_mixture, one

# potassium, sodium, calcium, magnesium, phosphorus of honey, mg per g of ash (the honey of the table)
HONEY_ASH_MG = {"K": 260.0, "Na": 20.0, "Ca": 30.0, "Mg": 10.0, "P": 20.0}
EQUIVALENT_MG = {"K": 39.1, "Na": 22.99, "Ca": 20.04, "Mg": 12.15}
PHOSPHORIC_PER_P = 3.1637
LACTATE_SOLUTION = 0.6  # a 60 % solution of sodium lactate


def _honey(sugars, ash_g, free_acid_meq_per_kg, undetermined_g):
    """Return 100 g of honey: gluconic acid = what titrates + what its cations hold."""
    cations = sum(HONEY_ASH_MG[ion] * ash_g / EQUIVALENT_MG[ion] for ion in EQUIVALENT_MG)
    gluconic = (free_acid_meq_per_kg / 10 + cations) * 0.196155
    minerals = {ion: HONEY_ASH_MG[ion] * ash_g / 1000 for ion in EQUIVALENT_MG}
    phosphoric = HONEY_ASH_MG["P"] * ash_g * PHOSPHORIC_PER_P / 1000
    return sr.Mixture.of(
        sugars | minerals
        | {"gluconic": gluconic, "phosphoric": phosphoric,
           "other_solutes": max(undetermined_g - gluconic, 0.0)}
    )  # fmt: skip


def _flower_honey():
    sugars = {"water": 17.2, "fructose": 38.19, "glucose": 31.28, "sucrose": 1.31, "maltose": 7.31,
              "oligosaccharides": 1.5}  # fmt: skip
    return _honey(sugars, 0.169, 22.03, 3.1)


def _honeydew_honey():
    sugars = {"water": 16.3, "fructose": 31.8, "glucose": 26.08, "sucrose": 0.8, "maltose": 8.8,
              "oligosaccharides": 4.7}  # fmt: skip
    return _honey(sugars, 0.736, 49.07, 10.1)


def SP_hon_01():
    """Composition of the row; minerals from the ash in the proportions of the honey of the table;
    gluconic acid = free acid + cations; the rest of the undetermined matter as small solutes."""
    return of_mixture(_flower_honey())


def SP_hon_02():
    """Composition of the row, in the same way."""
    found, flower = of_mixture(_honeydew_honey()), of_mixture(_flower_honey())
    return {**found, "ph above flower honey": found["ph"].value - flower["ph"].value}


def _table_honey(water):
    return of_mixture(one("honey", composition=f'{{ water = "{water} %" }}'))


def SP_hon_03():
    """The honey of the table with the water corrected, through `composition` of a recipe."""
    return {
        f"water_activity at {water} %": _table_honey(water)["water_activity"]
        for water in (14.0, 18.6)
    }


def SP_hon_04():
    """The honeydew honey of SP-hon-02 brought to the water of the row."""
    dew = _honeydew_honey()
    found = {
        f"water_activity at {water} %": of_mixture(dried_to(dew, water))["water_activity"]
        for water in (13.4, 18.0)
    }
    at_16 = [of_mixture(dried_to(h, 16.0))["water_activity"].value for h in (dew, _flower_honey())]
    return {**found, "water_activity above flower honey at 16 %": at_16[0] - at_16[1]}


def SP_syr_01():
    """Invert sugar and water that read the Brix of the row; shown beside: grape juice boiled down to
    it, neither de-acidified nor cleared."""
    found = {}
    for brix in (69.03, 80.73):
        sugar = 100.0
        for _ in range(
            40
        ):  # what a refractometer reads of invert sugar is a little below its share
            syrup = sr.Mixture.of({"water": 100.0, "invert_sugar": sugar})
            sugar *= brix / float(sr.brix(syrup)) * (1 + (brix - float(sr.brix(syrup))) / 100)
        found[f"water_activity at {brix} Brix"] = of_mixture(syrup)["water_activity"]
        boiled = of_mixture(made("pekmez", BRIX=brix))["water_activity"]
        found[f"grape juice boiled to {brix} Brix"] = boiled
    return found


def _bar(fruit, water_percent, pulp_brix=25.0):
    pulp, sucrose = one(fruit), 0.0
    for _ in range(60):
        mix = pulp + sr.Mixture.of({"sucrose": sucrose})
        sucrose += 10 * (pulp_brix - float(sr.brix(mix)))
    mix = pulp + sr.Mixture.of({"sucrose": sucrose, "citric": 5.0, "pectin": 5.0})
    bar = dried_to(mix, water_percent)
    return of_mixture(bar) | {"sucrose": float(sr.saturation_ratio(bar, "sucrose", 25.0))}


def SP_lea_01():
    """Guava brought to 25 Brix with sugar, 0.5 % citric acid, 0.5 % pectin (proportions not given:
    common practice), dried to the water of the row."""
    return _bar("guava", 14.0)


def SP_lea_02():
    """Mango in the same way."""
    return _bar("mango", 14.8)


# --- fish and meat -----------------------------------------------------------------------------


def _injected(salt_percent, lactate_percent, lactate_share=LACTATE_SOLUTION):
    fish = one("salmon, Atlantic, farmed, raw")
    salt, lactate = 1.1 * salt_percent, 1.1 * lactate_percent * lactate_share
    brine = sr.Mixture.of({"NaCl": salt, "sodium_lactate": lactate, "water": 110 - salt - lactate})
    return _smoked(fish + brine)


def _smoked(fish):
    return fish.with_amounts(water=fish.kg("water") - 0.08 * fish.total_kg)


def SP_fis_01():
    """Farmed salmon of the table, 110 g/kg of brine, lactate as a 60 % solution, 8 % lost in the
    smoke; shown beside: lactate as pure salt."""
    found = of_mixture(_injected(20, 12))
    return {**found, "lactate as pure salt": of_mixture(_injected(20, 12, 1.0))["water_activity"]}


def SP_fis_02():
    """The same; and how much lower than the fish with more salt and less lactate."""
    found = of_mixture(_injected(13, 30))
    pure = [of_mixture(_injected(*b, 1.0))["water_activity"].value for b in ((20, 12), (13, 30))]
    lower = of_mixture(_injected(20, 12))["water_activity"].value - found["water_activity"].value
    return {
        **found,
        "water_activity below SP-fis-01": lower,
        "water_activity below SP-fis-01, pure lactate": pure[0] - pure[1],
    }


def SP_fis_03():
    """Farmed salmon of the table with 30 g/kg of salt, 8 % lost in the smoke."""
    fish = one("salmon, Atlantic, farmed, raw")
    return of_mixture(_smoked(fish + sr.Mixture.of({"NaCl": 30})))


def _beef(water_percent):
    return one("beef, top round, lean, raw", composition=f'{{ water = "{water_percent} %" }}')


def _salted_beef(water_percent, salt_percent):
    raw = _beef(74.38)
    solids = (100 - water_percent - salt_percent) / 100
    meat = raw * (solids / float(raw.total_kg - raw.kg("water")))
    salt = sr.Mixture.of({"NaCl": 10 * salt_percent})
    return meat.with_amounts(water=water_percent / 100) + salt


def SP_mea_02():
    """Lean beef of the table with 74.38 % water dried at constant dry matter to 38.88 %; then the
    same beef with 5.25 % of salt (the middle of the note) at that water."""
    raw = _beef(74.38)
    lost = 100 * (1 - float(dried_to(raw, 38.88).total_kg / raw.total_kg))
    return {**of_mixture(_salted_beef(38.88, 5.25)), "loss_percent": lost}


def SP_mea_03():
    """Lean beef with 39 % water (the middle of the note) and 4.5 % salt."""
    return of_mixture(_salted_beef(39.0, 4.5))


def SP_mea_06():
    """Beef with 75 % water less 50 and 65 % of its weight; salt is not given: 2.5 % of the raw
    meat (common practice)."""
    raw, found = _beef(75.0), {}
    for loss in (50, 65):
        plain = raw.with_amounts(water=raw.kg("water") - loss / 100)
        found[f"water_percent, {loss} % lost"] = float(100 * plain.kg("water") / plain.total_kg)
        salted = of_mixture(plain + sr.Mixture.of({"NaCl": 25}))
        found[f"water_activity, {loss} % lost"] = salted["water_activity"]
    return found


# --- milk, soy, acids -------------------------------------------------------------------------


def SP_dai_01():
    """Composition of the row; beside it the condensed milk of the table."""
    row = {"water": 27.16, "sucrose": 42.98, "lactose": 11.42, "protein": 7.91, "fat": 8.7,
           "Na": 0.127, "K": 0.371, "Ca": 0.284, "ash": 1.83 - 0.782}  # fmt: skip
    table = of_mixture(one("milk, condensed, sweetened"))
    return {
        "water_activity": of_mixture(sr.Mixture.of(row))["water_activity"],
        "water_activity, food of the table": table["water_activity"],
    }


def _soy(salt_g, nitrogen_g, sugar_g, ethanol_ml):
    """Return 100 ml: water fills the volume; nitrogen x 6.25 x 0.8 as amino acids and peptides."""
    parts = {"NaCl": salt_g, "other_solutes": nitrogen_g * 6.25 * 0.8, "glucose": sugar_g,
             "ethanol": 0.789 * ethanol_ml}  # fmt: skip
    water = 80.0
    for _ in range(60):
        sauce = sr.Mixture.of(parts | {"water": water})
        water += 100 * float(sr.density_g_per_cm3(sauce)) - float(sauce.total_g)
    return sauce


def SP_sau_01():
    """Composition of the row per 100 ml, water from the density; amino acids as the note counts
    them; acids, glycerol and other matter are not given."""
    return of_mixture(_soy(17.6, 1.55, 3.8, 2.2))


def SP_sau_02():
    """Composition of the row, in the same way."""
    return of_mixture(_soy(19.0, 2.55, 5.3, 0.1))


def SP_acd_05():
    """Titratable acidity, as lactic, of the highest single acids of the row in a litre of water."""
    acids = sr.Mixture.of({"water": 1000, "lactic": 0.53, "acetic": 0.256})
    return {"titratable_acidity": float(sr.titratable_acidity_percent(acids, "lactic"))}
