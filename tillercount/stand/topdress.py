"""The spring nitrogen of one field, put together: pounds, dates, product, overlap, cautions."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from tillercount.errors import InputError
from tillercount.stand.already import AlreadyThere
from tillercount.stand.cautions import cautions_for
from tillercount.stand.checks import revisit, visit_doubts
from tillercount.stand.country import for_us, yields_from_elsewhere
from tillercount.stand.crops import crop_name, not_validated
from tillercount.stand.dose import this_spring
from tillercount.stand.doses import DoseWork
from tillercount.stand.goal import before_pounds, goal_off
from tillercount.stand.library import load_rules
from tillercount.stand.limits import held_against, lodging
from tillercount.stand.onalready import nothing_due
from tillercount.stand.otherplants import notice
from tillercount.stand.potential import Kernels, yield_potential
from tillercount.stand.products import Price, Product, amount
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.season import Season
from tillercount.stand.split import split_by_stand
from tillercount.stand.spreading import Conditions, loss_order, may_spread, spreading_cautions
from tillercount.stand.stage import Stage
from tillercount.stand.tissue import not_for_here, tissue_rate
from tillercount.stand.topdressed import Topdress
from tillercount.stand.weeds import WeedLoss
from tillercount.stand.whole import Whole, whole_nitrogen
from tillercount.stand.windows import weed_windows
from tillercount.twoforms import as_sentence
from tillercount.units import per_ft2

if TYPE_CHECKING:
    from tillercount.stand.assessment import Assessment
    from tillercount.stand.overlap import Overlap

__all__ = ["Topdress", "topdress"]


def topdress(
    rules: RuleSet | str,
    *,
    assessment: Assessment | None = None,
    whole_by: RuleSet | str | None = None,
    goal_bu_ac: float | None = None,
    crop: str = "wheat",
    stage: Stage | None = None,
    case: str = "",
    there: AlreadyThere | None = None,
    given_lb_ac: float = 0.0,
    tissue_percent: float | None = None,
    products: Sequence[Product] = (),
    prices: Mapping[str, Price] | None = None,
    area_m2: float | None = None,
    overlap: Overlap | None = None,
    conditions: Conditions | None = None,
    season: Season | None = None,
    weeds: Sequence[WeedLoss] = (),
    kernels: Kernels | None = None,
    visited: dt.date | None = None,
    today: dt.date | None = None,
    name: str = "",
) -> Topdress:
    """Put a field's spring nitrogen together.

    Parameters
    ----------
    rules : RuleSet or str
        Decides the split by density, and the whole unless ``whole_by`` names another publisher.
    assessment : Assessment, optional
        Of the field, under the same rules; without it nothing is said of the split by density.
    there : AlreadyThere, optional
        What is taken off the whole.
    given_lb_ac : float
        Spring nitrogen that is on already.
    tissue_percent : float, optional
        Nitrogen in whole plants at Feekes 5; its rate is then the main dose.
    prices : mapping, optional
        By a product's key.
    area_m2 : float, optional
        Of the field.
    kernels : Kernels, optional
        For the yield potential, in place of the figures in print.
    visited : date, optional
        When the field was seen, for the reminder; the last day of ``season`` where None.
    today : date, optional
        A visit later than this is doubted.

    Raises
    ------
    InputError
        What `whole_nitrogen`, `tissue_rate` and `amount` refuse, and an assessment by other rules.
    """
    rules, trade = load_rules(rules), load_rules("common-practice")
    giver = rules if whole_by is None else load_rules(whole_by)
    crop = crop_name(crop)
    conditions = conditions or Conditions()
    if season is not None and not for_us(rules):
        season = season.without_us_figures()
    if season is not None and conditions.growing is None:
        conditions = replace(conditions, growing=season.growing)
    if assessment is not None and assessment.rules.name != rules.name:
        raise InputError(
            f"the field was judged by rules {assessment.rules.name!r}, not {rules.name!r}; judge "
            "it by the same"
        )

    def whole_at(goal: float | None) -> Whole:
        return whole_nitrogen(
            giver, trade, goal, crop=crop, case=case, there=there, judged_by=rules
        )

    tissue = None if tissue_percent is None else tissue_rate(tissue_percent, crop, stage)
    unread = not_for_here(tissue.percent_n) if tissue and yields_from_elsewhere(rules) else ""
    tissue = None if unread else tissue
    whole = whole_at(goal_bu_ac)
    plan, bushels, noticed = None, None, ""
    if assessment is not None:
        bushels = assessment.yield_
        if assessment.heads is not None and kernels is not None and kernels.given:
            bushels = yield_potential(assessment.heads, rules, trade, kernels, crop=crop)
        plan = split_by_stand(
            assessment.plants,
            assessment.shoots,
            rules,
            trade,
            goal_bu_ac=goal_bu_ac,
            stage=stage,
            expected=bushels,
            whole_at=whole_at,
            nothing="" if tissue is not None else nothing_due(whole.net, given_lb_ac),
        )
    work = DoseWork(rules, whole, plan, tissue, stage, given_lb_ac, season, crop, visited or today)
    doses = tuple(
        replace(
            dose,
            amounts=tuple(
                tuple(
                    amount(lb, one, price=(prices or {}).get(one.key), area_m2=area_m2)
                    for lb in dict.fromkeys(dose.lb_spread)
                )
                for one in products
                if dose.lb_ac[1]
            ),
        )
        for dose in work.doses()
    )
    early = next((dose.lb_ac for dose in doses if dose.name == "early"), None)
    shoots = None
    if assessment is not None and assessment.field.shoots is not None:
        shoots = per_ft2(assessment.field.shoots.mean)
    spring = this_spring(doses, given_lb_ac)
    us = for_us(rules)  # ceilings are US states'
    spreading = [
        advice
        for one in products
        for advice in spreading_cautions(
            one, max((d.lb_ac[1] for d in doses), default=0.0), conditions, stage
        )
    ] or [loss_order()]
    nothing = work.on.nothing if work.on is not None else ""
    if nothing or (plan is not None and plan.withheld and not doses):
        spreading = []  # nothing goes on
    warning = not_validated(rules, crop)
    flags = [warning] if warning else []
    if giver is not rules:
        flags.append(
            f"the whole is by {giver.by}, the split by {rules.by}: two publishers, put together "
            "because it was asked for"
        )
    flags += [unread] if unread else []
    flags += [*(whole.flags if plan is None else plan.cautions), *work.flags]
    if tissue is not None:
        flags += tissue.flags
    if assessment is not None:
        # The assessment's own plan knows nothing of credits and cases, and its expectation nothing
        # of the user's kernels.
        older = [*(assessment.nitrogen.cautions if assessment.nitrogen else ())]
        if assessment.yield_ is not None and bushels is not None:
            older += goal_off(goal_bu_ac, assessment.yield_)
            flags += goal_off(goal_bu_ac, bushels)
        older.append(assessment.weed_notice)
        flags += [flag for flag in assessment.flags if flag not in older]
        noticed = notice(assessment.field.other_plants, named=bool(weeds))
        flags += [noticed] if noticed else []
    if doses and work.on is not None:  # what is on is part of it, or all
        low, high = early or (0.0, 0.0)
        early = (low + given_lb_ac, high + given_lb_ac)
    first = before_pounds(whole, plan, goal_off(goal_bu_ac, bushels), pounds=bool(doses))
    first = (*([unread] if unread and doses else []), *work.first, *first)
    flags = [flag for flag in flags if as_sentence(flag) not in first]
    flags += visit_doubts(visited, season, today)
    day = visited or (season.today if season is not None else None)
    again = None if day is None else revisit(day, pushed=any(d.name == "early" for d in doses))
    if again is not None and season is not None and again.last < season.today:
        again = None  # over already; the doubt about the visit's date says why
    return Topdress(
        rules=rules,
        crop=crop,
        stage=stage,
        goal_bu_ac=goal_bu_ac,
        given_lb_ac=given_lb_ac,
        whole=whole,
        plan=None if plan is None else replace(plan, on=work.on),
        tissue=tissue,
        doses=doses,
        ceilings=tuple(
            held_against(early, spring if tissue else whole.net, crop, given_lb_ac) if us else ()
        ),
        lodging=tuple(
            lodging(
                shoots,
                spring[1] if spring and overlap is not None and overlap.twice_share > 0 else None,
                crop=crop,
                own_most_lb=whole.net[1] if whole.net else None,
                by=whole.by,
                us=us,
            )
        ),
        spreading=tuple(dict.fromkeys(spreading)),
        cautions=assessment.verdict.cautions
        if assessment is not None
        else tuple(cautions_for(rules, photos=False)),
        flags=tuple(dict.fromkeys(flags)),
        arithmetic=tuple(work.arithmetic),
        products=tuple(products),
        shoots_ft2=shoots,
        area_m2=area_m2,
        overlap=overlap,
        season=season,
        weeds=tuple(weeds),
        weed_notice=noticed,
        windows=tuple(weed_windows(stage)) if stage is not None else (),
        stop=may_spread(conditions),
        yield_=bushels,
        heads=assessment.heads if assessment is not None else None,
        again=again,
        name=name,
        reconciled=work.reconciled,
        nothing=nothing,
        first=first,
    )
