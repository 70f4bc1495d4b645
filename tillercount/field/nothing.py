"""What a field may still have where nothing was found at any spot.

Plants stand in patches, so a field has spots without any long before it has none at all. A spot of
area a in a field of mean density μ is taken to have a Poisson count whose own mean is gamma
distributed, with the mean μ·a and the CV c: it is empty with the probability
(1 + c²·μ·a)^(-1/c²), the zero term of the negative binomial (Greenwood & Yule 1920, J. R. Stat.
Soc. 83:255-279; cited from memory). For c = 0 that is the Poisson e^(-μ·a). Over several spots it
is the product; over the CVs held for possible (`.betweenspots`) the mean of those products.

The upper end at a level L is the density at which so many empty spots have the probability
(1-L)/2: for a Poisson count -ln((1-L)/2)/Σa, here 1.7 times that for one spot of a square foot and
1.1 times for four.
How probable it is that the truth is below any density is one minus that probability: a confidence
distribution, which by itself takes no density for likelier than another.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tillercount.field.betweenspots import usual_cvs

__all__ = ["Nothing"]


@dataclass(frozen=True)
class Nothing:
    """Spots of these areas (m²), all empty."""

    areas: tuple[float, ...]

    def under(self, per_m2: ArrayLike) -> NDArray[np.float64]:
        """Probability that the field's mean is below this; shape as given."""
        cvs, weights = usual_cvs()
        at = np.maximum(0.0, np.asarray(per_m2, float))[..., None]
        log_empty = sum(-np.log1p(cvs**2 * at * area) / cvs**2 for area in self.areas)
        return np.asarray(1.0 - (weights * np.exp(log_empty)).sum(axis=-1))

    def high(self, upper: float) -> float:
        """Density (per m²) that the field stays below with probability ``upper``."""
        from scipy import optimize

        most = 1.0 / sum(self.areas)
        while float(self.under(most)) < upper:
            most *= 2.0
        found: float = optimize.brentq(lambda at: float(self.under(at)) - upper, 0.0, most)
        return found
