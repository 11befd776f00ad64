"""A judgement as plain values, full precision: what machines read and every face prints from."""

from __future__ import annotations

from typing import Any

import numpy as np

from stillroom.assess.heat.plain import heating_to_dict
from stillroom.assess.result import FORMAT, Assessment, Estimate, Finding
from stillroom.product import properties
from stillroom.product.mixture import Mixture, components, of_kind
from stillroom.product.process import Stage
from stillroom.working import Known, Line, Working


def plain(value: Any) -> Any:
    """Return a number, list or text that JSON can hold; nan becomes None."""
    if isinstance(value, np.ndarray):
        return [plain(v) for v in value.tolist()] if value.ndim else plain(value.item())
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, float) and not np.isfinite(value):
        return None
    return value


def to_dict(a: Assessment) -> dict[str, Any]:
    """Return a whole assessment as plain values, full precision."""
    return {
        "format": FORMAT,
        "name": a.recipe.name,
        "kind": a.recipe.kind,
        "market": list(a.recipe.market),
        "outcome": str(a.outcome),
        "as_declared": a.as_declared,
        "reason": a.reason,
        "deciding": finding(a.deciding) if a.deciding else None,
        "single_point": a.single_point,
        "measure": list(a.measure),
        "remedies": list(a.remedies),
        "cautions": list(a.cautions),
        "properties": {name: estimate(e) for name, e in a.properties.items()},
        "teaching": {name: plain(v) for name, v in a.teaching.items()},
        "stages": [stage(s) for s in a.batch.stages],
        "findings": [finding(f) for f in a.findings],
        "notes": list(a.notes),
        "heat": heating_to_dict(a.heating) if a.heating else None,
        "working": working(a.working),
        "sources": a.working.sources(),
    }


def estimate(e: Estimate) -> dict[str, Any]:
    """Return a property as plain values."""
    return {
        k: plain(getattr(e, k))
        for k in ("value", "low", "high", "unit", "model_error", "kind", "note")
    }


def finding(f: Finding) -> dict[str, Any]:
    """Return a finding as plain values."""
    return {k: plain(v) for k, v in vars(f).items()} | {"hurdles": list(f.hurdles)}


def mixture(m: Mixture) -> dict[str, float]:
    """Return component -> grams (mol for charge and buffer pools), absent ones left out."""
    pools = of_kind("charge", "buffer")
    return {
        c: plain(float(m.kg(c)) * (1 if c in pools else 1000))
        for c in components()
        if float(m.kg(c))
    }


def stage(s: Stage) -> dict[str, Any]:
    """Return a stage as plain values."""
    return {
        "step": s.number,
        "verb": s.step.verb,
        "mass_kg": plain(float(s.mixture.total_kg)),
        "temperature_C": s.temperature_C,
        "minutes": s.minutes,
        "brix": plain(float(properties.brix(s.mixture))),
        "water_kg": plain(float(s.mixture.kg("water"))),
        "facts": {k: plain(v) for k, v in s.facts.items()},
        "assumed": list(s.assumed),
        "mixture_g": mixture(s.mixture),
    }


def working(w: Working) -> list[dict[str, Any]]:
    """Return the worked solution as plain values, part by part."""
    return [
        {"part": words, "lines": [item if isinstance(item, str) else line(item) for item in items]}
        for words, items in w.parts
    ]


def line(item: Line) -> dict[str, Any]:
    """Return one line of the working as plain values."""
    return {
        "what": item.words or item.formula.name,
        "formula": item.formula.name,
        "equation": item.formula.equation,
        "inputs": {name: known(k) for name, k in item.inputs.items()},
        "result": known(item.result),
        "source": item.formula.source,
        "place": item.formula.place,
        "outside": item.outside(),
    }


def known(k: Known) -> dict[str, Any]:
    """Return a known value as plain values."""
    return {
        "value": plain(k.value),
        "unit": k.unit,
        "kind": k.kind,
        "source": k.source,
        "name": k.name,
    }
