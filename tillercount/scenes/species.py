"""What differs between the small grains."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["SPECIES", "Species"]


@dataclass(frozen=True)
class Species:
    """What differs between the small grains, as factors on the wheat measurements."""

    name: str
    length: float = 1.0
    width: float = 1.0
    tillering: float = 1.0
    hue_deg: float = 0.0
    lightness: float = 0.0


# wheat: measured; the others: common practice (how the seedlings differ to the eye)
SPECIES = {
    s.name: s
    for s in (
        Species("wheat"),
        Species("barley", length=1.05, width=1.25, tillering=1.15, hue_deg=-5, lightness=4),
        Species("rye", length=0.95, width=0.85, tillering=1.1, hue_deg=6, lightness=-2),
        Species("oats", length=1.1, width=1.15, tillering=0.8, hue_deg=2, lightness=1),
        Species("triticale", length=1.1, width=1.1, tillering=0.95, hue_deg=5, lightness=0),
    )
}
