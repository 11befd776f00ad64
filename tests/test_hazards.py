"""Limits, margins and what may be concluded from them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom.assess import hazards
from stillroom.assess.hazards import Conditions
from stillroom.errors import InputError

WHO = hazards.organisms()
PH, AW, TEMPERATURE = st.floats(2, 8), st.floats(0.6, 0.999), st.floats(-2, 50)


@given(PH, AW, TEMPERATURE, st.floats(0, 1), st.floats(0, 0.1))
def test_a_stronger_hurdle_never_frees_an_organism(ph, a_w, t, sourer, drier):
    before = hazards.stopped(Conditions(ph, a_w, t), WHO)
    after = hazards.stopped(Conditions(ph - sourer, a_w - drier, t), WHO)
    assert np.all(after | ~before | (ph > 7))  # above pH 7 souring can help an organism


@given(PH, AW, TEMPERATURE, st.floats(0, 300))
def test_more_undissociated_acid_never_frees_an_organism(ph, a_w, t, dose):
    without = hazards.stopped(Conditions(ph, a_w, t), WHO)
    with_acid = hazards.stopped(Conditions(ph, a_w, t, {"acetic": dose}), WHO)
    assert np.all(with_acid | ~without)


def test_exactly_on_a_limit_an_organism_can_grow():
    """FDA table: proteolytic Clostridium botulinum grows from pH 4.6; Listeria Salmonella from a_w 0.94."""
    assert hazards.can_grow("Clostridium botulinum proteolytic", Conditions(4.6, 0.99))
    assert not hazards.can_grow("Clostridium botulinum proteolytic", Conditions(4.59, 0.99))
    salt = ("salt",)
    assert hazards.can_grow("Salmonella spp.", Conditions(7.0, 0.94, humectants=salt))
    assert not hazards.can_grow("Salmonella spp.", Conditions(7.0, 0.939, humectants=salt))


def test_salt_holds_only_beyond_the_highest_salt_of_growth():
    """Razavilar & Genigeorgis 1998: Listeria grew at 12 % salt, where cabbage has a_w 0.903; EU
    guidance: to 16 % salt, a brine of a_w 0.88. The water activity of one trial in salt is 0.92."""
    for a_w, grows in ((0.903, True), (0.89, True), (0.87, False)):
        at = Conditions(7.0, a_w, 30, humectants=("salt",))
        assert hazards.can_grow("Listeria monocytogenes", at) == grows
    sugar = Conditions(7.0, 0.903, 30, humectants=("sugar",))
    assert not hazards.can_grow("Listeria monocytogenes", sugar)


def test_the_humectant_matters():
    """B. coagulans 0.94 in sucrose, 0.98 in salt; Pitt & Hocking: Z. rouxii 0.62 in sugar, 0.85 in salt."""
    at = {h: Conditions(7.0, 0.95, 40, humectants=(h,)) for h in ("sugar", "salt")}
    assert hazards.can_grow("Bacillus coagulans", at["sugar"])
    assert not hazards.can_grow("Bacillus coagulans", at["salt"])
    dry = {h: Conditions(5.0, 0.75, humectants=(h,)) for h in ("sugar", "salt")}
    assert hazards.can_grow("Zygosaccharomyces rouxii", dry["sugar"])
    assert not hazards.can_grow("Zygosaccharomyces rouxii", dry["salt"])


def test_an_unknown_humectant_takes_the_most_lenient_limit():
    assert hazards.can_grow("Zygosaccharomyces rouxii", Conditions(5.0, 0.75))


def test_a_missing_water_activity_stops_nothing():
    assert hazards.can_grow("Salmonella spp.", Conditions(5.0))


def test_nan_stops_nothing():
    assert not np.any(hazards.stopped(Conditions(np.nan, np.nan, np.nan), WHO))


def test_toxin_and_growth_limits_are_told_apart():
    """Staphylococcus aureus grows to 0.83, toxin is taken to stop at 0.85: FDA table."""
    entries = {o.limit_for: o.aw_min for o in hazards.named("Staphylococcus aureus")}
    assert entries == {"growth": 0.83, "toxin": 0.85}


def test_superseded_limits_are_not_used():
    """Toxigenic C. butyricum: 4.1 and 4.8 (Ghoddusi 2013, Anniballi 2002), not 5.2 (Morton 1990)."""
    assert {o.ph_min for o in hazards.named("Clostridium butyricum toxigenic")} == {4.1, 4.8}


def test_the_boundary_model_alone_never_stops_at_the_limit_of_the_table():
    """Every limit holds with all else at its best, so at a limit nothing may be claimed."""
    for organism in WHO:
        if organism.name in hazards.tables.index("cardinals"):
            best = hazards.tables.index("cardinals")[organism.name]
            at = Conditions(best["ph_opt"], organism.aw_min, best["temp_opt_C"])
            assert not np.any(hazards.stopped(at, [organism]))


def test_hurdles_near_their_limits_stop_together():
    """Le Marc et al. 2002: cold, sour and salty at once."""
    who = [o for o in WHO if o.name == "Listeria monocytogenes"]
    assert hazards.interaction(Conditions(4.6, 0.95, 4.0), who)[0] > hazards.ROBUST_PSI
    assert hazards.interaction(Conditions(6.5, 0.99, 30.0), who)[0] < 0.5


def test_one_call_judges_a_grid():
    ph, a_w = np.meshgrid(np.linspace(3, 7, 20), np.linspace(0.7, 1, 30))
    assert hazards.stopped(Conditions(ph, a_w), WHO).shape == (30, 20, len(WHO))


def test_an_unknown_organism_gets_near_names():
    with pytest.raises(InputError, match="Near it: Listeria monocytogenes"):
        hazards.named("Listeria monocytogene")


@pytest.mark.parametrize(
    "name", ["Escherichia coli O157:H7", "Eurotium rubrum", "Penicillium nordicum", "Salmonella"]
)
def test_other_names_are_understood(name):
    assert hazards.named(name)
