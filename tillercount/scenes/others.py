"""What isn't a young stand of small grain: to show to a model, and to try whether it notices.

No count is ever trained on them. Sizes are common practice, not measured.
"""

from __future__ import annotations

from typing import Any

from tillercount.scenes.species import Species

__all__ = ["OTHER_SPECIES", "THINGS"]

OTHER_SPECIES = {
    s.name: s
    for s in (
        Species("maize", length=2.6, width=5.0, tillering=0.0, hue_deg=-4),
        Species("lawn", length=0.6, width=0.35, tillering=1.6, lightness=2),
    )
}

_BARE: dict[str, Any] = {
    "plants_per_ft2": 0.02, "broadleaf_per_m2": 0.0, "grass_per_m2": 0.0, "photographer": False,
    "decoys": 0, "snow": 0.0, "frost": 0.0,
}

THINGS: dict[str, dict[str, Any]] = {
    "bare soil": _BARE,
    "gravel": {**_BARE, "stones_per_m2": 4000.0, "litter_per_m2": 0.0},
    "maize seedlings": {
        **_BARE, "species": "maize", "plants_per_ft2": 0.9, "row_spacing_mm": 750.0, "size": 1.0,
        "haun": 3.5, "evenness": 8.0,
    },
    "lawn": {
        **_BARE, "species": "lawn", "plants_per_ft2": 150.0, "row_spacing_mm": None, "haun": 6.0,
        "size": 1.0, "tillering": 1.5, "gaps": 0.0, "litter_per_m2": 0.0, "photo_fill": 0.9,
    },
    "closed canopy": {
        **_BARE, "plants_per_ft2": 45.0, "row_spacing_mm": 125.0, "haun": 7.8, "size": 1.9,
        "tillering": 1.4, "prostrate": 0.1, "gaps": 0.0,
    },
}
"""Values for `draw_scene` (``overrides``) that make a picture of each thing."""
