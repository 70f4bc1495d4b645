"""The overlay: the photo with what was found on it, to be read on a phone in the sun."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tillercount.report.marks import (
    INK,
    MUTED,
    PAPER,
    RUST,
    Colour,
    drawable,
    line,
    plant,
    shoot,
    type_face,
    width_of,
    wrapped,
)

if TYPE_CHECKING:
    from tillercount.photo import Photo

__all__ = ["LONGEST_SIDE_PX", "draw_overlay", "draw_refusal"]

LONGEST_SIDE_PX = 1600
_DIM = 0.45
"""How far the ground outside the marked area is drawn towards INK."""
_BARS_IN = (1, 2, 4, 6, 12, 24)
_BARS_CM = (2, 5, 10, 20, 50)


@dataclass(frozen=True)
class _Text:
    """One line of type: what, how large (px), in which colour."""

    text: str
    size_px: int
    colour: Colour = PAPER


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
        `status`, `plants`, `shoots`, `flags`, `reason`, `todo` are read.
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
        return draw_refusal(photo, spot.reason or "no count", spot.todo or "", outline_px=outline)
    scene, scale = _reduced(photo)
    unit = _unit(scene)
    outline = _on_picture(fit.outline_px, scale)
    if fit.kind != "whole":
        scene = _dimmed(scene, outline)
    image = _marked(
        scene,
        outline if fit.kind != "whole" else None,
        _on_picture(_inside_points(maps.plant_points, topview), scale),
        _on_picture(_inside_points(maps.shoot_points, topview), scale),
    )
    _scale_bar(image, fit.mm_per_px / scale, unit)
    width = image.width
    header = _band(_header(spot, unit), width, INK, unit)
    footer = _footer(spot, photo.path.name, width, unit, level)
    return _stacked([header, image, footer])


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
    room = image.width - 80 * unit
    lines = [_Text("Not counted", round(84 * unit))]
    size = round(50 * unit)
    lines += [_Text(text, size) for text in wrapped(_sentence(reason), size, room)]
    if todo:
        lines.append(_Text("What to do", round(38 * unit), MUTED))
        lines += [_Text(text, size) for text in wrapped(_sentence(todo), size, room)]
    name = [_Text(drawable(photo.path.name), round(34 * unit), MUTED)]
    return _stacked(
        [
            _band([lines], image.width, RUST, unit),
            image,
            _band([name], image.width, INK, unit),
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
    return max(0.45, scene.shape[1] / 1600)


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


def _header(spot: Any, unit: float) -> list[list[_Text]]:
    """Columns of the band on top: plants, shoots, and what follows from them."""
    columns = []
    for what, interval in (("plants", spot.plants), ("shoots", spot.shoots)):
        columns.append(
            [
                _Text(f"{interval.count:.0f} {what}", round(88 * unit)),
                _Text(f"{interval.low:.0f} to {interval.high:.0f}", round(62 * unit)),
            ]
        )
    ft2 = spot.area_ft2
    derived = []
    if ft2 > 0:
        derived.append(_Text("per square foot", round(38 * unit), MUTED))
        derived += [
            _Text(f"{_figure(interval.count / ft2)} {what}", round(50 * unit))
            for what, interval in (("plants", spot.plants), ("shoots", spot.shoots))
        ]
    if derived:
        columns.append(derived)
    return columns


def _figure(value: float) -> str:
    return f"{value:.1f}" if value < 9.95 else f"{value:.0f}"


def _footer(spot: Any, name: str, width: int, unit: float, level: float) -> Image.Image:
    size = round(40 * unit)
    room = width - 80 * unit
    lines = []
    for flag in spot.flags:
        lines += [_Text(text, size) for text in wrapped(f"Note: {flag.text}", size, room)]
    small = round(34 * unit)
    caption = f"Ranges are {level * 100:.0f} % intervals. {name}"
    lines += [_Text(text, small, MUTED) for text in wrapped(caption, small, room)]
    band = _band([lines], width, INK, unit, top=round(92 * unit))
    draw = ImageDraw.Draw(band)
    x, y = 40 * unit + 15 * unit, 52 * unit
    plant(draw, x, y, 16 * unit)
    draw.text((x + 34 * unit, y), "plant seen", PAPER, type_face(size), anchor="lm")
    x += 34 * unit + width_of("plant seen", size) + 70 * unit
    shoot(draw, x, y, 11 * unit)
    draw.text((x + 26 * unit, y), "shoot seen", PAPER, type_face(size), anchor="lm")
    return band


def _band(
    columns: list[list[_Text]], width: int, colour: Colour, unit: float, *, top: int | None = None
) -> Image.Image:
    """A band of text in columns side by side."""
    pad = round(26 * unit)
    top = pad if top is None else top
    leading = 1.22
    heights = [sum(text.size_px * leading for text in column) for column in columns]
    band = Image.new("RGB", (width, round(top + max(heights, default=0) + pad)), colour)
    draw = ImageDraw.Draw(band)
    widths = [
        max((width_of(text.text, text.size_px) for text in column), default=0)
        for column in columns
    ]
    free = width - 80 * unit - sum(widths)
    gap = free / max(1, len(columns) - 1)
    x = 40 * unit
    for column, column_width in zip(columns, widths, strict=True):
        y = float(top)
        for text in column:
            draw.text((x, y), text.text, text.colour, type_face(text.size_px))
            y += text.size_px * leading
        x += column_width + min(gap, 220 * unit)
    return band


def _scale_bar(image: Image.Image, mm_per_px: float, unit: float) -> None:
    """Two bars in the lower left corner, inches above centimetres, on a dark plate."""
    longest = image.width * 0.28
    inches = _longest(_BARS_IN, 25.4 / mm_per_px, longest)
    centimetres = _longest(_BARS_CM, 10.0 / mm_per_px, longest)
    bars = [
        (f"{inches} in", inches * 25.4 / mm_per_px),
        (f"{centimetres} cm", centimetres * 10.0 / mm_per_px),
    ]
    size = round(38 * unit)
    pad, thick = 18 * unit, 10 * unit
    row = size * 1.25
    plate_width = max(length + 16 * unit + width_of(text, size) for text, length in bars) + 2 * pad
    draw = ImageDraw.Draw(image)
    left, top = 24 * unit, image.height - 24 * unit - 2 * row - 2 * pad * 0.6
    draw.rounded_rectangle(
        (left, top, left + plate_width, image.height - 24 * unit), 10 * unit, fill=INK
    )
    for number, (text, length) in enumerate(bars):
        y = top + pad * 0.6 + row * (number + 0.5)
        x = left + pad
        draw.rectangle((x, y - thick / 2, x + length, y + thick / 2), fill=PAPER)
        draw.text((x + length + 16 * unit, y), text, PAPER, type_face(size), anchor="lm")


def _longest(choices: tuple[int, ...], px_each: float, longest_px: float) -> int:
    fitting = [choice for choice in choices if choice * px_each <= longest_px]
    return fitting[-1] if fitting else choices[0]


def _stacked(parts: list[Image.Image]) -> NDArray[np.uint8]:
    return np.vstack([np.asarray(part, np.uint8) for part in parts])
