"""The chance that so many more spots give a clear verdict, over all that the counts leave open.

Every estimate that more spots may come to (`tillercount.field.outcomes`) is held against the rule
as the present one is; the chance is the share of them that come out clear, whichever class they
come out at. A clear verdict is not thereby a right one: of those that are called clear at 80 %, up
to one in five may be wrong.

Said and come true in 600 simulated fields of 2 to 8 spots, 8 more counted: 40 % and 38 % where the
fields' means are spread over 5 to 110 plants per square foot; 38 % and 34 % where all lie between
12 and 45, since a mean far out then mostly moves back, which isn't reckoned with. Where four of
eight photos that err together by 20 % are counted by hand too: 26 % and 22 % in 350 fields of the
second kind; all eight: 28 % and 25 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.field.density import DensityEstimate
from tillercount.field.outcomes import outcomes
from tillercount.field.stop import MINUTES, Kind, corrects
from tillercount.stand.ruleset import Rule

__all__ = ["Prospect", "in_ten", "prospects"]

STEPS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20)
"""Numbers of further spots looked at; more aren't worth the walk (a convention of our own)."""


@dataclass(frozen=True)
class Prospect:
    """So many more spots of one kind, the minutes they take, and the chance of a clear verdict."""

    kind: Kind
    spots: int
    minutes: float
    chance: float
    of_these: int = 0
    """So many of them at spots that have a photo already, whose error they take away."""

    @property
    def text(self) -> str:
        """Like "4 more spots by photo", or "6 of these spots by hand"."""
        if not self.of_these:
            return f"{self.spots} more spot{'s' if self.spots > 1 else ''} by {self.kind}"
        more = self.spots - self.of_these
        and_more = f" and {more} more" if more else ""
        return f"{self.of_these} of these spots{and_more} by {self.kind}"

    def record(self) -> dict[str, Any]:
        """As plain values."""
        return {
            "kind": self.kind,
            "spots": self.spots,
            "minutes": self.minutes,
            "chance_of_clear": self.chance,
            "at_photographed_spots": self.of_these,
        }


def prospects(
    estimate: DensityEstimate,
    borders: Sequence[float],
    rule: Rule,
    clear_from: float,
    counts: Sequence[int] = STEPS,
) -> tuple[Prospect, ...]:
    """The chance for each kind of spot and each number; by photo only where there are photos.

    Parameters
    ----------
    estimate : DensityEstimate
    borders : sequence of float
        Those between the rule's bands, per m².
    rule : Rule
    clear_from : float
        Probability of its class from which a verdict is clear.
    counts : sequence of int
        Numbers of further spots.
    """
    scatter = estimate.scatter
    if scatter is None:
        return ()
    kinds: list[Kind] = ["photo", "hand"] if scatter.photos or scatter.pairs else ["hand"]
    found = []
    for kind in kinds:
        minutes = MINUTES.photo if kind == "photo" else MINUTES.hand
        for then in sorted(outcomes(estimate, kind, counts), key=lambda one: one.count):
            edges = [np.zeros_like(then.mean), *(then.under(b) for b in borders)]
            edges.append(np.ones_like(then.mean))
            classes: dict[str, NDArray[np.float64]] = {}
            for band, share in zip(rule.bands, np.diff(edges, axis=0), strict=True):
                classes[band.class_] = share + classes.get(band.class_, 0.0)
            clear = np.max(list(classes.values()), axis=0) >= clear_from
            at = then.count if kind == "hand" and corrects(scatter, then.count) else 0
            found.append(
                Prospect(
                    kind, then.count, then.count * minutes, float(clear.mean()),
                    min(at, scatter.photos),
                )
            )  # fmt: skip
    return tuple(found)


def in_ten(chance: float) -> str:
    """A chance as people say it: "about 7 in 10"; never none and never all."""
    if chance < 0.05:
        return "less than 1 in 10"
    if chance >= 0.95:
        return "more than 9 in 10"
    return f"about {max(1, min(9, round(10 * chance)))} in 10"
