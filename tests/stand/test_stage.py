"""Growth stages on both scales."""

from __future__ import annotations

import pytest

from tillercount.errors import InputError
from tillercount.stand import parse_stage


@pytest.mark.parametrize(
    ("text", "feekes", "gs"),
    [
        ("Feekes 3", (3, 3), (22, 28)),
        ("F3", (3, 3), (22, 28)),
        ("f 2-3", (2, 3), (20, 28)),
        ("Feekes 3 to 4", (3, 4), (22, 30)),
        ("GS25", (3, 3), (25, 25)),
        ("Zadoks 25", (3, 3), (25, 25)),
        ("BBCH 31", (6, 6), (31, 31)),
        ("GS 12", (1, 1), (12, 12)),
        ("Feekes 10.5", (10.5, 10.5), (58, 59)),
        ("Feekes 10.5.1", (10.51, 10.51), (60, 69)),
        ("GS 85", (11, 11), (85, 85)),
        ("jointing", (6, 6), (31, 31)),
        ("Tillering", (2, 4), (20, 29)),
        ("flag leaf", (8, 9), (37, 40)),
        ("boot", (10, 10), (41, 49)),
        ("heading", (10.1, 10.5), (50, 59)),
        ("flowering", (10.51, 10.51), (60, 69)),
    ],
)
def test_stages(text: str, feekes: tuple[float, float], gs: tuple[int, int]) -> None:
    """Feekes against Zadoks: BBCH cereals table; tillering and boot from memory."""
    stage = parse_stage(text)
    assert stage.feekes == feekes
    assert stage.gs == gs
    assert stage.text == text


def test_gs30_is_feekes_4_to_5() -> None:
    """Georgia calls GS30 Feekes 4, Delaware 5, North Carolina and Wisconsin 4-5."""
    stage = parse_stage("GS30")
    assert stage.feekes == (4, 5)
    assert stage.words == "Feekes 4-5 (GS30)"
    assert "1/2 in" in stage.feature
    assert not stage.jointed


def test_every_zadoks_code_has_a_place_in_order() -> None:
    stages = [parse_stage(f"GS{code}") for code in range(10, 100)]
    assert [s.feekes[0] for s in stages] == sorted(s.feekes[0] for s in stages)
    assert [s.jointed for s in stages] == [code >= 31 for code in range(10, 100)]


@pytest.mark.parametrize(
    "text",
    ["", "3", "Feekes", "Feekes 12", "Feekes 3.5", "GS 200", "GS 5", "GS 25.5", "F4-3", "x3"],
)
def test_stages_refused(text: str) -> None:
    with pytest.raises(InputError, match="stage"):
        parse_stage(text)


@pytest.mark.parametrize("text", ["3", "green-up", "25"])
def test_what_names_no_stage_lists_the_words_that_do(text: str) -> None:
    with pytest.raises(InputError, match="one of the words seedling, tillering, jointing"):
        parse_stage(text)


def test_a_bare_number_says_that_the_scale_is_missing() -> None:
    with pytest.raises(InputError, match="which scale: Feekes 3 and GS3 are different stages"):
        parse_stage("3")
