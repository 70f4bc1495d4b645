"""What is expected and wanted of a visit, turned into a number of spots."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tillercount.errors import InputError
from tillercount.field.samplesize import MOST_SPOTS
from tillercount.plan import howmany
from tillercount.plan.room import Room, Zone
from tillercount.plan.words import spots_text

__all__ = ["Need", "how_many"]


@dataclass(frozen=True)
class Need:
    """What is expected and wanted, for working out how many spots it takes.

    ``cv`` as a share (0.45), one for the field or one for each zone; with it ``precision`` (half
    the interval's width as a share of the mean), or ``limit`` and ``mean``, both in one unit.
    """

    cv: float | Mapping[str, float] | None = None
    precision: float | None = None
    limit: float | None = None
    mean: float | None = None


def how_many(
    spots: int | None, need: Need, zones: Sequence[Zone], room: Room, design: str
) -> tuple[int, list[float] | None, str]:
    """Number of spots, CV of each zone if given, and a sentence on what the number should bring.

    Raises
    ------
    InputError
        Neither a number nor enough to work one out; a number that can't be planned; CVs by zone
        for a design that doesn't draw by zone.
    """
    cvs = None
    if isinstance(need.cv, Mapping):
        if not zones:
            raise InputError("an expected CV for each zone needs zones; give --zones as well")
        if design != "stratified":
            raise InputError("an expected CV for each zone needs --design stratified")
        cvs = howmany.cv_of_zones(need.cv, [zone.name for zone in zones])
    areas = np.array([zone.shape.intersection(room.shape).area for zone in zones])
    n = spots if spots is not None else _needed(need, cvs, areas)
    if not 1 <= n <= MOST_SPOTS:
        raise InputError(f"{n} spots can't be planned; give 1 to {MOST_SPOTS} in one field")
    if need.cv is None or n < 2:
        return n, cvs, ""
    if design == "w-walk":
        # The formula is one of random samples.
        text = f"{spots_text(n)} on a W: how near their mean comes to the field's can't be said"
        return n, cvs, text
    cv = need.cv
    if isinstance(cv, Mapping):
        cv = float(np.dot(areas, cvs or []) / areas.sum())
    reach = howmany.expected_precision(cv, n, zones=1 if cvs is None else len(zones))
    text = (
        f"{spots_text(n)} at an expected CV of {cv * 100:.0f} % should give "
        f"±{reach * 100:.0f} % around the mean "
        f"({howmany.LEVEL * 100:.0f} % interval, n = (t CV / E)²)"
    )
    if need.limit is not None and need.mean is not None and spots is None:
        text += ", enough to tell the expected mean from the limit"
    return n, cvs, text


def _needed(need: Need, cvs: list[float] | None, areas: np.ndarray) -> int:
    if need.cv is None or (need.precision is None and need.limit is None):
        raise InputError(
            "how many spots? give --spots N, or --expect-cv (45% say) with --precision 20%, or "
            "with --limit and --expect-mean"
        )
    sizes = []
    if need.precision is not None:
        if cvs is not None:
            sizes.append(howmany.spots_for_zones(list(areas / areas.sum()), cvs, need.precision))
        else:
            sizes.append(howmany.spots_for_precision(_one(need.cv), need.precision))
    if need.limit is not None:
        if need.mean is None:
            raise InputError("--limit needs the mean that is expected; give --expect-mean as well")
        if not (need.mean > 0 and need.limit > 0):
            raise InputError("--limit and --expect-mean must be above zero")
        cv = _one(need.cv) if cvs is None else float(np.dot(areas, cvs) / areas.sum())
        sizes.append(howmany.spots_to_decide(cv, need.mean, need.limit))
    return max(sizes)


def _one(cv: float | Mapping[str, float]) -> float:
    if isinstance(cv, Mapping):
        raise InputError("an expected CV for each zone needs zones; give --zones as well")
    return cv
