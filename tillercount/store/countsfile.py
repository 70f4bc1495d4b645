"""A counts file read entry by entry, so that a large one takes no more memory than a small one."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from tillercount.errors import InputError
from tillercount.field.finite import refuse_non_finite
from tillercount.field.sources import SCHEMA

__all__ = ["CountsHead", "Entry", "as_entry", "head_of", "read_entries", "read_head"]


@dataclass(frozen=True)
class CountsHead:
    """What a counts file says of all its entries."""

    schema: str
    model: Mapping[str, Any]
    level: float


class _Area(BaseModel):
    model_config = ConfigDict(extra="ignore", strict=True)
    text: str = ""
    typed: str | None = None


class Entry(BaseModel):
    """What the store itself reads in an entry; the counts are read by `tillercount.field`."""

    model_config = ConfigDict(extra="ignore", strict=True)
    photo: str = Field(min_length=1)
    sha256: str = Field("", pattern="^([0-9a-f]{64})?$")
    status: str = "counted"
    reason: str | None = None
    spot: str | None = None
    taken_at: str | None = None
    lat: float | None = Field(None, ge=-90, le=90, allow_inf_nan=False)
    lon: float | None = Field(None, ge=-180, le=180, allow_inf_nan=False)
    area: _Area = _Area()
    flags: list[str] = []


def as_entry(record: Any, where: str) -> Entry:
    """An entry checked.

    Raises
    ------
    InputError
        A value of the wrong kind, or NaN or infinity anywhere, with its name.
    """
    refuse_non_finite(record, where)
    try:
        return Entry.model_validate(record)
    except ValidationError as error:
        first = error.errors()[0]
        field = ".".join(map(str, first["loc"]))
        raise InputError(
            f"{where}{', ' + field if field else ''}: {first['msg']}; make the counts file again"
        ) from error


def head_of(record: Mapping[str, Any], source: str) -> CountsHead:
    """The head of a counts file already in memory.

    Raises
    ------
    InputError
        Another schema, or values that can't be.
    """
    if record.get("schema") != SCHEMA:
        raise InputError(
            f"{source}, schema: {record.get('schema')!r} isn't {SCHEMA!r}; give a file made by "
            "count --json"
        )
    model = record.get("model")
    refuse_non_finite(model, f"{source}, model")
    level = record.get("interval_level", 0.9)
    if isinstance(level, bool) or not isinstance(level, int | float) or not 0 < level < 1:
        raise InputError(f"{source}, interval_level: {level!r} must lie between 0 and 1")
    return CountsHead(SCHEMA, dict(model) if isinstance(model, Mapping) else {}, float(level))


def read_head(path: Path) -> CountsHead:
    """The head of a counts file, its entries passed over.

    Raises
    ------
    InputError
        Not readable, not JSON, no counts file, no list of entries.
    """
    import ijson

    found: dict[str, Any] = {}
    building: Any = None
    spots = False
    with _opened(path) as file:
        try:
            for prefix, kind, value in ijson.parse(file, use_float=True):
                top, _, rest = prefix.partition(".")
                if top == "spots":
                    spots = spots or (not rest and kind == "start_array")
                    # count writes them last: nothing of the head comes after them
                    if spots and {"schema", "model", "interval_level"} <= found.keys():
                        break
                elif top in ("schema", "interval_level") and not rest:
                    found[top] = value
                elif top == "model" and not rest and kind == "start_map":
                    building = found.setdefault("model", {})
                elif top == "model" and building is not None and kind in _PLAIN and "." not in rest:
                    building[rest] = value
        except ijson.JSONError as error:
            raise InputError(_broken(path, error)) from error
    if not spots:
        raise InputError(f"{path}: no list of spots; give a counts file made by count --json")
    return head_of(found, str(path))


_NO_NUMBER = re.compile(r"(\"\w+\"\s*:\s*)?-?\b(NaN|Infinity)\b")
_PLAIN = ("string", "number", "boolean", "null")


def read_entries(path: Path) -> Iterator[dict[str, Any]]:
    """Entries of a counts file, one after another.

    Raises
    ------
    InputError
        Not readable, not JSON, an entry that isn't a record.
    """
    import ijson

    with _opened(path) as file:
        entries = ijson.items(file, "spots.item", use_float=True)
        number = 0
        while True:
            try:
                record = next(entries)
            except StopIteration:
                return
            except ijson.JSONError as error:
                broken = _broken(path, error, f", entry {number + 1}")
                raise InputError(f"{broken} (after entry {number})") from error
            number += 1
            if not isinstance(record, dict):
                raise InputError(f"{path}, entry {number}: not a record; make the file again")
            yield record


def _opened(path: Path) -> IO[bytes]:
    try:
        return path.open("rb")
    except OSError as error:
        reason = error.strerror or error
        raise InputError(f"{path}: can't be read ({reason}); check the name and place") from error


def _broken(path: Path, error: Exception, entry: str = "") -> str:
    said = " ".join(str(error).split())[:80]
    if number := _NO_NUMBER.search(str(error)):
        return (
            f"{path}{entry}: {number[0].strip(': ')} isn't a finite number; make the file again "
            "with count --json"
        )
    return f"{path}: not readable JSON ({said}); make the file again with count --json"
