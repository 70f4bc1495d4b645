"""Each rule file just under, at and just over each of its borders, and what it refuses."""

from __future__ import annotations

import pytest

from tests.stand.fields import field, shoots_only
from tillercount.errors import InputError
from tillercount.stand import assess, list_rules, load_rules
from tillercount.stand.compare import compare

IN, OUT = "in", "out"  # whether the border itself still belongs to the class before it

# Class, border, whose it is, class, border, ... as read in the publications, holes in the lower
# band; in the unit of the publication.
BORDERS: dict[tuple[str, str], tuple[object, ...]] = {
    # facts of the trade, no published source
    ("common-practice", "plants"): ("rotate", 18, IN, "push", 27, OUT, "target", 35, IN, "thick"),
    # University of Delaware, Weekly Crop Update 2018, quoting Virginia
    ("delaware-nitrogen", "shoots"): (
        "few tillers", 50, OUT, "between", 100, IN, "enough tillers",
    ),
    # University of Georgia Extension, county page, January 2014
    ("georgia-county-nitrogen", "shoots"): ("few tillers", 80, IN, "enough tillers"),
    # Georgia's 2011 wheat crop needs special attention
    ("georgia-nitrogen", "shoots"): (
        "few tillers", 70, OUT, "below the aim", 80, OUT, "as wanted", 100, IN, "above the aim",
    ),
    # Seminole County crop news, January 2014
    ("georgia-seminole-nitrogen", "shoots"): ("two halves", 100, OUT, "one dose"),
    # Teagasc in Agriland, per m²
    ("ireland-barley-shoots", "shoots"): (
        "below the aim", 1000, OUT, "as wanted", 1200, IN, "above the aim",
    ),
    # Kansas State University 2018, percent of a normal stand
    ("kansas-replant", "plants"): ("replant", 40, OUT, "judge", 50, OUT, "keep"),
    # University of Kentucky 2011, 2013, 2019
    ("kentucky-stand", "plants"): ("rotate", 15, OUT, "reduced", 25, OUT, "full"),
    ("kentucky-stand", "shoots"): ("few tillers", 70, OUT, "adequate", 100, IN, "excessive"),
    # a Mid-South cooperative 2021, per yd²
    ("midsouth-nitrogen", "shoots"): (
        "two doses", 500, IN, "between", 700, OUT, "enough tillers",
    ),
    # University of Minnesota 2015 and 2021
    ("minnesota-stand", "plants"): (
        "replant", 15, OUT, "keep if even", 18, IN, "keep", 30, OUT, "full",
    ),
    # University of Missouri Extension
    ("missouri-nitrogen", "shoots"): ("urgent", 60, IN, "useful", 90, OUT, "wait"),
    # Mueller, University of Nebraska Extension 2018
    ("nebraska-stand", "plants"): (
        "replant", 12, OUT, "variable", 15, OUT, "reaches the goal", 22, OUT, "good",
    ),
    # Johnston County extension 2011
    ("north-carolina-johnston-nitrogen", "shoots"): ("few tillers", 50, OUT, "50 or more"),
    # NCDA&CS news release, 17 February 2010
    ("north-carolina-ncdacs-nitrogen", "shoots"): (
        "few tillers", 50, OUT, "middle", 70, IN, "enough tillers",
    ),
    # Sampson County extension 2016
    ("north-carolina-sampson-nitrogen", "shoots"): (
        "very few tillers", 30, OUT, "few tillers", 50, OUT, "on the way", 100, OUT,
        "enough tillers",
    ),
    # NDSU Crop and Pest Report, May 2007
    ("north-dakota-spring-wheat", "plants"): ("replant", 8, OUT, "keep"),
    # Ohio State University 2013 and 2015
    ("ohio-stand", "shoots"): ("below the minimum", 15, OUT, "reduced", 25, OUT, "enough"),
    # Ohio State University 2018: 37, 51, 69, 90, 118 stems for 60 to 100 bushels
    ("ohio-stems", "shoots"): (
        "under 60 bu", 37, OUT, "60-70 bu", 51, OUT, "70-80 bu", 69, OUT, "80-90 bu", 90, OUT,
        "90-100 bu", 118, OUT, "100 bu",
    ),
    # an Ontario adviser, per foot of row: 7 or fewer, 8-10, 11 or more, 15
    ("ontario-adviser-stand", "plants"): (
        "end it", 8, OUT, "weigh", 11, OUT, "keep", 15, OUT, "ideal",
    ),
    # OMAFRA 2012 (Smid 1986-90), per foot of row: 5, 6, 7, 10, 20
    ("ontario-stand", "plants"): (
        "replant", 5, OUT, "replant", 6, OUT, "replant", 7, OUT, "keep if even", 10, OUT, "keep",
        20, OUT, "full",
    ),
    # Penn State Extension, Wheat Stand Assessment
    ("pennsylvania-stand", "plants"): (
        "replant", 12, OUT, "replant", 15, OUT, "thin", 18, IN, "near full", 22, OUT, "full", 30,
        OUT, "full", 35, IN, "above table",
    ),
    # the same, and Early Season Wheat Assessment
    ("pennsylvania-stand", "shoots"): (
        "few tillers", 70, OUT, "enough tillers", 90, IN, "many tillers",
    ),
    # Clemson University, February 2018
    ("south-carolina-nitrogen", "shoots"): ("split", 50, IN, "one dose"),
    # South Dakota 2019, percent of a normal stand
    ("south-dakota-percent", "plants"): (
        "under 40 % of normal", 40, OUT, "40-50 % of normal", 50, OUT,
        "50-80 % of normal", 80, OUT, "80 % of normal or more",
    ),
    # South Dakota 2014
    ("south-dakota-stand", "plants"): (
        "replant", 5, OUT, "at the limit", 6, IN, "keep", 18, OUT, "best",
    ),
    # UK distributor 2020 quoting AHDB, per m²
    ("uk-stand", "plants"): (
        "replace if weedy", 50, OUT, "thin", 200, IN, "normal", 260, OUT, "at the benchmark",
    ),
    # Virginia Tech crop and soil newsletter, February 2005
    ("virginia-nitrogen", "shoots"): ("few tillers", 50, OUT, "middle", 100, OUT, "enough tillers"),
    # Growing winter wheat in western Canada
    ("western-canada-stand", "plants"): (
        "below 8", 8, OUT, "needs care", 10, OUT, "profitable", 20, IN, "good",
    ),
    # Rankin, University of Wisconsin 2014-15
    ("wisconsin-stand", "plants"): ("replant", 12, OUT, "at the limit", 15, OUT, "keep"),
    ("wisconsin-stand", "shoots"): ("few tillers", 70, OUT, "enough tillers"),
}  # fmt: skip


@pytest.mark.parametrize(("name", "measures"), BORDERS)
def test_borders(name: str, measures: str) -> None:
    """A tenth of a percent under the border, on it, and a tenth of a percent over it."""
    rule = load_rules(name).rule(measures)
    assert rule is not None
    parts = BORDERS[name, measures]
    assert rule.borders == parts[1::3]
    for place in range(1, len(parts), 3):
        border, owner = parts[place], parts[place + 1]
        before, after = parts[place - 1], parts[place + 2]
        assert isinstance(border, int)
        found = [rule.bands[rule.index_of(border * k)].class_ for k in (0.999, 1.0, 1.001)]
        assert found == [before, before if owner == IN else after, after], border
    assert rule.bands[rule.index_of(0.0)].class_ == parts[0]
    assert rule.bands[rule.index_of(1e6)].class_ == parts[-1]


def test_every_rule_is_in_the_table() -> None:
    have = {(rules.name, rule.measures) for rules in list_rules() for rule in rules.rules}
    assert have == set(BORDERS)
    assert len({name for name, _ in BORDERS if name != "common-practice"}) >= 12


NAMES = [rules.name for rules in list_rules()]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("crop", ["barley", "rye", "oats", "triticale", "forage", "wheat"])
def test_crops_refused_and_insisted_on(name: str, crop: str) -> None:
    rules = load_rules(name)
    if rules.covers(crop):
        return
    counts = field([20, 21, 22, 20])
    with pytest.raises(InputError, match=f"not validated for {crop}.*insist"):
        assess(counts, name, crop=crop)
    row = [r for r in compare(counts, crop=crop, insist=True).rows if r.rules.name == name]
    for one in row:
        assert one.warning.startswith(f"Not validated for {crop}")
        assert one.to_json()["validated"] is False
    out = [one for one in compare(counts, crop=crop).left_out if one.rules.name == name]
    assert out


@pytest.mark.parametrize("name", NAMES)
def test_what_was_not_counted_is_refused(name: str) -> None:
    rules = load_rules(name)
    crop = rules.crops[0]
    if rules.rule("shoots") is None and rules.rules:
        with pytest.raises(InputError, match=r"plants|row spacing|normal stand"):
            assess(shoots_only([60, 61, 62]), name, crop=crop)
    elif rules.rule("plants") is None:
        says = "shoots|judge no density"
        with pytest.raises(InputError, match=says):
            assess(field([20, 21, 22], each=None), name, crop=crop)
    else:  # both: each does by itself
        assert assess(field([20, 21, 22], each=None), name, crop=crop).shoots is None
        assert assess(shoots_only([60, 61, 62]), name, crop=crop).plants is None


@pytest.mark.parametrize("name", NAMES)
def test_stage_outside_the_window_is_left_out(name: str) -> None:
    rules = load_rules(name)
    counts = field([20, 21, 22])
    result = compare(counts, crop=rules.crops[0], stage="Feekes 10")
    assert not result.rows
    assert name in {one.rules.name for one in result.left_out}


@pytest.mark.parametrize("name", ["virginia-nitrogen", "north-carolina-sampson-nitrogen"])
def test_three_leaf_rules_refuse_every_shoot(name: str) -> None:
    with pytest.raises(InputError, match=r"3 leaves or more.*can't be worked out.*by hand"):
        assess(field([25, 26, 24]), name)


@pytest.mark.parametrize(
    ("name", "local", "border"),
    [
        ("ontario-stand", "7.5in", 11.2),  # 7 per foot of a 7.5-in row
        ("ontario-stand", "6in", 14.0),
        ("ontario-adviser-stand", "7.5in", 12.8),
        ("kansas-replant", "25/ft2", 10.0),
        ("south-dakota-percent", "28/ft2", 11.2),
    ],
)
def test_thresholds_that_need_the_field(name: str, local: str, border: float) -> None:
    counts = field([20, 21, 22, 20])
    with pytest.raises(InputError, match=f"row spacing|normal stand.*--rules {name}@"):
        assess(counts, name)
    rule = load_rules(f"{name}@{local}").rules[0]
    assert rule.unit == "ft2"
    assert border in rule.class_borders
    found = [rule.bands[rule.index_of(border + d)].class_ for d in (-0.01, 0.0, 0.01)]
    assert found[0] != found[1] == found[2]
    assert "turned to per ft²" in rule.note
    assert assess(counts, f"{name}@{local}").plants is not None
    with pytest.raises(InputError, match="row spacing"):
        load_rules(f"{name}@wide")
