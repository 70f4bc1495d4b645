"""Rule files: what they say at their borders, and what a bad one is told."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import pytest

from tillercount.errors import InputError
from tillercount.stand import check_rules, describe, list_rules, load_rules

# density per ft² -> class, just under, at and just over each border
BORDERS = {
    # facts of the trade, no published source
    ("common-practice", "plants"): [
        (0, "rotate"),
        (15, "rotate"),
        (17.99, "rotate"),
        (18, "rotate"),
        (18.01, "push"),
        (26.99, "push"),
        (27, "target"),
        (27.01, "target"),
        (34.99, "target"),
        (35, "target"),
        (35.01, "thick"),
    ],
    # Penn State Extension, Wheat Stand Assessment
    ("pennsylvania-stand", "plants"): [
        (11.99, "replant"),
        (12, "replant"),
        (14.99, "replant"),
        (15, "thin"),
        (18, "thin"),
        (18.01, "near full"),
        (21.99, "near full"),
        (22, "full"),
        (30, "full"),
        (35, "full"),
        (35.01, "above table"),
    ],
    # the same, and Early Season Wheat Assessment
    ("pennsylvania-stand", "shoots"): [
        (60, "few tillers"),
        (69.99, "few tillers"),
        (70, "enough tillers"),
        (90, "enough tillers"),
        (90.01, "many tillers"),
    ],
    # Virginia Tech crop and soil newsletter, February 2005
    ("virginia-nitrogen", "shoots"): [
        (49.99, "few tillers"),
        (50, "middle"),
        (60, "middle"),
        (99.99, "middle"),
        (100, "enough tillers"),
    ],
    # University of Missouri Extension
    ("missouri-nitrogen", "shoots"): [
        (59.99, "urgent"),
        (60, "urgent"),
        (60.01, "useful"),
        (89.99, "useful"),
        (90, "wait"),
    ],
    # University of Kentucky 2011, 2013, 2019
    ("kentucky-stand", "plants"): [
        (14.99, "rotate"),
        (15, "reduced"),
        (24.99, "reduced"),
        (25, "full"),
    ],
    ("kentucky-stand", "shoots"): [
        (69.99, "few tillers"),
        (70, "adequate"),
        (100, "adequate"),
        (100.01, "excessive"),
    ],
    # University of Minnesota 2015 and 2021
    ("minnesota-stand", "plants"): [
        (14.99, "replant"),
        (15, "keep if even"),
        (18, "keep if even"),
        (18.01, "keep"),
        (29.99, "keep"),
        (30, "full"),
    ],
}


@pytest.mark.parametrize(("name", "measures"), BORDERS)
def test_borders(name: str, measures: str) -> None:
    rule = load_rules(name).rule(measures)
    assert rule is not None
    for density, class_ in BORDERS[name, measures]:
        assert rule.bands[rule.index_of(density)].class_ == class_, density


def test_every_border_is_tested() -> None:
    for rules in list_rules():
        for rule in rules.rules:
            tested = [density for density, _ in BORDERS[rules.name, rule.measures]]
            assert set(rule.borders) <= set(tested), (rules.name, rule.measures)


def test_opposite_advice_at_the_same_number() -> None:
    """At 60 tillers/ft² Missouri says urgent, Virginia 30-40 lb, Pennsylvania low."""
    early = {}
    for name in ("missouri-nitrogen", "virginia-nitrogen", "pennsylvania-stand"):
        rule = load_rules(name).rule("shoots")
        assert rule is not None
        early[name] = rule.bands[rule.index_of(60)]
    assert early["missouri-nitrogen"].early == "push"
    assert early["virginia-nitrogen"].early_n_lb_ac == (30, 40)
    assert early["pennsylvania-stand"].early == "push"


def test_percent_of_yield_in_pennsylvania() -> None:
    """Penn State's table, holes filled from below: 12-14, 15-18, 18-21, 22-28, 30-35."""
    rule = load_rules("pennsylvania-stand").rule("plants")
    assert rule is not None
    for density, percent in ((13, (60, 70)), (14.5, (60, 70)), (16, (75, 80)), (18, (75, 80)),
                             (20, (90, 95)), (21.5, (90, 95)), (25, (100, 100)),
                             (29, (100, 100)), (33, (100, 100)), (40, None)):  # fmt: skip
        assert rule.bands[rule.index_of(density)].yield_percent == percent, density


def test_common_practice_figures() -> None:
    """Facts of the trade, no published source."""
    rules = load_rules("common-practice")
    assert rules.mark == "common practice"
    assert rules.heads is not None
    assert rules.yield_per_head is not None
    assert rules.nitrogen is not None
    assert (rules.heads.wanted, rules.heads.optimum) == (40, (60, 80))
    assert rules.yield_per_head.bu_per_head == (1.3, 1.6)
    assert rules.nitrogen.lb_per_bu == (1.1, 1.5)
    assert rules.nitrogen.uptake_share_f6_f10 == (0.70, 0.75)


def test_shipped_files() -> None:
    folder = resources.files("tillercount.stand") / "rules"
    names = {f.name.removesuffix(".toml") for f in folder.iterdir() if f.name.endswith(".toml")}
    assert {rules.name for rules in list_rules()} == names
    assert list_rules()[0].name == "common-practice"
    for rules in list_rules():
        assert rules.crops
        assert rules.stage.feekes[0] <= rules.stage.feekes[1]
        for rule in rules.rules:
            assert rules.sources_of(rule)
            for band in rule.bands:
                assert band.say, (rules.name, band.class_)
        labels = [label for label, _ in describe(rules)]
        assert labels[:3] == ["Name", "Title", "Publisher"]


def test_range_texts() -> None:
    rule = load_rules("common-practice").rules[0]
    assert [rule.range_text(i) for i in range(4)] == [
        "18 or fewer",
        "more than 18, fewer than 27",
        "27 to 35",
        "more than 35",
    ]


def test_unknown_name_lists_the_known() -> None:
    with pytest.raises(InputError, match=r"'nowhere' isn't known; known: common-practice, ken"):
        load_rules("nowhere")


GOOD = """
format = "tillercount.rules/1"
name = "mine"
title = "Mine"
publisher = "Me"
region = "Here"
crops = ["wheat"]
mark = "common practice"
stage = { from = "Feekes 2", to = "GS30" }
counting = { main_stem = "out", min_leaves = 0 }
[[rules]]
measures = "shoots"
unit = "m2"
  [[rules.bands]]
  class = "low"
  name = "low"
  to = 500
  [[rules.bands]]
  class = "high"
  name = "high"
"""


def test_a_users_own_file(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(GOOD, encoding="utf-8")
    rules = load_rules(path)
    assert rules == check_rules(str(path))
    assert rules.rules[0].range_text(0) == "fewer than 500"
    assert load_rules(rules) is rules


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (('name = "mine"', "name = mine"), r"line 3"),
        (('region = "Here"\n', ""), r"mine\.toml, region: this key is missing"),
        (('region = "Here"', 'regoin = "Here"'), r"this key is missing \(and 1 more\)"),
        (('title = "Mine"', 'title = "Mine"\ncolor = "red"'), r"color: no such key"),
        (("to = 500", 'to = "many"'), r"rules\[1\]\.bands\[1\]\.to:"),
        (("to = 500", "to = -5"), r"rules\[1\]\.bands\[1\]\.to:"),
        (("to = 500", "to = nan"), r"rules\[1\]"),
        (("  to = 500\n", ""), r"band 1 has no 'to'"),
        (('name = "high"', 'name = "high"\n  to = 900'), "last band must be open"),
        (
            ('name = "high"', 'name = "high"\n  to = 400\n[[rules.bands]]\nclass="x"\nname="x"'),
            r"band 2: 'to' = 400 must lie above 500",
        ),
        (('to = "GS30"', 'to = "F1"'), "window runs backwards"),
        (('from = "Feekes 2"', 'from = "early"'), r"stage\.from: stage 'early' can't be read"),
        (("min_leaves = 0", "min_leaves = 2"), "known leaf minimums are 0"),
        (('mark = "common practice"', 'mark = "seen"'), "need their publication"),
        (('mark = "common practice"', 'mark = "rumour"'), "mark:"),
        (('unit = "m2"', 'unit = "m2"\nsources = ["A"]'), "names source 'A'"),
        (('crops = ["wheat"]', "crops = []"), "crops:"),
        (('"tillercount.rules/1"', '"tillercount.rules/9"'), "format:"),
        (('name = "mine"', 'name = "My Rules"'), "name:"),
    ],
)
def test_bad_files(tmp_path: Path, change: tuple[str, str], says: str) -> None:
    assert change[0] in GOOD
    path = tmp_path / "mine.toml"
    path.write_text(GOOD.replace(*change, 1), encoding="utf-8")
    with pytest.raises(InputError, match=says) as caught:
        check_rules(path)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="can't be read"):
        check_rules(tmp_path / "none.toml")
    (tmp_path / "b.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="not a text file"):
        check_rules(tmp_path / "b.toml")
