"""Reading moistures over water activities, to be fitted to an isotherm."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from stillroom.errors import InputError
from stillroom.labels import Array
from stillroom.product.table_file import Table, complete, read_table

_ACTIVITY = re.compile(r"(?i)^(?:water[ _]activity|a_?w|rh|relative[ _]humidity)(?![a-z])")
_MOISTURE = re.compile(r"(?i)^(?:moisture|water[ _]content|emc|water)(?![a-z]|[ _]activity)")
_DEVIATION = re.compile(r"(?i)^(?:sd|standard[ _]deviation)(?![a-z])")
_PERCENT = re.compile(r"%|percent", re.I)
_UNIT = re.compile(r"(?i)(g\s*/\s*g|kg\s*/\s*kg|g\s*/\s*100\s*g|%)\D*?(dry|wet)")


@dataclass(frozen=True, eq=False)
class SorptionPoints:
    """Moistures of one food over water activities.

    Attributes:
        water_activity: of each point.
        moisture: g water per g dry solids.
        sd: standard deviation of each moisture, if the file has it.
        where: file they were read from.
        remarks: what was recognised or left out, in words.
    """

    water_activity: Array
    moisture: Array
    sd: Array | None
    where: str
    remarks: tuple[str, ...] = ()


def read_sorption(path: str | Path) -> SorptionPoints:
    """Read moistures over water activities.

    Args:
        path: of a text file with a column 'water activity' (or 'RH (%)') and one such as
            'moisture (g/g dry)', 'moisture (g/100 g dry)' or 'moisture (% wet)'; 'sd' in the same
            unit may stand beside it.

    Returns:
        The points, dry basis.

    Raises:
        InputError: one sentence with its place in the file.
    """
    table: Table = read_table(Path(path))
    activity = table.need(_ACTIVITY, "water activities", "water activity")
    moisture = table.need(_MOISTURE, "moistures", "moisture (g/g dry)", activity)
    deviation = table.find(_DEVIATION, activity, moisture)
    a_w = complete(activity) / (100 if _PERCENT.search(activity.name) else 1)
    activity.refuse((a_w <= 0) | (a_w >= 1), "is no water activity between 0 and 1")
    read = complete(moisture)
    moisture.refuse(read <= 0, "is not above 0")
    unit = _UNIT.search(moisture.name)
    if unit is None:
        raise InputError(
            f"{table.where}: column {moisture.name!r} does not say its unit and basis; call it "
            "'moisture (g/g dry)', 'moisture (g/100 g dry)' or 'moisture (% wet)'."
        )
    per_gram = 1.0 if re.search(r"(?i)(?<!0)\s*/\s*(?:k?g)", unit[1]) else 0.01
    basis: Literal["dry", "wet"] = "wet" if unit[2].lower() == "wet" else "dry"
    part = read * per_gram
    slope = np.ones(part.size)
    if basis == "wet":
        moisture.refuse(part >= 1, "is no moisture on the wet basis below 100 %")
        slope = 1 / (1 - part) ** 2
        part = part / (1 - part)
    sd = None if deviation is None else complete(deviation) * per_gram * slope
    if deviation is not None and sd is not None:
        deviation.refuse(sd <= 0, "is not above 0")
    return SorptionPoints(
        a_w,
        part,
        sd,
        table.where,
        (*table.remarks, *table.left_out(activity, moisture, deviation)),
    )
