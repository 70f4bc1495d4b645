"""Weather files, growing degree days, dates, and shoots by leaves."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tillercount.errors import InputError
from tillercount.stand.checks import GREEN_UP, WINTER_SURVIVAL, revisit
from tillercount.stand.growth import (
    WAYS,
    Jointing,
    NoDate,
    degree_days,
    first_nitrogen,
    green_up,
    growing_now,
    jointing_dates,
    running_sum,
)
from tillercount.stand.leaves import (
    count_hint,
    leaves_from_degree_days,
    shoots_for_leaves,
    shoots_from_degree_days,
)
from tillercount.stand.season import look_at_season
from tillercount.stand.weather import Day, Weather, read_weather

AFTER, BEFORE = WAYS
START = dt.date(2025, 1, 1)


def weather(*means: float, first: dt.date = START, swing: float = 0.0) -> Weather:
    days = (
        Day(first + dt.timedelta(n), mean + swing, mean - swing) for n, mean in enumerate(means)
    )
    return Weather(tuple(days), "made.csv", "F")


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "w.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_oregon_example(tmp_path: Path) -> None:
    """Oregon State EM 8578: six days make 92.5 °C-days (it prints 94, rounding every step)."""
    rows = [(72, 48), (78, 45), (69, 43), (73, 45), (75, 46), (74, 49)]
    text = "date,tmax_f,tmin_f\n" + "".join(
        f"2025-04-{n},{high},{low}\n" for n, (high, low) in enumerate(rows, start=10)
    )
    days = read_weather(written(tmp_path, text)).days
    for way in WAYS:
        assert running_sum(days, way)[-1] / 1.8 == pytest.approx(92.5)


def test_the_two_ways_by_hand() -> None:
    """40/20 °F: the mean is 30, so none after averaging; before, (40 + 32) / 2 - 32 = 4."""
    day = Day(START, 40, 20)
    assert degree_days(day, AFTER) == 0
    assert degree_days(day, BEFORE) == 4
    assert degree_days(Day(START, 50, 30), AFTER) == 8
    assert degree_days(Day(START, 50, 30), BEFORE) == 9
    assert degree_days(Day(START, 20, 10), BEFORE) == 0


@given(st.floats(-40, 120), st.floats(0, 60))
def test_before_never_counts_less(low: float, span: float) -> None:
    day = Day(START, low + span, low)
    assert degree_days(day, BEFORE) >= degree_days(day, AFTER) - 1e-9 >= -1e-9
    if low >= 32:
        assert degree_days(day, BEFORE) == pytest.approx(degree_days(day, AFTER))


@pytest.mark.parametrize(
    "header",
    ["date,tmax_c,tmin_c", "Date;Max (°C);Min (°C)", "day\thigh C\tlow C", "Date,TMAX C,TMIN C"],
)
def test_metric_and_us_files_agree(tmp_path: Path, header: str) -> None:
    split = next(mark for mark in ";\t," if mark in header)
    metric = read_weather(
        written(tmp_path, f"{header}\n" + split.join(("2025-03-01", "10", "-5")) + "\n")
    )
    us = read_weather(written(tmp_path, "date,tmax_f,tmin_f\n3/1/2025,50,23\n"))
    assert metric.days == us.days
    assert (metric.scale, us.scale) == ("C", "F")


@given(st.lists(st.tuples(st.floats(-30, 20), st.floats(0, 20)), min_size=1, max_size=20))
def test_units_round_trip(pairs: list[tuple[float, float]]) -> None:
    """°C-days x 1.8 are °F-days with the same base point."""
    for way in WAYS:
        in_f = [Day(START, (lo + up) * 1.8 + 32, lo * 1.8 + 32) for lo, up in pairs]
        in_c = [
            max(0.0, (2 * lo + up) / 2) if way == AFTER else (max(lo + up, 0) + max(lo, 0)) / 2
            for lo, up in pairs
        ]
        assert running_sum(in_f, way)[-1] == pytest.approx(1.8 * math.fsum(in_c), abs=1e-6)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("date,tmax,tmin\n2025-03-01,50,30\n", "doesn't say °F or °C"),
        ("date,tmax_f,tmin_c\n2025-03-01,50,30\n", "both °F and °C"),
        ("date,tmax_f\n2025-03-01,50\n", "no column for min"),
        ("date,tmax_f,max_f,tmin_f\n2025-03-01,50,50,30\n", "two columns for max"),
        ("date,tmax_f,tmin_f\n", "no rows"),
        ("date,tmax_f,tmin_f\n01.03.2025,50,30\n", "row 2: date '01.03.2025'"),
        ("date,tmax_f,tmin_f\n2025-02-30,50,30\n", "row 2: date"),
        ("date,tmax_f,tmin_f\n2025-03-01,30,50\n", "row 2: the lowest .* above"),
        ("date,tmax_f,tmin_f\n2025-03-01,hot,30\n", "row 2, max"),
        ("date,tmax_f,tmin_f\n2025-03-01,500,30\n", "row 2: .* can't be air"),
        ("date,tmax_c,tmin_c\n2025-03-01,70,40\n", "row 2: .* can't be air"),
        ("date,tmax_f,tmin_f\n2025-03-01,50,30\n2025-03-01,51,30\n", "two rows for 2025-03-01"),
        ("date,tmax_f,tmin_f\n2025-03-01,,\n", "no day has both"),
    ],
)
def test_bad_files(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(InputError, match=says):
        read_weather(written(tmp_path, text))


def test_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="can't be read"):
        read_weather(tmp_path / "none.csv")
    with pytest.raises(InputError, match="leave one out"):
        read_weather(written(tmp_path, "date,tmax_f,tmin_f\n2025-03-01,50,30\n"), "C")


@pytest.mark.parametrize(("gap", "filled"), [(1, True), (3, True), (4, False)])
def test_short_gaps_are_filled_and_said(tmp_path: Path, gap: int, filled: bool) -> None:
    last = dt.date(2025, 3, 1) + dt.timedelta(gap + 1)
    found = read_weather(written(tmp_path, f"date,tmax_f,tmin_f\n2025-03-01,50,30\n{last},60,40\n"))
    assert found.covers(dt.date(2025, 3, 1), last) == filled
    assert bool(found.notes) == filled
    if filled:
        assert all(50 < day.max_f < 60 for day in found.days[1:-1])
    else:
        with pytest.raises(InputError, match=r"4 of the days .* the first of them 2025-03"):
            found.between(dt.date(2025, 3, 1), last)


def test_green_up_takes_seven_days_in_a_row() -> None:
    """Michigan State 2022: 7 straight days of positive GDD."""
    assert green_up(weather(*[40] * 6), 2025) is None
    assert green_up(weather(*[40] * 7), 2025) == dt.date(2025, 1, 7)
    assert green_up(weather(*[40] * 6, 32, *[40] * 7), 2025) == dt.date(2025, 1, 14)


def test_growing_now() -> None:
    assert growing_now(weather(*[30] * 7)) is False
    assert growing_now(weather(*[30] * 6, 33)) is True
    assert growing_now(weather(*[30] * 6, 30, swing=5)) is True  # afternoons above 32 °F
    assert growing_now(weather(40)) is None


def test_first_nitrogen_at_350_to_400() -> None:
    """Maryland notice 2017: 350-400 GDD from 1 January; 10 a day reach them on days 35 and 40."""
    dates = first_nitrogen(weather(*[42] * 60), 2025)
    assert dates == (dt.date(2025, 2, 4), dt.date(2025, 2, 9))
    assert first_nitrogen(weather(*[42] * 36), 2025) == (dt.date(2025, 2, 4), None)
    assert isinstance(first_nitrogen(weather(*[42] * 9, first=dt.date(2025, 1, 5)), 2025), NoDate)


def years_of(per_day: dict[int, float], last: dt.date) -> Weather:
    """Each year grows by so many degree-days each day; this year's to ``last``."""
    days = []
    for year, rate in per_day.items():
        day = dt.date(year, 1, 1)
        end = last if year == last.year else dt.date(year, 12, 31)
        while day <= end:
            days.append(Day(day, 32 + rate, 32 + rate))
            day += dt.timedelta(1)
    return Weather(tuple(days), "made.csv", "F")


def test_jointing_range_is_that_of_the_years() -> None:
    """10 a day to 31 March are 900 of 1,350; 450 more take 30, 45 and 90 days."""
    found = jointing_dates(years_of({2022: 15, 2023: 10, 2024: 5, 2025: 10}, dt.date(2025, 3, 31)))
    assert isinstance(found, Jointing)
    assert found.so_far_f == pytest.approx((900, 900))
    assert found.first == dt.date(2025, 3, 31) + dt.timedelta(30)
    assert found.middle == dt.date(2025, 3, 31) + dt.timedelta(45)
    assert found.last == dt.date(2025, 3, 31) + dt.timedelta(90)
    assert found.years == 3
    assert "3 past years" in found.words
    assert "or weeks sooner" in found.words
    assert "our reading" in found.source
    assert "weeks earlier (from memory): in 2016 by 6 April" in found.source


def test_jointing_differs_by_way_of_the_floor() -> None:
    swing = Weather(
        tuple(
            Day(day.date, day.max_f + 20, day.min_f - 20)
            for day in years_of({2022: 9, 2023: 10, 2024: 11, 2025: 9}, dt.date(2025, 3, 31)).days
        ),
        "made.csv",
        "F",
    )
    found = jointing_dates(swing)
    assert isinstance(found, Jointing)
    (way, first, _), (other, earlier, _) = found.by_way
    assert (way, other) == WAYS
    assert earlier < first
    assert found.first == earlier


def test_jointing_already_reached() -> None:
    found = jointing_dates(weather(*[42] * 140))
    assert isinstance(found, Jointing)
    assert found.years == 0
    assert found.first == dt.date(2025, 1, 1) + dt.timedelta(134)
    assert "look for the first node" in found.words


def test_no_date_without_past_years() -> None:
    for before in ({}, {2023: 10.0, 2024: 10.0}):
        found = jointing_dates(years_of({**before, 2025: 10.0}, dt.date(2025, 3, 31)))
        assert not found
        assert isinstance(found, NoDate)
        assert "45 days" in found.reason
        assert "3 past years" in found.todo
    assert jointing_dates(years_of({2022: 9, 2023: 9, 2024: 9, 2025: 9}, dt.date(2025, 3, 31)))


def test_no_date_with_gaps() -> None:
    found = jointing_dates(weather(*[42] * 20, first=dt.date(2025, 1, 9)))
    assert isinstance(found, NoDate)
    assert "doesn't hold every day" in found.reason


@pytest.mark.parametrize(("leaves", "most"), [(2, 1), (3, 2), (4, 3), (5, 5), (6, 8)])
def test_most_shoots_by_leaves(leaves: int, most: int) -> None:
    """First tiller at 2.5 leaves (CIMMYT), each next one a leaf later (NC State), tillers likewise.

    2, 3, 5, 8 at 3 to 6 leaves is the known ceiling without the coleoptile tiller (from memory).
    """
    assert shoots_for_leaves(leaves).shoots[1] == most


def test_fewest_shoots_by_leaves() -> None:
    """First tiller with the 4th leaf (NC State)."""
    assert [shoots_for_leaves(n).shoots[0] for n in (3, 4, 5, 6)] == [1, 2, 3, 4]


def test_krenzer_and_nipp() -> None:
    """700 °C-days: 5.3-6.4 leaves, T1-T3 on nearly all plants (Krenzer & Nipp 1991)."""
    low, high = leaves_from_degree_days(700 * 1.8)
    assert low < 5.3 < 6.4 < high
    few, many = shoots_from_degree_days(700 * 1.8).shoots
    assert few <= 4 <= many
    assert leaves_from_degree_days(269) == (0, 0)  # not up before 270 °F-days (Kansas State)


def test_hints() -> None:
    expected = shoots_for_leaves(4)  # 2 to 3
    assert not count_hint(2.0, expected)
    assert not count_hint(3.0, expected)
    assert "more than a plant can have" in count_hint(3.01, expected)
    assert "fewer than expected" in count_hint(1.9, expected)


@given(st.floats(0, 9), st.floats(0, 9))
def test_more_leaves_never_fewer_shoots(one: float, other: float) -> None:
    a, b = (shoots_for_leaves(x).shoots for x in sorted((one, other)))
    assert a[0] <= b[0]
    assert a[1] <= b[1]
    assert a[0] <= a[1]


def test_leaves_refused() -> None:
    with pytest.raises(InputError, match="can't be"):
        shoots_for_leaves(-1)
    with pytest.raises(InputError, match="tillering is over"):
        shoots_for_leaves(10)


def test_season() -> None:
    made = years_of({2022: 15, 2023: 10, 2024: 5, 2025: 10}, dt.date(2025, 3, 31))
    found = look_at_season(made, sown=dt.date(2025, 1, 1), shoots_per_plant=9.0)
    assert found.growing is True
    assert found.expected is not None
    assert "more than a plant can have" in found.hint
    text = "\n".join(found.lines())
    assert "900 (500) floor after averaging" in text
    assert "our reading" in text
    assert found.to_json()["jointing"]["years"] == 3
    with pytest.raises(InputError, match="sown 2025-05-01"):
        look_at_season(made, sown=dt.date(2025, 5, 1))
    gap = look_at_season(weather(*[40] * 20), sown=dt.date(2024, 10, 1))
    assert any("every day since sowing" in note for note in gap.notes)


def test_checks_name_their_sources() -> None:
    for advice in (*GREEN_UP, *WINTER_SURVIVAL):
        assert advice.source
    assert any("48 hours" in advice.text for advice in WINTER_SURVIVAL)


def test_revisit() -> None:
    """One to two weeks (Michigan State); two to three after nitrogen (common practice)."""
    day = dt.date(2026, 3, 5)
    assert (revisit(day).first, revisit(day).last) == (dt.date(2026, 3, 12), dt.date(2026, 3, 19))
    pushed = revisit(day, pushed=True)
    assert (pushed.first, pushed.last) == (dt.date(2026, 3, 19), dt.date(2026, 3, 26))
    assert "Michigan" in revisit(day).line
