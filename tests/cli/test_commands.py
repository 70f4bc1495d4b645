"""The commands as a user runs them: help at once, one-line errors, exit codes."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import StandIn, tillercount

HAND = """spot,observer,plants,shoots,area
1,ann,24,70,square:12in
2,ann,26,81,square:12in
3,bob,22,69,square:12in
4,bob,28,85,square:12in
"""
Run = Callable[..., Any]


@pytest.fixture
def hand_counts(tmp_path: Path) -> Path:
    path = tmp_path / "hand.csv"
    path.write_text(HAND, encoding="utf-8")
    return path


def test_help_loads_nothing_heavy() -> None:
    """``--help`` is instant because none of these is imported."""
    code = (
        "import sys\n"
        "sys.argv = ['tillercount', '--help']\n"
        "from tillercount.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "heavy = {'torch', 'numpy', 'cv2', 'scipy', 'PIL', 'pint', 'pydantic', 'skimage', 'rich'}\n"
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or 0)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[2],
    )
    assert done.returncode == 0, done.stderr
    for command in ("count", "assess", "rules", "doctor"):
        assert command in done.stdout


def test_help_time() -> None:
    """0.3 s is the aim; the bound leaves room for a busy machine."""
    taken = []
    for _ in range(3):
        start = time.perf_counter()
        assert tillercount("--help").returncode == 0
        taken.append(time.perf_counter() - start)
    assert min(taken) < 0.6


def test_options_of_count_and_assess() -> None:
    text = tillercount("count", "--help").stdout
    for option in ("--area", "--corners", "--model", "--json", "--csv", "--overlay", "--classmap"):
        assert option in text
    text = tillercount("assess", "--help").stdout
    for option in ("--area", "--rules", "--yield-goal", "--crop", "--stage", "--json", "--html"):
        assert option in text


def test_rules(run: Run, tmp_path: Path) -> None:
    for arguments in (("rules",), ("rules", "list")):
        result = run(*arguments)
        assert result.exit_code == 0
        assert "common-practice" in result.stdout
    shown = run("rules", "show", "common-practice")
    assert shown.exit_code == 0
    assert "mid-Atlantic" in shown.stdout
    unknown = run("rules", "show", "nosuch")
    assert unknown.exit_code == 2
    assert "common-practice" in unknown.stderr
    own = tmp_path / "own.toml"
    own.write_text("name = 'x'\nnonsense = 1\n", encoding="utf-8")
    bad = run("rules", "check", own)
    assert bad.exit_code == 2
    assert len(bad.stderr.strip().splitlines()) == 1
    assert "own.toml" in bad.stderr


def test_the_list_says_which_rules_photos_can_be_held_against(run: Run) -> None:
    lines = run("rules", "list").stdout.splitlines()

    def by(name: str) -> str:
        return next(line for line in lines if line.lstrip().startswith(f"{name} ")).split()[-1]

    assert (by("common-practice"), by("pennsylvania-stand")) == ("photo", "photo")
    assert (by("virginia-nitrogen"), by("kansas-nitrogen")) == ("hand", "–")
    assert "where photos can't be used" in " ".join(lines)


def test_the_list_of_rules_on_a_narrow_terminal(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 80 columns the table's would be six letters wide: each set has lines of its own."""
    monkeypatch.setattr("tillercount.cli.show._PIPE_WIDTH", 80)
    lines = run("rules", "list").stdout.splitlines()
    at = lines.index("common-practice")
    assert lines[at + 1].strip().startswith("Common practice of the trade, no published source; US")
    assert any(line.strip() == "Virginia Tech; Virginia; wheat; shoots (counts by hand)"
               for line in lines)  # fmt: skip


def test_assess_hand_counts(run: Run, hand_counts: Path, tmp_path: Path) -> None:
    out, page = tmp_path / "a.json", tmp_path / "a.html"
    result = run(
        "assess", hand_counts, "--rules", "common-practice", "--yield-goal", "80 bu/ac",
        "--stage", "Feekes 3", "--json", out, "--html", page,
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    record = json.loads(out.read_text("utf-8"))
    assert record["schema"] == "tillercount.assessment/1"
    assert record["field"]["plants_per_ft2"]["mean"] == pytest.approx(25.0)
    assert record["field"]["spots"] == 4
    assert record["rules"] == "common-practice"
    assert sum(record["verdict"]["probabilities"].values()) == pytest.approx(1.0)
    assert "25 per ft²" in result.stdout
    assert record["verdict"]["headline"].split()[0] in result.stdout
    assert page.read_text("utf-8").lstrip().lower().startswith("<!doctype html")


def test_assess_mixes_photos_counts_and_hand_counts(
    run: Run, stand_in: StandIn, photos: Path, hand_counts: Path, tmp_path: Path
) -> None:
    counts = tmp_path / "c.json"
    few = sorted(photos.iterdir())[:2]
    assert run("count", *few, "--area", "square:12in", "--json", counts).exit_code == 0
    rest = sorted(photos.iterdir())[2:]
    out, page = tmp_path / "a.json", tmp_path / "a.html"
    result = run(
        "assess", *rest, counts, hand_counts, "--area", "square:12in", "--json", out, "--html", page
    )
    assert result.exit_code == 0, result.output
    values = json.loads(out.read_text("utf-8"))["field"]["spot_values"]
    assert [value["source"] for value in values].count("photo") == 4
    assert [value["source"] for value in values].count("hand") == 4
    assert "data:image/" in page.read_text("utf-8")
    assert not list(tmp_path.glob("*.partial"))


def test_assess_a_folder_with_a_refused_photo_exits_1(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path
) -> None:
    (photos / "cut.jpg").write_bytes(b"x")
    out = tmp_path / "a.json"
    result = run("assess", photos, "--area", "square:12in", "--json", out)
    assert result.exit_code == 1, result.output
    assert json.loads(out.read_text("utf-8"))["field"]["spots"] == 4


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("5,ann,xx,80,square:12in", ["row 6", "plants", "xx"]),
        ("5,ann,-4,80,square:12in", ["row 6", "plants", "-4"]),
        ("5,ann,2,800,square:12in", ["row 6", "shoots"]),
        ("5,ann,24,80,blob:12in", ["row 6", "area"]),
    ],
)
def test_bad_hand_counts_name_file_row_and_field(
    run: Run, hand_counts: Path, tmp_path: Path, row: str, words: list[str]
) -> None:
    hand_counts.write_text(HAND + row + "\n", encoding="utf-8")
    out = tmp_path / "a.json"
    result = run("assess", hand_counts, "--json", out)
    assert result.exit_code == 2
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1
    for word in ["hand.csv", *words]:
        assert word in lines[0]
    assert not out.exists()


def test_assess_usage_errors(
    run: Run, stand_in: StandIn, photos: Path, hand_counts: Path, tmp_path: Path
) -> None:
    for arguments, words in (
        ((photos,), "--area is needed"),
        ((hand_counts, "--rules", "nosuch"), "nosuch"),
        ((hand_counts, "--crop", "maize"), "maize"),
        ((hand_counts, "--stage", "Feekes 99"), "99"),
        ((hand_counts, "--yield-goal", "lots"), "lots"),
        ((tmp_path / "none.json",), "none.json"),
        ((tmp_path / "none.csv",), "none.csv"),
        ((hand_counts, "--html", tmp_path / "no" / "a.html"), "doesn't exist"),
    ):
        result = run("assess", *arguments)
        assert result.exit_code == 2, (arguments, result.output)
        lines = result.stderr.strip().splitlines()
        assert len(lines) == 1, lines
        assert words in lines[0]
    assert stand_in.seen == []


def test_an_error_inside_is_one_line_and_exit_3(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    import tillercount.stand

    def broken() -> None:
        raise KeyError("lost")

    monkeypatch.setattr(tillercount.stand, "list_rules", broken)
    result = run("rules", "list")
    assert result.exit_code == 3
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1
    assert "TILLERCOUNT_DEBUG=1" in lines[0]
    monkeypatch.setenv("TILLERCOUNT_DEBUG", "1")
    assert isinstance(run("rules", "list").exception, KeyError)


def test_python_m_from_another_folder(tmp_path: Path) -> None:
    done = tillercount("rules", cwd=tmp_path)
    assert done.returncode == 0
    assert "common-practice" in done.stdout
    missing = tillercount("count", "nothing.jpg", "--area", "square:12in", cwd=tmp_path)
    assert missing.returncode == 2
    assert missing.stderr.startswith("tillercount: nothing.jpg doesn't exist")


def test_public_names_are_all_there() -> None:
    import tillercount

    assert len(tillercount.__all__) <= 20
    with pytest.raises(AttributeError):
        tillercount.nosuch  # noqa: B018
    for name in ("assess", "InputError", "parse_area", "read_photo", "count_photo", "__version__"):
        assert getattr(tillercount, name)


def test_a_file_of_another_kind_is_named(run: Run, tmp_path: Path) -> None:
    notes = tmp_path / "notes.md"
    notes.write_text("walked the field", encoding="utf-8")
    result = run("assess", str(notes))
    assert result.exit_code == 2
    assert "notes.md" in result.output
    assert "neither a photo" in result.output


@pytest.mark.parametrize("command", [("assess",), ("season", "assess"), ("report",)])
def test_a_region_typed_for_an_assessment_says_where_regions_are_asked_for(
    run: Run, command: tuple[str, ...]
) -> None:
    result = run(*command, "x", "--region", "Kansas")
    assert result.exit_code == 2
    assert "`tillercount rules compare SOURCE --region R`" in result.output
    assert "--rules NAME" in result.output
    assert "--given" not in result.output


def test_undoing_points_to_taking_an_add_out(run: Run) -> None:
    result = run("season", "undo", "x")
    assert result.exit_code == 2
    assert "No such command 'undo'; `tillercount season remove SEASON --add N`" in result.output
    assert "--add" not in run("season", "ad", "x").output
    assert "--add" not in run("undo").output
