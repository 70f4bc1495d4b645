"""The metric top view: the marked area as seen straight from above, at a fixed mm per pixel."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import Area, WholePhoto
from tillercount.errors import InputError
from tillercount.frame.outline import outline_mm
from tillercount.frame.projection import apply, mm_per_px
from tillercount.frame.result import FrameFit
from tillercount.photo import Photo

__all__ = ["MM_PER_PX", "TopView", "make_topview"]

Array = NDArray[Any]

MM_PER_PX = 0.4
LARGEST_MEGAPIXELS = 60.0
SUBPIXELS = 16
"""The outline is drawn to a sixteenth of a pixel."""


@dataclass(frozen=True, eq=False)
class TopView:
    """A top view of the ground.

    Attributes
    ----------
    rgb : ndarray (h, w, 3) uint8
        x as the ground's x, y down as against the ground's y, so that it looks like the photo.
    inside : ndarray (h, w) float32
        Share of each pixel that lies inside the outline, 0 to 1.
    valid : ndarray (h, w) bool
        The pixel lies in the photo.
    mm_per_px : float
    to_photo : ndarray (3, 3)
        Top view px to photo px.
    native_mm_per_px : float
        Of the photo at the middle of the area: what was really resolved.
    """

    rgb: NDArray[np.uint8]
    inside: NDArray[np.float32]
    valid: NDArray[np.bool_]
    mm_per_px: float
    to_photo: Array
    native_mm_per_px: float

    @property
    def inside_mm2(self) -> float:
        """Area inside the outline that this view shows, mm²."""
        return float(self.inside.sum(dtype=np.float64)) * self.mm_per_px**2


def make_topview(
    photo: Photo,
    fit: FrameFit,
    area: Area,
    mm_per_px: float = MM_PER_PX,
    margin_mm: float = 20.0,
) -> TopView:
    """Top view of the marked area with a margin of ground around it.

    Where the photo is finer than the view it is averaged first, in steps of two, so that leaves
    don't break up into dots; a whole photo is only resized and has no margin.

    Raises
    ------
    InputError
        The view would be absurdly large: the scale or the area's size is wrong.
    """
    if isinstance(area, WholePhoto):
        return _whole(photo, area, mm_per_px)
    outline = outline_mm(area)
    low, high = outline.min(0) - margin_mm, outline.max(0) + margin_mm
    width, height = (max(1, math.ceil(v / mm_per_px)) for v in high - low)
    _check_size(width, height, area.label, mm_per_px)
    centre = (low + high) / 2
    s = mm_per_px
    to_ground = np.array(
        [
            [s, 0, centre[0] - s * (width - 1) / 2],
            [0, -s, centre[1] + s * (height - 1) / 2],
            [0, 0, 1.0],
        ]
    )
    to_photo = np.linalg.inv(fit.to_ground) @ to_ground
    to_photo = to_photo / to_photo[2, 2]
    rgb = _warped(photo.rgb, to_photo, width, height)
    inside = _inside(apply(np.linalg.inv(to_ground), outline), width, height)
    valid = _valid(photo.rgb.shape[:2], to_photo, width, height)
    return TopView(rgb, inside, valid, mm_per_px, to_photo, fit.mm_per_px)


def _whole(photo: Photo, area: WholePhoto, mm_per_px: float) -> TopView:
    import cv2

    height, width = photo.rgb.shape[:2]
    share = area.mm_per_px / mm_per_px
    w, h = max(1, round(width * share)), max(1, round(height * share))
    _check_size(w, h, area.label, mm_per_px)
    how = cv2.INTER_AREA if share < 1 else cv2.INTER_CUBIC
    rgb = (
        photo.rgb.copy()
        if (w, h) == (width, height)
        else cv2.resize(photo.rgb, (w, h), interpolation=how)
    )
    x, y = width / w, height / h
    to_photo = np.array([[x, 0, (x - 1) / 2], [0, y, (y - 1) / 2], [0, 0, 1.0]])
    return TopView(
        np.asarray(rgb, np.uint8),
        np.ones((h, w), np.float32),
        np.ones((h, w), bool),
        mm_per_px,
        to_photo,
        area.mm_per_px,
    )


def _check_size(width: int, height: int, text: str, mm_per_px: float) -> None:
    if width * height > LARGEST_MEGAPIXELS * 1e6:
        raise InputError(
            f"area {text}: a view of {width} by {height} px at {mm_per_px:g} mm per px is too "
            "large; check the size and its unit"
        )


def _warped(rgb: NDArray[np.uint8], to_photo: Array, width: int, height: int) -> NDArray[np.uint8]:
    """The photo through a homography, halved first as often as the view is coarser than it."""
    import cv2

    corners = np.array([[0, 0], [width - 1, 0], [width - 1, height - 1], [0, height - 1]], float)
    step = 1 / mm_per_px(np.asarray(to_photo), ((width - 1) / 2, (height - 1) / 2))
    # only the part of the photo that is needed is touched
    seen = apply(to_photo, corners)
    pad = 4 + 4 * step
    low = np.clip(np.floor(seen.min(0) - pad), 0, None).astype(int)
    high = np.minimum(np.ceil(seen.max(0) + pad).astype(int) + 1, [rgb.shape[1], rgb.shape[0]])
    if (high - low < 1).any():
        return np.zeros((height, width, 3), np.uint8)
    part = rgb[low[1] : high[1], low[0] : high[0]]
    to_part = np.array([[1.0, 0, -low[0]], [0, 1, -low[1]], [0, 0, 1]])
    # below 1.4 linear interpolation still uses every pixel of the photo
    while step > 1.4 and min(part.shape[:2]) >= 4:
        share = 0.5 if step >= 2 else 1 / step
        w = max(1, round(part.shape[1] * share))
        h = max(1, round(part.shape[0] * share))
        x, y = w / part.shape[1], h / part.shape[0]
        part = np.asarray(cv2.resize(part, (w, h), interpolation=cv2.INTER_AREA))
        smaller = np.array([[x, 0, (x - 1) / 2], [0, y, (y - 1) / 2], [0, 0, 1.0]])
        to_part = smaller @ to_part
        step *= math.sqrt(x * y)
    return np.asarray(
        cv2.warpPerspective(
            part,
            to_part @ to_photo,
            (width, height),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_CONSTANT,
        ),
        np.uint8,
    )


def _inside(outline_px: Array, width: int, height: int) -> NDArray[np.float32]:
    """Share of every pixel inside a convex outline (N, 2) px; exact to first order at its edges.

    For each edge the share of a pixel on its inner side follows from the distance of the pixel's
    centre and the edge's direction; the shares of a corner's two edges are multiplied.
    """
    import cv2

    ring = outline_px
    x, y = ring.T
    if float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) < 0:
        ring = ring[::-1]
    fine = 1 << int(math.log2(SUBPIXELS))
    mask = np.zeros((height, width), np.uint8)
    cv2.fillConvexPoly(mask, np.round(ring * fine).astype(np.int32), 1, cv2.LINE_8, 4)
    share = mask.astype(np.float32)
    rim = np.zeros((height, width), np.uint8)
    cv2.polylines(rim, [np.round(ring * fine).astype(np.int32)], True, 1, 3, cv2.LINE_8, 4)
    rows, columns = np.nonzero(rim)
    # rim pixels: count sub-samples
    k = 8
    steps = (np.arange(k) + 0.5) / k - 0.5
    total = np.zeros(len(rows))
    edges = np.roll(ring, -1, axis=0) - ring
    for oy in steps:
        for ox in steps:
            total += _within(columns + ox, rows + oy, ring, edges)
    share[rows, columns] = total / k**2
    return share


def _within(x: Array, y: Array, ring: Array, edges: Array) -> NDArray[np.bool_]:
    """Which points lie inside a convex ring that turns clockwise as seen (y down)."""
    if len(ring) <= 8:
        inside = np.ones(len(x), bool)
        for (px, py), (ex, ey) in zip(ring, edges, strict=True):
            inside &= ex * (y - py) - ey * (x - px) >= 0
        return inside
    # many-sided: only the edge in the point's own direction counts
    centre = ring.mean(0)
    turn = np.arctan2(ring[:, 1] - centre[1], ring[:, 0] - centre[0])
    first = int(np.argmin(turn))
    turn, ring, edges = (np.roll(a, -first, axis=0) for a in (turn, ring, edges))
    at = np.searchsorted(turn, np.arctan2(y - centre[1], x - centre[0]), side="right") - 1
    p, e = ring[at], edges[at]
    out: NDArray[np.bool_] = e[:, 0] * (y - p[:, 1]) - e[:, 1] * (x - p[:, 0]) >= 0
    return out


def _valid(shape: tuple[int, int], to_photo: Array, width: int, height: int) -> NDArray[np.bool_]:
    """Which pixels of the view lie in the photo (height, width)."""
    x, y = np.arange(width)[None, :], np.arange(height)[:, None]
    (a, b, c), (d, e, f), (g, h, i) = to_photo
    depth = g * x + h * y + i
    px, py = (a * x + b * y + c) / depth, (d * x + e * y + f) / depth
    out: NDArray[np.bool_] = (
        (px >= -0.5) & (px <= shape[1] - 0.5) & (py >= -0.5) & (py <= shape[0] - 0.5) & (depth > 0)
    )
    return out
