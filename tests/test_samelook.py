"""A photo turned, mirrored, made smaller or saved again is known; another isn't taken for it."""

from __future__ import annotations

import io
import itertools
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tests.store.helpers import counts, entry
from tillercount.field.copies import LOOKS, one_of_each
from tillercount.field.sources import collect
from tillercount.samelook import Looks, look_of

SAMPLES = sorted((Path(__file__).parents[1] / "sample_images").rglob("*.jpg"))


def pixels(path: Path) -> NDArray[np.uint8]:
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


def saved(image: Image.Image, quality: int) -> NDArray[np.uint8]:
    file = io.BytesIO()
    image.save(file, "JPEG", quality=quality)
    return np.asarray(Image.open(file).convert("RGB"))


@pytest.fixture(scope="module")
def looks() -> dict[Path, str]:
    return {path: look_of(pixels(path)) for path in SAMPLES}


@pytest.mark.parametrize("quarters", range(4))
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_copy_is_known_however_it_lies(
    looks: dict[Path, str], quarters: int, mirrored: bool
) -> None:
    for number, path in enumerate(SAMPLES):
        turned = np.rot90(pixels(path), quarters)
        image = Image.fromarray(np.ascontiguousarray(turned[:, ::-1] if mirrored else turned))
        if number % 2:
            image = image.resize((image.width // 4, image.height // 4), Image.Resampling.LANCZOS)
        copy = look_of(saved(image, 30 if number % 3 else 90))
        assert Looks(looks.values()).like(copy) == [number], path


def test_no_sample_photo_is_taken_for_another(looks: dict[Path, str]) -> None:
    for one, other in itertools.combinations(SAMPLES, 2):
        assert Looks([looks[other]]).like(looks[one]) == [], (one, other)


def test_the_same_frame_at_the_same_pixels_makes_no_two_photos_one() -> None:
    found = []
    for path in SAMPLES:
        image = Image.fromarray(pixels(path)).resize((800, 600))
        ImageDraw.Draw(image).ellipse((160, 60, 640, 540), outline=(245, 245, 245), width=24)
        found.append(look_of(np.asarray(image)))
    for one, other in itertools.combinations(found, 2):
        assert Looks([other]).like(one) == []


def test_a_second_photo_from_the_same_place_is_another(looks: dict[Path, str]) -> None:
    """Nobody holds a phone twice alike: moved by 2 % of the picture."""
    for path in SAMPLES:
        rgb = pixels(path)
        height, width = rgb.shape[:2]
        assert Looks([looks[path]]).like(look_of(rgb[height // 50 :, width // 50 :])) == []


def test_what_shows_nothing_and_what_is_no_look_are_like_nothing(looks: dict[Path, str]) -> None:
    assert look_of(np.full((300, 400, 3), 90, np.uint8)) == ""
    look = looks[SAMPLES[0]]
    assert Looks([look, "", None, look[:-1], "g" * 256]).like(look) == [0]
    assert Looks([look]).like("") == []
    assert Looks([]).like(look) == []


def test_such_photos_are_told_where_a_field_is_judged_and_left_in(looks: dict[Path, str]) -> None:
    given = counts([entry(n, look=looks[SAMPLES[n % 2]]) for n in range(3)])
    spots, notes = one_of_each(collect(given).spots)
    assert len(spots) == 3
    assert notes == [
        f"{LOOKS} (IMG_2.jpg and IMG_0.jpg): if one is a copy, its place counts twice, so leave "
        "the copy out"
    ]


def test_a_count_has_it() -> None:
    from tillercount.count import count_photo

    (path,) = (path for path in SAMPLES if path.name == "spot_06_no_frame.jpg")
    record = count_photo(path, "square:12in").to_json()
    assert record["status"] == "refused"
    assert record["look"] == look_of(pixels(path))


def test_of_many_each_is_told_with_the_first_it_is_like(looks: dict[Path, str]) -> None:
    """More than one block of them, some of them no looks; checked bit by bit, all eight ways."""
    rng = np.random.default_rng(2)
    many = [rng.bytes(128).hex() for _ in range(300)]
    copies = [look_of(np.ascontiguousarray(np.rot90(pixels(p), k))) for k, p in enumerate(SAMPLES)]
    many[100:100] = [*looks.values(), "", "no look"]
    many += copies
    want = set()
    for new, one in enumerate(many):
        for old in range(new):
            if one in ("", "no look") or many[old] in ("", "no look"):
                continue
            signs, other = (
                np.unpackbits(np.frombuffer(bytes.fromhex(t), np.uint8)).reshape(32, 32)
                for t in (one, many[old])
            )
            odd = np.arange(32) % 2
            ways = [
                turned ^ (down * odd[:, None]) ^ (across * odd)
                for turned in (signs, signs.T) for down in (0, 1) for across in (0, 1)
            ]
            if min(int((way != other).sum()) for way in ways) <= 100:
                want.add((new, old))
                break
    assert len(want) >= len(SAMPLES)
    assert set(Looks(many).firsts()) == want
    first = len(many) - len(copies)
    assert set(Looks(many).firsts(first)) == {pair for pair in want if pair[0] >= first}
