"""What a product is sold as: its category in each list, its standard, what it is by nature."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from stillroom import tables
from stillroom.assess.law.verdicts import market_named

CATEGORY_COLUMNS: Mapping[str, str] = {
    "US": "us_additive_words",
    "EU": "eu_category",
    "UK-GB": "eu_category",  # Great Britain keeps the categories of the Union list
    "Codex": "codex_category",
    "Canada": "canada_category",
    "AU-NZ": "anz_category",
}
FACTS = ("is_tomato", "alcoholic_beverage", "meat_poultry", "animal_origin")
ADDITIVE_FACTS = ("meat_poultry", "thiamine_source", "sold_raw")
TRUTH = {"true": True, "false": False, "": None}


@dataclass(frozen=True)
class Kind:
    """A kind of product; a blank cell of its row is unknown, never a guess.

    Attributes:
        name: as a recipe declares it.
        words: what it is.
        us_category: the category in the words of the US rules, "" if unknown.
        standard: kind of product in the table of standards, "" if none.
        provenance: how the row was obtained.
        row: the row of the table.
    """

    name: str
    words: str
    us_category: str
    standard: str
    provenance: str
    row: tables.Row

    def category(self, market: str, foods: Iterable[str] = ()) -> str | None:
        """Return the additive category in a market, None where it is not known.

        Args:
            market: such as EU.
            foods: main ingredients, which pick the row of dried foods and the like.
        """
        cell = str(self.row[CATEGORY_COLUMNS[market_named(market)]])
        return cell.replace("{food}", " ".join(foods)).strip() or None

    @property
    def concentrate(self) -> bool:
        """Whether it is diluted before it is drunk, by the instructions on its label."""
        return TRUTH[str(self.row["concentrate"])] is True

    @property
    def facts(self) -> dict[str, bool]:
        """What the rules of pathway may ask and the kind knows."""
        return self._known(FACTS)

    @property
    def additive_facts(self) -> dict[str, bool]:
        """What the limits of additives may ask and the kind knows."""
        return self._known(ADDITIVE_FACTS)

    def _known(self, names: Iterable[str]) -> dict[str, bool]:
        cells = {name: TRUTH[str(self.row[name])] for name in names}
        return {name: value for name, value in cells.items() if value is not None}


def kind_named(name: str) -> Kind:
    """Return a kind of product.

    Raises:
        InputError: not in the table, with near names.
    """
    row = tables.row("kinds", name)
    return Kind(name, row["words"], row["us_category"], row["standard"], row["provenance"], row)


def kinds() -> tuple[Kind, ...]:
    """Return every kind of product, in the order of the table."""
    return tuple(kind_named(str(r["kind"])) for r in tables.rows("kinds"))
