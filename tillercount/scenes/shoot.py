"""Shoots of a stand: what chance says of each, one after the other; then all built at once.

The measurements behind the tables are named in `tillercount.scenes.plant`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, radians
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tillercount.scenes.form import Form
from tillercount.scenes.leaf import ALONG, BladeSet
from tillercount.scenes.noise import lab_to_linear
from tillercount.scenes.sheath import Stems
from tillercount.scenes.species import Species

__all__ = ["Look", "Shoot", "build_shoots", "draw_shoot"]

# blade length and width by rank on the main stem, mm (mean of the measured sets)
LENGTH_MM = np.array([75.0, 90, 88, 90, 98, 112, 130])
WIDTH_MM = np.array([3.8, 3.8, 4.5, 5.0, 5.8, 7.0, 9.5])
USUAL_WIDTH_MM = 4.5

# midrib angles, degrees, by leaf age (measured: the two youngest erect, older ones flat)
BASE_DEG = np.array([12.0, 24, 57, 72])
MIDDLE_DEG = np.array([14.0, 34, 84, 90])
TIP_DEG = np.array([18.0, 46, 102, 105])

WITHERS_AWAY = 0.65
"""Share of dead leaves of which nothing can be seen any more."""

LEAF_DRAWS = (
    "length", "width", "base", "middle", "tip", "stiff", "azimuth",  # normal
    "around", "warm",  # even
    "lightness", "hue", "chroma",  # normal
    "withers", "goes", "tan_l", "tan_c", "tan_h", "tips", "tip_at",  # even
    "drift", "twist",  # normal
    "bitten", "left",  # even
    "kinks", "kink_at", "bends", "turns", "sinks", "sinks_at", "sinks_far",  # even
    *(f"dust{k}" for k in range(ALONG)),  # even
    *(f"shade{k}" for k in range(ALONG)),  # normal
)
"""What is drawn for each leaf, in this order: normal with mean 0 and spread 1, or even in 0 … 1."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Look:
    """What all shoots of a stand have in common; see `tillercount.scenes.plant.grow`."""

    species: Species
    form: Form
    prostrate: float
    dead_tips: float
    lightness: float
    chroma: float
    hue_deg: float
    grazed: float
    leaf_life: float
    azimuth_sd: float
    alike: float


class Shoot(NamedTuple):
    """One shoot as it was drawn; angles in radians.

    Attributes
    ----------
    plant : number of its plant
    own : its leaves (Haun); rank : of its parent leaf, -1 for a main stem
    out_dir : compass direction in which it leans; lean : from the vertical, before `lie` if pressed
    gap_mm, slant : how far from its plant it leaves the crown, and at which slant in the soil
    plane : direction of the plane of its leaves
    lie : how far it leans from the vertical in the end
    tall, stout, red : even in 0 … 1
    strong : normal with mean 0 and spread 1
    leaves : ndarray (len(LEAF_DRAWS), number of leaves) float64
    """

    plant: int
    own: float
    rank: int
    out_dir: float
    lean: float
    gap_mm: float
    slant: float
    plane: float
    lie: float
    tall: float
    stout: float
    red: float
    strong: float
    leaves: Array


def draw_shoot(
    plant: int, own: float, rank: int, out_dir: float, lean: float, gap_mm: float, slant: float,
    plane: float, pressed: bool, rng: np.random.Generator,
) -> Shoot:
    """Draw all that chance says of one shoot; what was drawn already is handed in."""
    count = ceil(own)
    leaves = np.empty((len(LEAF_DRAWS), count))
    lie = lean
    if pressed:
        rng.standard_normal(out=leaves[:6])
        lie = radians(rng.uniform(60, 85))
        # a pressed leaf has angles of its own: drawn in place of those drawn first
        rng.standard_normal(out=leaves[2:5])
        rng.standard_normal(out=leaves[6])
    else:
        rng.standard_normal(out=leaves[:7])
    rng.random(out=leaves[7])
    tall = rng.random()
    rng.random(out=leaves[8])
    rng.standard_normal(out=leaves[9:12])
    rng.random(out=leaves[12:19])
    rng.standard_normal(out=leaves[19:21])
    rng.random(out=leaves[21:-ALONG])
    rng.standard_normal(out=leaves[-ALONG:])
    return Shoot(plant, own, rank, out_dir, lean, gap_mm, slant, plane, lie, tall, rng.random(),
                 rng.random(), rng.standard_normal(), leaves)


def build_shoots(
    shoots: list[Shoot], foot_mm: Array, vigour: Array, pressed: NDArray[np.bool_], look: Look
) -> tuple[BladeSet, Stems]:
    """Blades and sheaths of M shoots.

    Parameters
    ----------
    foot_mm : ndarray (M, 3), where each leaves the ground
    vigour : ndarray (M,), factor on its size
    pressed : ndarray (M,), whether it was driven or trodden flat
    """
    form, species = look.form, look.species
    own, rank, out_dir, lean, plane, lie, tall_u, stout_u, red_u, strong = np.array(
        [(s.own, s.rank, s.out_dir, s.lean, s.plane, s.lie, s.tall, s.stout, s.red, s.strong)
         for s in shoots]
    ).T
    vigour = vigour * np.exp(form.unlike * np.clip(strong, -2, 2))
    d = dict(zip(LEAF_DRAWS, np.concatenate([s.leaves for s in shoots], axis=1), strict=True))
    count = np.array([s.leaves.shape[1] for s in shoots])
    of = np.repeat(np.arange(len(shoots)), count)  # the shoot of each leaf
    ranks = np.arange(len(of)) - (np.cumsum(count) - count)[of]
    last = count[of] - 1
    age = own[of] - ranks  # leaves since this one began to show
    stage = np.minimum(age.astype(int), 3)
    young = stage == 0

    tiller = np.where(rank >= 0, 0.85 + 0.15 * look.alike, 1.0)[of]
    later = np.rint(np.maximum(rank, 0) * (1 - look.alike)).astype(int)
    table = np.minimum(ranks + later[of], len(LENGTH_MM) - 1)
    grown = np.clip(age, 0.12, 1.0)
    length = LENGTH_MM[table] * form.long * species.length * vigour[of] * tiller * grown
    length *= np.maximum(1 + 0.12 * form.mixed * d["length"], 0.3)
    width = USUAL_WIDTH_MM * (WIDTH_MM[table] / USUAL_WIDTH_MM) ** form.by_rank * form.broad
    width *= species.width * (vigour**0.6)[of] * tiller
    width *= np.maximum(1 + 0.1 * form.mixed * d["width"], 0.4)
    width *= np.minimum(1, 0.55 + 0.45 * grown)

    base_deg, mid_deg, tip_deg = _midribs(d, stage, np.rad2deg(lean)[of], pressed[of], look)
    azimuth = plane[of] + np.pi * (ranks % 2) + look.azimuth_sd * d["azimuth"]
    azimuth = azimuth + form.around * (-np.pi + 2 * np.pi * d["around"])
    # a leaning shoot carries its young leaves the way it leans
    toward = np.clip(lie / 0.6, 0, 1)[of] * np.array([1.0, 0.8, 0.3, 0.3])[stage]
    azimuth = azimuth + toward * np.angle(np.exp(1j * (out_dir[of] - azimuth)))

    tall = (6 + 7 * np.minimum(own, 5.0)) * vigour * form.stem * (0.7 + (1.2 - 0.7) * tall_u)
    axis = np.stack([np.sin(lie) * np.cos(out_dir), np.sin(lie) * np.sin(out_dir), np.cos(lie)], -1)
    collar = tall[of] * (0.35 + 0.65 * (ranks + 1) / count[of])

    dead = (age > look.leaf_life) & (ranks < last)
    gone = dead & (d["goes"] < WITHERS_AWAY)
    width = np.where(dead, 0.6 * width, width)
    colour, tan = _colours(d, age, young, dead, look)
    tipped = d["tips"] < look.dead_tips * np.clip(age / 3, 0.15, 1)
    blade = BladeSet(
        base_mm=foot_mm[of] + axis[of] * collar[:, None],
        azimuth=azimuth,
        lean_base=np.deg2rad(base_deg),
        lean_mid=np.deg2rad(mid_deg),
        lean_tip=np.deg2rad(tip_deg),
        length_mm=np.maximum(length, 6.0),
        width_mm=np.maximum(width, 1.2),
        drift=form.drift * d["drift"],
        twist=form.twist * d["twist"],
        colour=colour,
        tip_colour=tan,
        tip_from=np.where(tipped, 0.55 + (0.98 - 0.55) * d["tip_at"], 1.3),
        owner=of,
        cut=np.where(d["bitten"] < look.grazed, 0.25 + (0.8 - 0.25) * d["left"], 1.0),
        kink=_kinks(d, grown, form),
        sunk=_sunk(d, grown, form),
        shade=form.patchy * np.stack([d[f"shade{k}"] for k in range(ALONG)], -1),
        dust=_dust(d, age, form),
    ).only(~gone & (ranks > last - form.leaves))
    radius = (0.75 + 0.18 * np.minimum(own, 6.0)) * vigour * form.stout
    pale = lab_to_linear(look.lightness + 12, look.chroma * 0.7, look.hue_deg - 10)
    reddish = pale * np.array([1.3, 0.75, 0.9], np.float32)
    stems = Stems(
        foot_mm=foot_mm,
        top_mm=foot_mm + axis * tall[:, None] * 1.02,
        radius_mm=radius * (0.8 + (1.3 - 0.8) * stout_u),
        colour=np.where(red_u[:, None] < 0.25, reddish, pale).astype(float),
    )
    return blade, stems


def _midribs(
    d: dict[str, Array], stage: NDArray[np.int64], lean_deg: Array, pressed: NDArray[np.bool_],
    look: Look,
) -> list[Array]:
    """Angles of the midrib from the vertical at base, middle and tip of each leaf, degrees."""
    form, young = look.form, stage == 0
    lift = lean_deg * np.array([0.9, 0.9, 0.4, 0.4])[stage]
    flat = look.prostrate * 25
    flatter = form.young_flat * young
    stiff = form.straight_deg + 15 * form.uneven * d["stiff"]
    out = []
    for name, usual, sd, low, high, old_only, more, bent, least, lying, lying_sd in (
        ("base", BASE_DEG, 14, 2, 95, True, 45, 0, 2, 82, 6),
        ("middle", MIDDLE_DEG, 16, 4, 112, True, 50, 8, 4, 92, 6),
        ("tip", TIP_DEG, 20, 6, 132, False, 60, 20, 6, 96, 8),
    ):
        angle = usual[stage] + sd * form.uneven * d[name]
        angle = np.clip(angle + lift + (flat * ~young if old_only else flat), low, high)
        angle = angle + flatter * more + form.straight * (
            np.clip(stiff + bent, least, 120) - angle
        )
        out.append(np.where(pressed, lying + lying_sd * d[name], angle))
    return out


def _kinks(d: dict[str, Array], grown: Array, form: Form) -> Array:
    """Where each blade is bent sharply, and by how much, (N, 3): share of its length, lean, turn.

    A leaf that the wind broke hangs from there, or lies turned aside (common practice).
    """
    kinked = (d["kinks"] < form.kinked) & (grown >= 1)
    bend = np.deg2rad(-35 + (110 + 35) * d["bends"])
    turn = np.deg2rad(110 * (2 * d["turns"] - 1))
    return np.stack([np.where(kinked, 0.2 + 0.65 * d["kink_at"], 2.0), bend, turn], -1)


def _sunk(d: dict[str, Array], grown: Array, form: Form) -> Array:
    """From where to where each blade is under soil if it lies there, (N, 2), shares of its length.

    Rain and frost throw soil over leaves that lie on it (common practice).
    """
    sunk = (d["sinks"] < form.sunk) & (grown >= 1)
    start = np.where(sunk, 0.15 + 0.65 * d["sinks_at"], 2.0)
    return np.stack([start, start + 0.08 + 0.3 * d["sinks_far"]], -1)


def _dust(d: dict[str, Array], age: Array, form: Form) -> Array:
    """Share of each blade's colour that soil hides, (N, ALONG).

    Rain throws soil on leaves, wind blows it there, most on those that have lain longest (common
    practice).
    """
    much = form.dusty * np.clip(age / 2.5, 0.1, 1)
    return np.stack([much * d[f"dust{k}"] ** 1.5 for k in range(ALONG)], -1)


def _colours(
    d: dict[str, Array], age: Array, young: NDArray[np.bool_], dead: NDArray[np.bool_], look: Look
) -> tuple[Array, Array]:
    """Linear colours (N, 3) of the blades, and of their tips where those are withered."""
    warm = np.clip((age - 2.5) / 4, 0, 1) * d["warm"]
    lab_l = look.lightness + look.species.lightness + 2.5 * d["lightness"] + 5 * young + 6 * warm
    lab_h = look.hue_deg + look.species.hue_deg + 2.5 * d["hue"] - 14 * warm - 4 * young
    lab_c = look.chroma + 2.5 * d["chroma"]
    withered = dead | (age > 3) & (d["withers"] < 0.35 * look.dead_tips)
    tan = lab_to_linear(50 + 28 * d["tan_l"], 15 + 17 * d["tan_c"], 72 + 20 * d["tan_h"])
    colour = lab_to_linear(lab_l, np.maximum(lab_c, 6), lab_h)
    return np.where(withered[:, None], tan, colour).astype(float), tan.astype(float)
