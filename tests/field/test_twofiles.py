"""Two files of hand counts: two fields aren't averaged in silence."""

from __future__ import annotations

from pathlib import Path

import pytest

from tillercount.errors import InputError
from tillercount.field import collect

HEAD = "spot,observer,plants,shoots,area\n"


def sheet(path: Path, *rows: str) -> Path:
    path.write_text(HEAD + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return path


def test_same_spot_and_observer_with_other_figures_is_refused(tmp_path: Path) -> None:
    good = sheet(tmp_path / "good.csv", "1,JM,28,80,square:12in", "2,JM,30,82,square:12in")
    thin = sheet(tmp_path / "thin.csv", "Spot 02,jm,9,40,square:12in")
    with pytest.raises(InputError, match=r"thin\.csv, Spot 02: jm counted 9 plants") as caught:
        collect([good, thin])
    said = str(caught.value)
    assert "good.csv 30 plants and 82 shoots" in said
    assert "Two fields? Assess each by itself" in said


def test_nobody_named_in_both_is_one_observer(tmp_path: Path) -> None:
    good = sheet(tmp_path / "good.csv", "1,,28,80,square:12in")
    thin = sheet(tmp_path / "thin.csv", "1,,9,40,square:12in")
    with pytest.raises(InputError, match="nobody named counted 9 plants"):
        collect([good, thin])


@pytest.mark.parametrize(
    "row",
    [
        "1,RT,9,40,square:12in",  # somebody else at the same spot
        "3,JM,9,40,square:12in",  # another spot
        "1,JM,28,80,1 ft2",  # the same again, its frame written otherwise
        "1,JM,28,,square:12in",  # a part of it
    ],
)
def test_no_contradiction_is_taken(tmp_path: Path, row: str) -> None:
    good = sheet(tmp_path / "good.csv", "1,JM,28,80,square:12in")
    other = sheet(tmp_path / "other.csv", row)
    assert len(collect([good, other]).spots) == 2


def test_areas_are_named_where_they_are_what_differs(tmp_path: Path) -> None:
    good = sheet(tmp_path / "good.csv", "1,JM,28,80,1 ft2")
    other = sheet(tmp_path / "other.csv", "1,JM,28,80,2 ft2")
    with pytest.raises(InputError, match=r"28 plants and 80 shoots in 2 ft², but in .*in 1 ft²"):
        collect([good, other])
