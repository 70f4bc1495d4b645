"""A stick laid along a row: its two ends, and the row beside it.

Two ends give the scale and the direction, not the tilt: the camera is taken to look straight
down. The area is as long as the stick and as wide as the row spacing, centred on the row.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tillercount.area import RowArea
from tillercount.cvcompat import contours
from tillercount.frame.edges import Edges, look, pipe_score, read_edges
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.lines import Line, fit_line
from tillercount.frame.result import FrameNotFound

__all__ = ["WIDEST_MM", "WIDEST_SHARE", "RowFit", "area_beside", "fit_stick", "rough_ends"]

Array = NDArray[Any]

PROFILES = 160
FINER = 4
LEAST_SEEN = 0.3
BEYOND = 0.18
"""How far beyond the finder's rough ends, of the length, the true ends are looked for."""
END_STEP_PX = 0.5
LARGEST_BOW = 0.02
"""Of its length that a stick's middle line leaves the straight one: 0.015 at most for 28 of 29
rendered sticks of development scenes, some half under leaves; 0.065 for one that lay under them."""
LEVELS = (0.0, -2.0, -2.0)
"""By how much the finder's word is moved, a logit each time, until a straight patch is left: it can
be unsure of a stick all along, and the photo's own edges decide afterwards."""
WIDEST_MM, WIDEST_SHARE = 45.0, 0.11
"""Rules, ranging poles and furring strips (3/4 by 1 1/2 in) are up to 38 mm wide, foot rules up to
32 mm, a tenth of their length (common practice); a wider thing is a board, or it isn't as long as
was said."""
LEAF = 0.06
"""Greenness (see `Picture.green`) from which on a place may be a leaf over the stick."""
MOST_UNSURE = 0.04
"""Of the stick's length: an end that leaves hide by more than twice this is not counted by."""
FAR, MOST_BEYOND = 0.6, 0.2
"""How far beyond the ends, of the length, more of the stick is looked for, and how much of it is
too much: then it is a hose or a board of which leaves hide a part, or an end was found too early.
Of 30 sticks of even seed found right (development scenes) all had 0.16 at most, of 38 of odd seed
as well; six rods and hoses that went on had 0.35 and more."""
HEIGHT_OF_WIDTH = 0.6
"""Height at which a stick's upper side is seen, of its width: between a lath's and a rod's."""


@dataclass(frozen=True, eq=False)
class RowFit:
    """A stick in the picture: ends (2, 2) px, left one first, its width, evidence."""

    ends: Array
    width_px: float
    evidence: dict[str, Any]


def fit_stick(picture: Picture, maps: Maps) -> RowFit | FrameNotFound:
    """Find both ends of the stick, or say why they aren't sure."""
    evidence: dict[str, Any] = {}
    rough = None
    for level in LEVELS:
        maps = replace(maps, stick=maps.stick - np.float32(level))
        rough = rough_ends(maps)
        if rough is not None:
            break
    if rough is None:
        return FrameNotFound(
            "no stick can be made out beside the row",
            "lay the stick along the row, all of it in the photo",
            evidence,
        )
    ends = rough
    width = float("nan")
    for _ in range(2):
        axis = _axis(ends)
        length = float(np.linalg.norm(ends[1] - ends[0]))
        t = (np.arange(PROFILES) + 0.5) / PROFILES
        points = ends[0] + (ends[1] - ends[0]) * t[:, None]
        normal = np.array([-axis[1], axis[0]])
        edges = _sides(picture, maps, points, normal, length)
        good = edges.seen
        evidence["seen_share"] = round(float(good.sum() / max(edges.within.sum(), 1)), 3)
        if good.sum() < 10:
            break
        middle = points + ((edges.inner + edges.outer) / 2)[:, None] * normal
        line = fit_line(middle[good], edges.weight[good])
        width = edges.width_px
        bow = float(np.quantile(np.abs(line.distance(middle[good])), 0.8)) / length
        evidence["bow"] = round(bow, 4)
        ends = _onto(line, ends)
        ends, unsure = _exact_ends(picture, maps, ends, width)
        evidence["ends_unsure"] = [round(v / length, 3) for v in unsure]
    if math.isfinite(width):
        evidence["goes_on"] = round(_goes_on(picture, maps, ends, width), 3)
    cut_off = _outside(rough, picture, 2.5 * maps.cell_px) or _outside(ends, picture, 3.0)
    evidence["ends_px"] = [[round(float(v), 1) for v in end] for end in ends]
    if cut_off:
        return FrameNotFound(
            "an end of the stick isn't in the photo",
            "step back until both ends of the stick are in the photo",
            evidence,
        )
    if evidence.get("bow", 0.0) > LARGEST_BOW:
        return FrameNotFound(
            "what lies there is bent, not a straight stick",
            "lay a straight stick along the row",
            evidence,
        )
    if evidence.get("goes_on", 0.0) > MOST_BEYOND:
        return FrameNotFound(
            "what looks like the stick goes on beyond a leaf or a shadow where it seems to end, so "
            "its length can't be read",
            "move the leaves off both ends, and other long things out of the stick's line, or give "
            'the two ends by hand with --corners "x,y x,y"',
            evidence,
        )
    if max(evidence.get("ends_unsure", [1.0])) > MOST_UNSURE:
        return FrameNotFound(
            "an end of the stick lies under leaves, so its length can't be read",
            'move the leaves off both ends, or give the two ends by hand with --corners "x,y x,y"',
            evidence,
        )
    if evidence["seen_share"] < LEAST_SEEN or not math.isfinite(width):
        return FrameNotFound(
            f"only {evidence['seen_share']:.0%} of the stick can be seen",
            "lay the stick on top of the leaves, or give its two ends by hand with --corners "
            '"x,y x,y"',
            evidence,
        )
    return RowFit(ends[np.argsort(ends[:, 0])], width, evidence)


def _outside(ends: Array, picture: Picture, rim_px: float) -> bool:
    """Does an end lie within so many px of the photo's border, or beyond it?"""
    last = np.array(picture.shape[::-1]) - 1.0
    return bool(((ends < rim_px) | (ends > last - rim_px)).any())


def rough_ends(maps: Maps) -> Array | None:
    """Ends of the longest straight patch of the stick map, picture px."""
    h, w = maps.stick.shape
    fine = cv2.resize(maps.stick, (w * FINER, h * FINER), interpolation=cv2.INTER_LINEAR)
    lines = [c for c in contours(fine > 0) if len(c) > 12]
    if not lines:
        return None
    longest = max(lines, key=lambda c: float(np.linalg.norm(np.ptp(c, axis=0))))
    way = _axis_of_points(longest)
    # leaves cut the stick into pieces: those on the same line belong to it
    wide = max(3.0 * FINER, 0.7 * float(np.ptp(way.distance(longest))))
    mine = [c for c in lines if c is longest or abs(float(way.distance(c).mean())) < wide]
    points = np.vstack(mine)
    way = _axis_of_points(points)
    s = points @ way.along
    if np.ptp(s) < 0.12 * max(h, w) * FINER:
        return None
    across = float(np.ptp(way.distance(points)))
    if across > 0.25 * float(np.ptp(s)):
        return None
    foot = way.normal * way.offset
    ends = foot + np.outer([s.min(), s.max()], way.along)
    cells = (ends + 0.5) / FINER - 0.5
    to_picture = maps.to_picture
    out: Array = cells * [to_picture[0, 0], to_picture[1, 1]] + to_picture[:2, 2]
    return out


def _axis_of_points(points: Array) -> Line:
    centre = points.mean(0)
    _, vectors = np.linalg.eigh((points - centre).T @ (points - centre))
    return Line(vectors[:, 0], float(vectors[:, 0] @ centre))


def _axis(ends: Array) -> Array:
    d = ends[1] - ends[0]
    out: Array = d / np.linalg.norm(d)
    return out


def _onto(line: Line, points: Array) -> Array:
    return points - line.distance(points)[:, None] * line.normal


def _sides(picture: Picture, maps: Maps, points: Array, normal: Array, length: float) -> Edges:
    """Both long sides of the stick; offsets are from its middle line."""
    reach = float(np.clip(0.12 * length, 20, 90))
    return read_edges(
        picture,
        maps,
        points,
        np.tile(normal, (len(points), 1)),
        inwards_px=reach,
        outwards_px=reach,
        slack_px=reach,
        which="stick",
    )


def _exact_ends(
    picture: Picture, maps: Maps, ends: Array, width_px: float
) -> tuple[Array, list[float]]:
    """Ends (2, 2) px where the stick stops along its own line, and how unsure each is, px.

    Along the line each place looks more like the stick or more like the ground beside it; the
    stretch with the largest sum is the stick. Where leaves lie nothing is known: an end under
    leaves is put in the middle of them, and is unsure by half their length.
    """
    axis = _axis(ends)
    length = float(np.linalg.norm(ends[1] - ends[0]))
    along = np.arange(-BEYOND * length, (1 + BEYOND) * length, END_STEP_PX)
    at, _, score = _along_the_stick(picture, maps, ends, along, width_px, 41)
    leaf = look(picture.green, at) > LEAF
    hidden = (leaf & (score < 0)).mean(1) > 0.5
    value = np.where(leaf & (score < 0), 0.0, score).mean(1)
    start, stop = _best_stretch(np.where(hidden, 0.0, value))
    # nothing is gained or lost under leaves: the end may lie anywhere there
    before, after = start, stop
    while before > 0 and hidden[before - 1]:
        before -= 1
    while start < stop and hidden[start]:
        start += 1
    while after < len(hidden) and hidden[after]:
        after += 1
    while stop > start and hidden[stop - 1]:
        stop -= 1
    places = np.array([before + start, stop + after]) / 2 * END_STEP_PX - BEYOND * length
    unsure = [(start - before) * END_STEP_PX / 2, (after - stop) * END_STEP_PX / 2]
    return ends[0] + places[:, None] * axis - 0.5 * END_STEP_PX * axis, unsure


def _goes_on(picture: Picture, maps: Maps, ends: Array, width_px: float) -> float:
    """Length of what looks like more of the stick beyond its ends, of its own length.

    Colours are learned from the stick and from what lies beside it; the finder isn't asked beyond
    the ends, for a part of a hose that it missed there is what is looked for.
    """
    length = float(np.linalg.norm(ends[1] - ends[0]))
    step = max(length / 400, END_STEP_PX)
    along = np.arange(-FAR * length, (1 + FAR) * length, step)
    own = (along >= 0) & (along <= length)
    _, inside, score = _along_the_stick(picture, maps, ends, along, width_px, 21, asked=own)
    value = np.where(inside, score, np.float32(-1.0)).mean(1)
    stretches = (_best_stretch(part) for part in (value[along < 0], value[along > length]))
    return max((stop - start) * step for start, stop in stretches) / length


def _along_the_stick(
    picture: Picture, maps: Maps, ends: Array, along: Array, width_px: float, places: int,
    asked: Array | None = None,
) -> tuple[Array, Array, Array]:
    """Places (N, K, 2) px within the stick's width at distances ``along`` (N,) px from its first
    end, whether the photo shows them, and how much they look like the stick, both (N, K).

    Colours are learned from ``places`` across five widths. The finder's opinion is left out where
    it isn't ``asked`` (N,).
    """
    axis, width = _axis(ends), max(width_px, 2.0)
    across = np.linspace(-2.5, 2.5, places) * width
    normal = np.array([-axis[1], axis[0]])
    at = ends[0] + along[:, None, None] * axis + across[None, :, None] * normal
    logit = look(maps.stick, maps.on_grid(at))
    if asked is not None:
        logit = np.where(asked[:, None], logit, np.float32(0.0))
    inside = picture.shows(at)
    score = pipe_score(look(picture.rgb, at), logit, inside, np.zeros(len(along), np.intp))
    core = np.abs(across) < 0.35 * width
    return at[:, core], inside[:, core], score[:, core]


def _best_stretch(value: Array) -> tuple[int, int]:
    """Start and stop of the stretch with the largest sum; both alike where none is above zero."""
    sums = np.concatenate([[0.0], np.cumsum(value)])
    least = np.minimum.accumulate(sums)
    stop = int(np.argmax(sums - least))
    return int(np.flatnonzero(sums[: stop + 1] == least[stop])[-1]), stop


def area_beside(ends: Array, offset_mm: float, area: RowArea) -> Array:
    """Homography (3, 3) ground mm to px of the area beside a stick with these ends (2, 2) px.

    ``offset_mm``: from the stick's middle line to the row, up the photo.
    """
    d = ends[1] - ends[0]
    px_per_mm = float(np.linalg.norm(d)) / area.length_mm
    x = d / np.linalg.norm(d) * px_per_mm
    y = np.array([x[1], -x[0]])
    centre = ends.mean(0) + y * offset_mm
    return np.array([[x[0], y[0], centre[0]], [x[1], y[1], centre[1]], [0, 0, 1.0]])
