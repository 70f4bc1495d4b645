"""``tillercount doctor``: finds what is wrong, says what to do, never falls over."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from tillercount import doctor
from tillercount.doctor import Finding, conclusion, examine


def by_name(findings: list[Finding]) -> dict[str, Finding]:
    return {finding.what: finding for finding in findings}


def test_everything_is_looked_at(tmp_path: Path) -> None:
    found = by_name(examine(tmp_path))
    for what in ("tillercount", "Python", "libraries", "OpenCV", "torch", "accelerator", "model",
                 "rules", "extra heic", "extra scenes", "this folder"):  # fmt: skip
        assert found[what].text
        assert "\n" not in found[what].text
    assert found["libraries"].level == "ok"
    assert found["rules"].level == "ok"


def test_folder_that_cannot_be_written(tmp_path: Path) -> None:
    assert by_name(examine(tmp_path / "missing"))["this folder"].level == "bad"


def test_two_opencv_builds(monkeypatch: pytest.MonkeyPatch) -> None:
    real = doctor._version
    monkeypatch.setattr(
        doctor, "_version", lambda name: "5.0" if name.startswith("opencv") else real(name)
    )
    found = by_name(examine())["OpenCV"]
    assert found.level == "bad"
    assert "pip uninstall" in found.text


def test_missing_or_broken_model(monkeypatch: pytest.MonkeyPatch) -> None:
    import tillercount.model
    from tillercount.errors import InputError

    class Broken:
        @staticmethod
        def load() -> None:
            raise InputError("model counter: weights were changed; install tillercount again")

    monkeypatch.setattr(tillercount.model, "Counter", Broken)
    found = by_name(examine())["model"]
    assert found.level == "bad"
    assert "install tillercount again" in found.text


def test_a_library_that_fails_on_import_is_a_finding(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken() -> list[Finding]:
        raise OSError("libGL.so.1: cannot open shared object file")

    monkeypatch.setattr(doctor, "_opencv", broken)
    assert any(f.level == "bad" and "libGL.so.1" in f.text for f in examine())


def test_conclusion() -> None:
    fine, bad = Finding("a", "note", "x"), Finding("model", "bad", "y")
    assert conclusion([fine]).startswith("All is well")
    assert conclusion([fine, bad]).startswith("One thing")
    assert "2 things" in conclusion([bad, bad])


def test_extras_are_those_of_the_package() -> None:
    """Each extra of pyproject.toml, but the one for tests, with all its packages."""
    text = (Path(__file__).parents[1] / "pyproject.toml").read_text("utf-8")
    wanted = tomllib.loads(text)["project"]["optional-dependencies"]
    del wanted["test"]
    packages = {
        extra: {re.split(r"[\[<>=]", one)[0] for one in needs} for extra, needs in wanted.items()
    }
    assert {extra: set(there) for extra, (there, _) in doctor.EXTRAS.items()} == packages


def test_a_missing_extra_says_how_to_add_it(monkeypatch: pytest.MonkeyPatch) -> None:
    real = doctor._version
    monkeypatch.setattr(doctor, "_version", lambda name: None if name == "pyogrio" else real(name))
    found = by_name(examine())
    assert found["extra tables"].level == "note"
    assert "pip install 'tillercount[tables]'" in found["extra tables"].text
    assert conclusion([found["extra tables"]]).startswith("All is well")
