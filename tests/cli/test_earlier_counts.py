"""A counts file that is there already: a count is lost only to a newer one of the same photo."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import StandIn, write_photo
from tillercount.cli.earlier import Entry, merged

Run = Callable[..., Any]
AREA = ("--area", "square:12in")


def counts_in(path: Path) -> dict[str, float | None]:
    """Plants by photo, None where refused; from either kind of file."""
    if path.suffix == ".json":
        spots = json.loads(path.read_text("utf-8"))["spots"]
        return {
            Path(s["photo"]).name: s["plants"]["count"] if s["status"] == "counted" else None
            for s in spots
        }
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8"))))
    return {Path(r["photo"]).name: float(r["plants"]) if r["plants"] else None for r in rows}


@pytest.fixture(params=["--json", "--csv"])
def target(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[str, Path]:
    return request.param, tmp_path / f"counts.{request.param.removeprefix('--')}"


ALL = {"spot0.png": 20.0, "spot1.png": 24.0, "spot2.png": 28.0, "spot3.png": 32.0}


def test_photos_not_named_now_stay(
    run: Run, stand_in: StandIn, photos: Path, target: tuple[str, Path]
) -> None:
    first, second, *rest = sorted(photos.iterdir())
    assert run("count", first, *rest, *AREA, *target).exit_code == 0
    result = run("count", second, *AREA, *target)
    assert result.exit_code == 0, result.output
    assert counts_in(target[1]) == ALL
    assert "3 photos counted before kept" in result.stdout
    # the same command again changes nothing, and each photo stands in its place
    before = target[1].read_bytes()
    assert run("count", second, *AREA, *target).exit_code == 0
    assert target[1].read_bytes() == before


def test_both_files_keep_their_own(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    first, second, third, fourth = sorted(photos.iterdir())
    run("count", first, second, *AREA, "--json", tmp_path / "c.json")
    run("count", third, *AREA, "--csv", tmp_path / "c.csv")
    both = ("--json", tmp_path / "c.json", "--csv", tmp_path / "c.csv")
    assert run("count", fourth, *AREA, *both).exit_code == 0
    assert list(counts_in(tmp_path / "c.json")) == ["spot0.png", "spot1.png", "spot3.png"]
    assert list(counts_in(tmp_path / "c.csv")) == ["spot2.png", "spot3.png"]


def test_another_area_replaces_its_own_photo_and_says_so(
    run: Run, stand_in: StandIn, photos: Path, target: tuple[str, Path]
) -> None:
    run("count", photos, *AREA, *target)
    result = run("count", photos / "spot1.png", "--area", "square:10in", *target)
    assert result.exit_code == 0
    assert counts_in(target[1]) == ALL
    assert "in place of those with square:12in" in result.stdout
    assert "spot1.png" in result.stdout
    assert target[1].read_text("utf-8").count("square:10in") == 1
    # the same size in other words isn't another area
    again = run("count", photos / "spot1.png", "--area", "square:254mm", *target)
    assert "in place of" not in again.stdout


def test_a_refusal_replaces_no_count(
    run: Run, stand_in: StandIn, photos: Path, target: tuple[str, Path]
) -> None:
    run("count", photos, *AREA, *target)
    stand_in.break_at = "spot1.png"
    result = run("count", photos, *AREA, *target)
    assert result.exit_code == 1
    assert counts_in(target[1]) == ALL
    assert "spot1.png was refused now; its earlier count (square:12in) stays" in result.stdout


def test_a_count_replaces_a_refusal(
    run: Run, stand_in: StandIn, photos: Path, target: tuple[str, Path]
) -> None:
    stand_in.break_at = "spot1.png"
    run("count", photos, *AREA, *target)
    assert counts_in(target[1]) == ALL | {"spot1.png": None}
    stand_in.break_at = ""
    write_photo(photos / "spot1.png", 25)  # taken again
    assert run("count", photos / "spot1.png", *AREA, *target).exit_code == 0
    assert counts_in(target[1]) == ALL | {"spot1.png": 25.0}


def test_a_photo_that_moved_is_the_same_photo(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path, target: tuple[str, Path]
) -> None:
    run("count", photos, *AREA, *target)
    moved = tmp_path / "renamed.png"
    (photos / "spot1.png").rename(moved)
    run("count", moved, *AREA, *target)
    assert list(counts_in(target[1])) == ["spot0.png", "renamed.png", "spot2.png", "spot3.png"]


def refused(run: Run, stand_in: StandIn, target: tuple[str, Path], *arguments: object) -> str:
    """The one line of a refusal before any work; the file is as it was."""
    before, stand_in.seen = target[1].read_bytes(), []
    result = run("count", *arguments, *target)
    assert result.exit_code == 2, result.output
    assert stand_in.seen == []
    assert target[1].read_bytes() == before
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1
    return str(lines[0])


def test_another_model_is_refused_with_the_remedy(
    run: Run, stand_in: StandIn, photos: Path, target: tuple[str, Path]
) -> None:
    run("count", photos, *AREA, *target)
    stand_in.sha256 = "b" * 64
    text = refused(run, stand_in, target, photos / "spot1.png", *AREA)
    assert "4 counts by another model" in text
    assert "--replace" in text
    assert run("count", photos / "spot1.png", *AREA, *target, "--replace").exit_code == 0
    assert counts_in(target[1]) == {"spot1.png": 24.0}


def test_another_photo_of_the_same_name_is_refused(
    run: Run, stand_in: StandIn, photos: Path, target: tuple[str, Path]
) -> None:
    """Phones give names twice: run from another folder, IMG_0001.jpg is another photo."""
    run("count", photos, *AREA, *target)
    write_photo(photos / "spot1.png", 27)
    text = refused(run, stand_in, target, photos / "spot1.png", *AREA)
    assert "another photo" in text
    assert "spot1.png" in text


@pytest.mark.parametrize(
    ("json_text", "csv_text"),
    [
        ('{"schema": "tillercount.assessment/1"}', "spot,observer,plants,shoots\n1,a,2,3\n"),
        ("[1, 2", "photo,status,plants,shoots\na.jpg,counted,2,3,4\n"),
        ("notes", "notes\n"),
    ],
)
@pytest.mark.parametrize("replace", [(), ("--replace",)])
def test_what_isnt_a_counts_file_is_left_alone(
    run: Run, stand_in: StandIn, photos: Path, target: tuple[str, Path], json_text: str,
    csv_text: str, replace: tuple[str, ...],
) -> None:  # fmt: skip
    target[1].write_text(json_text if target[0] == "--json" else csv_text, encoding="utf-8")
    assert "left as it is" in refused(run, stand_in, target, photos, *AREA, *replace)


def test_an_empty_file_is_no_file(
    run: Run, stand_in: StandIn, photos: Path, target: tuple[str, Path]
) -> None:
    target[1].touch()
    assert run("count", photos, *AREA, *target).exit_code == 0
    assert counts_in(target[1]) == ALL


def test_a_table_of_an_older_version(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    """Its model isn't known, so its counts can't stand beside new ones; refused rows can."""
    table = ("--csv", tmp_path / "c.csv")
    head = "photo,status,reason,area,area_ft2,plants,shoots\n"
    table[1].write_text(f"{head}a.jpg,counted,,square:304.8mm,1.0,20,60\n", encoding="utf-8")
    assert "another model" in refused(run, stand_in, table, photos, *AREA)
    table[1].write_text(f"{head}a.jpg,refused,too dark,square:304.8mm,,,\n", encoding="utf-8")
    assert run("count", photos, *AREA, *table).exit_code == 0
    assert counts_in(table[1]) == {"a.jpg": None} | ALL


def test_a_stopped_run_over_an_earlier_file(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path, target: tuple[str, Path]
) -> None:
    other = tmp_path / "south field"
    other.mkdir()
    write_photo(other / "south1.png", 40)
    run("count", other, *AREA, *target)
    stand_in.seen, stand_in.stop_at = [], 2
    assert run("count", photos, *AREA, *target).exit_code == 130
    assert counts_in(target[1]) == {"south1.png": 40.0}
    stand_in.stop_at = None
    result = run("count", photos, *AREA, *target)
    assert "2 of 4 counts taken over" in result.stderr
    assert stand_in.seen == list(ALL)
    assert counts_in(target[1]) == {"south1.png": 40.0} | ALL
    assert not list(tmp_path.glob("*.partial"))


def test_other_photos_of_a_stopped_run_arent_lost(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    """Two folders into one file, the first run stopped: its counts wait for its own command."""
    other = tmp_path / "south field"
    other.mkdir()
    write_photo(other / "south1.png", 40)
    out = ("--json", tmp_path / "c.json")
    stand_in.stop_at = 2
    assert run("count", photos, *AREA, *out).exit_code == 130
    stand_in.stop_at = None
    kept = (tmp_path / "c.json.partial").read_bytes()
    clash = run("count", other, "--area", "square:10in", *out)
    assert clash.exit_code == 0
    assert "2 counts of an interrupted run" in clash.stderr
    assert (tmp_path / "c.json.partial.old1").read_bytes() == kept
    result = run("count", other, *AREA, *out)
    assert result.exit_code == 0
    assert "2 more from a run that was interrupted" in result.stdout
    stand_in.seen = []
    assert run("count", photos, *AREA, *out).exit_code == 0
    assert stand_in.seen == ["spot2.png", "spot3.png"]
    assert counts_in(out[1]) == {"south1.png": 40.0} | ALL
    assert not list(tmp_path.glob("*.partial"))


def entry(photo: str, sha256: str = "", counted: bool = True, area: str = "square:12in") -> Entry:
    return Entry(photo, sha256, counted, area, photo)


def test_merging_by_bytes_first() -> None:
    """Same bytes under two names in one run: both stay; a third name later replaces the first."""
    twice = [entry("a", "1"), entry("copy", "1")]
    assert [e.photo for e in merged(twice, twice).entries] == ["a", "copy"]
    assert merged([entry("a", "1")], [entry("b", "2")]).kept == 1
    assert merged([entry("a", "")], [entry("a", "2")]).kept == 0
    result = merged([entry("a", "1")], [entry("a", "1", counted=False)])
    assert [e.counted for e in result.entries] == [True]
    assert [e.photo for e in result.stood] == ["a"]
