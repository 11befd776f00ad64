"""A recipe file is read, or refused in one sentence with its place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

import stillroom as sr
from stillroom.product import quantity

STEP = '[[steps]]\nadd = { "plum" = "3 kg" }\n'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "f.toml: name is missing.\nf.toml: steps is missing."),
        ('name = "x"\nsteps = []', "f.toml: steps must not be empty."),
        ("name = 3\n" + STEP, "f.toml: name: must be a valid string, got 3."),
        ('markt = "US"\nname = "x"\n' + STEP, "f.toml: markt is not a key here. Near it: market."),
        ('name = "x"\nmarket = "Mars"\n' + STEP,
         "f.toml: market 'Mars' is not one of US, EU, UK-GB, Codex, Canada, AU-NZ."),
        ('name = "x"\n[[steps]]\nad = { "plum" = "3 kg" }', "f.toml: step 1, ad is not a key here. Near it: add."),
        ('name = "x"\n[[steps]]\nadd = { "plum" = "3 kg" }\nboil = { until_mass = "2 kg" }',
         "f.toml: step 1: a step has exactly one verb (add, boil, steep, cure, drain, fill, heat, cool, ferment, "
         "cook, dry, keep), found add and boil."),
        ('name = "x"\n[[steps]]\nadd = { "plum" = "3 degC" }',
         "f.toml: step 1, add, plum: '3 degC' is not a mass; write \"40 kg\", \"400 g\" or \"12 oz\"."),
        ('name = "x"\n[[steps]]\nadd = { "plum" = "-3 kg" }',
         "f.toml: step 1, add, plum: '-3 kg' is out of bounds; a mass here is 0 to 1e+06 kg."),
        ('name = "x"\n[[steps]]\nadd = { "plum" = "0 kg" }',
         "f.toml: step 1, add, plum: the amount must be above 0; leave the line out to remove it."),
        ('name = "x"\n[[steps]]\nadd = { "plum" = 3 }',
         "f.toml: step 1, add, plum: 3 is not a mass with its unit; write \"40 kg\", \"400 g\" or \"12 oz\"."),
        ('name = "x"\n[[steps]]\nadd = { "plum" = "3 l" }',
         "f.toml: step 1, add: 'plum' is not poured; give its mass, such as \"2 kg\"."),
        ('name = "x"\n[foods.a]\nlike = "plum"\nph = 33\n' + STEP,
         "f.toml: foods, a, ph: must be less than or equal to 13, got 33."),
        ('name = "x"\n[foods.a]\nlike = "plum"\ncomposition = { watter = "95 %" }\n' + STEP,
         "f.toml: foods, a: 'watter' is not a component. Near it: water."),
        ('name = "x"\n' + STEP + '[[steps]]\nfill = { container = "jar" }',
         'f.toml: step 2, fill: name the container with its capacity, such as "jar 250 ml".'),
        ('name = "x"\n' + STEP + '[[steps]]\nkeep = { temperature = "20 degC", for = "1 year", pack = "box" }',
         "f.toml: step 2, keep, pack: must be 'airtight', 'vacuum' or 'open', got 'box'."),
        ('name = "x"\n' + STEP + '[[steps]]\nboil = {}',
         "f.toml: step 2, boil: say where the boil ends: until_soluble_solids, until_mass or "
         'until_temperature, or for = "20 min" together with evaporation = "4 kg/h".'),
    ],
)  # fmt: skip
def test_each_problem_is_one_sentence_with_its_place(text, message):
    with pytest.raises(sr.InputError) as problem:
        sr.parse_recipe(text, "f.toml")
    assert str(problem.value) == message


def test_several_problems_are_told_at_once():
    with pytest.raises(sr.InputError) as problem:
        sr.parse_recipe('name = "x"\ncolour = 1\n[[steps]]\nadd = { "plum" = "3 min" }', "f.toml")
    assert str(problem.value).count("f.toml:") == 2


def test_files_that_are_no_recipe_are_refused(tmp_path):
    (tmp_path / "big.toml").write_bytes(b"# " + b"x" * 10_000_000)
    (tmp_path / "latin.toml").write_bytes('name = "p\xe4r"'.encode("latin-1"))
    (tmp_path / "not.toml").write_text("name = = 3")
    for name, message in [
        ("big.toml", "has 10.0 MB; a recipe file is below 1 MB"),
        ("latin.toml", "is not UTF-8 text (byte 9)"),
        ("not.toml", "is not TOML: "),
        ("missing.toml", "does not exist"),
        (".", "is not a file; give the path of one recipe"),
    ]:
        with pytest.raises(sr.InputError) as problem:
            sr.read_recipe(tmp_path / name)
        assert message in str(problem.value)


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_in_words(text):
    try:
        sr.parse_recipe(text)
    except sr.InputError as problem:
        assert str(problem)


VALUES = st.recursive(
    st.one_of(
        st.booleans(), st.integers(-5, 10**9), st.floats(allow_nan=True), st.text(max_size=12),
        st.sampled_from(["3 kg", "plum", "66 %", "20 degC", "1 year", "-1 g", "1e400 kg", "9 kg**9"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["plum", "add", "for", "until_mass", "like", "ph", "x"]), inner, max_size=3),
    ),
    max_leaves=8,
)  # fmt: skip
KEYS = [
    "name",
    "kind",
    "market",
    "on",
    "serving",
    "made_at",
    "law",
    "foods",
    "steps",
    "measured",
    "x",
]


@given(st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=6))
def test_any_tree_of_values_is_read_or_refused_in_words(tree):
    from pydantic import ValidationError

    from stillroom.product import recipe_file

    try:
        sr.Recipe.model_validate(tree)
    except ValidationError as problem:
        for error in problem.errors():
            assert recipe_file._sentence(error)


@given(st.text(max_size=30), st.sampled_from(sorted(quantity.WANTED)))
def test_any_quantity_is_read_within_bounds_or_refused(text, wanted):
    _, low, high, _ = quantity.WANTED[wanted]
    try:
        assert low <= quantity.read(text, wanted) <= high
    except sr.InputError as problem:
        assert str(problem)


@pytest.mark.parametrize(
    ("text", "wanted", "value"),
    [("40 kg", "mass", 40.0), ("12 oz", "mass", 0.3402), ("88 degC", "temperature", 88.0),
     ("190 °F", "temperature", 87.78), ("18 months", "time", 788940.0), ("250ml", "volume", 0.25),
     ("350 m", "length", 350.0), ("66%", "share", 66.0), ("0.5 %", "concentration", 5000.0)],
)  # fmt: skip
def test_quantities_are_read_in_the_unit_used_inside(text, wanted, value):
    assert quantity.read(text, wanted) == pytest.approx(value, rel=1e-3)
