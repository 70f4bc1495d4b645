"""Sizes of samples in print."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shared_data import shared_path

from tillercount.area import StatedArea
from tillercount.errors import InputError
from tillercount.field import collect, estimate_field, run_precision, stratified_size
from tillercount.hand import HandCount


def test_stratified_size() -> None:
    """Strata 0.3, 0.1, 0.2, 0.4 with CV 40, 65, 80, 35 %, t 2, ± 10 %, 1,000 possible plots:
    weighted CV 48.5, n 85.998, so 86; parts 21, 12, 28 (USDA Forest Service Handbook 2409.12)."""
    shares, cvs = (0.3, 0.1, 0.2, 0.4), (0.40, 0.65, 0.80, 0.35)
    assert sum(w * c for w, c in zip(shares, cvs, strict=True)) == pytest.approx(0.485)
    n, parts = stratified_size(shares, cvs, 0.10, t=2.0, population=1000)
    assert n == pytest.approx(85.998, abs=5e-4)
    assert math.ceil(n) == 86
    assert [round(part) for part in parts[:3]] == [21, 12, 28]
    assert sum(parts) == pytest.approx(n)
    many, _ = stratified_size(shares, cvs, 0.10)
    assert many == pytest.approx((2 * 0.485 / 0.10) ** 2)
    assert stratified_size((3, 1, 2, 4), cvs, 0.10)[0] == pytest.approx(many)


def test_stratified_size_refuses() -> None:
    with pytest.raises(InputError, match="one of each"):
        stratified_size((0.5, 0.5), (0.4,), 0.1)
    with pytest.raises(InputError, match="not all 0"):
        stratified_size((0.0, 0.0), (0.4, 0.4), 0.1)
    with pytest.raises(InputError, match="width and t above 0"):
        stratified_size((1.0,), (0.4,), 0.0)


def test_ninety_plants_in_a_run() -> None:
    """A run holding 90 plants gives about 10 % (Liu et al. 2017, Plant Methods 13:38; 10.5 % for
    plants at random), whatever the density."""
    assert run_precision(90) == pytest.approx(0.10, abs=0.006)
    assert run_precision(90) == pytest.approx(0.105, abs=5e-4)
    rng = np.random.default_rng(90)
    for density in (5.0, 40.0):
        runs = rng.exponential(1 / density, (4000, 90)).sum(axis=1)
        found = 90 / runs
        # the reciprocal of a mean of 90 gaps: a hair wider than 1/√90
        assert found.std() / density == pytest.approx(run_precision(90), rel=0.06)
    with pytest.raises(InputError, match="above 0"):
        run_precision(0)


def test_gamma_gaps() -> None:
    """Gaps along a wheat row are independent and gamma distributed (Liu et al. 2017)."""
    rng = np.random.default_rng(4)
    for shape in (0.8, 1.5):
        lengths = rng.gamma(shape, 1.0, (4000, 90)).sum(axis=1)
        relative = lengths.std() / lengths.mean()
        assert relative == pytest.approx(run_precision(90, 1 / math.sqrt(shape)), rel=0.05)


def test_one_barley_plot() -> None:
    """McLeod 1976, Studholme at 125 kg/ha: 251 plants per m² with 3.12 tillers and 2.44 heads are
    783 shoots, 612 heads, survival 78.2 % (agridat, mcleod.barley; products worked)."""
    (spot,) = collect(HandCount("1", "McLeod", 251, 251 * 3.12, StatedArea(1.0))).spots
    assert spot.shoots_per_m2 == pytest.approx(783, abs=0.5)
    heads = 251 * 2.44
    assert heads == pytest.approx(612, abs=0.5)
    assert heads / (spot.shoots_per_m2 or 1) == pytest.approx(0.782, abs=5e-4)


PUBLISHED = [  # plants per m², tillers and heads per plant, survival %, means of eight sites
    (50, 112.12, 5.22, 4.36, 83.95),
    (75, 162.75, 4.04, 3.26, 80.89),
    (100, 202.62, 3.69, 2.73, 74.29),
]


@pytest.mark.parametrize(("rate", "plants", "tillers", "heads", "survival"), PUBLISHED)
def test_barley_chain(
    rate: int, plants: float, tillers: float, heads: float, survival: float
) -> None:
    """McLeod 1982, barley in New Zealand (agridat, mcleod.barley): plants × tillers × survival
    are the heads, within 2 % (means of products aren't products of means)."""
    found = estimate_field(
        collect(HandCount(str(rate), "McLeod", plants, plants * tillers, StatedArea(1.0))).spots
    )
    assert found.shoots is not None
    assert found.plants is not None
    assert found.shoots.mean / found.plants.mean == pytest.approx(tillers)
    assert found.shoots.mean * survival / 100 == pytest.approx(plants * heads, rel=0.02)


def test_barley_table() -> None:
    """The same over the table's own rows of 1974 and 1975."""
    path = shared_path("data", "field_trials", "mcleod.barley.1974-75.txt")
    rows = np.genfromtxt(path, delimiter="\t", names=True, dtype=None, encoding="utf-8")
    spots = collect(
        [
            HandCount(f"{r['year']} {r['site']} {r['rate']}", "McLeod", float(r["plants"]),
                      float(r["plants"] * r["tillers"]), StatedArea(1.0))
            for r in rows
        ]
    ).spots  # fmt: skip
    found = estimate_field(spots)
    assert found.shoots is not None
    assert found.shoots.n == 25
    assert found.shoots.mean == pytest.approx(np.mean(rows["plants"] * rows["tillers"]))
    for spot, row in zip(found.used, rows, strict=True):
        assert spot.shoots_per_m2 is not None
        heads = spot.shoots_per_m2 * row["surviving"] / 100
        assert heads == pytest.approx(row["plants"] * row["heads"], rel=0.05)
