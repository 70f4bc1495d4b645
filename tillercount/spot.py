"""What one photo says about one marked area, as a value."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import Area
from tillercount.units import M2_PER_FT2

if TYPE_CHECKING:
    from tillercount.model import ModelInfo
    from tillercount.quality import Check
    from tillercount.rowgaps import RowGaps
    from tillercount.rows import NoRows

__all__ = ["BORDER_RULE", "Flag", "Interval", "SpotCount"]

BORDER_RULE = "a base inside the frame's inside edge counts; one on the edge counts half"


@dataclass(frozen=True)
class Interval:
    """A count in the marked area, with the ends of its interval."""

    count: float
    low: float
    high: float

    def to_json(self, digits: int = 1) -> dict[str, float]:
        """Plain numbers, rounded."""
        return {
            "count": round(self.count, digits),
            "low": round(self.low, digits),
            "high": round(self.high, digits),
        }

    def per_ft2(self, area_ft2: float) -> Interval:
        """The same as a density per square foot."""
        return Interval(self.count / area_ft2, self.low / area_ft2, self.high / area_ft2)


@dataclass(frozen=True)
class Flag:
    """Something about a count that its reader should know."""

    code: str
    text: str

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True)
class SpotCount:
    """What one photo says about one marked area.

    Attributes
    ----------
    status : ``counted`` or ``refused``; a refused photo has a `reason` and what `todo` about it
    area_m2 : area of the marked outline on the ground
    outline_px : ndarray (N, 2), inside edge in the upright photo's pixels
    plants, shoots : counts in the area (main stem + tillers = shoots)
    seen_plants, seen_shoots : bases that the network points at; the rest of the count is inferred
    cover : share of the area by surface (crop, other_plants, residue, soil), adding up to 1
    rows : rows in the area and the long gaps in them, or why they can't be told
    stick_rows_mm : how far apart rows are seen beside a stick, where that is clear; the area's own
        row spacing was typed
    look : how light and dark lie in the photo (`tillercount.samelook`), "" where not known
    other_plants : about how many plants that aren't the crop; None where the model can't tell. It
        isn't calibrated, so it has no interval
    """

    photo: Path
    status: str
    area: Area
    area_m2: float = math.nan
    reason: str | None = None
    todo: str | None = None
    outline_px: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 2)))
    plants: Interval | None = None
    shoots: Interval | None = None
    seen_plants: int = 0
    seen_shoots: int = 0
    cover: Mapping[str, float] = field(default_factory=dict)
    flags: tuple[Flag, ...] = ()
    checks: tuple[Check, ...] = ()
    model: ModelInfo | None = None
    sha256: str = ""
    rows: RowGaps | NoRows | None = None
    stick_rows_mm: float | None = None
    taken_at: str | None = None
    lat: float | None = None
    lon: float | None = None
    other_plants: float | None = None
    look: str = ""

    @property
    def area_ft2(self) -> float:
        """Area of the marked outline, square feet."""
        return self.area_m2 / M2_PER_FT2

    @property
    def tillers_per_plant(self) -> float | None:
        """Side shoots per plant (main stem not counted), None without plants."""
        if self.plants is None or self.shoots is None or self.plants.count < 0.5:
            return None
        return max(0.0, self.shoots.count / self.plants.count - 1)

    def to_json(self) -> dict[str, Any]:
        """One entry of ``spots`` in a counts file."""
        record: dict[str, Any] = {
            "photo": self.photo.as_posix(),
            "status": self.status,
            "reason": self.reason,
            "todo": self.todo,
            "sha256": self.sha256,
            "taken_at": self.taken_at,
            "lat": self.lat,
            "lon": self.lon,
            "area": {
                "kind": self.area.kind,
                "text": self.area.text,
                "typed": self.area.label,
            },
            "flags": [flag.text for flag in self.flags],
            "flag_codes": [flag.code for flag in self.flags],
            "checks": [check.to_json() for check in self.checks],
        }
        if self.look:
            record["look"] = self.look
        if self.status != "counted" or self.plants is None or self.shoots is None:
            return record
        ft2 = self.area_ft2
        tillers = self.tillers_per_plant
        record["area"] |= {
            "ft2": round(ft2, 4),
            "m2": round(self.area_m2, 6),
            "outline_px": np.round(self.outline_px, 2).tolist(),
        }
        return record | {
            "plants": self.plants.to_json(),
            "shoots": self.shoots.to_json(),
            **(
                {}
                if self.other_plants is None
                else {"other_plants": {"count": round(self.other_plants, 1)}}
            ),
            "plants_per_ft2": self.plants.per_ft2(ft2).to_json(2),
            "shoots_per_ft2": self.shoots.per_ft2(ft2).to_json(2),
            "plants_per_m2": self.plants.per_ft2(ft2 * M2_PER_FT2).to_json(),
            "shoots_per_m2": self.shoots.per_ft2(ft2 * M2_PER_FT2).to_json(),
            "tillers_per_plant": None if tillers is None else round(tillers, 2),
            "seen": {"plants": self.seen_plants, "shoots": self.seen_shoots},
            "cover": {name: round(share, 4) for name, share in self.cover.items()},
            "border_rule": BORDER_RULE,
            **({} if self.rows is None else {"rows": self.rows.to_json()}),
            **(
                {}
                if self.stick_rows_mm is None
                else {"stick_rows": {"spacing_mm": round(self.stick_rows_mm, 1)}}
            ),
        }
