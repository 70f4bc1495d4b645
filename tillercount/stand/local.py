"""Thresholds that hold only with something known of the field itself.

Ontario's are per foot of row, without the row spacing they were found at; Kansas's and South
Dakota's are percent of a normal stand. They become a density only with the field's own row spacing
or normal stand, so they keep their unit until that is given, and are refused without it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from tillercount.stand.bands import UNIT_WORDS, Rule
from tillercount.stand.ruleset import RuleSet
from tillercount.units import MM_PER_FT, MM_PER_IN, density_per_m2, length_mm, per_ft2

__all__ = ["Local", "NeedsLocal", "localise", "parse_local", "per_area"]

FT2_PER_YD2 = 9.0


class NeedsLocal(ValueError):
    """The rule can't be used before something is said about the field; the message says what."""


@dataclass(frozen=True)
class Local:
    """What is true of one field: its row spacing (mm), and what a normal stand is (plants/m²)."""

    row_spacing_mm: float | None = None
    normal_per_m2: float | None = None


def parse_local(text: str) -> Local:
    """Row spacing (``7.5in``) or normal stand (``25/ft2``) as typed behind a rule set's name.

    Raises
    ------
    InputError
        Neither a length nor a density.
    """
    if "/" in text.replace("1/2", "") or re.search(r"\bper\b", text):
        return Local(normal_per_m2=density_per_m2(text, what="normal stand"))
    return Local(row_spacing_mm=length_mm(text, what="row spacing"))


def per_area(rule: Rule, local: Local | None = None) -> Rule:
    """The rule with its borders per ft² or m²; rules that have them so come back as they are.

    Raises
    ------
    NeedsLocal
        The row spacing or the normal stand isn't known.
    """
    local = local or Local()
    if rule.unit in ("ft2", "m2"):
        return rule
    if rule.unit == "yd2":
        return _times(rule, 1.0 / FT2_PER_YD2, "9 square feet to the square yard")
    if rule.unit == "ft of row":
        if local.row_spacing_mm is None:
            raise NeedsLocal(
                "thresholds are per foot of row and the page doesn't say for which row spacing; "
                "give this field's row spacing"
            )
        inches = local.row_spacing_mm / MM_PER_IN
        return _times(rule, MM_PER_FT / local.row_spacing_mm, f"rows {inches:.4g} in apart")
    if local.normal_per_m2 is None:
        raise NeedsLocal(
            "thresholds are percent of a normal stand; say what a normal stand is here"
        )
    normal = per_ft2(local.normal_per_m2)
    return _times(rule, normal / 100.0, f"a normal stand of {normal:.4g} per ft²")


def localise(rules: RuleSet, local: Local) -> RuleSet:
    """The rule set with every rule per area that what is known of the field allows."""
    out = []
    for rule in rules.rules:
        try:
            out.append(per_area(rule, local))
        except NeedsLocal:
            out.append(rule)
    return rules.model_copy(update={"rules": tuple(out)})


def _times(rule: Rule, factor: float, why: str) -> Rule:
    bands = tuple(
        band if band.to is None else band.model_copy(update={"to": round(band.to * factor, 9)})
        for band in rule.bands
    )
    printed = ", ".join(f"{border:g}" for border in rule.borders)
    note = f"Printed {UNIT_WORDS[rule.unit]}, borders {printed}; turned to per ft² with {why}."
    joined = f"{rule.note} {note}".strip()
    return rule.model_copy(update={"unit": "ft2", "bands": bands, "note": joined})
