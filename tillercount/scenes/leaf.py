"""Blades: a midrib that bends, a measured width profile, a fold along the midrib."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.scenes.mesh import Mesh, strip_faces

__all__ = ["BladeSet", "blades", "outline"]

# Relative width along the blade, winter wheat. Source: scanned blades of the open
# architectural measurements in openalea/adel (CeCILL-C), values at 0/.25/.5/.75/.9/1.
PROFILE_AT = np.array([0.0, 0.25, 0.5, 0.75, 0.9, 1.0])
PROFILE = np.array([0.72, 0.96, 0.95, 0.70, 0.42, 0.0])
LANCE = np.array([0.3, 0.7, 1.0, 0.8, 0.42, 0.0])
"""Widest in the middle, as of many grasses (common practice)."""

Array = NDArray[np.float64]

ALONG = 5
"""Places along a blade at which its colour is given."""
_UNHURT: dict[str, Any] = {
    "cut": 1.0, "kink": np.array([2.0, 0, 0]), "sunk": np.array([2.0, 2]),
    "shade": np.zeros(ALONG), "dust": np.zeros(ALONG),
}
"""What a blade that nothing happened to has for each kind of harm."""
LIES_MM = 10.0
"""Height over the ground under which soil may cover a blade."""
SUNK_MM = 2.0


@dataclass(frozen=True)
class BladeSet:
    """Parameters of N blades; every array has N rows.

    Angles in radians. `lean_*` are measured from the vertical at the base, the middle and the
    tip of the midrib; `azimuth` is the compass direction in which the blade leaves the shoot.
    `cut` is the share of the blade that is left, 1 if nothing bit it off. `kink` (N, 3) is where
    the blade is bent sharply (share of its length; above 1 nowhere), how much further it leans from
    there on and how far it turns; `sunk` (N, 2) from where to where it is under soil, if it lies.
    `shade` (N, ALONG) is the logarithm of how much brighter it is there than all over, `dust`
    (N, ALONG) the share of its colour that soil hides; both go evenly from place to place.
    """

    base_mm: Array
    azimuth: Array
    lean_base: Array
    lean_mid: Array
    lean_tip: Array
    length_mm: Array
    width_mm: Array
    drift: Array
    twist: Array
    colour: Array
    tip_colour: Array
    tip_from: Array
    owner: NDArray[np.int64]
    cut: Array | None = None
    kink: Array | None = None
    sunk: Array | None = None
    shade: Array | None = None
    dust: Array | None = None

    @staticmethod
    def concat(sets: list[BladeSet]) -> BladeSet:
        """All blades of several sets."""
        whole = {
            f.name: np.concatenate([getattr(s, f.name) for s in sets])
            for f in fields(BladeSet) if f.name not in _UNHURT
        }
        harm = {
            name: np.concatenate([
                np.tile(unhurt, (len(s.azimuth), *(1,) * np.ndim(unhurt)))
                if getattr(s, name) is None else getattr(s, name)
                for s in sets
            ])
            for name, unhurt in _UNHURT.items()
        }
        return BladeSet(**whole, **harm)

    def only(self, keep: NDArray[np.bool_]) -> BladeSet:
        """The blades for which `keep` (N,) is true."""
        parts: dict[str, Any] = {f.name: getattr(self, f.name) for f in fields(BladeSet)}
        kept: dict[str, Any] = {k: v if v is None else v[keep] for k, v in parts.items()}
        return BladeSet(**kept)


def outline(lance: float) -> Array:
    """Relative width at `PROFILE_AT`: 0 the measured blade … 1 one that is widest in its middle."""
    return np.asarray(PROFILE + lance * (LANCE - PROFILE))


def blades(
    b: BladeSet,
    height_of: object,
    rng: np.random.Generator,
    *,
    segments: int = 12,
    fold: float = 0.25,
    profile: Array | None = None,
    dust_colour: Array | None = None,
) -> Mesh:
    """Mesh of all blades of a set.

    Parameters
    ----------
    height_of : callable, (N, 2) mm → (N,) mm; the ground, under which no blade dips
    fold : how far the edges stand above the midrib, as a share of half the width
    profile : relative width at `PROFILE_AT`; the measured cereal blade if not given
    dust_colour : linear colour (3,) of the soil on them; no soil hides a blade if not given
    """
    n, m = len(b.azimuth), segments + 1
    left = np.ones(n) if b.cut is None else b.cut
    s = np.linspace(0, 1, m)[None] * left[:, None]
    # parabola through the three lean angles
    lean = (
        b.lean_base[:, None] * (2 * s - 1) * (s - 1)
        + b.lean_mid[:, None] * 4 * s * (1 - s)
        + b.lean_tip[:, None] * s * (2 * s - 1)
    )
    azimuth = b.azimuth[:, None] + b.drift[:, None] * s**1.5
    if b.kink is not None:
        at, bend, turn_aside = b.kink.T[..., None]
        lean = np.where(s > at, np.clip(lean + bend, 0.05, 2.6), lean)
        azimuth = azimuth + turn_aside * (s > at)
    ahead = np.stack(
        [np.sin(lean) * np.cos(azimuth), np.sin(lean) * np.sin(azimuth), np.cos(lean)], -1
    )
    step = (b.length_mm * left)[:, None, None] / segments
    mid = b.base_mm[:, None] + np.concatenate(
        [np.zeros((n, 1, 3)), np.cumsum(0.5 * (ahead[:, 1:] + ahead[:, :-1]) * step, axis=1)], 1
    )
    across = np.stack([-np.sin(azimuth), np.cos(azimuth), np.zeros_like(azimuth)], -1)
    normal = np.cross(ahead, across)
    turn = (b.twist[:, None] * s)[..., None]
    side = across * np.cos(turn) + normal * np.sin(turn)
    normal = np.cross(ahead, side)
    shape = np.interp(s, PROFILE_AT, PROFILE if profile is None else profile)
    half = 0.5 * b.width_mm[:, None] * np.maximum(shape, 0.02)
    edge = half[..., None]
    v = np.stack(
        [mid - side * edge + normal * fold * edge, mid, mid + side * edge + normal * fold * edge],
        2,
    )
    floor = height_of(v[..., :2].reshape(-1, 2)).reshape(n, m, 3)  # type: ignore[operator]
    rest = rng.uniform(0.4, 3.0, (n, 1, 1)) + np.array([0.3, 0.0, 0.3])
    v[..., 2] = np.maximum(v[..., 2], floor + rest * np.minimum(1, 4 * s[..., None]))
    if b.sunk is not None:
        here = ((s > b.sunk[:, :1]) & (s < b.sunk[:, 1:]))[..., None]
        v[..., 2] = np.where(here & (v[..., 2] < floor + LIES_MM), floor - SUNK_MM, v[..., 2])
    fade = np.clip((s - b.tip_from[:, None]) / 0.12, 0, 1)[..., None]
    along = 1.12 - 0.2 * s[..., None]
    colour = (b.colour[:, None] * along) * (1 - fade) + b.tip_colour[:, None] * fade
    if b.shade is not None:
        colour = colour * np.exp(_along(b.shade, m))[..., None]
    if b.dust is not None and dust_colour is not None:
        colour = colour + _along(b.dust, m)[..., None] * (dust_colour - colour)
    rib = np.array([0.96, 1.1, 0.96])[None, None, :, None]
    colours = np.clip(colour[:, :, None] * rib, 0, 1)
    faces = strip_faces(n, m, 3)
    return Mesh(
        v.reshape(-1, 3).astype(np.float32), faces, colours.reshape(-1, 3).astype(np.float32),
        np.repeat(b.owner, len(faces) // max(n, 1)).astype(np.int32),
    )


def _along(places: Array, rows: int) -> Array:
    """What is given at a few places (N, ALONG), at every row (N, rows) of a blade."""
    at = np.linspace(0, places.shape[1] - 1, rows)
    low = np.minimum(at.astype(int), places.shape[1] - 2)
    return np.asarray(places[:, low] + (at - low) * (places[:, low + 1] - places[:, low]))
