"""The finder network at work: from a photo to maps of where a frame seems to lie."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.cvcompat import shrink
from tillercount.errors import InputError

__all__ = ["FINDER", "Finder", "Maps", "Picture", "picture_of"]

FINDER = "finder"
WORK_LONG_SIDE_PX = 1600
SURE_TUBE, LEAST_TUBE_CELLS = 1.0, 60


@dataclass(frozen=True, eq=False)
class Picture:
    """The photo, or a window of it, reduced for exact work.

    ``rgb`` (h, w, 3) uint8; ``per_px`` photo px per px of this picture, (x, y); ``focal_px`` and
    ``centre_px``, where the camera's axis meets it, in this picture; ``corner_px`` upper left
    pixel of the window, photo px.
    """

    rgb: NDArray[np.uint8]
    per_px: tuple[float, float]
    focal_px: float
    centre_px: tuple[float, float]
    focal_known: bool
    corner_px: tuple[int, int] = (0, 0)

    @property
    def to_photo(self) -> NDArray[np.float64]:
        """(3, 3) px of this picture to photo px; pixel corners stay on pixel corners."""
        x, y = self.per_px
        left, top = self.corner_px
        return np.array([[x, 0, left + (x - 1) / 2], [0, y, top + (y - 1) / 2], [0, 0, 1.0]])

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width, px."""
        return int(self.rgb.shape[0]), int(self.rgb.shape[1])

    def shows(self, at: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Which of the places (..., 2) px lie in the picture."""
        height, width = self.shape
        x, y = at[..., 0], at[..., 1]
        return np.asarray((x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1))

    @property
    def photo_short_px(self) -> float:
        """Short side of the whole photo in px of this picture, which may be a window of it."""
        x, y = self.per_px
        left, top = self.corner_px
        # the photo's middle is known here, and where this picture begins
        return 2 * min(self.centre_px[0] + left / x, self.centre_px[1] + top / y) + 1

    @functools.cached_property
    def green(self) -> NDArray[np.float32]:
        """(h, w) how much greener than red and blue, -1 to 1 of the brightness, smoothed."""
        import cv2

        small = cv2.GaussianBlur(self.rgb, (0, 0), 1.2).astype(np.float32)
        r, g, b = small[..., 0], small[..., 1], small[..., 2]
        return np.asarray((2 * g - r - b) / np.maximum(r + g + b, 1), np.float32)


def picture_of(
    rgb: NDArray[np.uint8],
    focal_px: float,
    focal_known: bool = True,
    window: tuple[int, int, int, int] | None = None,
) -> Picture:
    """Reduce a photo (H, W, 3), or its ``window`` (left, top, right, bottom) px, to 1600 px."""
    left, top, right, bottom = window or (0, 0, rgb.shape[1], rgb.shape[0])
    width, height = right - left, bottom - top
    share = min(1.0, WORK_LONG_SIDE_PX / max(height, width))
    w, h = max(1, round(width * share)), max(1, round(height * share))
    x, y = width / w, height / h
    centre = (
        ((rgb.shape[1] - 1) / 2 - left - (x - 1) / 2) / x,
        ((rgb.shape[0] - 1) / 2 - top - (y - 1) / 2) / y,
    )
    small = shrink(rgb[top:bottom, left:right], w, h)
    return Picture(small, (x, y), focal_px / math.sqrt(x * y), centre, focal_known, (left, top))


@dataclass(frozen=True, eq=False)
class Maps:
    """What the network says of one picture.

    ``tube``, ``stick``, ``inside``, ``row_area`` (h, w) float32 logits on a coarse grid;
    ``from_picture`` (3, 3) picture px to that grid; ``kinds`` probability of each kind;
    ``flat`` probability of a lath.
    """

    tube: NDArray[np.float32]
    stick: NDArray[np.float32]
    inside: NDArray[np.float32]
    row_area: NDArray[np.float32]
    from_picture: NDArray[np.float64]
    kinds: dict[str, float]
    flat: float

    @property
    def to_picture(self) -> NDArray[np.float64]:
        """(3, 3) grid to picture px."""
        return np.asarray(np.linalg.inv(self.from_picture))

    def on_grid(self, at: NDArray[np.float64]) -> NDArray[np.float64]:
        """Places (..., 2) px of the picture on the coarse grid."""
        to = self.from_picture
        return np.asarray(at * [to[0, 0], to[1, 1]] + to[:2, 2])

    @property
    def cell_px(self) -> float:
        """Picture px that one cell of the grid is wide."""
        return 1 / float(self.from_picture[0, 0])


class Finder:
    """The network with its weights."""

    def __init__(
        self, net: Any, long_side_px: int, kinds: tuple[str, ...], maps: tuple[str, ...]
    ) -> None:
        self._net, self._long_side_px, self._kinds, self._maps = net, long_side_px, kinds, maps

    @staticmethod
    @functools.lru_cache(maxsize=2)
    def load(name_or_path: str | None = None) -> Finder:
        """The shipped finder, or one from a file; kept for the next photo.

        Raises
        ------
        InputError
            No such file, or its weights can't be used.
        """
        from tillercount.frame.network import FinderNet
        from tillercount.model.files import model_path, read_bundle

        bundle = read_bundle(model_path(name_or_path or FINDER))
        try:
            names = tuple(bundle.info["maps"])
            net = FinderNet(bundle.info["widths"], int(bundle.info["neck"]), len(names))
            missing, extra = net.load_state_dict(
                {k: v.float() for k, v in bundle.weights.items()}, strict=False
            )
            missing = [name for name in missing if not name.endswith("num_batches_tracked")]
            if missing or extra:
                raise RuntimeError(f"{len(missing)} missing, {len(extra)} unknown")
            long_side, kinds = int(bundle.info["long_side_px"]), tuple(bundle.info["kinds"])
        except (RuntimeError, KeyError, TypeError, ValueError) as error:
            raise InputError(
                f"model {bundle.path}: not weights of the frame finder ({error}); "
                "install tillercount again"
            ) from error
        return Finder(_ready(net), long_side, kinds, names)

    def __call__(self, picture: Picture) -> Maps:
        """Maps of one picture."""
        import torch

        from tillercount.frame.network import FLAT, normalise

        height, width = picture.shape
        share = self._long_side_px / max(height, width)
        w, h = max(1, round(width * share)), max(1, round(height * share))
        small = shrink(picture.rgb, w, h)
        padded = np.pad(small, ((0, -h % 32), (0, -w % 32), (0, 0)), mode="edge")
        with torch.inference_mode():
            x = normalise(torch.from_numpy(padded).permute(2, 0, 1)[None])
            maps, kinds = self._net(x.contiguous(memory_format=torch.channels_last))
            shares = torch.softmax(kinds[0, :FLAT], 0).tolist()
            flat = float(torch.sigmoid(kinds[0, FLAT]))
            grid = maps[0, :, : -(-h // 2), : -(-w // 2)].float().numpy().copy()
        # a cell is two px of the reduced picture; both grids share their upper left corner
        x_share, y_share = w / width / 2, h / height / 2
        to_grid = np.array(
            [[x_share, 0, (x_share - 1) / 2], [0, y_share, (y_share - 1) / 2], [0, 0, 1.0]]
        )
        planes = dict(zip(self._maps, grid, strict=True))
        kinds_seen = dict(zip(self._kinds, shares, strict=True))
        return Maps(
            planes["tube"],
            planes["stick"],
            planes["inside"],
            planes["row_area"],
            to_grid,
            kinds_seen,
            _lath_share(planes, flat),
        )


def _lath_share(planes: dict[str, NDArray[np.float32]], otherwise: float) -> float:
    """Mean probability of a lath over the frame's own pixels, where enough of them are seen."""
    frame = planes["tube"] > SURE_TUBE
    if "lath" not in planes or frame.sum() < LEAST_TUBE_CELLS:
        return otherwise
    return float((1 / (1 + np.exp(-planes["lath"][frame]))).mean())


def _ready(net: Any) -> Any:
    import torch

    return net.eval().to(memory_format=torch.channels_last)
