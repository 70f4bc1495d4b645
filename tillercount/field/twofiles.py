"""Two files of hand counts given together: one field, or two fields with spots called alike?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from tillercount.days import day_in_file, days_apart
from tillercount.errors import InputError
from tillercount.hand import HandCount, as_stems
from tillercount.handvisits import LONGEST, passed_over
from tillercount.names import key_of, person_key, spot_key, spot_name, spot_text
from tillercount.units import M2_PER_FT2

__all__ = ["HandFiles"]


class HandFiles:
    """The hand counts read so far, each with its file, by spot and observer; ``notes`` say what of
    the files was passed over. ``field``: of a sheet with several fields its rows alone are read."""

    def __init__(self, field: str | None = None) -> None:
        self.field = field
        self._seen: dict[tuple[str, str], list[tuple[Path, HandCount]]] = {}
        self._visits: dict[str, tuple[Path, str]] = {}
        self._days: dict[str, dict[str, Path]] = {}
        self.notes: list[str] = []

    def checked(self, path: Path, counts: Sequence[HandCount]) -> Sequence[HandCount]:
        """The same counts, if no earlier file has one of them with other figures.

        The mean of two fields is neither's. Plants in one file and shoots in the other, or the
        same figures twice, are no contradiction.

        Raises
        ------
        InputError
            One person counted one spot in two files, and not alike; or they name other visits.
        """
        self._refuse_other_visit(path, counts)
        written = tuple(dict.fromkeys(count.visit_date for count in counts if count.visit_date))
        if unread := [text for text in written if day_in_file(text, written) is None]:
            self.notes.append(f"{path}: {passed_over(unread)}")
        for count in counts:
            observer = person_key(count.observer)
            seen = self._seen.setdefault((spot_key(spot_name(count.spot)), observer), [])
            for file, before in seen:
                if not _alike(before, count):
                    areas = not math.isclose(before.area_m2, count.area_m2, rel_tol=0.001)
                    raise InputError(
                        f"{path}, {spot_text(count.spot)}: {count.observer or 'nobody named'} "
                        "counted "
                        f"{_figures(count, areas)}, but in {file} {_figures(before, areas)}. "
                        "Two fields? Assess each by itself. Two visits? Keep them in a season, "
                        "each with its --visit. Two people? Name each in the column observer"
                    )
            seen.append((path, count))
        return counts

    def _refuse_other_visit(self, path: Path, counts: Sequence[HandCount]) -> None:
        for count in counts:
            field = " ".join(count.field.split()).casefold()
            if count.visit:
                file, visit = self._visits.setdefault(field, (path, count.visit))
                if key_of(visit) != key_of(count.visit):
                    raise _two_visits(path, count.visit, file, f"{visit} (column visit)")
            days = self._days.setdefault(field, {})
            if count.visit_date and count.visit_date not in days:
                for day, file in days.items():
                    if days_apart(day, count.visit_date) > LONGEST:
                        raise _two_visits(path, count.visit_date, file, day)
                days[count.visit_date] = path


def _two_visits(path: Path, this: str, file: Path, other: str) -> InputError:
    return InputError(
        f"{path} is of {this}, but {file} is of {other}; two visits aren't one stand: judge each "
        "by itself, or keep them in a season, each with its --visit"
    )


def _alike(one: HandCount, other: HandCount) -> bool:
    a, b = as_stems(one), as_stems(other)
    pairs = ((a.plants_per_m2, b.plants_per_m2), (a.shoots_per_m2, b.shoots_per_m2))
    return all(
        x is None or y is None or math.isclose(x, y, rel_tol=0.001, abs_tol=1e-9) for x, y in pairs
    )


def _figures(count: HandCount, area: bool) -> str:
    parts = ((count.plants, "plants"), (count.shoots, "shoots"))
    said = " and ".join(f"{value:g} {what}" for value, what in parts if value is not None)
    return f"{said} in {count.area_m2 / M2_PER_FT2:.3g} ft²" if area else said
