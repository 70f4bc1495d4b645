"""Other things are told from stands by directions fitted on pictures of them."""

from __future__ import annotations

import numpy as np
import pytest

from tillercount.model.things import Things

DIMENSIONS = 12


def clouds(rng: np.random.Generator, away: float) -> tuple[np.ndarray, ...]:
    """Stands to fit on, other stands, lawns to fit on, other lawns, stands of no use yet."""
    shape = rng.normal(size=(DIMENSIONS, DIMENSIONS))
    shift = away * shape[0] / np.linalg.norm(shape[0]) * 3
    def draw(n: int, at: np.ndarray) -> np.ndarray:
        return rng.normal(size=(n, DIMENSIONS)) @ shape + at
    none = np.zeros(DIMENSIONS)

    return draw(300, none), draw(400, none), draw(40, shift), draw(40, shift), draw(400, none)


def test_a_thing_shown_is_noticed_and_stands_are_not() -> None:
    stands, others, lawns, more_lawns, fresh = clouds(np.random.default_rng(0), 6.0)
    things = Things.fit(stands, others, {"lawn": lawns})
    assert things is not None
    odd = [things.of(e).much > 1 for e in fresh]
    assert np.mean(odd) < 0.03
    found = [things.of(e) for e in more_lawns]
    assert np.mean([f.much > 1 for f in found]) > 0.9
    assert {f.thing for f in found} == {"lawn"}


def test_a_thing_that_looks_like_stands_is_not_told_apart() -> None:
    """No direction is made up where there is none."""
    stands, others, lawns, more_lawns, _ = clouds(np.random.default_rng(1), 0.0)
    things = Things.fit(stands, others, {"lawn": lawns})
    assert things is not None
    assert np.mean([things.of(e).much > 1 for e in more_lawns]) < 0.1


def test_the_scale_is_that_of_stands_left_out() -> None:
    stands, others, lawns, *_ = clouds(np.random.default_rng(2), 3.0)
    things = Things.fit(stands, others, {"lawn": lawns})
    assert things is not None
    much = np.array([things.of(e).much for e in others])
    assert np.median(much) == pytest.approx(0, abs=1e-9)
    assert (much > 1).sum() <= 1


def test_many_things_and_few_stands_do_not_make_every_tenth_stand_odd() -> None:
    rng = np.random.default_rng(6)
    stands, others, lawns, _, fresh = clouds(rng, 0.0)
    named = {name: rng.permutation(lawns + rng.normal(size=lawns.shape)) for name in "abcde"}
    things = Things.fit(stands, others[:100], named)
    assert things is not None
    assert np.mean([things.of(e).much > 1 for e in fresh]) < 0.03
    assert Things.fit(stands, others[:99], named) is None


def test_too_few_pictures_of_a_thing_say_nothing() -> None:
    stands, others, lawns, *_ = clouds(np.random.default_rng(3), 3.0)
    assert Things.fit(stands, others, {"lawn": lawns[:7]}) is None
    both = Things.fit(stands, others, {"lawn": lawns[:7], "maize": lawns})
    assert both is not None
    assert both.names == ("maize",)


def test_written_and_read_back_it_says_the_same() -> None:
    stands, others, lawns, more_lawns, _ = clouds(np.random.default_rng(4), 3.0)
    things = Things.fit(stands, others, {"lawn": lawns, "maize": more_lawns}, ["lawn"])
    assert things is not None
    again = Things.read(things.tensors(), things.numbers())
    for e in more_lawns[:5]:
        one, two = things.of(e), again.of(e)
        assert one.thing == two.thing
        assert one.growing == two.growing == (one.thing == "lawn")
        assert one.much == pytest.approx(two.much)
