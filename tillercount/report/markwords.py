"""What the overlay says of its marks: how many there are, and why they aren't the counts."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["WHY_FEWER", "WHY_MARKS_DIFFER", "Marked"]

_GUIDE = "Marks are a guide: some are missing, some stand twice. "
WHY_MARKS_DIFFER = f"{_GUIDE}The counts are estimated separately, with what leaves hide."
WHY_FEWER = f"{_GUIDE}The counts are estimated separately."
"""Where there are more marks than the count: leaves that hide something can't be why."""


@dataclass(frozen=True)
class Marked:
    """How many marks of a kind there are, beside the count that stands above the picture."""

    what: str
    marks: int
    count: int

    @property
    def too_many(self) -> bool:
        return self.marks > self.count

    @property
    def text(self) -> str:
        if self.too_many:
            return f"{self.marks} {self.what} marks, some double; best estimate {self.count}"
        return f"{self.what} seen ({self.marks} marked)"
