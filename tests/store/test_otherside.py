"""A plan on the other side of the earth from the season's other fields."""

from __future__ import annotations

from pathlib import Path

from tests.store.helpers import NORTH, counts, entry, plan, write
from tillercount.names import in_command
from tillercount.store import Season, Where

SOUTH = Where("Elm Hill", "South field")


def mirrored(file: Path) -> Path:
    text = file.read_text(encoding="utf-8")
    assert "-97.5" in text
    file.write_text(text.replace("-97.5", "97.5").replace("-97.4", "97.4"), encoding="utf-8")
    return file


def test_a_plan_in_asia_beside_fields_in_kansas(season: Season, tmp_path: Path) -> None:
    places = [(0.0, 0.0), (60.0, 40.0), (110.0, 5.0)]
    near = write(tmp_path / "near.geojson", plan(places))
    assert not any("MIND" in note for note in season.add_plan(near, NORTH).notes)
    far = mirrored(write(tmp_path / "far.geojson", plan(places)))
    (said,) = (note for note in season.add_plan(far, SOUTH).notes if "MIND" in note)
    assert "97.5° E, in Asia, and all else in the season at 38.5° N, 97.5° W" in said
    assert f"tillercount season remove {in_command(season.place)} --plan --field" in said
    assert '--field "South field" --visit "visit 1"' in said


def test_photos_tell_too(season: Season, tmp_path: Path) -> None:
    season.add_counts(counts([entry(n, lat=38.5, lon=-97.5) for n in range(3)]), NORTH)
    far = mirrored(write(tmp_path / "far.geojson", plan([(0.0, 0.0), (60.0, 40.0)])))
    notes = season.add_plan(far, SOUTH).notes
    assert any("was the minus of the longitude lost" in note for note in notes)


def test_a_first_plan_has_nothing_to_be_held_against(season: Season, tmp_path: Path) -> None:
    far = mirrored(write(tmp_path / "far.geojson", plan([(0.0, 0.0), (60.0, 40.0)])))
    assert not any("MIND" in note for note in season.add_plan(far, SOUTH).notes)


def test_a_right_plan_isnt_to_be_taken_out_for_wrong_ones(season: Season, tmp_path: Path) -> None:
    places = [(0.0, 0.0), (60.0, 40.0), (110.0, 5.0)]
    season.add_plan(mirrored(write(tmp_path / "far.geojson", plan(places))), SOUTH)
    right = write(tmp_path / "near.geojson", plan(places))
    (said,) = (note for note in season.add_plan(right, NORTH).notes if "MIND" in note)
    assert "lost there? Then take their plans out" in said
    assert "season remove" not in said
