"""Flags explained: all that there are, each once, only where they occur."""

from __future__ import annotations

from tillercount.cli.flagwords import FLAG_WORDS, explained
from tillercount.quality import LIMITS


def test_every_check_has_words() -> None:
    assert set(LIMITS) <= set(FLAG_WORDS)
    assert "unusual" in FLAG_WORDS


def test_only_those_that_occur() -> None:
    records = [
        {"status": "counted", "flags": ["17° (limit 15°)"], "flag_codes": ["tilt"]},
        {"status": "counted", "flags": ["18° (limit 15°)", "odd"], "flag_codes": ["tilt", "new"]},
        {"status": "refused", "flags": ["dark"], "flag_codes": ["darkness"]},
        {"status": "counted", "flags": ["from an old file"]},
    ]
    assert explained(records) == {
        "tilt": FLAG_WORDS["tilt"], "new": "odd", "from an old file": "",
    }  # fmt: skip
