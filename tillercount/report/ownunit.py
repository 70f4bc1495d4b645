"""A rule's lines in the unit that their publisher drew them in, with the page's unit behind.

18 plants per square foot are 194 per m² only by reckoning: whoever looks the rule up finds 18.
Lines are given by their paths in the record, such as ``evidence/0/bands/1/from``.
"""

from __future__ import annotations

from collections.abc import Sequence

from tillercount.report.language import Line, Shown, Speaker

__all__ = ["line_of", "lines_per", "lines_unit", "own_unit"]


def lines_per(speak: Speaker, at: str) -> str:
    """``per_ft2`` or ``per_m2``: the unit of the lines at a path of the evidence."""
    return str(speak.record["evidence"][int(at.split("/")[1])]["lines_per"])


def line_of(speak: Speaker, at: str) -> Shown:
    """A line as its publisher has it."""
    return speak.at(f"{at}/{lines_per(speak, at)}", "density")


def own_unit(speak: Speaker, at: str) -> str:
    """The publisher's unit in words."""
    return speak.words[f"unit.{lines_per(speak, at)}"]


def lines_unit(speak: Speaker, lines: Sequence[str]) -> Line:
    """The unit to follow lines in a sentence: "per ft²", or "per ft² (193.8, 290.6 per m²)"."""
    own, page = own_unit(speak, lines[0]), speak.words[f"unit.{speak.per}"]
    if own == page:
        return (own,)
    return speak.say("unit.behind", own=own, lines=_on_page(speak, lines), other=page)


def _on_page(speak: Speaker, lines: Sequence[str]) -> Line:
    shown: list[Line] = [(speak.at(f"{line}/{speak.per}", "density"),) for line in lines]
    return speak.joined(shown, "verdict.comma")
