"""Of each of a spot's two counts it is told where it comes from, where that differs."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import NORTH, counts, entry, hand_csv
from tillercount.field import SpotDensity, estimate_field
from tillercount.handfile import read_with_note
from tillercount.report.pagespots import spot_rows
from tillercount.stand import assess, load_rules, parse_stage
from tillercount.stand.heading import heading_hold
from tillercount.stand.overcount import overcount
from tillercount.store import Season
from tillercount.store.read import densities
from tillercount.store.visits import visit_of

COLUMNS = ("spot", "plants", "shoots", "plants_by", "shoots_by")


@pytest.fixture
def corrected(season: Season) -> Season:
    """The plants of the first photo were counted by hand, its shoots are the model's."""
    photos = [entry(n, photo=f"north/spot_0{n}.jpg") for n in range(1, 5)]
    season.add_counts(counts(photos), NORTH)
    season.correct("spot_01.jpg", plants=18.0)
    return season


def spots(season: Season) -> list[SpotDensity]:
    with season.engine.connect() as connection:
        return densities(connection, visit_of(connection, NORTH)[0])


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8") as text:
        return [{name: row[name] for name in COLUMNS} for row in csv.DictReader(text)]


def test_a_spot_says_it_of_each_count(corrected: Season) -> None:
    estimate = estimate_field(spots(corrected))
    assert [spot.ways for spot in estimate.used] == [
        {"plants": "hand", "shoots": "photo"},
        *[{"plants": "photo", "shoots": "photo"}] * 3,
    ]
    assert estimate.used[0].way == "plants hand, shoots photo"
    by_photo = {spread.what: spread.by_photo for spread in estimate.dispersion}
    assert by_photo == {"plants": 3, "shoots": 4}
    # the photo's shoots count: no hand count stands for them
    assert [estimate.role(spot) for spot in estimate.listed[:2]] == ["used", "used"]


def test_explained(corrected: Season) -> None:
    result = assess(spots(corrected), "common-practice", stage="Feekes 3")
    (step,) = (step for step in result.steps if step.kind == "spots")
    assert step.value.startswith(
        "4: 3 by photo, 1 partly by each; per ft²: spot_01 18 plants by hand and 63 "
        "shoots by photo; spot_02 22 plants and 66 shoots; "
    )
    kept = result.to_json()["field"]["spot_values"]
    assert [one["by"] for one in kept[:2]] == [{"plants": "hand"}, {"shoots": "photo"}]
    table = [(row["how"], row["plants"], row["shoots"]) for row in spot_rows(result)[:2]]
    assert table == [("hand, Ash", "18", "–"), ("photo", "–", "63")]


def test_exported_and_read_again(corrected: Season, tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    corrected.add_hand_counts(hand_csv(tmp_path / "h.csv", "spot_02,Bo,20,,1 ft2"), NORTH)
    corrected.export(out)
    table = rows(out)
    assert table[0] == dict(zip(COLUMNS, ("spot_01", "18.0", "63.0", "hand", "photo"), strict=True))
    assert {(row["plants_by"], row["shoots_by"]) for row in table[1:4]} == {("photo", "photo")}
    assert (table[4]["plants_by"], table[4]["shoots_by"]) == ("hand", "")
    read, note = read_with_note(out, None)
    assert [(one.spot, one.plants, one.shoots) for one in read] == [
        ("spot_01", 18, None),
        ("spot_02", 20, None),
    ]
    assert "4 photo counts of this export left out (spot_01.jpg (shoots), spot_02.jpg," in note


def test_an_export_of_an_older_program(corrected: Season, tmp_path: Path) -> None:
    """Without the columns: what differs from the model's count is the person's."""
    out = tmp_path / "out.csv"
    corrected.export(out)
    with out.open(encoding="utf-8") as text:
        table = list(csv.DictReader(text))
    with out.open("w", encoding="utf-8", newline="") as text:
        names = [name for name in table[0] if not name.endswith("s_by")]
        writer = csv.DictWriter(text, names, extrasaction="ignore")
        writer.writeheader()
        writer.writerows(table)
    read, _ = read_with_note(out, None)
    assert [(one.plants, one.shoots) for one in read] == [(18, None)]


def test_a_refused_photo_counted_by_hand_is_read_again(season: Season, tmp_path: Path) -> None:
    """Also of an export of an older program, which called it refused still."""
    out, older = tmp_path / "out.csv", tmp_path / "older.csv"
    refused = [
        entry(n, photo=f"spot_0{n}.jpg", status="refused", reason="blurred", plants=None,
              shoots=None)
        for n in (1, 2)
    ]  # fmt: skip
    season.add_counts(counts(refused), NORTH)
    for number in (1, 2):
        season.assign(f"spot_0{number}.jpg", f"spot_0{number}", NORTH, new=True)
    season.correct("spot_01.jpg", plants=28)
    season.export(out)
    older.write_text(out.read_text("utf-8").replace(",counted,", ",refused,"), encoding="utf-8")
    for file in (out, older):
        read, note = read_with_note(file, None)
        assert [(one.spot, one.plants, one.shoots) for one in read] == [("spot_01", 28, None)]
        assert note == ""


def test_the_report(corrected: Season, tmp_path: Path) -> None:
    from tillercount.cli.app import app

    page, record = tmp_path / "r.html", tmp_path / "r.json"
    file = corrected.engine.url.render_as_string(hide_password=False)
    where = ("--field", "North", "--stage", "Feekes 3", "--html", str(page), "--json", str(record))
    assert CliRunner().invoke(app, ["report", file, *where]).exit_code == 0
    said = json.loads(record.read_text("utf-8"))
    counted: dict[str, Any] = said["counted"]
    assert [counted[way] for way in ("hand", "photo", "part")] == [0, 3, 1]
    assert counted["spots"][0]["by"] == {"plants": "hand", "shoots": "photo"}
    assert {one["what"]: one["by_hand"] for one in said["evidence"]}["plants"] == [
        True, False, False, False,
    ]  # fmt: skip
    text = page.read_text("utf-8")
    for row, by in (("Plants by", "hand"), ("Shoots by", "photo")):
        cells = text[text.index(row) :].split("</tr>")[0]
        assert by in cells.split("<td", 2)[1]


def test_what_is_said_of_photos_holds_for_the_count_that_a_photo_gave(season: Season) -> None:
    """All shoots by hand, all plants by photo: the photos' plants may be too many all the same."""
    season.add_counts(counts([entry(n, photo=f"spot_0{n}.jpg") for n in range(1, 5)]), NORTH)
    for n in range(1, 5):
        season.correct(f"spot_0{n}.jpg", shoots=60.0 + n)
    estimate = estimate_field(spots(season))
    assert {spot.way for spot in estimate.used} == {"plants photo, shoots hand"}
    assert overcount(estimate, None) is not None
    stage = parse_stage("Feekes 10.1")
    assert heading_hold(load_rules("common-practice"), stage, estimate, "plants") is not None
    assert heading_hold(load_rules("common-practice"), stage, estimate, "shoots") is None
