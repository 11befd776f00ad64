"""Additives by name, number and family, and their amounts in the form a limit is expressed in.

    c_legal = c_salt * n * M_legal / M_salt

Molar masses come from the formulas and the IUPAC atomic weights (2021, abridged to five digits).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from stillroom import tables
from stillroom.errors import InputError

ATOMIC_WEIGHTS: Mapping[str, float] = {
    "H": 1.008, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.990, "S": 32.06, "K": 39.098,
    "Ca": 40.078,
}  # fmt: skip

# the forms a limit may be expressed in; "acid" is the free acid of the family
FORMS: Mapping[str, str] = {
    "SO2": "SO2", "NO2": "NO2", "NO3": "NO3", "NaNO2": "NaNO2", "NaNO3": "NaNO3", "KNO3": "KNO3",
}  # fmt: skip
ACIDS: Mapping[str, str] = {
    "sorbates": "C6H8O2",
    "benzoates": "C7H6O2",
    "parabens": "C7H6O3",
    "propionates": "C3H6O2",
    "ascorbates": "C6H8O6",
    "erythorbates": "C6H8O6",
}
NAMED = "named"  # the limit is on the substance as it was weighed


@dataclass(frozen=True)
class Substance:
    """An additive.

    Attributes:
        name: as the trade calls it.
        number: INS or E number, "" where it has none.
        family: the group whose limits it shares.
        formula: chemical formula, "" where no limit needs one.
        units: acid residues, or sulphur or nitrogen atoms, in the formula.
        also: other names.
    """

    name: str
    number: str
    family: str
    formula: str = ""
    units: int = 1
    also: tuple[str, ...] = ()


@cache
def substances() -> tuple[Substance, ...]:
    """Return every additive of the table."""
    return tuple(
        Substance(
            name=str(r["additive"]),
            number=str(r["number"]),
            family=str(r["family"]),
            formula=str(r["formula"]),
            units=int(r["residues"] or 1),
            also=tuple(filter(None, str(r["also"]).split("; "))),
        )
        for r in tables.rows("additives")
    )


def _spelt(name: str) -> str:
    """Return a name in one spelling: sulfite, sulphite and sulphites alike."""
    text = re.sub(r"[_\s]+", " ", name.strip().lower()).replace("sulf", "sulph")
    return text.replace("aluminum", "aluminium")


@cache
def _by_name() -> Mapping[str, Substance]:
    names = {_spelt(n): s for s in substances() for n in (s.name, *s.also)}
    return names | {s.number: s for s in substances() if s.number}


def substance(name: str) -> Substance:
    """Return the additive of this name, other name or number ("E 202", "INS 202", "202").

    Raises:
        InputError: not known, with near names.
    """
    key = re.sub(r"^(e|ins)[\s-]*(?=\d)", "", _spelt(name))
    try:
        return _by_name()[key]
    except KeyError:
        known = [n for s in substances() for n in (s.name, *s.also)]
        raise InputError(f"additive {name!r} is not known.{tables.near(name, known)}") from None


@cache
def molar_mass_g_per_mol(formula: str) -> float:
    """Return the sum of the atomic weights of a formula such as Na2S2O5."""
    return sum(
        ATOMIC_WEIGHTS[atom] * int(count or 1)
        for atom, count in re.findall(r"([A-Z][a-z]?)(\d*)", formula)
    )


def factor(of: Substance, form: str) -> float | None:
    """Return grams of the legal form in a gram of a substance, None if it has no such form.

    n * M_legal / M_salt

    Args:
        of: the additive as weighed.
        form: acid, SO2, NO2, NO3, NaNO2, NaNO3, KNO3 or named.
    """
    legal = ACIDS.get(of.family) if form == "acid" else FORMS.get(form)
    if form == NAMED:
        return 1.0
    if not legal or not of.formula or not _same_element(of, form):
        return None
    return of.units * molar_mass_g_per_mol(legal) / molar_mass_g_per_mol(of.formula)


def _same_element(of: Substance, form: str) -> bool:
    """Whether the legal form counts what this family holds: sulphur, nitrogen or its own acid."""
    if form == "SO2":
        return of.family == "sulphites"
    return form == "acid" or of.family in ("nitrites", "nitrates")


def _converted(salt: str, mg_per_kg: float, form: str, family: tuple[str, ...]) -> float:
    of = substance(salt)
    share = factor(of, form) if of.family in family else None
    if share is None:
        raise InputError(f"{salt!r} is not expressed as {form}.")
    return mg_per_kg * share


def as_acid_mg_kg(salt: str, mg_per_kg: float) -> float:
    """Return a preservative as its free acid: c * n * M_acid / M_salt.

    Raises:
        InputError: the substance is no salt of a listed acid.
    """
    return _converted(salt, mg_per_kg, "acid", tuple(ACIDS))


def as_so2_mg_kg(salt: str, mg_per_kg: float) -> float:
    """Return a sulphite as sulphur dioxide: c * n * M_SO2 / M_salt.

    Raises:
        InputError: the substance is no sulphite.
    """
    return _converted(salt, mg_per_kg, "SO2", ("sulphites",))


def as_no2_mg_kg(salt: str, mg_per_kg: float) -> float:
    """Return a nitrite as nitrite ion: c * M_NO2 / M_salt.

    Raises:
        InputError: the substance is no nitrite.
    """
    return _converted(salt, mg_per_kg, "NO2", ("nitrites",))


def as_no3_mg_kg(salt: str, mg_per_kg: float) -> float:
    """Return a nitrate as nitrate ion: c * M_NO3 / M_salt.

    Raises:
        InputError: the substance is no nitrate.
    """
    return _converted(salt, mg_per_kg, "NO3", ("nitrates",))
