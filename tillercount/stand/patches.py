"""A field whose spots differ so much that its mean speaks for no part of it."""

from __future__ import annotations

from tillercount.field.estimate import FieldEstimate
from tillercount.names import first_few
from tillercount.stand.cautions import Advice
from tillercount.stand.classify import Classified, in_unit
from tillercount.stand.words import join

__all__ = ["TOO_UNEVEN", "odd_part", "patches", "too_uneven"]

TOO_UNEVEN = 0.6
"""From this spot-to-spot CV on the mean speaks for no part of a field: a convention of our own. A
published poor stand has some 45 % (`tillercount.field.estimate`)."""

_NAMED = 4
"""Bare spots named one by one."""


def patches(field: FieldEstimate, decided: Classified) -> list[Advice]:
    """What comes before any other advice, as one or none."""
    why = too_uneven(field, decided)
    if why is None or (decided.held is not None and decided.held.counts):
        return []
    return [
        Advice(
            f"Spots differ too much for one verdict ({why}): judge the "
            f"{odd_part(field, decided)} part by itself (zones).",
            "",
        )
    ]


def odd_part(field: FieldEstimate, decided: Classified) -> str:
    """"thin", or "thick" where the thin part is most of the field: more than half of the spots lie
    so far below the mean that a few pull it up."""
    name = f"{decided.rule.measures}_per_m2"
    have = [in_unit(v, decided.rule) for s in field.entered(decided.rule.measures)
            if (v := getattr(s, name)) is not None]  # fmt: skip
    below = sum(value < decided.mean for value in have)
    above_twice = any(value >= 2 * decided.mean for value in have)
    return "thick" if 2 * below > len(have) and above_twice and 0 not in have else "thin"


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
