"""Pictures of marked areas whose projection is known exactly, painted with numpy and OpenCV.

A pinhole camera looks down on a plane; the frame is a true pipe (every pixel's ray is tested
against the pipe's axis), so its visible edge lies above the ground as a real one does. Ground:
photos of gravel, grass and brick that scikit-image carries, or noise. Leaves are painted strokes.
Coordinates as everywhere: ground mm with the origin in the middle of the marked area and z up;
photo px with the centre of the top left pixel at (0, 0).
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from tillercount.area import HoopArea, RectArea, RowArea, SquareArea, WholePhoto

FRAME, CROP = 4, 2
GROUNDS = ("gravel", "grass", "brick", "noise", "crumbs")


@dataclass(frozen=True)
class Camera:
    """A pinhole camera above the plane, looking at `aim_mm` of the ground."""

    width: int = 1200
    height: int = 900
    focal_px: float = 870.0
    distance_mm: float = 620.0
    tilt_deg: float = 0.0
    azimuth_deg: float = 0.0
    turn_deg: float = 0.0
    aim_mm: tuple[float, float] = (0.0, 0.0)

    def matrix(self) -> np.ndarray:
        """(3, 4) projection of ground points (x, y, z, 1) mm to photo px."""
        t, a, s = (math.radians(v) for v in (self.tilt_deg, self.azimuth_deg, self.turn_deg))
        away = np.array([math.sin(t) * math.cos(a), math.sin(t) * math.sin(a), math.cos(t)])
        position = np.array([*self.aim_mm, 0.0]) + self.distance_mm * away
        forward = -away
        right = np.array([math.cos(a + math.pi / 2), math.sin(a + math.pi / 2), 0.0])
        down = np.cross(forward, right)
        c, n = math.cos(s), math.sin(s)
        rotation = np.stack([c * right + n * down, -n * right + c * down, forward])
        k = np.array(
            [
                [self.focal_px, 0, (self.width - 1) / 2],
                [0, self.focal_px, (self.height - 1) / 2],
                [0, 0, 1],
            ]
        )
        return k @ np.column_stack([rotation, -rotation @ position])

    def project(self, points_mm: np.ndarray) -> np.ndarray:
        """Photo px (N, 2) of ground points (N, 2) or (N, 3) mm."""
        points = np.atleast_2d(np.asarray(points_mm, float))
        if points.shape[1] == 2:
            points = np.column_stack([points, np.zeros(len(points))])
        image = self.matrix() @ np.column_stack([points, np.ones(len(points))]).T
        return (image[:2] / image[2]).T


@dataclass(frozen=True)
class Look:
    """How the picture looks."""

    tube_mm: float = 21.3
    colour: tuple[int, int, int] = (235, 235, 230)
    ground: str = "gravel"
    tint: tuple[float, float, float] = (0.55, 0.45, 0.36)
    leaves: int = 120
    leaf_over: float = 0.5
    shadow: float = 0.5
    sun_deg: float = 40.0
    sun_azimuth_deg: float = 30.0
    missing_side: int | None = None
    missing_arc: tuple[float, float] | None = None
    heap: tuple[tuple[float, float, float], ...] = ()
    noise: float = 3.0
    row_angle_deg: float | None = None


@dataclass(frozen=True)
class Picture:
    """A painted photo and its truth."""

    rgb: np.ndarray
    outline_px: np.ndarray
    inside_edge_px: np.ndarray
    stick_px: np.ndarray
    ground_to_photo: np.ndarray
    classes: np.ndarray
    camera: Camera
    area: Any
    look: Look = field(default_factory=Look)


def paint(area: Any, camera: Camera, look: Look, seed: int = 0) -> Picture:
    """Paint one marked area; ``area`` None paints the ground and leaves only."""
    rng = np.random.default_rng(seed)
    image = _ground(camera, look, rng)
    classes = np.zeros(image.shape[:2], np.uint8)
    leaves = _leaves(camera, look, rng, area)
    under = [leaf for leaf in leaves if not leaf[2]]
    over = [leaf for leaf in leaves if leaf[2]]
    _draw(image, classes, under)
    outline = inside = stick = np.zeros((0, 2))
    if area is not None and not isinstance(area, WholePhoto):
        axis, outline_mm, edge_mm, stick_mm = _shape(area, look)
        _pipe(image, classes, camera, look, area, axis, rng)
        outline, inside = camera.project(outline_mm), camera.project(edge_mm)
        stick = camera.project(stick_mm) if len(stick_mm) else stick
    _draw(image, classes, over)
    noisy = cv2.GaussianBlur(image, (0, 0), 0.7) + rng.normal(0, look.noise, image.shape)
    rgb = np.clip(noisy, 0, 255).astype(np.uint8)
    plane = camera.matrix()[:, [0, 1, 3]]
    return Picture(rgb, outline, inside, stick, plane, classes, camera, area, look)


def write_scene(picture: Picture, folder: Path, name: str) -> None:
    """Keep a picture as NAME.jpg, NAME.png and NAME.json."""
    folder.mkdir(parents=True, exist_ok=True)
    bgr = cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2BGR)
    cv2.imwrite(str(folder / f"{name}.jpg"), bgr, [cv2.IMWRITE_JPEG_QUALITY, 92])
    cv2.imwrite(str(folder / f"{name}.png"), picture.classes)
    area = picture.area
    record = {
        "schema": "tillercount.scene/1",
        "width": picture.camera.width,
        "height": picture.camera.height,
        "area": {
            "kind": "none" if area is None else area.kind,
            "text": None if area is None else area.text,
            "tube_mm": picture.look.tube_mm,
        },
        "outline_px": picture.outline_px.tolist(),
        "inside_edge_px": picture.inside_edge_px.tolist(),
        "stick_px": picture.stick_px.tolist(),
        "ground_to_photo": picture.ground_to_photo.tolist(),
        "camera": {"tilt_deg": picture.camera.tilt_deg, "focal_px": picture.camera.focal_px},
        "plants": [],
        "shoots": [],
        "counts": {"plants": 0, "shoots": 0},
    }
    (folder / f"{name}.json").write_text(json.dumps(record))


def iou(a_px: np.ndarray, b_px: np.ndarray) -> float:
    """Overlap of two convex polygons (N, 2) px."""
    middle = b_px.mean(0)  # single precision: keep the numbers small
    a, b = ((p - middle).astype(np.float32) for p in (a_px, b_px))
    both, _ = cv2.intersectConvexConvex(a, b)
    return both / (cv2.contourArea(a) + cv2.contourArea(b) - both)


def _shape(area: Any, look: Look) -> tuple[list[np.ndarray], np.ndarray, np.ndarray, np.ndarray]:
    """Axis polylines (mm), ground outline, inside edge at axis height, stick ends."""
    r = look.tube_mm / 2
    none = np.zeros((0, 3))
    if isinstance(area, SquareArea | RectArea):
        w = area.side_mm if isinstance(area, SquareArea) else area.width_mm
        h = area.side_mm if isinstance(area, SquareArea) else area.length_mm
        corners = np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) / 2
        out = corners + np.sign(corners) * r
        axis = [np.array([[*out[i], r], [*out[(i + 1) % 4], r]]) for i in range(4)]
        axis = [a for i, a in enumerate(axis) if i != look.missing_side]
        return axis, corners, np.column_stack([corners, np.full(4, r)]), none
    if isinstance(area, HoopArea):
        t = np.linspace(0, 2 * math.pi, 129)
        ring = np.column_stack([np.cos(t), np.sin(t)])
        body = np.column_stack([ring * (area.diameter_mm / 2 + r), np.full(len(t), r)])
        inside = ring[:-1:2] * area.diameter_mm / 2
        return [body], inside, np.column_stack([inside, np.full(len(inside), r)]), none
    assert isinstance(area, RowArea)
    # the stick lies below the row's own line, by a quarter of the row spacing
    off = area.spacing_mm * 0.25
    half = area.length_mm / 2
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [half, area.spacing_mm / 2]
    ends = np.array([[-half, -off, 2 * r], [half, -off, 2 * r]])
    axis = [np.array([[-half, -off, r], [half, -off, r]])]
    return axis, corners, np.column_stack([corners, np.zeros(4)]), ends


def _rays(camera: Camera, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Camera position (3,) and unit directions (N, 3) of the rays through photo px."""
    m = camera.matrix()
    position = -np.linalg.solve(m[:, :3], m[:, 3])
    d = np.linalg.solve(m[:, :3], np.stack([x, y, np.ones_like(x)]))
    d = d / np.linalg.norm(d, axis=0)
    return position, d.T


def _pipe(
    image: np.ndarray,
    classes: np.ndarray,
    camera: Camera,
    look: Look,
    area: Any,
    axis: list[np.ndarray],
    rng: np.random.Generator,
) -> None:
    """Draw shadow and pipe, two by two samples a pixel."""
    h, w = classes.shape
    reach = np.zeros((h, w), np.uint8)
    r = look.tube_mm / 2
    thick = max(3, int(6 * r * camera.focal_px / camera.distance_mm) + 6)
    for line in axis:
        px = camera.project(line)
        cv2.polylines(reach, [np.round(px).astype(np.int32)], False, 1, thick)
    ys, xs = np.nonzero(reach)
    s, a = math.radians(look.sun_deg), math.radians(look.sun_azimuth_deg)
    light = np.array([math.cos(s) * math.cos(a), math.cos(s) * math.sin(a), math.sin(s)])
    body, dark, shade = (np.zeros(len(xs)) for _ in range(3))
    for ox in (-0.25, 0.25):
        for oy in (-0.25, 0.25):
            hit, lit, shadow = _sample(camera, xs + ox, ys + oy, area, axis, r, look, light)
            body, dark, shade = body + hit / 4, dark + shadow / 4, shade + lit * hit / 4
    mean = shade / np.maximum(body, 1e-6)
    colour = np.asarray(look.colour, float) * (0.45 + 0.65 * mean)[:, None]
    colour = colour * (1 + 0.02 * rng.normal(size=(len(xs), 1)))
    ground = image[ys, xs] * (1 - look.shadow * dark)[:, None]
    image[ys, xs] = ground * (1 - body)[:, None] + np.clip(colour, 0, 255) * body[:, None]
    classes[ys[body > 0.5], xs[body > 0.5]] = FRAME


def _sample(
    camera: Camera,
    x: np.ndarray,
    y: np.ndarray,
    area: Any,
    axis: list[np.ndarray],
    r: float,
    look: Look,
    light: np.ndarray,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Per ray: does it meet the pipe, its brightness there, is the ground in the pipe's shadow."""
    position, d = _rays(camera, x.astype(float), y.astype(float))
    on_plane = position + d * ((r - position[2]) / d[:, 2])[:, None]
    on_ground = position + d * (-position[2] / d[:, 2])[:, None]
    back = np.broadcast_to(light, d.shape)
    if isinstance(area, HoopArea):
        radius = area.diameter_mm / 2 + r
        gap, lit = _to_circle(on_plane, d, radius, r, light)
        into = on_ground + back * (r / light[2])
        shadow, _ = _to_circle(into, back, radius, r, light)
        hit, dark = gap < r, shadow < r
        if look.missing_arc is not None:
            turn = np.mod(np.degrees(np.arctan2(on_plane[:, 1], on_plane[:, 0])), 360)
            there = ~((turn > look.missing_arc[0]) & (turn < look.missing_arc[1]))
            hit, dark = hit & there, dark & there
        return hit.astype(float), lit, dark.astype(float)
    hit, dark, lit = (np.zeros(len(x)) for _ in range(3))
    square_end = isinstance(area, RowArea)
    for line in axis:
        gap, light_here = _to_line(on_plane, d, line, r, light, square_end)
        shadow, _ = _to_line(on_ground, back, line, r, light, square_end)
        lit = np.where(gap < r, light_here, lit)
        hit, dark = np.maximum(hit, gap < r), np.maximum(dark, shadow < r)
    return hit, lit, dark


def _to_line(
    p: np.ndarray, d: np.ndarray, line: np.ndarray, r: float, light: np.ndarray, square_end: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Distance of rays p + t d from a segment, and brightness where they meet its pipe."""
    a, b = line
    u = (b - a) / np.linalg.norm(b - a)
    n = np.cross(d, u)
    n = n / np.linalg.norm(n, axis=1, keepdims=True)
    gap = np.abs(((p - a) * n).sum(1))
    # foot on the axis nearest to the ray
    w0 = p - a
    du = d @ u
    t = (du * (w0 @ u) - (w0 * d).sum(1)) / np.maximum(1 - du**2, 1e-9)
    along = (w0 + d * t[:, None]) @ u
    over = 0.0 if square_end else r
    gap = np.where((along < -over) | (along > np.linalg.norm(b - a) + over), 1e9, gap)
    return gap, _brightness(p, d, a + along[:, None] * u, t, gap, r, light)


def _to_circle(
    p: np.ndarray, d: np.ndarray, radius: float, r: float, light: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Distance of rays from a circle at height r, by the tangent at the nearest point."""
    t = np.zeros(len(p))
    for _ in range(3):
        here = p + d * t[:, None]
        flat = here[:, :2]
        foot = flat / np.maximum(np.linalg.norm(flat, axis=1, keepdims=True), 1e-9) * radius
        centre = np.column_stack([foot, np.full(len(p), r)])
        t = ((centre - p) * d).sum(1)
    here = p + d * t[:, None]
    gap = np.linalg.norm(here - centre, axis=1)
    return gap, _brightness(p, d, centre, t, gap, r, light)


def _brightness(
    p: np.ndarray,
    d: np.ndarray,
    centre: np.ndarray,
    t: np.ndarray,
    gap: np.ndarray,
    r: float,
    light: np.ndarray,
) -> np.ndarray:
    depth = np.sqrt(np.maximum(r**2 - np.minimum(gap, r) ** 2, 0))
    surface = p + d * (t - depth)[:, None]
    normal = (surface - centre) / r
    return np.clip(normal @ light, 0, 1)


def _ground(camera: Camera, look: Look, rng: np.random.Generator) -> np.ndarray:
    """Ground texture seen by the camera, float RGB 0..255."""
    side = 1024
    if look.ground == "noise":
        texture = sum(
            cv2.resize(rng.normal(size=(n, n)), (side, side), interpolation=cv2.INTER_CUBIC)
            for n in (8, 32, 128, 512)
        )
    elif look.ground == "crumbs":
        texture = cv2.GaussianBlur(rng.normal(size=(side, side)), (0, 0), 4)
        texture = np.maximum(texture, cv2.GaussianBlur(rng.normal(size=(side, side)), (0, 0), 9))
    else:
        from skimage import data

        texture = np.asarray(getattr(data, look.ground)(), float)
        texture = np.block([[texture, texture[:, ::-1]], [texture[::-1], texture[::-1, ::-1]]])
    texture = (texture - texture.mean()) / (texture.std() + 1e-9)
    colour = np.asarray(look.tint) * 255
    tile = np.clip(colour * (1 + 0.22 * texture[:, :, None]), 0, 255).astype(np.float32)
    # texture px -> ground mm, one px = 1 mm, shifted at random
    shift = rng.uniform(-200, 200, 2) - side / 2
    to_mm = np.array([[1.0, 0, shift[0]], [0, 1.0, shift[1]], [0, 0, 1]])
    plane = camera.matrix()[:, [0, 1, 3]]
    return cv2.warpPerspective(
        tile,
        plane @ to_mm,
        (camera.width, camera.height),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REFLECT,
    )


def _leaves(
    camera: Camera, look: Look, rng: np.random.Generator, area: Any
) -> list[tuple[np.ndarray, tuple[float, float, float], bool]]:
    """Strokes as (polygon px, colour, above the frame), in rows across the ground."""
    strokes = []
    px_per_mm = camera.focal_px / camera.distance_mm
    spacing = area.spacing_mm if isinstance(area, RowArea) else 165.0
    row_angle = 0.0 if isinstance(area, RowArea) else rng.uniform(0, math.pi)
    if look.row_angle_deg is not None:
        row_angle = math.radians(look.row_angle_deg)
    c, s = math.cos(row_angle), math.sin(row_angle)
    for _ in range(look.leaves):
        along, row = rng.uniform(-500, 500), spacing * rng.integers(-3, 4)
        across = row + rng.normal(0, 9)
        strokes.append(_stroke(camera, rng, (c * along - s * across, s * along + c * across), 1.0))
    for x, y, radius in look.heap:
        for _ in range(int(90 * (radius / 60) ** 2) + 20):
            d = rng.normal(0, radius / 2, 2)
            strokes.append(_stroke(camera, rng, (x + d[0], y + d[1]), 1.4))
    out = []
    for i, (polygon, colour) in enumerate(strokes):
        on_top = i >= look.leaves or rng.random() < look.leaf_over
        out.append((polygon * [1, 1] if px_per_mm else polygon, colour, bool(on_top)))
    return out


def _stroke(
    camera: Camera, rng: np.random.Generator, at: tuple[float, float], wide: float
) -> tuple[np.ndarray, tuple[float, float, float]]:
    length, width = rng.uniform(40, 110), rng.uniform(3, 6) * wide
    angle, bend = rng.uniform(0, 2 * math.pi), rng.uniform(-0.006, 0.006)
    t = np.linspace(0, 1, 12)
    turn = angle + bend * length * t
    middle = np.array(at) + np.column_stack(
        [np.cumsum(np.cos(turn)), np.cumsum(np.sin(turn))]
    ) * length / len(t)
    side = np.column_stack([-np.sin(turn), np.cos(turn)]) * (width * (1 - t**2) / 2)[:, None]
    polygon = camera.project(np.vstack([middle + side, (middle - side)[::-1]]))
    v = rng.uniform(0.5, 1.0)
    return polygon, (70 * v + rng.uniform(0, 40), 150 * v, 45 * v)


def _draw(
    image: np.ndarray,
    classes: np.ndarray,
    strokes: list[tuple[np.ndarray, tuple[float, float, float], bool]],
) -> None:
    for polygon, colour, _ in strokes:
        fixed = np.round(polygon * 16).astype(np.int32)
        cv2.fillPoly(image, [fixed], colour, cv2.LINE_AA if image.dtype == np.uint8 else 8, 4)
        cv2.fillPoly(classes, [fixed], CROP, 8, 4)
