"""What acid kills without heat: only what was shown by experiment, never between the lines."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom import tables
from stillroom.errors import InputError
from stillroom.product.mixture import Mixture

DECADES = 5.0


@dataclass(frozen=True)
class Brine:
    """What cells lie in.

    Attributes:
        ph: equilibrium pH, the careful end.
        acid: that sours it: acetic, citric or lactic.
        temperature_C: of the hold.
        acetic_percent: of the whole.
        benzoic_mmol_per_kg: total.
        fumaric_mmol_per_kg: total.
        salt_percent: of the water phase.
    """

    ph: float
    acid: str
    temperature_C: float
    acetic_percent: float = 0.0
    benzoic_mmol_per_kg: float = 0.0
    fumaric_mmol_per_kg: float = 0.0
    salt_percent: float = 0.0


@dataclass(frozen=True)
class Hold:
    """A hold that was shown to take five decades."""

    organism: str
    hours: float
    medium: str
    source: str
    provenance: str

    @property
    def d_hours(self) -> float:
        """Mean time to a tenth."""
        return self.hours / DECADES


def hold(brine: Brine, organism: str | None = None) -> Hold:
    """Return the shortest hold that a published experiment supports.

    Args:
        brine: no milder than that of the experiment in any respect.
        organism: one of the table; the one that governs by default.

    Raises:
        InputError: nothing supports it.
    """
    fitting = [
        r
        for r in tables.rows("acid_hold")
        if (r["organism"] == organism if organism else r["governs"]) and _covers(r, brine)
    ]
    if not fitting:
        raise InputError(
            f"no experiment on file shows an acid kill at pH {brine.ph:.2f} with {brine.acid} acid "
            f"at {brine.temperature_C:g} °C: heat it, or have a challenge study made."
        )
    r = min(fitting, key=lambda r: r["hours_5log"])
    return Hold(
        *(str(r["organism"]), r["hours_5log"], str(r["medium"])),
        *(str(r["source"]), str(r["provenance"])),
    )


def _covers(r: tables.Row, brine: Brine) -> bool:
    return (
        r["acid"] == brine.acid
        and brine.ph <= r["ph_max"] + 1e-9
        and (r["temperature_C"] is None or brine.temperature_C >= r["temperature_C"])
        and brine.acetic_percent >= (r["acetic_min_percent"] or 0.0)
        and brine.benzoic_mmol_per_kg >= (r["benzoic_min_mmol_per_kg"] or 0.0)
        and brine.fumaric_mmol_per_kg >= (r["fumaric_min_mmol_per_kg"] or 0.0)
        and (r["salt_max_percent"] is None or brine.salt_percent <= r["salt_max_percent"])
    )


def brine_of(mixture: Mixture, ph: float, temperature_C: float, salt_percent: float) -> Brine:
    """Return a product as cells find it.

    Args:
        mixture: of the product, no leading axes.
        ph: the careful end of its pH.
        temperature_C: of the hold.
        salt_percent: of its water phase.
    """
    total = float(mixture.total_kg)
    sour = max(("acetic", "citric", "lactic", "malic"), key=lambda a: float(mixture.mol(a)))
    return Brine(
        ph=ph,
        acid=sour,
        temperature_C=temperature_C,
        acetic_percent=100 * float(mixture.kg("acetic")) / total,
        benzoic_mmol_per_kg=1000 * float(mixture.mol("benzoic")) / total,
        salt_percent=salt_percent,
    )
