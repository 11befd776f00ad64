"""From findings to how a product keeps: missing data is never a pass."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from typer.testing import CliRunner

import stillroom as sr
from stillroom.assess import hazards, keeping
from stillroom.assess.heat import targets
from stillroom.assess.result import Finding, Outcome
from stillroom.cli import app


def made(*lines: str, head: str = "") -> sr.Assessment:
    steps = "\n".join(f"[[steps]]\n{line}" for line in lines)
    return sr.assess(sr.parse_recipe(f'name = "test"\n{head}\n{steps}'))


KEEP = 'keep = { temperature = "20 degC", for = "12 months" }'
COLD = 'keep = { temperature = "4 degC", for = "2 months" }'
PLUM = '[foods.damsons]\nlike = "plum"\nph = 3.3\nsoluble_solids = "13 %"\n'
JAM = ['add = { "damsons" = "5 kg", "sugar" = "5 kg" }', 'boil = { until_soluble_solids = "67 %", for = "20 min" }']  # fmt: skip
HOT = (
    'fill = { container = "jar 250 ml", temperature = "88 degC", jar_temperature = "70 degC", '
    'hold = "5 min", inverted = true }'
)


def test_a_full_sugar_jam_keeps_sealed():
    a = made(*JAM, HOT, KEEP, head=PLUM)
    assert (a.outcome, a.exit_status) == (Outcome.SEALED, 0)
    assert a.deciding is not None
    assert a.deciding.margin > 0


def test_the_same_jam_filled_cold_does_not():
    a = made(*JAM, 'fill = { container = "jar 250 ml", temperature = "40 degC" }', KEEP, head=PLUM)
    assert a.exit_status == 1
    assert "mould" in a.reason.lower() or "can grow" in a.reason
    assert a.remedies


def test_an_open_pot_gets_no_credit_for_the_hot_fill():
    a = made(
        *JAM, HOT, 'keep = { temperature = "20 degC", for = "1 month", pack = "open" }', head=PLUM
    )
    assert a.exit_status == 1


def test_low_acid_food_in_a_jar_does_not_keep():
    a = made('add = { "green bean" = "5 kg", "water" = "3 kg", "salt" = "80 g" }', HOT, KEEP)
    assert (a.outcome, a.exit_status) == (Outcome.NOT, 1)
    assert any("Clostridium botulinum" in c and "process authority" in c for c in a.cautions)
    failing = {f.subject for f in a.of("hazard") if f.verdict == "fail"}
    assert "Clostridium botulinum proteolytic" in failing


def test_beans_that_are_dried_keep_and_undried_do_not():
    beans = 'add = { "green bean" = "5 kg", "water" = "3 kg", "salt" = "80 g" }'
    dried = made(beans, "dry = { until_water_activity = 0.5 }", KEEP)
    assert (dried.outcome, dried.exit_status) == (Outcome.SEALED, 0)
    assert made(beans, KEEP).exit_status == 1


def test_a_hot_fill_is_no_credit_against_spores():
    a = made(
        'add = { "tomato" = "5 kg", "salt" = "40 g" }',
        'fill = { container = "jar 1 l", temperature = "95 degC" }',
        KEEP,
    )
    botulinum = next(f for f in a.of("hazard") if f.subject == "Clostridium botulinum proteolytic")
    assert botulinum.verdict != "pass"
    assert a.exit_status in (1, 3)


def test_without_a_keep_step_nothing_is_judged():
    a = made(*JAM, HOT, head=PLUM)
    assert (a.outcome, a.exit_status) == (Outcome.UNKNOWN, 3)
    assert "keep" in a.reason


def test_a_mild_pickle_keeps_in_the_cold_as_declared():
    lines = [
        'add = { "carrot" = "2 kg" }',
        'steep = { liquor = { "vinegar" = "1.2 kg", "salt" = "40 g" } }',
    ]
    assert made(*lines, COLD).exit_status == 0
    warm = made(*lines, KEEP)
    assert (warm.outcome, warm.exit_status) == (Outcome.COLD, 1)


def test_an_interval_across_a_limit_asks_for_a_measurement():
    head = "[measured]\nph = 4.58\nph_uncertainty = 0.1\nwater_activity = 0.97"
    a = made('add = { "tomato" = "5 kg" }', HOT, KEEP, head=head)
    finding = next(f for f in a.of("hazard") if f.subject == "Clostridium botulinum proteolytic")
    assert finding.verdict == "cannot tell"
    assert "measure it" in finding.reason


def test_a_reading_stands_in_the_place_of_the_prediction():
    a = made(
        *JAM,
        HOT,
        KEEP,
        head=PLUM + '[measured]\nph = 3.25\nwater_activity = 0.83\nsoluble_solids = "66.4 %"',
    )
    assert a.properties["ph"].value == 3.25
    assert a.properties["ph"].kind == "measured"
    assert not any("pH" in m for m in a.measure)
    assert len(a.of("reading")) == 3


def test_the_uncertainty_of_the_food_reaches_the_result():
    tabulated = made(*(s.replace("damsons", "plum") for s in JAM), HOT, KEEP)
    tabulated, measured = (
        a.properties["ph"] for a in (tabulated, made(*JAM, HOT, KEEP, head=PLUM))
    )
    assert measured.high - measured.low < tabulated.high - tabulated.low


def test_a_single_hurdle_is_called_a_single_point():
    a = made('add = { "carrot" = "2 kg" }', 'steep = { liquor = { "vinegar" = "2 kg" } }', COLD)
    assert a.single_point.startswith("One hurdle alone, ")


def test_low_acid_food_is_never_passed_whatever_its_heat():
    a = made(
        'add = { "green bean" = "5 kg", "water" = "3 kg", "salt" = "80 g" }',
        'fill = { container = "jar 500 ml", temperature = "80 degC" }',
        'heat = { in = "pressure steam", temperature = "121 degC", hold = "90 min", by = "convection" }',
        KEEP,
    )
    assert (a.outcome, a.exit_status) == (Outcome.UNKNOWN, 3)
    assert "not a scheduled process" in a.reason
    botulinum = next(f for f in a.of("hazard") if f.subject == "Clostridium botulinum proteolytic")
    assert botulinum.verdict == "cannot tell"


def test_fill_temperatures_follow_the_table():
    """University of Arkansas fill temperatures for acidified foods: 87.8 °C at pH 4.2, 98.9 at 4.5."""
    assert targets.fill_needed_C(4.2) == 87.8
    assert targets.fill_needed_C(4.45) == 98.9
    assert targets.fill_needed_C(3.3) == 71.1
    assert targets.fill_needed_C(4.7) == float("inf")


def finding(area, verdict, decides=True):
    return Finding("x", area, verdict, "r", decides=decides)


@pytest.mark.parametrize(
    ("here", "cold", "outcome", "declared"),
    [
        (["pass", "pass"], "pass", Outcome.SEALED, True),
        (["pass", "fail"], "pass", Outcome.COLD, False),
        (["fail", "pass"], "pass", Outcome.COLD, False),
        (["fail", "pass"], "fail", Outcome.NOT, False),
        (["fail", "pass"], "cannot tell", Outcome.NOT, False),
        (["cannot tell", "pass"], "pass", Outcome.UNKNOWN, None),
        (["pass", "cannot tell"], "pass", Outcome.UNKNOWN, None),
        (["cannot tell", "fail"], "pass", Outcome.COLD, False),
    ],
)
def test_verdicts_join_to_an_outcome(here, cold, outcome, declared):
    findings = [finding("hazard", here[0]), finding("spoilage", here[1])]
    judged = keeping.judge(20.0, findings, [finding("hazard", cold)])
    assert (judged.outcome, judged.as_declared) == (outcome, declared)
    if declared is False and outcome is Outcome.SEALED:
        pytest.fail("a product that fails is never called sealed")


LIMED_SALT = (
    'add = { "salt" = "800 g", "calcium hydroxide (pickling lime)" = "5 g", "sugar" = "5 g" }',
    'steep = { liquor = { "water" = "59 g" } }',
    'drain = { keep = "pieces" }',
)


def test_a_mix_without_a_ph_is_refused_in_words():
    with pytest.raises(sr.InputError, match=r"step 4, keep: .* the mix has no pH"):
        made(*LIMED_SALT, KEEP)
    with pytest.raises(sr.InputError, match="the pH of the product cannot be computed"):
        made(*LIMED_SALT)
    with pytest.raises(sr.InputError, match="the pH of the product cannot be computed"):
        made('add = { "salt" = "800 g" }', KEEP)
    assert made('add = { "salt" = "800 g" }', KEEP, head="[measured]\nph = 7\n").properties


def test_a_property_that_cannot_be_computed_is_said_so(tmp_path):
    path = tmp_path / "salt.toml"
    steps = f'[[steps]]\nadd = {{ "salt" = "800 g" }}\n[[steps]]\n{KEEP}'
    path.write_text(f'name = "test"\n{steps}\n[measured]\nph = 7\n', "utf-8")
    text = CliRunner().invoke(app, ["assess", str(path)], env={"COLUMNS": "120"}).output
    assert "nan" not in text.split()
    assert "cannot be computed for so dry a mix" in text


CIDER = 'add = { "apple juice, unsweetened" = "30 kg" }', 'ferment = { kind = "alcoholic", temperature = "18 degC", for = "4 weeks", starter = true }'  # fmt: skip
VINEGAR = 'ferment = { kind = "acetic", temperature = "26 degC", for = "3 months", starter = true }'


@pytest.mark.parametrize(
    ("pack", "verdict"), [("open", "fail"), ("airtight", "cannot tell"), ("vacuum", "pass")]
)
def test_what_lives_on_air_is_judged_by_the_pack(pack, verdict):
    """Alicyclobacillus is an obligate aerobe (growth table); vinegar does not stop it by its pH."""
    fill = 'fill = { container = "bottle 500 ml" }'
    keep = f'keep = {{ temperature = "20 degC", for = "12 months", pack = "{pack}" }}'
    a = made(*CIDER, VINEGAR, fill, keep)
    found = next(f for f in a.findings if f.subject == "Alicyclobacillus spp.")
    assert found.verdict == verdict
    assert ("airtight pack" in found.reason) == (pack == "airtight")


def test_alcohol_is_a_hurdle():
    """Wine of 12 % vol grows no mould (general experience); cider of 4 to 6 % vol may."""
    must = 'add = {{ "honey" = "{honey} kg", "water" = "8 kg" }}'
    ferment = 'ferment = { kind = "alcoholic", temperature = "20 degC", for = "60 d", starter = true }'  # fmt: skip
    toxin = "toxin of Penicillium expansum"
    for honey, verdict in ((2.5, "pass"), (1.9, "cannot tell"), (1.0, "fail")):
        a = made(must.format(honey=honey), ferment, KEEP)
        found = next(f for f in a.findings if f.subject == toxin)
        assert found.verdict == verdict, (honey, found)
        if verdict == "pass":
            assert found.hurdles == ("alcohol",)
            assert (found.limit, found.unit) == (10, "% vol")
            assert "wine making" in found.citation


def test_a_mead_that_may_still_be_sweet_gets_no_credit_for_its_alcohol():
    must = 'add = { "honey" = "2.5 kg", "water" = "8 kg" }'
    short = 'ferment = { kind = "alcoholic", temperature = "15 degC", for = "9 d", starter = true }'
    a = made(must, short, KEEP)
    f = a.ferments[-1]
    assert f.least_alcohol < 0.9
    found = next(x for x in a.findings if x.subject == "toxin of Penicillium expansum")
    assert found.verdict != "pass"


def test_more_alcohol_never_frees_an_organism():
    """Least: moulds 10 % vol; most: lactic bacteria of fortified wine 20 % vol (memory)."""
    who = hazards.organisms()
    stops = [
        hazards.stopped(hazards.Conditions(5.0, 0.99, ethanol_percent_vol=a), who)
        for a in (0.0, 9.9, 10.1, 12.0, 20.1)
    ]
    for less, more in pairwise(stops):
        assert np.all(more | ~less)
    assert np.array_equal(stops[0], stops[1])
    assert stops[-1].all()
    moulds = np.array([o.life == "mould" for o in who])
    assert stops[2][moulds].all()
    acetic = [o.name.startswith("Acetic") for o in who].index(True)
    assert not stops[3][acetic]
