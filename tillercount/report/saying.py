"""The sentences of the verdict, the counts, the photos and what could change, from the record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from tillercount.names import says_spot
from tillercount.report.blocks import Figure, Para, Photos, Table
from tillercount.report.language import Line, Speaker
from tillercount.report.ownunit import line_of, lines_per, lines_unit
from tillercount.report.since import since_blocks
from tillercount.report.threshold import draw_evidence
from tillercount.stand.bands import range_kind

__all__ = [
    "changes",
    "found",
    "photo_blocks",
    "verdict_line",
]

Item = tuple[Line, Line | None]
_HOW = {"photo": "", "corrected": "_corrected", "hand": "_hand", "each": "_each"}
"""How a pictured spot's figures came about, as its caption's name ends."""


def verdict_line(speak: Speaker) -> Line:
    """The first sentence, as sure as the counts are."""
    at, say, words = speak.at, speak.say, speak.words
    verdict = speak.record["verdict"]
    what = words[f"what.{verdict['by']}"]
    share = at("verdict/shown", "chance")
    alike = "sure" if verdict["clear"] else "sure_alike"
    sure = say(f"verdict.{alike}", share=share, what=what)
    if verdict["other"]:
        sure = say(
            "verdict.sure_two",
            share=share,
            what=what,
            other_share=at("verdict/other/shown", "chance"),
            other=words[f"what.{verdict['other']['by']}"],
        )
    options = speak.joined(
        [
            say(
                "verdict.option_means" if option["means"] else "verdict.option",
                share=at(f"verdict/options/{i}/shown", "chance"),
                name=at(f"verdict/options/{i}/called"),
                **({"means": at(f"verdict/options/{i}/means")} if option["means"] else {}),
            )
            for i, option in enumerate(verdict["options"])
        ],
        "verdict.or",
    )
    values: dict[str, Any] = {
        "sure": sure,
        "options": options,
        "name": at("verdict/other/name" if verdict["other"] else "verdict/name"),
    }
    if verdict["held"]:
        values["why"] = at("verdict/held")
    if verdict["kind"].startswith("alike"):
        values["done"] = at("verdict/alike")
    if verdict["late"]:
        values["late"] = at("verdict/late")
    line = say(f"verdict.{verdict['kind']}", **values)
    return (*line, " ", at("verdict/no_early")) if verdict["no_early"] else line


def band_range(speak: Speaker, at: str) -> Line:
    """A class's range in its publisher's unit; `lines_unit` is to follow."""
    band, per = speak.record_value(at), lines_per(speak, at)
    kind = range_kind(
        first=band["from"][per] == 0,
        last=band["to"] is None,
        from_in=band["from_in"],
        to_in=band["to_in"],
    )
    ends = {
        end: speak.at(f"{at}/{end}/{per}", "density")
        for end in ("from", "to")
        if band[end] is not None
    }
    return speak.say(f"band.{kind}", **ends)


def band_ends(speak: Speaker, at: str) -> list[str]:
    """Paths of the lines that a class lies between, as `lines_unit` takes them."""
    band = speak.record_value(at)
    lines = (f"{at}/from" if band["from"][speak.per] > 0 else "", f"{at}/to" if band["to"] else "")
    return [line for line in lines if line]


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
    yield from since_blocks(speak)
    yield from _expected(speak)


def _bands(speak: Speaker, path: str, one: dict[str, Any], unit: str) -> Table:
    words = speak.words
    head, both = words[f"what.{one['what']}_head"], one["lines_per"] != speak.per

    def behind(band: str) -> Line:
        return (" ", *lines_unit(speak, band_ends(speak, band))) if both else ()

    rows = []
    for i in range(len(one["bands"])):
        band = f"{path}/bands/{i}"
        rows.append(
            (
                (speak.at(f"{band}/letter"),),
                (*band_range(speak, band), *behind(band)),
                (speak.at(f"{band}/name"),),
                (speak.at(f"{band}/shown", "chance"),),
            )
        )
    return Table(
        (
            (words["found.class"],),
            (head,) if both else speak.say("found.range", what=head, unit=unit),
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
        if expected["whose"]:
            lines.append((speak.at("expected/whose"),))
        if expected["why_wide"]:
            lines.append((speak.at("expected/why_wide"),))
        off = {end: speak.at(f"expected/mean_off/{end}", "share") for end in ("less", "more")}
        lines.append(speak.say("found.mean_off", **off))
    if expected["why_none"]:
        lines.append((speak.at("expected/why_none"),))
    if lines:
        yield Para(tuple(piece for line in lines for piece in (*line, " ")))


def photo_blocks(speak: Speaker, pictures: Sequence[bytes]) -> Iterator[Any]:
    """The thinnest and the thickest spot."""
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
        how = one.get("how", "photo")
        if how == "each":
            counts |= {f"{what}_by": speak.words[f"photos.by_{w}"] for what, w in one["by"].items()}
        caption = speak.say(
            f"photos.{one['role']}{_HOW[how]}",
            spot=spot,
            unit=speak.words[f"unit.{speak.per}"],
            **counts,
        )
        if not one["overlay"]:
            caption = (*caption, "; ", speak.words["photos.bare"])
        alt = "photos.alt" if one["overlay"] else "photos.alt_bare"
        named = "_named" if says_spot(one["spot"]) else ""
        out.append((jpeg, caption, speak.say(alt + named, spot=spot)))
    note: Line = (speak.words["photos.marks"],)
    first = speak.record["photos"][0]
    if first.get("at_hand", 0) < first.get("counted", 0):
        few = {end: speak.at(f"photos/0/{end}", "whole") for end in ("counted", "at_hand")}
        note = (*speak.say("photos.part", **few), " ", *note)
    yield Photos(out, note)


def changes(speak: Speaker) -> Iterator[Item]:
    """What could change the verdict."""
    at, say, words = speak.at, speak.say, speak.words
    record = speak.record
    verdict = record["verdict"]
    for number, one in enumerate(record["evidence"]):
        if one["nearest"] is not None:
            mean: Line = (at(f"evidence/{number}/{speak.per}/mean", "density"),)
            if one["lines_per"] != speak.per:
                mean = say("unit.of", n=mean, unit=words[f"unit.{speak.per}"])
            yield (
                say(
                    "change.line",
                    border=line_of(speak, f"evidence/{number}/nearest"),
                    what=words[f"what.{one['what']}"],
                    unit=lines_unit(speak, [f"evidence/{number}/nearest"]),
                    mean=mean,
                ),
                None,
            )
    others = [
        say(
            "change.other_one",
            share=at(f"verdict/classes/{i}/shown", "chance"),
            name=at(f"verdict/classes/{i}/name"),
        )
        for i, one in enumerate(verdict["classes"])
        if one["class"] != verdict["class"] and one["share"] >= 0.01
    ]
    if others:
        yield say("change.other", others=speak.joined(others, "verdict.comma")), None
    for i, flag in enumerate(record["flags"]):
        if flag not in verdict["warnings"]:  # they stand before the verdict
            yield (at(f"flags/{i}"),), None
    for i in range(len(record["refused"])):
        photo, reason = at(f"refused/{i}/photo"), at(f"refused/{i}/reason")
        yield say("change.refused", photo=photo, reason=reason), None
    if record["nitrogen"] and record["nitrogen"]["again"]:
        ends = {end: at(f"nitrogen/again/{end}", "date") for end in ("first", "last")}
        yield say("change.again", **ends), None
    yield say("change.others", region=at("rules/region")), None
