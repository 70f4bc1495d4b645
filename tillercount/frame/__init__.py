"""Finding the marked area in a photo: the frame's inside edge, on the ground, with evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__all__ = ["FrameFit", "FrameNotFound", "find_area"]

if TYPE_CHECKING:
    from tillercount.frame.find import find_area
    from tillercount.frame.result import FrameFit, FrameNotFound


def __getattr__(name: str) -> Any:
    # the network is trained where OpenCV isn't installed, so nothing is imported before it is used
    if name == "find_area":
        from tillercount.frame.find import find_area

        return find_area
    if name in ("FrameFit", "FrameNotFound"):
        from tillercount.frame import result

        return getattr(result, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
