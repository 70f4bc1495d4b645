"""Counting many photos: the loop behind ``count`` and behind ``assess`` with photos."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tillercount.cli.guard import debugging, inside_error, say
from tillercount.cli.partial import PartialCounts, partial_path
from tillercount.cli.pictures import PictureWriter, picture_writers
from tillercount.cli.progress import Progress
from tillercount.errors import InputError
from tillercount.fingerprint import file_sha256

if TYPE_CHECKING:
    from tillercount.area import Area
    from tillercount.model import Counter
    from tillercount.photo import Glance

__all__ = [
    "CountRun", "count_photos", "counts_file", "model_record", "parse_corners", "with_row_flags",
]

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
    model: Counter | str | None = None,
    keep_beside: Path | None = None,
    overlay: Path | None = None,
    classmap: Path | None = None,
    long_gap_mm: float | None = None,
    seen: Mapping[Path, Glance] | None = None,
) -> CountRun:
    """Count one photo after another, with progress on a terminal.

    Parameters
    ----------
    photos, area, corners, model
        As in `tillercount.count_photo`.
    keep_beside : Path, optional
        The file that the counts are meant for. Beside it they are kept as they come; a run that
        was interrupted takes them up again. The caller removes them with `forget_partial` once
        the file is written.
    overlay, classmap : Path, optional
        Folders for one picture per photo.
    long_gap_mm : float, optional
        As in `count_photo_full`.
    seen : mapping of photo to `Glance`, optional
        Photos that were looked at before; their fingerprints needn't be taken again.

    Raises
    ------
    InputError
        The model or the corners can't be used, or a picture would be written over a photo.
    KeyboardInterrupt
        After saying what is done and how to go on.
    """
    import tillercount
    from tillercount.allocation import keep_freed_memory
    from tillercount.model import Counter

    writers = picture_writers(photos, overlay, classmap)
    keep_freed_memory()
    counter = Counter.load(model) if model is None or isinstance(model, str) else model
    info = model_record(counter.info)
    partial = None
    if keep_beside is not None:
        made_with = {
            "model": info.get("sha256"),
            "area": area.text,
            "corners": [list(corner) for corner in corners] if corners else None,
            "version": tillercount.__version__,
            **({} if long_gap_mm is None else {"long_gap_mm": long_gap_mm}),
        }
        partial = PartialCounts(partial_path(keep_beside), made_with)
        _say_what_lay_there(partial)
    records: list[dict[str, Any]] = []
    reused = 0
    try:
        with Progress(len(photos)) as advance:
            for photo in photos:
                sha256 = _fingerprint(photo, seen) if partial is not None else ""
                record = partial.get(photo, sha256) if partial is not None and sha256 else None
                if record is not None and all(one.shows(photo, record) for one in writers):
                    reused += 1
                else:
                    record, sure = _count_one(
                        photo, area, corners, counter, writers, long_gap_mm
                    )
                    if partial is not None and sha256 and sure:
                        partial.add(photo, sha256, record)
                records.append(record)
                advance()
    except KeyboardInterrupt:
        _say_how_to_go_on(len(records), len(photos), partial)
        raise
    finally:
        if partial is not None:
            partial.close()
    if reused:
        say(f"{reused} of {len(photos)} counts taken over from the run before")
    return CountRun(tuple(records), info, reused)


def _fingerprint(photo: Path, seen: Mapping[Path, Glance] | None) -> str:
    return seen[photo].sha256 if seen is not None and photo in seen else file_sha256(photo)


def _say_what_lay_there(partial: PartialCounts) -> None:
    """Counts of another interrupted run, moved out of the way; or its own, found again."""
    if (aside := partial.moved) is not None:
        counts = "1 count" if aside.counts == 1 else f"{aside.counts} counts"
        if aside.counts:
            say(
                f"{partial.path} held {counts} of an interrupted run with --area {aside.area}, "
                f"made with another area, model or version; counting anew. Kept in {aside.path}: "
                "the command of that run takes up what is there"
            )
        else:
            say(f"{partial.path} held something else, which is now {aside.path}")
    if partial.found_again is not None:
        say(f"{partial.found_again} was made like this; going on with its counts")


def _say_how_to_go_on(done: int, total: int, partial: PartialCounts | None) -> None:
    if partial is None:
        say(f"{done} of {total} photos were counted; with --json F they would have been kept")
    else:
        say(
            f"{done} of {total} photos are counted and kept in {partial.path}; "
            "give the same command again to go on"
        )


def _count_one(
    photo: Path,
    area: Area,
    corners: Sequence[Sequence[float]] | None,
    counter: Counter,
    writers: Sequence[PictureWriter],
    long_gap_mm: float | None = None,
) -> tuple[dict[str, Any], bool]:
    """One record, and whether it is worth keeping (an error inside may not come again)."""
    from tillercount.count import count_photo_full

    try:
        more = {} if long_gap_mm is None else {"long_gap_mm": long_gap_mm}
        counted = count_photo_full(photo, area, corners=corners, model=counter, **more)
    except InputError:
        raise
    except Exception as error:
        # One odd photo must not cost the others of a morning.
        if debugging():
            raise
        say(f"{photo}: {inside_error(error)}")
        for writer in writers:
            writer.drop(photo)
        return _broken_record(photo, area, error), False
    record = counted.spot.to_json()
    for writer in writers:
        writer.write(photo, counted, record)
    return record, True


def _broken_record(photo: Path, area: Area, error: Exception) -> dict[str, Any]:
    from tillercount.count import SpotCount

    return SpotCount(
        photo,
        "refused",
        area,
        reason=inside_error(error),
        todo="count this spot by hand",
    ).to_json()


def with_row_flags(run: CountRun, row_spacing: str | None = None) -> CountRun:
    """The run with a flag on every photo where its rows contradict the drill's, as typed.

    Framed photos are held against ``row_spacing``, photos with a stick against the row spacing in
    their area. The flag goes into the counts file, so that whoever assesses it is told of the size
    as well; and so does ``row_spacing``, so that nobody is asked for it again.
    """
    from tillercount.field.rowspacing import of_stick, rows_seen, stick_flags
    from tillercount.units import length_mm

    sticks, framed = stick_flags(run.records), ""
    if row_spacing is not None:
        seen = rows_seen(record for record in run.records if not of_stick(record))
        drill_mm = length_mm(row_spacing, what="--row-spacing")
        framed = seen.flag(drill_mm, row_spacing) if seen is not None else ""

    def flagged(record: dict[str, Any]) -> dict[str, Any]:
        stick = of_stick(record)
        if row_spacing is not None and not stick and record["status"] == "counted":
            record = {**record, "drill_rows": row_spacing}
        text = sticks.get(record["area"]["text"], "") if stick else framed
        if record["status"] != "counted" or not text or text in record["flags"]:
            return record
        codes = record.get("flag_codes", record["flags"])
        return {
            **record,
            "flags": [*record["flags"], text],
            "flag_codes": [*codes, "row spacing"],
        }

    return dataclasses.replace(run, records=tuple(flagged(record) for record in run.records))
