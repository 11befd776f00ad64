"""What ends a product in one history, and when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stillroom.assess.keep.history import History
from stillroom.assess.result import Area, Estimate, Verdict

if TYPE_CHECKING:
    from stillroom.assess.pack.limits import Packed


@dataclass(frozen=True)
class End:
    """What one organism or change does in a history.

    Attributes:
        subject: organism, vitamin, colour or sugar.
        area: hazard, spoilage or quality.
        earliest_days: careful end: least acid and most water that are likely, fastest rate, no
            lag, many cells; inf: not within the history.
        typical_days: at the estimate, middle rate, a lag, few cells; inf: not within the history.
        end: what ends the product.
        reason: why it may.
        basis: what the time rests on.
        source: of the rate.
        provenance: how it was obtained.
        fitted_C: range of temperature the rate holds in.
        outside: where it is used outside of that, in words.
        limits: source of the limits of growth that let it.
    """

    subject: str
    area: Area
    earliest_days: float
    typical_days: float
    end: str
    reason: str
    basis: str
    source: str
    provenance: str
    fitted_C: tuple[float, float] | None = None
    outside: str = ""
    limits: str = ""


@dataclass(frozen=True)
class Kept:
    """What ends a product in one history.

    Attributes:
        history: temperatures.
        opened: whether the pack was opened at its start.
        ends: hazards, spoilage and lost texture that end it within the history, the first at the
            top.
        quality: what changes within it, the first at the top.
        watched: what comes with the raw material and is not counted.
    """

    history: History
    opened: bool
    ends: tuple[End, ...]
    quality: tuple[End, ...] = ()
    watched: tuple[str, ...] = ()

    @property
    def earliest_days(self) -> float:
        """Days until it may end; inf where nothing counted ends it within the history."""
        return min((e.earliest_days for e in self.ends), default=float("inf"))

    @property
    def typical_days(self) -> float:
        """Days until it ends by the estimate; inf where nothing does within the history."""
        return min((e.typical_days for e in self.ends), default=float("inf"))

    @property
    def first(self) -> End | None:
        """What ends it first."""
        return self.ends[0] if self.ends else None

    @property
    def verdict(self) -> Verdict:
        """Whether the whole history is held; between both ends of the time it is to be measured."""
        if self.typical_days <= self.history.days:
            return "fail"
        return "cannot tell" if self.earliest_days <= self.history.days else "pass"


@dataclass(frozen=True)
class KeepTimes:
    """How long a product keeps.

    Attributes:
        name: of the product.
        temperature_C: declared.
        days: declared.
        pack: declared.
        ph: of the product, with its interval.
        water_activity: likewise.
        acids_mmol_per_kg: undissociated, in the water phase: at the estimate, and at the high pH.
        kept: as declared or logged, with an excursion, opened and kept cold, opened in a room.
        notes: what was assumed.
        cautions: before it is sold.
        packed: as declared or logged, against the moisture of the room; None where a tight pack
            and no dry texture leave nothing to tell.
    """

    name: str
    temperature_C: float
    days: float
    pack: str
    ph: Estimate
    water_activity: Estimate
    acids_mmol_per_kg: Mapping[str, tuple[float, float]]
    kept: tuple[Kept, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    packed: Packed | None = None

    @property
    def declared(self) -> Kept:
        """What ends it as declared or logged."""
        return self.kept[0]

    @property
    def exit_status(self) -> int:
        """0 the declared time is held, 1 it is not, 3 it has to be measured."""
        return {"pass": 0, "fail": 1, "cannot tell": 3}[self.declared.verdict]
