"""Whole photos of a table or a floor: counted as bare ground, and said so before anything else."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from tillercount import assess
from tillercount.area import parse_area
from tillercount.cli.app import app
from tillercount.cli.counting import CountRun
from tillercount.cli.show import mean_line, show_counts
from tillercount.field.photoflags import flag_name
from tillercount.nocrop import NO_CROP, no_crop_flag, no_crop_line

SAMPLE = Path(__file__).parent.parent / "sample_images/creek_field/spot_06_no_frame.jpg"
FIRST = "Hardly any crop is seen in "


@pytest.fixture(scope="module")
def counted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A counts file of two floors and a stand, all taken for whole photos."""
    folder = tmp_path_factory.mktemp("photos")
    rng = np.random.default_rng(3)
    for name in ("floor_1", "floor_2"):
        rough = cv2.resize(rng.normal(size=(90, 120)).astype(np.float32), (960, 720))
        grain = rng.normal(size=(720, 960, 3)) * 6
        floor = np.array((70.0, 95.0, 120.0)) + 12 * rough[..., None] + grain
        cv2.imwrite(str(folder / f"{name}.jpg"), np.clip(floor, 0, 255).astype(np.uint8))
    (folder / "stand.jpg").write_bytes(SAMPLE.read_bytes())
    target = folder / "c.json"
    words = ["count", str(folder), "--area", "whole:0.3mm", "--json", str(target)]
    done = CliRunner().invoke(app, words, prog_name="tillercount")
    assert done.exit_code == 0, done.output
    (folder / "said.txt").write_text(done.stdout)
    return target


def test_a_floor_is_named_before_any_count(counted: Path) -> None:
    said = (counted.parent / "said.txt").read_text()
    assert said.startswith(f"{FIRST}floor_1.jpg, floor_2.jpg: ")
    assert "Don't use it yet: hardly any crop is seen (2 of 3 photos)." in said
    rows = {line.split()[0]: line for line in said.splitlines() if ".jpg " in line[:14]}
    assert NO_CROP in rows["floor_1.jpg"]
    assert NO_CROP not in rows["stand.jpg"]


def test_a_verdict_by_floors_has_its_caution(counted: Path) -> None:
    result = assess([counted], "common-practice")
    said = result.verdict.warnings
    assert any(line.startswith("hardly any crop is seen in floor_1") for line in said)
    assert result.plants is not None
    assert result.plants.held is not None


def test_only_whole_photos_are_asked_about() -> None:
    whole = parse_area("whole:0.3mm")
    flag = no_crop_flag(whole, 0.004)
    assert flag is not None
    assert flag.text.startswith("hardly any crop is seen (under 1 % of the photo)")
    assert flag_name(flag.text) == flag.code == NO_CROP
    assert no_crop_flag(whole, 0.05) is None  # a thin stand
    for text in ("square:12in", "hoop:13.54in", "row:19.2in/7.5in"):
        assert no_crop_flag(parse_area(text), 0.0) is None


def test_photos_with_crop_say_nothing_of_it(capsys: pytest.CaptureFixture[str]) -> None:
    one = {
        "photo": "a.jpg", "status": "counted", "flags": [], "flag_codes": [],
        "area": {"ft2": 4.0}, "plants": {"count": 20.0, "low": 15.0, "high": 25.0},
        "shoots": {"count": 60.0, "low": 50.0, "high": 70.0},
    }  # fmt: skip
    show_counts(CountRun((one,), {}))
    assert "any crop" not in capsys.readouterr().out
    bare = {**one, "photo": "b.jpg", "flag_codes": [NO_CROP], "flags": ["hardly any crop is seen"]}
    assert "Don't use" not in mean_line(CountRun((one, one, bare), {}))
    show_counts(CountRun((one, one, bare), {}))
    assert capsys.readouterr().out.startswith(f"{FIRST}b.jpg: ")


def test_a_long_list_of_such_photos_is_cut() -> None:
    assert "f.jpg and 3 more: where" in no_crop_line(f"{one}.jpg" for one in "abcdefghi")
