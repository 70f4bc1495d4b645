"""The language file: every key used is there, placeholders fit, a translation is laid over."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import tillercount.report
from tests.report.fields import CLOSE, PUSH, TARGET, THIN, record
from tillercount.errors import InputError
from tillercount.field import SpotDensity
from tillercount.report.language import format_value, load_words, placeholders, plain
from tillercount.report.record import build_record
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import Band, Rule, assess, load_rules
from tillercount.units import per_m2

FOLDER = Path(tillercount.report.__file__).parent


def test_every_sentence_is_used_and_every_used_one_is_there() -> None:
    keys = set(load_words().sentences)
    code = "".join(path.read_text("utf-8") for path in FOLDER.glob("*.py"))
    # A key is written out, or put together from a fixed part and a name.
    patterns = [re.sub(r"\\\{[^}]*\}", ".+", re.escape(text)) for text in re.findall(
        r'f"([a-z]+\.[^"]*\{[^"]*)"', code
    )]  # fmt: skip
    for key in keys:
        written = f'"{key}"' in code
        assert written or any(re.fullmatch(one, key) for one in patterns), key
    for key in re.findall(r'(?:say\(\s*|words\[)"([a-z]+\.[a-z_0-9]+)"', code):
        assert key in keys, key


def test_no_sentence_has_a_digit() -> None:
    assert [key for key, text in load_words().sentences.items() if re.search("[0-9]", text)] == []


def test_a_translation(tmp_path: Path) -> None:
    words = tmp_path / "xx.toml"
    words.write_text(
        '[language]\ncode = "xx"\ndecimal = ","\nthousands = "."\npercent = "{n}%"\n'
        '[verdict]\npush = "Bestand halten: {sure}."\n'
        '[title]\nmind = "Ъ"\n'
        "[said]\n"
        '"Keep the larger part of the nitrogen for just before jointing." = "Spaeter mehr."\n',
        encoding="utf-8",
    )
    language = load_words(words)
    page = report_html(make_sheet(record(), language))
    assert '<html lang="xx">' in page
    assert "Bestand halten: " in page
    assert "Spaeter mehr." in page
    assert "What was found" in page  # what isn't translated stays English
    assert format_value(1234.5, "one", language) == "1.234,5"
    from tillercount.report.pdf import report_pdf

    assert report_pdf(make_sheet(record(), language)).startswith(b"%PDF")  # other letters as well


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[verdict]\npush = "Keep."\n', "needs the braces"),
        ('[verdict]\npush = "Keep {sure} {more}."\n', "needs the braces"),
        ('[verdict]\npush = "Keep {sure."\n', "mind the braces"),
        ('[verdict]\nnews = "x"\n', "verdict.news isn't known"),
        ('[other]\nx = "x"\n', r"table \[other\]"),
        ("[verdict\n", "not readable TOML"),
        ('[language]\nmonths = ["a"]\n', "months must be like"),
    ],
)
def test_a_translation_that_does_not_fit(tmp_path: Path, text: str, says: str) -> None:
    words = tmp_path / "xx.toml"
    words.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=says):
        load_words(words)


@pytest.mark.parametrize(
    ("plants", "kind"),
    [(THIN, "keep_first"), (PUSH, "push"), (TARGET, "hold"), (CLOSE, "unclear")],
)
def test_the_verdict_is_never_surer_than_the_counts(plants: tuple[int, ...], kind: str) -> None:
    made = record(plants)
    verdict = made["verdict"]
    assert verdict["kind"] == kind
    share = made["assessment"]["verdict"]["probabilities"][verdict["class"]]
    assert verdict["share"] == pytest.approx(share)
    sentence = plain(make_sheet(made, load_words()).verdict)
    assert format_value(share, "share", load_words()) in sentence
    assert ("Too close" in sentence) == (kind == "unclear")


def test_classes_that_want_the_same_are_taken_together() -> None:
    made = record((34, 37, 33, 38, 35, 36))
    verdict = made["verdict"]
    assert not verdict["clear"]
    assert verdict["kind"] == "hold"
    shares = {c["class"]: c["share"] for c in verdict["classes"]}
    assert verdict["share"] == pytest.approx(shares["target"] + shares["thick"])
    assert "whichever" in plain(make_sheet(made, load_words()).verdict)


def test_jointed() -> None:
    made = record(stage="Feekes 7")
    assert made["verdict"]["kind"] == "jointed"
    assert "too late" in plain(make_sheet(made, load_words()).verdict)


@pytest.mark.parametrize(
    ("each", "kind"), [(2.0, "push"), (4.0, "hold"), (2.99, "unclear_tillers")]
)
def test_tillers_decide_about_the_nitrogen(each: float, kind: str) -> None:
    trade = load_rules("common-practice")
    bands = (
        Band(**{"class": "few", "name": "few tillers", "to": 90, "early": "push"}),
        Band(**{"class": "many", "name": "tillers enough", "early": "hold"}),
    )
    both = trade.model_copy(update={"rules": (*trade.rules, Rule(measures="shoots", bands=bands))})
    plants = (30, 31, 29, 30, 31, 29)
    field = [SpotDensity(str(i), "hand", per_m2(p), per_m2(each * p)) for i, p in enumerate(plants)]
    made = build_record(assess(field, both, name="Far field"))
    assert made["verdict"]["kind"] == kind
    assert (made["verdict"]["other"] is None) == (kind == "unclear_tillers")
    assert plain(make_sheet(made, load_words()).verdict).startswith("Keep this stand")


def test_placeholders() -> None:
    assert placeholders("{a} and {b}") == {"a", "b"}
