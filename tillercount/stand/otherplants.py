"""Other plants in the photos: when to say so, and the weed that the user says they are.

Photos tell how many plants aren't the crop, not which; a species comes from the user alone. Losses
and windows are `tillercount.stand.weeds`'.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from tillercount.errors import InputError
from tillercount.field.others import OtherPlants, SpotMean
from tillercount.stand.cautions import Advice
from tillercount.stand.inputs import weed_of
from tillercount.stand.stage import Stage
from tillercount.stand.weeds import GRASSES, Seen, WeedLoss, weed_loss
from tillercount.stand.windows import LABEL_DECIDES, windows_in_short
from tillercount.stand.words import number_text
from tillercount.twoforms import WEED, WEED_AND_DENSITY
from tillercount.units import per_ft2

__all__ = [
    "HIDING_COVER",
    "NOTICEABLE",
    "NOTICEABLE_COVER",
    "NOTICEABLE_PER_M2",
    "SEEN_WRONG",
    "Weeds",
    "cannot_tell",
    "cover_text",
    "named_weeds",
    "notice",
    "seen_text",
    "weed_advice",
    "weeds_in",
]

NOTICEABLE_PER_M2 = 18.0
"""From this density on other plants are spoken of: up to here print has no loss by henbit
(University of Missouri 2022). Some weeds cost earlier (Italian ryegrass from the first plant on),
so one that the user names is reckoned with at any density."""
NOTICEABLE_COVER = 0.02
"""Likewise by cover, where how many isn't known: 18 rosettes per m², each some 4 cm across, cover
this much. A convention of our own; sample photos with two or three seedlings in the frame read
0.014 and 0.022, those without any 0."""
NOTICEABLE: dict[str, Any] = {
    "cover": NOTICEABLE_COVER,
    "per_ft2": per_ft2(NOTICEABLE_PER_M2),
    "per_m2": NOTICEABLE_PER_M2,
    "mark": "a convention of our own",
}
HIDING_COVER = 0.3
"""From this cover on other plants hide so much of the crop that photos can't judge it: a convention
of our own."""
SEEN_WRONG = "grass weeds that look like the crop can be missed, or counted as crop"


@dataclass(frozen=True)
class Weeds:
    """Weeds as the user names them: with a density, or as what else grows in the photos."""

    typed: tuple[WeedLoss, ...] = ()
    in_photos: str = ""


def named_weeds(texts: Sequence[str]) -> Weeds:
    """Weeds as typed: ``henbit=40/m2``, or ``henbit`` alone for the other plants in the photos.

    A typed density goes before that of the photos.

    Raises
    ------
    InputError
        A species without figures in print, or two without a density: photos don't tell which of
        the other plants is which.
    """
    typed = tuple(weed_of(text) for text in texts if "=" in text)
    bare = dict.fromkeys(weed_loss(text, 0.0).species for text in texts if "=" not in text)
    left = [name for name in bare if name not in {one.species for one in typed}]
    if len(left) > 1:
        raise InputError(
            f"weeds {left[0]!r} and {left[1]!r} without a density: photos don't tell other plants "
            f"apart; name the main one alone, or type densities like --weed '{left[1]}=40/m2'"
        )
    return Weeds(typed, *left)


def weeds_in(weeds: Weeds, found: OtherPlants | None) -> tuple[WeedLoss, ...]:
    """Losses of the weeds named, the one without a density by what the photos say.

    Raises
    ------
    InputError
        A weed without a density, and no photo that could give it.
    """
    name = weeds.in_photos
    if not name:
        return weeds.typed
    if found is None:
        raise InputError(
            f"weed {name!r} has no density, and no photos were counted here to take it from; give "
            f"photos or their counts, or type it like --weed '{name}=40/m2'"
        )
    if found.per_m2 is None:
        raise InputError(cannot_tell(name))
    seen = found.per_m2
    low, high = (None if e is None else weed_loss(name, e) for e in (seen.low, seen.high))
    more = Seen(seen.spots, low, high, name in GRASSES, seen.alike)
    return (*weeds.typed, replace(weed_loss(name, seen.mean), seen=more))


def cannot_tell(name: str) -> str:
    """Why photos give a weed no density, and what to do."""
    return (
        f"weed {name!r} has no density: the model that counted these photos can't tell how many "
        "other plants there are; count the weeds in the frame by hand and type it like "
        f"--weed '{name}=40/m2', or count the photos again with a model that can"
    )


def cover_text(share: float) -> str:
    """A cover in percent: "about 6 %", "about 0.4 %", "next to nothing"."""
    percent = 100 * share
    if percent < 0.05:
        return "next to nothing"
    return f"about {percent:.0f} %" if percent >= 1.95 else f"about {percent:.1f} %"


def seen_text(found: OtherPlants) -> str:
    """What the photos say, with the scatter of spots."""
    text = f"{cover_text(found.cover.mean)} of the ground{_range(found.cover, 100, ' %')}"
    if found.per_m2 is not None:
        mean = number_text(per_ft2(found.per_m2.mean))
        text += f", about {mean} per ft²{_range(found.per_m2, per_ft2(1.0), '')}"
    n = found.cover.spots
    return f"{text}; {n} spot{'s' if n > 1 else ''} by photo"


def _range(one: SpotMean, factor: float, unit: str) -> str:
    if one.low is None or one.high is None:
        return ""
    ends = f"{number_text(one.low * factor)}–{number_text(one.high * factor)}"
    by = "by chance, all spots being the same" if one.alike else "by how spots differ"
    return f" ({ends}{unit} {by})"


def notice(found: OtherPlants | None, *, named: bool = False) -> str:
    """One line where other plants are many enough to look at; empty where they aren't.

    Where a weed was ``named`` its loss says more, but for how much of the crop they hide.
    """
    if found is None:
        return ""
    if named:
        if found.cover.mean < HIDING_COVER:
            return ""
        return (
            f"other plants cover {cover_text(found.cover.mean)} of the ground in the photos "
            f"and hide the crop; {SEEN_WRONG}"
        )
    many = found.per_m2 is not None and found.per_m2.mean >= NOTICEABLE_PER_M2
    if found.cover.mean < NOTICEABLE_COVER and not many:
        return ""
    count, name = "", WEED_AND_DENSITY.screen
    if found.per_m2 is not None:
        count = f", about {number_text(per_ft2(found.per_m2.mean))} of them per ft²"
        name = WEED.screen
    n = found.cover.spots
    return (
        f"other plants (weeds or volunteers) cover {cover_text(found.cover.mean)} of the ground in "
        f"the photos of {n} spot{'s' if n > 1 else ''}{count}: scout, {name}; "
        f"{LABEL_DECIDES}; {SEEN_WRONG} (said from {100 * NOTICEABLE_COVER:g} % or "
        f"{per_ft2(NOTICEABLE_PER_M2):.2g} per ft² on, {NOTICEABLE['mark']})"
    )


def weed_advice(noticed: str, weeds: Sequence[WeedLoss], stage: Stage | None) -> list[Advice]:
    """What a field's page says of weeds, windows last; nothing without weeds."""
    out = [Advice(noticed, "")] if noticed else []
    out += [Advice(one.words, one.source) for one in weeds]
    return [*out, windows_in_short(stage)] if out else []
