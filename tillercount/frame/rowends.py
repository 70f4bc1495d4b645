"""Whether the ground goes on beyond both ends of a stick, as it does about an end that is seen.

A stick that runs under a board, a boot or a second stick ends in the photo where that thing
begins, and nothing tells how far it goes on below.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.colours import likeness
from tillercount.frame.edges import look
from tillercount.frame.finder import Picture
from tillercount.frame.row import RowFit

__all__ = ["LEAST_BEYOND", "least_beyond"]

Array = NDArray[Any]

LEAST_BEYOND = 0.5
"""Share of what lies beyond an end that must look like what lies beside the stick rather than like
the stick or any other thing."""
STEP, REACH, EDGE = 0.25, 3.0, 1.0
"""Of the stick's width: how finely is looked, how far beside the stick and beyond its ends, and
what is left out at its edges and ends when colours are learned."""
STICK, NEAR, FAR = 0.3, 0.25, 1.75
"""Of its width: half of what is surely the stick; from where to where beyond an end is looked."""
STRAIGHT, ASIDE = 0.5, (0.7, 2.0)
"""Of its width from its middle line: straight beyond it, and aside of that."""


def least_beyond(picture: Picture, stick: RowFit) -> float:
    """Share of what shows beyond an end that looks like what lies beside the stick, at the worse.

    What covers an end is wider than the stick: of what lies straight beyond the end and of the
    worse of what lies aside of that the greater counts, so that a straw or a leaf that lies there
    by chance isn't taken for such a thing. What the photo doesn't show says nothing.
    """
    width = max(stick.width_px, 2.0)
    way = stick.ends[1] - stick.ends[0]
    length = float(np.linalg.norm(way))
    axis = way / length
    along = np.arange(-REACH, length / width + REACH, STEP)
    across = np.arange(-REACH, REACH + STEP / 4, STEP / 2)
    at = along[:, None, None] * axis + across[None, :, None] * np.array([-axis[1], axis[0]])
    at = stick.ends[0] + width * at
    shown = picture.shows(at)
    own = shown & ((along > EDGE) & (along < length / width - EDGE))[:, None]
    beside, middle = np.abs(across) > EDGE, np.abs(across) < STICK
    ground = likeness(look(picture.rgb, at), own & beside, own & middle)[0] > 0
    aside = ((across < -ASIDE[0]) & (across > -ASIDE[1]), (across > ASIDE[0]) & (across < ASIDE[1]))
    least = 1.0
    for beyond in (-along, along - length / width):
        here = shown & ((beyond >= NEAR) & (beyond <= FAR))[:, None]
        straight, *sides = (
            float(ground[some].mean()) if (some := here & places).any() else 1.0
            for places in (np.abs(across) <= STRAIGHT, *aside)
        )
        least = min(least, max(straight, min(sides)))
    return round(least, 3)
