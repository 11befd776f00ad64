"""Fits of growth and survival: models, intervals, and what the data cannot tell."""

from stillroom.assess.fit.fitting import fit
from stillroom.assess.fit.plain import fit_to_dict
from stillroom.assess.fit.result import Fit, Value

__all__ = ["Fit", "Value", "fit", "fit_to_dict"]
