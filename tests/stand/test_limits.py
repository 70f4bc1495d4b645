"""Ceilings in print beside the nitrogen of a goal."""

from __future__ import annotations

import pytest

from tillercount.stand.limits import held_against


@pytest.mark.parametrize("goal", [5.0, 80.0])
def test_a_share_of_the_whole_says_that_it_moves_with_the_goal(goal: float) -> None:
    """Maryland's half of the spring nitrogen isn't a number of pounds in print; 50 lb is."""
    whole = (1.1 * goal, 1.5 * goal)
    held = {one.ceiling.by: one for one in held_against((0.0, 1.0), whole, "wheat")}
    assert held["Maryland"].lb_ac == pytest.approx(0.75 * goal)
    assert "(50 % of the whole for this goal; it moves with the goal)" in held["Maryland"].line
    for by in ("Virginia", "Kentucky", "Delaware"):
        assert "moves with the goal" not in held[by].line


def test_of_two_ends_only_the_share_moves() -> None:
    """North Carolina: up to half of the whole, about 60 lb; of 150 lb the 60 are the lower."""
    for most, moves in ((100.0, True), (150.0, False)):
        held = next(
            h for h in held_against((0.0, 1.0), (most, most), "wheat")
            if h.ceiling.by == "North Carolina"
        )  # fmt: skip
        assert held.moves == moves


def test_a_ceiling_that_is_a_share_has_no_false_digits() -> None:
    """Half of a whole of 98-133.8 lb."""
    (maryland, *_) = held_against((20.0, 30.0), (98.0, 133.83), "wheat")
    assert maryland.pounds_text.startswith("67 lb N/ac (50 % of the whole")
