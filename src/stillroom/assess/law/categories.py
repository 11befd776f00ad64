"""A food category: the code of a list, and the words that pick a row among those of one code."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache

from stillroom import tables

# words that say nothing about which row is meant
IDLE = frozenset(
    {"a", "all", "and", "any", "as", "food", "for", "general", "generally", "in", "listed", "of",
     "or", "product", "the", "with"}
)  # fmt: skip


@dataclass(frozen=True)
class Category:
    """The code as numbers (empty where the list has none) and the words, in order."""

    code: tuple[int, ...]
    words: tuple[str, ...]

    @property
    def facts(self) -> dict[str, bool]:
        """The facts that the words state; what they state both ways stays unknown."""
        stated = {}
        for r in tables.rows("stated_words"):
            rest, denied = _without(self.words, str(r["no"]))
            affirmed = _without(rest, str(r["yes"]))[1]
            if affirmed != denied:
                stated[str(r["fact"])] = affirmed
        return stated

    def names(self, alternatives: str) -> bool:
        """Whether all words of one of the alternatives are among the words, in any order."""
        return any(set(p) <= set(self.words) for p in phrases(alternatives))


def category(text: str) -> Category:
    """Return a category from text such as "04.2.1 dried apple" or "fresh-cut apple"."""
    match = re.match(r"\s*(\d+(?:\.\d+)*)?(.*)", text, re.DOTALL)
    assert match
    return Category(code(match[1] or ""), words(match[2]))


@cache
def code(text: str) -> tuple[int, ...]:
    """Return a code as numbers, so that 04.2.1 and 4.2.1 are one; codes of two lists never mix."""
    return tuple(int(part) for part in text.split(".") if part)


def printed(code: tuple[int, ...], market: str) -> str:
    """Return a code as its list prints it, such as 04.2.5.2, or 4.3.4 in AU-NZ."""
    first, *rest = code
    head = str(first) if market == "AU-NZ" else f"{first:02d}"
    return ".".join([head, *map(str, rest)])


@cache
def words(text: str) -> tuple[str, ...]:
    """Return the telling words of a text in lower case, without accents, in the singular."""
    plain = unicodedata.normalize("NFKD", text.lower()).encode("ascii", "ignore").decode()
    plain = plain.replace("sulf", "sulph")
    found = re.findall(r"[a-z]+|\d+(?:\.\d+)?|[<>]=?", plain)
    return tuple(w for w in map(_singular, found) if w not in IDLE)


@cache
def phrases(alternatives: str) -> tuple[tuple[str, ...], ...]:
    """Return "fig; dried fish" as phrases, each a tuple of words."""
    return tuple(p for p in (words(a) for a in alternatives.split(";")) if p)


def _without(among: tuple[str, ...], alternatives: str) -> tuple[tuple[str, ...], bool]:
    """Return the words less every phrase of the alternatives, and whether there was one."""
    text = whole = f" {' '.join(among)} "
    for phrase in phrases(alternatives):
        text = text.replace(f" {' '.join(phrase)} ", " / ")
    return tuple(text.split()), text != whole


def _singular(word: str) -> str:
    for ending, stem in (("ies", "y"), ("oes", "o"), ("ches", "ch"), ("shes", "sh")):
        if word.endswith(ending) and len(word) > 4:
            return word.removesuffix(ending) + stem
    return word[:-1] if len(word) > 3 and re.search(r"[^su]s$", word) else word


def is_within(inner: tuple[int, ...], outer: tuple[int, ...]) -> bool:
    """Return whether a code is the other or stands below it."""
    return inner[: len(outer)] == outer
