"""Other plants in the photos: when they are spoken of, and losses of the weed that they are."""

from __future__ import annotations

import pytest

from tillercount.errors import InputError
from tillercount.field import SpotDensity
from tillercount.field.others import OtherPlants, SpotMean
from tillercount.stand import assess, parse_stage
from tillercount.stand.otherplants import (
    HIDING_COVER,
    NOTICEABLE_COVER,
    NOTICEABLE_PER_M2,
    named_weeds,
    notice,
    seen_text,
    weed_advice,
    weeds_in,
)
from tillercount.stand.topdress import topdress
from tillercount.stand.weeds import weed_loss
from tillercount.units import per_m2


def spot_mean(mean: float, low: float | None = None, high: float | None = None) -> SpotMean:
    return SpotMean(mean, low, high, 0.9, 1 if low is None else 5)


def others(cover: float, per: SpotMean | None = None) -> OtherPlants:
    return OtherPlants(spot_mean(cover), per)


def photos(*each: tuple[float, float | None]) -> list[SpotDensity]:
    """Spots with (cover, plants per ft²) of others."""
    return [
        SpotDensity(str(i), "photo", per_m2(22 + i), per_m2(66 + i), photo=f"{i}.jpg",
                    other_cover=cover, other_per_m2=None if ft2 is None else per_m2(ft2))
        for i, (cover, ft2) in enumerate(each)
    ]  # fmt: skip


WEEDY = photos((0.05, 3.0), (0.08, 5.0), (0.06, 4.0))


def test_typed_densities_and_one_name_alone() -> None:
    weeds = named_weeds(["henbit=40/m2", "chickweed"])
    assert [one.species for one in weeds.typed] == ["henbit"]
    assert weeds.in_photos == "common chickweed"
    assert named_weeds([]).typed == ()


def test_a_typed_density_wins() -> None:
    weeds = named_weeds(["henbit", "Henbit=40/m2"])
    assert weeds.in_photos == ""
    (loss,) = weeds_in(weeds, others(0.1, spot_mean(100.0)))
    assert (loss.per_m2, loss.seen) == (40.0, None)
    assert "photos" not in loss.words


def test_photos_cannot_tell_two_names_apart() -> None:
    with pytest.raises(InputError, match="don't tell other plants apart"):
        named_weeds(["henbit", "cheat"])
    with pytest.raises(InputError, match="no loss in print for 'moss'"):
        named_weeds(["moss"])


@pytest.mark.parametrize(
    ("found", "says"),
    [(None, "no photos were counted here"), (others(0.1), "can't tell how many")],
)
def test_no_density_to_take_is_one_line_with_a_remedy(
    found: OtherPlants | None, says: str
) -> None:
    with pytest.raises(InputError, match=says) as caught:
        weeds_in(named_weeds(["henbit"]), found)
    assert "--weed 'henbit=40/m2'" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_the_loss_is_that_of_print_at_the_mean_and_at_both_ends() -> None:
    """Missouri 2022: henbit, none to 18/m², 13 % at 82/m²."""
    (loss,) = weeds_in(named_weeds(["henbit"]), others(0.1, spot_mean(40.0, 10.0, 90.0)))
    plain = weed_loss("henbit", 40.0)
    assert (loss.low, loss.high, loss.why) == (plain.low, plain.high, plain.why)
    assert loss.seen is not None
    assert loss.seen.low is not None
    assert loss.seen.low.loss_text == "no loss in print up to 18/m²"
    kept = loss.to_json()
    assert kept["by_photo"] == {"spots": 5, "per_m2": [10.0, 90.0], "loss_percent": [0, None]}
    assert "about 3.7 per ft² (40 per m²): loss of wheat yield between 0 and 13 %" in loss.words
    ends = "0.9 to 8.4 per ft² (10 to 90 per m²), loss then between 0 and 13 % or more"
    assert ends in loss.words
    assert "not calibrated" in loss.words
    assert "grass" not in loss.words


def test_a_line_in_print_beyond_its_end() -> None:
    """Italian ryegrass, 4.2 % for each 10/m², not beyond 100/m²."""
    (loss,) = weeds_in(named_weeds(["ryegrass"]), others(0.1, spot_mean(90.0, 60.0, 120.0)))
    assert "loss then between 25 and 42 % or more" in loss.words
    assert "can be missed or counted as crop" in loss.words  # it is a grass


def test_one_spot_is_no_field() -> None:
    (loss,) = weeds_in(named_weeds(["henbit"]), others(0.1, spot_mean(40.0)))
    assert "one spot says nothing about the rest" in loss.words
    assert "may lie anywhere" not in loss.words


@pytest.mark.parametrize(
    ("cover", "density", "said"),
    [
        (NOTICEABLE_COVER - 1e-6, None, False), (NOTICEABLE_COVER, None, True),
        (0.001, NOTICEABLE_PER_M2 - 1e-6, False), (0.001, NOTICEABLE_PER_M2, True),
        (0.0, 0.0, False),
    ],
)  # fmt: skip
def test_when_it_is_said(cover: float, density: float | None, said: bool) -> None:
    line = notice(others(cover, None if density is None else spot_mean(density)))
    assert bool(line) == said
    if said:
        for words in ("scout", "--weed", "label decides", "can be missed, or counted as crop",
                      "about", "a convention of our own"):  # fmt: skip
            assert words in line
        assert ("'henbit=40/m2'" in line) == (density is None)  # a bare name would be refused
        assert "\n" not in line
    assert notice(None) == ""


def test_no_windows_without_weeds() -> None:
    assert weed_advice("", (), parse_stage("Feekes 3")) == []


def test_no_loss_is_said_only_as_far_as_print_goes() -> None:
    """Missouri 2022: henbit to 18/m², chickweed to about 30/m²; cheat has no such figure."""
    assert weed_loss("henbit", 18.0).words == "henbit, 18/m²: no loss in print up to 18/m²"
    assert "no loss in print up to 30/m²" in weed_loss("chickweed", 5.0).words
    assert "no loss" not in weed_loss("henbit", 18.1).words
    assert "no loss" not in weed_loss("cheat", 5.0).words
    (seen,) = weeds_in(named_weeds(["henbit"]), others(0.01, spot_mean(9.0, 4.0, 17.0)))
    assert seen.words.count("no loss in print up to 18/m²") == 2
    assert "none" not in seen.words


def test_spots_that_are_all_the_same_differ_by_chance_alone() -> None:
    alike = SpotMean(40.0, 30.0, 52.0, 0.9, 3, alike=True)
    (loss,) = weeds_in(named_weeds(["henbit"]), others(0.1, alike))
    assert "by chance alone, for all 3 spots have the same" in loss.words
    assert "differ" not in loss.words
    assert "by chance, all spots being the same" in seen_text(others(0.1, alike))


HIDDEN = photos((0.94, 30.0), (0.92, 25.0), (0.96, 34.0), (0.93, 28.0), (0.95, 31.0))


def test_weeds_that_hide_the_crop_hold_the_verdict_back() -> None:
    """However alike the counts are: what can't be seen isn't counted."""
    thin = photos(*((HIDING_COVER - 0.01, 3.0) for _ in range(5)))
    assert assess(thin).plants.held is None  # type: ignore[union-attr]
    for weeds in ((), ("henbit",)):
        result = assess(HIDDEN, stage="Feekes 3", yield_goal="80 bu/ac", weeds=weeds)
        assert not result.verdict.clear
        assert "weeds hide the crop; count by hand" in result.verdict.headline
        assert "about 94 %" in result.verdict.headline
        assert result.verdict.actions[0].text.startswith("Count the crop by hand")
        assert result.nitrogen is not None
        assert result.nitrogen.advice in ("undecided", "keep first")
        # naming the weed takes nothing off how much it hides
        assert result.weed_notice in result.flags
        assert "about 94 %" in result.weed_notice
        made = topdress("common-practice", assessment=result, goal_bu_ac=80, weeds=result.weeds)
        assert made.weed_notice == result.weed_notice
        assert made.flags.count(made.weed_notice) == 1


def test_hand_counts_see_under_the_weeds() -> None:
    by_hand = [
        SpotDensity(str(i), "hand", per_m2(27 + i % 3), per_m2(80 + i)) for i in range(len(HIDDEN))
    ]
    result = assess([*HIDDEN, *by_hand])
    assert result.plants is not None
    assert result.plants.held is None or "weeds" not in result.plants.held.why


def test_an_assessment_says_it_or_names_the_loss() -> None:
    plain = assess(WEEDY, stage="Feekes 3")
    assert plain.weed_notice in plain.flags
    assert "about 6 % of the ground" in plain.weed_notice
    assert "about 4.0 of them per ft²" in plain.weed_notice
    named = assess(WEEDY, stage="Feekes 3", weeds=["henbit"])
    assert named.weed_notice == ""
    assert not any("other plants" in flag for flag in named.flags)
    assert named.weeds[0].per_m2 == pytest.approx(per_m2(4.0))
    kept = named.to_json()
    assert kept["weeds"][0]["species"] == "henbit"
    assert kept["field"]["other_plants"]["per_ft2"]["mean"] == pytest.approx(4.0)
    assert kept["field"]["spot_values"][1]["other_plants_per_ft2"] == pytest.approx(5.0)
    assert named.verdict == plain.verdict  # weeds have no part in the verdict
    clean = assess(photos((0.001, 0.1), (0.0, 0.0), (0.004, 0.2)), weeds=())
    assert clean.weed_notice == ""
    assert clean.field.other_plants is not None
    assert seen_text(clean.field.other_plants).startswith("about 0.2 % of the ground")


def test_nitrogen_says_it_once_and_drops_it_for_a_weed_typed_there() -> None:
    judged = assess(WEEDY, stage="Feekes 3", yield_goal=80.0)
    made = topdress("common-practice", assessment=judged, goal_bu_ac=80.0,
                    stage=parse_stage("Feekes 3"))  # fmt: skip
    assert made.weed_notice == judged.weed_notice
    typed = topdress("common-practice", assessment=judged, goal_bu_ac=80.0,
                     weeds=[weed_loss("henbit", 40.0)])  # fmt: skip
    assert typed.weed_notice == ""
    assert not any("other plants" in flag for flag in typed.flags)
