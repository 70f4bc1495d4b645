"""Other plants of a field: cover and density over spots, from photos alone."""

from __future__ import annotations

from typing import Any

import pytest
from scipy import stats

from tests.stand.fields import FOOT
from tillercount.errors import InputError
from tillercount.field import SpotDensity, collect, estimate_field
from tillercount.field.others import HOW, other_plants, others_record
from tillercount.hand import HandCount
from tillercount.units import per_m2


def counts(
    *spots: tuple[float | None, float | None], names: tuple[str, ...] = (), ft2: float = 2.0
) -> dict[str, Any]:
    """A counts file with (cover, count) of other plants at each spot."""
    return {
        "schema": "tillercount.counts/1",
        "spots": [
            {
                "photo": names[i] if names else f"spot_{i}.jpg",
                "area": {"ft2": ft2},
                "plants": {"count": 40.0 + i, "low": 32, "high": 60},
                "shoots": None,
                **({} if cover is None else {"cover": {"crop": 0.2, "other_plants": cover}}),
                **({} if count is None else {"other_plants": {"count": count}}),
            }
            for i, (cover, count) in enumerate(spots)
        ],
    }


def test_means_and_the_t_interval_over_spots() -> None:
    """Counts of 4, 10 and 7 in 2 ft² are 2, 5 and 3.5 per ft²; t by SciPy."""
    field = estimate_field(collect(counts((0.02, 4.0), (0.10, 10.0), (0.06, 7.0))).spots)
    found = field.other_plants
    assert found is not None
    assert found.per_m2 is not None
    assert found.cover.mean == pytest.approx(0.06)
    assert found.per_m2.mean == pytest.approx(per_m2(3.5))
    low, high = stats.t.interval(0.9, 2, per_m2(3.5), per_m2(1.5) / 3**0.5)
    assert found.per_m2.low == pytest.approx(low)
    assert found.per_m2.high == pytest.approx(high)
    assert (found.cover.low, found.cover.spots, found.cover.level) == (0.0, 3, 0.9)
    record = others_record(found)
    assert record is not None
    assert record["per_ft2"]["mean"] == pytest.approx(3.5)
    assert "isn't calibrated" in record["how"]
    assert record["how"] == HOW


def test_one_spot_claims_no_spread() -> None:
    found = other_plants(collect(counts((0.05, 3.0))).spots, 0.9)
    assert found is not None
    assert found.per_m2 is not None
    assert (found.per_m2.low, found.per_m2.high, found.per_m2.alike) == (None, None, False)


@pytest.mark.parametrize("count", [3.0, 0.7, 0.0])
def test_equal_spots_have_the_limits_of_a_count_by_chance(count: float) -> None:
    """Garwood's limits of what was counted in all, by χ²; shares of cover have none."""
    spots = collect(counts((0.05, count), (0.05, count), (0.05, count), ft2=1.7)).spots
    found = other_plants(spots, 0.9)
    assert found is not None
    assert found.per_m2 is not None
    assert (found.cover.low, found.cover.high, found.cover.alike) == (None, None, True)
    assert found.per_m2.alike
    low = stats.chi2.ppf(0.05, 2 * 3 * count) / 2 if count else 0.0
    high = stats.chi2.ppf(0.95, 2 * 3 * count + 2) / 2
    assert found.per_m2.low == pytest.approx(per_m2(low / 5.1))
    assert found.per_m2.high == pytest.approx(per_m2(high / 5.1))


def test_last_digits_are_no_difference() -> None:
    """0.1 + 0.2 isn't 0.3: such spots would have an interval of no width."""
    spots = [
        SpotDensity(str(i), "photo", 200.0, None, other_cover=cover, other_per_m2=100 * cover)
        for i, cover in enumerate((0.1 + 0.2, 0.3, 0.3))
    ]
    found = other_plants(spots, 0.9)
    assert found is not None
    assert found.cover.low is None
    assert found.per_m2 is not None
    assert found.per_m2.low is not None
    assert found.per_m2.low < 29


def test_a_model_that_cannot_tell_gives_cover_alone() -> None:
    found = other_plants(collect(counts((0.02, None), (0.04, None))).spots, 0.9)
    assert found is not None
    assert found.cover.mean == pytest.approx(0.03)
    assert found.per_m2 is None
    assert others_record(found)["per_ft2"] is None  # type: ignore[index]


def test_hand_counts_have_none_and_take_none_away() -> None:
    """A hand count stands for the crop of its photo, not for its weeds."""
    hand = HandCount("0", "Ash", 30, None, FOOT)
    assert estimate_field(collect([hand]).spots).other_plants is None
    both = estimate_field(collect([counts((0.06, 4.0)), hand]).spots)
    assert both.used[0].source == "hand"
    assert both.other_plants is not None
    assert both.other_plants.cover.mean == pytest.approx(0.06)


def test_two_photos_of_a_spot_are_one_spot() -> None:
    spots = [
        SpotDensity(name, "photo", 200.0, None, other_cover=cover, other_per_m2=100 * cover)
        for name, cover in (("1", 0.1), ("1", 0.3), ("2", 0.05))
    ]
    found = other_plants(spots, 0.9)
    assert found is not None
    assert found.cover.spots == 2
    assert found.cover.mean == pytest.approx((0.2 + 0.05) / 2)


def test_files_without_any_of_it() -> None:
    assert other_plants(collect(counts((None, None))).spots, 0.9) is None
    assert others_record(None) is None


@pytest.mark.parametrize(
    ("cover", "count", "says"),
    [(1.2, None, "cover.other_plants: 1.2"), (-0.1, None, "cover"),
     (0.1, -1.0, "other_plants.count"), (0.1, float("nan"), "nan"), ("much", None, "'much'")],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_its_spot(cover: Any, count: Any, says: str) -> None:
    with pytest.raises(InputError, match=r"(?<!spot )spot_0") as caught:
        collect(counts((cover, count)))
    assert says in str(caught.value)
