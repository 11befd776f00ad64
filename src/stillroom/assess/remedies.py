"""What would make a product pass: how much acid, how much less water, how cold."""

from __future__ import annotations

import numpy as np

from stillroom.assess.keeping import MADE_SO
from stillroom.assess.result import Estimate, Finding
from stillroom.product import properties
from stillroom.product.mixture import Mixture

DESIGN_PH = 4.2  # common practice: room below the legal 4.6 for scatter and the meter
DESIGN_WATER_ACTIVITY = 0.83
ACID_TO_TRY = "citric"


def acid_remedy(mixture: Mixture, ph: Estimate, target: float = DESIGN_PH) -> str:
    """Return how much acid brings the careful end of the pH to a target, "" if it is there.

    Args:
        mixture: the finished product, no leading axes.
        ph: its estimate.
        target: pH that the careful end shall reach.
    """
    if ph.high <= target:
        return ""
    aim = target - (ph.high - ph.value)
    acid = next(
        (a for a in ("acetic", "lactic", ACID_TO_TRY) if mixture.kg(a) > 0.003 * mixture.total_kg),
        ACID_TO_TRY,
    )
    dose = float(properties.acid_dose_for_ph_kg(mixture, acid, aim))
    per_kg = 1000 * dose / float(mixture.total_kg)
    return f"about {per_kg:.2g} g more {acid} acid per kg would bring the pH to {aim:.1f}"


def drying_remedy(mixture: Mixture, water_activity: Estimate, target: float) -> str:
    """Return to which solids the product must be taken for a water activity, "" if it is there."""
    if water_activity.high <= target:
        return ""
    aim = target - (water_activity.high - water_activity.value)
    share = np.linspace(1.0, 0.2, 81)
    drier = mixture.with_amounts(water=mixture.kg("water") * share)
    reached = properties.water_activity(drier) <= aim
    if not np.any(reached):
        return ""
    first = int(np.argmax(reached))
    brix = float(properties.brix(drier)[first])
    lost = 100 * (1 - float(drier.total_kg[first]) / float(mixture.total_kg))
    return (
        f"taking out water until a refractometer reads {brix:.0f} % ({lost:.0f} % of the mass), "
        "or as "
        f"much more sugar or salt, would bring the water activity to {aim:.2f}"
    )


def remedies(
    mixture: Mixture,
    ph: Estimate,
    water_activity: Estimate,
    findings: list[Finding],
    cold_holds: bool,
) -> tuple[str, ...]:
    """Return what would change the verdict, with amounts, or nothing when all is well.

    Args:
        mixture: the finished product, no leading axes.
        ph: its estimate.
        water_activity: its estimate.
        findings: of the organisms at the declared temperature.
        cold_holds: whether nothing dangerous can grow in the cold.
    """
    wrong = [f for f in findings if f.verdict != "pass" and f.decides]
    if not wrong:
        return ()
    made_so = [f for f in wrong if f.subject.startswith(MADE_SO)]
    organisms = [f for f in wrong if f.area == "hazard" and f not in made_so]
    options = list(dict.fromkeys(f.remedy for f in made_so))
    if organisms:
        options.append(acid_remedy(mixture, ph))
        options.append(drying_remedy(mixture, water_activity, DESIGN_WATER_ACTIVITY))
    if any("heat" in f.reason or f.subject.startswith(("heat", "hot fill")) for f in wrong):
        options.append(
            "more heat in the closed pack: `stillroom heat RECIPE --find` searches the shortest "
            "process; for low-acid food only under pressure, set by a process authority"
        )
    elif any(f.area == "spoilage" for f in wrong) and not organisms:
        options.append(
            "a hot fill (see `stillroom limits`) into sealed packs, or a preservative the law "
            "allows, "
            "would hold back yeasts and moulds"
        )
    if cold_holds:
        options.append("keeping it at 5 °C or colder from the day it is made")
    return tuple(o for o in options if o)
