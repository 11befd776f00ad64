"""Rows that are a ferment, entered as a recipe with a ferment step; the docstring says how.

A value is an Estimate whose ends are those of the slow and the fast end of the same ferment.
"""

from __future__ import annotations

from functools import cache

import numpy as np

import stillroom as sr
from products.kitchen import of_recipe, one, recipe
from stillroom.assess.ferment.judgement import OPEN, Fermented, ferments
from stillroom.assess.result import Estimate
from stillroom.product import properties
from stillroom.product.ferment_course import follow
from stillroom.product.fermenting import Course, soured
from stillroom.product.fermenting import hexose_mol as _hexose

CABBAGE = "cabbage, white, raw"
CUCUMBER = "cucumber, with peel, raw"
# the sugar of the row's note, shared out as in the food of the table
SWEET = f'[foods."cucumbers of the row"]\nlike = "{CUCUMBER}"\ncomposition = {{ glucose = "0.98 %", fructose = "1.12 %" }}\n'
STARTED = ", starter = true"
TANK_C, TANK_DAYS = 24, 55


@cache
def followed(name: str, **words: object) -> Fermented:
    """Return the last ferment of a recipe."""
    return ferments(sr.run(recipe(name, **words)))[-1]


def dry_salted(vegetable: str, salt_percent: float, warm: float, days: float) -> Fermented:
    return followed(
        "dry-salted", VEGETABLE=vegetable, SALT=100 * salt_percent, WARM=warm, DAYS=days, STARTER=""
    )


def in_brine(
    vegetable: str,
    warm: float,
    days: float,
    starter: bool = False,
    sweet: bool = False,
    **g_per_kg: float,
) -> Fermented:
    """Return a ferment of 55 : 45; *g_per_kg* is what a kilogram of all the water holds at the end."""
    water = 0.55 * float(one(vegetable).kg("water")) + 0.45
    salts = ", ".join(f'"{SALTS[s]}" = "{g * water:.4g} g"' for s, g in g_per_kg.items())
    return followed(
        "in-brine", VEGETABLE="cucumbers of the row" if sweet else vegetable, OWN=SWEET if sweet else "",
        SALTS=salts, WARM=warm, DAYS=days, STARTER=STARTED if starter else "",
    )  # fmt: skip


SALTS = {
    "salt": "sodium chloride, pure",
    "calcium_chloride": "calcium chloride, anhydrous",
    "sorbate": "potassium sorbate (E202)",
    "lime": "calcium hydroxide (pickling lime)",
    "acetic": "spirit vinegar or acetic acid, 80 % w/w",
}


def per_kg_water(percent: float) -> float:
    """Return g of salt per kg of water at a per cent of the water phase."""
    return 1000 * percent / (100 - percent)


def calcium_acetate(mol_per_kg: float) -> dict[str, float]:
    """Return calcium acetate as lime and acetic acid."""
    return {"lime": 74.09 * mol_per_kg, "acetic": 2 * 60.05 * mol_per_kg / 0.8}


# --- what is read off a course ------------------------------------------------------------------


def ends(samples: object) -> Estimate:
    """Return the estimate with the slow and the fast end, in the order of their size."""
    values = np.asarray(samples, float)
    return Estimate(float(values[0]), float(values.min()), float(values.max()))


def end_ph(f: Fermented) -> Estimate:
    return ends(f.course.ph[-1])


def acidity(f: Fermented) -> Estimate:
    return ends(properties.titratable_acidity_percent(f.course.mixture[-1], "lactic"))


def acetic_to_lactic(f: Fermented) -> Estimate:
    m = f.course.mixture[-1]
    return ends(m.kg("acetic") / m.kg("lactic"))


def days_to_acidity(f: Fermented, percent: float) -> Estimate:
    """Return days until a titratable acidity is reached; inf: never."""
    course = finely(f)
    acid = properties.titratable_acidity_percent(course.mixture, "lactic")
    return ends([_first(course.time_h / 24, one_course, percent) for one_course in acid.T])


def finely(f: Fermented) -> Course:
    """Return the course of a ferment at a thousand even times."""
    return follow(f.before, f.plan, None, OPEN, np.linspace(0.0, f.plan.for_ / 60, 1001))


def _first(time: np.ndarray, values: np.ndarray, wanted: float) -> float:
    reached = np.flatnonzero(values >= wanted)
    if not reached.size:
        return np.inf
    at = slice(max(int(reached[0]) - 1, 0), int(reached[0]) + 1)
    return float(np.interp(wanted, values[at], time[at]))


# --- product rows -------------------------------------------------------------------------------


def calcium_tank(sweet: bool = True) -> Fermented:
    return in_brine(
        CUCUMBER, TANK_C, TANK_DAYS, starter=True, sweet=sweet, calcium_chloride=11.1, sorbate=0.90
    )


def SP_fer_01():
    """Recipe with a ferment step; cucumbers 55 : 45 in brine, 0.1 mol/kg CaCl2 and 6 mmol/kg
    potassium sorbate in all the water, a starter, 55 days at 24 °C (not given: common practice is 20
    to 28); sugar 2.1 %, the middle of the note; shown beside: the sugar of the table, 1.7 %."""
    return {
        "ph": end_ph(calcium_tank()),
        "ph, sugar of the table": end_ph(calcium_tank(sweet=False)),
    }


def salt_tank(sweet: bool = True) -> Fermented:
    return in_brine(CUCUMBER, TANK_C, TANK_DAYS, sweet=sweet, salt=per_kg_water(5.0))


def SP_fer_02():
    """The same without a starter, 5 % of sodium chloride in the water phase and nothing else."""
    return {"ph": end_ph(salt_tank()), "ph, sugar of the table": end_ph(salt_tank(sweet=False))}


KIMCHI_DAYS = {20: 10, 10: 20, 0: 80}


def kimchi(warm: int) -> Fermented:
    return followed("kimchi", WARM=warm, DAYS=KIMCHI_DAYS[warm])


def SP_fer_04():
    """Recipe with a ferment step; a plain kimchi (napa cabbage, radish, spring onion, garlic, chili,
    ginger, 1 % sugar) at 2.5 % salt, its own flora; recipe and salt are not given. The ratios are
    those of the estimates."""
    days = {warm: days_to_acidity(kimchi(warm), 0.70) for warm in KIMCHI_DAYS}
    return {
        **{f"days to 0.70 % acid at {warm} °C": d for warm, d in days.items()},
        "ratio 20 to 10 °C": days[10].value / days[20].value,
        "ratio 10 to 0 °C": days[0].value / days[10].value,
    }


def sauerkraut(warm: float = 22, weeks: float = 3.5) -> Fermented:
    return followed("sauerkraut", WARM=warm, DAYS=7 * weeks)


def SP_rec_09():
    """Recipe; fermented for three and a half weeks at 22 °C, and for the ends of the row (3 weeks at
    21 °C, 4 weeks at 24 °C); salt by the mass balance; hot pack in pints. The pH of the class is the
    computed one."""
    found = of_recipe("sauerkraut", WARM=22, DAYS=24.5)
    f = sauerkraut()
    salt = f.before.mol("Cl") * 0.0584425  # the cabbage's own sodium has no chloride in the table
    return {
        **found,
        "ph": end_ph(f),
        "ph, 3 weeks at 21 °C": end_ph(sauerkraut(21, 3)),
        "ph, 4 weeks at 24 °C": end_ph(sauerkraut(24, 4)),
        "acidity": acidity(f),
        "salt_percent_of_cabbage": float(100 * salt / 11.3398),
    }


# --- ranges of practice and of studies ----------------------------------------------------------


def kraut(warm: float, days: float) -> dict[str, object]:
    f = dry_salted(CABBAGE, 2.25, warm, days)
    return {"ph": end_ph(f), "acidity": acidity(f), "acetic to lactic": acetic_to_lactic(f)}


def FER_01():
    """White cabbage with 2.25 % salt, 18 °C, 20 days."""
    return kraut(18, 20)


def FER_02():
    """White cabbage with 2.25 % salt, 34 °C, 9 days."""
    return kraut(34, 9)


def FER_03():
    """White cabbage with 2.25 % salt, 7.5 °C, 180 days."""
    return kraut(7.5, 180)


def FER_04():
    """The kimchi of SP-fer-04 at 10 °C, when it has 0.6 % acid (the middle of the row)."""
    course = finely(kimchi(10))
    acid = properties.titratable_acidity_percent(course.mixture, "lactic")
    found = [
        np.interp(_first(course.time_h, acid[:, n], 0.6), course.time_h, course.ph[:, n])
        for n in range(3)
    ]
    return {"ph at 0.6 % acid": ends(found)}


def FER_05():
    """Cucumbers of the table 55 : 45 in brine, 4 % salt in the water phase, a starter, 13 days at
    25 °C (ratio and temperature not given); shown beside: 2.1 % sugar."""
    f = in_brine(CUCUMBER, 25, 13, starter=True, salt=per_kg_water(4.0))
    sweet = in_brine(CUCUMBER, 25, 13, starter=True, sweet=True, salt=per_kg_water(4.0))
    return {
        "ph": end_ph(f),
        "acidity": acidity(f),
        "ph, sugar 2.1 %": end_ph(sweet),
        "acidity, sugar 2.1 %": acidity(sweet),
    }


def FER_06():
    """The same with calcium acetate, entered as lime and acetic acid; and the pH of the mixture with
    the acid of the row (1.4 %, the middle) in it, at 0.1 M too."""
    found: dict[str, object] = {}
    for mol in (0.05, 0.01, 0.1):
        f = in_brine(CUCUMBER, 25, 13, starter=True, salt=per_kg_water(4.0), **calcium_acetate(mol))
        sour = f.before + sr.Mixture.of({"lactic": 0.014 * float(f.before.total_kg)}, "kg")
        found |= {
            f"ph at {mol} M": end_ph(f),
            f"acidity at {mol} M": acidity(f),
            f"ph at {mol} M with 1.4 % lactic acid": float(sr.ph(sour)),
        }
    return found


def FER_07():
    """Cucumbers of the table 55 : 45 in a brine of 4.25 %, 20 °C, 2 weeks."""
    water = 0.55 * float(one(CUCUMBER).kg("water")) + 0.45
    brine = 1000 * 0.45 * 0.0425 / 0.9575 / water
    return {"ph": end_ph(in_brine(CUCUMBER, 20, 14, salt=brine))}


def FER_08():
    """Each 55 : 45 in brine, 3 % salt in the water phase, 20 °C, 2 weeks."""
    names = ("carrot", "beet", "cauliflower", "turnip")
    return {
        f"ph, {n}": end_ph(in_brine(f"{n}, raw", 20, 14, salt=per_kg_water(3.0))) for n in names
    }


def FER_09():
    """Red chili and red sweet pepper with 5 % salt of their mass, 20 °C, 6 weeks."""
    return {
        f"ph, {n}": end_ph(dry_salted(f"{n}, red, raw", 5.0, 20, 42))
        for n in ("chili pepper", "pepper, sweet")
    }


def FER_10():
    """Each 55 : 45 in brine, 4.5 % salt in the water phase, 20 °C, 4 weeks."""
    return {
        f"ph, {n}": end_ph(in_brine(f"{n}, raw", 20, 28, salt=per_kg_water(4.5)))
        for n in ("garlic", "onion")
    }


def FER_11():
    """White cabbage with 2.25 % salt at 18, 20 and 22 °C, its own flora."""
    return {
        f"hours until pH 4.6 at {warm} °C": ends(dry_salted(CABBAGE, 2.25, warm, 10).reached_h[4.6])
        for warm in (18, 20, 22)
    }


def FER_12():
    """Spinach (0.4 % sugar) with 2.25 % salt, 20 °C, 4 weeks."""
    return {"ph": end_ph(dry_salted("spinach, raw", 2.25, 20, 28))}


def FER_13():
    """Cucumbers of the table (1.7 % sugar) 55 : 45 at 5.9 % salt in the water phase, 24 °C, 5 weeks."""
    f = in_brine(CUCUMBER, 24, 35, salt=per_kg_water(5.9))
    return {"ph, all sugar to lactic acid": f.lowest_ph, "ph of the tank": end_ph(f)}


def what_lifts_the_end(f: Fermented) -> dict[str, float]:
    """Return the pH of a ferment's end with what it does taken in one after another."""
    before, after = f.before, f.course.mixture[-1][0]
    hexose = float(sum(m for m in _hexose(before)))
    malic = float(before.mol("malic") - after.mol("malic"))
    mannitol = float(after.mol("acetic") - before.mol("acetic"))
    hetero = float(after.mol("ethanol") - before.mol("ethanol"))
    none = np.zeros(())

    def ph(**turned: float) -> float:
        moles = {k.replace("_", " "): np.asarray(v) for k, v in turned.items()}
        return float(sr.ph(soured(before, moles, none)))

    beside = {"heterolactic": hetero, "heterolactic_with_fructose": mannitol}
    rest = hexose - hetero - 3 * mannitol
    return {
        "all sugar to lactic acid": ph(homolactic=hexose),
        "and malic to lactic acid and gas": ph(homolactic=hexose, malolactic=malic),
        "and a part to alcohol, gas, acetic acid and mannitol": ph(
            homolactic=rest, malolactic=malic, **beside
        ),
        "and what sugar is left": float(f.course.ph[-1, 0]),
    }
