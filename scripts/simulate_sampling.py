#!/usr/bin/env python3
"""Coverage and width of the field estimates, and the error rate of the stop rule, by simulation.

Fields: density falls from one side to the other (a straight trend over both directions), and
around it plants clump, so that a spot's count is negative binomial. Spots lie at random. A hand
count is the count; a photo reads it too high or too low by a share that all photos of the field
have in common, and with an error of its own that gives the stated correlation. The truth is the
field's mean density. The estimates are made by the package's own functions.

A second part (``--few``) asks how well the intervals of few spots hold: `simulate_few_spots`.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass

import numpy as np
from simulate_few_spots import LEVEL, print_few, ticked

from tillercount.field.density import DensityEstimate, student
from tillercount.field.double import DoubleSample, combine, double_sample
from tillercount.field.spots import SpotDensity
from tillercount.field.stop import peek_factor, stop_rule
from tillercount.units import M2_PER_FT2

PAIRS = (4, 6, 10, 20)


@dataclass(frozen=True)
class Case:
    """One kind of field and of photo model. Densities per ft², one spot is one ft²."""

    name: str
    mean: float = 24.0
    trend: float = 0.3
    """Half the fall across the field, over the mean."""
    k: float = 10.0
    """Of the negative binomial around the trend; small is patchy."""
    r: float = 0.94
    """Correlation of photo and hand count."""
    spread: float | None = None
    """Standard deviation of photos over that of hand counts, before the bias; None: 1/r, which is
    the hand count plus an error of its own."""
    bias: float = -0.1
    """Mean relative error of all photos, known to nobody."""
    bias_sd: float = 0.1
    """Relative error that differs from field to field; the model states this much."""
    photos: int = 60


CASES = (
    Case("good photos"),
    Case("photos without bias", bias=0.0),
    Case("loose photos", r=0.69),
    Case("patchy field", k=3.0, trend=0.45),
    Case("useless photos", r=0.1, spread=1.0),
)


def draw(case: Case, n: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Hand counts and photos at n random spots of a new field."""
    place = rng.uniform(-1, 1, (2, n))
    local = case.mean * (1 + case.trend * place.mean(axis=0) * 2)
    hand = rng.poisson(local * rng.gamma(case.k, 1 / case.k, n)).astype(float)
    # var of 2·mean(place): 2/3; the mean of the field is case.mean as the trend is even
    signal = (case.mean * case.trend) ** 2 * 2 / 3
    sd = np.sqrt(signal + case.mean + (case.mean**2 + signal) / case.k)
    gain = 1 + case.bias + rng.normal(0, case.bias_sd)
    spread = case.spread if case.spread is not None else 1 / case.r
    read = case.mean + case.r * spread * (hand - case.mean)
    noise = spread * sd * np.sqrt(1 - case.r**2)
    return hand, np.maximum(0.0, gain * (read + rng.normal(0, noise, n)))


def spots_of(hand: np.ndarray, photo: np.ndarray, pairs: int, bias: float) -> list[SpotDensity]:
    """The first ``pairs`` spots counted both ways (they lie at random), the rest by photo."""
    out = []
    for i, x in enumerate(photo):
        out.append(SpotDensity(str(i), "photo", x / M2_PER_FT2, None, plants_bias_rel=bias))
        if i < pairs:
            out.append(SpotDensity(str(i), "hand", hand[i] / M2_PER_FT2, None))
    return out


class Tally:
    """Coverage and width of one estimator."""

    def __init__(self) -> None:
        self.hits = self.count = 0
        self.widths: list[float] = []

    def add(self, estimate: DensityEstimate, truth: float) -> None:
        """One more field."""
        self.count += 1
        self.hits += estimate.low <= truth <= estimate.high
        self.widths.append(estimate.high - estimate.low)

    def line(self, beside: Tally) -> str:
        """Coverage with its standard error, half-width per ft², ratio to ``beside``."""
        if not self.count:
            return "      –"
        share = self.hits / self.count
        error = np.sqrt(share * (1 - share) / self.count)
        width = float(np.mean(self.widths)) / 2 * M2_PER_FT2
        ratio = float(np.mean(self.widths) / np.mean(beside.widths))
        return f"{share:6.1%} ±{error:5.1%}   ±{width:5.2f}   {ratio:5.2f}"


def fixed(
    case: Case, pairs: int, fields: int, rng: np.random.Generator
) -> tuple[dict[str, Tally], dict[str, int]]:
    """Every estimator on the same fields, looked at once."""
    names = (
        "hand only", "photo only", "difference", "regression", "ratio", "as taken", "taken, low r"
    )  # fmt: skip
    tallies = {name: Tally() for name in names}
    chosen: dict[str, int] = {}
    truth = case.mean / M2_PER_FT2
    for _ in ticked(range(fields), f"{case.name}, {pairs} pairs"):
        hand, photo = draw(case, case.photos, rng)
        # The model states the whole spread of its bias, the part that is always there included.
        stated = float(np.hypot(case.bias, case.bias_sd))
        spots = spots_of(hand, photo, pairs, stated)
        found = double_sample(spots, "plants", LEVEL)
        assert isinstance(found, DoubleSample)
        tallies["hand only"].add(found.hand, truth)
        tallies["photo only"].add(found.photo, truth)
        both = list(zip(hand[:pairs] / M2_PER_FT2, photo[:pairs] / M2_PER_FT2, strict=True))
        alone = photo[pairs:] / M2_PER_FT2
        for name, fit in (("difference", "one"), ("regression", "line"), ("ratio", "ratio")):
            tallies[name].add(combine(both, alone, [], fit, LEVEL)[0], truth)  # type: ignore[arg-type]
        assert found.answer is not None
        tallies["as taken"].add(found.answer, truth)
        # an interval must hold in the fields that look bad too, not only over all together
        if found.r is None or (found.r_needed is not None and found.r <= found.r_needed):
            tallies["taken, low r"].add(found.answer, truth)
        chosen[found.method] = chosen.get(found.method, 0) + 1
    return tallies, chosen


def stopping(case: Case, off: float, fields: int, rng: np.random.Generator) -> dict[str, list[int]]:
    """A border ``off`` (relative) from the truth, looked at after every spot up to 60.

    Returns, per rule, [wrong, right, undecided, spots walked in fields that were decided].
    """
    border = case.mean * (1 + off) / M2_PER_FT2
    rules = ("hand, 90 % interval", "hand, stop rule", "pairs, stop rule")
    out = {name: [0, 0, 0, 0] for name in rules}
    for _ in ticked(range(fields), f"{case.name}, border {off:+.0%}"):
        hand, photo = draw(case, 60, rng)
        y, x = hand / M2_PER_FT2, photo / M2_PER_FT2
        n = np.arange(1, 61)
        mean = np.cumsum(y) / n
        var = np.maximum(0, np.cumsum(y * y) - n * mean**2) / np.maximum(1, n - 1)
        se = np.sqrt(var / n)
        for name, factors in (
            (rules[0], [0.0] * 3 + [*(student(0.95, i - 1.0) for i in range(4, 61))]),
            (rules[1], [peek_factor(i, LEVEL) for i in range(1, 61)]),
        ):
            with np.errstate(invalid="ignore"):
                apart = (
                    (np.abs(mean - border) > np.asarray(factors) * se)
                    & (n >= (8 if name == rules[1] else 4))
                    & (se > 0)
                )
            at = int(np.argmax(apart)) if apart.any() else -1
            _book(out[name], at, (mean[at] > border) == (off < 0))
        # every third spot is counted by hand as well; looked at after each of those
        at, right = -1, False
        for m in range(12, 61, 3):
            idx = np.arange(m) % 3 == 0
            both = list(zip(y[:m][idx], x[:m][idx], strict=True))
            estimate, _slope = combine(both, x[:m][~idx], [], "one", LEVEL)
            if stop_rule(estimate, [border]).settled:
                at, right = m - 1, (estimate.mean > border) == (off < 0)
                break
        _book(out[rules[2]], at, right)
    return out


def _book(row: list[int], at: int, right: bool) -> None:
    if at < 0:
        row[2] += 1
        return
    row[1 if right else 0] += 1
    row[3] += at + 1


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fields", type=int, default=400, help="fields per case (default 400)")
    parser.add_argument("--seed", type=int, default=20260311)
    parser.add_argument("--case", action="append", help="only cases whose name contains this")
    parser.add_argument("--few", action="store_true", help="only the table of few spots")
    options = parser.parse_args()
    if options.few:
        print_few(options.fields, options.seed)
        return 0
    cases = [c for c in CASES if not options.case or any(t in c.name for t in options.case)]
    began = time.perf_counter()
    print(f"{options.fields} fields per case, seed {options.seed}, level {LEVEL:.0%}")
    for number, case in enumerate(cases):
        print(
            f"\n{case.name}: mean {case.mean:g} per ft², trend ±{2 * case.trend:.0%} corner to "
            f"corner, k {case.k:g}, r {case.r:g}, photos read {case.bias:+.0%} ± "
            f"{case.bias_sd:.0%}, {case.photos} photos"
        )
        print("pairs  estimator      covers           half/ft²  width/hand only")
        for pairs in PAIRS:
            rng = np.random.default_rng([options.seed, number, pairs])
            tallies, chosen = fixed(case, pairs, options.fields, rng)
            for name, tally in tallies.items():
                print(f"{pairs:5d}  {name:12s} {tally.line(tallies['hand only'])}")
            print(f"{'':7s}taken: " + ", ".join(f"{k} {v}" for k, v in sorted(chosen.items())))
    print(
        "\nStopping as soon as the border is outside, looked at after every spot, 60 spots at most"
    )
    print("case              border  rule                   wrong   right   undecided  spots")
    for number, case in enumerate(cases):
        for off in (-0.15, -0.02, 0.02, 0.15):
            rng = np.random.default_rng([options.seed, 1000 + number, int(100 * (1 + off))])
            for name, row in stopping(case, off, options.fields, rng).items():
                wrong, right, none, walked = row
                decided = max(1, wrong + right)
                print(
                    f"{case.name:18s} {off:+5.0%}  {name:20s} {wrong / options.fields:7.1%} "
                    f"{right / options.fields:7.1%} {none / options.fields:10.1%} "
                    f"{walked / decided:8.1f}"
                )
    print(f"\n{time.perf_counter() - began:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
