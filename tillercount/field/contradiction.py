"""Photos and hand counts that can't both be right: not to be mixed into one mean.

Photos may be wrong by a fifth or a third; threefold is another kind of error: a size typed in the
wrong unit (2.54 times each way, 6.5 times the density), an area that isn't the one that was
counted, or tillers counted without main stems against shoots with them.
`tillercount.field.sameground` says how far apart is too far.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from tillercount.errors import InputError
from tillercount.field.density import mean_of_spots
from tillercount.field.merge import Pair, pairs_of
from tillercount.field.sameground import FOLD, cant_both_be, fold_apart, hardly_both
from tillercount.field.spots import SpotDensity
from tillercount.names import spot_text
from tillercount.rounding import figure
from tillercount.units import per_ft2

__all__ = ["contradictions"]

_CAUSES = (
    "Likely causes: the size or its unit in --area (in or cm?), the area column of the hand "
    "counts, another thing counted (tillers without main stems; see the definition column), or "
    "photos of another place that are called alike (look at them; what doesn't belong comes out). "
    "Correct what is wrong and count or enter it again, or assess one of the two alone"
)
_GONE = (
    ". If the plants are dead, or were dug out before the photo, leave those photos or spots out"
)


def contradictions(spots: Sequence[SpotDensity], level: float = 0.9) -> list[str]:
    """Flags for single spots that contradict each other.

    Raises
    ------
    InputError
        Photos and hand counts of the same spots, or without such of the field, differ three
        times on the whole.
    """
    flags: list[str] = []
    for what in ("plants", "shoots"):
        name = f"{what}_per_m2"
        have = [s for s in spots if getattr(s, name) is not None]
        pairs = pairs_of(have, what)
        if pairs:
            hand = math.fsum(p.hand for p in pairs) / len(pairs)
            photo = math.fsum(p.photo for p in pairs) / len(pairs)
            if cant_both_be(hand, photo, math.fsum(p.area_m2 for p in pairs)):
                of = f"the same {len(pairs)} spots" if len(pairs) > 1 else spot_text(pairs[0].spot)
                raise InputError(_said(what, of, hand, photo))
            flags += _of_spots(pairs, what)
            continue
        by = [
            mean_of_spots([s for s in have if s.source == source], what, level)
            for source in ("hand", "photo")
        ]
        hands_of, photos_of = by
        if hands_of is None or photos_of is None or not fold_apart(
            hands_of.mean, photos_of.mean, FOLD
        ):
            continue
        # a thin half of a field may well have a third of the other's: intervals must not meet
        if hands_of.high < photos_of.low or photos_of.high < hands_of.low:
            raise InputError(_said(what, "the same field", hands_of.mean, photos_of.mean))
    return flags


def _of_spots(pairs: Sequence[Pair], what: str) -> list[str]:
    """Of single spots: first those that are probably wrong, then those that can't be right."""
    doubted, wrong = [], []
    for pair in pairs:
        both = pair.hand, pair.photo
        said = (
            f"{spot_text(pair.spot)}: {figure(per_ft2(pair.photo), what)} {what} per ft² by photo "
            f"and {figure(per_ft2(pair.hand), what)} by hand"
        )
        if cant_both_be(*both, pair.area_m2):
            wrong.append(
                f"{said} can't both be right; check the area, its unit and what was counted there, "
                "and leave it out if its plants are dead or dug out"
            )
        elif hardly_both(*both, pair.area_m2):
            doubted.append(
                f"{said}, {max(both) / min(both):.1f} times: one of them is probably wrong; look "
                "at the photo, and count that spot again"
            )
    return doubted + wrong


def _said(what: str, of: str, hand: float, photo: float) -> str:
    low, high = sorted((hand, photo))
    times = f"{high / low:.1f} times" if low > 0 else "all against nothing"
    unit = " (6.5 times is what inches for centimetres make)" if 5 * low < high < 8.5 * low else ""
    return (
        f"photos and hand counts of {of} contradict each other: {figure(per_ft2(photo), what)} "
        f"{what} per ft² by photo, {figure(per_ft2(hand), what)} by hand, {times}{unit}, so no "
        f"mean was made of them. {_CAUSES}{_GONE}"
    )
