"""What can hurt a crop, a creek, a person or a claim: said with every assessment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tillercount.stand.country import for_us
from tillercount.stand.ruleset import RuleSet

__all__ = ["GENERAL", "PHOTOS_BY", "Advice", "call_first", "cautions_for", "in_brief"]


@dataclass(frozen=True)
class Advice:
    """One thing to do or to mind, with where it comes from.

    ``short`` says the same in one line of a small screen, where the text is longer than that.
    """

    text: str
    source: str
    short: str = ""

    @property
    def line(self) -> str:
        """Text and source in one line."""
        return f"{self.text} ({self.source})" if self.source else self.text

    @property
    def brief(self) -> str:
        """The short text, else the whole one."""
        return self.short or self.text


INSURANCE = Advice(
    "This is not an insurance appraisal; do not destroy a stand before release. Report a loss to "
    "your agent within 72 hours, and to FSA; an adjuster must see the stand first.",
    "University of Nebraska CropWatch 2019, Options for failed wheat; Michigan, Farm Progress 2023",
    "This is not an insurance appraisal; do not destroy a stand before release.",
)
CALL_AGENT = Advice(
    "Call your crop insurance agent before you change anything on this field.",
    "University of Nebraska CropWatch 2019, Options for failed wheat",
)
NOT_INSURERS = Advice(
    "This is not an insurance appraisal; do not destroy a stand before release by your insurer, if "
    "it is insured: ask there before you change anything.",
    "common practice",
)
ASK_INSURER = Advice(
    "Where the crop is insured, ask your insurer before you change anything on this field.",
    "common practice",
)
# 1 March is the state's own wording; a broadcaster's report of the 2024 notice has another date.
PLAN = Advice(
    "Stay within your nutrient-management plan and the dates in force, and check this year's "
    "notice: Maryland, for one, has opened spring nitrogen on small grains on 15 February in most "
    "years and later in others, and manure not before 1 March.",
    "Maryland Department of Agriculture notices 2013-2024",
    "Keep to your nutrient-management plan and to the dates in this year's notice.",
)
LOCAL_LIMITS = Advice(
    "Your country's limits on nitrogen and its closed periods hold, and so does your own nutrient "
    "plan: ask locally before anything is spread.",
    "common practice",
    "Your country's limits and closed periods hold; ask locally.",
)
GROUND = Advice(
    "Spread nothing on frozen, snow-covered or saturated ground.",
    "NRCS 590 as quoted by the University of Kentucky 2021; Ohio 4R guidance",
)
LABEL = Advice(
    "The label is the law for every pesticide and growth regulator: it decides rate, stage, "
    "mixing partner and protective equipment.",
    "common practice",
    "The label is the law: rate, stage, mixing partner, protective equipment.",
)
ADVISER = Advice(
    "Have a licensed or certified crop adviser look at the plan before money is spent on it.",
    "common practice",
    "Have a licensed or certified crop adviser look at it before money is spent.",
)
SURVIVAL = Advice(
    "After winter injury, judge a stand only after 10 to 14 days of growing weather; brown leaves "
    "don't mean dead plants, and the first green doesn't prove survival.",
    "Ohio State University 2013; Michigan State University",
    "After winter injury, judge only after 10 to 14 days of growing weather.",
)
UNEVEN = Advice(
    "The mean says nothing about gaps: look at how even the field is, and treat bad patches by "
    "themselves.",
    "Ontario and NDSU stand-count advice",
    "The mean hides gaps: look at how even the field is.",
)

GENERAL = (SURVIVAL, UNEVEN)
"""Good to know with every field, but nobody is hurt where a short screen leaves them out."""


PHOTOS_BY = "the model's card"
"""Source of the caution about photos."""

_BEFORE = {
    PLAN: "keep to your nutrient-management plan and to the dates in this year's notice",
    LOCAL_LIMITS: "your country's limits and closed periods hold: ask locally",
    GROUND: "nothing on frozen, snow-covered or saturated ground",
    LABEL: "the label is the law (rate, stage, mixing partner, protective equipment)",
    ADVISER: "have a licensed or certified crop adviser look at the plan",
}
"""What holds before anything is spread or sprayed, on every field alike."""


def call_first(rules: RuleSet) -> Advice:
    """Whom to ask before anything is changed on a field that may be given up."""
    return CALL_AGENT if for_us(rules) else ASK_INSURER


def in_brief(cautions: Sequence[Advice]) -> list[str]:
    """Cautions for a small screen, one line each; what holds before all work in one line."""
    before = [_BEFORE[one] for one in cautions if one in _BEFORE]
    if len(before) < 2:
        return [one.brief for one in cautions]
    together = f"Before anything is bought, spread or sprayed: {'; '.join(before)}."
    lines = [together if one in _BEFORE else one.brief for one in cautions]
    return list(dict.fromkeys(lines))


def cautions_for(
    rules: RuleSet, *, photos: bool, model: Mapping[str, Any] | None = None
) -> list[Advice]:
    """Cautions of an assessment, those that weigh most first; the US's own for its rules alone."""
    out = [INSURANCE, PLAN, GROUND] if for_us(rules) else [NOT_INSURERS, LOCAL_LIMITS, GROUND]
    if photos:
        out.append(
            Advice(
                f"Photos can count wrong: {_learnt_on(model or {})}. Count every third or fourth "
                "spot by hand too, and trust the hand count where they differ.",
                PHOTOS_BY,
                "Photos can count wrong: count every third or fourth spot by hand too.",
            )
        )
    out.extend((LABEL, ADVISER, SURVIVAL, UNEVEN))
    out.extend(Advice(text, rules.publisher) for text in rules.cautions)
    return out


def _learnt_on(model: Mapping[str, Any]) -> str:
    """What the intervals of photo counts were fitted to, in plain words."""
    on = str(model.get("calibrated_on") or "")
    if not on:
        return "how wide their intervals must be isn't known for this counter"
    if "rendered scenes" in on:
        return "how wide their intervals are was learnt on computer-drawn fields, not on yours"
    return f"how wide their intervals are was learnt on {on}, not on your fields"
