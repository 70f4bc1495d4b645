"""Pictures that go with counts: one overlay, one class map for each photo."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tillercount.cli.files import picture_names, write_bytes
from tillercount.errors import InputError
from tillercount.fingerprint import digest_of

if TYPE_CHECKING:
    from tillercount.count import Counted
    from tillercount.report.ownpictures import Kind

__all__ = ["PictureWriter", "overlay_of", "picture_writers"]


@dataclasses.dataclass(frozen=True)
class PictureWriter:
    """Writes one kind of picture, one per photo, into a folder."""

    folder: Path
    names: Mapping[Path, str]
    kind: Kind
    draw: Callable[[Counted], Any]

    def target(self, photo: Path) -> Path:
        """Where a photo's picture goes."""
        return self.folder / self.names[photo]

    def write(self, photo: Path, counted: Counted, record: Mapping[str, Any]) -> None:
        """Draw and write a photo's picture, marked as this program's own and of this count."""
        if counted.photo is None:
            self.drop(photo)  # the file could not be read: there is nothing to draw on
            return
        from tillercount.report.ownpictures import picture_bytes

        drawn = picture_bytes(self.draw(counted), self.kind, of=digest_of(record))
        write_bytes(self.target(photo), drawn)

    def drop(self, photo: Path) -> None:
        """Remove the picture of an earlier count, which a photo without a new one doesn't have.

        `picture_writers` has made sure that this program drew it.
        """
        self.target(photo).unlink(missing_ok=True)

    def shows(self, photo: Path, record: Mapping[str, Any]) -> bool:
        """Whether the picture that lies there is of this very count.

        One of the same name may be of an earlier count, of another photo or of another area.
        """
        from tillercount.report.ownpictures import drawn_of

        return drawn_of(self.target(photo)) == digest_of(record)


def picture_writers(
    photos: Sequence[Path], overlay: Path | None, classmap: Path | None
) -> list[PictureWriter]:
    """Writers for the folders named; makes the folders.

    Raises
    ------
    InputError
        One folder for both kinds, a file in place of a folder, or a picture that would be written
        over a photo or over anything else that this program didn't draw.
    """
    from tillercount.report.ownpictures import drawn_here

    kinds: tuple[tuple[Path | None, Kind, Callable[[Counted], Any]], ...] = (
        (overlay, "overlay", overlay_of),
        (classmap, "class map", _classmap_of),
    )
    writers = []
    sources = {photo.resolve() for photo in photos}
    if overlay is not None and classmap is not None and overlay.resolve() == classmap.resolve():
        raise InputError(f"{overlay}: overlays and class maps need a folder each")
    for folder, kind, draw in kinds:
        if folder is None:
            continue
        if folder.exists() and not folder.is_dir():
            raise InputError(f"{folder} is a file; name a folder for the pictures")
        writer = PictureWriter(folder, picture_names(photos, ".png"), kind, draw)
        for photo in photos:
            target = writer.target(photo)
            if target.resolve() in sources:
                raise InputError(
                    f"{target} is one of the photos and would be written over; "
                    "name another folder for the pictures"
                )
            if target.exists() and drawn_here(target) is None:
                raise InputError(
                    f"{target} is there already and wasn't drawn by this program; "
                    "name another folder for the pictures"
                )
        folder.mkdir(parents=True, exist_ok=True)
        writers.append(writer)
    return writers


def overlay_of(counted: Counted) -> Any:
    """The overlay of a count whose photo could be read."""
    from tillercount.count import INTERVAL_LEVEL
    from tillercount.report.overlay import draw_overlay

    assert counted.photo is not None
    return draw_overlay(
        counted.photo,
        counted.fit,
        counted.topview,
        counted.maps,
        counted.spot,
        level=INTERVAL_LEVEL,
    )


def _classmap_of(counted: Counted) -> Any:
    from tillercount.count import classmap_on_photo

    return classmap_on_photo(counted)
