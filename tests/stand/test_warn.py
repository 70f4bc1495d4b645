"""What has to be said before a verdict is read."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import pytest

from tillercount.area import parse_counted_area
from tillercount.field.spots import SpotDensity
from tillercount.hand import HandCount
from tillercount.model.counter import unusual_text
from tillercount.report.page import page_html
from tillercount.report.record import build_record
from tillercount.report.ruling import verdict_record
from tillercount.stand import assess, load_rules, parse_stage
from tillercount.stand.compare import compare
from tillercount.stand.library import list_rules
from tillercount.stand.overcount import crossed
from tillercount.stand.warn import rule_warnings
from tillercount.stand.whole import whole_nitrogen
from tillercount.units import per_m2

SCALE = "one pixel is 0.98 mm wide on the ground (limit 0.8 mm): go closer"
THIN = [9, 11, 10, 12, 10]


def photos(
    plants: Sequence[float], *flags: str, at: tuple[float | None, float | None] = (None, None)
) -> list[SpotDensity]:
    return [
        SpotDensity(
            spot=f"spot_{i}",
            source="photo",
            plants_per_m2=per_m2(p),
            shoots_per_m2=per_m2(3 * p),
            photo=f"IMG_{i}.jpg",
            flags=flags,
            lat=at[0],
            lon=at[1],
        )
        for i, p in enumerate(plants)
    ]


def hands(who: str, plants: Sequence[float]) -> list[SpotDensity]:
    return [
        SpotDensity(str(i), "hand", per_m2(p), per_m2(3 * p), observer=who)
        for i, p in enumerate(plants)
    ]


def test_two_people_apart_hold_the_verdict_back() -> None:
    """Averaged, these give a clear "push"; with either one alone they give another class."""
    result = assess([*hands("me", [31, 29, 30, 31] * 3), *hands("Joe", [15, 14, 16, 15] * 3)])
    assert result.verdict.class_ == "push"
    assert result.verdict.probabilities["push"] > 0.8
    assert not result.verdict.clear
    assert result.verdict.headline.startswith("Not settled: “me” counts 2.0 times as many")
    assert result.verdict.actions[0].text == result.verdict.settle
    assert "count one spot together" in result.verdict.settle
    assert all(
        a.text.startswith("If it is") for a in result.verdict.actions if "nitrogen" in a.text
    )
    record = result.to_json()
    assert record["verdict"]["held_back"]
    spots = [str(i) for i in range(12)]
    assert record["field"]["observers"] == {"me": spots, "Joe": spots}
    assert record["field"]["observer_differences"][0]["differ"]
    assert verdict_record(result)["kind"] == "held"
    (row,) = [
        r for r in compare(list(result.field.listed)).rows if r.rules.name == "common-practice"
    ]
    assert row.verdict == "not settled: 'push'"


def test_two_people_who_agree_hold_nothing_back() -> None:
    result = assess([*hands("me", [22, 23, 21, 22] * 2), *hands("Joe", [21, 24, 22, 21] * 2)])
    assert result.verdict.clear
    assert result.verdict.warnings == ()
    assert [one["differ"] for one in result.to_json()["field"]["observer_differences"]] == [
        False
    ] * 2


def test_one_spot_says_on_what_its_probability_rests() -> None:
    result = assess(photos([5], SCALE), stage="Feekes 3")
    assert result.verdict.probabilities["rotate"] > 0.9
    assert not result.verdict.clear
    (line,) = [w for w in result.verdict.warnings if "n = 1" in w]
    assert "assumed difference between spots of 45%" in line
    assert "“too thin”" in line
    assert "one spot can't speak for a field" in result.verdict.headline
    assert assess(photos(THIN)).verdict.clear


def test_flagged_photos_are_named_first_on_page_report_and_record() -> None:
    spots = [*photos(THIN[:3], SCALE), *photos(THIN)[3:]]
    result = assess(
        [replace(spots[0], flags=(SCALE, "the camera was tilted 23° (limit 15°)")), *spots[1:]]
    )
    (line,) = result.verdict.warnings
    assert line.startswith("check the size in --area and its unit")
    assert "3 of 5 photos" in line
    assert "scale: IMG_0.jpg, IMG_1.jpg, IMG_2.jpg" in line
    assert result.flags[0] == line
    assert "photos flagged: tilt: IMG_0.jpg" in result.flags
    html = page_html(result)
    assert html.index("Check the size that was given, and its unit") < html.index("What to do")
    assert "Check the size in --area" in verdict_record(result)["warning"]
    on_page = build_record(result)["verdict"]["warning"]
    assert on_page.startswith("Check the size that was given, and its unit")
    assert result.to_json()["field"]["photo_flags"][0]["flag"] == "scale"
    assert line in compare(list(result.field.listed)).flags


def test_a_size_that_cannot_be_holds_the_verdict_back() -> None:
    counts = [
        HandCount(str(i), "JM", p, None, parse_counted_area("square:12ft"))
        for i, p in enumerate(THIN)
    ]
    result = assess(counts)
    assert not result.verdict.clear
    assert "was square:12in meant?" in result.verdict.warnings[0]
    assert "(and likewise spot 1, 2, 3, 4)" in result.verdict.warnings[0]
    assert "area of the hand counts" in result.verdict.settle


def test_a_field_elsewhere_is_told_by_spots_or_by_boundary() -> None:
    far = assess(photos(THIN, at=(38.03, -98.71)))
    assert any("lies outside" in w for w in far.verdict.warnings)
    near = assess(photos(THIN, at=(39.2, -75.5)), by_default=True)
    assert near.verdict.warnings == ()
    assert not any("no --rules" in flag for flag in near.flags)
    by_boundary = assess(photos(THIN), places=[(38.03, -98.71)])
    assert any("lies outside" in w for w in by_boundary.verdict.warnings)


def test_default_rules_are_named_once_where_no_place_is_known() -> None:
    flags = assess(photos(THIN), by_default=True).flags
    assert sum("no --rules given" in flag for flag in flags) == 1
    assert not any("no --rules given" in flag for flag in assess(photos(THIN)).flags)


def test_figures_from_memory_are_told_with_verdict_and_pounds() -> None:
    own = load_rules("common-practice").model_copy(update={"mark": "from memory"})
    assert any("from memory" in w for w in assess(photos(THIN), own).verdict.warnings)
    assert assess(photos(THIN)).verdict.warnings == ()
    kansas, trade = load_rules("kansas-nitrogen"), load_rules("common-practice")
    assert kansas.doubt in whole_nitrogen(kansas, trade, 60.0).flags
    marked = {one.name for one in list_rules() if one.doubt}
    assert marked == {"kansas-nitrogen"}


@pytest.mark.parametrize(
    ("stage", "seen", "said"),
    [
        (None, None, True),
        ("Feekes 5", None, True),
        ("Feekes 2", dt.date(2026, 10, 30), False),
        ("Feekes 2", dt.date(2026, 3, 2), True),
    ],
)
def test_rules_for_the_fall_say_so_in_spring(
    stage: str | None, seen: dt.date | None, said: bool
) -> None:
    kansas = load_rules("kansas-replant")
    at = None if stage is None else parse_stage(stage)
    lines = rule_warnings(kansas, stage=at, seen=seen)
    assert any("written for the fall" in line for line in lines) is said
    assert rule_warnings(load_rules("wisconsin-stand"), stage=at, seen=seen) == []


def test_photo_overcount_names_the_border_it_could_cross() -> None:
    close = assess(photos([20, 21, 20, 19, 20]))
    first = close.verdict.cautions[0].text
    assert "some 25 % too many" in first
    assert "20 per square foot would be 16 to 19" in first
    assert "border of 18" in first
    assert close.plants is not None
    assert crossed(close.plants) == [18.0]
    assert first in close.verdict.warnings
    clear = assess(photos(THIN)).verdict.cautions[0].text
    assert "some 25 % too many" in clear
    assert "border" not in clear
    assert "25 %" not in assess(hands("JM", THIN)).verdict.cautions[0].text


def test_no_overcount_caution_where_hand_counts_stand_beside() -> None:
    both = [
        *photos([20, 21, 20]),
        *(replace(h, spot=f"spot_{h.spot}") for h in hands("JM", [20, 21, 19])),
    ]
    texts = [c.text for c in assess(both).verdict.cautions]
    assert not any("some 25 % too many" in text for text in texts)
    assert any("Photos can count wrong" in text for text in texts)


@pytest.mark.parametrize("what", ["rendered scenes", "250 rendered scenes of generator version 8"])
def test_plain_words_for_what_the_counter_learnt_on(what: str) -> None:
    model = {"name": "counter", "calibrated_on": f"{what}, marked area found by the program"}
    texts = " ".join(c.text for c in assess(photos(THIN), model=model).verdict.cautions)
    assert "computer-drawn fields, not on yours" in texts
    assert "marked area found" not in texts


def test_compare_gives_the_rules_that_need_a_value_with_one() -> None:
    result = compare(hands("JM", THIN), region="Kansas")
    assert not result.rows
    assert [one.needs for one in result.left_out if one.needs] == ["kansas-replant@25/ft2"]
    assert compare(hands("JM", THIN), region="Kansas", rules=["kansas-replant@25/ft2"]).rows


def test_a_visit_dated_otherwise_than_its_photos() -> None:
    """By more than a day, which another time zone makes too."""
    taken = [replace(one, taken="2027-03-20") for one in photos(THIN)]
    for day, doubted in ((5, True), (18, True), (19, False), (20, False), (21, False), (22, True)):
        seen = dt.date(2027, 3, day)
        said = [w for w in assess(taken, seen=seen).verdict.warnings if "own clock" in w]
        assert bool(said) == doubted
    (line,) = [w for w in assess(taken, seen=dt.date(2027, 3, 5)).verdict.warnings if "own" in w]
    assert "is dated 2027-03-05, but the photos' own clocks say 2027-03-20, 15 days apart" in line
    several = [replace(one, taken=f"2027-03-{11 + i % 3}") for i, one in enumerate(photos(THIN))]
    assert not any("own clock" in w for w in assess(several, seen=dt.date(2027, 3, 12)).flags)
    odd = [replace(one, taken="no date") for one in taken]
    assert not any("own clock" in w for w in assess(odd, seen=dt.date(2027, 3, 5)).flags)
    assert not any("own clock" in w for w in assess(taken).flags)


@pytest.mark.parametrize(("strange", "first"), [(0, False), (1, False), (2, True), (5, True)])
def test_photos_of_no_stand_are_named_before_the_verdict(strange: int, first: bool) -> None:
    flagged = photos(THIN, unusual_text("lawn"))
    plain = photos(THIN)
    spots = [*flagged[:strange], *plain[strange:]]
    result = assess(spots, "common-practice")
    said = [line for line in result.verdict.warnings if "don't look like any stand" in line]
    assert len(said) == first
    told_below = any("unusual: IMG_0.jpg" in flag for flag in result.flags)
    assert told_below == (strange > 0 and not first)
    if first:
        assert said[0].startswith(f"{strange} of 5 photos don't look like any stand")
        assert "IMG_0.jpg" in said[0]
