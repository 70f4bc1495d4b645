"""What photos' over-count of plants may mean for a verdict.

From above one can't always see which shoots hang together. On pictures that the project's own
renderer didn't make, plants came out some 25 % too many at worst (12 photos of another renderer:
+24 %; 31 real photos against readings by eye, of plots never trained on: +4 %; see the model's
card). The interval knows only a part of it, so the border that it could cross is named. On the
project's own scenes stands of over 30 plants/ft² came out 17 % too few (89 of 699 photos), those
under 12 plants/ft² 28 % too many (244).
"""

from __future__ import annotations

from tillercount.field.estimate import FieldEstimate
from tillercount.stand.cautions import Advice
from tillercount.stand.classify import Classified
from tillercount.stand.words import join, number_text

__all__ = ["OVERCOUNT", "OVERCOUNT_BY", "crossed", "overcount"]

OVERCOUNT = (1.04, 1.24)
"""Photo count over true count on such pictures: nearly right to a quarter too many."""

OVERCOUNT_BY = "the model's card, other renderer and real photos"


def crossed(plants: Classified) -> list[float]:
    """Borders between classes, in the rule's unit, that lie between the count and the truth."""
    low = plants.mean / OVERCOUNT[1]
    return [border for border in plants.rule.class_borders if low < border <= plants.mean]


def overcount(field: FieldEstimate, plants: Classified | None) -> Advice | None:
    """The caution, where photos without hand counts beside them drive the plants; else None."""
    by_photo = [s for s in field.used if s.ways.get("plants") == "photo"]
    if not by_photo or field.paired or field.plants is None:
        return None
    said = (
        "Photo counts of plants can be some 25 % too many, most so where tillers are many, and in "
        "thick stands a fifth too few; dig some spots and give them as hand counts."
    )
    if plants is not None and len(by_photo) == field.plants.n:
        ends = [number_text(plants.mean / times) for times in reversed(OVERCOUNT)]
        borders = crossed(plants)
        unit = "square foot" if plants.rule.unit == "ft2" else "square meter"
        if borders:
            names = join([f"{border:g}" for border in borders])
            plural = "s" if len(borders) > 1 else ""
            said += (
                f" Then {number_text(plants.mean)} per {unit} would be {ends[0]} to {ends[1]}, "
                f"across or near the border{plural} of {names}."
            )
    return Advice(said, OVERCOUNT_BY)
