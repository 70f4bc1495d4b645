"""One application of nitrogen: when, how many pounds, how much product."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.rounding import whole_pounds
from tillercount.stand.already import Range
from tillercount.stand.onepass import LEAST_PASS_LB
from tillercount.stand.products import Amount

__all__ = ["Dose", "this_spring"]


@dataclass(frozen=True)
class Dose:
    """One application: when, how many pounds of nitrogen per acre, and how much product.

    ``amounts`` holds, for each product, what the low and the high end of `lb_spread` need (one
    where they are the same); none where nothing goes on. ``when`` goes by what can be seen in the
    field. ``before`` is roughly the first day of jointing, where the dose has to be on by then and
    past years' weather tells it, ``doubt`` what that date hangs on. ``now`` is True where growth
    has started by the weather, so that an early dose needn't wait; ``started`` the last day of
    that weather, where ``when`` says just that. ``had_started`` is that day where it lies too far
    from the visit to speak of now.
    """

    name: str
    when: str
    lb_ac: Range
    amounts: tuple[tuple[Amount, ...], ...] = ()
    before: dt.date | None = None
    doubt: str = ""
    now: bool = False
    started: dt.date | None = None
    had_started: dt.date | None = None

    @property
    def pass_from(self) -> float | None:
        """lb N/ac from which on it is worth a pass, where its low end isn't; else None."""
        low, high = (whole_pounds(end) for end in self.lb_ac)
        return LEAST_PASS_LB if low < LEAST_PASS_LB <= high else None

    @property
    def lb_spread(self) -> Range:
        """lb N/ac of a pass: nobody loads product for less than is worth one."""
        low, high = self.lb_ac
        return low if self.pass_from is None else min(self.pass_from, high), high

    @property
    def pass_text(self) -> str:
        """ " as a pass of its own, from 10 lb N/ac on"; empty where all of the dose is one."""
        if self.pass_from is None:
            return ""
        return f" as a pass of its own, from {self.pass_from:.0f} lb N/ac on"

    @property
    def timing(self) -> str:
        """When by growth, then the rough date with what it hangs on."""
        if self.before is None:
            return self.when
        doubt = f" ({self.doubt})" if self.doubt else ""
        return f"{self.when}; roughly before {self.before}{doubt}"


def this_spring(doses: Sequence[Dose], given_lb_ac: float) -> Range | None:
    """lb N/ac in all: these doses and what is on already; None without doses."""
    if not doses:
        return None
    low, high = (sum(dose.lb_ac[end] for dose in doses) for end in (0, 1))
    return low + given_lb_ac, high + given_lb_ac
