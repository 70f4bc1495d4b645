"""The examples in the README and in the guide run as they stand, in order; options named exist."""

from __future__ import annotations

import re
import shlex
import sys
from pathlib import Path

import pytest

from tillercount.cli import main

ROOT = Path(__file__).parents[1]


OPTION = r"(?<![\w-])--[a-z][a-z-]*"


def both() -> str:
    return "".join((ROOT / name).read_text("utf-8") for name in ("README.md", "docs/guide.md"))


def options() -> set[str]:
    """Of every command, and of the commands below it."""
    from typer.main import get_command

    from tillercount.cli.app import app

    found, left = {"--help"}, [get_command(app)]
    while left:
        one = left.pop()
        for parameter in one.params:
            found.update((*parameter.opts, *parameter.secondary_opts))
        left.extend(getattr(one, "commands", {}).values())
    return found


def examples() -> list[list[str]]:
    """Words of every ``tillercount`` command in the shell blocks of both."""
    text = both()
    blocks = re.findall(r"```bash\n(.*?)```", text, re.DOTALL)
    lines = "\n".join(blocks).replace("\\\n", " ").splitlines()
    return [shlex.split(line, comments=True) for line in lines if line.startswith("tillercount ")]


def test_there_are_examples() -> None:
    named = {words[1] for words in examples()}
    assert {"plan", "count", "assess", "rules", "nitrogen", "report", "season"} <= named


def test_every_option_named_exists() -> None:
    """In the text and its tables; the options of a script are looked for in the script."""
    text = re.sub(r"```.*?```", "", both(), flags=re.DOTALL)
    spans = re.findall(r"`([^`]+)`", text)
    known, seen = options(), set()
    for span in spans:
        named = set(re.findall(OPTION, span))
        script = re.match(r"(?:python )?(scripts/\S+)", span)
        if script:
            source = (ROOT / script[1]).read_text("utf-8")
            assert all(f'"{option}"' in source for option in named), span
        else:
            assert named <= known, (span, named - known)
            seen |= named
    assert {"--gap", "--classmap", "--corners", "--weed", "--tissue", "--keep-off"} <= seen
    assert "--no-such-option" not in known


def test_nothing_stands_in_both() -> None:
    """A table or an example of the one is linked to from the other."""
    read_me, guide = ((ROOT / name).read_text("utf-8") for name in ("README.md", "docs/guide.md"))
    lines = [
        {
            " ".join(line.split())
            for line in text.replace("\\\n", " ").splitlines()
            if line.startswith(("| ", "tillercount "))
        }
        for text in (read_me, guide)
    ]
    assert lines[0] & lines[1] == set()
    assert "docs/guide.md#count" in read_me
    assert "README.md#your-first-spots" in guide


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
