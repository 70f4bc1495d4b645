"""Corners typed without the minus of the longitude: asked about, never turned silently."""

from __future__ import annotations

from pathlib import Path

import pytest

from tillercount.errors import InputError
from tillercount.plan import read_field
from tillercount.plan.degrees import place_words
from tillercount.twoforms import on_paper

WEST = "39.10,-97.20 39.10,-97.19 39.09,-97.19"


def test_a_longitude_without_its_minus_is_asked_about() -> None:
    field = read_field(WEST.replace("-", ""))
    assert field.ground.lon > 0  # planned as typed
    assert "39.1° N, 97.2° E, in Asia" in field.doubt
    assert "write it, or W behind the degrees (-97.20 or 97.20W)" in field.doubt
    paper = on_paper(field.doubt)  # where nobody can type anything
    assert paper.endswith("the minus of the longitude was lost, and this map is of another place")


@pytest.mark.parametrize(
    "corners",
    [
        WEST,
        "39.10,97.20W 39.10,97.19W 39.09,97.19W",
        "39.10,97.20E 39.10,97.19E 39.09,97.19E",  # said so
        "51.50,10.20 51.50,10.19 51.49,10.19",  # with a minus it would be in the sea
        "-33.80,118.20 -33.80,118.19 -33.79,118.19",
    ],
)
def test_nothing_is_asked_where_nothing_is_odd(corners: str) -> None:
    assert read_field(corners).doubt == ""


def test_in_a_table_too(tmp_path: Path) -> None:
    file = tmp_path / "field.csv"
    file.write_text("lat,lon\n39.10,97.20\n39.10,97.19\n39.09,97.19\n", encoding="utf-8")
    assert "field.csv: the field lies at 39.1° N, 97.2° E" in read_field(file).doubt


def test_a_table_takes_the_letters_that_are_asked_for(tmp_path: Path) -> None:
    file = tmp_path / "field.csv"
    said = {}
    for letter in ("E", "W", " w", "°E"):
        rows = "".join(f"39.{n}N,97.{m}{letter}\n" for n, m in ((10, 20), (10, 19), (11, 19)))
        file.write_text(f"lat,lon\n{rows}", encoding="utf-8")
        field = read_field(file)
        said[letter] = field.doubt, field.ground.lon > 0
    assert said == {"E": ("", True), "W": ("", False), " w": ("", False), "°E": ("", True)}
    file.write_text("lat,lon\n39.10N,97.2X\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"'97.2X' isn't a number"):
        read_field(file)


@pytest.mark.parametrize(
    ("lon", "lat", "words"),
    [
        (96.1, 41.2, "41.2° N, 96.1° E, in Asia"),
        (-96.1, 41.2, "41.2° N, 96.1° W, in North America"),
        (-60.0, -34.0, "34.0° S, 60.0° W, in South America"),
        (2.3, 48.9, "48.9° N, 2.3° E, in Europe, the Near East or Africa"),
        (148.0, -33.0, "33.0° S, 148.0° E, in Australia or New Zealand"),
    ],
)
def test_where_on_earth(lon: float, lat: float, words: str) -> None:
    assert place_words(lon, lat) == words


def test_typed_corners_get_the_name_given() -> None:
    field = read_field(WEST, " Creek  field")
    assert (field.name, field.named) == ("Creek field", True)
    assert read_field(WEST).name == "the field"
