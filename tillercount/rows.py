"""Drill rows found in the plants that are seen in one marked area.

**How.** If plants stand in rows a distance s apart, their positions across the rows, counted in
units of s, all have about the same fraction. For every direction and every spacing from 4 to 16 in
the strength of that is R = |mean of exp(2πi·d/s)|, d being a plant's position across: 1 for plants
exactly on rows, about 1/√N for N plants thrown down at random (Rayleigh's test; Mardia & Jupp,
Directional Statistics, 2000, ch. 6; the same sum over wave vectors is the periodogram of a point
pattern, Bartlett 1964, Biometrika 51:299). What the outline alone would give is taken off first.

**When it isn't believed.** For plants at random N·R² exceeds z with probability exp(-z); the search
looks at some dozens of independent directions and spacings, so z = 9 lets one broadcast stand in a
hundred or so pass (tests/test_rows.py measures it). Two rows must each have three plants, or one
row could be any of several.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["FEWEST_PLANTS", "NoRows", "Rows", "find_rows"]

Array = NDArray[np.float64]

FEWEST_PLANTS = 8
"""With fewer, rows that are there are found too seldom to be worth a search."""

SPACINGS_MM = (101.6, 406.4)  # 4 to 16 in: drills and twin rows in use, common practice
SURE = 9.0
PLANTS_A_ROW = 3
FEW_BETWEEN = 0.1
"""Share of plants between rows, fallen or volunteers, that doesn't make a row there."""
_ONE_PLANT_MM = 12.0
"""Points closer than this are one plant to the search: its tillers must not make a row."""


@dataclass(frozen=True)
class Rows:
    """Parallel rows on the ground.

    Attributes
    ----------
    angle_rad : float
        Direction of the rows from the ground's x, 0 to π.
    spacing_mm : float
    offset_mm : float
        Distance from the origin to row 0, to the left of the rows' direction.
    strength : float
        R, 0 to 1; 1 where the rows were known.
    """

    angle_rad: float
    spacing_mm: float
    offset_mm: float
    strength: float = 1.0

    def along(self, points_mm: Array) -> Array:
        """Positions (N,) along the rows, mm."""
        c, s = math.cos(self.angle_rad), math.sin(self.angle_rad)
        return np.asarray(points_mm[:, 0] * c + points_mm[:, 1] * s)

    def across(self, points_mm: Array) -> Array:
        """Positions (N,) across the rows from row 0, mm."""
        c, s = math.cos(self.angle_rad), math.sin(self.angle_rad)
        return np.asarray(points_mm[:, 1] * c - points_mm[:, 0] * s - self.offset_mm)

    def number(self, points_mm: Array) -> NDArray[np.int64]:
        """The nearest row (N,) of each point."""
        return np.rint(self.across(points_mm) / self.spacing_mm).astype(np.int64)


@dataclass(frozen=True)
class NoRows:
    """Why rows can't be told."""

    reason: str

    def to_json(self) -> dict[str, Any]:
        """Plain values for a counts file."""
        return {"found": False, "reason": self.reason}


def find_rows(
    points_mm: Array, inside_mm: Array, spacing_mm: float | None = None
) -> Rows | NoRows:
    """Rows among plants.

    Parameters
    ----------
    points_mm : (N, 2)
        Plants on the ground.
    inside_mm : (M, 2)
        Points spread evenly over the area in which plants were looked for.
    spacing_mm : float, optional
        Distance between rows, where it is known.
    """
    plants = _apart(np.asarray(points_mm, float).reshape(-1, 2))
    n = len(plants)
    if n < FEWEST_PLANTS:
        seen = "no plant is" if n == 0 else "1 plant is" if n == 1 else f"{n} plants are"
        return NoRows(f"{seen} seen, too few to tell rows by (it takes {FEWEST_PLANTS})")
    angles = np.radians(np.arange(0.0, 180.0, 2.0))
    spacings = (
        np.geomspace(*SPACINGS_MM, 56) if spacing_mm is None else np.array([float(spacing_mm)])
    )
    best, angle, spacing = _search(plants, inside_mm, angles, spacings)
    if best < SURE:
        return NoRows(f"the {n} plants seen stand in no clear rows")
    wave = np.exp(2j * np.pi * _across(plants, np.array([angle]))[0] / spacing).mean()
    found = Rows(angle, spacing, float(np.angle(wave)) / (2 * math.pi) * spacing)
    if spacing_mm is None:
        found = _every_other(found, plants)
    for _ in range(2):
        found = _fitted(found, plants, spacing_mm)
    counts = np.unique(found.number(plants), return_counts=True)[1]
    if spacing_mm is None and (counts >= PLANTS_A_ROW).sum() < 2:
        return NoRows("only one row is in the picture, so their spacing can't be told")
    return found


def _every_other(rows: Rows, plants: Array) -> Rows:
    """Rows twice as far apart where every other one is empty: half a spacing fits as well."""
    odd = rows.number(plants) % 2 == 1
    if FEW_BETWEEN < odd.mean() < 1 - FEW_BETWEEN:
        return rows
    shift = rows.spacing_mm if odd.mean() > 0.5 else 0.0
    wider = Rows(rows.angle_rad, 2 * rows.spacing_mm, rows.offset_mm + shift)
    return wider if wider.spacing_mm <= SPACINGS_MM[1] * 1.05 else rows


def _fitted(rows: Rows, plants: Array, spacing_mm: float | None) -> Rows:
    """The rows that leave the least squares across them; a known spacing stays."""
    number, along = rows.number(plants), rows.along(plants)
    beside = rows.across(plants) - number * rows.spacing_mm
    terms = [np.ones(len(plants)), along]
    if spacing_mm is None and np.ptp(number) > 0:
        terms.append(number.astype(float))
    shift, turn, *wider = np.linalg.lstsq(np.column_stack(terms), beside, rcond=None)[0]
    angle = rows.angle_rad + math.atan(turn)
    spacing = rows.spacing_mm + (float(wider[0]) if wider else 0.0)
    offset = (rows.offset_mm + float(shift)) * math.cos(math.atan(turn))
    if not 0 <= angle < math.pi:  # the same rows, walked the other way
        angle, offset = angle % math.pi, -offset
    off = Rows(angle, spacing, offset).across(plants) / spacing
    return Rows(angle, spacing, offset, float(abs(np.exp(2j * np.pi * off).mean())))


def _search(
    plants: Array, inside: Array, angles: Array, spacings: Array
) -> tuple[float, float, float]:
    """The largest N·R² over angles and spacings, and where."""
    power = np.empty((len(angles), len(spacings)))
    mine, area = _across(plants, angles), _across(np.asarray(inside, float), angles)
    for j, spacing in enumerate(spacings):
        wave = np.exp(2j * np.pi * mine / spacing).mean(1)
        wave -= np.exp(2j * np.pi * area / spacing).mean(1)
        power[:, j] = len(plants) * np.abs(wave) ** 2
    at, best = np.unravel_index(int(power.argmax()), power.shape)
    return float(power[at, best]), float(angles[at]), float(spacings[best])


def _across(points: Array, angles: Array) -> Array:
    """Positions (A, N) across each direction."""
    return np.asarray(
        np.cos(angles)[:, None] * points[None, :, 1] - np.sin(angles)[:, None] * points[None, :, 0]
    )


def _apart(points: Array) -> Array:
    """Points of one plant taken together at their middle."""
    left = list(range(len(points)))
    out = []
    while left:
        first = left.pop(0)
        mine = [first] + [
            i for i in left if math.dist(points[i], points[first]) < _ONE_PLANT_MM
        ]
        left = [i for i in left if i not in mine]
        out.append(points[mine].mean(0))
    return np.array(out).reshape(-1, 2)
