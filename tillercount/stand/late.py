"""Nitrogen from just before jointing on: what is in print on how late it pays, and what to mind."""

from __future__ import annotations

from typing import Literal

from tillercount.stand.cautions import Advice
from tillercount.stand.stage import Stage

__all__ = [
    "LAST_USEFUL",
    "if_it_stays",
    "late_lines",
    "late_undecided",
    "lateness",
    "past_use",
    "too_late",
]

UPTAKE_ENDS = 10.0
"""Feekes stage up to which the crop takes nitrogen up (common practice)."""
LAST_USEFUL = 6.0
"""Feekes stage that the University of Delaware calls about the last useful time."""

_LAST = "the last useful time is about Feekes 6 (University of Delaware)"
_DUE = f"put on what is still due at once where the ground carries you; {_LAST}."
_ASK = "Ask a local adviser whether a pass pays, and at what rate."


def too_late(stage: Stage) -> str:
    """That nitrogen to make tillers comes too late, from Feekes 5 on, without a full stop."""
    since = "has jointed" if stage.jointed else "is about to joint"
    return f"The crop {since}: early nitrogen to make tillers comes too late"


def past_use(stage: Stage | None) -> bool:
    """Whether the crop is past the last stage that print calls useful, by the later side."""
    return stage is not None and stage.feekes[1] > LAST_USEFUL


def lateness(stage: Stage | None) -> Literal["", "due", "over"]:
    """What a stage leaves of the choice when nitrogen goes on, by its later side."""
    if past_use(stage):
        return "over"
    return "due" if stage is not None and stage.past_tillers else ""


def late_lines(stage: Stage, *, may_go: bool = False) -> tuple[str, ...]:
    """What to know of nitrogen once the crop has jointed or is about to.

    ``may_go``: it isn't decided that the stand stays, so nothing is ordered without an "if".

    Sources: Ohio State University, C.O.R.N. 2023-07 (any time up to Feekes 6 without loss of
    yield) and in the press 2017 (before Feekes 7, Tri-State 1995 edition); University of Delaware
    (about Feekes 6). No response at Feekes 7 to 9 was found in print; uptake and tracks are common
    practice.
    """
    if not past_use(stage):
        due = f"If the stand stays, {_DUE}" if may_go else f"{_DUE[0].upper()}{_DUE[1:]}"
        return f"{too_late(stage)} and is no longer part of the plan.", due
    past = ", which is past" if stage.feekes[0] > UPTAKE_ENDS else ""
    return (
        f"{stage.words} is late for nitrogen. In print, yield isn't lost up to Feekes 6 (Ohio "
        "State University 2023) or until just short of Feekes 7 (the same, 2017), and about "
        "Feekes 6 is the last useful time (University of Delaware).",
        "What a pound still brings so late isn't in the publications read here: the crop takes "
        f"nitrogen up until Feekes 10 (common practice){past}, so don't count on the yield goal "
        f"any more. {_ASK}",
        "Wheels break jointed stems, and those don't grow again: keep to tracks that are there, "
        "and set the loss against the gain (common practice).",
    )


def if_it_stays(stage: Stage) -> Advice:
    """What to do for a class that is worth keeping, beside one that may not be."""
    if past_use(stage):
        return Advice(_ASK, "common practice")
    return Advice("Put on what is still due now, where the ground carries you.", _LAST)


def late_undecided(stage: Stage) -> tuple[str, ...]:
    """What to know so late where it isn't decided what the stand is, or whether it stays; nothing
    before Feekes 5."""
    if past_use(stage):
        return late_lines(stage)
    if not stage.past_tillers:
        return ()
    return (f"{too_late(stage)}. Settle without delay what is still due: {_LAST}.",)
