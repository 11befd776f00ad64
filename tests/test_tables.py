"""The loader speaks up; the tables agree with each other."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom import tables
from stillroom.errors import InputError, TableError
from stillroom.product.mixture import Mixture, components, of_kind

HEAD = "solute,K,max_molality_mol_per_kg,source,provenance\n"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("solute,K\n", "norrish.csv has no column max_molality_mol_per_kg, provenance, source."),
        (HEAD + "a,ten,,x,seen\n", "norrish.csv row 2, column K: 'ten' is not a number."),
        (HEAD + "a,1e999,,x,seen\n", "norrish.csv row 2, column K: '1e999' is not a number."),
        (HEAD + "a,,,x,seen\n", "norrish.csv row 2, column K is blank."),
        (HEAD + "a,1,,,seen\n", "norrish.csv row 2, column source is blank."),
        (HEAD + "a,1,,x,seen\na,2,,x,seen\n", "norrish.csv row 3: ('a',) stands in row 2 already."),
        (HEAD + "a,1,,x\n", "norrish.csv row 2 has not as many cells as the header."),
    ],
)
def test_a_bad_row_is_named(text, message):
    with pytest.raises(TableError) as problem:
        tables.parse("norrish", text)
    assert str(problem.value) == message


def test_a_guess_is_no_provenance():
    with pytest.raises(TableError, match="does not start with seen, memory"):
        tables.parse("norrish", HEAD + "a,1,,x,rumour\n")


def test_rows_cannot_be_changed():
    with pytest.raises(TypeError):
        tables.rows("norrish")[0]["K"] = 0


def test_unknown_keys_get_near_ones():
    with pytest.raises(InputError, match="Near it: sucrose"):
        tables.row("norrish", "sucros")


COMPOUNDS = sorted({str(r["compound"]) for r in tables.rows("compounds")})


@pytest.mark.parametrize("compound", COMPOUNDS)
def test_the_mass_of_a_pure_compound_closes(compound):
    """Components weighed as a mixture add up to the compound: IUPAC atomic weights."""
    assert float(Mixture.of({compound: 1000.0}).total_kg) == pytest.approx(1.0, abs=2e-4)


def test_every_solute_has_a_curve_and_every_polymer_an_isotherm():
    for solute in of_kind("sugar", "polyol", "alcohol", "solute", "acid"):
        assert solute in tables.index("norrish"), solute
    for polymer in of_kind("polymer"):
        assert polymer in tables.index("gab"), polymer


def test_every_cation_meets_every_anion():
    pairs = {(r["cation"], r["anion"]) for r in tables.rows("pitzer")}
    anions = {"Cl", "nitrate", "nitrite", "carboxylate", "carboxylate_2", "carboxylate_3"}
    assert pairs == {(c, a) for c in ("Na", "K", "Ca", "Mg") for a in anions}


def test_masses_of_acids_agree_with_their_dissociation_table():
    acids = {str(r["acid"]) for r in tables.rows("acids")}
    assert set(of_kind("acid")) <= acids


def test_growth_limits_are_in_order():
    for r in tables.rows("growth_limits"):
        if r["ph_min"] is not None and r["ph_max"] is not None:
            assert r["ph_min"] < r["ph_max"]
        if r["temp_min_C"] is not None and r["temp_max_C"] is not None:
            assert r["temp_min_C"] < r["temp_max_C"]
        assert r["aw_min"] is None or 0.5 < r["aw_min"] < 1


def test_foods_have_ordered_ph_and_closed_proximates():
    for r in tables.rows("foods"):
        if r["ph_typical"] is not None:
            assert (r["ph_low"] or 0) <= r["ph_typical"] <= (r["ph_high"] or 14), r["food"]


def test_a_mixture_has_one_place_for_each_component():
    assert len(set(components())) == len(components())
    assert np.all(np.isfinite(Mixture.nothing().amounts))
