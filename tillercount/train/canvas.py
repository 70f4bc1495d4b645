"""From a photo to a metric canvas: the map between them, and pixels moved along it.

Canvas pixels follow the package's convention: x right, y down, the centre of the top-left pixel
is (0, 0).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

__all__ = [
    "BLOCK_PX",
    "OUTSIDE",
    "apply",
    "canvas_to_ground",
    "inside_share",
    "shift_of",
    "warp_ids",
    "warp_photo",
    "warp_plain",
]

BLOCK_PX = 16
_MARGIN_PX = 50.0  # 20 mm of context around the marked area
OUTSIDE = 254
"""Class value of canvas pixels that the photo doesn't show; 255 is "not judged"."""


def canvas_to_ground(
    ground_to_photo: NDArray[np.float64], canvas_px: int, mm_per_px: float
) -> NDArray[np.float64]:
    """Canvas px to ground mm, centred on the marked area, never as seen in a mirror."""
    half = (canvas_px - 1) / 2 * mm_per_px
    step = 0.5
    ends = apply(ground_to_photo, np.array([[0, 0], [step, 0], [0, step]], dtype=np.float64))
    along_x, along_y = ends[1] - ends[0], ends[2] - ends[0]
    turn = 1.0 if along_x[0] * along_y[1] - along_x[1] * along_y[0] > 0 else -1.0
    return np.array(
        [[mm_per_px, 0, -half], [0, turn * mm_per_px, -turn * half], [0, 0, 1]], dtype=np.float64
    )


def apply(matrix: NDArray[Any], points: NDArray[Any]) -> NDArray[np.float64]:
    """Points (N, 2) through a projective map (3, 3)."""
    homogeneous = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return homogeneous[:, :2] / homogeneous[:, 2:]


def _perspective(to_photo: NDArray[np.float64]) -> tuple[float, ...]:
    """The eight numbers Pillow wants; it counts pixels from their corner, not their centre."""
    there = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    back = np.array([[1, 0, -0.5], [0, 1, -0.5], [0, 0, 1]])
    m = there @ to_photo @ back
    return tuple((m / m[2, 2]).ravel()[:8].tolist())


def warp_photo(
    photo: Image.Image, to_photo: NDArray[np.float64], canvas_px: int
) -> NDArray[np.uint8]:
    middle = (canvas_px - 1) / 2
    a = apply(to_photo, np.array([[middle, middle], [middle + 1, middle], [middle, middle + 1]]))
    step = float(np.sqrt(abs(np.linalg.det(np.stack([a[1] - a[0], a[2] - a[0]])))))
    if step > 1.25:
        # The photo is finer than the canvas: average first, or thin leaves turn to dots.
        size = (max(1, round(photo.width / step)), max(1, round(photo.height / step)))
        sx, sy = size[0] / photo.width, size[1] / photo.height
        shrink = np.array([[sx, 0, sx / 2 - 0.5], [0, sy, sy / 2 - 0.5], [0, 0, 1]])
        photo = photo.resize(size, Image.Resampling.BOX)
        to_photo = shrink @ to_photo
    warped = photo.transform(
        (canvas_px, canvas_px),
        Image.Transform.PERSPECTIVE,
        _perspective(to_photo),
        resample=Image.Resampling.BILINEAR,
    )
    return np.asarray(warped, dtype=np.uint8)


def warp_ids(ids: Image.Image, to_photo: NDArray[np.float64], canvas_px: int) -> NDArray[np.uint8]:
    plain = Image.fromarray(np.asarray(ids, dtype=np.uint8))
    return np.asarray(warp_plain(plain, to_photo, canvas_px, OUTSIDE), dtype=np.uint8)


def warp_plain(
    numbers: Image.Image, to_photo: NDArray[np.float64], canvas_px: int, outside: int
) -> Image.Image:
    """Numbers at the nearest pixel, never mixed."""
    return numbers.transform(
        (canvas_px, canvas_px),
        Image.Transform.PERSPECTIVE,
        _perspective(to_photo),
        resample=Image.Resampling.NEAREST,
        fillcolor=outside,
    )


def inside_share(outline: NDArray[np.float64], canvas_px: int) -> NDArray[np.float32]:
    blocks = canvas_px // BLOCK_PX
    if not len(outline):
        return np.zeros((blocks, blocks), dtype=np.float32)
    fine = 2
    mask = Image.new("L", (canvas_px * fine, canvas_px * fine))
    corners = [((x + 0.5) * fine - 0.5, (y + 0.5) * fine - 0.5) for x, y in outline.tolist()]
    ImageDraw.Draw(mask).polygon(corners, fill=1)
    cells = np.asarray(mask, dtype=np.float32).reshape(
        blocks, BLOCK_PX * fine, blocks, BLOCK_PX * fine
    )
    return cells.mean(axis=(1, 3)).astype(np.float32)


def shift_of(
    scene: dict[str, Any], to_photo: NDArray[np.float64], canvas_px: int
) -> NDArray[np.float64]:
    """Move (3, 3) of the canvas over a marked area that it can't hold, canvas px."""
    move = np.eye(3)
    outline = np.asarray(scene.get("outline_px") or np.zeros((0, 2)), dtype=np.float64)
    if len(outline):
        marked = apply(np.linalg.inv(to_photo), outline)
        room = np.maximum(np.ptp(marked, axis=0) / 2 + _MARGIN_PX - canvas_px / 2, 0)
        rng = np.random.default_rng([int(scene.get("seed", 0)) % 2**32, 5])
        move[:2, 2] = rng.uniform(-1, 1, 2) * room
    return move
