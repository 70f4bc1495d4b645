"""The counter: a model read from disk, asked about one top view after another."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from tillercount.errors import InputError
from tillercount.model.calibrate import Calibration, coverage_spread
from tillercount.model.decode import find_points
from tillercount.model.files import Bundle, model_path, read_bundle
from tillercount.model.maps import PlantMaps
from tillercount.model.novelty import Novelty
from tillercount.model.things import Things
from tillercount.model.tiles import pad_to_stride, run_views

if TYPE_CHECKING:
    from torch import Tensor, nn

__all__ = ["Counter", "ModelInfo", "View", "unusual_text"]

UNUSUAL_FROM = 1.0
WIDEN_UNUSUAL = 2.0
REFUSE_LIKE = 2.0
"""Resemblance to another crop or lawn from which a view is refused: a convention, twice what 1
stand in 400 has. Ground with nothing on it may be a true spot, never refused for its likeness."""
OTHER = 2  # channel of the other plants in a network's rates, after plants and shoots


class View(Protocol):
    """The part of a `TopView` that the counter needs."""

    @property
    def rgb(self) -> NDArray[np.uint8]: ...

    @property
    def valid(self) -> NDArray[np.bool_]: ...

    @property
    def mm_per_px(self) -> float: ...


@dataclass(frozen=True)
class ModelInfo:
    """What identifies a model and says what it may be used for.

    ``plants_bias_rel`` and ``shoots_bias_rel``: relative standard error that all photos of one
    field share and that more photos don't remove.
    """

    name: str
    version: str
    sha256: str
    path: Path
    mm_per_px: float
    licence: str
    attribution: str
    calibrated_on: str
    calibration_n: int
    plants_bias_rel: float = 0.0
    shoots_bias_rel: float = 0.0

    @property
    def coverage_text(self) -> str:
        """One sentence on how far a 90 % interval of this model can be trusted."""
        if not self.calibration_n:
            return "this model carries no calibration"
        low, high = coverage_spread(self.calibration_n)
        return (
            f"90 % intervals calibrated on {self.calibration_n} photos ({self.calibrated_on}); "
            f"on photos of that kind they really cover {low:.0%} to {high:.0%}"
        )


def unusual_text(resembles: str | None) -> str:
    """What is said of an unusual view, by the other thing that it looks like, if any."""
    looks = (
        "the picture is unlike those the model was trained on" if resembles is None
        else f"the picture looks more like {resembles} than like a young stand"
    )
    return f"{looks}: the interval is twice as wide; check this spot by hand"


class Counter:
    """A network with its preprocessing, thresholds and calibration.

    Make one with `Counter.load`; it holds no state between pictures and may be shared.

    Attributes
    ----------
    info : ModelInfo
    counts_other_plants : bool
        Whether the network says how many other plants (weeds) there are as well.
    """

    def __init__(self, bundle: Bundle) -> None:
        from tillercount.model.network import build

        meta = bundle.info
        try:
            network = build(meta["config"])
            wanted = {
                name for name, value in network.state_dict().items() if value.is_floating_point()
            }
            if wanted != set(bundle.weights):
                raise InputError(
                    f"model {bundle.path}: its weights don't fit the network it names; "
                    "install tillercount again, or name another model"
                )
            network.load_state_dict(bundle.weights, strict=False)
            self.counts_other_plants = network.config.counts > OTHER
            self._mean = np.asarray(meta["input"]["mean"], dtype=np.float32)
            self._std = np.asarray(meta["input"]["std"], dtype=np.float32)
            self._thresholds = (
                float(meta["thresholds"]["plant"]),
                float(meta["thresholds"]["shoot"]),
            )
            self._tiles: dict[str, int] = {k: int(v) for k, v in meta["tiles"].items()}
            self._calibration = {
                name: Calibration.read(values) for name, values in meta["calibration"].items()
            }
            numbers = meta["novelty"]
            self._novelty = Novelty.read(bundle.extra, numbers) if numbers else None
            self.refuse_from = float(numbers.get("refuse_from", math.inf))
            things = meta.get("things")
            self._things = Things.read(bundle.extra, things) if things else None
            first = next(iter(self._calibration.values()), None)
            self.info = ModelInfo(
                name=str(meta["name"]),
                version=str(meta["version"]),
                sha256=bundle.sha256,
                path=bundle.path,
                mm_per_px=float(meta["input"]["mm_per_px"]),
                licence=str(meta["licence"]),
                attribution=str(meta["attribution"]),
                calibrated_on=first.source if first else "",
                calibration_n=first.n if first else 0,
                plants_bias_rel=float(meta.get("shared_error", {}).get("plants", 0.0)),
                shoots_bias_rel=float(meta.get("shared_error", {}).get("shoots", 0.0)),
            )
        except (KeyError, TypeError, RuntimeError) as error:
            raise InputError(
                f"model {bundle.path}: its description is incomplete ({error}); "
                "install tillercount again, or name another model"
            ) from error
        self._network = _ready(network)

    @classmethod
    def load(cls, name_or_path: str | Path | None = None) -> Counter:
        """The shipped model, a model by name, or one by the path of its file.

        Raises
        ------
        InputError
            No such model, or its file is damaged or was changed.
        """
        return cls(read_bundle(model_path(name_or_path)))

    def predict(self, view: View) -> PlantMaps:
        """Maps and points of a top view at the model's scale; any size.

        Pixels outside the photo (``valid`` false) are shown to the network as the mean colour.

        Raises
        ------
        InputError
            The top view has another scale than the model was trained at.
        """
        if abs(view.mm_per_px / self.info.mm_per_px - 1) > 0.01:
            raise InputError(
                f"top view has {view.mm_per_px:g} mm per pixel; model {self.info.name} "
                f"needs {self.info.mm_per_px:g}; make the top view at that scale"
            )
        import torch

        height, width = view.rgb.shape[:2]
        with torch.inference_mode():
            output = run_views(self._network, self._prepared(view), **self._tiles)
            points = [
                find_points(output["heat"][k], output["offset"][2 * k : 2 * k + 2], threshold)
                for k, threshold in enumerate(self._thresholds)
            ]
            fine = output["classes"][:, : -(-height // 2), : -(-width // 2)]
            coarse = torch.nn.functional.avg_pool2d(output["classes"], 2)
            arrays = {name: output[name].numpy() for name in ("rate", "spread", "embedding")}
            coarse = coarse[:, : -(-height // 4), : -(-width // 4)]
        blocks = (slice(0, -(-height // 16)), slice(0, -(-width // 16)))
        embedding = arrays["embedding"]
        novelty = self._novelty.of(embedding) if self._novelty else math.nan
        like = self._things.of(embedding) if self._things else None
        return PlantMaps(
            height_px=height,
            width_px=width,
            mm_per_px=self.info.mm_per_px,
            classes=coarse.numpy(),
            fine_classes=fine.numpy(),
            plant_points=_within(points[0], width, height),
            shoot_points=_within(points[1], width, height),
            plant_density=arrays["rate"][0][blocks],
            shoot_density=arrays["rate"][1][blocks],
            plant_var=arrays["spread"][0][blocks],
            shoot_var=arrays["spread"][1][blocks],
            embedding=embedding,
            novelty=novelty,
            other_density=arrays["rate"][OTHER][blocks] if self.counts_other_plants else None,
            like=like,
        )

    def interval(
        self, what: str, count: float, variance: float, *, novelty: float = 0.0,
        level: float = 0.9, widen: float = 1.0,
    ) -> tuple[float, float]:
        """Low and high of a count of ``"plants"`` or ``"shoots"``; twice as wide if unusual.

        ``widen`` stretches it besides, for what is wrong with the photo.

        Raises
        ------
        InputError
            The model isn't calibrated, or not for this level.
        """
        if what not in self._calibration:
            raise InputError(
                f"model {self.info.name} carries no calibration of {what}; "
                "calibrate it on photos with known counts, or use another model"
            )
        widen *= WIDEN_UNUSUAL if novelty > UNUSUAL_FROM else 1.0
        return self._calibration[what].interval(count, variance, level, widen)

    def is_unusual(self, novelty: float) -> bool:
        """Whether a view is unlike the training pictures, so that its interval is widened."""
        return novelty > UNUSUAL_FROM

    def refusal(self, maps: PlantMaps) -> str | None:
        """Why a view can't be counted at all; None if it can."""
        novelty, like = maps.novelty, maps.like
        if like is not None and like.growing and like.much > REFUSE_LIKE:
            return (
                f"what grows in the marked area looks like {like.thing}, not like a young "
                f"stand of small grain (likeness {like.much:.1f}, limit {REFUSE_LIKE:.1f}); check "
                "that it is the right photo, or count this spot by hand"
            )
        if novelty > self.refuse_from:
            return (
                f"the marked area looks like nothing this model was trained on (novelty "
                f"{novelty:.1f}, limit {self.refuse_from:.1f}); check that the photo shows a young "
                "cereal stand, sharp and from straight above, or count this spot by hand"
            )
        return None

    def unusual(self, maps: PlantMaps) -> str | None:
        """What is odd about a view whose interval is widened for it; None if nothing is."""
        if maps.like is not None and maps.like.much > UNUSUAL_FROM:
            return unusual_text(maps.like.thing)
        return unusual_text(None) if self.is_unusual(maps.novelty) else None

    def _prepared(self, view: View) -> Tensor:
        """Normalised, padded picture (3, H, W)."""
        import torch

        scale = 1 / (255 * self._std)
        shift = self._mean / self._std
        image = view.rgb.astype(np.float32) * scale - shift
        image *= np.asarray(view.valid, dtype=np.float32)[..., None]
        # (H, W, 3) memory seen as (3, H, W) is what the convolutions like best.
        return pad_to_stride(torch.from_numpy(image).permute(2, 0, 1))


def _ready(network: Any) -> nn.Module:
    import torch

    network.fuse().requires_grad_(False)
    module: nn.Module = network.to(memory_format=torch.channels_last)
    return module


def _within(points: NDArray[np.float64], width: int, height: int) -> NDArray[np.float64]:
    ok = (points[:, 0] >= -0.5) & (points[:, 0] < width - 0.5)
    ok &= (points[:, 1] >= -0.5) & (points[:, 1] < height - 0.5)
    return points[ok]
