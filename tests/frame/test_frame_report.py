"""The figures that sticks are judged by."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from tillercount.area import RowArea
from tillercount.frame.outline import outline_mm
from tillercount.frame.projection import apply

ROOT = Path(__file__).resolve().parents[2]
AREA = RowArea(500.0, 190.0)


@pytest.fixture(scope="module")
def report():
    spec = importlib.util.spec_from_file_location("report", ROOT / "scripts" / "frame_report.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("turn_deg", [0.0, 35.0])
def test_a_stick_read_too_long_and_off_its_row(report, turn_deg: float) -> None:
    turn = np.deg2rad(turn_deg)
    c, s = np.cos(turn), np.sin(turn)
    to_photo = np.array([[1.6 * c, -1.6 * s, 600], [-1.6 * s, -1.6 * c, 450], [1e-4, 5e-5, 1.0]])
    true = outline_mm(AREA)
    # plants every 50 mm on the row: ten lie in the area, 25 mm and more from its ends
    row_mm = np.column_stack([np.arange(-475, 500, 50.0), np.full(20, 80.0)])
    plants = [[*xy, *px, 1] for xy, px in zip(row_mm, apply(to_photo, row_mm), strict=True)]
    truth = {
        "ground_to_photo": to_photo.tolist(),
        "outline_px": apply(to_photo, true).tolist(),
        "plants": plants,
    }
    exact = report.stick_errors(apply(to_photo, true), truth)
    assert exact == {
        "length_error": 0, "area_error": 0, "offset_mm": 0, "along_mm": 0, "plants_error": 0,
    }
    found = report.stick_errors(apply(to_photo, true * [1.08, 1.0] + [0, -12]), truth)
    assert found["length_error"] == pytest.approx(0.08)
    assert found["area_error"] == pytest.approx(0.08)
    assert found["offset_mm"] == pytest.approx(12)
    assert found["along_mm"] == pytest.approx(0)
    assert found["plants_error"] == pytest.approx(0.0)
    # another 20 mm and the row itself lies outside
    lost = report.stick_errors(apply(to_photo, true + [30, -32]), truth)
    assert lost["plants_error"] == -1
    assert lost["along_mm"] == pytest.approx(30)
    rows = [found, lost, {"found": False}]
    assert report.sticks(rows)["offset_mm"]["median"] == pytest.approx(22)
    assert report.sticks([{"found": False}]) == {}
