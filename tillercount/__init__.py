"""Plants and shoots per square foot from overhead photos of a small-grain stand.

The names below are loaded when first used, so that ``import tillercount`` costs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tillercount.area import Area, parse_area
    from tillercount.count import SpotCount, count_photo
    from tillercount.errors import InputError
    from tillercount.field import collect, estimate_field
    from tillercount.frame import find_area
    from tillercount.hand import HandCount
    from tillercount.handfile import read_hand_counts
    from tillercount.model import Counter
    from tillercount.photo import Photo, read_photo
    from tillercount.stand import Assessment, assess, load_rules
    from tillercount.topview import make_topview

__all__ = [
    "Area",
    "Assessment",
    "Counter",
    "HandCount",
    "InputError",
    "Photo",
    "SpotCount",
    "__version__",
    "assess",
    "collect",
    "count_photo",
    "estimate_field",
    "find_area",
    "load_rules",
    "make_topview",
    "parse_area",
    "read_hand_counts",
    "read_photo",
]

_HOMES = {
    "Area": "area",
    "Assessment": "stand",
    "Counter": "model",
    "HandCount": "hand",
    "InputError": "errors",
    "Photo": "photo",
    "SpotCount": "count",
    "assess": "stand",
    "collect": "field",
    "count_photo": "count",
    "estimate_field": "field",
    "find_area": "frame",
    "load_rules": "stand",
    "make_topview": "topview",
    "parse_area": "area",
    "read_hand_counts": "handfile",
    "read_photo": "photo",
}


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib import metadata

        try:
            return metadata.version("tillercount")
        except metadata.PackageNotFoundError:
            return "0+not.installed"
    if name not in _HOMES:
        raise AttributeError(f"module 'tillercount' has no attribute {name!r}")
    import importlib

    value = getattr(importlib.import_module(f"tillercount.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
