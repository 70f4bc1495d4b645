"""Metric figures behind US ones, by the unit alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.report.fields import CLOSE, THIN, record, spots
from tests.report.reading import text_of
from tillercount.report.inmetric import beside, own_figures, own_rates
from tillercount.report.language import load_words
from tillercount.report.record import build_record
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import assess
from tillercount.stand.topdress import topdress


@pytest.mark.parametrize(
    ("text", "with_metric"),
    [
        # 1 lb/ac = 1.12085 kg/ha
        ("40 lb N/ac now", "40 lb N/ac (45 kg N/ha) now"),
        ("up to 1,000 lb/ac", "up to 1,000 lb/ac (1121 kg/ha)"),
        # a bushel of wheat is 60 lb, 27.2 kg: 1 bu/ac = 0.06725 t/ha, 1 lb N/bu = 16.67 kg N/t
        ("15-78 bu/ac", "15-78 bu/ac (1.0-5.2 t/ha)"),
        ("1.1-1.5 lb N per bushel", "1.1-1.5 lb N per bushel (18-25 kg N/t)"),
        # 1 m² = 10.7639 ft²
        (
            "between 15 and 18 plants per square foot",
            "between 15 and 18 plants per square foot (161 and 194 per m²)",
        ),
        ("23-49 heads/ft²", "23-49 heads/ft² (248-527 per m²)"),
        ("plants per ft², borders 18-35", "plants per ft², borders 18-35 (194-377 per m²)"),
        ("about 3.7 of them per ft²: scout", "about 3.7 of them per ft² (40 per m²): scout"),
        ("10 gal/ac", "10 gal/ac (94 L/ha)"),  # 1 US gallon = 3.78541 L
        ("above 50 °F", "above 50 °F (10 °C)"),
        ("at least 15 °C (59 °F)", "at least 15 °C (59 °F)"),  # its author did so
        ("65.22 lb of urea per acre", "65.22 lb of urea per acre (73 kg/ha)"),
        ("107.1 lb of UAN 28 per acre", "107.1 lb of UAN 28 per acre (120 kg/ha)"),
        ("10.04 gal per acre", "10.04 gal per acre (94 L/ha)"),
        ("1,246 lb for the field", "1,246 lb for the field (565 kg)"),
        ("times 33.71 ac", "times 33.71 ac (13.64 ha)"),  # 1 ac = 0.404686 ha
        ("1/1000 ac", "1/1000 ac"),
        ("10.67 lb per gallon", "10.67 lb per gallon (1.28 kg/L)"),
        ("2.988 lb N per gallon", "2.988 lb N per gallon (0.358 kg N/L)"),
        ("44-48 lb per cubic foot", "44-48 lb per cubic foot (0.705-0.769 kg/L)"),
        ("800 miles away", "800 miles (1287 km) away"),
        # said already, or a unit that doesn't say what it is
        ("40 lb N/ac (45 kg N/ha)", "40 lb N/ac (45 kg N/ha)"),
        ("no more than 120 lb in spring", "no more than 120 lb in spring"),
        ("350 °F-days", "350 °F-days"),
        ("20 lb N/acre-foot", "20 lb N/acre-foot"),
        # there to be typed, or somebody's own words
        (
            "give one like --yield-goal '80 bu/ac'; 40 lb N/ac",
            "give one like --yield-goal '80 bu/ac'; 40 lb N/ac (45 kg N/ha)",
        ),
        ("--yield-goal 80.5 bu/ac, or 40 ft", "--yield-goal 80.5 bu/ac, or 40 ft (12 m)"),
        ("rules 'mine, 40 lb N/ac' don't say", "rules 'mine, 40 lb N/ac' don't say"),
        (
            "it doesn't reach the growers' 40 lb N/ac, he didn't say",
            "it doesn't reach the growers' 40 lb N/ac (45 kg N/ha), he didn't say",
        ),
    ],
)
def test_beside(text: str, with_metric: str) -> None:
    assert beside(text) == with_metric
    assert beside(with_metric) == with_metric


def test_a_bushel_of_barley_is_lighter() -> None:
    assert beside("80 bu/ac", "barley") == "80 bu/ac (4.3 t/ha)"  # 48 lb
    assert beside("80 bu/ac", "teff") == "80 bu/ac"  # no bushel weight known


def page(made: dict[str, object]) -> str:
    return text_of(report_html(make_sheet(made, load_words())))


def test_a_quoted_command_never_reaches_a_metric_page() -> None:
    a = assess(spots((31, 30, 32, 31, 29, 31, 30, 32, 31, 30)), stage="Feekes 3", name="Far field")
    bare = topdress(a.rules, assessment=a, stage=a.stage)
    text = page(build_record(a, bare, units="metric"))
    assert "bu/ac (5.4 t/ha)" not in text
    assert "No pounds of nitrogen can be said without a yield goal." in text


def test_one_figure_for_one_mean_and_one_for_one_line() -> None:
    """The mean of 28.2 per ft² is 304 per m², not the 301 of a rounded 28; 27 of 28 is 292."""
    plants = (30, 25, 33, 26, 31, 24.3)
    photos = [replace(one, source="photo", photo=f"{one.spot}.jpg") for one in spots(plants)]
    made = build_record(assess(photos, stage="Feekes 3", name="Far field"), units="metric")
    text = page(made)
    assert "Plants: 304 per m²" in text
    assert "28 per square foot (304 per m²) would be 23 to 27 (245 to 292 per m²)" in text
    assert "the border of 27 plants per square foot (290.6 per m²)" in text
    assert "301 per m²" not in text
    assert "291 per m²" not in text
    assert text.count("can be some 25 % too many") == 1


def test_what_others_say_of_28_is_28() -> None:
    made = record(CLOSE, units="metric")
    assert own_figures(made["evidence"])["26.7"] == "287"
    assert "26.7" not in own_figures(made["evidence"], means=False)
    assert own_figures(made["evidence"], means=False) == {
        "18": "193.8", "27": "290.6", "35": "376.7",
    }  # fmt: skip


def test_one_figure_for_one_rate() -> None:
    """17.84 lb are 20 kg, which 18 aren't by much, and 4.16 are 4.7."""
    rates = own_rates([(4.156, 18.156), (66.0, 84.4), None, (0.0, 17.8)])
    assert beside("4-18 lb N/ac more", figures=rates) == "4-18 lb N/ac (5-20 kg N/ha) more"
    assert beside("66-84 lb N/ac", figures=rates) == "66-84 lb N/ac (74-95 kg N/ha)"
    assert beside("66-84 lb N/ac") == "66-84 lb N/ac (74-94 kg N/ha)"
    assert beside("up to 18 lb N/ac", figures=rates) == "up to 18 lb N/ac (20 kg N/ha)"
    assert own_rates([(66.0, 84.4), (66.0, 83.6)]) == {}  # 95 and 94


def test_a_text_for_two_figures_is_converted_as_any_other() -> None:
    made = record(THIN)["evidence"]
    one = {"bands": [], "per_ft2": made[0]["per_ft2"], "per_m2": made[0]["per_m2"]}
    other = one | {
        "per_m2": {end: v + 5 for end, v in one["per_m2"].items() if end in "meanlowhigh"}
    }
    assert own_figures([one]) != {}
    assert own_figures([one, other]) == {}
