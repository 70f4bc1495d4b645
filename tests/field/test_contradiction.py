"""Photos and hand counts that can't both be right stop the assessment."""

from __future__ import annotations

import pytest

from tillercount.errors import InputError
from tillercount.field import SpotDensity
from tillercount.field.contradiction import contradictions
from tillercount.field.sameground import FOLD
from tillercount.stand import assess
from tillercount.units import M2_PER_FT2, per_ft2, per_m2


def spot(name: str, source: str, shoots: float, plants: float | None = None) -> SpotDensity:
    return SpotDensity(
        name,
        source,  # type: ignore[arg-type]
        None if plants is None else per_m2(plants),
        per_m2(shoots),
        area_m2=M2_PER_FT2,
    )


def pairs(times: float, hand: float = 80.0) -> list[SpotDensity]:
    out = []
    for i in range(4):
        out += [spot(f"spot_{i}", "photo", (hand + i) * times), spot(str(i), "hand", hand + i)]
    return out


def test_usual_errors_pass() -> None:
    assert contradictions(pairs(1.33)) == []
    assert contradictions(pairs(0.7)) == []
    assert contradictions(pairs(FOLD - 0.05)) == []


@pytest.mark.parametrize("times", [FOLD + 0.05, 6.45, 1 / (FOLD + 0.05)])
def test_threefold_at_the_same_spots_stops(times: float) -> None:
    with pytest.raises(InputError, match=r"the same 4 spots contradict .*no mean was made.*--area"):
        contradictions(pairs(times))


def test_inches_for_centimetres_are_named() -> None:
    with pytest.raises(InputError, match="inches for centimetres"):
        contradictions(pairs(6.45))
    with pytest.raises(InputError) as caught:
        contradictions(pairs(3.2))
    assert "inches for centimetres" not in str(caught.value)


def test_one_spot_among_good_ones_is_flagged() -> None:
    spots = [*pairs(1.1), spot("9", "photo", 300.0), spot("spot_09", "hand", 80.0)]
    (flag,) = contradictions(spots)
    assert flag.startswith("spot_09: 300 shoots per ft² by photo and 80 by hand")


def test_a_few_shoots_prove_nothing() -> None:
    assert contradictions([spot("1", "photo", 9.0), spot("1", "hand", 2.0)]) == []


@pytest.mark.parametrize("by_hand", [0.0, 1.0])
def test_nothing_by_hand_where_photos_show_a_full_stand(by_hand: float) -> None:
    """Hand 0 (or 1) in four square feet against 24 each: even a third of 96 leaves so few in less
    than one of a hundred repeats."""
    spots = []
    for i in range(4):
        spots += [spot(f"spot_{i}", "photo", 24.0), spot(str(i), "hand", by_hand)]
    with pytest.raises(InputError, match=r"the same 4 spots.*dead, or were dug out before"):
        contradictions(spots)
    spots = [spot(s.spot, "hand" if s.source == "photo" else "photo", per_ft2(s.shoots_per_m2 or 0))
             for s in spots]  # fmt: skip
    with pytest.raises(InputError, match="the same 4 spots"):  # the other way round
        contradictions(spots)


def test_how_few_is_too_few() -> None:
    """Of one square foot; a third of the photo's count is the mean of the Poisson count.

    By hand calculation: P(0 | 4.5) = e^-4.5 = 1.11 %, P(0 | 4.7) = 0.91 %;
    P(0 or 1 | 6.5) = 7.5 e^-6.5 = 1.13 %, P(0 or 1 | 6.7) = 7.7 e^-6.7 = 0.95 %."""
    for low, high, fine in ((0, 13.5, True), (0, 14.1, False), (1, 19.5, True), (1, 20.1, False)):
        spots = [spot("1", "photo", high), spot("1", "hand", low)]
        if fine:
            assert contradictions(spots) == []
            continue
        with pytest.raises(InputError, match="spot 1 contradict"):
            contradictions(spots)


def test_a_few_plants_fourfold_are_said() -> None:
    """7 against 28: a third of 28 leaves 7 or fewer by chance (28 %), but 28 hardly do."""
    spots = [*pairs(1.1), spot("9", "photo", 80.0, 28.0), spot("9", "hand", 88.0, 7.0)]
    (flag,) = contradictions(spots)
    assert flag.startswith("spot 9: 28.0 plants per ft² by photo and 7.0 by hand, 4.0 times")
    assert contradictions([spot("9", "photo", 80.0, 20.0), spot("9", "hand", 88.0, 7.0)]) == []


def test_one_empty_spot_among_good_ones_is_flagged() -> None:
    spots = [*pairs(1.1), spot("9", "photo", 72.0), spot("9", "hand", 0.0)]
    (flag,) = contradictions(spots)
    assert flag.startswith("spot 9: 72 shoots per ft² by photo and 0.0 by hand")
    assert "dead or dug out" in flag


def test_dead_spots_do_not_make_a_verdict() -> None:
    """As the whole program sees it: no "rotate, 100 %" from counts that contradict the photos."""
    spots = []
    for i in range(4):
        spots += [spot(f"s{i}", "photo", 72.0, 24.0), spot(f"s{i}", "hand", 0.0, 0.0)]
    with pytest.raises(InputError, match="all against nothing"):
        assess(spots)


def test_the_same_field_without_a_common_spot() -> None:
    hands = [spot(f"h{i}", "hand", 80.0 + i) for i in range(4)]
    wrong = [spot(f"p{i}", "photo", 400.0 + i) for i in range(4)]
    with pytest.raises(InputError, match="the same field contradict"):
        contradictions([*hands, *wrong])
    uneven = [spot(f"p{i}", "photo", v) for i, v in enumerate((80.0, 500.0, 150.0))]
    assert contradictions([*hands, *uneven]) == []


def test_the_assessment_stops() -> None:
    with pytest.raises(InputError, match=r"contradict each other.* or photos of another place"):
        assess([*pairs(6.45), spot("x", "hand", 80.0, plants=25.0)])
    assert assess([*pairs(1.1), spot("x", "hand", 80.0, plants=25.0)]).verdict.headline
