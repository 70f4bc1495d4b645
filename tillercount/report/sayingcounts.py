"""What was counted and how it became a field figure, for who has to check it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from tillercount.report.blocks import Items, Para, Table
from tillercount.report.language import Line, Speaker

__all__ = ["counted_blocks", "field_blocks", "sentences", "steps_of", "unit_of"]

Item = tuple[Line, Line | None]


def sentences(lines: Sequence[Line]) -> Para:
    """One small paragraph."""
    return Para(
        tuple(piece for n, line in enumerate(lines) for piece in (*([" "] if n else []), *line)),
        "fine",
    )


def unit_of(speak: Speaker) -> str:
    """ "per ft²" or "per m²"."""
    return speak.words[f"unit.{speak.per}"]


def counted_blocks(speak: Speaker) -> Iterator[Any]:
    """How many spots, by hand or photo, and what each of them had."""
    counted = speak.record["counted"]
    have = [way for way in ("hand", "photo", "part") if counted[way]]
    lines: list[Line] = [_how_many(speak, have)]
    if any(one["what"] == "shoots" for one in speak.record["densities"]):
        lines.append(speak.say("method.definition", definition=speak.at("definition")))
    # what holds of a photo taken in part holds of one whose hand count has all too
    taken = "hand_taken_part" if counted["hand_taken_part"] else "hand_taken"
    lines += [(speak.words[f"method.{role}"],) for role in (taken, "averaged") if counted[role]]
    yield sentences(lines)
    yield _spot_table(speak)
    if counted["corrected"]:
        yield sentences([_corrected(speak)])


def _how_many(speak: Speaker, have: Sequence[str]) -> Line:
    """How many spots, and how many of them by each of the ways that there are."""
    if speak.record["counted"]["all"] == 1:
        return speak.say("method.counted_one")
    numbers = {name: speak.at(f"counted/{name}", "whole") for name in ("all", *have)}
    if len(have) == 1:
        way = "each" if have[0] == "part" else have[0]
        return speak.say(f"method.counted_{way}", all=numbers["all"])
    if "part" not in have:
        return speak.say("method.counted_both", **numbers)
    ways = [speak.say(f"method.way_{way}", n=numbers[way]) for way in have]
    return speak.say(
        "method.counted_part", all=numbers["all"], ways=speak.joined(ways, "verdict.comma")
    )


def _corrected(speak: Speaker) -> Line:
    """By how much photos in the table are changed."""
    changes: list[Line] = []
    for i, one in enumerate(speak.record["counted"]["corrected"]):
        more = one[speak.per] >= 0
        by = speak.at(f"counted/corrected/{i}/{speak.per}_size", "one")
        sign = speak.say("method.more_by" if more else "method.fewer_by", by=by)
        what = speak.words[f"what.{one['what']}"]
        changes.append(speak.say("method.corrected_by", what=what, change=sign))
    return speak.say(
        "method.corrected", changes=speak.joined(changes, "verdict.comma"), unit=unit_of(speak)
    )


def _spot_table(speak: Speaker) -> Table:
    """Spots across, what was counted below."""
    kept = speak.record["counted"]["spots"]
    rows = _by_rows(speak, kept)
    for what in ("plants", "shoots"):
        if all(one[speak.per][what] is None for one in kept):
            continue
        values: list[Line] = [
            (speak.at(f"counted/spots/{i}/{speak.per}/{what}", "spot"),)
            if one[speak.per][what] is not None
            else (speak.words["found.none"],)
            for i, one in enumerate(kept)
        ]
        rows.append([_titled(speak, what), *values])
    head: list[Line] = [(speak.at(f"counted/spots/{i}/spot"),) for i in range(len(kept))]
    numbers = frozenset(range(1, len(kept) + 1))
    return Table([(speak.words["method.spot"],), *head], rows, numbers=numbers, look="grid")


def _by_rows(speak: Speaker, kept: Sequence[dict[str, Any]]) -> list[list[Line]]:
    """By what each spot was counted: in one row, or one each where a spot has both ways."""

    def cell(one: dict[str, Any], kinds: Sequence[str]) -> Line:
        ways = {one["by"][what] for what in kinds if what in one["by"]}
        if not ways:
            return (speak.words["found.none"],)
        if set(one["corrected"]) & set(kinds):
            return (speak.words["method.by_photo_corrected"],)
        return (speak.words[f"method.by_{ways.pop()}"],)

    both = ("plants", "shoots")
    if not speak.record["counted"]["part"]:
        return [[(speak.words["method.by"],), *(cell(one, both) for one in kept)]]
    return [
        [
            speak.say("method.by_each", what=speak.words[f"what.{what}_head"]),
            *(cell(one, (what,)) for one in kept),
        ]
        for what in both
    ]


def _titled(speak: Speaker, what: str) -> Line:
    return speak.say("found.range", what=speak.words[f"what.{what}_head"], unit=unit_of(speak))


def steps_of(speak: Speaker, kind: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Steps of one kind with their paths."""
    for i, step in enumerate(speak.record["steps"]):
        if step["kind"] == kind:
            yield f"steps/{i}", step


def field_blocks(speak: Speaker) -> Iterator[Any]:
    """The means with their intervals, how they were reckoned, and what follows from them."""
    found = speak.record["densities"]
    if found:
        yield _means(speak, found)
    # What holds for plants and shoots alike is said once.
    if len({one["how"] for one in found}) == 1 < len(found):
        lines = [speak.say("method.how_both", how=speak.at("densities/0/how"))]
    else:
        lines = [
            speak.say("method.how", what=_head(speak, one), how=speak.at(f"densities/{i}/how"))
            for i, one in enumerate(found)
        ]
    lines += _taken(speak)
    if lines:
        yield sentences(lines)
    further: list[Item] = [
        (
            speak.say(
                f"method.{kind}",
                range=_expected(speak, kind),
                unit=speak.words[f"unit.{speak.per}"],
            )
            if kind == "heads"
            else speak.say("method.yield", range=_expected(speak, kind)),
            _heads_by(speak, at, step)
            if kind == "heads" and speak.metric
            else (speak.at(f"{at}/why"),),
        )
        for kind in ("heads", "yield")
        for at, step in steps_of(speak, kind)
        if speak.record["expected"][kind]
    ]
    if further:
        left_out = (speak.words["method.reasons"],)
        yield Items(further, small=True, sources_printed=False, on_paper=left_out)


def _expected(speak: Speaker, kind: str) -> Line:
    if kind == "heads":
        return speak.ends(f"expected/heads/{speak.per}", "whole")
    per, fine = ("t_ha", "one") if speak.metric else ("bu_ac", "whole")
    ends = speak.ends(f"expected/yield/{per}", fine)
    return speak.say(f"unit.yield_{'metric' if speak.metric else 'us'}", range=ends)


def _heads_by(speak: Speaker, path: str, step: dict[str, Any]) -> Line:
    """Each publisher's reckoning per m²; the step's own words have it per ft²."""
    rows: list[Line] = []
    for i in range(len(step["per_m2"]["by_source"])):
        at = f"{path}/figures/by_source/{i}"
        rows.append(
            speak.say(
                "method.heads_by",
                low=speak.at(f"{path}/per_m2/from/0", "whole"),
                high=speak.at(f"{path}/per_m2/from/1", "whole"),
                factor_low=speak.at(f"{at}/factor/0", "plain"),
                factor_high=speak.at(f"{at}/factor/1", "plain"),
                range=speak.ends(f"{path}/per_m2/by_source/{i}", "whole"),
                source=speak.at(f"{at}/source"),
            )
        )
    return speak.joined(rows, "method.apart")


def _taken(speak: Speaker) -> list[Line]:
    """What became of spots counted both ways."""
    told: dict[str, Line] = {}
    for at, step in steps_of(speak, "both_ways"):
        kept = step["figures"]
        if kept["method"] in ("as counted", "hand only"):
            key = f"method.taken_{kept['method'].replace(' ', '_')}"
            told.setdefault(
                f"{key} {kept['why']}", speak.say(key, why=speak.at(f"{at}/figures/why"))
            )
        else:
            what = speak.words[f"what.{step['of']}_head"]
            told[at] = speak.say("method.taken", what=what, why=speak.at(f"{at}/why"))
    for at, step in steps_of(speak, "both_ways"):
        if step["figures"]["method"] == "as counted" and step["figures"]["why_outside"]:
            what = speak.words[f"what.{step['of']}_head"]
            why = speak.at(f"{at}/figures/why_outside")
            told[f"outside {at}"] = speak.say("method.outside", what=what, why=why)
    return [*told.values()]


def _head(speak: Speaker, one: dict[str, Any]) -> str:
    return speak.words[f"what.{one['what']}_head"]


def _means(speak: Speaker, found: Sequence[dict[str, Any]]) -> Table:
    """The field's figures, and each way of counting alone where there were two."""
    rows: list[list[Line]] = [
        [
            speak.say("method.mean", level=speak.at("densities/0/level", "share")),
            *(_interval(speak, f"densities/{i}/{speak.per}") for i in range(len(found))),
        ]
    ]
    both = {step["of"]: (at, step) for at, step in steps_of(speak, "both_ways")}
    for way in ("hand", "photo"):
        cells: list[Line] = []
        for one in found:
            at, step = both.get(one["what"], ("", {"per_m2": {}}))
            inside = f"{at}/per_m2/{way}" if speak.metric else f"{at}/figures/{way}_per_ft2"
            known = way in step["per_m2"]
            cells.append(_interval(speak, inside) if known else (speak.words["found.none"],))
        if any(way in step["per_m2"] for _, step in both.values()):
            at = next(at for at, step in both.values() if way in step["per_m2"])
            spots = speak.at(f"{at}/figures/{way}_per_ft2/spots", "whole")
            rows.append([speak.say(f"method.{way}_alone", spots=spots), *cells])
    spread: list[Line] = [
        (speak.at(f"densities/{i}/cv", "share"),)
        if one["cv"] is not None
        else (speak.words["found.none"],)
        for i, one in enumerate(found)
    ]
    if any(one["cv"] is not None for one in found):
        rows.append([(speak.words["method.spread"],), *spread])
    head = [(speak.words["method.figure"],), *(_titled(speak, one["what"]) for one in found)]
    return Table(head, rows, numbers=frozenset(range(1, len(head))), look="grid")


def _interval(speak: Speaker, at: str) -> Line:
    ends = {end: speak.at(f"{at}/{end}", "density") for end in ("mean", "low", "high")}
    return speak.say("method.interval", **ends)
