"""Counts of every origin as one list of spots: photos, counts files, hand counts."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from tillercount.errors import InputError
from tillercount.field.finite import refuse_non_finite
from tillercount.field.photorecords import photo_spot
from tillercount.field.spots import SpotDensity
from tillercount.field.twofiles import HandFiles
from tillercount.field.twosizes import PhotoSizes
from tillercount.hand import HandCount, as_stems
from tillercount.handfile import read_with_note
from tillercount.handlimits import hand_flags
from tillercount.names import spot_name

__all__ = ["Collected", "collect"]

SCHEMA = "tillercount.counts/1"


@dataclass(frozen=True)
class Collected:
    """Spots to assess, with what is known of the model, which photos were refused, and notes of
    what was passed over in files of hand counts."""

    spots: tuple[SpotDensity, ...]
    model: Mapping[str, Any] = field(default_factory=dict)
    refused: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()


def collect(
    counts: Any, *, model: Mapping[str, Any] | None = None, field: str | None = None
) -> Collected:
    """One list of spots from whatever holds counts.

    Parameters
    ----------
    counts
        A path (a counts file ``.json``, or a CSV of hand counts), a counts file read into a dict,
        one of `SpotDensity`, `HandCount`, a photo's count (an object with ``to_json()`` or its
        dict), or a list of any of these. What was collected before comes back as it is.
    model : mapping, optional
        What is known of the model, where the counts don't carry it: name, sha256, and
        ``bias_rel`` (or ``plants_bias_rel`` and ``shoots_bias_rel``), the relative standard error
        that all its photos share.
    field : str, optional
        The field that is meant: of a CSV with several fields the rows that name it are read alone.

    Raises
    ------
    InputError
        Nothing usable in it, a record that can't be read (with its file and spot), every photo
        refused, two files in which one person counted one spot with other figures, or one photo
        counted with two sizes of its marked area.
    """
    if isinstance(counts, Collected):
        return counts
    spots: list[SpotDensity] = []
    refused: list[tuple[str, str]] = []
    info: dict[str, Any] = dict(model or {})
    files, sizes = HandFiles(field), PhotoSizes()
    _add(counts, "", spots, refused, info, files, sizes)
    sizes.check()
    if not spots:
        if refused:
            photo, reason = refused[0]
            raise InputError(
                f"all {len(refused)} photos were refused, so there is nothing to assess "
                f"({photo}: {reason}); take them again or add hand counts"
            )
        raise InputError("no counts to assess; give photos, a counts file or a CSV of hand counts")
    if all(spot.source == "hand" for spot in spots):
        info = {}
    return Collected(tuple(_distinct(spots)), info, tuple(refused), tuple(files.notes))


def _add(
    counts: Any,
    where: str,
    spots: list[SpotDensity],
    refused: list[tuple[str, str]],
    info: dict[str, Any],
    files: HandFiles,
    sizes: PhotoSizes,
) -> None:
    if isinstance(counts, SpotDensity):
        spots.append(counts)
    elif isinstance(counts, HandCount):
        spots.append(_from_hand(counts))
    elif isinstance(counts, str | Path):
        path = Path(counts)
        if path.suffix.lower() == ".json":
            _add(_read_json(path), f"{path}: ", spots, refused, info, files, sizes)
        elif path.suffix.lower() in {".csv", ".tsv", ".txt"}:
            read, left_out = read_with_note(path, files.field)
            if left_out:
                files.notes.append(left_out)
            by_hand = files.checked(path, read)
            _add(by_hand, f"{path}: ", spots, refused, info, files, sizes)
        else:
            raise InputError(
                f"{path}: neither a counts file (.json) nor hand counts (.csv); "
                "count photos first and give their counts"
            )
    elif isinstance(counts, Mapping):
        if "spots" in counts or "schema" in counts:
            _add_file(counts, where, spots, refused, info, sizes)
        else:
            _take(counts, where, info, 0.9, spots, refused, sizes)
    elif hasattr(counts, "to_json"):
        record = counts.to_json()
        if isinstance(record, str):
            record = json.loads(record)
        _add(record, where, spots, refused, info, files, sizes)
    elif isinstance(counts, Iterable):
        for item in counts:
            _add(item, where, spots, refused, info, files, sizes)
    else:
        raise InputError(f"{where}a {type(counts).__name__} isn't a count; give counts or a path")


def _read_json(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        reason = error.strerror or error
        raise InputError(f"{path}: can't be read ({reason}); check the name and place") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: not a text file; give a counts file made by count") from error
    except json.JSONDecodeError as error:
        raise InputError(
            f"{path}, line {error.lineno}: not readable JSON ({error.msg}); make the file again"
        ) from error


def _add_file(
    counts: Mapping[str, Any],
    where: str,
    spots: list[SpotDensity],
    refused: list[tuple[str, str]],
    info: dict[str, Any],
    sizes: PhotoSizes,
) -> None:
    schema = counts.get("schema")
    if schema != SCHEMA:
        raise InputError(f"{where}schema is {schema!r}, not {SCHEMA!r}; give a file made by count")
    records = counts.get("spots")
    if not isinstance(records, Sequence) or isinstance(records, str):
        raise InputError(f"{where}no list of spots in the counts file; make it again with count")
    own = counts.get("model")
    if isinstance(own, Mapping):
        refuse_non_finite(own, f"{where}model")
        other = info.get("sha256")
        if other and own.get("sha256") and other != own["sha256"]:
            raise InputError(
                f"{where}counted by another model ({own.get('name')}) than the rest "
                f"({info.get('name')}); count all photos with one model"
            )
        info.update({key: value for key, value in own.items() if value is not None})
    level = counts.get("interval_level", 0.9)
    if not (isinstance(level, int | float) and 0 < level < 1):
        raise InputError(f"{where}interval_level is {level!r}; it must lie between 0 and 1")
    for record in records:
        if not isinstance(record, Mapping):
            raise InputError(f"{where}a spot in the counts file isn't a record; make it again")
        _take(record, where, info, float(level), spots, refused, sizes)


def _take(
    record: Mapping[str, Any],
    where: str,
    info: Mapping[str, Any],
    level: float,
    spots: list[SpotDensity],
    refused: list[tuple[str, str]],
    sizes: PhotoSizes,
) -> None:
    found = photo_spot(record, where, info, level)
    if isinstance(found, SpotDensity):
        sizes.see(found, record, where)
        spots.append(found)
    else:
        refused.append(found)


def _from_hand(count: HandCount) -> SpotDensity:
    stems = as_stems(count)
    flags = list(stems.flags)
    if stems.shoots is not None and stems.definition.min_leaves:
        flags.append(f"counted only shoots with {stems.definition.min_leaves} leaves or more")
    flags.extend(hand_flags(count))
    return SpotDensity(
        spot=count.spot,
        source="hand",
        plants_per_m2=stems.plants_per_m2,
        shoots_per_m2=stems.shoots_per_m2,
        area_m2=count.area_m2,
        definition=stems.definition,
        zone=count.zone,
        flags=tuple(flags),
        observer=count.observer,
        lat=count.lat,
        lon=count.lon,
        field=count.field,
        row=count.row,
        area_said=count.area.label,
    )


def _distinct(spots: Sequence[SpotDensity]) -> list[SpotDensity]:
    """Spots with names that tell them apart; hand counts find the photo of the same name."""
    names: dict[str, set[str]] = {}
    for spot in spots:
        if spot.source == "photo" and not spot.placed:
            # a copy of the same name in another folder is no second place
            names.setdefault(spot.key, set()).add(spot.sha256 or spot.photo)
    out: list[SpotDensity] = []
    seen: set[tuple[str, str]] = set()
    for spot in spots:
        if spot.placed:
            pass  # several photos of one spot are of one place
        elif spot.source == "photo":
            key = (spot.photo, spot.key)
            if spot.photo and key in seen:
                continue  # the same photo given twice is one spot
            seen.add(key)
            if len(names[spot.key]) > 1:
                # two photos called alike, in two folders: two places until somebody says otherwise
                spot = replace(spot, spot=spot.photo)
        else:
            spot = replace(spot, spot=spot_name(spot.spot))
        out.append(spot)
    return out
