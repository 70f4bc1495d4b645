"""Scenes: what is drawn is what the truth says, and what is rendered is where the truth says."""

from __future__ import annotations

import json

import numpy as np
import pytest

from tillercount.scenes.camera import aim
from tillercount.scenes.develop import Develop, develop
from tillercount.scenes.draw import draw_scene, place_plants
from tillercount.scenes.emergence import Emergence
from tillercount.scenes.noise import lab_to_linear, linear_to_srgb, srgb_to_linear
from tillercount.scenes.plant import Shoots, grow
from tillercount.scenes.species import SPECIES
from tillercount.scenes.views import another_view, reach_mm
from tillercount.scenes.write import inside_polygon, near_photo, shoot_map, truth_of

SMALL = {"width": 160, "height": 120}


def test_same_seed_gives_the_same_scene() -> None:
    a, b = draw_scene(11, **SMALL), draw_scene(11, **SMALL)
    assert np.array_equal(a.plants_mm, b.plants_mm)
    assert np.array_equal(a.parts["crop"].vertices, b.parts["crop"].vertices)
    assert a.params == b.params
    assert not np.array_equal(a.plants_mm, draw_scene(12, **SMALL).plants_mm)


def test_every_plant_has_a_main_stem_and_every_shoot_a_plant() -> None:
    scene = draw_scene(5, kind="square", **SMALL)
    shoots = np.bincount(scene.shoots.plant, minlength=len(scene.plants_mm))
    assert shoots.min() >= 1
    assert scene.shoots.plant.max() == len(scene.plants_mm) - 1
    # the first shoot of each plant stands where the plant does
    first = np.unique(scene.shoots.plant, return_index=True)[1]
    assert np.allclose(scene.shoots.base_mm[first], scene.plants_mm)


def test_tillers_that_caught_up_are_as_large_as_their_main_stem_and_no_more_of_them() -> None:
    """As after a winter, when it can't be told which shoot was first."""
    stands = {alike: _grown(alike) for alike in (0.0, 1.0)}
    for alike, shoots in stands.items():
        first = np.array([shoots.leaves[shoots.plant == p].max() for p in shoots.plant])
        behind = first - shoots.leaves
        tillers = behind > 0
        assert tillers.sum() > 20
        assert (np.median(behind[tillers]) < 0.31) == (alike == 1.0)
    assert len(stands[0.0].plant) == pytest.approx(len(stands[1.0].plant), rel=0.25)


def _grown(alike: float) -> Shoots:
    _, shoots = grow(
        np.random.default_rng(3).uniform(-500, 500, (40, 2)), lambda xy: np.zeros(len(xy)),
        np.random.default_rng(4), species=SPECIES["wheat"], emergence=Emergence(5.0), tillering=1.0,
        prostrate=0.2, size=1.0, vigour_sd=0.1, dead_tips=0.1, lightness=45, chroma=30,
        hue_deg=130, alike=alike,
    )
    return shoots


def test_tillers_rise_with_leaf_number() -> None:
    def shoots_per_plant(haun: float) -> float:
        scene = draw_scene(
            3, kind="square", overrides={
                "haun": haun, "tillering": 1.0, "tillers_early": 0.0, "plants_per_ft2": 20.0
            },
            **SMALL,
        )
        return len(scene.shoots.plant) / len(scene.plants_mm)

    # no tiller before 2.5 leaves, T1 and T2 at four (Krenzer & Nipp 1991: on 90-100 % of plants)
    assert shoots_per_plant(1.6) == pytest.approx(1.0, abs=0.05)
    assert 2.0 < shoots_per_plant(4.2) < 3.3
    assert shoots_per_plant(6.2) > shoots_per_plant(4.2) + 1


def test_shoots_per_plant_spread_from_one_to_ten() -> None:
    """A network must see tillers, not guess them from the size of the leaves."""
    shares = []
    few = {"haun": 7.5, "plants_per_ft2": 10.0, "stones_per_m2": 0.0, "litter_per_m2": 0.0}
    for seed in range(60):
        scene = draw_scene(seed, kind="square", overrides=few, **SMALL)
        if len(scene.plants_mm):
            shares.append(len(scene.shoots.plant) / len(scene.plants_mm))
    assert min(shares) < 2.5
    assert max(shares) > 8.0


def test_density_of_plants_is_what_was_asked() -> None:
    counts = [
        len(place_plants(200.0, 190.5, 0.3, 20.0, 1000.0, np.random.default_rng(i),
                         scatter_mm=5.0, evenness=1.0, gaps=0.0))
        for i in range(12)
    ]
    assert np.mean(counts) / 4.0 == pytest.approx(200.0, rel=0.05)  # a square of 2 m


def test_plane_homography_agrees_with_projection() -> None:
    camera = aim(np.array([30.0, -20.0]), 900.0, 17.0, 0.7, 2.1, 1000.0, 800, 600)
    xy = np.random.default_rng(0).uniform(-200, 200, (50, 2))
    z = 12.0
    h = camera.plane_to_photo(z)
    seen = np.c_[xy * [1, -1], np.ones(50)] @ h.T
    assert np.allclose(
        seen[:, :2] / seen[:, 2:], camera.project(np.c_[xy, np.full(50, z)]), atol=1e-6
    )
    assert camera.tilt_deg == pytest.approx(17.0)
    # seen from above, nothing is mirrored: turning right on the ground turns right in the photo
    assert np.linalg.det(h[:2, :2]) > 0


def test_counts_of_the_truth_against_another_library() -> None:
    from skimage.measure import points_in_poly

    scene = draw_scene(21, kind="hoop", **SMALL)
    truth = truth_of(scene, np.full((1, 1), -1, np.int32))
    assert scene.frame is not None
    ring = scene.frame.outline_mm[:, :2]
    assert truth["counts"]["plants"] == points_in_poly(scene.plants_mm, ring).sum()
    assert truth["counts"]["shoots"] == points_in_poly(scene.shoots.base_mm, ring).sum()
    # the marks of each plant and shoot add up to the same
    assert sum(p[4] for p in truth["plants"]) == truth["counts"]["plants"]
    assert sum(s[5] for s in truth["shoots"]) == truth["counts"]["shoots"]
    json.dumps(truth)


def test_inside_polygon_of_a_square() -> None:
    square = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])
    points = np.array([[5.0, 5], [9.9, 0.1], [10.1, 5], [-1, 5], [5, 20]])
    assert inside_polygon(points, square).tolist() == [True, True, False, False, False]


def test_colours_against_skimage() -> None:
    from skimage.color import lab2rgb

    light, chroma, hue = np.meshgrid([20.0, 45, 70], [0.0, 10, 18], [20.0, 100, 200])
    lab = np.stack(
        [light, chroma * np.cos(np.deg2rad(hue)), chroma * np.sin(np.deg2rad(hue))], -1
    )
    ours = linear_to_srgb(lab_to_linear(light, chroma, hue))
    assert np.abs(ours - lab2rgb(lab)).max() < 0.01
    ramp = np.linspace(0, 1, 50, dtype=np.float32)
    assert np.allclose(srgb_to_linear(linear_to_srgb(ramp)), ramp, atol=1e-4)


def test_developing_leaves_its_input_alone_and_keeps_order() -> None:
    ramp = np.tile(np.linspace(0.05, 0.6, 64, dtype=np.float32)[None, :, None], (48, 1, 3))
    before = ramp.copy()
    how = Develop(shot=0.0, read=0.0, defocus_px=0.0, sharpen=0.0, vignette=0.0)
    picture = develop(ramp, how, np.random.default_rng(0))
    assert np.array_equal(ramp, before)
    assert picture.dtype == np.uint8
    assert (np.diff(picture[10, :, 1].astype(int)) >= 0).all()
    assert picture[10, -1, 1] > picture[10, 0, 1] + 60


@pytest.mark.parametrize("seed", [44, 45, 51, 76, 103])
def test_nothing_lies_on_the_frame(seed: int) -> None:
    """Drawn from above: no board or hose over the marked area, nor over its frame."""
    from PIL import Image, ImageDraw

    scene = draw_scene(seed, kind="square", overrides={"decoys": 6, "fill": 0.8})
    assert scene.frame is not None
    half = scene.area["width_mm"] / 2 + scene.frame.tube_mm
    size = 800
    canvas = Image.new("1", (size, size))
    draw = ImageDraw.Draw(canvas)
    decoys = scene.parts["decoys"]
    for corners in decoys.vertices[decoys.faces][..., :2]:
        if np.ptp(corners, axis=0).max() < 0.1:  # an empty mesh is one tiny triangle
            continue
        places = (corners + half) * size / (2 * half)
        draw.polygon([(float(x), float(y)) for x, y in places], fill=1)
    assert not np.asarray(canvas).any()


@pytest.mark.scenes
@pytest.mark.parametrize("kind", ["square", "hoop"])
def test_frame_is_rendered_where_the_truth_says(kind: str) -> None:
    pytest.importorskip("mitsuba", reason="needs the extra 'scenes'")
    from tillercount.scenes.render import set_variant, trace

    set_variant("scalar_rgb")
    quiet = {
        "plants_per_ft2": 2.0, "litter_per_m2": 0.0, "stones_per_m2": 0.0, "roughness": 0.0,
        "furrow_mm": 0.0, "broadleaf_per_m2": 0.0, "grass_per_m2": 0.0, "decoys": 0,
        "photographer": False, "tilt_deg": 15.0, "shift": 0.0, "fill": 0.6, "haun": 1.5,
    }
    scene = draw_scene(8, width=320, height=240, kind=kind, overrides=quiet)
    radiance, classes, owners = trace(scene, samples=1)
    assert radiance.shape == (240, 320, 3)
    assert np.isfinite(radiance).all()
    assert radiance.mean() > 0
    assert set(np.unique(classes)) <= {0, 1, 2, 3, 4, 255}
    assert ((owners >= 0) == (classes == 2)).all()
    # every leaf that is seen goes back to a shoot of the JSON, by its number there
    numbers, truth = shoot_map(scene, owners), truth_of(scene, owners)
    _, kept = near_photo(scene)
    assert len(truth["shoots"]) == kept.sum() > 0
    assert ((numbers > 0) == (owners >= 0) & kept[owners]).all()
    for number in np.unique(numbers[numbers > 0]):
        x, y = truth["shoots"][number - 1][1:3]
        base = scene.shoots.base_mm[owners[numbers == number][0]]
        assert (x, -y) == pytest.approx(tuple(base), abs=0.01)
    # just inside the inside edge lies no frame, just outside it does
    assert scene.frame is not None
    edge = scene.frame.inside_edge_mm
    if kind == "square":
        edge = np.concatenate(
            [np.linspace(edge[i], edge[(i + 1) % 4], 22)[2:-2] for i in range(4)]
        )
    away = edge / np.linalg.norm(edge[:, :2], axis=1, keepdims=True)
    away[:, 2] = 0

    def frame_share(offset_mm: float) -> float:
        px = np.rint(scene.camera.project(edge + away * offset_mm)).astype(int)
        ok = (px >= 0).all(1) & (px[:, 0] < 320) & (px[:, 1] < 240)
        return float((classes[px[ok, 1], px[ok, 0]] == 4).mean())

    assert frame_share(0.5 * scene.frame.tube_mm) > 0.85
    assert frame_share(-0.5 * scene.frame.tube_mm) < 0.1


def test_another_view_keeps_the_stand_and_changes_the_picture() -> None:
    scene = draw_scene(12, kind="square", overrides={"fill": 0.8}, **SMALL)
    view = another_view(scene, 2)
    assert np.array_equal(view.plants_mm, scene.plants_mm)
    assert view.parts["crop"] is scene.parts["crop"]
    assert view.view == 2
    assert not np.allclose(view.camera.place_mm, scene.camera.place_mm)
    assert view.light.sun_height_deg != scene.light.sun_height_deg
    # what is seen of the ground has been grown over
    assert reach_mm(view.camera) <= reach_mm(scene.camera)
    owners = np.full((SMALL["height"], SMALL["width"]), -1, np.int32)
    first, second = truth_of(scene, owners), truth_of(view, owners)
    assert first["counts"] == second["counts"]
    assert first["seed"] == second["seed"]
    assert first["outline_px"] != second["outline_px"]
    again = another_view(scene, 2)
    assert np.array_equal(again.camera.place_mm, view.camera.place_mm)
