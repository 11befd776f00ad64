"""A hundred thousand batches of one recipe: how many of them pass, and what makes them differ."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from scipy import stats

from stillroom.assess import hazards
from stillroom.assess.heat.findings import leaves
from stillroom.assess.heat.judgement import judge as judge_heat
from stillroom.assess.keeping import ROOM_C, Situation, Treatment, treatment
from stillroom.assess.pipeline import make, situation_of
from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.plan.sampling import Sampler, Source
from stillroom.product import properties
from stillroom.product.process import run
from stillroom.product.recipe import Recipe
from stillroom.product.sorption import water_activity_of

CHUNK = 5_000
ALONE_UP_TO = 10_000  # batches that one process does sooner than it starts others
MOST = 10_000_000
PROPERTIES = ("water_activity", "ph", "brix", "salt")
CONFIDENCE = 0.95
WANTED_SHARE = 0.95
SOBOL_BASE = 256  # times the sources and two: runs for the shares of the variance
MOST_JARS = 1000
Limits = Mapping[str, tuple[float, str]]


@dataclass(frozen=True)
class Passing:
    """How many batches pass one thing.

    Attributes:
        subject: the organism, or "all of them".
        group: dangerous or spoiling.
        share: of the batches.
        low: of its 95 % interval.
        high: of its 95 % interval.
        jars: to measure to show it by values, 95 % of batches with 95 % confidence; None where no
            number does.
        hurdle: that most often holds it.
    """

    subject: str
    group: str
    share: float
    low: float
    high: float
    jars: int | None = None
    hurdle: str = ""


@dataclass(frozen=True)
class Scattered:
    """How a property scatters from batch to batch.

    Attributes:
        name: of the property.
        mean: of the batches.
        sd: of the batches as a meter would read them.
        sd_known: with the error of the prediction.
        quantiles: 2.5, 50 and 97.5 %, with the error of the prediction.
        causes: what scatters -> share of the variance with all it does together with others; the
            largest first.
    """

    name: str
    mean: float
    sd: float
    sd_known: float
    quantiles: tuple[float, float, float]
    causes: Mapping[str, float]


@dataclass(frozen=True)
class Population:
    """Batches of a recipe.

    Attributes:
        recipe: they are made by.
        batches: how many.
        seed: of the draw.
        properties: how each scatters.
        passing: every organism, the rarest pass first.
        every_danger: batches in which nothing dangerous can grow.
        everything: batches in which nothing at all can grow.
        by_counting: jars to measure without a failure to show 95 % with 95 % confidence.
        sources: what was drawn.
        notes: what the numbers leave out.
    """

    recipe: Recipe
    batches: int
    seed: int
    properties: tuple[Scattered, ...]
    passing: tuple[Passing, ...]
    every_danger: Passing
    everything: Passing
    by_counting: int
    sources: tuple[Source, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Held:
    """What every batch is held against; the same for all of them."""

    who: tuple[hazards.Organism, ...]
    killed: tuple[bool, ...]  # by the heat of the central batch
    humectants: tuple[str, ...]
    acids: tuple[str, ...]
    air: str
    offsets: Mapping[str, float]  # of a reading from its prediction
    half_bands: Mapping[str, float]  # of a reading


@dataclass(frozen=True)
class Chunk:
    """What a run of batches gave; a chunk is reduced where it was made."""

    read: Array  # (batches, properties) as a meter would read them
    known: Array  # with the error of the prediction
    passed: Array  # batches in which each organism is held
    dangers: int  # batches in which no pathogen can grow
    nothing: int  # batches in which nothing can grow
    best: Array  # (organisms, hurdles) batches that each hurdle holds best
    margin_sum: Array  # (organisms, hurdles)
    margin_squares: Array  # (organisms, hurdles)


HURDLES = ("acidity", "alkalinity", "cold", "warmth", "acid dose", "water activity", "no air")


def population(
    recipe: Recipe,
    batches: int = 100_000,
    seed: int = 1,
    executor: Executor | None = None,
    progress: Callable[[int], None] | None = None,
    causes: bool = True,
) -> Population:
    """Make many batches of a recipe and count what passes.

    Foods, weighing, boils and storage scatter, and the models' own errors with them. The batches
    are points of a scrambled Sobol sequence: equal for equal seeds, however the run is cut and
    wherever it is computed.

    Args:
        recipe: to make.
        batches: how many, 100 to ten million.
        seed: of the draw.
        executor: that runs the chunks, such as one of a cluster; the cores of this machine by
            default.
        progress: is told how many batches are done.
        causes: whether to look for what makes the batches differ.

    Raises:
        InputError: a number of batches out of bounds, a step that cannot be done.
    """
    if not 100 <= batches <= MOST:
        raise InputError(f"batches must be 100 to {MOST}, got {batches}.")
    sampler = Sampler(recipe, seed)
    held = _held(recipe)
    one = partial(_run_chunk, recipe, seed, held)
    cuts = [(n, min(CHUNK, batches - n)) for n in range(0, batches, CHUNK)]
    read: list[Array] = []
    known: list[Array] = []
    total: Chunk | None = None
    for done in _every(one, cuts, batches, executor):
        read.append(done.read)
        known.append(done.known)
        total = done if total is None else _joined(total, done)
        if progress is not None:
            progress(sum(map(len, read)))
    assert total is not None
    shares = _causes(sampler, held) if causes else {}
    return _told(sampler, batches, held, np.concatenate(read), np.concatenate(known), total, shares)


def _every(
    one: Callable[[tuple[int, int]], Chunk],
    cuts: list[tuple[int, int]],
    batches: int,
    executor: Executor | None,
) -> Iterator[Chunk]:
    if executor is not None:
        yield from executor.map(one, cuts)
    elif batches <= ALONE_UP_TO:
        yield from map(one, cuts)
    else:
        with ProcessPoolExecutor(os.cpu_count()) as own:
            yield from own.map(one, cuts)


# --- one batch and many -----------------------------------------------------------------------


def _held(recipe: Recipe) -> _Held:
    """Return what batches are held against, by the central one."""
    made = make(recipe)
    ph, a_w = made.estimates["ph"], made.estimates["water_activity"]
    situation: Situation = situation_of(recipe, made.batch.made.mixture, ph, a_w)
    heating = judge_heat(made.central, ph, a_w)
    how: Treatment = treatment(made.central, heating)
    who = tuple(situation.organisms())
    killed = tuple(
        how.heating is not None and how.sealed and leaves(how.heating, o).verdict == "pass"
        for o in who
    )
    centre = made.central.made.mixture
    own = recipe.isotherm.curve if recipe.isotherm else None
    offsets, half_bands = {}, {}
    for name, value in (
        ("ph", properties.ph(centre)),
        ("water_activity", water_activity_of(centre, isotherm=own)),
    ):
        if made.estimates[name].kind == "measured":
            offsets[name] = made.estimates[name].value - float(value)
            half_bands[name] = made.estimates[name].model_error / 2
    return _Held(
        who, killed, situation.humectants, tuple(situation.doses_central), how.air, offsets,
        half_bands,
    )  # fmt: skip


def _run_chunk(recipe: Recipe, seed: int, held: _Held, cut: tuple[int, int]) -> Chunk:
    sampler = Sampler(recipe, seed)
    deviations = sampler.draw(*cut)
    read, known, margins, stopped = _judged(sampler, held, deviations)
    danger = np.array([o.group == "pathogen" for o in held.who])
    finite = np.where(np.isfinite(margins), margins, 0.0)
    best = np.argmax(np.where(np.isfinite(margins), margins, -np.inf), axis=-1)
    return Chunk(
        read,
        known,
        stopped.sum(axis=0),
        int(stopped[:, danger].all(axis=1).sum()),
        int(stopped.all(axis=1).sum()),
        (best[..., None] == np.arange(len(HURDLES))).sum(axis=0),
        finite.sum(axis=0),
        np.square(finite).sum(axis=0),
    )


def _judged(
    sampler: Sampler, held: _Held, deviations: Array
) -> tuple[Array, Array, Array, np.ndarray]:
    """Return properties as read and as known, margins by hurdle, and what is stopped."""
    recipe, foods, models = sampler.variant(deviations)
    batch = run(recipe, foods)
    made = batch.made.mixture
    own = recipe.isotherm.curve if recipe.isotherm else None
    at_ph = properties.ph(made)
    a_w = water_activity_of(made, isotherm=own)
    fermented = batch.of("ferment")
    half = {
        "ph": fermented[-1].facts["ph_error"] / 2
        if fermented
        else properties.ph_band(made, at_ph) / 2,
        "water_activity": properties.water_activity_band(made, a_w) / 2,
    } | dict(held.half_bands)
    read_ph = at_ph + held.offsets.get("ph", 0.0)
    read_a_w = np.minimum(a_w + held.offsets.get("water_activity", 0.0), 1.0)
    known_ph = read_ph + models["ph"] * half["ph"]
    known_a_w = np.clip(read_a_w + models["water_activity"] * half["water_activity"], 0.0, 1.0)
    rest = (properties.brix(made), 100 * properties.salt_kg(made) / made.total_kg)
    keep = recipe.keep()
    storage = np.asarray(ROOM_C if keep is None else keep.temperature, float)
    who = list(held.who)
    conditions = hazards.Conditions(
        ph=known_ph,
        water_activity=known_a_w,
        temperature_C=np.broadcast_to(storage, known_ph.shape),
        undissociated_mmol_per_kg={
            acid: properties.undissociated_mmol_per_kg(made, acid, known_ph) for acid in held.acids
        },
        humectants=held.humectants,
        air=held.air,
    )
    found = hazards.margins(conditions, who)
    nothing = np.full((len(deviations), len(who)), np.nan)
    margins = np.stack(
        [np.broadcast_to(found.get(h, nothing), nothing.shape) for h in HURDLES], axis=-1
    )
    together = hazards.interaction(conditions, who) >= hazards.ROBUST_PSI
    stopped = (margins > 0).any(axis=-1) | together | np.array(held.killed)
    read = np.stack([read_a_w, read_ph, *rest], axis=-1)
    known = np.stack([known_a_w, known_ph, *rest], axis=-1)
    return read, known, margins, stopped


def _joined(one: Chunk, other: Chunk) -> Chunk:
    """Return the counts of both; the single batches are kept elsewhere."""
    none = np.empty((0, len(PROPERTIES)))
    return Chunk(
        none, none,
        one.passed + other.passed, one.dangers + other.dangers, one.nothing + other.nothing,
        one.best + other.best, one.margin_sum + other.margin_sum,
        one.margin_squares + other.margin_squares,
    )  # fmt: skip


# --- what it comes to -------------------------------------------------------------------------


def _causes(sampler: Sampler, held: _Held) -> dict[str, dict[str, float]]:
    """Return property -> source -> its total share of the variance."""

    def outputs(x: Array) -> Array:
        flat = x.reshape(len(x), -1).T
        parts = [_judged(sampler, held, flat[n : n + CHUNK])[1] for n in range(0, len(flat), CHUNK)]
        values: Array = np.concatenate(parts).T.reshape(len(PROPERTIES), *x.shape[1:])
        return values

    normal: list[Any] = [stats.norm()] * len(sampler.sources)
    found = stats.sobol_indices(func=outputs, n=SOBOL_BASE, dists=normal, rng=sampler.seed)
    return {
        name: {
            s.words: float(np.clip(share, 0.0, 1.0))
            for s, share in zip(sampler.sources, shares, strict=True)
            if np.isfinite(share)
        }
        for name, shares in zip(PROPERTIES, found.total_order, strict=True)
    }


def _told(
    sampler: Sampler, batches: int, held: _Held, read: Array, known: Array, total: Chunk,
    causes: Mapping[str, Mapping[str, float]],
) -> Population:  # fmt: skip
    scattered = []
    for n, name in enumerate(PROPERTIES):
        low, middle, high = np.quantile(known[:, n], (0.025, 0.5, 0.975))
        mine = sorted(causes.get(name, {}).items(), key=lambda item: -item[1])
        scattered.append(
            Scattered(
                name, float(read[:, n].mean()), float(read[:, n].std(ddof=1)),
                float(known[:, n].std(ddof=1)), (float(low), float(middle), float(high)),
                dict(mine),
            )
        )  # fmt: skip
    mean = total.margin_sum / batches
    sd = np.sqrt(np.maximum(total.margin_squares / batches - mean**2, 0.0))
    passing = []
    for n, organism in enumerate(held.who):
        hurdle = int(np.argmax(total.best[n]))
        jars = None if held.killed[n] else _jars(float(mean[n, hurdle]), float(sd[n, hurdle]))
        group = "dangerous" if organism.group == "pathogen" else "spoiling"
        words = "heat and the seal" if held.killed[n] else HURDLES[hurdle]
        passing.append(_passing(organism.title, group, int(total.passed[n]), batches, jars, words))
    passing.sort(key=lambda p: (p.share, p.group))
    return Population(
        sampler.recipe, batches, sampler.seed, tuple(scattered), tuple(passing),
        _passing("all of them", "dangerous", total.dangers, batches),
        _passing("all of them", "all", total.nothing, batches),
        int(np.ceil(np.log(1 - CONFIDENCE) / np.log(WANTED_SHARE))),
        tuple(sampler.sources), _notes(sampler.recipe, held),
    )  # fmt: skip


def _passing(
    subject: str, group: str, passed: int, of: int, jars: int | None = None, hurdle: str = ""
) -> Passing:
    low, high = stats.binomtest(passed, of).proportion_ci(CONFIDENCE, method="wilson")
    return Passing(subject, group, passed / of, float(low), float(high), jars, hurdle)


def _jars(margin: float, sd: float) -> int | None:
    """Return how many jars show by their values that enough batches pass.

    The least n whose one-sided tolerance factor for a normal scatter is below margin / sd.
    """
    if margin <= 0:
        return None
    if sd == 0:
        return 1
    n = np.arange(2, MOST_JARS + 1)
    root = np.sqrt(n)
    factor = stats.nct.ppf(CONFIDENCE, n - 1, root * stats.norm.ppf(WANTED_SHARE)) / root
    enough = n[factor <= margin / sd]
    return int(enough[0]) if enough.size else None


def _notes(recipe: Recipe, held: _Held) -> tuple[str, ...]:
    notes = ["the errors of the predictions are drawn as if each batch had its own"]
    if any(held.killed):
        notes.append("what the heat kills is that of the central batch")
    if any(s.dry for s in recipe.steps):
        notes.append("pieces of one batch are taken as even; see `stillroom dry` for the wettest")
    return tuple(notes)
