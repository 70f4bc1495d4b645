"""A small network with random weights, and a picture for it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.model.small import FakeView, make_bundle


@pytest.fixture
def view() -> FakeView:
    rng = np.random.default_rng(3)
    rgb = rng.integers(0, 255, (150, 210, 3), dtype=np.uint8)
    return FakeView(rgb, np.ones(rgb.shape[:2], dtype=bool))


@pytest.fixture
def bundle_path(tmp_path: Path) -> Path:
    return make_bundle(tmp_path / "small.safetensors")
