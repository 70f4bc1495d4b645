"""The one door: the marked area of a photo, found, marked by hand, or refused with a reason."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from tillercount.area import Area, HoopArea, RectArea, RowArea, SquareArea, WholePhoto
from tillercount.errors import InputError
from tillercount.frame.build import hoop_result, marker_result, quad_result
from tillercount.frame.byhand import fit_by_hand
from tillercount.frame.closer import look_closer
from tillercount.frame.confidence import name_of
from tillercount.frame.finder import Finder, Maps, Picture, picture_of
from tillercount.frame.hoop import fit_hoop
from tillercount.frame.marker import find_corners
from tillercount.frame.midmost import midmost
from tillercount.frame.quad import fit_quad
from tillercount.frame.refusal import explained
from tillercount.frame.region import Region, find_region
from tillercount.frame.result import FrameFit, FrameNotFound
from tillercount.frame.rowresult import row_result
from tillercount.frame.whole import fit_whole
from tillercount.photo import Photo

__all__ = ["find_area", "find_in_maps"]

LEAST_PRESENCE, SURE_PRESENCE = 0.5, 0.8
LEVELS = (0.0, 1.5, 3.0, -1.5)
"""Logits at which the finder's inside is cut off, one after the other until a fit holds: where
leaves lie over the frame the inside leaks out, or is eaten into, and elsewhere less at another
level. Each fit is judged by the photo in the same way, whatever it started from."""
SURE = 0.97
"""Confidence from which on no other level is tried."""
OTHER_KIND = 0.85
"""Probability of another kind of frame from which on --area is contradicted."""

WORDS = {"quad": "a square or rectangle", "hoop": "a hoop", "row": "a stick beside a row"}
WANTED = {"square": "quad", "rect": "quad", "hoop": "hoop", "row": "row"}


def find_area(
    photo: Photo, area: Area, corners: ArrayLike | None = None, finder: Finder | None = None
) -> FrameFit | FrameNotFound:
    """Find the marked area in a photo.

    Parameters
    ----------
    photo : Photo
    area : Area
        What was laid on the ground, and its size.
    corners : array_like (4, 2), optional
        Given by hand, photo px, any order: the inside corners of a square or rectangle, the
        corners of the square around a hoop, or a row area's corners; (2, 2) the ends of a row
        stick.
    finder : Finder, optional
        Network that proposes where the area lies; the shipped one if not given.

    Returns
    -------
    FrameFit, or FrameNotFound (which is false) with the reason and what to do.

    Raises
    ------
    InputError
        Corners that contradict the area, or corners for a whole photo.
    """
    height, width = photo.rgb.shape[:2]
    if isinstance(area, WholePhoto):
        if corners is not None:
            raise InputError(
                "--corners: a whole photo has no corners to give; leave --corners out, "
                "or name what was laid on the ground with --area"
            )
        return fit_whole(width, height, area)
    picture = picture_of(photo.rgb, photo.focal_px, photo.focal_known)
    if corners is not None:
        return fit_by_hand(np.asarray(corners, float), area, picture)
    if not isinstance(area, RowArea):
        marked = find_corners(picture, area)
        if marked is not None:
            return marker_result(*marked, area, picture)
    found = find_in_maps(*look_closer(photo, finder or Finder.load(), WANTED[area.kind]), area)
    return found if isinstance(found, FrameFit) else explained(found, photo)


def find_in_maps(
    picture: Picture, maps: Maps, area: SquareArea | RectArea | HoopArea | RowArea
) -> FrameFit | FrameNotFound:
    """Find the area in a reduced photo with the finder's maps of it."""
    wanted = WANTED[area.kind]
    seen: dict[str, Any] = {"kinds": {k: round(v, 3) for k, v in maps.kinds.items()}}
    likely = max(maps.kinds, key=lambda k: maps.kinds[k])
    if likely not in ("none", wanted) and maps.kinds[likely] > OTHER_KIND:
        return FrameNotFound(
            f"the photo shows {WORDS[likely]}, but --area says {area.label}",
            "check --area against the frame",
            seen,
        )
    presence = 1 - maps.kinds["none"]
    if presence < LEAST_PRESENCE:
        return FrameNotFound(
            f"no {name_of(area)} can be seen in this photo",
            "take a photo with the whole frame in it",
            seen,
        )
    if isinstance(area, RowArea):
        return row_result(picture, maps, area, seen)
    fits: list[FrameFit] = []
    refused: FrameNotFound | None = None
    rings_refused = 0
    for level in LEVELS:
        region = find_region(maps.inside, maps, picture, level)
        if region is None:
            continue
        found = _fit(picture, maps, region, area, seen, rings_refused)
        rings_refused = found.evidence.get("rings_refused", 0)
        if isinstance(found, FrameNotFound):
            refused = found if refused is None else refused
            if "outline_px" in found.evidence or found.evidence.get("open"):
                # four sides or a whole ring, and yet not sure, or a hoop that is seen to be open:
                # the photo is in doubt, not the patch that was started from, and one of many
                # tries would pass by chance
                break
            continue
        fits.append(found)
        # another start doesn't tell a pipe from a lath any better
        if found.confidence >= SURE * found.evidence.get("kind_told", 1.0):
            break
    if fits:
        return midmost(fits)
    if refused is not None:
        return refused
    return FrameNotFound(
        f"no {name_of(area)} can be made out in this photo",
        "take a photo with the whole frame in it",
        seen,
    )


def _fit(
    picture: Picture,
    maps: Maps,
    region: Region,
    area: SquareArea | RectArea | HoopArea,
    seen: dict[str, Any],
    rings_refused: int,
) -> FrameFit | FrameNotFound:
    """Fit the area to one patch of the finder's inside; ``rings_refused`` see `fit_hoop`."""
    seen = seen | {
        "photo_share": round(region.share, 3),
        "solidity": round(region.solidity, 3),
        "certainty": round(region.certainty, 3),
        "flat": round(maps.flat, 3),
    }
    if isinstance(area, HoopArea):
        hoop = fit_hoop(picture, maps, region, rings_refused)
        if isinstance(hoop, FrameNotFound):
            return FrameNotFound(hoop.reason, hoop.todo, seen | hoop.evidence)
        return hoop_result(picture, maps, hoop, area, region, seen)
    quad = fit_quad(picture, maps, region, area)
    if isinstance(quad, FrameNotFound):
        sure = 1 - maps.kinds["none"] > SURE_PRESENCE
        doubt = "" if sure else f", if there is a {name_of(area)} in it at all"
        return FrameNotFound(quad.reason + doubt, quad.todo, seen | quad.evidence)
    return quad_result(picture, maps, quad, area, region, seen)
