"""Where rules hold, and fields elsewhere."""

from __future__ import annotations

from pathlib import Path

import pytest

from tillercount.errors import InputError
from tillercount.stand import check_rules, list_rules, load_rules
from tillercount.stand.where import Box, miles_outside, named_at, outside

KANSAS = (38.03, -98.71)
# Cities inside, by any atlas; rounded to a tenth of a degree.
CITIES = {
    "Delaware": (39.2, -75.5), "Maryland": (39.0, -76.5), "New Jersey": (40.2, -74.8),
    "Pennsylvania": (40.3, -76.9), "Virginia": (37.5, -77.4), "Georgia": (33.7, -84.4),
    "Ireland": (53.3, -6.3), "Kansas": (39.0, -95.7), "Kentucky": (38.2, -84.9),
    "Arkansas": (34.7, -92.3), "Tennessee": (36.2, -86.8), "Mississippi": (32.3, -90.2),
    "Missouri": (38.6, -92.2), "Minnesota": (45.0, -93.1), "North Dakota": (46.8, -100.8),
    "Nebraska": (40.8, -96.7), "North Carolina": (35.8, -78.6), "Ohio": (40.0, -83.0),
    "Indiana": (39.8, -86.2), "Michigan": (42.7, -84.6), "Oklahoma": (35.5, -97.5),
    "Ontario": (43.7, -79.4), "South Carolina": (34.0, -81.0), "South Dakota": (44.4, -100.3),
    "United Kingdom": (51.5, -0.1), "Washington": (47.0, -122.9), "Manitoba": (49.9, -97.1),
    "Saskatchewan": (50.4, -104.6), "Alberta": (53.5, -113.5), "Wisconsin": (43.1, -89.4),
}  # fmt: skip


def test_every_set_says_where_and_each_capital_lies_in_its_box() -> None:
    names = set()
    for rules in list_rules():
        assert rules.where, rules.name
        for box in rules.where:
            assert box.away_m(*CITIES[box.name]) == 0.0, box.name
            assert rules.holds_in(box.name), (rules.name, box.name)
            names.add(box.name)
    assert names == set(CITIES)


def test_kansas_is_outside_the_mid_atlantic_and_is_told_where_to_look() -> None:
    text = outside(load_rules("common-practice"), [KANSAS], list_rules())
    assert "Delaware, Maryland, New Jersey, Pennsylvania and Virginia" in text
    assert "lies outside" in text
    assert "--region Kansas" in text
    assert outside(load_rules("kansas-replant"), [KANSAS], list_rules()) == ""


def test_thirty_miles_of_grace() -> None:
    """A degree of latitude is 69 miles: 0.4 is 28 miles off, 0.5 is 35."""
    kansas = load_rules("kansas-replant")
    assert outside(kansas, [(40.9, -98.0)], list_rules()) == ""
    assert "about 30 miles" in outside(kansas, [(41.0, -98.0)], list_rules())
    assert miles_outside(kansas, 41.0, -98.0) == pytest.approx(34.5, abs=0.5)


def test_one_wrong_position_of_three_says_nothing() -> None:
    kansas = load_rules("kansas-replant")
    assert outside(kansas, [KANSAS, (0.0, 0.0), KANSAS], list_rules()) == ""
    assert outside(kansas, [], list_rules()) == ""


def test_smaller_of_two_boxes_first() -> None:
    assert named_at(39.5, -75.5, list_rules())[0] == "Delaware"
    assert named_at(0.0, 0.0, list_rules()) == []
    at_sea = outside(load_rules("uk-stand"), [(0.0, 0.0)], list_rules())
    assert "no other here was published for there; none near by either; the local ext" in at_sea


def test_a_field_where_only_nitrogen_rules_hold_is_shown_what_is_near() -> None:
    """`rules compare` for Indiana judges no stand."""
    indiana = (40.0, -86.1)
    text = outside(load_rules("common-practice"), [indiana], list_rules())
    assert "--region" not in text
    assert "near by: ohio-stand (Ohio); ohio-stems (Ohio); kentucky-stand (Kentucky)" in text
    assert "the local extension service says which limits hold there" in text
    # one that judges none itself is shown those that give nitrogen
    assert "--region Indiana" in outside(load_rules("kansas-nitrogen"), [indiana], list_rules())
    assert "near by: uk-stand" not in outside(load_rules("uk-stand"), [(48.0, 2.0)], list_rules())


def own(tmp_path: Path, where: str) -> Path:
    source = Path("tillercount/stand/rules/kansas-nitrogen.toml")
    text = (Path(__file__).parents[2] / source).read_text()
    start = text.index("where = [")
    end = text.index("\n]\n", start) + 3
    path = tmp_path / "kansas-nitrogen.toml"
    path.write_text(text[:start] + where + text[end:])
    return path


@pytest.mark.parametrize(
    ("box", "wrong"),
    [
        ('name = "K", lat = [40.5, 36.5], lon = [-102.5, -94.5]', "lat.*smaller one first"),
        ('name = "K", lat = [36.5, 40.5], lon = [-202.5, -94.5]', "lon.*-180 to 180"),
        ('name = "K", lat = [36.5, 40.5]', "lon: this key is missing"),
        ('nam = "K", lat = [36.5, 40.5], lon = [-102.5, -94.5]', "no such key"),
    ],
)
def test_check_names_what_is_wrong(tmp_path: Path, box: str, wrong: str) -> None:
    with pytest.raises(InputError, match=f"line [0-9]+, where.*{wrong}"):
        check_rules(own(tmp_path, f"where = [{{ {box} }}]\n"))


def test_without_where_nothing_is_said(tmp_path: Path) -> None:
    rules = check_rules(own(tmp_path, ""))
    assert rules.where == ()
    assert outside(rules, [(0.0, 0.0)], list_rules()) == ""


def test_box_distance() -> None:
    box = Box(name="x", lat=(0.0, 1.0), lon=(0.0, 1.0))
    assert box.away_m(0.5, 0.5) == 0.0
    assert box.away_m(2.0, 0.5) == pytest.approx(111_195, rel=1e-3)
