"""Passwords of database URLs kept off screens, errors and logs.

A URL that can be read is shown by SQLAlchemy, which hides its password
(`tillercount.store.engine.shown`). This is for text around it: a URL taken for a file's name, one
with a slip in it, or with the password among its options, and what drivers and parsers repeat.
"""

from __future__ import annotations

import os
import re
from typing import Any

__all__ = ["hidden", "hide_in"]

_IN_PLACE = re.compile(r"((?<!\w)\w[\w+.-]*:?/{1,3}[^\s:/]*:)\S*@")
"""``postgresql://user:``, also with a slash lost as in a path, up to the last @; some hosts have an
@ in the user's name."""
_AS_OPTION = re.compile(
    r"((?:passw(?:or)?d|\bpwd)(?:=|%3D))(?:'[^']*'|\"[^\"]*\"|[^\s&;,)\"']+)", re.IGNORECASE
)


def hidden(text: str) -> str:
    """The text with ``***`` for what looks like the password of a database."""
    if "@" in text:
        text = _IN_PLACE.sub(r"\1***@", text)
    return _AS_OPTION.sub(r"\1***", text)


def hide_in(error: BaseException) -> None:
    """Hide passwords in an error that is about to be shown whole, and in those that led to it."""
    seen: set[int] = set()
    left: list[BaseException | None] = [error]
    while left:
        one = left.pop()
        if one is None or id(one) in seen:
            continue
        seen.add(id(one))
        one.args = tuple(_hidden(arg) for arg in one.args)
        if isinstance(one, OSError):  # which shows its files beside its arguments
            for name in ("filename", "filename2"):
                if (file := getattr(one, name)) is not None:
                    setattr(one, name, _hidden(file))
        left += [one.__cause__, one.__context__]


def _hidden(value: Any) -> Any:
    """Text and paths without it; what else an error holds stays, as other bytes than paths do."""
    return hidden(os.fsdecode(value)) if isinstance(value, str | os.PathLike) else value
