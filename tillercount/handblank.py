"""Rows of a sheet of hand counts in which nothing is counted yet, such as those of a plan's sheet.

They are no mistake and no empty spot: they are left out, and named, so that a spot that was
forgotten is seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from tillercount.names import first_few, spot_key, spot_name

__all__ = ["BY_HAND", "PHOTO_ALONE", "PLANNED", "Uncounted", "is_blank"]

PLANNED, BY_HAND, PHOTO_ALONE = "planned", "photo and by hand", "photo"
"""A plan's sheet: its column, and what stands there."""
_LONGEST = 40
"""Letters of a note that are shown."""


def is_blank(row: Mapping[str, str]) -> bool:
    """Whether neither plants nor shoots are written in a row."""
    return not row.get("plants") and not row.get("shoots")


class Uncounted:
    """The rows of one file without a count."""

    def __init__(self) -> None:
        self._rows: list[tuple[str, str, bool]] = []

    def add(self, row: Mapping[str, str]) -> None:
        """Keep a blank row for `note`."""
        name = spot_name(row["spot"])
        alone = row.get(PLANNED, "").casefold() == PHOTO_ALONE
        self._rows.append((name, " ".join(row.get("note", "").split()), alone))

    def note(self, counted: set[str]) -> str:
        """Which spots were left out, and what to do; "" where none was that is to be counted.

        ``counted`` are the keys of the spots that have a count in another row.
        """
        open_ = {
            spot_key(name): f"{name} ({_short(remark)})" if remark else name
            for name, remark, alone in self._rows
            if spot_key(name) not in counted and (remark or not alone)
        }
        if not open_:
            return ""
        many = len(open_)
        have, are = ("has", "is") if many == 1 else ("have", "are")
        return (
            f"{many} spot{'s' * (many != 1)} {have} no count yet and {are} left out: "
            f"{first_few(open_.values(), 12)}. Where nothing grows write 0: left out, bare spots "
            "make the stand look better than it is"
        )

    def nothing(self, path: Path) -> str:
        """What to say of a file in which no row has a count; "" where it has no such rows."""
        names = dict.fromkeys(name for name, _, _ in self._rows)
        if not names:
            return ""
        many = len(names)
        listed = f"{many} spot{'s are' if many != 1 else ' is'} listed: {first_few(names)}"
        return (
            f"{path}: nothing is counted in it yet ({listed}); write plants, shoots and the area "
            "beside each spot that was counted, save it as CSV and give it again. Until then leave "
            "this file out"
        )


def _short(remark: str) -> str:
    return remark if len(remark) <= _LONGEST else f"{remark[:_LONGEST].rstrip()} ..."
