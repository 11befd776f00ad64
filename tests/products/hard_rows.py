"""The check cases of growth that are hard, and how each passes."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import verify

import stillroom as sr
from stillroom.assess import hazards
from stillroom.product import properties

CASES = Path(__file__).parents[1] / "cases" / "cases_microbes.csv"
LISTERIA = "Listeria monocytogenes"
SET_OF_ITS_OWN = "the rate was fitted to these very data: no independent check"
HARD = {
    "MIC-019": "0.867 lies between the limits of two sources (0.864, 0.83); the most lenient one rules.",
    "MIC-020": "the measured value is the limit itself, of the same paper; a food on a limit can grow.",
    "MIC-021": "a row of its own for glycerol, of the same paper: it holds where glycerol is in the "
    "mixture or nobody says what is. With salt or sugar alone the limit is 0.92.",
    "MIC-022": "only the salt is given, and its limit is 16 % (EU guidance; the FDA line of 10 % would "
    "fail). See below for the same brine by its water activity.",
    "MIC-043": f"set of milk: {SET_OF_ITS_OWN}.",
    "MIC-044": f"set of milk: {SET_OF_ITS_OWN}.",
    "MIC-045": f"set of milk: {SET_OF_ITS_OWN}. Slower than measured: the unsafe side.",
    "MIC-046": "two foods are named and no set speaks for both, so the careful set stands for them.",
    "MIC-047": f"set of rice: {SET_OF_ITS_OWN} (three points, two parameters).",
    "MIC-048": f"set of rice: {SET_OF_ITS_OWN} (three points, two parameters).",
    "MIC-049": "the careful set, twice as fast as meat.",
    "MIC-050": f"the careful set: {SET_OF_ITS_OWN}.",
    "MIC-051": "slower than measured, on the unsafe side, within the 35 % of the case: the careful set "
    "is that of neutral food, and what it takes off for pH 5.9, an eighth, was too much here.",
    "MIC-091": "the careful set, whose lowest temperature was moved for these very data.",
    "MIC-077": "the table is that of the same line (log days straight in water activity and temperature); "
    "what it shows is that the line is entered rightly, not that cake keeps so long.",
    "MIC-078": "the line again, in the form of a textbook.",
}


def rows() -> Iterator[tuple[str, str, str, str, str, str]]:
    """Yield (id, what, predicted, measured, tolerance, how it passes)."""
    cases = {c["id"]: c for c in verify.read_cases(CASES)}
    for name, words in HARD.items():
        case = cases[name]
        found = verify.run(case)
        assert found.verdict == "pass", name
        tolerance = (
            case["tolerance"].partition(":")[0].removesuffix(" (must not predict no growth)")
        )
        yield name, _what(case), _number(found.predicted, case), _measured(case), tolerance, words


def _what(case: dict[str, str]) -> str:
    given = json.loads(case["inputs"])
    who = [given[k] for k in ("organism", "medium", "humectant") if k in given]
    signs = {
        "temperature_C": "{} °C", "pH": "pH {}", "water_activity": "water activity {}",
        "nacl_percent": "{:g} % salt",
    }  # fmt: skip
    return ", ".join([*who, *(sign.format(given[k]) for k, sign in signs.items() if k in given)])


def _number(predicted: object, case: dict[str, str]) -> str:
    if isinstance(predicted, str):
        return predicted
    return f"{float(predicted):.3g} {case['unit']}"  # type: ignore[arg-type]


def _measured(case: dict[str, str]) -> str:
    expected = verify.expected_value(case["expected"])
    return f"{expected:.3g} {case['unit']}" if isinstance(expected, float) else str(expected)


def brines() -> Iterator[tuple[str, float, str]]:
    """Yield (words, water activity, what its limit says) for the brine of MIC-022."""
    by_mass = sr.Mixture.of({"water": 88, "NaCl": 12})
    yield "12 g of salt in 100 g of brine", *_as_limits_say(by_mass)
    water = 100.0
    for _ in range(40):
        by_volume = sr.Mixture.of({"water": water, "NaCl": 12})
        water += 100 * float(properties.density_g_per_cm3(by_volume)) - float(by_volume.total_g)
    yield "12 g of salt in 100 ml of brine", *_as_limits_say(by_volume)
    meat = sr.run(sr.parse_recipe(BEEF)).made.mixture
    salt = float(properties.water_phase_salt_percent(meat))
    yield f"lean beef with {salt:.1f} % salt in its water phase", *_as_limits_say(meat)


BEEF = """
name = "salted beef"
[[steps]]
add = { "beef, top round, lean, raw" = "1 kg", "salt" = "100 g" }
"""


def _as_limits_say(mixture: sr.Mixture) -> tuple[float, str]:
    a_w = float(properties.water_activity(mixture))
    at = hazards.Conditions(ph=6.0, water_activity=a_w, temperature_C=15.0, humectants=("salt",))
    return a_w, "can grow" if hazards.can_grow(LISTERIA, at) else "stopped"
