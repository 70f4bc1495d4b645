"""Probability of each class of a stand, given the interval of its density.

The field's true mean density is believed to lie where its interval says
(`tillercount.field.density.believed_under`, so the interval and the probabilities say the same
thing), cut off at zero, since no density is below it: P(a ≤ x < b) = (F(b) - F(a)) / (1 - F(0)).
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from tillercount.field.estimate import ASSUMED_CV, DensityEstimate
from tillercount.field.samplesize import spots_to_clear
from tillercount.field.stop import Further, StopRule, further, stop_rule
from tillercount.stand.prospect import Prospect, prospects
from tillercount.stand.ruleset import Band, Rule
from tillercount.stand.words import join
from tillercount.units import per_ft2

__all__ = ["CLEAR", "Classified", "Hold", "classify"]

CLEAR = 0.8
"""A verdict is clear when its class is at least this probable."""

LIKELY = 0.1
"""Classes less probable than this aren't named among the possible ones."""

TOLD = 0.01
"""Bands less probable than this add nothing to the chance that is shown of their class."""


@dataclass(frozen=True)
class Hold:
    """Why a verdict isn't given, however probable its class looks.

    ``why`` is half a sentence; ``remedy`` what to do first, empty where more counting is it.
    ``counts``: the counts themselves are probably mistyped, so nothing else is advised before.
    """

    why: str
    remedy: str = ""
    counts: bool = False


@dataclass(frozen=True)
class Classified:
    """A density held against one rule.

    Attributes
    ----------
    rule : Rule
    mean, low, high : float
        The density in the rule's unit.
    band_probabilities : tuple of float
        One per band; they sum to 1.
    probabilities : dict of str to float
        One per class, in the rule's order; they sum to 1.
    band : Band
        The band that the verdict speaks of: the mean's own where it is of the likeliest class,
        else the likeliest band of that class.
    border : float or None
        Nearest border between two classes.
    spots_needed : int or None
        Spots in all that would put that border outside the interval, if more spots scatter as
        these do; None where clear, or where no number of spots would.
    n : int
        Spots counted.
    shared_reaches : bool
        Whether the error that all photos share reaches the border by itself.
    further : tuple of Further
        How many more spots of each kind would settle it; empty where clear.
    stop : StopRule or None
        Whether counting may stop, looked at after every spot; densities per m².
    scale, df : float
        Of the estimate's t interval, in the rule's unit.
    held : Hold or None
        What the probabilities don't know of, and what keeps the verdict from being clear.
    late : {"", "due", "over"}
        From Feekes 5 on early nitrogen is no choice any more: what is left is due, or it is past
        the last stage that print calls useful.
    no_early : str
        Why the shoots speak against early nitrogen, whatever the class of the plants wants; empty
        where they don't.
    estimate : DensityEstimate or None
        What it was reckoned from.
    """

    rule: Rule
    mean: float
    low: float
    high: float
    band_probabilities: tuple[float, ...]
    probabilities: dict[str, float]
    band: Band
    border: float | None
    spots_needed: int | None
    n: int
    shared_reaches: bool = False
    further: tuple[Further, ...] = ()
    stop: StopRule | None = None
    scale: float = 0.0
    df: float = math.inf
    held: Hold | None = None
    no_early: str = ""
    late: Literal["", "due", "over"] = ""
    estimate: DensityEstimate | None = field(default=None, compare=False, repr=False)

    @cached_property
    def prospects(self) -> tuple[Prospect, ...]:
        """The chance that more spots give a clear verdict; reckoned when first asked for.

        Empty where the class is clear by its probability, or the rule has no borders.
        """
        if self.estimate is None or self.border is None or self._sure:
            return ()
        borders = [border / self.unit_per_m2 for border in self.rule.borders]
        return prospects(self.estimate, borders, self.rule, CLEAR)

    @property
    def _sure(self) -> bool:
        return self.probabilities[self.class_] >= CLEAR and self.n > 1

    @property
    def unit_per_m2(self) -> float:
        """One plant or shoot per m² in the rule's unit."""
        return in_unit(1.0, self.rule)

    @property
    def border_per_m2(self) -> float | None:
        """The nearest border, per m²."""
        return None if self.border is None else self.border / self.unit_per_m2

    @property
    def borders_per_ft2(self) -> tuple[float, ...]:
        """The rule's borders per ft², beside which the density's figures are rounded."""
        return tuple(per_ft2(border / self.unit_per_m2) for border in self.rule.borders)

    @property
    def class_(self) -> str:
        """The likeliest class."""
        return self.band.class_

    @property
    def clear(self) -> bool:
        """Whether that class is at least 80 % probable, and nothing holds the verdict back."""
        return self.held is None and self.probabilities[self.class_] >= CLEAR

    @property
    def likely(self) -> tuple[Band, ...]:
        """One band for each class that may well be true, likeliest first."""
        best = self._best
        order = sorted(self.probabilities, key=lambda name: -self.probabilities[name])
        return tuple(best[name] for name in order if self.probabilities[name] >= LIKELY)

    def called(self, class_: str | None = None) -> str:
        """A class in the trade's words, the likeliest one where none is given.

        Its chance is that of all its bands. So several go by the name that the rule file has for
        them together, or by their own joined by "or", and never by one band's alone.
        """
        class_ = self.class_ if class_ is None else class_
        words = self.rule.words_of(class_)
        if words is not None:
            return words.name
        return join([band.called for band in self.bands_of(class_, TOLD)], "or")

    def name_of(self, class_: str | None = None) -> str:
        """As `called`, with what follows from it where the class has one band."""
        own = self.bands_of(self.class_ if class_ is None else class_, TOLD)
        return self.titled(own[0]) if self._named_alone(own) else self.called(class_)

    def titled(self, band: Band) -> str:
        """A band's name with what follows from it, where that still holds for this field.

        For a crop that joints it comes too late; and nobody is told to push tillers where the
        shoots speak against it.
        """
        if self.late:
            return band.called
        if self.no_early and band.asks_early and band.name != band.called:
            return f"{band.called}: early nitrogen would push tillers, but enough shoots are there"
        return band.name

    @property
    def early_held(self) -> str:
        """Why early nitrogen is held back that a class that may be true would get; else empty."""
        bands = (self.band,) if self.clear else self.likely
        asked = self.held is None and any(band.asks_early for band in bands)
        return self.no_early if asked else ""

    @property
    def say(self) -> str:
        """One sentence for the grower, for all of the likeliest class; may be empty."""
        own = self.bands_of(self.class_, TOLD)
        words = self.rule.words_of(self.class_)
        if words is not None and words.say:
            return words.say
        said = {band.say for band in own}
        return said.pop() if len(said) == 1 else f"The stand is “{self.called()}”."

    def bands_of(self, class_: str, least: float = LIKELY) -> tuple[Band, ...]:
        """The bands of a class that are at least so likely; the likeliest where none is."""
        shares = zip(self.rule.bands, self.band_probabilities, strict=True)
        own = [band for band, share in shares if band.class_ == class_ and share >= least]
        return tuple(own) or (self._best[class_],)

    def _named_alone(self, own: tuple[Band, ...]) -> bool:
        return len(own) == 1 and self.rule.words_of(own[0].class_) is None

    @property
    def _best(self) -> dict[str, Band]:
        best: dict[str, tuple[float, Band]] = {}
        for band, share in zip(self.rule.bands, self.band_probabilities, strict=True):
            if band.class_ not in best or share > best[band.class_][0]:
                best[band.class_] = (share, band)
        best[self.class_] = (1.0, self.band)
        return {name: band for name, (_, band) in best.items()}


def in_unit(per_m2: float, rule: Rule) -> float:
    """A density per m² in the rule's unit."""
    return per_ft2(per_m2) if rule.unit == "ft2" else per_m2


def classify(estimate: DensityEstimate, rule: Rule) -> Classified:
    """Hold a field's density against the bands of a rule."""
    mean = in_unit(estimate.mean, rule)
    shares = _band_probabilities(estimate, rule)
    classes: dict[str, float] = {}
    for band, share in zip(rule.bands, shares, strict=True):
        classes[band.class_] = min(1.0, classes.get(band.class_, 0.0) + share)  # rounding
    top = max(classes, key=lambda name: classes[name])
    own = rule.bands[rule.index_of(mean)]
    if own.class_ == top:
        band = own
    else:
        index = max(
            (i for i, b in enumerate(rule.bands) if b.class_ == top), key=lambda i: shares[i]
        )
        band = rule.bands[index]
    borders = rule.class_borders
    border = min(borders, key=lambda b: abs(b - mean)) if borders else None
    needed = None
    more: tuple[Further, ...] = ()
    one = in_unit(1.0, rule)
    if border is not None and classes[top] < CLEAR:
        more = further(estimate, border / one)
        if estimate.scatter is not None and estimate.scatter.pairs:
            counts = [kind.spots for kind in more if kind.spots is not None]
            needed = estimate.n + min(counts) if counts else None
        else:
            cv = ASSUMED_CV if estimate.cv is None else estimate.cv
            needed = spots_to_clear(
                mean, border, cv, level=estimate.level, shared_rel=estimate.shared_rel
            )
    return Classified(
        rule=rule,
        mean=mean,
        low=in_unit(estimate.low, rule),
        high=in_unit(estimate.high, rule),
        band_probabilities=shares,
        probabilities=classes,
        band=band,
        border=border,
        spots_needed=needed,
        n=estimate.n,
        shared_reaches=border is not None
        and spots_to_clear(mean, border, 0.0, level=estimate.level, shared_rel=estimate.shared_rel)
        is None,
        further=more,
        stop=stop_rule(estimate, [b / one for b in borders]) if borders else None,
        scale=in_unit(estimate.scale, rule),
        df=estimate.df,
        estimate=estimate,
    )


def _band_probabilities(estimate: DensityEstimate, rule: Rule) -> tuple[float, ...]:
    one = in_unit(1.0, rule)
    edges = [0.0, *(float(p) for p in estimate.under([b / one for b in rule.borders])), 1.0]
    return tuple(max(0.0, b - a) for a, b in itertools.pairwise(edges))
