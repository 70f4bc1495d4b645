"""Young cereal plants: leaves by age, tillers by axil, shoots with their true base.

Sizes and postures follow measured winter wheat: blade lengths and widths by rank, midrib angles
by leaf age and tiller frequencies (`tillercount.scenes.tillers`) from the open architectural data
of openalea/adel, echap and WALTer (CeCILL-C). Habit beyond the measured (erect) cultivars, from
semi-erect to prostrate, is a free slider.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tillercount.scenes.form import Form
from tillercount.scenes.harm import Harm
from tillercount.scenes.leaf import BladeSet, blades, outline
from tillercount.scenes.mesh import Mesh, join
from tillercount.scenes.noise import lab_to_linear
from tillercount.scenes.sheath import sheaths
from tillercount.scenes.species import Species
from tillercount.scenes.tillers import tillers_of

__all__ = ["Shoots", "grow"]


# blade length and width by rank on the main stem, mm (mean of the measured sets)
LENGTH_MM = np.array([75.0, 90, 88, 90, 98, 112, 130])
WIDTH_MM = np.array([3.8, 3.8, 4.5, 5.0, 5.8, 7.0, 9.5])
USUAL_WIDTH_MM = 4.5


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
WITHERS_AWAY = 0.65
"""Share of dead leaves of which nothing can be seen any more."""
WIDEST_MM = 30.0
"""Furthest that a tiller comes out of the ground from its main stem."""


def grow(
    plants_mm: NDArray[np.float64],
    height_of: object,
    rng: np.random.Generator,
    *,
    species: Species,
    haun: float,
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
    harm: Harm | None = None,
) -> tuple[Mesh, Shoots]:
    """Grow a plant at each place.

    Parameters
    ----------
    plants_mm : ndarray (N, 2), plant bases on the ground
    height_of : callable giving the ground's height at (N, 2) mm
    haun : mean number of main-stem leaves; plants differ by about 0.3 (emergence spread)
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
    harm : what happened to each plant; nothing if not given

    Returns
    -------
    mesh (owners are shoot numbers), shoots
    """
    form = form or Form()
    sets: list[BladeSet] = []
    stems: list[tuple[NDArray[np.float64], ...]] = []
    plant_of: list[int] = []
    bases: list[NDArray[np.float64]] = []
    leaf_no: list[float] = []
    ground = np.asarray(height_of(plants_mm) if len(plants_mm) else [])  # type: ignore[operator]
    hurt = harm or Harm(
        np.zeros(len(plants_mm), bool), np.zeros(len(plants_mm), bool), np.zeros(len(plants_mm)),
        0.0,
    )
    for p, (xy, soil) in enumerate(zip(plants_mm, ground, strict=True)):
        floor = soil + hurt.lift_mm[p]
        h = max(1.05, haun + rng.normal(0, 0.3))
        vigour = float(np.clip(rng.lognormal(0, vigour_sd), 0.5, 1.6)) * size
        face = rng.uniform(0, 2 * np.pi)
        sway = rng.uniform(0, 2 * np.pi)
        main_lean = abs(rng.normal(0, np.deg2rad(5 + 25 * prostrate)))
        as_tiller = np.deg2rad(
            np.clip(rng.normal(8 + 55 * prostrate, 7 + 8 * prostrate), 2, 82)
        )
        main_lean += (as_tiller - main_lean) * alike
        todo = [(-1, h)] + tillers_of(
                h, tillering * species.tillering, tillers_early, alike, rng
            )
        for rank, own in todo:
            if rank < 0:
                out_dir, lean, foot = sway, main_lean, xy
            else:
                out_dir = face + np.pi * rank + rng.normal(0, form.sides)
                lean_deg = form.lean_deg + rng.normal(8 + 55 * prostrate, 7 + 8 * prostrate)
                lean = np.deg2rad(np.clip(lean_deg, 2, 82))
                gap = hug * (rng.uniform(1.5, 4.0) + 1.2 * min(own, 3)) + form.aside_mm
                slant = min(lean, MOST_SLANT) * rng.uniform(0.4, 1.0)
                gap = min(gap + crown_mm * np.tan(slant), WIDEST_MM)
                foot = xy + gap * np.array([np.cos(out_dir), np.sin(out_dir)])
            plane = face
            if rank >= 0:
                plane += np.deg2rad(TILLER_TURN_DEG + astray_deg * rng.uniform(-1, 1))
            m = len(plant_of)
            plant_of.append(p)
            bases.append(foot)
            leaf_no.append(own)
            blade, stem = _shoot(
                np.array([foot[0], foot[1], floor]), own, rank, out_dir, lean, plane, azimuth_sd,
                alike, m, rng, species, vigour, prostrate, dead_tips, (lightness, chroma, hue_deg),
                bool(hurt.pressed[p]), hurt.grazed, leaf_life, form,
            )
            sets.append(blade)
            stems.append(stem)
    if not sets:
        return Mesh.empty(), Shoots(
            np.zeros(0, np.int64), np.zeros((0, 2)), np.zeros(0)
        )
    mesh = join([
        blades(
            BladeSet.concat(sets), height_of, rng, fold=form.fold, profile=outline(form.lance)
        ),
        sheaths(stems),
    ])
    return mesh, Shoots(np.array(plant_of), np.array(bases), np.array(leaf_no))


def _shoot(
    foot: NDArray[np.float64], own: float, rank: int, out_dir: float, lean: float, plane: float,
    azimuth_sd: float, alike: float, owner: int, rng: np.random.Generator, species: Species,
    vigour: float, prostrate: float, dead_tips: float, lch: tuple[float, float, float],
    pressed: bool, grazed: float, leaf_life: float, form: Form,
) -> tuple[BladeSet, tuple[NDArray[np.float64], ...]]:
    """Blades and sheath of one shoot."""
    count = int(np.ceil(own))
    ranks = np.arange(count)
    age = own - ranks  # leaves since this one began to show
    table = np.minimum(ranks + round(max(rank, 0) * (1 - alike)), len(LENGTH_MM) - 1)
    grown = np.clip(age, 0.12, 1.0)
    tiller = 0.85 + 0.15 * alike if rank >= 0 else 1.0
    length = LENGTH_MM[table] * form.long * species.length * vigour * tiller * grown
    length *= rng.normal(1, 0.12, count)
    width = USUAL_WIDTH_MM * (WIDTH_MM[table] / USUAL_WIDTH_MM) ** form.by_rank * form.broad
    width *= species.width * vigour**0.6 * tiller * rng.normal(1, 0.1, count)
    width *= np.minimum(1, 0.55 + 0.45 * grown)
    # midrib angles by age (measured: the two youngest erect, older ones flat)
    young = age < 1
    mid_age = (age >= 1) & (age < 2)
    third = (age >= 2) & (age < 3)
    which = [young, mid_age, third]
    base_deg, mid_deg, tip_deg = (
        np.select(which, angles[:3], angles[3]) + rng.normal(0, sd * form.uneven, count)
        for angles, sd in (
            ((12, 24, 57, 72.0), 14), ((14, 34, 84, 90.0), 16), ((18, 46, 102, 105.0), 20)
        )
    )
    lift = np.rad2deg(lean) * np.select([young, mid_age], [0.9, 0.9], 0.4)
    flat = prostrate * 25
    base_deg = np.clip(base_deg + lift + flat * ~young, 2, 95)
    mid_deg = np.clip(mid_deg + lift + flat * ~young, 4, 112)
    tip_deg = np.clip(tip_deg + lift + flat, 6, 132)
    flatter, stiff = form.young_flat * young, rng.normal(form.straight_deg, 15 * form.uneven, count)
    base_deg, mid_deg, tip_deg = (
        angle + flatter * more + form.straight * (np.clip(stiff + bent, low, 120) - angle)
        for angle, more, bent, low in (
            (base_deg, 45, 0, 2), (mid_deg, 50, 8, 4), (tip_deg, 60, 20, 6)
        )
    )
    if pressed:
        lean = np.deg2rad(rng.uniform(60, 85))
        base_deg = rng.normal(82, 6, count)
        mid_deg, tip_deg = rng.normal(92, 6, count), rng.normal(96, 8, count)
    azimuth = plane + np.pi * (ranks % 2) + rng.normal(0, azimuth_sd, count)
    azimuth = azimuth + form.around * rng.uniform(-np.pi, np.pi, count)
    # a leaning shoot carries its young leaves the way it leans
    toward = np.clip(lean / 0.6, 0, 1) * np.select([young, mid_age], [1.0, 0.8], 0.3)
    turn = np.angle(np.exp(1j * (out_dir - azimuth)))
    azimuth = azimuth + toward * turn
    tall = (6 + 7 * min(own, 5.0)) * vigour * form.stem * rng.uniform(0.7, 1.2)
    axis = np.array([np.sin(lean) * np.cos(out_dir), np.sin(lean) * np.sin(out_dir), np.cos(lean)])
    collar = tall * (0.35 + 0.65 * (ranks + 1) / count)
    light, chroma, hue = lch
    warm = np.clip((age - 2.5) / 4, 0, 1) * rng.uniform(0, 1, count)
    lab_l = light + species.lightness + rng.normal(0, 2.5, count) + 5 * young + 6 * warm
    lab_h = hue + species.hue_deg + rng.normal(0, 2.5, count) - 14 * warm - 4 * young
    lab_c = chroma + rng.normal(0, 2.5, count)
    withered = (age > 3) & (rng.random(count) < 0.35 * dead_tips)
    dead = (age > leaf_life) & (ranks < count - 1)
    gone = dead & (rng.random(count) < WITHERS_AWAY)
    withered |= dead
    width = np.where(dead, 0.6 * width, width)
    tan = lab_to_linear(
        rng.uniform(50, 78, count), rng.uniform(15, 32, count), rng.uniform(72, 92, count)
    )
    colour = lab_to_linear(lab_l, np.maximum(lab_c, 6), lab_h)
    colour = np.where(withered[:, None], tan, colour).astype(float)
    tipped = rng.random(count) < dead_tips * np.clip(age / 3, 0.15, 1)
    tip_from = np.where(tipped, rng.uniform(0.55, 0.98, count), 1.3)
    blade = BladeSet(
        base_mm=foot + axis * collar[:, None],
        azimuth=azimuth,
        lean_base=np.deg2rad(base_deg),
        lean_mid=np.deg2rad(mid_deg),
        lean_tip=np.deg2rad(tip_deg),
        length_mm=np.maximum(length, 6.0),
        width_mm=np.maximum(width, 1.2),
        drift=rng.normal(0, form.drift, count),
        twist=rng.normal(0, form.twist, count),
        colour=np.asarray(colour, np.float64),
        tip_colour=tan.astype(float),
        tip_from=tip_from,
        owner=np.full(count, owner),
        cut=np.where(rng.random(count) < grazed, rng.uniform(0.25, 0.8, count), 1.0),
    ).only(~gone & (ranks >= count - form.leaves))
    radius = (0.75 + 0.18 * min(own, 6.0)) * vigour * form.stout * rng.uniform(0.8, 1.3)
    pale = lab_to_linear(light + 12, chroma * 0.7, hue - 10)
    if rng.random() < 0.25:
        pale = pale * np.array([1.3, 0.75, 0.9], np.float32)  # reddish sheath
    stem = (foot, foot + axis * tall * 1.02, np.array([radius]), pale.astype(float),
            np.array([owner]))
    return blade, stem
