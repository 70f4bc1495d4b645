"""One record for a spot's densities, wherever they came from."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.names import spot_key

__all__ = ["PairedDifference", "RowStretch", "SeenRows", "SpotDensity"]


@dataclass(frozen=True)
class RowStretch:
    """Drill row seen in one photo, mm, and how much of it lies in gaps longer than ``over_mm``."""

    row_mm: float
    gap_mm: float
    over_mm: float


@dataclass(frozen=True)
class SeenRows:
    """How far apart drill rows are seen in one photo, mm, by the size of its marked ``area``.

    ``drill`` is what the drill's spacing was given as, "" where nobody said it.
    """

    spacing_mm: float
    area: str = ""
    drill: str = ""
    of_stick: bool = False


@dataclass(frozen=True)
class SpotDensity:
    """Densities at one spot.

    Attributes
    ----------
    spot : str
        Name of the place.
    source : {"photo", "hand"}
        How it was counted; ask `by` of one of its two counts.
    plants_per_m2, shoots_per_m2 : float or None
        None where not counted. Shoots as ``definition`` says.
    plants_se, shoots_se : float
        Standard error of this spot's own count, per m²; 0 where none is stated (a hand count is
        taken as it stands).
    area_m2 : float
        Area counted.
    definition : Definition
        What "shoots" counts; photos count stems.
    plants_bias_rel, shoots_bias_rel : float
        Relative standard error that all photos of one model share (it may read every photo a
        little high or low), which more photos don't average out. 0 for hand counts.
    photo, observer : str
        The photo's path, or who counted.
    field : str
        Where the file with the count names it.
    rows : RowStretch or None
        Rows seen in the photo; None where they couldn't be told.
    seen_rows : SeenRows or None
        How far apart they stand, also beside a stick; None where that couldn't be told.
    other_cover : float or None
        Share of the area under plants that aren't the crop, 0 to 1; photos alone have it.
    other_per_m2 : float or None
        How many such plants; None where the photo's model can't tell. Not calibrated.
    sha256 : str
        Of the photo's bytes, by which copies are known; "" where not known.
    look : str
        How light and dark lie in the photo (`tillercount.samelook`); "" where not known.
    placed : bool
        The spot isn't merely the photo's own name: a position, a plan or a person put it there, so
        several photos of that spot are of one place.
    taken : str
        Day of the photo by its own clock, ISO 8601; "" where not known.
    named : bool
        Its own name or a person put the photo to that spot, not its position or its time.
    from_photo : tuple of {"plants", "shoots"}
        What a photo gave in a record that is otherwise counted by hand.
    row : int
        Of a file of hand counts, as a spreadsheet numbers it; 0 where there is none.
    area_said : str
        The area of a hand count as it was typed; "" where that isn't known.
    """

    spot: str
    source: Literal["photo", "hand"]
    plants_per_m2: float | None
    shoots_per_m2: float | None
    plants_se: float = 0.0
    shoots_se: float = 0.0
    area_m2: float = 0.09290304
    definition: Definition = Definition.STEMS
    zone: str = ""
    flags: tuple[str, ...] = ()
    plants_bias_rel: float = 0.0
    shoots_bias_rel: float = 0.0
    photo: str = ""
    observer: str = ""
    lat: float | None = None
    lon: float | None = None
    field: str = ""
    rows: RowStretch | None = None
    seen_rows: SeenRows | None = None
    other_cover: float | None = None
    other_per_m2: float | None = None
    sha256: str = ""
    look: str = dataclasses.field(default="", compare=False)
    placed: bool = False
    taken: str = ""
    named: bool = False
    from_photo: tuple[str, ...] = ()
    row: int = dataclasses.field(default=0, compare=False)
    area_said: str = dataclasses.field(default="", compare=False)

    def __post_init__(self) -> None:
        if self.plants_per_m2 is None and self.shoots_per_m2 is None:
            raise InputError(f"spot {self.spot!r} has neither plants nor shoots; count one of them")
        if self.source not in ("photo", "hand"):
            raise InputError(
                f"spot {self.spot!r}: source {self.source!r} isn't known; it is photo or hand"
            )
        for name, value in (
            ("plants_per_m2", self.plants_per_m2),
            ("shoots_per_m2", self.shoots_per_m2),
            ("plants_se", self.plants_se),
            ("shoots_se", self.shoots_se),
            ("plants_bias_rel", self.plants_bias_rel),
            ("shoots_bias_rel", self.shoots_bias_rel),
            ("other_cover", self.other_cover),
            ("other_per_m2", self.other_per_m2),
        ):
            if value is not None and not 0 <= value < math.inf:  # nor NaN, which is in no order
                raise InputError(
                    f"spot {self.spot!r}: {name} is {value!r}; it must be a number, 0 or more"
                )
        if not (math.isfinite(self.area_m2) and self.area_m2 > 0):
            raise InputError(f"spot {self.spot!r}: area_m2 is {self.area_m2!r}; it must be above 0")

    def by(self, what: str) -> Literal["photo", "hand"]:
        """How "plants" or "shoots" were counted."""
        return "photo" if what in self.from_photo else self.source

    @property
    def ways(self) -> dict[str, Literal["photo", "hand"]]:
        """How each of its two counts came about, of those that it has."""
        both = {"plants": self.plants_per_m2, "shoots": self.shoots_per_m2}
        return {what: self.by(what) for what, value in both.items() if value is not None}

    @property
    def way(self) -> str:
        """How it was counted, for a table: of each count where the two differ."""
        ways = self.ways
        if len(set(ways.values())) < 2:
            return next(iter(ways.values()))
        return ", ".join(f"{what} {way}" for what, way in ways.items())

    @property
    def of_photo(self) -> bool:
        """Whether it was counted in a photo's frame: by the model, or by who corrected that."""
        return self.source == "photo" or bool(self.photo)

    @cached_property
    def key(self) -> str:
        """The spot's name as it is compared: ``4``, ``04`` and ``spot_04`` are one place."""
        return spot_key(self.spot) if self.spot.strip() else ""


@dataclass(frozen=True)
class PairedDifference:
    """Photo minus hand at a spot that has both, per m²; None where one of the two is missing."""

    spot: str
    plants_per_m2: float | None
    shoots_per_m2: float | None
