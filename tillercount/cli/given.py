"""What the commands that judge a field are given: photos, counts files and hand counts."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tillercount.area import Area
    from tillercount.plan.boundary import Field

__all__ = [
    "as_csv", "count_given", "field_name", "is_season", "middle_of", "need_area", "sorted_out",
]  # fmt: skip

MOST_PICTURES = 6
"""Overlays put into a page; more make it too heavy to send to a phone."""


def sorted_out(sources: Sequence[Path]) -> tuple[list[Path], list[Path]]:
    """Photos (from folders as well), and files of counts."""
    from tillercount.cli.photolist import without_own_pictures
    from tillercount.errors import InputError
    from tillercount.photofiles import SUFFIXES, list_photos

    pictures: list[Path] = []
    files: list[Path] = []
    for source in sources:
        if source.suffix.lower() in (".json", ".csv", ".tsv", ".txt") and not source.is_dir():
            if not source.exists():
                raise InputError(f"{source} doesn't exist; check the name and the folder")
            if source not in files:
                files.append(source)
        elif source.is_file() and source.suffix.lower() not in SUFFIXES:
            if is_season(source):
                raise InputError(
                    f"{source} is a season, and this command reads photos and counts files; judge "
                    f"a field of it with `tillercount season assess {source}`, and get its "
                    f"nitrogen plan with `tillercount report {source} --field NAME --html F`"
                )
            raise InputError(
                f"{source} is neither a photo, nor a counts file (.json), nor a CSV of hand "
                f"counts; {as_csv(source) or 'give one of these, or a folder of photos'}"
            )
        else:
            pictures.append(source)
    return (without_own_pictures(list_photos(pictures)) if pictures else []), files


def as_csv(source: Path) -> str:
    """What to do with a spreadsheet's own file; "" for any other."""
    sheet = source.suffix.lower() in (".xlsx", ".xls", ".xlsm", ".ods", ".numbers")
    return "open it, save the sheet of hand counts as CSV, and give that" if sheet else ""


def is_season(file: Path) -> bool:
    """Whether a path is a file that holds a season, whatever its name ends with."""
    from tillercount.store.engine import is_other_file

    return file.is_file() and file.stat().st_size > 0 and not is_other_file(file)


def need_area(photos: Sequence[Path], area: Area | None) -> None:
    """Photos can only be counted in a stated area.

    Raises
    ------
    InputError
        Photos without one.
    """
    from tillercount.errors import InputError

    if photos and area is None:
        raise InputError(
            f"{len(photos)} of the sources are photos, so --area is needed, such as "
            "--area square:12in"
        )


def field_name(sources: Sequence[Path]) -> str:
    """The one folder's or file's name; several have none in common."""
    if len(sources) != 1:
        return ""
    return sources[0].resolve().name if sources[0].is_dir() else sources[0].stem


def read_outline(
    boundary: str | Path, name: str | None, before: Sequence[str] = ()
) -> Field:
    """A field's outline; a doubt about where it lies is told before anything is made of it, and so
    is a name that the field had ``before`` where the file still has it.

    Raises
    ------
    InputError
        See `tillercount.plan.read_field`.
    """
    from tillercount.cli.guard import say
    from tillercount.names import key_of
    from tillercount.plan import read_field

    outline = read_field(boundary, name, before)
    if name is not None and key_of(outline.name) != key_of(name):
        say(
            f"{boundary} has {outline.name!r}, as the field was called before it became {name!r}: "
            "taken as its outline"
        )
    if outline.doubt:
        say(f"MIND: {outline.doubt}")
    return outline


def middle_of(outline: Field) -> tuple[float, float]:
    """The middle of a field's outline, (lat, lon)."""
    import numpy as np

    middle = outline.shape.centroid
    lon, lat = outline.ground.to_degrees(np.array([[middle.x, middle.y]]))[0]
    return float(lat), float(lon)


def count_given(
    photos: Sequence[Path], area: Area, pictures: Path | None, target: Path | None
) -> tuple[dict[str, Any], list[tuple[Path, str]], int]:
    """Counts of the photos as in a counts file, their overlays, and how many were refused."""
    from tillercount.cli.counting import count_photos, counts_file, with_row_flags
    from tillercount.cli.files import picture_names

    run = with_row_flags(count_photos(photos, area, keep_beside=target, overlay=pictures))
    overlays: list[tuple[Path, str]] = []
    if pictures is not None:
        names = picture_names(photos, ".png")
        for photo, record in zip(photos, run.records, strict=True):
            picture = pictures / names[photo]
            if record["status"] == "counted" and picture.exists():
                overlays.append((picture, photo.name))
    return counts_file(run), overlays[:MOST_PICTURES], run.refused
