"""A field whose spots differ so much that its mean speaks for no part of it."""

from __future__ import annotations

from tillercount.field.estimate import FieldEstimate
from tillercount.names import first_few
from tillercount.stand.cautions import Advice
from tillercount.stand.classify import Classified, in_unit
from tillercount.stand.words import join

__all__ = ["TOO_UNEVEN", "patches", "too_uneven"]

TOO_UNEVEN = 0.6
"""From this spot-to-spot CV on the mean speaks for no part of a field: a convention of our own. A
published poor stand has some 45 % (`tillercount.field.estimate`)."""

_NAMED = 4
"""Bare spots named one by one."""


def patches(field: FieldEstimate, decided: Classified) -> list[Advice]:
    """What comes before any other advice, as one or none."""
    why = too_uneven(field, decided)
    if why is None:
        return []
    return [
        Advice(
            f"Spots differ too much for one verdict ({why}): judge the thin part by itself "
            "(zones).",
            "",
        )
    ]


def too_uneven(field: FieldEstimate, decided: Classified) -> str | None:
    """Why the mean speaks for no part of the field, or None.

    Said where spots lie on both sides of a border of the rule, and either their CV is too high or
    nothing stands at one of them while another is above the first border. Spots that differ
    wildly but all call for the same are no reason: the verdict is the same everywhere.
    """
    what = decided.rule.measures
    cv = decided.estimate.cv if decided.estimate is not None else None
    have = [
        (spot.spot, value)
        for spot in field.entered(what)
        if (value := getattr(spot, f"{what}_per_m2")) is not None
    ]
    borders = decided.rule.borders
    places = {
        sum(in_unit(value, decided.rule) >= border for border in borders) for _, value in have
    }
    if len(places) < 2:
        return None
    bare = [name for name, value in have if value == 0]
    why = []
    if cv is not None and cv >= TOO_UNEVEN:
        why.append(f"spot-to-spot CV {cv:.0%}")
    if bare:
        named = join(bare) if len(bare) <= _NAMED else first_few(bare, _NAMED)
        why.append(f"no {what} at spot{'s' if len(bare) > 1 else ''} {named}")
    return "; ".join(why) or None
