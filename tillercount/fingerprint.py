"""Fingerprints of files: a photo is known by its bytes, whatever its name and place."""

from __future__ import annotations

import hashlib
from pathlib import Path

__all__ = ["file_sha256"]


def file_sha256(path: Path) -> str:
    """SHA-256 of a file's bytes, "" if it can't be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""
