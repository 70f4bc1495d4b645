"""The grower's page: whole, self-contained, and saying what the assessment says."""

from __future__ import annotations

import datetime
import re
from html import escape
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from tillercount.errors import InputError
from tillercount.field import SpotDensity
from tillercount.report.figure import Dot, density_figure
from tillercount.report.page import page_html, write_page
from tillercount.stand import Assessment, assess
from tillercount.stand.actions import parted
from tillercount.stand.words import number_text
from tillercount.units import per_ft2, per_m2

DATE = datetime.date(2027, 3, 4)


def field(rules: str = "pennsylvania-stand", name: str = "Far field") -> Assessment:
    spots = [
        SpotDensity(f"IMG_{i}", "photo", per_m2(p), per_m2(3 * p), photo=f"IMG_{i}.jpg")
        for i, p in enumerate((24, 19, 16, 27, 21, 18))
    ]
    spots.append(SpotDensity("IMG_1", "hand", per_m2(21), per_m2(60), observer="Ash"))
    model = {"name": "cereal", "sha256": "ab" * 32}
    return assess(spots, rules, yield_goal="80 bu/ac", stage="GS25", model=model, name=name)


def html_escape(text: str) -> str:
    """As the template writes it."""
    return escape(text).replace("&#x27;", "&#39;").replace("&quot;", "&#34;")


class Reader(HTMLParser):
    """Checks that elements nest, and keeps the attributes."""

    VOID = frozenset({"meta", "img", "br", "line", "rect", "circle"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.VOID:
            assert self.open.pop() == tag


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    assert reader.open == []
    return reader


def test_whole_and_self_contained(tmp_path: Path) -> None:
    picture = tmp_path / "o.png"
    noise = np.random.default_rng(0).integers(0, 255, (1500, 2000, 3), dtype=np.uint8)
    Image.fromarray(noise).save(picture)
    path = write_page(field(), tmp_path / "page.html", overlays=[(picture, "spot <1>")], date=DATE)
    html = path.read_text(encoding="utf-8")
    reader = read(html)
    tags = [tag for tag, _ in reader.seen]
    assert html.startswith("<!DOCTYPE html>")
    assert not {"script", "link", "iframe", "a"} & set(tags)
    assert "http" not in html
    assert "url(" not in html
    for tag, attrs in reader.seen:
        if tag == "img":
            assert str(attrs["src"]).startswith("data:image/jpeg;base64,")
            assert attrs["alt"]
    assert "spot &lt;1&gt;" in html
    assert len(html) < 1_500_000
    assert [p.name for p in tmp_path.iterdir() if p.name.endswith(".part")] == []
    assert tags.count("h1") == 1
    assert dict(reader.seen)["html"] == {"lang": "en"}


def test_says_what_the_assessment_says() -> None:
    result = field()
    text = re.sub(r"<[^>]+>", " ", page_html(result, date=DATE))
    text = " ".join(text.replace("&#39;", "'").split())
    assert result.verdict.headline in text
    assert text.index(result.verdict.headline) < text.index("What was counted")
    for advice in (*result.verdict.actions, *result.verdict.cautions):
        assert advice.text in text
    for flag in result.flags:
        assert flag[1:] in text
    assert "88-120" in text
    assert "99-135" in text  # kg N/ha, 1 lb/ac = 1.1208512 kg/ha
    assert "4 March 2027" in text
    assert "Photo less hand count" in text
    assert "abababababab" in text


@pytest.mark.parametrize(
    "rules", ["common-practice", "pennsylvania-stand", "minnesota-stand", "kentucky-stand"]
)
def test_every_rule_set_has_a_page(rules: str) -> None:
    result = field(rules)
    read(page_html(result, date=DATE))


def test_prints_short_and_keeps_the_cautions_in_sight() -> None:
    """Long parts are folded, and left out in print; what can hurt is neither."""
    result = field()
    html = page_html(result, date=DATE)
    folded = re.findall(r"<details>.*?</details>", html, re.S)
    assert len(folded) >= 4
    assert "<details open" not in html
    outside = re.sub(r"<details>.*?</details>", "", html, flags=re.S)
    for advice in result.verdict.cautions:
        assert html_escape(advice.text) in outside
    for action in parted(result.verdict.actions)[0]:
        assert html_escape(action.text) in outside
    assert result.verdict.sources[0] not in outside
    assert "details { display: none; }" in html.split("@media print")[1]
    assert html.index("What to do") < html.index("What was counted")


def test_no_sentence_twice() -> None:
    """Every list item of the page is there once."""
    for rules in ("common-practice", "pennsylvania-stand", "kentucky-stand"):
        html = page_html(field(rules), date=DATE)
        items = re.findall(r"<li>(.*?)(?:<span|</li>)", html, re.S)
        items += re.findall(r'<p class="warn">(.*?)</p>', html, re.S)
        assert len(items) == len(set(items))


def test_page_of_little() -> None:
    """One spot, plants only, no goal, no stage, no name."""
    result = assess([SpotDensity("1", "hand", per_m2(20), None)])
    html = page_html(result, date=DATE)
    read(html)
    assert "None" not in html
    zero = assess([SpotDensity(str(i), "hand", 0.0, None) for i in range(3)])
    read(page_html(zero, date=DATE))


def test_names_are_text_not_markup() -> None:
    html = page_html(field(name="<script>alert(1)</script>"), date=DATE)
    assert "<script" not in html


def test_bad_pictures_and_places(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.png: this picture can't be put on the page"):
        write_page(field(), tmp_path / "p.html", overlays=[tmp_path / "none.png"])
    assert not (tmp_path / "p.html").exists()
    with pytest.raises(InputError, match="can't be written"):
        write_page(field(), tmp_path / "no" / "p.html")


def test_figure_places_things_to_scale() -> None:
    result = field("common-practice").plants
    assert result is not None
    dots = [Dot(20.0, False), Dot(20.0, True), Dot(30.0, False)]
    svg = ElementTree.fromstring(density_figure(result, dots, level=0.9))
    borders = [line for line in svg.iter("line") if line.get("class") == "border"]
    xs = [float(line.get("x1", "nan")) for line in borders]
    per = (xs[2] - xs[0]) / (35 - 18)
    assert xs[1] - xs[0] == pytest.approx((27 - 18) * per, abs=0.2)
    (interval,) = (line for line in svg.iter("line") if line.get("class") == "interval")
    assert float(interval.get("x1", "nan")) == pytest.approx(
        xs[0] + (result.low - 18) * per, abs=0.2
    )
    (mean,) = (c for c in svg.iter("circle") if c.get("class") == "mean")
    assert float(mean.get("cx", "nan")) == pytest.approx(xs[0] + (result.mean - 18) * per, abs=0.2)
    marks = [e for e in svg.iter() if str(e.get("class", "")).startswith("spot")]
    assert len(marks) == 3
    places = {(e.get("cx") or e.get("x"), e.get("cy") or e.get("y")) for e in marks}
    assert len(places) == 3  # two spots alike don't cover each other


def test_near_a_border_table_and_figure_agree() -> None:
    """A mean of 18.42 beside the border of 18 is nowhere shown as 18."""
    spots = [
        SpotDensity(str(i), "hand", per_m2(p), None)
        for i, p in enumerate((12, 24, 15, 22, 18.1, 19.4))
    ]
    result = assess(spots)
    page = page_html(result, date=DATE)
    assert "mean 18.4, 90% interval" in page
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page))
    found = result.field.plants
    assert found is not None
    low, high = (number_text(per_ft2(end)) for end in (found.low, found.high))
    assert f"per m² 18.4 {low} to {high} 6 24" in text
    assert "more than 18, fewer than 27" in text


def test_a_link_goes_on_pointing_and_a_protected_page_stays(tmp_path: Path) -> None:
    page = tmp_path / "real.html"
    page.write_text("old", "utf-8")
    link = tmp_path / "page.html"
    link.symlink_to(page)
    write_page(field(), link, date=DATE)
    assert link.is_symlink()
    written = page.read_text("utf-8")
    assert written != "old"
    page.chmod(0o444)
    with pytest.raises(InputError, match="write-protected"):
        write_page(field(), link, date=DATE)
    assert page.read_text("utf-8") == written


def test_a_page_says_which_field_it_is_of() -> None:
    """By the name given, else by the counts' own, else that none was given."""

    def of(names: tuple[str, ...], name: str = "") -> str:
        spots = [
            SpotDensity(str(i), "hand", per_m2(22 + i), None, field=one)
            for i, one in enumerate(names)
        ]
        page = page_html(assess(spots, name=name), date=DATE)
        about = re.search(r'<p class="about">([^·]*) ·', page)
        assert about is not None
        assert f"<title>{about[1]}: stand assessment</title>" in page
        return about[1]

    assert of(("", "", "")) == "Field not named"
    assert of(("Creek field", "Creek  field", "")) == "Creek field"
    assert of(("Creek field", "Hill", "")) == "Field not named"
    assert of(("Creek field", "", ""), "Far field") == "Far field"


def test_a_photo_whose_hand_count_was_taken_says_so_once_and_plainly() -> None:
    def note(shoots: float | None) -> str:
        spots = [
            SpotDensity("1", "photo", per_m2(22), per_m2(60), photo="a/1.jpg"),
            SpotDensity("1", "hand", per_m2(24), None if shoots is None else per_m2(shoots)),
            SpotDensity("2", "hand", per_m2(23), per_m2(61)),
        ]
        return page_html(assess(spots), date=DATE)

    assert "its hand count was taken instead" in note(66)
    assert "where it has one" not in note(66)
    assert "hand count taken instead, where it has one" in note(None)  # shoots are the photo's


def test_no_folders_and_no_range_of_one_number_on_paper() -> None:
    refused = {
        "photo": "home/me/creek/spot_6.jpg", "status": "refused", "reason": "too dark",
    }  # fmt: skip
    spots = [
        SpotDensity(str(i), "hand", per_m2(22 + i), per_m2(70 + i)) for i in range(4)
    ]
    page = page_html(assess([*spots, refused]), date=DATE)
    assert "<li>spot_6.jpg: too dark</li>" in page
    assert "home/me" not in page
    assert not re.search(r">(\d+) to \1 ", page)
