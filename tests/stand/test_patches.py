"""A field whose spots differ too much for one verdict: said before anything else."""

from __future__ import annotations

import pytest

from tests.stand.fields import field
from tillercount.stand import assess
from tillercount.stand.patches import TOO_UNEVEN

WORDS = "Spots differ too much for one verdict"


def actions_of(plants: list[float], stage: str = "Feekes 3") -> list[str]:
    return [one.text for one in assess(field(plants), stage=stage).verdict.actions]


def test_bare_spots_beside_thick_ones_come_first() -> None:
    first = actions_of([0, 30, 25, 0, 10])[0]
    assert first.startswith(WORDS)
    assert "CV 107%" in first
    assert "no plants at spots 0 and 3" in first
    assert "judge the thin part by itself (zones)" in first


def test_the_verdict_is_held_back_and_more_counting_isnt_the_answer() -> None:
    verdict = assess(field([0, 30, 25, 0, 10]), stage="Feekes 3").verdict
    assert not verdict.clear
    texts = [one.text for one in verdict.actions]
    assert any("judge each part alone" in text for text in texts)
    assert not any(text.startswith("Count about") for text in texts)


@pytest.mark.parametrize(
    ("plants", "said"),
    [
        ([27, 25, 26, 28, 27], False),
        ([10, 30, 22, 40, 15], False),  # CV 51 %
        ([9, 30, 22, 55, 12], True),  # CV 73 %
        ([25, 28, 26, 27, 24, 25, 26, 27, 0], True),  # CV 38 %, but one spot is bare
        ([1, 2, 1, 2, 1], False),
        ([3, 3, 2, 3, 3, 3, 0, 3, 3], False),  # bare beside thin: the whole is thin
        ([1, 8, 2, 1, 9], False),  # CV 93 %, but the verdict is the same at each
        ([27], False),
        ([0, 0, 0, 0], False),  # bare everywhere differs in nothing
    ],
)
def test_when_it_is_said(plants: list[float], said: bool) -> None:
    assert any(text.startswith(WORDS) for text in actions_of(plants)) == said


def test_the_limit_is_above_a_published_poor_stand() -> None:
    from tillercount.field.estimate import ASSUMED_CV

    assert ASSUMED_CV < TOO_UNEVEN
