"""Names that are probably meant to be one: a letter slipped, a word left out."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

from tillercount.names import key_of

__all__ = ["nearest"]

_ALIKE = 0.72
"""From this share of common letters on, two words are taken for one mistyped: two letters of a
four-letter word swapped give 0.75. A convention; a wrong guess costs one more option."""

_LOOKS_LIKE = str.maketrans("oil", "011")
"""Letters, small as in keys, and the digits that they are taken for."""

_SIDES = frozenset(
    {
        *("north", "south", "east", "west", "northeast", "northwest", "southeast", "southwest"),
        *("northern", "southern", "eastern", "western", "upper", "lower", "left", "right"),
    }
)
"""Words that tell neighbouring fields apart and look alike (east and west share three letters)."""


def nearest(name: str, others: Iterable[str]) -> str | None:
    """The name among others that this one is probably meant to be; None where none is near.

    Words that both names have say nothing ("Lane field", "Barn field"), and other digits mean
    another name ("visit 1", "visit 2").
    """
    found = [(_alike(key_of(name), key_of(other)), other) for other in others]
    best = max(found, key=lambda one: one[0], default=(0.0, ""))
    return best[1] if best[0] >= _ALIKE else None


def _alike(one: str, other: str) -> float:
    """1 for names that differ in spaces, signs, letters that look like digits, or left-out words
    alone; 0 for clearly others."""
    if one.translate(_LOOKS_LIKE) == other.translate(_LOOKS_LIKE):
        return 1.0
    if re.findall(r"\d", one) != re.findall(r"\d", other):
        return 0.0
    mine, theirs = (re.findall(r"[^\W\d_]+", key) for key in (one, other))
    if "".join(mine) == "".join(theirs):
        return 1.0
    left = [word for word in mine if word not in theirs]
    right = [word for word in theirs if word not in mine]
    if not left or not right:
        return 0.9 if mine and theirs and not _SIDES & {*left, *right} else 0.0
    if _SIDES.issuperset(left) and _SIDES.issuperset(right):
        return 0.0
    return difflib.SequenceMatcher(None, "".join(left), "".join(right)).ratio()
