"""The judgement of a recipe, top to bottom as on paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from stillroom import tables
from stillroom.assess import cure, keeping, legal, quality, remedies, worked
from stillroom.assess.dry import judgement as dry_judgement
from stillroom.assess.dry import worked as worked_dry
from stillroom.assess.ferment import findings as ferment_findings
from stillroom.assess.ferment import worked as worked_ferment
from stillroom.assess.ferment.judgement import Fermented, ferments
from stillroom.assess.heat import findings as heat_findings
from stillroom.assess.heat import worked as worked_heat
from stillroom.assess.heat.judgement import Heating
from stillroom.assess.heat.judgement import judge as judge_heat
from stillroom.assess.keep.times import kept_in_pack
from stillroom.assess.keeping import COLD_C, Situation
from stillroom.assess.pack import findings as pack_findings
from stillroom.assess.pack.limits import packed_of
from stillroom.assess.result import Assessment, Estimate, Finding
from stillroom.assess.spread import Spread, estimate, spread_of
from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.physics import ferment
from stillroom.physics.phase import pressure_at_altitude_kPa, water_boiling_point_C
from stillroom.product import properties
from stillroom.product.fermenting import END_PH_ERROR
from stillroom.product.mixture import Mixture, of_kind
from stillroom.product.process import Batch, Stage, run
from stillroom.product.recipe import MARKETS, Measured, Recipe
from stillroom.product.sorption import water_activity_of
from stillroom.working import Working

DAVIES_TO = 1.0  # ionic strength, mol/kg
ALCOHOL_AT_LEAST = 0.9  # of what is computed (common practice: yield, by-products, vapour)
SALT_EUTECTIC_C = -21.2  # of sodium chloride and water
ACTING_ACIDS = tuple(dict.fromkeys(str(r["acid"]) for r in tables.rows("acid_limits")))


def assess(recipe: Recipe, market: str | None = None, on: date | None = None) -> Assessment:
    """Judge a recipe: does it keep, what holds it, by how much, what the law calls it.

    Args:
        recipe: to judge.
        market: whose law; the recipe's own markets by default.
        on: date of placing on the market; the recipe's, or today.

    Returns:
        The assessment.

    Raises:
        InputError: a step that cannot be done, an unknown market.
    """
    if market is not None and market not in MARKETS:
        raise InputError(f"market {market!r} is not one of {', '.join(MARKETS)}.")
    markets = (market,) if market else recipe.market
    one = make(recipe)
    estimates, central, spread = one.estimates, one.central, one.spread
    ph, a_w = estimates["ph"], estimates["water_activity"]
    made, centre = one.batch.made.mixture, central.made.mixture
    heating = judge_heat(central, ph, a_w)
    how = keeping.treatment(central, heating)
    fermented = tuple(ferments(central))
    situation = situation_of(recipe, made, ph, a_w, fermented)
    keep = recipe.keep()
    temperature = keep.temperature if keep else None
    room = keeping.ROOM_C if temperature is None else temperature
    of_heat = _heat_findings(recipe, centre, how, situation)
    of_ferment = ferment_findings.findings(fermented, cure.is_sausage(recipe))
    dried = tuple(dry_judgement.dryings(central, one.batch, spread))
    of_dry = dry_judgement.findings(dried, recipe.kind)
    of_cure = cure.findings(central, markets)
    of_making = [f for f in (*of_ferment, *of_dry, *of_cure) if f.area == "hazard"]
    here = [
        *of_making,
        *keeping.judge_organisms(situation, how, room),
        *(f for f in of_heat if f.area == "hazard"),
    ]
    cold = [*of_making, *keeping.judge_organisms(situation, how, COLD_C)]
    judgement = keeping.judge(temperature, here, cold)
    packed = packed_of(central, a_w)
    growing: list[Finding] = []
    if packed is not None:
        growing = pack_findings.growth(kept_in_pack(central, situation, how, packed), here)
        here += growing
    judgement, pack_remedies = pack_findings.join(judgement, growing, packed)
    findings = [
        *here,
        *legal.findings(recipe, central, estimates, how, spread, markets, on),
        *quality.quality(central, centre, central.final.mixture, ph),
        *(pack_findings.quality(packed) if packed else ()),
        *(f for f in (*of_heat, *of_ferment, *of_dry, *of_cure) if f.area != "hazard"),
        *_process_findings(central, temperature),
        *_readings(recipe.measured, estimates),
    ]
    return Assessment(
        recipe=recipe,
        batch=central,
        outcome=judgement.outcome,
        reason=judgement.reason,
        as_declared=judgement.as_declared,
        deciding=keeping.deciding(here),
        single_point=keeping.single_point(here),
        measure=(*_to_measure(recipe, ph, a_w, findings), *pack_findings.to_measure(packed)),
        remedies=pack_remedies
        if pack_remedies or judgement.as_declared
        else remedies.remedies(centre, ph, a_w, here, keeping.state_of(cold, "hazard") == "pass"),
        cautions=_cautions(recipe, how, ph, a_w),
        properties=estimates,
        findings=tuple(findings),
        notes=(*_notes(recipe, central, markets), *(packed.course.pack.remarks if packed else ())),
        working=_working(one, heating, fermented, dried),
        teaching=_teaching(centre),
        heating=heating,
        ferments=fermented,
    )


def _working(
    one: Made,
    heating: Heating | None,
    fermented: tuple[Fermented, ...],
    dried: tuple[dry_judgement.Dried, ...],
) -> Working:
    made = one.batch.made.mixture
    centre = _central(made)
    at_ph = _predicted(one.estimates["ph"], made)
    board = worked.write(centre, at_ph, float(properties.water_activity(centre)))
    if heating is not None:
        worked_heat.write(board, heating, one.central)
    worked_ferment.write(board, fermented)
    worked_dry.write(board, dried)
    cure.write(board, one.central)
    return board


@dataclass(frozen=True)
class Made:
    """A recipe carried out, with what is uncertain on a sample axis, and what came of it."""

    spread: Spread
    batch: Batch
    central: Batch
    estimates: dict[str, Estimate]


def make(recipe: Recipe) -> Made:
    """Carry out a recipe and estimate the properties of the product.

    Args:
        recipe: to carry out.

    Raises:
        InputError: a step that cannot be done.
    """
    spread = spread_of(recipe)
    batch = run(recipe, spread.foods)
    estimates = _estimates(batch, spread)
    return Made(spread, batch, _central_batch(batch), estimates)


def _heat_findings(
    recipe: Recipe, mixture: Mixture, how: keeping.Treatment, situation: Situation
) -> list[Finding]:
    """Return the findings of the heat, or of its absence, in a sealed pack."""
    keep = recipe.keep()
    if not how.sealed or keep is None:
        return []
    ph, a_w = situation.ph, situation.water_activity
    unheated = heat_findings.no_heat(mixture, ph, a_w, keep, situation.salt_percent)
    if how.heating is None:
        return unheated
    return heat_findings.findings(how.heating, unheated)


def _predicted(ph: Estimate, made: Mixture) -> float:
    return ph.value if ph.kind == "calculated" else float(properties.ph(_central(made)))


# --- properties -------------------------------------------------------------------------------


def _central(mixture: Mixture) -> Mixture:
    return mixture[0] if mixture.shape else mixture


def _central_batch(batch: Batch) -> Batch:
    def one(mixture: Mixture | None) -> Mixture | None:
        return None if mixture is None else _central(mixture)

    def first(value: Array) -> Array:
        return np.asarray(value).reshape(-1)[0]

    stages = tuple(
        replace(
            s,
            mixture=_central(s.mixture),
            pieces=one(s.pieces),
            liquor=one(s.liquor),
            facts={k: first(v) for k, v in s.facts.items()},
        )
        for s in batch.stages
    )
    return Batch(batch.recipe, stages)


def _estimates(batch: Batch, spread: Spread) -> dict[str, Estimate]:
    recipe, made, final = batch.recipe, batch.made.mixture, batch.final.mixture
    at_ph = properties.ph(made)
    own = recipe.isotherm.curve if recipe.isotherm else None
    a_w = water_activity_of(made, isotherm=own)
    kept_a_w = batch.final.facts.get("end_water_activity")
    if kept_a_w is None:
        kept_a_w = water_activity_of(final, isotherm=own)
    pressure = float(pressure_at_altitude_kPa(recipe.made_at.altitude))

    def of(samples: Array, model_error: float = 0.0, unit: str = "", note: str = "") -> Estimate:
        return estimate(samples, spread.influences, model_error, unit, note)

    def first(samples: Array) -> float:
        return float(np.asarray(samples).reshape(-1)[0])

    boiling: Callable[[], Array] = lambda: properties.boiling_point_C(_central(made), pressure)  # noqa: E731
    centre = _central(made)
    freezing = float(properties.freezing_point_C(centre))
    at_rest = float(properties.water_activity(centre, crystallised=True))
    wettest = of(a_w, first(properties.water_activity_band(made, a_w)))
    thick = max((first(s.facts["wettest_water_activity"]) for s in batch.of("dry")), default=0.0)
    highest = min(max(wettest.high, at_rest, thick + wettest.high - wettest.value), 1.0)
    estimates = {
        "water_activity": replace(wettest, high=highest),
        "ph": of(
            at_ph,
            first(properties.ph_band(made, at_ph)),
            note=_beyond(
                first(properties.ionic_strength_mol_per_kg(made, at_ph)) > DAVIES_TO,
                "beyond ionic strength 1, where activities are extrapolated",
            ),
        ),
        "brix": of(properties.brix(made), 0.5, "°Brix", "as a refractometer reads it, 20 °C"),
        "dry_matter": of(properties.dry_matter_percent(made), 0.5, "%"),
        "salt": of(100 * properties.salt_kg(made) / made.total_kg, 0.0, "%"),
        "water_phase_salt": of(properties.water_phase_salt_percent(made), 0.0, "%"),
        "titratable_acidity": of(
            properties.titratable_acidity_percent(made, _acid_named(centre)),
            0.0,
            "%",
            f"as {_acid_named(centre)} acid, to pH 8.1",
        ),
        "buffer_capacity": of(
            properties.buffer_capacity_mmol_per_kg(made, at_ph), 0.0, "mmol/(kg pH)"
        ),
        "density": of(properties.density_g_per_cm3(made), 0.005, "g/cm³", "20 °C, without air"),
        "osmotic_pressure": of(properties.osmotic_pressure_MPa(a_w), 0.0, "MPa"),
        "boiling_point": _point(
            float(boiling()),
            0.5,
            "°C",
            f"water boils at {float(water_boiling_point_C(pressure)):.1f} °C there",
        ),
        "freezing_point": _point(
            freezing,
            0.5,
            "°C",
            _beyond(freezing < SALT_EUTECTIC_C, "below -21 °C, where salt brine sets as a whole"),
        ),
        "water_activity_after_keeping": of(
            kept_a_w, first(properties.water_activity_band(made, a_w))
        ),
    }
    soured = batch.of("ferment")
    if soured:
        estimates["ph"] = _soured(estimates["ph"], soured[-1], spread)
    estimates = _measured(estimates, recipe.measured)
    for name in ("ph", "water_activity"):
        e = estimates[name]
        if not np.all(np.isfinite([e.low, e.value, e.high])):
            raise InputError(
                f"the {'pH' if name == 'ph' else 'water activity'} of the product cannot be "
                "computed: too little water for what is dissolved in it, or too much lime or lye. "
                f"Check the amounts, or measure it and write {name} = ... under [measured]."
            )
    return estimates


def _soured(ph: Estimate, stage: Stage, spread: Spread) -> Estimate:
    """Return the pH of a fermented product: its error is that of the ferment, once.

    Readings of the batch stand for what is not known of the foods.
    """
    error = float(stage.facts["ph_error"])
    plan = stage.step.ferment
    read = plan is not None and bool(plan.ph or plan.acidity)
    unread = min(error / END_PH_ERROR, 1.0) if read else 1.0  # what readings leave of the rest
    down, up = (
        float(np.hypot(unread * side, error)) for side in (ph.value - ph.low, ph.high - ph.value)
    )
    note = "corrected by readings of the ferment" if read else ph.note
    return replace(ph, low=ph.value - down, high=ph.value + up, model_error=error, note=note)


def _point(value: float, error: float, unit: str, note: str = "") -> Estimate:
    return Estimate(value, value - error, value + error, unit, error, note=note)


def _beyond(outside: bool, words: str) -> str:
    return f"outside its range: {words}" if outside else ""


def _acid_named(mixture: Mixture) -> str:
    """Return the acid a trade titration is expressed as: the main organic acid of the product."""
    candidates = ("acetic", "citric", "lactic", "malic", "tartaric")
    return max(candidates, key=lambda a: float(mixture.mol(a)))


def _measured(estimates: dict[str, Estimate], measured: Measured) -> dict[str, Estimate]:
    """Return the estimates with readings in the place of predictions."""
    if measured.ph is not None:
        half = measured.ph_uncertainty
        estimates["ph"] = Estimate(
            measured.ph, measured.ph - half, measured.ph + half, "", half, "measured"
        )
    if measured.water_activity is not None:
        half, value = measured.water_activity_uncertainty, measured.water_activity
        estimates["water_activity"] = Estimate(
            value, value - half, min(value + half, 1.0), "", half, "measured"
        )
    if measured.soluble_solids is not None:
        value = measured.soluble_solids
        estimates["brix"] = Estimate(value, value - 0.3, value + 0.3, "°Brix", 0.3, "measured")
    return estimates


def situation_of(
    recipe: Recipe,
    made: Mixture,
    ph: Estimate,
    a_w: Estimate,
    fermented: Sequence[Fermented] = (),
) -> Situation:
    """Return a product as an organism finds it.

    Args:
        recipe: of the product.
        made: the mixture in the pack.
        ph: its pH.
        a_w: its water activity.
        fermented: the ferments that made it; their slow ends tell how little alcohol.
    """
    centre = _central(made)
    acids = [a for a in ACTING_ACIDS if float(centre.kg(a)) > 0]

    def doses(at_ph: float) -> dict[str, float]:
        return {a: float(properties.undissociated_mmol_per_kg(centre, a, at_ph)) for a in acids}

    alcohol = float(ferment.ethanol_percent_vol(centre.mol("ethanol") / centre.kg("water")))
    least = ALCOHOL_AT_LEAST * min((f.least_alcohol for f in fermented), default=1.0)
    return Situation(
        ph=ph,
        water_activity=a_w,
        doses_central=doses(ph.value),
        doses_careful=doses(ph.high),
        humectants=properties.humectants(made),
        salt_percent=float(properties.water_phase_salt_percent(centre)),
        groups=frozenset(recipe.food(name).group for name in recipe.food_names()),
        ethanol_percent_vol=(alcohol, least * alcohol),
    )


def _teaching(mixture: Mixture) -> dict[str, float]:
    at_ph = properties.ph(mixture)
    return {
        "water_activity_simple": float(
            properties.water_activity(mixture, model="ideal", at_ph=at_ph)
        ),
        "water_activity_product": float(
            properties.water_activity(mixture, model="product", at_ph=at_ph)
        ),
        "water_activity_better": float(properties.water_activity(mixture, at_ph=at_ph)),
    }


# --- process, readings, what to measure -------------------------------------------------------


def _process_findings(batch: Batch, temperature_C: float | None) -> list[Finding]:
    return [_middle(s) for s in batch.stages if "middle_90_percent_hours" in s.facts]


def _middle(stage: Stage) -> Finding:
    hours = float(stage.facts["middle_90_percent_hours"])
    reason = (
        f"the middle of the slowest piece has nine tenths of its salt and acid after {hours:.0f} h"
    )
    if "middle_sour_hours" in stage.facts:
        sour = float(stage.facts["middle_sour_hours"])
        reason += f", and is below pH 4.6 after {sour:.0f} h"
        hours = max(hours, sour)
    given = stage.minutes / 60 if stage.minutes else None
    enough = given is not None and given >= hours
    if given is None:
        reason += "; no time is given: keep it cold until then"
    elif not enough:
        reason += f"; {given:.0f} h are given: keep it cold until then, or cut smaller"
    return Finding(
        subject=f"step {stage.number}, middle of a piece",
        area="process",
        verdict="pass" if enough else "cannot tell" if given is None else "fail",
        reason=reason,
        value=given,
        limit=hours,
        margin=None if given is None else given - hours,
        unit="h",
        citation="Fick's law, Crank 1975; slow end of tissue diffusivities",
        provenance="common practice",
    )


def _readings(measured: Measured, estimates: dict[str, Estimate]) -> list[Finding]:
    return [
        Finding(
            subject=f"measured {name.replace('_', ' ')}",
            area="reading",
            verdict="pass",
            reason="the reading stands in the place of the prediction",
            value=e.value,
            uncertainty=e.model_error,
            unit=e.unit,
        )
        for name, e in estimates.items()
        if e.kind == "measured"
    ]


def _to_measure(
    recipe: Recipe, ph: Estimate, a_w: Estimate, findings: list[Finding]
) -> tuple[str, ...]:
    wanted = []
    if ph.kind != "measured":
        wanted.append(
            f"equilibrium pH of the blended pack (predicted {ph.value:.2f}, between {ph.low:.2f} "
            "and "
            f"{ph.high:.2f})" + ("; above 4.0 with a meter" if ph.high > 4.0 else "")
        )
    if a_w.kind != "measured" and (
        a_w.value < 0.95
        or any(f.unit == "" and f.verdict == "cannot tell" and f.decides for f in findings)
    ):
        wanted.append(
            f"water activity (predicted {a_w.value:.3f}, between {a_w.low:.3f} and {a_w.high:.3f})"
        )
    wanted += [
        f"{f.subject}: {f.reason}"
        for f in findings
        if f.subject.startswith(keeping.MADE_SO) and f.verdict == "cannot tell" and f.decides
    ]
    if (
        any(f.area == "law" and "soluble" in f.subject for f in findings)
        and recipe.measured.soluble_solids is None
    ):
        wanted.append("soluble solids with a refractometer at 20 °C")
    return tuple(wanted)


def _cautions(
    recipe: Recipe, how: keeping.Treatment, ph: Estimate, a_w: Estimate
) -> tuple[str, ...]:
    cautions = [
        "A prediction is no proof: law and practice ask for measured values of the finished "
        "product.",
        "Have the process of anything sold in sealed packs set or reviewed by a process authority, "
        "and follow the code of your own country.",
    ]
    if ph.high > 4.6 and a_w.high > 0.85 and how.sealed:
        cautions.append(
            "Low-acid food in a sealed pack can grow Clostridium botulinum: only a scheduled "
            "process "
            "set by a process authority makes it fit for the shelf."
        )
    words = " ".join(
        [
            *recipe.food_names(),
            *(recipe.food(n).group for n in recipe.food_names()),
            *(str(recipe.food(n).row["food"]) for n in recipe.food_names()),
        ]
    )
    for r in tables.rows("outside_hazards"):
        if str(r["group"]) in words and r["caution"] not in cautions:
            cautions.append(str(r["caution"]))
    if any(s.dry for s in recipe.steps):
        cautions.append(
            "Drying kills little: what was not killed before waits in the dry food, and stands "
            "heat there."
        )
    if how.sealed:
        cautions.append(
            "A seal that fails, mould on the surface, gas or an off smell: throw it away untasted."
        )
    return tuple(cautions)


def _notes(recipe: Recipe, batch: Batch, markets: Sequence[str]) -> tuple[str, ...]:
    notes = [f"step {s.number}: {word}" for s in batch.stages for word in s.assumed]
    if not markets:
        notes.append("no market is given: the law was not looked up")
    for name in recipe.food_names():
        food = recipe.food(name)
        if food.ph is not None and food.ph.kind == "assumed":
            notes.append(f"{name}: no pH is known; {food.ph.value:g} is assumed ({food.ph.source})")
        acids = float(food.mixture().kg(*of_kind("acid"))) if food.ph else 1.0
        if food.ph is not None and food.ph.value < 4.6 and acids < 1e-3:
            notes.append(
                f"{name}: its acid is not known, only its pH; give a titratable_acidity under "
                "[foods]"
            )
    return tuple(dict.fromkeys(notes))
