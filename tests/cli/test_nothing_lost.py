"""No command writes over what it reads, over one of its own results, or over data of another kind.

Every case: exit code 2, one line that names the file, and the file is as it was.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import ROOT, StandIn

Run = Callable[..., Any]
VISIT = ROOT / "sample_images" / "spring_visit"
FARM = ROOT / "sample_images" / "alder_bend_fields.geojson"
AREA = ("--area", "square:12in")
RULES = ROOT / "tillercount" / "stand" / "rules" / "common-practice.toml"


@pytest.fixture
def farm(tmp_path: Path, photos: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with hand counts, days, an outline, sentences, rules, counts and a season."""
    for path in (VISIT / "pole_field.csv", VISIT / "weather.csv", FARM):
        shutil.copy(path, tmp_path)
    shutil.copy(ROOT / "tillercount" / "report" / "words" / "en.toml", tmp_path / "words.toml")
    shutil.copy(RULES, tmp_path / "own.toml")
    (tmp_path / "zones.geojson").write_text(FARM.read_text("utf-8"), encoding="utf-8")
    spots = [{"photo": "a.jpg", "status": "refused", "area": {"ft2": 1.0}}]
    counts = {"schema": "tillercount.counts/1", "interval_level": 0.9, "spots": spots}
    (tmp_path / "counts.json").write_text(json.dumps(counts), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def left(run: Run, stand_in: StandIn, file: Path, *command: object) -> str:
    """What is said; the file is as it was, and no photo was counted."""
    before = {path: path.read_bytes() for path in Path().rglob("*") if path.is_file()}
    stand_in.seen = []
    result = run(*command)
    assert result.exit_code == 2, result.output
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1, lines
    assert file.name in lines[0]
    assert stand_in.seen == []
    after = {path: path.read_bytes() for path in Path().rglob("*") if path.is_file()}
    assert after == before
    return str(lines[0])


REPORT = (
    "report", "pole_field.csv", "--weather", "weather.csv", "--words", "words.toml",
    "--boundary", FARM.name, "--field", "Pole field", "--rules", "own.toml",
    "--photos", "north field",
)  # fmt: skip
NITROGEN = (
    "nitrogen", "pole_field.csv", "north field", *AREA, "--weather", "weather.csv",
    "--boundary", FARM.name, "--field", "Pole field",
)  # fmt: skip
PLAN = ("plan", FARM.name, "--field", "Pole field", "--spots", 4, "--zones", "zones.geojson",
        "--exclude", "words.toml")  # fmt: skip


@pytest.mark.parametrize(
    ("command", "option", "target"),
    [
        *((REPORT, "--html", name) for name in (
            "pole_field.csv", "weather.csv", "words.toml", FARM.name, "own.toml",
            "north field/spot2.png")),
        *((("report", "north field", *AREA), option, "north field/spot2.png")
          for option in ("--html", "--pdf", "--json")),
        *((NITROGEN, "--json", name) for name in (
            "pole_field.csv", "weather.csv", FARM.name, "north field/spot2.png")),
        *((PLAN, "--gpx", name) for name in (FARM.name, "zones.geojson", "words.toml")),
        *((("rules", "compare", "north field", *AREA, "--rules", "own.toml@7.5in"), option, name)
          for option, name in (("--png", "north field/spot2.png"), ("--json", "own.toml"))),
        *((("assess", "pole_field.csv", "north field", *AREA), "--html", name)
          for name in ("pole_field.csv", "north field/spot2.png")),
        (("assess", "pole_field.csv", "--rules", "own.toml"), "--html", "own.toml"),
        (("count", "north field", *AREA), "--csv", "north field/spot2.png"),
    ],
)  # fmt: skip
def test_nothing_that_is_read_is_written_over(
    run: Run, stand_in: StandIn, farm: Path, command: tuple[object, ...], option: str, target: str
) -> None:
    said = left(run, stand_in, farm / target, *command, option, target)
    assert ("is one of the photos" if target.endswith(".png") else "is read by") in said


def test_by_whatever_name(run: Run, stand_in: StandIn, farm: Path) -> None:
    """A link to what is read, or the long way round, is the same file."""
    (farm / "page.html").symlink_to(farm / "pole_field.csv")
    (farm / "hard.html").hardlink_to(farm / "pole_field.csv")
    for name in ("page.html", "hard.html", "north field/../pole_field.csv"):
        path = farm / name
        assert "is read by" in left(run, stand_in, path, "assess", "pole_field.csv", "--html", name)


@pytest.mark.parametrize("store", ["2027.sqlite", "sqlite:///2027.sqlite"])
def test_a_season_is_not_written_over(run: Run, stand_in: StandIn, farm: Path, store: str) -> None:
    season = farm / "2027.sqlite"
    assert run("season", "new", season).exit_code == 0
    place = ("--farm", "Alder Bend", "--field", "Pole")
    assert run("season", "add", season, "pole_field.csv", *place).exit_code == 0
    for option in ("--html", "--pdf", "--json"):
        said = left(run, stand_in, season, "report", store, "--field", "Pole", option, season)
        assert "is read by" in said
    said = left(run, stand_in, season, "report", store, "--html", f"{season}-wal")
    assert "is read by" in said
    assert "is read by" in left(run, stand_in, season, "season", "export", store, season)
    # another season, whatever it is called
    other = farm / "other.gpkg"
    shutil.copy(season, other)
    assert "holds a database" in left(run, stand_in, other, "season", "export", store, other)


@pytest.mark.parametrize(
    "command",
    [
        ("report", "pole_field.csv", "--html", "x", "--pdf", "x", "--json", "x"),
        ("report", "pole_field.csv", "--html", "x", "--json", "north field/../x"),
        ("report", "pole_field.csv", "--html", "x", "--json", "X"),
        ("assess", "pole_field.csv", "--html", "x", "--json", "x"),
        ("plan", FARM.name, "--field", "Pole field", "--spots", 4, "--gpx", "x", "--geojson", "x"),
        ("rules", "compare", "pole_field.csv", "--json", "x", "--png", "x"),
        ("count", "north field", *AREA, "--json", "x", "--csv", "x"),
        ("count", "north field", *AREA, "--json", "x", "--csv", "x.partial"),
    ],
)
def test_two_results_need_two_files(
    run: Run, stand_in: StandIn, farm: Path, command: tuple[object, ...]
) -> None:
    name = Path(str(command[-1]))
    assert "two results; name two files" in left(run, stand_in, name, *command)
    assert not list(farm.glob("[xX]*"))


MAKERS = {
    "assess": ("assess", "pole_field.csv"),
    "report": ("report", "pole_field.csv"),
    "nitrogen": ("nitrogen", "pole_field.csv"),
    "compare": ("rules", "compare", "pole_field.csv"),
    "count": ("count", "north field", *AREA),
}


@pytest.mark.parametrize("maker", MAKERS)
def test_json_of_another_command_is_left(
    run: Run, stand_in: StandIn, farm: Path, maker: str
) -> None:
    """Counts are a morning's work; and each command writes its own file anew."""
    for name, command in MAKERS.items():
        assert run(*command, "--json", f"{name}.json").exit_code == 0
    Path("notes.json").write_text('{"a": [1, 2]}', encoding="utf-8")
    Path("cut.json").write_text('{"a": [1, ', encoding="utf-8")
    holds = {
        "assess": "the assessment of a field", "report": "the report of a field",
        "nitrogen": "a nitrogen plan", "compare": "a comparison of rule sets",
        "count": "counts of photos", "notes": "JSON of another kind", "cut": "JSON of another kind",
        "counts": "counts of photos",
    }  # fmt: skip
    for name, words in holds.items():
        if maker in name:  # count also takes counts.json, which is one of its own kind
            continue
        file = Path(f"{name}.json")
        said = left(run, stand_in, file, *MAKERS[maker], "--json", file)
        assert f"holds {words}" in said
        assert "name another file" in said
    assert run(*MAKERS[maker], "--json", f"{maker}.json").exit_code == 0


@pytest.mark.parametrize(
    ("command", "option"),
    [
        (MAKERS["assess"], "--html"),
        (MAKERS["report"], "--html"),
        (MAKERS["report"], "--pdf"),
        (MAKERS["compare"], "--png"),
        (("plan", FARM.name, "--field", "Pole field", "--spots", 4), "--gpx"),
        (("plan", FARM.name, "--field", "Pole field", "--spots", 4), "--geojson"),
        (("plan", FARM.name, "--field", "Pole field", "--spots", 4), "--map"),
    ],
)
def test_a_file_of_another_kind_is_left(
    run: Run, stand_in: StandIn, farm: Path, command: tuple[object, ...], option: str
) -> None:
    ending = {"--map": ".pdf"}.get(option, f".{option[2:]}")
    target = Path(f"result{ending}")
    (farm / "photo.jpg").write_bytes(b"\xff\xd8\xff\xe0\0\x10JFIF\0" + bytes(range(200)))
    track = '<?xml version="1.0"?>\n<gpx version="1.1" creator="a phone"><trk/></gpx>'
    (farm / "track").write_text(track, encoding="utf-8")
    for source, words in (
        ("photo.jpg", "a JPEG picture"), ("counts.json", "counts of photos"),
        ("weather.csv", "a table (date"), (FARM.name, "shapes on a map (GeoJSON)"),
        ("track", "places or tracks (GPX)"),
    ):  # fmt: skip
        shutil.copy(source, target)
        assert f"holds {words}" in left(run, stand_in, target, *command, option, target)
    target.unlink()
    assert run(*command, option, target).exit_code == 0
    again = run(*command, option, target)
    assert again.exit_code == 0, again.output


@pytest.mark.parametrize("ending", [".csv", ".geojson", ".gpkg", ".parquet"])
def test_an_export_replaces_exports_only(
    run: Run, stand_in: StandIn, farm: Path, ending: str
) -> None:
    season, out = farm / "2027.sqlite", Path(f"all{ending}")
    assert run("season", "new", season).exit_code == 0
    place = ("--farm", "Alder Bend", "--field", "Pole")
    assert run("season", "add", season, "pole_field.csv", *place).exit_code == 0
    for source in ("pole_field.csv", FARM.name):
        shutil.copy(source, out)
        assert "left as it is" in left(run, stand_in, out, "season", "export", season, out)
    out.unlink()
    for _ in range(2):
        done = run("season", "export", season, out)
        assert done.exit_code == 0, done.output


def test_a_photo_folder_may_hold_the_results(run: Run, stand_in: StandIn, photos: Path) -> None:
    """Counting again into the photos' own folder goes on working."""
    for _ in range(2):
        result = run("count", photos, *AREA, "--json", photos / "c.json")
        assert result.exit_code == 0, result.output


def test_write_protected_stays_and_modes_are_kept(run: Run, stand_in: StandIn, farm: Path) -> None:
    page = farm / "page.html"
    command = ("assess", "pole_field.csv", "--html", page)
    assert run(*command).exit_code == 0
    page.chmod(0o444)
    assert "write-protected" in left(run, stand_in, page, *command)
    for mode in (0o600, 0o664):
        page.chmod(mode)
        page.write_text("<!doctype html>", encoding="utf-8")
        assert run(*command).exit_code == 0
        assert page.stat().st_mode & 0o777 == mode
        assert len(page.read_text("utf-8")) > 1000


def test_a_link_goes_on_pointing(run: Run, stand_in: StandIn, farm: Path) -> None:
    (farm / "shared").mkdir()
    for name, command in (
        ("page.html", ("assess", "pole_field.csv", "--html")),
        ("c.json", ("count", "north field", *AREA, "--json")),
    ):
        real, link = farm / "shared" / name, farm / name
        link.symlink_to(real)  # which isn't there yet
        for _ in range(2):
            assert run(*command, link).exit_code == 0
            assert link.is_symlink()
            assert real.stat().st_size > 1000
    assert sorted(path.name for path in (farm / "shared").iterdir()) == ["c.json", "page.html"]
    lost = farm / "lost.html"
    lost.symlink_to(farm / "nowhere" / "page.html")
    assert "doesn't exist" in left(
        run, stand_in, farm / "nowhere", "assess", "pole_field.csv", "--html", lost
    )


def test_a_pipe_is_no_file(run: Run, stand_in: StandIn, farm: Path) -> None:
    """Nor is a device; but a test that fails must not cost this computer one of those."""
    pipe = farm / "pipe.html"
    os.mkfifo(pipe)
    said = left(run, stand_in, pipe, "assess", "pole_field.csv", "--html", pipe)
    assert "a device or a pipe" in said
    assert pipe.is_fifo()
