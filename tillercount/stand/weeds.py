"""Weeds: yield loss in print for a species that the user names, and windows by stage."""

from __future__ import annotations

from dataclasses import dataclass

from tillercount.errors import InputError
from tillercount.stand.cautions import Advice
from tillercount.stand.stage import Stage

__all__ = ["SPECIES", "WINDOWS", "WeedLoss", "Window", "weed_loss", "weed_windows"]

SOURCE = "University of Missouri, weed management in wheat, 2022"
LABEL_DECIDES = "the label decides"


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
_ALSO = {
    "chickweed": "common chickweed",
    "ryegrass": "italian ryegrass",
    "annual ryegrass": "italian ryegrass",
}


@dataclass(frozen=True)
class WeedLoss:
    """Loss of wheat yield, percent; ``high`` is None where print only says "or more"."""

    species: str
    per_m2: float
    low: float
    high: float | None
    why: str
    source: str = SOURCE

    @property
    def words(self) -> str:
        """The loss in words."""
        if self.high is None:
            loss = f"{self.low:g} % or more" if self.low else "not known at this density"
        elif self.low == self.high:
            loss = f"about {self.low:.3g} %" if self.low else "none"
        else:
            loss = f"between {self.low:g} and {self.high:g} %"
        return f"{self.species}, {self.per_m2:.3g}/m²: loss of wheat yield {loss} ({self.why})"


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
        if per_m2 == at and not printed.more:
            return WeedLoss(name, per_m2, lost, lost, printed.note or "as printed")
        if per_m2 < at:
            if lost == 0.0:
                return WeedLoss(name, per_m2, 0.0, 0.0, printed.note or "as printed")
            why = f"in print are {below:g}/m² with {low:g} % and {at:g}/m² with {lost:g} %"
            if not below:
                why = f"in print is only {printed.note or f'{at:g}/m² with {lost:g} %'}"
            return WeedLoss(name, per_m2, low, None if printed.more else lost, why)
        below, low = at, lost
    return WeedLoss(name, per_m2, low, None, printed.note or f"print ends at {below:g}/m²")


@dataclass(frozen=True)
class Window:
    """Stages at which a kind of herbicide or growth regulator is used, Feekes; ends included."""

    what: str
    first: float
    last: float
    words: str
    source: str


WINDOWS: tuple[Window, ...] = (
    Window(
        "dicamba", 1, 5, "from 2 leaves to jointing; at Feekes 6 it cut 80-bushel wheat to 20",
        "Kansas State University; Wisconsin reports",
    ),
    Window(
        "2,4-D", 3, 5,
        "after full tillering and before jointing is safest, Feekes 3 to before 6; labels go to "
        "boot",
        "Kansas State University; Penn State",
    ),
    Window("growth-regulator types", 1, 6, "not after Feekes 6", "Penn State"),
    Window("several sulfonylureas", 1, 7, "to before Feekes 8", "Penn State"),
    Window("other herbicides named beside them", 1, 8, "to before Feekes 9", "Penn State"),
    Window(
        "trinexapac-ethyl (growth regulator)", 4, 7,
        "best at GS30 to 32, of use to GS37; from the onset of stem elongation, before flag leaf",
        "Canada; Alabama extension",
    ),
)  # fmt: skip


def weed_windows(stage: Stage) -> list[Advice]:
    """Which windows are open or shut at a stage, by its later side; the label decides each."""
    out = []
    for one in WINDOWS:
        at = stage.feekes[1]
        state = "not yet" if at < one.first else "too late" if at > one.last else "open"
        out.append(Advice(f"{one.what}: {state} ({one.words}); {LABEL_DECIDES}", one.source))
    return out
