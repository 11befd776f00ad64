"""Which rows of a list speak of a food: the most specific code, then the words.

Words given pick the rows that name the food, else the general rows of the code. A bare code leaves
every food of the code open; words that no row knows leave them open too, and that none is meant.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from itertools import product

from stillroom.assess.law.categories import Category, is_within
from stillroom.assess.law.limits import Limit

Rows = tuple[Limit, ...]


def alternatives(rows: Rows, families: Iterable[str], where: Category, day: date) -> list[Rows]:
    """Return the sets of rows that may be meant, one of which is; usually there is one.

    Args:
        rows: of one market, at any date.
        families: of the additives used.
        where: category of the food.
        day: on which they must be in force; an expired row never gives way to a wider code.
    """
    sets = [_of_cluster(rows, cluster, where, day) for cluster in _clusters(rows, families)]
    return [tuple(x for chosen in combination for x in chosen) for combination in product(*sets)]


def _clusters(rows: Rows, families: Iterable[str]) -> list[frozenset[str]]:
    """Return the families in groups that share a row."""
    clusters = [frozenset({f}) for f in families]
    for row in rows:
        joined = [c for c in clusters if c & {*row.families, *row.with_families}]
        if len(joined) > 1:
            rest = [c for c in clusters if c not in joined]
            clusters = [*rest, frozenset().union(*joined)]
    return clusters


def _of_cluster(rows: Rows, cluster: frozenset[str], where: Category, day: date) -> list[Rows]:
    every, open_code = standing_rows(rows, cluster, where)
    standing = [x for x in every if x.in_force(day)]
    excluded = [x for x in standing if x.not_words and where.names(x.not_words)]
    left = [x for x in standing if x not in excluded]
    general = [x for x in left if not x.words]
    named = [x for x in left if x.words]
    if not where.words or open_code:
        foods = _foods(named, general)
        return [tuple(general), *foods] if general or not foods else foods
    meant = [x for x in named if where.names(x.words)]
    if meant or general:
        return [_over(meant, general)]
    if any(not x.words for x in excluded) or not named:
        return [()]
    return [*_foods(named, general), ()]


def standing_rows(rows: Rows, cluster: frozenset[str], where: Category) -> tuple[list[Limit], bool]:
    """Return the rows at the most specific code for each family; whether only narrower ones are.

    Args:
        rows: of one market.
        cluster: families of the additives.
        where: category of the food.
    """
    about = [x for x in rows if cluster & set(x.families)]
    depth = {
        f: max((_depth(x, where) for x in about if f in x.families), default=-1) for f in cluster
    }
    hits = [
        x
        for x in about
        if x.covers(where) and any(_depth(x, where) == depth[f] for f in cluster & set(x.families))
    ]
    if hits or not where.code:
        return hits, False
    return [x for x in about if any(is_within(c, where.code) for c in x.codes)], True


def _depth(limit: Limit, where: Category) -> int:
    if not limit.codes:
        return 0
    return max((len(c) for c in limit.codes if is_within(where.code, c)), default=-1)


def _over(named: list[Limit], general: list[Limit]) -> Rows:
    """Return the rows that name the food, and the general ones of other families."""
    spoken = {f for x in named for f in x.families}
    return (*named, *(x for x in general if not spoken & set(x.families)))


def _foods(named: list[Limit], general: list[Limit]) -> list[Rows]:
    foods = dict.fromkeys(x.food for x in named)
    return [_over([x for x in named if x.food == food], general) for food in foods]
