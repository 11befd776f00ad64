"""The rule language: three values, nothing evaluated, clear words for what is wrong."""

from __future__ import annotations

from datetime import date
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom import tables
from stillroom.assess.law import limits, pathway
from stillroom.assess.law.conditions import Unknown, evaluate, names_in, parsed
from stillroom.assess.law.variables import VARIABLES, checked
from stillroom.errors import InputError, TableError

BOOLS = ("hermetic", "thermal", "refrigerated", "frozen")
PHS = (4.2, 4.6, 4.6 + 2e-9, 4.61, 5.0)  # either side of every limit used below

atoms = st.one_of(
    st.sampled_from(BOOLS),
    st.sampled_from(["pH <= 4.6", "pH > 4.6", "4.4 < pH <= 4.61", "pH < 5.0", "True", "False"]),
)
conditions = st.recursive(
    atoms,
    lambda inner: st.one_of(
        st.tuples(inner, inner).map(lambda p: f"({p[0]} and {p[1]})"),
        st.tuples(inner, inner).map(lambda p: f"({p[0]} or {p[1]})"),
        inner.map(lambda c: f"(not {c})"),
    ),
    max_leaves=8,
)
facts = st.fixed_dictionaries(
    {}, optional={**{b: st.booleans() for b in BOOLS}, "pH": st.sampled_from(PHS)}
)


@given(conditions, facts)
def test_what_is_known_holds_for_every_completion(condition, known):
    """Kleene logic against brute force over the unknown facts."""
    truth = evaluate(condition, known)
    missing = [n for n in (*BOOLS, "pH") if n not in known]
    choices = [PHS if n == "pH" else (True, False) for n in missing]
    worlds = [known | dict(zip(missing, values, strict=True)) for values in product(*choices)]
    if isinstance(truth, Unknown):
        assert truth.needs
        assert set(truth.needs) <= set(missing) & set(names_in(condition))
    else:
        assert {evaluate(condition, w) for w in worlds} == {truth}


@given(
    st.permutations(BOOLS), st.lists(st.sampled_from(["and", "or"]), min_size=3, max_size=3), facts
)
def test_a_condition_that_names_each_fact_once_is_decided_whenever_it_can_be(names, joins, known):
    condition = (
        f"(({names[0]} {joins[0]} not {names[1]}) {joins[1]} {names[2]}) {joins[2]} {names[3]}"
    )
    missing = [n for n in BOOLS if n not in known]
    worlds = [
        known | dict(zip(missing, v, strict=True))
        for v in product((True, False), repeat=len(missing))
    ]
    outcomes = {evaluate(condition, w) for w in worlds}
    truth = evaluate(condition, known)
    assert isinstance(truth, Unknown) if len(outcomes) > 1 else truth in outcomes


def test_unknown_carries_what_it_needs_and_is_no_truth():
    assert evaluate("hermetic and thermal", {"hermetic": False}) is False
    assert evaluate("hermetic or thermal", {"hermetic": True}) is True
    truth = evaluate("pH <= 4.6 and water_activity > 0.85", {"pH": 4.0})
    assert truth == Unknown(("water_activity",))
    with pytest.raises(TypeError, match="needs water_activity"):
        bool(truth)


@pytest.mark.parametrize(
    ("value", "meets"),
    [(0.85, True), (0.1 + 0.75, True), (0.85 + 5e-10, True), (0.8501, False), (0.854, False)],
)
def test_a_decimal_equals_the_limit_and_nothing_is_rounded(value, meets):
    """The absolute method with a guard of 1e-9: 0.854 does not round down to 0.85."""
    assert evaluate("water_activity <= 0.85", {"water_activity": value}) is meets
    assert evaluate("water_activity > 0.85", {"water_activity": value}) is not meets
    assert evaluate("water_activity < 0.85", {"water_activity": 0.85}) is False


def test_chains_texts_and_tuples():
    assert evaluate("4.0 < pH <= 4.6", {"pH": 4.6}) is True
    assert evaluate("4.0 < pH <= 4.6", {"pH": 4.0}) is False
    assert evaluate("category in ('meat', 'fish')", {"category": "fish"}) is True
    assert evaluate("date < '2026-07-01'", {"date": "2026-06-30"}) is True


@pytest.mark.parametrize(
    "condition",
    [
        "pH +", "__import__('os')", "pH.real > 4", "pH[0] > 4", "lambda: True", "pH + 1 > 4",
        "category in category", "acidity > 4", "pH > None", "[p for p in (1,)]", "pH if thermal else pH",
        "4.6", "'yes'", "(pH := 3)", "-pH < 0", "not 4", "pH is True", "category in ('a', pH)",
    ],
)  # fmt: skip
def test_what_is_no_condition_is_refused_where_it_stands(condition):
    with pytest.raises(TableError, match="rule X-1"):
        parsed(condition, "rule X-1")


@pytest.mark.parametrize(
    ("given_facts", "message"),
    [
        ({"pH": "4.2"}, "pH must be a number, got '4.2'."),
        ({"pH": True}, "pH must be a number, got True."),
        ({"pH": float("nan")}, "pH must be a number, got nan."),
        ({"pH": 46}, "pH must be from -2 to 16, got 46."),
        ({"water_activity": 85}, "water_activity must be from 0 to 1, got 85."),
        ({"hermetic": "no"}, "hermetic must be true or false, got 'no'."),
        ({"hermetic": 1}, "hermetic must be true or false, got 1."),
        ({"table": "C"}, "table must be one of A, B, got 'C'."),
        ({"date": "1 July 2026"}, "date must be a date like 2026-07-01, got '1 July 2026'."),
        ({"category": 3}, "category must be text, got 3."),
        ({"ph": 4.0}, "'ph' is not a fact a rule asks for. Near it: pH"),
    ],
)
def test_a_wrong_fact_is_named(given_facts, message):
    with pytest.raises(InputError) as problem:
        checked(given_facts)
    assert str(problem.value).startswith(message)


def test_numbers_and_texts_are_never_compared():
    with pytest.raises(InputError, match="cannot be compared"):
        evaluate("pH <= 4.6", {"pH": "acid"})
    with pytest.raises(InputError, match="pH must be true or false"):
        evaluate("pH and hermetic", {"pH": 4.0})


def test_none_is_unknown_and_a_date_is_read():
    assert checked({"pH": None, "date": date(2026, 7, 1)}) == {"date": "2026-07-01"}


def test_every_condition_of_the_tables_can_be_read_and_names_documented_facts():
    for row in tables.rows("pathway_rules"):
        assert set(names_in(str(row["condition"]))) <= set(VARIABLES)
    for limit in limits.limits():
        assert not limit.only_if or set(names_in(limit.only_if)) <= set(VARIABLES)
    assert pathway.groups()


def test_a_condition_that_cannot_be_read_names_its_rule(monkeypatch):
    bad = [{"rule_id": "US-P-999", "rule_group": "US-P", "condition": "pH <"}]
    monkeypatch.setattr(pathway.tables, "rows", lambda name: bad)
    pathway.groups.cache_clear()
    try:
        with pytest.raises(TableError, match=r"pathway_rules.csv rule US-P-999: 'pH <' is not a"):
            pathway.groups()
    finally:
        monkeypatch.undo()
        pathway.groups.cache_clear()
