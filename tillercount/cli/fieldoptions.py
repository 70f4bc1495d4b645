"""Options of the commands that judge a field and plan its nitrogen."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, ClassVar

import typer

__all__ = [
    "BoomOptions",
    "DayOptions",
    "GivenOption",
    "JudgeOptions",
    "KernelOptions",
    "NeedOptions",
    "PageOptions",
    "ProductOptions",
    "RowSpacingOption",
    "UnitsOption",
    "WorkOptions",
]


GivenOption = Annotated[
    str | None, typer.Option(metavar='"30 lb/ac"', help="Nitrogen already on this spring.")
]


RowSpacingOption = Annotated[
    str | None,
    typer.Option(
        metavar='"7.5 in"',
        help="The drill's, where a frame was laid: compared with the rows that photos show, "
        "which stand another distance apart where the size in --area is wrong.",
    ),
]


UnitsOption = Annotated[str, typer.Option(metavar="NAME", help="Shown in us or metric.")]


@dataclass(frozen=True)
class PageOptions:
    """What a report is written to, and how it looks."""

    panel: ClassVar[str] = "What to write"

    html_file: Annotated[Path | None, typer.Option("--html", metavar="F", help="The page.")] = None
    pdf_file: Annotated[
        Path | None, typer.Option("--pdf", metavar="F", help="Two sheets to print.")
    ] = None
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="F", help="The same as plain values.")
    ] = None
    photos: Annotated[
        list[Path] | None,
        typer.Option(metavar="DIR", help="Counted photos, to show the best and the thinnest."),
    ] = None
    paper: Annotated[str, typer.Option(metavar="NAME", help="Paper: letter or a4.")] = "letter"
    units: UnitsOption = "us"
    words: Annotated[
        Path | None, typer.Option(metavar="F", help="Sentences in another language.")
    ] = None


@dataclass(frozen=True)
class JudgeOptions:
    """What a stand is judged by."""

    panel: ClassVar[str] = "Crop and rules"

    area: Annotated[
        str | None,
        typer.Option(
            metavar="AREA", help="What was marked in the photos: square:12in (see count --help)."
        ),
    ] = None
    row_spacing: Annotated[
        str | None,
        typer.Option(metavar='"7.5 in"', help="The drill's, against rows in photos."),
    ] = None
    rules: Annotated[
        str | None,
        typer.Option(
            metavar="NAME", help="Rule set (see rules list) or file. [default: common-practice]"
        ),
    ] = None
    crop: Annotated[str, typer.Option(metavar="CROP", help="What stands there.")] = "wheat"
    stage: Annotated[
        str | None, typer.Option(metavar='"Feekes 3"', help="Growth stage; or Zadoks, GS25.")
    ] = None
    yield_goal: Annotated[
        str | None, typer.Option(metavar='"80 bu/ac"', help="Needed for pounds of nitrogen.")
    ] = None
    insist: Annotated[
        bool, typer.Option("--insist", help="Use rules of another crop; says not validated.")
    ] = False


@dataclass(frozen=True)
class NeedOptions:
    """How much nitrogen the crop needs, and what is there already."""

    panel: ClassVar[str] = "How much nitrogen it needs"

    whole_by: Annotated[
        str | None, typer.Option(metavar="NAME", help="Rule set for the whole, if another.")
    ] = None
    case: Annotated[
        str, typer.Option(metavar="CASE", help="One of the publisher's: tilled, no-till.")
    ] = ""
    fall_n: Annotated[
        str | None, typer.Option(metavar='"20 lb/ac"', help="Nitrogen put on in fall.")
    ] = None
    nitrate: Annotated[
        str | None, typer.Option(metavar='"15 lb/ac"', help="Nitrate in the soil sample.")
    ] = None
    manure: Annotated[
        str | None, typer.Option(metavar='"30 lb/ac"', help="What manure gives this year.")
    ] = None
    organic_matter: Annotated[
        str | None, typer.Option(metavar="PERCENT", help="Organic matter of the soil.")
    ] = None
    after: Annotated[str, typer.Option(metavar="CROP", help="The crop before this one.")] = ""
    given: GivenOption = None
    tissue: Annotated[
        str | None, typer.Option(metavar="PERCENT", help="Nitrogen in plants at Feekes 5.")
    ] = None


@dataclass(frozen=True)
class ProductOptions:
    """What it is put on with, and what that costs."""

    panel: ClassVar[str] = "Product"

    products: Annotated[
        list[str] | None,
        typer.Option("--product", metavar="NAME", help="urea, uan28/30/32, ams, ats; repeatable."),
    ] = None
    prices: Annotated[
        list[str] | None,
        typer.Option("--price", metavar="P", help="420/ton, 1.55/gal; uan28=... for one of many."),
    ] = None


@dataclass(frozen=True)
class BoomOptions:
    """The ground, and what a boom doses twice on it."""

    panel: ClassVar[str] = "Ground and boom"

    boundary: Annotated[
        str | None, typer.Option(metavar="F", help="Outline of field or farm, as for plan.")
    ] = None
    boom: Annotated[
        str | None, typer.Option(metavar='"90 ft"', help="Boom width; needs --boundary.")
    ] = None
    swath: Annotated[
        str | None, typer.Option(metavar='"88 ft"', help="Pass to pass. [default: the boom]")
    ] = None
    headlands: Annotated[int, typer.Option(metavar="N", help="Rounds along the edge.")] = 1
    boom_sections: Annotated[int, typer.Option(metavar="N", help="Parts that switch singly.")] = 1
    heading: Annotated[
        str | None,
        typer.Option(metavar="DEG", help="Of the passes, from north. [default: the long side]"),
    ] = None


@dataclass(frozen=True)
class DayOptions:
    """Dates."""

    panel: ClassVar[str] = "Dates and weather"

    visited: Annotated[
        str | None,
        typer.Option(metavar="2026-03-05", help='Day the field was seen, also "4 March".'),
    ] = None
    weather: Annotated[
        Path | None,
        typer.Option(metavar="F", help="CSV: date,tmax_f,tmin_f (or _c); past years too."),
    ] = None
    sown: Annotated[
        str | None, typer.Option(metavar="2025-10-05", help="Day of sowing, with --weather.")
    ] = None


@dataclass(frozen=True)
class WorkOptions:
    """Weather and gear while it goes on."""

    panel: ClassVar[str] = "While it goes on"

    nozzle: Annotated[
        str | None, typer.Option(metavar="KIND", help="Nozzles: stream or flat-fan.")
    ] = None
    air: Annotated[str | None, typer.Option(metavar='"55 F"', help="Air temperature at work.")] = (
        None
    )
    wet: Annotated[
        bool | None, typer.Option("--wet/--dry", help="Dew or white frost on the leaves.")
    ] = None
    windy: Annotated[bool | None, typer.Option("--windy/--calm", help="Wind at work.")] = None
    herbicide: Annotated[
        bool | None, typer.Option("--herbicide/--no-herbicide", help="Herbicide in the tank.")
    ] = None
    ground: Annotated[
        str | None,
        typer.Option(metavar="STATE", help="Of the ground: fit, frozen, snow, saturated."),
    ] = None


@dataclass(frozen=True)
class KernelOptions:
    """For the yield potential."""

    panel: ClassVar[str] = "Yield potential"

    kernels: Annotated[
        str | None, typer.Option(metavar="30-35", help="Kernels per head that you expect.")
    ] = None
    kernel_mg: Annotated[
        str | None, typer.Option(metavar="28-35", help="Kernel weight, mg (g per 1,000).")
    ] = None
