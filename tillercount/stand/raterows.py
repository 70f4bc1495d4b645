"""The rates of a nitrogen plan as rows: when, and pounds of nitrogen per acre."""

from __future__ import annotations

from tillercount.stand.already import Range
from tillercount.stand.nitrogen import NitrogenPlan

__all__ = ["rate_rows"]


def rate_rows(plan: NitrogenPlan) -> list[tuple[str, Range]]:
    """(when, lb N/ac) for each dose that has pounds, and for the whole.

    What is on already first. Once the crop has jointed, that and the whole alone; nothing where
    rates are withheld.
    """
    taken = plan.whole is not None and bool(plan.whole.credits)
    off = "credits already taken off" if taken else "nothing taken off yet"
    given = plan.on.given if plan.on is not None else 0.0
    on = (given, given) if given else None
    rows = [
        ("On already this spring", on),
        (f"Early, {plan.early_when}", plan.early),
        (f"{plan.main_when[0].upper()}{plan.main_when[1:]}", plan.main),
        (f"In all, {off}", plan.total),
    ]
    if plan.withheld:
        return []
    if plan.advice == "jointed":
        rows = [rows[0], rows[-1]]
    return [(when, ends) for when, ends in rows if ends is not None]
