"""The counting network, its file, tiled prediction and calibration."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tillercount.model.calibrate import Calibration
    from tillercount.model.counter import Counter, ModelInfo
    from tillercount.model.files import model_path
    from tillercount.model.maps import InsideCount, PlantMaps

__all__ = ["Calibration", "Counter", "InsideCount", "ModelInfo", "PlantMaps", "model_path"]

_WHERE = {
    "Calibration": "calibrate",
    "Counter": "counter",
    "InsideCount": "maps",
    "ModelInfo": "counter",
    "PlantMaps": "maps",
    "model_path": "files",
}


def __getattr__(name: str) -> Any:
    # Lazy, so that asking for one name doesn't import the others.
    if name in _WHERE:
        from importlib import import_module

        return getattr(import_module(f"tillercount.model.{_WHERE[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
