"""Path-traced plots with known truth: the same scenes for training, tests, demos and teaching.

``draw_scene(seed)`` draws everything in a picture from documented distributions;
``render_to(scene, stem)`` traces it and writes the photo, the class of every pixel and the truth.
"""

from __future__ import annotations

from typing import Any

__all__ = ["Scene", "draw_scene", "render_to", "set_variant", "trace"]


def __getattr__(name: str) -> Any:
    if name in ("Scene", "draw_scene"):
        from tillercount.scenes import draw

        return getattr(draw, name)
    if name in ("set_variant", "trace"):
        from tillercount.scenes import render

        return getattr(render, name)
    if name == "render_to":
        from tillercount.scenes.write import render_to

        return render_to
    raise AttributeError(name)
