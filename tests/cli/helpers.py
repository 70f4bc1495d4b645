"""A stand-in for the network, and running a command as its own process."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tillercount.area import Area
from tillercount.count import Counted, Flag, Interval, SpotCount
from tillercount.photo import PhotoError, read_photo

ROOT = Path(__file__).parents[2]
POLE = ROOT / "sample_images" / "spring_visit" / "pole_field.csv"
"""Asks for 22-36 lb N/ac early, of 88-120 lb N/ac in all for 80 bu/ac."""
GOAL = ("--stage", "Feekes 3", "--yield-goal", "80 bu/ac")


def flat(text: str) -> str:
    """A screen's text without its line ends."""
    return " ".join(text.split())


@dataclass
class StandIn:
    """Counts brightness instead of plants; remembers which photos it was shown."""

    seen: list[str] = field(default_factory=list)
    stop_at: int | None = None
    break_at: str = ""
    sha256: str = "a" * 64

    @classmethod
    def in_place(cls, monkeypatch: pytest.MonkeyPatch) -> StandIn:
        """Every command counts by this one instead of loading weights."""
        import tillercount.count
        import tillercount.model

        fake = cls()

        def load(name: Any = None) -> Any:
            return SimpleNamespace(info={"name": "stand-in", "sha256": fake.sha256})

        monkeypatch.setattr(tillercount.count, "count_photo_full", fake.count)
        monkeypatch.setattr(tillercount.model, "Counter", SimpleNamespace(load=load))
        return fake

    def count(
        self, path: Path, area: Area, *, corners: Any = None, model: Any = None
    ) -> Counted:
        if self.stop_at is not None and len(self.seen) >= self.stop_at:
            raise KeyboardInterrupt
        if path.name == self.break_at:
            raise ZeroDivisionError("division by zero")
        self.seen.append(path.name)
        try:
            photo = read_photo(path)
        except PhotoError as error:
            return Counted(SpotCount(path, "refused", area, reason=str(error)))
        plants = float(photo.rgb[0, 0, 0])
        height, width = photo.rgb.shape[:2]
        outline = np.array([[10, 10], [10, 90], [110, 90], [110, 10]], float)
        spot = SpotCount(
            path,
            "counted",
            area,
            0.09290304,
            outline_px=outline,
            plants=Interval(plants, plants * 0.8, plants * 1.2),
            shoots=Interval(plants * 3, plants * 2.5, plants * 3.5),
            cover={"crop": 0.2, "other_plants": 0.0, "residue": 0.1, "soil": 0.7},
            flags=(Flag("tilt", "the camera was tilted 17°"),) if plants > 30 else (),
            sha256=photo.sha256,
        )
        fit = SimpleNamespace(kind="square", outline_px=outline, mm_per_px=1.0)
        top = SimpleNamespace(inside=np.ones((height, width), np.float32), to_photo=np.eye(3))
        points = np.array([[30.0, 40.0, 0.9]])
        maps = SimpleNamespace(plant_points=points, shoot_points=points)
        return Counted(spot, photo, fit, top, maps)  # type: ignore[arg-type]


def write_photo(path: Path, plants: int) -> None:
    rgb = np.zeros((100, 120, 3), np.uint8)
    rgb[:] = (plants, 90, 60)
    Image.fromarray(rgb).save(path)


def write_counts(path: Path, plants: Sequence[float]) -> Path:
    """Hand counts in a square foot with these plants, and three shoots to each."""
    rows = "".join(f"{n},ann,{p},{3 * p},square:12in\n" for n, p in enumerate(plants))
    path.write_text("spot,observer,plants,shoots,area\n" + rows, encoding="utf-8")
    return path


def tillercount(*args: object, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run a command as its own process, as a user does."""
    return subprocess.run(
        [sys.executable, "-m", "tillercount", *map(str, args)],
        capture_output=True,
        text=True,
        cwd=cwd,
        check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
