"""Which row of the rate tables stands for an organism: its own name, or else its class."""

from __future__ import annotations

from stillroom import tables
from stillroom.assess.hazards import Organism
from stillroom.assess.heat.findings import THERMOPHILES_FROM_C

COLD_C = 5.0  # psychrotrophic bacteria grow below it, warm moulds only from it on
XEROPHILIC_BELOW, OSMOTOLERANT_BELOW = 0.77, 0.80


def class_of(organism: Organism) -> str:
    """Return the class whose rates stand for an organism without rates of its own."""
    spore, cold = organism.heat_class != "vegetative", organism.temp_min_C
    dry = organism.aw_min if organism.aw_min is not None else 1.0
    if organism.life == "mould":
        if spore:
            return "ascospore mould"
        if organism.only_in == "salt":
            return "halophilic mould"
        if dry < XEROPHILIC_BELOW:
            return "xerophilic mould"
        return "warm mould" if cold is not None and cold >= COLD_C else "mould"
    if organism.life == "yeast":
        return "osmotolerant yeast" if dry < OSMOTOLERANT_BELOW else "yeast"
    if organism.life != "bacteria":
        return organism.life
    if spore:
        hot = cold is not None and cold >= THERMOPHILES_FROM_C
        return "thermophile" if hot else "spore former"
    if organism.only_in == "salt":
        return "halophile"
    chilled = cold is not None and cold < COLD_C
    return "psychrotrophic bacteria" if chilled else "mesophilic bacteria"


def row_of(table: str, organism: Organism) -> tables.Row:
    """Return the row of rates that names an organism, or else its class."""
    rows = tables.rows(table)
    for name in (organism.name, class_of(organism)):
        for r in rows:
            if name in [n.strip() for n in str(r["stands_for"]).split(";")]:
                return r
    raise AssertionError(f"{table}.csv has no class for {organism.name}")


def pathogen_end(organism: Organism) -> tables.Row:
    """Return what counts as the end where a pathogen grows."""
    rows = tables.rows("pathogen_ends")
    for r in rows:
        names = [n.strip() for n in str(r["begins_with"]).split(";") if n.strip()]
        if organism.name.startswith(tuple(names)):
            return r
    return rows[0]
