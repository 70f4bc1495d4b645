"""Hand counts of spots that a spreadsheet renamed: 1-2 became 2-Jan."""

from __future__ import annotations

from collections.abc import Sequence

from tillercount.datetwice import Named, twice_named, twice_question
from tillercount.field.oddrecords import record_text
from tillercount.field.spots import SpotDensity
from tillercount.names import first_few
from tillercount.spotdates import date_question, may_be

__all__ = ["counted_twice", "turned"]


def counted_twice(spots: Sequence[SpotDensity]) -> list[str]:
    """The question whether hand counts under a date are others' of the same list, in one line;
    else empty."""
    pairs = twice_named(
        Named(spot.spot, spot.observer, _figures(spot))
        for spot in spots
        if spot.source == "hand" and not spot.photo
    )
    if not pairs:
        return []
    return [
        f"{twice_question(pairs)}, and the field looks surer than it is: leave the file with the "
        "dates out; of a season, take out what brought them (tillercount season remove STORE "
        "--add N; season show STORE --log has the numbers) and add the mended sheet again"
    ]


def _figures(spot: SpotDensity) -> tuple[object, ...]:
    values = (spot.plants_per_m2, spot.shoots_per_m2, spot.area_m2)
    return (spot.definition, *(None if one is None else round(one, 6) for one in values))


def turned(spots: Sequence[SpotDensity]) -> list[str]:
    """The question whether hand counts under a date are of a photo's spot, in one line; else empty.

    Spots that have a hand count under their own name aren't meant.
    """
    counted = {spot.key for spot in spots if spot.source == "hand"}
    names = {
        spot.key: spot.spot
        for spot in spots
        if spot.source == "photo" and spot.key not in counted
    }
    dates = [
        spot
        for spot in spots
        if spot.source == "hand" and not spot.photo and may_be(spot.spot, names.values())
    ]
    if not dates:
        return []
    first = dates[0]
    row = f", row {first.row}" if first.row else ""
    others = [record_text(spot) for spot in dates[1:]]
    more = f" (and likewise {first_few(others)})" if others else ""
    question = date_question(first.spot, names.values(), "a photo is of")
    return [
        f"hand counts{row}: {question}{more}. As it stands it counts as another place than the "
        "photo's, and the field looks surer than it is. If it is another place, give that another "
        "name"
    ]
