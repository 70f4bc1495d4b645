"""Lists that a season's screens cut short name the command that has all of them, and it has."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import counts, entry, hand_csv, plan, write

PLACE = ("--farm", "Elm Hill", "--field", "Home")
ALL = " --photos"


def run(*args: object) -> Any:
    from tillercount.cli.app import app

    words = ["season", *(str(arg) for arg in args)]
    return CliRunner().invoke(app, words, prog_name="tillercount")


def typed(text: str) -> Any:
    """What the one command says that a text has behind ``(all: ``."""
    assert text.count("(all: ") == 1
    begin = text.index("(all: ") + len("(all: ")
    command = shlex.split(text[begin : text.index(")", begin)])
    assert command[:2] == ["tillercount", "season"]
    return run(*command[2:])


@pytest.fixture
def file(tmp_path: Path) -> Path:
    made = tmp_path / "my season.sqlite"  # so its name needs quotes
    assert run("new", made).exit_code == 0
    return made


def test_photos_without_a_position(tmp_path: Path, file: Path) -> None:
    given = write(tmp_path / "c.json", counts([entry(n) for n in range(1, 10)]))
    assert run("add", file, given, *PLACE).exit_code == 0
    shown = run("show", file).stdout
    assert "IMG_6.jpg and 3 more (all: " in shown
    listed = typed(shown).stdout
    assert all(f"  IMG_{n}.jpg: spot" in listed for n in range(1, 10))


def test_photos_refused_and_placed(tmp_path: Path, file: Path) -> None:
    """Both lists are cut, and the command that has both stands there once."""
    far = {"lat": 38.6, "lon": -97.6}
    many = [
        *({**entry(n, **far), "status": "refused", "reason": f"dark {n}"} for n in range(1, 24)),
        *(entry(n, **far) for n in range(24, 50)),
    ]
    places = write(tmp_path / "p.geojson", plan([(0, 0), (90, 0)]))
    assert run("add", file, places, *PLACE).exit_code == 0
    said = run("add", file, write(tmp_path / "c.json", counts(many)), *PLACE).stdout
    assert said.count("  and ") == 2
    listed = typed(said).stdout
    assert all(f"dark {n}\n" in listed for n in range(1, 24))
    assert all(f"  IMG_{n}.jpg: " in listed for n in range(1, 50))


def test_visits_that_are_only_planned(tmp_path: Path, file: Path) -> None:
    rows = hand_csv(tmp_path / "h.csv", "1,Ash,20,60,1 ft2")
    done = run("add", file, rows, *PLACE, "--visit", "scouting", "--date", "2026-03-01")
    assert done.exit_code == 0, done.stderr
    names = ["oak", "elm", "ash", "fir", "yew", "bay", "fig"]
    for day, name in enumerate(names, start=2):
        places = write(tmp_path / f"{name}.geojson", plan([(90 * day, 0), (0, 90 * day)]))
        more = ("--visit", name, "--date", f"2026-04-{day:02}")
        assert run("add", file, places, *PLACE, *more).exit_code == 0
    shown = run("show", file, "--field", "Home").stdout.splitlines()[0]
    assert "bay and 1 more (all: " in shown
    listed = typed(shown).stdout
    assert all(name in listed for name in names)
