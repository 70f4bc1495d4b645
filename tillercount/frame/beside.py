"""Which row a stick lies beside, and how far from it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import RowArea
from tillercount.frame.edges import look
from tillercount.frame.finder import Maps, Picture

__all__ = ["LEAF", "row_side_mm", "rows_turned_deg"]

Array = NDArray[Any]

LEAF = 0.06
"""Greenness (see `Picture.green`) from which on a place is taken for leaf."""
TURNS_DEG = tuple(range(-25, 26, 5))
ROWS_EACH_SIDE = 2
BEYOND_ENDS = 0.4
"""How far beyond the stick's ends, of its length, green is looked at to find the rows."""
BESIDE_MM = 5.0
"""A row's middle lies at least so far from the stick's edge."""


def row_side_mm(
    picture: Picture, maps: Maps, ends: Array, width_px: float, area: RowArea
) -> tuple[float, dict[str, Any]]:
    """How far the nearest row lies from the stick's middle line, mm, positive up the photo.

    ``ends`` (2, 2) px, left one first. Rows are where green stands, a spacing apart: the rows
    further off say where the nearest one lies even where few plants of it are left, and the
    finder's own map helps. A stick lies beside a row, never on it. nan where no row can be told.
    """
    d = ends[1] - ends[0]
    length_px = float(np.linalg.norm(d))
    scale = area.length_mm / length_px
    axis = d / length_px
    up = np.array([axis[1], -axis[0]])
    spacing, half = area.spacing_mm, width_px * scale / 2
    reach = (ROWS_EACH_SIDE + 0.75) * spacing
    across = np.arange(-reach, reach + 1.0)
    t = (np.arange(300) + 0.5) / 300 * (1 + 2 * BEYOND_ENDS) - BEYOND_ENDS
    at = (ends[0] + d * t[:, None])[:, None] + (across / scale)[None, :, None] * up
    height, wide = picture.shape
    there = (at[..., 0] >= 0) & (at[..., 0] < wide) & (at[..., 1] >= 0) & (at[..., 1] < height)
    green = (look(picture.green, at) > LEAF) & there
    # what lies beside the stick itself says most of its own row
    beside = np.where((t > 0) & (t < 1), 1.0, 0.5)[:, None]
    cover = (green * beside).sum(0) / np.maximum((there * beside).sum(0), 1e-9)
    on_stick = np.abs(across) <= half
    cover = np.where(on_stick, np.minimum(cover, np.median(cover)), cover)
    known = there.mean(0) > 0.3
    fine_mm = max(0.08 * spacing, 5.0)
    smooth = _gauss(cover, fine_mm)
    near = np.abs(across) <= spacing / 2
    offsets = across[near]
    comb, weights = np.zeros(len(offsets)), np.zeros(len(offsets))
    for k in range(-ROWS_EACH_SIDE, ROWS_EACH_SIDE + 1):
        # a tilted camera sees the rows further off nearer or wider apart: less sharply known
        row = _gauss(smooth, 0.05 * abs(k) * spacing) if k else smooth
        weight = np.interp(offsets + k * spacing, across, known.astype(float)) * 0.6 ** abs(k)
        comb += weight * np.interp(offsets + k * spacing, across, row)
        weights += weight
    comb /= np.maximum(weights, 1e-9)
    grid = maps.from_picture
    on_grid = at[:, near] * [grid[0, 0], grid[1, 1]] + grid[:2, 2]
    inside = 1 / (1 + np.exp(-look(maps.row_area, on_grid)))
    # the finder's map is as wide as the spacing: its middle is the row
    guess = _middle(np.where(there[:, near], inside, 0)[(t > 0) & (t < 1)].mean(0), offsets)
    score = comb - comb.min()
    if math.isfinite(guess):
        pull = np.exp(-0.5 * ((offsets - guess) / (0.3 * spacing)) ** 2)
        score = score * (0.5 + 0.5 * pull)
    score = score * np.where(np.abs(offsets) < half + BESIDE_MM, 0.3, 1.0)
    best = int(np.argmax(score))
    other = np.sign(offsets) != np.sign(offsets[best])
    evidence = {
        "row_green": round(float(comb[best]), 3),
        "row_guess_mm": round(guess, 1) if math.isfinite(guess) else None,
        "other_side": round(float(np.max(score[other]) / max(score[best], 1e-6)), 3),
    }
    if comb[best] < 0.02 and not math.isfinite(guess):
        return float("nan"), evidence
    around = np.abs(offsets - offsets[best]) < 2 * fine_mm
    weight = np.maximum(comb - 0.5 * comb[best], 0) * around
    fine = float((offsets * weight).sum() / max(weight.sum(), 1e-9))
    if comb[best] < 0.02:
        fine = guess
    evidence["row_at_mm"] = round(fine, 1)
    return fine, evidence


def rows_turned_deg(picture: Picture, ends: Array, area: RowArea) -> float:
    """By how much the rows beside a stick seem turned against it, degrees.

    Seen along the rows, green stands in stripes; the direction with the clearest stripes, of
    those within 25 degrees of the stick, is the rows'.
    """
    d = ends[1] - ends[0]
    length = float(np.linalg.norm(d))
    spacing = length * area.spacing_mm / area.length_mm
    middle = ends.mean(0)
    t = np.linspace(-0.9, 0.9, 220) * length
    across = np.arange(-2.25 * spacing, 2.25 * spacing, max(2.0, spacing / 60))
    height, wide = picture.shape
    clear = []
    for turn in TURNS_DEG:
        angle = math.atan2(d[1], d[0]) + math.radians(turn)
        axis = np.array([math.cos(angle), math.sin(angle)])
        at = middle + t[:, None, None] * axis
        at = at + across[None, :, None] * np.array([axis[1], -axis[0]])
        x, y = at[..., 0], at[..., 1]
        there = (x >= 0) & (x < wide) & (y >= 0) & (y < height)
        seen = there.sum(0)
        stripes = ((look(picture.green, at) > LEAF) & there).sum(0) / np.maximum(seen, 1)
        stripes = stripes[seen > 0.3 * len(t)]
        clear.append(float(stripes.std()) if len(stripes) else 0.0)
    return float(TURNS_DEG[int(np.argmax(clear))])


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
