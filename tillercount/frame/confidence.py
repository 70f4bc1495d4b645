"""How sure a fit is, and how to say that it isn't."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from tillercount.area import HoopArea, RectArea, RowArea, SquareArea
from tillercount.frame.result import FrameNotFound
from tillercount.frame.settling import LEAST_PLACES
from tillercount.frame.side import Side

__all__ = [
    "BY_HAND",
    "LEAST_CONFIDENCE",
    "MOST_MISFIT",
    "doubts_of",
    "name_of",
    "share_of_misfit",
    "shown_ring",
    "shown_sides",
    "unsure",
]

LEAST_CONFIDENCE = 0.6
"""Below this a fit is refused."""
MOST_MISFIT = {"quad": 3.7, "hoop": 3.0}
"""Cost per reading of both edges of a whole frame, where the best frame lies, from which on it is
refused; clean edges leave 0.5 to 0.8. Of 369 good squares and rectangles among development scenes
four have more, and of 26 wrong ones eight; of 512 good hoops none, and of 13 wrong ones three."""
AGAIN = 1.5
"""How much more a misfit weighs where other starts in the same photo led to rings that weren't
whole: of many tries one passes by chance, but not one that fits cleanly. Of five such hoops on
rendered scenes three were wrong by 2 to 5 %, with a misfit of 2.3 to 2.7; the two good ones had
1.1 and 1.8."""
UNCHECKED = 3.0
"""How much more a misfit weighs where a side shows too few places to take part in the fit: it lies
where the other three put it, and what those are off by is seen nowhere else. Doubt then begins a
little above what clean edges leave. Of six such squares and rectangles among rendered scenes the
four that were wrong, by 2 to 9 %, had a misfit of 1.3 to 2.5; the good ones had 0.8 and 1.6.
"""
HIDDEN_TOLD = 0.35
"""Share of the frame under leaves from which a refusal mentions it."""
BY_HAND = "or give the corners by hand with --corners"
"""Offered only where a frame was seen and isn't sure: where none was seen, or one of another shape
or size than was given, or all is blurred, corners by hand help nobody."""


def name_of(area: SquareArea | RectArea | HoopArea | RowArea) -> str:
    return {"square": "square", "rect": "rectangle", "hoop": "hoop", "row": "row stick"}[area.kind]


def doubts_of(
    *,
    presence: float,
    certainty: float,
    seen: float,
    missing: float,
    residual: float,
    bent: float,
    overlap: float = 1.0,
    pipe_inside: float = 0.0,
    least_seen: float = 1.0,
    width_ratio: float = 1.0,
    area_unsure: float = 0.0,
    misfit: float = 0.0,
    lift: float = 0.0,
    shown: float = 0.0,
    sides_shown: float = 0.0,
) -> dict[str, float]:
    """What is left of the confidence after each doubt, 0 to 1.

    ``residual`` in cells of the finder's map; ``overlap`` of the outline with the finder's own
    inside; ``least_seen`` share seen of the side seen least; ``width_ratio`` of the widest side
    to the narrowest; ``pipe_inside`` mean probability of pipe just inside the outline;
    ``area_unsure`` typical error of the area while pipe or lath can't be told, of the area: up to
    3 % it doesn't count (by judgement). ``misfit`` how badly all edges together fit any frame of
    this shape and size, of what is too much (see `MOST_MISFIT`), however clean each is by itself.
    ``lift`` of one pair of pipes over the other, of their width: no pipe lies higher than that on
    another of its kind; of some 390 squares and rectangles that had been accepted all five above 1
    were wrong, and the highest good one had 0.88. ``sides_shown``, 0 to 1, see `shown_sides`: it
    leaves no more doubt than that about ``least_seen`` and ``width_ratio``. ``shown``, 0 to 1: how
    much of a shape that nothing else has the photo's own edges show (see `shown_ring`); the
    finder's ``certainty`` and ``overlap`` then leave no more doubt than that.

    The steps of ``least_seen``, ``width_ratio`` and ``bent``, and `LEAST_CONFIDENCE`, were set
    with earlier weights of the finder on 114 rendered scenes, blurred, faded or made noisy. Those
    of ``overlap`` and ``pipe_inside`` are of development scenes with newer weights: there fits
    that overlap the truth by more than 0.98 agree with the finder's own inside by 0.71 and more,
    for leaves blur it, but have no more than 0.12 of pipe within, and an outline at the pipe's
    outer rim has 0.6. The other steps were set by judgement. Of the 186 squares, rectangles and
    hoops accepted on those scenes, the worst overlaps by 0.966. The product ranks fits; it isn't
    a measured probability.
    """
    return {
        "presence": _step(presence, 0.3, 0.8),
        "certainty": max(shown, _step(certainty, 0.6, 0.85)),
        "seen": _step(seen, 0.1, 0.5),
        "missing": 1 - _step(missing, 0.25, 0.6),
        "residual": 1 - _step(residual, 0.4, 1.2),
        "bent": 1 - _step(bent, 0.6, 1.6),
        "overlap": max(shown, _step(overlap, 0.5, 0.75)),
        "pipe_inside": 1 - _step(pipe_inside, 0.15, 0.45),
        "least_seen": max(sides_shown, _step(least_seen, 0.0, 0.4)),
        "width_ratio": max(sides_shown, 1 - _step(width_ratio, 1.25, 1.6)),
        "area_unsure": 1 - _step(area_unsure, 0.03, 0.06),
        "misfit": 1 - _step(misfit, 0.75, 1.35),
        "lift": 1 - _step(lift, 0.85, 1.25),
    }


def shown_ring(coverage: float, seen: float) -> float:
    """How surely the photo's own edges show a ring, 0 to 1: see `doubts_of`.

    ``coverage`` share of all directions in which both edges of a pipe lie on one ellipse, and
    ``seen`` share of the places looked at. Leaves that blur the finder's idea of the inside don't
    bend a ring that is seen all around. Steps of development scenes of even seed: of four hoops
    refused for the finder's doubt there the two with a coverage of 0.84 and more overlap the truth
    by 0.997 and 0.999, the two with less by 0.96 and 0.99. Two more of odd seed are accepted by it,
    with 0.987 and 0.988; of 211 frame-free photos none showed a ring.
    """
    return _step(coverage, 0.75, 0.85) * _step(seen, 0.6, 0.75)


def share_of_misfit(
    misfit: float, shape: str, rings_refused: int = 0, sides: Sequence[Side] = ()
) -> float:
    """A misfit (cost per reading) as a share of what is too much, see `doubts_of`.

    ``shape`` as in `MOST_MISFIT`; ``rings_refused`` rings that other starts led to; ``sides`` of a
    square or rectangle.
    """
    unchecked = any(len(side.inner) < LEAST_PLACES for side in sides)
    weight = UNCHECKED if unchecked else AGAIN if rings_refused else 1.0
    return misfit / MOST_MISFIT[shape] * weight


def shown_sides(misfit: float, sides: Sequence[Side]) -> float:
    """How surely the photo's own edges show a square or rectangle, 0 to 1: see `doubts_of`.

    ``misfit`` cost per reading of all edges together. Where both edges of all four sides lie as
    those of one frame do, a side that shows little of itself, or is read wider here and there,
    isn't in doubt; a side that isn't seen says nothing.
    """
    if any(side.state != "seen" for side in sides):
        return 0.0
    seen = sum(side.seen for side in sides) / len(sides)
    return (1 - _step(misfit, 1.5, 2.2)) * _step(seen, 0.4, 0.55)


def _step(value: float, low: float, high: float) -> float:
    t = min(1.0, max(0.0, (value - low) / (high - low)))
    return t * t * (3 - 2 * t)


def unsure(
    area: SquareArea | RectArea | HoopArea | RowArea,
    doubts: dict[str, float],
    evidence: dict[str, Any],
) -> FrameNotFound:
    """Refuse, naming what weighs most against the fit.

    ``doubts`` are those of `doubts_of`; other words of `evidence` say how much of each there is.
    """
    what = name_of(area)
    worst = min(doubts, key=lambda name: doubts[name])
    again = "take the photo again, straight down"
    hidden = 1 - evidence.get("seen_share", 1.0)
    reasons = {
        "seen": (
            f"{hidden:.0%} of the {what} is hidden or can't be made out",
            "move the leaves off the frame",
        ),
        "least_seen": (
            f"one side of the {what} is nearly hidden",
            "move the leaves off that side",
        ),
        "missing": (
            f"{evidence.get('missing_share', 0.0):.0%} of the {what} lies outside the photo",
            "step back until the whole frame is in the photo",
        ),
        "bent": (_out_of_true(what, hidden, evidence), _leaves_or_frame(hidden)),
        "residual": (
            f"the edges of the {what} aren't clean lines in this photo",
            "move leaves off the frame, hold still, and take the photo again",
        ),
        "width_ratio": (
            f"the sides of the {what} seem to be of different width",
            "take the photo again without leaves or a shadow along the frame",
        ),
        "misfit": (
            f"the edges that can be made out don't lie as those of one {what} of this size do",
            f"move leaves and litter off the frame, keep shadows off it, and {again}",
        ),
        "lift": (
            f"the sides that can be made out don't fit a {what}: one pair would have to lie "
            "higher above the other than it is thick",
            "check --area, move the leaves off the frame",
        ),
        "area_unsure": (
            f"it can't be told how high the {what} stands, and this close to it that matters",
            "take the photo again from higher up, without glaring light on the frame",
        ),
        "pipe_inside": (
            f"the outline that was found runs through the {what} itself, not along its inside",
            f"take the photo again without a shadow along the frame, or {again[5:]}",
        ),
        "overlap": (
            f"the outline that was found and what looks like the inside of the {what} don't agree",
            f"move leaves off the frame and {again}",
        ),
    }
    unclear = (
        f"what looks like a {what} in this photo isn't clear enough to count by it",
        f"{again}, with the whole frame in it",
    )
    reason, todo = reasons.get(worst, unclear)
    left = float(np.prod(list(doubts.values())))
    more = {"confidence": round(left, 3), "weighs_most": worst}
    return FrameNotFound(reason, f"{todo}, {BY_HAND}", evidence | more)


def _out_of_true(what: str, hidden: float, evidence: dict[str, Any]) -> str:
    if "skew_deg" not in evidence:
        return f"it isn't clear which row the {what} marks"
    skew, longer = abs(evidence["skew_deg"]), abs(math.log(evidence["stretch"]))
    out = [f"their corners are {skew:.0f}° off a right angle"] if skew >= 1.5 else []
    if longer >= 0.015:
        out.append(f"one pair is {math.expm1(longer):.0%} too long")
    said = f": {' and '.join(out)}" if out else ""
    leaves = f"; {hidden:.0%} of the frame is hidden" if hidden > HIDDEN_TOLD else ""
    return f"the sides that can be made out don't fit a {what}{said}{leaves}"


def _leaves_or_frame(hidden: float) -> str:
    if hidden > HIDDEN_TOLD:
        return "move the leaves off the frame, check that it is square"
    return "check that the frame is square and lies flat"
