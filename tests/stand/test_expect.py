"""When a yield is told, and how far it may reach."""

from __future__ import annotations

import html
import json
import re

import pytest

from tests.stand.fields import field
from tillercount.report.page import page_html
from tillercount.stand import assess
from tillercount.stand.expect import HEADS_MOST, TOO_WIDE, expected_heads
from tillercount.units import per_ft2, per_m2


@pytest.mark.parametrize("counts", [[27.0], [0.0], [27.0, 5.0], [20.0, 30.0, 1.0], [0.0, 0.0]])
def test_no_yield_where_it_cant_be_told(counts: list[float]) -> None:
    result = assess(field(counts), yield_goal="80 bu/ac")
    record = result.to_json()
    assert record["heads"] is None
    assert record["yield"] is None
    assert "yield" in record["yield_why"]
    shoots = result.field.shoots
    assert shoots is not None
    assert len(counts) == 1 or shoots.mean == 0 or shoots.high > TOO_WIDE * shoots.low
    page = html.unescape(page_html(result))
    assert record["yield_why"][1:] in page
    assert "bu/ac likely" not in page + json.dumps(record)
    assert not re.search("makes likely|Heads and yield", page)


def test_one_spot_says_how_many_it_takes() -> None:
    assert assess(field([27.0])).no_yield == (
        "yield can't be told from 1 spot; after 6 spots it can be narrowed"
    )


def test_figures_are_taken_at_the_mean() -> None:
    """Survival 0.45 to 0.78 and 0.65 to 2.0 bushels a head: no further, whatever the interval."""
    result = assess(field([20.0, 26.0, 22.0, 25.0, 24.0, 21.0]))
    assert result.field.shoots is not None
    assert result.heads is not None
    assert result.yield_ is not None
    mean = per_ft2(result.field.shoots.mean)
    assert (result.heads.low, result.heads.high) == pytest.approx((0.45 * mean, 0.78 * mean))
    factors = [row.factor for row in result.yield_.by_source]
    assert result.yield_.low == pytest.approx(0.45 * mean * min(low for low, _ in factors))
    assert result.yield_.high == pytest.approx(0.78 * mean * max(high for _, high in factors))


def test_no_more_heads_than_the_most_in_print() -> None:
    """870 heads a square meter: the top fifth of growers, Great Lakes 2023."""
    assert pytest.approx(870.0) == per_m2(HEADS_MOST)
    thick = assess(field([40.0, 41.0, 42.0, 39.0, 40.0, 41.0]))  # about 120 shoots
    assert thick.field.shoots is not None
    assert thick.heads is not None
    assert thick.heads.high == HEADS_MOST
    assert thick.heads.low < HEADS_MOST
    rows = expected_heads(thick.field.shoots).by_source
    assert max(row.factor[1] for row in rows) * per_ft2(thick.field.shoots.mean) > HEADS_MOST
    (step,) = [step for step in thick.steps if step.kind == "heads"]
    assert "at most 81" in step.value + step.why
    thicker = assess(field([64.0, 66.0, 63.0, 65.0, 64.0, 62.0]))  # 192 x 0.45 are more than 81
    assert thicker.heads is None
    assert thicker.no_yield.startswith("as much yield as the season allows")


def test_yield_is_said_as_between_by_figures_in_print() -> None:
    page = page_html(assess(field([20.0, 26.0, 22.0, 25.0, 24.0, 21.0])))
    assert re.search(r"by figures in print.* and between \d+ and \d+ bu/ac", page)
