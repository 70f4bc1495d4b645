"""The wheel carries all that the program reads: weights, rules, page template."""

from __future__ import annotations

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """Names inside a wheel that is built from a copy, without the network."""
    pytest.importorskip("setuptools", minversion="77")
    copy = tmp_path_factory.mktemp("source")
    for name in ("pyproject.toml", "setup.py", "LICENSE", "README.md"):
        if not (ROOT / name).exists():
            pytest.skip(f"{name} isn't there")
        shutil.copy(ROOT / name, copy)
    skip = shutil.ignore_patterns("__pycache__")
    for name in ("tillercount", "models"):
        shutil.copytree(ROOT / name, copy / name, ignore=skip)
    done = subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--no-deps", "--no-build-isolation", "--no-index",
         "--quiet", "--wheel-dir", str(copy / "out"), str(copy)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    (path,) = (copy / "out").glob("*.whl")
    with zipfile.ZipFile(path) as archive:
        return set(archive.namelist())


@pytest.mark.slow
def test_every_module_and_data_file_is_in_the_wheel(wheel: set[str]) -> None:
    for folder, inside in (("tillercount", "tillercount"), ("models", "tillercount/_models")):
        for path in (ROOT / folder).rglob("*"):
            if path.is_file() and path.suffix in {
                ".py", ".toml", ".j2", ".css", ".html", ".typed", ".safetensors", ".json", ".md",
            }:  # fmt: skip
                name = path.relative_to(ROOT / folder).as_posix()
                assert f"{inside}/{name}" in wheel
    assert "tillercount/py.typed" in wheel
    assert any(name.endswith("licenses/LICENSE") for name in wheel)


@pytest.mark.slow
def test_tests_stay_outside_the_wheel(wheel: set[str]) -> None:
    tops = {name.split("/")[0] for name in wheel}
    assert all(top == "tillercount" or top.endswith(".dist-info") for top in tops)
