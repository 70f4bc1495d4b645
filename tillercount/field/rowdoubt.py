"""Rows that speak against a size: such as hardly any drill has, others than the drill's own, or two
distances in one field.

It is asked of all photos of a field together, so it also holds where they were counted one by one.
What it says is no proof: a few drills have rows of 12 or 15 in, and a field may have been sown with
two. Whoever gives the drill's own spacing, and photos agree with it, hears nothing.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from tillercount.errors import InputError
from tillercount.field.rowspacing import (
    FEWEST,
    HIDDEN,
    RowsSeen,
    of_spacings,
    of_stick,
    seen_mm,
    spacing_text,
)
from tillercount.field.spots import SeenRows, SpotDensity
from tillercount.twoforms import DRILL_ROWS
from tillercount.typed import decimal_points
from tillercount.units import length_mm

__all__ = [
    "ANOTHER_DRILL", "RowDoubt", "drill_typed", "other_drill", "row_doubt", "seen_rows",
    "with_drill",
]  # fmt: skip

ANOTHER_DRILL = "another drill, or another size of frame or stick"
"""In all that is said of two distances in one field."""
_ONE_DRILL = 0.15
"""Row spacings that differ by more are of two drills. Seen in 20 rendered photos of known spacing
it was off by -12 to +1 %; drills in use are 6, 7.5 and 10 in, a quarter and more apart."""
_PART = 0.2
"""A smaller part of the photos than this is no second distance: in a gappy stand some show every
second row alone (a convention)."""


@dataclass(frozen=True)
class RowDoubt:
    """Why a size may be wrong by the rows seen.

    ``line`` is for whoever reads the counts, ``why`` half a sentence for a verdict. ``sure``: the
    drill's own spacing was given and contradicts, so nothing hangs on what drills usually have.
    """

    line: str
    why: str
    sure: bool = False


def drill_typed(text: str | None) -> str | None:
    """A drill's row spacing as typed, without needless blanks and with a decimal point, so that
    alike ones are; None where nobody typed one.

    Raises
    ------
    InputError
        It is no length, or has no unit.
    """
    if text is None:
        return None
    plain = decimal_points(" ".join(text.split()))
    length_mm(plain, what="--row-spacing")
    return plain


def seen_rows(record: Mapping[str, Any]) -> SeenRows | None:
    """How far apart a photo shows rows, by its entry of a counts file; None where it shows none."""
    mm = seen_mm(record)
    if mm is None:
        return None
    area = record.get("area")
    text = str(area.get("text") or "") if isinstance(area, Mapping) else ""
    if of_stick(record):
        typed = str(area.get("typed") or text) if isinstance(area, Mapping) else text
        return SeenRows(mm, text, _length(typed.rpartition("/")[2]), of_stick=True)
    return SeenRows(mm, text, _length(record.get("drill_rows")))


def with_drill(spots: Iterable[SpotDensity], typed: str) -> tuple[SpotDensity, ...]:
    """Spots with the drill's row spacing, as typed, for all photos with a frame."""
    return tuple(
        spot
        if spot.seen_rows is None or spot.seen_rows.of_stick
        else replace(spot, seen_rows=replace(spot.seen_rows, drill=typed))
        for spot in spots
    )


def row_doubt(
    here: Sequence[SeenRows], elsewhere: Sequence[SeenRows] = ()
) -> RowDoubt | None:
    """What the rows of a field's photos say against a size; None where nothing.

    ``elsewhere`` are those of the field's other visits, which were sown by the same drill.
    """
    found = _two_here(here) or _two_visits(here, elsewhere)
    if found is not None:
        return found
    framed = [one for one in here if not one.of_stick]
    for typed in dict.fromkeys(one.drill for one in framed):
        rows = _together([one for one in framed if one.drill == typed])
        found = None if rows is None else _odd(rows, typed)
        if found is not None:
            return found
    return None


def other_drill(mine: Sequence[SeenRows], theirs: Sequence[SeenRows]) -> tuple[float, float] | None:
    """Both distances where two groups of photos show rows of two drills, and each is sure of its
    own; else None."""
    a, b = _together(mine), _together(theirs)
    if a is None or b is None or min(a.photos, b.photos) < FEWEST or not (a.alike and b.alike):
        return None
    if abs(math.log(a.spacing_mm / b.spacing_mm)) <= math.log1p(_ONE_DRILL):
        return None
    return a.spacing_mm, b.spacing_mm


def _two_here(rows: Sequence[SeenRows]) -> RowDoubt | None:
    """Two distances among photos of one visit, parted where they differ most."""
    order = sorted(rows, key=lambda one: one.spacing_mm)
    steps = [b.spacing_mm / a.spacing_mm for a, b in itertools.pairwise(order)]
    if not steps:
        return None
    cut = steps.index(max(steps)) + 1
    near, wide = order[:cut], order[cut:]
    if min(len(near), len(wide)) < _PART * len(rows):
        return None
    both = other_drill(near, wide)
    if both is None or (_agrees(near) and _agrees(wide)):
        return None
    twice = abs(both[1] / both[0] / 2 - 1) <= HIDDEN
    if twice and {one.area for one in near} == {one.area for one in wide}:
        return None  # every second row may be hidden there
    first, second = (near, wide) if len(near) >= len(wide) else (wide, near)
    return _two(first, second, "others of this field")


def _two_visits(here: Sequence[SeenRows], elsewhere: Sequence[SeenRows]) -> RowDoubt | None:
    if other_drill(here, elsewhere) is None or _agrees(here):
        return None
    return _two(here, elsewhere, "of the field's other visits")


def _two(first: Sequence[SeenRows], second: Sequence[SeenRows], what: str) -> RowDoubt | None:
    both = other_drill(first, second)
    if both is None:
        return None
    a, b = map(spacing_text, both)
    right = next((side for side in (first, second) if _agrees(side)), None)
    if right is None:
        todo = f"measure both sizes and {DRILL_ROWS.screen}"
    else:
        off = b if right is first else a
        todo = (
            f"{a if right is first else b} agrees with the drill's {right[0].drill}, so measure "
            f"what lies in the photos with {off}"
        )
    return RowDoubt(
        f"rows stand {a} apart in {len(first)} photos and {b} in {len(second)} {what}, by the "
        f"sizes given: {ANOTHER_DRILL}, or photos of another field; {todo}, since a wrong size "
        "makes the densities wrong by its square",
        f"rows stand {a} apart in some photos and {b} in others, so a size may be wrong, or they "
        "aren't of one field",
    )


def _odd(rows: RowsSeen, typed: str) -> RowDoubt | None:
    """Rows at a distance that isn't the drill's, or where nobody said it, that few drills have."""
    if typed:
        drill_mm = length_mm(typed)
        found = rows.beside(drill_mm)
        if found in ("wrong", "hidden"):
            said = rows.against(drill_mm, typed).rstrip(".")
            shown = spacing_text(rows.spacing_mm, typed)
            why = f"rows stand {shown} apart, and the drill's are {typed}, so a size may be wrong"
            return RowDoubt(f"{said[0].lower()}{said[1:]}", why, sure=found == "wrong")
        return None
    line = rows.odd()
    if not line:
        return None
    shown = spacing_text(rows.spacing_mm)
    return RowDoubt(
        line, f"rows stand {shown} apart, as in few drills, so the size of the frame may be wrong"
    )


def _together(rows: Sequence[SeenRows]) -> RowsSeen | None:
    return of_spacings([one.spacing_mm for one in rows])


def _agrees(rows: Sequence[SeenRows]) -> bool:
    """Whether these photos show just what was said of the drill."""
    typed = {one.drill for one in rows}
    seen = _together(rows)
    if seen is None or len(typed) != 1 or not (drill := typed.pop()):
        return False
    return seen.beside(length_mm(drill)) == "agrees"


def _length(typed: Any) -> str:
    """What was typed where it is a length; else nothing, as in a file that somebody edited."""
    if not isinstance(typed, str):
        return ""
    try:
        return drill_typed(typed) or ""
    except InputError:
        return ""
