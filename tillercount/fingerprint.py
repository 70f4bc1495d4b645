"""Fingerprints: a photo is known by its bytes, whatever its name and place; a record by what it
says."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

__all__ = ["digest_of", "file_sha256"]


def file_sha256(path: Path) -> str:
    """SHA-256 of a file's bytes, "" if it can't be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def digest_of(record: Any) -> str:
    """SHA-256 of a record, the same for the same content however it was written."""
    text = json.dumps(record, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()
