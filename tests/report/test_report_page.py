"""The report's page and PDF: whole, self-contained, and every number reachable in the JSON."""

from __future__ import annotations

import base64
import datetime as dt
import html
import io
import json
import re
import shutil
import statistics
import subprocess
import zlib
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.report.fields import CLOSE, PUSH, TARGET, THIN, field, record, topdressed
from tillercount.errors import InputError
from tillercount.report import pdf
from tillercount.report.language import load_words, plain
from tillercount.report.pdf import report_pdf
from tillercount.report.record import build_record
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand.dressbrief import brief_sections

WORDS = load_words()


class Reader(HTMLParser):
    """Text with the path of the record that it stands under, and all attributes."""

    VOID = frozenset({"meta", "img", "br", "circle", "path"})

    def __init__(self) -> None:
        super().__init__()
        self.stack: list[tuple[str, dict[str, str | None]]] = []
        self.loose: list[str] = []
        self.text = ""
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
        self.text += data
        if "data-at" in attributes:
            self.shown.append((str(attributes["data-at"]), str(attributes["data-kind"]), data))
        else:
            self.loose.append(data)


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
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


SHOWN_TO = {"density": 0.5, "whole": 0.5, "one": 0.05, "rate": 0.5, "dry": 2.5, "liquid": 0.25}
"""How far a number on the page may lie from the one in the JSON, by kind: half its last step."""


def numbers(text: str) -> list[float]:
    return [float(n.replace(",", "")) for n in re.findall(r"[0-9][0-9,]*(?:\.[0-9]+)?", text)]


def kept_at(record: Any, at: str) -> Any:
    for part in at.split("/"):
        record = record[int(part) if isinstance(record, list) else part]
    return record


def far_from(text: str, kind: str, value: Any) -> str:
    """What is wrong with a value as it is shown; empty where it is the one in the JSON."""
    if kind == "text":
        lost = set(numbers(text)) - set(numbers(str(value)))
        return f"{sorted(lost)} aren't in {value!r}" if lost else ""
    if kind == "date":
        day = dt.datetime.strptime(text, "%d %B %Y").date()
        return "" if str(day) == value else f"{day} for {value}"
    if kind == "hash":
        return "" if value.startswith(text) and len(text) >= 8 else f"{text} for {value}"
    (shown,) = numbers(text)
    if kind in ("share", "chance"):
        if "under" in text or "over" in text:
            good = value < 0.01 if "under" in text else value > 0.99
        else:
            good = abs(shown / 100 - value) <= 0.00501
    else:
        # loads, money and what is set by three digits are good to a part in a hundred
        good = abs(shown - value) <= SHOWN_TO.get(kind, 0.006 * abs(value)) + 1e-9
    return "" if good else f"{text} for {value!r}"


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("plants", [THIN, PUSH, TARGET, CLOSE])
def test_every_number_on_the_page_is_in_the_json(plants: tuple[int, ...], units: str) -> None:
    made = record(plants, units=units)
    picture = photo_record(made)
    page = read(report_html(make_sheet(made, WORDS, [picture])))
    kept = json.loads(json.dumps(made, allow_nan=False))
    assert len(page.shown) > 80
    wrong = []
    for at, kind, text in page.shown:
        value = kept_at(kept, at)
        if kind == "text" and units == "metric":
            value = kept["in_metric"].get(value, value)
        wrong += [f"{at}: {why}" for why in [far_from(text, kind, value)] if why]
    assert wrong == []
    # What isn't a value of the record is words, and words have no numbers.
    assert [text for text in page.loose if re.search("[0-9]", text)] == []


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [("23", "density", 24.1), ("41 %", "share", 0.5), ("under 1 %", "share", 0.02),
     ("80", "dry", 92.0), ("6 March 2027", "date", "2027-03-07"), ("7 plants", "text", "8 plants")],
)  # fmt: skip
def test_the_comparison_sees_a_wrong_number(text: str, kind: str, value: Any) -> None:
    assert far_from(text, kind, value)


@pytest.mark.parametrize(("units", "per"), [("us", 1.0), ("metric", 1 / 0.09290304)])
def test_the_sentences_say_what_was_counted(units: str, per: float) -> None:
    """Read off the page, and worked out from the counts that went in."""
    text = " ".join(read(report_html(make_sheet(record(PUSH, units=units), WORDS))).text.split())
    found = re.search(r"Plants: ([0-9.]+) per (ft²|m²) on average of ([0-9]+) spots", text)
    assert found is not None
    assert float(found[1]) == pytest.approx(statistics.mean(PUSH) * per, abs=0.5)
    assert found[2] == {"us": "ft²", "metric": "m²"}[units]
    assert int(found[3]) == len(PUSH)


def test_amounts_are_those_that_the_nitrogen_command_gives() -> None:
    """80 bu/ac by common practice: 88-120 lb N/ac, of which 25-30 % early; UAN 28 is 28 % N."""
    made = record(PUSH)
    page = read(report_html(make_sheet(made, WORDS)))
    lb = [0.25 * 88 / 0.28, 0.30 * 120 / 0.28]
    assert made["nitrogen"]["doses"][0]["products"][0]["lb_ac"] == pytest.approx(lb)  # exact
    assert "7.5 to 12 gal (80 to 130 lb)" in page.text  # 7.36-12.05 gal, 78.6-128.6 lb
    screen = "\n".join(line for _, lines in brief_sections(topdressed(PUSH)) for line in lines)
    assert "7.5-12 gal or 80-130 lb" in screen


METRIC = r"(?:kg N/ha|kg N/t|kg/ha|t/ha|per m²|L/ha|kg/L|°C| m\))"
US = (
    r"lb N/ac|lb/ac|lb N per bushel|bu/ac|gal/ac|lb per gallon"
    r"|(?:plants |shoots |heads )?(?:per |/)(?:ft²|ft2|square foot)"
)


@pytest.mark.parametrize("plants", [THIN, PUSH, TARGET, CLOSE])
def test_a_metric_page_has_no_us_figure_without_its_metric(plants: tuple[int, ...]) -> None:
    """The whole page: words, drawings, flags, cautions, steps and sources."""
    page = read(report_html(make_sheet(record(plants, units="metric"), WORDS))).text
    # in the figure the two stand one above the other
    page, lines = re.subn(r"(?:193\.818|290\.627|376\.735) per ft²", "", page)
    assert lines == 3
    bare = [
        page[max(0, found.start() - 40) : found.end() + 30]
        for found in re.finditer(rf"[0-9] (?:{US})(?! \([^)]*{METRIC})", page)
    ]
    assert bare == []
    # nor a heading, an axis or an amount
    assert re.findall(r"(?:Plants|Shoots|28) per (?:ft|acre)|[0-9] (?:gal|ac)\b", page) == []
    assert "Publishers' own figures are in US units" in page


def test_metric_figures_beside_the_publishers_own() -> None:
    """1 lb/ac is 1.12085 kg/ha; 1 bu/ac of wheat is 0.067251 t/ha; 1 ft² is 0.0929 m²."""
    made = record(PUSH, units="metric")
    page = read(report_html(make_sheet(made, WORDS))).text
    assert "88-120 lb N/ac (99-135 kg N/ha)" in page
    assert "80 bu/ac (5.4 t/ha)" in page
    assert "1.1-1.5 lb N per bushel (18-25 kg N/t)" in page
    found = field(PUSH).field.plants
    assert found is not None
    assert f"Mean, 90\u00a0% interval242 ({found.low:.0f} to {found.high:.0f})" in page


def test_a_us_page_has_no_metric_figure() -> None:
    page = read(report_html(make_sheet(record(PUSH), WORDS))).text
    assert re.findall(rf"[0-9] {METRIC}|[0-9] kg\b|[0-9] L\b|[0-9] ha\b", page) == []
    for words in ("lb N/ac", "per ft²", " gal", "bu/ac"):
        assert words in page, words


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


@pytest.mark.parametrize(
    ("pages", "taken"),
    [
        ({9.0: 3, 8.6: 2}, 8.6),  # two sheets where they will do, in the largest type
        ({9.0: 4, 8.6: 4, 8.2: 3}, 8.2),  # else three, and not in the smallest type all the same
        ({9.0: 5}, 7.9),
    ],
)
def test_the_type_is_as_large_as_the_sheets_allow(
    monkeypatch: pytest.MonkeyPatch, pages: dict[float, int], taken: float
) -> None:
    def attempt(sheet: object, size: float, *more: object) -> tuple[bytes, int]:
        return f"{size}".encode(), pages[min(one for one in pages if one >= size)]

    monkeypatch.setattr(pdf, "_attempt", attempt)
    assert float(report_pdf(make_sheet(record(), WORDS))) == taken


@pytest.mark.parametrize("paper", ["letter", "A4"])
@pytest.mark.parametrize("plants", [THIN, CLOSE])
def test_three_sheets_at_most_and_the_same_bytes_each_time(
    plants: tuple[int, ...], paper: str
) -> None:
    made = record(plants)
    picture = photo_record(made)
    first = report_pdf(make_sheet(made, WORDS, [picture]), paper=paper)
    assert first == report_pdf(make_sheet(made, WORDS, [picture]), paper=paper)
    assert 1 <= len(re.findall(rb"/Type /Page\b(?!s)", first)) <= 3
    width = b"612" if paper == "letter" else b"595"
    assert re.search(rb"/MediaBox \[ 0 0 " + width, first)


def pdf_words(data: bytes) -> list[str]:
    """Words of a PDF in their order, by pdftotext; without it, out of its text operators."""
    tool = shutil.which("pdftotext")
    if tool:
        run = subprocess.run([tool, "-", "-"], input=data, stdout=subprocess.PIPE, check=True)
        return run.stdout.decode("utf-8").split()
    text = ""
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", data, re.S):
        try:
            page = zlib.decompress(base64.a85decode(stream.strip().removesuffix(b"~>")))
        except (ValueError, zlib.error):
            continue  # a font or a picture
        for part in re.findall(rb"\(((?:[^()\\]|\\.)*)\) Tj", page, re.S):
            plain_ = re.sub(rb"\\([0-7]{3})", lambda m: bytes([int(m[1], 8)]), part)
            text += " " + re.sub(rb"\\(.)", rb"\1", plain_).decode("cp1252", "replace")
    return text.split()


def is_in(text: str, words: list[str]) -> bool:
    """Whether the words of a text come in the PDF one after the other."""
    wanted = text.split()
    places = (i for i, word in enumerate(words) if word == wanted[0])
    return any(words[i : i + len(wanted)] == wanted for i in places)


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("plants", [PUSH, CLOSE])
def test_the_pdf_says_what_the_page_says(plants: tuple[int, ...], units: str) -> None:
    """Verdict, every heading, every number of the account; not how each publisher reckons."""
    made = record(plants, units=units)
    page = report_html(make_sheet(made, WORDS))
    words = pdf_words(report_pdf(make_sheet(made, WORDS)))
    verdict = re.sub("<[^>]*>", "", re.search("<h1>(.*?)</h1>", page)[1])  # type: ignore[index]
    assert is_in(html.unescape(verdict), words)
    for title in re.findall("<h[23][^>]*>(.*?)</h[23]>", page):
        assert set(re.sub("<[^>]*>", "", html.unescape(title)).split()) <= set(words), title
    method = page.split('id="method"')[1].split("</section>")[0]
    found = re.findall(r"<p class=\"fine\">(.*?)</p>|<td[^>]*><span>(.*?)</span></td>", method)
    assert len(found) >= 15
    for text in found:
        said = html.unescape(re.sub("<[^>]*>", "", "".join(text)))
        assert is_in(said, words) or not said.isascii(), said
    step = next(one for one in made["steps"] if one["kind"] == "yield")
    why = made["in_metric"].get(step["why"], step["why"]) if units == "metric" else step["why"]
    assert why in html.unescape(re.sub("<[^>]*>", "", method))
    assert not is_in(why, words)
    assert is_in("Each publisher's reckoning of heads and yield is left out on paper:", words)


def test_reasons_on_the_page_are_announced_on_paper_only() -> None:
    page = report_html(make_sheet(record(), WORDS))
    assert page.count('<li class="on-paper">') == 1
    screen, paper = page.split("@media print", 1)
    assert ".on-paper { display: none; }" in screen
    assert ".on-paper { display: list-item; }" in paper


def test_unknown_paper() -> None:
    with pytest.raises(InputError, match="paper 'legal' isn't known"):
        report_pdf(make_sheet(record(), WORDS), paper="legal")


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (dt.date(2027, 3, 6), "Field seen 6 March 2027"),
        (dt.date(2027, 5, 6), "Field seen 6 March 2027"),  # 61 days
        (dt.date(2027, 5, 7), "Field seen 6 March 2027, 2 months before this report"),
        (dt.date(2027, 5, 25), "Field seen 6 March 2027, 2 months before this report"),
        (dt.date(2027, 11, 7), "Field seen 6 March 2027, 8 months before this report"),
        (dt.date(2027, 3, 1), "Field seen 6 March 2027"),
    ],
)
def test_a_visit_long_ago_has_its_age(made: dt.date, said: str) -> None:
    kept = build_record(field(PUSH), visited=dt.date(2027, 3, 6), made=made)
    head = [plain(line) for line in make_sheet(kept, WORDS).head]
    assert said in head
