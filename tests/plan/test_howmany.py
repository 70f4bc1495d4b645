"""Sample sizes against published figures and against the formula they come from."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from tests.plan.fields import SQUARE, corners, polygon, typed, write
from tillercount.errors import InputError
from tillercount.plan import (
    Need,
    expected_precision,
    plan_visit,
    read_field,
    spots_for_precision,
    spots_for_zones,
    spots_to_decide,
)
from tillercount.plan.design import allocate
from tillercount.plan.howmany import read_cv, read_share, stratified_size

FIELD = read_field(typed(corners(SQUARE)))


def test_published_stratified_example() -> None:
    """USDA Forest Service Handbook 2409.12: areas 0.3, 0.1, 0.2, 0.4, CV 40, 65, 80, 35 %,
    t 2, error 10 %, population 1,000: n = 86, of which 21, 12 and 28 in the first three."""
    shares, cvs = [0.3, 0.1, 0.2, 0.4], [0.40, 0.65, 0.80, 0.35]
    n = stratified_size(shares, cvs, 0.10, t=2.0, population=1000)
    assert n == pytest.approx(85.998, abs=5e-4)
    assert allocate(86, np.array(shares) * np.array(cvs)).tolist() == [21, 12, 28, 25]


@pytest.mark.parametrize("cv", [0.1, 0.3, 0.446, 0.8])
@pytest.mark.parametrize("relative", [0.1, 0.2, 0.3])
def test_least_number_by_the_formula(cv: float, relative: float) -> None:
    """n = (t CV / E)² with t at n - 1 holds at n and not at n - 1 (University of Missouri)."""
    n = spots_for_precision(cv, relative)

    def needed(at: int) -> float:
        return (float(stats.t.ppf(0.95, at - 1)) * cv / relative) ** 2

    assert n >= needed(n) - 1e-6
    assert n == 2 or n - 1 < needed(n - 1)
    assert expected_precision(cv, n) <= relative + 1e-9


def test_five_published_counts() -> None:
    """SDSU, Kennebec: 10, 16, 8, 6, 18 plants/ft² (CV 44.63 %), half-width at 95 % 6.43."""
    counts = np.array([10, 16, 8, 6, 18])
    cv = counts.std(ddof=1) / counts.mean()
    assert expected_precision(cv, 5, level=0.95) * 11.6 == pytest.approx(6.43, abs=0.01)


def test_one_zone_is_the_simple_formula() -> None:
    assert spots_for_zones([1.0], [0.45], 0.2) == spots_for_precision(0.45, 0.2)


def test_even_zones_lose_only_degrees_of_freedom() -> None:
    assert 16 <= spots_for_zones([0.5, 0.5], [0.45, 0.45], 0.2) <= 17


def test_decision_limit() -> None:
    near, far = spots_to_decide(0.3, 16.0, 15.0 * 0.8), spots_to_decide(0.3, 30.0, 12.0)
    assert near > far >= 2
    with pytest.raises(InputError, match="can't be told from it by 200 spots"):
        spots_to_decide(0.45, 15.1, 15.0)
    with pytest.raises(InputError, match=r"more than 200 spots.*at best ±12"):
        spots_for_precision(1.0, 0.05)


def test_plans_take_their_number_from_it(tmp_path: Path) -> None:
    plan = plan_visit(FIELD, need=Need(cv=0.45, precision=0.2), rng=1)
    assert len(plan.spots) == 16
    assert "16 spots at an expected CV of 45 % should give ±20 %" in plan.why
    both = plan_visit(FIELD, need=Need(cv=0.3, precision=0.5, limit=15.0, mean=21.0), rng=1)
    assert len(both.spots) == spots_to_decide(0.3, 21.0, 15.0)
    assert plan_visit(FIELD, 8, need=Need(cv=0.45), rng=1).why.startswith("8 spots at an expected")
    hill = polygon(corners([(0, 0), (400, 0), (400, 800), (0, 800)]), name="hill")
    flat = polygon(corners([(400, 0), (800, 0), (800, 800), (400, 800)]), name="flat")
    zones = write(tmp_path / "z.geojson", hill, flat)
    need = Need(cv={"hill": 0.6, "flat": 0.2}, precision=0.2)
    split = plan_visit(FIELD, zones=zones, need=need, rng=1)
    names = [spot.zone for spot in split.spots]
    assert names.count("hill") == pytest.approx(3 * names.count("flat"), abs=2)
    with pytest.raises(InputError, match="needs --design stratified"):
        plan_visit(FIELD, zones=zones, need=need, design="random")
    assert "±20 %" in split.why or "±19 %" in split.why
    walk = plan_visit(FIELD, 9, need=Need(cv=0.45), design="w-walk", rng=1)
    assert "can't be said" in walk.why
    with pytest.raises(InputError, match="'rock' is no zone; the zones are hill, flat"):
        plan_visit(FIELD, zones=zones, need=Need(cv={"rock": 0.6}, precision=0.2))


@pytest.mark.parametrize(
    ("need", "says"),
    [
        (Need(cv=0.4), "how many spots"),
        (Need(precision=0.2), "how many spots"),
        (Need(cv=0.4, limit=15.0), "give --expect-mean"),
        (Need(cv={"a": 0.4}, precision=0.2), "give --zones"),
    ],
)
def test_too_little_to_go_by(need: Need, says: str) -> None:
    with pytest.raises(InputError, match=says):
        plan_visit(FIELD, need=need)


def test_typed_shares() -> None:
    assert read_share("45%", what="CV") == read_share("0.45", what="CV") == 0.45
    assert read_cv("hill = 65%, flat=0.35") == {"hill": 0.65, "flat": 0.35}
    for text in ("45", "0", "-3%", "x", "", "500%"):
        with pytest.raises(InputError, match="CV"):
            read_share(text, what="CV")
    with pytest.raises(InputError, match="can't be read"):
        read_cv("hill=65%,flat")
