"""Options declared once and given to several commands, each group under its heading."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, ClassVar

import pytest
import typer
from typer.testing import CliRunner

from tests.cli.helpers import ROOT
from tillercount.cli.optiongroups import GroupedCommand, grouped

Run = Callable[..., Any]
VISIT = ROOT / "sample_images" / "spring_visit"


@dataclass(frozen=True)
class Colours:
    panel: ClassVar[str] = "How it looks"

    ink: Annotated[str, typer.Option(metavar="NAME", help="Of the letters.")] = "black"
    paper: Annotated[list[str] | None, typer.Option("--page", help="Of the page.")] = None


def small_app() -> typer.Typer:
    app = typer.Typer(add_completion=False, rich_markup_mode=None)

    @grouped
    def draw(
        colours: Colours,
        what: Annotated[str, typer.Argument(help="What to draw.")],
        loud: Annotated[bool, typer.Option("--loud", help="Say it.")] = False,
    ) -> None:
        """Draw."""
        typer.echo(f"{what} {colours.ink} {colours.paper} {loud}")

    app.command(cls=GroupedCommand)(draw)
    return app


def test_a_group_reaches_the_command_as_one_value() -> None:
    run = CliRunner().invoke(small_app(), ["tree", "--ink", "red", "--page", "a", "--page", "b"])
    assert run.exit_code == 0, run.output
    assert run.output.strip() == "tree red ['a', 'b'] False"
    assert CliRunner().invoke(small_app(), ["tree", "--loud"]).output.strip() == (
        "tree black None True"
    )


def test_help_has_the_heading() -> None:
    text = CliRunner().invoke(small_app(), ["--help"]).output
    plain, group = text.split("How it looks:")
    assert "--loud" in plain
    assert "--ink NAME" in group
    assert "--loud" not in group


@pytest.mark.parametrize(
    ("command", "longest", "headings"),
    [
        ("report", 75, ["What to write", "Crop and rules", "How much nitrogen it needs", "Product",
                        "Ground and boom", "Dates and weather", "While it goes on"]),
        ("nitrogen", 70, ["Crop and rules", "How much nitrogen it needs", "Product",
                          "Ground and boom", "Dates and weather", "While it goes on",
                          "Yield potential"]),
        ("assess", 42, ["Crop and rules"]),
    ],
)  # fmt: skip
def test_help_is_short_and_in_groups(
    run: Run, command: str, longest: int, headings: list[str]
) -> None:
    lines = run(command, "--help").output.splitlines()
    assert len(lines) <= longest
    assert [line[:-1] for line in lines if line.rstrip(":") in headings] == headings


OPTIONS = (
    "area", "rules", "whole-by", "case", "yield-goal", "crop", "insist", "stage", "fall-n",
    "nitrate", "manure", "organic-matter", "after", "given", "tissue", "product", "price",
    "boundary", "field", "boom", "swath", "headlands", "boom-sections", "heading", "weather",
    "sown", "visited", "nozzle", "air", "wet", "dry", "windy", "calm", "herbicide",
    "no-herbicide", "ground", "weed", "json",
)  # fmt: skip


def test_no_option_was_lost(run: Run) -> None:
    report, nitrogen = (run(one, "--help").output for one in ("report", "nitrogen"))
    for option in OPTIONS:
        assert f"--{option} " in report, option
        assert f"--{option} " in nitrogen, option
    for option in ("html", "pdf", "paper", "units", "words", "photos", "farm", "visit"):
        assert f"--{option} " in report, option
    for option in ("kernels", "kernel-mg", "units", "explain"):
        assert f"--{option} " in nitrogen, option


def test_report_and_nitrogen_plan_the_same(run: Run, tmp_path: Path) -> None:
    """Both go through one call: every number of the one stands in the other."""
    import json

    asked = (
        VISIT / "pole_field.csv", "--stage", "Feekes 3", "--yield-goal", "80 bu/ac", "--fall-n",
        "20 lb/ac", "--product", "urea", "--price", "420/ton", "--weather", VISIT / "weather.csv",
        "--visited", "2027-03-06", "--nozzle", "stream", "--air", "50 F", "--wet",
    )  # fmt: skip
    one, other = tmp_path / "n.json", tmp_path / "r.json"
    assert run("nitrogen", *asked, "--json", one).exit_code == 0
    assert run("report", *asked, "--json", other).exit_code == 0
    kept = json.loads(other.read_text("utf-8"))["nitrogen"]["all"]
    assert kept["doses"]
    assert json.loads(one.read_text("utf-8")) == kept
