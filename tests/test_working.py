"""Every line of the working can be replayed, and the board says what a teacher would."""

from __future__ import annotations

import numpy as np
import pytest

import stillroom as sr
from stillroom import labels
from stillroom.assess import worked
from stillroom.physics import water
from stillroom.working import Known, Working

PRODUCTS = {
    "spread": {"water": 340.0, "sucrose": 420.0, "glucose": 90.0, "fructose": 90.0, "malic": 9.0, "K": 1.2, "pectin": 8.0},
    "pickle": {"water": 900.0, "acetic": 14.0, "NaCl": 22.0, "sucrose": 10.0, "fibre": 8.0},
    "cordial": {"water": 500.0, "sucrose": 480.0, "citric": 9.0, "potassium_sorbate": 0.4},
}  # fmt: skip


@pytest.fixture(params=sorted(PRODUCTS))
def board(request):
    m = sr.Mixture.of(PRODUCTS[request.param])
    return m, worked.write(m, float(sr.ph(m)), float(sr.water_activity(m)))


def test_every_line_replays(board):
    for line in board[1].lines:
        np.testing.assert_allclose(line.replay(), line.result.value, rtol=1e-12)


def test_every_input_says_what_it_is(board):
    for line in board[1].lines:
        for name, known in line.inputs.items():
            assert known.kind in {"given", "tabulated", "assumed", "calculated"}, name
            assert known.kind != "tabulated" or known.source or name == "charge", name


def test_the_claims_of_water_add_up(board):
    _m, written = board
    said = [i for _, items in written.parts for i in items if isinstance(i, str)]
    together = next(s for s in said if s.startswith("Together"))
    claimed, there = (float(w) for w in together.split() if w[0].isdigit())
    assert claimed == pytest.approx(there, rel=0.005)


def test_the_board_shows_both_estimates_and_which_way_the_simple_one_errs(board):
    m, written = board
    text = " ".join(i for _, items in written.parts for i in items if isinstance(i, str))
    simple = float(sr.water_activity(m, model="ideal"))
    assert f"{simple:.3f}" in text or "agrees" in text
    assert "simple rule" in text


def test_sources_are_listed_once(board):
    sources = board[1].sources()
    assert len(sources) == len(set(sources)) > 3


def test_a_value_outside_its_fitted_range_is_told():
    work = Working()
    work.heading("test")
    work.apply(water.norrish_molality, water_activity=Known(0.5), K=Known(6.47))
    assert "outside 0.65 to 1" in work.lines[0].outside()[0]


def test_only_labelled_formulas_can_be_written_down():
    work = Working()
    work.heading("test")
    with pytest.raises(TypeError, match="carries no formula label"):
        work.apply(max, a=1)


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("temperature_C", "°C"),
        ("salt_kg", "kg"),
        ("solute_mol_per_kg", "mol/kg"),
        ("ph", ""),
        ("brix", ""),
        ("time_min", "min"),
    ],
)
def test_a_suffix_says_the_unit(name, unit):
    assert labels.unit_of(name) == unit
