"""The one door: the marked area of a photo, found, marked by hand, or refused with a reason."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from tillercount.area import Area, HoopArea, RectArea, RowArea, SquareArea, WholePhoto
from tillercount.errors import InputError
from tillercount.frame.build import hoop_result, marker_result, quad_result, row_result
from tillercount.frame.byhand import fit_by_hand
from tillercount.frame.closer import look_closer
from tillercount.frame.confidence import BY_HAND, name_of
from tillercount.frame.finder import Finder, Maps, Picture, picture_of
from tillercount.frame.hoop import fit_hoop
from tillercount.frame.marker import find_corners
from tillercount.frame.quad import fit_quad
from tillercount.frame.refusal import explained
from tillercount.frame.region import find_region
from tillercount.frame.result import FrameFit, FrameNotFound
from tillercount.frame.whole import fit_whole
from tillercount.photo import Photo

__all__ = ["find_area", "find_in_maps"]

LEAST_PRESENCE, SURE_PRESENCE = 0.5, 0.8
OTHER_KIND = 0.85
"""Probability of another kind of frame from which on --area is contradicted."""

WORDS = {"quad": "a square or rectangle", "hoop": "a hoop", "row": "a stick beside a row"}
WANTED = {"square": "quad", "rect": "quad", "hoop": "hoop", "row": "row"}


def find_area(
    photo: Photo, area: Area, corners: ArrayLike | None = None
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
    found = find_in_maps(*look_closer(photo, Finder.load(), WANTED[area.kind]), area)
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
            f"check --area, {BY_HAND}",
            seen,
        )
    presence = 1 - maps.kinds["none"]
    if presence < LEAST_PRESENCE:
        return FrameNotFound(
            f"no {name_of(area)} can be seen in this photo",
            f"take a photo with the whole frame in it, {BY_HAND}",
            seen,
        )
    if isinstance(area, RowArea):
        return row_result(picture, maps, area, seen)
    region = find_region(maps.inside, maps, picture)
    if region is None:
        return FrameNotFound(
            f"no {name_of(area)} can be made out in this photo",
            f"take a photo with the whole frame in it, {BY_HAND}",
            seen,
        )
    seen |= {
        "photo_share": round(region.share, 3),
        "solidity": round(region.solidity, 3),
        "certainty": round(region.certainty, 3),
        "flat": round(maps.flat, 3),
    }
    if isinstance(area, HoopArea):
        hoop = fit_hoop(picture, maps, region, area)
        if isinstance(hoop, FrameNotFound):
            return FrameNotFound(hoop.reason, hoop.todo, seen | hoop.evidence)
        return hoop_result(picture, maps, hoop, area, region, seen)
    quad = fit_quad(picture, maps, region, area)
    if isinstance(quad, FrameNotFound):
        doubt = "" if presence > SURE_PRESENCE else f", if there is a {name_of(area)} in it at all"
        return FrameNotFound(quad.reason + doubt, quad.todo, seen | quad.evidence)
    return quad_result(picture, maps, quad, area, region, seen)
