"""One photo in two counts, each with another marked area: one of the sizes is wrong.

Which one can't be told from the counts, and it changes every density, so neither is used.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tillercount.errors import InputError
from tillercount.field.spots import SpotDensity
from tillercount.names import first_few
from tillercount.units import M2_PER_FT2

__all__ = ["PhotoSizes"]


@dataclass(frozen=True)
class _Sized:
    """A photo's count: by its file name, with the area as compared and as typed, and in m²."""

    photo: str
    text: str
    typed: str
    area_m2: float
    file: str

    def unlike(self, other: _Sized) -> bool:
        """Whether the two areas differ: by their text as in a season, else by their size."""
        if self.text and other.text:
            return self.text != other.text
        return not math.isclose(self.area_m2, other.area_m2, rel_tol=0.001)


class PhotoSizes:
    """The photos read so far, by the sum of their bytes or, without one, by their path, each with
    the first size that it was counted with."""

    def __init__(self) -> None:
        self._first: dict[str, _Sized] = {}
        self._apart: dict[tuple[str, str, str, str], dict[str, None]] = {}

    def see(self, spot: SpotDensity, record: Mapping[str, Any], where: str) -> None:
        """One more photo; ``where`` is the beginning of what is said of its file."""
        area = record.get("area")
        said = area if isinstance(area, Mapping) else {}
        text = str(said.get("text") or "")
        typed = str(said.get("typed") or text or f"{spot.area_m2 / M2_PER_FT2:.4g} ft²")
        path = spot.photo.replace("\\", "/") or spot.spot
        this = _Sized(path.rsplit("/", 1)[-1], text, typed, spot.area_m2, where.removesuffix(": "))
        first = self._first.setdefault(spot.sha256 or path, this)
        if first.unlike(this):
            copy = "" if first.photo == this.photo else f" (the same photo as {this.photo})"
            group = self._apart.setdefault((first.typed, first.file, typed, this.file), {})
            group[f"{first.photo}{copy}"] = None

    def check(self) -> None:
        """That no photo was counted with two sizes.

        Raises
        ------
        InputError
            There are such; the message has the photos, and each size with its file.
        """
        if not self._apart:
            return
        said = []
        for (was, before, now, file), photos in self._apart.items():
            many = f"{len(photos)} photos were" if len(photos) > 1 else "a photo was"
            if before == file:
                both = f"with {was} and with {now}{f', both in {file}' if file else ''}"
            else:
                both = f"with {was} {_in(before)} and with {now} {_in(file)}"
            said.append(f"{many} counted {both}: {first_few(photos)}")
        raise InputError(
            f"{'; '.join(said)}. A photo has one marked area, and a wrong size makes its densities "
            "wrong. Give only the counts with the size that was laid on the ground; photos that "
            "are counted with the wrong one alone: count them again with the right size"
        )


def _in(file: str) -> str:
    return f"in {file}" if file else "among the photos given"
