"""The one reader of photos: upright RGB uint8, with time, place and focal length."""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import io
import struct
import threading
import warnings
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from tillercount.errors import PhotoError
from tillercount.exif import DEFAULT_FOCAL_35MM, focal_px_of, read_shot_data
from tillercount.pixels import is_grey, to_rgb

__all__ = [
    "LARGEST_MEGAPIXELS", "Glance", "Photo", "PhotoError", "day_taken", "glance", "read_photo",
]  # fmt: skip

LARGEST_MEGAPIXELS = 120.0
LARGEST_FILE_MB = 600.0
HEIC_REMEDY = (
    "install the reader with  pip install 'tillercount[heic]'  "
    "or set the phone's camera to JPEG (Most compatible)"
)
_FORMATS = ("JPEG", "MPO", "PNG", "WEBP", "TIFF", "HEIF")
_DNG_VERSION = 50706

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
_warnings_lock = threading.Lock()


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
        rgb = to_rgb(path, image, notes)
        image.close()
    if shot.orientation in _UPRIGHT:
        rgb = np.ascontiguousarray(_UPRIGHT[shot.orientation](rgb))
    if is_grey(rgb):
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


@dataclass(frozen=True)
class Glance:
    """What a photo's file says without decoding its pixels: the SHA-256 of its bytes, "" where it
    can't be read, and the day of its clock, None where it says none or is no photo."""

    sha256: str
    day: dt.date | None


def glance(path: str | Path) -> Glance:
    """Look at a photo's file, reading it once."""
    path = Path(path)
    try:
        data = _read_bytes(path)
    except PhotoError:
        return Glance("", None)
    return Glance(hashlib.sha256(data).hexdigest(), _day_in(path, data))


def day_taken(path: str | Path) -> dt.date | None:
    """The day that a photo's clock says, as in `Glance`."""
    path = Path(path)
    with contextlib.suppress(PhotoError):
        return _day_in(path, _read_bytes(path))
    return None


def _day_in(path: Path, data: bytes) -> dt.date | None:
    with contextlib.suppress(PhotoError), _opened(path, data) as image, _quiet():
        taken = read_shot_data(image, *image.size).taken_at
        return None if taken is None else taken.date()
    return None


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
