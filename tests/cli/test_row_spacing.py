"""What the screen says of the rows that photos show."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import counts, entry, write
from tillercount.cli.app import app
from tillercount.cli.counting import CountRun, with_row_flags
from tillercount.cli.show import show_counts, stick_doubts


def run(spacing_mm: float, photos: int = 2, **area: Any) -> CountRun:
    """Photos with such rows."""
    both = {"count": 20.0, "low": 15.0, "high": 28.0}
    record: dict[str, Any] = {
        "status": "counted", "area": {"kind": "square", "ft2": 1.0, **area}, "plants": both,
        "shoots": both, "rows": {"found": True, "spacing_mm": spacing_mm},
    }  # fmt: skip
    return CountRun(tuple({"photo": f"{n}.jpg", **record} for n in range(photos)), {})


@pytest.mark.parametrize(
    ("drill", "says"),
    [
        (None, "Rows stand 9.4 in (24 cm) apart in 2 photos. If"),
        ("7.5 in", "may be about a quarter too large"),
        ("19 cm", "Rows stand 24 cm apart in 2 photos, and the drill's are 19 cm:"),
    ],
)
def test_rows_stand_under_the_table(
    capsys: pytest.CaptureFixture[str], drill: str | None, says: str
) -> None:
    show_counts(run(238.1), row_spacing=drill)
    assert says in capsys.readouterr().out


@pytest.mark.parametrize(
    ("shown", "says"),
    [
        (run(187.0), "which agrees with the drill's 7.5 in."),
        (run(187.0, 1), "Only 1 photo shows rows (7.4 in apart), so"),
        (run(math.nan), "No photo shows rows, so the drill's 7.5 in can't be checked."),
        (run(190.5, kind="row"), "with a stick the row spacing is the one typed in --area"),
    ],
)
def test_a_typed_spacing_is_always_answered_in_one_line(
    capsys: pytest.CaptureFixture[str], shown: CountRun, says: str
) -> None:
    show_counts(shown, row_spacing="7.5 in")
    (line,) = [one for one in capsys.readouterr().out.splitlines() if "7.5 in" in one]
    assert says in line


def test_nothing_is_said_unasked_of_a_stick(capsys: pytest.CaptureFixture[str]) -> None:
    show_counts(run(190.5, kind="row"))
    assert "ows stand" not in capsys.readouterr().out


def test_rows_beside_a_stick_that_contradict_it_become_a_flag(
    capsys: pytest.CaptureFixture[str],
) -> None:
    area = {"kind": "row", "text": "row:487.68mm/152.4mm", "typed": "row:19.2in/6in"}
    shown = run(152.4, **area)
    for record in shown.records:
        record |= {"flags": [], "flag_codes": [], "stick_rows": {"spacing_mm": 190.0}}
    for record in with_row_flags(shown).records:
        assert record["flag_codes"] == ["row spacing"]
        assert "rows stand 7.5 in apart in 2 photos" in record["flags"][0]
    show_counts(with_row_flags(shown))
    said = capsys.readouterr().out
    assert "Rows stand 7.5 in apart in 2 photos, and the drill's were given as 6in" in said
    flagged = with_row_flags(shown)
    (line,) = stick_doubts(flagged)
    assert line in [one.strip() for one in said.splitlines()]
    again = with_row_flags(with_row_flags(shown))
    assert [len(record["flags"]) for record in again.records] == [1, 1]
    for record in shown.records:
        record["stick_rows"]["spacing_mm"] = 155.0
    assert with_row_flags(shown) == shown


def test_a_spacing_needs_its_unit() -> None:
    given = ["count", "x.jpg", "--area", "square:12in", "--row-spacing", "7.5"]
    result = CliRunner().invoke(app, given)
    assert result.exit_code == 2
    assert "--row-spacing '7.5' has no unit" in " ".join(result.output.split())


def test_a_contradiction_goes_into_the_counts_file() -> None:
    """So that an assessment is told of it as well, not only whoever counted."""
    from tillercount.field.photoflags import SIZE_FLAGS, flag_name

    wrong = run(238.1)
    for record in wrong.records:
        record["flags"], record["flag_codes"] = ["the camera was tilted 20 degrees"], ["tilt"]
    (first, second) = with_row_flags(wrong, "7.5 in").records
    assert first["flag_codes"] == second["flag_codes"] == ["tilt", "row spacing"]
    assert flag_name(first["flags"][-1]) == "row spacing"
    assert "row spacing" in SIZE_FLAGS
    alone = run(285.8, 1)  # half again too large
    alone.records[0]["flags"] = []
    (only,) = with_row_flags(alone, "7.5 in").records
    assert only["flag_codes"] == ["row spacing"]
    for typed, seen in ((None, 238.1), ("9.4 in", 238.1), ("7.5 in", 381.0)):
        same = with_row_flags(run(seen), typed)
        assert "flag_codes" not in same.records[0]


def test_the_drills_spacing_goes_into_the_counts_file() -> None:
    """So that nobody is asked for it where the counts are judged; a stick brings its own."""
    framed, stick = run(238.1), run(190.5, kind="row", text="row:487.68mm/190.5mm")
    for record in (*framed.records, *stick.records):
        record["flags"] = []
    both = CountRun((*framed.records, *stick.records, {"photo": "x.jpg", "status": "refused",
                     "area": {"kind": "square", "text": "square:304.8mm"}}), {})  # fmt: skip
    said = [one.get("drill_rows") for one in with_row_flags(both, "9.4 in").records]
    assert said == ["9.4 in", "9.4 in", None, None, None]
    assert not any("drill_rows" in one for one in with_row_flags(framed).records)


def test_a_missing_area_is_said_with_an_example(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"")
    done = CliRunner().invoke(app, ["count", str(tmp_path / "a.jpg")])
    assert done.exit_code == 2
    assert "such as --area square:12in" in done.output


@pytest.mark.parametrize(
    "command",
    [["assess", "F"], ["report", "F", "--html", "O"], ["nitrogen", "F"]],
    ids=["assess", "report", "nitrogen"],
)
def test_whoever_judges_can_give_the_drills_spacing(tmp_path: Path, command: list[str]) -> None:
    record = counts([entry(number) for number in (1, 2, 3)])
    for one in record["spots"]:
        one["rows"] = {"found": True, "spacing_mm": 282.0}
    file = write(tmp_path / "counts.json", record)
    names = {"F": str(file), "O": str(tmp_path / "page.html")}
    given = [names.get(one, one) for one in command]

    def said(*more: str) -> str:
        done = CliRunner().invoke(app, [*given, *more])
        assert done.exit_code == 0, done.output
        return " ".join(done.output.split())

    assert "most drills have 4 to 10 in" in said()
    assert "ows stand" not in said("--row-spacing", "11 in")
    assert "and the drill's are 7.5 in: the size in" in said("--row-spacing", "7.5 in")
