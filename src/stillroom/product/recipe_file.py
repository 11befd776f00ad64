"""Reading a recipe file: every problem becomes one sentence with its place."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from stillroom import tables
from stillroom.errors import InputError
from stillroom.product.recipe import (
    Acidity,
    Boil,
    Cool,
    Desiccant,
    Drain,
    Dry,
    Ferment,
    Fill,
    Film,
    FilmLayer,
    Heat,
    Holes,
    Keep,
    Measured,
    OwnFood,
    Penetration,
    Piece,
    Place,
    Recipe,
    Scatter,
    Steep,
    Step,
)

LARGEST_FILE_BYTES = 1_000_000


def read_recipe(path: str | Path) -> Recipe:
    """Read and check a recipe file.

    Args:
        path: of a TOML file.

    Raises:
        InputError: one sentence a problem, each with its place in the file.
    """
    path = Path(path)
    return parse_recipe(_text(path), str(path))


def _text(path: Path) -> str:
    if not path.exists():
        raise InputError(f"{path} does not exist.")
    if not path.is_file():
        raise InputError(f"{path} is not a file; give the path of one recipe.")
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE_BYTES:
            raise InputError(
                f"{path} has {size / 1e6:.1f} MB; a recipe file is below "
                f"{LARGEST_FILE_BYTES / 1e6:g} MB."
            )
        return path.read_bytes().decode("utf-8")
    except UnicodeDecodeError as problem:
        raise InputError(f"{path} is not UTF-8 text (byte {problem.start}).") from None
    except OSError as problem:
        raise InputError(f"{path} cannot be read: {problem.strerror}.") from None


def parse_recipe(text: str, where: str = "recipe") -> Recipe:
    """Check the text of a recipe file.

    Args:
        text: TOML.
        where: what to call it in messages.

    Raises:
        InputError: one sentence a problem, each with its place.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise InputError(f"{where} is not TOML: {problem}.") from None
    except RecursionError:
        raise InputError(f"{where} is not TOML: it is nested too deeply.") from None
    try:
        return Recipe.model_validate(data)
    except ValidationError as problem:
        lines = [f"{where}: {_sentence(error)}" for error in _real(problem.errors())]
        raise InputError("\n".join(dict.fromkeys(lines))) from None


def _real(errors: list[Any]) -> list[Any]:
    """Return the errors without "steps is empty" where a step itself is wrong."""
    deeper = {e["loc"][0] for e in errors if len(e["loc"]) > 1}
    return [e for e in errors if not (len(e["loc"]) == 1 and e["loc"][0] in deeper)]


_SENTENCES = {
    "missing": "is missing",
    "extra_forbidden": "is not a key here",
    "too_short": "must not be empty",
    "string_too_short": "must not be empty",
}


def _sentence(error: Mapping[str, Any]) -> str:
    """Return one validation error as a sentence with its place."""
    place = _place(error["loc"])
    prefix = f"{place}: " if place else ""
    kind, message = str(error["type"]), str(error["msg"])
    if kind == "extra_forbidden":
        allowed = _keys_at(error["loc"][:-1])
        near = tables.near(str(error["loc"][-1]), allowed)
        return f"{place} is not a key here.{near or ' Keys here: ' + ', '.join(allowed) + '.'}"
    if kind in _SENTENCES:
        return f"{place} {_SENTENCES[kind]}."
    message = message.removeprefix("Value error, ")
    given = error.get("input")
    message = message.replace("Input should be", "must be")
    shown = f", got {given!r}" if kind != "value_error" and not isinstance(given, dict) else ""
    return f"{prefix}{message}{shown}" + ("" if (message + shown).endswith(".") else ".")


def _place(loc: tuple[Any, ...]) -> str:
    words: list[str] = []
    for part in loc:
        if isinstance(part, int):
            words.append(f"number {part + 1}" if words != ["steps"] else f"{part + 1}")
            if words[:1] == ["steps"] and len(words) == 2:
                words = [f"step {part + 1}"]
        else:
            words.append(str(part))
    return ", ".join(words)


def _keys_at(loc: tuple[Any, ...]) -> list[str]:
    model: type[BaseModel] = Recipe
    nested: Mapping[str, type[BaseModel]] = {
        "steps": Step,
        "foods": OwnFood,
        "made_at": Place,
        "measured": Measured,
        "boil": Boil,
        "steep": Steep,
        "piece": Piece,
        "drain": Drain,
        "fill": Fill,
        "film": Film,
        "layers": FilmLayer,
        "holes": Holes,
        "desiccant": Desiccant,
        "heat": Heat,
        "cool": Cool,
        "penetration": Penetration,
        "ferment": Ferment,
        "dry": Dry,
        "keep": Keep,
        "scatter": Scatter,
        "titratable_acidity": Acidity,
    }
    for part in loc:
        model = nested.get(str(part), model)
    return [f.alias or name for name, f in model.model_fields.items()]
