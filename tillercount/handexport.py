"""A season's export given as hand counts: which of its rows somebody counted by hand.

The table has a photo's count without its interval. Read as a hand count it would be surer than it
is, and be averaged with the hand count of its spot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tillercount.names import first_few, spot_key, spot_name

__all__ = ["ByHand"]

_EXPORTED = {"spot", "status", "predicted_plants"}
"""Columns of a season's export."""


class ByHand:
    """Tells the rows of one export; of other sheets every row is by hand.

    A photo that somebody corrected by hand is as good as a hand count, unless its spot has one:
    that one holds, as in the season. ``exported``: whether the sheet is a season's export.
    """

    def __init__(self, header: Sequence[str], rows: Sequence[Mapping[str, str]]) -> None:
        self.exported = set(header) >= _EXPORTED
        self._hand = {_key(row) for row in rows if row.get("source") == "hand"}
        self._left_out: list[str] = []

    def has(self, row: Mapping[str, str]) -> bool:
        """Whether a row is a count made by hand; photos that were counted are kept for `note`."""
        if not self.exported:
            return True
        if row.get("status") == "refused" or not row.get("spot"):
            return False
        by_hand = row.get("source") != "photo"
        if by_hand or (row.get("corrected_by") and _key(row) not in self._hand):
            return True
        self._left_out.append(row.get("photo") or row["spot"])
        return False

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


def _key(row: Mapping[str, str]) -> str:
    return spot_key(spot_name(row.get("spot", "")))
