"""Photos that are copies of each other, byte for byte: one place looked at once, not several; and
those that look like copies, which are told and left in.

A photo copied, renamed or sent twice looks like two spots, makes the field look more even than it
is, and gives one place the weight of two.
"""

from __future__ import annotations

from collections.abc import Sequence

from tillercount.field.spots import SpotDensity
from tillercount.names import first_few
from tillercount.samelook import Looks

__all__ = ["LOOKS", "one_of_each"]

LOOKS = "photos that look the same but for being turned, mirrored, made smaller or saved again"
_LOOKS_DO = "if one is a copy, its place counts twice, so leave the copy out"


def one_of_each(spots: Sequence[SpotDensity]) -> tuple[tuple[SpotDensity, ...], list[str]]:
    """The spots with one of all copies of a photo, and what to say of the others.

    The copy stays whose name a hand count has too, else the one given first. Photos are known by
    the sum of their bytes in the counts file; those without one are taken for different.
    """
    by_hand = {spot.key for spot in spots if spot.source == "hand"}
    kept: dict[str, SpotDensity] = {}
    for spot in spots:
        if not _known(spot):
            continue
        before = kept.setdefault(spot.sha256, spot)
        if spot.key in by_hand and before.key not in by_hand:
            kept[spot.sha256] = spot
    out = tuple(spot for spot in spots if not _known(spot) or kept[spot.sha256] is spot)
    single = [spot for spot in out if spot.look]
    looks = Looks(spot.look for spot in single)
    alike = [_pair(single[new], single[old], " and ") for new, old in looks.firsts()]
    said = [f"{LOOKS} ({first_few(alike, between='; ')}): {_LOOKS_DO}"] if alike else []
    left = [spot for spot in spots if _known(spot) and kept[spot.sha256] is not spot]
    if not left:
        return tuple(spots), said
    pairs = first_few((_pair(spot, kept[spot.sha256]) for spot in left), between="; ")
    text = (
        "the same photo was given under several names and is used once "
        f"({pairs}): leave copies out, and where they were meant for other "
        "spots, give those spots' own photos"
    )
    return out, [text, *said]


def _known(spot: SpotDensity) -> bool:
    return spot.source == "photo" and bool(spot.sha256)


def _pair(copy: SpotDensity, used: SpotDensity, are: str = " is a copy of ") -> str:
    """Both by their file names, and with their folders where those are alike."""
    paths = [one.photo.replace("\\", "/") or one.spot for one in (copy, used)]
    short = [path.rsplit("/", 1)[-1] for path in paths]
    one, other = short if short[0] != short[1] else paths
    return f"{one}{are}{other}"
