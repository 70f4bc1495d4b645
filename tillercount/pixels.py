"""From a picture in any colour mode to 8-bit sRGB."""

from __future__ import annotations

import io
import math
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tillercount.errors import PhotoError

__all__ = ["is_grey", "to_rgb"]

_GREY_SPREAD = 4
"""A photo has no colour if its channels differ by more than this in fewer than 1 of 200 pixels."""
_BAND_ROWS = 256


def to_rgb(path: Path, image: Image.Image, notes: list[str]) -> NDArray[np.uint8]:
    """8-bit sRGB (H, W, 3) of a loaded picture of any colour mode; ``notes`` is added to.

    Raises
    ------
    PhotoError
        A black-and-white picture.
    """
    mode = image.mode
    if mode in ("1", "L", "LA", "La", "F", "I") or mode.startswith("I;"):
        raise PhotoError(
            f"{path.name}: a black-and-white picture, and plants are told from soil by colour; "
            "use the colour photo"
        )
    profile = image.info.get("icc_profile")
    if mode == "P" or "transparency" in image.info:
        has_alpha = "transparency" in image.info
        if mode == "P":
            notes.append("a palette picture of at most 256 colours; use the phone's own photo")
        image = image.convert("RGBA" if has_alpha else "RGB")
    if image.mode in ("RGBA", "RGBa", "PA"):
        image = _flattened(image.convert("RGBA"), notes)
    if profile:
        image = _to_srgb(image, profile, notes)
    if image.mode != "RGB":
        notes.append(f"the colours were stored as {mode} and were converted to RGB")
        image = image.convert("RGB")
    # Band by band: in one go Pillow would hold one more copy of the whole photo.
    rgb = np.empty((image.height, image.width, 3), np.uint8)
    for top in range(0, image.height, _BAND_ROWS):
        bottom = min(top + _BAND_ROWS, image.height)
        rgb[top:bottom] = np.asarray(image.crop((0, top, image.width, bottom)))
    return rgb


def _flattened(image: Image.Image, notes: list[str]) -> Image.Image:
    """Lay a picture with transparency on mid grey, which is neither glare nor deep shade."""
    alpha = image.getchannel("A")
    if alpha.getextrema() == (255, 255):
        return image.convert("RGB")
    share = 1.0 - float(np.asarray(alpha).mean()) / 255.0
    notes.append(f"{math.ceil(share * 100)} % of the picture is transparent; laid on grey")
    ground = Image.new("RGB", image.size, (128, 128, 128))
    ground.paste(image, mask=alpha)
    return ground


def _to_srgb(image: Image.Image, profile: bytes, notes: list[str]) -> Image.Image:
    from PIL import ImageCms

    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        name = ImageCms.getProfileDescription(source).strip()
        # Converting sRGB to itself costs time and changes nothing.
        if image.mode == "RGB" and name.lower().startswith("srgb"):
            return image
        converted = ImageCms.profileToProfile(
            image, source, ImageCms.createProfile("sRGB"), outputMode="RGB"
        )
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        notes.append("the colour profile can't be read; colours were taken as sRGB")
        return image
    assert converted is not None  # only an in-place conversion returns None
    return converted


def is_grey(rgb: NDArray[np.uint8]) -> bool:
    """Whether (H, W, 3) has no colour to speak of."""
    # A sixteenth of the pixels is enough to see colour; small pictures are looked at whole.
    step = 4 if min(rgb.shape[:2]) >= 64 else 1
    sample = rgb[::step, ::step]
    spread = sample.max(axis=2) - sample.min(axis=2)
    return float((spread > _GREY_SPREAD).mean()) < 0.005
