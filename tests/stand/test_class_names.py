"""A class's chance never stands under the name of one of several bands."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest

from tests.stand.fields import field
from tillercount.cli.verdict import show_assessment
from tillercount.errors import InputError
from tillercount.report.page import page_html
from tillercount.report.ruling import verdict_record
from tillercount.stand import Assessment, assess, check_rules, list_rules
from tillercount.stand.bands import Rule
from tillercount.stand.classify import Classified, classify
from tillercount.stand.compare import compare
from tillercount.stand.local import Local
from tillercount.stand.shares import band_shares, class_shares

NEAR_12 = field([12, 13, 11, 12.5, 11.5, 12.2])
NEAR_7_A_FOOT = field([11.2, 12, 10, 11, 11.5, 10.5], each=None)
REPLANT = 'class = "replant"\n  name = "at the replant limit or below"'
DENSITIES = (3.0, 9.0, 12.0, 14.8, 18.2, 22.0, 29.5, 36.0)


def bands_named(rule: Rule, name: str) -> set[int]:
    """Numbers of the bands that a name speaks of: a class's own name means all of its bands."""
    for one in rule.classes:
        if one.name == name:
            return {i for i, band in enumerate(rule.bands) if band.class_ == one.class_}
    own = {band.called: i for i, band in enumerate(rule.bands)}
    if name in own:
        return {own[name]}
    known = sorted(own, key=len, reverse=True)  # "a, b or c"
    found = re.findall("|".join(map(re.escape, known)), name)
    assert re.sub("|".join(map(re.escape, known)), "", name).strip(", or") == ""
    return {own[one] for one in found}


def holds(result: Classified) -> None:
    """Every name that a class goes by stands for the bands whose chance is shown."""
    shown = class_shares(result)
    for class_, share in result.probabilities.items():
        which = bands_named(result.rule, result.called(class_))
        exact = sum(result.band_probabilities[i] for i in which)
        left_out = sum(band.class_ == class_ for band in result.rule.bands) - len(which)
        assert exact == pytest.approx(share, abs=1e-9 + 0.01 * left_out)
        told = sum(band_shares(result)[i] for i in which)
        assert abs(shown[class_] - told) < 0.011 * (1 + left_out)


def test_in_every_rule_set_a_name_stands_for_the_bands_whose_share_it_has() -> None:
    several = 0
    for plants in DENSITIES:
        for own in (field([plants * x for x in (0.8, 1.0, 1.25, 0.9)]), field([plants] * 8)):
            for row in compare(own, insist=True, local=Local(190.5, 25 / 0.092903)).rows:
                holds(row.result)
                bare = row.result.rule.model_copy(update={"classes": ()})
                assert row.result.estimate is not None
                holds(classify(row.result.estimate, bare))  # as in a user's own file
                several += any(
                    len(row.result.bands_of(one, 0.05)) > 1 for one in row.result.probabilities
                )
    assert several > 5


def test_all_classes_of_several_bands_that_come_with_the_program_are_named() -> None:
    for rules in list_rules():
        for rule in rules.rules:
            for class_, own in itertools.groupby(rule.bands, key=lambda band: band.class_):
                assert (len(list(own)) > 1) == (rule.words_of(class_) is not None)


def texts(result: Assessment, capsys: pytest.CaptureFixture[str]) -> str:
    show_assessment(result, explain=True)
    plan = result.nitrogen.lines if result.nitrogen else ()
    said = [result.verdict.headline, capsys.readouterr().out, page_html(result), *plan]
    return " ".join(re.sub(r"\s+", " ", one) for one in said)


def test_pennsylvania_at_twelve(capsys: pytest.CaptureFixture[str]) -> None:
    result = assess(NEAR_12, "pennsylvania-stand", stage="Feekes 3")
    assert result.verdict.clear
    assert result.decided_by.band_probabilities[0] > 0.3
    assert result.decided_by.band_probabilities[1] > 0.3
    assert result.decided_by.called() == "at the replant limit or below"
    assert result.verdict.headline.endswith("is considered, or below it.")
    said = texts(result, capsys)
    assert "class at the replant limit or below 9" in said
    assert "at the replant limit 9" not in said
    # what holds for one band alone is said of that one
    todo = " ".join(one.text for one in result.verdict.actions)
    assert "If it is “at the replant limit”: Compare 60 to 70 %" in todo
    assert "If it is “below the yield table”: Look at how even" in todo
    record = verdict_record(result)
    assert record["name"] == "at the replant limit or below"


def test_ontario_just_below_seven(capsys: pytest.CaptureFixture[str]) -> None:
    result = assess(NEAR_7_A_FOOT, "ontario-stand@7.5in", stage="Feekes 3", yield_goal=80.0)
    assert not result.verdict.clear
    assert "“below 7 per foot” (decide first" in result.verdict.headline
    assert "just below 7 per foot" not in result.verdict.headline
    said = texts(result, capsys)
    assert "The likeliest, “below 7 per foot”, is only 5" in said
    assert "This plan is for “below 7 per foot”, the likelier case (5" in said
    (first, _) = verdict_record(result)["options"]
    assert (first["called"], first["name"]) == ("below 7 per foot", "below 7 per foot")


def test_one_spot_names_the_class() -> None:
    result = assess(field([12.1]), "pennsylvania-stand", stage="Feekes 3")
    assert any("\u00a0% “at the replant limit or below” by plants" in w for w in result.flags)


def test_a_class_of_two_bands_is_told_by_both_in_a_users_own_file() -> None:
    result = assess(NEAR_12, "pennsylvania-stand", stage="Feekes 3").decided_by
    assert result.estimate is not None
    bare = classify(result.estimate, result.rule.model_copy(update={"classes": ()}))
    assert bare.called() == "below the yield table or at the replant limit"
    assert bare.name_of() == bare.called()
    assert bare.say == "The stand is “below the yield table or at the replant limit”."


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (REPLANT, REPLANT.replace("replant", "thin", 1), "one band only"),
        (REPLANT, REPLANT.replace("replant", "other", 1), "no band"),
        ('name = "at the replant limit or below"', 'name = "thin"', "needs its own"),
        ('class = "full"\n  name = "full stand"', 'class = "replant"\n  name = "z"', "twice"),
    ],
)  # fmt: skip
def test_a_name_that_names_nothing_is_refused(
    tmp_path: Path, old: str, new: str, says: str
) -> None:
    import tillercount.stand

    text = (Path(tillercount.stand.__file__).parent / "rules/pennsylvania-stand.toml").read_text(
        encoding="utf-8"
    )
    assert text.count(old) == 1
    own = tmp_path / "pennsylvania-stand.toml"
    own.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(InputError, match=says):
        check_rules(own)
