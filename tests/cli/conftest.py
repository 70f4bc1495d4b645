"""Fixtures of the command-line tests: no weights are needed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from tests.cli.helpers import POLE, StandIn, write_photo


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> StandIn:
    import tillercount.count

    monkeypatch.setattr(
        tillercount.count,
        "classmap_on_photo",
        lambda counted: np.zeros(counted.photo.rgb.shape[:2], np.uint8),
    )
    return StandIn.in_place(monkeypatch)


@pytest.fixture
def photos(tmp_path: Path) -> Path:
    """A folder of four photos with 20, 24, 28 and 32 "plants"."""
    folder = tmp_path / "north field"
    folder.mkdir()
    for number, plants in enumerate((20, 24, 28, 32)):
        write_photo(folder / f"spot{number}.png", plants)
    return folder


@pytest.fixture
def run() -> Callable[..., Any]:
    """Run a command in this process."""
    from tillercount.cli.app import app

    def go(*args: object) -> Any:
        return CliRunner().invoke(app, [str(arg) for arg in args], prog_name="tillercount")

    return go


@pytest.fixture(params=["assess", "season assess"])
def judged(
    request: pytest.FixtureRequest, run: Callable[..., Any], tmp_path: Path
) -> Callable[..., Any]:
    """Judge the Pole field, from its file or in a season."""
    season = tmp_path / "s.sqlite"
    if request.param == "assess":
        return lambda *more: run("assess", POLE, *more)
    run("season", "new", season)
    done = run("season", "add", season, POLE, "--farm", "Elm Hill", "--field", "Pole")
    assert done.exit_code == 0, done.output
    return lambda *more: run("season", "assess", season, *more)
