"""Exports read back by other programs' libraries."""

from __future__ import annotations

import csv
import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.cli.helpers import flat
from tests.store.helpers import LAT, LON, NORTH, at, counts, entry, hand_csv, plan, write
from tillercount.errors import InputError
from tillercount.handfile import read_hand_counts
from tillercount.store import Season, Where
from tillercount.store.rows import COLUMNS
from tillercount.units import M2_PER_FT2


@pytest.fixture
def filled(season: Season, tmp_path: Path) -> Season:
    season.add_plan(write(tmp_path / "p.geojson", plan([(0, 0), (50, 0)])), NORTH)
    lat, lon = at(3, 0)
    refused = entry(2, status="refused", reason="blurred", plants=None, shoots=None)
    season.add_counts(counts([entry(1, lat=lat, lon=lon), refused]), NORTH)
    season.add_hand_counts(hand_csv(tmp_path / "h.csv", '2,"Ash, jr.",20,61,1 ft2'), NORTH)
    season.correct("IMG_1.jpg", plants=30)
    season.add_counts(counts([entry(9)]), Where("Elm Hill", "South"))
    return season


def test_csv(filled: Season, tmp_path: Path) -> None:
    file = tmp_path / "all.csv"
    assert filled.export(file) == 4
    with file.open(encoding="utf-8", newline="") as opened:
        rows = list(csv.DictReader(opened))
    assert list(rows[0]) == list(COLUMNS)
    first = rows[0]
    assert (first["plants"], first["predicted_plants"], first["corrected_by"]) == (
        "30.0", "21.0", "Ash",
    )  # fmt: skip
    assert (first["spot"], first["placed"]) == ("1", "place")
    assert float(first["distance_m"]) == pytest.approx(3, abs=0.05)
    assert (rows[1]["status"], rows[1]["plants"], rows[1]["spot"]) == ("refused", "", "")
    assert (rows[3]["source"], rows[3]["observer"]) == ("hand", "Ash, jr.")
    assert filled.export(file, Where("Elm Hill", "South")) == 1


def test_geojson(filled: Season, tmp_path: Path) -> None:
    file = tmp_path / "all.geojson"
    filled.export(file)
    record = json.loads(file.read_text(encoding="utf-8"))
    assert record["type"] == "FeatureCollection"
    assert "crs" not in record  # RFC 7946, 4
    places = [feature["geometry"] for feature in record["features"]]
    lat, lon = at(3, 0)
    assert places[0] == {"type": "Point", "coordinates": [round(lon, 7), round(lat, 7)]}
    assert places[1] is None  # RFC 7946, 3.2: an unlocated feature
    assert places[3]["coordinates"][1] == LAT  # a hand count lies where its spot does
    assert places[3]["coordinates"][0] > LON
    assert all(feature["type"] == "Feature" for feature in record["features"])


def test_geopackage(filled: Season, tmp_path: Path) -> None:
    raw = pytest.importorskip("pyogrio.raw")
    import shapely

    file = tmp_path / "all.gpkg"
    assert filled.export(file) == 4
    meta, _, geometry, values = raw.read(file)
    assert meta["crs"] == "EPSG:4326"
    table: dict[str, Any] = dict(zip(meta["fields"], values, strict=True))
    assert list(table["plants"][[0, 3]]) == [30.0, 20.0]
    assert list(table["field"]) == ["North", "North", "South", "North"]
    assert shapely.from_wkb(geometry[0]).y == pytest.approx(LAT)
    assert geometry[1] is None


def test_parquet(filled: Season, tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    file = tmp_path / "all.parquet"
    assert filled.export(file) == 4
    table = parquet.read_table(file)
    assert table.column_names == list(COLUMNS)
    assert table["plants"].to_pylist() == [30.0, None, 29.0, 20.0]


def test_every_format_of_nothing(file_season: Season, tmp_path: Path) -> None:
    assert file_season.export(tmp_path / "a.csv") == 0
    assert file_season.export(tmp_path / "a.geojson") == 0
    assert json.loads((tmp_path / "a.geojson").read_text())["features"] == []


def test_exports_refused(file_season: Season, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"'\.xls' isn't known; name a file ending in \.csv"):
        file_season.export(tmp_path / "a.xls")
    with pytest.raises(InputError, match="the folder doesn't exist"):
        file_season.export(tmp_path / "none" / "a.csv")
    assert {path.name.partition("-")[0] for path in tmp_path.iterdir()} == {"season.sqlite"}


def test_an_area_comes_out_as_it_was_typed(season: Season, tmp_path: Path) -> None:
    """Of photos and hand counts, also where a sheet has the row's length and spacing apart."""
    typed = {"kind": "square", "text": "square:304.8mm", "typed": "square:12in", "ft2": 1.0}
    season.add_counts(counts([entry(1, area=typed), entry(2)]), NORTH)
    sheet = tmp_path / "h.csv"
    sheet.write_text(
        "spot,observer,plants,shoots,area,row_length,row_spacing\n"
        "7,Ash,20,60,12 in x 12 in,,\n8,Ash,20,60,,19.2in,7.5in\n"
    )
    season.add_hand_counts(sheet, NORTH)
    out = tmp_path / "out.csv"
    season.export(out)
    with out.open(encoding="utf-8") as text:
        areas = [row["area"] for row in csv.DictReader(text)]
    assert areas == ["square:12in", "square:304.8mm", "12 in x 12 in", "row:19.2in/7.5in"]
    assert [round(one.area_m2 / M2_PER_FT2, 6) for one in read_hand_counts(out)] == [1.0, 1.0]


def test_a_field_comes_out_with_all_its_visits(season: Season, tmp_path: Path) -> None:
    """Each row says which; only the last one was written without a word."""
    out, north = tmp_path / "out.csv", Where("Elm Hill", "North")
    for number, day in ((1, "2027-03-20"), (2, "2027-03-06")):
        sheet = hand_csv(tmp_path / f"h{number}.csv", f"{number},Ash,20,60,1 ft2")
        visit = Where("Elm Hill", "North", f"visit {number}")
        season.add_hand_counts(sheet, visit, day=dt.date.fromisoformat(day))
    season.add_counts(counts([entry(9)]), Where("Elm Hill", "South"))

    def visits() -> list[str]:
        with out.open(encoding="utf-8") as text:
            return [row["visit"] for row in csv.DictReader(text)]

    assert season.export(out, north) == 2
    assert visits() == ["visit 2", "visit 1"]  # by their days
    # which isn't one stand: whoever reads it says how one of them comes out, and that one is read
    with pytest.raises(InputError, match='export one of them, by adding --field North --visit "vi'):
        read_hand_counts(out)
    with Season.create(tmp_path / "other.sqlite", who="Ash") as other:
        with pytest.raises(InputError, match="two visits aren't one stand"):
            other.add_hand_counts(out, north)
        assert season.export(out, Where("Elm Hill", "North", "visit 2")) == 1
        assert visits() == ["visit 2"]
        assert other.add_hand_counts(out, north).visit == "visit 2"


def test_the_command_says_what_it_does_without_a_visit(tmp_path: Path) -> None:
    from tillercount.cli.app import app

    def run(*args: object) -> str:
        words = ["season", *(str(arg) for arg in args)]
        done = CliRunner().invoke(app, words, prog_name="tillercount")
        assert done.exit_code == 0, done.output
        return flat(done.stdout)

    file, out = tmp_path / "s.sqlite", tmp_path / "out.csv"
    run("new", file)
    for number in (1, 2):
        given = write(tmp_path / f"{number}.json", counts([entry(number)]))
        more = ("--farm", "Elm Hill", "--field", "North", "--visit", f"visit {number}")
        run("add", file, given, *more)
    assert "2 counts written" in run("export", file, out, "--field", "North")
    assert "1 counts" not in run("export", file, out, "--visit", "visit 1")
    assert "1 count written" in run("export", file, out, "--visit", "visit 1")
    assert "[default: all visits of the field]" in run("export", "--help")


def test_a_refused_photo_that_was_counted_by_hand_counts(filled: Season, tmp_path: Path) -> None:
    filled.correct("IMG_2.jpg", plants=28)
    out = tmp_path / "out.csv"
    filled.export(out)
    with out.open(encoding="utf-8") as text:
        row = next(row for row in csv.DictReader(text) if row["photo"] == "IMG_2.jpg")
    assert (row["status"], row["reason"], row["plants"]) == ("counted", "blurred", "28.0")
    assert (row["predicted_plants"], row["plants_by"], row["shoots_by"]) == ("", "hand", "")
