"""``tillercount count``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tillercount.cli.guard import EXIT_REFUSED, guarded

__all__ = ["AREA_HELP", "count"]

AREA_HELP = (
    "What was marked: square:12in, rect:10inx20in, hoop:13.54in (inside diameter), "
    "row:19.2in/7.5in (stick length/row spacing) or whole:0.64mm (the photo is a top view, one "
    "pixel is this wide)."
)


@guarded
def count(
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO_OR_FOLDER", help="Photos, or folders of them.")
    ],
    area: Annotated[str, typer.Option(metavar="AREA", help=AREA_HELP)],
    corners: Annotated[
        str | None,
        typer.Option(
            metavar='"x,y x,y x,y x,y"',
            help="Inside corners by hand, in pixels of the upright photo; for one photo.",
        ),
    ] = None,
    model: Annotated[
        str | None,
        typer.Option(metavar="NAME_OR_PATH", help="Another model than the one shipped."),
    ] = None,
    json_file: Annotated[
        Path | None,
        typer.Option("--json", metavar="F", help="Write the counts; assess reads this file."),
    ] = None,
    csv_file: Annotated[
        Path | None, typer.Option("--csv", metavar="F", help="Write the counts as a table.")
    ] = None,
    overlay: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write each photo with what was found on it."),
    ] = None,
    classmap: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Write the class of every pixel: 0 soil, 1 residue, 2 crop, 3 other plants, "
            "4 frame, 255 not judged.",
        ),
    ] = None,
) -> None:
    """Count plants and shoots in overhead photos of a marked area.

    With --json or --csv, counts are kept as they come: a run that was interrupted goes on where
    it stopped when the same command is given again.
    """
    from tillercount.area import parse_area
    from tillercount.cli.counting import count_photos, counts_file, parse_corners
    from tillercount.cli.files import check_targets, counts_csv, write_json, write_text
    from tillercount.cli.partial import partial_path
    from tillercount.cli.show import show_counts
    from tillercount.errors import InputError
    from tillercount.photo import list_photos

    marked = parse_area(area)
    by_hand = parse_corners(corners)
    found = list_photos(photos)
    if by_hand is not None and len(found) != 1:
        raise InputError(f"--corners belong to one photo, but there are {len(found)}; name one")
    check_targets([json_file, csv_file], found)
    if json_file is not None and csv_file is not None and json_file.resolve() == csv_file.resolve():
        raise InputError(f"{json_file} is named for --json and --csv; name two files")
    target = json_file or csv_file
    run = count_photos(
        found,
        marked,
        corners=by_hand,
        model=model,
        keep_beside=target,
        overlay=overlay,
        classmap=classmap,
    )
    if json_file is not None:
        write_json(json_file, counts_file(run))
    if csv_file is not None:
        write_text(csv_file, counts_csv(run.records))
    if target is not None:
        partial_path(target).unlink(missing_ok=True)
    show_counts(run)
    if run.refused:
        raise typer.Exit(EXIT_REFUSED)
