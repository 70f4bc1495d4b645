"""The spring nitrogen of one field as `tillercount.stand.topdress` puts it together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tillercount.stand.cautions import Advice
from tillercount.stand.checks import Revisit
from tillercount.stand.dose import Dose, this_spring
from tillercount.stand.expect import Expectation
from tillercount.stand.limits import Held
from tillercount.stand.nitrogen import NitrogenPlan
from tillercount.stand.products import Product
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.season import Season
from tillercount.stand.stage import Stage
from tillercount.stand.tissue import TissueRate
from tillercount.stand.weeds import WeedLoss
from tillercount.stand.whole import Range, Whole

if TYPE_CHECKING:
    from tillercount.stand.overlap import Overlap

__all__ = ["Topdress"]


@dataclass(frozen=True)
class Topdress:
    """Spring nitrogen for one field.

    Attributes
    ----------
    whole : Whole
        By the publisher of ``whole.by``.
    plan : NitrogenPlan or None
        Split by the stand; None without counts, or where the rules judge no density.
    doses : tuple of Dose
        What is still to go on, in order; none where it is to be decided first, or isn't known.
    ceilings : tuple of Held
        Published ceilings, the chosen publisher's and others', beside the whole, or beside what a
        tissue test makes of this spring.
    weed_notice : str
        What else grows in the photos, where it is much and no weed named says it; among the flags
        too.
    first : tuple of str
        What has to be read before any pounds, for which there is a plan or not: what speaks against
        the yield goal, and what the plan would be for other classes.
    nothing : str
        Why nothing more goes on, without a full stop; empty where something does.
    reconciled : str
        How a tissue test's rate goes with the whole by the yield goal; empty without both.
    """

    rules: RuleSet
    crop: str
    stage: Stage | None
    goal_bu_ac: float | None
    given_lb_ac: float
    whole: Whole
    plan: NitrogenPlan | None
    tissue: TissueRate | None
    doses: tuple[Dose, ...]
    ceilings: tuple[Held, ...]
    lodging: tuple[Advice, ...]
    spreading: tuple[Advice, ...]
    cautions: tuple[Advice, ...]
    flags: tuple[str, ...]
    arithmetic: tuple[str, ...]
    products: tuple[Product, ...] = ()
    shoots_ft2: float | None = None
    area_m2: float | None = None
    overlap: Overlap | None = None
    season: Season | None = None
    weeds: tuple[WeedLoss, ...] = ()
    weed_notice: str = ""
    windows: tuple[Advice, ...] = ()
    stop: Advice | None = None
    yield_: Expectation | None = None
    heads: Expectation | None = None
    again: Revisit | None = None
    name: str = ""
    reconciled: str = ""
    nothing: str = ""
    first: tuple[str, ...] = ()

    @property
    def withheld(self) -> bool:
        """Whether no pounds, products or ceilings are to be shown: the stand comes first.

        A tissue test gives a rate even where the count leaves the stand undecided.
        """
        return self.plan is not None and self.plan.withheld and not self.doses

    @property
    def jointed(self) -> bool:
        """Whether the crop has jointed, which says more than days reckoned from warmth."""
        return self.stage is not None and self.stage.jointed

    @property
    def total(self) -> Range | None:
        """lb N/ac of this spring, what is on already included; None without doses."""
        return this_spring(self.doses, self.given_lb_ac)

    @property
    def comes_to(self) -> Range | None:
        """lb N/ac that this spring comes to: by the tissue test, else the whole, or what is on
        already where that is more; None without a whole."""
        if self.tissue is not None and self.total is not None:
            return self.total
        if self.nothing and self.total is not None:
            return self.total
        net, on = self.whole.net, self.given_lb_ac
        return None if net is None else (max(net[0], on), max(net[1], on))
