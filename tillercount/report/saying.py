"""The sentences of each part of the report, from the record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from tillercount.report.blocks import Figure, Para, Photos, Table
from tillercount.report.drawing import Drawing
from tillercount.report.fieldmap import draw_map, draw_mark
from tillercount.report.language import Line, Speaker
from tillercount.report.threshold import draw_evidence
from tillercount.stand.bands import range_kind

__all__ = [
    "changes",
    "drawn_map",
    "found",
    "map_key",
    "map_lines",
    "nitrogen",
    "photo_blocks",
    "verdict_line",
]

Item = tuple[Line, Line | None]


def verdict_line(speak: Speaker) -> Line:
    """The first sentence, as sure as the counts are."""
    at, say, words = speak.at, speak.say, speak.words
    verdict = speak.record["verdict"]
    what = words[f"what.{verdict['by']}"]
    share = at("verdict/share", "chance")
    alike = "sure" if verdict["clear"] else "sure_alike"
    sure = say(f"verdict.{alike}", share=share, what=what)
    if verdict["other"]:
        sure = say(
            "verdict.sure_two",
            share=share,
            what=what,
            other_share=at("verdict/other/share", "chance"),
            other=words[f"what.{verdict['other']['by']}"],
        )
    options = speak.joined(
        [
            say(
                "verdict.option",
                share=at(f"verdict/options/{i}/share", "chance"),
                name=at(f"verdict/options/{i}/name"),
            )
            for i in range(len(verdict["options"]))
        ],
        "verdict.or",
    )
    values: dict[str, Any] = {
        "sure": sure,
        "options": options,
        "name": at("verdict/other/name" if verdict["other"] else "verdict/name"),
    }
    return say(f"verdict.{verdict['kind']}", **values)


def band_range(speak: Speaker, at: str) -> Line:
    """A class's range in the units of the page."""
    band = speak.record_value(at)
    kind = range_kind(
        first=band["from"][speak.per] == 0,
        last=band["to"] is None,
        from_in=band["from_in"],
        to_in=band["to_in"],
    )
    ends = {
        end: speak.at(f"{at}/{end}/{speak.per}", "density")
        for end in ("from", "to")
        if band[end] is not None
    }
    return speak.say(f"band.{kind}", **ends)


def found(speak: Speaker) -> Iterator[Any]:
    """Densities with their intervals against the lines of the rules."""
    at, say, words = speak.at, speak.say, speak.words
    unit = words[f"unit.{speak.per}"]
    for number, one in enumerate(speak.record["evidence"]):
        path = f"evidence/{number}"
        what = words["what.shoots_other" if one["converted"] else f"what.{one['what']}_title"]
        mean: Line = say(
            "found.mean" if one["spots"] > 1 else "found.mean_one",
            what=what,
            unit=unit,
            spots=at(f"{path}/spots", "whole"),
            level=at(f"{path}/level", "share"),
            **{end: at(f"{path}/{speak.per}/{end}", "density") for end in ("mean", "low", "high")},
        )
        if one["cv"] is not None:
            mean = (*mean, " ", *say("found.cv", cv=at(f"{path}/cv", "share")))
        dots: Line = (
            *([words["found.key_hand"]] if any(one["by_hand"]) else []),
            *([words["found.key_photo"]] if not all(one["by_hand"]) else []),
        )
        key = say("found.key", dots=dots)
        yield Figure(draw_evidence(speak, number), "evidence", (Para(mean), Para(key, "small")))
        yield _bands(speak, path, one, unit)
    yield from _expected(speak)


def _bands(speak: Speaker, path: str, one: dict[str, Any], unit: str) -> Table:
    words = speak.words
    rows = []
    for i in range(len(one["bands"])):
        band = f"{path}/bands/{i}"
        rows.append(
            (
                (speak.at(f"{band}/letter"),),
                band_range(speak, band),
                (speak.at(f"{band}/name"),),
                (speak.at(f"{band}/share", "chance"),),
            )
        )
    return Table(
        (
            (words["found.class"],),
            speak.say("found.range", what=words[f"what.{one['what']}_head"], unit=unit),
            (words["found.meaning"],),
            (words["found.likely"],),
        ),
        rows,
        numbers=frozenset({3}),
        strong=frozenset(i for i, band in enumerate(one["bands"]) if band["here"]),
        bars=[band["share"] for band in one["bands"]],
    )


def _expected(speak: Speaker) -> Iterator[Para]:
    expected = speak.record["expected"]
    lines: list[Line] = []
    if expected["heads"]:
        ends = speak.ends(f"expected/heads/{speak.per}", "whole")
        lines.append(speak.say("found.heads", range=ends, unit=speak.words[f"unit.{speak.per}"]))
    if expected["yield"]:
        key, per, kind = ("metric", "t_ha", "one") if speak.metric else ("us", "bu_ac", "whole")
        amount = speak.say(f"unit.yield_{key}", range=speak.ends(f"expected/yield/{per}", kind))
        lines.append(speak.say("found.yield", range=amount))
    if lines:
        yield Para(tuple(piece for line in lines for piece in (*line, " ")))


def drawn_map(speak: Speaker) -> Drawing | None:
    """The map, where there is any position or an outline."""
    return None if speak.record["map"] is None else draw_map(speak)


def map_lines(speak: Speaker) -> Iterator[Para]:
    """What the map shows, and what isn't on it."""
    at, say = speak.at, speak.say
    found_map = speak.record["map"]
    if found_map is None:
        yield Para((speak.words["map.none"],))
        return
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
    yield Para(tuple(piece for line in lines for piece in (*line, " ")), "small")


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
            unit=speak.words[f"unit.{speak.per}"],
            spots=speak.at(f"map/in_band/{i}", "whole"),
        )
        out.append((mark, line))
    return out


def area_line(speak: Speaker, at: str) -> Line:
    """Acres or hectares."""
    unit = "ha" if speak.metric else "ac"
    return speak.say(f"unit.{unit}", n=speak.at(f"{at}/{unit}", "amount"))


def photo_blocks(speak: Speaker, pictures: Sequence[bytes]) -> Iterator[Any]:
    """The thinnest and the best spot."""
    if not pictures:
        return
    out = []
    for i, jpeg in enumerate(pictures):
        at = f"photos/{i}"
        one = speak.record["photos"][i]
        counts: dict[str, Any] = {
            what: speak.at(f"{at}/{speak.per}/{what}", "density")
            if one[speak.per][what] is not None
            else speak.words["found.none"]
            for what in ("plants", "shoots")
        }
        spot = speak.at(f"{at}/spot")
        caption = speak.say(
            f"photos.{one['role']}", spot=spot, unit=speak.words[f"unit.{speak.per}"], **counts
        )
        if not one["overlay"]:
            caption = (*caption, "; ", speak.words["photos.bare"])
        alt = "photos.alt" if one["overlay"] else "photos.alt_bare"
        out.append((jpeg, caption, speak.say(alt, spot=spot)))
    yield Photos(out, (speak.words["photos.marks"],))


def nitrogen(speak: Speaker) -> Iterator[Any]:
    """Doses with dates, pounds and product."""
    from tillercount.report.sayingnitrogen import nitrogen_blocks

    if speak.record["nitrogen"] is not None:
        yield from nitrogen_blocks(speak)


def changes(speak: Speaker) -> Iterator[Item]:
    """What could change the verdict."""
    at, say, words = speak.at, speak.say, speak.words
    record = speak.record
    verdict = record["verdict"]
    for number, one in enumerate(record["evidence"]):
        if one["nearest"] is not None:
            yield (
                say(
                    "change.line",
                    border=at(f"evidence/{number}/nearest/{speak.per}", "density"),
                    what=words[f"what.{one['what']}"],
                    unit=words[f"unit.{speak.per}"],
                    mean=at(f"evidence/{number}/{speak.per}/mean", "density"),
                ),
                None,
            )
    for i, one in enumerate(verdict["classes"]):
        if one["class"] != verdict["class"] and one["share"] >= 0.01:
            share = at(f"verdict/classes/{i}/share", "chance")
            yield say("change.other", share=share, name=at(f"verdict/classes/{i}/name")), None
    for i in range(len(record["flags"])):
        yield (at(f"flags/{i}"),), None
    for i in range(len(record["refused"])):
        photo, reason = at(f"refused/{i}/photo"), at(f"refused/{i}/reason")
        yield say("change.refused", photo=photo, reason=reason), None
    if record["nitrogen"] and record["nitrogen"]["again"]:
        ends = {end: at(f"nitrogen/again/{end}", "date") for end in ("first", "last")}
        yield say("change.again", **ends), None
    yield say("change.others", region=at("rules/region")), None
