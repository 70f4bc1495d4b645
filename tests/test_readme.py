"""The examples in the README and in the guide run as they stand, in order."""

from __future__ import annotations

import re
import shlex
import sys
from pathlib import Path

import pytest

from tillercount.cli import main

ROOT = Path(__file__).parents[1]


def examples() -> list[list[str]]:
    """Words of every ``tillercount`` command in the shell blocks of both."""
    text = "".join((ROOT / name).read_text("utf-8") for name in ("README.md", "docs/guide.md"))
    blocks = re.findall(r"```bash\n(.*?)```", text, re.DOTALL)
    lines = "\n".join(blocks).replace("\\\n", " ").splitlines()
    return [shlex.split(line, comments=True) for line in lines if line.startswith("tillercount ")]


def test_there_are_examples() -> None:
    named = {words[1] for words in examples()}
    assert {"plan", "count", "assess", "rules", "nitrogen", "report", "season"} <= named


@pytest.mark.slow
def test_the_examples_run_as_they_stand(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "sample_images").symlink_to(ROOT / "sample_images")
    monkeypatch.chdir(tmp_path)
    for words in examples():
        monkeypatch.setattr(sys, "argv", words)
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        # 1: some of the sample photos are there to be refused
        wanted = (0, 1) if words[1] in ("count", "season") else (0,)
        assert ended.value.code in wanted, (words, said.out[-1500:], said.err[-1500:])
    made = {path.name for path in tmp_path.iterdir()}
    assert {"creek.json", "creek.html", "creek_plan.pdf", "pole.pdf", "2027.sqlite"} <= made
