"""Windows by stage of herbicides; the label decides each.

A stage is a range, for a user or a scale may not know it better, and a window errs on the side that
spares the crop: it is shut as soon as the later side of the stage is past its end, and isn't open
before the earlier side has reached its start.
"""

from __future__ import annotations

from dataclasses import dataclass

from tillercount.stand.cautions import Advice
from tillercount.stand.stage import Stage
from tillercount.twoforms import NO_STAGE

__all__ = ["LABEL_DECIDES", "WINDOWS", "Window", "weed_windows", "windows_in_short"]

LABEL_DECIDES = "the label decides"


@dataclass(frozen=True)
class Window:
    """Stages at which a kind of herbicide is used, Feekes; ends included.

    ``first`` is None where print has only an end: such a window is never called open.
    """

    what: str
    first: float | None
    last: float
    words: str
    source: str

    def state(self, stage: Stage) -> str:
        """What this window is at a stage, as one of `STATES`."""
        early, late = stage.feekes
        if late > self.last:
            return TOO_LATE
        if self.first is None:
            return NO_START
        if late < self.first:
            return NOT_YET
        return OPEN if early >= self.first else DEPENDS


OPEN, NOT_YET, TOO_LATE = "open", "not yet", "too late"
DEPENDS = "depends, split plants and look"
NO_START = "not too late, the label says from when"
STATES = (OPEN, DEPENDS, NO_START, NOT_YET, TOO_LATE)
"""In the order to tell them."""

WINDOWS: tuple[Window, ...] = (
    Window(
        "dicamba", 1, 5, "from 2 leaves to jointing; at Feekes 6 it cut 80-bushel wheat to 20",
        "Kansas State University; Wisconsin reports",
    ),
    # Penn State prints Feekes 3 to before 6. Feekes 3 is still tillering (BBCH 22 to 28), which is
    # before what Kansas State calls safest; of the two the later start spares the crop.
    Window(
        "2,4-D", 4, 5,
        "safest after full tillering, here Feekes 4 (common practice; Penn State prints Feekes 3), "
        "and before jointing; labels go to boot",
        "Kansas State University; Penn State",
    ),
    # In print "not after Feekes 6"; shut from 6 on here, since dicamba, one of them, did its harm
    # there.
    Window(
        "other growth-regulator types", None, 5,
        "in print not after Feekes 6; here no later than dicamba, which is one of them",
        "Penn State; Wisconsin reports",
    ),
    Window("several sulfonylureas", None, 7, "to before Feekes 8", "Penn State"),
)  # fmt: skip


def weed_windows(stage: Stage) -> list[Advice]:
    """Which windows are open or shut at a stage; the label decides each."""
    return [
        Advice(f"{one.what}: {one.state(stage)} ({one.words}); {LABEL_DECIDES}", one.source)
        for one in WINDOWS
    ]


def windows_in_short(stage: Stage | None) -> Advice:
    """The same on one line, without what is in print of each; the label decides."""
    if stage is None:
        text = f"{NO_STAGE.screen}; {LABEL_DECIDES}"
        return Advice(text, "")
    by_state: dict[str, list[str]] = {state: [] for state in STATES}
    for one in WINDOWS:
        by_state[one.state(stage)].append(one.what)
    told = "; ".join(f"{state}: {', '.join(whats)}" for state, whats in by_state.items() if whats)
    sources = dict.fromkeys(part for one in WINDOWS for part in one.source.split("; "))
    return Advice(f"windows at {stage.words}: {told}; {LABEL_DECIDES}", "; ".join(sources))
