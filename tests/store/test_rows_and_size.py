"""What a season says of rows that speak against a size, when photos come in and ever after."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import NORTH, at, counts, entry, write
from tillercount.cli.app import app
from tillercount.store import Season, Where
from tillercount.units import MM_PER_IN

HOOP = {"kind": "hoop", "text": "hoop:508mm", "typed": "hoop:20in", "ft2": 2.18}


def batch(first: int, *inches: float, **more: Any) -> dict[str, Any]:
    """Photos of one add with such rows."""
    return counts(
        [
            entry(first + n, rows={"found": True, "spacing_mm": one * MM_PER_IN}, **more)
            for n, one in enumerate(inches)
        ]
    )


def first_warning(season: Season, where: Where = NORTH) -> str:
    return next(iter(season.assess(where, "common-practice").verdict.warnings), "")


def test_rows_that_few_drills_have(season: Season) -> None:
    added = season.add_counts(batch(1, 11.2, 10.6, 11.1, area=HOOP), NORTH)
    assert added.notes[0].startswith("MIND: rows stand 11.1 in (28 cm) apart in 3 photos by the")
    assert first_warning(season).startswith("rows stand 11.1 in (28 cm) apart in 3 photos by the")
    # nothing new, so nothing is said again
    assert not season.add_counts(batch(1, 11.2, 10.6, 11.1, area=HOOP), NORTH).notes


def test_photos_added_one_by_one_are_looked_at_together(season: Season) -> None:
    assert not season.add_counts(batch(1, 11.2, area=HOOP), NORTH).notes
    assert "rows stand" in season.add_counts(batch(2, 11.1, area=HOOP), NORTH).notes[0]


@pytest.mark.parametrize("more", [{}, {"area": HOOP, "drill_rows": "11 in"}])
def test_usual_rows_and_the_drills_own_say_nothing(season: Season, more: dict[str, Any]) -> None:
    inches = 11.1 if more else 7.5
    assert not season.add_counts(batch(1, inches, inches, **more), NORTH).notes
    assert "ows stand" not in first_warning(season)


def test_a_size_corrected_by_a_person_is_no_less_wrong(season: Season) -> None:
    season.add_counts(batch(1, 11.2, 11.1, area=HOOP), NORTH)
    season.correct("IMG_1.jpg", 20.0, 60.0, where=NORTH)
    assert "in 2 photos" in first_warning(season)


def test_two_distances_are_told_when_added_and_from_then_on(season: Season) -> None:
    season.add_counts(batch(1, 9.7, 9.6, 9.5, area=HOOP), NORTH)
    lat, lon = at(10, 10)  # with a position nobody asked before
    added = season.add_counts(batch(11, 7.4, 7.3, lat=lat, lon=lon), NORTH)
    assert "9.6 in (24.5 cm) apart in 3 photos and 7.4 in" in added.notes[0]
    assert "in 2 others of this field" in first_warning(season)


def test_photos_without_a_position_are_asked_about_once(season: Season) -> None:
    season.add_counts(batch(1, 9.7, 9.6, 9.5, area=HOOP), NORTH)
    notes = season.add_counts(batch(11, 7.4, 7.3), NORTH).notes
    assert sum("another drill" in note for note in notes) == 1


def test_the_fields_other_visits_count_too(season: Season) -> None:
    again = Where("Elm Hill", "North", "again")
    season.add_counts(batch(1, 7.4, 7.3), NORTH)
    season.add_counts(batch(11, 9.7, 9.6, area=HOOP), again)
    assert "in 2 of the field's other visits" in first_warning(season, again)
    season.add_counts(batch(21, 9.7, 9.6, area=HOOP), Where("Elm Hill", "South"))
    assert "ows stand" not in first_warning(season, Where("Elm Hill", "South"))


@pytest.mark.parametrize("odd", ["wide", True, None, [1], {"a": 1}])
def test_an_entry_that_somebody_edited(season: Season, odd: Any) -> None:
    file = counts(
        [entry(n, rows={"found": True, "spacing_mm": odd}, drill_rows=odd) for n in (1, 2)]
    )
    season.add_counts(file, NORTH)
    assert season.summary(NORTH).estimate is not None


def test_show_says_it_before_any_density(tmp_path: Path) -> None:
    run, file = CliRunner(), str(tmp_path / "s.sqlite")
    one = write(tmp_path / "a.json", batch(1, 9.7, 9.6, 9.5, area=HOOP))
    two = write(tmp_path / "b.json", batch(11, 7.4, 7.3, 7.4))
    run.invoke(app, ["season", "new", file])
    for source in (one, two):
        done = run.invoke(app, ["season", "add", file, str(source), "--farm", "A", "--field", "B"])
        assert done.exit_code == 0, done.output
    shown = [run.invoke(app, ["season", "show", file]).output for _ in range(2)]
    assert shown[0] == shown[1]
    _, mind, plants, *rest = shown[0].splitlines()
    assert mind.startswith("MIND: rows stand 7.4 in (19 cm) apart in 3 photos and 9.6 in")
    assert plants.startswith("plants: ")
    assert not any("rows stand" in line for line in rest)
    given = ["season", "assess", file, "--row-spacing", "7.5 in"]
    said = " ".join(run.invoke(app, given).output.split())
    assert "7.4 in (19 cm) agrees with the drill's 7.5 in" in said
    unused = ["season", "add", file, str(one), "--farm", "A", "--field", "B"]
    assert "isn't used" in run.invoke(app, [*unused, "--row-spacing", "7.5 in"]).output
