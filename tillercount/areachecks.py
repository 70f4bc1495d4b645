"""Photo checks on the marked area as seen from above: cut off, sharp, well lit, snow, shadow."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tillercount.check import Check
from tillercount.checklimits import (
    LIMITS,
    TOO_DARK,
    clipped,
    judged,
    mean_brightness,
    percent,
)
from tillercount.shadow import shadow_share
from tillercount.sharpness import edge_width_mm

if TYPE_CHECKING:
    from tillercount.photo import Photo

__all__ = ["check_area"]

STICK_MARGIN_MM = 10.0
"""Left out around a row stick: its rim, and the shadow close beside it."""


def check_area(photo: Photo, fit: Any, topview: Any) -> tuple[Check, ...]:
    """Checks on the marked area as seen from above; `check_fit` comes before.

    Parameters
    ----------
    photo : Photo
    fit : FrameFit
    topview : TopView
    """
    inside = _without_stick((topview.inside >= 0.5) & topview.valid, fit, topview)
    checks = [_cut_off(topview)]
    if not inside.any():
        # Nothing to look at; "cut off" has refused it already.
        return tuple(checks)
    checks.append(_sharpness(topview, inside))
    checks += _exposure(topview.rgb, inside)
    shadow = shadow_share(topview.rgb, inside, topview.mm_per_px)
    checks.append(
        judged(
            "shadow line",
            shadow,
            "share",
            f"a hard shadow covers {percent(shadow)} of the marked area",
            "step back so that your shadow falls outside, or shade the whole frame",
        )
    )
    return tuple(checks)


def _without_stick(inside: NDArray[np.bool_], fit: Any, topview: Any) -> NDArray[np.bool_]:
    """The area less the stick that lies in it: a white lath is no glare, nor its rim a shadow."""
    if fit.stick_px is None or not math.isfinite(fit.tube_mm):
        return inside
    import cv2

    ends = np.column_stack([fit.stick_px, np.ones(2)]) @ np.linalg.inv(topview.to_photo).T
    ends = np.rint(ends[:, :2] / ends[:, 2:]).astype(int)
    thickness = max(1, round((fit.tube_mm + STICK_MARGIN_MM) / topview.mm_per_px))
    mask = np.zeros(inside.shape, np.uint8)
    cv2.line(mask, tuple(ends[0].tolist()), tuple(ends[1].tolist()), 1, thickness)
    return inside & (mask == 0)


def _cut_off(topview: Any) -> Check:
    total = float(topview.inside.sum())
    missing = float(topview.inside[~topview.valid].sum()) / total if total > 0 else 1.0
    return judged(
        "cut off",
        missing,
        "share",
        f"{percent(missing)} of the marked area lies outside the photo",
        "step back or move over so that the whole frame is in the photo",
    )


def _sharpness(topview: Any, inside: NDArray[np.bool_]) -> Check:
    width = edge_width_mm(topview.rgb, inside, topview.mm_per_px)
    if math.isnan(width):
        return Check(
            "sharpness",
            math.nan,
            "mm",
            LIMITS["sharpness"][0],
            "lower",
            "no edges in the marked area to judge sharpness by: wipe the lens and take it again "
            "if the photo looks foggy",
        )
    return judged(
        "sharpness",
        width,
        "mm",
        f"the sharpest edges are {width:.1f} mm wide" if width >= 0.5 else "edges are sharp",
        "hold still, wipe the lens, tap on the plants to focus, and take it again",
    )


def _exposure(rgb: NDArray[np.uint8], inside: NDArray[np.bool_]) -> list[Check]:
    # Every second pixel each way: shares don't need more.
    if inside[::2, ::2].any():
        rgb, inside = rgb[::2, ::2], inside[::2, ::2]
    dark, bright = clipped(rgb)
    dark_share = float(dark[inside].mean())
    bright_share = float(bright[inside].mean())
    brightness = mean_brightness(rgb[inside])
    snow = float((_snowy(rgb) & ~bright)[inside].mean())
    return [
        judged(
            "glare",
            bright_share,
            "share",
            f"{percent(bright_share)} of the marked area is burnt out",
            "turn so that the sun is behind you, or shade the whole frame",
        ),
        judged(
            "darkness",
            dark_share,
            "share",
            f"{percent(dark_share)} of the marked area is black",
            "tap on the plants so that the phone exposes for them; use more light",
        ),
        judged(
            "brightness",
            brightness,
            "of 255",
            f"the marked area's mean brightness is {brightness:.0f} of 255",
            TOO_DARK,
        ),
        judged(
            "snow or frost",
            snow,
            "share",
            f"snow or frost, or something as white, covers {percent(snow)} of the marked area",
            "wait until it has melted, or take it away; plants under it can't be counted",
        ),
    ]


def _snowy(rgb: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Bright, colourless and smooth over about five pixels; blue in the shade is allowed for."""
    import cv2

    low, high = rgb.min(axis=2), rgb.max(axis=2)
    light = rgb[:, :, 1].astype(np.float32)
    mean = cv2.blur(light, (5, 5))
    variance = cv2.blur(light * light, (5, 5)) - mean * mean
    # Straw and stones are warm (red over blue); snow and frost are neutral or bluish.
    warm = rgb[:, :, 0].astype(np.int16) - rgb[:, :, 2]
    pale = (low >= 165) & (high - low <= 45) & (warm <= 8)
    smooth = (pale & (variance < 14.0**2)).astype(np.uint8)
    # The rim of a patch isn't smooth, but belongs to it.
    return np.asarray(pale & (cv2.dilate(smooth, np.ones((5, 5), np.uint8)) > 0))
