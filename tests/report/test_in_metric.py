"""Metric figures behind US ones, by the unit alone."""

from __future__ import annotations

import pytest

from tillercount.report.inmetric import beside


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
        ("23-49 heads/ft2", "23-49 heads/ft2 (248-527 per m²)"),
        ("plants per ft2, borders 18-35", "plants per ft2, borders 18-35 (194-377 per m²)"),
        ("10 gal/ac", "10 gal/ac (94 L/ha)"),  # 1 US gallon = 3.78541 L
        ("above 50 °F", "above 50 °F (10 °C)"),
        ("800 miles away", "800 miles (1287 km) away"),
        # said already, or a unit that doesn't say what it is
        ("40 lb N/ac (45 kg N/ha)", "40 lb N/ac (45 kg N/ha)"),
        ("no more than 120 lb in spring", "no more than 120 lb in spring"),
        ("350 °F-days", "350 °F-days"),
        ("20 lb N/acre-foot", "20 lb N/acre-foot"),
    ],
)
def test_beside(text: str, with_metric: str) -> None:
    assert beside(text) == with_metric
    assert beside(with_metric) == with_metric


def test_a_bushel_of_barley_is_lighter() -> None:
    assert beside("80 bu/ac", "barley") == "80 bu/ac (4.3 t/ha)"  # 48 lb
    assert beside("80 bu/ac", "teff") == "80 bu/ac"  # no bushel weight known
