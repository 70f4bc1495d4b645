"""What is wrong with a rule file: file, line, key, reason, remedy, in one line."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from tillercount.stand.bands import Misplaced
from tillercount.stand.lines import line_of, line_table

if TYPE_CHECKING:
    from pydantic import ValidationError

__all__ = ["complaint"]

# pydantic's names for the members of a union, which aren't keys
_NOT_KEYS = ("int", "literal['not stated']")


def complaint(where: str, text: str, error: ValidationError) -> str:
    """The first thing wrong, with its line; a misspelt key comes before the key it should be."""
    errors: list[Mapping[str, Any]] = list(error.errors())
    first = _misspelt(errors) or errors[0]
    path = _path(first)
    line = line_of(path, line_table(text))
    place = ", ".join(part for part in (where, f"line {line}" if line else "", _key(path)) if part)
    more = f" (and {len(errors) - 1} more)" if len(errors) > 1 else ""
    return f"{place}: {_reason(first, errors)}{more}; see rules/README.md for the format"


def _misspelt(errors: Sequence[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    return next((e for e in errors if e["type"] == "extra_forbidden" and _meant(e, errors)), None)


def _meant(error: Mapping[str, Any], errors: Sequence[Mapping[str, Any]]) -> str:
    """The missing key of the same table that an unknown key looks like; empty where none does."""
    table, name = error["loc"][:-1], str(error["loc"][-1])
    missing = [
        str(e["loc"][-1]) for e in errors if e["type"] == "missing" and e["loc"][:-1] == table
    ]
    close = difflib.get_close_matches(name, missing, n=1)
    return close[0] if close else ""


def _reason(error: Mapping[str, Any], errors: Sequence[Mapping[str, Any]]) -> str:
    if error["type"] == "extra_forbidden":
        meant = _meant(error, errors)
        return f"no such key; write {meant!r}" if meant else "no such key; leave it out"
    if error["type"] == "missing":
        return "this key is missing"
    return str(error["msg"]).removeprefix("Value error, ")


def _path(error: Mapping[str, Any]) -> tuple[str | int, ...]:
    cause = (error.get("ctx") or {}).get("error")
    at = cause.at if isinstance(cause, Misplaced) else ()
    return tuple(part for part in (*error["loc"], *at) if part not in _NOT_KEYS)


def _key(path: Sequence[str | int]) -> str:
    """Key as it stands in the file, list items counted from 1."""
    key = ""
    for part in path:
        if isinstance(part, int):
            key += f"[{part + 1}]"
        else:
            key += f".{part}" if key else part
    return key
