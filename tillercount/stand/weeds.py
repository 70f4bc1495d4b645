"""Weeds: yield loss in print for a species that the user names."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tillercount.errors import InputError
from tillercount.stand.words import number_text
from tillercount.units import per_ft2

__all__ = [
    "GRASSES",
    "MOST_PER_M2",
    "SPECIES",
    "WeedLoss",
    "weed_loss",
]

MOST_PER_M2 = 10_000.0
"""More weeds than this have no room: one on each square centimetre, a convention of our own. Losses
in print end at 200 per m²."""

SOURCE = "University of Missouri, weed management in wheat, 2022"


@dataclass(frozen=True)
class Printed:
    """What is in print of a species: densities per m² with their loss, percent of wheat yield."""

    points: tuple[tuple[float, float], ...]
    line_percent_per_m2: float | None = None
    line_to: float = 0.0
    note: str = ""
    more: bool = False
    """Whether the losses are printed as "more than"."""


SPECIES: dict[str, Printed] = {
    "common chickweed": Printed(((30.0, 0.0), (169.0, 28.0)), note="loss starts at about 30/m²"),
    "henbit": Printed(((18.0, 0.0), (82.0, 13.0)), note="all season long"),
    "cheat": Printed(((86.0, 49.0),)),
    "downy brome": Printed(((200.0, 60.0),), note="more than 60 % at 200/m²", more=True),
    "italian ryegrass": Printed(
        (), 0.42, 100.0, "4.2 % for each 10 plants/m², not beyond about 100/m²"
    ),
}
GRASSES = ("cheat", "downy brome", "italian ryegrass")
"""Those that look like the crop while they are young."""
_ALSO = {
    "chickweed": "common chickweed",
    "ryegrass": "italian ryegrass",
    "annual ryegrass": "italian ryegrass",
}


@dataclass(frozen=True)
class WeedLoss:
    """Loss of wheat yield, percent; ``high`` is None where print only says "or more".

    ``seen`` says more where the density comes from photos (`tillercount.stand.otherplants`).
    ``none_to`` is the density per m² up to which print has no loss, where this one is no higher.
    """

    species: str
    per_m2: float
    low: float
    high: float | None
    why: str
    source: str = SOURCE
    seen: Seen | None = None
    none_to: float | None = None

    @property
    def loss_text(self) -> str:
        """The loss alone, in words; by photo no finer than such a density can be."""
        if self.none_to is not None:
            return _none(self.none_to)
        return _between(self.low, self.high, digits=3 if self.seen is None else 2)

    @property
    def words(self) -> str:
        """The loss in words, with the density that it is for."""
        density = f"{self.per_m2:.3g}/m²" if self.seen is None else _by_photo(self.per_m2)
        text = f"{self.species}, {density}: "
        if self.none_to is not None:
            text += self.loss_text
        else:
            text += f"loss of wheat yield {self.loss_text} ({self.why})"
        return text if self.seen is None else f"{text}; {self.seen.words}"

    @property
    def beside_density(self) -> str:
        """The same for a page that has told what the photos say of other plants already."""
        if self.seen is None:
            return self.words
        why = "" if self.none_to is not None else f" ({self.why})"
        loss = (
            self.loss_text if self.none_to is not None else f"loss of wheat yield {self.loss_text}"
        )
        ends = self.seen.loss_text if self.seen.loss_text != self.loss_text else ""
        return f"{self.species}: {loss}{why}" + (
            f"; at the ends of that range {ends}" if ends else ""
        )

    def to_json(self) -> dict[str, Any]:
        """As plain values."""
        return {
            "species": self.species,
            "per_m2": self.per_m2,
            "loss_percent": [self.low, self.high],
            "why": self.why,
            "source": self.source,
            "words": self.words,
            "by_photo": None if self.seen is None else self.seen.to_json(),
        }


@dataclass(frozen=True)
class Seen:
    """What is known of a density by photos.

    Attributes
    ----------
    spots : int
    low, high : WeedLoss or None
        At the ends of the mean's interval; None with a single spot.
    grass : bool
        The weed is a grass, which photos tell from the crop badly.
    alike : bool
        All spots have the same, so that the interval is that of chance alone.
    """

    spots: int
    low: WeedLoss | None = None
    high: WeedLoss | None = None
    grass: bool = False
    alike: bool = False

    @property
    def loss_text(self) -> str:
        """The loss at the ends of the mean's interval; empty where there is none."""
        if self.low is None or self.high is None:
            return ""
        if self.high.none_to is not None:
            return self.high.loss_text
        return _between(self.low.low, self.high.high, self.high.low, digits=2)

    @property
    def words(self) -> str:
        """How far to trust it."""
        lines = ["the density is that of all other plants in the photos, not calibrated"]
        if self.spots == 1:
            lines.append("one spot says nothing about the rest of the field")
        if self.low is not None and self.high is not None:
            ends = (self.low.per_m2, self.high.per_m2)
            us = " to ".join(number_text(per_ft2(end)) for end in ends)
            metric = " to ".join(map(number_text, ends))
            loss = (
                self.loss_text if self.high.none_to is not None else f"loss then {self.loss_text}"
            )
            by = (
                f"by chance alone, for all {self.spots} spots have the same"
                if self.alike
                else f"by how much the {self.spots} spots differ"
            )
            lines.append(
                f"{by}, their mean may lie anywhere from {us} per ft² ({metric} per m²), {loss}"
            )
        if self.grass:
            lines.append(
                "a grass can be missed or counted as crop: better count it by hand and type its "
                "density"
            )
        return "; ".join(lines)

    def to_json(self) -> dict[str, Any]:
        """As plain values: density and loss at the ends."""
        if self.low is None or self.high is None:
            return {"spots": self.spots, "per_m2": None, "loss_percent": None}
        return {
            "spots": self.spots,
            "per_m2": [self.low.per_m2, self.high.per_m2],
            "loss_percent": [self.low.low, self.high.high],
        }


def _between(low: float, high: float | None, least: float | None = None, *, digits: int = 3) -> str:
    """``least`` is what print still gives where its figures end, at the upper end."""
    first = f"{low:.{digits}g}"
    if high is None:
        least = low if least is None else least
        if not least:
            return "not known at this density"
        return f"{f'between {first} and ' if low < least else ''}{least:.{digits}g} % or more"
    if low == high:
        return f"about {first} %" if low else "none"
    return f"between {first} and {high:.{digits}g} %"


def _none(to_per_m2: float) -> str:
    return f"no loss in print up to {to_per_m2:g}/m²"


def _by_photo(per_m2: float) -> str:
    return f"about {number_text(per_ft2(per_m2))} per ft² ({number_text(per_m2)} per m²)"


def weed_loss(species: str, per_m2: float) -> WeedLoss:
    """Loss in print for a species at a density.

    Between printed densities the loss lies between the printed losses; beyond the last it is that
    "or more": nothing is extrapolated.

    Raises
    ------
    InputError
        A species without a figure in print, or a density below 0.
    """
    name = " ".join(species.lower().split())
    name = _ALSO.get(name, name)
    if name not in SPECIES:
        raise InputError(
            f"no loss in print for {species!r}; known: {', '.join(SPECIES)}. Ask a local adviser"
        )
    if per_m2 < 0:
        raise InputError(f"{per_m2:g} weeds per m² can't be; give 0 or more")
    printed = SPECIES[name]
    if printed.line_percent_per_m2 is not None:
        if per_m2 > printed.line_to:
            most = printed.line_percent_per_m2 * printed.line_to
            return WeedLoss(name, per_m2, most, None, f"print ends: {printed.note}")
        lost = printed.line_percent_per_m2 * per_m2
        return WeedLoss(name, per_m2, lost, lost, printed.note)
    below, low = 0.0, 0.0
    for at, lost in printed.points:
        if lost == 0.0 and per_m2 <= at:
            return WeedLoss(name, per_m2, 0.0, 0.0, _none(at), none_to=at)
        if per_m2 == at and not printed.more:
            return WeedLoss(name, per_m2, lost, lost, printed.note or "as printed")
        if per_m2 < at:
            why = f"in print are {below:g}/m² with {low:g} % and {at:g}/m² with {lost:g} %"
            if not below:
                why = f"in print is only {printed.note or f'{at:g}/m² with {lost:g} %'}"
            return WeedLoss(name, per_m2, low, None if printed.more else lost, why)
        below, low = at, lost
    return WeedLoss(name, per_m2, low, None, printed.note or f"print ends at {below:g}/m²")
