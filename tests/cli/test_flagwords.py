"""Flags explained: all that there are, each once, only where they occur."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from tillercount.cli.counting import CountRun
from tillercount.cli.flagwords import FLAG_WORDS, WRONG_SIZE, explained
from tillercount.cli.show import _refusals, mean_line
from tillercount.quality import LIMITS


def test_every_check_has_words() -> None:
    assert set(LIMITS) <= set(FLAG_WORDS)
    assert "unusual" in FLAG_WORDS


def test_only_those_that_occur() -> None:
    records = [
        {"status": "counted", "flags": ["17° (limit 15°)"], "flag_codes": ["tilt"]},
        {"status": "counted", "flags": ["18° (limit 15°)", "odd"], "flag_codes": ["tilt", "new"]},
        {"status": "refused", "flags": ["dark"], "flag_codes": ["darkness"]},
        {"status": "counted", "flags": ["from an old file"]},
    ]
    assert explained(records) == {
        "tilt": FLAG_WORDS["tilt"], "new": "odd", "from an old file": "",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("codes", "says"),
    [
        (((), ()), ""),
        ((("leaf width",), ()), "looks wrong (1 of 2 photos)."),
        ((("leaf width",), ("cover per shoot", "tilt")), "looks wrong (2 of 2 photos)."),
        ((("leaf width",), (), ()), ""),
        ((("scale",), ("plant density",)), ""),  # these have other causes, too
        ((("marked size",),), "looks wrong."),
    ],
)
def test_a_mean_by_a_size_that_looks_wrong_is_not_to_be_used(
    codes: tuple[tuple[str, ...], ...], says: str
) -> None:
    assert set(FLAG_WORDS) > WRONG_SIZE
    one = {"status": "counted", "plants": {"count": 20.0}, "shoots": {"count": 60.0},
           "area": {"ft2": 4.0}}  # fmt: skip
    line = mean_line(CountRun(tuple({**one, "flag_codes": list(flags)} for flags in codes), {}))
    assert "Mean: 5.0 plants and 15.0 shoots per ft²." in line
    assert ("Don't use it yet" in line) == bool(says)
    assert says in line


def far_off(spacing_mm: float, leaf_mm: float, level: str = "ok") -> dict[str, Any]:
    return {
        "status": "counted",
        "area": {"kind": "hoop", "text": "hoop:660mm"},
        "flags": ["one pixel is 0.74 mm wide"],
        "flag_codes": ["scale"],
        "rows": {"spacing_mm": spacing_mm},
        "checks": [{"name": "leaf width", "value": leaf_mm, "level": level, "limit": 6.5}],
    }


@pytest.mark.parametrize(
    ("spacing_mm", "leaf_mm", "level", "said"),
    [
        (371.0, 6.0, "ok", "(rows would stand 14.6 in (37 cm) apart)"),
        (371.0, 8.0, "lower", "(rows would stand 14.6 in (37 cm) apart and leaves would be 8.0 mm"),
        (190.0, 8.0, "lower", "(leaves would be 8.0 mm wide)"),
        (190.0, 4.0, "ok", ""),
        (190.0, 2.0, "lower", ""),
    ],
)
def test_nobody_is_sent_closer_to_a_frame_of_a_wrong_size(
    spacing_mm: float, leaf_mm: float, level: str, said: str
) -> None:
    """A 13.5-in hoop typed as 26 in: the photo is as near as it can be."""
    words = explained([far_off(spacing_mm, leaf_mm, level)] * 2)["scale"]
    assert ("the size in --area is probably too large" in words) == bool(said)
    assert said in words
    assert words.endswith("go closer") == (not said)


def test_one_photo_does_not_tell_the_rows() -> None:
    assert explained([far_off(371.0, 6.0)])["scale"] == FLAG_WORDS["scale"]
    stick = far_off(371.0, 6.0) | {"area": {"kind": "row"}, "stick_rows": {"spacing_mm": 371.0}}
    assert explained([stick] * 2)["scale"] == FLAG_WORDS["scale"]
    assert explained([far_off(190.0, 8.0, "lower")])["scale"] == FLAG_WORDS["scale"]


def good(leaf_mm: float = 4.0) -> dict[str, Any]:
    return far_off(190.0, leaf_mm) | {"flags": [], "flag_codes": []}


def test_photos_of_another_size_or_refused_say_nothing() -> None:
    """One refused photo once spoke for 19 good ones of another size."""
    wide = far_off(190.0, 8.0, "lower")
    other = {"area": {"kind": "square", "text": "square:914mm", "typed": "square:36in"}}
    plain = FLAG_WORDS["scale"]
    one = far_off(190.0, 4.0)
    assert explained([one, *[good()] * 18, wide | other | {"status": "refused"}])["scale"] == plain
    assert explained([one, *[wide | {"status": "refused"}] * 2])["scale"] == plain
    unflagged = wide | other | {"flags": [], "flag_codes": []}
    assert explained([one, *[unflagged] * 2])["scale"] == plain
    said = explained([one, *[wide | other] * 2])["scale"]
    assert said.startswith(f"{plain}; but square:36in is probably too large (leaves would be 8.0")


def test_few_wide_leaves_among_many_do_not_tell() -> None:
    wide = far_off(190.0, 8.0, "lower")
    assert explained([wide, wide, *[good()] * 3])["scale"] == FLAG_WORDS["scale"]
    assert "probably too large" in explained([wide, wide, *[good()] * 2])["scale"]


@pytest.mark.parametrize("drop", ["value", "limit", "level", "name"])
def test_checks_of_an_odd_file_say_nothing(drop: str) -> None:
    odd = far_off(190.0, 8.0, "lower")
    check = {key: value for key, value in odd["checks"][0].items() if key != drop}
    assert "scale" in explained([odd | {"checks": [check, "none"]}] * 2)


def test_a_reason_that_differs_only_in_its_figures_is_told_in_full_once() -> None:
    wide = "one pixel is {} mm wide on the ground (limit 1.2 mm/px): check the size in --area"
    records = [
        {"photo": f"{n}.jpg", "status": "refused", "reason": wide.format(mm)}
        for n, mm in enumerate(("4.09", "4.15", "4.11"))
    ]
    records.append({"photo": "x.jpg", "status": "refused", "reason": "the photo is blurred"})
    run = SimpleNamespace(records=records)
    lines = list(_refusals(run, {one["photo"]: one["photo"] for one in records}))  # type: ignore[arg-type]
    assert sum("check the size in --area" in line for line in lines) == 1
    assert lines[2].endswith("one pixel is 4.15 mm wide on the ground (limit 1.2 mm/px), likewise.")
    assert lines[-1] == "  x.jpg: the photo is blurred."


def test_the_area_stays_whole_and_its_figures_are_kept() -> None:
    dense = (
        "whole:0.64mm doesn't fit the picture ({} shoots per ft² are more than a young stand is "
        "likely to have; leaves would be thin): check the number and the unit in --area"
    )
    records = [
        {"photo": f"{n}.jpg", "status": "refused", "reason": dense.format(shoots)}
        for n, shoots in enumerate(("303", "294"))
    ]
    blurred = {"status": "refused", "reason": "the photo is blurred", "todo": "Hold still."}
    records += [{"photo": "8.jpg", **blurred}, {"photo": "9.jpg", **blurred}]
    run = SimpleNamespace(records=records)
    lines = list(_refusals(run, {one["photo"]: one["photo"] for one in records}))  # type: ignore[arg-type]
    assert lines[2] == (
        "  1.jpg: whole:0.64mm doesn't fit the picture (294 shoots per ft² are more than a young "
        "stand is likely to have; leaves would be thin), likewise."
    )
    assert lines[-1] == "  8.jpg, 9.jpg: the photo is blurred. Hold still."
