"""What the report says, in order, as blocks that both the page and the PDF set in type."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tillercount.report.blocks import Figure, Items, Para
from tillercount.report.drawing import Drawing
from tillercount.report.language import Line, Speaker, Words, plain
from tillercount.report.saying import changes, found, photo_blocks, verdict_line
from tillercount.report.sayingmap import drawn_map, map_key, map_lines
from tillercount.report.sayingmethod import methods
from tillercount.report.sayingnitrogen import nitrogen_blocks
from tillercount.report.sayingweeds import weed_blocks

__all__ = ["Sheet", "make_sheet"]


@dataclass(frozen=True)
class Section:
    """One heading with its blocks; ``key`` names it for style sheets."""

    key: str
    title: str
    blocks: Sequence[Any]


@dataclass(frozen=True)
class Sheet:
    """The whole report."""

    language: str
    title: str
    head: Sequence[Line]
    verdict: Line
    rules: Line
    warning: Line | None
    sections: Sequence[Section]
    foot: Line
    speak: Speaker


def make_sheet(record: Mapping[str, Any], words: Words, pictures: Sequence[bytes] = ()) -> Sheet:
    """The report of a record in one language.

    Parameters
    ----------
    record : mapping
        From `tillercount.report.record.build_record`.
    pictures : sequence of bytes
        JPEGs, in the order of the record's photos.
    """
    speak = Speaker(record, words)
    at, say = speak.at, speak.say
    verdict = record["verdict"]
    name = (at("field"),) if record["field"] else ()
    title = plain(say("title.page", field=name)) if name else words["title.no_field"]
    head: list[Line] = [(at(key),) for key in ("farm", "field", "crop", "stage") if record[key]]
    if record["visit"]:
        values = {key: at(f"visit/{key}", "whole") for key in ("number", "of")}
        head.append(say("title.visit", visit=at("visit/name"), **values))
    if record["visited"]:
        day = at("visited", "date")
        if record["visited_months_ago"]:
            ago = at("visited_months_ago", "whole")
            head.append(say("title.visited_long_ago", date=day, months=ago))
        else:
            head.append(say("title.visited", date=day))
    head.append(say("title.made", date=at("made", "date")))
    sections = [
        Section(key, words[f"title.{key}"], blocks)
        for key, blocks in _sections(speak, pictures)
        if blocks
    ]
    foot = (
        say("foot.line", field=name, date=at("made", "date"))
        if name
        else say("foot.no_field", date=at("made", "date"))
    )
    return Sheet(
        words["language.code"],
        title,
        head,
        verdict_line(speak),
        say("verdict.rules", title=at("rules/title"), region=at("rules/region")),
        (at("verdict/warning"),) if verdict["warning"] else None,
        sections,
        foot,
        speak,
    )


def _sections(speak: Speaker, pictures: Sequence[bytes]) -> Iterator[tuple[str, list[Any]]]:
    record = speak.record
    # what would settle the verdict comes before what follows from either outcome
    todo = _advice(speak, "actions")
    yield "do", [Items(todo, ordered=True)] if todo else []
    yield "found", list(found(speak))
    yield "nitrogen", list(nitrogen_blocks(speak))
    yield "weeds", list(weed_blocks(speak))
    place: list[Any] = []
    drawing: Drawing | None = drawn_map(speak)
    if drawing is not None:
        small = drawn_map(speak, small=True)
        place.append(Figure(drawing, "map", tuple(map_lines(speak)), map_key(speak), small))
    else:
        place.extend(map_lines(speak))
    yield "where", place
    yield "photos", list(photo_blocks(speak, pictures))
    yield "change", [Items(list(changes(speak)))]
    yield "mind", [Items(_advice(speak, "cautions"), small=True)]
    notes: list[Any] = [Para((speak.words["method.us_units"],), "small")] if speak.metric else []
    yield "method", [*notes, *methods(speak)]
    yield (
        "sources",
        [
            Items(
                [((speak.at(f"sources/{i}"),), None) for i in range(len(record["sources"]))],
                small=True,
            )
        ],
    )


def _advice(speak: Speaker, key: str) -> list[tuple[Line, Line | None]]:
    verdict = speak.record["verdict"]
    lead: Line = (speak.words["verdict.settle"], " ")
    return [
        (
            (*(lead if one["text"] == verdict["settle"] else ()), speak.at(f"{key}/{i}/text")),
            (speak.at(f"{key}/{i}/source"),) if one["source"] else None,
        )
        for i, one in enumerate(speak.record[key])
        if one["text"] not in verdict["warnings"]  # they stand before the verdict
    ]
