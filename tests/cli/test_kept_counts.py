"""Counts kept by a run that was interrupted, and two runs on one file: no count is lost."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import ROOT, StandIn, write_photo
from tillercount.cli.files import write_bytes
from tillercount.cli.held import held
from tillercount.cli.partial import PartialCounts, forget_partial
from tillercount.errors import InputError

Run = Callable[..., Any]
RIGHT, WRONG = ("--area", "square:12in"), ("--area", "square:12cm")


def names(path: Path) -> list[str]:
    """Photos of which there are counts in a counts file or in what is kept for one."""
    text = path.read_text("utf-8")
    if path.suffix == ".json":
        return [Path(spot["photo"]).name for spot in json.loads(text)["spots"]]
    return [Path(json.loads(line)["photo"]).name for line in text.splitlines()[1:]]


@pytest.fixture
def six(photos: Path) -> Path:
    for number in (4, 5):
        write_photo(photos / f"spot{number}.png", 20 + number)
    return photos


def interrupted(run: Run, fake: StandIn, after: int, *command: object) -> Any:
    fake.seen, fake.stop_at = [], after
    result = run(*command)
    assert result.exit_code == 130
    fake.seen, fake.stop_at = [], None
    return result


def test_the_wrong_area_in_between_costs_no_count(
    run: Run, stand_in: StandIn, six: Path, tmp_path: Path
) -> None:
    out = tmp_path / "c.json"
    right, wrong = ("count", six, *RIGHT, "--json", out), ("count", six, *WRONG, "--json", out)
    interrupted(run, stand_in, 4, *right)
    said = interrupted(run, stand_in, 1, *wrong).stderr
    aside = tmp_path / "c.json.partial.old1"
    assert "held 4 counts of an interrupted run with --area square:304.8mm" in " ".join(
        said.split()
    )
    assert str(aside) in said
    assert len(names(aside)) == 4
    assert names(tmp_path / "c.json.partial") == ["spot0.png"]

    result = run(*right)
    assert result.exit_code == 0, result.output
    assert "4 of 6 counts taken over" in result.stderr
    assert stand_in.seen == ["spot4.png", "spot5.png"]
    assert len(names(out)) == 6
    # the one with the wrong area waits as well, and its run finds it
    assert names(tmp_path / "c.json.partial.old2") == ["spot0.png"]
    stand_in.seen = []
    assert "1 of 6 counts taken over" in run(*wrong).stderr
    assert len(stand_in.seen) == 5
    assert sorted(path.name for path in tmp_path.iterdir()) == ["c.json", "north field"]


def test_a_finished_wrong_run_costs_no_count_either(
    run: Run, stand_in: StandIn, six: Path, tmp_path: Path
) -> None:
    out = tmp_path / "c.json"
    interrupted(run, stand_in, 4, "count", six, *RIGHT, "--json", out)
    assert run("count", six, *WRONG, "--json", out).exit_code == 0
    stand_in.seen = []
    assert run("count", six, *RIGHT, "--json", out).exit_code == 0
    assert stand_in.seen == ["spot4.png", "spot5.png"]
    areas = {spot["area"]["typed"] for spot in json.loads(out.read_text("utf-8"))["spots"]}
    assert areas == {"square:12in"}


@pytest.mark.parametrize("text", ["a letter\n", '{"photo": 1}\n', '{"schema": "x"}\n{}\n', "\0\0"])
def test_somebody_elses_partial_file_is_moved_not_lost(
    run: Run, stand_in: StandIn, photos: Path, tmp_path: Path, text: str
) -> None:
    partial = tmp_path / "c.json.partial"
    partial.write_text(text, encoding="utf-8")
    result = run("count", photos, *RIGHT, "--json", tmp_path / "c.json")
    assert result.exit_code == 0
    assert "something else" in result.stderr
    assert (tmp_path / "c.json.partial.old1").read_text("utf-8") == text
    # and closing work takes nothing away that it doesn't know
    partial.write_text(text, encoding="utf-8")
    forget_partial(tmp_path / "c.json", [])
    assert partial.read_text("utf-8") == text


def test_a_damaged_line_in_the_middle_costs_that_count_only(tmp_path: Path) -> None:
    path = tmp_path / "c.json.partial"
    kept = PartialCounts(path, {"area": "a"})
    for number in range(4):
        kept.add(Path(f"{number}.jpg"), f"{number}" * 64, {"n": number})
    kept.close()
    lines = path.read_bytes().split(b"\n")
    lines[2] = b"\0" * len(lines[2])
    path.write_bytes(b"\n".join(lines))
    again = PartialCounts(path, {"area": "a"})
    assert len(again) == 3
    again.add(Path("1.jpg"), "1" * 64, {"n": 1})
    again.close()
    assert len(PartialCounts(path, {"area": "a"})) == 4


def test_every_count_is_on_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was synchronised is what the file holds: a power cut takes nothing."""
    path, safe = tmp_path / "c.json.partial", []
    real = os.fsync

    def fsync(handle: int) -> None:
        real(handle)
        safe.append(path.read_bytes())

    monkeypatch.setattr(os, "fsync", fsync)
    kept = PartialCounts(path, {"area": "a"})
    for number in range(3):
        kept.add(Path(f"{number}.jpg"), f"{number}" * 64, {"n": number})
        assert f'"{number}.jpg"'.encode() in safe[-1]
    kept.close()


@pytest.mark.parametrize(
    "command",
    [
        ("assess", "north field", *RIGHT),
        ("report", "north field", *RIGHT),
        ("nitrogen", "north field", *RIGHT),
        ("rules", "compare", "north field", *RIGHT),
    ],
)
def test_every_command_that_counts_goes_on_where_it_stopped(
    run: Run, stand_in: StandIn, six: Path, monkeypatch: pytest.MonkeyPatch,
    command: tuple[object, ...],
) -> None:  # fmt: skip
    monkeypatch.chdir(six.parent)
    interrupted(run, stand_in, 4, *command, "--json", "r.json")
    result = run(*command, "--json", "r.json")
    assert result.exit_code == 0, result.output
    # the report looks at its best and thinnest spot once more, to draw them
    again = stand_in.seen[2:] if command[0] == "report" else []
    assert stand_in.seen == ["spot4.png", "spot5.png", *again]
    assert sorted(path.name for path in Path().iterdir()) == ["north field", "r.json"]


def test_counts_stay_until_the_result_is_written(
    run: Run, stand_in: StandIn, six: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import tillercount.stand.topdress

    def broken(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError

    out = tmp_path / "n.json"
    with monkeypatch.context() as patch:
        patch.setattr(tillercount.stand.topdress, "topdress", broken)
        assert run("nitrogen", six, *RIGHT, "--json", out).exit_code == 3
    stand_in.seen = []
    assert run("nitrogen", six, *RIGHT, "--json", out).exit_code == 0
    assert stand_in.seen == []


@pytest.mark.parametrize("option", ["--json", "--csv"])
def test_a_file_changed_meanwhile_is_left_and_the_counts_kept(
    run: Run, stand_in: StandIn, six: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    option: str,
) -> None:  # fmt: skip
    import tillercount.count

    out = tmp_path / f"c.{option[2:]}"
    other = tmp_path / "other" / out.name
    other.parent.mkdir()
    assert run("count", six / "spot5.png", *RIGHT, option, other).exit_code == 0

    def meddling(path: Path, *rest: Any, **more: Any) -> Any:
        if path.name == "spot2.png" and not out.exists():
            out.write_bytes(other.read_bytes())  # as a copy from a phone would
        return stand_in.count(path, *rest, **more)

    monkeypatch.setattr(tillercount.count, "count_photo_full", meddling)
    command = ("count", *sorted(six.iterdir())[:5], *RIGHT, option, out)
    result = run(*command)
    assert result.exit_code == 2
    assert "changed by something else" in result.stderr
    assert out.read_bytes() == other.read_bytes()
    stand_in.seen = []
    result = run(*command)
    assert result.exit_code == 0, result.output
    assert stand_in.seen == []  # all five were kept
    for number in range(6):
        assert f"spot{number}.png" in out.read_text("utf-8")


def test_one_run_at_a_time(run: Run, stand_in: StandIn, photos: Path, tmp_path: Path) -> None:
    out, link = tmp_path / "c.json", tmp_path / "link.json"
    link.symlink_to(out)
    with held(out, None):
        for name in (out, link):
            result = run("count", photos, *RIGHT, "--json", name)
            assert result.exit_code == 2
            assert "another run is writing to" in result.stderr
        assert stand_in.seen == []
        assert run("count", photos, *RIGHT, "--json", tmp_path / "d.json").exit_code == 0
    assert run("count", photos, *RIGHT, "--json", out).exit_code == 0
    assert not list(tmp_path.glob(".*"))


def test_a_crash_leaves_no_hindrance(tmp_path: Path) -> None:
    """The lock goes with the process, though its file stays."""
    code = f"""
        import os
        from pathlib import Path
        from tillercount.cli.held import held
        with held(Path({str(tmp_path / "c.json")!r})):
            os._exit(9)
    """
    env = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, "-c", textwrap.dedent(code)], env=env, check=False)
    assert done.returncode == 9
    assert (tmp_path / ".c.json.lock").exists()
    again = held(tmp_path / "c.json")
    with held(tmp_path / "c.json"), pytest.raises(InputError, match="another run"), again:
        pass
    assert not list(tmp_path.iterdir())


def test_a_failed_write_leaves_the_file_and_no_rest(tmp_path: Path) -> None:
    path = tmp_path / "c.json"
    path.write_bytes(b"before")
    path.chmod(0o444)
    with pytest.raises(InputError, match="write-protected"):
        write_bytes(path, b"after")
    assert path.read_bytes() == b"before"
    assert [one.name for one in tmp_path.iterdir()] == ["c.json"]
