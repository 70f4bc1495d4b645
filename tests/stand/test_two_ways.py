"""What is said of a photo's shoots holds as well where its spot's plants were counted by hand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import pytest

from tests.stand.test_no_crop import FLAG as BARE
from tillercount.field import SpotDensity
from tillercount.field.density import mean_of_spots
from tillercount.field.dispersion import dispersion_of
from tillercount.report.fieldmap import map_record
from tillercount.report.page import page_html
from tillercount.report.threshold import evidence_record
from tillercount.stand import Assessment, assess
from tillercount.units import per_m2

SMALL = "the leaves would be 11 mm wide by this size"


def photos(n: int = 6, **more: Any) -> list[SpotDensity]:
    return [
        SpotDensity(
            str(i), "photo", per_m2(22 + i % 3), per_m2(70 + 6 * (i % 4)), 20.0, 60.0,
            photo=f"IMG_{i}.jpg", lat=39.0975 + 0.0004 * i, lon=-97.199 + 0.0006 * i, **more,
        )
        for i in range(n)
    ]  # fmt: skip


def hand(spot: SpotDensity, *, shoots: bool) -> SpotDensity:
    return SpotDensity(
        spot.spot, "hand", spot.plants_per_m2, spot.shoots_per_m2 if shoots else None,
        lat=spot.lat, lon=spot.lon,
    )  # fmt: skip


def judged(spots: Sequence[SpotDensity]) -> Assessment:
    return assess(spots, "ohio-stand", stage="Feekes 3")


def held(a: Assessment) -> Any:
    assert a.shoots is not None
    return a.shoots.held


def on_the_map(a: Assessment) -> list[bool]:
    made = map_record(a)
    assert made is not None
    return [spot["by_hand"] for spot in made["spots"]]


def density(a: Assessment) -> Any:
    """How many of its spots are photos, and the error of one of them."""
    found = mean_of_spots(a.field.used, "shoots", 0.9)
    assert found is not None
    assert found.scatter is not None
    return found.scatter.photos


def scatter(a: Assessment) -> Any:
    found = mean_of_spots(a.field.used, "shoots", 0.9)
    assert found is not None
    assert found.scatter is not None
    return found.scatter.own_sd


def dispersion(a: Assessment) -> Any:
    found = dispersion_of(a.field.used, "shoots")
    assert found is not None
    return found.by_photo


def no_stand(a: Assessment) -> list[str]:
    return [line for line in a.verdict.warnings if "hardly any crop" in line]


TWO_VISITS = [
    replace(one, taken=f"2027-03-{5 if i < 3 else 25:02}T09:00:00")
    for i, one in enumerate(photos())
]
LOOKS: dict[str, tuple[Callable[[Assessment], Any], list[SpotDensity]]] = {
    "density": (density, photos()),
    "scatter": (scatter, photos()),
    "dispersion": (dispersion, photos()),
    "map": (on_the_map, photos()),
    "evidence": (lambda a: evidence_record(a, a.decided_by)["by_hand"], photos()),
    "page": (lambda a: page_html(a).count('<circle class="spot"'), photos()),
    "weeds": (held, photos(other_cover=0.5)),
    "two visits": (held, TWO_VISITS),
    "no crop": (held, photos(flags=(BARE,))),
    "size": (held, photos(flags=(SMALL,))),
    "said first": (no_stand, photos(flags=(BARE,))),
}


@pytest.mark.parametrize("name", LOOKS)
def test_shoots_by_photo_beside_plants_by_hand(name: str) -> None:
    look, seen = LOOKS[name]
    merged = judged([*seen, *(hand(one, shoots=False) for one in seen)])
    assert {spot.way for spot in merged.field.used} == {"plants hand, shoots photo"}
    alone = look(judged(seen))
    assert alone
    assert look(merged) == alone
    assert look(judged([*seen, *(hand(one, shoots=True) for one in seen)])) != alone


@pytest.mark.parametrize("corrected", [0, 4])
def test_photos_off_alike(corrected: int) -> None:
    """Twice the shoots counted by hand at two spots, and as many plants: the photos of the others
    are doubted, also where their plants were counted by hand."""
    seen = photos()
    pairs = [replace(hand(one, shoots=True), shoots_per_m2=(one.shoots_per_m2 or 0) / 2)
             for one in seen[:2]]  # fmt: skip
    plants = [hand(one, shoots=False) for one in seen[2 : 2 + corrected]]
    hold = held(judged([*seen, *pairs, *plants]))
    assert hold is not None
    assert hold.why.startswith("photos show 2.0 times the shoots that were counted by hand")
    assert held(judged([*seen[:2], *pairs, *(hand(one, shoots=True) for one in seen[2:])])) is None


def test_a_merged_spot_keeps_what_is_held_against_its_photos() -> None:
    one, two = (
        replace(photos(1)[0], other_cover=cover, other_per_m2=10 * cover, taken=day, placed=placed)
        for cover, day, placed in ((0.2, "", True), (0.4, "2027-03-05T09:00:00", False))
    )
    for spots in ([one, two], [one, two, hand(one, shoots=False)]):
        (merged,) = judged(spots).field.used
        assert merged.other_cover == pytest.approx(0.3)
        assert merged.other_per_m2 == pytest.approx(3.0)
        assert merged.taken == two.taken
        assert not merged.placed
    (merged,) = judged([one, hand(one, shoots=False)]).field.used
    assert merged.placed
    (merged,) = judged([one, two, hand(one, shoots=True)]).field.used
    assert (merged.other_cover, merged.other_per_m2, merged.taken) == (None, None, "")
