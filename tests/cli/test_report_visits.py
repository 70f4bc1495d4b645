"""A season's visits in the report: the day, what changed since the one before, and their order."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
VISIT = Path(__file__).parents[2] / "sample_images" / "spring_visit"


def test_a_second_visit_says_what_changed_where_spots_were_counted_twice(
    run: Run, tmp_path: Path
) -> None:
    store, page, values = tmp_path / "s.sqlite", tmp_path / "r.html", tmp_path / "r.json"
    assert run("season", "new", store).exit_code == 0
    for name, more, spots in (("4 March 2026", 0, 4), ("20 March 2026", 6, 4), ("May", 9, 2)):
        rows = "".join(f"{n},{20 + n},{40 + n * n + more},1 ft2\n" for n in range(spots))
        given = tmp_path / f"{more}.csv"
        given.write_text(f"spot,plants,shoots,area\n{rows}", encoding="utf-8")
        where = ("--farm", "Alder Bend", "--field", "Pole", "--visit", name)
        day = ("--date", "2026-05-05") if name == "May" else ()
        added = run("season", "add", store, given, *where, *day)
        assert added.exit_code == 0, added.output

    def said(visit: str) -> tuple[str, dict[str, Any]]:
        done = run("report", store, "--visit", visit, "--html", page, "--json", values)
        assert done.exit_code == 0, done.output
        text = re.sub("<[^>]*>", "", page.read_text("utf-8"))
        return text, json.loads(values.read_text("utf-8"))

    text, kept = said("20 March 2026")
    assert "Since the visit “4 March 2026”, on the spots counted both times" in text
    assert "shoots +6.0 per ft²" in text
    assert kept["since"]["changes"][1]["per_ft2"]["mean"] == pytest.approx(6.0)
    assert kept["visited"] == "2026-03-20"
    assert "the way of counting" not in text
    assert kept["since"]["ways"] is None
    shown = run("season", "show", store, "--visit", "20 March 2026").output
    # all spots were counted both times: their means are the same figures, less surely
    assert "the means of all spots differ by" not in shown
    for visit in ("4 March 2026", "May"):  # the first, and one with too few spots of before
        text, kept = said(visit)
        assert "counted both times" not in text
        assert kept["since"] is None


def test_an_order_of_visits_that_is_guessed_is_said(run: Run, tmp_path: Path) -> None:
    store, page = tmp_path / "s.sqlite", tmp_path / "r.html"
    assert run("season", "new", store).exit_code == 0
    said = []
    for more, where in ((0, ()), (6, ("--visit", "early", "--date", "4 March 2025"))):
        rows = "".join(f"{n},{20 + n},{40 + n * n + more},1 ft2\n" for n in range(4))
        given = tmp_path / f"{more}.csv"
        given.write_text(f"spot,plants,shoots,area\n{rows}", encoding="utf-8")
        whole = ("--farm", "Alder Bend", "--field", "Pole", *where)
        said.append(run("season", "add", store, given, *whole).output)
    assert "taken to be before early" in said[1]
    shown = run("season", "show", store, "--field", "Pole").output
    assert "visit 1, of which no day is known" in shown
    assert run("report", store, "--html", page).exit_code == 0
    text = re.sub("<[^>]*>", "", page.read_text("utf-8"))
    assert "Since the visit “visit 1”, on the spots counted both times" in text
    assert "No day is known of “visit 1”" in text
    day = ("--visit", "visit 1", "--date", "1 March 2025")
    known = run("season", "add", store, tmp_path / "0.csv", *whole[:4], *day)
    assert known.output.count("date of visit 1: 2025-03-01") == 1
    assert run("report", store, "--html", page).exit_code == 0
    text = re.sub("<[^>]*>", "", page.read_text("utf-8"))
    assert "Since the visit “visit 1” (1 March 2025), on the spots" in text
    assert "No day is known" not in text


@pytest.mark.parametrize(
    ("name", "says"), [("20 October 2025", ""), ("4 March 2026", "March isn")]
)
def test_the_day_of_a_seasons_visit_is_that_of_the_assessment_too(
    run: Run, tmp_path: Path, name: str, says: str
) -> None:
    store, page, values = tmp_path / "s.sqlite", tmp_path / "r.html", tmp_path / "r.json"
    assert run("season", "new", store).exit_code == 0
    given = tmp_path / "h.csv"
    rows = "".join(f"{n},{20 + n},{60 + n},1 ft2\n" for n in range(5))
    given.write_text(f"spot,plants,shoots,area\n{rows}", encoding="utf-8")
    where = ("--farm", "Alder Bend", "--field", "Pole", "--visit", name)
    assert run("season", "add", store, given, *where).exit_code == 0
    rules = ("--rules", "kansas-replant@25/ft2")
    done = run("report", store, *rules, "--html", page, "--json", values)
    assert done.exit_code == 0, done.output
    text = re.sub("<[^>]*>", "", page.read_text("utf-8"))
    assert ("written for the fall" in text) is bool(says)
    assert says in text
    kept = json.loads(values.read_text("utf-8"))
    assert kept["visited"] in ("2025-10-20", "2026-03-04")


def test_the_day_of_a_visit_is_said_once(run: Run, tmp_path: Path) -> None:
    store = tmp_path / "s.sqlite"
    assert run("season", "new", store).exit_code == 0
    files = []
    for n in (1, 2):
        files.append(tmp_path / f"{n}.csv")
        files[-1].write_text(f"spot,plants,shoots,area\n{n},20,60,1 ft2\n", encoding="utf-8")
    where = ("--farm", "Alder Bend", "--field", "Pole", "--date", "4 March 2025")
    done = run("season", "add", store, *files, *where)
    assert done.exit_code == 0, done.output
    assert done.output.count("date of visit 1: 2025-03-04 (as given)") == 1


def test_another_way_of_counting_is_said_beside_the_change(run: Run, tmp_path: Path) -> None:
    store, page, values = tmp_path / "s.sqlite", tmp_path / "r.html", tmp_path / "r.json"
    assert run("season", "new", store).exit_code == 0
    where = ("--farm", "Alder Bend", "--field", "Creek", "--visit")
    photos = tmp_path / "c.json"
    photos.write_bytes((VISIT / "creek_field.json").read_bytes())
    assert run("season", "add", store, photos, *where, "4 March 2026").exit_code == 0
    rows = "".join(f"{n},{20 + n},{60 + n * n},1 ft2\n" for n in range(1, 6))
    given = tmp_path / "hand.csv"
    given.write_text(f"spot,plants,shoots,area\n{rows}", encoding="utf-8")
    assert run("season", "add", store, given, *where, "20 March 2026").exit_code == 0
    shown = run("season", "show", store, "--field", "Creek").output
    mind = "mind: 4 March 2026 was counted from photos, 20 March 2026 by hand: part of the change"
    assert mind in shown
    assert run("report", store, "--html", page, "--json", values).exit_code == 0
    text = re.sub("<[^>]*>", "", page.read_text("utf-8"))
    assert "“4 March 2026” was counted from photos, this visit by hand: part of the change" in text
    asked = ("report", store, "--html", page, "--photos", VISIT.parent / "creek_field")
    assert "all counts are by hand (plants), so there are no pictures" in run(*asked).stderr
    assert json.loads(values.read_text("utf-8"))["since"]["ways"] == {
        "before": "photo",
        "now": "hand",
    }
