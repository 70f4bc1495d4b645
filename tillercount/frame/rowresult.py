"""From a stick in the picture to the area beside it, in the photo's own px."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from tillercount.area import RowArea
from tillercount.frame.beside import row_side_mm, rows_beside
from tillercount.frame.confidence import LEAST_CONFIDENCE, doubts_of, unsure
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.focal import likely_focal_px
from tillercount.frame.outline import outline_mm
from tillercount.frame.projection import apply, mm_per_px, unit_matrix
from tillercount.frame.result import FrameFit, FrameNotFound
from tillercount.frame.row import (
    HEIGHT_OF_WIDTH,
    WIDEST_MM,
    WIDEST_SHARE,
    area_beside,
    fit_stick,
)
from tillercount.frame.rowends import LEAST_BEYOND, least_beyond
from tillercount.frame.rowway import rows_along

__all__ = ["LARGEST_OTHER_SIDE", "row_result"]

LEAST_STICK_SHARE = 0.3
"""Of the photo's short side: what is shorter may be a straw, and its row couldn't be seen."""
LARGEST_OTHER_SIDE = 0.6
"""How likely the row on the stick's other side may be, of the one taken."""


def row_result(
    picture: Picture, maps: Maps, area: RowArea, seen: dict[str, Any]
) -> FrameFit | FrameNotFound:
    """Row: find the stick, then the row beside it."""
    stick = fit_stick(picture, maps)
    if isinstance(stick, FrameNotFound):
        return FrameNotFound(stick.reason, stick.todo, seen | stick.evidence)
    length_px = float(np.linalg.norm(stick.ends[1] - stick.ends[0]))
    if length_px < LEAST_STICK_SHARE * picture.photo_short_px:
        return FrameNotFound(
            "no stick can be made out that is large enough in the photo",
            "go closer, until the stick is about as long as the photo's short side",
            seen | stick.evidence,
        )
    if not picture.focal_known:
        flat = area_beside(stick.ends, 0.0, area)
        centre_px = picture.centre_px
        focal = likely_focal_px(flat, picture.focal_px, centre_px, shape_known=False)
        picture = replace(picture, focal_px=focal)
    width_mm = stick.width_px * area.length_mm / length_px
    if width_mm > min(WIDEST_MM, WIDEST_SHARE * area.length_mm):
        return FrameNotFound(
            f"what lies there is too wide for a row stick: {width_mm / 25.4:.1f} in "
            f"({width_mm:.0f} mm), if it is as long as was given",
            "check the stick's length in --area, and move boards out of the photo",
            seen | stick.evidence,
        )
    seen = seen | {"beyond_ends": least_beyond(picture, stick)}
    if seen["beyond_ends"] < LEAST_BEYOND:
        return FrameNotFound(
            "an end of the stick lies under another thing or against it, so whether the stick goes "
            "on there can't be told",
            "move what lies on the stick or at its end, or give the two ends by hand with "
            '--corners "x,y x,y"',
            seen | stick.evidence,
        )
    # the stick's upper side is nearer to the camera than the ground: the ground looks smaller
    distance = picture.focal_px * area.length_mm / length_px
    height = HEIGHT_OF_WIDTH * width_mm
    share = 1 - height / (distance + height)
    centre = np.array(picture.centre_px)
    ends = centre + (stick.ends - centre) * share
    offset, row = row_side_mm(picture, maps, ends, stick.width_px, area)
    evidence = seen | stick.evidence | row | {"tilt_known": False}
    rows = rows_beside(picture, ends, area)
    evidence["rows_mm"], evidence["rows_clear"] = round(rows.period_mm, 0), round(rows.clear, 2)
    if rows.contradicted:
        seen_in, said_in = rows.period_mm / 25.4, area.spacing_mm / 25.4
        return FrameNotFound(
            f"the rows in the photo stand about {seen_in:.1f} in ({rows.period_mm:.0f} mm) apart, "
            f"but --area says {said_in:.1f} in ({area.spacing_mm:.0f} mm)",
            "check the stick's length and the row spacing in --area",
            evidence,
        )
    along = rows_along(picture, ends, area, stick.width_px)
    evidence["rows_turned_deg"] = along.turned_deg
    evidence["rows_fit"] = round(along.fit, 3)
    evidence["rows_stand_out"] = round(along.stands_out, 2)
    if along.another_way:
        return FrameNotFound(
            "what lies there isn't a stick along a row: the rows run another way",
            "lay the stick along the row",
            evidence,
        )
    if not along.clear:
        return FrameNotFound(
            f"no rows {area.spacing_mm / 25.4:.1f} in ({area.spacing_mm:.0f} mm) apart can be told "
            "along the stick, so neither its ends nor its row are sure",
            "check that both ends can be seen and that --area is right, or give the area's four "
            "corners by hand with --corners",
            evidence,
        )
    if not math.isfinite(offset):
        return FrameNotFound(
            "the stick is found, but no row can be told beside it",
            "lay the stick close beside the row, or give the area's four corners by hand "
            "with --corners",
            evidence,
        )
    if row["other_side"] > LARGEST_OTHER_SIDE:
        return FrameNotFound(
            "the stick lies about midway between two rows, and it isn't clear which is meant",
            "lay the stick close beside one row, or give the area's four corners by hand "
            "with --corners",
            evidence,
        )
    matrix = area_beside(ends, offset, area)
    doubts = doubts_of(
        presence=maps.kinds["row"] + 0.5 * (1 - maps.kinds["row"] - maps.kinds["none"]),
        certainty=1.0,
        seen=evidence["seen_share"],
        missing=0.0,
        residual=0.0,
        bent=0.0,
    )
    to_photo = picture.to_photo @ matrix
    confidence = math.prod(doubts.values())
    if confidence < LEAST_CONFIDENCE:
        return unsure(area, doubts, evidence)
    return FrameFit(
        kind="row",
        outline_px=apply(to_photo, outline_mm(area)),
        to_ground=unit_matrix(np.linalg.inv(to_photo)),
        tilt_deg=float("nan"),
        mm_per_px=mm_per_px(to_photo),
        confidence=confidence,
        evidence=evidence,
        tube_mm=width_mm,
        stick_px=apply(picture.to_photo, stick.ends),
        rows_mm=rows.period_mm * share if rows.told else None,  # by the stick's own length
    )
