"""What a screen says with something to type, and what paper says in its place.

Who reads a page has no keyboard before him: ``--area`` means nothing there. A caution is written
once, for the screen, and its part that names an option or a command stands here beside the words
for paper. `on_paper` puts them in wherever a text goes onto a page.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

__all__ = [
    "AREA_SAYS", "BY_SIZE", "CHECK_DATE", "CHECK_DATE_AND_WEATHER", "CURRENCY", "DRILL_ROWS",
    "FORMS", "FRAME_AND_SIZE", "LOST_MINUS", "NO_GOAL", "NO_RULES", "NO_STAGE", "OTHER_RULES",
    "ROW_SPACING", "RULES_THERE", "SIZE", "SIZE_BESIDE_FRAME", "SIZE_MAY_BE", "TAKE_OUT", "WEED",
    "WEED_AND_DENSITY", "WHICH_CASE", "TwoForms", "as_sentence", "on_paper", "record_on_paper",
]


@dataclass(frozen=True)
class TwoForms:
    """The same part of a sentence for a screen and for paper."""

    screen: str
    page: str


SIZE = TwoForms("the size in --area and its unit", "the size that was given, and its unit")
LOST_MINUS = TwoForms(
    "was lost: write it, or W behind the degrees (-97.20 or 97.20W); if it does lie there, E "
    "behind them says so (97.20E)",
    "was lost, and this map is of another place",
)
FRAME_AND_SIZE = TwoForms(
    "measure the frame's inside and check --area",
    "measure the frame's inside and check the size that was given",
)
ROW_SPACING = TwoForms(
    "the row spacing in --area and its unit", "the row spacing that was given"
)
DRILL_ROWS = TwoForms(
    "give --row-spacing with what your drill has", "compare with the rows that your drill sows"
)
SIZE_MAY_BE = TwoForms("the size in --area may be", "the size that was given may be")
BY_SIZE = TwoForms("by the size in --area, and", "by the size that was given, and")
SIZE_BESIDE_FRAME = TwoForms(
    "the number and the unit in --area against the frame",
    "the size that was given, and its unit, against the frame",
)
NO_RULES = TwoForms("no --rules given, so", "no rules were chosen, so")
OTHER_RULES = TwoForms(
    "elsewhere choose others (tillercount rules list)", "elsewhere others have to be chosen"
)
RULES_THERE = TwoForms(
    "rules for there or next to it: tillercount rules compare SOURCES --region",
    "there are rules published for",
)
WHICH_CASE = TwoForms("say which holds (tillercount nitrogen --case)", "say which holds")
NO_GOAL = TwoForms(
    "No pounds without a yield goal; give one like --yield-goal '80 bu/ac'.",
    "No pounds of nitrogen can be said without a yield goal.",
)
NO_STAGE = TwoForms(
    "give --stage for the windows of herbicides",
    "when a herbicide may be used hangs on the growth stage, which wasn't given",
)
WEED_AND_DENSITY = TwoForms(
    "name the weed with its density, like --weed 'henbit=40/m2', for its loss in print",
    "find out which weed it is and count it, since losses in print go by both",
)
WEED = TwoForms(
    "name the weed with --weed for its loss in print",
    "find out which weed it is, since losses in print go by that",
)
CHECK_DATE = TwoForms("check --visited", "check that date")
CHECK_DATE_AND_WEATHER = TwoForms(
    "check --visited and --weather", "check that date and the weather file"
)
CURRENCY = TwoForms(
    "costs are of these amounts, in the currency of --price",
    "costs are of these amounts, in the currency of the price",
)
AREA_SAYS = TwoForms("but --area says", "but the size that was given is")

TAKE_OUT = TwoForms(
    "take out the wrong one (of a season: tillercount season remove, with --photo) or put it to "
    "its spot (tillercount season assign)",
    "take out the wrong one or put it to the spot that it is of",
)

FORMS = (
    SIZE,
    FRAME_AND_SIZE,
    NO_RULES,
    OTHER_RULES,
    RULES_THERE,
    WHICH_CASE,
    NO_GOAL,
    NO_STAGE,
    WEED_AND_DENSITY,
    WEED,
    CHECK_DATE_AND_WEATHER,
    CHECK_DATE,
    CURRENCY,
    LOST_MINUS,
    TAKE_OUT,
    # of photos that were flagged or refused
    ROW_SPACING,
    SIZE_BESIDE_FRAME,
    AREA_SAYS,
    DRILL_ROWS,
    SIZE_MAY_BE,
    BY_SIZE,
)
"""The longer before the shorter that it holds."""


@functools.cache
def _pattern(form: TwoForms) -> re.Pattern[str]:
    """Its first letter may be a capital at the beginning of a sentence."""
    first = form.screen[0]
    return re.compile(f"(?P<first>[{first}{first.upper()}]){re.escape(form.screen[1:])}")


def on_paper(text: str) -> str:
    """A text as it stands on a page: without options and commands that nobody can type there."""
    for form in FORMS:

        def put(found: re.Match[str], form: TwoForms = form) -> str:
            capital = found["first"].isupper()
            return f"{form.page[0].upper()}{form.page[1:]}" if capital else form.page

        text = _pattern(form).sub(put, text)
    return text


def record_on_paper(value: Any, *, but: frozenset[str] = frozenset()) -> Any:
    """Every text of a record as it stands on a page; what is under the keys ``but`` stays."""
    if isinstance(value, str):
        return on_paper(value)
    if isinstance(value, Mapping):
        return {
            key: one if key in but else record_on_paper(one, but=but) for key, one in value.items()
        }
    if isinstance(value, list | tuple):
        return type(value)(record_on_paper(one, but=but) for one in value)
    return value


def as_sentence(text: str) -> str:
    """With a capital and one full stop; nothing stays nothing."""
    return f"{text[0].upper()}{text[1:].rstrip('.')}." if text else ""
