"""Is the installation whole? What a person, or whoever helps them, needs to know of it."""

from __future__ import annotations

import os
import platform
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import Literal

__all__ = ["EXTRAS", "Finding", "conclusion", "examine"]

_CV2_WHEELS = (
    "opencv-python",
    "opencv-python-headless",
    "opencv-contrib-python",
    "opencv-contrib-python-headless",
)
_LIBRARIES = ("numpy", "scipy", "scikit-image", "pillow", "safetensors", "pydantic", "pint")
EXTRAS: dict[str, tuple[tuple[str, ...], str]] = {
    "heic": (("pillow-heif",), "HEIC photos, as iPhones take them"),
    "plots": (("matplotlib",), "charts: rules compare --png"),
    "scenes": (("mitsuba",), "rendering scenes to train on"),
    "server": (("psycopg",), "a season on a PostgreSQL server"),
    "tables": (("pyarrow", "pyogrio"), "season export to GeoPackage and Parquet"),
}
"""What can be added to an installation: its packages, and what they are for."""


@dataclass(frozen=True)
class Finding:
    """One thing looked at: "ok", a "note" that needs nothing done, or "bad" with the remedy."""

    what: str
    level: Literal["ok", "note", "bad"]
    text: str


def examine(folder: Path | None = None) -> list[Finding]:
    """Look at everything; nothing here raises.

    Parameters
    ----------
    folder : Path, optional
        Where results would be written; the current folder if left out.
    """
    looks: list[Callable[[], list[Finding]]] = [
        _program,
        _python,
        _libraries,
        _opencv,
        _torch,
        _model,
        _rules,
        _extras,
        lambda: _writing(folder or Path.cwd()),
    ]
    findings = []
    for look in looks:
        try:
            findings += look()
        except Exception as error:  # a broken installation can raise anything on import
            name = getattr(look, "__name__", "").strip("_<>")
            text = f"{type(error).__name__}: {error}; install tillercount again"
            findings.append(Finding(name, "bad", " ".join(text.split())))
    return findings


def conclusion(findings: Sequence[Finding]) -> str:
    """One plain sentence."""
    bad = [finding for finding in findings if finding.level == "bad"]
    if not bad:
        return "All is well: photos can be counted on this machine."
    names = ", ".join(finding.what for finding in bad)
    if len(bad) == 1:
        return f"One thing has to be mended before photos can be relied on: {names}."
    return f"{len(bad)} things have to be mended before photos can be relied on: {names}."


def _version(package: str) -> str | None:
    try:
        return metadata.version(package)
    except metadata.PackageNotFoundError:
        return None


def _program() -> list[Finding]:
    version = _version("tillercount") or "not installed, run from its folder"
    return [Finding("tillercount", "ok", f"{version}, in {Path(__file__).resolve().parent}")]


def _python() -> list[Finding]:
    text = f"{platform.python_version()} on {platform.platform()}, {os.cpu_count()} processors"
    return [Finding("Python", "ok", text)]


def _libraries() -> list[Finding]:
    versions = {name: _version(name) for name in _LIBRARIES}
    missing = [name for name, version in versions.items() if version is None]
    if missing:
        text = f"missing: {', '.join(missing)}; install tillercount again"
        return [Finding("libraries", "bad", text)]
    return [Finding("libraries", "ok", ", ".join(f"{n} {v}" for n, v in versions.items()))]


def _opencv() -> list[Finding]:
    wheels = [name for name in _CV2_WHEELS if _version(name) is not None]
    import cv2

    build = cv2.getBuildInformation()
    parts = [
        line.split(":", 1)[1].strip()
        for line in build.splitlines()
        if line.strip().startswith(("Parallel framework:", "Dispatched code generation:"))
    ]
    threads = cv2.getNumThreads()
    text = f"{cv2.__version__} ({'; '.join(filter(None, parts))}), {threads} threads"
    if len(wheels) > 1:
        # They share one folder, so the last one installed wins file by file.
        remedy = f"pip uninstall {' '.join(wheels)}, then pip install opencv-python"
        text += f"; several builds lie over one another: {remedy}"
        return [Finding("OpenCV", "bad", text)]
    return [Finding("OpenCV", "ok", f"{text}, from {wheels[0] if wheels else 'another source'}")]


def _torch() -> list[Finding]:
    import torch

    kind = f"CUDA {torch.version.cuda}" if torch.version.cuda else "CPU build"
    text = f"{torch.__version__} ({kind}), {torch.get_num_threads()} threads"
    findings = [Finding("torch", "ok", text)]
    if torch.cuda.is_available():
        findings.append(Finding("accelerator", "ok", torch.cuda.get_device_name(0)))
    elif torch.backends.mps.is_available():
        findings.append(Finding("accelerator", "note", "Apple GPU seen; counting uses the CPU"))
    else:
        findings.append(Finding("accelerator", "note", "none; not needed for counting"))
    return findings


def _model() -> list[Finding]:
    from tillercount.errors import InputError
    from tillercount.model import Counter

    try:
        info = Counter.load().info
    except InputError as error:
        return [Finding("model", "bad", str(error))]
    return [Finding("model", "ok", f"{info.name} {info.version}, sha256 {info.sha256}, loads")]


def _rules() -> list[Finding]:
    from tillercount.stand import list_rules

    names = [rules.name for rules in list_rules()]
    if not names:
        return [Finding("rules", "bad", "no rule sets found; install tillercount again")]
    return [Finding("rules", "ok", ", ".join(names))]


def _extras() -> list[Finding]:
    findings = []
    for extra, (packages, use) in EXTRAS.items():
        versions = {package: _version(package) for package in packages}
        missing = [package for package, version in versions.items() if version is None]
        if missing:
            text = f"{use}: not there; add it with  pip install 'tillercount[{extra}]'"
        else:
            there = ", ".join(f"{package} {version}" for package, version in versions.items())
            text = f"{use}: {there}"
        findings.append(Finding(f"extra {extra}", "note" if missing else "ok", text))
    return findings


def _writing(folder: Path) -> list[Finding]:
    try:
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        text = f"can't write to {folder} ({error.strerror}); change to a folder of your own"
        return [Finding("this folder", "bad", text)]
    return [Finding("this folder", "ok", f"results can be written to {folder}")]
