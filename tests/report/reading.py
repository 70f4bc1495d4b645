"""A page as somebody reads it."""

from __future__ import annotations

import html
import re


def text_of(page: str) -> str:
    """Its words without marks and style; values run on in their sentence."""
    whole = re.sub(r"<style.*?</style>", "", page, flags=re.S)
    bare = re.sub(r"<[^>]*>", " ", re.sub(r"</?t?span[^>]*>", "", whole))
    return " ".join(html.unescape(bare).split())
