"""Spot names on the map: there where they fit, never over a mark or another name."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.report.fields import PUSH, record, spots
from tillercount.report.drawing import Label
from tillercount.report.fieldmap import draw_map, map_record
from tillercount.report.language import Speaker, load_words, plain
from tillercount.report.record import build_record
from tillercount.report.spotnames import SIZE, map_name, placed_names
from tillercount.stand import assess

WORDS = load_words()


def test_names_short_enough() -> None:
    assert [map_name(one) for one in ("spot_07", "Spot 12", "3", "B2")] == ["7", "12", "3", "b2"]
    assert map_name("low ground by the creek") is None


@given(
    st.lists(st.tuples(st.floats(0, 300), st.floats(0, 200), st.floats(5, 12)), max_size=25),
)
def test_no_name_over_a_mark_or_another(marks: list[tuple[float, float, float]]) -> None:
    names = [str(i) for i in range(len(marks))]
    put = list(placed_names(marks, names, 300, 200))
    boxes = []
    for index, mid, base in put:
        half = 0.3 * SIZE * len(names[index])
        boxes.append((mid - half, base - 0.75 * SIZE, mid + half, base))
    solid = [(x - r, y - r, x + r, y + r) for x, y, r in marks]
    for a, b in [*combinations(boxes, 2), *((box, mark) for box in boxes for mark in solid)]:
        apart = 1e-9
        assert (
            a[2] <= b[0] + apart or b[2] <= a[0] + apart
            or a[3] <= b[1] + apart or b[3] <= a[1] + apart
        )  # fmt: skip


def test_a_lone_mark_has_its_name_on_its_right() -> None:
    ((index, mid, base),) = placed_names([(100.0, 80.0, 8.0)], ["7"], 300, 200)
    assert index == 0
    assert mid - 0.3 * SIZE == pytest.approx(110.0)
    assert 80 < base < 80 + SIZE


def test_the_map_has_them() -> None:
    made = record(PUSH)
    labels = [item for item in draw_map(Speaker(made, WORDS)).items if isinstance(item, Label)]
    small = [plain((one.text,)) for one in labels if one.size == SIZE and not one.bold]
    assert small == [str(i) for i in range(len(PUSH))]


def test_long_names_stay_off_it() -> None:
    named = [replace(one, spot=f"knoll by the oak {i}") for i, one in enumerate(spots(PUSH))]
    a = assess(named, "common-practice", stage="Feekes 3", name="x")
    made = build_record(a, ground=map_record(a))
    labels = [item for item in draw_map(Speaker(made, WORDS)).items if isinstance(item, Label)]
    assert not any(one.size == SIZE for one in labels)
