"""How it was worked out: a short account in groups, each number from the record."""

from __future__ import annotations

import html
import re
from typing import Literal

import pytest

from tests.report.fields import CLOSE, PUSH, THIN, field, record
from tillercount.field import SpotDensity
from tillercount.report.blocks import Columns, Table, wrapped
from tillercount.report.language import load_words, plain
from tillercount.report.pagespots import spot_rows
from tillercount.report.pdf import report_pdf
from tillercount.report.record import build_record
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import assess
from tillercount.stand.words import number_text
from tillercount.units import per_m2

HEADINGS = [
    "What was counted",
    "How the spots became a field figure",
    "Under which rules",
    "The nitrogen, worked out",
    "Program and record",
]


def section(made: dict[str, object]) -> str:
    page = report_html(make_sheet(made, load_words()))
    return page.split('id="method"')[1].split("</section>")[0]


def text_of(part: str) -> str:
    bare = re.sub(r"</?span[^>]*>", "", part)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", bare)).split())


def field_spot(name: str, source: Literal["hand", "photo"], plants: float) -> SpotDensity:
    return SpotDensity(name, source, per_m2(plants), per_m2(3 * plants))


@pytest.mark.parametrize("plants", [THIN, PUSH, CLOSE])
def test_five_groups_in_order_and_no_list_of_steps(plants: tuple[int, ...]) -> None:
    part = section(record(plants))
    # while it isn't decided that the stand stays, there is no nitrogen to work out
    wanted = [one for one in HEADINGS if plants != THIN or "nitrogen" not in one]
    assert [text_of(one) for one in re.findall("<h3>(.*?)</h3>", part)] == wanted
    assert part.count("<li>") == 2  # heads and yield, each with its reckoning


def test_each_spot_as_it_was_counted() -> None:
    part = section(record(PUSH))
    for i, plants in enumerate(PUSH):
        for what, value in (("plants", plants), ("shoots", 3 * plants)):
            at = f'data-at="counted/spots/{i}/per_ft2/{what}"[^>]*>([^<]*)<'
            found = re.search(at, part)
            assert found is not None
            assert found[1] == str(value)
    assert "4 counted by hand, 2 by photo" in text_of(part)


def test_photos_that_pairs_correct_are_marked_and_by_how_much() -> None:
    """The table must have no photo's count that isn't the photo's, without a word."""
    spots = [field_spot(str(i), "hand", 14.0 + 2 * i) for i in range(4)]
    spots += [field_spot(str(i), "photo", 17.0 + 2 * i) for i in range(5)]
    made = build_record(assess(spots, name="Far field"))
    counted = made["counted"]
    assert [one["corrected"] for one in counted["spots"]] == [[]] * 4 + [["plants", "shoots"]]
    assert counted["spots"][4]["per_ft2"]["plants"] == pytest.approx(25.0 - 3.0)
    said = text_of(section(made))
    assert "hand photo *" in said
    assert "on average plants −3.0, shoots −9.0 per ft²" in said
    assert "corrected" not in text_of(section(record(PUSH)))
    notes = [row["notes"] for row in spot_rows(assess(spots, name="Far field"))]
    assert notes[-1] == (
        "in the mean as 22 plants and 66 shoots, corrected by hand counts of other spots"
    )
    assert not any("in the mean" in one for one in notes[:-1])


def test_the_field_figure_and_the_rules() -> None:
    made = record(PUSH)
    text = text_of(section(made))
    low, high = (number_text(made["densities"][0]["per_ft2"][e]) for e in ("low", "high"))
    assert f"Mean, 90 % interval 23 ({low} to {high})" in text
    again = field(PUSH).field.plants
    assert again is not None
    assert (again.low, again.high) == pytest.approx(
        [made["densities"][0]["per_m2"][e] for e in ("low", "high")]
    )
    assert "Lines at 18, 27, 35 plants per ft², by common practice" in text
    assert "clear from 80 % on" in text
    close = text_of(section(record(CLOSE)))
    assert "so it is too close to call" in close
    assert "clear it" not in text


def test_the_nitrogen_is_the_plans_own_arithmetic() -> None:
    made = record(PUSH)
    part = section(made)
    for i, line in enumerate(made["nitrogen"]["arithmetic"]):
        one = made["nitrogen"]["working"][i]
        assert line == (f"{one['what']}: {one['text']}" if one["what"] else one["text"])
        assert html.escape(one["text"], quote=False) in html.unescape(part).replace("&", "&amp;")
    assert "28 % N" in text_of(part)


def test_without_a_nitrogen_plan_and_with_one_spot() -> None:
    made = build_record(assess([*_one()], "common-practice", name="Far field"))
    text = text_of(section(made))
    assert "There is one spot." in text
    assert "No rates yet: one spot" in text  # the assessment's own nitrogen, as it was told
    made["steps"] = [one for one in made["steps"] if one["kind"] != "nitrogen"]
    assert "The nitrogen, worked out" not in text_of(section(made))


def _one() -> list[object]:
    from tests.report.fields import spots

    return [*spots((22,))]


def test_every_step_stays_in_the_record_with_its_reason() -> None:
    made = record(CLOSE)
    assert [step["kind"] for step in made["steps"]].count("class") == 1
    assert all(step["why"] for step in made["steps"])


@pytest.mark.parametrize(
    ("columns", "across", "parts"),
    [(6, 6, [6]), (7, 6, [4, 4]), (8, 6, [4, 4]), (13, 6, [5, 5, 5]), (1, 6, [1])],
)
def test_a_wide_grid_is_set_below_itself(columns: int, across: int, parts: list[int]) -> None:
    names = tuple((str(i),) for i in range(columns))
    table = Table((("Spot",), *names), [(("Plants",), *names)], look="grid")
    made = wrapped(table, across)
    assert [len(one.head) - 1 for one in made] == parts
    told = [plain(cell) for one in made for cell in one.rows[0][1:]]
    assert [text for text in told if text] == [str(i) for i in range(columns)]
    assert {plain(one.rows[0][0]) for one in made} == {"Plants"}


def test_a_table_of_words_is_never_cut() -> None:
    table = Table(tuple((str(i),) for i in range(12)), [])
    assert wrapped(table, 3) == [table]


def test_the_account_stands_in_two_columns() -> None:
    sheet = make_sheet(record(PUSH), load_words())
    blocks = next(one for one in sheet.sections if one.key == "method").blocks
    assert [len(one.columns) for one in blocks if isinstance(one, Columns)] == [2, 2]


def test_many_spots_get_the_whole_width_and_no_more_than_three_sheets() -> None:
    made = record(tuple(18 + (7 * i) % 15 for i in range(36)))
    sheet = make_sheet(made, load_words())
    blocks = next(one for one in sheet.sections if one.key == "method").blocks
    assert any(isinstance(one, Table) and one.look == "grid" for one in blocks)
    data = report_pdf(sheet)
    assert len(re.findall(rb"/Type /Page\b(?!s)", data)) <= 3


def test_folded_on_a_screen() -> None:
    part = section(record(PUSH))
    assert part.count("<details>") == part.count("</details>") == 1
    assert part.index("<summary>") < part.index("What was counted")


def test_a_mean_below_both_of_its_parts_says_why() -> None:
    """By hand 29, by photo 28.8; each spot once (2 x 29 + 3 x 24.67) / 5 = 26.4."""
    spots = [
        *(field_spot(name, "hand", plants) for name, plants in (("1", 28.0), ("2", 30.0))),
        *(field_spot(name, "photo", plants) for name, plants in (("1", 34.0), ("2", 36.0))),
        *(field_spot(name, "photo", p) for name, p in (("3", 24.0), ("4", 26.0), ("5", 24.0))),
    ]
    made = build_record(assess(spots))
    part = text_of(section(made))
    assert part.count("the field's mean lies below both") == 2
    assert "(2 x 29.0 + 3 x 24.7) / 5 = 26.4" in part
    assert "By hand alone, spots: 2" in part
    assert "By photo alone, spots: 5" in part


def _beside(*shoots: float | None) -> list[SpotDensity]:
    """A photo for each, and beside it a hand count of its plants and of these shoots."""
    return [
        spot
        for i, each in enumerate(shoots)
        for spot in (
            field_spot(f"{i}", "photo", 22 + i % 3),
            SpotDensity(f"{i}", "hand", per_m2(23), None if each is None else per_m2(each)),
        )
    ]


IN_PART = (
    "Where a spot has both, the hand count stands for its photo in what was counted by hand; the "
    "rest is the photo's."
)
WHOLE = "Where a spot has both, the hand count stands for its photo."


@pytest.mark.parametrize(
    ("spots", "roles", "how_many", "taken"),
    [
        ([*_beside(None), field_spot("8", "photo", 21), field_spot("9", "photo", 24)],
         ["hand count taken in part", "used", "used", "used"],
         "3 spots went into the means: 2 by photo, 1 partly by each.", IN_PART),
        ([*_beside(66, None), field_spot("9", "photo", 24)],
         ["hand count taken", "used", "hand count taken in part", "used", "used"],
         "3 spots went into the means: 1 by hand, 1 by photo, 1 partly by each.", IN_PART),
        (_beside(None, None), ["hand count taken in part", "used"] * 2,
         "2 spots went into the means, each of them counted partly by hand and partly by photo.",
         IN_PART),
        ([*_beside(66), field_spot("9", "photo", 24)], ["hand count taken", "used", "used"],
         "2 spots went into the means: 1 counted by hand, 1 by photo.", WHOLE),
    ],
)  # fmt: skip
def test_a_photo_taken_in_part_is_no_photo_taken(
    spots: list[SpotDensity], roles: list[str], how_many: str, taken: str
) -> None:
    judged = assess(spots, "common-practice", stage="Feekes 3")
    assert [judged.field.role(spot) for spot in spots] == roles
    notes = [row["notes"] for row in spot_rows(judged)]
    words = {"hand count taken": "its hand count was taken instead", "used": "",
             "hand count taken in part": "hand count taken instead, where it has one"}  # fmt: skip
    assert all(note.startswith(words[role]) for note, role in zip(notes, roles, strict=True))
    said = text_of(section(build_record(judged)))
    assert how_many in said
    assert taken in said
    assert (WHOLE in said) == (taken == WHOLE)
    (step,) = (step for step in judged.steps if step.kind == "spots")
    assert not re.search(r"\b0 ", step.value.split(";")[0])
