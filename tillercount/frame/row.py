"""A stick laid along a row: its two ends, and the row beside it.

Two ends give the scale and the direction, not the tilt: the camera is taken to look straight
down. The area is as long as the stick and as wide as the row spacing, centred on the row.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tillercount.area import RowArea
from tillercount.cvcompat import contours
from tillercount.frame.edges import Edges, read_edges
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.lines import Line, fit_line
from tillercount.frame.result import FrameNotFound

__all__ = ["RowFit", "area_beside", "fit_stick", "row_side_mm"]

Array = NDArray[Any]

PROFILES = 160
FINER = 4
LEAST_SEEN = 0.3
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
    rough = _rough_ends(maps)
    if rough is None:
        return FrameNotFound(
            "no stick can be made out beside the row",
            "lay the stick along the row, all of it in the photo, or give its two ends by hand "
            'with --corners "x,y x,y"',
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
        ends = _onto(line, ends)
        ends = _exact_ends(picture, maps, ends, width)
    cut_off = _outside(rough, picture, 2.5 * maps.cell_px) or _outside(ends, picture, 3.0)
    evidence["ends_px"] = [[round(float(v), 1) for v in end] for end in ends]
    if cut_off:
        return FrameNotFound(
            "an end of the stick isn't in the photo",
            "step back until both ends of the stick are in the photo",
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


def _rough_ends(maps: Maps) -> Array | None:
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


def _exact_ends(picture: Picture, maps: Maps, ends: Array, width_px: float) -> Array:
    """Where the stick stops along its own line: profiles lengthwise, at both ends."""
    axis = _axis(ends)
    normal = np.array([-axis[1], axis[0]])
    out = ends.copy()
    n = 15
    across = (np.arange(n) / (n - 1) - 0.5) * 0.7 * max(width_px, 2.0)
    reach = 4.0 * maps.cell_px + width_px
    back = 6.0 * maps.cell_px + 2 * width_px
    for i, sign in ((0, -1.0), (1, 1.0)):
        outwards = sign * axis
        # seen from the end, the stick lies behind and the ground before
        points = out[i] + across[:, None] * normal
        edges = read_edges(
            picture,
            maps,
            points + outwards * reach,
            np.tile(-outwards, (n, 1)),
            inwards_px=2.0,
            outwards_px=back + reach,
            slack_px=2.5 * (back + reach),
            which="stick",
        )
        if edges.seen.sum() >= 4:
            start = float(np.median(edges.inner[edges.seen]))
            out[i] = out[i] + outwards * (reach - start)
    return out


def row_side_mm(
    picture: Picture, maps: Maps, ends: Array, width_px: float, area: RowArea
) -> tuple[float, dict[str, Any]]:
    """How far the nearest row lies from the stick's middle line, mm, positive up the photo.

    ``ends`` (2, 2) px, left one first. The row is where most green stands along the stick's whole
    length, helped by the finder's own map. nan where no row can be told.
    """
    d = ends[1] - ends[0]
    length_px = float(np.linalg.norm(d))
    scale = area.length_mm / length_px
    axis = d / length_px
    up = np.array([axis[1], -axis[0]])
    step = 1.0
    offsets_mm = np.arange(-0.75 * area.spacing_mm, 0.75 * area.spacing_mm + step, step)
    t = (np.arange(200) + 0.5) / 200
    at = (ends[0] + d * t[:, None])[:, None] + (offsets_mm / scale)[None, :, None] * up
    green = _values(picture.green, at) > 0.06
    grid = maps.from_picture
    on_grid = at * [grid[0, 0], grid[1, 1]] + grid[:2, 2]
    inside = 1 / (1 + np.exp(-_values(maps.row_area, on_grid)))
    height, wide = picture.shape
    there = (at[..., 0] >= 0) & (at[..., 0] < wide) & (at[..., 1] >= 0) & (at[..., 1] < height)
    half = width_px * scale / 2
    free = np.abs(offsets_mm) > half
    cover = np.where(there.mean(0) > 0.5, (green & there).sum(0) / np.maximum(there.sum(0), 1), 0)
    cover = np.where(free, cover, np.minimum(cover, np.median(cover)))
    wide_mm = max(0.12 * area.spacing_mm, 6.0)
    smooth = _gauss(cover, wide_mm / step)
    # the finder's map is as wide as the spacing: its middle is the row
    area_share = np.where(there, inside, 0).mean(0)
    guess = _middle(area_share, offsets_mm)
    pull = np.ones_like(offsets_mm)
    if math.isfinite(guess):
        pull = 0.25 + np.exp(-0.5 * ((offsets_mm - guess) / (0.15 * area.spacing_mm)) ** 2)
    near = np.exp(-0.5 * (offsets_mm / (0.45 * area.spacing_mm)) ** 2)
    score = (smooth - 0.6 * float(np.median(smooth))) * pull * near
    best = int(np.argmax(score))
    other = np.sign(offsets_mm) != np.sign(offsets_mm[best])
    evidence = {
        "row_green": round(float(smooth[best]), 3),
        "row_guess_mm": round(guess, 1) if math.isfinite(guess) else None,
        "other_side": round(float(np.max(score[other]) / max(score[best], 1e-6)), 3),
    }
    if smooth[best] < 0.02 and not math.isfinite(guess):
        return float("nan"), evidence
    around = np.abs(offsets_mm - offsets_mm[best]) < 1.5 * wide_mm
    weight = np.maximum(smooth - 0.5 * smooth[best], 0) * around
    fine = float((offsets_mm * weight).sum() / max(weight.sum(), 1e-9))
    if smooth[best] < 0.02:
        fine = guess
    evidence["row_at_mm"] = round(fine, 1)
    return fine, evidence


def _values(plane: NDArray[np.float32], at: Array) -> NDArray[np.float32]:
    xy = at.astype(np.float32)
    return np.asarray(
        cv2.remap(plane, xy[..., 0], xy[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    )


def _gauss(values: Array, sigma: float) -> Array:
    reach = int(3 * sigma) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    return np.convolve(np.pad(values, reach, mode="edge"), kernel / kernel.sum(), "valid")


def _middle(share: Array, offsets: Array) -> float:
    """Middle of the stretch where the share is high; nan where it nowhere is."""
    if share.max() < 0.4:
        return float("nan")
    weight = np.clip(share - 0.5 * share.max(), 0, None)
    return float((offsets * weight).sum() / weight.sum())


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
