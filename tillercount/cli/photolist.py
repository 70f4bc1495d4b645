"""Which of the files named are photos to count."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from tillercount.cli.guard import say
from tillercount.errors import InputError

__all__ = ["named", "photos_to_count", "without_own_pictures"]

_TABLES = (".csv", ".tsv", ".json")


def photos_to_count(paths: Sequence[Path]) -> list[Path]:
    """Photos named and those in folders named, without the pictures that the program drew.

    Raises
    ------
    InputError
        A path that doesn't exist, a folder without photos, a table or JSON file among the photos,
        or nothing left to count.
    """
    from tillercount.photofiles import list_photos

    found = list_photos(paths)
    for path in paths:
        if path.suffix.lower() in _TABLES and not path.is_dir():
            raise InputError(_no_photo(path))
    return without_own_pictures(found)


def without_own_pictures(photos: Sequence[Path]) -> list[Path]:
    """Photos without overlays and class maps; a note says which were left out.

    Raises
    ------
    InputError
        Nothing is left.
    """
    from tillercount.report.ownpictures import drawn_here

    own = {photo: kind for photo in photos if (kind := drawn_here(photo))}
    left = [photo for photo in photos if photo not in own]
    if own:
        kinds = " and ".join(
            f"{kind}s" for kind in ("overlay", "class map") if kind in own.values()
        )
        what = f"{named(list(own))}: drawn by this program ({kinds}), not photos"
        if not left:
            raise InputError(f"{what}; name the photos themselves")
        say(f"left out {what}")
    return left


def named(paths: Sequence[Path], most: int = 3) -> str:
    """The first few names of a list of files, and how many more there are."""
    from tillercount.names import first_few

    return first_few(paths, most)


def _no_photo(path: Path) -> str:
    if path.suffix.lower() != ".json" or b'"tillercount.' in path.read_bytes()[:1000]:
        return f"{path} holds counts and isn't a photo; use `tillercount assess {path}`"
    return f"{path} isn't a photo; to count the photos of a folder, name the folder itself"
