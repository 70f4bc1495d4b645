"""Photos taken once the crop heads: no rule set here asks for a count from above so late."""

from __future__ import annotations

from tillercount.field.estimate import FieldEstimate
from tillercount.stand.classify import Hold
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.stage import Stage

__all__ = ["HEADING", "NO_YIELD", "heading_hold", "heads_hide"]

HEADING = 10.0
"""Feekes stage from which the canopy is closed and heads come: in the boot (GS41, BBCH) the flag
leaf is on top (common practice). The counter was trained up to the end of tillering
(``models/card.md``)."""
NO_YIELD = (
    "no yield is told from photos of a heading crop: shoots in photos so late aren't those of "
    "spring"
)


def heads_hide(stage: Stage | None, field: FieldEstimate) -> bool:
    """Whether photos of a heading crop are among what was counted, by the later side."""
    late = stage is not None and stage.feekes[1] >= HEADING
    return late and any("photo" in spot.ways.values() for spot in field.used)


def heading_hold(
    rules: RuleSet, stage: Stage | None, field: FieldEstimate, what: str
) -> Hold | None:
    """Why photos of a heading crop settle nothing; None where the mean rests on hand counts."""
    photos = any(spot.by(what) == "photo" for spot in field.entered(what))
    if stage is None or not photos or not heads_hide(stage, field):
        return None
    return Hold(
        f"at {stage.words} a photo from above shows heads and flag leaves, not the {what} that "
        f"these rules ask for at {rules.stage.from_} to {rules.stage.to}",
        f"Dig and count {what} by hand instead (or correct the stage, if it was mistyped), and "
        "count heads in the marked areas: what the crop can still bring is told by them.",
    )
