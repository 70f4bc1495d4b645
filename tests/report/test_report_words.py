"""The language file: every key used is there, placeholders fit, a translation is laid over."""

from __future__ import annotations

import html
import itertools
import re
from pathlib import Path
from typing import Any

import pytest

import tillercount.report
from tests.report.fields import CLOSE, PUSH, TARGET, THIN, record, spots
from tillercount.errors import InputError
from tillercount.field import SpotDensity
from tillercount.report.language import Speaker, format_value, load_words, placeholders, plain
from tillercount.report.record import build_record
from tillercount.report.saying import band_range, photo_blocks
from tillercount.report.sayingmap import map_lines
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import Band, Rule, assess, list_rules, load_rules, parse_stage
from tillercount.stand.late import too_late
from tillercount.stand.topdress import topdress
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
    """At most Student's t around the mean, worked out here: the usual spread only takes away."""
    from scipy import stats

    made = record(plants)
    assert made["verdict"]["kind"] == kind
    step = next(one for one in made["steps"] if one["kind"] == "bands" and one["of"] == "plants")
    mean, scale, df = (step["figures"][name] for name in ("mean", "scale", "df"))
    assert mean == pytest.approx(sum(plants) / len(plants))
    edges = [0.0, 18.0, 27.0, 35.0, float("inf")]  # of common practice, plants per ft²
    at = [stats.t.cdf((edge - mean) / scale, df) for edge in edges]
    shares = [(b - a) / (1 - at[0]) for a, b in itertools.pairwise(at)]
    sentence = plain(make_sheet(made, load_words()).verdict)
    said = re.findall(r"(over |)(\d+)\u00a0%", sentence)
    assert len(said) == (1 if kind != "unclear" else 2)
    word, number = said[0]
    assert int(number) / 100 < max(shares) + 0.006
    ranked = sorted((one["share"] for one in made["verdict"]["classes"]), reverse=True)
    for (word, number), share in zip(said, ranked, strict=False):
        if word == "over ":
            assert share > int(number) / 100
        else:  # rounded together with the other classes, so by less than one
            assert int(number) / 100 == pytest.approx(share, abs=0.01)
    assert ("Too close" in sentence) == (ranked[0] < 0.8)
    assert ("Keep this stand" in sentence) == (kind in ("push", "hold"))


def test_classes_that_want_the_same_are_taken_together() -> None:
    made = record((34, 37, 33, 38, 35, 36))
    verdict = made["verdict"]
    assert not verdict["clear"]
    assert verdict["kind"] == "hold"
    shares = {c["class"]: c["share"] for c in verdict["classes"]}
    assert verdict["share"] == pytest.approx(shares["target"] + shares["thick"])
    assert "whichever" in plain(make_sheet(made, load_words()).verdict)


def test_jointed() -> None:
    """In the words of the screen, by stage."""
    for plants, kind in ((PUSH, "jointed"), (CLOSE, "alike_jointed")):
        for stage, since in (("Feekes 5", "is about to joint"), ("Feekes 7", "has jointed")):
            made = record(plants, stage=stage)
            assert made["verdict"]["kind"] == kind
            late = too_late(parse_stage(stage))
            assert f"The crop {since}: early nitrogen to make tillers comes too late" == late
            page = plain(make_sheet(made, load_words()).verdict)
            for text in (page, made["verdict"]["headline"]):
                assert text.endswith(f". {late}.")
    assert record()["verdict"]["late"] is None


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


def text_of(made: dict[str, Any]) -> str:
    return html.unescape(re.sub(r"<[^>]*>", "", report_html(make_sheet(made, load_words()))))


def test_near_a_border_the_page_agrees_with_itself() -> None:
    """Mean 18.42 beside the border of 18: neither "18 or fewer" nor a mean that is the border."""
    made = record((12, 24, 15, 22, 18.1, 19.4))
    mean = made["evidence"][0]["per_ft2"]["mean"]
    assert mean == pytest.approx(18.4167, abs=1e-4)
    page = text_of(made)
    assert "The nearest line is at 18 plants per ft²; the field's mean is 18.4." in page
    assert "18.4 per ft² on average of 6 spots" in page
    assert "more than 18, fewer than 27" in page
    assert "18 to 27" not in page


def test_ranges_are_those_of_the_rules() -> None:
    """The page's words for a class's range and the rule's own are one, for each set per ft²."""
    for rules in list_rules():
        for rule in rules.rules:
            if rule.unit != "ft2" or (rule.measures == "shoots" and rules.counting.min_leaves):
                continue
            made = build_record(assess(spots(PUSH), rules, name="x", insist=True))
            speak = Speaker(made, load_words())
            number = next(
                (i for i, e in enumerate(made["evidence"]) if e["what"] == rule.measures), None
            )
            if number is None:
                continue
            for i in range(len(rule.bands)):
                said = plain(band_range(speak, f"evidence/{number}/bands/{i}"))
                assert said == rule.range_text(i), rules.name


def test_no_likelihood_is_nothing_or_all() -> None:
    """Six spots near 12 leave no room for a thick stand as floats go, and yet it isn't 0 %."""
    words = load_words()
    for value, text in ((1.0, "over 99"), (0.996, "over 99"), (0.0, "under 1"), (0.4, "40")):
        assert format_value(value, "chance", words) == f"{text}\u00a0%"
    assert format_value(1.0, "share", words) == "100\u00a0%"  # a counted share may be all
    assert format_value(0.0, "share", words) == "0\u00a0%"
    made = record(THIN)
    for one in made["verdict"]["classes"]:
        one["shown"] = float(one["share"] > 0.5)
    for one in made["evidence"]:
        for band in one["bands"]:
            band["shown"] = float(band["share"] > 0.5)
    made["verdict"]["shown"] = made["verdict"]["likeliest"] = 1.0
    page = text_of(made)
    assert "over 99\u00a0%" in page
    assert "100\u00a0% likely" not in page
    assert not re.search(r"(?<![0-9])0\u00a0%", page)


def test_the_interval_is_no_fact_and_one_spot_no_average() -> None:
    page = text_of(record())
    assert "it is 90\u00a0% likely that the field's true mean lies between" in page
    assert "; the true mean lies between" not in page
    one = text_of(build_record(assess(spots((22,)), name="Far field")))
    assert "per ft² at one spot" in one
    assert "1 spots" not in one


def test_the_end_of_an_interval_is_rounded_as_anything_else() -> None:
    """34.987 is an end: 35, though 35 is a line; a mean of 34.987 stays below the line."""
    made = record(TARGET)
    made["evidence"][0]["per_ft2"].update(mean=34.987, low=26.996, high=34.987)
    speak = Speaker(made, load_words())
    shown = {end: speak.at(f"evidence/0/per_ft2/{end}", "density").text for end in ("low", "high")}
    assert shown == {"low": "27", "high": "35"}
    assert speak.at("evidence/0/per_ft2/mean", "density").text == "34.99"


def test_the_photos_counts_are_said_to_be_by_photo() -> None:
    """The table below may have the hand count of the same spot, which is another figure."""
    words = load_words()
    for role in ("best", "worst", "only"):
        assert words[f"photos.{role}"].endswith("{unit} by photo")
        assert words[f"photos.{role}_hand"].endswith("{unit} by hand")
        assert "by photo, corrected" in words[f"photos.{role}_corrected"]


def test_point_rows_are_said_as_a_share_of_the_field() -> None:
    """Never "5 % of the field, of which point rows are 5 %": both are shares of the field."""
    made = record(PUSH)
    said = [plain(block.line) for block in map_lines(Speaker(made, load_words()))]
    both = [
        format_value(made["map"]["overlap"][name], "share", load_words())
        for name in ("twice_share", "point_row_share")
    ]
    assert f"doses twice, {both[0]} of the field; point rows" in " ".join(said)
    assert f"headlands, are {both[1]} of the field (" in " ".join(said)


def test_loads_are_said_to_be_about() -> None:
    """Reckoned from unrounded rates: 7.5 gal shown times the acres needn't make them."""
    page = text_of(record(TARGET))
    assert ", roughly, by the rates before they were rounded: Main: " in page


def test_no_ids_and_no_statistics_of_stopping_on_the_sheet() -> None:
    made = record(CLOSE)
    page = text_of(made)
    assert "“on target” (no early nitrogen)" in page
    assert "“thin but worth keeping” (some nitrogen early)" in page
    assert "confidence sequence" not in page
    assert not re.search("['“](push|target)['”]|[A-D]\\s(push|target)", page)
    # who checks it finds it in the JSON
    assert any(step["kind"] == "stop" for step in made["steps"])


@pytest.mark.parametrize("units", ["us", "metric"])
def test_ceilings_of_the_screen_are_on_the_sheet(units: str) -> None:
    a = assess(spots(PUSH), stage="Feekes 3", yield_goal=140.0)
    nitrogen = topdress(a.rules, assessment=a, stage=a.stage, goal_bu_ac=140.0)
    made = build_record(a, nitrogen, units=units)
    screen = made["nitrogen"]["all"]["ceilings"]
    over = made["nitrogen"]["ceilings"]
    assert [one["over"] for one in screen].count(True) == len(over) == 4
    page = text_of(made)
    part = page[page.index("Nitrogen plan") : page.index("What could change")]
    for one in over:
        assert one["text"].split(": ")[0] in part.replace(" (56 kg N/ha)", "").replace(
            " (67 kg N/ha)", "").replace(" (135 kg N/ha)", "")  # fmt: skip
        assert one["source"] in part
    assert "In all, above Delaware's ceiling of 120 lb N/ac" in part
    assert "Within the ceilings in print: early Maryland " in part
    fine = text_of(record(PUSH, units=units))
    assert "'s ceiling of" not in fine
    assert "Kentucky 50 lb N/ac" in fine


def test_no_ceilings_where_no_rates_are_shown() -> None:
    made = record(THIN)
    assert made["nitrogen"]["doses"] == []
    assert (made["nitrogen"]["ceilings"], made["nitrogen"]["ceilings_kept"]) == ([], "")


def test_a_picture_says_by_what_each_count_is_where_they_differ() -> None:
    """Plants by hand, shoots as the model counted them in the photo."""
    made = record(TARGET)
    counts = {"plants": 18.0, "shoots": 63.0}
    by = {"plants": "hand", "shoots": "corrected"}
    shot = {"spot": "2", "photo": "a.jpg", "overlay": True, "per_ft2": counts, "per_m2": counts}
    made["photos"] = [
        {"role": role, "how": "each", "by": by, **shot} for role in ("worst", "best", "only")
    ]
    (shown,) = photo_blocks(Speaker(made, load_words()), [b""] * 3)
    for _, caption, _ in shown.pictures:
        assert "18 plants (by hand) and 63 shoots (by photo, corrected by hand counts of" in plain(
            caption
        )
