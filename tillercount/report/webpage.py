"""The report as one HTML file: no script, no network, nothing beside it."""

from __future__ import annotations

import base64
from importlib import resources

from tillercount.report.blocks import wrapped
from tillercount.report.drawing import to_svg
from tillercount.report.language import plain
from tillercount.report.sheet import Sheet

__all__ = ["report_html"]

_ACROSS = 4
"""Columns of numbers side by side that fit on a phone, and in half the width of a sheet."""


def report_html(sheet: Sheet) -> str:
    """The page. Every value of the record carries its path (``data-at``) and kind."""
    import jinja2

    here = resources.files("tillercount.report")
    environment = jinja2.Environment(
        autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined
    )
    environment.filters["plain"] = plain
    environment.filters["picture"] = _address
    environment.filters["wrapped"] = lambda block: wrapped(block, _ACROSS)
    template = environment.from_string((here / "report.html.j2").read_text("utf-8"))
    return template.render(
        s=sheet,
        style=(here / "report.css").read_text("utf-8"),
        report=sheet.speak.words["title.head"],
        svg=to_svg,
    )


def _address(jpeg: bytes) -> str:
    return f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode('ascii')}"
