"""The weeds' part of the report: what else grows in the photos, losses in print, windows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from tillercount.report.blocks import Items, Para
from tillercount.report.language import Line, Speaker

__all__ = ["weed_blocks"]


def weed_blocks(speak: Speaker) -> Iterator[Any]:
    """Nothing where no weed was named and other plants in the photos are few or none."""
    weeds = speak.record["weeds"]
    if not weeds["show"]:
        return
    if weeds["seen"]:
        yield Para(tuple(piece for line in _seen(speak) for piece in (*line, " ")))
    rows: list[tuple[Line, Line | None]] = [
        ((speak.at(f"weeds/named/{i}/text"),), (speak.at(f"weeds/named/{i}/source"),))
        for i in range(len(weeds["named"]))
    ]
    windows = weeds["windows"]
    source = (speak.at("weeds/windows/source"),) if windows["source"] else None
    rows.append(((speak.at("weeds/windows/text"),), source))
    yield Items(rows, small=True)


def _seen(speak: Speaker) -> Iterator[Line]:
    weeds, words = speak.record["weeds"], speak.words
    cover, density = weeds["seen"]["cover"], weeds["seen"][speak.per]
    yield speak.say(
        "weeds.cover",
        cover=speak.at("weeds/seen/cover/mean", "share"),
        spots=speak.at("weeds/seen/cover/spots", "whole"),
        between=_between(speak, "cover", cover, "share"),
    )
    if density is not None:
        yield speak.say(
            "weeds.density",
            mean=speak.at(f"weeds/seen/{speak.per}/mean", "density"),
            unit=words[f"unit.{speak.per}"],
            between=_between(speak, speak.per, density, "density"),
        )
    yield (words["weeds.trust"],)
    if weeds["noticed"]:
        key = "weeds.scout" if density is not None else "weeds.scout_count"
        yield speak.say(
            key,
            cover=speak.at("weeds/noticed_from/cover", "share"),
            density=speak.at(f"weeds/noticed_from/{speak.per}", "density"),
            unit=words[f"unit.{speak.per}"],
            mark=speak.at("weeds/noticed_from/mark"),
        )


def _between(speak: Speaker, what: str, one: dict[str, Any], kind: str) -> Line:
    """How far the mean may lie off, by how much spots differ; nothing where they can't say.

    Spots that all have the same leave what chance alone does.
    """
    if one["low"] is None:
        return ()
    ends = {end: speak.at(f"weeds/seen/{what}/{end}", kind) for end in ("low", "high")}
    return speak.say("weeds.between_alike" if one["alike"] else "weeds.between", **ends)
