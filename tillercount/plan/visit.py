"""A visit to one field: which spots, in which order, which of them by hand too."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tillercount.errors import InputError
from tillercount.plan.boundary import Field, read_field
from tillercount.plan.degrees import place_text
from tillercount.plan.design import draw_spots
from tillercount.plan.need import Need, how_many
from tillercount.plan.room import LeftOut, Room, Zone, make_room, read_left_out, read_zones
from tillercount.plan.route import walking_order

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

__all__ = ["KEEP_OFF_LINES_M", "KEEP_OFF_M", "Spot", "VisitPlan", "plan_visit"]

KEEP_OFF_M = 9.144
"""30 ft off the edge and off areas left out, where nothing is said: common practice."""
KEEP_OFF_LINES_M = 1.2192
"""4 ft off the middle of a wheel track: common practice."""

_FEWEST_PAIRS = 4
"""From four spots counted both ways a difference estimator gains on hand counts alone (simulated;
double sampling, see Cochran, Sampling Techniques, ch. 12)."""


@dataclass(frozen=True)
class Spot:
    """One place to lay the frame.

    Attributes
    ----------
    number : int
        1 up, in walking order.
    lon, lat : float
        Degrees, WGS 84, seven decimals (about a centimetre).
    x_m, y_m : float
        Metres in the field's plane.
    by_hand : bool
        Whether it is to be counted by hand too.
    zone : str
        "" without zones.
    stands_for_m2 : float
        Ground that it stands for; its weight in the mean of the field.
    """

    number: int
    lon: float
    lat: float
    x_m: float
    y_m: float
    by_hand: bool
    zone: str
    stands_for_m2: float


@dataclass(frozen=True)
class VisitPlan:
    """A planned visit; `tillercount.plan.export` and ``mapsheet`` write it."""

    field: Field
    room: Room
    zones: tuple[Zone, ...]
    left_out: LeftOut
    spots: tuple[Spot, ...]
    design: str
    seed: int
    start: tuple[float, float] | None
    walk_m: float
    why: str
    notes: tuple[str, ...]

    @property
    def by_hand(self) -> tuple[Spot, ...]:
        """The spots to be counted by hand too."""
        return tuple(spot for spot in self.spots if spot.by_hand)

    @property
    def is_random_sample(self) -> bool:
        """Whether intervals computed from the spots hold for the field."""
        return self.design != "w-walk"


def plan_visit(
    boundary: Field | str | Path,
    spots: int | None = None,
    *,
    hand: int | None = None,
    design: str | None = None,
    keep_off_m: float = KEEP_OFF_M,
    keep_off_lines_m: float = KEEP_OFF_LINES_M,
    zones: str | Path | None = None,
    exclude: Iterable[str | Path] = (),
    start: tuple[float, float] | None = None,
    need: Need | None = None,
    field_name: str | None = None,
    rng: np.random.Generator | int | None = None,
) -> VisitPlan:
    """Plan a visit: draw spots, draw which are counted by hand too, order them for walking.

    The same seed, boundary and options give the same plan. Hand spots come from a stream of their
    own: asking for more of them moves no spot.

    Parameters
    ----------
    boundary : Field, str or Path
        See `read_field`.
    spots : int, optional
        How many; without it ``need`` says.
    hand : int, optional
        How many of them by hand too. Without it a quarter, and at least four.
    design : str, optional
        One of `tillercount.plan.design.DESIGNS`; "stratified" if not given.
    keep_off_m, keep_off_lines_m : float
        Metres off the edge and areas left out, and off lines such as wheel tracks.
    zones : str or Path, optional
    exclude : iterable of str or Path
    start : (lon, lat), optional
        Where the walk begins and ends.
    need : Need, optional
    field_name : str, optional
        Which field of a file that holds several.
    rng : Generator, int or None
        A seed from 0 up. Without one a seed is drawn and kept in the plan.

    Raises
    ------
    InputError
        Anything given that can't be used; no room for spots.
    """
    seed = _seed(rng)
    field = boundary if isinstance(boundary, Field) else read_field(boundary, field_name)
    notes = [*([field.doubt] if field.doubt else []), *field.notes]
    parts: tuple[Zone, ...] = ()
    if zones is not None:
        parts, more = read_zones(zones, field)
        notes += more
    left_out, more = read_left_out(exclude, field)
    notes += more
    room = make_room(field, keep_off_m, left_out, keep_off_lines_m)
    notes += room.notes
    drawn_by = design or "stratified"
    n, cvs, why = how_many(spots, need or Need(), parts, room, drawn_by)
    streams = np.random.default_rng(seed).spawn(2)
    drawn = draw_spots(room, n, drawn_by, streams[0], parts, cvs)
    notes += drawn.notes
    by_hand = _hand_spots(n, hand, streams[1], notes)
    at = None if start is None else field.ground.to_m(np.array([start]))[0]
    if start is not None and at is not None and not np.hypot(*at) < 50_000:
        raise InputError(
            f"the start ({place_text(*start)}) lies more than 30 miles from the field "
            f"({place_text(field.ground.lon, field.ground.lat)}); give --start as LAT,LON, the "
            "latitude first"
        )
    order, walk_m = walking_order(drawn.where, None if at is None else (at[0], at[1]))
    if at is None:
        order = _from_the_edge(order, drawn.where, field)
    degrees = field.ground.to_degrees(drawn.where).round(7)
    where = field.ground.to_m(degrees)
    planned = tuple(
        Spot(
            number,
            float(degrees[i, 0]),
            float(degrees[i, 1]),
            float(where[i, 0]),
            float(where[i, 1]),
            i in by_hand,
            drawn.zone[i],
            float(drawn.stands_for_m2[i]),
        )
        for number, i in enumerate(order, start=1)
    )
    notes += _legs_outside(planned, field, left_out)
    return VisitPlan(
        field, room, parts, left_out, planned, drawn_by, seed, start, walk_m, why, tuple(notes)
    )


def _seed(rng: np.random.Generator | int | None) -> int:
    if isinstance(rng, np.random.Generator):
        return int(rng.integers(2**31))
    if rng is None:
        return int(np.random.default_rng().integers(1_000_000))
    if rng < 0:
        raise InputError(f"seed {rng} is below zero; give a whole number from 0 up")
    return int(rng)


def _hand_spots(
    n: int, hand: int | None, rng: np.random.Generator, notes: list[str]
) -> frozenset[int]:
    """Which of n spots are counted by hand too: a simple random sample of them."""
    k = min(n, max(_FEWEST_PAIRS, math.ceil(n / 4))) if hand is None else hand
    if not 0 <= k <= n:
        raise InputError(f"--hand {k} of {n} spots isn't possible; give 0 to {n}")
    if k == 0:
        notes.append(
            "no spot is counted by hand too: nothing will show whether the photos count high or "
            "low in this field"
        )
    elif k < _FEWEST_PAIRS:
        notes.append(
            f"{k} by hand too: with fewer than {_FEWEST_PAIRS} the photos can't be corrected by "
            "them, only looked at beside them"
        )
    return frozenset(int(i) for i in rng.permutation(n)[:k])


def _from_the_edge(order: list[int], where: np.ndarray, field: Field) -> list[int]:
    """Begin at the end that is nearer to the field's edge, where the truck can stand."""
    from shapely import Point

    first, last = (field.shape.boundary.distance(Point(where[i])) for i in (order[0], order[-1]))
    return order if first <= last else order[::-1]


def _legs_outside(spots: tuple[Spot, ...], field: Field, left_out: LeftOut) -> list[str]:
    """A remark if the straight way between two spots leaves the field."""
    import shapely

    open_ground: BaseGeometry = field.shape.buffer(1.0)
    for area in left_out.areas:
        if area.area > 0:
            open_ground = open_ground.difference(area)
    out = []
    for one, next_ in itertools.pairwise(spots):
        leg = shapely.LineString([(one.x_m, one.y_m), (next_.x_m, next_.y_m)])
        if leg.difference(open_ground).length > 3.0:
            out.append(f"{one.number}–{next_.number}")
    if not out:
        return []
    return [
        f"the straight way {', '.join(out)} crosses ground outside the field or left out: go "
        "round; the walk is longer than stated"
    ]
