"""Results of ``tillercount season`` on the screen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from tillercount.field import DensityEstimate
    from tillercount.store import Added, FieldSummary, History, Placed

__all__ = [
    "photos_text",
    "placed_line",
    "show_added",
    "show_effect",
    "show_overview",
    "show_placed",
    "show_summary",
    "show_way_back",
]


def show_added(
    added: Added, source: object, store: str, told: set[str] | None = None
) -> None:
    """What was added to ``store``, where photos were placed, what to mind.

    ``told`` keeps the dates said so far, so that one command says each once.
    """
    from tillercount.names import and_more, in_command
    from tillercount.store.tally import showing

    listing = showing(store, added.farm, added.field, added.visit)
    typer.echo(f"{source}: {_numbers(added)}")
    for refusal in added.refusals:
        typer.echo(f"  {_refusal(*refusal)}")
    cut = added.refused > len(added.refusals)
    if cut:
        typer.echo(f"  {and_more(added.refused - len(added.refusals), listing)}")
    if added.made:
        typer.echo(f"  NEW in the season: {'; '.join(added.made)}")
    shown = [one for one in added.placed if one.distance_m is not None or one.note]
    for one in shown:
        typer.echo(f"  {placed_line(one)}")
    if shown and added.placed_more:
        typer.echo(f"  {and_more(added.placed_more, '' if cut else listing)}")
    if added.unplaced:
        typer.echo(
            f"  {added.unplaced} at no spot, so not in the mean; place them: "
            f"tillercount season assign {in_command(store)} PHOTO SPOT "
            f"--field {in_command(added.field)}"
        )
    date = f"date of {added.visit}: {added.date}"
    told = set() if told is None else told
    if added.date and date not in told:
        told.add(date)
        typer.echo(f"  {date}")
    for note in added.notes:
        typer.echo(f"  {note}")


def show_way_back(all_added: Sequence[Added], store: str) -> None:
    """The command that takes out again what one ``season add`` brought, where it brought anything.
    """
    from tillercount.names import in_command

    acts = [one.act for one in all_added if one.changed or one.dated]
    if acts:
        typer.echo(
            f"a slip? To take out what was added: tillercount season remove {in_command(store)} "
            f"{' '.join(f'--add {act}' for act in acts)}"
        )


def _numbers(added: Added) -> str:
    """How many counts are new, refused, known already."""
    known = f", {added.known} known already" if added.known else ""
    if added.known_refused:
        known += f" ({added.known_refused} of them refused)"
    if added.back:
        known += f", of which {added.back} now hold{'s' * (added.back == 1)} again"
    counted, refused = added.new - added.refused, added.refused + added.unkept
    if added.put and not added.new and not refused:
        whose = "its count" if added.put == 1 else "their counts"
        rest = added.known - added.put
        also = f"; {rest} more known already" if rest else ""
        return f"{photos_text(added.put)} put into {added.place}, {whose} being known{also}"
    if added.put:
        known += f" ({photos_text(added.put)} of them put there)"
    if not counted and refused:
        kept = f" (noted in {added.place})" if added.refused else ""
        return f"0 counted{known}, {refused} refused{kept}:"
    to = f" to {added.place}" if added.place else ""
    what = added.what.removesuffix("s") if counted == 1 else added.what
    return f"{counted} {what} added{to}{known}" + (f", {refused} refused:" if refused else "")


def _refusal(photo: str, reason: str) -> str:
    return reason if reason.startswith(photo) else f"{photo}: {reason}"


def placed_line(one: Placed) -> str:
    """One photo and where it belongs."""
    from tillercount.names import spot_text
    from tillercount.store.placing import far_text

    spot = spot_text(one.spot) if one.spot else "no spot"
    how = {"place": "by position", "time": "by time", "name": "by name", "hand": "by hand"}
    away = "" if one.distance_m is None or not one.spot else f", {far_text(one.distance_m)} away"
    note = f" ({one.note})" if one.note else ""
    by = f" {how[one.how]}" if one.how in how else ""
    if one.refused:
        at = f"placed at {spot}" if one.spot else "placed at no spot"
        at += f" of {one.goes}, moved from {one.came}" if one.came else ""
        return f"{one.photo}: {at}{away}{note}; still refused, so it adds nothing to the mean"
    if one.came:
        begin = f"{spot_text(one.was)} of " if one.was else ""
        return f"{one.photo}: moved from {begin}{one.came} to {spot} of {one.goes}{by}{away}{note}"
    if one.was:
        return f"{one.photo}: moved from {spot_text(one.was)} to {spot}{by}{away}{note}"
    return f"{one.photo}: {spot}{by}{away}{note}"


def show_placed(placed: Sequence[Placed]) -> None:
    """Every photo and where it belongs."""
    for one in placed:
        # why a photo is nowhere says that it has no position
        told = one.located or one.how == "nowhere"
        without = "" if told else "; the photo has no position"
        typer.echo(f"  {placed_line(one)}{without}")


def show_overview(rows: Sequence[dict[str, Any]]) -> None:
    """All visits of a season in a table."""
    from rich import box
    from rich.table import Table

    from tillercount.cli.show import console

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in ("farm", "field", "visit", "date"):
        table.add_column(name, overflow="fold")
    for name in ("spots", "photos", "without a spot", "hand counts"):
        table.add_column(name, justify="right")
    for row in rows:
        table.add_row(*(_cell(row, name) for name in row if name not in ("counted", "refused")))
    console().print(table if rows else "Nothing in the season yet.")


def _cell(row: dict[str, Any], name: str) -> str:
    """Spots and photos with how many of them have no count."""
    without = row["refused"] if name == "photos" else 0
    if name == "spots" and row["counted"] != row["spots"]:
        return f"{row['spots']} ({row['counted']} counted)"
    return f"{row[name]} ({without} refused)" if without else str(row[name])


def show_effect(done: dict[str, Any]) -> None:
    """What a correction does where the spot was counted by hand too: mostly nothing."""
    from tillercount.names import spot_text
    from tillercount.units import per_ft2

    if not done["by_hand"]:
        return
    means = []
    for what, (before, after) in done.get("means", {}).items():
        if before is None or after is None:
            continue
        was, now = f"{per_ft2(before):.2f}", f"{per_ft2(after):.2f}"
        means.append(f"{what} stay {now}" if was == now else f"{what} go from {was} to {now}")
    by = ", ".join(sorted({one["observer"] or "nobody named" for one in done["by_hand"]}))
    typer.echo(
        f"  mind: {spot_text(done['spot'])} was counted by hand too (by {by}), and that count is "
        "taken before the photo's"
        + (f": in the visit's mean {', '.join(means)} per ft²" if means else "")
        + "; if the hand count is wrong, correct its row and add the file with --replace"
    )


def show_summary(
    found: FieldSummary, past: History, store: str, *, name_unplaced: bool = True,
    metric: bool = False,
) -> None:
    """What a visit of the season ``store`` says about its field.

    ``name_unplaced``: photos without a spot one by one; not where a list of all photos follows.
    ``metric``: densities per square meter.
    """
    from tillercount.cli.seasonvisits import visit_line
    from tillercount.names import first_few
    from tillercount.stand.warn import counts_warnings
    from tillercount.store.tally import showing

    typer.echo(f"{found.farm}, {found.field}, {visit_line(past, store)}")
    # what makes the densities wrong is read before them
    for doubt in counts_warnings(found.estimate) if found.estimate else ():
        typer.echo(f"MIND: {doubt}")
    if found.estimate is None:
        typer.echo("nothing counted yet")
    else:
        for what in ("plants", "shoots"):
            density = getattr(found.estimate, what)
            if density is not None:
                typer.echo(f"{what}: {_density(density, metric)}")
    if found.planned:
        typer.echo(f"{found.planned} spots planned, {found.to_visit} of them still to count")
    if found.hand_to_do:
        typer.echo(f"still to count by hand too: {first_few(found.hand_to_do, 12)}")
    if found.corrected:
        typer.echo(f"{photos_text(found.corrected)} corrected by a person")
    if found.unlocated:
        have = "has" if len(found.unlocated) == 1 else "have"
        listing = showing(store, found.farm, found.field, found.visit)
        named = first_few(found.unlocated, all_by=listing)
        which = f" ({named})" if name_unplaced else ""
        typer.echo(
            f"{photos_text(len(found.unlocated))} {have} no position{which}; the field is as given"
        )
    refused = {photo for photo, _ in found.refused}
    for one in found.unplaced if name_unplaced else ():
        if one.photo not in refused:  # which is named below, with what is wrong with it
            typer.echo(f"not in the mean: {placed_line(one)}")
    if found.unplaced and not name_unplaced:
        typer.echo(f"{photos_text(len(found.unplaced))} at no spot, so not in the mean; see below")
    for photo, reason in found.refused:
        typer.echo(f"refused: {_refusal(photo, reason)}")
    for note in (*found.notes, *(found.estimate.flags if found.estimate else ())):
        typer.echo(f"mind: {note}")


def _density(density: DensityEstimate, metric: bool) -> str:
    from tillercount.cli.samplingrows import shown_in
    from tillercount.rounding import number_text
    from tillercount.units import per_ft2

    ends = (density.mean, density.low, density.high)
    times, unit = shown_in(metric=metric)
    mean, low, high = (number_text(per_ft2(end) * times) for end in ends)
    spots = "1 spot" if density.n == 1 else f"{density.n} spots"
    return f"{mean} {unit} ({low}–{high}, {density.level:.0%} interval, {spots})"


def photos_text(number: int) -> str:
    """How many, for a sentence."""
    return f"{number} photo" if number == 1 else f"{number} photos"

