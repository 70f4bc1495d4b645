"""Passwords of database URLs kept off screens, errors and logs.

A URL that can be read is shown by SQLAlchemy, which hides its password
(`tillercount.store.engine.shown`). This is for text around it: a URL taken for a file's name, one
with a slip in it, or with the password among its options, and what drivers and parsers repeat.
"""

from __future__ import annotations

import re

__all__ = ["hidden"]

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
