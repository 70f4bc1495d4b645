"""The map's scale: all of the ground fits, however few spots there are."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from tests.report.fields import PUSH, record
from tillercount.report.drawing import Label, Shape
from tillercount.report.fieldmap import draw_map
from tillercount.report.language import Speaker, load_words
from tillercount.report.mapscale import PAD, WIDTH, bar_lengths, extent, scale_of

places = st.tuples(st.floats(-3000, 3000), st.floats(-3000, 3000))


@given(st.lists(places, min_size=1, max_size=20), st.integers(0, 20))
def test_all_of_the_ground_fits(points: list[tuple[float, float]], spots: int) -> None:
    west, south, east, north = extent(points)
    scale = scale_of((west, south, east, north), spots)
    near = 1e-6
    assert all(west - near <= x <= east + near for x, _ in points)
    assert all(south - near <= y <= north + near for _, y in points)
    assert min(east - west, north - south) >= 30.0 - near
    assert (east - west) * scale <= WIDTH - 2 * PAD + near
    assert (north - south) * scale <= (300.0 if spots else 190.0) - 2 * PAD + near


def test_the_bar_is_round_and_no_longer_than_a_hundred_units() -> None:
    """A square of 400 m is 272 units tall: a hundred units are 147 m, 482 ft."""
    found = bar_lengths([(0.0, 0.0), (400.0, 400.0)], None)
    assert found == {"ft": 200.0, "m": 100.0}
    assert bar_lengths([], (0.0, 0.0, 400.0, 400.0))["m"] >= found["m"]


def test_north_stands_below_the_ground() -> None:
    """At the top a spot's mark may lie where the arrow would be."""
    drawing = draw_map(Speaker(record(PUSH), load_words()))
    arrow = [s for s in drawing.items if isinstance(s, Shape)][-2:]
    foot = drawing.height - PAD - 22
    assert all(y >= foot for shape in arrow for ring in shape.rings for _, y in ring)
    (north,) = [s for s in drawing.items if isinstance(s, Label) and s.text == "N"]
    assert north.y >= foot
