"""Which axils of a plant make a tiller, and how many leaves each has.

When and how often as measured on winter wheat (open architectural data of openalea/adel, echap and
WALTer, CeCILL-C); tiller order from Krenzer & Nipp 1991.
"""

from __future__ import annotations

import numpy as np

__all__ = ["FREED", "free_of_stage", "tillers_of"]

FREED = 0.2
"""Share of stands whose tillers don't go by the stage.

Where they always do (logarithm of shoots per plant against leaves: r 0.88), a network needn't see
which shoots stand together: it reads the stage, and plants are off by as much as stands of one
stage differ (a quarter), in thin stands too, where a person sees each plant. Thin stands with much
nitrogen have far more tillers than the stage says, crowded, late or frosted ones fewer (common
practice); how far is not measured. In versions 13 to 15 half of the stands were so. Most stands do
go by the stage, though, and where a photo shows too little to tell, that is what there is to go by.
"""

# main-stem leaf number (Haun) at which the first leaf of T1..T4 appears, and how often it does
TILLER_AT = np.array([2.5, 3.4, 4.6, 5.8, 6.9])
TILLER_SHARE = np.array([0.88, 0.88, 0.75, 0.45, 0.3])
LAGS = 0.3
"""Leaves by which a tiller that has caught up is behind its main stem."""
_OLDEST = 8.5
"""Tillers come no earlier than they would on a plant of so many leaves: some ten shoots."""


def free_of_stage(haun: float, rng: np.random.Generator) -> dict[str, float]:
    """``tillering`` and ``tillers_early`` of a stand with few or many tillers at any stage."""
    latest = min(3.5, _OLDEST - haun)
    return {
        "tillering": float(rng.uniform(0.2, 1.6)),
        "tillers_early": float(rng.uniform(-3.0, latest)),
    }


def tillers_of(
    haun: float, share: float, early: float, alike: float, rng: np.random.Generator
) -> list[tuple[int, float]]:
    """Rank of the parent leaf and leaf number of each tiller of one plant, secondary ones too.

    Parameters
    ----------
    haun : leaves of the main stem
    share : factor on how often an axil makes a tiller
    early : leaves by which tillers come before (or, below 0, after) their measured time; none gets
        ahead of its main stem
    alike : 0 … 1, how far tillers that are there have caught up with the main stem
    """
    out: list[tuple[int, float]] = []
    for rank, (at, often) in enumerate(zip(TILLER_AT, TILLER_SHARE, strict=True)):
        own = haun + early - at + rng.normal(0, 0.15)
        if own < 0.15 or rng.random() > min(0.98, often * share):
            continue
        out.append((rank, own))
        later = own - 2.4
        order = 0
        while later > 0.15 and order < 2:
            if rng.random() < 0.7 * often * share:
                out.append((rank, later))
            later -= 1.1
            order += 1
    most = haun - LAGS
    return [(rank, min(own, most) + alike * max(0.0, most - own)) for rank, own in out]
