"""The record of a calculation: every number with its formula, inputs and source."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from stillroom.labels import Formula, formula_of, unit_of


@dataclass(frozen=True)
class Known:
    """A value with what it is and where it comes from.

    Attributes:
        value: number or array.
        unit: "" for a pure number.
        kind: given, tabulated, assumed or calculated.
        source: where it comes from.
        name: in words, such as "sucrose in the batch".
    """

    value: Any
    unit: str = ""
    kind: str = "given"
    source: str = ""
    name: str = ""


@dataclass(frozen=True)
class Line:
    """One line on the board: a formula, what was put in, what came out."""

    formula: Formula
    function: Callable[..., Any] = field(repr=False)
    inputs: dict[str, Known]
    result: Known
    words: str = ""

    def outside(self) -> list[str]:
        """Return a sentence for every input outside the range the formula was fitted to."""
        sentences = []
        for name, (low, high) in self.formula.validity.items():
            if name in self.inputs:
                v = np.asarray(self.inputs[name].value, float)
                if np.any(v < low) or np.any(v > high):
                    sentences.append(
                        f"{self.formula.name}: {name} = {float(np.max(v)):.4g} is outside "
                        f"{low:g} to {high:g}, where it was fitted."
                    )
        return sentences

    def replay(self) -> Any:
        """Return the result computed once more from the recorded inputs."""
        return self.function(**{name: known.value for name, known in self.inputs.items()})


class Working:
    """The lines of one calculation, in order, under headings."""

    def __init__(self) -> None:
        self.parts: list[tuple[str, list[Line | str]]] = []

    def heading(self, words: str) -> None:
        """Start a new part of the board."""
        self.parts.append((words, []))

    def say(self, words: str) -> None:
        """Write a sentence on the board."""
        self.parts[-1][1].append(words)

    def apply(self, function: Callable[..., Any], words: str = "", **knowns: Any) -> Known:
        """Call a labelled formula with bare values, keep the line, return the result.

        Args:
            function: carries a formula label.
            words: what the result is, "water activity of the batch".
            **knowns: Known or bare values, by the argument names of the formula.
        """
        label = formula_of(function)
        inputs = {
            name: v if isinstance(v, Known) else Known(v, unit_of(name), "assumed")
            for name, v in knowns.items()
        }
        value = function(**{name: known.value for name, known in inputs.items()})
        result = Known(value, label.unit, "calculated", label.source, words or label.name)
        self.parts[-1][1].append(Line(label, function, inputs, result, words))
        return result

    @property
    def lines(self) -> list[Line]:
        """Every line, in order."""
        return [item for _, items in self.parts for item in items if isinstance(item, Line)]

    def sources(self) -> list[str]:
        """Return every source used, once, in order."""
        return list(dict.fromkeys(self._sources()))

    def _sources(self) -> Iterator[str]:
        for line in self.lines:
            yield line.formula.source
            yield from (k.source for k in line.inputs.values() if k.kind == "tabulated")
