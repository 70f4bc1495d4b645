"""One photo under several names is one spot."""

from __future__ import annotations

from dataclasses import replace

from tillercount.field import SpotDensity, collect
from tillercount.field.copies import one_of_each
from tillercount.stand import assess
from tillercount.stand.compare import compare


def photo(path: str, sha256: str = "", plants: float = 240.0) -> SpotDensity:
    name = path.rsplit("/", 1)[-1].removesuffix(".jpg")
    return SpotDensity(name, "photo", plants, 700.0, photo=path, sha256=sha256)


def hand(name: str) -> SpotDensity:
    return SpotDensity(name, "hand", 230.0, 690.0, observer="me")


SPOTS = [photo("a.jpg", "1" * 64), photo("b.jpg", "2" * 64, 260.0), photo("copy.jpg", "1" * 64)]


def test_the_first_of_the_copies_stays_and_each_is_named() -> None:
    kept, (text,) = one_of_each(SPOTS)
    assert [spot.photo for spot in kept] == ["a.jpg", "b.jpg"]
    assert "used once (copy.jpg is a copy of a.jpg)" in text


def test_without_a_sum_or_with_another_nothing_is_left_out() -> None:
    apart = [photo("a.jpg"), photo("b.jpg"), photo("c.jpg", "3" * 64), photo("d.jpg", "4" * 64)]
    assert one_of_each(apart) == (tuple(apart), [])


def test_the_copy_with_a_hand_count_stays() -> None:
    kept, (text,) = one_of_each([*SPOTS, hand("copy")])
    assert [spot.spot for spot in kept] == ["b", "copy", "copy"]
    assert "a.jpg is a copy of copy.jpg" in text


def test_many_copies_are_counted_and_folders_told_apart() -> None:
    _, (text,) = one_of_each([photo(f"{n}/a.jpg", "1" * 64) for n in range(9)])
    assert "1/a.jpg is a copy of 0/a.jpg" in text
    assert "; and 2 more)" in text


def test_a_copy_of_the_same_name_in_another_folder_is_the_same_place() -> None:
    records = [
        {
            "photo": path, "status": "counted", "area": {"ft2": 1.0}, "sha256": "5" * 64,
            "plants": {"count": 20, "low": 15, "high": 26},
        }
        for path in ("old/a.jpg", "new/a.jpg")
    ]  # fmt: skip
    kept, _ = one_of_each(collect({"schema": "tillercount.counts/1", "spots": records}).spots)
    assert [spot.spot for spot in kept] == ["a"]


def test_a_verdict_counts_it_once_and_says_so_first() -> None:
    result = assess(SPOTS)
    assert result.plants is not None
    assert result.plants.n == 2
    assert any("copy.jpg is a copy of a.jpg" in line for line in result.verdict.warnings)
    assert result.plants.mean == assess(SPOTS[:2]).plants.mean  # type: ignore[union-attr]
    assert any("copy.jpg is a copy of a.jpg" in line for line in compare(SPOTS).flags)


def test_two_names_of_one_photo_are_one_spot_only() -> None:
    result = assess([SPOTS[0], replace(SPOTS[2])])
    assert result.verdict.headline.startswith("Not settled: one spot can't speak for a field")
