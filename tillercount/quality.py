"""Photo checks: each with its measured value, its limit in real units and a remedy.

`check_photo` looks at the photo alone, `check_fit` at how the area lies in it, `check_area` at the
marked area in the top view. The limits
are the project's own judgement of what a count can bear; they stand together in `LIMITS`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tillercount.check import Check, Level
from tillercount.shadow import shadow_share
from tillercount.sharpness import edge_width_mm
from tillercount.units import M2_PER_FT2

if TYPE_CHECKING:
    from tillercount.photo import Photo

__all__ = [
    "HEIGHT_MM",
    "LIMITS",
    "Check",
    "Level",
    "camera_height_mm",
    "check_area",
    "check_fit",
    "check_photo",
    "edge_width_mm",
    "shadow_share",
    "usual_height_mm",
]

LIMITS: dict[str, tuple[float, float]] = {
    # name: (lowers confidence beyond, refused beyond)
    "photo size": (320.0, 200.0),  # px on the short side; here less is worse
    "photo glare": (0.15, 0.50),
    "photo darkness": (0.30, 0.70),
    "sharpness": (2.2, 3.8),  # mm; blades of young cereals are 3 to 6 mm wide
    "scale": (0.6, 1.2),  # mm per pixel
    "tilt": (15.0, 25.0),  # degrees
    "camera height": (1.0, math.inf),  # of the usual range; warns of a size in a wrong unit
    "cut off": (0.02, 0.15),
    "glare": (0.05, 0.25),
    "darkness": (0.15, 0.40),
    "snow or frost": (0.08, 0.20),  # pale stones reach 5 %
    "shadow line": (0.08, math.inf),  # costs certainty, never the photo
}

HEIGHT_MM = (300.0, 2000.0)
"""From which a person photographs a frame of a square foot or more at their feet (common
practice); see `usual_height_mm`."""
STICK_MARGIN_MM = 10.0
"""Left out around a row stick: its rim, and the shadow close beside it."""
DARK, BRIGHT = 12, 250
"""Of 255: below and above these a pixel holds no more detail."""


def _judged(name: str, value: float, unit: str, found: str, remedy: str) -> Check:
    """Hold a value against its two limits; for "photo size" less is worse."""
    lower, refuse = LIMITS[name]
    sign = -1.0 if refuse < lower else 1.0
    level: Level = "ok"
    if sign * value > sign * refuse:
        level = "refuse"
    elif sign * value > sign * lower:
        level = "lower"
    limit = refuse if level == "refuse" else lower
    shown = _shown(limit, unit)
    text = found if level == "ok" else f"{found} (limit {shown}): {remedy}"
    return Check(name, float(value), unit, limit, level, text)


def _shown(value: float, unit: str) -> str:
    if unit == "share":
        return f"{value * 100:.0f} %"
    return f"{value:g}°" if unit == "°" else f"{value:g} {unit}"


def _percent(share: float) -> str:
    return f"{share * 100:.0f} %" if share >= 0.01 or share == 0 else "under 1 %"


def check_photo(photo: Photo) -> tuple[Check, ...]:
    """Checks that need no marked area: size, exposure, glare.

    Parameters
    ----------
    photo : Photo
        Looked at on a grid of about a quarter of a million pixels.
    """
    height, width = photo.rgb.shape[:2]
    step = max(1, round(math.sqrt(height * width / 250_000)))
    dark, bright = _clipped(photo.rgb[::step, ::step])
    dark_share, bright_share = float(dark.mean()), float(bright.mean())
    short = min(height, width)
    return (
        _judged(
            "photo size",
            short,
            "px",
            f"the photo is {width} × {height} pixels",
            "send the phone's own photo, not a reduced copy from a message",
        ),
        _judged(
            "photo glare",
            bright_share,
            "share",
            f"{_percent(bright_share)} of the photo is burnt out",
            "turn so that the sun is behind you, or shade the whole frame",
        ),
        _judged(
            "photo darkness",
            dark_share,
            "share",
            f"{_percent(dark_share)} of the photo is black",
            "tap on the plants so that the phone exposes for them; use more light",
        ),
    )


def _clipped(rgb: NDArray[np.uint8]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Where the brightest channel is black, and where even the darkest one is burnt out."""
    return rgb.max(axis=2) < DARK, rgb.min(axis=2) >= BRIGHT


def usual_height_mm(area_m2: float) -> tuple[float, float]:
    """From which a person photographs a frame of this area: small ones from nearer.

    Below a square foot the lower limit shrinks with the root of the frame's length (a convention of
    our own; in proportion to the length it would say nothing, since every frame has to fit into the
    picture). No area (nan) is taken for a square foot.
    """
    low, high = HEIGHT_MM
    feet2 = area_m2 / M2_PER_FT2
    return (low * feet2**0.25 if feet2 < 1 else low), high


def check_fit(photo: Photo, fit: Any, area_m2: float = math.nan) -> tuple[Check, ...]:
    """Checks on how the marked area lies in the photo, before it is looked at from above.

    Parameters
    ----------
    photo : Photo
    fit : FrameFit
        Its `tilt_deg` and `mm_per_px` are judged. A tilt that isn't known (nan) is left out,
        unless both tilts that a hoop may have are too large.
    area_m2 : float
        Of what was marked, for the camera's usual height.
    """
    checks = [
        _judged(
            "scale",
            fit.mm_per_px,
            "mm/px",
            f"one pixel is {fit.mm_per_px:.2f} mm wide on the ground",
            "check the size in --area and its unit; if they are right, go closer so that the "
            "frame fills the photo, or use the phone's full resolution",
        )
    ]
    possible = fit.evidence.get("possible_tilts_deg") or []
    tilt = fit.tilt_deg if math.isfinite(fit.tilt_deg) else min(possible, default=math.nan)
    if math.isfinite(tilt):
        checks.append(
            _judged(
                "tilt",
                tilt,
                "°",
                f"the camera was tilted {tilt:.0f}°",
                "hold the phone flat above the middle of the frame and look straight down",
            )
        )
    height_mm = camera_height_mm(photo, fit)
    if math.isfinite(height_mm):
        checks.append(_camera_height(height_mm, usual_height_mm(area_m2)))
    return tuple(checks)


def camera_height_mm(photo: Photo, fit: Any) -> float:
    """Of the lens above the ground, mm; nan where the lens isn't known."""
    known = photo.focal_known and fit.kind != "whole"
    return float(photo.focal_px * fit.mm_per_px) if known else math.nan


def _camera_height(height_mm: float, usual_mm: tuple[float, float]) -> Check:
    """A size that is wrong by its unit puts the camera in the grass or up a ladder."""
    low, high = usual_mm
    odd = max(low / max(height_mm, 1e-9), height_mm / high)
    feet = height_mm / 304.8
    return _judged(
        "camera height",
        odd,
        "of the usual",
        f"by its lens the camera was {feet:.1f} ft ({height_mm / 1000:.2f} m) above the ground",
        "check the size in --area and its unit; if they are right, count this spot by hand too",
    )


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
        _judged(
            "shadow line",
            shadow,
            "share",
            f"a hard shadow covers {_percent(shadow)} of the marked area",
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
    return _judged(
        "cut off",
        missing,
        "share",
        f"{_percent(missing)} of the marked area lies outside the photo",
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
    return _judged(
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
    dark, bright = _clipped(rgb)
    dark_share = float(dark[inside].mean())
    bright_share = float(bright[inside].mean())
    snow = float((_snowy(rgb) & ~bright)[inside].mean())
    return [
        _judged(
            "glare",
            bright_share,
            "share",
            f"{_percent(bright_share)} of the marked area is burnt out",
            "turn so that the sun is behind you, or shade the whole frame",
        ),
        _judged(
            "darkness",
            dark_share,
            "share",
            f"{_percent(dark_share)} of the marked area is black",
            "tap on the plants so that the phone exposes for them; use more light",
        ),
        _judged(
            "snow or frost",
            snow,
            "share",
            f"snow or frost covers {_percent(snow)} of the marked area",
            "wait until it has melted; plants under it can't be counted",
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
