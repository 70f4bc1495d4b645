"""The overlay: the photo with what was found on it, to be read on a phone in the sun."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tillercount.quality import refusal_parts
from tillercount.report.bands import Text, band, paragraph
from tillercount.report.marks import INK, MUTED, RUST, drawable, line, plant, shoot
from tillercount.report.markwords import WHY_FEWER, WHY_MARKS_DIFFER, Marked
from tillercount.report.scalebar import scale_band
from tillercount.rounding import figure, kept

if TYPE_CHECKING:
    from tillercount.photo import Photo

__all__ = ["LONGEST_SIDE_PX", "draw_marked", "draw_overlay", "draw_refusal"]

_Mark = Callable[[ImageDraw.ImageDraw, float, float], None]

LONGEST_SIDE_PX = 1600
_AROUND = 0.06
"""Ground shown around a marked area that is cut out, of its longer side."""
_DIM = 0.45
"""How far the ground outside the marked area is drawn towards INK."""


def draw_overlay(
    photo: Photo, fit: Any, topview: Any, maps: Any, spot: Any, *, level: float = 0.9
) -> NDArray[np.uint8]:
    """Picture of one counted spot, or of a refused one with its reason.

    Parameters
    ----------
    photo : Photo
    fit : FrameFit or FrameNotFound or None
    topview : TopView or None
    maps : PlantMaps or None
        Points are drawn where their base lies inside the marked area.
    spot : SpotCount
        `status`, `plants`, `shoots`, `flags`, `reason`, `todo`, `checks` are read.
    level : float
        Level of the interval, for the caption.

    Returns
    -------
    ndarray of uint8, shape (h, w, 3)
        RGB; the photo is reduced so that its longer side is at most 1600 px, bands of text
        above and below it.
    """
    if spot.status != "counted" or not fit or topview is None or maps is None:
        outline = np.asarray(fit.outline_px) if fit else None
        reason, todo = spot.reason or "no count", spot.todo or ""
        if not todo and any(refusal_parts(spot.checks)):  # a check's text says both in one
            reason, todo = refusal_parts(spot.checks)
        return draw_refusal(photo, reason, todo, outline_px=outline)
    image, _, seen, mm_per_px = _seen(photo, fit, topview, maps)
    width = image.width
    unit = _width_unit(width)
    header = band(_header(spot, unit), width, INK, unit)
    footer = _footer(spot, seen, photo.path.name, width, unit, level)
    return _stacked([header, image, scale_band(width, mm_per_px, unit), footer])


def draw_marked(photo: Photo, fit: Any, topview: Any, maps: Any) -> NDArray[np.uint8]:
    """The marked area of a counted spot with its marks, and the scale bar below; no other type.

    Parameters
    ----------
    photo, fit, topview, maps
        As for `draw_overlay`, of a counted spot.

    Returns
    -------
    ndarray of uint8, shape (h, w, 3)
        RGB; cut to the marked area with some ground around it.
    """
    scene, outline, _, mm_per_px = _seen(photo, fit, topview, maps)
    box = (0, 0, scene.width, scene.height)
    if fit.kind != "whole":
        around = _AROUND * float(np.ptp(outline, axis=0).max())
        (left, top), (right, bottom) = outline.min(axis=0) - around, outline.max(axis=0) + around
        box = (
            max(0, round(left)), max(0, round(top)),
            min(scene.width, round(right)), min(scene.height, round(bottom)),
        )  # fmt: skip
    image = scene.crop(box)
    return _stacked([image, scale_band(image.width, mm_per_px, _width_unit(image.width))])


def _seen(
    photo: Photo, fit: Any, topview: Any, maps: Any
) -> tuple[Image.Image, NDArray[np.float64], tuple[int, int], float]:
    """The photo with its marks; the outline on it; plants and shoots marked; mm of a pixel."""
    scene, scale = _reduced(photo)
    outline = _on_picture(fit.outline_px, scale)
    if fit.kind != "whole":
        scene = _dimmed(scene, outline)
    plants = _on_picture(_inside_points(maps.plant_points, topview), scale)
    shoots = _on_picture(_inside_points(maps.shoot_points, topview), scale)
    image = _marked(scene, outline if fit.kind != "whole" else None, plants, shoots)
    return image, outline, (len(plants), len(shoots)), fit.mm_per_px / scale


def draw_refusal(
    photo: Photo, reason: str, todo: str, *, outline_px: NDArray[np.float64] | None = None
) -> NDArray[np.uint8]:
    """Picture of a photo that was not counted: why, and what to do.

    Parameters
    ----------
    photo : Photo
    reason, todo : str
    outline_px : ndarray of float64, shape (N, 2), optional
        The marked area, where it was found.
    """
    scene, scale = _reduced(photo)
    unit = _unit(scene)
    none = np.empty((0, 2))
    found = outline_px is not None and len(outline_px) >= 3
    image = _marked(scene, _on_picture(outline_px, scale) if found else None, none, none)
    lines = [Text("Not counted", round(84 * unit))]
    size, width = round(50 * unit), image.width
    lines += paragraph(_sentence(reason), size, width, unit)
    if todo:
        lines.append(Text("What to do", round(38 * unit), MUTED))
        lines += paragraph(_sentence(todo), size, width, unit)
    name = [Text(drawable(photo.path.name), round(34 * unit), MUTED)]
    return _stacked(
        [
            band([lines], image.width, RUST, unit),
            image,
            band([name], image.width, INK, unit),
        ]
    )


def _marked(
    scene: NDArray[np.uint8],
    outline: NDArray[np.float64] | None,
    plants: NDArray[np.float64],
    shoots: NDArray[np.float64],
) -> Image.Image:
    """The outline, the shoots and on top the plants; drawn at double size for smooth edges."""
    image, unit = Image.fromarray(scene), _unit(scene)
    if outline is None and not len(plants) and not len(shoots):
        return image
    layer = Image.new("RGBA", (2 * image.width, 2 * image.height), (*INK, 0))
    draw = ImageDraw.Draw(layer)
    if outline is not None:
        line(draw, [(2 * float(x) + 0.5, 2 * float(y) + 0.5) for x, y in outline], 13 * unit)
    for x, y in shoots:
        shoot(draw, 2 * x + 0.5, 2 * y + 0.5, 17 * unit)
    for x, y in plants:
        plant(draw, 2 * x + 0.5, 2 * y + 0.5, 32 * unit)
    layer = layer.reduce(2)
    image.paste(layer, mask=layer.getchannel("A"))
    return image


def _sentence(text: str) -> str:
    text = text.strip()
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _reduced(photo: Photo) -> tuple[NDArray[np.uint8], float]:
    import cv2

    height, width = photo.rgb.shape[:2]
    scale = min(1.0, LONGEST_SIDE_PX / max(height, width))
    # Small photos are enlarged: the type below needs room.
    if max(height, width) < 800:
        scale = 800 / max(height, width)
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(photo.rgb, size, interpolation=how), np.uint8), scale


def _unit(scene: NDArray[np.uint8]) -> float:
    """One pixel of a picture 1600 px wide; type and marks are given in it."""
    return _width_unit(scene.shape[1])


def _width_unit(width_px: int) -> float:
    """The same from the width alone."""
    return max(0.45, width_px / 1600)


def _on_picture(points_px: Any, scale: float) -> NDArray[np.float64]:
    # Pixel centres are whole numbers, so the left edge of the photo is at -0.5.
    points = np.asarray(points_px, np.float64).reshape(-1, 2)
    return (points + 0.5) * scale - 0.5


def _dimmed(scene: NDArray[np.uint8], outline: NDArray[np.float64]) -> NDArray[np.uint8]:
    import cv2

    mask = np.zeros(scene.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.rint(outline * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    dimmed = cv2.addWeighted(scene, 1 - _DIM, np.full_like(scene, INK), _DIM, 0)
    share = mask[:, :, None].astype(np.float32) / 255.0
    return np.rint(scene * share + dimmed * (1 - share)).astype(np.uint8)


def _inside_points(points: Any, topview: Any) -> NDArray[np.float64]:
    """Photo positions of the points whose base lies inside; (N, 3) top-view x, y, score."""
    points = np.asarray(points, np.float64).reshape(-1, 3)
    height, width = topview.inside.shape
    cols = np.clip(np.rint(points[:, 0]).astype(int), 0, width - 1)
    rows = np.clip(np.rint(points[:, 1]).astype(int), 0, height - 1)
    points = points[topview.inside[rows, cols] >= 0.5]
    raised = np.column_stack([points[:, :2], np.ones(len(points))]) @ np.asarray(topview.to_photo).T
    return raised[:, :2] / raised[:, 2:]


def _header(spot: Any, unit: float) -> list[list[Text]]:
    """Columns of the band on top: plants, shoots, and what follows from them."""
    columns = []
    for what, interval in (("plants", spot.plants), ("shoots", spot.shoots)):
        columns.append(
            [
                Text(f"{_whole(interval.count)} {what}", round(88 * unit)),
                Text(f"{_whole(interval.low)} to {_whole(interval.high)}", round(62 * unit)),
            ]
        )
    ft2 = round(spot.area_ft2, 4)  # as a counts file keeps it, like the count
    derived = []
    if ft2 > 0:
        derived.append(Text("per square foot", round(38 * unit), MUTED))
        derived += [
            Text(f"{figure(kept(interval.count) / ft2, what)} {what}", round(50 * unit))
            for what, interval in (("plants", spot.plants), ("shoots", spot.shoots))
        ]
    if derived:
        columns.append(derived)
    return columns


def _whole(count: float) -> str:
    return figure(kept(count), whole=True)


def _footer(
    spot: Any, seen: tuple[int, int], name: str, width: int, unit: float, level: float
) -> Image.Image:
    """What the marks are, why they don't add up to the counts, what is odd about the photo."""
    size = round(52 * unit)
    plants, shoots = (
        Marked(what, number, round(kept(interval.count)))
        for what, number, interval in zip(
            ("plant", "shoot"), seen, (spot.plants, spot.shoots), strict=True
        )
    )
    why = WHY_FEWER if plants.too_many or shoots.too_many else WHY_MARKS_DIFFER
    lines = [
        Text(f"ring: {plants.text}", size, mark=_ring(19 * unit)),
        Text(f"diamond: {shoots.text}", size, mark=_diamond(17 * unit)),
        *paragraph(why, size, width, unit),
    ]
    for flag in spot.flags:
        lines += paragraph(f"Note: {flag.text}", round(44 * unit), width, unit)
    caption = f"Ranges are {level * 100:.0f} % intervals. {name}"
    lines += paragraph(caption, round(38 * unit), width, unit, MUTED)
    return band([lines], width, INK, unit)


def _ring(size_px: float) -> _Mark:
    return lambda draw, x, y: plant(draw, x, y, size_px)


def _diamond(size_px: float) -> _Mark:
    return lambda draw, x, y: shoot(draw, x, y, size_px)


def _stacked(parts: list[Image.Image]) -> NDArray[np.uint8]:
    return np.vstack([np.asarray(part, np.uint8) for part in parts])
