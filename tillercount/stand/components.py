"""Grain yield from heads, kernels and kernel weight, and what published constants hide.

Rules for counting heads in a length of row multiply by a constant in which a kernel weight is
buried, and the constants differ by more than half. Here the weight is always said: a constant from
print comes with the weight that it implies, and one that implies an impossible weight is refused
(a page that gives 0.48 for heads in 5 ft of row, for one; it fits 1 ft).
"""

from __future__ import annotations

from dataclasses import dataclass

from tillercount.errors import InputError
from tillercount.units import FT2_PER_ACRE, KG_PER_LB

__all__ = ["POSSIBLE_MG", "RowRule", "grain_bu_ac", "kernel_mg"]

MG_PER_LB = KG_PER_LB * 1e6

POSSIBLE_MG = (15.0, 65.0)
"""Kernel weights beyond these are taken for a slip. A wide limit of our own, not a published one;
certified soft red winter seed has 11,400 to 17,600 kernels per lb, 26 to 40 mg (Penn State 2012).
"""


def kernel_mg(kernels_per_lb: float) -> float:
    """Weight of one kernel (mg, the same number as g per 1,000) from kernels per pound."""
    return MG_PER_LB / kernels_per_lb


def grain_bu_ac(
    heads_per_ft2: float, kernels_per_head: float, mg: float, *, lb_per_bu: float = 60.0
) -> float:
    """Bushels per acre from heads per ft², kernels per head and kernel weight (mg).

    For 60 lb the constant is 0.00160056 (printed as 0.0016 by Johnson, Ontario 2017).
    """
    kernels_per_ac = heads_per_ft2 * FT2_PER_ACRE * kernels_per_head
    return kernels_per_ac * mg / MG_PER_LB / lb_per_bu


@dataclass(frozen=True)
class RowRule:
    """bu/ac = heads in a length of row x kernels per head x constant / row spacing (in).

    Attributes
    ----------
    constant : float
        For a row spacing in inches.
    row_ft : float
        Length of row in which the heads are counted.
    source : str
    lb_per_bu : float
    """

    constant: float
    row_ft: float
    source: str
    lb_per_bu: float = 60.0

    def __post_init__(self) -> None:
        low, high = POSSIBLE_MG
        if not low <= self.implied_mg <= high:
            raise InputError(
                f"{self.source}: constant {self.constant:g} for heads in {self.row_ft:g} ft of row "
                f"implies kernels of {self.implied_mg:.0f} mg, which don't exist; check the length "
                "of row that it is for"
            )

    @property
    def implied_mg(self) -> float:
        """Kernel weight hidden in the constant, mg."""
        per_kernel_per_ft2 = self.constant * self.row_ft / 12.0
        return per_kernel_per_ft2 * self.lb_per_bu * MG_PER_LB / FT2_PER_ACRE

    def bu_ac(self, heads: float, kernels_per_head: float, spacing_in: float) -> float:
        """Bushels per acre from the heads counted in this rule's length of row."""
        return heads * kernels_per_head * self.constant / spacing_in
