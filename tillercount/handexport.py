"""A season's export given as hand counts: which of its rows somebody counted by hand.

The table has a photo's count without its interval. Read as a hand count it would be surer than it
is, and be averaged with the hand count of its spot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tillercount.names import first_few, spot_key, spot_name

__all__ = ["ByHand"]

_COUNTS = ("plants", "shoots")
_EXPORTED = {"spot", "status", "predicted_plants"}
"""Columns of a season's export."""


class ByHand:
    """Tells the rows of one export; of other sheets every row is by hand.

    What somebody corrected by hand in a photo is as good as a hand count, unless its spot has one:
    that one holds, as in the season. ``exported``: whether the sheet is a season's export.
    """

    def __init__(self, header: Sequence[str], rows: Sequence[Mapping[str, str]]) -> None:
        self.exported = set(header) >= _EXPORTED
        self._hand = {
            (_key(row), what)
            for row in rows
            if row.get("source") == "hand"
            for what in _COUNTS
            if row.get(what)
        }
        self._left_out: list[str] = []

    def of(self, row: Mapping[str, str]) -> dict[str, str] | None:
        """A row with those of its counts that were made by hand, None where neither was; photos
        that were counted are kept for `note`."""
        if not self.exported:
            return dict(row)
        if not row.get("spot"):
            return None
        if row.get("source") != "photo":
            return None if row.get("status") == "refused" else dict(row)
        counted = [what for what in _COUNTS if row.get(what)]
        open_ = [what for what in counted if (_key(row), what) not in self._hand]
        by_hand = [what for what in open_ if _corrected(row, what)]
        photos = [what for what in counted if what not in by_hand]
        if photos:
            of = f" ({photos[0]})" if by_hand else ""
            self._left_out.append((row.get("photo") or row["spot"]) + of)
        return {**row, **dict.fromkeys(photos, "")} if by_hand else None

    @property
    def note(self) -> str:
        """What was left out, and what to give for it; "" where nothing was."""
        n = len(self._left_out)
        if not n:
            return ""
        return (
            f"{n} photo count{'s' if n > 1 else ''} of this export left out "
            f"({first_few(self._left_out)}): the table has no intervals for them. Give the photos "
            "themselves or their counts file (count --json), or use the season"
        )


def _corrected(row: Mapping[str, str], what: str) -> bool:
    """Whether a person's count stands in a photo's row; exports of older programs don't say so of
    each count, but have the model's beside it."""
    by = row.get(f"{what}_by")
    if by is None:
        return bool(row.get("corrected_by")) and row.get(what) != row.get(f"predicted_{what}")
    return by == "hand"


def _key(row: Mapping[str, str]) -> str:
    return spot_key(spot_name(row.get("spot", "")))
