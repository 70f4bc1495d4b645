"""What is worked out for many at once, or band by band, is what it is one by one or as a whole."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from tillercount.scenes import batch, develop, frames, soil
from tillercount.scenes.draw import draw_scene
from tillercount.scenes.form import Form
from tillercount.scenes.leaf import ALONG, BladeSet
from tillercount.scenes.mesh import Mesh, box
from tillercount.scenes.noise import fractal, lab_to_linear, noise_table, value_noise
from tillercount.scenes.sheath import Stems
from tillercount.scenes.shoot import LEAF_DRAWS, Look, Shoot, build_shoots, draw_shoot
from tillercount.scenes.species import SPECIES

LOOK = Look(
    species=SPECIES["barley"], form=Form(straight=0.4, around=0.3, leaves=3, young_flat=0.5),
    prostrate=0.4, dead_tips=0.5, lightness=42.0, chroma=22.0, hue_deg=128.0, grazed=0.3,
    leaf_life=3.5, azimuth_sd=0.4, alike=0.3,
)


@pytest.mark.parametrize("size", [512, 1024, 1536])
def test_a_field_is_made_larger_as_pillow_does(size: int) -> None:
    field = np.random.default_rng(1).standard_normal((310, 310), dtype=np.float32)
    whole = np.asarray(Image.fromarray(field).resize((size, size), Image.Resampling.BILINEAR))
    wide = soil._Widened(field, size)
    ours = np.concatenate([wide.rows(rows) for rows in soil._bands(size)])
    assert np.allclose(ours, whole, rtol=1e-6, atol=1e-6)


def _soil(rng: np.random.Generator) -> soil.Soil:
    def field(side: int) -> NDArray[np.float32]:
        rough = rng.standard_normal((side, side), dtype=np.float32)
        return np.asarray(ndimage.gaussian_filter(rough, 2.0) * 5, np.float32)

    return soil.Soil(
        lightness=45.0, base=lab_to_linear(45.0, 16.0, 60.0), hollows=field(200), wetness=0.6,
        speck=field(soil.TILE_PX), crumb=field(soil.TILE_PX), patch=field(200),
        patch_l=np.float32(3), tint=field(200), tint_by=np.float32(0.9),
        texture=np.abs(1 + 0.2 * rng.standard_normal((300, 300, 3), dtype=np.float32)),
        texture_by=0.8,
        snow=soil.Snow(field(200), np.float32(0.4), np.float32(5), lab_to_linear(90, 2, 250)),
    )


def test_soil_painted_in_bands_is_what_it_is_as_a_whole() -> None:
    s, size = _soil(np.random.default_rng(2)), 1024
    assert s.snow is not None
    assert s.texture is not None

    def full(field: NDArray[np.float32]) -> NDArray[np.float32]:
        return np.asarray(Image.fromarray(field).resize((size, size), Image.Resampling.BILINEAR))

    def tiled(pattern: NDArray[np.float32]) -> NDArray[np.float32]:
        reps = -(-size // len(pattern))
        return np.concatenate([np.concatenate([pattern] * reps)] * reps, axis=1)[:size, :size]

    low = full(s.hollows) / full(s.hollows).std()
    light = 2.2 * tiled(s.speck + s.crumb) + s.lightness + s.patch_l * full(s.patch)
    light = np.clip(light - s.wetness * np.clip(8 * low + 6, 0, 22), 4, 95)
    colour = s.base * ((light / s.lightness) ** 2.6)[..., None]
    tint = 0.05 * s.tint_by * full(s.tint)
    colour *= np.stack([1 + tint, np.ones_like(tint), 1 - tint], -1)
    colour *= 1 + s.texture_by * (tiled(s.texture) - 1)
    over = full(s.snow.over) - s.snow.level
    cover = np.clip(over * s.snow.edge - 0.15 * tiled(s.speck), 0, 1)[..., None]
    colour = np.clip(colour * (1 - cover) + s.snow.white * cover, 0.004, 0.95)
    assert cover.mean() > 0.05
    # lightness goes in steps of 0.01
    assert np.abs(soil.paint(s, size) / colour - 1).max() < 0.008


def test_blurs_against_another_library() -> None:
    picture = np.random.default_rng(3).random((40, 50, 3), dtype=np.float32)
    for sigma in (0.5, 1.0, 2.1):
        other = ndimage.gaussian_filter(picture, (sigma, sigma, 0), truncate=3.0)
        assert np.allclose(develop._soft(picture, sigma), other, atol=1e-5)
    spot = np.zeros((21, 21, 3), np.float32)
    spot[10, 10] = 1.0
    smear = develop._moved(spot, 4.0, np.pi / 2)[..., 0]  # down the picture
    assert smear.sum() == pytest.approx(1.0, abs=1e-5)
    assert smear[8:13, 10].sum() == pytest.approx(1.0, abs=0.02)


def test_a_picture_is_developed_alike_wherever_a_band_ends() -> None:
    even = np.full((2 * develop.BAND_PX + 7, 16, 3), 0.2, np.float32)
    how = develop.Develop(shot=0.0, read=0.0, vignette=0.0)
    assert np.ptp(develop.develop(even, how, np.random.default_rng(0)), axis=(0, 1)).max() == 0
    noisy = develop.Develop(shot=0.05, vignette=0.0)
    rows = develop.develop(even, noisy, np.random.default_rng(0)).astype(float).std((1, 2))
    assert rows.min() > 0.3 * rows.max()


def _shoots() -> list[Shoot]:
    rng = np.random.default_rng(5)
    return [
        draw_shoot(
            m // 3, float(rng.uniform(0.3, 7.5)), m % 3 - 1, 0.7 * m, 0.3, 2.0, 0.1, 1.1 * m,
            m % 4 == 0, rng,
        )
        for m in range(24)
    ]


def test_shoots_built_together_are_what_they_are_alone() -> None:
    drawn = _shoots()
    foot = np.random.default_rng(6).uniform(-300, 300, (len(drawn), 3))
    vigour = np.linspace(0.6, 1.5, len(drawn))
    pressed = np.arange(len(drawn)) % 4 == 0
    blade, stems = build_shoots(drawn, foot, vigour, pressed, LOOK)
    for m in range(len(drawn)):
        one, stem = build_shoots(
            drawn[m : m + 1], foot[m : m + 1], vigour[m : m + 1], pressed[m : m + 1], LOOK
        )
        mine = blade.only(blade.owner == m)
        assert len(mine.azimuth) > 0
        for f in fields(BladeSet):
            if f.name != "owner":
                assert np.allclose(getattr(mine, f.name), getattr(one, f.name)), f.name
        for f in fields(Stems):
            assert np.allclose(getattr(stems, f.name)[m], getattr(stem, f.name)[0]), f.name


@pytest.mark.parametrize("pressed", [False, True])
def test_the_order_of_draws_is_kept(pressed: bool) -> None:
    """So that a seed gives the stand that it always gave."""
    rng, own = np.random.default_rng(8), 3.4
    shoot = draw_shoot(0, own, 0, 0.1, 0.2, 2.0, 0.1, 0.3, pressed, np.random.default_rng(8))
    first = [rng.normal(size=4) for _ in range(6)]
    lie = np.deg2rad(rng.uniform(60, 85)) if pressed else 0.2
    if pressed:
        first[2:5] = [rng.normal(size=4) for _ in range(3)]
    first += [rng.normal(size=4), rng.random(4)]
    tall = rng.random()
    first += [rng.random(4)] + [rng.normal(size=4) for _ in range(3)]
    first += [rng.random(4) for _ in range(7)] + [rng.normal(size=4) for _ in range(2)]
    first += [rng.random(4) for _ in range(9 + ALONG)] + [rng.normal(size=4) for _ in range(ALONG)]
    assert len(first) == len(LEAF_DRAWS)
    assert np.array_equal(shoot.leaves, first)
    assert shoot.lie == pytest.approx(lie)
    assert (shoot.tall, shoot.stout, shoot.red) == (tall, rng.random(), rng.random())
    assert shoot.strong == rng.normal()


def test_a_fractal_field_has_no_mean_and_the_slope_asked_for() -> None:
    """Also where the same shape was asked for before with another slope."""
    shares = []
    for beta in (0.7, 2.4, 0.7):
        field = fractal((90, 80), beta, np.random.default_rng(4))
        assert field.mean() == pytest.approx(0.0, abs=1e-6)
        assert field.std() == pytest.approx(1.0, abs=1e-4)
        shares.append(float(ndimage.uniform_filter(field, 5, mode="wrap").std()))
    assert shares[0] == shares[2]
    assert shares[1] > 1.3 * shares[0]


def test_the_renderer_keeps_freed_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """Before any scene is drawn: each takes the same large arrays as the one before."""
    done: list[str] = []
    monkeypatch.setattr(batch, "keep_freed_memory", lambda: done.append("kept"))
    monkeypatch.setattr(batch, "render_batch", lambda *_, **__: done.append("rendered") or 0)
    monkeypatch.setattr("sys.argv", ["batch", "--out", "nowhere"])
    batch.main()
    assert done == ["kept", "rendered"]


def test_noise_of_many_tables_is_that_of_each() -> None:
    rng = np.random.default_rng(9)
    tables = np.array([noise_table(rng) for _ in range(4)])
    points = rng.uniform(-200, 200, (4, 30, 2))
    together = value_noise(points, 1.7, tables)
    for k in range(4):
        alone = value_noise(points[k : k + 1], 1.7, tables[k : k + 1])[0]
        assert np.array_equal(together[k], alone)
    # at whole steps it is the table's own value, and from there on it repeats
    at = np.array([[[3.0, 5.0], [3.0 + 64, 5.0 - 64]]])
    assert np.allclose(value_noise(at, 1.0, tables[:1]), tables[0, 5, 3])


def test_what_lies_within_is_seen_though_its_corners_are_far_off() -> None:
    board = box([0, 200, 5], [300, 40, 5], [0.2, 0.2, 0.2])  # its near side is 160 mm away
    assert frames._within(board, 170.0)
    assert not frames._within(board, 150.0)
    assert not frames._within(box([500, 500, 5], [30, 30, 5], [0.2, 0.2, 0.2]), 300.0)
    nothing = Mesh(board.vertices, board.faces[:0], board.colours, board.owners[:0])
    assert not frames._within(nothing, 1e9)


def test_a_seed_gives_the_scene_that_it_always_gave() -> None:
    """Photos rendered before must stay those of their seeds; else raise GENERATOR_VERSION."""
    scene = draw_scene(11, kind="square", width=160, height=120, overrides={
        "haun": 5.0, "stones_per_m2": 80.0, "snow": 0.1, "trodden": 0.3,
    })
    crop = scene.parts["crop"]
    known = {
        "plants": 96, "shoots": 383, "crop": [-18.0299, 9.9547, 24.3707],
        "leaf colour": [0.1059, 0.1251, 0.0570],
        "soil": [0.1912, 0.1513, 0.1313], "rough": 4.9012,
        "stones": [29.4742, 1.2977, 1.2083],
    }
    told = {
        "plants": len(scene.plants_mm), "shoots": len(scene.shoots.plant),
        "crop": crop.vertices.mean(0, dtype=float),
        "leaf colour": crop.colours.mean(0, dtype=float),
        "soil": scene.ground.colour.mean((0, 1), dtype=float),
        "rough": float(scene.ground.height_mm.std(dtype=float)),
        "stones": scene.parts["stones"].vertices.mean(0, dtype=float),
    }
    for name, value in known.items():
        assert told[name] == pytest.approx(value, rel=1e-3, abs=1e-3), name
