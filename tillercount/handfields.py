"""One sheet for several fields: the rows of the one that is meant."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from tillercount.errors import InputError
from tillercount.names import first_few, key_of

__all__ = ["Chosen", "of_field", "two_fields"]

Row = TypeVar("Row")


class Chosen(tuple[Row, ...]):
    """The rows chosen; ``note`` says which weren't."""

    note: str = ""


def of_field(
    rows: Sequence[Row], named: Callable[[Row], str], field: str | None, source: str
) -> Chosen[Row]:
    """The rows that name this field, where they name several; else all of them.

    Raises
    ------
    InputError
        They name several fields, and another one was given than any of these.
    """
    names: dict[str, str] = {}
    for row in rows:
        name = " ".join(named(row).split())
        if name:
            names.setdefault(key_of(name), name)
    if not (field and field.strip()) or len(names) < 2:
        return Chosen(rows)
    wanted = key_of(field)
    if wanted not in names:
        raise InputError(
            f"{source}: its column field names {len(names)} fields "
            f"({first_few(names.values())}), and none is {field!r}; give --field with one of "
            "them, once for each"
        )
    kept = Chosen(row for row in rows if named(row).strip() and key_of(named(row)) == wanted)
    others = first_few(name for key, name in names.items() if key != wanted)
    left = len(rows) - len(kept)
    kept.note = (
        f"{source}: {_rows(len(kept))} {'is' if len(kept) == 1 else 'are'} of {names[wanted]}; "
        f"left out: {_rows(left)} of {others} or of no field"
    )
    return kept


def _rows(many: int) -> str:
    return f"{many} row{'s' * (many != 1)}"


def two_fields(one: str, other: str) -> bool:
    """Whether two rows name fields, and not the same."""
    return bool(one.strip() and other.strip()) and key_of(one) != key_of(other)
