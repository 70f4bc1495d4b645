"""Which row a stick lies beside, and how far from it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import RowArea
from tillercount.frame.edges import look
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.rowway import leaf_from

__all__ = ["Rows", "row_side_mm", "rows_beside"]

Array = NDArray[Any]

PERIODS_MM = np.geomspace(70, 420, 240)
REACH_MM = 650.0
LEAST_CLEAR, LEAST_SHARE, LEAST_PERIODS = 0.15, 0.5, 3.0
ROWS_EACH_SIDE = 2
BEYOND_ENDS = 0.4
"""How far beyond the stick's ends, of its length, green is looked at to find the rows."""
LEAST_GREEN, LEAST_STEP = 0.004, 0.3
"""Share of green on a row, and by how much of itself it must be less between the rows."""
MIDWAY = 0.44
"""Of the spacing: the other row may as well be the nearer one from here on, for plants lean and the
camera tilts (by judgement: rows are found to 0.09 of the spacing, nine times in ten)."""
FLANK = 0.25
"""Of the spacing: what lies nearer to a row's middle belongs to that row."""
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
    green = (look(picture.green, at) > leaf_from(picture)) & there
    # what lies beside the stick itself says most of its own row
    beside = np.where((t > 0) & (t < 1), 1.0, 0.5)[:, None]
    cover = (green * beside).sum(0) / np.maximum((there * beside).sum(0), 1e-9)
    on_stick = np.abs(across) <= half
    cover = np.where(on_stick, np.minimum(cover, np.median(cover)), cover)
    known = there.mean(0) > 0.3
    fine_mm = max(0.08 * spacing, 5.0)
    smooth = _gauss(cover, fine_mm)
    # the nearest row lies half a spacing off at most; its flank may reach further
    near = np.abs(across) <= spacing * (0.5 + FLANK)
    offsets = across[near]
    may_be = np.abs(offsets) <= spacing / 2
    comb, weights = np.zeros(len(offsets)), np.zeros(len(offsets))
    for k in range(-ROWS_EACH_SIDE, ROWS_EACH_SIDE + 1):
        # a tilted camera sees the rows further off nearer or wider apart: less sharply known
        row = _gauss(smooth, 0.05 * abs(k) * spacing) if k else smooth
        weight = np.interp(offsets + k * spacing, across, known.astype(float)) * 0.6 ** abs(k)
        comb += weight * np.interp(offsets + k * spacing, across, row)
        weights += weight
    comb /= np.maximum(weights, 1e-9)
    beside_it = np.abs(across) <= spacing / 2
    inside = 1 / (1 + np.exp(-look(maps.row_area, maps.on_grid(at[:, beside_it]))))
    # the finder's map is as wide as the spacing: its middle is the row
    guess = _middle(
        np.where(there[:, beside_it], inside, 0)[(t > 0) & (t < 1)].mean(0), across[beside_it]
    )
    lowest = float(comb[may_be].min())
    score = np.where(may_be, comb - lowest, 0.0)
    if math.isfinite(guess):
        pull = np.exp(-0.5 * ((offsets - guess) / (0.3 * spacing)) ** 2)
        score = score * (0.5 + 0.5 * pull)
    score = score * np.where(np.abs(offsets) < half + BESIDE_MM, 0.3, 1.0)
    best = int(np.argmax(score))
    # half a spacing off on one side is half a spacing off on the other: the flank of the row
    # itself comes back there, and isn't another one
    turns = (offsets - offsets[best]) / spacing
    other = np.sign(offsets) != np.sign(offsets[best])
    other &= may_be & (np.abs(turns - np.round(turns)) > FLANK)
    evidence = {
        "row_green": round(float(comb[best]), 3),
        "row_guess_mm": round(guess, 1) if math.isfinite(guess) else None,
        "other_side": round(float(np.max(score[other], initial=0.0) / max(score[best], 1e-6)), 3),
    }
    if comb[best] < LEAST_GREEN or comb[best] - lowest < LEAST_STEP * comb[best]:
        return float("nan"), evidence
    around = np.abs(offsets - offsets[best]) < 2 * fine_mm
    weight = np.maximum(comb - 0.5 * comb[best], 0) * around
    fine, whole = (
        float((offsets * some).sum() / max(some.sum(), 1e-9)) for some in (weight * may_be, weight)
    )
    evidence["row_at_mm"] = round(fine, 1)
    if abs(whole) > MIDWAY * spacing:
        evidence["other_side"] = 1.0
    return fine, evidence


@dataclass(frozen=True)
class Rows:
    """How far apart rows seem to stand: ``period_mm``, and how clear it is, 0 to 1;
    ``share`` of that clearness at the spacing that was said; ``periods`` that are in view."""

    period_mm: float
    clear: float
    share: float
    periods: float

    @property
    def told(self) -> bool:
        """Whether enough rows are in view, and stand out enough, to tell how far apart they are."""
        return self.clear >= LEAST_CLEAR and self.periods >= LEAST_PERIODS

    @property
    def contradicted(self) -> bool:
        """Whether the rows stand clearly further apart, or nearer, than was said.

        Beside 19 sticks of development scenes whose ends were found none was called wrong at its
        true spacing, and 8 at four thirds of it.
        """
        return self.told and self.share < LEAST_SHARE


def rows_beside(picture: Picture, ends: Array, area: RowArea) -> Rows:
    """The strongest period of green across a stick with these ends (2, 2) px."""
    d = ends[1] - ends[0]
    mm = area.length_mm / float(np.linalg.norm(d))
    across = np.arange(-REACH_MM, REACH_MM, 2.0) / mm
    share, known = _stripes(picture, ends[0] + 0.5 * d, d, 0.9, across)
    place, green = across[known] * mm, share[known]
    if len(place) < 30:
        return Rows(math.nan, 0.0, 1.0, 0.0)
    window = np.hanning(len(green) + 2)[1:-1]
    green = green - (green * window).sum() / window.sum()
    waves = np.exp(2j * np.pi * place[None] / PERIODS_MM[:, None])
    power = np.abs((green * window * waves).sum(1)) ** 2
    power /= max(float(window.sum() * (green**2 * window).sum()), 1e-12)
    extent = float(np.ptp(place))
    # where power still grows at the end of the range there is no period, but one side is greener
    peak = extent / 1.5 > PERIODS_MM
    peak[1:] &= power[1:] >= power[:-1]
    peak[:-1] &= power[:-1] >= power[1:]
    peak[[0, -1]] = False
    if not peak.any():
        return Rows(math.nan, 0.0, 1.0, 0.0)
    best = int(np.argmax(np.where(peak, power, 0)))
    said = int(np.argmin(np.abs(PERIODS_MM - area.spacing_mm)))
    return Rows(
        float(PERIODS_MM[best]),
        float(power[best]),
        float(power[said] / max(power[best], 1e-12)),
        extent / float(PERIODS_MM[best]),
    )


def _stripes(
    picture: Picture, middle: Array, d: Array, half: float, across: Array
) -> tuple[Array, NDArray[np.bool_]]:
    """Share of green along lines that run in the direction d (2,), and which are in view.

    The lines reach ``half`` of d's length either way from points ``across`` (N,) px off the
    middle, up the photo.
    """
    length = float(np.linalg.norm(d))
    axis = d / length
    t = np.linspace(-half, half, 220) * length
    at = middle + t[:, None, None] * axis + across[None, :, None] * np.array([axis[1], -axis[0]])
    height, wide = picture.shape
    x, y = at[..., 0], at[..., 1]
    there = (x >= 0) & (x < wide) & (y >= 0) & (y < height)
    seen = there.sum(0)
    green = ((look(picture.green, at) > leaf_from(picture)) & there).sum(0)
    return green / np.maximum(seen, 1), np.asarray(seen > 0.3 * len(t))


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
