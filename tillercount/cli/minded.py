"""What to mind on the screen of an assessment: what weighs most, and how much more there is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tillercount.stand import Assessment

__all__ = ["minded"]

MOST = 5
"""Lines of a short screen, whose last line says how many more there are: a convention."""
FEWEST_FLAGS = 2
"""Of the field's own, however many lines are taken by what can hurt."""


def minded(result: Assessment, told: Sequence[str], explain: bool) -> tuple[list[str], int]:
    """Flags and cautions, each text once; how many more are left out.

    Flags come in the order of the assessment: what may turn the verdict over first. What can hurt
    (claim, nutrient plan, ground, label, adviser) is never left out; a page and a report have
    everything.
    """
    from tillercount.stand.cautions import GENERAL, PHOTOS_BY, in_brief
    from tillercount.stand.overcount import OVERCOUNT_BY
    from tillercount.stand.words import refused_line

    cautions = [one for one in result.verdict.cautions if one.text not in told]
    flags = [flag for flag in result.flags if flag not in told]
    if explain:
        return list(dict.fromkeys([*flags, *(one.line for one in cautions)])), 0
    # each photo is named below with its reason
    flags = [flag for flag in flags if not result.refused or flag != refused_line(result.refused)]
    # "dig some spots" is said where photos may count too many, so not once more
    dig = any(one.source == OVERCOUNT_BY for one in result.verdict.cautions)
    behind = [one for one in cautions if one in GENERAL or (dig and one.source == PHOTOS_BY)]
    good = [one for one in cautions if one not in behind and one.source == PHOTOS_BY]
    kept = in_brief([one for one in cautions if one not in behind and one not in good])
    flags = [flag for flag in flags if flag not in kept] + [one.brief for one in good]
    room = max(FEWEST_FLAGS, MOST - len(kept))
    if len(flags) == room + 1:  # nobody is sent elsewhere for one line
        room += 1
    left = len(flags[room:])
    return list(dict.fromkeys([*flags[:room], *kept])), left + len(behind)
