"""A position that can't be right is left out of the map and told in words."""

from __future__ import annotations

import html
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.report.fields import PUSH, SQUARE, spots
from tillercount.field import SpotDensity
from tillercount.plan import read_field
from tillercount.report.fieldmap import map_record
from tillercount.report.language import load_words
from tillercount.report.record import build_record
from tillercount.report.sheet import make_sheet
from tillercount.report.stray import stray
from tillercount.report.webpage import report_html
from tillercount.stand import assess

GRID = np.array([(x, y) for x in (0.0, 150.0, 300.0) for y in (0.0, 150.0, 300.0)])


def astray(lon: float) -> list[SpotDensity]:
    """Six spots of which the last has its longitude mistyped."""
    found = spots(PUSH)
    return [*found[:-1], replace(found[-1], lon=lon)]


def test_by_the_others() -> None:
    assert np.isnan(stray(GRID)).all()
    off = stray(np.vstack([GRID, [(9_000.0, 150.0)]]))
    assert np.isnan(off[:-1]).all()
    assert off[-1] == pytest.approx(9_000 - 150, abs=1)
    assert len(stray(np.empty((0, 2)))) == 0


@pytest.mark.parametrize(
    "honest",
    [
        [(0, 0), (20, 0), (400, 0)],
        [(0, 0), (20, 0), (9_000, 0)],  # of three nobody can tell
        [(0, 0), (10, 0), (0, 10), (10, 10), (9_000, 0)][1:],
        [(0, 0), (10, 0), (0, 10), (10, 10), (300, 0)],
        [(0, 0), (10, 0), (0, 10), (10, 10), (1_490, 0)],
    ],
)
def test_few_spots_or_near_ones_are_all_drawn(honest: list[tuple[float, float]]) -> None:
    assert np.isnan(stray(np.array(honest, float))).all()


def test_five_spots_are_enough_to_tell() -> None:
    off = stray(np.array([(0.0, 0.0), (10.0, 0.0), (0.0, 10.0), (10.0, 10.0), (1_600.0, 10.0)]))
    assert np.isnan(off[:-1]).all()
    assert off[-1] == pytest.approx(1_590)


def test_by_the_outline() -> None:
    square = shapely.box(0, 0, 400, 400)
    off = stray(np.array([(200.0, 200.0), (420.0, 200.0), (1_400.0, 200.0)]), square)
    assert np.isnan(off[:2]).all()
    assert off[2] == pytest.approx(1_000)


def drawn(
    counts: list[SpotDensity], outline: bool, units: str = "us"
) -> tuple[str, dict[str, float]]:
    """The page's text, and how many drawn marks lie how far apart at most."""
    a = assess(counts, "common-practice", name="Far field")
    ground = map_record(a, read_field(SQUARE) if outline else None)
    made = build_record(a, ground=ground, units=units)
    page = report_html(make_sheet(made, load_words()))
    marks = re.findall(r'<tspan data-at="evidence/0/bands/\d+/letter"', page)
    text = " ".join(html.unescape(re.sub(r"<[^>]*>", "", page)).split())
    assert ground is not None
    xs = [one["x_m"] for one in ground["spots"]]
    return text, {"wide": max(xs) - min(xs), "spots": len(xs), "marks": len(marks)}


@pytest.mark.parametrize("outline", [True, False])
def test_one_stray_does_not_shrink_the_map(outline: bool) -> None:
    """-96.2 for -97.2: about 54 mi (86 km) east."""
    text, found = drawn(astray(-96.2), outline)
    _, right = drawn(spots(PUSH), outline)
    assert found["spots"] == right["spots"] - 1
    assert found["wide"] <= right["wide"]
    what = "the outline" if outline else "the other spots"
    said = re.search(
        rf"Left out of the drawing, as too far from {what} to belong to this field: "
        r"spot 5 \(([0-9.]+) mi\)", text
    )  # fmt: skip
    assert said is not None
    assert float(said[1]) == pytest.approx(53.5, abs=0.8)
    assert "Left out of the drawing" not in drawn(spots(PUSH), outline)[0]
    assert " km)" in drawn(astray(-96.2), outline, "metric")[0]


def test_a_stray_is_called_a_spot_once() -> None:
    counts = [replace(one, spot=f"spot_{i:02d}") for i, one in enumerate(astray(-96.2))]
    text, _ = drawn(counts, True)
    assert "to belong to this field: spot_05 (" in text
    assert "spot spot" not in text


def test_a_stray_still_counts_in_the_mean() -> None:
    a, b = (assess(one, "common-practice", name="x") for one in (spots(PUSH), astray(-96.2)))
    assert a.field.plants is not None
    assert b.field.plants is not None
    assert a.field.plants.mean == b.field.plants.mean


def test_all_spots_beside_the_wrong_outline() -> None:
    counts = [replace(one, lon=(one.lon or 0.0) - 1.0) for one in spots(PUSH)]
    a = assess(counts, "common-practice", name="Far field")
    ground = map_record(a, read_field(SQUARE))
    assert ground is not None
    assert ground["spots"] == []
    assert len(ground["stray"]) == len(PUSH)
    page = report_html(make_sheet(build_record(a, ground=ground), load_words()))
    assert "and others" in page
