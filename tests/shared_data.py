"""Reference data that may lie in a folder ``shared`` beside the checkout."""

from __future__ import annotations

from pathlib import Path

import pytest

__all__ = ["SHARED", "shared_path"]

SHARED = Path(__file__).resolve().parents[1] / ".." / "shared"


def shared_path(*parts: str) -> Path:
    """Path below ``shared``; skips the test, saying so, where it isn't there."""
    path = SHARED.joinpath(*parts)
    if not path.exists():
        pytest.skip(f"no {'/'.join(parts) or 'shared folder'} beside this checkout")
    return path.resolve()
