"""``tillercount assess``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tillercount.cli.count import AREA_HELP
from tillercount.cli.guard import EXIT_REFUSED, guarded, say

if TYPE_CHECKING:
    from tillercount.area import Area
    from tillercount.stand import Assessment

__all__ = ["assess"]

_MOST_PICTURES = 6
"""Overlays put into a page; more make it too heavy to send to a phone."""


@guarded
def assess(
    sources: Annotated[
        list[Path],
        typer.Argument(
            metavar="SOURCE",
            help="Of one field, mixed as you like: photos, folders of photos, counts files made by "
            "count --json, CSV files of hand counts.",
        ),
    ],
    area: Annotated[
        str | None, typer.Option(metavar="AREA", help=f"For photos only. {AREA_HELP}")
    ] = None,
    rules: Annotated[
        str,
        typer.Option(metavar="NAME", help="Rule set (see: tillercount rules), or a rule file."),
    ] = "common-practice",
    yield_goal: Annotated[
        str | None, typer.Option(metavar='"80 bu/ac"', help="Needed for pounds of nitrogen.")
    ] = None,
    crop: Annotated[
        str, typer.Option(metavar="CROP", help="The crop that stands there.")
    ] = "wheat",
    stage: Annotated[
        str | None,
        typer.Option(metavar='"Feekes 3"', help="Growth stage, as Feekes or Zadoks (GS25)."),
    ] = None,
    insist: Annotated[
        bool,
        typer.Option("--insist", help="Use rules for a crop they aren't for; says not validated."),
    ] = False,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="F", help="Write the assessment.")
    ] = None,
    html_file: Annotated[
        Path | None, typer.Option("--html", metavar="F", help="Write the page to hand over.")
    ] = None,
    field: Annotated[
        str | None, typer.Option(metavar="NAME", help="Name of the field, for the page's title.")
    ] = None,
    zones: Annotated[
        Path | None,
        typer.Option(
            metavar="F",
            help="Weigh zones by their area: the plan's GeoJSON, or a file of the zones' outlines. "
            "Spots name their zone in the CSV's column zone.",
        ),
    ] = None,
    explain: Annotated[
        bool,
        typer.Option("--explain", help="Show every step from counts to verdict, with its source."),
    ] = False,
) -> None:
    """Judge the stand of one field from photos, counts and hand counts.

    CSV columns: spot,observer,plants,shoots,area (plants or shoots may be missing) and, where
    wanted, row_length,row_spacing,definition,zone,lat,lon,note,field. The area is written like
    square:12in or 1 ft2, never as a bare number.
    """
    import contextlib
    import tempfile

    from tillercount.area import parse_area
    from tillercount.cli.files import check_targets, write_json
    from tillercount.cli.partial import forget_partial
    from tillercount.cli.verdict import show_assessment
    from tillercount.field.apart import several_fields
    from tillercount.stand import assess as assess_field
    from tillercount.stand import load_rules
    from tillercount.store.zonefile import read_zone_areas

    photos, files = _sorted_out(sources)
    marked = parse_area(area) if area is not None else None
    _need_area(photos, marked)
    # What can be wrong without counting is found before minutes of it.
    load_rules(rules)
    zone_areas = None if zones is None else read_zone_areas(zones)
    check_targets([json_file, html_file], [*photos, *files, *([zones] if zones else [])])
    with contextlib.ExitStack() as stack:
        pictures = None
        if html_file is not None and photos:
            pictures = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        counts: list[Any] = list(files)
        overlays: list[tuple[Path, str]] = []
        refused = 0
        if photos and marked is not None:
            counted, overlays, refused = _count(photos, marked, pictures, json_file or html_file)
            counts.insert(0, counted)
        result = assess_field(
            counts,
            rules,
            yield_goal=yield_goal,
            crop=crop,
            stage=stage,
            name=field if field is not None else _field_name(sources),
            insist=insist,
            zone_areas=zone_areas,
        )
        if json_file is not None:
            write_json(json_file, result.to_json())
        if html_file is not None:
            _write_page(result, html_file, overlays)
    forget_partial(json_file or html_file, photos)
    for caution in several_fields(result.field.listed):
        say(f"caution: {caution}")
    show_assessment(result, explain=explain)
    if refused:
        raise typer.Exit(EXIT_REFUSED)


def _sorted_out(sources: Sequence[Path]) -> tuple[list[Path], list[Path]]:
    """Photos (from folders as well), and files of counts."""
    from tillercount.cli.photolist import without_own_pictures
    from tillercount.errors import InputError
    from tillercount.photo import SUFFIXES, list_photos

    pictures: list[Path] = []
    files: list[Path] = []
    for source in sources:
        if source.suffix.lower() in (".json", ".csv", ".tsv", ".txt") and not source.is_dir():
            if not source.exists():
                raise InputError(f"{source} doesn't exist; check the name and the folder")
            if source not in files:
                files.append(source)
        elif source.is_file() and source.suffix.lower() not in SUFFIXES:
            raise InputError(
                f"{source} is neither a photo, nor a counts file (.json), nor a CSV of hand "
                "counts; give one of these, or a folder of photos"
            )
        else:
            pictures.append(source)
    return (without_own_pictures(list_photos(pictures)) if pictures else []), files


def _need_area(photos: Sequence[Path], area: Area | None) -> None:
    from tillercount.errors import InputError

    if photos and area is None:
        raise InputError(
            f"{len(photos)} of the sources are photos, so --area is needed, such as "
            "--area square:12in"
        )


def _field_name(sources: Sequence[Path]) -> str:
    """The one folder's or file's name; several have none in common."""
    if len(sources) != 1:
        return ""
    return sources[0].resolve().name if sources[0].is_dir() else sources[0].stem


def _count(
    photos: Sequence[Path], area: Area, pictures: Path | None, target: Path | None
) -> tuple[dict[str, Any], list[tuple[Path, str]], int]:
    """Counts of the photos as in a counts file, their overlays, and how many were refused."""
    from tillercount.cli.counting import count_photos, counts_file
    from tillercount.cli.files import picture_names

    run = count_photos(photos, area, keep_beside=target, overlay=pictures)
    overlays: list[tuple[Path, str]] = []
    if pictures is not None:
        names = picture_names(photos, ".png")
        for photo, record in zip(photos, run.records, strict=True):
            picture = pictures / names[photo]
            if record["status"] == "counted" and picture.exists():
                overlays.append((picture, photo.name))
    return counts_file(run), overlays[:_MOST_PICTURES], run.refused


def _write_page(result: Assessment, path: Path, overlays: list[tuple[Path, str]]) -> None:
    from tillercount.report.page import write_page

    write_page(result, path, overlays=overlays)
