"""Hand counts that are there twice: under a date that a spreadsheet made of a spot's name, and
under that name, when the sheet was mended and given again."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

from tillercount.names import first_few, person_key, spot_key
from tillercount.spotdates import is_date, may_be

__all__ = ["Named", "twice_named", "twice_question"]


@dataclass(frozen=True)
class Named:
    """A count under a spot's name: who counted ("" where nobody is named), and all its figures."""

    spot: str
    observer: str
    figures: Hashable


def twice_named(counts: Iterable[Named]) -> list[tuple[Named, Named]]:
    """Pairs of counts that may be one: under a date, and under a name that it may have been.

    They are alike in their figures, and nobody else is named for one than for the other.
    """
    alike: dict[Hashable, list[Named]] = {}
    for count in counts:
        alike.setdefault(count.figures, []).append(count)
    found = []
    for group in alike.values():
        for dated in group:
            if len(group) == 1 or not is_date(dated.spot):
                continue
            key = spot_key(dated.spot)
            meant = may_be(dated.spot, [one.spot for one in group if spot_key(one.spot) != key])
            own = (one for one in group if one.spot in meant and _one_person(one, dated))
            if (other := next(own, None)) is not None:
                found.append((dated, other))
    return found


def twice_question(pairs: Iterable[tuple[Named, Named]]) -> str:
    """Whether those are one count each, in one sentence without its full stop."""
    said = [f"{dated.spot!r} and {own.spot}" for dated, own in pairs]
    spots = "spots" if len(said) == 1 else "pairs of spots"
    many = "" if len(said) == 1 else f"{len(said)} "
    return (
        f"{many}{spots} have the same figures by hand, and one name is a date, as spreadsheets "
        f"make of the other ({first_few(said, between='; ')}): one sheet given twice, before and "
        "after its names were mended? Then each of these places counts double"
    )


def _one_person(one: Named, other: Named) -> bool:
    by = {person_key(count.observer) for count in (one, other)} - {""}
    return len(by) < 2
