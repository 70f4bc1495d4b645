"""What the interval of a mean is made of: how spots, photos and hand counts scatter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.field.spots import SpotDensity

__all__ = ["Scatter", "own_sd_of"]


@dataclass(frozen=True)
class Scatter:
    """What the interval of a mean is made of, so that more spots can be reckoned with.

    Without pairs the mean of N spots has the variance spot_sd²/N, and the shared error of the
    photos besides. With pairs (`tillercount.field.double`) it is signal_sd²/N + error_sd²/n.

    Attributes
    ----------
    spots : int
        N, all spots.
    pairs : int
        n, spots with a photo and a hand count that enter as pairs; 0 where pairs aren't used.
    photos : int
        Spots known by photo alone.
    spot_sd : float
        Standard deviation between spots, per m².
    signal_sd, error_sd : float
        The part of it that photos see, and that of hand counts around what photos say.
    fitted : int
        Numbers fitted: 1 (a mean, or a mean difference), 2 (a line), and what is charged besides
        (`tillercount.field.choosing`).
    shared : float
        Standard error that all photos share, per m² of mean density by photo; 0 with pairs.
    own_sd : float or None
        Error of a single photo's own, per m²; None where it isn't known.
    """

    spots: int
    pairs: int = 0
    photos: int = 0
    spot_sd: float = 0.0
    signal_sd: float = 0.0
    error_sd: float = 0.0
    fitted: int = 1
    shared: float = 0.0
    own_sd: float | None = None


def own_sd_of(spots: Sequence[SpotDensity], what: str) -> float | None:
    """Error of a single photo's own, besides what all of them share; None where it isn't known.

    A photo whose error nobody stated (an older file) or that a person corrected has an error of 0
    here: that isn't a known one, and says nothing of the others'.
    """
    squares = [
        getattr(spot, f"{what}_se") ** 2
        - (getattr(spot, f"{what}_bias_rel") * getattr(spot, f"{what}_per_m2")) ** 2
        for spot in spots
        if spot.by(what) == "photo" and getattr(spot, f"{what}_se") > 0
    ]
    mean = math.fsum(squares) / len(squares) if squares else 0.0
    return math.sqrt(mean) if mean > 0 else None
