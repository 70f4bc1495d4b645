"""Yield potential from the heads expected: by components and by rules of thumb, side by side.

Kernels per head and kernel weight may be the user's own; without them the figures in print stand,
each by itself. The whole is a range and never one number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from tillercount.errors import InputError
from tillercount.stand.components import POSSIBLE_MG, grain_bu_ac, kernel_mg
from tillercount.stand.expect import BySource, Expectation, expected_yield
from tillercount.stand.ruleset import RuleSet
from tillercount.typed import ask_of_pair
from tillercount.units import TEST_WEIGHT_LB, number

__all__ = ["Kernels", "parse_kernels", "potential", "yield_potential"]

Range = tuple[float, float]

KERNELS_PER_HEAD: tuple[tuple[float, float, str], ...] = (
    (30, 30, "Virginia Tech: at least 30 kernels to a head"),
    (35, 35, "University of Kentucky 2013: 35 kernels to a head"),
    (30, 32, "western Canada: 30 to 32 kernels to a head (Johnson, Ontario 2017)"),
)
KERNEL_MG: tuple[float, float, str] = (
    kernel_mg(16_000),
    kernel_mg(13_000),
    "13,000-16,000 kernels to the pound (Oklahoma State PSS-2149)",
)


@dataclass(frozen=True)
class Kernels:
    """The user's own kernels per head and kernel weight (mg), each a range; None: print's."""

    per_head: Range | None = None
    mg: Range | None = None

    @property
    def given(self) -> bool:
        """Whether there is anything of the user's own."""
        return self.per_head is not None or self.mg is not None

    def __post_init__(self) -> None:
        for name, ends, low, high in (
            ("kernels per head", self.per_head, 1.0, 120.0),
            ("kernel weight (mg)", self.mg, *POSSIBLE_MG),
        ):
            if ends is not None and not low <= ends[0] <= ends[1] <= high:
                raise InputError(
                    f"{name} {ends[0]:g} to {ends[1]:g} can't be; give {low:g} to {high:g}"
                )


def parse_kernels(text: str, *, what: str) -> Range:
    """A number or a range as typed: ``33``, ``30-35``.

    Raises
    ------
    InputError
        Neither.
    """
    parts = re.split(r"\s*(?:-|–|to)\s*", text.strip())
    for part in parts:
        ask_of_pair(part, what=what, ranged=len(parts) == 1)
    ends = [number(part, what=what) for part in parts]
    if len(ends) > 2:
        raise InputError(f"{what} {text!r} can't be read; write it like 33 or 30-35")
    return ends[0], ends[-1]


def yield_potential(
    heads: Expectation,
    rules: RuleSet,
    trade: RuleSet,
    own: Kernels | None = None,
    *,
    crop: str = "wheat",
) -> Expectation:
    """Bushels per acre that the stand may still bring: the one range that every command names.

    Parameters
    ----------
    heads : Expectation
        See `expected_heads`.
    rules, trade : RuleSet
        See `expected_yield`.
    own : Kernels, optional
    crop : str
        Whose bushel (wheat 60 lb, barley 48).
    """
    thumb = expected_yield(heads, rules, trade)
    return potential(heads, thumb, own, lb_per_bu=TEST_WEIGHT_LB[crop])


def potential(
    heads: Expectation, thumb: Expectation, own: Kernels | None = None, *, lb_per_bu: float
) -> Expectation:
    """Bushels per acre by components, then by rules of thumb.

    Parameters
    ----------
    heads : Expectation
        Heads per ft², as a range (see `expected_heads`).
    thumb : Expectation
        Bushels by rules of thumb (see `expected_yield`).
    own : Kernels, optional
    lb_per_bu : float
        Weight of the crop's bushel.
    """
    own = own or Kernels()
    rows = []
    per_head = (
        [(*own.per_head, "your kernels per head")] if own.per_head else list(KERNELS_PER_HEAD)
    )
    low_mg, high_mg, by_weight = (*own.mg, "your kernel weight") if own.mg else KERNEL_MG
    for few, many, by_count in per_head:
        factor = (
            grain_bu_ac(1.0, few, low_mg, lb_per_bu=lb_per_bu),
            grain_bu_ac(1.0, many, high_mg, lb_per_bu=lb_per_bu),
        )
        rows.append(
            BySource(
                heads.low * factor[0],
                heads.high * factor[1],
                factor,
                f"components: {by_count}; {by_weight}, {low_mg:.3g}-{high_mg:.3g} mg",
            )
        )
    rows.extend(thumb.by_source)
    return Expectation(
        min(row.low for row in rows),
        max(row.high for row in rows),
        "bu/ac",
        tuple(rows),
        heads.sampling,
        thumb.abroad,
    )
