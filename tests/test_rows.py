"""Rows found in plants, and the gaps along them: known geometry, known truth."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from tillercount.area import parse_area
from tillercount.rowgaps import RowGaps, chord, of_topview, row_gaps, rows_and_gaps
from tillercount.rows import FEWEST_PLANTS, NoRows, Rows, find_rows
from tillercount.topview import TopView

SQUARE = np.array([[-152.4, -152.4], [152.4, -152.4], [152.4, 152.4], [-152.4, 152.4]])
INCH = 25.4


def turned(points: NDArray[np.float64], degrees: float) -> NDArray[np.float64]:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return points @ np.array([[c, s], [-s, c]])


def drilled(
    spacing: float, rng: np.random.Generator, *, every: float = 25.0, scatter: float = 8.0
) -> NDArray[np.float64]:
    """Rows along x over a square of 345 mm, plants about ``every`` mm apart in them."""
    rows = []
    first = rng.uniform(-0.5, 0.5) * spacing
    for k in range(-3, 4):
        along = np.cumsum(rng.gamma(1.5, every / 1.5, 60)) - 260
        across = first + k * spacing + rng.normal(0, scatter, 60)
        rows.append(np.column_stack([along, across]))
    points = np.concatenate(rows)
    return points[np.abs(points).max(1) < 240]


def within(points: NDArray[np.float64], half: float = 172.4) -> NDArray[np.float64]:
    return points[np.abs(points).max(1) < half]


def inside() -> NDArray[np.float64]:
    line = np.linspace(-172.4, 172.4, 14)
    return np.stack(np.meshgrid(line, line), -1).reshape(-1, 2)


@pytest.mark.parametrize("spacing_in", [6.0, 7.5])
def test_spacing_and_direction_are_found(spacing_in: float) -> None:
    rng = np.random.default_rng(int(spacing_in * 10))
    right = 0
    for _ in range(40):
        degrees = rng.uniform(0, 180)
        found = find_rows(within(turned(drilled(spacing_in * INCH, rng), degrees)), inside())
        if isinstance(found, Rows):
            off = (math.degrees(found.angle_rad) - degrees + 90) % 180 - 90
            right += abs(off) < 5 and abs(found.spacing_mm / (spacing_in * INCH) - 1) < 0.07
    assert right >= 34


def test_plants_at_random_make_no_rows() -> None:
    """The search looks at many directions; broadcast stands still seldom pass for drilled."""
    rng = np.random.default_rng(8)
    found = [find_rows(rng.uniform(-172, 172, (n, 2)), inside()) for n in (10, 20, 30) * 40]
    assert sum(isinstance(one, Rows) for one in found) <= 5
    assert any("no clear rows" in one.reason for one in found if isinstance(one, NoRows))


def test_too_few_plants_and_a_single_row_say_so() -> None:
    few = find_rows(np.zeros((FEWEST_PLANTS - 1, 2)) + np.arange(7)[:, None] * 30, inside())
    assert isinstance(few, NoRows)
    assert "7 plants are seen" in few.reason
    rng = np.random.default_rng(4)
    line = np.column_stack([np.linspace(-160, 160, 20), rng.normal(20, 5, 20)])
    one = find_rows(line, inside())
    assert isinstance(one, NoRows)
    assert "only one row" in one.reason


def test_every_other_row_is_not_taken_for_empty() -> None:
    """Half of the true spacing fits the plants as well; the wider one is meant."""
    rng = np.random.default_rng(2)
    found = [find_rows(within(drilled(8 * INCH, rng, every=15)), inside()) for _ in range(10)]
    spacings = [one.spacing_mm / INCH for one in found if isinstance(one, Rows)]
    assert len(spacings) >= 6
    assert spacings == pytest.approx([8.0] * len(spacings), rel=0.1)


def test_tillers_of_one_plant_make_no_row() -> None:
    rng = np.random.default_rng(6)
    plants = rng.uniform(-170, 170, (5, 2))
    tillers = np.concatenate([plants + rng.normal(0, 3, (5, 2)) for _ in range(6)])
    found = find_rows(tillers, inside())
    assert isinstance(found, NoRows)
    assert "5 plants" in found.reason


def test_a_gap_of_known_length() -> None:
    """Two rows across a 12 in square, plants every inch, 8 in missing from one of them."""
    rows = Rows(0.0, 190.5, -95.25)
    x = np.arange(-165, 166, 25.4)
    left = x[(x < -80) | (x > 115)]
    plants = np.concatenate(
        [np.column_stack([x, np.full(len(x), -95.25)]),
         np.column_stack([left, np.full(len(left), 95.25)])]
    )  # fmt: skip
    found = row_gaps(plants, SQUARE, rows, 6 * INCH)
    assert isinstance(found, RowGaps)
    gap = left[left > 0].min() - left[left < 0].max()
    assert found.gaps_mm == pytest.approx([gap])
    assert found.rows == 2
    assert found.row_mm == pytest.approx(2 * 304.8)
    assert found.share == pytest.approx(gap / 609.6)
    longer = row_gaps(plants, SQUARE, rows, gap + 1)
    assert isinstance(longer, RowGaps)
    assert longer.gaps_mm == ()


@pytest.mark.parametrize("degrees", [0.0, 33.0, 90.0, 150.0])
def test_turning_the_photo_changes_nothing(degrees: float) -> None:
    rng = np.random.default_rng(11)
    plants = drilled(6 * INCH, rng, every=50)
    t = np.linspace(0, 2 * math.pi, 128, endpoint=False)
    hoop = 172.0 * np.column_stack([np.cos(t), np.sin(t)])
    straight = row_gaps(plants, hoop, Rows(0.0, 152.4, 10.0), 60.0)
    turn = row_gaps(turned(plants, degrees), turned(hoop, degrees),
                    Rows(math.radians(degrees), 152.4, 10.0), 60.0)  # fmt: skip
    assert isinstance(straight, RowGaps)
    assert isinstance(turn, RowGaps)
    assert straight.gaps_mm
    assert turn.gaps_mm == pytest.approx(straight.gaps_mm)
    assert turn.row_mm == pytest.approx(straight.row_mm)


def test_a_row_without_a_plant_is_a_gap_and_one_beyond_the_edge_is_not() -> None:
    line = np.column_stack([np.arange(-150, 151, 20.0), np.zeros(16)])
    found = row_gaps(line, SQUARE, Rows(0.0, 100.0, 0.0), 150.0)
    assert isinstance(found, RowGaps)
    assert found.rows == 3
    assert found.gaps_mm == pytest.approx([304.8, 304.8])


def test_a_gap_over_the_edge_counts_inside_only() -> None:
    plants = np.array([[-170.0, 0.0], [40.0, 0.0], [150.0, 0.0]])
    found = row_gaps(plants, SQUARE, Rows(0.0, 400.0, 0.0), 200.0)
    assert isinstance(found, RowGaps)
    assert found.gaps_mm == pytest.approx([192.4])  # of 210 mm, 17.6 lie outside


def test_chord_of_a_square() -> None:
    assert chord(Rows(0.0, 100.0, 0.0), 1, SQUARE) == pytest.approx((-152.4, 152.4))
    assert chord(Rows(math.pi / 4, 100.0, 0.0), 0, SQUARE) == pytest.approx(
        (-152.4 * math.sqrt(2), 152.4 * math.sqrt(2))
    )
    assert chord(Rows(0.0, 100.0, 0.0), 2, SQUARE) is None


def test_rows_and_gaps_of_a_stand_with_holes() -> None:
    """On the whole: what is found agrees with the gaps that the true rows have."""
    rng = np.random.default_rng(21)
    found_share, true_share = [], []
    for _ in range(30):
        plants = drilled(7.5 * INCH, rng, every=20, scatter=6)
        hole = rng.uniform(-100, 100, 2)
        plants = plants[np.linalg.norm((plants - hole) / [2.2, 1.0], axis=1) > 50]
        offset = np.angle(np.exp(2j * np.pi * plants[:, 1] / 190.5).mean()) / (2 * np.pi) * 190.5
        truth = row_gaps(plants, SQUARE, Rows(0.0, 190.5, offset))
        found = rows_and_gaps(within(plants), SQUARE, margin_mm=20.0)
        if isinstance(found, RowGaps) and isinstance(truth, RowGaps):
            found_share.append(found.share)
            true_share.append(truth.share)
    assert len(found_share) > 20
    assert np.mean(true_share) > 0.05
    assert np.mean(found_share) == pytest.approx(np.mean(true_share), abs=0.04)
    assert np.corrcoef(found_share, true_share)[0, 1] > 0.8


def test_a_top_view_with_too_many_plants_unseen_says_so() -> None:
    """Pixels to the ground: y turns over, and a gap isn't claimed where plants may be hidden."""
    view = TopView(
        rgb=np.zeros((862, 862, 3), np.uint8), inside=np.ones((862, 862), np.float32),
        valid=np.ones((862, 862), bool), mm_per_px=0.4, to_photo=np.eye(3),
        native_mm_per_px=0.4,
    )  # fmt: skip
    rng = np.random.default_rng(3)
    plants = within(turned(drilled(7.5 * INCH, rng, every=15), 30.0))
    points = plants * [2.5, -2.5] + 430.5
    area = parse_area("square:12in")
    found = of_topview(points, view, area, 150.0, seen=40, counted=41.0)
    assert isinstance(found, RowGaps)
    assert found.angle_deg == pytest.approx(30.0, abs=3)
    assert found.spacing_mm == pytest.approx(190.5, rel=0.05)
    assert found.to_json()["found"] is True
    hidden = of_topview(points, view, area, 150.0, seen=20, counted=41.0)
    assert isinstance(hidden, NoRows)
    assert "20 of about 41" in hidden.to_json()["reason"]


def test_a_stick_says_where_its_row_runs() -> None:
    view = TopView(
        rgb=np.zeros((576, 1320, 3), np.uint8), inside=np.ones((576, 1320), np.float32),
        valid=np.ones((576, 1320), bool), mm_per_px=0.4, to_photo=np.eye(3),
        native_mm_per_px=0.4,
    )  # fmt: skip
    x = np.array([-230.0, -200, -10, 20, 60, 120, 180, 235])
    points = np.column_stack([x * 2.5 + 659.5, np.full(8, 287.5)])
    found = of_topview(points, view, parse_area("row:19.2in/7.5in"), 152.4, seen=8, counted=8.0)
    assert isinstance(found, RowGaps)
    assert found.rows == 1
    assert found.gaps_mm == pytest.approx([190.0])
    assert found.row_mm == pytest.approx(487.68)
