"""``tillercount count``: outputs, exit codes, resuming, and every way of being used wrongly."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.cli.helpers import StandIn, write_photo

Run = Callable[..., Any]


def test_counts_file_has_the_fixed_keys(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    result = run("count", photos, "--area", "square:12in", "--json", tmp_path / "c.json")
    assert result.exit_code == 0, result.output
    record = json.loads((tmp_path / "c.json").read_text("utf-8"))
    assert record["schema"] == "tillercount.counts/1"
    assert record["model"]["name"] == "stand-in"
    assert record["model"]["sha256"] == "a" * 64
    assert record["interval_level"] == 0.9
    spot = record["spots"][1]
    assert spot["status"] == "counted"
    assert spot["reason"] is None
    assert spot["area"]["kind"] == "square"
    assert spot["area"]["ft2"] == 1.0
    assert len(spot["area"]["outline_px"]) == 4
    assert spot["plants"] == {"count": 24.0, "low": 19.2, "high": 28.8}
    assert set(spot["cover"]) == {"crop", "other_plants", "residue", "soil"}
    assert spot["flags"] == []


def test_table_and_means(run: Run, stand_in: StandIn, photos: Path) -> None:
    result = run("count", photos, "--area", "square:12in")
    assert "24 (19–29)" in result.stdout
    assert "72 (60–84)" in result.stdout
    assert "tilt" in result.stdout
    assert "4 photos: 4 counted, 0 refused. Mean: 26.0 plants and 78.0 shoots per ft²" in (
        result.stdout
    )
    assert "90% interval" in result.stdout


def test_csv(run: Run, stand_in: StandIn, photos: Path, tmp_path: Path) -> None:
    (photos / "broken.jpg").write_bytes(b"no photo")
    result = run("count", photos, "--area", "square:12in", "--csv", tmp_path / "c.csv")
    assert result.exit_code == 1
    rows = list(csv.DictReader(io.StringIO((tmp_path / "c.csv").read_text("utf-8"))))
    assert [row["status"] for row in rows] == ["refused"] + ["counted"] * 4
    assert rows[1]["plants"] == "20.0"
    assert rows[1]["shoots_per_ft2_high"] == "70.0"
    assert rows[0]["plants"] == ""
    assert "not a photo" in rows[0]["reason"]


def test_a_refused_photo_exits_1_and_the_rest_is_written(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    (photos / "cut.jpg").write_bytes(b"\xff\xd8\xff")
    out = tmp_path / "c.json"
    result = run(
        "count", photos, "--area", "square:12in", "--json", out, "--overlay", tmp_path / "seen"
    )
    assert result.exit_code == 1
    spots = json.loads(out.read_text("utf-8"))["spots"]
    assert [spot["status"] for spot in spots] == ["refused"] + ["counted"] * 4
    assert spots[0]["reason"]
    assert "cut.jpg refused: " in result.stdout
    assert len(list((tmp_path / "seen").iterdir())) == 4


def test_overlays_and_class_maps(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    result = run(
        "count", photos, "--area", "square:12in",
        "--overlay", tmp_path / "new" / "seen", "--classmap", tmp_path / "classes",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    with Image.open(tmp_path / "classes" / "spot2.png") as image:
        assert image.mode == "L"
        assert image.size == (120, 100)
    with Image.open(tmp_path / "new" / "seen" / "spot2.png") as image:
        assert image.mode == "RGB"


def test_photos_called_alike_keep_their_own_pictures(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    other = tmp_path / "south field"
    other.mkdir()
    write_photo(other / "spot1.png", 29)
    write_photo(other / "spot2.webp", 30)
    write_photo(photos / "SPOT1.webp", 31)
    out = tmp_path / "c.json"
    run("count", photos, other, "--area", "square:12in", "--overlay", tmp_path / "o", "--json", out)
    assert len(list((tmp_path / "o").iterdir())) == 7
    assert len({name.name.casefold() for name in (tmp_path / "o").iterdir()}) == 7
    assert len({spot["photo"] for spot in json.loads(out.read_text("utf-8"))["spots"]}) == 7


def test_a_stopped_run_goes_on_where_it_stopped(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    out = tmp_path / "c.json"
    command = ("count", photos, "--area", "square:12in", "--json", out)
    stand_in.stop_at = 2
    result = run(*command)
    assert result.exit_code == 130
    assert "2 of 4 photos are counted and kept in" in result.stderr
    assert "same command again" in result.stderr
    assert not out.exists()

    stand_in.stop_at = None
    result = run(*command)
    assert result.exit_code == 0
    assert "2 of 4 counts taken over" in result.stderr
    assert stand_in.seen == ["spot0.png", "spot1.png", "spot2.png", "spot3.png"]
    spots = json.loads(out.read_text("utf-8"))["spots"]
    assert [spot["plants"]["count"] for spot in spots] == [20, 24, 28, 32]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["c.json", "north field"]


@pytest.mark.parametrize("change", ["area", "model", "photo"])
def test_what_changed_is_counted_anew(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path, change: str
) -> None:
    out = tmp_path / "c.json"
    stand_in.stop_at = 2
    run("count", photos, "--area", "square:12in", "--json", out)
    stand_in.stop_at, stand_in.seen = None, []
    area = "square:12in"
    if change == "area":
        area = "square:10in"
    elif change == "model":
        stand_in.sha256 = "b" * 64
    else:
        write_photo(photos / "spot0.png", 21)
    result = run("count", photos, "--area", area, "--json", out)
    again = (0, 2, 3) if change == "photo" else (0, 1, 2, 3)
    assert stand_in.seen == [f"spot{number}.png" for number in again]
    assert ("counting anew" in result.stderr) is (change != "photo")
    spots = json.loads(out.read_text("utf-8"))["spots"]
    assert spots[0]["plants"]["count"] == (21 if change == "photo" else 20)


def test_a_torn_line_costs_one_count(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    out = tmp_path / "c.json"
    stand_in.stop_at = 3
    run("count", photos, "--area", "square:12in", "--json", out)
    partial = tmp_path / "c.json.partial"
    partial.write_bytes(partial.read_bytes()[:-40])
    stand_in.stop_at = 3
    assert run("count", photos, "--area", "square:12in", "--json", out).exit_code == 130
    stand_in.stop_at, stand_in.seen = None, []
    assert run("count", photos, "--area", "square:12in", "--json", out).exit_code == 0
    assert stand_in.seen == ["spot2.png", "spot3.png"]


def test_a_count_is_made_again_where_its_overlay_is_missing(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    out = tmp_path / "c.json"
    stand_in.stop_at = 2
    run("count", photos, "--area", "square:12in", "--json", out)
    stand_in.stop_at = None
    run("count", photos, "--area", "square:12in", "--json", out, "--overlay", tmp_path / "o")
    assert len(list((tmp_path / "o").iterdir())) == 4


def test_an_error_inside_costs_one_photo_and_no_traceback(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    stand_in.break_at = "spot1.png"
    out = tmp_path / "c.json"
    result = run("count", photos, "--area", "square:12in", "--json", out)
    assert result.exit_code == 1
    spots = json.loads(out.read_text("utf-8"))["spots"]
    assert [spot["status"] for spot in spots] == ["counted", "refused", "counted", "counted"]
    assert "ZeroDivisionError" in spots[1]["reason"]
    assert "Traceback" not in result.output


def one_line_error(result: Any, code: int = 2) -> str:
    assert result.exit_code == code
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1, lines
    assert lines[0].startswith("tillercount: ")
    return str(lines[0])


@pytest.mark.parametrize(
    ("area", "words"),
    [
        ("circle:12in", "circle"),
        ("square:0in", "0"),
        ("square:-3in", "-3"),
        ("square:12", "unit"),
        ("", "area"),
        ("square:12lb", "lb"),
    ],
)
def test_unusable_area(
    run: Run, stand_in: StandIn, photos: Path, area: str, words: str
) -> None:
    assert words in one_line_error(run("count", photos, "--area", area))
    assert stand_in.seen == []


def test_usage_errors_before_any_work(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    area = ("--area", "square:12in")
    bare = tmp_path / "bare"
    bare.mkdir()
    assert "doesn't exist" in one_line_error(run("count", tmp_path / "none.jpg", *area))
    assert "no photos" in one_line_error(run("count", bare, *area))
    by_hand = ("--corners", "1,1 2,2 3,3 4,4")
    assert "one photo" in one_line_error(run("count", photos, *area, *by_hand))
    spot = photos / "spot1.png"
    assert "isn't x,y" in one_line_error(run("count", spot, *area, "--corners", "1,1 2;2 3,3"))
    assert "doesn't exist" in one_line_error(
        run("count", spot, *area, "--json", tmp_path / "no" / "c.json")
    )
    assert "is one of the photos" in one_line_error(run("count", spot, *area, "--csv", spot))
    assert "written over" in one_line_error(run("count", photos, *area, "--overlay", photos))
    assert "a folder each" in one_line_error(
        run("count", spot, *area, "--overlay", bare, "--classmap", bare)
    )
    assert "is a folder" in one_line_error(run("count", spot, *area, "--json", bare))
    assert stand_in.seen == []
    assert np.asarray(Image.open(spot))[0, 0, 0] == 24


def test_unknown_option_and_missing_area_exit_2(run: Run, photos: Path) -> None:
    assert run("count", photos).exit_code == 2
    assert run("count", photos, "--area", "square:12in", "--speed", "3").exit_code == 2
    assert run("count", "--area", "square:12in").exit_code == 2


def test_unknown_model(run: Run, photos: Path) -> None:
    text = one_line_error(
        run("count", photos / "spot1.png", "--area", "square:12in", "--model", "nosuch")
    )
    assert "nosuch" in text
