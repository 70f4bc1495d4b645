"""Dead plants aren't counted; heaved, pressed and grazed ones are, and look the part."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tillercount.scenes.draw import Scene, draw_scene
from tillercount.scenes.harm import Harm, draw_harm, harm_params
from tillercount.scenes.others import THINGS

NONE = {"killed": 0.0, "heaved": 0.0, "trodden": 0.0, "grazed": 0.0, "wheel_mm": 0.0}


def stand(**harm: float) -> Scene:
    overrides: dict[str, Any] = {
        **NONE, **harm, "haun": 4.0, "gaps": 0.0, "prostrate": 0.1, "plants_per_ft2": 25.0,
        "litter_per_m2": 0.0, "dead_tips": 0.0,
    }
    return draw_scene(21, kind="hoop", width=320, height=240, overrides=overrides)


def test_killed_plants_leave_remains_and_no_count() -> None:
    whole, killed = stand(), stand(killed=0.5)
    assert 0.1 < len(killed.plants_mm) / len(whole.plants_mm) < 0.9
    assert killed.shoots.plant.max() == len(killed.plants_mm) - 1
    assert len(killed.parts["litter"].faces) > 1000
    assert len(whole.parts["litter"].faces) < 5  # nothing but hidden triangles
    # brown, not green: remains reflect more red than green
    assert np.all(np.diff(killed.parts["litter"].colours.mean(0)[:2]) < 0)


def test_about_the_share_asked_for_is_killed() -> None:
    shares = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        at = rng.uniform(-900, 900, (800, 2))
        shares.append(draw_harm(at, 0.0, {**NONE, "killed": 0.4}, rng).dead.mean())
    assert np.mean(shares) == pytest.approx(0.4, abs=0.04)


def test_pressed_plants_lie_flat_and_heaved_ones_stand_higher() -> None:
    def height(scene: Scene) -> float:
        crop = scene.parts["crop"].vertices
        over = crop[:, 2] - scene.ground.height_of(crop[:, :2].astype(float))
        return float(np.quantile(over, 0.95))

    usual = height(stand())
    assert height(stand(trodden=1.0)) < 0.75 * usual
    assert height(stand(heaved=1.0)) > usual + 5


def test_grazed_blades_are_shorter() -> None:
    def reach(scene: Scene) -> float:
        crop = scene.parts["crop"]
        middle = scene.shoots.base_mm[crop.owners]
        corner = crop.vertices[crop.faces[:, 0], :2]
        return float(np.quantile(np.linalg.norm(corner - middle, axis=1), 0.95))

    assert reach(stand(grazed=1.0)) < 0.85 * reach(stand())


def test_a_wheel_presses_a_band_along_the_rows() -> None:
    rng = np.random.default_rng(1)
    at = rng.uniform(-900, 900, (6000, 2))
    harm = draw_harm(at, 0.0, {**NONE, "wheel_mm": 300.0}, rng)
    hit = at[harm.pressed, 1]
    assert np.ptp(hit) == pytest.approx(300.0, abs=8.0)
    away = np.abs(at[:, 1] - (hit.min() + hit.max()) / 2)
    inside = away < 145
    assert harm.pressed[inside].mean() > 0.75
    assert not harm.dead[away > 155].any()


def test_most_stands_are_unharmed() -> None:
    drawn = [harm_params(np.random.default_rng(seed)) for seed in range(300)]
    hurt = np.mean([any(v > 0 for v in p.values()) for p in drawn])
    assert 0.2 < hurt < 0.5
    living = Harm(np.array([True, False]), np.array([True, False]), np.zeros(2), 0.2).living()
    assert living.pressed.tolist() == [False]


@pytest.mark.parametrize("thing", sorted(THINGS))
def test_other_things_can_be_drawn(thing: str) -> None:
    scene = draw_scene(3, kind="none", width=160, height=120, overrides=THINGS[thing])
    per_m2 = len(scene.plants_mm) / (2 * scene.ground.half_mm / 1000) ** 2
    if thing in ("bare soil", "gravel"):
        assert per_m2 < 5
    elif thing == "maize seedlings":
        assert per_m2 < 25
        assert np.bincount(scene.shoots.plant).max() == 1
    else:
        assert per_m2 > 150


def test_after_a_hard_winter_old_leaves_are_gone_and_shoots_are_still_there() -> None:
    """Fewer green leaves on the same shoots; even the shortest life leaves one on each."""
    from tillercount.scenes.emergence import Emergence
    from tillercount.scenes.plant import grow
    from tillercount.scenes.species import SPECIES

    def grown(leaf_life: float) -> tuple[int, int, float]:
        mesh, shoots = grow(
            np.array([[x, 0.0] for x in range(0, 1000, 40)]), lambda at: np.zeros(len(at)),
            np.random.default_rng(3), species=SPECIES["wheat"], emergence=Emergence(6.0),
            tillering=1.0, prostrate=0.3, size=1.0, vigour_sd=0.1, dead_tips=0.0, lightness=40.0,
            chroma=22.0, hue_deg=128.0, leaf_life=leaf_life,
        )
        green = mesh.colours[:, 1] > mesh.colours[:, 0]
        return len(np.unique(mesh.owners[green[mesh.faces].all(1)])), len(shoots.plant), float(
            len(mesh.faces)
        )

    whole, hard, hardest = grown(99.0), grown(2.5), grown(0.1)
    assert hard[2] < 0.85 * whole[2]
    for standing, shoots, _ in (whole, hard, hardest):
        assert standing == shoots
