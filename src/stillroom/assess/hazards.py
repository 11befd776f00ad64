"""Which organisms could grow in this product, what stops each of them, and by how much.

A limit is the most extreme value at which growth was seen with everything else at its best, so a
food exactly on a limit can grow. Every margin is an array: conditions on the leading axes,
organisms on the last; positive means "stopped".
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache

import numpy as np

from stillroom import tables
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers
from stillroom.physics import growth
from stillroom.product import properties
from stillroom.product.mixture import Mixture

ROBUST_PSI = 1.3  # common practice: covers the scatter of pH, salt and acid
SUPERSEDED = "experiment_superseded"
POLYOL_RELIEF = 0.06  # a bacterium's limit with glycerol lies up to this much lower than with salt
HALOPHILE_SALT_PERCENT = 10.0
SALT_FLOOR = 0.75  # saturated brine: nothing is known to grow below it where salt does the work
# strains grow a step beyond the most lenient limit of the table, so the boundary model does not
# start to bite there: minima used for interaction lie this much lower
BEYOND_TABLE = {"temp_min_C": 1.0, "ph_min": 0.1, "aw_min": 0.01}
HUMECTANTS = ("salt", "sugar", "glycerol")


@dataclass(frozen=True)
class Conditions:
    """What an organism finds; every value broadcasts.

    Attributes:
        ph: equilibrium pH.
        water_activity: or None where only the salt is known.
        temperature_C: of storage.
        undissociated_mmol_per_kg: dose of each acid in the water phase.
        humectants: what lowers the water activity ("salt", "sugar", "glycerol"); None: unknown,
            so the most lenient limit holds.
        air: "air", "little" (a closed jar) or "none" (vacuum, anaerobic).
        water_phase_salt_percent: used where the water activity is not known.
        ethanol_percent_vol: of the water phase.
    """

    ph: Numbers
    water_activity: Numbers | None = None
    temperature_C: Numbers = 25.0
    undissociated_mmol_per_kg: Mapping[str, Numbers] = field(default_factory=dict)
    humectants: tuple[str, ...] | None = None
    air: str = "air"
    water_phase_salt_percent: Numbers | None = None
    ethanol_percent_vol: Numbers = 0.0


@dataclass(frozen=True)
class Organism:
    """An organism with its most lenient limits of the table; None where none is known."""

    name: str
    group: str
    limit_for: str  # growth or toxin
    life: str  # bacteria, lactic acid bacteria, yeast, mould
    heat_class: str  # vegetative, spore, ascospore
    aw_min: float | None
    ph_min: float | None
    ph_max: float | None
    salt_max_percent: float | None
    temp_min_C: float | None
    temp_max_C: float | None
    needs_air: bool
    only_in: str
    sources: tuple[str, ...]
    provenance: tuple[str, ...]

    @property
    def raw_material_risk(self) -> bool:
        """Whether it survives a hot fill of acid food and is held by clean fruit, not by recipe."""
        return self.heat_class == "ascospore" or self.name.startswith("Alicyclobacillus")

    @property
    def title(self) -> str:
        """Name, with "toxin of" where the limit is one of toxin."""
        return f"toxin of {self.name}" if self.limit_for == "toxin" else self.name


# --- limits -----------------------------------------------------------------------------------


@cache
def _rows_by_organism() -> Mapping[tuple[str, str], tuple[tables.Row, ...]]:
    grouped: dict[tuple[str, str], list[tables.Row]] = {}
    for r in tables.rows("growth_limits"):
        if r["evidence_class"] != SUPERSEDED:
            grouped.setdefault((str(r["organism"]), str(r["limit_for"])), []).append(r)
    return {key: tuple(rows) for key, rows in grouped.items()}


def organisms(humectants: tuple[str, ...] | None = None) -> list[Organism]:
    """Return every organism of the table with the limits that hold for these humectants."""
    return [
        _organism(name, limit_for, rows, humectants)
        for (name, limit_for), rows in _rows_by_organism().items()
    ]


def named(name: str, humectants: tuple[str, ...] | None = None) -> list[Organism]:
    """Return the entries that speak of an organism, aliases included.

    Raises:
        InputError: an organism that is not in the table.
    """
    wanted = name.strip().lower()
    hits = []
    for (organism, limit_for), rows in _rows_by_organism().items():
        names = {organism.lower(), *(a.strip().lower() for a in str(rows[0]["aliases"]).split(";"))}
        if wanted in names:
            hits.append(_organism(organism, limit_for, rows, humectants))
    if not hits:
        known = dict.fromkeys(o for o, _ in _rows_by_organism())
        raise InputError(
            f"{name!r} is not in the table of growth limits.{tables.near(name, known)}"
        )
    return hits


def _organism(
    name: str, limit_for: str, rows: Iterable[tables.Row], humectants: tuple[str, ...] | None
) -> Organism:
    rows = list(rows)
    life = str(rows[0]["life"])
    fallback = tables.index("fallback_limits")[life]

    def least(column: str) -> float | None:
        values = [r[column] for r in rows if r[column] is not None]
        return min(values) if values else None

    def most(column: str) -> float | None:
        values = [r[column] for r in rows if r[column] is not None]
        return max(values) if values else None

    aw = _aw_min(rows, humectants, life)
    ph, salt = least("ph_min"), most("water_phase_salt_max_pct")
    if aw is not None and salt is not None and (humectants is None or "salt" in humectants):
        aw = min(aw, _brine_water_activity(salt))  # salt holds it only if both limits say so
    # an organism without a limit of its own takes that of its kind, if the kind has one
    borrowed = [fallback["source"]] if aw is None or ph is None else []
    if aw is not None and humectants == ("salt",):
        aw = max(aw, SALT_FLOOR)
    return Organism(
        name=name,
        group=str(rows[0]["group"]),
        limit_for=limit_for,
        life=life,
        heat_class=str(rows[0]["heat_class"]),
        aw_min=fallback["aw_min"] if aw is None else aw,
        ph_min=fallback["ph_min"] if ph is None else ph,
        ph_max=most("ph_max"),
        salt_max_percent=salt,
        temp_min_C=least("temp_min_C"),
        temp_max_C=most("temp_max_C"),
        needs_air=all(r["oxygen"] in ("aerobic", "") for r in rows)
        and any(r["oxygen"] == "aerobic" for r in rows),
        only_in=str(rows[0]["only_in"]),
        sources=tuple(dict.fromkeys([*(str(r["source"]) for r in rows), *borrowed])),
        provenance=tuple(dict.fromkeys(str(r["provenance"]) for r in rows)),
    )


@cache
def _brine_water_activity(salt_percent: float) -> float:
    brine = Mixture.of({"NaCl": salt_percent, "water": 100 - salt_percent})
    return float(properties.water_activity(brine))


def _aw_min(rows: list[tables.Row], humectants: tuple[str, ...] | None, life: str) -> float | None:
    """Return the lowest water activity of the rows that apply to these humectants.

    Rows without a humectant and rows with salt are the default; a sugar or glycerol row holds in
    sugar or glycerol. Where sugar has a row of its own for a yeast or mould, that row is meant.
    """
    given = [(r["aw_min"], str(r["humectant_class"])) for r in rows if r["aw_min"] is not None]
    if humectants is None:
        return min((a for a, _ in given), default=None)
    classes = {"", "salt", *humectants}
    applying = [a for a, c in given if c in classes] or [a for a, _ in given]
    lowest = min(applying, default=None)
    no_glycerol_row = "glycerol" not in {c for _, c in given}
    if lowest is not None and "glycerol" in humectants and no_glycerol_row and "bacteria" in life:
        return lowest - POLYOL_RELIEF
    return lowest


# --- margins ----------------------------------------------------------------------------------


def margins(conditions: Conditions, who: list[Organism]) -> dict[str, Array]:
    """Return hurdle -> margin; positive where the hurdle alone stops the organism.

    Args:
        conditions: any leading axes.
        who: organisms, the last axis of every margin.

    Returns:
        Margins in the unit of the hurdle (water activity, pH, °C, share of the inhibiting dose);
        nan where no limit is known or the condition is not given.
    """
    ph = np.asarray(conditions.ph, float)[..., None]
    t = np.asarray(conditions.temperature_C, float)[..., None]
    result = {
        "acidity": _column(who, "ph_min") - ph,
        "alkalinity": ph - _column(who, "ph_max"),
        "cold": _column(who, "temp_min_C") - t,
        "warmth": t - _column(who, "temp_max_C"),
        "acid dose": _acid_margin(conditions, who),
    }
    if conditions.water_activity is not None:
        a_w = np.asarray(conditions.water_activity, float)[..., None]
        result["water activity"] = _column(who, "aw_min") - a_w
    elif conditions.water_phase_salt_percent is not None:
        salt = np.asarray(conditions.water_phase_salt_percent, float)[..., None]
        result["salt"] = salt - _column(who, "salt_max_percent")
    if np.any(conditions.ethanol_percent_vol):
        strength = np.asarray(conditions.ethanol_percent_vol, float)[..., None]
        most = np.array([alcohol_limit(o)["ethanol_max_percent_vol"] for o in who])
        result["alcohol"] = strength - most + 0 * ph
    if conditions.air == "none":
        result["no air"] = np.where([o.needs_air for o in who], 1.0, np.nan) + 0 * ph
    return result


def _column(who: list[Organism], name: str) -> Array:
    values = [getattr(o, name) for o in who]
    return np.array([np.nan if v is None else v for v in values], float)


def _acid_margin(conditions: Conditions, who: list[Organism]) -> Array:
    """Return sum(HA / MIC) - 1 with the dose that stops the least sensitive strain."""
    total: Array = np.full((1, len(who)), 0.0)
    for acid, dose in conditions.undissociated_mmol_per_kg.items():
        mic = np.array([_mic(o, acid) for o in who])
        total = total + np.asarray(dose, float)[..., None] / mic
    total = np.where(total > 0, total, np.nan)
    margin: Array = total - 1
    return margin if np.ndim(conditions.ph) or margin.shape[0] != 1 else margin[0]


def alcohol_limit(organism: Organism) -> tables.Row:
    """Return the row of the most alcohol in the water phase: its own, or that of its kind.

    Args:
        organism: of the growth table.
    """
    limits = tables.index("alcohol_limits")
    own = next((r for name, r in limits.items() if organism.name.startswith(str(name))), None)
    return own or limits[organism.life]


def acid_left(
    doses_mmol_per_kg: Mapping[str, Numbers], organism: Organism, middle: bool = False
) -> Array:
    """Return the share of growth that undissociated acids leave: 1 - sum(HA / MIC), never below 0.

    Args:
        doses_mmol_per_kg: of each acid in the water phase; values broadcast.
        organism: of the table.
        middle: by the middle strain, else by the least sensitive one.
    """
    taken: Array = np.zeros(())
    for acid, dose in doses_mmol_per_kg.items():
        taken = taken + np.asarray(dose, float) / _mic(organism, acid, middle)
    return np.maximum(1 - taken, 0.0)


@cache
def _mic_rows() -> Mapping[tuple[str, str], tuple[float, float]]:
    return {
        (str(r["organism"]), str(r["acid"])): (
            float(np.sqrt((r["mic_low_mmol_per_kg"] or high) * high)),
            high,
        )
        for r in tables.rows("acid_limits")
        for high in [float(r["mic_high_mmol_per_kg"])]
    }


def _mic(organism: Organism, acid: str, middle: bool = False) -> float:
    rows = _mic_rows()
    alias = "Escherichia coli pathogenic" if organism.name == "Escherichia coli" else organism.life
    found = rows.get((organism.name, acid)) or rows.get((alias, acid), (np.inf, np.inf))
    return found[0 if middle else 1]


def interaction(conditions: Conditions, who: list[Organism]) -> Array:
    """Return psi, the distance to the growth boundary when hurdles act together.

    nan where no cardinal values are known or the water activity is not given. Cardinal minima are
    never as strict as the limit table.
    """
    cardinals = tables.index("cardinals")
    ph = np.asarray(conditions.ph, float)
    psi = np.full((*ph.shape, len(who)), np.nan)
    if conditions.water_activity is None:
        return psi
    for n, organism in enumerate(who):
        row = cardinals.get(organism.name)
        if row is None or organism.limit_for != "growth":
            continue
        lowest = {
            c: min(x for x in (row[c], getattr(organism, c)) if x is not None) - step
            for c, step in BEYOND_TABLE.items()
        }
        t = np.broadcast_to(np.asarray(conditions.temperature_C, float), ph.shape)
        phi = [
            growth.hurdle_distance(t, lowest["temp_min_C"], row["temp_opt_C"]),
            growth.hurdle_distance(ph, lowest["ph_min"], row["ph_opt"]),
            growth.hurdle_distance(conditions.water_activity, lowest["aw_min"], row["aw_opt"]),
        ]
        doses = conditions.undissociated_mmol_per_kg
        if doses:
            stacked = np.stack([np.broadcast_to(d, ph.shape) for d in doses.values()], axis=-1)
            phi.append(growth.acid_distance(stacked, np.array([_mic(organism, a) for a in doses])))
        psi[..., n] = growth.interaction_psi(np.stack(np.broadcast_arrays(*phi), axis=-1))
    return psi


def stopped(conditions: Conditions, who: list[Organism], together: bool = True) -> Array:
    """Return whether each organism is stopped, by one hurdle or by several together.

    Args:
        conditions: any leading axes.
        who: organisms, the last axis.
        together: count the combination of hurdles near their limits (psi of ROBUST_PSI or more).
    """
    with np.errstate(invalid="ignore"):
        alone = np.any(np.stack(np.broadcast_arrays(*_bare(conditions, who))) > 0, axis=0)
        return alone | (interaction(conditions, who) >= ROBUST_PSI) if together else alone


def _bare(conditions: Conditions, who: list[Organism]) -> list[Array]:
    return list(margins(conditions, who).values())


def can_grow(name: str, conditions: Conditions, together: bool = True) -> bool:
    """Return whether an organism could grow: the limits of every entry that speaks of it.

    Raises:
        InputError: an organism that is not in the table.
    """
    who = named(name, conditions.humectants)
    growing = [o for o in who if o.limit_for == "growth"] or who
    return not np.all(stopped(conditions, growing, together))
