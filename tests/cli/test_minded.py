"""What to mind on the short screen: a few lines by their consequence, all of it elsewhere."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.cli.helpers import flat
from tests.store.helpers import counts, entry, write

Run = Callable[..., Any]


def test_five_lines_by_consequence_and_nothing_lost(run: Run, tmp_path: Path) -> None:
    photos = [entry(n, spot=str(n), flags=["tilt"]) for n in range(1, 9)]
    given = write(tmp_path / "c.json", counts(photos))
    hand = tmp_path / "h.csv"
    rows = "".join(f"{n},{21 + n},{55 + n},1 ft2\n" for n in range(1, 5))
    hand.write_text(f"spot,plants,shoots,area\n{rows}", encoding="utf-8")
    page, out = tmp_path / "p.html", tmp_path / "a.json"
    done = run("assess", given, hand, "--html", page, "--json", out)
    assert done.exit_code == 0, done.output
    mind = done.output.split("\nMind\n")[1].split("\nWith --explain")[0]
    lines = [flat(one) for one in re.split(r"^  - ", mind, flags=re.M) if one.strip()]
    assert len(lines) == 5
    assert lines[0].startswith("no --rules given")  # before how it was worked out
    assert lines[1].startswith("no growth stage was given")
    assert any(line.startswith("This is not an insurance appraisal") for line in lines)
    assert any(line.startswith("Before anything is bought") for line in lines)
    more = re.search(r"With --explain: (\d+) more to mind, ", done.output)
    assert more is not None
    record = json.loads(out.read_text("utf-8"))
    flags = [one for one in record["flags"] if one not in record["verdict"]["warnings"]]
    hidden = [one for one in flags if not any(flat(one) == line for line in lines)]
    assert 0 < len(hidden) <= int(more[1])
    full = re.sub(r"\s+", "", run("assess", given, hand, "--explain").output)
    text = flat(re.sub("<[^>]*>", "", page.read_text("utf-8")))
    for flag in hidden:
        assert re.sub(r"\s+", "", flag) in full
        assert flat(flag)[1:40] in text


def test_pairs_are_spoken_of_in_one_line(run: Run, tmp_path: Path) -> None:
    photos = [entry(n, spot=str(n)) for n in range(1, 9)]
    given = write(tmp_path / "c.json", counts(photos))
    hand = tmp_path / "h.csv"
    rows = "".join(f"{n},{21 + n},{55 + n},1 ft2\n" for n in range(1, 6))
    hand.write_text(f"spot,plants,shoots,area\n{rows}", encoding="utf-8")
    out = tmp_path / "a.json"
    assert run("assess", given, hand, "--json", out).exit_code == 0
    flags = json.loads(out.read_text("utf-8"))["flags"]
    (pairs,) = (flag for flag in flags if "both a photo and a hand count" in flag)
    assert "hold only if the spots" in pairs
    assert sum("hold only if" in flag for flag in flags) == 1
