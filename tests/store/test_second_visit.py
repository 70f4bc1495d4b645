"""A second visit to a field: told from a slip, and found again by its name."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.store.helpers import counts, entry, hand_csv, plan, write
from tillercount.cli.app import app
from tillercount.errors import InputError
from tillercount.field import collect
from tillercount.units import per_ft2

NORTH = ("--farm", "Elm Hill", "--field", "North")


def run(*given: object) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, ["season", *map(str, given)])
    return result.exit_code, result.stdout, result.stderr


@pytest.fixture
def file(tmp_path: Path) -> Path:
    made = tmp_path / "season.sqlite"
    assert run("new", made)[0] == 0
    first = write(tmp_path / "c.json", counts([entry(1, spot="1"), entry(2, spot="2")]))
    by_hand = hand_csv(tmp_path / "first.csv", "1,Ash,20,61,1 ft2\n2,Ash,24,70,1 ft2")
    assert run("add", made, first, by_hand, *NORTH)[0] == 0
    return made


def test_other_figures_need_the_name_of_a_visit(tmp_path: Path, file: Path) -> None:
    later = hand_csv(tmp_path / "later.csv", "3,Ash,20,60,1 ft2\n1,Ash,20,95,1 ft2")
    code, out, said = run("add", file, later)
    assert (code, out) == (2, "")
    assert "spot 1: Ash counted 20 plants, 61 shoots in Elm Hill, North, visit 1" in said
    assert "A new visit? Give --visit NAME" in said
    assert "--replace" in said
    code, out, said = run("add", file, later, "--visit", "6 March")
    assert code == 0, said
    assert "2 hand counts added to Elm Hill, North, 6 March" in out


def test_a_photo_of_another_visit_is_told_where_it_is(tmp_path: Path, file: Path) -> None:
    later = hand_csv(tmp_path / "later.csv", "1,Ash,20,95,1 ft2")
    assert run("add", file, later, "--visit", "6 March")[0] == 0
    code, _, said = run("correct", file, "IMG_2.jpg", "--field", "North", "--plants", "24")
    assert code == 2
    assert "no photo 'IMG_2.jpg' in Elm Hill, North, 6 March" in said
    assert 'it is in visit 1: add --visit "visit 1"' in said
    code, out, said = run(
        "correct", file, "IMG_2.jpg", "--field", "North", "--visit", "visit 1", "--plants", "24"
    )
    assert code == 0, said
    assert "plants 24" in out


def test_a_photo_of_another_field_is_told_where_it_is(tmp_path: Path, file: Path) -> None:
    south = hand_csv(tmp_path / "south.csv", "1,Ash,20,95,1 ft2")
    assert run("add", file, south, "--farm", "Elm Hill", "--field", "South")[0] == 0
    code, _, said = run("correct", file, "IMG_2.jpg", "--field", "South", "--plants", "24")
    assert code == 2
    assert '--farm "Elm Hill" --field North --visit "visit 1"' in said


@pytest.mark.parametrize("option", ["--plants", "--shoots"])
def test_a_decimal_comma_is_named_plainly(file: Path, option: str) -> None:
    code, _, said = run("correct", file, "IMG_2.jpg", option, "24,5")
    assert code == 2
    assert f"{option} '24,5' has a comma; write decimals with a point, like 24.5" in said


def test_an_export_with_refused_and_unplaced_photos_is_assessed(tmp_path: Path, file: Path) -> None:
    refused = {**entry(3), "status": "refused", "reason": "too dark"}
    more = write(tmp_path / "more.json", counts([refused, entry(4)]))
    planned = write(tmp_path / "plan.geojson", plan([(0, 0), (100, 0)]))
    code, _, said = run("add", file, planned, more)
    assert code == 2
    assert 'Elm Hill, North, visit 1 has counts and no plan, and it isn\'t clear' in said
    assert 'If they were, give --visit "visit 1"' in said
    assert run("add", file, planned, more, *NORTH, "--visit", "visit 1")[0] == 0
    table = tmp_path / "all.csv"
    assert run("export", file, table)[0] == 0
    assert "too dark" in table.read_text()
    result = CliRunner().invoke(app, ["assess", str(table), "--stage", "Feekes 3"])
    assert result.exit_code == 0, result.stderr
    # a photo's count isn't a hand count, nor averaged with that of its spot
    assert "2 photo counts of this export left out (IMG_1.jpg, IMG_2.jpg): the" in result.output
    read = collect(table).spots
    assert [(one.spot, one.observer) for one in read] == [("1", "Ash"), ("2", "Ash")]


def test_a_photo_corrected_by_hand_stays_in_an_export(tmp_path: Path, file: Path) -> None:
    """As in the season: unless its spot has a hand count, which holds."""
    more = write(tmp_path / "more.json", counts([entry(4)]))
    assert run("add", file, more, "--visit", "visit 1")[0] == 0
    for photo in ("IMG_1.jpg", "IMG_4.jpg"):
        assert run("correct", file, photo, "--plants", "33", "--shoots", "90")[0] == 0
    table = tmp_path / "all.csv"
    assert run("export", file, table)[0] == 0
    read = [(one.spot, round(per_ft2(one.plants_per_m2 or 0))) for one in collect(table).spots]
    assert sorted(read) == [("1", 20), ("2", 24), ("IMG_4", 33)]


def test_a_moved_photo_is_said_to_be_moved(file: Path) -> None:
    assert run("assign", file, "IMG_1.jpg", "2")[1] == (
        "IMG_1.jpg: moved from spot 1 to spot 2 by hand\n"
    )
    assert run("assign", file, "IMG_1.jpg", "2")[1] == "IMG_1.jpg: spot 2 by hand\n"
    assert run("assign", file, "IMG_1.jpg", "none")[1] == (
        "IMG_1.jpg: moved from spot 2 to no spot by hand\n"
    )


def planned_first(folder: Path, zones: list[str | None]) -> Path:
    """A season with a plan of so many spots in these zones; spots 1 and 2 are counted."""
    made = folder / "planned.sqlite"
    assert run("new", made)[0] == 0
    places = [(100.0 * i, 0.0) for i in range(len(zones))]
    planned = write(folder / "plan.geojson", plan(places, zone=zones))
    by_hand = hand_csv(folder / "hand.csv", "1,Ash,20,61,1 ft2\n2,Ash,24,70,1 ft2")
    assert run("add", made, planned, by_hand, *NORTH)[0] == 0
    return made


@pytest.mark.parametrize(
    ("zones", "says"),
    [
        (["hill", "flat", "hill", "flat", "flat"], "3 of 5 planned spots not counted yet, 2 of"),
        (["hill", "flat", "hill", "flat", None], "3 of 5 planned spots not counted yet\n"),
        ([None] * 5, "3 of 5 planned spots not counted yet\n"),
    ],
)
def test_assess_says_what_the_plan_still_lacks(
    tmp_path: Path, zones: list[str | None], says: str
) -> None:
    file = planned_first(tmp_path, zones)
    code, out, said = run("assess", file, "--stage", "Feekes 3")
    assert code == 0, said
    assert out.startswith(says)
    assert ("2 of them in flat: go there first" in out) == says.endswith("2 of")


def test_a_finished_plan_is_assessed_without_such_a_line(tmp_path: Path) -> None:
    code, out, said = run("assess", planned_first(tmp_path, ["a", "b"]), "--stage", "Feekes 3")
    assert code == 0, said
    assert "planned spots not counted" not in out


def test_an_export_of_two_visits_is_not_averaged(tmp_path: Path, file: Path) -> None:
    later = hand_csv(tmp_path / "later.csv", "3,Ash,9,30,1 ft2")
    assert run("add", file, later, "--visit", "6 March")[0] == 0
    table = tmp_path / "all.csv"
    assert run("export", file, table)[0] == 0
    with pytest.raises(
        InputError, match="6 March of Elm Hill, North, but rows above are of visit"
    ) as told:
        collect(table)
    assert '--field North --visit "6 March"' in str(told.value)
    assert "SEASON" not in str(told.value)
    one = ("--field", "North", "--visit", "6 March")
    assert run("export", file, table, *one)[0] == 0
    assert [spot.spot for spot in collect(table).spots] == ["3"]
