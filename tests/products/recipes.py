"""Rows entered as a recipe; the docstring says how, and is printed in the report.

A function is named after its row and returns quantity -> what Stillroom says.
"""

from __future__ import annotations

from statistics import mean

import numpy as np
from scipy.optimize import brentq

import stillroom as sr
from products.kitchen import batch, canned_class, judged, made, of_mixture, of_recipe, one
from stillroom.physics import diffusion

FRUITS = ("strawberry", "raspberry", "blueberry", "blackcurrant", "plum", "apple, raw, peeled",
          "apricot, raw")  # fmt: skip


def _stewed(sugar_g):
    mixtures = [made("stewed-fruit", FRUIT=fruit, SUGAR=sugar_g) for fruit in FRUITS]
    found = [float(sr.water_activity(m)) for m in mixtures]
    return {"water_activity": mean(found), "lowest": min(found), "highest": max(found)}


def SP_jam_01():
    """Recipe; "berries or fruit": mean of seven fruits of the table, 500 g of sugar to 1 kg."""
    return _stewed(500)


def SP_jam_02():
    """Recipe; "berries or fruit": mean of seven fruits of the table, 1 kg of sugar to 1 kg."""
    return _stewed(1000)


def SP_jam_03():
    """Recipe; only the dry matter is given: 1 kg of apple with the sugar that leads to it (480 g
    and 346 g), filled at 88 °C or cold (20 °C); the pH of the row as a reading."""
    full, reduced = (of_recipe("apple-jam", SUGAR=s, FILL=88) for s in (480, 346))
    cold = of_recipe("apple-jam", SUGAR=480, FILL=20)
    return {
        "water_activity, 41.4 % dry matter": full["water_activity"],
        "water_activity, 35.6 % dry matter": reduced["water_activity"],
        "dry_matter, full sugar": full["dry_matter"],
        "dry_matter, reduced": reduced["dry_matter"],
        "outcome, filled hot": full["outcome"],
        "outcome, filled cold": cold["outcome"],
    }


def SP_jam_04():
    """Recipe; guava and sugar 1 : 1, 0.5 % pectin, no acid (none is stated)."""
    return of_mixture(made("guava-jam"))


def SP_dry_01():
    """Recipe; the dried apricot of the table with the water corrected to 13.7 %."""
    return of_recipe("dried-apricot", WATER=13.7)


def SP_dry_02():
    """Recipe; the dried apricot of the table with the water corrected to 23.5 %."""
    return of_recipe("dried-apricot", WATER=23.5)


def SP_dry_03():
    """Recipe; the dried apricot of the table with the water corrected to 27.0 %."""
    return of_recipe("dried-apricot", WATER=27.0)


# --- acidified ---------------------------------------------------------------------------------


def _eggs(acid_percent):
    words = {"ACID": acid_percent, "WATER": 100 - acid_percent}
    found = of_recipe("pickled-eggs", **words)
    steep = batch("pickled-eggs", **words).of("steep")[0]
    return {
        **found,
        "hours, as reported (90 % of the acid in the middle)": float(
            steep.facts["middle_90_percent_hours"]
        ),
        "hours until the yolk centre is at 4.6": _yolk_hours(steep),
    }


def _yolk_hours(steep, tissue=0.4):
    """Return hours until the acid in the centre suffices for the yolk of the table to be at 4.6."""
    yolk = one("egg yolk, raw")
    acid_kg = float(steep.liquor.kg("acetic") / steep.liquor.kg("water") * yolk.kg("water"))

    def above(share):
        sour = yolk + sr.Mixture.of({"acetic": share * acid_kg}, "kg")
        return float(sr.ph(sour)) - 4.6

    if above(1.0) > 0:
        return np.inf
    share = brentq(above, 1e-3, 1.0)
    ratio = round(float(steep.liquor.kg("water") / steep.pieces.kg("water")), 2)
    fo = diffusion.fourier_for_uptake(share, "sphere", "centre", ratio)
    return float(fo) * 0.021**2 / (tissue * 1.25e-9) / 3600


def SP_acd_01():
    """Recipe; 432 g of egg steeped in 498 g of brine of 7.5 % acetic acid; spheres of 42 mm."""
    return _eggs(7.5)


def SP_acd_02():
    """Recipe; the same with 4.9 % acetic acid."""
    return _eggs(4.9)


def SP_acd_03():
    """Recipe; the same with 2.5 % acetic acid."""
    return _eggs(2.5)


def SP_acd_04():
    """Recipe; green sweet pepper steeped in 12 % vinegar until the pack holds 2.0 % acetic acid."""
    return of_recipe("peppers", PEPPER="pepper, sweet, green, raw")


def SP_acd_06():
    """Recipe; with the two cups of bottled lemon juice, and without them."""
    juice = of_recipe("salsa", JUICE=', "lemon juice, bottled" = "2 cup lemon juice"')
    plain = of_recipe("salsa", JUICE="")
    return {**juice, "ph, no juice": plain["ph"]}


def SP_acd_07():
    """Recipe; tomatoes of the table and nothing else; the share above 4.6 from the interval."""
    ph = judged("tomato").properties["ph"]
    return {"ph, low end": ph.low, "ph": ph, "ph, high end": ph.high}


# --- fermented ---------------------------------------------------------------------------------


def SP_fer_03():
    """Recipe; carrot, white and red cabbage (raw) and canned carrot juice with 6.3 to 8.01 g/L of
    lactic acid weighed in; the sugar used up is not taken off."""
    found = {}
    for juice in (
        "carrot, raw",
        "cabbage, white, raw",
        "cabbage, red, raw",
        "carrot juice, canned",
    ):
        values = [
            float(sr.ph(made("lactic-juice", JUICE=juice, LACTIC=grams / 0.88)))
            for grams in (6.3, 8.01)
        ]
        found[f"ph, {juice.removesuffix(', raw')}"] = mean(values)
    return found


def SP_fer_05():
    """The pH of the row given to the class of canned foods; water activity unknown, or 0.90."""
    facts = {"pH": 4.78, "pH_before_acid": 4.78, "fermented": True, "refrigerated": False}
    return {
        "class, water activity unknown": canned_class(**facts, **NOT_ELSE),
        "class, water activity 0.90": canned_class(water_activity=0.90, **facts, **NOT_ELSE),
    }


def SP_fer_06():
    """The pH of the row given to the class of canned foods; water activity 0.90."""
    facts = {"pH": 4.23, "pH_before_acid": 4.23, "fermented": True, "refrigerated": False}
    return {"class, water activity 0.90": canned_class(water_activity=0.90, **facts, **NOT_ELSE)}


NOT_ELSE = {"acid_added": False, "alcoholic_beverage": False, "is_tomato": False}


def SP_fer_07():
    """Recipe; green olives of the table with the lactic acid and salt of the row, unheated."""
    return of_recipe("olives")


# --- sauces, cordials, chutneys ----------------------------------------------------------------


def SP_sau_03():
    """Recipe; tomato puree 1000 g, sugar 210 g, salt 28 g, 10 % vinegar 75 g, boiled to 32 Brix:
    a batch chosen to meet the specification."""
    return of_recipe("ketchup")


def SP_cor_01():
    """Recipe; juices of the table by the litre, 1.5, 1.75 and 2.0 kg of sugar."""
    found = of_mixture(made("squash", SUGAR=1.5))
    for kg in (1.75, 2.0):
        found[f"brix, {kg} kg"] = float(sr.brix(made("squash", SUGAR=kg)))
    return found


def SP_cor_02():
    """Recipe; sweet cherries at 14.95 Brix without their fibre, 0.1 % benzoate, 0.1 % citric acid;
    the undissociated share of the benzoic acid at the pH of the note."""
    juice = made("cherry-juice")
    total = float(1000 * juice.mol("benzoic") / juice.kg("water"))
    return {
        f"percent undissociated, pH {ph}": float(
            100 * sr.undissociated_mmol_per_kg(juice, "benzoic", ph) / total
        )
        for ph in (3.3, 3.9)
    }


def SP_chu_01():
    """Recipe; green mango as an own food (pH 3.4, 2.5 % acid: the table holds ripe mango), allspice
    for "other spices", 5 % vinegar; uncooked, and boiled to 60 Brix."""
    uncooked = of_recipe("mango-chutney", BOIL="")
    cooked = of_recipe("mango-chutney", BOIL=_boil_to(60))
    fruit = 100 / cooked["kg"]
    return {"brix, uncooked": uncooked["brix"], "ph": cooked["ph"], "fruit_percent": fruit}


def _boil_to(brix):
    return f'\n[[steps]]\nboil = {{ until_soluble_solids = "{brix} %", for = "40 min" }}\n'


def SP_chu_02():
    """Recipe; allspice for "other spices", 5 % vinegar, boiled to 1400 g, then 0.5 g/kg benzoate."""
    return of_recipe("tomato-chutney")


# --- recipes of the authorities ----------------------------------------------------------------


def SP_rec_01():
    """Recipe; five onions, beets as raw beets, all of the syrup in the jars; slices of 6 mm."""
    return of_recipe("beets")


def SP_rec_02():
    """Recipe; boiled to 62 Brix, the middle of the note; beside it the mix before it boils."""
    found = of_recipe("strawberry-jam", END=62)
    mix = batch("strawberry-jam", END=62).stages[0].mixture
    return {**found, "brix, before the boil": float(sr.brix(mix)),
            "half_pints": found["litres"] / 0.2366}  # fmt: skip


def SP_rec_03():
    """Recipe; boiled to 4.4 K above water at sea level (104.37 °C)."""
    at_the_boil = float(sr.water_activity(made("apple-jelly"), 104.37, model="norrish"))
    return {**of_recipe("apple-jelly"), "water_activity at the boil": at_the_boil}


def SP_rec_04():
    """Recipe; cucumbers are 55 % of the jar (the liquid is more than the jars take); the salt of
    the soak is left out; whole cucumbers of 35 mm."""
    words = {"VINEGAR": 1.5, "WATER": 2, "SALT": 0.5, "SUGAR": 0.25}
    found = of_recipe("quick-dill", **{k: round(0.843 * v, 4) for k, v in words.items()})
    pack = made("quick-dill", **{k: round(0.843 * v, 4) for k, v in words.items()})
    return {**found, "acetic_percent": float(100 * pack.kg("acetic") / pack.total_kg)}


def SP_rec_05():
    """Recipe; all of the solution in the jars; slices of 6 mm."""
    return of_recipe("sliced-dill")


def SP_rec_06():
    """Recipe; boiled in 75 min to 3480 g, the six pints of the yield at the chutney's density."""
    found = of_recipe("apple-chutney")
    before, after = batch("apple-chutney").stages[0].mixture, made("apple-chutney")
    lost = 100 * (1 - float(after.kg("acetic") / before.kg("acetic")))
    return {**found, "acetic_lost_percent": lost, "us_pints": found["litres"] / 0.4732}


def SP_rec_07():
    """Recipe; and the same beans in salt water without the vinegar; acetic acid of the brine by
    mass, and shown beside in g per 100 ml, as vinegars are labelled; beans of 8 mm."""
    steep = batch("dilled-beans").recipe.steps[1].steep
    brine = sum(
        (one(name) * batch("dilled-beans").recipe.kg(name, amount)
         for name, amount in steep.liquor.items()), sr.Mixture.nothing()
    )  # fmt: skip
    percent = float(100 * brine.kg("acetic") / brine.total_kg)
    return {
        **of_recipe("dilled-beans"),
        "class, no vinegar": of_recipe("plain-beans")["class"],
        "acetic_percent of the brine": percent,
        "acetic, g per 100 ml of brine": percent * float(sr.density_g_per_cm3(brine)),
    }


def SP_rec_08():
    """Recipe; everything in the jars, nothing boiled off in the 10 min simmer."""
    return of_recipe("corn-relish")


# the recipes whose vegetables are measured in cups or pieces
LOOSE = {
    "SP-rec-01": ("beets", {}),
    "SP-rec-02": ("strawberry-jam", {"END": 62}),
    "SP-rec-05": ("sliced-dill", {}),
    "SP-rec-06": ("apple-chutney", {}),
    "SP-rec-08": ("corn-relish", {}),
    "SP-acd-06": ("salsa", {"JUICE": ', "lemon juice, bottled" = "2 cup lemon juice"'}),
}
