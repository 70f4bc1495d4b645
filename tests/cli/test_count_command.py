"""``tillercount count``: outputs, exit codes, resuming, and every way of being used wrongly."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.cli.helpers import StandIn, write_photo
from tillercount.cli.show import _refusals

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
    assert "4 photos: 4 counted, 0 refused. Mean: 26.0 plants and 78 shoots per ft²" in (
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
    assert "\n  cut.jpg: not a photo" in result.stdout
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


def test_an_older_picture_of_the_same_name_is_drawn_anew(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    """An interrupted run's counts are taken over, but not beside pictures of other counts."""
    old, new = tmp_path / "old.json", tmp_path / "new.json"
    drawn, count = tmp_path / "o", ("count", photos, "--area")
    run(*count, "square:20in", "--json", old, "--overlay", drawn, "--classmap", tmp_path / "m")
    before = {one.name: one.read_bytes() for one in drawn.iterdir()}
    stand_in.seen, stand_in.stop_at = [], 2
    run(*count, "square:12in", "--json", new)  # interrupted, without pictures
    stand_in.seen, stand_in.stop_at = [], None
    given = (*count, "square:12in", "--json", new, "--overlay", drawn)
    assert run(*given).exit_code == 0
    assert len(stand_in.seen) == 4
    assert not any(one.read_bytes() == before[one.name] for one in drawn.iterdir())


def test_a_photo_that_cant_be_counted_any_more_keeps_no_older_picture(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    given = ("count", photos, "--area", "square:12in", "--overlay", tmp_path / "o")
    run(*given, "--json", tmp_path / "old.json")
    (photos / "spot1.png").write_bytes(b"cut short")
    stand_in.break_at = "spot2.png"
    run(*given, "--json", tmp_path / "new.json")
    assert sorted(one.name for one in (tmp_path / "o").iterdir()) == ["spot0.png", "spot3.png"]


def test_pictures_of_these_counts_are_taken_over(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    given = ("count", photos, "--area", "square:12in", "--json", tmp_path / "c.json")
    given = (*given, "--overlay", tmp_path / "o", "--classmap", tmp_path / "m")
    stand_in.stop_at = 3
    assert run(*given).exit_code == 130
    stand_in.seen, stand_in.stop_at = [], None
    assert "3 of 4 counts taken over" in run(*given).stderr
    assert stand_in.seen == ["spot3.png"]


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


def test_a_file_named_as_another_kind(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    command = ("count", photos, "--area", "square:12in")
    for option, name, right in (
        ("--json", "c.csv", "write --csv"),
        ("--json", "c.TSV", "write --csv"),
        ("--csv", "c.json", "write --json"),
        ("--json", "c.png", "--overlay DIR"),
    ):
        text = one_line_error(run(*command, option, tmp_path / name))
        assert right in text
        assert name in text
    both = tmp_path / "counts.txt"
    assert "two files" in one_line_error(run(*command, "--json", both, "--csv", both))
    assert stand_in.seen == []
    assert [path.name for path in tmp_path.iterdir()] == ["north field"]


def test_counts_given_as_photos(run: Run, stand_in: StandIn, photos: Path, tmp_path: Path) -> None:
    area = ("--area", "square:12in")
    counts, table = tmp_path / "c.json", tmp_path / "c.csv"
    assert run("count", photos, *area, "--json", counts, "--csv", table).exit_code == 0
    stand_in.seen = []
    for path in (counts, table):
        text = one_line_error(run("count", path, photos, *area))
        assert f"use `tillercount assess {path}`" in text
    other = tmp_path / "note.json"
    other.write_text("{}", encoding="utf-8")
    assert "isn't a photo" in one_line_error(run("count", photos, other, *area))
    assert "doesn't exist" in one_line_error(run("count", tmp_path / "none.csv", *area))
    assert stand_in.seen == []


def test_pictures_drawn_before_are_left_out(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    """Photos, overlays and class maps in one folder: only the photos are counted."""
    for photo in list(photos.iterdir()):
        photo.rename(photo.with_name(f"{photo.stem}_photo.png"))
    area = ("--area", "square:12in")
    drawn, classes = tmp_path / "drawn", tmp_path / "classes"
    assert run("count", photos, *area, "--overlay", drawn, "--classmap", classes).exit_code == 0
    (drawn / "spot1_photo.png").rename(photos / "spot1.png")
    (classes / "spot1_photo.png").rename(photos / "spot1_classes.png")
    stand_in.seen = []
    out = tmp_path / "c.json"
    result = run("count", photos, *area, "--json", out)
    assert result.exit_code == 0, result.output
    assert stand_in.seen == [f"spot{number}_photo.png" for number in range(4)]
    assert "left out" in result.stderr
    assert "spot1.png" in result.stderr
    assert "overlays and class maps" in result.stderr
    alone = one_line_error(run("count", photos / "spot1.png", *area))
    assert "drawn by this program" in alone


def test_a_picture_never_replaces_somebody_elses(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    """A photo that isn't named may lie where an overlay would go."""
    (tmp_path / "o").mkdir()
    write_photo(tmp_path / "o" / "spot1.png", 29)
    before = (tmp_path / "o" / "spot1.png").read_bytes()
    command = ("count", photos, "--area", "square:12in", "--overlay", tmp_path / "o")
    assert "wasn't drawn by this program" in one_line_error(run(*command))
    assert (tmp_path / "o" / "spot1.png").read_bytes() == before
    (tmp_path / "o" / "spot1.png").unlink()
    assert run(*command).exit_code == 0
    assert run(*command).exit_code == 0  # its own may be drawn again


def test_the_table_says_only_what_applies(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    area = ("--area", "square:12in")
    few = sorted(photos.iterdir())[:2]
    result = run("count", *few, *area)
    assert "flags" not in result.stdout.lower()
    assert "Refused" not in result.stdout
    result = run("count", photos, *area)
    assert result.stdout.count("the camera wasn't level") == 1
    broken = tmp_path / "broken"
    broken.mkdir()
    for name in ("a.jpg", "b.jpg"):
        (broken / name).write_bytes(b"no photo")
    result = run("count", broken, *area)
    assert result.exit_code == 1
    assert "In brackets" not in result.stdout
    assert "Mean" not in result.stdout
    assert result.stdout.count("not a photo that can be read") == 1
    assert "\n  a.jpg, b.jpg: " in result.stdout


def test_what_was_typed_is_what_is_said(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    out, table = tmp_path / "c.json", tmp_path / "c.csv"
    assert run(
        "count", photos, "--area", "hoop: 13.54in", "--json", out, "--csv", table
    ).exit_code == 0
    area = json.loads(out.read_text("utf-8"))["spots"][0]["area"]
    assert area["typed"] == "hoop: 13.54in"
    assert area["text"] == "hoop:343.916mm"
    assert next(csv.DictReader(io.StringIO(table.read_text("utf-8"))))["area"] == "hoop: 13.54in"


def test_pointing_out_the_frame_is_offered_for_the_photos_it_helps() -> None:
    """One photo with a frame half seen once made the offer for all that were refused."""
    unsure = {
        "photo": "a.jpg", "status": "refused", "reason": "one side is hidden",
        "todo": "move the leaves off that side, or give the corners by hand with --corners",
    }  # fmt: skip
    none = {
        "photo": "b.jpg", "status": "refused", "reason": "no square can be seen in this photo",
        "todo": "take a photo with the whole frame in it",
    }  # fmt: skip
    names = {"a.jpg": "a.jpg", "b.jpg": "b.jpg"}

    def said(*records: dict[str, str]) -> list[str]:
        return list(_refusals(SimpleNamespace(records=records), names))  # type: ignore[arg-type]

    assert said(unsure, none)[-1] == (
        "  Or point out the frame in a.jpg yourself, one photo at a time, with --corners."
    )
    assert said(unsure)[-1] == "  Or point out the frame yourself with --corners."
    assert not any("--corners" in line for line in said(none))
