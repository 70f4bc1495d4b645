"""Other plants in the photos: when they are spoken of, and losses of the weed that they are."""

from __future__ import annotations

import pytest

from tillercount.errors import InputError
from tillercount.field import SpotDensity
from tillercount.field.others import OtherPlants, SpotMean
from tillercount.stand import assess, parse_stage
from tillercount.stand.otherplants import (
    NOTICEABLE_COVER,
    NOTICEABLE_PER_M2,
    named_weeds,
    notice,
    seen_text,
    weed_advice,
    weeds_in,
)
from tillercount.stand.topdress import topdress
from tillercount.stand.weeds import WINDOWS, weed_loss, windows_in_short
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
    assert loss.seen.low.loss_text == "none"
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


def test_windows_on_one_line_hold_all_of_them() -> None:
    short = windows_in_short(parse_stage("Feekes 6"))
    assert all(one.what in short.text for one in WINDOWS)
    assert "too late: dicamba, 2,4-D" in short.text
    assert "the label decides" in short.text
    assert "Penn State" in short.source
    assert "--stage" in windows_in_short(None).text
    assert weed_advice("", (), parse_stage("Feekes 3")) == []


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
