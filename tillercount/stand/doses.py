"""What is still to go on, and when: by the split, the stage, a tissue test, what is on already."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from tillercount.rounding import whole_pounds
from tillercount.stand.already import Range
from tillercount.stand.dose import Dose
from tillercount.stand.growth import Jointing
from tillercount.stand.late import late_lines, past_use
from tillercount.stand.limits import held_against
from tillercount.stand.nitrogen import MAIN_LINE, NitrogenPlan, rest_of
from tillercount.stand.onalready import EarlyOn, check_pounds, early_on
from tillercount.stand.onepass import (
    NONE_LEFT,
    in_passes,
    left_of,
    less_given,
    little_text,
    spread_when,
)
from tillercount.stand.planlines import BEFORE_JOINTING, ONCE_GROWING
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.season import Season
from tillercount.stand.stage import Stage
from tillercount.stand.tissue import TissueRate
from tillercount.stand.whole import Whole
from tillercount.stand.words import number_text, rate_text

__all__ = ["NEAR_DAYS", "DoseWork", "beside"]

NEAR_DAYS = 10
"""Weather that ends further than this from the visit, or from today where that isn't known, says
nothing of now: a convention of our own."""


def beside(lb_ac: float, ends: Range) -> str:
    """Where a rate lies beside a range: "below", "within", "above"."""
    return "below" if lb_ac < ends[0] else "above" if lb_ac > ends[1] else "within"


def _most(tissue: TissueRate) -> float:
    """lb N/ac in spring beside a tissue test's rate."""
    return 120.0 if tissue.crop == "wheat" else 100.0


class DoseWork:
    """Doses from the plan, the stage, the tissue test and what is on already.

    ``first`` (to be read before any pounds), ``flags`` and ``arithmetic`` fill up while `doses`
    works, and ``on`` says how what is on already goes with the early part. ``look`` is the day of
    the visit, or today; None where neither is known, and the weather's last day is taken for it.
    """

    def __init__(
        self,
        rules: RuleSet,
        whole: Whole,
        plan: NitrogenPlan | None,
        tissue: TissueRate | None,
        stage: Stage | None,
        given: float,
        season: Season | None,
        crop: str,
        look: dt.date | None = None,
    ) -> None:
        self.look = look
        self.rules, self.whole, self.plan, self.tissue = rules, whole, plan, tissue
        self.stage, self.given, self.season, self.crop = stage, given, season, crop
        self.lb = rate_text((given, given))
        check = check_pounds(given, whole.net)
        self.first: list[str] = [check] if check else []
        self.flags: list[str] = []
        # early nitrogen is no choice any more
        self.left = self._left()
        self.on = self._on(self._parts()[0])
        # The split's arithmetic only where the doses are split.
        split = plan is not None and tissue is None and not (stage and stage.past_tillers)
        self.arithmetic = list(plan.arithmetic if plan and split else whole.arithmetic)
        self.reconciled = ""

    def doses(self) -> list[Dose]:
        """What is still to go on, in order; nothing of any is one dose of none."""
        if self.plan is not None and self.plan.advice == "keep first":
            return []
        if self.tissue is not None:
            return [self._none_or(self._by_tissue(self.tissue))]
        if self.plan is not None and self.plan.advice == "undecided":
            return []
        total = self.whole.net
        if total is None:
            return []
        late = self.stage is not None and self.stage.past_tillers
        early, main = self._parts()
        if self.left is not None or late or self.plan is None or early is None:
            left = self._less_given(total)
            if self.left is not None:
                split = early is not None and not late
                return [self._none("main" if split or late else "whole")]
            return self._at_once(left, late)
        early, main = self._kept_to_ceiling(early, main or total, total)
        self.on = self._on(early)
        if self.on is not None and self.on.given and not self.on.part:
            # the split's own main part goes by an early part that isn't the one put on
            self.arithmetic = [one for one in self.arithmetic if not one.startswith(MAIN_LINE)]
            return [self._main(self._less_given(total, f"{MAIN_LINE}{rate_text(total)} lb N/ac "))]
        if self.on is not None and self.on.given:
            early = self.on.rest
            self.arithmetic.append(
                f"early, less {self.lb} lb N/ac on already: {rate_text(early)} lb N/ac"
            )
        parts = in_passes(early, main, less_given(total, self.given))
        if parts.moved:
            self.on = replace(self.on or EarlyOn(self.given, early), parts=parts)
            self.arithmetic = list(dict.fromkeys([*self.arithmetic, parts.why]))
        elif self.on is not None:
            self.on = replace(self.on, parts=None) if self.given else None
        out = [self._early(self.plan.early_when, parts.early)] if parts.early[1] else []
        if whole_pounds(parts.out[1]):
            none = f"what would be left is {little_text(parts.out)}: leave it"
            return [*out, Dose("main", none, (0.0, 0.0))]
        return [*out, self._main(parts.main)]

    def _parts(self) -> tuple[Range | None, Range | None]:
        """The early and the later part that the plan has, before either was too small."""
        if self.plan is None:
            return None, None
        on = self.plan.on
        return (self.plan.early, self.plan.main) if on is None else (on.early, on.later)

    def _left(self) -> Range | None:
        """What is left where that isn't worth a pass; with a tissue test that decides."""
        if self.tissue is None:
            return left_of(self.whole.net, self.given)
        lb = self._tissue_lb(self.tissue)
        return left_of((lb, lb), 0.0) if self.given or lb else None

    def _on(self, early: Range | None) -> EarlyOn | None:
        """With a tissue test, taken at Feekes 5, the time of the early part is over."""
        if self.left is not None:
            whole = self.whole.net if self.tissue is None else None
            return EarlyOn(self.given, early, left=self.left, whole=whole)
        late = self.stage is not None and self.stage.past_tillers
        if self.plan is None or late:  # early nitrogen is no choice any more
            return None
        on = early_on(early, self.given, self.plan.early_when)
        if on is None:
            return self.plan.on
        return on if self.tissue is None else EarlyOn(self.given, early)

    def _none_or(self, dose: Dose) -> Dose:
        return dose if self.left is None else self._none(dose.name)

    def _none(self, name: str) -> Dose:
        """A dose of nothing, with the reason for its date."""
        little = self.left is not None and self.left[1] >= 0.5
        when = f"what is left is {little_text(self.left)}" if self.left and little else NONE_LEFT
        return Dose(name, when, (0.0, 0.0))

    def _less_given(self, total: Range, lead: str = "") -> Range:
        if not self.given:
            return total
        left = less_given(total, self.given)
        self.arithmetic.append(
            f"{lead}less {self.lb} lb N/ac on already this spring: {rate_text(left)} lb N/ac left"
        )
        return left

    def _at_once(self, left: Range, late: bool) -> list[Dose]:
        if late:
            if self.stage is not None and not self.stage.jointed:
                self.flags.append(
                    "few new tillers come after GS30 (CIMMYT), so there is no early part any "
                    "more: what is left goes on now, before jointing"
                )
                return [self._dated("main", "now, before or at jointing", left)]
            assert self.stage is not None  # it is what makes it late
            may_go = self.plan is not None and self.plan.may_go
            self.flags.extend(late_lines(self.stage, may_go=may_go))
            if past_use(self.stage):
                return [Dose("main", "late: after jointing, if at all", left)]
            return [Dose("main", "now: the crop is jointing", left)]
        if self.rules.nitrogen_when:
            when = self.rules.nitrogen_when
            when = f"{when[0].lower()}{when[1:].rstrip('.')} ({self.rules.by})"
            return [Dose("whole", when, left)]
        why = "no counts were given" if self.plan is None else "these rules name no early pounds"
        self.flags.append(f"the split isn't worked out: {why}")
        return [self._dated("whole", f"the larger part of it {self._when()}", left)]

    def _kept_to_ceiling(self, early: Range, main: Range, total: Range) -> tuple[Range, Range]:
        for held in held_against(early, total, self.crop):
            if held.over and held.ceiling.rules == self.rules.name and held.ceiling.part == "early":
                early = (min(early[0], held.lb_ac), held.lb_ac)
                self.arithmetic.append(
                    f"early, kept to the publisher's ceiling ({held.ceiling.words}): "
                    f"{rate_text(early)} lb N/ac"
                )
                main = rest_of(total, early)
        return early, main

    def _by_tissue(self, tissue: TissueRate) -> Dose:
        self.arithmetic.append(f"{tissue.arithmetic} ({tissue.source})")
        lb = self._tissue_lb(tissue)
        if lb < tissue.lb_ac:
            self.arithmetic.append(
                f"with {self.lb} lb on already, no more than {_most(tissue):g} lb in spring: "
                f"{number_text(lb)} lb N/ac (University of Delaware 2019)"
            )
        if self.left is not None:
            lb = 0.0  # no pass goes on
        if self.whole.net is not None:
            self.reconciled = self._against_the_goal(lb, self.whole.net)
        return Dose("main", "at Feekes 5 (GS30), by the tissue test", (lb, lb))

    def _tissue_lb(self, tissue: TissueRate) -> float:
        return min(tissue.lb_ac, max(0.0, _most(tissue) - self.given))

    def _against_the_goal(self, lb: float, net: Range) -> str:
        """The tissue test and the yield goal give one field two rates; which holds, and why."""
        spring = lb + self.given
        on = f", {rate_text((self.given, self.given))} of it on already" if self.given else ""
        return (
            f"{rate_text((spring, spring))} lb N/ac this spring by the tissue test{on}, "
            f"{beside(spring, net)} the {rate_text(net)} lb N/ac by the yield goal "
            f"({self.whole.by}); the test goes before the goal, since it shows what this crop has "
            "taken up (our own reading)"
        )

    def _main(self, lb_ac: Range) -> Dose:
        if not whole_pounds(lb_ac[1]):
            return self._none("main")
        when = spread_when(self._when(), lb_ac, "")
        return self._dated("main", when, lb_ac)

    def _early(self, when: str, lb_ac: Range) -> Dose:
        """ "Once growth has started" is now, where the weather says that it has."""
        now = self.season is not None and self.season.started
        started = None
        little = spread_when("", lb_ac, "main")
        if now and self.season is not None and not self._near(self.season.today):
            had = self.season.today
            if when == ONCE_GROWING:
                when = f"{when}; by the weather up to {had} it had started then: look again"
                return Dose("early", f"{when}{little}", lb_ac, had_started=had)
            return Dose("early", f"{when}{little}", lb_ac)
        if now and self.season is not None and when == ONCE_GROWING:
            started = self.season.today
            when = f"now: growth has started (weather up to {started})"
        return Dose("early", f"{when}{little}", lb_ac, now=now, started=started)

    def _near(self, last: dt.date) -> bool:
        """Whether weather up to this day still speaks of the visit, or of today."""
        return self.look is None or abs((last - self.look).days) <= NEAR_DAYS

    def _dated(self, name: str, when: str, lb_ac: Range) -> Dose:
        return Dose(name, when, lb_ac, before=self._jointing())

    def _when(self) -> str:
        return BEFORE_JOINTING if self.plan is None else self.plan.main_when

    def _jointing(self) -> dt.date | None:
        """Its first day by past years; None where too few are on file, or where the sum of warmth
        isn't good to a week or two (`tillercount.stand.growth.JOINTING_DOUBT`): a date that may be
        weeks late is worse beside a dose than none."""
        joint = self.season.jointing if self.season else None
        if not isinstance(joint, Jointing) or joint.doubt:
            return None
        return joint.first if joint.years else None
