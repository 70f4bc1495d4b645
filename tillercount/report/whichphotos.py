"""Which of the files given is the photo that was counted: by its bytes, never by its name alone.

Phones and cameras call photos of two fields, or of two visits, alike. A photo beside another spot's
figures would be worse than none.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PureWindowsPath
from typing import TYPE_CHECKING

from tillercount.errors import InputError
from tillercount.fingerprint import file_sha256
from tillercount.names import first_few

if TYPE_CHECKING:
    from tillercount.field.spots import SpotDensity

__all__ = ["CountedPhotos", "Matched", "match_photos", "named"]

_ELSE = (
    "of that name, but with other bytes: another photo, or one saved again by an app or a chat"
)


@dataclass(frozen=True)
class CountedPhotos:
    """What counts files or a season keep of the photos counted.

    Attributes
    ----------
    areas : mapping
        What was marked on the ground, by the photo's fingerprint; by its file name (`named`) where
        no fingerprint was kept.
    prints : mapping
        Fingerprints by spot (`SpotDensity.key`) and file name, for spots that don't carry their
        own.
    """

    areas: Mapping[str, str] = field(default_factory=dict)
    prints: Mapping[tuple[str, str], frozenset[str]] = field(default_factory=dict)

    def prints_of(self, spot: SpotDensity) -> frozenset[str]:
        """Fingerprints of the photo behind a spot; none where none was kept."""
        if spot.sha256:
            return frozenset({spot.sha256})
        return self.prints.get((spot.key, named(spot.photo)), frozenset())

    def area_of(self, spot: SpotDensity, path: Path) -> str | None:
        """What was marked on the ground of a spot's photo, which lies at ``path``."""
        known = file_sha256(path) if self.prints_of(spot) else named(spot.photo)
        return self.areas.get(known)


@dataclass(frozen=True)
class Matched:
    """Spots with the file of their photo, and what to say of those without ("" if none are)."""

    pairs: tuple[tuple[SpotDensity, Path], ...]
    note: str


def named(photo: str) -> str:
    """A photo's file name, to find candidates by."""
    # A counts file may come from a machine with other slashes.
    return PureWindowsPath(photo).name.casefold()


def match_photos(
    counted: Sequence[SpotDensity], photos: Sequence[Path], known: CountedPhotos
) -> Matched:
    """The file of each counted photo among those given.

    Where a fingerprint was kept, the bytes alone decide: a copy under another name is used, another
    file of the same name isn't. Without one the name decides, where one file alone has it.

    Raises
    ------
    InputError
        None of the counted photos is among them.
    """
    print_of = functools.cache(file_sha256)
    by_name: dict[str, list[Path]] = {}
    for one in photos:
        by_name.setdefault(named(str(one)), []).append(one)
    pairs: list[tuple[SpotDensity, Path]] = []
    other: list[Path] = []
    several: list[str] = []
    missing: list[str] = []
    path: Path | None
    for spot in counted:
        prints, alike = known.prints_of(spot), by_name.get(named(spot.photo), [])
        if prints:
            path = next((at for at in (*alike, *photos) if print_of(at) in prints), None)
        else:
            path = alike[0] if len({print_of(at) for at in alike}) == 1 else None
        if path is not None:
            pairs.append((spot, path))
        elif prints and alike:
            other.append(alike[0])
        elif alike:
            several.append(f"{first_few(alike, between=' and ')} differ")
        else:
            missing.append(PureWindowsPath(spot.photo).name)
    if not pairs:
        raise InputError(_none(counted, photos, other, several))
    left = len(other) + len(several) + len(missing)
    if not left:
        return Matched(tuple(pairs), "")
    why = [
        *([_not_counted(other)] if other else []),
        *several,
        *([f"not among the files given: {first_few(missing)}"] if missing else []),
    ]
    return Matched(
        tuple(pairs),
        f"{left} of {len(counted)} counted photos can't be shown: {'; '.join(why)}; "
        "the pictures are of the others; to have all, give the folder that the counted files lie "
        "in as --photos",
    )


def _not_counted(files: Sequence[Path]) -> str:
    are = "isn't the file that was" if len(files) == 1 else "aren't the files that were"
    return f"{first_few(files)} {are} counted ({_ELSE})"


def _none(
    counted: Sequence[SpotDensity],
    photos: Sequence[Path],
    other: Sequence[Path],
    several: Sequence[str],
) -> str:
    """Why there is nothing to show, and what to do."""
    begin = f"none of the {len(counted)} counted photos"
    if other:
        return (
            f"{begin} is among the {len(photos)} given: {_not_counted(other)}; give the folder "
            "that the counted files lie in as --photos, or count these files and make the report "
            "from their counts"
        )
    if several:
        return (
            f"{begin} can be told by its name: {first_few(several)}, and the counts don't hold "
            "which file was counted; give the folder of this field alone as --photos"
        )
    return (
        f"{begin}, like {counted[0].photo}, is among the {len(photos)} given; give the folder that "
        "they lie in as --photos"
    )
