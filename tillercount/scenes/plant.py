"""Young cereal plants: leaves by age, tillers by axil, shoots with their true base.

Sizes and postures follow measured winter wheat: blade lengths and widths by rank, midrib angles
by leaf age and tiller frequencies (`tillercount.scenes.tillers`) from the open architectural data
of openalea/adel, echap and WALTer (CeCILL-C). Habit beyond the measured (erect) cultivars, from
semi-erect to prostrate, is a free slider.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians

import numpy as np
from numpy.typing import NDArray

from tillercount.scenes.emergence import Emergence
from tillercount.scenes.form import Form
from tillercount.scenes.harm import Harm
from tillercount.scenes.leaf import blades, outline
from tillercount.scenes.mesh import Mesh, join
from tillercount.scenes.sheath import sheaths
from tillercount.scenes.shoot import Look, Shoot, build_shoots, draw_shoot
from tillercount.scenes.species import Species
from tillercount.scenes.tillers import tillers_of

__all__ = ["Shoots", "grow"]


@dataclass(frozen=True)
class Shoots:
    """Every shoot of a stand: where it stands and to which plant it belongs.

    Attributes
    ----------
    plant : ndarray (M,) int, index of the plant
    base_mm : ndarray (M, 2) float, where the shoot leaves the ground
    leaves : ndarray (M,) float, leaves on the shoot (Haun)
    """

    plant: NDArray[np.int64]
    base_mm: NDArray[np.float64]
    leaves: NDArray[np.float64]


MOST_SLANT = float(np.deg2rad(50))
"""Slant in the soil of the flattest tillers."""
TILLER_TURN_DEG = 75.0
"""Between the plane of a tiller's leaves and its main stem's."""
WIDEST_MM = 30.0
"""Furthest that a tiller comes out of the ground from its main stem."""


def grow(
    plants_mm: NDArray[np.float64],
    height_of: object,
    rng: np.random.Generator,
    *,
    species: Species,
    emergence: Emergence,
    tillering: float,
    prostrate: float,
    size: float,
    vigour_sd: float,
    dead_tips: float,
    lightness: float,
    chroma: float,
    hue_deg: float,
    tillers_early: float = 0.0,
    hug: float = 1.0,
    crown_mm: float = 0.0,
    leaf_life: float = np.inf,
    astray_deg: float = 90.0,
    azimuth_sd: float = 0.35,
    alike: float = 0.0,
    form: Form | None = None,
    dust_colour: NDArray[np.float64] | None = None,
    harm: Harm | None = None,
) -> tuple[Mesh, Shoots]:
    """Grow a plant at each place.

    Parameters
    ----------
    plants_mm : ndarray (N, 2), plant bases on the ground
    height_of : callable giving the ground's height at (N, 2) mm
    emergence : how many leaves the main stems have
    tillering : factor on the share of axils that make a tiller
    prostrate : 0 erect … 1 flat on the ground
    dead_tips : 0 … 1, how many leaves are tipped or withered
    tillers_early : leaves by which tillers come before (or, below 0, after) their measured time
    hug : factor on the distance of tillers from their main stem
    crown_mm : depth of the crown; tillers leave it there, at a slant, and so come out of the
        ground the further from their main stem the deeper it lies
    leaf_life : leaves that a shoot makes before its oldest one is dead; what is left of dead
        leaves is withered or gone, so that after a winter main stems and tillers look alike
    astray_deg : a tiller's leaves stand in a plane 75° from its main stem's (from its parent's in
        openalea/adel), give or take up to this much (90 in WALTer)
    azimuth_sd : spread, radians, of the directions of leaves about the plane of their shoot
    alike : 0 … 1, how far tillers have caught up with their main stem in leaves and size, and the
        main stem leans as they do; after a winter it often can't be told which was first
    form : how the plants are built; as the measured ones if not given
    dust_colour : linear colour (3,) of the soil on the leaves; none lies on them if not given
    harm : what happened to each plant; nothing if not given

    Returns
    -------
    mesh (owners are shoot numbers), shoots
    """
    hurt = harm or Harm(
        np.zeros(len(plants_mm), bool), np.zeros(len(plants_mm), bool), np.zeros(len(plants_mm)),
        0.0,
    )
    look = Look(
        species, form or Form(), prostrate, dead_tips, lightness, chroma, hue_deg, hurt.grazed,
        leaf_life, azimuth_sd, alike,
    )
    drawn: list[Shoot] = []
    vigour = np.zeros(len(plants_mm))
    for p, pressed in enumerate(hurt.pressed.tolist()):
        h = emergence.leaves(rng)
        vigour[p] = _clip(rng.lognormal(0, vigour_sd), 0.5, 1.6) * size
        face = rng.uniform(0, 2 * np.pi)
        sway = rng.uniform(0, 2 * np.pi)
        main_lean = abs(rng.normal(0, radians(5 + 25 * prostrate)))
        main_lean += (_lean(look, 0.0, rng) - main_lean) * alike
        tillers = tillers_of(h, tillering * species.tillering, tillers_early, alike, rng)
        drawn.append(draw_shoot(p, h, -1, sway, main_lean, 0.0, 0.0, face, pressed, rng))
        for rank, own in tillers:
            out_dir = face + np.pi * rank + rng.normal(0, look.form.sides)
            lean = _lean(look, look.form.lean_deg, rng)
            gap = hug * (rng.uniform(1.5, 4.0) + 1.2 * min(own, 3)) + look.form.aside_mm
            slant = min(lean, MOST_SLANT) * rng.uniform(0.4, 1.0)
            plane = face + radians(TILLER_TURN_DEG + astray_deg * rng.uniform(-1, 1))
            drawn.append(draw_shoot(p, own, rank, out_dir, lean, gap, slant, plane, pressed, rng))
    if not drawn:
        return Mesh.empty(), Shoots(
            np.zeros(0, np.int64), np.zeros((0, 2)), np.zeros(0)
        )
    plant = np.array([s.plant for s in drawn])
    base = plants_mm[plant] + _aside(drawn, crown_mm)
    floor = np.asarray(height_of(plants_mm)) + hurt.lift_mm  # type: ignore[operator]
    blade, stems = build_shoots(
        drawn, np.c_[base, floor[plant]], vigour[plant], hurt.pressed[plant], look
    )
    mesh = join([
        blades(blade, height_of, rng, fold=look.form.fold, profile=outline(look.form.lance),
               dust_colour=dust_colour),
        sheaths(stems),
    ])
    return mesh, Shoots(plant, base, np.array([s.own for s in drawn]))


def _clip(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _lean(look: Look, further_deg: float, rng: np.random.Generator) -> float:
    """How far a tiller leans from the vertical, radians."""
    flat = look.prostrate
    return radians(_clip(further_deg + rng.normal(8 + 55 * flat, 7 + 8 * flat), 2, 82))


def _aside(drawn: list[Shoot], crown_mm: float) -> NDArray[np.float64]:
    """How far from its plant each shoot leaves the ground, (M, 2) mm."""
    way, gap, slant = np.array([(s.out_dir, s.gap_mm, s.slant) for s in drawn]).T
    gap = np.minimum(gap + crown_mm * np.tan(slant), WIDEST_MM)
    return gap[:, None] * np.stack([np.cos(way), np.sin(way)], -1)
