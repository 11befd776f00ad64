"""The shape of a fit: values with intervals, how well it fits, what it cannot tell."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import stats

from stillroom.assess.fit.models import MEASURED, Model, Parameters, Points, at_temperature
from stillroom.errors import InputError
from stillroom.labels import Array, Numbers, formula_of
from stillroom.product.counts_file import Counts
from stillroom.product.rates_file import Rates

CONFIDENCE = 0.95
Method = Literal["profile likelihood", "covariance", ""]


def quantile(freedom: int) -> float:
    """Return by how many standard errors an interval reaches to either side."""
    return float(stats.t.ppf((1 + CONFIDENCE) / 2, freedom))


@dataclass(frozen=True)
class Value:
    """A parameter or what follows from it, with its 95 % interval.

    Attributes:
        name: with its unit.
        words: for people.
        unit: of all numbers.
        value: best estimate; nan where the data do not determine it.
        low: lower end of the interval; nan where none can be given.
        high: upper end.
        error: standard error.
        method: how the interval was found.
        why_not: why the data do not determine it, or give no interval; a sentence.
    """

    name: str
    words: str
    unit: str
    value: float
    low: float = np.nan
    high: float = np.nan
    error: float = np.nan
    method: Method = ""
    why_not: str = ""


@dataclass(frozen=True)
class Runs:
    """The signs of the residuals along the curves.

    Attributes:
        runs: of residuals of one sign.
        expected: by chance, of so many of each sign.
        chance: of so few runs or fewer.
    """

    runs: int
    expected: float
    chance: float


@dataclass(frozen=True, eq=False)
class Solution:
    """The curve nearest to the points.

    Attributes:
        best: parameters of the curve, with the reference temperature where there is one.
        names: of those that were fitted, in the order of the covariance.
        covariance: of them.
        freedom: points found less parameters.
        fitted: the curve at each point.
        residuals: points less curve; nan where nothing was found.
        rmse: root of the sum of squared residuals over the degrees of freedom.
        r_squared: share of the spread of the points that the curve explains.
        aicc: Akaike criterion corrected for few points; inf where they are too few for it.
        runs: signs of the residuals.
    """

    best: Mapping[str, float]
    names: tuple[str, ...]
    covariance: Array
    freedom: int
    fitted: Array
    residuals: Array
    rmse: float
    r_squared: float
    aicc: float
    runs: Runs

    @property
    def correlation(self) -> Array:
        """Correlations of the parameters."""
        error = np.sqrt(np.diag(self.covariance))
        with np.errstate(invalid="ignore", divide="ignore"):
            return self.covariance / np.outer(error, error)

    def follow(
        self, name: str, words: str, unit: str, function: Callable[[Parameters], Numbers]
    ) -> Value:
        """Return a positive quantity that follows from the parameters, by their covariance.

        Args:
            name: of the quantity.
            words: for people.
            unit: of it.
            function: of the parameters; smooth.
        """

        def log(p: Parameters) -> float:
            return float(np.log(function(p)))

        error = np.sqrt(np.diag(self.covariance))
        slope = np.zeros(error.size)
        for n, step in enumerate(1e-3 * error):
            if step > 0:
                at = self.best[self.names[n]]
                up, down = (log({**self.best, self.names[n]: at + d}) for d in (step, -step))
                slope[n] = (up - down) / (2 * step)
        value = float(np.exp(log(self.best)))
        spread = float(np.sqrt(slope @ self.covariance @ slope))
        factor = float(np.exp(quantile(self.freedom) * spread))
        ends = value / factor, value * factor
        return Value(name, words, unit, value, *ends, value * spread, method="covariance")


@dataclass(frozen=True)
class Rival:
    """A model that was compared.

    Attributes:
        model: its name.
        aicc: as in a solution; nan where nothing could be fitted.
        remark: what the data do not determine of it.
    """

    model: str
    aicc: float
    remark: str


@dataclass(frozen=True, eq=False)
class Fit:
    """A model fitted to data.

    Attributes:
        model: that was fitted.
        data: it was fitted to.
        points: of the data, as the model sees them.
        solution: the nearest curve; none where the data do not allow the model at all.
        values: parameters; start counts last.
        derived: what follows from them.
        refusals: sentences on what the data do not determine.
        warnings: sentences to read before the numbers are used.
        notes: how it was done, in sentences.
        rivals: models compared, best first; none where the model was named.
    """

    model: Model
    data: Counts | Rates
    points: Points
    solution: Solution | None
    values: tuple[Value, ...]
    derived: tuple[Value, ...]
    refusals: tuple[str, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    rivals: tuple[Rival, ...] = ()

    @property
    def verdict(self) -> Literal["fitted", "refused"]:
        """Whether the data determine everything that was asked of them."""
        return "refused" if self.refusals else "fitted"

    @property
    def exit_status(self) -> int:
        """0 fitted, 3 refused."""
        return 3 if self.refusals else 0

    def __getitem__(self, name: str) -> Value:
        """Return a parameter, or what follows from them, by its name."""
        for value in (*self.values, *self.derived):
            if value.name == name:
                return value
        raise KeyError(f"{name!r} is not among {', '.join(v.name for v in self.values)}.")

    def curve(self, along: Numbers, number: int = 0) -> Array:
        """Return a fitted curve at any times, or the line over temperature.

        Args:
            along: hours; °C within the data for a model over temperature alone; any shape.
            number: of the curve, in the order of the labels of the points.

        Returns:
            log10 counts, square roots of rates or log10 D values.

        Raises:
            InputError: nothing was fitted, or a temperature is outside the data.
        """
        best, x = self._solved().best, np.asarray(along, float)
        if not self.points.labels:
            self._within(x)
            return self.model.curve(best, 0.0, np.zeros_like(x), x)
        T = self.points.temperature_C[self.points.curve == number][0]
        return self.model.curve(best, best[f"log10_start_{number + 1}"], x, np.full_like(x, T))

    def at(self, temperature_C: float) -> Value:
        """Return D, delta or the growth rate at a temperature within those of the data.

        Args:
            temperature_C: where it is asked for.

        Raises:
            InputError: nothing was fitted, the model knows one temperature only, or it is asked
                for outside the data.
        """
        solved = self._solved()
        if not self.model.over_temperature:
            raise InputError(f"{self.model.name} knows one temperature only.")
        self._within(np.array(temperature_C))
        term = MEASURED.get(self.model.terms[0].name, self.model.terms[0])
        words = f"{term.words} at {temperature_C:g} °C"
        why_not = next((v.why_not for v in self.values if np.isnan(v.value)), "")
        if why_not:
            return Value(term.name, words, term.unit, np.nan, why_not=why_not)
        return solved.follow(
            term.name, words, term.unit, lambda p: at_temperature(p, temperature_C)
        )

    def _within(self, temperature_C: Array) -> None:
        T = self.points.temperature_C
        outside = temperature_C[(temperature_C < T.min()) | (temperature_C > T.max())]
        if outside.size:
            raise InputError(
                f"{outside.flat[0]:g} °C is outside {T.min():g} to {T.max():g} °C, where it was "
                "measured; the line must not be followed further."
            )

    def sources(self) -> list[str]:
        """Return what the model rests on, once each, in order."""
        labels = map(formula_of, self.model.formulas)
        return list(dict.fromkeys(", ".join(filter(None, (f.source, f.place))) for f in labels))

    def _solved(self) -> Solution:
        if self.solution is None:
            raise InputError(" ".join(self.refusals))
        return self.solution
