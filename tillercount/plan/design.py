"""How spots are drawn: at random, in blocks or zones, on a grid with a random start, on a W."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tillercount.errors import InputError
from tillercount.plan.blocks import even_in, point_in_block, turned_lengthwise
from tillercount.plan.ground import Metres
from tillercount.plan.room import Room, Zone
from tillercount.plan.words import feet, share, spots_text

__all__ = ["DESIGNS", "Draw", "allocate", "draw_spots"]

DESIGNS = {
    "random": "simple random",
    "stratified": "stratified random",
    "systematic": "systematic with a random start",
    "w-walk": "W-walk (convenience sampling)",
}
"""Names of the designs, and how they are written out."""

_NEAR_W_M = 30.48
"""100 ft: how near to the walk a place must be for the walk to say anything about it."""


@dataclass(frozen=True)
class Draw:
    """What was drawn.

    Attributes
    ----------
    where : (N, 2) float64
        Metres in the field's plane.
    zone : tuple of str
        Zone of each spot; "" without zones.
    stands_for_m2 : (N,) float64
        Ground that each spot stands for; its weight in the mean of the field.
    notes : tuple of str
    """

    where: Metres
    zone: tuple[str, ...]
    stands_for_m2: np.ndarray
    notes: tuple[str, ...] = ()


def draw_spots(
    room: Room,
    n: int,
    design: str,
    rng: np.random.Generator,
    zones: Sequence[Zone] = (),
    variability: Sequence[float] | None = None,
) -> Draw:
    """Draw ``n`` spots.

    Every place in the room has the same chance under "random", "systematic" and "stratified"
    without zones; with zones, the same chance within a zone, and each spot carries the ground it
    stands for. Not so under "w-walk", which is no random sample.

    Parameters
    ----------
    room : Room
    n : int
        At least 1.
    design : str
        One of `DESIGNS`.
    rng : numpy.random.Generator
    zones : sequence of Zone
        Strata of "stratified"; under the other designs they only name the spots.
    variability : sequence of float, optional
        Expected CV of each zone: spots then go by area × CV instead of by area.

    Raises
    ------
    InputError
        An unknown design; fewer spots than zones; zones without room.
    """
    if design not in DESIGNS:
        raise InputError(f"design {design!r} isn't known; use one of {', '.join(DESIGNS)}")
    if design == "stratified" and zones:
        return _by_zone(room, n, rng, zones, variability)
    notes: tuple[str, ...] = ()
    if design == "random":
        where = even_in(room.shape, n, rng)
    elif design == "stratified":
        where, notes = _by_block(room, n, rng)
    elif design == "systematic":
        where = _on_grid(room, n, rng)
        notes = (
            "systematic: the spread between spots gives too wide an error if the stand changes "
            "smoothly across the field, and a false one if something repeats at the same spacing",
        )
    else:
        where, notes = _on_w(room, n, rng)
    return Draw(where, _zone_names(where, zones), np.full(n, room.area_m2 / n), notes)


def _by_block(room: Room, n: int, rng: np.random.Generator) -> tuple[Metres, tuple[str, ...]]:
    """Blocks of area in proportion to their spots: two each, so that each block has an error."""
    pairs = max(1, n // 2)
    sizes = np.full(pairs, 2)
    sizes[:] = n if pairs == 1 else sizes
    if pairs > 1 and n % 2:
        # The block with three spots is as much larger; which one it is mustn't be fixed.
        sizes[rng.integers(pairs)] = 3
    turned = turned_lengthwise(room.shape)
    blocks = turned.blocks([float(size) for size in sizes])
    where = np.concatenate(
        [even_in(block, int(size), rng) for block, size in zip(blocks, sizes, strict=True)]
    )
    note = f"stratified: the field is cut into {pairs} blocks, with two spots at random in each"
    if n % 2:
        note += "; one block has three and is half as large again, so each spot stands for as much"
    return turned.back(where), (note,) if pairs > 1 else ()


def _on_grid(room: Room, n: int, rng: np.random.Generator) -> Metres:
    """One spot in each of n equal blocks, all at the same, randomly drawn, relative place."""
    turned = turned_lengthwise(room.shape)
    u, v = rng.uniform(size=2)
    blocks = turned.blocks([1.0] * n)
    return turned.back(np.array([point_in_block(block, u, v) for block in blocks]))


def _on_w(room: Room, n: int, rng: np.random.Generator) -> tuple[Metres, tuple[str, ...]]:
    import shapely

    turned = turned_lengthwise(room.shape)
    west, south, east, north = turned.shape.bounds
    heights = (north, south, north, south, north)
    if rng.integers(2):
        heights = (south, north, south, north, south)
    letter = shapely.LineString(list(zip(np.linspace(west, east, 5), heights, strict=True)))
    pieces = [p for p in shapely.get_parts(letter.intersection(turned.shape)) if p.length > 0]
    if not pieces:
        raise InputError(
            "a W across this field meets no ground where spots may lie; use --design stratified"
        )
    pieces.sort(key=lambda piece: letter.project(shapely.Point(piece.coords[0])))
    total = sum(piece.length for piece in pieces)
    ends = np.cumsum([piece.length for piece in pieces])
    where = np.empty((n, 2))
    for number, at in enumerate((rng.uniform() + np.arange(n)) / n * total):
        index = min(int(np.searchsorted(ends, at)), len(pieces) - 1)
        spot = pieces[index].interpolate(at - (ends[index] - pieces[index].length))
        where[number] = spot.x, spot.y
    unseen = turned.shape.difference(letter.buffer(_NEAR_W_M)).area / turned.shape.area
    note = (
        "W-walk: convenience sampling, not a random sample. What it costs: "
        f"{share(unseen)} of the ground lies more than {feet(_NEAR_W_M)} from the walk and can't "
        "be drawn; the interval computed from these spots says nothing about that ground and no "
        "number of further spots on the walk makes it honest. For a decision that must hold use "
        "--design stratified"
    )
    return turned.back(where), (note,)


def _by_zone(
    room: Room,
    n: int,
    rng: np.random.Generator,
    zones: Sequence[Zone],
    variability: Sequence[float] | None,
) -> Draw:
    import shapely

    notes = []
    open_zones, cvs = [], []
    for index, zone in enumerate(zones):
        every = shapely.get_parts(zone.shape.intersection(room.shape))
        parts = [p for p in every if p.geom_type == "Polygon" and p.area > 1.0]
        if parts:
            open_zones.append((zone.name, shapely.MultiPolygon(parts)))
            cvs.append(variability[index] if variability is not None else 1.0)
        else:
            notes.append(f"zone {zone.name!r} has no room for spots; nothing will be known of it")
    if not open_zones:
        raise InputError("no zone has room for spots; give a smaller --keep-off")
    areas = np.array([shape.area for _, shape in open_zones])
    counts = allocate(n, areas * np.array(cvs))
    single = [name for (name, _), count in zip(open_zones, counts, strict=True) if count == 1]
    if single:
        notes.append(
            f"one spot only in {', '.join(single)}: no interval of its own for such a zone; "
            f"{2 * len(counts)} spots would give each zone two"
        )
    where: list[Metres] = []
    names: list[str] = []
    stands: list[float] = []
    for (name, shape), count, area in zip(open_zones, counts, areas, strict=True):
        where.append(even_in(shape, int(count), rng))
        names += [name] * int(count)
        stands += [area / count] * int(count)
    return Draw(np.concatenate(where), tuple(names), np.array(stands), tuple(notes))


def allocate(n: int, sizes: np.ndarray) -> np.ndarray:
    """Whole spots per zone in proportion to ``sizes``, two each at least where n allows it.

    Sizes are areas (proportional allocation) or area × CV (Neyman's allocation; Cochran, Sampling
    Techniques, ch. 5). Two a zone is also the least that AHDB's wheat guide asks for where rates
    vary by zone.

    Raises
    ------
    InputError
        Fewer spots than zones.
    """
    zones = len(sizes)
    if n < zones:
        raise InputError(f"{spots_text(n)} can't cover {zones} zones; give at least {2 * zones}")
    least = 2 if n >= 2 * zones else 1
    counts = np.full(zones, least)
    wanted = n * np.asarray(sizes, float) / np.sum(sizes)
    while counts.sum() < n:
        # To whoever has the least of what is due to it (Sainte-Laguë).
        counts[int(np.argmax(wanted / (counts + 0.5)))] += 1
    return counts


def _zone_names(where: Metres, zones: Sequence[Zone]) -> tuple[str, ...]:
    import shapely

    names = [""] * len(where)
    for zone in zones:
        inside = shapely.contains_xy(zone.shape, where[:, 0], where[:, 1])
        names = [zone.name if hit else name for hit, name in zip(inside, names, strict=True)]
    return tuple(names)
