"""What to mind about a field beside its verdict: stage, tillers per plant, heads."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tillercount.field.density import normal, student
from tillercount.field.estimate import FieldEstimate
from tillercount.stand.classify import Classified
from tillercount.stand.country import yields_from_elsewhere
from tillercount.stand.expect import Expectation
from tillercount.stand.late import past_use
from tillercount.stand.limits import EXCESSIVE_BY, EXCESSIVE_SHOOTS_FT2, excessive
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.shares import class_shares
from tillercount.stand.stage import Stage
from tillercount.stand.words import number_text, percent
from tillercount.units import per_ft2

__all__ = [
    "Tillers",
    "stage_hints",
    "stage_or_tillers",
    "thin_heads",
    "tillers_each",
    "tillers_hint",
]

WANTED_TILLERS = (3, 5)
"""Tillers on each plant: common practice."""
NO_STAGE = (
    "no growth stage was given: what is said of early nitrogen holds before Feekes 5 only; from "
    "there on, when the false stem stands upright, it comes too late"
)
MOST_SHOOTS = {0: 1, 1: 1, 2: 1, 3: 2, 4: 3, 5: 5, 6: 8}
"""Shoots on a plant by the leaves of its main stem, at most: each tiller waits for its leaf (from
memory). The first one shows at 2.5 leaves (CIMMYT) or with the fourth (North Carolina State)."""
_FIRST_TILLER = 20
"""GS of a main stem alone; each tiller adds one (BBCH)."""
HARDLY = 0.05
"""A class less probable than this isn't put forward by its few tillers: our own convention."""
FEWEST_BOTH = 3
"""Spots with plants and shoots below which nothing is said of a plant's tillers: a convention of
our own."""


@dataclass(frozen=True)
class Tillers:
    """Tillers on a plant besides its main stem, to whole ones: the mean, and the limits of it."""

    each: int
    low: int
    high: int
    level: float

    @property
    def words(self) -> str:
        """ "about 2 tillers (1 to 3, 90% interval)"; "hardly a tiller" only where that is sure."""
        if self.high == 0:
            return "hardly a tiller"
        if self.each == 0:
            plural = "s" if self.high > 1 else ""
            return f"between none and {self.high} tiller{plural} ({self.level:.0%} interval)"
        within = f"{self.low} to {self.high}, {self.level:.0%} interval"
        doubt = f" ({within})" if self.low != self.high else ""
        return f"about {self.each} tiller{'s' if self.each > 1 else ''}{doubt}"


def stage_hints(rules: RuleSet, stage: Stage | None) -> list[str]:
    """Where the growth stage isn't one that the rules were made for, or isn't known."""
    if stage is None:
        early = any(band.early in {"push", "some"} for rule in rules.rules for band in rule.bands)
        return [NO_STAGE] if early else []
    window = f"{rules.stage.from_} to {rules.stage.to}"
    if stage.jointed:
        return [
            f"{stage.words} is after jointing: the early-nitrogen rule doesn't apply any more, and "
            f"stand rules for {window} only roughly"
        ]
    place = rules.stage.place(stage)
    if place == "within":
        return []
    late = "later" if place == "after" else "earlier"
    return [
        f"{stage.words} is {late} than the stages these rules were made for ({window}); "
        f"take the verdict with care. Look for: {stage.feature}"
    ]


def thin_heads(heads: Expectation, rules: RuleSet, trade: RuleSet) -> list[str]:
    """Where even the best survival in print leaves too few heads; common practice's, for North
    America alone."""
    if rules.heads is None and yields_from_elsewhere(rules):
        return []
    goal, by = (rules.heads, rules.by) if rules.heads else (trade.heads, trade.by)
    if goal is None or heads.high * heads.sampling[1] >= goal.wanted:
        return []
    return [
        f"even at the best survival in print these shoots make fewer than {goal.wanted:g} heads "
        f"per square foot ({by} wants at least that many)"
    ]


def tillers_each(rules: RuleSet, field: FieldEstimate) -> Tillers | None:
    """Tillers on each plant besides its main stem; None where that isn't known.

    For common practice alone, which asks for it.
    """
    return _each(field) if rules.name == "common-practice" else None


def stage_or_tillers(stage: Stage | None, field: FieldEstimate) -> list[str]:
    """Where plants have more tillers than their leaves allow: the stage is wrong, or the count."""
    found = _each(field)
    if stage is None or found is None or stage.gs[1] > 19:
        return []
    each = found.each
    leaves = stage.gs[1] - 10
    if stage.gs == (10, 19):
        most, why = 1, f"in which a plant has no tiller yet ({stage.feature}: BBCH)"
    elif leaves in MOST_SHOOTS:
        most = MOST_SHOOTS[leaves]
        has = "no tiller yet" if most == 1 else f"{most - 1} tiller{'s' * (most > 2)} at most"
        why = f"in which a plant has {has} (by its leaves; from memory)"
    else:
        return []
    if each < most + (stage.gs == (10, 19)):
        return []
    return [
        f"{stage.words} was given, {why}, but about {each} on each were counted: look at a few "
        "plants. Either the stage is later (tillers are formed: Feekes 3), and what is said of "
        "early nitrogen and sprays goes by it, or leaves were taken for shoots"
    ]


def _each(field: FieldEstimate) -> Tillers | None:
    """Tillers on a plant besides its main stem; None where that isn't known.

    Only spots where both were counted tell how many a plant has; fewer than three tell nothing. A
    plant's shoots are its main stem and its tillers. The limits are those of the ratio of two means
    on the same spots (linearised: Cochran, Sampling Techniques, 3rd ed. 1977, ch. 2; from memory),
    with the errors that photos have in common, taken as independent for plants and shoots.
    """
    both = [
        (spot.plants_per_m2, spot.shoots_per_m2, spot)
        for spot in field.used
        if spot.plants_per_m2 and spot.shoots_per_m2 is not None
    ]
    n = len(both)
    if field.definition.min_leaves or n < FEWEST_BOTH:
        return None
    plants, shoots = sum(p for p, _, _ in both), sum(s for _, s, _ in both)
    ratio = shoots / plants
    own = math.sqrt(n / (n - 1) * math.fsum((s - ratio * p) ** 2 for p, s, _ in both)) / plants
    shared = ratio * math.hypot(
        math.fsum(p * one.plants_bias_rel for p, _, one in both) / plants,
        math.fsum(s * one.shoots_bias_rel for _, s, one in both) / shoots if shoots else 0.0,
    )
    upper = (1 + field.level) / 2
    half = math.hypot(student(upper, n - 1) * own, normal(upper) * shared)
    ends = (ratio - 1, ratio - half - 1, ratio + half - 1)
    each, low, high = (round(max(0.0, end)) for end in ends)
    return Tillers(each, low, high, field.level)


def tillers_hint(
    each: Tillers | None,
    field: FieldEstimate,
    plants: Classified | None,
    stage: Stage | None = None,
) -> list[str]:
    """What came of the look at tillers: common practice wants 3 to 5 on each plant of a stand.

    Shoots that are excessive by themselves are enough, however few come to a plant. Before the
    stage that has three tillers (GS23, BBCH) they can't be there yet, long after jointing nothing
    can be done about them, and counts that are probably mistyped say nothing of plants.
    """
    mistyped = plants is not None and plants.held is not None and plants.held.counts
    if each is None or mistyped or past_use(stage):
        return []
    low, high = WANTED_TILLERS
    many = each.words
    said = f"{many} besides each main stem; common practice wants {low} to {high}"
    shoots = per_ft2(field.shoots.mean) if field.shoots is not None else 0.0
    asked = plants is not None and bool(plants.band.do_tillers)
    if each.each >= low:
        sure = "" if each.low >= low else " by the mean, though it may be fewer"
        return [f"{said}: enough{sure}"] if asked else []
    if stage is not None and stage.gs[1] < _FIRST_TILLER + low:
        return [
            f"{many} besides each main stem: at {stage.words} more can't be there yet, and the "
            f"{low} to {high} of common practice are for later; look again then"
        ]
    if excessive(shoots):
        return [
            f"{said}, but {number_text(shoots)} shoots per ft² are enough all the same: don't "
            f"treat the field as thin (more than {EXCESSIVE_SHOOTS_FT2:g} is called excessive, "
            f"{EXCESSIVE_BY})"
        ]
    return [f"{said}{_thinner(plants, few=each.high < low)}"]


def _thinner(plants: Classified | None, *, few: bool) -> str:
    """What follows: a thinner class, where the count itself says that it may well be true, and
    where tillers are surely ``few``."""
    if plants is None:
        return ""
    classes = list(plants.probabilities)
    place = classes.index(plants.class_)
    if place == 0:
        return ""
    under = classes[place - 1]
    if plants.probabilities[under] < HARDLY:
        share = percent(class_shares(plants)[under])
        return (
            f", but by the count of plants “{plants.called(under)}” is hardly likely ({share}), so "
            "that alone changes nothing"
        )
    if not few:
        return (
            f"; too few would make it “{plants.called(under)}” rather than "
            f"“{plants.called(plants.class_)}”, and that isn't sure: look at a few plants"
        )
    return f": perhaps “{plants.called(under)}” rather than “{plants.called(plants.class_)}”"
