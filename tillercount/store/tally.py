"""What became of counts that were put into a season, and what is said of them: commands in what is
said can be typed as they stand."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tillercount.field import SpotDensity
from tillercount.names import first_few, in_command, key_of
from tillercount.store.added import MOST_NOTES
from tillercount.store.countsfile import Entry
from tillercount.store.visits import There

__all__ = [
    "MOST_TYPED", "Item", "Resized", "Tally", "in_visit", "left_there", "showing", "taking_out",
    "taking_plan_out", "under_other_names",
]  # fmt: skip

MOST_TYPED = 12
"""Photos named in a command that somebody is to type."""


@dataclass(frozen=True)
class Item:
    """An entry read and checked. ``density`` is None for a photo that was refused."""

    entry: Entry
    record: Mapping[str, Any]
    sha256: str
    digest: str
    lat: float | None
    lon: float | None
    density: SpotDensity | None

    @property
    def area(self) -> str:
        """The marked area in the words in which it was given."""
        return self.entry.area.typed or self.entry.area.text

    @property
    def name(self) -> str:
        """The photo's file name."""
        return self.entry.photo.replace("\\", "/").rsplit("/", 1)[-1]


@dataclass(frozen=True)
class Resized:
    """A photo, by name and number, whose count ``was`` with one marked area and is ``now`` given
    with another, both in the words in which they were given; ``area`` is the first as compared."""

    photo: str
    id: int
    was: str
    now: str
    area: str


@dataclass
class Tally:
    """What became of the counts put in so far; ``new`` holds the ``refused`` ones too.

    ``store`` is the season's place and ``file`` the counts file, "" where photos were counted just
    now: both for what is to be typed.
    ``renamed`` has of each photo that the season has by another name the name it came with, that
    one, and the field it is in. ``known_refused``, ``back`` (those that hold again) and ``put``
    (whose photos weren't in any visit) are some of the ``known``.
    """

    store: str
    file: str = ""
    new: int = 0
    refused: int = 0
    known: int = 0
    known_refused: int = 0
    back: int = 0
    put: int = 0
    elsewhere: dict[str, list[str]] = dataclasses.field(default_factory=dict)
    refusals: list[tuple[str, str]] = dataclasses.field(default_factory=list)
    stays: list[tuple[Item, str]] = dataclasses.field(default_factory=list)
    stay: int = 0
    resized: list[Resized] = dataclasses.field(default_factory=list)
    renamed: list[tuple[str, str, str]] = dataclasses.field(default_factory=list)
    _instead: dict[str, tuple[list[str], int]] = dataclasses.field(default_factory=dict)

    def refuse(self, item: Item) -> None:
        """One more photo that was refused."""
        self.refused += 1
        if len(self.refusals) < MOST_NOTES:
            self.refusals.append((item.name, item.entry.reason or "no reason given"))

    def stood(self, item: Item, label: str) -> None:
        """One more photo that is refused now, and whose count, of the area ``label``, holds all
        the same."""
        self.stay += 1
        if len(self.stays) < MOST_NOTES:
            self.stays.append((item, label))

    def instead(self, item: Item, label: str) -> None:
        """One more count that took the place of one that held until now."""
        names, number = self._instead.get(label, ([], 0))
        if number < MOST_NOTES:
            names.append(item.name)
        self._instead[label] = names, number + 1

    def left(self, name: str, field: str) -> None:
        """One more photo of another field, by its name there, whose count isn't touched."""
        self.elsewhere.setdefault(field, []).append(name)

    def here(self, item: Item, name: str, field: str) -> None:
        """One more photo that is in the season already, in that field and by that name."""
        if key_of(item.name) != key_of(name):
            self.renamed.append((item.name, name, field))

    def said_of_others(self) -> list[str]:
        """What to say of photos that have another name here, and of those that are in other fields,
        a line for each field."""
        return under_other_names(self.renamed) + [
            left_there(field, names, self.store, self.file)
            for field, names in self.elsewhere.items()
        ]

    def said_of_stays(self, field: str) -> list[str]:
        """What to say of counts that stay though the photo was refused this time.

        Either size may be the wrong one, and only a person with a tape can tell which.
        """
        lines = []
        for item, label in self.stays:
            now, reason = item.area, item.entry.reason or "no reason given"
            other = bool(now and label) and now != label
            lines.append(
                f"{item.name}: refused this time{f' with {now}' if other else ''} ({reason}), so "
                f"its count with {label} stays in the mean. "
                + (
                    f"If {now} was the wrong one, that is right; if {label} was, take that count "
                    f"out and add the photo again (until then season correct goes by {label} too): "
                    if other
                    else "To do without that count: "
                )
                + taking_out(field, [item.name], self.store)
            )
        more = self.stay - len(self.stays)
        return [*lines, f"and {more} more likewise"] if more else lines

    def replaced(self) -> list[str]:
        """What the counts took the place of, a line for each area."""
        lines = []
        for area, (names, number) in self._instead.items():
            what = f"those with {area}" if area else "earlier ones"
            lines.append(f"in place of {what}: {first_few(names, len(names), of=number)}")
        return lines


def under_other_names(renamed: Sequence[tuple[str, str, str]]) -> list[str]:
    """What to say of photos that the season has by other names, as `Tally.renamed` holds them."""
    pairs = [f"{given} is {name} of {field}" for given, name, field in renamed]
    if not pairs:
        return []
    if len(pairs) == 1:
        return [
            f"MIND: 1 photo is in the season by another name, byte for byte the same ({pairs[0]}), "
            "and stays as it is there; if another spot's photo was meant, give that one"
        ]
    return [
        f"MIND: {len(pairs)} photos are in the season by other names, byte for byte the same "
        f"({first_few(pairs)}), and stay as they are there; if other spots' photos were meant, "
        "give those"
    ]


def left_there(field: str, names: Sequence[str], store: str, file: str = "") -> str:
    """What to say of photos that are in another field, and how to bring them here.

    ``file`` is the counts file that they were added from, "" where the photos themselves were.
    """
    more = len(names) - MOST_TYPED
    rest = f" (and the other {more} likewise)" if more > 0 else ""
    return (
        f"in {field} already, and left as counted there: {first_few(names)}; what belongs here, "
        f"take out there first: {taking_out(field, names[:MOST_TYPED], store)}{rest}; "
        + (
            "for these counts to hold there, add the file there: tillercount season add "
            f"{in_command(store)} {in_command(file)} --field {in_command(field)}"
            if file
            else f"to count anew there, add the photos with --field {in_command(field)} --again"
        )
    )


def showing(store: str, farm: str, field: str, visit: str) -> str:
    """The command that lists all photos of a visit: where they are, and the refused with why."""
    return f"tillercount season show {in_command(store)} {in_visit(farm, field, visit)} --photos"


def in_visit(farm: str, field: str, visit: str) -> str:
    """The options that name a visit and no other of the season."""
    return f"--farm {in_command(farm)} --field {in_command(field)} --visit {in_command(visit)}"


def taking_out(field: str, names: Sequence[str], store: str, visit: str = "") -> str:
    """The command that takes photos out of a field, out of one visit to it where that is given."""
    at = f"--field {in_command(field)}" + (f" --visit {in_command(visit)}" if visit else "")
    photos = " ".join(f"--photo {in_command(name)}" for name in names)
    return f"tillercount season remove {in_command(store)} {at} {photos}"


def taking_plan_out(store: str, at: There) -> str:
    """The command that takes a visit's plan out."""
    return (
        f"tillercount season remove {in_command(store)} --plan --field {in_command(at.field)} "
        f"--visit {in_command(at.visit)}"
    )
