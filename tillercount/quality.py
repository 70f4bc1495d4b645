"""Photo checks: each with its measured value, its limit in real units and a remedy.

`check_photo` looks at the photo alone, `check_fit` at how the area lies in it, `check_area`
(`tillercount.areachecks`) at the marked area in the top view. The limits stand together in
`tillercount.checklimits.LIMITS`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from tillercount.areachecks import check_area
from tillercount.check import Check, Level
from tillercount.checklimits import (
    LIMITS,
    TOO_DARK,
    clipped,
    judged,
    mean_brightness,
    percent,
)
from tillercount.otherunit import other_unit
from tillercount.plausible import AREA_M2
from tillercount.shadow import shadow_share
from tillercount.sharpness import edge_width_mm
from tillercount.twoforms import SIZE
from tillercount.units import M2_PER_FT2

if TYPE_CHECKING:
    from tillercount.area import Area
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
    "refusal_parts",
    "refusing",
    "shadow_share",
    "usual_height_mm",
]

HEIGHT_MM = (300.0, 2000.0)
"""From which a person photographs a frame of a square foot or more at their feet (common
practice); see `usual_height_mm`."""


def refusing(checks: tuple[Check, ...]) -> str:
    """Why a photo can't be counted; "" where it can.

    That much of it is black isn't said of one that is dark all over.
    """
    return "; ".join(_refusing(checks))


def refusal_parts(checks: tuple[Check, ...]) -> tuple[str, str]:
    """The same in two: what is wrong, and what to do about it, where that is said; "" for none."""
    parts = [text.partition("): ") for text in _refusing(checks)]
    wrong = (f"{begin}{end.removesuffix(': ')}" for begin, end, _ in parts)
    return "; ".join(wrong), "; ".join(dict.fromkeys(todo for *_, todo in parts if todo))


def _refusing(checks: tuple[Check, ...]) -> list[str]:
    bad = {check.name: check.text for check in checks if check.level == "refuse"}
    for dark in ("photo darkness", "darkness"):
        if dark.replace("darkness", "brightness") in bad:
            bad.pop(dark, None)
    return list(bad.values())


def check_photo(photo: Photo) -> tuple[Check, ...]:
    """Checks that need no marked area: size, exposure, glare.

    Parameters
    ----------
    photo : Photo
        Looked at on a grid of about a quarter of a million pixels.
    """
    height, width = photo.rgb.shape[:2]
    step = max(1, round(math.sqrt(height * width / 250_000)))
    seen = photo.rgb[::step, ::step]
    dark, bright = clipped(seen)
    brightness = mean_brightness(seen)
    dark_share, bright_share = float(dark.mean()), float(bright.mean())
    short = min(height, width)
    return (
        judged(
            "photo size",
            short,
            "px",
            f"the photo is {width} × {height} pixels",
            "send the phone's own photo, not a reduced copy from a message",
        ),
        judged(
            "photo glare",
            bright_share,
            "share",
            f"{percent(bright_share)} of the photo is burnt out",
            "turn so that the sun is behind you, or shade the whole frame",
        ),
        judged(
            "photo brightness",
            brightness,
            "of 255",
            f"the photo's mean brightness is {brightness:.0f} of 255",
            TOO_DARK,
        ),
        judged(
            "photo darkness",
            dark_share,
            "share",
            f"{percent(dark_share)} of the photo is black",
            "tap on the plants so that the phone exposes for them; use more light",
        ),
    )


def usual_height_mm(area_m2: float) -> tuple[float, float]:
    """From which a person photographs a frame of this area: small ones from nearer.

    Below a square foot the lower limit shrinks with the root of the frame's length (a convention of
    our own; in proportion to the length it would say nothing, since every frame has to fit into the
    picture). No area (nan) is taken for a square foot.
    """
    low, high = HEIGHT_MM
    feet2 = area_m2 / M2_PER_FT2
    return (low * feet2**0.25 if feet2 < 1 else low), high


def check_fit(
    photo: Photo, fit: Any, area_m2: float = math.nan, area: Area | None = None
) -> tuple[Check, ...]:
    """Checks on how the marked area lies in the photo, before it is looked at from above.

    Parameters
    ----------
    photo : Photo
    fit : FrameFit
        Its `tilt_deg` and `mm_per_px` are judged. A tilt that isn't known (nan) is left out,
        unless both tilts that a hoop may have are too large.
    area_m2 : float
        Of what was marked, for the camera's usual height.
    area : Area, optional
        As it was given: for a size far above the usual the unit that was meant is asked for.
    """
    checks = [
        judged(
            "scale",
            fit.mm_per_px,
            "mm/px",
            f"one pixel is {fit.mm_per_px:.2f} mm wide on the ground",
            f"check {SIZE.screen}{_meant(area, area_m2)}; if they are right, go closer so that the "
            "frame fills the photo, or use the phone's full resolution",
        )
    ]
    possible = fit.evidence.get("possible_tilts_deg") or []
    tilt = fit.tilt_deg if math.isfinite(fit.tilt_deg) else min(possible, default=math.nan)
    if math.isfinite(tilt):
        checks.append(
            judged(
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


def _meant(area: Area | None, area_m2: float) -> str:
    other = other_unit(area, small=False) if area is not None and area_m2 > AREA_M2[1] else None
    return f" (was {other} meant?)" if other else ""


def camera_height_mm(photo: Photo, fit: Any) -> float:
    """Of the lens above the ground, mm; nan where the lens isn't known."""
    known = photo.focal_known and fit.kind != "whole"
    return float(photo.focal_px * fit.mm_per_px) if known else math.nan


def _camera_height(height_mm: float, usual_mm: tuple[float, float]) -> Check:
    """A size that is wrong by its unit puts the camera in the grass or up a ladder."""
    low, high = usual_mm
    odd = max(low / max(height_mm, 1e-9), height_mm / high)
    feet = height_mm / 304.8
    return judged(
        "camera height",
        odd,
        "of the usual",
        f"by its lens the camera was {feet:.1f} ft ({height_mm / 1000:.2f} m) above the ground",
        f"check {SIZE.screen}; if they are right, count this spot by hand too",
    )
