"""``tillercount report``."""

from __future__ import annotations

import csv
import datetime as dt
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import ROOT, StandIn
from tillercount.field import collect
from tillercount.units import per_ft2

Run = Callable[..., Any]
VISIT = ROOT / "sample_images" / "spring_visit"
FIELDS = ROOT / "sample_images" / "alder_bend_fields.geojson"


def soonest_jointing() -> dt.date:
    """1,350 °F-days from 1 January (Maryland state notice 2013), the rest as in a past year.

    The floor of 32 °F is applied to the mean of each day, or to its two ends.
    """
    days = {}
    with (VISIT / "weather.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            high, low = float(row["tmax_f"]), float(row["tmin_f"])
            ends = (max(high, 32.0) + max(low, 32.0)) / 2 - 32
            days[dt.date.fromisoformat(row["date"])] = (max(0.0, (high + low) / 2 - 32), ends)
    today = max(days)
    found = []
    for way in (0, 1):
        left = 1350 - sum(v[way] for day, v in days.items() if day.year == today.year)
        for year in (2024, 2025, 2026):
            day, total = today.replace(year=year), 0.0
            while total < left:
                day += dt.timedelta(1)
                total += days[day][way]
            found.append(today + (day - today.replace(year=year)))
    return min(found)


@pytest.mark.parametrize(
    ("file", "field", "kind"),
    [
        ("top_field.csv", "Top field", "hold"),
        ("pole_field.csv", "Pole field", "push"),
        ("triangle.csv", "Triangle", "keep_first"),
    ],
)
def test_three_fields_three_verdicts(
    run: Run, tmp_path: Path, file: str, field: str, kind: str
) -> None:
    page, pdf, values = (tmp_path / f"r.{ending}" for ending in ("html", "pdf", "json"))
    result = run(
        "report", VISIT / file, "--farm", "Alder Bend", "--field", field, "--boundary", FIELDS,
        "--boom", "90 ft", "--stage", "Feekes 3", "--yield-goal", "80 bu/ac", "--product", "uan28",
        "--weather", VISIT / "weather.csv", "--visited", "2027-03-06", "--paper", "a4",
        "--html", page, "--pdf", pdf, "--json", values,
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    kept = json.loads(values.read_text("utf-8"))
    assert kept["schema"] == "tillercount.report/1"
    assert kept["verdict"]["kind"] == kind
    assert kept["map"]["without_position"] == kept["map"]["outside"] == 0
    assert bool(kept["nitrogen"]["doses"]) == (kind != "keep_first")
    text = re.sub("<[^>]*>", "", page.read_text("utf-8"))
    if kind != "keep_first":
        # the earliest of three past springs on file, by either way of applying the floor
        assert soonest_jointing() == dt.date(2027, 4, 25)
        # which may be weeks late, so it is no date on a sheet for the grower
        assert kept["nitrogen"]["doses"][-1]["before"] is None
        assert "before 25 April 2027" not in text
        assert "25 April" not in text
        assert "No date is given for jointing" in text
    assert pdf.read_bytes().startswith(b"%PDF")
    assert len(re.findall(rb"/Type /Page\b(?!s)", pdf.read_bytes())) == 2
    assert field in page.read_text("utf-8")
    assert "likely" in result.output


def test_photos_best_and_thinnest(
    run: Run, photos: Path, stand_in: StandIn, tmp_path: Path
) -> None:
    counts, values = tmp_path / "counts.json", tmp_path / "r.json"
    assert run("count", photos, "--area", "square:12in", "--json", counts).exit_code == 0
    page = tmp_path / "r.html"
    result = run("report", counts, "--photos", photos, "--html", page, "--json", values)
    assert result.exit_code == 0, result.output
    shown = json.loads(values.read_text("utf-8"))["photos"]
    assert [(one["role"], one["photo"]) for one in shown] == [
        ("worst", "spot0.png"), ("best", "spot3.png")
    ]  # fmt: skip
    assert page.read_text("utf-8").count("data:image/jpeg;base64,") == 2


def test_a_pictured_spot_has_the_figures_of_the_table(
    run: Run, photos: Path, stand_in: StandIn, tmp_path: Path
) -> None:
    counts, hand, values = tmp_path / "c.json", tmp_path / "h.csv", tmp_path / "r.json"
    assert run("count", photos, "--area", "square:12in", "--json", counts).exit_code == 0
    by_photo = [spot.plants_per_m2 for spot in collect(counts).spots]
    # by hand the spot that has most by photo has fewest
    least = round(min(per_ft2(one) for one in by_photo if one) * 0.6, 1)
    hand.write_text(f"spot,observer,plants,shoots,area\n3,Ash,{least},{3 * least},1 ft2\n")
    page = tmp_path / "r.html"
    result = run("report", counts, hand, "--photos", photos, "--html", page, "--json", values)
    assert result.exit_code == 0, result.output
    kept = json.loads(values.read_text("utf-8"))
    worst = kept["photos"][0]
    (row,) = (one for one in kept["counted"]["spots"] if one["photo"] and "spot3" in one["photo"])
    assert (worst["photo"], worst["how"]) == ("spot3.png", "hand")
    assert worst["per_ft2"] == row["per_ft2"]
    assert re.search(r"Thinnest: .*by hand", re.sub("<[^>]*>", "", page.read_text("utf-8")))


def test_frozen_ground_comes_before_the_pounds(run: Run, tmp_path: Path) -> None:
    page = tmp_path / "r.html"
    result = run(
        "report", VISIT / "pole_field.csv", "--yield-goal", "80 bu/ac", "--ground", "frozen",
        "--html", page,
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    text = page.read_text("utf-8")
    plan = text.split('id="nitrogen"')[1]
    assert plan.index("frozen") < plan.index("<table")
    # who reads the top alone mustn't spread either
    assert text.index("spread now: the ground is frozen") < text.index('id="nitrogen"')


def test_from_a_season(run: Run, tmp_path: Path) -> None:
    store, values = tmp_path / "2027.sqlite", tmp_path / "r.json"
    assert run("season", "new", store).exit_code == 0
    added = run(
        "season", "add", store, VISIT / "pole_field.csv", "--farm", "Alder Bend", "--field", "Pole"
    )
    assert added.exit_code == 0, added.output
    result = run("report", store, "--field", "Pole", "--json", values)
    assert result.exit_code == 0, result.output
    kept = json.loads(values.read_text("utf-8"))
    assert (kept["farm"], kept["field"]) == ("Alder Bend", "Pole")
    assert kept["verdict"]["kind"] == "push"
    assert kept["visit"] == {"name": "visit 1", "number": 1, "of": 1}


def test_a_report_from_a_season_names_its_visit(run: Run, tmp_path: Path) -> None:
    # a season is known by what is in it, whatever its name ends with
    store, page = tmp_path / "spring of 2027", tmp_path / "r.html"
    assert run("season", "new", store).exit_code == 0
    for file, name in (("triangle.csv", "March"), ("pole_field.csv", "April")):
        added = run(
            "season", "add", store, VISIT / file, "--farm", "Alder Bend", "--field", "Pole",
            "--visit", name, "--new",
        )  # fmt: skip
        assert added.exit_code == 0, added.output
    for asked, said in (
        ((), "Visit “April”, 2 of 2"), (("--visit", "March"), "Visit “March”, 1 of 2"),
    ):  # fmt: skip
        done = run("report", store, "--field", "Pole", *asked, "--html", page, "--pdf",
                   tmp_path / "r.pdf")  # fmt: skip
        assert done.exit_code == 0, done.output
        assert said in re.sub("<[^>]*>", "", page.read_text("utf-8"))
    files = run("report", VISIT / "pole_field.csv", "--html", page)
    assert files.exit_code == 0
    assert "Visit “" not in page.read_text("utf-8")


def test_a_day_that_contradicts_the_season_is_refused(run: Run, tmp_path: Path) -> None:
    store, values = tmp_path / "2027.sqlite", tmp_path / "r.json"
    run("season", "new", store)
    run("season", "add", store, VISIT / "pole_field.csv", "--farm", "Alder Bend", "--field", "Pole",
        "--date", "2026-03-25")  # fmt: skip
    asked = ("report", store, "--field", "Pole", "--json", values, "--visited")
    wrong = run(*asked, "2026-03-04")
    assert wrong.exit_code == 2
    assert "was seen on 2026-03-25 by the season" in wrong.output
    assert "--date 2026-03-04" in wrong.output
    assert not values.exists()
    assert run(*asked, "25 March 2026").exit_code == 0


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ((), "say what to write"),
        (("--json", "r.json", "--units", "stone"), "units 'stone'"),
        (("--pdf", "r.pdf", "--paper", "legal"), "paper 'legal'"),
        (("--json", "r.json", "--boom", "90 ft"), "--boundary"),
        (("--json", "r.json", "--photos", VISIT), "no photos"),
    ],
)
def test_what_cannot_be_used(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, more: tuple[object, ...], says: str
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run("report", VISIT / "pole_field.csv", *more)
    assert result.exit_code == 2
    assert says in result.output


def test_counts_of_another_field_are_refused_and_strays_said_in_the_terminal(
    run: Run, tmp_path: Path
) -> None:
    """A full verdict once came of spots that all lay in another field than the boundary's."""
    page = tmp_path / "r.html"
    source = VISIT / "pole_field.csv"
    other = ("--field", "Creek field", "--boundary", FIELDS)
    result = run("report", source, *other, "--html", page)
    assert result.exit_code == 2
    assert "all 8 positions lie outside the boundary of Creek field" in result.output
    assert not page.exists()
    result = run("nitrogen", source, *other)
    assert result.exit_code == 2
    assert "all 8 positions lie outside the boundary of Creek field" in result.output
    moved = tmp_path / "moved.csv"
    moved.write_text(source.read_text("utf-8").replace("38.03945,", "38.04945,"), "utf-8")
    own = ("--field", "Pole field", "--boundary", FIELDS)
    result = run("report", moved, *own, "--html", page)
    assert result.exit_code == 0, result.output
    assert "1 of 8 positions lies outside the boundary of Pole field" in result.output
    text = re.sub("<[^>]*>", "", page.read_text("utf-8"))
    assert "1 of 8 positions lies outside the boundary of Pole field (spot 1: 3," in text
    assert "1 of 8 positions lies outside" in run("nitrogen", moved, *own).output


@pytest.mark.parametrize(
    ("option", "name", "instead"),
    [
        ("--html", "x.pdf", "write --pdf "),
        ("--pdf", "x.html", "write --html "),
        ("--pdf", "x.HTM", "write --html "),
        ("--json", "x.pdf", "write --pdf "),
        ("--html", "x.jpg", "name a file that ends in .html"),
    ],
)
def test_a_result_is_named_by_its_kind(
    run: Run, tmp_path: Path, option: str, name: str, instead: str
) -> None:
    """A page named x.pdf once opened nowhere."""
    target = tmp_path / name
    result = run("report", VISIT / "top_field.csv", option, target)
    assert result.exit_code == 2
    assert "of another kind of file" in result.output
    assert instead in result.output
    assert not target.exists()


def test_only_options_of_the_command_are_offered(run: Run, tmp_path: Path) -> None:
    result = run("assess", VISIT / "top_field.csv", "--html", tmp_path / "x.pdf")
    assert result.exit_code == 2
    assert "name a file that ends in .html" in result.output
    assert "--pdf" not in result.output


def one_field(path: Path, name: str, *more: str) -> Path:
    """The boundary file's outline of the Pole field under another name; ``more`` beside it."""
    drawn = json.loads(FIELDS.read_text("utf-8"))
    pole = next(one for one in drawn["features"] if one["properties"]["name"] == "Pole field")
    drawn["features"] = [
        {**pole, "properties": {**pole["properties"], "name": one}} for one in (name, *more)
    ]
    path.write_text(json.dumps(drawn), encoding="utf-8")
    return path


def test_an_outline_under_a_former_name_of_the_field_is_taken(run: Run, tmp_path: Path) -> None:
    store, values = tmp_path / "2027.sqlite", tmp_path / "r.json"
    run("season", "new", store)
    for file, field in (("pole_field.csv", "Long strip"), ("top_field.csv", "Upper")):
        added = run(
            "season", "add", store, VISIT / file, "--farm", "Alder Bend", "--field", field
        )
        assert added.exit_code == 0, added.output
    done = run("season", "rename", store, "--field", "Long strip", "--to", "Strip, long")
    assert done.exit_code == 0, done.output

    def report(file: Path) -> Any:
        asked = ("--field", "strip, LONG", "--boundary", file, "--json", values)
        return run("report", store, *asked)

    for more in ((), ("Hill",)):
        result = report(one_field(tmp_path / "acker.geojson", "Long strip", *more))
        assert result.exit_code == 0, result.output
        assert "has 'Long strip', as the field was called before" in " ".join(
            result.output.split()
        )
        assert json.loads(values.read_text("utf-8"))["map"] is not None
    # the name is now another field's
    moved = run("season", "rename", store, "--field", "Upper", "--to", "Long strip")
    assert moved.exit_code == 0, moved.output
    result = report(one_field(tmp_path / "acker.geojson", "Long strip"))
    assert result.exit_code == 2
    assert "no field 'strip, LONG'" in result.output
    # and a name that the field never had stays refused
    assert report(one_field(tmp_path / "acker.geojson", "Hill")).exit_code == 2
