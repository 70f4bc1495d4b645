"""``tillercount count``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tillercount.cli.fieldoptions import RowSpacingOption
from tillercount.cli.guard import EXIT_REFUSED, guarded

__all__ = ["AREA_HELP", "count"]

AREA_HELP = (
    "What was marked: square:12in, rect:10inx20in, hoop:13.54in (inside diameter), "
    "row:19.2in/7.5in (stick length/row spacing) or whole:0.4mm (the photo is a top view, one "
    "pixel is this wide). A decimal comma is read too: square:30,5cm."
)


@guarded
def count(
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO_OR_FOLDER", help="Photos, or folders of them.")
    ],
    area: Annotated[str | None, typer.Option(metavar="AREA", help=AREA_HELP)] = None,
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
    gap: Annotated[
        str | None,
        typer.Option(
            metavar='"6 in"',
            help="Tell gaps along a row that are longer than this (in --json, under rows). "
            "[default: 6 in]",
        ),
    ] = None,
    row_spacing: RowSpacingOption = None,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="Start --json and --csv anew; what they held goes."),
    ] = False,
) -> None:
    """Count plants and shoots in overhead photos of a marked area.

    With --json or --csv, counts are kept as they come: a run that was interrupted goes on where
    it stopped when the same command is given again. A file that is there already keeps the photos
    that aren't named now; a photo counted again replaces its own earlier count.
    """
    from tillercount.area import parse_area
    from tillercount.cli import earlier
    from tillercount.cli.counting import (
        SCHEMA,
        count_photos,
        counts_file,
        model_record,
        parse_corners,
        with_row_flags,
    )
    from tillercount.cli.files import say_written
    from tillercount.cli.held import held
    from tillercount.cli.partial import forget_partial, partial_path
    from tillercount.cli.photolist import photos_to_count
    from tillercount.cli.show import show_counts
    from tillercount.cli.targets import check_targets
    from tillercount.count import INTERVAL_LEVEL
    from tillercount.errors import InputError
    from tillercount.field.rowdoubt import drill_typed
    from tillercount.model import Counter
    from tillercount.units import length_mm

    if area is None:
        raise InputError(
            "--area is missing: say what was laid on the ground and its inside size, such as "
            "--area square:12in or --area hoop:13.54in"
        )
    marked = parse_area(area)
    by_hand = parse_corners(corners)
    long_gap_mm = None if gap is None else length_mm(gap, what="--gap")
    row_spacing = drill_typed(row_spacing)  # before minutes of counting
    found = photos_to_count(photos)
    if by_hand is not None and len(found) != 1:
        raise InputError(f"--corners belong to one photo, but there are {len(found)}; name one")
    targets = {"--json": json_file, "--csv": csv_file}
    read = [*photos, *found, model]
    check_targets(targets, read, own={"--json": SCHEMA}, pictures="--overlay DIR")
    target = json_file or csv_file
    notes: list[str] = []
    with held(json_file, csv_file):
        before_json = earlier.read_json(json_file, replace=replace) if json_file else None
        before_csv = earlier.read_csv(csv_file, replace=replace) if csv_file else None
        counter = Counter.load(model)
        for before in (before_json, before_csv):
            if before is not None:
                sha256 = model_record(counter.info).get("sha256")
                earlier.check_mixing(before, found, sha256, INTERVAL_LEVEL)
        run = count_photos(
            found,
            marked,
            corners=by_hand,
            model=counter,
            keep_beside=target,
            overlay=overlay,
            classmap=classmap,
            long_gap_mm=long_gap_mm,
        )
        run = with_row_flags(run, row_spacing)
        whole = counts_file(run)
        if before_json is not None:
            notes += earlier.what_became(before_json, earlier.write_merged_json(before_json, whole))
        if before_csv is not None:
            notes += earlier.what_became(before_csv, earlier.write_merged_csv(before_csv, whole))
        if target is not None and (others := forget_partial(target, found)):
            notes.append(
                f"{partial_path(target)}: {others} more from a run that was interrupted; give its "
                "command again to go on with it"
            )
    show_counts(run, notes, row_spacing=row_spacing)
    say_written(json_file, csv_file, overlay, classmap)
    if run.refused:
        raise typer.Exit(EXIT_REFUSED)
