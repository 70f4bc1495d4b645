"""``tillercount assess``: several fields, the name of the field, contradicting counts."""

from __future__ import annotations

import json
from pathlib import Path

from typer.testing import CliRunner

from tillercount.cli.app import app

HEAD = "spot,observer,plants,shoots,area,field\n"


def counts(path: Path, shoots: float, folder: str = "creek") -> Path:
    """A counts file of three spots."""
    spots = [
        {
            "photo": f"{folder}/spot_0{i}.jpg",
            "status": "counted",
            "area": {"ft2": 1.0},
            "plants": {"count": 20.0 + i, "low": 15.0, "high": 30.0},
            "shoots": {"count": shoots, "low": shoots - 15, "high": shoots + 20},
        }
        for i in (1, 2, 3)
    ]
    path.write_text(json.dumps({"schema": "tillercount.counts/1", "spots": spots}))
    return path


def run(*given: object) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, ["assess", *map(str, given)])
    return result.exit_code, result.stdout, result.stderr


def test_two_fields_are_cautioned_before_the_verdict(tmp_path: Path) -> None:
    one = counts(tmp_path / "a.json", 70.0)
    other = counts(tmp_path / "b.json", 70.0, folder="barn")
    code, _, said = run(one, other)
    assert code == 0
    assert "caution: photos come from 2 folders (creek, barn)" in " ".join(said.split())
    assert "caution" not in run(one)[2]


def test_a_contradiction_stops_without_a_verdict(tmp_path: Path) -> None:
    photos = counts(tmp_path / "a.json", 450.0)
    hand = tmp_path / "hand.csv"
    hand.write_text(HEAD + "1,JM,22,70,1 ft2,\n3,JM,23,70,1 ft2,\n")
    code, out, said = run(photos, hand)
    assert code == 2
    assert "contradict each other" in " ".join(said.split())
    assert out.strip() == ""


def test_the_field_can_be_named(tmp_path: Path) -> None:
    page = tmp_path / "page.json"
    code, _, said = run(counts(tmp_path / "a.json", 70.0), "--field", "Creek field", "--json", page)
    assert code == 0, said
    assert "Creek field" in page.read_text()


def test_a_season_is_sent_to_the_commands_that_read_one(tmp_path: Path) -> None:
    from tillercount.store import Season

    file = tmp_path / "2027.sqlite"
    with Season.create(file):
        pass
    code, out, said = run(file)
    assert (code, out) == (2, "")
    assert f"tillercount season assess {file}" in said
    assert f"tillercount report {file} --field NAME" in said
    (tmp_path / "other.sqlite").write_bytes(b"")
    assert "neither a photo" in run(tmp_path / "other.sqlite")[2]


def test_two_files_of_one_spot_and_observer_that_differ(tmp_path: Path) -> None:
    good, thin = tmp_path / "good.csv", tmp_path / "thin.csv"
    good.write_text(HEAD + "1,JM,28,80,1 ft2,\n")
    thin.write_text(HEAD + "1,JM,9,40,1 ft2,\n")
    code, out, said = run(good, thin)
    assert (code, out) == (2, "")
    assert "Two fields? Assess each by itself" in said


def test_a_page_without_the_field_s_name_is_said(tmp_path: Path) -> None:
    hand, page = tmp_path / "hand.csv", tmp_path / "page.html"
    hand.write_text(HEAD + "1,JM,22,70,1 ft2,\n3,JM,23,70,1 ft2,\n")
    two = (counts(tmp_path / "a.json", 70.0), hand, "--html", page)
    assert f"{page} doesn't say which field it is of: give --field NAME" in " ".join(
        run(*two)[2].split()
    )
    assert "which field" not in run(*two, "--field", "Creek field")[2]
    hand.write_text(HEAD + "1,JM,22,70,1 ft2,Creek field\n")
    assert "which field" not in run(*two)[2]
