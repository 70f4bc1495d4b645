"""Photos and hand counts that can't both be right stop the assessment."""

from __future__ import annotations

import pytest

from tillercount.errors import InputError
from tillercount.field import SpotDensity
from tillercount.field.contradiction import FOLD, contradictions
from tillercount.stand import assess
from tillercount.units import M2_PER_FT2, per_m2


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
    assert flag.startswith("spot spot_09: 300 shoots per ft² by photo and 80 by hand")


def test_a_few_shoots_prove_nothing() -> None:
    assert contradictions([spot("1", "photo", 9.0), spot("1", "hand", 2.0)]) == []


def test_the_same_field_without_a_common_spot() -> None:
    hands = [spot(f"h{i}", "hand", 80.0 + i) for i in range(4)]
    wrong = [spot(f"p{i}", "photo", 400.0 + i) for i in range(4)]
    with pytest.raises(InputError, match="the same field contradict"):
        contradictions([*hands, *wrong])
    uneven = [spot(f"p{i}", "photo", v) for i, v in enumerate((80.0, 500.0, 150.0))]
    assert contradictions([*hands, *uneven]) == []


def test_the_assessment_stops() -> None:
    with pytest.raises(InputError, match="contradict each other"):
        assess([*pairs(6.45), spot("x", "hand", 80.0, plants=25.0)])
    assert assess([*pairs(1.1), spot("x", "hand", 80.0, plants=25.0)]).verdict.headline
