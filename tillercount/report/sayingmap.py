"""The sentences of the map and its legend, from the record."""

from __future__ import annotations

from collections.abc import Iterator

from tillercount.names import says_spot
from tillercount.report.blocks import Para
from tillercount.report.drawing import Drawing
from tillercount.report.fieldmap import draw_map, draw_mark
from tillercount.report.language import Line, Speaker
from tillercount.report.ownunit import lines_unit
from tillercount.report.saying import band_ends, band_range

__all__ = ["area_line", "drawn_map", "map_key", "map_lines"]

_NAMED = 5
"""Stray spots that are named one by one."""


def drawn_map(speak: Speaker, *, small: bool = False) -> Drawing | None:
    """The map, where there is any position or an outline."""
    return None if speak.record["map"] is None else draw_map(speak, small=small)


def map_lines(speak: Speaker) -> Iterator[Para]:
    """What the map shows, and what isn't on it."""
    at, say = speak.at, speak.say
    found_map = speak.record["map"]
    if found_map is None:
        yield Para((speak.words["map.none"],))
        return
    if found_map["doubt"]:
        yield Para((at("map/doubt"),), "strong")
    if found_map["spots"]:
        what = speak.words[f"what.{found_map['measures']}"]
        yield Para(say("map.caption", what=what))
    lines: list[Line] = []
    name = at("field") if speak.record["field"] else ""
    if found_map["area"]:
        lines.append(say("map.area", field=name, area=area_line(speak, "map/area")))
    else:
        lines.append((speak.words["map.no_outline"],))
    over = found_map["overlap"]
    if over:
        lines.append(say("map.headland", share=at("map/overlap/headland_share", "share")))
        unit, kind = ("m", "one") if speak.metric else ("ft", "whole")
        boom = say(f"unit.{unit}", n=at(f"map/overlap/boom/{unit}", kind))
        lines.append(
            say(
                "map.twice",
                share=at("map/overlap/twice_share", "share"),
                point_rows=at("map/overlap/point_row_share", "share"),
                boom=boom,
                passes=at("map/overlap/passes", "whole"),
            )
        )
        if over["missed_share"] > 0.0005:
            lines.append(say("map.missed", share=at("map/overlap/missed_share", "share")))
    for key, name_of in (("missing", "without_position"), ("outside", "outside")):
        if found_map[name_of]:
            lines.append(say(f"map.{key}", n=at(f"map/{name_of}", "whole")))
    lines += [(at(f"map/notes/{i}"),) for i in range(len(found_map["notes"]))]
    if found_map["stray"]:
        lines.append(_strays(speak, len(found_map["stray"])))
    yield Para(tuple(piece for line in lines for piece in (*line, " ")), "small")


def _strays(speak: Speaker, number: int) -> Line:
    """Spots whose positions can't be right, by name while they are few."""
    from_what = speak.words["map.from_outline" if speak.record["map"]["area"] else "map.from_spots"]
    unit = "km" if speak.metric else "mi"
    each: list[Line] = []
    for i in range(min(number, _NAMED)):
        off = speak.say(f"unit.{unit}", n=speak.at(f"map/stray/{i}/off/{unit}", "amount"))
        spot = speak.at(f"map/stray/{i}/spot")
        key = "map.stray_named" if says_spot(spot.text) else "map.stray_one"
        each.append(speak.say(key, spot=spot, off=off))
    if number > _NAMED:
        each.append((speak.words["map.stray_more"],))
    spots = speak.joined(each, "verdict.comma")
    return speak.say("map.stray", spots=spots, what=from_what)


def map_key(speak: Speaker) -> list[tuple[Drawing, Line]]:
    """The legend: each class with its mark, its range and how many spots it has."""
    if speak.record["map"] is None or not speak.record["map"]["spots"]:
        return []
    what = speak.record["map"]["measures"]
    number = next(i for i, e in enumerate(speak.record["evidence"]) if e["what"] == what)
    bands = speak.record["evidence"][number]["bands"]
    out = []
    for i in range(len(bands)):
        at = f"evidence/{number}/bands/{i}"
        mark = Drawing(25.0, 25.0)
        draw_mark(mark, 12.5, 12.5, i, len(bands), speak.at(f"{at}/letter"), False)
        line = speak.say(
            "map.key",
            name=speak.at(f"{at}/name"),
            range=band_range(speak, at),
            unit=lines_unit(speak, band_ends(speak, at)),
            spots=speak.at(f"map/in_band/{i}", "whole"),
        )
        out.append((mark, line))
    return out


def area_line(speak: Speaker, at: str) -> Line:
    """Acres or hectares."""
    unit = "ha" if speak.metric else "ac"
    return speak.say(f"unit.{unit}", n=speak.at(f"{at}/{unit}", "amount"))
