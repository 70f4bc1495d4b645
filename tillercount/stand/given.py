"""A stand judged where spring nitrogen is on already: it isn't put on again."""

from __future__ import annotations

from dataclasses import replace

from tillercount.stand.assessment import Assessment
from tillercount.stand.dressing import with_nitrogen
from tillercount.stand.dresslines import dose_lines
from tillercount.stand.onalready import EarlyOn
from tillercount.stand.topdress import topdress

__all__ = ["with_given"]


def with_given(assessment: Assessment, given_lb_ac: float, goal_bu_ac: float | None) -> Assessment:
    """The assessment with spring nitrogen that is on already: not put on again in what is to do,
    and taken off in the plan's lines.

    Parameters
    ----------
    assessment : Assessment
    given_lb_ac : float
        What is on, lb N/ac.
    goal_bu_ac : float or None
        The yield goal that the assessment was made with, bu/ac.
    """
    if not given_lb_ac:
        return assessment
    made = topdress(
        assessment.rules,
        assessment=assessment,
        goal_bu_ac=goal_bu_ac,
        crop=assessment.crop,
        stage=assessment.stage,
        given_lb_ac=given_lb_ac,
        weeds=assessment.weeds,
    )
    out = with_nitrogen(assessment, made)
    plan = out.nitrogen
    if plan is None:
        return out
    lines = tuple(dose_lines(made, metric=False))
    if made.doses:
        left = {dose.name: dose.lb_ac for dose in made.doses}
        early = None if plan.early is None else left.get("early", (0.0, 0.0))
        plan = replace(plan, early=early, main=left.get("main", plan.main))
    # after tillering, too, where there is no early part to hold it against
    on = plan.on or EarlyOn(given_lb_ac, None)
    return replace(out, nitrogen=replace(plan, lines=lines, on=on))
