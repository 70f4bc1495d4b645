"""Tables on the screen."""

from __future__ import annotations

import os.path
import re
import statistics
from collections.abc import Iterable, Sequence
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

from tillercount.cli.flagwords import WRONG_SIZE, codes_of, explained
from tillercount.cli.guard import one_line
from tillercount.nocrop import NO_CROP, NO_CROP_WORDS
from tillercount.rounding import figure

if TYPE_CHECKING:
    from rich.console import Console

    from tillercount.cli.counting import CountRun

__all__ = ["bullet", "console", "mean_line", "show_counts", "stick_doubts"]

_PIPE_WIDTH = 140
"""Columns of output that goes to a file or a pipe, which has no width of its own."""
_DOUBTS = (
    (frozenset({NO_CROP}), NO_CROP_WORDS),
    (WRONG_SIZE, "the size in --area looks wrong"),
)
"""Flags on half of the photos or more that leave nothing of a mean, the first that holds said."""
_BY_HAND = re.compile(r",? or give [^,;]* (?:by hand )?with --corners\b.*$")
"""The same way out of many refusals: said once, under all of them, with the photos it is for."""


def console() -> Console:
    """Where tables go."""
    import sys

    from rich.console import Console

    wide = None if sys.stdout.isatty() else _PIPE_WIDTH
    return Console(width=wide, highlight=False, emoji=False, markup=False)


def bullet(out: Console, text: str, mark: str = "-") -> None:
    """One line of a list, folded under itself."""
    from rich.padding import Padding
    from rich.table import Table

    row = Table.grid(padding=(0, 1, 0, 0))
    row.add_column(width=len(mark))
    row.add_column(overflow="fold")
    row.add_row(mark, text)
    out.print(Padding(row, (0, 0, 0, 2)))


def show_counts(
    run: CountRun, notes: Iterable[str] = (), *, row_spacing: str | None = None
) -> None:
    """What must be known first; photos with their counts and densities; then what flags and
    refusals mean, and the mean.

    Parameters
    ----------
    run : CountRun
    row_spacing : the drill's as typed, where it was
    notes : what else to say, such as what became of a file's earlier counts
    """
    out = console()
    names = _short_names([record["photo"] for record in run.records])
    for line in _first_lines(run, names):
        out.print(line, soft_wrap=True)
    out.print(_table(run, names))
    for line in _lines_below(run, names, row_spacing):
        out.print(line, soft_wrap=True)
    for note in notes:
        out.print(note, soft_wrap=True)
    out.print(mean_line(run), soft_wrap=True)


def _first_lines(run: CountRun, names: dict[str, str]) -> Iterable[str]:
    """What is said before any count: photos that may not be of the field at all."""
    from tillercount.nocrop import no_crop_line
    from tillercount.twoforms import as_sentence

    counted = (record for record in run.records if record["status"] == "counted")
    if bare := [names[one["photo"]] for one in counted if NO_CROP in codes_of(one)]:
        yield as_sentence(no_crop_line(bare))


def _table(run: CountRun, names: dict[str, str]) -> Any:
    from rich import box
    from rich.table import Table

    flagged = bool(explained(run.records))
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column("photo", overflow="fold")
    for name in ("plants", "shoots", "plants/ft²", "shoots/ft²"):
        table.add_column(name, justify="right", no_wrap=True)
    if flagged:
        table.add_column("flags", overflow="fold")
    for record in run.records:
        cells = ["refused", "", "", ""]
        flags: Sequence[str] = ()
        if record["status"] == "counted":
            flags = codes_of(record)
            cells = [_interval(record[what]) for what in ("plants", "shoots")]
            cells += [
                figure(record[what]["count"] / record["area"]["ft2"], what)
                for what in ("plants", "shoots")
            ]
        row = [names[record["photo"]], *cells]
        table.add_row(*row, ", ".join(flags)) if flagged else table.add_row(*row)
    return table


def _short_names(photos: Sequence[str]) -> dict[str, str]:
    """Photos' names without the folders that all of them share."""
    folders = [str(PurePosixPath(photo).parent) for photo in photos]
    try:
        shared = PurePosixPath(os.path.commonpath(folders)) if folders else None
    except ValueError:  # some start at the root and some don't
        shared = None
    if shared is None:
        return {photo: photo for photo in photos}
    return {photo: str(PurePosixPath(photo).relative_to(shared)) for photo in photos}


def _lines_below(
    run: CountRun, names: dict[str, str], row_spacing: str | None
) -> Iterable[str]:
    from tillercount.count import INTERVAL_LEVEL

    if run.refused < len(run.records):
        yield f"In brackets: {INTERVAL_LEVEL:.0%} intervals."
    yield from _other_plants(run)
    yield from _rows(run, row_spacing)
    flags = explained(run.records)
    if flags:
        yield "Flags, most of which make the interval wider:"
        for code, words in flags.items():
            yield f"  {code}: {words}" if words else f"  {code}"
    yield from _refusals(run, names)


def _rows(run: CountRun, typed: str | None) -> Iterable[str]:
    """How far apart rows are seen; always an answer where the drill's spacing was typed.

    Sticks bring their own, of which only a contradiction is told.
    """
    from tillercount.field.rowspacing import of_stick, rows_seen
    from tillercount.units import length_mm

    yield from stick_doubts(run)
    seen = rows_seen(record for record in run.records if not of_stick(record))
    if typed is None:
        if seen is not None and (line := seen.line()):
            yield line
        return
    if seen is not None:
        yield seen.against(length_mm(typed, what="--row-spacing"), typed)
    elif any((record.get("area") or {}).get("kind") == "row" for record in run.records):
        yield (
            f"--row-spacing {typed} wasn't compared: with a stick the row spacing is the one typed "
            "in --area, and rows are held against that."
        )
    else:
        yield f"No photo shows rows, so the drill's {typed} can't be checked."


def stick_doubts(run: CountRun) -> Iterable[str]:
    """A sentence for each area whose row spacing the photos with a stick contradict, from the flags
    that `tillercount.cli.counting.with_row_flags` put on them."""
    from tillercount.field.rowspacing import STICK_WORDS
    from tillercount.twoforms import as_sentence

    flags = (flag for record in run.records for flag in record.get("flags") or ())
    for text in dict.fromkeys(flag for flag in flags if STICK_WORDS in flag):
        yield f"{as_sentence(text)} Measure both."


def _other_plants(run: CountRun) -> Iterable[str]:
    """What isn't the crop, where the model counts it or where it covers enough to be noticed."""
    from tillercount.stand.otherplants import NOTICEABLE_COVER, SEEN_WRONG, cover_text

    counted = [record for record in run.records if record["status"] == "counted"]
    found = [one["other_plants"]["count"] / one["area"]["ft2"] for one in counted
             if one.get("other_plants")]  # fmt: skip
    covers = [(one.get("cover") or {}).get("other_plants", 0.0) for one in counted]
    cover = statistics.fmean(covers) if covers else 0.0
    if not found and cover < NOTICEABLE_COVER:
        return
    each = f"about {figure(statistics.fmean(found))} per ft², " if found else ""
    yield f"Other plants: {each}{cover_text(cover)} of the ground; {SEEN_WRONG}."


def _refusals(run: CountRun, names: dict[str, str]) -> Iterable[str]:
    """Each reason once, with the photos that have it; the way out that all share at the end."""
    by_reason: dict[str, list[str]] = {}
    by_hand: list[str] = []
    refused = 0
    for record in run.records:
        if record["status"] != "refused":
            continue
        refused += 1
        reason = one_line(record.get("reason") or "no reason given")
        # The reader of photos names the file itself.
        reason = reason.removeprefix(f"{PurePosixPath(record['photo']).name}: ")
        todo, found = _BY_HAND.subn("", one_line(record.get("todo") or ""))
        by_hand += [names[record["photo"]]] * found
        said = f"{reason}. {todo[:1].upper()}{todo[1:]}" if todo else reason
        by_reason.setdefault(said.rstrip("."), []).append(names[record["photo"]])
    if by_reason:
        yield "Refused:"
    told: set[str] = set()
    for said, photos in by_reason.items():
        # the same but for its figures is told in full once
        kind = re.sub(r"\d[\d.,]*", "#", said)
        first = re.split(r": |\. ", said)[0]  # what is wrong, its figures included
        text = f"{first}, likewise" if kind in told and first != said else said
        told.add(kind)
        yield f"  {', '.join(photos)}: {text}."
    if by_hand:
        at = "" if len(by_hand) == refused else f" in {', '.join(by_hand)}"
        one = "" if refused == 1 else ", one photo at a time,"
        yield f"  Or point out the frame{at} yourself{one} with --corners."


def _interval(interval: dict[str, float]) -> str:
    low, high = (figure(interval[key], whole=True) for key in ("low", "high"))
    return f"{figure(interval['count'], whole=True)} ({low}–{high})"


def mean_line(run: CountRun) -> str:
    """How many photos were counted, and the mean densities over them."""
    counted = [record for record in run.records if record["status"] == "counted"]
    total = len(run.records)
    noun = "photo" if total == 1 else "photos"
    text = f"{total} {noun}: {len(counted)} counted, {run.refused} refused."
    if counted:
        means = {
            what: statistics.fmean(one[what]["count"] / one["area"]["ft2"] for one in counted)
            for what in ("plants", "shoots")
        }
        plants, shoots = (figure(mean, what) for what, mean in means.items())
        text += f" Mean: {plants} plants and {shoots} shoots per ft²."
        for codes, why in _DOUBTS:
            doubted = sum(not codes.isdisjoint(codes_of(one)) for one in counted)
            if 2 * doubted >= len(counted):
                photos = f" ({doubted} of {len(counted)} photos)" if len(counted) > 1 else ""
                return f"{text} Don't use it yet: {why}{photos}."
    return text
