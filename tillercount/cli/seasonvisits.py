"""The visits to a field on the screen: which one this is, the others, what changed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from tillercount.store import Change, FieldSummary, History, Visited

__all__ = ["left_line", "show_changes", "visit_line"]

_WAYS = {
    "hand": "by hand",
    "photo": "from photos",
    "both": "partly by hand and partly from photos",
}


def left_line(found: FieldSummary) -> str:
    """How much of the plan isn't counted yet, and the zone that lacks most; "" where all is."""
    if not found.to_visit:
        return ""
    text = f"{found.to_visit} of {found.planned} planned spots not counted yet"
    shares = {zone: left / planned for zone, (left, planned) in found.left.items()}
    most = max(shares.values())
    behind = [zone for zone, share in shares.items() if share == most]
    # zones that lack equally many have none to go to first; nor has ground in no zone a name
    if len(shares) < 2 or len(behind) > 1 or not behind[0]:
        return text
    return f"{text}, {found.left[behind[0]][0]} of them in {behind[0]}: go there first"


def visit_line(past: History, store: str) -> str:
    """The visit with its date, and which of how many of the season ``store`` it is."""
    from tillercount.names import first_few, in_command

    here = past.here
    text = f"{here.name} ({here.date.text})"
    if len(past.visits) == 1:
        return text
    many = len(past.visits)
    if not past.is_last:
        last = [one.name for one in past.visits if one.counted][-1]
        return f"{text}, NOT the last of {many} visits: that is {last}"
    if past.ahead:
        ahead = first_few(past.ahead, all_by=f"tillercount season show {in_command(store)}")
        return f"{text}, the last counted of {many} visits: nothing at {ahead} yet"
    return f"{text}, the last of {many} visits"


def show_changes(past: History, *, metric: bool = False) -> None:
    """What changed since the visit before, and the other visits; ``metric``: per square meter."""
    for change in past.same:
        typer.echo(
            f"since {past.since}, on the {change.spots} spots counted both times (by their names): "
            f"{_change(change, metric)}"
        )
    means = "the means of all spots differ by: " if past.same else ""
    # where all spots were counted both times, the means say nothing more
    on_same = {change.what: change.mean for change in past.same}
    of_means = [
        change
        for change in past.changes
        if not math.isclose(on_same.get(change.what, math.inf), change.mean, abs_tol=1e-6)
    ]
    for change in of_means:
        typer.echo(f"since {past.since}: {means}{_change(change, metric)}")
    if of_means and past.same:
        typer.echo(
            "  (the means are of different spots and taken as independent: how the stand changed "
            "is what the spots counted both times say)"
        )
    elif of_means:
        typer.echo(
            "  (a difference of two means, taken as independent: the spots aren't the same plants, "
            "so it needn't be growth)"
        )
    if past.ways and past.changes:
        before, now = (_WAYS[way] for way in past.ways)
        typer.echo(
            f"mind: {past.since} was counted {before}, {past.here.name} {now}: part of the change "
            "may be the way of counting (photos read thick stands too low and thin ones too high); "
            "to tell, count a few spots both ways at the next visit"
        )
    for name in past.guessed:
        typer.echo(
            f"mind: {name}, of which no day is known, is taken to be before {past.here.name}, as "
            "it was put in first; to give it its day, add its file again with --date"
        )
    others = [one for number, one in enumerate(past.visits) if number != past.at]
    for one in others:
        typer.echo(f"other visit: {one.name} ({one.date.text}): {_means(one, metric)}")
    if others:
        typer.echo("  show one: --visit NAME")


def _change(change: Change, metric: bool) -> str:
    from tillercount.cli.samplingrows import shown_in

    one, unit = shown_in(metric=metric)
    mean, low, high = (_signed(value, one) for value in (change.mean, change.low, change.high))
    clear = "" if change.clear else "; no clear change"
    return f"{change.what} {mean} {unit} ({low} to {high}, {change.level:.0%} interval{clear})"


def _signed(per_m2: float, one: float) -> str:
    """A change, rounded as reports round it; ``one``: as in `samplingrows.shown_in`."""
    from tillercount.rounding import number_text
    from tillercount.units import per_ft2

    value = per_ft2(per_m2) * one
    sign = "+" if value > 0 else "−" if value < 0 else ""
    return f"{sign}{number_text(abs(value))}"


def _means(visit: Visited, metric: bool) -> str:
    from tillercount.cli.samplingrows import shown_in
    from tillercount.rounding import number_text
    from tillercount.units import per_ft2

    if visit.estimate is None:
        return visit.problem or "nothing counted"
    times, unit = shown_in(metric=metric)
    found = ((what, getattr(visit.estimate, what)) for what in ("plants", "shoots"))
    return ", ".join(
        f"{number_text(per_ft2(one.mean) * times)} {what} {unit}"
        for what, one in found
        if one is not None
    )
