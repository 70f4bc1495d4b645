"""``tillercount plan``: files, screen, and one line for what is wrong."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.plan.fields import SQUARE, corners, polygon, typed, write

ROOT = Path(__file__).parents[2]
FARM = ROOT / "sample_images" / "alder_bend_fields.geojson"
RING = typed(corners(SQUARE))


def test_all_that_comes_out(run: Callable[..., Any], tmp_path: Path) -> None:
    out = {name: tmp_path / f"plan.{name}" for name in ("geojson", "gpx", "png")}
    done = run(
        "plan", FARM, "--field", "Creek field", "--spots", 12, "--hand", 4, "--seed", 7,
        "--zones", FARM.with_name("alder_bend_creek_zones.geojson"), "--keep-off", "40 ft",
        "--geojson", out["geojson"], "--gpx", out["gpx"], "--map", out["png"],
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "Creek field: 12 spots, 4 of them by hand too, on 110 ac" in done.output
    assert "seed 7, at least 40 ft from the edge" in done.output
    assert done.output.count("by hand") >= 5
    record = json.loads(out["geojson"].read_text(encoding="utf-8"))
    assert record["plan"]["keep_off_m"] == pytest.approx(12.192)
    assert out["gpx"].read_text(encoding="utf-8").startswith("<?xml")
    assert out["png"].read_bytes().startswith(b"\x89PNG")


def test_the_same_seed_prints_the_same(run: Callable[..., Any]) -> None:
    one, same, other = (run("plan", RING, "--spots", 6, "--seed", s).output for s in (1, 1, 2))
    assert one == same != other


SOUTH = "-33.100,150.200 -33.100,150.210 -33.090,150.210"


@pytest.mark.parametrize("first", [(), ("--",)])
def test_corners_that_start_with_a_minus(run: Callable[..., Any], first: tuple[str, ...]) -> None:
    done = run("plan", "--spots", 4, "--seed", 2, *first, SOUTH)
    assert done.exit_code == 0, done.output
    assert "-33.09" in done.output


def test_a_minus_elsewhere_is_read_as_before(run: Callable[..., Any]) -> None:
    swapped = run("plan", "-97.2,39.1 -97.19,39.1 -97.19,39.09", "--spots", 4, "--seed", 1)
    assert swapped.exit_code == 0, swapped.output
    assert "wrong way round" in swapped.output
    virginia = run("plan", "-77.92,38.03 -77.91,38.03 -77.91,38.02", "--spots", 4, "--seed", 1)
    said = " ".join(virginia.output.split())
    assert said.count("wrong way round (no small grain grows at") == 1
    assert said.index("MIND: corners: latitude and longitude") < said.index("4 spots")
    gate = run("plan", SOUTH, "--spots", 4, "--seed", 2, "--start", "-33.1,150.2")
    assert gate.exit_code == 0, gate.output
    typo = run("plan", SOUTH, "--sopts", 4)
    assert typo.exit_code == 2
    assert "--sopts" in typo.output


def test_metric_on_request(run: Callable[..., Any]) -> None:
    plain = run("plan", RING, "--spots", 6, "--seed", 1).output
    metric = run("plan", RING, "--spots", 6, "--seed", 1, "--metric").output
    assert " ha)" not in plain
    assert "158 ac (64.0 ha)" in metric
    assert "30 ft (9.1 m)" in metric


def test_number_from_spread(run: Callable[..., Any]) -> None:
    done = run("plan", RING, "--expect-cv", "45%", "--precision", "20%", "--seed", 1)
    assert "16 spots" in done.output
    done = run("plan", RING, "--expect-cv", "30%", "--limit", "15/ft2", "--expect-mean", "21/ft2")
    assert done.exit_code == 0
    assert "enough to tell the expected mean from the limit" in done.output


def test_eight_fields_of_the_example_farm(run: Callable[..., Any]) -> None:
    names = [f["properties"]["name"] for f in json.loads(FARM.read_text())["features"]]
    assert len(names) == 8
    for name in names:
        done = run("plan", FARM, "--field", name, "--spots", 8, "--seed", 1)
        assert done.exit_code == 0, done.output
        assert f"{name}: 8 spots" in done.output


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--spots", "5", "--keep-off", "30"], "no unit"),
        (["--spots", "5", "--keep-off", "-3 ft"], "above zero"),
        (["--spots", "5", "--keep-off", "30 kg"], "isn't a unit of length"),
        (["--spots", "5", "--keep-off", "400 mi"], "check the unit"),
        (["--spots", "5", "--design", "grid"], "random, stratified, systematic, w-walk"),
        (["--spots", "5", "--map", "m.jpg"], ".png or a .pdf"),
        (["--spots", "5", "--map", "m.png", "--paper", "a3"], "letter or a4"),
        (["--spots", "5", "--gpx", "x.out", "--geojson", "x.out"], "two results"),
        (["--spots", "5", "--gpx", "no/such/x.gpx"], "doesn't exist"),
        (["--spots", "5", "--zones", "none.geojson"], "doesn't exist"),
        (["--spots", "5", "--start", "here"], "--start 'here'"),
        (["--spots", "5", "--start", "138.0,-98.7"], "latitude comes first"),
        ([], "how many spots"),
        (["--expect-cv", "45"], "write it like 45%"),
    ],
)
def test_one_line_for_what_is_wrong(
    run: Callable[..., Any],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    options: list[str],
    says: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    done = run("plan", RING, *options)
    assert done.exit_code == 2
    (line,) = done.stderr.strip().splitlines()
    assert line.startswith("tillercount: ")
    assert says in line
    assert list(tmp_path.iterdir()) == []


def test_what_was_read_is_not_written_over(run: Callable[..., Any], tmp_path: Path) -> None:
    path = write(tmp_path / "f.geojson", polygon(corners(SQUARE), name="a"))
    before = path.read_bytes()
    done = run("plan", path, "--spots", 5, "--geojson", path)
    assert done.exit_code == 2
    assert "is read by this command" in done.stderr
    assert path.read_bytes() == before


def test_a_place_in_doubt_is_told_before_the_plan(run: Callable[..., Any]) -> None:
    """10 N, 51 E read the other way is Germany; wheat grows in the tropics too, so nobody knows."""
    done = run("plan", "10.1,51.1 10.11,51.1 10.11,51.09", "--spots", 4, "--seed", 1)
    assert done.exit_code == 0, done.output
    assert done.output.count("stand the wrong way round") == 1
    assert done.output.index("MIND: ") < done.output.index("4 spots")


def test_a_minus_that_was_lost_is_told_before_the_plan(run: Callable[..., Any]) -> None:
    """Virginia without its minus, longitude first or last: the other order lies in Asia."""
    done = run("plan", "77.92,38.03 77.91,38.03 77.91,38.02", "--spots", 4, "--seed", 1)
    assert done.exit_code == 0, done.output
    first = done.output.splitlines()[0]
    assert "MIND: corners: " in first
    assert "as 38.03000 N, 77.92000 E; if the field isn't there" in first
    assert "the minus signs" in first
