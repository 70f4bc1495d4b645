"""How well the intervals of few spots hold: the part of ``simulate_sampling.py --few``.

Fields with a spot-to-spot CV between 15 and 80 %, gamma, lognormal, clumped (negative binomial) or
with bare patches, 1 to 10 spots; beside the interval taken, Student's t interval (for one spot the
normal one with a CV of 45 %); and both in the quarter of fields whose spots happened to look most
alike.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

import numpy as np

from tillercount.field.density import mean_of_spots, student
from tillercount.field.spots import SpotDensity
from tillercount.units import M2_PER_FT2

FEW = (1, 2, 3, 5, 8, 10)
SHAPES = ("gamma", "lognormal", "clumped", "patches")
CVS = (0.15, 0.8)
LEVEL = 0.9


def few_counts(shape: str, cv: float, n: int, rng: np.random.Generator) -> np.ndarray:
    """Counts at n spots of a field with mean 24 per ft² and, but for chance, this CV."""
    mean = 24.0
    if shape == "gamma":
        return rng.gamma(1 / cv**2, mean * cv**2, n)
    if shape == "lognormal":
        var = np.log1p(cv**2)
        return mean * np.exp(rng.normal(-var / 2, np.sqrt(var), n))
    local = np.full(n, mean)
    # counts at random have the variance of their mean; what is left is the field's own
    own = max(0.0, cv**2 - 1 / mean)
    if shape == "clumped" and own > 0:
        local = rng.gamma(1 / own, mean * own, n)
    elif shape == "patches":  # a share of the field has a tenth of the stand, the rest all of it
        bare = own / (own + 0.81)
        stand = mean / (1 - 0.9 * bare)
        local = np.where(rng.random(n) < bare, 0.1, 1.0) * stand
    return rng.poisson(local).astype(float)


def few(n: int, shape: str, fields: int, rng: np.random.Generator) -> np.ndarray:
    """One row a field: t interval holds, interval taken holds, CV seen, both half-widths over the
    truth, true CV."""
    rows = []
    cvs = rng.uniform(*CVS, fields)
    truth = 24.0 / M2_PER_FT2
    for i in ticked(range(fields), f"{shape}, {n} spots"):
        counts = few_counts(shape, float(cvs[i]), n, rng)
        spots = [SpotDensity(str(k), "hand", c / M2_PER_FT2, None) for k, c in enumerate(counts)]
        found = mean_of_spots(spots, "plants", LEVEL)
        assert found is not None
        half = student((1 + LEVEL) / 2, found.df) * found.scale
        low, high = max(0.0, found.mean - half), found.mean + half
        holds = low <= truth <= high, found.low <= truth <= found.high
        widths = (high - low) / truth / 2, (found.high - found.low) / truth / 2
        rows.append((*holds, found.cv or 0.0, *widths, cvs[i]))
    return np.array(rows, float)


def print_few(fields: int, seed: int) -> None:
    """The table of few spots."""
    low, high = CVS
    print(f"\nFew spots: {fields} fields each, CV {low:.0%} to {high:.0%}, level {LEVEL:.0%}")
    print("t interval -> interval taken; half-widths are medians over the truth")
    print(
        "spots  field      holds            looking alike    CV over 60 %     half-width    "
        "CV under 30 %"
    )
    for n in FEW:
        for number, shape in enumerate(SHAPES):
            rows = few(n, shape, fields, np.random.default_rng([seed, 2000 + number, n]))
            alike = rows[rows[:, 2] <= np.quantile(rows[:, 2], 0.25)]
            shares = "  ".join(
                f"{part[:, 0].mean():5.1%} -> {part[:, 1].mean():5.1%}"
                for part in (rows, alike, rows[rows[:, 5] > 0.6])
            )
            widths = "  ".join(
                f"{np.median(part[:, 3]):4.2f} -> {np.median(part[:, 4]):4.2f}"
                for part in (rows, rows[rows[:, 5] < 0.3])
            )
            print(f"{n:5d}  {shape:9s}  {shares}  {widths}")


def ticked(items: range, label: str) -> Iterator[int]:
    """Progress on the error stream, so that the tables can be redirected."""
    if not sys.stderr.isatty():
        print(label, file=sys.stderr, flush=True)
        yield from items
        return
    for item in items:
        if item % 50 == 0:
            print(f"\r{label}: {item}/{len(items)}   ", end="", file=sys.stderr, flush=True)
        yield item
    print("\r" + " " * (len(label) + 20), end="\r", file=sys.stderr, flush=True)
