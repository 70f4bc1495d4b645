"""Rule files: what they say at their borders, and what a bad one is told."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import pytest

from tillercount.errors import InputError
from tillercount.stand import check_rules, describe, list_rules, load_rules


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


def test_a_name_nearly_right() -> None:
    with pytest.raises(InputError, match="did you mean 'ohio-stems'"):
        load_rules("ohio-stem")


def test_unknown_name_lists_the_known() -> None:
    with pytest.raises(InputError, match=r"'nowhere' isn't known; known: common-practice, del"):
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
        (
            ('region = "Here"', 'regoin = "Here"'),
            r"mine\.toml, line 6, regoin: no such key; write 'region' \(and 1 more\)",
        ),
        (('title = "Mine"', 'title = "Mine"\ncolor = "red"'), r"line 5, color: no such key"),
        (("to = 500", 'to = "many"'), r"line 17, rules\[1\]\.bands\[1\]\.to:"),
        (("to = 500", "to = -5"), r"rules\[1\]\.bands\[1\]\.to:"),
        (("to = 500", "to = nan"), r"rules\[1\]"),
        (("  to = 500\n", ""), r"line 14, rules\[1\]\.bands\[1\]: band 1 has no 'to'"),
        (
            ('name = "high"', 'name = "high"\n  to = 900'),
            r"line 21, rules\[1\]\.bands\[2\]\.to: the last band must be open",
        ),
        (
            ('name = "high"', 'name = "high"\n  to = 400\n[[rules.bands]]\nclass="x"\nname="x"'),
            r"line 21, rules\[1\]\.bands\[2\]\.to: band 2: 'to' = 400 must lie above 500",
        ),
        (('to = "GS30"', 'to = "F1"'), r"line 9, stage: the window runs backwards"),
        (('from = "Feekes 2"', 'from = "early"'), r"stage\.from: stage 'early' can't be read"),
        (
            ("min_leaves = 0", "min_leaves = 2"),
            r"line 10, counting\.min_leaves: known leaf minimums are 0",
        ),
        (('mark = "common practice"', 'mark = "seen"'), r"line 8, mark: .*need their publication"),
        (('mark = "common practice"', 'mark = "rumour"'), "mark:"),
        (
            ('unit = "m2"', 'unit = "m2"\nsources = ["A"]'),
            r"line 14, rules\[1\]\.sources: .*names source 'A'",
        ),
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
