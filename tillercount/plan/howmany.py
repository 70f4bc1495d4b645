"""How many spots a visit needs, before anybody has counted.

Simple random: n = (t · CV / E)² (University of Missouri, forest measurements; Cochran, Sampling
Techniques), t at n - 1. Stratified: n = (t · Σ W CV / E)² / (1 + (t · Σ W CV / E)² / N), with W
the zones' shares of the area (example in USDA Forest Service Handbook 2409.12), spots by W · CV.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence

from tillercount.errors import InputError
from tillercount.field.samplesize import MOST_SPOTS, spots_to_clear

__all__ = [
    "LEVEL",
    "cv_of_zones",
    "expected_precision",
    "read_cv",
    "read_share",
    "spots_for_precision",
    "spots_for_zones",
    "spots_to_decide",
    "stratified_size",
]

LEVEL = 0.9
"""Level of the interval planned for; the same as that of the estimates."""


def read_share(text: str, *, what: str) -> float:
    """``45%`` or ``0.45`` as 0.45.

    Raises
    ------
    InputError
        Not a number, not above zero, or above 3 without a per cent sign's being likely.
    """
    match = re.fullmatch(r"\s*(\d+\.?\d*|\.\d+)\s*(%|percent|per cent)?\s*", text)
    if match is None:
        raise InputError(f"{what} {text!r} can't be read; write it like 45% or 0.45")
    value = float(match[1]) / (100 if match[2] else 1)
    if not 0 < value <= 3:
        raise InputError(
            f"{what} {text!r} is {value * 100:g} %; write it like 45% or 0.45, at most 300%"
        )
    return value


def read_cv(text: str) -> float | dict[str, float]:
    """One CV for the field (``45%``), or one for each zone (``hill=65%,flat=35%``)."""
    if "=" not in text:
        return read_share(text, what="expected CV")
    out = {}
    for part in text.split(","):
        name, sign, value = part.partition("=")
        if not sign:
            raise InputError(f"expected CV {text!r} can't be read; write it like hill=65%,flat=35%")
        out[name.strip()] = read_share(value, what=f"expected CV of {name.strip()!r}")
    return out


def _t(level: float, df: int) -> float:
    from scipy import stats

    return float(stats.t.ppf((1 + level) / 2, df))


def expected_precision(cv: float, n: int, level: float = LEVEL, *, zones: int = 1) -> float:
    """Half-width of the interval that n spots should give, as a share of the mean.

    With several zones ``cv`` is Σ W CV, and the spots go to the zones by W · CV.
    """
    return _t(level, n - zones) * cv / math.sqrt(n) if n > zones else math.inf


def spots_for_precision(cv: float, relative: float, level: float = LEVEL) -> int:
    """Least n whose interval should be no wider than ± ``relative`` × mean.

    Raises
    ------
    InputError
        More spots than anybody counts.
    """
    for n in range(2, MOST_SPOTS + 1):
        if expected_precision(cv, n, level) <= relative + 1e-12:
            return n
    raise InputError(
        f"±{relative * 100:g} % at a CV of {cv * 100:g} % takes more than {MOST_SPOTS} spots; be "
        f"content with less, at best ±{expected_precision(cv, MOST_SPOTS, level) * 100:.0f} %"
    )


def spots_to_decide(cv: float, mean: float, limit: float, level: float = LEVEL) -> int:
    """Least n whose interval should leave the decision limit outside; mean and limit in one unit.

    Raises
    ------
    InputError
        No number up to `MOST_SPOTS` does it.
    """
    n = spots_to_clear(mean, limit, cv, level=level)
    if n is None:
        raise InputError(
            f"a mean that close to the limit can't be told from it by {MOST_SPOTS} spots at a CV "
            f"of {cv * 100:g} %; plan on --precision instead, and on either answer"
        )
    return n


def stratified_size(
    shares: Sequence[float], cvs: Sequence[float], relative: float, *, t: float,
    population: float = math.inf,
) -> float:  # fmt: skip
    """Spots in all for zones of these shares of the area and CVs; not rounded."""
    spread = sum(w * cv for w, cv in zip(shares, cvs, strict=True))
    n = (t * spread / relative) ** 2
    return n / (1 + n / population)


def spots_for_zones(
    shares: Sequence[float], cvs: Sequence[float], relative: float, level: float = LEVEL
) -> int:
    """Least n of a visit by zones, t at n minus the number of zones, two a zone at least.

    Raises
    ------
    InputError
        More spots than anybody counts.
    """
    zones = len(shares)
    for n in range(max(2 * zones, zones + 1), MOST_SPOTS + 1):
        t = _t(level, n - zones)
        if stratified_size(shares, cvs, relative, t=t) <= n:
            return n
    raise InputError(
        f"±{relative * 100:g} % takes more than {MOST_SPOTS} spots at these CVs; be content with "
        "less"
    )


def cv_of_zones(expected: Mapping[str, float], names: Sequence[str]) -> list[float]:
    """The CVs in the order of the zones.

    Raises
    ------
    InputError
        A zone without one, or a name that is no zone.
    """
    unknown = [name for name in expected if name not in names]
    missing = [name for name in names if name not in expected]
    if unknown or missing:
        wrong = f"{unknown[0]!r} is no zone" if unknown else f"zone {missing[0]!r} has none"
        raise InputError(f"expected CV: {wrong}; the zones are {', '.join(names)}")
    return [expected[name] for name in names]
