"""What makes a fit doubtful, and what tells a lath from a pipe."""

from __future__ import annotations

import math

import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, paint

from tillercount.area import SquareArea
from tillercount.frame.agreement import agreement
from tillercount.frame.confidence import LEAST_CONFIDENCE, doubts_of
from tillercount.frame.finder import picture_of
from tillercount.frame.hoopjudge import _gap_deg
from tillercount.frame.shading import Shading, flat_chance, shading_across

SQUARE = SquareArea(304.8)
SURE = {
    "presence": 1.0,
    "certainty": 1.0,
    "seen": 1.0,
    "missing": 0.0,
    "residual": 0.0,
    "bent": 0.0,
}


def test_nothing_against_a_fit_is_full_confidence() -> None:
    assert math.prod(doubts_of(**SURE).values()) == 1.0


@pytest.mark.parametrize(
    "doubt",
    [
        {"presence": 0.4},
        {"certainty": 0.65},
        {"seen": 0.2},
        {"missing": 0.5},
        {"residual": 1.1},
        {"bent": 1.5},
        {"overlap": 0.6},
        {"pipe_inside": 0.4},
        {"least_seen": 0.1},
        {"width_ratio": 1.5},
        {"area_unsure": 0.05},
        {"misfit": 1.1},
        {"lift": 1.1},
    ],
    ids=lambda d: next(iter(d)),
)
def test_each_doubt_alone_refuses(doubt: dict[str, float]) -> None:
    assert math.prod(doubts_of(**(SURE | doubt)).values()) < LEAST_CONFIDENCE


def scaled(points: np.ndarray, share: float) -> np.ndarray:
    return points.mean(0) + (points - points.mean(0)) * share


def test_an_outline_at_the_outer_rim_disagrees_with_the_maps() -> None:
    painted = paint(SQUARE, Camera(distance_mm=600), Look(leaves=0), seed=1)
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    maps = truth_maps(picture, painted.classes, painted.inside_edge_px, "quad")
    width = 21.3 * painted.camera.focal_px / 600
    right = agreement(maps, painted.inside_edge_px, width)
    outer = agreement(maps, scaled(painted.inside_edge_px, 1 + 2 * 21.3 / 304.8), width)
    small = agreement(maps, scaled(painted.inside_edge_px, 0.8), width)
    assert right["map_overlap"] > 0.95
    assert right["pipe_inside"] < 0.15
    assert right["pipe_outside"] > 0.75
    assert outer["map_overlap"] < 0.82
    assert outer["pipe_inside"] > 0.6
    assert small["map_overlap"] < 0.7
    assert small["pipe_outside"] < 0.3


def strip(profile: np.ndarray) -> Shading | None:
    """Shading of a level pipe 24 px wide whose brightness across is given (24,)."""
    rgb = np.full((100, 200, 3), 90, np.uint8)
    rgb[40:64] = np.clip(profile, 0, 255).astype(np.uint8)[:, None, None]
    along = np.linspace(20, 180, 40)
    inner = np.column_stack([along, np.full(40, 39.5)])
    return shading_across(picture_of(rgb, 200.0), inner, inner + [0, 24])


ACROSS = (np.arange(24) - 11.5) / 12


def cylinder(sun_deg: float) -> Shading | None:
    # Lambert: brightness goes with the cosine between the surface and the light
    lit = np.clip(np.cos(np.arcsin(ACROSS) - math.radians(sun_deg)), 0, 1)
    return strip(40 + 150 * lit)


@pytest.mark.parametrize("sun_deg", [-50, 0, 20, 35, 60])
def test_a_lit_cylinder_looks_round(sun_deg: float) -> None:
    round_one = cylinder(sun_deg)
    assert round_one is not None
    assert round_one.uneven > 0.2
    assert round_one.step > 0
    assert flat_chance([round_one] * 4, 0.0) < 0.1


def test_an_even_top_looks_flat() -> None:
    flat_one = strip(np.full(24, 170.0))
    assert flat_one is not None
    assert flat_one.uneven < 0.01
    assert flat_chance([flat_one] * 4, 0.0) > 0.9
    # what the edges say of all sides counts too, but not more than what is seen so clearly
    assert flat_chance([flat_one] * 4, -50.0) > 0.5


def test_two_even_planes_are_a_lath_though_their_brightness_differs() -> None:
    face_and_top = strip(np.where(ACROSS < -0.4, 90.0, 190.0))
    assert face_and_top is not None
    assert face_and_top.uneven > 0.4
    assert face_and_top.step < -1
    assert flat_chance([face_and_top] * 4, 0.0) > 0.7
    even = strip(np.full(24, 170.0))
    assert flat_chance([face_and_top, face_and_top, even, even], 0.0) > 0.8


def test_stripes_painted_on_a_lath_are_no_shading() -> None:
    rng = np.random.default_rng(0)
    inner = np.column_stack([np.linspace(20, 380, 90), np.full(90, 20.0)])
    outer = inner + [0, 24]
    y, x = np.mgrid[:64, :400]
    # slanting: most places at one edge are dark, and most at the other one light
    dark = x % 90 < 34 + (y - 20)
    rgb = np.where(dark[..., None], 90.0, 200.0) + rng.normal(0, 2, (64, 400, 3))
    rgb = np.clip(rgb, 0, 255).astype(np.uint8)
    striped = shading_across(picture_of(rgb, 400.0), inner, outer)
    assert striped is not None
    assert striped.uneven < 0.1


def test_one_even_side_is_enough_for_a_lath_and_four_uneven_ones_for_a_pipe() -> None:
    # the other three show their inner faces, softly lit
    assert flat_chance([Shading(0.0, 0.03), *[Shading(0.0, 0.2)] * 3], 0.0) > 0.75
    # a pipe in flat light, noisy enough that no curve can be told from a step
    soft = [Shading(0.2, 0.12), Shading(-0.3, 0.11), Shading(-0.1, 0.1), Shading(-0.1, 0.12)]
    assert flat_chance(soft, 0.0) < 0.45
    # a dark one, glossy: what looks like planes is the light's reflection
    glossy = [Shading(-0.8, 2.4), Shading(-2.9, 4.0), Shading(0.4, 2.8)]
    assert flat_chance(glossy, 6.0) < 0.45


def test_unless_anything_is_seen_a_pipe_is_likelier() -> None:
    assert 0.05 < flat_chance([], 0.0) < 0.2
    assert flat_chance([], 2.0) < 0.45


def test_where_no_shading_can_be_told_the_edges_decide() -> None:
    # a lath blown out white from edge to edge
    blown = [None] * 4
    assert flat_chance(blown, 5.0) > 0.8
    assert flat_chance(blown, -5.0) < 0.01
    # where it can be told they don't weigh as much
    lit = [cylinder(35)] * 4
    assert flat_chance(lit, 5.0) < 0.2


def test_a_blown_out_pipe_says_nothing() -> None:
    assert strip(np.full(24, 255.0)) is None
    nothing = flat_chance([], 0.0)
    assert flat_chance([None, cylinder(35), None, None], 0.0) == nothing
    assert flat_chance([None] * 4, 3.0) > nothing > flat_chance([None] * 4, -3.0)


def ring(**stretches: tuple[int, int]) -> np.ndarray:
    """240 profiles around a hoop, True in the stretches given in degrees."""
    degrees = (np.arange(240) + 0.5) * 1.5
    return np.any([(degrees >= a) & (degrees < b) for a, b in stretches.values()], axis=0)


def test_bare_ground_at_the_photos_border_is_a_longer_gap() -> None:
    nothing = np.zeros(240, bool)
    assert _gap_deg(nothing, nothing) == 0
    assert _gap_deg(ring(a=(40, 100)), nothing) == pytest.approx(60, abs=3)
    # a stretch outside the photo alone is no gap, bare ground next to it makes it one
    assert _gap_deg(nothing, ring(a=(0, 50))) == 0
    assert _gap_deg(ring(a=(50, 90)), ring(b=(0, 50))) == pytest.approx(90, abs=3)
    assert _gap_deg(ring(a=(120, 160)), ring(b=(0, 50))) == pytest.approx(40, abs=3)
    # over the top of the ring, and across a leaf two profiles wide
    assert _gap_deg(ring(a=(330, 360), b=(0, 30)), nothing) == pytest.approx(60, abs=3)
    assert _gap_deg(ring(a=(40, 70), b=(73, 100)), nothing) == pytest.approx(60, abs=3)
    # what is seen in between may be left out of it
    patchy = ring(**{f"from{a}": (a, a + 3) for a in range(40, 100, 6)})
    assert _gap_deg(patchy, nothing) == pytest.approx(60, abs=4)
    assert _gap_deg(patchy, nothing, closed_over=False) == pytest.approx(30, abs=3)
    assert _gap_deg(ring(a=(40, 100)), nothing, closed_over=False) == pytest.approx(60, abs=3)
    assert _gap_deg(~nothing, nothing, closed_over=False) == 360
