"""One thing measured on a photo, and whether a count can bear it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

__all__ = ["Check", "Level"]

Level = Literal["ok", "lower", "refuse"]


@dataclass(frozen=True)
class Check:
    """One thing measured on a photo.

    `value` and `limit` share `unit` ("share" is 0 to 1); `limit` is the one crossed, or the first
    one that would be. `text` says what was measured and, unless `level` is "ok", what to do.
    `value` is nan where nothing could be measured.
    """

    name: str
    value: float
    unit: str
    limit: float
    level: Level
    text: str

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON; nan and infinity become None."""
        return {
            "name": self.name,
            "value": self.value if math.isfinite(self.value) else None,
            "unit": self.unit,
            "limit": self.limit if math.isfinite(self.limit) else None,
            "level": self.level,
            "text": self.text,
        }
