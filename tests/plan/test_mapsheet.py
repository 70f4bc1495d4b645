"""The page to take along: size, black and white, shapes instead of colours, nothing cut off."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.plan.fields import L_SHAPE, SQUARE, corners, polygon, typed, write
from tillercount.errors import InputError
from tillercount.plan import VisitPlan, plan_visit
from tillercount.plan.mapmarks import apart
from tillercount.plan.mapparts import round_length
from tillercount.plan.mapsheet import PAPERS, draw_sheet, sheet_bytes
from tillercount.typesize import SMALLEST


def planned(n: int, **options: Any) -> VisitPlan:
    return plan_visit(typed(corners(L_SHAPE)), n, rng=3, **options)


@pytest.mark.parametrize("paper", PAPERS)
def test_png_is_grey_and_of_the_paper_s_size(paper: str) -> None:
    data = sheet_bytes(planned(10), Path("m.png"), paper=paper)
    pixels = np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)
    width, height = PAPERS[paper]
    assert pixels.shape[:2] == pytest.approx((height * 200, width * 200), abs=1)
    assert (np.ptp(pixels, axis=2) == 0).all()
    # A quarter inch of margin all round, so that no printer cuts anything off.
    inner = np.zeros(pixels.shape[:2], bool)
    inner[50:-50, 50:-50] = True
    assert (pixels[~inner] == 255).all()
    assert (pixels[inner] < 128).any(axis=1).mean() > 0.005


def test_pdf_is_one_page_and_repeats() -> None:
    one, other = (sheet_bytes(planned(10), Path("m.pdf")) for _ in range(2))
    assert one == other
    assert one.startswith(b"%PDF")
    assert one.count(b"/Type /Page\n") + one.count(b"/Type /Page ") == 1


def patches(figure: Any, kind: str) -> int:
    return sum(type(patch).__name__ == kind for axes in figure.axes[:1] for patch in axes.patches)


def test_hand_spots_are_square() -> None:
    few, many = (draw_sheet(planned(12, hand=k)) for k in (2, 7))
    # One circle and one square of the legend; squares in the scale bar are in both.
    assert patches(few, "Circle") == 10 + 1
    assert patches(many, "Circle") == 5 + 1
    assert patches(many, "Rectangle") - patches(few, "Rectangle") == 5


def texts(figure: Any) -> list[Any]:
    return [*figure.texts, *(text for axes in figure.axes for text in axes.texts)]


@pytest.mark.parametrize("n", [1, 2, 16, 17, 60, 61, 200])
@pytest.mark.parametrize("shape", [SQUARE, L_SHAPE, [(0, 0), (1600, 0), (1600, 90), (0, 90)],
                                   [(0, 0), (90, 0), (90, 1600), (0, 1600)]])  # fmt: skip
def test_nothing_runs_off_the_page(n: int, shape: list[tuple[float, float]]) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    metric = n == 16
    plan = plan_visit(typed(corners(shape)), n, rng=1, design="w-walk", start=(-98.7, 38.0))
    figure = draw_sheet(plan, paper="a4" if metric else "letter", metric=metric)
    renderer = FigureCanvasAgg(figure).get_renderer()
    width, height = figure.bbox.width, figure.bbox.height
    for text in texts(figure):
        assert text.get_size() >= SMALLEST, text.get_text()
        box = text.get_window_extent(renderer)
        assert box.x0 >= 0.25 * figure.dpi, text.get_text()
        assert box.x1 <= width - 0.25 * figure.dpi, text.get_text()
        assert box.y0 >= 0.25 * figure.dpi, text.get_text()
        assert box.y1 <= height - 0.25 * figure.dpi, text.get_text()
    numbers = {text.get_text() for text in figure.axes[0].texts}
    if n <= 17:
        assert {str(k) for k in range(1, n + 1)} <= numbers
    assert {"1", *(str(k) for k in range(20, n + 1, 20))} <= numbers
    boxes = [axes.get_position() for axes in figure.axes]
    assert boxes[0].y0 >= boxes[1].y1
    assert boxes[1].y0 > 0.08


def test_odd_names_are_drawn_as_they_stand(tmp_path: Path) -> None:
    name = "Smith $\\frac{1}$ & 田"
    path = write(tmp_path / "f.geojson", polygon(corners(SQUARE), name=name))
    plan = plan_visit(path, 5, rng=1, zones=path)
    assert sheet_bytes(plan, tmp_path / "m.png").startswith(b"\x89PNG")
    assert name in {text.get_text() for text in texts(draw_sheet(plan))}


def test_a_w_walk_is_labelled_on_the_page() -> None:
    for design, labelled in (("w-walk", True), ("random", False)):
        words = " ".join(t.get_text() for t in texts(draw_sheet(planned(8, design=design))))
        assert ("NOT A RANDOM SAMPLE" in words) is labelled


def test_numbers_are_pushed_apart_no_farther_than_needed() -> None:
    where = np.array([[0.0, 0.0], [0.0, 0.0], [3.0, 0.0], [50.0, 0.0]])
    out = apart(where, 5.0)
    gaps = np.hypot(*(out[:, None] - out[None]).transpose(2, 0, 1)) + np.eye(4) * 99
    assert gaps.min() > 4.9
    assert np.abs(out - where).max() < 10
    assert out[3].tolist() == [50.0, 0.0]


@pytest.mark.parametrize(("longest", "wanted"), [(1234, 1000), (999, 500), (200, 200), (45, 20)])
def test_round_lengths(longest: float, wanted: float) -> None:
    assert round_length(longest) == wanted


def test_scale_bar_is_true() -> None:
    """1,000 ft on the bar are 304.8 m of the map."""
    figure = draw_sheet(planned(6))
    axes = figure.axes[0]
    bar = [p for p in axes.patches if type(p).__name__ == "Rectangle" and p.get_zorder() == 6]
    (word,) = [t.get_text() for t in axes.texts if t.get_text().endswith(" ft")]
    feet = float(word.removesuffix(" ft").replace(",", ""))
    assert sum(p.get_width() for p in bar) == pytest.approx(feet * 0.3048)
    figure.canvas.draw()
    across = axes.transData.transform([(0, 0), (100, 0), (0, 100)])
    assert across[1, 0] - across[0, 0] == pytest.approx(across[2, 1] - across[0, 1])


def test_other_endings_are_refused() -> None:
    with pytest.raises(InputError, match=r"can be a \.png or a \.pdf"):
        sheet_bytes(planned(3), Path("m.jpg"))
    with pytest.raises(InputError, match="paper 'a3' isn't known"):
        sheet_bytes(planned(3), Path("m.png"), paper="a3")


def test_where_not_all_numbers_have_room_the_foot_says_which_are_there() -> None:
    def numbers(n: int) -> set[str]:
        figure = draw_sheet(plan_visit(typed(corners(SQUARE)), n, rng=1))
        said.append(" ".join(text.get_text() for text in figure.texts))
        return {text.get_text() for text in figure.axes[0].texts if text.get_text().isdigit()}

    said: list[str] = []
    assert numbers(60) >= {str(k) for k in range(1, 61)}
    assert "has its number" not in said[0]
    some = numbers(200) - {"0"}
    assert some in ({"1", *(str(k) for k in range(step, 201, step))} for step in (5, 10))
    assert f"On the map every {sorted(map(int, some))[1]}th spot has its number" in said[1]


def test_marks_of_two_sizes_are_pushed_apart_by_both() -> None:
    where = np.array([[0.0, 0.0], [1.0, 0.0], [9.0, 0.0]])
    sizes = np.array([8.0, 2.0, 2.0])
    out = apart(where, (sizes[:, None] + sizes) / 2)
    gaps = np.hypot(*(out[:, None] - out[None]).transpose(2, 0, 1))
    assert gaps[0, 1] > 4.9
    assert gaps[1, 2] > 1.9
