"""Two visits: which is meant, when each was, and what changed with its interval."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.store.helpers import NORTH, at, counts, entry, hand_csv, plan, write
from tillercount.definition import Definition
from tillercount.field import FieldEstimate, SpotDensity, estimate_field
from tillercount.store import Season, Where
from tillercount.store.history import change_at_spots, change_between
from tillercount.store.ways import ways_of

FIRST = Where("Elm Hill", "North", "visit 1")


def by_hand(plants: list[float]) -> list[SpotDensity]:
    return [
        SpotDensity(
            spot=str(n), source="hand", plants_per_m2=value, shoots_per_m2=None, area_m2=1.0,
            definition=Definition.STEMS, observer="Ash",
        )
        for n, value in enumerate(plants)
    ]  # fmt: skip


def test_the_difference_reaches_as_far_as_both_intervals() -> None:
    """Squares of how far the ends of the two reach add up (Zou & Donner 2008, from memory)."""
    one, two = [200.0, 260.0, 150.0, 330.0, 240.0], [300.0, 420.0, 280.0, 390.0]
    (change,) = change_between(estimate_field(by_hand(one)), estimate_field(by_hand(two)))
    assert change.what == "plants"
    assert change.mean == pytest.approx(np.mean(two) - np.mean(one))
    before, after = (estimate_field(by_hand(v)).plants for v in (one, two))
    assert before is not None
    assert after is not None
    down = math.hypot(after.mean - after.low, before.high - before.mean)
    up = math.hypot(after.high - after.mean, before.mean - before.low)
    assert change.low == pytest.approx(change.mean - down, rel=1e-6)
    assert change.high == pytest.approx(change.mean + up, rel=1e-6)


def test_spots_counted_both_times_say_what_changed() -> None:
    """The three thickest of five are counted again: their mean is higher, though plants died."""
    before = estimate_field(by_hand([260.0, 300.0, 280.0, 140.0, 120.0]))
    now = estimate_field(by_hand([250.0, 296.0, 270.0]))
    (means,) = change_between(before, now)
    (same,) = change_at_spots(before, now)
    assert means.mean > 50
    assert (same.mean, same.spots) == (pytest.approx(-8.0), 3)
    # by hand: sd of −10, −4, −10 is 3.464, t(2) at 95 % is 2.920
    half = 2.920 * 3.4641 / math.sqrt(3)
    assert (same.low, same.high) == pytest.approx((-8 - half, -8 + half), abs=0.01)
    assert same.clear
    assert change_at_spots(before, estimate_field(by_hand([250.0, 296.0]))) == ()


def test_a_change_may_be_the_way_of_counting() -> None:
    """Said where the visits weren't counted alike; where both are mixed, by each spot's own way."""

    def visit(*sources: Any) -> FieldEstimate:
        spots = by_hand([250.0, 260.0, 270.0, 255.0])
        return estimate_field(
            [replace(s, source=source) for s, source in zip(spots, sources, strict=True)]
        )

    hand, photo = visit(*["hand"] * 4), visit(*["photo"] * 4)
    mixed, other = visit("hand", "photo", "photo", "hand"), visit("photo", "hand", "hand", "photo")
    assert ways_of(hand, photo) == ("hand", "photo")
    assert ways_of(photo, mixed) == ("photo", "both")
    assert ways_of(mixed, other) == ("both", "both")
    assert ways_of(mixed, mixed) is None
    assert ways_of(hand, hand) is None


def test_the_same_number_elsewhere_is_another_spot() -> None:
    def placed(east_m: float) -> list[SpotDensity]:
        there = [at(100.0 * n + east_m, 0.0) for n in range(4)]
        return [
            replace(spot, lat=lat, lon=lon)
            for spot, (lat, lon) in zip(by_hand([200.0, 220.0, 240.0, 260.0]), there, strict=True)
        ]

    first = estimate_field(placed(0.0))
    (near,) = change_at_spots(first, estimate_field(placed(10.0)))
    assert near.spots == 4
    assert change_at_spots(first, estimate_field(placed(50.0))) == ()


@pytest.mark.parametrize(
    ("one_sd", "two_sd", "share"), [(100.0, 120.0, 0.929), (40.0, 60.0, 0.975)]
)
def test_its_interval_holds_as_often_as_it_says(one_sd: float, two_sd: float, share: float) -> None:
    """As measured in 1,000 fields: 92.9 % where spots differ as in a poor stand (CV 45 %), 97.5 %
    in even fields (CV 18 to 23 %), whose few spots leave it open that they are less even."""
    rng = np.random.default_rng(5)
    fields, held = 400, 0
    for _ in range(fields):
        one = estimate_field(by_hand(list(rng.normal(220.0, one_sd, 8).clip(0))))
        two = estimate_field(by_hand(list(rng.normal(260.0, two_sd, 6).clip(0))))
        (change,) = change_between(one, two)
        held += change.low <= 40.0 <= change.high
    error = 3 * math.sqrt(share * (1 - share) / fields)
    assert held / fields == pytest.approx(share, abs=error)


def test_two_visits(season: Season, tmp_path: Path) -> None:
    rows = "\n".join(f"{n},Ash,{20 + n % 3},{60 + n},1 ft2" for n in range(6))
    season.add_hand_counts(hand_csv(tmp_path / "h.csv", rows), NORTH)
    (alone,) = season.history(NORTH).visits
    assert not alone.date.by_photos
    later = Where("Elm Hill", "North", "later")
    taken = [entry(n, taken_at=f"2027-03-{28 + n}T09:30:00") for n in range(3)]
    season.add_counts(counts(taken), later)
    past = season.history(NORTH)
    assert (past.here.name, past.is_last, past.since) == ("later", True, "visit 1")
    assert past.here.date.text == "2027-03-28 to 2027-03-30"
    assert [change.what for change in past.changes] == ["plants", "shoots"]
    assert past.ways == ("hand", "photo")
    earlier = season.history(FIRST)
    assert (earlier.is_last, earlier.since, earlier.changes) == (False, "", ())
    file = tmp_path / "a.csv"
    season.export(file, later)
    first = file.read_text(encoding="utf-8").splitlines()[1]
    assert first.endswith("2027-03-28,photos,photo,photo")
    assert {row["visit"]: row["date"] for row in season.overview()}["later"].startswith("2027-03")


def test_the_last_visit_is_the_one_with_the_latest_date(season: Season) -> None:
    """Photos of the first look, put in after those of the second, don't become the last."""
    late, early = (
        Where("Elm Hill", "North", "second look"),
        Where("Elm Hill", "North", "first look"),
    )
    season.add_counts(counts([entry(1, taken_at="2027-03-30T09:30:00")]), late)
    season.add_counts(counts([entry(2, taken_at="2027-03-02T09:30:00")]), early)
    assert season.summary(NORTH).visit == "second look"
    past = season.history(NORTH)
    assert [one.name for one in past.visits] == ["first look", "second look"]
    assert (past.here.name, past.is_last, past.since) == ("second look", True, "first look")
    assert not season.history(early).is_last
    assert [row["visit"] for row in season.overview()] == ["first look", "second look"]
    done = season.add_counts(counts([entry(3, taken_at="2027-03-03T09:30:00")]), early)
    assert any("first look isn't the last visit of North" in note for note in done.notes)
    # of the same date: the one added last
    third = Where("Elm Hill", "North", "third look")
    season.add_counts(counts([entry(4, taken_at="2027-03-30T09:30:00")]), third)
    assert season.summary(NORTH).visit == "third look"


def test_a_position_with_a_digit_wrong_is_named(season: Season, tmp_path: Path) -> None:
    lines = ["spot,plants,shoots,area,lat,lon"]
    for number in range(1, 6):
        lat, lon = at(60.0 * number, 0)
        lines.append(f"{number},20,60,1 ft2,{lat + (0.1 if number == 4 else 0.0):.6f},{lon:.6f}")
    file = tmp_path / "h.csv"
    file.write_text("\n".join(lines), encoding="utf-8")
    season.add_hand_counts(file, NORTH)
    (note,) = [note for note in season.summary(NORTH).notes if "mistyped" in note]
    assert note.startswith("spot 4: its hand count at 38.6")
    assert "6.9 mi (11.1 km) from the middle of the others" in note


def test_a_position_off_its_planned_place_is_named(season: Season, tmp_path: Path) -> None:
    season.add_plan(write(tmp_path / "p.geojson", plan([(0, 0), (90, 0)])), NORTH)
    rows = []
    for spot, east in (("1", 10.0), ("2", 1090.0)):
        lat, lon = at(east, 0)
        rows.append(f"{spot},20,60,1 ft2,{lat:.6f},{lon:.6f}")
    file = tmp_path / "h.csv"
    file.write_text("\n".join(["spot,plants,shoots,area,lat,lon", *rows]), encoding="utf-8")
    season.add_hand_counts(file, NORTH)
    (note,) = [note for note in season.summary(NORTH).notes if "mistyped" in note]
    assert note.startswith("spot 2: ")
    assert "3,281 ft (1,000 m) from where it was planned" in note


def test_a_visit_that_cant_be_put_together_hides_no_other(season: Season, tmp_path: Path) -> None:
    for name, words in (("a", "tillers"), ("b", "stems")):
        file = tmp_path / f"{name}.csv"
        file.write_text(f"spot,plants,shoots,area,definition\n{name},,60,1 ft2,{words}\n")
        season.add_hand_counts(file, FIRST)
    season.add_hand_counts(hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2"),
                           Where("Elm Hill", "North", "later"))  # fmt: skip
    past = season.history(NORTH)
    assert past.here.estimate is not None
    assert (past.visits[0].estimate, past.since) == (None, "")
    assert "turned into stems" in past.visits[0].problem
