"""What would settle a verdict that is too close to call: more spots, or other evidence."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.stand.fields import field
from tillercount.field import SpotDensity
from tillercount.stand import Assessment, assess
from tillercount.stand.actions import MOST_ACTIONS, parted
from tillercount.stand.alike import same_done
from tillercount.stand.library import list_rules
from tillercount.stand.prospect import STEPS, in_ten
from tillercount.stand.settle import (
    HARDLY,
    WORTH_CHANCE,
    WORTH_MINUTES,
    WORTH_SPOTS,
    counting_helps,
    offered,
    settle,
)
from tillercount.stand.shares import class_percent
from tillercount.stand.words import time_text
from tillercount.units import per_m2

ON_THE_BORDER = [26.0, 28.0, 25.0, 29.0, 27.5, 26.3, 27.2, 26.6]


def told(result: Assessment) -> str:
    """Everything that is said to do."""
    plan = result.nitrogen.lines if result.nitrogen else ()
    return " ".join((result.verdict.settle, *(a.text for a in result.verdict.actions), *plan))


def contradicts(text: str) -> bool:
    no = re.search(r"[Mm]ore counting of \w+ (won't|isn't)|by more counting|spots won't", text)
    return bool(no) and bool(re.search(r"Count (about )?\d* ?(more|of these)", text))


@pytest.mark.parametrize("plants", [9.0, 18.0, 22.0, 27.0, 30.0, 35.0, 50.0])
def test_one_spot_asks_for_more_and_only_that(plants: float) -> None:
    result = assess(field([plants]), yield_goal="80 bu/ac")
    if result.verdict.clear:
        assert result.verdict.settle == ""
        return
    assert result.verdict.counting_helps
    assert result.verdict.settle.startswith("Count 5 more spots spread over the field, by hand")
    assert not re.search("won't|isn't worth|not by more", told(result))


def test_one_photo_asks_for_photos_and_hand_counts() -> None:
    photo = SpotDensity("1", "photo", per_m2(27), per_m2(80), plants_se=20.0, plants_bias_rel=0.15)
    said = assess([photo]).verdict.settle
    assert "by photo, two of them by hand too (about 45 min)" in said  # 5 x 3 and 2 x 15


def test_on_the_border_other_evidence_decides() -> None:
    result = assess(field(ON_THE_BORDER), yield_goal="80 bu/ac")
    plants = result.plants
    assert plants is not None
    assert not plants.clear
    assert all(
        one.chance < WORTH_CHANCE for one in plants.prospects if one.minutes <= WORTH_MINUTES
    )
    assert not result.verdict.counting_helps
    said = told(result)
    more = "More counting of plants (won't settle|isn't worth) it: at 26.95 the mean.* of 27 "
    assert re.search(more, said)
    for words in ("how strong the tillers look", "after a week or two", "adviser"):
        assert words in said
    assert not contradicts(said)
    assert any("not by more counting of plants" in line for line in result.nitrogen.lines)  # type: ignore[union-attr]


def test_longer_than_two_hours_is_not_worth_it() -> None:
    """Fifteen spots would do, but by hand they take more than two hours."""
    result = assess(field([25.0, 29.0, 24.0, 30.0, 27.5, 26.3], each=None))
    assert result.plants is not None
    chances = {one.spots: one.chance for one in result.plants.prospects}
    assert chances[8] < WORTH_CHANCE < chances[20]
    assert result.plants.prospects[-1].minutes > WORTH_MINUTES
    assert not result.verdict.counting_helps
    assert (
        "isn't worth it: at 26.97 the mean lies so near the border of 27 plants per square foot, "
        "for so much scatter, that even 8 more spots by hand (2 h) would give a clear verdict with "
        f"a chance of {in_ten(chances[8])} only" in result.verdict.settle
    )


def test_a_few_more_are_worth_it() -> None:
    result = assess(field([14.0, 19.0, 15.5, 20.0, 16.0, 15.0], each=None), yield_goal="80 bu/ac")
    plants = result.plants
    assert plants is not None
    assert not plants.clear
    (hand,) = offered(plants)
    assert hand.chance >= WORTH_CHANCE
    assert hand.minutes <= WORTH_MINUTES
    best = max(one.chance for one in plants.prospects if one.minutes <= WORTH_MINUTES)
    fewer = [one.chance for one in plants.prospects if one.spots < hand.spots]
    assert max(fewer) < best - 0.05 <= hand.chance < 0.7
    assert result.verdict.counting_helps
    assert result.verdict.settle.startswith(f"Count about {hand.spots} more spot")
    assert f"clear then is {in_ten(hand.chance)}" in result.verdict.settle
    assert "Count more spots before spreading" in told(result)


def test_a_verdict_just_short_of_clear_says_so() -> None:
    """One or two spots of either kind may do, and it is said why: it stands just below 80 %."""
    spots = [
        SpotDensity(str(i), "photo", per_m2(p), None, plants_bias_rel=0.1)
        for i, p in enumerate((24.2, 22.7, 27.3, 24.1, 20.4, 23.0))
    ]
    plants = assess(spots).plants
    assert plants is not None
    said = settle(plants)
    few = r"[12] more spots?"
    assert re.match(rf"Count (about )?{few} by photo \(\d min\) or {few} by hand \(\d+ min\)", said)
    sure = f"“thin but worth keeping” is {class_percent(plants)} likely"
    assert f"{sure}, just short of the 80\u00a0%" in said
    assert ("about" in said.split(",")[0]) is any(one.spots > 1 for one in offered(plants))
    far = assess(field([14.0, 19.0, 15.5, 20.0, 16.0, 15.0], each=None)).plants
    assert far is not None
    assert min(one.spots for one in offered(far)) > 2
    assert "just short of" not in settle(far)


def test_photos_that_share_an_error_ask_for_hand_counts() -> None:
    """Photos that all err alike bring nothing; hand counts of the same spots do, unless these
    scatter so much that eight aren't worth it either."""

    def judged(*plants: float) -> Assessment:
        return assess(
            [
                SpotDensity(str(i), "photo", per_m2(p), None, plants_bias_rel=0.15)
                for i, p in enumerate(plants)
            ]
        )

    even = judged(20, 33, 24, 28, 27, 34, 22, 25)
    assert re.match(r"Count about \d of these spots by hand \(", even.verdict.settle)
    assert "so more photos alone won't settle it, and hand counts" in even.verdict.settle
    assert even.plants is not None
    assert [one.spots for one in even.plants.prospects if one.kind == "hand"] == list(STEPS)
    result = judged(14, 40, 20, 30, 27, 42, 17, 23)
    plants = result.plants
    assert plants is not None
    chances = {(one.kind, one.spots): one.chance for one in plants.prospects}
    assert chances["photo", 20] < 0.05 < chances["hand", 8] < chances["hand", 20]
    assert "chance of less than 1 in 10 (photo) or about" in result.verdict.settle
    assert re.search("More counting of plants (won't|isn't)", result.verdict.settle)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(4, 50), min_size=1, max_size=14),
    st.sampled_from(["common-practice", "pennsylvania-stand", "kentucky-stand"]),
    st.booleans(),
)
def test_advice_never_contradicts_itself(plants: list[float], rules: str, by_photo: bool) -> None:
    spots = field(plants)
    if by_photo:
        spots = [
            SpotDensity(
                s.spot, "photo", s.plants_per_m2, s.shoots_per_m2,
                plants_bias_rel=0.12, shoots_bias_rel=0.1,
            )
            for s in spots
        ]  # fmt: skip
    result = assess(spots, rules, yield_goal="80 bu/ac")
    for one in (result.plants, result.shoots):
        if one is None:
            continue
        said = settle(one)
        assert bool(said) != (one.clear or bool(same_done(one)))
        assert not contradicts(said)
        named = [int(n) for n in re.findall(r"(\d+) (?:more|of these) spots?", said)]
        if one.held is not None and one.held.remedy:
            assert said == one.held.remedy
        elif counting_helps(one):
            assert min(named) <= WORTH_SPOTS
            assert said.startswith("Count")
        elif not one.clear and not same_done(one):
            assert said.startswith("More counting of")
            best = max((p.chance for p in offered(one)), default=0.0)
            assert ("isn't worth it" in said) == (best >= HARDLY)
    alike = {counting_helps(r) for r in (result.plants, result.shoots) if r and not r.clear}
    if len(alike) < 2:  # else one sentence speaks of plants, the other of shoots
        assert not contradicts(told(result))


def test_at_most_five_first() -> None:
    actions = assess(field([27.0])).verdict.actions
    first, also = parted(actions)
    assert len(first) == MOST_ACTIONS
    assert (*first, *also) == actions
    assert len({a.text for a in actions}) == len(actions)
    # one for each class that may be true before a second one for any
    classes = [re.match(r"If it is “([^”]+)”", a.text) for a in first]
    named = [match[1] for match in classes if match]
    assert len(named) == len(set(named)) == 3


@pytest.mark.parametrize(
    ("minutes", "text"),
    [(27, "27 min"), (119, "119 min"), (120, "2 h"), (150, "2.5 h"), (2520, "42 h")],
)
def test_time(minutes: float, text: str) -> None:
    assert time_text(minutes) == text


@pytest.mark.parametrize(("plants", "each", "words"), [
    ([14, 17, 15, 18, 16, 13, 19, 14], 4.3, "The tillers by themselves take about"),
    ([14, 17, 15, 18, 16, 13, 19, 14], 4.6, "and the tillers are clear then with a chance of"),
    ([14, 17, 15], 4.3, "Count plants and shoots at each of these spots: one walk serves both"),
])  # fmt: skip
def test_one_order_to_count_for_plants_and_tillers(
    plants: list[float], each: float, words: str
) -> None:
    """Rules that judge both asked for two walks at once."""
    result = assess(field(plants, each=each), "kentucky-stand", stage="Feekes 3")
    assert result.shoots is not None
    assert not result.shoots.clear
    texts = [one.text for one in result.verdict.actions]
    assert sum(text.startswith(("Count about", "Count 3")) for text in texts) == 1
    assert words in texts[1]
    assert not any("border of 70 shoots" in text for text in texts)


def test_an_order_for_the_tillers_alone_says_so() -> None:
    result = assess(field([14, 17, 15, 18, 16, 13, 19, 14], each=4.3), "pennsylvania-stand")
    texts = [one.text for one in result.verdict.actions]
    assert texts[0].startswith("More counting of plants isn't worth it")
    assert any(text.startswith("For the tillers alone: count about") for text in texts)


def test_no_class_ids_where_people_read() -> None:
    """A rule file's own ids ("push") say nothing to a grower; names differ within each rule."""
    for rules in list_rules():
        for rule in rules.rules:
            called = [*(b.called for b in rule.bands), *(one.name for one in rule.classes)]
            assert len(set(called)) == len(called)
    result = assess(field([26.0, 24.0, 27.0, 26.0, 25.0, 28.0]), stage="Feekes 3", yield_goal=80.0)
    assert not result.verdict.clear
    assert result.nitrogen is not None
    said = [result.verdict.headline, *(one.text for one in result.verdict.actions)]
    for text in (*said, *result.nitrogen.lines, *result.flags):
        assert not re.search("['“](push|target)['”]", text)
    assert "“on target” (no early nitrogen)" in result.verdict.headline
