"""What keeps a verdict back: shoots against early nitrogen, photos of a size that looks wrong."""

from __future__ import annotations

import pytest

from tests.stand.fields import field
from tests.stand.test_topdress import made, text_of
from tillercount.field import SpotDensity
from tillercount.handlimits import SIZE_WORDS
from tillercount.report.ruling import verdict_record
from tillercount.stand import assess, parse_stage
from tillercount.stand.compare import compare
from tillercount.stand.dressing import headline, record
from tillercount.units import per_m2

FEW = [24.0, 22.5, 25.5, 23.0, 25.0, 24.0]
"""Plants per ft², mean 24: thin but worth keeping, for which the trade gives early nitrogen."""


def said(spots: object) -> str:
    result = assess(spots, yield_goal=80, stage=parse_stage("Feekes 4"))
    verdict, plan = result.verdict, result.nitrogen
    assert plan is not None
    return "\n".join([verdict.headline, *(one.text for one in verdict.actions), *plan.lines])


@pytest.mark.parametrize("goal", [80.0, None])
def test_few_plants_with_too_many_shoots_get_no_early_nitrogen(goal: float | None) -> None:
    """24 plants with 113 shoots per ft²; more than 100 are excessive (Univ. of Kentucky 2013)."""
    spots = field(FEW, each=113 / 24)
    result = assess(spots, yield_goal=goal, stage=parse_stage("Feekes 4"))
    assert result.plants is not None
    assert result.plants.held is not None
    assert not result.verdict.clear
    assert result.verdict.headline.startswith(
        "Not settled: few plants (24), but 113 shoots per ft²: they have tillered; no early "
    )
    assert "University of Kentucky 2013" in result.verdict.headline
    assert "Put on the early part" not in said(spots)
    assert "push spring tillers" not in said(spots)
    plan = made(spots, stage="Feekes 4", goal=goal)
    assert plan.doses == ()
    assert record(plan)["this_spring"] is None
    assert "no early nitrogen" in headline(plan)
    assert "early: " not in text_of(plan)


def test_the_same_plants_with_few_shoots_get_it() -> None:
    spots = field(FEW, each=60 / 24)
    assert "Put on the early part" in said(spots)
    assert [dose.name for dose in made(spots, stage="Feekes 4").doses] == ["early", "main"]


@pytest.mark.parametrize(("shoots", "held"), [(99.0, False), (101.0, True)])
def test_held_from_the_published_limit_on(shoots: float, held: bool) -> None:
    plants = assess(field(FEW, each=shoots / 24)).plants
    assert plants is not None
    assert (plants.held is not None) == held


def test_on_target_the_plan_stays_and_its_alternative_goes() -> None:
    """28.5 plants may be thin too, but with 114 shoots early nitrogen is right in neither case."""
    spots = field([28.0, 27.0, 30.0, 29.0, 28.5, 28.5], each=4.0)
    judged = assess(spots).plants
    assert judged is not None
    assert {band.class_ for band in judged.likely} >= {"push", "target"}
    assert judged.class_ == "target"
    assert judged.held is None
    text = said(spots)
    assert "some early nitrogen" not in text
    assert "Put on the early part" not in text
    assert [dose.name for dose in made(spots).doses] == ["main"]
    fewer = said(field([28.0, 27.0, 30.0, 29.0, 28.5, 28.5], each=3.2))
    assert "for “thin but worth keeping” some early nitrogen" in fewer


THIN = [14.0, 13.0, 15.0, 14.5, 13.5, 14.0]
"""Plants per ft², mean 14: thin enough to think of another crop."""


@pytest.mark.parametrize("rules", ["common-practice", "kentucky-stand", "minnesota-stand"])
def test_a_stand_isnt_given_up_with_more_shoots_than_a_full_one(rules: str) -> None:
    """14 plants with 112 shoots per ft², 8 to a plant: one of the counts must be looked at."""
    result = assess(field(THIN, each=8.0), rules, insist=True, yield_goal=80)
    plants = result.plants
    assert plants is not None
    assert plants.band.early == "keep first"
    assert not result.verdict.clear
    assert result.verdict.headline.startswith(
        "Not settled: few plants (14), but 112 shoots per ft² (more than 100 is called excessive, "
        "University of Kentucky 2013), 8.0 to a plant: the two contradict each other"
    )
    first = result.verdict.actions[0].text
    assert first.startswith("Dig up a few spots, break the plants apart")
    plan = result.nitrogen
    assert plan is not None
    assert "Put on the early part" not in " ".join(plan.lines)


@pytest.mark.parametrize(("each", "held"), [(99 / 14, False), (101 / 14, True)])
def test_a_thin_stand_is_held_from_the_published_limit_on(each: float, held: bool) -> None:
    result = assess(field(THIN, each=each))
    assert result.plants is not None
    assert (result.plants.held is not None) == held
    assert result.verdict.clear != held


def test_another_hold_stays_and_says_no_early_nitrogen_too() -> None:
    text = said(field([24.0], each=113 / 24))
    assert "one spot can't speak for a field" in text
    assert "Put on the early part" not in text


def test_rules_with_tillers_of_their_own_go_by_those() -> None:
    judged = assess(field(FEW, each=113 / 24), "kentucky-stand", insist=True)
    assert judged.plants is not None
    assert judged.plants.held is None
    assert judged.nitrogen is not None
    assert judged.nitrogen.early == (0.0, 0.0)
    assert not any("Consider early" in one.text for one in judged.verdict.actions)


def test_a_comparison_gives_none_either() -> None:
    def early(each: float) -> str:
        rows = compare(field(FEW, each=each)).rows
        (trade,) = [row for row in rows if row.rules.name == "common-practice"]
        return trade.early_text

    assert early(113 / 24) == "no early nitrogen"
    assert early(60 / 24).startswith("early nitrogen")


SCALE = "one pixel is 0.98 mm wide on the ground (limit 0.8 mm): go closer"
STICK = (
    "rows stand 7.5 in apart in 2 photos, and the drill's were given as 6in: that row spacing or "
    "the stick's length may be wrong"
)
LEAVES = "leaves would be 9.1 mm wide, and young wheat's are about 3 to 6: check the size"
TILT = "the camera was tilted 23° (limit 15°): hold it level"


def flagged(*flags: tuple[str, ...], plants: float = 8.0) -> list[SpotDensity]:
    """Photos of a clear stand, one for each tuple of flags."""
    return [
        SpotDensity(
            f"spot_{i}", "photo", per_m2(plants + i % 2), per_m2(24.0), photo=f"p{i}.jpg", flags=own
        )
        for i, own in enumerate(flags)
    ]


@pytest.mark.parametrize(
    ("flags", "words"),
    [
        (((LEAVES,), (LEAVES, SCALE), (SCALE,), ()), "wrong (3 of 4 photos)"),
        (((LEAVES,), (LEAVES,), (), (TILT,)), "wrong (2 of 4 photos)"),
        (((LEAVES,), (), (), ()), ""),
        (((TILT,), (TILT,), (TILT,), (TILT,)), ""),
        (((SCALE,),) * 4, "wrong, or the photos were taken from too far off (4 of 4 photos)"),
    ],
)
def test_a_size_that_half_of_the_photos_doubt_settles_nothing(
    flags: tuple[tuple[str, ...], ...], words: str
) -> None:
    """Such photos of a wrong size once made "rotate over 99 %" of a good stand."""
    result = assess(flagged(*flags), stage="Feekes 3")
    assert result.plants is not None
    if not words:
        assert result.plants.held is None
        assert result.verdict.clear
        return
    assert not result.verdict.clear
    assert result.verdict.headline.startswith(f"Not settled: the size of the frame looks {words}.")
    assert "The count of plants by itself says “too thin”" in result.verdict.headline
    assert not result.verdict.counting_helps
    assert result.verdict.actions[0].text.startswith("Measure the frame")
    assert result.nitrogen is None or "Put on" not in " ".join(result.nitrogen.lines)
    assert verdict_record(result)["kind"] == "held"


def test_with_a_stick_nobody_is_sent_to_measure_a_frame() -> None:
    result = assess(flagged((STICK,), (STICK,), ()), stage="Feekes 3")
    assert "the row spacing or the stick's length looks wrong (2 of 3" in result.verdict.headline
    assert result.verdict.actions[0].text.startswith("Measure the stick")
    assert "frame" not in f"{result.verdict.headline} {result.verdict.actions[0].text}"
    (line,) = result.verdict.warnings
    assert line.endswith("; rows stand 7.5 in apart in 2 photos, and the drill's were given as 6in")
    both = assess(flagged((STICK, LEAVES), (STICK, LEAVES)), stage="Feekes 3")
    assert "the size of the frame looks wrong" in both.verdict.headline


def test_hand_counts_that_stand_for_flagged_photos_are_judged() -> None:
    """Every spot counted by hand too: the photos, and their size, no longer matter."""
    photos = flagged(*(((LEAVES,),) * 6))
    hands = [
        SpotDensity(f"spot_{i}", "hand", per_m2(9.0 + i % 3), per_m2(27.0), observer="me")
        for i in range(6)
    ]
    result = assess([*photos, *hands])
    assert result.plants is not None
    assert result.plants.held is None


def test_mostly_hand_counts_are_judged_beside_one_flagged_photo() -> None:
    hands = field([9.0, 8.5, 9.5, 9.2, 8.8])
    result = assess([*hands, *flagged((LEAVES,))])
    assert result.plants is not None
    assert result.plants.held is None


def test_of_many_spots_of_an_odd_size_it_is_said_how_many_more() -> None:
    odd = f"3 plants in an area of 20 ft² {SIZE_WORDS}"
    spots = [
        SpotDensity(str(n), "hand", per_m2(20 + n % 3), None, flags=(odd,)) for n in range(1, 10)
    ]
    held = assess(spots).decided_by.held
    assert held is not None
    assert "(spot 1, 2, 3, 4, 5, 6 and 3 more)" in held.why


def test_photos_of_a_doubtful_size_are_asked_about_before_anything_else() -> None:
    """No zones, no insurance agent and no rates by figures that may be six times too low."""
    odd = "12 ft² is more than is usually marked: check the size"
    spots = [
        SpotDensity(f"p{i}", "photo", per_m2(p), per_m2(3 * p), flags=(odd,))
        for i, p in enumerate([14.0, 5.0, 30.0, 8.0, 14.5, 6.0])
    ]
    result = assess(spots, yield_goal=80, stage=parse_stage("Feekes 4"))
    (step,) = result.verdict.actions
    assert step.text.startswith("Measure the frame, and check the size that was given")
    assert result.nitrogen is not None
    assert result.nitrogen.lines[0].startswith("No rates yet: the size of the frame looks wrong")
    right = assess([SpotDensity(s.spot, "photo", s.plants_per_m2, s.shoots_per_m2) for s in spots])
    assert len(right.verdict.actions) > 1
