"""Which rendered photos a careful person would have kept: judged by the truth alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["LEAST_SEEN", "MOST_COVERED", "USABLE", "why_unusable"]

FRAME, ELSE = 4, 255
MOST_COVERED = 0.005
"""Of the marked area and its rim: more of it under a board, boot or hose, and the photo is out."""
LEAST_SEEN = 0.6
"""Share of the frame's length that no leaf hides."""
MARGIN = 0.06

USABLE = (
    "the whole marked area is in the photo, no board, boot or other thing lies on it or its "
    f"frame, and leaves hide at most {1 - LEAST_SEEN:.0%} of the frame"
)


def why_unusable(scene: dict[str, Any], classes: NDArray[np.uint8] | Path | None) -> str | None:
    """Why a scene isn't a usable photo, or None if it is.

    Parameters
    ----------
    scene : dict
        Truth of a scene with a marked area, as in its JSON.
    classes : ndarray (H, W) uint8, path of the picture of it, or None
        Class map; without one, or with one that says nothing, only the place is judged.
    """
    from PIL import Image, ImageDraw

    outline = np.asarray(scene["outline_px"], float)
    edge = np.asarray(scene["inside_edge_px"] or scene["outline_px"], float)
    stick = np.asarray(scene["stick_px"], float).reshape(-1, 2)
    width, height = int(scene["width"]), int(scene["height"])
    points = np.concatenate([outline, stick])
    if (points < 0).any() or (points > [width - 1, height - 1]).any():
        return "cut by the edge"
    if classes is None:
        return None
    if isinstance(classes, Path):
        if not classes.exists():
            return None
        with Image.open(classes) as picture:
            classes = np.asarray(picture)
    if (classes == ELSE).all():
        return None
    centre = outline.mean(0)
    grown = centre + (outline - centre) * (1 + 2 * MARGIN)
    mask = Image.new("L", (width, height))
    ImageDraw.Draw(mask).polygon([(float(x), float(y)) for x, y in grown], fill=1)
    region = np.asarray(mask) > 0
    if (classes[region] == ELSE).mean() > MOST_COVERED:
        return "something lies on it"
    if _frame_seen(classes, stick if len(stick) else edge, scene) < LEAST_SEEN:
        return "frame under leaves"
    return None


def _frame_seen(
    classes: NDArray[np.uint8], line: NDArray[np.float64], scene: dict[str, Any]
) -> float:
    """Share of places along the frame's middle where the frame itself is seen."""
    matrix = np.asarray(scene["ground_to_photo"], float)
    px_per_mm = float(np.sqrt(abs(np.linalg.det((matrix / matrix[2, 2])[:2, :2]))))
    half = float(scene["area"]["tube_mm"]) / 2 * px_per_mm
    closed = len(line) > 2
    ends = np.roll(line, -1, 0) if closed else line[1:]
    starts = line if closed else line[:1]
    t = (np.arange(100) + 0.5) / 100
    at = (starts[:, None] + (ends - starts)[:, None] * t[None, :, None]).reshape(-1, 2)
    if closed:
        away = at - line.mean(0)
        way = (ends - starts) / np.linalg.norm(ends - starts, axis=1, keepdims=True)
        normal = np.repeat(np.stack([way[:, 1], -way[:, 0]], 1), len(t), 0)
        normal *= np.sign((normal * away).sum(1, keepdims=True))
        at = at + normal * half
    x, y = np.round(at).astype(int).T
    inside = (x >= 0) & (y >= 0) & (x < classes.shape[1]) & (y < classes.shape[0])
    return float((classes[y[inside], x[inside]] == FRAME).mean()) if inside.any() else 0.0
