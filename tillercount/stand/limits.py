"""Published ceilings on nitrogen, and published pointers to lodging."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from tillercount.stand.already import Range
from tillercount.stand.cautions import Advice
from tillercount.stand.words import number_text, span

__all__ = [
    "CEILINGS",
    "EXCESSIVE_BY",
    "EXCESSIVE_SHOOTS_FT2",
    "Ceiling",
    "Held",
    "enough_shoots",
    "excessive",
    "held_against",
    "lodging",
    "over_half",
]


@dataclass(frozen=True)
class Ceiling:
    """The most that a publisher gives early, or in all spring.

    Attributes
    ----------
    part : {"early", "whole"}
    lb_ac : float or None
        lb N/ac.
    share : float or None
        Of the whole spring nitrogen.
    rules : str
        Rule set that it belongs to; there it is kept to, elsewhere it is only shown.
    """

    by: str
    part: Literal["early", "whole"]
    source: str
    lb_ac: float | None = None
    share: float | None = None
    crops: tuple[str, ...] = ("wheat",)
    rules: str = ""
    words: str = ""

    def pounds(self, whole: Range | None) -> float | None:
        """The ceiling in lb N/ac, the lower of its two ends; None where it can't be said."""
        ends = []
        if self.lb_ac is not None:
            ends.append(self.lb_ac)
        if self.share is not None and whole is not None:
            ends.append(self.share * whole[1])
        return min(ends, default=None)


CEILINGS: tuple[Ceiling, ...] = (
    Ceiling(
        "Maryland", "early", "Maryland Department of Agriculture 2013", share=0.5,
        crops=("wheat", "barley", "rye", "triticale"),
        words="no more than half of the spring nitrogen at green-up, the rest after Feekes 5-6; "
        "2013 wording, so check this year's notice",
    ),
    Ceiling(
        "Virginia", "early", "Virginia Tech newsletter, February 2005", lb_ac=50,
        rules="virginia-nitrogen", words="40-50 lb N/ac where tillers are fewer than 50 per ft²",
    ),
    Ceiling(
        "Kentucky", "early", "University of Kentucky 2019", lb_ac=50,
        rules="kentucky-stand", words="30-50 lb N/ac; more risks freeze, disease and lodging",
    ),
    Ceiling(
        "North Carolina", "early", "NCDA&CS 17 February 2010", lb_ac=60, share=0.5,
        rules="north-carolina-ncdacs-nitrogen", words="up to half of the spring nitrogen, about "
        "60 lb N/ac",
    ),
    Ceiling(
        "Delaware", "whole", "University of Delaware 2019", lb_ac=120,
        rules="delaware-nitrogen", words="no more than 120 lb N/ac in spring on wheat",
    ),
    Ceiling(
        "Delaware", "whole", "University of Delaware 2019", lb_ac=100, crops=("barley",),
        rules="delaware-nitrogen", words="no more than 100 lb N/ac in spring on barley",
    ),
)  # fmt: skip

EXCESSIVE_SHOOTS_FT2 = 100.0
"""More tillers than this are called excessive (University of Kentucky 2013)."""

EXCESSIVE_BY = "University of Kentucky 2013"


def excessive(shoots_ft2: float) -> bool:
    """Whether so many shoots per ft² are called excessive."""
    return shoots_ft2 > EXCESSIVE_SHOOTS_FT2


def enough_shoots(shoots_ft2: float) -> str:
    """Why so many shoots get no early nitrogen; half a sentence."""
    return (
        f"early nitrogen is held back because {number_text(shoots_ft2)} shoots per ft² were "
        f"counted: more than {EXCESSIVE_SHOOTS_FT2:g} per ft² is called excessive "
        f"({EXCESSIVE_BY}), and early nitrogen makes such a stand lodge sooner"
    )


@dataclass(frozen=True)
class Held:
    """A ceiling with the pounds that were held against it."""

    ceiling: Ceiling
    lb_ac: float
    over: bool

    @property
    def line(self) -> str:
        """In one line."""
        one = self.ceiling
        what = "early" if one.part == "early" else "in all"
        state = "above" if self.over else "within"
        return f"{what}, {state} {one.by}'s ceiling of {self.pounds_text}: {one.words}"

    @property
    def moves(self) -> bool:
        """Whether the pounds are a share of the whole, and so go up and down with the goal."""
        share, fixed = self.ceiling.share, self.ceiling.lb_ac
        return share is not None and (fixed is None or self.lb_ac < fixed)

    @property
    def pounds_text(self) -> str:
        """The ceiling, and where it is only a part of this whole, that it moves with the goal."""
        pounds = f"{number_text(self.lb_ac)} lb N/ac"
        if not self.moves:
            return pounds
        return f"{pounds} ({self._share} of the whole for this goal; it moves with the goal)"

    @property
    def share_text(self) -> str:
        """The same in brackets of two or three words; empty where the pounds are in print."""
        return f" ({self._share} of it)" if self.moves else ""

    @property
    def _share(self) -> str:
        return f"{100 * (self.ceiling.share or 0):.0f} %"


def held_against(
    early: Range | None, whole: Range | None, crop: str, on_lb_ac: float = 0.0
) -> list[Held]:
    """Each published ceiling for the crop that can be put into pounds, and whether it is passed.

    ``on_lb_ac``: what is on already, which alone may pass that of the whole.
    """
    out = []
    for one in CEILINGS:
        lb = one.pounds(whole)
        given = early if one.part == "early" else whole
        if crop in one.crops and lb is not None and given is not None:
            most = given[1] if one.part == "early" else max(given[1], on_lb_ac)
            out.append(Held(one, lb, most > lb + 1e-9))
    return out


def over_half(early: Range | None, whole: Range | None, *, us: bool) -> Iterator[str]:
    """That the early dose is more than half of the whole, which some state forbids."""
    if whole is None or early is None or early[1] <= whole[0] / 2:
        return
    surely = "is" if early[1] > whole[1] / 2 else "may be"
    rest = (
        "; Maryland, for one, allowed no more than half of the spring nitrogen at green-up (state "
        "notice, 2013 wording)"
        if us
        else ": ask locally whether that is allowed"
    )
    yield f"The early dose {surely} more than half of the whole{rest}."


def lodging(
    shoots_ft2: float | None,
    rate_lb_ac: float | None,
    *,
    crop: str = "wheat",
    own_most_lb: float | None = None,
    by: str = "",
    us: bool = True,
) -> Iterator[Advice]:
    """Where the crop may lodge: too many shoots, or too much nitrogen where passes overlap.

    Parameters
    ----------
    shoots_ft2 : float or None
    rate_lb_ac : float or None
        All spring nitrogen; overlaps get twice that.
    own_most_lb, by : float, str
        Upper end of the whole by the chosen rules, and who says so.
    us : bool
        Whether the ceilings, which are US states', go with these rules.
    """
    if shoots_ft2 is not None and excessive(shoots_ft2):
        yield Advice(
            f"{number_text(shoots_ft2)} shoots per ft² are more than "
            f"{EXCESSIVE_SHOOTS_FT2:g}, which is called excessive: such a stand may lodge; early "
            "nitrogen makes it worse",
            EXCESSIVE_BY,
        )
    if rate_lb_ac is None:
        return
    doubled = 2 * rate_lb_ac
    cap = next((c for c in CEILINGS if us and c.part == "whole" and crop in c.crops), None)
    if cap is not None and cap.lb_ac is not None and doubled > cap.lb_ac:
        yield Advice(
            f"Where passes overlap the crop gets {number_text(doubled)} lb N/ac; {cap.by} gives "
            f"{cap.words}. Such strips lodge first",
            f"{cap.source}; on lodging, Ontario and Alabama advice",
        )
    elif own_most_lb is not None and doubled > own_most_lb:
        yield Advice(
            f"Where passes overlap the crop gets {number_text(doubled)} lb N/ac, more than the "
            f"{span((own_most_lb, own_most_lb), 4)} lb N/ac of the whole; such strips lodge first",
            f"{by}; on lodging, Ontario and Alabama advice",
        )
