"""What changed since the visit before, on the spots counted at both: for the record and in words.

Means of different spots differ by the spots as well, so without enough shared ones nothing is said.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from tillercount.report.blocks import Para
from tillercount.report.bothunits import ends_in_both
from tillercount.report.language import Line, Speaker

if TYPE_CHECKING:
    from tillercount.store import History

__all__ = ["day_of_visit", "since_blocks", "since_record"]


def day_of_visit(past: History) -> str | None:
    """ISO date of the visit meant, where more is known than when it was put in, and it is one."""
    date = past.here.date
    return date.first if date.how != "added" and date.first == date.last else None


def since_record(past: History) -> dict[str, Any] | None:
    """The change on the spots counted at both visits; None where too few were."""
    if not past.same:
        return None
    before = next(one.date for one in past.visits if one.name == past.since)
    named = before.how == "name" and before.first[:4] in past.since  # which says the day in full
    return {
        "visit": past.since,
        "date": before.first if before.how != "added" and not named else None,
        "ways": None if past.ways is None else dict(zip(("before", "now"), past.ways, strict=True)),
        "order_guessed": past.since in past.guessed,
        "changes": [
            {
                "what": one.what,
                "spots": one.spots,
                "level": one.level,
                "clear": one.clear,
                **ends_in_both(one),
            }
            for one in past.same
        ],
    }


def since_blocks(speak: Speaker) -> Iterator[Para]:
    """One short paragraph."""
    since = speak.record["since"]
    if since is None:
        return
    at, say, words = speak.at, speak.say, speak.words
    lines: list[Line] = []
    for i, one in enumerate(since["changes"]):
        path = f"since/changes/{i}"
        lines.append(
            say(
                "since.clear" if one["clear"] else "since.unclear",
                what=words[f"what.{one['what']}"],
                unit=words[f"unit.{speak.per}"],
                spots=at(f"{path}/spots", "whole"),
                level=at(f"{path}/level", "share"),
                **{end: at(f"{path}/{speak.per}/{end}", "change") for end in one[speak.per]},
            )
        )
    visit = at("since/visit")
    head = (
        say("since.dated", visit=visit, date=at("since/date", "date"))
        if since["date"]
        else say("since.undated", visit=visit)
    )
    yield Para(say("since.line", since=head, changes=speak.joined(lines, "since.and")))
    if since["ways"]:
        ways = {end: words[f"since.by_{way}"] for end, way in since["ways"].items()}
        yield Para(say("since.ways", visit=visit, **ways))
    if since["order_guessed"]:
        yield Para(say("since.guessed", visit=visit), "small")
