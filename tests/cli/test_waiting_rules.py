"""Rule sets that would fit a field, but for something that nobody has said of it yet."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import flat

Run = Callable[..., Any]


@pytest.fixture
def near_guelph(tmp_path: Path) -> Path:
    """Six spots of 20 plants per ft² near Guelph, Ontario."""
    file = tmp_path / "elm.csv"
    rows = [
        f"{i},kb,{18 + i},{40 + i},1 ft2,43.54{i},-80.25{i}" for i in range(6)
    ]  # fmt: skip
    file.write_text("spot,observer,plants,shoots,area,lat,lon\n" + "\n".join(rows) + "\n", "utf-8")
    return file


@pytest.mark.parametrize(
    ("region", "says"),
    [
        (
            "Ontario",
            "ontario-adviser-stand and ontario-stand would fit this field, but its row spacing is "
            "missing: add --row-spacing 7.5in (put yours in).",
        ),
        (
            "Kansas",
            "kansas-replant would fit this field, but the density of a normal stand here is "
            "missing: add --normal-stand 25/ft2 (put yours in).",
        ),
    ],
)
def test_which_would_fit_and_what_is_missing(
    run: Run, near_guelph: Path, region: str, says: str
) -> None:
    said = flat(run("rules", "compare", near_guelph, "--region", region).stdout)
    assert says in said
    assert "No rule set fits" not in said


def test_what_it_says_to_add_lets_them_in(run: Run, near_guelph: Path) -> None:
    at = ("rules", "compare", near_guelph, "--region", "Ontario", "--row-spacing", "7.5in")
    said = flat(run(*at).stdout)
    assert "would fit this field" not in said
    for name in ("ontario-adviser-stand", "ontario-stand"):
        assert name in said


def test_plants_may_be_missing_too(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "shoots.csv"
    rows = "\n".join(f"{i},kb,{40 + i},1 ft2" for i in range(6))
    file.write_text(f"spot,observer,shoots,area\n{rows}\n", "utf-8")
    said = flat(run("rules", "compare", file, "--region", "Ontario").stdout)
    assert "but a count of plants and its row spacing are missing: add --row-spacing" in said


def test_where_none_would_fit_it_still_says_so(run: Run, near_guelph: Path) -> None:
    at = ("rules", "compare", near_guelph, "--region", "Ontario", "--stage", "Feekes 8")
    said = flat(run(*at).stdout)
    assert "No rule set fits this field; the reasons are below." in said
    assert "would fit" not in said
