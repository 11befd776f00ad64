"""A fit as plain values, full precision: what machines read."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from stillroom.assess.fit.result import Fit, Solution, Value
from stillroom.assess.result import FORMAT
from stillroom.labels import Array


def fit_to_dict(f: Fit) -> dict[str, Any]:
    """Return a fit as plain values; null stands for what is not determined.

    Args:
        f: the fit.
    """
    return {
        "format": FORMAT,
        "data": f.data.where,
        "model": f.model.name,
        "verdict": f.verdict,
        "refusals": list(f.refusals),
        "warnings": list(f.warnings),
        "parameters": [_value(v) for v in f.values],
        "derived": [_value(v) for v in f.derived],
        "fit": _solution(f.solution) if f.solution else None,
        "points": _points(f),
        "models_compared": [_known(asdict(r)) for r in f.rivals],
        "sources": f.sources(),
        "notes": [*f.data.remarks, *f.notes],
    }


def _known(values: dict[str, Any]) -> dict[str, Any]:
    """Return values with null for numbers that are not there."""
    lost = {k for k, v in values.items() if isinstance(v, float) and not np.isfinite(v)}
    return {k: None if k in lost else v for k, v in values.items()}


def _value(v: Value) -> dict[str, Any]:
    return _known(
        {
            "name": v.name,
            "words": v.words,
            "unit": v.unit,
            "value": v.value,
            "interval": [v.low, v.high] if np.isfinite([v.low, v.high]).all() else None,
            "standard_error": v.error,
            "method": v.method if np.isfinite(v.low) else None,
            "why_not": v.why_not or None,
        }
    )


def _solution(s: Solution) -> dict[str, Any]:
    return _known(
        {
            "rmse": s.rmse,
            "r_squared": s.r_squared,
            "aicc": s.aicc,
            "degrees_of_freedom": s.freedom,
            "runs": asdict(s.runs),
            "reference_C": s.best.get("reference_C", np.nan),
            "correlation": {"names": list(s.names), "matrix": _list(s.correlation)},
        }
    )


def _points(f: Fit) -> list[dict[str, Any]]:
    p, s = f.points, f.solution
    nothing = np.full(p.y.size, np.nan)
    rows = zip(
        p.time_h if p.labels else nothing,
        p.temperature_C,
        p.y,
        p.below.tolist(),
        s.fitted if s else nothing,
        s.residuals if s else nothing,
        strict=True,
    )
    names = ("time_h", "temperature_C", "observed", "below_limit", "fitted", "residual")
    return [
        _known({k: v if isinstance(v, bool) else float(v) for k, v in zip(names, r, strict=True)})
        for r in rows
    ]


def _list(matrix: Array) -> list[list[float | None]]:
    return [[float(x) if np.isfinite(x) else None for x in row] for row in matrix]
