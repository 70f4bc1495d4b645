"""Counts made by hand at a spot, and what exactly was counted.

"Tillers" mean different things in print: Penn State counts them with the main stem, Ohio counts
stems (main stem and tillers), North Carolina any stem with three leaves or more. So each count
says what was counted, a file holds one definition, and turning one into another is a named step
that fails where it can't be done.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass, replace

from tillercount.area import Area, StatedArea, WholePhoto
from tillercount.definition import Definition, parse_definition
from tillercount.errors import InputError

__all__ = [
    "MOST_SHOOTS_PER_PLANT",
    "Definition",
    "HandCount",
    "as_stems",
    "parse_definition",
]

MOST_SHOOTS_PER_PLANT = 21
"""More shoots per plant than this can't be before jointing, as a mean over a marked area.

Each shoot's first side shoot comes about three leaves after the shoot itself, so the number that
can be open follows 1, 1, 1, 2, 3, 5, 8, 13, 21 with the leaves on the main stem (Fibonacci rule
of cereal tillering; from memory). Jointing comes at about nine leaves. Published stands in early
spring have 3 to 5.
"""


@dataclass(frozen=True)
class HandCount:
    """One marked area counted by a person.

    Attributes
    ----------
    spot, observer : str
        Where (a name), and who counted.
    plants, shoots : float or None
        What was counted in the area (a base under the frame counts half); None if not counted,
        never both. ``shoots`` is counted as ``definition`` says.
    area : Area or StatedArea
        The marked area.
    visit, visit_date : str
        The visit that its file names, and that visit's day as written there; "" without one.
    row : int
        Of the file, as a spreadsheet numbers it; 0 where there is none.

    Raises
    ------
    InputError
        Counts that can't be: negative, not finite, both missing, fewer stems than plants, more
        shoots per plant than `MOST_SHOOTS_PER_PLANT`.
    """

    spot: str
    observer: str
    plants: float | None
    shoots: float | None
    area: Area | StatedArea
    definition: Definition = Definition.STEMS
    zone: str = ""
    lat: float | None = None
    lon: float | None = None
    note: str = ""
    field: str = ""
    flags: tuple[str, ...] = ()
    visit: str = ""
    visit_date: str = ""
    row: int = dataclasses.field(default=0, compare=False)

    def __post_init__(self) -> None:
        if not self.spot.strip():
            raise InputError("spot is empty; give each counted place a name or number")
        if isinstance(self.area, WholePhoto):
            raise InputError("area is a photo's scale; give the area counted, like square:12in")
        for name in ("plants", "shoots"):
            value = getattr(self, name)
            if value is None:
                continue
            if not math.isfinite(value):
                raise InputError(f"{name} {value!r} isn't a finite number; count again")
            if value < 0:
                raise InputError(f"{name} {value:g} is below zero; write what was counted")
        if self.plants is None and self.shoots is None:
            raise InputError("plants and shoots are both empty; give one of them at least")
        if self.plants is not None and self.shoots is not None:
            self._check_pair(self.plants, self.shoots)
        for name, limit in (("lat", 90.0), ("lon", 180.0)):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and abs(value) <= limit):
                raise InputError(
                    f"{name} {value!r} is outside -{limit:g} to {limit:g}; give decimal degrees"
                )

    def _check_pair(self, plants: float, shoots: float) -> None:
        if self.definition is Definition.STEMS and shoots < plants:
            raise InputError(
                f"shoots {shoots:g} are fewer than plants {plants:g}, though each plant has a main "
                f"stem: were the two columns swapped ({shoots:g} plants with {plants:g} shoots)? "
                "If so, swap them back; if not, count again. Only if main stems were left out in "
                "every row of the file is that a count of tillers (column definition)"
            )
        most = MOST_SHOOTS_PER_PLANT - (0 if self.definition.main_stem else 1)
        if shoots > most * plants:
            why = (
                "no plant was counted"
                if plants == 0
                else f"that is {shoots / plants:.1f} per plant, and more than {most} can't have "
                "opened before jointing (each shoot's first side shoot comes three leaves later)"
            )
            raise InputError(
                f"shoots {shoots:g} are too many for plants {plants:g}: {why}; "
                "check both numbers and their columns"
            )

    @property
    def area_m2(self) -> float:
        """Area counted, m²."""
        assert not isinstance(self.area, WholePhoto)  # refused above
        return self.area.area_m2

    @property
    def plants_per_m2(self) -> float | None:
        """Plants per m², None if plants weren't counted."""
        return None if self.plants is None else self.plants / self.area_m2

    @property
    def shoots_per_m2(self) -> float | None:
        """What ``definition`` counts, per m²; None if shoots weren't counted."""
        return None if self.shoots is None else self.shoots / self.area_m2


def as_stems(count: HandCount) -> HandCount:
    """The same count with the main stem in it: tillers + plants = stems.

    Counts with the main stem in come back as they are. The three-leaf minimum stays: how many
    smaller shoots there were can't be known afterwards. Under it, each plant's main stem is taken
    to have three leaves, which a plant with tillers of three leaves always has; the result says so
    in its flags.

    Raises
    ------
    InputError
        The main stem isn't in the number and the plants weren't counted.
    """
    if count.shoots is None or count.definition.main_stem:
        return count
    if count.plants is None:
        raise InputError(
            f"spot {count.spot!r}: tillers without the main stem can't be turned into stems, as "
            "the plants weren't counted; count the plants too, or count main stems and tillers"
        )
    if count.definition is Definition.TILLERS:
        to, flag = Definition.STEMS, "tillers + plants = stems"
    else:
        to = Definition.STEMS_3_LEAVES
        flag = "tillers with 3 leaves + plants = stems with 3 leaves (main stems taken to have 3)"
    return replace(
        count,
        shoots=count.shoots + count.plants,
        definition=to,
        flags=(*count.flags, flag),
    )
