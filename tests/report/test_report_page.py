"""The report's page and PDF: whole, self-contained, and every number reachable in the JSON."""

from __future__ import annotations

import io
import json
import re
import zlib
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.report.fields import CLOSE, PUSH, TARGET, THIN, record
from tillercount.errors import InputError
from tillercount.report.language import format_value, load_words, look_up
from tillercount.report.pdf import report_pdf
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html

WORDS = load_words()


class Reader(HTMLParser):
    """Text with the path of the record that it stands under, and all attributes."""

    VOID = frozenset({"meta", "img", "br", "circle", "path"})

    def __init__(self) -> None:
        super().__init__()
        self.stack: list[tuple[str, dict[str, str | None]]] = []
        self.loose: list[str] = []
        self.shown: list[tuple[str, str, str]] = []
        self.attributes: list[tuple[str, str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes += [(tag, name, value) for name, value in attrs]
        if tag not in self.VOID:
            self.stack.append((tag, dict(attrs)))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes += [(tag, name, value) for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.VOID:
            assert self.stack.pop()[0] == tag

    def handle_data(self, data: str) -> None:
        tag, attributes = self.stack[-1] if self.stack else ("", {})
        if tag in ("style", "title") or not data.strip():
            return
        if "data-at" in attributes:
            self.shown.append((str(attributes["data-at"]), str(attributes["data-kind"]), data))
        else:
            self.loose.append(data)


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    assert reader.stack == []
    return reader


def photo_record(made: dict[str, Any]) -> bytes:
    out = io.BytesIO()
    Image.fromarray(np.full((60, 80, 3), 120, np.uint8)).save(out, "JPEG")
    counts = {"plants": 2.5, "shoots": None}
    made["photos"] = [
        {"role": "only", "spot": "2", "photo": "IMG_2.jpg", "overlay": False, "per_ft2": counts,
         "per_m2": counts}
    ]  # fmt: skip
    return out.getvalue()


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("plants", [THIN, PUSH, TARGET, CLOSE])
def test_every_number_on_the_page_is_in_the_json(plants: tuple[int, ...], units: str) -> None:
    made = record(plants, units=units)
    picture = photo_record(made)
    page = read(report_html(make_sheet(made, WORDS, [picture])))
    kept = json.loads(json.dumps(made, allow_nan=False))
    assert len(page.shown) > 80
    for at, kind, text in page.shown:
        assert text == format_value(look_up(kept, at), kind, WORDS), at
    # What isn't a value of the record is words, and words have no numbers.
    assert [text for text in page.loose if re.search("[0-9]", text)] == []


def test_units_are_those_asked_for() -> None:
    us, metric = (
        " ".join(read(report_html(make_sheet(record(units=u), WORDS))).loose)
        for u in ("us", "metric")
    )
    for words in ("lb N/ac", "per ft²", " gal", "bu/ac"):
        assert words in us, words
        assert words not in metric, words
    for words in ("kg N/ha", "per m²", " kg", "t/ha"):
        assert words in metric, words
        assert words not in us, words


def test_the_page_needs_nothing_beside_it() -> None:
    made = record()
    page = read(report_html(make_sheet(made, WORDS, [photo_record(made)])))
    for tag, name, value in page.attributes:
        assert tag not in ("script", "link", "iframe")
        if name in ("src", "href"):
            assert str(value).startswith("data:image/jpeg;base64,")
    assert any(name == "alt" and value for _, name, value in page.attributes)


def test_text_of_others_cannot_break_the_page() -> None:
    made = record()
    made["field"] = "<script>alert(1)</script>"
    assert "<script" not in report_html(make_sheet(made, WORDS))


def test_without_positions_and_nitrogen_it_says_so() -> None:
    made = record(placed=False)
    assert made["map"] is None
    assert "no map" in report_html(make_sheet(made, WORDS))
    made["nitrogen"] = None
    assert "Nitrogen plan" not in report_html(make_sheet(made, WORDS))


def test_the_map_holds_what_is_dosed_twice() -> None:
    found = record()["map"]
    assert found["overlap"]["headland_m"]
    assert found["overlap"]["twice_m"]
    assert sum(found["in_band"]) == len(found["spots"]) == 6
    assert found["outside"] == 0


@pytest.mark.parametrize("paper", ["letter", "A4"])
@pytest.mark.parametrize("plants", [THIN, CLOSE])
def test_two_sheets_at_most_and_the_same_bytes_each_time(
    plants: tuple[int, ...], paper: str
) -> None:
    made = record(plants)
    picture = photo_record(made)
    first = report_pdf(make_sheet(made, WORDS, [picture]), paper=paper)
    assert first == report_pdf(make_sheet(made, WORDS, [picture]), paper=paper)
    assert 1 <= len(re.findall(rb"/Type /Page\b(?!s)", first)) <= 2
    width = b"612" if paper == "letter" else b"595"
    assert re.search(rb"/MediaBox \[ 0 0 " + width, first)


def test_the_pdf_says_the_verdict() -> None:
    import base64

    data = report_pdf(make_sheet(record(), WORDS))
    text = b""
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", data, re.S):
        try:
            text += zlib.decompress(base64.a85decode(stream.strip(), adobe=False))
        except ValueError:
            text += zlib.decompress(base64.a85decode(stream.strip().removesuffix(b"~>")))
    assert b"Keep this stand" in text
    assert b"under 1" in text


def test_unknown_paper() -> None:
    with pytest.raises(InputError, match="paper 'legal' isn't known"):
        report_pdf(make_sheet(record(), WORDS), paper="legal")
