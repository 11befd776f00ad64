"""What holds the house: imports point up, formulas are labelled, words are kept."""

from __future__ import annotations

import ast
import inspect
import re
from pathlib import Path

import pytest

import stillroom
from stillroom import tables
from stillroom.report import explain

SRC = Path(stillroom.__file__).parent
LAYERS = [  # imports point to the same or an earlier line
    {"errors", "labels"},
    {"physics"},
    {"tables", "working"},
    {"product"},
    {"assess"},
    {"plan"},
    {"report"},
    {"cli", "web"},
]
OUTSIDE = {"physics": {"numpy", "scipy"}}  # what the physics may import from outside


def layer(module: str) -> int:
    first = module.removeprefix("stillroom").lstrip(".").split(".")[0]
    return next(n for n, names in enumerate(LAYERS) if first in names)


def imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.add(node.module or "")
            if node.module == "stillroom":
                found |= {f"stillroom.{alias.name}" for alias in node.names}
    return found


MODULES = sorted(p for p in SRC.rglob("*.py") if p.parent != SRC or p.stem != "__init__")


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(SRC)))
def test_imports_point_up_only(path):
    mine = layer(".".join(["stillroom", *path.relative_to(SRC).with_suffix("").parts]))
    for module in imports(path):
        if module.startswith("stillroom."):
            assert layer(module) <= mine, f"{path.name} imports {module}"


def test_physics_imports_arrays_and_labels_only():
    for path in (SRC / "physics").glob("*.py"):
        for module in imports(path):
            top = module.split(".")[0]
            if top == "stillroom":
                assert module.split(".")[1] in {"physics", "errors", "labels"}, (
                    f"{path.name}: {module}"
                )
            else:
                standard = {
                    "__future__",
                    "collections",
                    "dataclasses",
                    "functools",
                    "itertools",
                    "typing",
                }
                assert top in standard | OUTSIDE["physics"], f"{path.name} imports {module}"


def test_nothing_is_evaluated():
    for path in SRC.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in {"eval", "exec", "compile"}, path


@pytest.mark.parametrize("name", sorted(explain.formulas()))
def test_every_formula_says_what_it_rests_on(name):
    function = explain.formulas()[name]
    label = function.formula
    assert label.source
    assert label.equation
    doc = inspect.getdoc(function)
    for argument in inspect.signature(function).parameters:
        assert re.search(rf"^\s+{argument}: ", doc, re.M), f"{name}: {argument} is not described"
    assert "Returns:" in doc


@pytest.mark.parametrize("name", sorted(explain._functions()))
def test_every_public_physics_function_is_documented(name):
    doc = inspect.getdoc(explain._functions()[name])
    assert doc
    assert "Args:" in doc
    assert hasattr(explain._functions()[name], "formula") or "Source:" in doc


def test_every_quantity_can_be_explained():
    for quantity in explain.QUANTITIES:
        assert all(e.equation and e.source for e in explain.explain(quantity))


def test_every_table_loads_and_every_file_is_a_table():
    on_disk = {p.stem for p in (SRC / "data").glob("*.csv")}
    assert on_disk == set(tables.TABLES)
    for name in on_disk:
        assert tables.rows(name)


def test_the_word_safe_is_never_a_verdict():
    pattern = re.compile(r"\bsafe\b", re.IGNORECASE)
    for path in [*SRC.rglob("*.py")]:
        assert not pattern.search(path.read_text("utf-8")), path


def test_no_table_comes_from_a_source_with_an_unclear_licence():
    for r in tables.rows("foods"):
        assert "IFCT" not in " ".join(str(v) for v in r.values())
