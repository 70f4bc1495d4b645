"""Pictures that this program draws, marked as such, so that none is ever counted as a photo.

The mark is a line of text inside the file. A messenger or an editor may take it out; what is left
then is the look: an overlay has a band of one colour along its upper and its lower edge, and a
class map is grey with no values but the classes.
"""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from tillercount.report.marks import INK, RUST, Colour

__all__ = ["Kind", "drawn_here", "drawn_of", "picture_bytes"]

Kind = Literal["overlay", "class map"]

_MARK = "tillercount picture: "
_KEY = "Software"
_OF_KEY = "Source"
"""A keyword that PNG registers, as is that of the mark: what the picture was drawn from."""
_KINDS: tuple[Kind, ...] = ("overlay", "class map")
_WIDEST_PX = 1600
"""No overlay is wider; larger pictures needn't be decoded to know that they are none."""
_EDGE = 0.01
"""Share of the width that the bands' margins above and below the text are surely higher than."""
_OFF = 14
"""Of 255: how far JPEG may shift a colour."""
_CLASSES = (0, 1, 2, 3, 4, 255)


def picture_bytes(
    pixels: NDArray[np.uint8],
    kind: Kind,
    form: Literal["PNG", "JPEG"] = "PNG",
    *,
    of: str = "",
) -> bytes:
    """A picture as a file, marked as drawn by this program.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w) or (h, w, 3)
        Grey or RGB.
    kind : what it shows
    form : PNG loses nothing; JPEG is for pages and documents
    of : digest of the count that it shows, in PNG files; see `drawn_of`
    """
    buffer = io.BytesIO()
    image = Image.fromarray(pixels)
    if form == "PNG":
        mark = PngInfo()
        mark.add_text(_KEY, f"{_MARK}{kind}")
        if of:
            mark.add_text(_OF_KEY, of)
        image.save(buffer, form, compress_level=4, pnginfo=mark)
    else:
        image.save(buffer, form, quality=84, optimize=True, comment=f"{_MARK}{kind}")
    return buffer.getvalue()


def drawn_here(path: Path) -> Kind | None:
    """Which of this program's pictures a file is; None for photos and whatever can't be read."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the reader of photos says what is odd about a file
            with Image.open(path, formats=["PNG", "JPEG", "WEBP"]) as image:
                return _marked(image) or _looks_like(image)
    except Exception:  # damaged files raise almost anything, and the reader of photos explains
        return None


def drawn_of(path: Path) -> str:
    """Digest of the count that a PNG picture of this program shows; "" where it says none."""
    try:
        with Image.open(path, formats=["PNG"]) as image:
            return str(image.info.get(_OF_KEY) or "") if _marked(image) else ""
    except Exception:  # damaged, or not there: it shows no count
        return ""


def _marked(image: Image.Image) -> Kind | None:
    said = image.info.get(_KEY) or image.info.get("comment") or ""
    text = said.decode("utf-8", "replace") if isinstance(said, bytes) else str(said)
    return next((kind for kind in _KINDS if text == f"{_MARK}{kind}"), None)


def _looks_like(image: Image.Image) -> Kind | None:
    if image.mode == "L":
        return "class map" if image.format == "PNG" and _only_classes(image) else None
    if image.width > _WIDEST_PX or image.mode != "RGB":
        return None
    image.draft("RGB", (200, 200))  # JPEG decodes small ones faster
    pixels = np.asarray(image)
    edge = max(2, round(_EDGE * pixels.shape[1]))
    if len(pixels) < 8 * edge:
        return None
    upper, lower = pixels[:edge], pixels[-edge:]
    banded = (_one_colour(upper, INK) or _one_colour(upper, RUST)) and _one_colour(lower, INK)
    return "overlay" if banded else None


def _one_colour(pixels: NDArray[np.uint8], colour: Colour) -> bool:
    off = np.abs(pixels.astype(np.int16) - np.array(colour, np.int16)).max(axis=-1)
    return bool((off <= _OFF).mean() > 0.98)


def _only_classes(image: Image.Image) -> bool:
    used = {value for value, times in enumerate(image.histogram()) if times}
    return used <= set(_CLASSES)
