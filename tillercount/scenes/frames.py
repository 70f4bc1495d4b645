"""Marking frames as they lie in a field, and things that only look like one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tillercount.scenes.ground import Ground
from tillercount.scenes.mesh import Mesh, box, join, tube
from tillercount.scenes.noise import lab_to_linear

__all__ = ["Frame", "decoys", "draw_colour", "hoop", "rectangle", "row_stick"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Frame:
    """A frame on the ground, in the scene's millimetres (x right, y away).

    Attributes
    ----------
    mesh : the frame itself
    outline_mm : ndarray (N, 3), the inside edge dropped onto the plane that the frame lies on
    inside_edge_mm : ndarray (N, 3), the inside edge where it is seen from above
    stick_mm : ndarray (2, 3) or (0, 3), ends of a row stick
    tube_mm : thickness of the tube or lath
    """

    mesh: Mesh
    outline_mm: Array
    inside_edge_mm: Array
    stick_mm: Array
    tube_mm: float


def draw_colour(rng: np.random.Generator) -> NDArray[np.float32]:
    """A colour in which frames are sold or painted, linear."""
    pick = rng.random()
    if pick < 0.25:  # white and grey plastic, galvanised steel
        return lab_to_linear(rng.uniform(55, 96), rng.uniform(0, 6), rng.uniform(0, 360))
    if pick < 0.33:  # black, dark steel
        return lab_to_linear(rng.uniform(8, 28), rng.uniform(0, 6), rng.uniform(0, 360))
    if pick < 0.45:  # wood
        return lab_to_linear(rng.uniform(45, 80), rng.uniform(15, 35), rng.uniform(65, 88))
    return lab_to_linear(rng.uniform(30, 85), rng.uniform(30, 90), rng.uniform(0, 360))


def _paint(
    mesh: Mesh, rng: np.random.Generator, tape: bool, stripe_mm: float = 0.0
) -> Mesh:
    """Dirt, fading and, if asked, rings of tape or the stripes of a folding rule."""
    v = mesh.vertices
    dirt = lab_to_linear(rng.uniform(25, 45), 15, 70)
    share = np.clip(0.25 * np.sin(v[:, 0] / 37 + rng.uniform(0, 6)) *
                    np.sin(v[:, 1] / 29 + rng.uniform(0, 6)) + rng.uniform(-0.2, 0.25), 0, 0.6)
    colours = mesh.colours * (1 - share[:, None]) + dirt * share[:, None]
    if tape:
        angle = np.arctan2(v[:, 1], v[:, 0])
        band = np.abs(np.sin(2 * (angle - rng.uniform(0, 3)))) < 0.05
        colours = np.where(band[:, None], draw_colour(rng), colours)
    if stripe_mm:
        dark = (np.floor((v[:, 0] + v[:, 1]) / stripe_mm) % 2 == 0)[:, None]
        colours = np.where(dark, draw_colour(rng), colours)
    return Mesh(mesh.vertices, mesh.faces, colours.astype(np.float32), mesh.owners)


def _stripe_mm(rng: np.random.Generator) -> float:
    """Width of painted stripes: one frame or stick in seven is a rule or a ranging pole."""
    return float(rng.uniform(12, 110)) if rng.random() < 0.15 else 0.0


def _rest(ground: Ground, path_xy: Array) -> float:
    """Height of the plane that a stiff frame lies on."""
    return float(np.percentile(ground.height_of(path_xy), 70))


def rectangle(
    width_mm: float, length_mm: float, ground: Ground, rng: np.random.Generator,
    *, lost_side: int | None = None,
) -> Frame:
    """A square or rectangle of pipe, lath or rod, by its inside size, centred on the origin."""
    lath = rng.random() < 0.3
    r = float(rng.uniform(2.5, 6) if rng.random() < 0.35 else rng.uniform(5.5, 17))
    squash = float(rng.uniform(0.35, 1.0)) if lath else 1.0
    hx, hy = width_mm / 2 + r, length_mm / 2 + r
    corners = np.array([[-hx, -hy], [hx, -hy], [hx, hy], [-hx, hy]])
    path = np.concatenate([np.linspace(corners[i], corners[(i + 1) % 4], 30) for i in range(4)])
    z0 = _rest(ground, path)
    z = z0 + r * squash
    colour = draw_colour(rng)
    parts = []
    style = rng.choice(["elbow", "crossed", "plain"])
    over = rng.uniform(0, 60) if style == "crossed" else r * (1.0 if lath else 0.2)
    second = colour if rng.random() < 0.9 else draw_colour(rng)
    for i in range(4):
        if i == lost_side:
            continue
        a, b = corners[i], corners[(i + 1) % 4]
        way = (b - a) / np.linalg.norm(b - a)
        lift = (r * 1.2 if style == "crossed" and i % 2 else 0.0) if not lath else 0.0
        ends = [a - way * over, b + way * over]
        line = np.linspace(ends[0], ends[1], 14)
        path3 = np.concatenate([line, np.full((14, 1), z + lift)], 1)
        parts.append(
            tube(path3, r, colour if i % 2 else second, squash=squash, square=lath, sides=14)
        )
    if style == "elbow" and not lath:
        fitting = draw_colour(rng) if rng.random() < 0.3 else colour
        for i in range(4):
            if lost_side is not None and i in (lost_side, (lost_side + 1) % 4):
                continue
            c = corners[i]
            for j in (-1, 1):
                way = corners[(i + j) % 4] - c
                way = way / np.linalg.norm(way)
                line = np.linspace(c - way * r * 0.9, c + way * r * 2.2, 4)
                parts.append(
                    tube(np.concatenate([line, np.full((4, 1), z)], 1), r * 1.12, fitting,
                         sides=14)
                )
    inner = np.array(
        [[-width_mm, -length_mm], [width_mm, -length_mm], [width_mm, length_mm],
         [-width_mm, length_mm]]
    ) / 2
    mesh = _paint(join(parts), rng, tape=False, stripe_mm=_stripe_mm(rng))
    seen = z0 if lath else z
    return Frame(
        mesh, np.c_[inner, np.full(4, z0)], np.c_[inner, np.full(4, seen)], np.zeros((0, 3)), 2 * r
    )


def hoop(diameter_mm: float, ground: Ground, rng: np.random.Generator) -> Frame:
    """A hoop of pipe, hose or wire, by its inside diameter."""
    r = float(rng.uniform(1.5, 4) if rng.random() < 0.3 else rng.uniform(4, 15))
    t = np.linspace(0, 2 * np.pi, 129)
    radius = diameter_mm / 2 + r
    ring = np.stack([np.cos(t), np.sin(t)], -1)
    z0 = _rest(ground, ring * radius)
    colour = draw_colour(rng)
    parts = [tube(np.c_[ring * radius, np.full(129, z0 + r)], r, colour, sides=14)]
    at = rng.uniform(0, 2 * np.pi)
    joint = np.linspace(at - 25 / radius, at + 25 / radius, 8)
    parts.append(
        tube(np.c_[np.cos(joint) * radius, np.sin(joint) * radius, np.full(8, z0 + r)], r * 1.13,
             colour if rng.random() < 0.6 else draw_colour(rng), sides=14)
    )
    mesh = _paint(join(parts), rng, tape=bool(rng.random() < 0.3))
    inner = ring[:-1:2] * diameter_mm / 2
    return Frame(
        mesh, np.c_[inner, np.full(64, z0)], np.c_[inner, np.full(64, z0 + r)],
        np.zeros((0, 3)), 2 * r,
    )


def row_stick(
    length_mm: float, spacing_mm: float, row_angle: float, row_offset_mm: float, ground: Ground,
    rng: np.random.Generator,
) -> Frame:
    """A lath laid along a row, a little beside it; the origin lies on the row.

    Parameters
    ----------
    row_offset_mm : distance from the origin to the row, across the rows
    """
    along = np.array([np.cos(row_angle), np.sin(row_angle)])
    across = np.array([-along[1], along[0]])
    r = float(rng.uniform(4, 14))
    gap = float(rng.choice([-1, 1])) * rng.uniform(r + 8, max(0.38 * spacing_mm, r + 12))
    slant = rng.normal(0, np.deg2rad(1.0))
    way = np.array([np.cos(row_angle + slant), np.sin(row_angle + slant)])
    middle = across * (row_offset_mm + gap)
    ends = np.array([middle - way * length_mm / 2, middle + way * length_mm / 2])
    line = np.linspace(ends[0], ends[1], 20)
    z0 = _rest(ground, line)
    squash = float(rng.uniform(0.2, 1.0))
    path = np.c_[line, np.full(20, z0 + r * squash)]
    stick = tube(path, r, draw_colour(rng), squash=squash, square=bool(rng.random() < 0.7))
    mesh = _paint(stick, rng, tape=False, stripe_mm=_stripe_mm(rng))
    c = across * row_offset_mm
    u, w = way * length_mm / 2, np.array([-way[1], way[0]]) * spacing_mm / 2
    outline = np.array([c - u - w, c + u - w, c + u + w, c - u + w])
    flat = np.c_[outline, np.full(4, z0)]
    return Frame(
        mesh, flat, flat, np.c_[ends, np.full(2, z0 + 2 * r * squash)], 2 * r
    )


def decoys(
    ground: Ground, rng: np.random.Generator, reach_mm: float, count: int,
    *, keep_off_mm: float = 0.0,
) -> Mesh:
    """Hoses, rods, boots, boards: long or bent things that mark nothing.

    A thing that would lie within `keep_off_mm` of the origin is left out: nobody leaves a hose
    in the area that they count.
    """
    out: list[Mesh] = []
    for _ in range(count):
        kind = rng.choice(["hose", "rod", "boot", "board", "arc"])
        colour = draw_colour(rng)
        at = rng.uniform(-reach_mm, reach_mm, 2)
        way = rng.uniform(0, 2 * np.pi)
        if kind in ("hose", "arc"):
            t = np.linspace(-1, 1, 60)
            bend = rng.uniform(0.2, 1.6) if kind == "hose" else rng.uniform(1.6, 2.6)
            angle = way + bend * t
            step = np.stack([np.cos(angle), np.sin(angle)], -1) * rng.uniform(4, 14)
            line = at + np.cumsum(step, 0) - step.sum(0) / 2
            r = rng.uniform(3, 12)
        elif kind == "rod":
            half = rng.uniform(100, 900)
            d = np.array([np.cos(way), np.sin(way)]) * half
            line = np.linspace(at - d, at + d, 40)
            r = rng.uniform(3, 16)
        else:
            size = [rng.uniform(40, 60), rng.uniform(110, 150), rng.uniform(20, 50)]
            if kind == "board":
                size = [rng.uniform(20, 90), rng.uniform(90, 300), rng.uniform(4, 14)]
            z = float(ground.height_of(at[None])[0]) + size[2]
            out.append(box([*at, z], size, colour, way))
            if kind == "boot":
                side = at + 140 * np.array([np.cos(way), np.sin(way)])
                out.append(box([*side, z], size, colour, way + rng.normal(0, 0.2)))
            continue
        z_line = ground.height_of(line)
        z_line = np.full(len(line), np.percentile(z_line, 75)) if kind == "rod" else z_line
        out.append(tube(np.c_[line, z_line + r * 0.9], r, colour))
    return join([m for m in out if not _within(m, keep_off_mm)])


def _within(mesh: Mesh, least_mm: float) -> bool:
    """Whether any part of a mesh lies within this of the origin along x and y; from above."""
    corners = mesh.vertices[mesh.faces][..., :2].astype(float)
    near = (corners.min(1) <= least_mm) & (corners.max(1) >= -least_mm)
    corners = corners[near.all(1)]  # all others lie beyond it on one side
    n = 24
    i, j = np.meshgrid(np.arange(n + 1), np.arange(n + 1))
    u, v = i[i + j <= n] / n, j[i + j <= n] / n
    a, b, c = np.moveaxis(corners, 1, 0)
    spots = a[:, None] + (b - a)[:, None] * u[:, None] + (c - a)[:, None] * v[:, None]
    return bool((np.abs(spots).max(-1) <= least_mm).any())
