"""What the rules ask, read off the recipe and the estimates; what is not known stays unknown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from itertools import product

from stillroom import tables
from stillroom.assess.heat.targets import COLD_UP_TO_C
from stillroom.assess.keeping import Treatment
from stillroom.assess.law.additives import Amount
from stillroom.assess.law.kinds import Kind, kind_named
from stillroom.assess.law.substances import Substance, factor, substance, substances
from stillroom.assess.law.variables import VARIABLES, checked
from stillroom.assess.result import Estimate
from stillroom.assess.spread import Spread, estimate
from stillroom.errors import InputError
from stillroom.physics.preservative import SULFUR_DIOXIDE_G_PER_MOL
from stillroom.product import properties
from stillroom.product.foods import Food
from stillroom.product.mixture import Mixture
from stillroom.product.process import Batch
from stillroom.product.recipe import Recipe

FROZEN_UP_TO_C = -10.0
LOW_ACID_PH = 4.6  # 21 CFR 114.3(d)
ACID_JUICES = ("lemon juice", "lime juice")
ENDS = ("low", "value", "high")
MINUTES_A_DAY, DAYS_A_MONTH = 1440.0, 30.44
# the component of the mixture, and the legal form it is counted in
CONSERVED: Mapping[str, tuple[str, str]] = {
    "sorbates": ("sorbic", "acid"),
    "benzoates": ("benzoic", "acid"),
    "propionates": ("propionic", "acid"),
    "sulphites": ("sulfurous", "SO2"),
    "nitrites": ("nitrite", "NO2"),
    "nitrates": ("nitrate", "NO3"),
}
CURED = ("nitrites", "nitrates")  # limited on what was put in, and used up in the food
PLAIN = {"SO2": "sulphur dioxide", "NO2": "nitrite ion", "NO3": "nitrate ion"}
CURED_GROUPS = ("meat, raw", "meat, cured", "fish and seafood")


@dataclass(frozen=True)
class Product:
    """A product as the law looks at it.

    Attributes:
        kind: what it is sold as, None if the recipe does not say.
        day: of placing on the market.
        made: the mixture in the pack.
        estimates: its properties.
        worlds: the facts of the rules at every end of the estimated pH and water activity.
        fruits_kg: fruit -> mass used.
        sweetener_solids_kg: dry part of all sweeteners.
        amounts: limited additives.
        so2_unknown: an ingredient may bring sulphur dioxide that no table gives.
        declared: what the recipe states under [law].
        cured: methods of its cures.
    """

    kind: Kind | None
    day: date
    made: Mixture
    estimates: Mapping[str, Estimate]
    worlds: tuple[Mapping[str, object], ...]
    fruits_kg: Mapping[str, float]
    sweetener_solids_kg: float
    amounts: tuple[Amount, ...]
    so2_unknown: bool
    declared: Mapping[str, object]
    cured: tuple[str, ...] = ()

    @property
    def kilograms(self) -> float:
        """Mass of the finished batch."""
        return float(self.made.total_kg)


def product_of(
    recipe: Recipe,
    batch: Batch,
    estimates: Mapping[str, Estimate],
    how: Treatment,
    spread: Spread,
    on: date | None,
) -> Product:
    """Return what the rules ask of a recipe.

    Raises:
        InputError: a fact under [law] that no rule asks for, or of a wrong type.
    """
    try:
        declared = checked(recipe.law)
    except InputError as problem:
        raise InputError(f"law: {problem}") from None
    kind = kind_named(recipe.kind) if recipe.kind else None
    day = on or recipe.on or date.today()
    used = _masses(recipe)
    made = batch.made.mixture
    so2_unknown = any(_may_bring_so2(recipe.food(name)) for name in used)
    facts = {
        **_process_facts(recipe, batch, how),
        **_content_facts(made, so2_unknown),
        "acid_added": any(role(recipe.food(name)) == "acid" for name in used),
        "category": (kind.us_category if kind else "") or None,
        "date": day.isoformat(),
        "ready_to_eat": True,
        "infant_or_medical": False,
        **(kind.facts if kind else {}),
    }
    return Product(
        kind=kind,
        day=day,
        made=made,
        estimates=estimates,
        worlds=tuple(
            {**facts, **sour, **wet, **declared}
            for sour, wet in product(
                _acidity_facts(recipe, batch, estimates, spread, used), _water_facts(how, estimates)
            )
        ),
        fruits_kg={n: kg for n, kg in used.items() if role(recipe.food(n)) == "fruit"},
        sweetener_solids_kg=sum(
            kg * float(properties.dry_matter_percent(recipe.food(n).mixture())) / 100
            for n, kg in used.items()
            if role(recipe.food(n)) == "sweetener"
        ),
        amounts=tuple(_amounts(recipe, used, batch)),
        cured=tuple(dict.fromkeys(s.step.cure.method for s in batch.stages if s.step.cure)),
        so2_unknown=so2_unknown,
        declared=declared,
    )


def role(food: Food) -> str:
    """Return what a food is to the rules: fruit, sweetener, acid, additive, water or food."""
    acid = any(r["acts_as"] == "acid" for r in _additives_of(food))
    if acid or str(food.row["food"]).startswith(ACID_JUICES):
        return "acid"
    return str(tables.row("food_groups", food.group)["role"])


def _additives_of(food: Food) -> list[tables.Row]:
    return [r for r in tables.rows("additive_foods") if r["food"] == food.row["food"]]


def _masses(recipe: Recipe) -> dict[str, float]:
    masses: dict[str, float] = {}
    for _, name, amount in recipe.parts():
        masses[name] = masses.get(name, 0.0) + recipe.kg(name, amount)
    return masses


def _may_bring_so2(food: Food) -> bool:
    return food.group == "alcohol" or "sulfured" in str(food.row["food"])


# --- facts ------------------------------------------------------------------------------------


def _process_facts(recipe: Recipe, batch: Batch, how: Treatment) -> dict[str, object]:
    keep = recipe.keep()
    temperature = keep.temperature if keep else None
    frozen = None if temperature is None else temperature <= FROZEN_UP_TO_C
    cold = None if temperature is None else FROZEN_UP_TO_C < temperature <= COLD_UP_TO_C
    days = keep.for_ / MINUTES_A_DAY if keep else None
    return {
        "hermetic": how.sealed if keep else None,
        "thermal": how.thermal,
        "refrigerated": cold,
        "frozen": frozen,
        "storage_C": temperature,
        "shelf_life_days": days,
        "shelf_life_months": days and days / DAYS_A_MONTH,
        # what keeps at room temperature for weeks is no early danger after a short time
        "microbiologically_perishable": False if cold is False and frozen is False else None,
        "fermented": batch.fermented,
    }


def _content_facts(made: Mixture, so2_unknown: bool) -> dict[str, object]:
    so2 = float(made.mol("sulfurous")) * SULFUR_DIOXIDE_G_PER_MOL * 1000 / float(made.total_kg)
    percent = {a: 100 * float(made.kg(a) / made.total_kg) for a in ("acetic", "benzoic")}
    return {
        "SO2_mg_kg": None if so2_unknown else so2,
        "acetic_percent": percent["acetic"],
        "benzoic_percent": percent["benzoic"],
        "aqueous_salt_percent": float(properties.water_phase_salt_percent(made)),
        "preservative": any(float(made.kg(part)) > 0 for part, _ in CONSERVED.values()),
    }


def _water_facts(how: Treatment, estimates: Mapping[str, Estimate]) -> list[dict[str, object]]:
    """Return the water activity at each end."""
    e = estimates["water_activity"]
    return [{"water_activity": min(getattr(e, end), 1.0)} for end in ENDS]


def _acidity_facts(
    recipe: Recipe,
    batch: Batch,
    estimates: Mapping[str, Estimate],
    spread: Spread,
    used: Mapping[str, float],
) -> list[dict[str, object]]:
    """Return the facts of acidity at each end of the estimate."""
    ph = estimates["ph"]
    fermented = batch.fermented
    natural = ph if fermented else natural_ph(recipe, spread, used, ph)
    waiting = any(
        s.minutes / 60 < float(s.facts["middle_90_percent_hours"])
        for s in batch.stages
        if "middle_90_percent_hours" in s.facts
    )
    return [
        {
            "pH": getattr(ph, end),
            "max_component_pH": None if waiting else getattr(ph, end),
            "pH_before_acid": None if natural is None else getattr(natural, end),
            "low_acid_fraction": _low_acid_fraction(recipe, used, end),
        }
        for end in ENDS
    ]


def natural_ph(
    recipe: Recipe, spread: Spread, used: Mapping[str, float], ph: Estimate
) -> Estimate | None:
    """Return the pH the foods have together before any acid is added.

    Args:
        recipe: of the product.
        spread: its foods, with samples.
        used: food -> mass.
        ph: of the product, which it is where no acid is added.
    """
    roles = {name: role(recipe.food(name)) for name in used}
    if "acid" not in roles.values() or not {"fruit", "food"} & set(roles.values()):
        return ph
    own = sum(
        (spread.foods[n] * kg for n, kg in used.items() if roles[n] != "acid"), Mixture.nothing()
    )
    at_ph = properties.ph(own)
    band = float(properties.ph_band(own, at_ph).reshape(-1)[0])
    return estimate(at_ph, spread.influences, band)


def _low_acid_fraction(recipe: Recipe, used: Mapping[str, float], end: str) -> float | None:
    """Return the mass share of ingredients with a natural pH above 4.6.

    Water, sweeteners, salt and additives are no low-acid food: at what they do to a food, not at
    their own pH, the rule looks.
    """
    foods = {n: recipe.food(n) for n in used if role(recipe.food(n)) in ("fruit", "food")}
    if any(food.ph is None for food in foods.values()):
        return None
    low = (used[n] for n, food in foods.items() if getattr(food.ph, end) > LOW_ACID_PH)
    return sum(low) / sum(used.values())


# --- additives --------------------------------------------------------------------------------


def _amounts(recipe: Recipe, used: Mapping[str, float], batch: Batch) -> list[Amount]:
    """Return every additive the rules limit, as the substance that was weighed."""
    made = batch.made.mixture
    weighed: dict[Substance, float] = {}
    for name, kg in used.items():
        for r in _additives_of(recipe.food(name)):
            of = substance(str(r["additive"]))
            weighed[of] = weighed.get(of, 0.0) + kg * r["share"]
    found: list[Amount] = []
    for family, (component, form) in CONSERVED.items():
        kg = float(made.kg(component))
        if component == "sulfurous":
            kg = float(made.mol(component)) * SULFUR_DIOXIDE_G_PER_MOL / 1000
        salts = [of for of in weighed if of.family == family and factor(of, form)]
        base = _cured_kg(recipe, used) if family in CURED else float(made.total_kg)
        if family in CURED and batch.of("cure"):  # counted as the rule of each method counts
            key = f"ingoing_{component}_mg_per_kg"
            kg = 1e-6 * base * sum(float(s.facts[key]) for s in batch.of("cure"))
            kg += sum(
                recipe.kg(name, amount) * float(recipe.food(name).mixture().kg(component))
                for place, name, amount in recipe.parts()
                if not place.endswith("cure")
            )
        if kg > 0:
            found.append(_amount(family, form, salts, kg, base))
    for of, kg in weighed.items():
        if of.family not in CONSERVED:
            found.append(Amount(of.name, 1e6 * kg / float(made.total_kg)))
    density = float(properties.density_g_per_cm3(made))
    return [replace(a, density_g_per_cm3=density) for a in found]


def _amount(family: str, form: str, salts: list[Substance], kg: float, base_kg: float) -> Amount:
    """Return an amount as the one salt that was used, else as the plain legal form."""
    if len(salts) == 1:
        name, kg = salts[0].name, kg / (factor(salts[0], form) or 1.0)
    else:
        name = PLAIN.get(form) or next(s.name for s in substances() if s.family == family)
    basis = "added" if family in CURED else "in_food"
    return Amount(name, 1e6 * kg / base_kg if base_kg else None, basis)


def _cured_kg(recipe: Recipe, used: Mapping[str, float]) -> float:
    return sum(kg for n, kg in used.items() if recipe.food(n).group in CURED_GROUPS)


def known_to_additives(declared: Mapping[str, object], kind: Kind | None) -> dict[str, object]:
    """Return the facts that the limits of additives may ask for."""
    wanted = ("low_sugar", "sterilised", "sulphited_fruit", "high_fat", "sold_raw",
              "thiamine_source", "meat_poultry")  # fmt: skip
    known = dict(kind.additive_facts) if kind else {}
    return {**known, **{n: declared[n] for n in wanted if n in declared and n in VARIABLES}}
