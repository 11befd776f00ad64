"""Thin adapters from the words of a check-case file to the public functions.

An adapter is a function whose parameters are the input words of one quantity; an input it does
not name makes the case "not covered". It holds no physics and no special case.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from typing import Any

ADAPTERS: dict[str, Callable[..., Any]] = {}


class NotCovered(Exception):
    """The quantity, or an input of it, has no adapter."""


class ByUnit(dict[str, float]):
    """One answer in several units; the case names its own."""


def adapter(*quantities: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Register the decorated function for these quantities."""

    def register(function: Callable[..., Any]) -> Callable[..., Any]:
        ADAPTERS.update(dict.fromkeys(quantities, function))
        return function

    return register


def predict(quantity: str, inputs: Mapping[str, Any]) -> Any:
    """Return what the project answers for one case."""
    if quantity not in ADAPTERS:
        raise NotCovered(f"no adapter for {quantity}")
    function = ADAPTERS[quantity]
    try:
        inspect.signature(function).bind(**inputs)
    except TypeError as problem:
        raise NotCovered(f"{quantity}: {problem}") from None
    return function(**inputs)
