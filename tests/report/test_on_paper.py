"""No page asks its reader to type something: options and commands are for the screen."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

import tillercount
from tests.report.fields import CLOSE, PUSH, TARGET, THIN, record, spots
from tests.report.reading import text_of
from tillercount import twoforms
from tillercount.field import SpotDensity
from tillercount.report.language import load_words
from tillercount.report.page import page_html
from tillercount.report.record import build_record
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import Assessment, assess, load_rules, parse_stage
from tillercount.stand.topdress import topdress
from tillercount.stand.weeds import weed_loss
from tillercount.twoforms import FORMS, TwoForms, as_sentence, on_paper
from tillercount.units import per_m2

TO_TYPE = r"(?<![\w-])--[a-z]|tillercount [a-z]+"
SIZE = (
    "one pixel is 0.91 mm wide on the ground (limit 0.85 mm/px); check the size in --area and its "
    "unit; if they are right, count this spot by hand too"
)
REASON = "the frame in the photo is about 1 to 1.6, but --area says square of 12 in"


def weedy(ft2: float | None) -> list[SpotDensity]:
    """Photos with other plants in them, counted or only their cover."""
    return [
        SpotDensity(str(i), "photo", per_m2(22 + i), per_m2(66 + i), photo=f"{i}.jpg",
                    flags=(SIZE,), other_cover=0.06,
                    other_per_m2=None if ft2 is None else per_m2(ft2 + i))
        for i in range(4)
    ]  # fmt: skip


def with_refused() -> Assessment:
    return replace(assess(spots(PUSH), name="Far field"), refused=(("IMG_9.jpg", REASON),))


def with_weed() -> Assessment:
    weeds = (weed_loss("henbit", 40.0),)
    return replace(assess(spots(PUSH), name="Far field"), weeds=weeds)


def by_default(*plants: int) -> Assessment:
    return assess(spots(plants, placed=False), by_default=True, name="Far field")


CASES: dict[str, Callable[[], Assessment]] = {
    "thin": lambda: by_default(*THIN),
    "push": lambda: by_default(*PUSH),
    "target": lambda: by_default(*TARGET),
    "close": lambda: by_default(*CLOSE),
    "one spot": lambda: by_default(22),
    "bare": lambda: by_default(0, 0, 0),
    "far away": lambda: assess([replace(one, lon=-60.0) for one in spots(PUSH)], stage="GS25"),
    "elsewhere": lambda: assess(spots(PUSH), stage="Feekes 3", yield_goal=80.0),
    "weeds by cover": lambda: assess(weedy(None)),
    "weeds counted": lambda: assess(weedy(3.0)),
    "weeds at a stage": lambda: assess(weedy(3.0), stage="Feekes 3"),
    "a weed named": with_weed,
    "a photo refused": with_refused,
}
"""Every caution that names an option, at least once."""


@pytest.mark.parametrize("case", CASES)
def test_no_page_has_anything_to_type(case: str) -> None:
    a = CASES[case]()
    bare = topdress(load_rules("kentucky-stand"), assessment=None, stage=parse_stage("Feekes 3"))
    two = topdress(load_rules(a.rules.name), assessment=a, stage=a.stage, goal_bu_ac=80.0)
    pages = {"assessment": page_html(a)}
    for units in ("us", "metric"):
        for made in (None, bare, two):
            kept = build_record(a, made, units=units)
            pages[f"report {units} {made is two}"] = report_html(make_sheet(kept, load_words()))
    for which, page in pages.items():
        text = text_of(page)
        assert len(text) > 2000
        found = [text[max(0, m.start() - 60) : m.end() + 40] for m in re.finditer(TO_TYPE, text)]
        assert found == [], which


@pytest.mark.parametrize("plants", [THIN, PUSH, TARGET, CLOSE, (22,)])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_nor_has_a_report_with_all_in_it(plants: tuple[int, ...], units: str) -> None:
    text = text_of(report_html(make_sheet(record(plants, units=units), load_words())))
    assert re.findall(TO_TYPE, text) == []


def test_the_screen_keeps_what_to_type_and_the_page_says_it_otherwise() -> None:
    a = assess(weedy(3.0), by_default=True, name="Far field")
    screen = " ".join((*a.flags, a.weed_notice))
    page = text_of(page_html(a))
    for form in (twoforms.SIZE, twoforms.NO_RULES, twoforms.OTHER_RULES, twoforms.WEED):
        assert form.screen in screen
        assert form.page in page.replace("No rules were", "no rules were")
    # what a program reads is left as the other commands give it
    kept = build_record(a)
    assert twoforms.SIZE.screen in " ".join(kept["assessment"]["flags"])
    assert twoforms.SIZE.page in " ".join(kept["flags"])


def written() -> Iterator[str]:
    """Every constant string of the program, but for those of the forms themselves."""
    for path in Path(tillercount.__file__).parent.rglob("*.py"):
        if path.name == "twoforms.py":
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield node.value
            elif isinstance(node, ast.Attribute) and node.attr == "screen":
                yield f"{getattr(node.value, 'id', '')}.screen"


def test_every_form_is_still_in_use() -> None:
    said = list(written())
    names = {id(one): name for name, one in vars(twoforms).items() if isinstance(one, TwoForms)}
    for form in FORMS:
        used = f"{names.get(id(form), '')}.screen" in said
        assert used or any(form.screen in text for text in said), form.screen


FINDER_SAYS = "but --area says"
"""The frame finder's own words, of a refused photo."""


def test_every_phrase_stands_in_one_place() -> None:
    """Who says it takes it from the forms, so that screen and paper can't come apart."""
    said = list(written())
    for form in FORMS:
        copies = [text for text in said if form.screen in text]
        assert not copies or form.screen == FINDER_SAYS, copies


def test_every_form_is_reached() -> None:
    """A form that holds another's words comes first."""
    for form in FORMS:
        assert on_paper(form.screen) == form.page
        assert on_paper(f"so: {form.screen}; and then") == f"so: {form.page}; and then"
        assert not re.search(TO_TYPE, form.page)
        start = f"{form.screen[0].upper()}{form.screen[1:]}"
        assert on_paper(start) == f"{form.page[0].upper()}{form.page[1:]}"


def test_sentences() -> None:
    assert as_sentence("check that date.") == "Check that date."
    assert as_sentence("") == ""
