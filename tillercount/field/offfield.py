"""Spots whose positions lie outside the outline that was given for the field.

Counts of another field make a full and wrong verdict, so it is said first, and refused where no
spot lies inside.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tillercount.errors import InputError
from tillercount.field.spots import SpotDensity
from tillercount.names import first_few, spot_text
from tillercount.positions import far_text

if TYPE_CHECKING:
    from tillercount.plan.boundary import Field

__all__ = ["GPS_M", "off_field", "outside_m"]

GPS_M = 15.0
"""A phone's position is off by some ten metres, so an edge isn't taken to the foot: common
practice."""


def outside_m(outline: Field, metres: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far positions (N, 2), metres on the outline's ground, lie outside it; 0 where they don't.

    Not farther than `GPS_M` is no farther than a position may be off, and counts as inside.
    """
    import shapely

    away = np.asarray(shapely.distance(shapely.points(metres), outline.shape), float)
    return np.where(away > GPS_M, away, 0.0)


def off_field(spots: Sequence[SpotDensity], outline: Field) -> list[str]:
    """What to say of spots outside an outline; nothing where none is, or none has a position.

    Raises
    ------
    InputError
        Every spot that has a position lies outside, and they are at least half of all spots.
    """
    where: dict[str, tuple[str, float, float]] = {}
    for spot in spots:
        if spot.lat is not None and spot.lon is not None:
            where.setdefault(spot.key, (spot.spot, spot.lon, spot.lat))
    if not where:
        return []
    metres = outline.ground.to_m(np.array([[lon, lat] for _, lon, lat in where.values()], float))
    away = outside_m(outline, metres)
    names = [name for name, _, _ in where.values()]
    out = [(name, far) for name, far in zip(names, away.tolist(), strict=True) if far > 0]
    of = f" of {outline.name}" if outline.name.strip() else ""
    several = len({spot.key for spot in spots})
    if len(out) == len(where) and 2 * len(where) >= several:
        nearest = far_text(min(far for _, far in out))
        lie = "the only position lies" if len(out) == 1 else f"all {len(out)} positions lie"
        raise InputError(
            f"{lie} outside the boundary{of}, the nearest {nearest} away, so these look like the "
            "counts of another field; give the boundary of the field that was counted (--boundary, "
            "and --field where the file holds several), correct the positions, or leave --boundary "
            "out"
        )
    if not out:
        return []
    each = first_few(f"{spot_text(name)}: {far_text(far)}" for name, far in out)
    lies = "lies" if len(out) == 1 else "lie"
    known = f"{len(out)} of {len(where)} positions" if len(where) > 1 else "the only position"
    return [
        f"{known} {lies} outside the boundary{of} "
        f"({each}) and count all the same: check the positions, and leave out what belongs "
        "to another field"
    ]
