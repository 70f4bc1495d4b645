"""One photo counted with two sizes of its marked area."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import counts, entry, write
from tillercount.cli.app import app
from tillercount.errors import InputError
from tillercount.field import collect

CM50 = {"kind": "square", "text": "square:500mm", "typed": "square:50cm", "ft2": 2.691}
FT1 = {"kind": "square", "text": "square:304.8mm", "typed": "square:1ft", "ft2": 1.0}
IN12 = {**FT1, "typed": "square:12in"}


def sheet(path: Path, area: dict[str, Any], *numbers: int, **more: Any) -> Path:
    return write(path, counts([entry(n, area=area, **more) for n in numbers]))


def test_two_sizes_of_one_photo_are_refused_in_either_order(tmp_path: Path) -> None:
    w50 = sheet(tmp_path / "w50.json", CM50, 1, 2)
    w1 = sheet(tmp_path / "w1.json", FT1, 1, 2, 3)
    with pytest.raises(InputError) as raised:
        collect([w50, w1])
    said = str(raised.value)
    assert said.startswith(
        f"2 photos were counted with square:50cm in {w50} and with square:1ft in {w1}: "
        "IMG_1.jpg, IMG_2.jpg. "
    )
    assert "Give only the counts with the size that was laid on the ground" in said
    with pytest.raises(InputError, match=r"square:1ft in .*w1\.json and with square:50cm in "):
        collect([w1, w50])


def test_assess_says_so(tmp_path: Path) -> None:
    w50, w1 = sheet(tmp_path / "w50.json", CM50, 1), sheet(tmp_path / "w1.json", FT1, 1)
    done = CliRunner().invoke(app, ["assess", str(w50), str(w1)])
    assert done.exit_code != 0
    assert "a photo was counted with square:50cm in" in " ".join(done.output.split())


def test_a_copy_under_another_name_is_the_same_photo(tmp_path: Path) -> None:
    first = sheet(tmp_path / "a.json", CM50, 1)
    copy = sheet(tmp_path / "b.json", FT1, 1, photo="sent/copy.jpg")
    with pytest.raises(InputError, match=r"IMG_1\.jpg \(the same photo as copy\.jpg\)"):
        collect([first, copy])


def test_in_one_file_and_without_sums_or_texts(tmp_path: Path) -> None:
    one = entry(1, area={"ft2": 2.691}, sha256="")
    both = write(tmp_path / "w.json", counts([one, {**one, "area": {"ft2": 1.0}}]))
    with pytest.raises(InputError, match=r"with 2\.691 ft² and with 1 ft², both in .*w\.json"):
        collect(both)


def test_one_size_in_two_units_refusals_and_other_photos_are_as_before(tmp_path: Path) -> None:
    ft = sheet(tmp_path / "ft.json", FT1, 1, 2)
    inches = sheet(tmp_path / "in.json", IN12, 1, 2)
    assert len(collect([ft, inches]).spots) == 2
    refused = sheet(tmp_path / "no.json", CM50, 1, status="refused", reason="blurred")
    assert len(collect([ft, refused]).spots) == 2
    assert len(collect([ft, sheet(tmp_path / "other.json", CM50, 3)]).spots) == 3


def test_of_another_model_that_is_said_as_before(tmp_path: Path) -> None:
    model = {"name": "later", "sha256": "cd" * 32}
    other = write(tmp_path / "b.json", counts([entry(1, area=FT1)], model=model))
    with pytest.raises(InputError, match="counted by another model"):
        collect([sheet(tmp_path / "a.json", CM50, 1), other])
