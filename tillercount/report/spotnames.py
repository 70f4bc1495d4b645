"""The spots' own names beside their marks on the map, where there is room for them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tillercount.names import spot_key
from tillercount.report.drawing import PAPER, Drawing, Label, Look
from tillercount.report.language import Speaker

__all__ = ["LONGEST", "SIZE", "draw_names", "map_name", "placed_names"]

LONGEST = 4
"""Signs of a name that may stand on the map; longer ones would run into each other."""
SIZE = 9.0
"""Of the type, smaller than the letters in the marks."""
_SIGN = 0.6 * SIZE
"""Width of a sign, generously."""
_NORTH = 24.0
"""Kept free at the right, for the arrow."""
_TALL = 0.75 * SIZE

Box = tuple[float, float, float, float]


def map_name(spot: str) -> str | None:
    """A spot's name as the map has it ("spot_07" is 7); None where it is too long for it."""
    key = spot_key(spot)
    return key if 0 < len(key) <= LONGEST else None


def placed_names(
    marks: Sequence[tuple[float, float, float]],
    names: Sequence[str | None],
    width: float,
    height: float,
) -> Iterator[tuple[int, float, float]]:
    """For each name that has room: its mark's index, and the middle of its base line.

    Parameters
    ----------
    marks : (x, y, radius) of each mark on the drawing
    names : from `map_name`, in the same order
    width, height : of the room on the drawing
    """
    taken: list[Box] = [(x - r, y - r, x + r, y + r) for x, y, r in marks]
    for index, ((x, y, r), name) in enumerate(zip(marks, names, strict=True)):
        if name is None:
            continue
        half, tall = _SIGN * len(name) / 2, _TALL
        away = r + 2.0
        for mid, base in (
            (x + away + half, y + tall / 2),
            (x - away - half, y + tall / 2),
            (x, y - away),
            (x, y + away + tall),
        ):
            box = (mid - half, base - tall, mid + half, base)
            inside = box[0] >= 0 and box[1] >= 0 and box[2] <= width and box[3] <= height
            if inside and not any(_meet(box, other) for other in taken):
                taken.append(box)
                yield index, mid, base
                break


def draw_names(
    drawing: Drawing,
    speak: Speaker,
    marks: Sequence[tuple[float, float, float]],
    dots: Sequence[tuple[float, float, float]],
    height: float,
) -> None:
    """Names of the record's spots beside their marks, which are in the record's order.

    ``dots`` are the true places of marks that were moved apart, which stay in sight too.
    """
    named = [spot["map_name"] for spot in speak.record["map"]["spots"]]
    room = placed_names(
        [*marks, *dots], [*named, *(None for _ in dots)], drawing.width - _NORTH, height
    )
    for index, mid, base in room:
        half = _SIGN * len(named[index]) / 2
        # The paper behind it: hatching runs through the type otherwise.
        drawing.rect(mid - half, base - _TALL, 2 * half, _TALL, Look(PAPER, None))
        drawing.items.append(Label(mid, base, speak.at(f"map/spots/{index}/map_name"), SIZE))


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
