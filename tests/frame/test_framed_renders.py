"""Twelve photos by another renderer: for checking only, nothing is tuned to them."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from tillercount.frame import find_area
from tillercount.photo import read_photo

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / ".." / "shared" / "data" / "framed_renders"


@pytest.mark.slow
def test_all_frames_are_found_where_they_lie() -> None:
    if not (FOLDER / "truth.json").exists():
        pytest.skip("shared/data/framed_renders isn't beside the checkout")
    spec = importlib.util.spec_from_file_location("report", ROOT / "scripts" / "frame_report.py")
    assert spec is not None
    assert spec.loader is not None
    report = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(report)
    overlaps = {}
    for path, area, outline, _ in report.cases(FOLDER):
        fit = find_area(read_photo(path), area)
        overlaps[path.name] = report.overlap(fit.outline_px, outline) if fit else 0.0
    assert len(overlaps) == 12
    assert min(overlaps.values()) > 0.95, overlaps
