"""Laws of the charge balance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import stillroom as sr
from stillroom.physics import acid, titration
from stillroom.product import properties

NAMES = ["acetic", "citric", "lactic", "malic", "tartaric", "phosphoric", "benzoic", "sorbic"]
TOTALS = st.lists(st.floats(0, 0.3), min_size=len(NAMES), max_size=len(NAMES))
CHARGE = st.floats(-0.05, 0.4)
SALT = st.floats(0, 1.2)


def made(totals, charge=0.0, salt=0.0, ideal=False):
    return acid.Solution(
        totals, [properties.acid(n) for n in NAMES], charge, abs(charge) / 2 + salt, ideal=ideal,
        salting_out_kg_per_mol=0.1,
    )  # fmt: skip


@given(TOTALS, CHARGE, SALT)
def test_the_charge_falls_strictly_with_ph(totals, charge, salt):
    ladder = np.linspace(0.5, 12.5, 60)
    assert np.all(np.diff(acid.charge_balance(made(totals, charge, salt), ladder)[0]) < 0)


@given(TOTALS, CHARGE, SALT)
def test_the_solved_charges_add_up(totals, charge, salt):
    solution = made(totals, charge, salt)
    ph = acid.equilibrium_ph(solution)
    beta = titration.buffer_capacity_mol_per_kg(solution, ph)
    assert abs(float(acid.charge_balance(solution, ph)[0])) < 2e-9 * float(beta) + 1e-13


@given(TOTALS, CHARGE, SALT)
def test_the_order_of_acids_does_not_matter(totals, charge, salt):
    there = made(totals, charge, salt)
    back = acid.Solution(
        there.totals_mol_per_kg[::-1], there.acids[::-1], charge, there.background_mol_per_kg,
        salting_out_kg_per_mol=0.1,
    )  # fmt: skip
    assert float(acid.equilibrium_ph(back)) == pytest.approx(
        float(acid.equilibrium_ph(there)), abs=1e-8
    )


@given(TOTALS, CHARGE, st.sampled_from(NAMES), st.floats(0.001, 0.2))
def test_more_acid_never_raises_the_ph(totals, charge, name, more):
    n = NAMES.index(name)
    less = made(totals, charge, ideal=True)
    added = [t + more * (i == n) for i, t in enumerate(totals)]
    assert acid.equilibrium_ph(made(added, charge, ideal=True)) <= acid.equilibrium_ph(less) + 1e-9


@given(TOTALS, CHARGE, SALT, st.floats(2.5, 9.0))
def test_the_unassigned_charge_makes_a_measured_ph_true(totals, charge, salt, ph):
    known = made(totals, charge, salt)
    unassigned = titration.strong_charge_for_ph(known, ph)
    full = acid.Solution(
        known.totals_mol_per_kg, known.acids, charge + unassigned,
        known.background_mol_per_kg + np.abs(unassigned) / 2, salting_out_kg_per_mol=0.1,
    )  # fmt: skip
    assert float(acid.equilibrium_ph(full)) == pytest.approx(ph, abs=1e-4)


@given(TOTALS, CHARGE, st.floats(2.8, 6.0))
def test_the_dose_for_a_ph_reaches_it(totals, charge, target):
    start = made(totals, charge)
    dose = titration.dose_for_ph(start, properties.acid("lactic"), target)
    if dose < 0:
        return
    after = acid.Solution(
        [*start.totals_mol_per_kg, dose], [*start.acids, properties.acid("lactic")], charge,
        start.background_mol_per_kg, salting_out_kg_per_mol=0.1,
    )  # fmt: skip
    assert float(acid.equilibrium_ph(after)) == pytest.approx(target, abs=1e-3)


@given(TOTALS, CHARGE, SALT)
def test_buffer_capacity_is_the_slope_of_the_balance(totals, charge, salt):
    solution = made(totals, charge, salt, ideal=True)
    h = 1e-4
    slope = (
        acid.charge_balance(solution, 4.0 - h)[0] - acid.charge_balance(solution, 4.0 + h)[0]
    ) / (2 * h)
    assert float(titration.buffer_capacity_mol_per_kg(solution, 4.0)) == pytest.approx(
        float(slope), rel=1e-5
    )


@given(st.floats(-0.5, 13.5), st.sampled_from(NAMES))
def test_the_forms_of_an_acid_add_up_to_one(ph, name):
    shares = acid.species_fractions(ph, list(properties.acid(name).pKa))
    assert float(sum(shares)) == pytest.approx(1.0)
    assert all(s >= 0 for s in shares)


def test_a_preservative_salt_in_water_is_alkaline():
    """Sodium benzoate brings its sodium: pH above 7 in pure water."""
    assert float(sr.ph(sr.Mixture.of({"water": 1000.0, "sodium_benzoate": 1.0}))) > 7.0


def test_forgetting_the_cation_would_sour_it():
    salt = sr.ph(sr.Mixture.of({"water": 1000.0, "citric": 2.0, "potassium_sorbate": 1.0}))
    free = sr.ph(sr.Mixture.of({"water": 1000.0, "citric": 2.0, "sorbic": 0.7464}))
    assert float(salt) > float(free) + 0.05


def test_ph_values_do_not_average():
    lemon, milk = sr.Mixture.of({"water": 90.0, "citric": 5.0}), sr.Mixture.of({"water": 100.0})
    assert float(sr.ph(lemon + milk)) < (float(sr.ph(lemon)) + float(sr.ph(milk))) / 2 - 1


def test_salt_lowers_the_ph_of_an_acid_brine():
    """1-3 % salt reads 0.10-0.15 lower than an ideal solution: Davies 1962."""
    plain = sr.Mixture.of({"water": 1000.0, "lactic": 9.0})
    buffered = plain + sr.Mixture.of({"sodium_lactate": 5.0})
    salted = buffered + sr.Mixture.of({"NaCl": 25.0})
    assert 0.03 < float(sr.ph(buffered) - sr.ph(salted)) < 0.20


def test_the_citrate_standard_at_two_temperatures():
    """NBS citrate standard 3.776 at 25 °C, 3.756 at 40 °C [memory]: Staples & Bates 1969."""
    citrate = sr.Mixture.of({"water": 1000.0, "citric": 0.05 * 192.123, "K": 0.05 * 39.0983})
    assert float(sr.ph(citrate, 25.0)) == pytest.approx(3.776, abs=0.03)
    assert float(sr.ph(citrate, 40.0)) == pytest.approx(3.756, abs=0.03)


def test_undissociated_dose_counts_in_the_water_phase():
    """A jam concentrates acid in its water; fat takes sorbic acid away: Lueck & Jager."""
    lean = sr.Mixture.of({"water": 500.0, "sorbic": 0.5})
    sweet = lean + sr.Mixture.of({"sucrose": 500.0})
    fatty = lean + sr.Mixture.of({"fat": 300.0})
    dose = [float(sr.undissociated_mmol_per_kg(m, "sorbic", 4.2)) for m in (lean, sweet, fatty)]
    assert dose[1] == pytest.approx(dose[0])
    assert dose[2] < 0.65 * dose[0]
