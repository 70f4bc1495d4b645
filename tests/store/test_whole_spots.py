"""A plan added after its counts takes each spot whole: one place stays one place."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from tests.store.helpers import NORTH, at, counts, hand_csv, plan, write
from tests.store.test_joining import PLACES, files, measured, photo, seen
from tillercount.errors import InputError
from tillercount.store import Season, Where
from tillercount.store.tables import hand_counts

FIRST = Where(NORTH.farm, NORTH.field, "visit 1")
FOUR = [photo(n, n) for n in (1, 2, 3, 4)]


def hand_with_positions(path: Path, rows: str) -> Path:
    path.write_text(f"spot,observer,plants,area,zone,lat,lon\n{rows}\n", encoding="utf-8")
    return path


def row(name: str, near: int, *, north_m: float = 0.0, who: str = "Ash", zone: str = "") -> str:
    """A hand count so many metres north of a planned spot."""
    east, north = PLACES[near - 1]
    lat, lon = at(east, north + north_m)
    return f"{name},{who},{20 + near},1 ft2,{zone},{lat},{lon}"


def acts_of_hand_counts(season: Season) -> list[int]:
    with season.engine.connect() as connection:
        query = select(hand_counts.c.act_id).where(hand_counts.c.ended_id.is_(None))
        return list(connection.scalars(query))


@pytest.mark.parametrize("where", [NORTH, FIRST])
def test_a_hand_count_goes_with_the_photo_of_its_spot(tmp_path: Path, where: Where) -> None:
    file, planned = files(tmp_path, FOUR)
    by_hand = hand_csv(tmp_path / "h.csv", "IMG_2,Ash,40,90,1 ft2")
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_counts(file, NORTH)
        season.add_hand_counts(by_hand, NORTH)
        before, came_with = measured(season), acts_of_hand_counts(season)
        assert before[0] == 4
        added = season.add_plan(planned, where)
        assert measured(season) == before
        assert sorted(one[1] for one in seen(season) if one[0] == "2") == ["hand", "photo"]
        assert "spot IMG_2, counted by hand, is spot 2 of the plan, 20 ft (6 m) away" in added.notes
        # whose day is the visit's where no photo tells it
        assert acts_of_hand_counts(season) == came_with
        assert not [one for one in season.check() if one.level == "bad"]
        # the old file is still known, by either way, and its spot isn't counted beside spot 2
        assert season.add_hand_counts(by_hand, NORTH).known == 1
        assert season.add_hand_counts(by_hand, FIRST).known == 1
        other = hand_csv(tmp_path / "i.csv", "IMG_2,Birch,41,90,1 ft2")
        with pytest.raises(InputError, match=r"spot IMG_2 of .* was put to a spot of the plan"):
            season.add_hand_counts(other, FIRST)
        assert measured(season) == before


def test_a_count_replaced_and_removed_is_not_taken_for_a_moved_one(tmp_path: Path) -> None:
    first = hand_csv(tmp_path / "h.csv", "a,Ash,40,90,1 ft2")
    second = hand_csv(tmp_path / "i.csv", "a,Ash,42,90,1 ft2")
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_hand_counts(first, NORTH)
        season.add_hand_counts(second, NORTH, replace=True)
        season.remove_hand_count(NORTH, "a")
        assert season.add_hand_counts(second, FIRST).new == 1


def test_photos_that_a_person_put_together_stay_together(tmp_path: Path) -> None:
    entries = [photo(1, 1), photo(2, 2), photo(3, 2, 8.0), photo(4, 4), photo(5, 3)]
    file, planned = files(tmp_path, entries)
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_counts(file, NORTH)
        season.assign("IMG_3.jpg", "IMG_2", NORTH)
        before = measured(season)
        assert before[0] == 4
        season.add_plan(planned, FIRST)
        assert measured(season) == before
        places = {one.photo: one.spot for one in season.placed(NORTH)}
        assert (places["IMG_2.jpg"], places["IMG_3.jpg"]) == ("2", "2")


def after_a_plan(
    tmp_path: Path, entries: list[dict[str, Any]], hand: str
) -> tuple[list[str], tuple[str, ...]]:
    """Spots of the photos and what was said, when a plan is added after photos and a hand count;
    what was measured must stay."""
    file, planned = files(tmp_path, entries)
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_counts(file, NORTH)
        season.add_hand_counts(hand_csv(tmp_path / "h.csv", hand), NORTH)
        before = measured(season)
        added = season.add_plan(planned, FIRST)
        assert measured(season) == before
        return [one[0] for one in seen(season)], added.notes


def test_a_spot_that_lies_at_two_planned_ones_is_kept_whole(tmp_path: Path) -> None:
    """Photos of spot A at the planned spots 2 and 3, and a hand count of it."""
    entries = [photo(1, 1), photo(2, 2, spot="A"), photo(3, 3, spot="A"), photo(4, 4)]
    spots, notes = after_a_plan(tmp_path, entries, "A,Ash,40,90,1 ft2")
    assert spots == ["1", "4", "a", "a", "a"]
    (said,) = [line for line in notes if "spot A is kept whole, as it was" in line]
    assert "what was counted there lies at spot 2 and at spot 3" in said


def test_a_spot_named_in_the_plan_is_kept_whole(tmp_path: Path) -> None:
    """A photo called 4.jpg at planned spot 2; a person counted "4" by hand."""
    entries = [photo(1, 1), photo(2, 2, photo="north/4.jpg"), photo(3, 3)]
    spots, notes = after_a_plan(tmp_path, entries, "4,Ash,40,90,1 ft2")
    assert spots == ["1", "3", "4", "4"]
    assert any("spot 4 is kept whole" in line for line in notes)


def test_hand_counts_go_where_they_lie(tmp_path: Path) -> None:
    rows = [row(f"p{n}", n, zone="low" if n == 2 else "") for n in (1, 2, 3, 4)]
    by_hand = hand_with_positions(tmp_path / "h.csv", "\n".join(rows))
    _, planned = files(tmp_path, FOUR)
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_hand_counts(by_hand, NORTH)
        before = measured(season)
        added = season.add_plan(planned, NORTH)
        assert measured(season) == before
        assert "put to the counts of visit 1: they lie at 4 of its spots" in added.notes
        assert not any("isn't in the plan" in line for line in added.notes)
        assert [(one[0], one[3]) for one in seen(season)] == [
            ("1", "hill"), ("2", "low"), ("3", ""), ("4", ""),
        ]  # fmt: skip
        assert season.summary(NORTH).to_visit == 1
        assert not season.summary(NORTH).hand_to_do


def test_two_hand_counted_spots_are_not_made_one(tmp_path: Path) -> None:
    rows = [row(f"p{n}", n) for n in (1, 2, 3)]
    rows += [row("q", 2, north_m=9.0, who="Birch"), row("r", 2, north_m=5.0)]
    by_hand = hand_with_positions(tmp_path / "h.csv", "\n".join(rows))
    _, planned = files(tmp_path, FOUR)
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_hand_counts(by_hand, NORTH)
        before = measured(season)
        added = season.add_plan(planned, NORTH)
        assert measured(season) == before
        assert [one[0] for one in seen(season)] == ["1", "2", "3", "q", "r"]
        for name in "qr":
            said = f"spot {name} is kept as a further one: it lies at spot 2, which has"
            assert any(line.startswith(said) for line in added.notes)


def test_a_named_visit_counted_elsewhere_is_refused(tmp_path: Path) -> None:
    entries = [photo(n, n, 12_000.0, spot=str(n)) for n in (1, 2, 3, 4)]
    file, planned = files(tmp_path, entries)
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_counts(file, NORTH)
        before = season.summary(NORTH)
        with pytest.raises(InputError) as caught:
            season.add_plan(planned, FIRST)
        for words in ("was counted elsewhere", "spot 1, the nearest, is 38,386 ft", "new name"):
            assert words in str(caught.value)
        assert season.summary(NORTH) == before


def test_a_changed_zone_or_position_is_told(tmp_path: Path) -> None:
    rows = [row("1", 1, zone="low"), row("2", 2, north_m=100.0), row("3", 3)]
    by_hand = hand_with_positions(tmp_path / "h.csv", "\n".join(rows))
    _, planned = files(tmp_path, FOUR)
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_hand_counts(by_hand, NORTH)
        notes = season.add_plan(planned, FIRST).notes
    assert "spot 1 is now in the plan's zone hill, not in low" in notes
    assert any("spot 2 now has the plan's position, 328 ft (100 m)" in line for line in notes)
    assert any("visit 1 as you said; their places don't tell" in line for line in notes)
    assert not any("spot 3 now" in line for line in notes)


def test_both_ways_round_it_is_one_season(tmp_path: Path) -> None:
    """Photos without a name: joined or planned first, photos stand at the same spots."""
    file = write(tmp_path / "c.json", counts([*FOUR, photo(5, 5, 12.0)]))
    planned = write(tmp_path / "p.geojson", plan(PLACES))
    found = []
    for number, order in enumerate(((file, planned), (planned, file))):
        with Season.create(tmp_path / f"{number}.sqlite", who="Ash") as season:
            for one in order:
                (season.add_plan if one == planned else season.add_counts)(one, NORTH)
            found.append((seen(season), measured(season)))
    assert found[0] == found[1]
