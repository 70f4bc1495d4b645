"""Photos of another visit by their own clocks are never put into one without a word."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import NORTH, counts, entry, hand_csv, plan, write
from tillercount.cli.app import app
from tillercount.errors import InputError
from tillercount.names import in_command
from tillercount.store import Season, Where

OWN = ("--farm", "Elm Hill", "--field", "North")
FIRST, LATER = "2026-03-04", "2026-03-20"
VISIT_1 = Where("Elm Hill", "North", "visit 1")


def run(*given: object) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, ["season", *map(str, given)])
    return result.exit_code, result.stdout, result.stderr


def of(day: str, *numbers: int, **more: Any) -> dict[str, Any]:
    """A counts file of photos of one day."""
    return counts([entry(n, taken_at=f"{day}T10:00:00", **more) for n in numbers])


def both(*files: dict[str, Any]) -> dict[str, Any]:
    return counts([one for file in files for one in file["spots"]])


def test_another_visit_is_refused_and_both_days_named(season: Season) -> None:
    season.add_counts(of(FIRST, 1, 2, 3, 4), NORTH)
    before = len(season.journal())
    with pytest.raises(InputError) as told:
        season.add_counts(of(LATER, 11, 12, 13, 14), NORTH)
    said = str(told.value)
    assert f"4 photos are of {LATER} (" in said
    assert f"but Elm Hill, North, visit 1 is of {FIRST}; two visits aren't one stand" in said
    assert 'A new visit? Give --visit NAME, like --visit "20 March"' in said
    assert 'Give --visit "visit 1". Nothing of this was added' in said
    assert len(season.journal()) == before
    assert len(season.placed(VISIT_1)) == 4
    # somebody says so
    assert season.add_counts(of(LATER, 11, 12), VISIT_1).new == 2
    assert season.add_counts(of(LATER, 13), NORTH).new == 1
    other = Where("Elm Hill", "North", "second")
    assert season.add_counts(of(LATER, 14), other).visit == "second"


@pytest.mark.parametrize(("day", "refused"), [("2026-03-07", False), ("2026-03-08", True)])
def test_a_walk_on_following_days(season: Season, day: str, refused: bool) -> None:
    season.add_counts(of(FIRST, 1), NORTH)
    if refused:
        with pytest.raises(InputError, match="two visits"):
            season.add_counts(of(day, 2), NORTH)
    else:
        assert season.add_counts(of(day, 2), NORTH).new == 1
        # the day of the visit is still that of its photos
        assert season.history(NORTH).here.date.days == f"{FIRST} to {day}"


@pytest.mark.parametrize("days", [("01", "04", "07"), ("04", "02", "06"), ("07", "04", "01")])
def test_days_dont_chain_through_several_adds(season: Season, days: tuple[str, ...]) -> None:
    """Each lies within three days of another, but not all within three days."""
    *first, last = (f"2026-03-{day}" for day in days)
    for number, day in enumerate(first):
        assert season.add_counts(of(day, number), NORTH).new == 1
    with pytest.raises(InputError) as told:
        season.add_counts(of(last, 9), NORTH)
    so_far = f"visit 1 is of {min(first)} to {max(first)}, and a visit is taken to last 4 days"
    assert so_far in str(told.value)
    assert f"1 photo is of {last} (IMG_9.jpg)" in str(told.value)
    # whatever lies between is of it, and somebody may say otherwise
    assert season.add_counts(of("2026-03-04", 8), NORTH).new == 1
    assert season.add_counts(of(last, 9), VISIT_1).new == 1
    assert season.add_counts(of(last, 7), NORTH).new == 1


def test_days_on_both_sides_of_a_visit(season: Season) -> None:
    season.add_counts(of("2026-03-04", 1), NORTH)
    with pytest.raises(InputError, match=r"1 photo is of 2026-03-07 .* Add those by themselves"):
        season.add_counts(both(of("2026-03-02", 2), of("2026-03-07", 3)), NORTH)


def test_days_of_one_add_that_chain(season: Season) -> None:
    chain = both(*(of(f"2026-03-0{day}", day) for day in (1, 4, 7)))
    with pytest.raises(InputError, match='like --visit "1 March" and --visit "7 March"'):
        season.add_counts(chain, NORTH)
    on = both(*(of(f"2026-03-0{day}", day) for day in range(1, 9)))  # no gap to part them at
    with pytest.raises(InputError, match=r'like --visit "1 March" and --visit "5 March"[.] Was'):
        season.add_counts(on, NORTH)


def test_days_of_one_add_far_apart(season: Season) -> None:
    with pytest.raises(InputError) as told:
        season.add_counts(both(of(FIRST, 1, 2), of("2026-03-05", 3), of(LATER, 4)), NORTH)
    said = str(told.value)
    assert f"3 photos are of {FIRST} to 2026-03-05 (" in said
    assert f"1 photo is of {LATER} (IMG_4.jpg)" in said
    assert 'like --visit "4 March" and --visit "20 March"' in said
    assert season.overview() == []
    season.add_counts(of(FIRST, 1), NORTH)
    with pytest.raises(InputError, match=r"1 photo is of .* Add those by themselves, with --visit"):
        season.add_counts(both(of(FIRST, 2), of(LATER, 4)), NORTH)
    # what is there already says nothing
    season.add_counts(of(LATER, 4), Where("Elm Hill", "North", "second"))
    assert season.add_counts(both(of(FIRST, 1), of(LATER, 4, 5)), NORTH).new == 1


def test_the_visit_that_they_are_of_is_named(season: Season) -> None:
    season.add_counts(of(FIRST, 1), NORTH)
    season.add_counts(of(LATER, 2), Where("Elm Hill", "North", "second"))
    with pytest.raises(InputError) as told:
        season.add_counts(of("2026-03-05", 3), NORTH)
    assert f'Of visit 1 ({FIRST})? Give --visit "visit 1". A new visit?' in str(told.value)


@pytest.mark.parametrize(
    ("there", "new"),
    [
        (FIRST, "2000-01-01"),  # never set
        ("2000-01-01", LATER),
        (FIRST, "2099-03-20"),  # a day to come
        (FIRST, None),  # no clock
        (None, LATER),  # put in later than these were taken
    ],
)
def test_clocks_that_tell_nothing(season: Season, there: str | None, new: str | None) -> None:
    for number, day in enumerate((there, new), start=1):
        time = {"taken_at": f"{day}T10:00:00"} if day else {}
        assert season.add_counts(counts([entry(number, **time)]), NORTH).new == 1
    assert len(season.placed(VISIT_1)) == 2


def test_a_clock_that_is_ahead_still_tells_its_own_days_apart(season: Season) -> None:
    season.add_counts(of("2098-03-04", 1), NORTH)
    with pytest.raises(InputError, match="2098-03-20"):
        season.add_counts(of("2098-03-20", 2), NORTH)


def test_taken_after_all_was_put_in(season: Season, tmp_path: Path) -> None:
    """The day of typing says at least that the counts aren't later."""
    season.add_hand_counts(hand_csv(tmp_path / "h.csv", "1,Ash,20,60,1 ft2"), NORTH)
    with season.engine.begin() as connection:
        connection.exec_driver_sql(f"UPDATE acts SET at = '{FIRST}T12:00:00Z'")
    with pytest.raises(InputError, match=f"visit 1 was put in on {FIRST}, before they were taken"):
        season.add_counts(of(LATER, 2), NORTH)
    assert season.add_counts(of("2026-02-10", 2), NORTH).new == 1


def test_a_visit_dated_against_its_clocks(season: Season) -> None:
    """Both days are the visit's: that which was given, and what the camera goes on saying."""
    season.add_counts(of("2019-05-17", 1), NORTH, day=dt.date(2026, 3, 4))
    assert season.add_counts(of("2019-05-17", 2), NORTH).new == 1
    assert season.add_counts(of("2026-03-05", 3), NORTH).new == 1
    with pytest.raises(InputError, match="2026-03-20"):
        season.add_counts(of(LATER, 4), NORTH)
    # a day that is given with photos goes before their clocks
    assert season.add_counts(of(LATER, 4), NORTH, day=dt.date(2026, 3, 4)).new == 1


def test_a_plan_walked_later_than_planned(season: Season, tmp_path: Path) -> None:
    ahead = write(tmp_path / "p.geojson", plan([(0, 0), (100, 0)]))
    season.add_plan(ahead, NORTH, day=dt.date(2026, 3, 10))
    assert season.add_counts(of(LATER, 1, spot="1"), NORTH).new == 1
    with pytest.raises(InputError, match="2026-04-02"):
        season.add_counts(of("2026-04-02", 2, spot="2"), NORTH)


def test_nothing_of_one_command_is_written(tmp_path: Path) -> None:
    file = tmp_path / "s.sqlite"
    assert run("new", file)[0] == 0
    first, later = (
        write(tmp_path / f"{n}.json", of(day, *numbers))
        for n, (day, numbers) in enumerate(((FIRST, (1, 2)), (LATER, (11, 12))))
    )
    code, out, said = run("add", file, first, later, *OWN)
    assert (code, out) == (2, "")
    assert f"2 photos are of {FIRST} (IMG_1.jpg, IMG_2.jpg) and 2 photos are of {LATER}" in said
    assert "add counts" not in run("show", file, "--log")[1]
    assert run("add", file, first, *OWN)[0] == 0
    sheet = hand_csv(tmp_path / "h.csv", "1,Ash,20,60,1 ft2")
    assert run("add", file, sheet, later)[:2] == (2, "")
    code, out, said = run("add", file, later, "--visit", "20 March")
    assert code == 0, said
    assert "2 counts added to Elm Hill, North, 20 March" in out


def test_photos_are_refused_before_they_are_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from PIL import Image

    from tests.cli.helpers import StandIn

    StandIn.in_place(monkeypatch)
    file = tmp_path / "s.sqlite"
    assert run("new", file)[0] == 0
    assert run("add", file, write(tmp_path / "c.json", of(FIRST, 1)), *OWN)[0] == 0
    block = Image.Exif()
    block.get_ifd(0x8769)[0x9003] = "2026:03:20 10:00:00"
    photo = tmp_path / "spot_01.jpg"
    Image.new("RGB", (640, 480), "green").save(photo, exif=block)

    def never(*_: Any, **__: Any) -> None:
        raise AssertionError("it was counted")

    monkeypatch.setattr("tillercount.cli.counting.count_photos", never)
    code, out, said = run("add", file, photo, "--area", "square:12in")
    assert (code, out) == (2, "")
    assert f"1 photo is of {LATER} (spot_01.jpg), but Elm Hill, North, visit 1 is of" in said


@pytest.mark.parametrize("date", [(), ("--date", "20 March")])
def test_photos_are_read_once_before_they_are_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, date: tuple[str, ...]
) -> None:
    from PIL import Image

    from tests.cli.helpers import StandIn

    StandIn.in_place(monkeypatch)
    file = tmp_path / "s.sqlite"
    assert run("new", file)[0] == 0
    block = Image.Exif()
    block.get_ifd(0x8769)[0x9003] = "2026:03:20 10:00:00"
    photos = [tmp_path / f"spot_0{number}.jpg" for number in (1, 2)]
    for number, photo in enumerate(photos):
        Image.new("RGB", (640, 480), (20 + number, 90, 60)).save(photo, exif=block)
    read = []
    plain = Path.open

    def opened(path: Path, *args: Any, **more: Any) -> Any:
        read.append(path)
        return plain(path, *args, **more)

    monkeypatch.setattr(Path, "open", opened)
    code, out, said = run("add", file, *photos, "--area", "square:12in", *OWN, *date)
    assert code == 0, said
    assert "2 counts added" in out
    assert not date or f"date of visit 1: {LATER} (as given)" in out
    # to know them and their day; and to count them
    assert [read.count(photo) for photo in photos] == [2, 2]


def test_the_way_out_of_the_wrong_visit(tmp_path: Path) -> None:
    """As told, by adding and by moving; and it works as it is told."""
    file = tmp_path / "s.sqlite"
    assert run("new", file)[0] == 0
    first, later = (
        write(tmp_path / f"{day}.json", of(day, *numbers))
        for day, numbers in ((FIRST, (1, 2)), (LATER, (11, 12)))
    )
    assert run("add", file, first, *OWN)[0] == 0
    code, out, _ = run("add", file, later, "--visit", "visit 1")
    assert code == 0
    number = int(out.splitlines()[-1].rpartition(" --add ")[2])
    told = f"season remove {file} --add {number} (which names all that goes); then add them again"
    code, out, _ = run("add", file, later, "--visit", "20 March")
    assert code == 0
    assert f"{told} with --visit \"20 March\"" in out
    code, _, said = run("assign", file, "IMG_11.jpg", "1", "--visit", "20 March", "--move")
    assert code == 2
    assert "no visit '20 March' of Elm Hill, North; it has: visit 1" in said
    # to move one photo, the others that came with it needn't be taken out
    assert (
        "if it belongs to 20 March, take out that photo alone: tillercount season remove "
        f'{file} --field North --visit "visit 1" --photo IMG_11.jpg; then add it again with '
        '--visit "20 March". Nothing was changed'
    ) in said
    assert run("remove", file, "--add", number, "--yes")[0] == 0
    assert "2 photos put into Elm Hill, North, 20 March" in (
        run("add", file, later, "--visit", "20 March")[1]
    )


def test_photos_counted_already_in_another_visit(season: Season) -> None:
    from tillercount.cli.seasonadd import _counted_already

    act = season.add_counts(of(FIRST, 1), NORTH).act
    known = season.counted(entry(1)["sha256"], entry(1)["area"]["text"])
    assert known is not None
    there = [("IMG_1.jpg", known)]
    second = Where("Elm Hill", "North", "20 March")
    told = _counted_already(there, second, season)
    out = f"tillercount season remove {in_command(season.place)} --add {act}"
    assert f"take out what it came with: {out}" in told
    assert "--add" not in _counted_already(there, VISIT_1, season)
    assert "--add" not in _counted_already(there, NORTH, season)


def test_a_refused_photo_that_is_assigned_is_still_refused(tmp_path: Path) -> None:
    file = tmp_path / "s.sqlite"
    assert run("new", file)[0] == 0
    refused = {**entry(6), "status": "refused", "reason": "no frame"}
    given = write(tmp_path / "c.json", counts([entry(1), refused]))
    assert run("add", file, given, *OWN)[0] == 0
    assert run("assign", file, "IMG_6.jpg", "6", "--new")[1] == (
        "IMG_6.jpg: placed at spot 6; still refused, so it adds nothing to the mean\n"
    )
    assert run("assign", file, "IMG_1.jpg", "6")[1] == (
        "IMG_1.jpg: moved from spot IMG_1 to spot 6 by hand\n"
    )
