"""One sheet for several fields: the rows of the one that is meant."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from tillercount.errors import InputError
from tillercount.names import first_few, key_of
from tillercount.near import nearest

__all__ = ["of_field", "two_fields"]

Row = TypeVar("Row")


def of_field(
    rows: Sequence[Row], named: Sequence[str], field: str | None, source: str
) -> tuple[Sequence[Row], str]:
    """The rows that name this field, where they name several, and which were left out; else all.

    ``named`` is the field that each row names, "" for none.

    Raises
    ------
    InputError
        They name several fields, and another one was given than any of these.
    """
    keys = [key_of(name) if name.strip() else "" for name in named]
    names: dict[str, str] = {}
    for key, name in zip(keys, named, strict=True):
        if key:
            names.setdefault(key, " ".join(name.split()))
    if not (field and field.strip()) or len(names) < 2:
        return rows, ""
    wanted = key_of(field)
    if wanted not in names:
        raise InputError(
            f"{source}: its column field names {len(names)} fields "
            f"({first_few(names.values())}), and none is {field!r}; give --field with one of "
            "them, once for each"
        )
    kept = [row for key, row in zip(keys, rows, strict=True) if key == wanted]
    others = [name for key, name in names.items() if key != wanted]
    none = " or of no field" if "" in keys else ""
    near = nearest(names[wanted], others)
    same = "" if near is None else (
        f". Is {near} the same field? Then its {_rows(keys.count(key_of(near)))} "
        "must be in too: write both names alike"
    )  # fmt: skip
    return kept, (
        f"{source}: {_rows(len(kept))} {'is' if len(kept) == 1 else 'are'} of {names[wanted]}; "
        f"left out: {_rows(len(rows) - len(kept))} of {first_few(others)}{none}{same}"
    )


def _rows(many: int) -> str:
    return f"{many} row{'s' * (many != 1)}"


def two_fields(one: str, other: str) -> bool:
    """Whether two rows name fields, and not the same."""
    return bool(one.strip() and other.strip()) and key_of(one) != key_of(other)
