"""How plants are built changes what is seen of them, never what the truth says of them."""

from __future__ import annotations

from dataclasses import asdict, fields, replace

import numpy as np
import pytest

from tillercount.scenes.draw import draw_scene
from tillercount.scenes.emergence import Emergence
from tillercount.scenes.form import AS_MEASURED, Form, draw_form
from tillercount.scenes.leaf import PROFILE, PROFILE_AT, outline
from tillercount.scenes.mesh import Mesh
from tillercount.scenes.plant import Shoots, grow
from tillercount.scenes.species import SPECIES


def _grown(
    form: Form | None, haun: float = 5.0, dust: tuple[float, float, float] | None = None
) -> tuple[Mesh, Shoots]:
    return grow(
        np.random.default_rng(3).uniform(-500, 500, (25, 2)), lambda xy: np.zeros(len(xy)),
        np.random.default_rng(4), species=SPECIES["wheat"], emergence=Emergence(haun),
        tillering=1.0, prostrate=0.2, size=1.0, vigour_sd=0.1, dead_tips=0.1, lightness=45,
        chroma=30, hue_deg=130, form=form, dust_colour=None if dust is None else np.array(dust),
    )


def _area_mm2(mesh: Mesh) -> float:
    t = mesh.vertices[mesh.faces].astype(float)
    return float(np.linalg.norm(np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0]), axis=1).sum() / 2)


@pytest.mark.parametrize(
    ("form", "share"),
    [(Form(broad=0.6), 0.6), (Form(broad=1.5), 1.5), (Form(long=0.6), 0.6), (Form(long=1.5), 1.5)],
)
def test_slender_or_broad_the_stand_is_the_same(form: Form, share: float) -> None:
    mesh, shoots = _grown(Form())
    other, same = _grown(form)
    assert np.array_equal(shoots.plant, same.plant)
    assert np.array_equal(shoots.base_mm, same.base_mm)
    # sheaths keep their size, so the whole changes a little less than the blades
    got = _area_mm2(other) / _area_mm2(mesh)
    assert got == pytest.approx(1 + (share - 1) * 0.85, abs=0.12)


def test_nothing_is_changed_by_the_form_as_it_is() -> None:
    mesh, _ = _grown(Form())
    unsaid, _ = _grown(None)
    assert np.array_equal(mesh.vertices, unsaid.vertices)
    assert np.array_equal(outline(Form().lance), PROFILE)
    assert np.interp(0.5, PROFILE_AT, outline(1.0)) == 1.0
    assert outline(1.0)[0] < outline(0.0)[0]


def test_few_leaves_are_left_on_each_shoot() -> None:
    mesh, shoots = _grown(Form(leaves=2), haun=6.5)
    whole, _ = _grown(Form(), haun=6.5)
    blades = 12 * 2 * 2  # faces of one blade
    sheath = 3 * 6 * 2
    per_shoot = np.bincount(mesh.owners, minlength=len(shoots.plant)) - sheath
    assert set(per_shoot // blades) <= {0, 1, 2}
    assert len(mesh.faces) < len(whole.faces)


def test_bent_leaves_are_as_long_and_go_another_way() -> None:
    mesh, shoots = _grown(Form())
    bent, same = _grown(Form(kinked=0.6))
    assert np.array_equal(shoots.base_mm, same.base_mm)
    assert np.array_equal(mesh.faces, bent.faces)
    moved = np.linalg.norm(mesh.vertices - bent.vertices, axis=1) > 2.0
    assert 0.05 < moved.mean() < 0.6  # the part beyond the bend, of some of the leaves
    assert _area_mm2(bent) == pytest.approx(_area_mm2(mesh), rel=0.08)


def test_soil_lies_on_leaves_that_lie_on_it_and_on_no_other() -> None:
    mesh, _ = _grown(Form(), haun=6.0)
    soiled, _ = _grown(Form(sunk=0.8), haun=6.0)
    moved = np.abs(mesh.vertices - soiled.vertices).max(1) > 1e-6
    assert moved.any()
    assert np.array_equal(mesh.vertices[:, :2], soiled.vertices[:, :2])
    assert (soiled.vertices[moved, 2] < 0).all()
    assert mesh.vertices[moved, 2].max() < 10.0
    young, _ = _grown(Form(), haun=1.1)
    also, _ = _grown(Form(sunk=0.8), haun=1.1)
    # a leaf that is still coming stands up
    assert np.abs(young.vertices - also.vertices).max(1).astype(bool).mean() < moved.mean()


def test_tillers_stand_apart_and_lean_as_told() -> None:
    _, shoots = _grown(Form())
    _, apart = _grown(Form(aside_mm=8.0))
    tillers = np.ones(len(shoots.plant), bool)
    tillers[np.unique(shoots.plant, return_index=True)[1]] = False
    moved = np.linalg.norm(apart.base_mm - shoots.base_mm, axis=1)
    assert np.allclose(moved[~tillers], 0.0)
    assert moved[tillers].max() <= 8.0 + 1e-6  # less where they would come out too far off
    assert moved[tillers].mean() > 6.0


def test_leaves_of_a_shoot_may_differ_and_stand_where_they_stood() -> None:
    even, shoots = _grown(Form())
    mixed, same = _grown(Form(mixed=3.5))
    assert np.array_equal(shoots.base_mm, same.base_mm)

    def lengths(mesh: Mesh) -> np.ndarray:
        # a blade has 13 rows of three; its midrib is the second of each
        ribs = mesh.vertices[: len(mesh.vertices) // 39 * 39].reshape(-1, 13, 3, 3)[:, :, 1]
        return np.asarray(np.linalg.norm(np.diff(ribs, axis=1), axis=-1).sum(1))

    n = 60  # the first blades; sheaths come after all of them
    assert np.std(np.log(lengths(mixed)[:n])) > 1.2 * np.std(np.log(lengths(even)[:n]))


def test_shoots_of_a_plant_may_be_of_all_sizes() -> None:
    mesh, shoots = _grown(Form())
    other, same = _grown(Form(unlike=0.4))
    assert np.array_equal(shoots.plant, same.plant)

    def reach(m: Mesh) -> np.ndarray:
        corners = m.faces[:, 0]
        return np.array([
            np.linalg.norm(m.vertices[corners[m.owners == k]].max(0)
                           - m.vertices[corners[m.owners == k]].min(0))
            for k in range(len(shoots.plant))
        ])

    ratio = np.log(reach(other) / reach(mesh))
    assert 0.2 < ratio.std() < 0.6
    assert abs(ratio.mean()) < 0.15


def test_leaves_are_bright_and_dark_along_their_length_about_one_mean() -> None:
    mesh, _ = _grown(Form())
    patchy, _ = _grown(Form(patchy=0.5))
    assert np.allclose(mesh.vertices, patchy.vertices)
    ratio = np.log(patchy.colours[:, 1] / np.maximum(mesh.colours[:, 1], 1e-6))
    changed = ratio[np.abs(ratio) > 1e-6]
    assert len(changed) > 0.5 * len(ratio)
    assert abs(np.median(changed)) < 0.05
    assert 0.25 < changed.std() < 0.55


def test_splashed_soil_hides_the_colour_of_old_leaves_more_than_of_young_ones() -> None:
    soil = (0.3, 0.2, 0.1)

    def nearer(haun: float) -> float:
        """How much of the way to the soil's colour leaves have come, on average."""
        mesh, _ = _grown(Form(), haun=haun)
        soiled, _ = _grown(Form(dusty=1.0), haun=haun, dust=soil)
        clean, _ = _grown(Form(dusty=1.0), haun=haun)
        assert np.allclose(mesh.colours, clean.colours)  # there is no soil to hide them
        before, after = (np.abs(m.colours - soil).sum(1) for m in (mesh, soiled))
        return float(1 - after.mean() / before.mean())

    assert 0.02 < nearer(1.1) < nearer(5.0) < 0.6


def test_forms_are_drawn_wide_and_some_as_measured() -> None:
    drawn = [draw_form(np.random.default_rng(i)) for i in range(400)]
    as_measured = [f for f in drawn if replace(f, fold=0.2, kinked=0.0, patchy=0.0) == Form()]
    assert len(as_measured) / len(drawn) == pytest.approx(AS_MEASURED, abs=0.08)
    slender = np.array([f.long / f.broad for f in drawn])
    assert np.quantile(slender, 0.05) < 0.7
    assert np.quantile(slender, 0.95) > 1.5
    assert draw_form(np.random.default_rng(5)) == draw_form(np.random.default_rng(5))


def test_a_scene_says_how_its_plants_are_built_and_can_be_told() -> None:
    scene = draw_scene(31, width=160, height=120, overrides={"form": {"long": 0.7}})
    assert scene.params["form"] == asdict(Form(long=0.7))
    drawn = draw_scene(31, width=160, height=120).params["form"]
    assert set(drawn) == {f.name for f in fields(Form)}
