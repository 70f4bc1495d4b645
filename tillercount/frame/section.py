"""Where the two edges of a frame's side are seen on the ground: round pipes and square laths.

Everything happens in a plane square to the side: the camera stands ``height`` above the ground
and ``foot`` out from the frame's middle, the inside edge that the area is defined by lies
``half`` out on the ground. All are mm, arrays that broadcast, positive towards the outside.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["lath_edges", "pipe_edges"]

Array = NDArray[Any]


def pipe_edges(
    foot: Array, height: Array, half: Array, radius: Array, lift: Array
) -> tuple[Array, Array]:
    """Where the two rays that graze a pipe of this radius meet the ground.

    ``lift`` is how far above the ground the pipe lies.
    """
    out, deep = half + radius - foot, height - lift - radius
    middle = np.arctan2(out, deep)
    spread = np.arcsin(np.clip(radius / np.hypot(out, deep), 0, 0.99))
    return foot + height * np.tan(middle - spread), foot + height * np.tan(middle + spread)


def lath_edges(
    foot: Array, height: Array, half: Array, width: Array, thick: Array
) -> tuple[Array, Array, Array]:
    """Where the inside, the upper inside edge and the outside of a lath are seen on the ground.

    The inside is the lower edge of the inner face as long as the camera stands inside of it.
    """
    far = height / np.maximum(height - thick, 1.0)
    upper = foot + (half - foot) * far
    outer = foot + (half + width - foot) * far
    return np.minimum(half, upper), upper, np.maximum(outer, half + width)
