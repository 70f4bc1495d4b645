"""What a season promises, in a file and on a server alike."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import exc, text

from tests.store.helpers import NORTH, at, counts, entry, hand_csv, plan, write
from tillercount.errors import InputError
from tillercount.field import collect, estimate_field
from tillercount.handfile import read_hand_counts
from tillercount.store import Season, Where
from tillercount.units import per_ft2, per_m2


def plants_per_ft2(season: Season, where: Where = NORTH) -> float:
    estimate = season.summary(where).estimate
    assert estimate is not None
    assert estimate.plants is not None
    return per_ft2(estimate.plants.mean)


def test_the_same_photo_twice_is_one(season: Season, tmp_path: Path) -> None:
    file = write(tmp_path / "c.json", counts([entry(1), entry(2)]))
    first = season.add_counts(file, NORTH)
    again = season.add_counts(file, NORTH)
    assert (first.new, first.known) == (2, 0)
    assert (again.new, again.known) == (0, 2)
    # from another folder, under another name, and twice in one file
    moved = counts([entry(1, photo="copy/other.jpg"), entry(1), entry(3)])
    assert season.add_counts(moved, NORTH).new == 1
    (row,) = season.overview()
    assert (row["photos"], row["spots"]) == (3, 3)


def test_a_new_count_of_a_photo_holds_and_the_old_one_stays(season: Season) -> None:
    season.add_counts(counts([entry(1)]), NORTH)
    better = entry(1, plants={"count": 30.0, "low": 25.0, "high": 36.0})
    season.add_counts(counts([better]), NORTH)
    assert plants_per_ft2(season) == pytest.approx(30.0)
    with season.engine.connect() as connection:
        assert connection.scalar(text("SELECT count(*) FROM predictions")) == 2
        assert connection.scalar(text("SELECT count(*) FROM photos")) == 1


def test_the_summary_is_that_of_the_files(season: Season, tmp_path: Path) -> None:
    file = write(tmp_path / "c.json", counts([entry(n) for n in range(6)]))
    hand = hand_csv(tmp_path / "h.csv", "IMG_1.jpg,Ash,19,60,1 ft2\nIMG_4,Ash,22,66,1 ft2")
    season.add_counts(file, NORTH)
    season.add_hand_counts(hand, NORTH)
    kept = season.summary(NORTH).estimate
    direct = estimate_field(collect([file, hand]).spots)
    assert kept is not None
    for what in ("plants", "shoots"):
        one, other = getattr(kept, what), getattr(direct, what)
        assert (one.mean, one.low, one.high) == pytest.approx((other.mean, other.low, other.high))
    assert len(kept.paired) == len(direct.paired) == 2


def test_a_correction_holds_and_stands_beside_the_prediction(season: Season, place: str) -> None:
    season.add_counts(counts([entry(1), entry(2)]), NORTH)
    with Season.open(place, who="Birch") as other:
        done = other.correct("IMG_1.jpg", plants=31, note="leaves on the edge")
    assert done["predicted"]["plants"] == 21.0
    assert plants_per_ft2(season) == pytest.approx((31 + 22) / 2)
    found = season.summary(NORTH)
    assert found.corrected == 1
    assert found.estimate is not None
    spot = found.estimate.used[0]
    assert (spot.plants_se, spot.plants_bias_rel) == (0.0, 0.0)  # a person's count
    assert spot.shoots_bias_rel == 0.05  # still the model's
    assert spot.flags == ("plants corrected by Birch from 21 to 31",)
    # counting the photo again doesn't undo it, a second correction builds on it
    season.add_counts(counts([entry(1, flags=["tilt"])]), NORTH)
    season.correct("IMG_1.jpg", shoots=80)
    assert plants_per_ft2(season) == pytest.approx(26.5)
    season.correct("IMG_1.jpg", withdraw=True)
    assert plants_per_ft2(season) == pytest.approx(21.5)
    with season.engine.connect() as connection:
        assert connection.scalar(text("SELECT count(*) FROM corrections")) == 3
        assert connection.scalar(text("SELECT min(plants) FROM predictions")) == 21.0


def test_a_correction_is_a_hand_count_and_no_pair(season: Season, tmp_path: Path) -> None:
    season.add_counts(counts([entry(n) for n in range(7)]), NORTH)
    rows = "\n".join(f"IMG_{n},Ash,{14 + 2 * n},60,1 ft2" for n in range(4))
    season.add_hand_counts(hand_csv(tmp_path / "h.csv", rows), NORTH)
    before = season.summary(NORTH).estimate
    assert before is not None
    assert before.double[0].method == "difference"
    shift = before.double[0].difference
    season.correct("IMG_6.jpg", plants=16, shoots=47)
    season.correct("IMG_0.jpg", plants=50, shoots=90)  # counted by hand too: that count holds
    found = season.summary(NORTH).estimate
    assert found is not None
    used = {one.spot: one for one in found.used}
    # the difference hand minus photo is of photos, and a person's count is none
    assert used["IMG_6"].plants_per_m2 == pytest.approx(per_m2(16))
    assert used["IMG_6"].source == "hand"
    assert used["IMG_6"].flags[-2:] == (
        "plants corrected by Ash from 26 to 16", "shoots corrected by Ash from 78 to 47",
    )  # fmt: skip
    assert used["IMG_0"].plants_per_m2 == pytest.approx(per_m2(14))
    assert (found.double[0].pairs, found.double[0].difference) == (4, shift)
    # one of the two alone: the other is still the photo's
    season.correct("IMG_5.jpg", plants=12)
    found = season.summary(NORTH).estimate
    assert found is not None
    one = next(spot for spot in found.used if spot.spot == "IMG_5")
    assert one.plants_per_m2 == pytest.approx(per_m2(12))
    shoots = next(s for s in found.listed if s.spot == "IMG_5" and s.source == "photo")
    assert shoots.plants_per_m2 is None
    assert one.shoots_per_m2 == pytest.approx(found.double[1].corrected(shoots.shoots_per_m2 or 0))


def test_a_refused_photo_counts_once_a_person_counted_it(season: Season) -> None:
    refused = entry(2, status="refused", reason="blurred", plants=None, shoots=None)
    season.add_counts(counts([entry(1), refused]), NORTH)
    assert season.summary(NORTH).refused == (("IMG_2.jpg", "blurred"),)
    season.correct("IMG_2.jpg", plants=10, shoots=30)
    assert season.summary(NORTH).refused == ()
    assert plants_per_ft2(season) == pytest.approx((21 + 10) / 2)


def test_a_correction_holds_for_its_marked_area_only(season: Season) -> None:
    season.add_counts(counts([entry(1), entry(2)]), NORTH)
    season.correct("IMG_1.jpg", plants=31)
    larger = {"kind": "square", "text": "square:609.6mm", "ft2": 4.0}
    season.add_counts(counts([entry(1, area=larger)]), NORTH)
    assert plants_per_ft2(season) == pytest.approx((21 / 4 + 22) / 2)
    found = season.summary(NORTH)
    assert found.corrected == 0
    assert "IMG_1.jpg: its correction was made for another marked area" in found.notes[-1]
    season.correct("IMG_1.jpg", plants=24)
    assert plants_per_ft2(season) == pytest.approx((6 + 22) / 2)


@pytest.mark.parametrize(
    ("numbers", "says"),
    [
        ({"plants": 70}, "shoots 63 would be fewer than plants 70"),
        ({"plants": -1}, "plants: -1 can't be"),
        ({"plants": 1}, "more than 21 for each of 1 plants"),
        ({}, "nothing to correct"),
        ({"withdraw": True}, "no correction to withdraw"),
    ],
)
def test_corrections_refused(season: Season, numbers: dict[str, Any], says: str) -> None:
    season.add_counts(counts([entry(1)]), NORTH)
    before = len(season.journal())
    with pytest.raises(InputError, match=says):
        season.correct("IMG_1.jpg", **numbers)
    assert len(season.journal()) == before


def test_photos_find_their_planned_spots(season: Season, tmp_path: Path) -> None:
    file = write(
        tmp_path / "plan.geojson",
        plan([(0, 0), (100, 0), (200, 0)], by_hand=[False, True, True], zone=["a", "a", "b"]),
    )
    assert season.add_plan(file, NORTH).new == 3
    assert season.add_plan(file, NORTH).known == 3
    near, far = at(103, 4), at(600, 0)
    entries = [
        entry(1, lat=near[0], lon=near[1], taken_at="2027-03-12T09:30:00"),
        entry(2, taken_at="2027-03-12T09:31:10"),  # no position, a minute later
        entry(3, lat=far[0], lon=far[1], taken_at="2027-03-12T09:40:00"),
        entry(4, spot="3"),  # somebody says where
    ]
    added = season.add_counts(counts(entries), NORTH)
    by = {one.photo: one for one in added.placed}
    assert (by["IMG_1.jpg"].spot, by["IMG_1.jpg"].how) == ("2", "place")
    assert by["IMG_1.jpg"].distance_m == pytest.approx(5.0, abs=0.05)
    assert (by["IMG_2.jpg"].spot, by["IMG_2.jpg"].note) == ("2", "70 s from IMG_1.jpg")
    assert by["IMG_3.jpg"].spot == ""
    assert "1,312 ft (400 m) from spot 3, the nearest" in by["IMG_3.jpg"].note
    assert by["IMG_4.jpg"].spot == "3"
    assert added.unplaced == 1
    found = season.summary(NORTH)
    assert found.estimate is not None
    assert found.estimate.spots == 2  # the photo at no spot isn't in the mean
    assert [one.photo for one in found.unplaced] == ["IMG_3.jpg"]
    assert (found.planned, found.to_visit, found.hand_to_do) == (3, 1, ("2", "3"))

    moved = season.assign("IMG_3.jpg", "1")
    assert moved.distance_m == pytest.approx(600, rel=0.001)
    assert season.summary(NORTH).to_visit == 0
    # placing again leaves what a person did alone
    season.add_counts(counts(entries), NORTH, within_m=1000)
    assert {p.photo: p.spot for p in season.placed(NORTH)}["IMG_3.jpg"] == "1"
    with pytest.raises(InputError, match=r"no spot '9' in North, visit 1; it has: 1, 2, 3"):
        season.assign("IMG_3.jpg", "9")


def test_a_wider_limit_places_what_was_left(season: Season, tmp_path: Path) -> None:
    season.add_plan(write(tmp_path / "p.geojson", plan([(0, 0)])), NORTH)
    lat, lon = at(50, 0)
    given = counts([entry(1, lat=lat, lon=lon)])
    assert season.add_counts(given, NORTH).unplaced == 1
    assert season.add_counts(given, NORTH, within_m=60).unplaced == 0


def test_a_spot_named_with_a_photo(season: Season) -> None:
    given = counts([entry(1, spot="West Gate"), entry(2, spot="west gate"), entry(3)])
    season.add_counts(given, NORTH)
    assert [one.spot for one in season.placed(NORTH)] == ["West Gate", "West Gate", "IMG_3"]


def test_positions_and_places_worth_a_note(season: Season) -> None:
    added = season.add_counts(counts([entry(1, lat=0.0, lon=0.0)]), NORTH)
    assert "position 0, 0 (a phone without a fix) left out" in added.notes[0]
    south = Where("Elm Hill", "South")
    again = season.add_counts(counts([entry(1), entry(2)]), south)
    (note,) = [line for line in again.notes if "IMG_1.jpg" in line]  # told once
    assert note.startswith("in North already, and left as counted there: IMG_1.jpg; ")
    assert plants_per_ft2(season, south) == pytest.approx(22)
    season.assign("IMG_1.jpg", "IMG_2", south, move=True)
    assert plants_per_ft2(season, south) == pytest.approx(21.5)
    assert season.summary(NORTH).estimate is None


def test_zones_weigh_by_their_area(season: Season, tmp_path: Path) -> None:
    made = plan([(0, 0), (90, 0), (180, 0), (270, 0)], zone=["hill", "hill", "flat", "flat"])
    for name, acres in (("hill", 30.0), ("flat", 10.0)):
        made["features"].append(
            {"type": "Feature", "geometry": None,
             "properties": {"what": "zone", "name": name, "area_ac": acres}}
        )  # fmt: skip
    season.add_plan(write(tmp_path / "p.geojson", made), NORTH)
    season.add_hand_counts(hand_csv(tmp_path / "h.csv", "1,A,10,30,1 ft2\n2,A,12,30,1 ft2"), NORTH)
    assert "none counted in flat" in season.summary(NORTH).notes[0]
    season.add_hand_counts(hand_csv(tmp_path / "i.csv", "3,A,30,90,1 ft2\n4,A,32,90,1 ft2"), NORTH)
    assert plants_per_ft2(season) == pytest.approx((3 * 11 + 31) / 4)


def test_a_bad_file_leaves_nothing(season: Season, tmp_path: Path) -> None:
    entries = [entry(n) for n in range(700)]  # the bad one lies in the second batch
    entries[650]["plants"] = {"count": -1.0, "low": 0.0, "high": 1.0}
    file = write(tmp_path / "c.json", counts(entries))
    with pytest.raises(InputError, match=r"c\.json, spot north/IMG_650\.jpg \(entry 651\), plants"):
        season.add_counts(file, NORTH)
    assert season.overview() == []
    assert season.journal() == []


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"lat": 98.0, "lon": 1.0}, "entry 1, lat: Input should be less than or equal to 90"),
        ({"sha256": "xyz"}, "entry 1, sha256"),
        ({"sha256": ""}, "entry 1, sha256: missing"),
        ({"photo": ""}, "entry 1, photo"),
        ({"status": "odd"}, "status is 'odd'"),
    ],
)
def test_entries_refused(season: Season, change: dict[str, Any], says: str) -> None:
    with pytest.raises(InputError, match=says) as caught:
        season.add_counts(counts([entry(1, **change)]), NORTH)
    assert "\n" not in str(caught.value)


def test_a_photo_is_never_altered(season: Season) -> None:
    season.add_counts(counts([entry(1)]), NORTH)
    with (
        pytest.raises(exc.DatabaseError, match="a photo is never altered"),
        season.engine.begin() as connection,
    ):
        connection.execute(text("UPDATE photos SET sha256 = 'x'"))


def test_two_at_once_add_the_same_photos_once(season: Season, place: str) -> None:
    given = counts([entry(n) for n in range(200)])
    failed: list[BaseException] = []

    def add(who: str) -> None:
        try:
            with Season.open(place, who=who) as mine:
                for _ in range(3):
                    mine.add_counts(given, NORTH)
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=add, args=(who,)) for who in ("Ash", "Birch", "Cedar")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    (row,) = season.overview()
    assert (row["photos"], row["spots"]) == (200, 200)
    assert {act["who"] for act in season.journal()} == {"Ash", "Birch", "Cedar"}


def test_assessments_are_kept(season: Season, tmp_path: Path) -> None:
    rows = "\n".join(f"{n},Ash,{24 + n},{70 + n},1 ft2" for n in range(6))
    file = hand_csv(tmp_path / "h.csv", rows)
    season.add_hand_counts(file, NORTH)
    result = season.assess(NORTH, "common-practice")
    (kept,) = season.assessments(NORTH)
    assert kept["headline"] == result.verdict.headline
    assert kept["record"] == result.to_json()
    assert read_hand_counts(file)[0].plants == 24


def test_a_second_photo_of_a_spot_is_no_second_spot(season: Season) -> None:
    season.add_counts(counts([entry(n) for n in range(5)]), NORTH)
    season.assign("IMG_4.jpg", "IMG_3")
    assert season.summary(NORTH).estimate.spots == 4  # type: ignore[union-attr]
    assert season.assess(NORTH, "common-practice").field.spots == 4


def test_names_that_arent_there(season: Season) -> None:
    season.add_counts(counts([entry(1)]), NORTH)
    with pytest.raises(InputError, match="no farm 'Oak' in the season; it has: Elm Hill"):
        season.summary(Where("Oak", "North"))
    with pytest.raises(InputError, match="no field 'South' on Elm Hill; it has: North"):
        season.summary(Where("Elm Hill", "South"))
    with pytest.raises(InputError, match=r"no visit 'x'.*it has: visit 1"):
        season.summary(Where("Elm Hill", "North", "x"))
    with pytest.raises(InputError, match=r"no photo 'b\.jpg'"):
        season.correct("b.jpg", plants=3)
    season.add_counts(counts([entry(2, photo="south/IMG_1.jpg")]), Where("Elm Hill", "South"))
    with pytest.raises(InputError, match=r"2 photos are called 'IMG_1\.jpg'"):
        season.correct("IMG_1.jpg", plants=3)
    season.correct(entry(2)["sha256"][:12], plants=20)


def test_a_season_is_made_once(season: Season, place: str) -> None:
    with pytest.raises(InputError, match=r"already"):
        Season.create(place, who="Ash")


def test_zones_without_an_area_have_what_their_spots_stand_for(
    season: Season, tmp_path: Path
) -> None:
    """Plans of other programs may say what a spot stands for and not how large its zone is."""
    placed = plan(
        [(0, 0), (50, 0), (100, 0)],
        zone=["hill", "hill", "flat"],
        stands_for_m2=[1000.0, 2000.0, 9000.0],
    )
    season.add_plan(write(tmp_path / "plan.geojson", placed), NORTH)
    found = [entry(n, spot=str(n)) for n in (1, 2, 3)]
    season.add_counts(counts(found), NORTH)
    assert season.summary(NORTH).zone_areas == {"hill": 3000.0, "flat": 9000.0}
