"""What adding something to a season did."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["MOST_NOTES", "Added", "Notes", "Placed"]

MOST_NOTES = 20
"""More notes of one kind than this are summed up, so that a large import needs no more memory."""


@dataclass(frozen=True)
class Placed:
    """A photo with the spot it belongs to; ``spot`` is "" where it has none.

    ``was`` is the spot that it was moved from, "" where it wasn't moved or had none. ``located``
    says whether the photo has a position of its own, where that was looked up. ``came`` and
    ``goes`` are the visits from and to which it was moved, "" where it stays in its visit.
    ``refused``: no count holds for it, a person's neither, where that was looked up.
    """

    photo: str
    spot: str
    how: str
    distance_m: float | None
    note: str
    was: str = ""
    located: bool = True
    came: str = ""
    goes: str = ""
    refused: bool = False


@dataclass(frozen=True)
class Added:
    """How many rows are new, and how many were known already.

    ``placed`` lists the first photos only (see `MOST_NOTES`), ``placed_more`` says how many others
    there are; the season knows all of them.
    ``made`` names the farm, field and visit that weren't there before.
    Of the new rows ``refused`` are of photos that couldn't be counted; ``refusals`` are the first
    of them with the reason. ``unkept`` are others that can't be told from their file any more.
    Of the known rows ``known_refused`` are such, ``back`` hold again, after another count did,
    and the photos of ``put`` weren't in any visit and now are in this one.
    ``date`` is the visit's, and by what it goes. ``away``: nothing
    of what was given is new there, and some or all of it lies in other visits. ``act`` is the
    journal's number of the adding. ``dated`` is the day it gave the visit, "" if
    none.
    """

    what: str
    new: int
    known: int = 0
    unplaced: int = 0
    visit: str = ""
    placed: Sequence[Placed] = ()
    notes: tuple[str, ...] = ()
    field: str = ""
    farm: str = ""
    made: tuple[str, ...] = ()
    placed_more: int = 0
    refused: int = 0
    refusals: tuple[tuple[str, str], ...] = ()
    unkept: int = 0
    known_refused: int = 0
    back: int = 0
    put: int = 0
    date: str = ""
    away: bool = False
    act: int = 0
    dated: str = ""

    @property
    def place(self) -> str:
        """Farm, field and visit."""
        return ", ".join(filter(None, (self.farm, self.field, self.visit)))

    @property
    def changed(self) -> bool:
        """Whether the season is another one than before."""
        return bool(self.new or self.back or self.placed or self.made)


@dataclass
class Notes:
    """Notes as they come, the surplus counted."""

    lines: list[str] = dataclasses.field(default_factory=list)
    more: int = 0

    def add(self, line: str) -> None:
        """One more."""
        if len(self.lines) < MOST_NOTES:
            self.lines.append(line)
        else:
            self.more += 1

    def done(self) -> tuple[str, ...]:
        """All of them."""
        rest = [f"and {self.more} more notes like these"] if self.more else []
        return (*self.lines, *rest)
