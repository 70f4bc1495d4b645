"""The one reader of photos: upright RGB uint8, with time, place and focal length."""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import io
import math
import struct
import threading
import warnings
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from tillercount.errors import InputError
from tillercount.exif import DEFAULT_FOCAL_35MM, focal_px_of, read_shot_data

__all__ = ["LARGEST_MEGAPIXELS", "Photo", "PhotoError", "list_photos", "read_photo"]

LARGEST_MEGAPIXELS = 120.0
LARGEST_FILE_MB = 600.0
SUFFIXES = (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif")
HEIC_REMEDY = (
    "install the reader with  pip install 'tillercount[heic]'  "
    "or set the phone's camera to JPEG (Most compatible)"
)
_FORMATS = ("JPEG", "MPO", "PNG", "WEBP", "TIFF", "HEIF")
_DNG_VERSION = 50706
_GREY_SPREAD = 4
"""A photo has no colour if its channels differ by more than this in fewer than 1 of 200 pixels."""

# Undo of each EXIF orientation, on the array: Pillow's own function rewrites the EXIF block as
# well and fails on damaged ones, and turning the array needs half the memory.
_UPRIGHT: dict[int, Callable[[NDArray[np.uint8]], NDArray[np.uint8]]] = {
    2: lambda rgb: rgb[:, ::-1],
    3: lambda rgb: rgb[::-1, ::-1],
    4: lambda rgb: rgb[::-1],
    5: lambda rgb: rgb.transpose(1, 0, 2),
    6: lambda rgb: np.rot90(rgb, -1),
    7: lambda rgb: rgb[::-1, ::-1].transpose(1, 0, 2),
    8: lambda rgb: np.rot90(rgb, 1),
}
_BAND_ROWS = 256
_warnings_lock = threading.Lock()


class PhotoError(InputError):
    """This file can't be used as a photo; the message says why and what to do."""


@dataclass(frozen=True, eq=False)
class Photo:
    """One photo, upright.

    Attributes
    ----------
    path : Path
    rgb : ndarray of uint8, shape (height, width, 3)
        sRGB. The centre of the top-left pixel is (0, 0), x right, y down.
    sha256 : str
        Of the file's bytes.
    taken_at : datetime or None
        With an offset only where the photo states one.
    lat, lon : float or None
        Degrees, WGS84.
    focal_px : float
        Focal length in pixels; a phone's usual one where `focal_known` is False.
    focal_known : bool
    notes : tuple of str
        What was odd about the file, in words.
    """

    path: Path
    rgb: NDArray[np.uint8]
    sha256: str
    taken_at: dt.datetime | None
    lat: float | None
    lon: float | None
    focal_px: float
    focal_known: bool
    notes: tuple[str, ...] = ()

    @property
    def width_px(self) -> int:
        """Width of the upright photo, px."""
        return int(self.rgb.shape[1])

    @property
    def height_px(self) -> int:
        """Height of the upright photo, px."""
        return int(self.rgb.shape[0])


def read_photo(path: str | Path) -> Photo:
    """Read a photo: JPEG, PNG, WebP, TIFF, and HEIC where the extra is installed.

    Turned upright by its EXIF orientation exactly once, converted to sRGB by its embedded colour
    profile, 8 bits a channel.

    Raises
    ------
    PhotoError
        Not there, not a photo, damaged, too large, or without colour.
    """
    path = Path(path)
    data = _read_bytes(path)
    notes: list[str] = []
    with _opened(path, data) as image:
        _check_size(path, image)
        _note_frames(image, notes)
        shot_error = _load(path, image)
        # Read after loading: the TIFF reader turns the picture while it loads and then
        # takes the orientation out, so that it is never applied twice.
        with _quiet():
            shot = read_shot_data(image, *image.size)
        notes += [*shot_error, *shot.notes]
        rgb = _to_rgb(path, image, notes)
        image.close()
    if shot.orientation in _UPRIGHT:
        rgb = np.ascontiguousarray(_UPRIGHT[shot.orientation](rgb))
    if _is_grey(rgb):
        raise PhotoError(
            f"{path.name}: no colour in this photo, and plants are told from soil by colour; "
            "take it again in colour (no black-and-white filter)"
        )
    height, width = rgb.shape[:2]
    return Photo(
        path=path,
        rgb=rgb,
        sha256=hashlib.sha256(data).hexdigest(),
        taken_at=shot.taken_at,
        lat=shot.lat,
        lon=shot.lon,
        focal_px=focal_px_of(shot.focal_35mm or DEFAULT_FOCAL_35MM, width, height),
        focal_known=shot.focal_35mm is not None,
        notes=tuple(notes),
    )


def list_photos(paths: Iterable[str | Path]) -> list[Path]:
    """Photos named, and those lying in folders named, each once, in order.

    Folders are searched one level deep, by file ending, sorted by name, hidden files left out.
    A file that is named is taken whatever its ending.

    Raises
    ------
    InputError
        A path that doesn't exist, or a folder without photos.
    """
    found: dict[Path, Path] = {}
    for path in map(Path, paths):
        if path.is_dir():
            inside = sorted(
                entry
                for entry in path.iterdir()
                if entry.suffix.lower() in SUFFIXES
                and not entry.name.startswith(".")
                and entry.is_file()
            )
            if not inside:
                raise InputError(
                    f"folder {path} holds no photos; name a folder with "
                    f"{', '.join(SUFFIXES)} files in it (folders below it are not searched)"
                )
        elif path.exists():
            inside = [path]
        else:
            raise InputError(f"{path} doesn't exist; check the name and the folder")
        for entry in inside:
            found.setdefault(entry.resolve(), entry)
    return list(found.values())


def _read_bytes(path: Path) -> bytes:
    if path.is_dir():
        raise PhotoError(f"{path.name}: this is a folder, not a photo; name a file in it")
    try:
        size_mb = path.stat().st_size / 1e6
        if size_mb > LARGEST_FILE_MB:
            raise PhotoError(
                f"{path.name}: {size_mb:.0f} MB is more than {LARGEST_FILE_MB:.0f} MB; "
                "export the photo as JPEG"
            )
        data = path.read_bytes()
    except OSError as error:
        reason = "doesn't exist" if isinstance(error, FileNotFoundError) else error.strerror
        raise PhotoError(f"{path.name}: can't be read ({reason}); check the path") from error
    if not data:
        raise PhotoError(f"{path.name}: the file is empty; copy it from the phone again")
    return data


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """No warnings from Pillow: what matters in them is said in `Photo.notes`.

    The lock is there because the list of warning filters is shared by all threads.
    """
    with _warnings_lock, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _opened(path: Path, data: bytes) -> Image.Image:
    if data[4:8] == b"ftyp" and data[8:12] in (b"heic", b"heix", b"hevc", b"mif1", b"msf1"):
        try:
            import pillow_heif
        except ImportError as error:
            raise PhotoError(
                f"{path.name}: HEIC photos need one more library; {HEIC_REMEDY}"
            ) from error
        pillow_heif.register_heif_opener()
    try:
        # Pillow warns from 89 megapixels on; the limit that counts here is in _check_size.
        with _quiet():
            return Image.open(io.BytesIO(data), formats=[f for f in _FORMATS if f in _known()])
    except Image.DecompressionBombError as error:
        raise PhotoError(f"{path.name}: {_TOO_LARGE}") from error
    except UnidentifiedImageError as error:
        raise PhotoError(
            f"{path.name}: not a photo that can be read here; "
            "use JPEG, PNG, WebP, TIFF or HEIC (export raw or other files as JPEG)"
        ) from error
    except Exception as error:  # damaged headers raise almost anything
        raise PhotoError(_damaged(path)) from error


_TOO_LARGE = (
    f"more than {LARGEST_MEGAPIXELS:.0f} megapixels; "
    "save it smaller (12 to 48 megapixels are plenty)"
)


def _known() -> dict[str, Any]:
    Image.init()
    return Image.OPEN


def _damaged(path: Path) -> str:
    return f"{path.name}: the file is damaged or cut short; copy it from the phone again"


def _check_size(path: Path, image: Image.Image) -> None:
    megapixels = image.width * image.height / 1e6
    if megapixels > LARGEST_MEGAPIXELS:
        raise PhotoError(f"{path.name}: {megapixels:.0f} megapixels, {_TOO_LARGE}")
    if _DNG_VERSION in getattr(image, "tag_v2", {}):
        raise PhotoError(f"{path.name}: a camera raw file; export it as JPEG")


def _note_frames(image: Image.Image, notes: list[str]) -> None:
    # An MPO file is one photo with a preview or a depth map behind it.
    try:
        frames = getattr(image, "n_frames", 1) if image.format != "MPO" else 1
    except Exception:  # a damaged list of further pictures; the first may still be whole
        frames = 1
    if frames > 1:
        notes.append(f"the file holds {frames} pictures; the first one was used")


def _load(path: Path, image: Image.Image) -> list[str]:
    """Decode; returns a note where only the EXIF block was at fault."""
    # The TIFF reader warns of every damaged tag while it loads.
    quiet = _quiet() if image.format == "TIFF" else contextlib.nullcontext()
    try:
        with quiet:
            image.load()
    except (OSError, SyntaxError, EOFError, MemoryError, struct.error, zlib.error) as error:
        raise PhotoError(_damaged(path)) from error
    except Exception as error:  # EXIF handling inside the TIFF reader raises almost anything
        if getattr(image, "_im", None) is None:
            raise PhotoError(_damaged(path)) from error
        return ["the EXIF block is damaged: the photo may not be upright"]
    return []


def _to_rgb(path: Path, image: Image.Image, notes: list[str]) -> NDArray[np.uint8]:
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


def _is_grey(rgb: NDArray[np.uint8]) -> bool:
    # A sixteenth of the pixels is enough to see colour; small pictures are looked at whole.
    step = 4 if min(rgb.shape[:2]) >= 64 else 1
    sample = rgb[::step, ::step]
    spread = sample.max(axis=2) - sample.min(axis=2)
    return float((spread > _GREY_SPREAD).mean()) < 0.005
