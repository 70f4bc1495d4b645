"""Type on paper is large enough to read in a truck, and a plain report still has two sheets."""

from __future__ import annotations

import base64
import re
import zlib
from importlib import resources
from typing import Any

import pytest

from tests.report.fields import CLOSE, PUSH, TARGET, THIN, field, record
from tillercount.report.language import load_words
from tillercount.report.mapscale import WIDTH
from tillercount.report.pdf import report_pdf
from tillercount.report.pdfsetting import SMALLEST
from tillercount.report.record import build_record
from tillercount.report.sheet import make_sheet

WORDS = load_words()
_OPERATORS = re.compile(
    rb"\((?:[^()\\]|\\.)*\) Tj"
    rb"|(?<![\w(])(?P<state>[qQ])(?=\s)"
    rb"|(?P<scale>[-\d.]+)(?: [-\d.]+){5} cm"
    rb"|/F\S+ (?P<font>[\d.]+) Tf",
    re.S,
)


def sizes(data: bytes) -> list[float]:
    """Of every piece of text as it stands on paper, pt: the font's times the drawing's scale."""
    out = []
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", data, re.S):
        try:
            page = zlib.decompress(base64.a85decode(stream.strip().removesuffix(b"~>")))
        except (ValueError, zlib.error):
            continue  # a picture
        scale, font, outer = 1.0, 0.0, []
        for found in _OPERATORS.finditer(page):
            if found["state"] == b"q":
                outer.append(scale)
            elif found["state"] == b"Q":
                scale = outer.pop()
            elif found["scale"]:
                scale *= abs(float(found["scale"]))
            elif found["font"]:
                font = float(found["font"])
            else:
                out.append(font * scale)
    return out


def sheets(data: bytes) -> int:
    return len(re.findall(rb"/Type /Page\b(?!s)", data))


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize(
    "made",
    [
        record(PUSH),
        record(CLOSE, units="metric"),
        record(tuple(18 + (7 * i) % 15 for i in range(36))),
    ],
    ids=["all in it", "metric", "36 spots"],
)
def test_no_type_is_too_small(made: dict[str, Any], paper: str) -> None:
    data = report_pdf(make_sheet(made, WORDS), paper=paper)
    found = sizes(data)
    assert len(found) > 100
    assert min(found) >= SMALLEST - 0.01
    assert sheets(data) <= 3


@pytest.mark.parametrize("plants", [PUSH, THIN, TARGET])
def test_a_plain_field_has_two_sheets(plants: tuple[int, ...]) -> None:
    """Counts with positions and their verdict, no product, prices, boom nor outline."""
    data = report_pdf(make_sheet(build_record(field(plants), farm="Elm Hill"), WORDS))
    assert min(sizes(data)) >= SMALLEST - 0.01
    assert sheets(data) <= 2


def test_nor_where_the_page_is_printed() -> None:
    """Sizes in points of the style sheet's part for paper; letters in drawings go by its widths."""
    sheet = (resources.files("tillercount.report") / "report.css").read_text("utf-8")
    paper = sheet.split("@media print {")[1]
    points = [float(one) for one in re.findall(r"font-size: ([\d.]+)pt", paper)]
    assert len(points) > 8
    assert min(points) >= SMALLEST
    (wide,) = (float(one) for one in re.findall(r"grid-template-columns: (\d+)mm 1fr", paper))
    (units,) = (float(one) for one in re.findall(r"svg text { font-size: ([\d.]+)px", paper))
    assert units * wide / 25.4 * 72 / WIDTH >= SMALLEST
