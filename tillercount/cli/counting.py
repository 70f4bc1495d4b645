"""Counting many photos: the loop behind ``count`` and behind ``assess`` with photos."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tillercount.cli.files import picture_names, write_bytes
from tillercount.cli.guard import debugging, inside_error, say
from tillercount.cli.partial import PartialCounts, file_sha256, partial_path
from tillercount.errors import InputError

if TYPE_CHECKING:
    from tillercount.area import Area
    from tillercount.count import Counted
    from tillercount.model import Counter

__all__ = ["CountRun", "count_photos", "counts_file", "model_record", "parse_corners"]

SCHEMA = "tillercount.counts/1"


@dataclasses.dataclass(frozen=True)
class CountRun:
    """What came of a list of photos: one record each, as in a counts file."""

    records: tuple[dict[str, Any], ...]
    model: dict[str, Any]
    reused: int = 0

    @property
    def refused(self) -> int:
        """How many photos were refused."""
        return sum(record["status"] == "refused" for record in self.records)


def parse_corners(text: str | None) -> list[tuple[float, float]] | None:
    """Corners given by hand: ``"x,y x,y x,y x,y"`` in pixels of the upright photo.

    Raises
    ------
    InputError
        Not pairs of numbers.
    """
    if text is None:
        return None
    corners = []
    for pair in text.split():
        try:
            x, y = (float(number) for number in pair.split(","))
        except ValueError:
            raise InputError(
                f"corner {pair!r} isn't x,y; write pixels of the upright photo like "
                '--corners "412,141 258,960 1068,1121 1239,308"'
            ) from None
        corners.append((x, y))
    if not corners:
        raise InputError('corners are empty; write them like "412,141 258,960 1068,1121 1239,308"')
    return corners


def model_record(info: Any) -> dict[str, Any]:
    """What identifies a model, as plain values: name and sha256 at least."""
    if dataclasses.is_dataclass(info) and not isinstance(info, type):
        info = dataclasses.asdict(info)
    plain = {k: v for k, v in dict(info).items() if isinstance(v, str | int | float | type(None))}
    first = {key: plain.pop(key, None) for key in ("name", "sha256")}
    return first | plain


def counts_file(run: CountRun) -> dict[str, Any]:
    """The whole of a counts file."""
    import tillercount
    from tillercount.count import INTERVAL_LEVEL

    return {
        "schema": SCHEMA,
        "model": run.model,
        "interval_level": INTERVAL_LEVEL,
        "version": tillercount.__version__,
        "spots": list(run.records),
    }


def count_photos(
    photos: Sequence[Path],
    area: Area,
    *,
    corners: Sequence[Sequence[float]] | None = None,
    model: str | None = None,
    keep_beside: Path | None = None,
    overlay: Path | None = None,
    classmap: Path | None = None,
) -> CountRun:
    """Count one photo after another, with progress on a terminal.

    Parameters
    ----------
    photos, area, corners, model
        As in `tillercount.count_photo`.
    keep_beside : Path, optional
        The file that the counts are meant for. Beside it they are kept as they come; a run that
        was interrupted takes them up again. The caller removes them with `forget` once the file
        is written.
    overlay, classmap : Path, optional
        Folders for one picture per photo.

    Raises
    ------
    InputError
        The model or the corners can't be used, or a picture would be written over a photo.
    KeyboardInterrupt
        After saying what is done and how to go on.
    """
    import tillercount
    from tillercount.model import Counter

    writers = _picture_writers(photos, overlay, classmap)
    counter = Counter.load(model)
    info = model_record(counter.info)
    partial = None
    if keep_beside is not None:
        made_with = {
            "model": info.get("sha256"),
            "area": area.text,
            "corners": [list(corner) for corner in corners] if corners else None,
            "version": tillercount.__version__,
        }
        partial = PartialCounts(partial_path(keep_beside), made_with)
        if partial.left_behind:
            say(f"{partial.path} was made with another area, model or version; counting anew")
    records: list[dict[str, Any]] = []
    reused = 0
    try:
        with _Progress(len(photos)) as advance:
            for photo in photos:
                sha256 = file_sha256(photo) if partial is not None else ""
                record = partial.get(photo, sha256) if partial is not None and sha256 else None
                if record is not None and all(writer.target(photo).exists() for writer in writers):
                    reused += 1
                else:
                    record, sure = _count_one(photo, area, corners, counter, writers)
                    if partial is not None and sha256 and sure:
                        partial.add(photo, sha256, record)
                records.append(record)
                advance()
    except KeyboardInterrupt:
        _say_how_to_go_on(len(records), len(photos), partial)
        raise
    finally:
        if partial is not None:
            partial.close(done=False)
    if reused:
        say(f"{reused} of {len(photos)} counts taken over from the run before")
    return CountRun(tuple(records), info, reused)


def _say_how_to_go_on(done: int, total: int, partial: PartialCounts | None) -> None:
    if partial is None:
        say(f"{done} of {total} photos were counted; with --json F they would have been kept")
    else:
        say(
            f"{done} of {total} photos are counted and kept in {partial.path}; "
            "give the same command again to go on"
        )


@dataclasses.dataclass(frozen=True)
class _PictureWriter:
    """Writes one kind of picture, one per photo, into a folder."""

    folder: Path
    names: Mapping[Path, str]
    draw: Callable[[Counted], Any]

    def target(self, photo: Path) -> Path:
        return self.folder / self.names[photo]

    def write(self, photo: Path, counted: Counted) -> None:
        if counted.photo is None:
            return  # the file could not be read: there is nothing to draw on
        import io

        from PIL import Image

        buffer = io.BytesIO()
        Image.fromarray(self.draw(counted)).save(buffer, "PNG", compress_level=4)
        write_bytes(self.target(photo), buffer.getvalue())


def _picture_writers(
    photos: Sequence[Path], overlay: Path | None, classmap: Path | None
) -> list[_PictureWriter]:
    writers = []
    sources = {photo.resolve() for photo in photos}
    if overlay is not None and classmap is not None and overlay.resolve() == classmap.resolve():
        raise InputError(f"{overlay}: overlays and class maps need a folder each")
    for folder, draw in ((overlay, _draw_overlay), (classmap, _draw_classmap)):
        if folder is None:
            continue
        if folder.exists() and not folder.is_dir():
            raise InputError(f"{folder} is a file; name a folder for the pictures")
        writer = _PictureWriter(folder, picture_names(photos, ".png"), draw)
        for photo in photos:
            if writer.target(photo).resolve() in sources:
                raise InputError(
                    f"{writer.target(photo)} is one of the photos and would be written over; "
                    "name another folder for the pictures"
                )
        folder.mkdir(parents=True, exist_ok=True)
        writers.append(writer)
    return writers


def _draw_overlay(counted: Counted) -> Any:
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


def _draw_classmap(counted: Counted) -> Any:
    from tillercount.count import classmap_on_photo

    return classmap_on_photo(counted)


def _count_one(
    photo: Path,
    area: Area,
    corners: Sequence[Sequence[float]] | None,
    counter: Counter,
    writers: Sequence[_PictureWriter],
) -> tuple[dict[str, Any], bool]:
    """One record, and whether it is worth keeping (an error inside may not come again)."""
    from tillercount.count import count_photo_full

    try:
        counted = count_photo_full(photo, area, corners=corners, model=counter)
    except InputError:
        raise
    except Exception as error:
        # One odd photo must not cost the others of a morning.
        if debugging():
            raise
        say(f"{photo}: {inside_error(error)}")
        return _broken_record(photo, area, error), False
    for writer in writers:
        writer.write(photo, counted)
    return counted.spot.to_json(), True


def _broken_record(photo: Path, area: Area, error: Exception) -> dict[str, Any]:
    from tillercount.count import SpotCount

    return SpotCount(
        photo,
        "refused",
        area,
        reason=inside_error(error),
        todo="count this spot by hand",
    ).to_json()


class _Progress:
    """A bar on the error stream; silent where that isn't a terminal."""

    def __init__(self, total: int) -> None:
        import sys

        self._bar: Any = None
        if total > 1 and sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import (
                BarColumn,
                MofNCompleteColumn,
                Progress,
                TextColumn,
                TimeRemainingColumn,
            )

            self._bar = Progress(
                TextColumn("counting"),
                BarColumn(),
                MofNCompleteColumn(),
                TimeRemainingColumn(),
                console=Console(stderr=True),
                transient=True,
            )
            self._task = self._bar.add_task("counting", total=total)

    def __enter__(self) -> Callable[[], None]:
        if self._bar is not None:
            self._bar.start()
        return self._advance

    def __exit__(self, *exc: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def _advance(self) -> None:
        if self._bar is not None:
            self._bar.advance(self._task)
