"""How far apart drill rows are seen, over the photos of a field: the size of the frame held against
something that every grower knows.

Rows are found at the scale that the typed size gives, so a size a quarter too large sets them a
quarter too far apart. Nothing in a photo says how far apart they are sown; drills in use differ by
about as much (6, 7.5, 9, 10 in), so the user is told what is seen, or says what is true.

Measured on 20 rendered photos of known spacing (8 of this project's, 12 of another renderer's): one
photo is off by -12 to +1 %, the median of two by more than a tenth in 1 of 190 pairs, that of three
never; with sizes a quarter too large or too small it was off by more in all. So rows tell that a
size is wrong, and roughly by how much, not by how many percent. Of 73 counted photos of version 12
(hoops, squares and rectangles of their true size, outlines found by the program) 40 showed rows,
each at 93 to 104 % of the true distance: where the drill's spacing is known one photo tells a size
that is half again too large. Where it isn't, nothing tells: such rows (11.2 in for 7.5) are other
drills', and leaves, at 2.0 to 10.3 mm there, would pass for wheat's in 51 of the 73.

Beside a stick the spacing was typed, and the photo shows it all the same where three rows and more
are in view. Of 132 rendered sticks (versions 8 and 9, most of them of calibration) 78 were accepted
at their true spacing and 41 told it, 40 to a tenth and all to 15 %; the medians of 3 of their 820
pairs were called wrong, of their triples none. Typed a sixth or a quarter too large, or a seventh
too small, 35 to 54 were accepted, 12 to 31 told, and 79 to 87 % of pairs of these were called
wrong. Photos of one field err more alike than these.
"""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from tillercount.area import RowArea, parse_area
from tillercount.drillrows import MOST_DRILLS_MM, USUAL_ROWS_MM
from tillercount.twoforms import BY_SIZE, DRILL_ROWS, SIZE_MAY_BE, as_sentence
from tillercount.units import MM_PER_IN

__all__ = [
    "FEWEST", "HIDDEN", "STICK_WORDS", "RowsSeen", "agree", "of_spacings", "of_stick", "rows_seen",
    "seen_mm", "spacing_text", "stick_flags",
]  # fmt: skip

FEWEST = 2
STICK_WORDS = "that row spacing or the stick's length may be wrong"
"""Ends a flag of photos with a stick, and tells it from that of a frame's."""
OFF = 0.1
"""See above: what two photos are hardly ever off by."""
_ALIKE = 0.15
"""Photos of one field whose spacings differ by more don't agree: what one photo may be off by."""
_FAR = 0.3
"""By so much no photo of known size was off, of 60: one that is shows a wrong size by itself."""
_READS = (0.93, 1.04)
"""What photos of known size showed of the true distance, see above."""
_EXAMPLE_MM = 7.5 * MM_PER_IN
"""A drill's rows as very many stand (common practice), to say what a wrong size would mean."""
HIDDEN = 0.12
"""So near to twice the drill's, by that error too, every second row may be hidden."""
_PARTS = ((1 / 5, "a fifth"), (1 / 4, "a quarter"), (1 / 3, "a third"), (1 / 2, "half"))


@dataclass(frozen=True)
class RowsSeen:
    """Median distance between rows, in how many photos they show, and the ends of what these show.
    """

    spacing_mm: float
    photos: int
    least_mm: float
    most_mm: float

    @property
    def alike(self) -> bool:
        """Whether the photos agree among themselves."""
        return agree((self.least_mm, self.most_mm))

    def beside(self, stated_mm: float) -> Literal["few", "unlike", "agrees", "hidden", "wrong"]:
        """What the photos say of the drill's spacing.

        "few" or "unlike" photos can't tell; where every second row may be "hidden" nothing is sure;
        "wrong" is the size of the frame. One photo tells only what is far off.
        """
        off = self.spacing_mm / stated_mm
        if self.photos < FEWEST and 1 / (1 + _FAR) <= off <= 1 + _FAR:
            return "few"
        if not self.alike:
            return "unlike"
        if abs(off - 1) <= OFF:
            return "agrees"
        return "hidden" if abs(off / 2 - 1) <= HIDDEN else "wrong"

    def line(self) -> str:
        """What to say of it where nobody said what is true; nothing where it isn't clear."""
        if not self.alike:
            return ""
        shown = f"Rows stand {spacing_text(self.spacing_mm)} apart in {self._in_photos}"
        if self.photos < FEWEST:
            return (
                f"{shown}. If your drill's spacing is more than a quarter off that, the size in "
                "--area is probably wrong (--row-spacing compares them)."
            )
        if odd := self.odd():
            return as_sentence(odd)
        return (
            f"{shown}. If your "
            f"drill's spacing is more than a tenth off that, {SIZE_MAY_BE.screen} wrong "
            "(--row-spacing compares them)."
        )

    def odd(self) -> str:
        """What to say where hardly any drill has such rows, as half a sentence; else nothing.

        A few drills have rows so wide, so it says what follows if the user's hasn't.
        """
        least, most = (mm * read for mm, read in zip(MOST_DRILLS_MM, _READS, strict=True))
        if self.photos < FEWEST or not self.alike or least <= self.spacing_mm <= most:
            return ""
        lies = USUAL_ROWS_MM[0] <= self.spacing_mm <= USUAL_ROWS_MM[1]
        way = f"{'perhaps' if lies else 'probably'} too {'large' if self._wide else 'small'}"
        inches = " to ".join(f"{mm / MM_PER_IN:g}" for mm in MOST_DRILLS_MM)
        cm = " to ".join(f"{mm / 10:.0f}" for mm in MOST_DRILLS_MM)
        times = (self.spacing_mm / _EXAMPLE_MM) ** 2
        return (
            f"rows stand {spacing_text(self.spacing_mm)} apart in {self._in_photos} "
            f"{BY_SIZE.screen} most drills have {inches} in ({cm} cm; common practice), so that "
            f"size is {way}: if yours has {spacing_text(_EXAMPLE_MM)}, it is wrong and there are "
            f"about {times:.1f} times as many plants; measure the frame's inside and "
            f"{DRILL_ROWS.screen}"
        )

    @property
    def _wide(self) -> bool:
        return self.spacing_mm > MOST_DRILLS_MM[1]

    def against(self, stated_mm: float, typed: str) -> str:
        """What to say of it beside the drill's spacing, ``typed`` so."""
        found = self.beside(stated_mm)
        shown = spacing_text(self.spacing_mm, typed)
        if found == "few" and abs(self.spacing_mm / stated_mm - 1) > _ALIKE:
            return (
                f"Only 1 photo shows rows: {shown} apart, which doesn't agree with the drill's "
                f"{typed}. One photo proves nothing, but {SIZE_MAY_BE.screen} wrong, "
                "and densities with it by its square: measure the frame's inside and check the "
                "unit, or take another photo that shows the rows."
            )
        if found == "few":
            return (
                f"Only 1 photo shows rows ({shown} apart), so the drill's {typed} can't be checked."
            )
        if found == "unlike":
            ends = (spacing_text(end, typed) for end in (self.least_mm, self.most_mm))
            return (
                f"Rows stand {' to '.join(ends)} apart in {self.photos} photos, which differ too "
                f"much to check the drill's {typed}."
            )
        seen = f"Rows stand {shown} apart in {self._in_photos}"
        if found == "agrees":
            return f"{seen}, which agrees with the drill's {typed}."
        if found == "hidden":
            return (
                f"{seen}, about twice the drill's {typed}: every second row may be "
                f"hidden or missing there, or {SIZE_MAY_BE.screen} wrong; look at the photos."
            )
        return (
            f"{seen}, and the drill's are {typed}: {SIZE_MAY_BE.screen} "
            f"{_much(self.spacing_mm / stated_mm)}, and densities are wrong by its square; measure "
            "the frame's inside and check the unit."
        )

    @property
    def _in_photos(self) -> str:
        return "the 1 photo that shows them" if self.photos == 1 else f"{self.photos} photos"

    def flag(self, stated_mm: float, typed: str) -> str:
        """What a photo's flag says where the size of the frame is wrong by it; else nothing."""
        if self.beside(stated_mm) != "wrong":
            return ""
        return (
            f"rows stand {spacing_text(self.spacing_mm, typed)} apart, and the drill's are "
            f"{typed}: {SIZE_MAY_BE.screen} wrong"
        )


def rows_seen(records: Iterable[Mapping[str, Any]]) -> RowsSeen | None:
    """From entries of a counts file; None where no photo tells."""
    return of_spacings([mm for record in records if (mm := seen_mm(record)) is not None])


def of_spacings(found_mm: Sequence[float]) -> RowsSeen | None:
    """From what single photos show; None where there are none."""
    if not found_mm:
        return None
    return RowsSeen(statistics.median(found_mm), len(found_mm), min(found_mm), max(found_mm))


def seen_mm(record: Mapping[str, Any]) -> float | None:
    """Row spacing that a photo shows, mm, by its entry of a counts file; None where it shows none.

    Photos that were refused show none. Where a stick was marked the spacing of ``rows`` was typed,
    and the one that was seen stands in ``stick_rows`` (`tillercount.frame.beside`).
    """
    rows = record.get("stick_rows" if of_stick(record) else "rows")
    value = rows.get("spacing_mm") if isinstance(rows, Mapping) else None
    if record.get("status", "counted") != "counted":
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if math.isfinite(value) and value > 0 else None


def of_stick(record: Mapping[str, Any]) -> bool:
    """Whether a stick was marked in a photo, by its entry of a counts file."""
    area = record.get("area")
    return isinstance(area, Mapping) and area.get("kind") == "row"


def stick_flags(records: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    """What photos' flags say where rows beside sticks stand otherwise than was typed.

    By the area's text (``row:487.68mm/190.5mm``); nothing for areas that agree, or where too few
    photos tell. A single photo that contradicts clearly is refused when its stick is looked for.
    """
    found: dict[str, list[Mapping[str, Any]]] = {}
    for record in records:
        if of_stick(record) and seen_mm(record) is not None:
            found.setdefault(str(record["area"]["text"]), []).append(record)
    said = {}
    for text, some in found.items():
        area, seen = parse_area(text), rows_seen(some)
        if not isinstance(area, RowArea) or seen is None:
            continue
        if seen.photos >= FEWEST and seen.beside(area.spacing_mm) == "wrong":
            typed = str(some[0]["area"].get("typed") or text).rpartition("/")[2]
            said[text] = (
                f"rows stand {spacing_text(seen.spacing_mm, typed)} apart in {seen.photos} photos, "
                f"and the drill's were given as {typed}: {STICK_WORDS}"
            )
    return said


def agree(spacings_mm: Iterable[float]) -> bool:
    """Whether photos of one field show the same spacing, as near as a photo can tell."""
    values = list(spacings_mm)
    return max(values) <= (1 + _ALIKE) * min(values)


def spacing_text(mm: float, typed: str = "") -> str:
    """A row spacing as screens show it: in inches and centimetres, or as the user ``typed`` his."""
    cm = f"{round(mm / 5) / 2:g} cm"
    if found := re.search(r"\d\s*(mm|cm|m)\b", typed):
        return f"{5 * round(mm / 5)} mm" if found[1] == "mm" else cm
    return f"{mm / MM_PER_IN:.1f} in" if typed else f"{mm / MM_PER_IN:.1f} in ({cm})"


def _much(off: float) -> str:
    """How far a size is off, in words no finer than rows can tell."""
    way = "too large" if off > 1 else "too small"
    if off > 1.75 or off < 1 / 1.75:
        times = off if off > 1 else 1 / off
        return f"about {times:.1f} times {way}"
    part = min(_PARTS, key=lambda one: abs(one[0] - abs(off - 1)))[1]
    return f"about {part} {way}" if abs(off - 1) > 0.16 else f"somewhat {way}"
