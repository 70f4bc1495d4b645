"""How plants are built where stands differ: slenderness, posture, how tillers stand.

Measured means hold for a few cultivars grown in one climate. A network that sees no others learns
the stage of a stand from how slender its leaves are, and from the stage how many shoots a plant
has: a counter made so took 48 % more plants where the same leaves were two fifths narrower, 27 %
more where they were half as long again. So most stands are drawn about the measured means and
far from them; how far is common practice (varieties, shade, nitrogen and cold), not measured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

__all__ = ["Form", "draw_form"]

AS_MEASURED = 0.3
"""Share of stands that are built as the measured ones."""


@dataclass(frozen=True)
class Form:
    """Factors and angles beside the measured means; as it is, nothing is changed.

    Attributes
    ----------
    long, broad : factors on the length and the width of blades
    by_rank : how much wider later leaves are: 1 as measured, 0 all alike
    lance : 0 the measured outline of a blade … 1 narrow at its base and widest in the middle
    fold : how far the edges stand above the midrib, as a share of half the width
    twist, drift : spread, radians, of how blades twist and turn aside
    stem, stout : factors on the height and the thickness of the sheaths
    straight, straight_deg : 0 measured midribs … 1 straight ones this far from the vertical
    uneven : factor on the spread of the midribs' angles
    young_flat : 0 … 1, how far the youngest leaf lies flat as well
    around : 0 leaves in one plane … 1 all round their shoot
    leaves : at most so many leaves of a shoot are left
    sides : spread, radians, of the sides to which tillers come out; 0.6 leaves them in two ranks
    aside_mm : by how much tillers stand further from their main stem
    lean_deg : by how much tillers lean out further
    kinked : share of grown leaves that wind, frost or a wheel has bent sharply somewhere
    sunk : share of grown leaves of which a piece that lies on the ground is under soil
    mixed : factor on how much leaves of a shoot differ from their mean length and width
    unlike : spread (logarithms) of the sizes of a plant's shoots
    patchy : spread (logarithms of light) of how bright a leaf is along its length
    dusty : how much of an old leaf's colour splashed soil hides at most, 0 … 1
    """

    long: float = 1.0
    broad: float = 1.0
    by_rank: float = 1.0
    lance: float = 0.0
    fold: float = 0.2
    twist: float = 0.8
    drift: float = 0.35
    stem: float = 1.0
    stout: float = 1.0
    straight: float = 0.0
    straight_deg: float = 40.0
    uneven: float = 1.0
    young_flat: float = 0.0
    around: float = 0.0
    leaves: int = 99
    sides: float = 0.6
    aside_mm: float = 0.0
    lean_deg: float = 0.0
    kinked: float = 0.0
    sunk: float = 0.0
    mixed: float = 1.0
    unlike: float = 0.0
    patchy: float = 0.0
    dusty: float = 0.0


def draw_form(rng: np.random.Generator) -> Form:
    """Draw how the plants of a stand are built."""
    fold = float(rng.uniform(0.05, 0.4))
    if rng.random() < AS_MEASURED:
        return Form(fold=fold, kinked=float(rng.uniform(0.0, 0.3)),
                    patchy=float(rng.uniform(0.0, 0.25)))

    def sometimes(chance: float, low: float, high: float, usual: float) -> float:
        other = float(rng.uniform(low, high))
        return other if rng.random() < chance else usual

    def about(sd: float, low: float, high: float) -> float:
        return float(np.clip(rng.lognormal(0, sd), low, high))

    return Form(
        long=about(0.24, 0.5, 1.8),
        broad=about(0.3, 0.5, 1.9),
        by_rank=sometimes(0.7, 0.0, 1.3, 1.0),
        lance=sometimes(0.5, 0.0, 1.1, 0.0),
        fold=sometimes(0.5, 0.0, 0.9, fold),
        twist=sometimes(0.35, 1.5, 3.2, float(rng.uniform(0.0, 1.5))),
        drift=sometimes(0.3, 0.7, 1.5, float(rng.uniform(0.0, 0.7))),
        stem=about(0.45, 0.3, 2.5),
        stout=about(0.3, 0.5, 2.0),
        straight=sometimes(0.45, 0.2, 1.0, 0.0),
        straight_deg=float(rng.uniform(15, 70)),
        uneven=float(rng.uniform(0.4, 2.2)),
        young_flat=sometimes(0.25, 0.0, 1.0, 0.0),
        around=sometimes(0.4, 0.0, 1.0, 0.0),
        leaves=int(rng.choice([2, 3, 4])) if rng.random() < 0.35 else 99,
        sides=sometimes(0.6, 0.3, 3.0, 0.6),
        aside_mm=sometimes(0.35, 0.0, 8.0, 0.0),
        lean_deg=sometimes(0.35, 0.0, 22.0, 0.0),
        kinked=sometimes(0.6, 0.0, 0.7, 0.05),
        sunk=sometimes(0.5, 0.0, 0.6, 0.0),
        mixed=sometimes(0.5, 1.0, 3.5, 1.0),
        unlike=sometimes(0.5, 0.0, 0.4, 0.0),
        patchy=sometimes(0.7, 0.0, 0.6, 0.05),
        dusty=sometimes(0.5, 0.0, 1.0, 0.0),
    )
