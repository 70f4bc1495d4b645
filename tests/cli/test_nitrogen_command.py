"""``tillercount nitrogen``, and ``assess --insist``."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import StandIn

Run = Callable[..., Any]
SQUARE = "39.100,-97.200 39.100,-97.195 39.097,-97.195 39.097,-97.200"


@pytest.fixture
def counts(tmp_path: Path) -> Path:
    path = tmp_path / "hand.csv"
    each = enumerate(((18, 55), (27, 80), (22, 66), (25, 75), (20, 64)))
    rows = "".join(f"{n},ann,{plants},{shoots},square:12in\n" for n, (plants, shoots) in each)
    path.write_text("spot,observer,plants,shoots,area\n" + rows, encoding="utf-8")
    return path


@pytest.fixture
def weather(tmp_path: Path) -> Path:
    rows = ["date,tmax_f,tmin_f"]
    day, last = dt.date(2021, 9, 1), dt.date(2025, 3, 10)
    while day <= last:
        warm = 45 + 30 * (day.timetuple().tm_yday in range(90, 280)) + day.year % 5
        rows.append(f"{day},{warm},{warm - 8}")
        day += dt.timedelta(1)
    path = tmp_path / "weather.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def test_everything_at_once(run: Run, counts: Path, weather: Path, tmp_path: Path) -> None:
    target = tmp_path / "n.json"
    result = run(
        "nitrogen", counts, "--rules", "common-practice", "--yield-goal", "80 bu/ac",
        "--stage", "Feekes 3", "--product", "uan28", "--price", "320/ton", "--boom", "90 ft",
        "--swath", "88 ft", "--boundary", SQUARE, "--weather", weather, "--sown", "2024-10-05",
        "--visited", "2025-03-10", "--fall-n", "10 lb/ac", "--nozzle", "flat-fan", "--air", "75 F",
        "--wet", "--herbicide", "--weed", "henbit=40/m2", "--kernels", "30-35", "--json", target,
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    for words in ("lb N/ac", "UAN 28", "dosed twice", "jointing between", "not an insurance",
                  "henbit", "nutrient-management plan", "label is the law", "protective equipment",
                  "crop adviser", "frozen, snow-covered or saturated", "Goggles"):  # fmt: skip
        assert words in result.output, words
    # with every option given; two lines of it say that the rules are for elsewhere
    assert len([one for one in result.output.splitlines() if "written: " not in one]) <= 60
    kept = json.loads(target.read_text("utf-8"))
    assert kept["whole"]["net"] == pytest.approx([78, 110])
    assert kept["overlap"]["map"]["units"] == "degrees"
    assert kept["season"]["jointing"]["years"] == 3
    assert kept["doses"][0]["amounts"][0]["gal_ac"] > 0


def test_field_verdict_and_doubt_come_first(run: Run, tmp_path: Path) -> None:
    """No surer than the assessment: the doubt is said before any pound, and said once."""
    rows = enumerate((26, 24, 27, 26, 25, 28))
    lines = [f"{n},ann,{plants},{3 * plants},square:12in" for n, plants in rows]
    path = tmp_path / "creek.csv"
    path.write_text("\n".join(["spot,observer,plants,shoots,area", *lines, ""]), encoding="utf-8")
    ask = ("nitrogen", path, "--yield-goal", "80 bu/ac", "--stage", "Feekes 3")
    for more in ((), ("--explain",)):
        text = " ".join(run(*ask, *more).output.split())
        assert text.startswith("creek: Too close to call: “thin but worth keeping” (some ")
        doubt = text.index("This plan is for “thin but worth keeping”, the likelier case (")
        assert doubt < text.index("lb N/ac")
        assert text.count("This plan is for") == 1
    frozen = run(*ask, "--ground", "frozen").output
    assert frozen.startswith("Don't spread now")
    assert "creek: Too close to call" in frozen
    assert not run("nitrogen", "--yield-goal", "80 bu/ac").output.startswith(":")


def test_short_and_in_full(run: Run, counts: Path) -> None:
    """About forty lines, no line twice; everything with its source on demand."""
    ask = ("nitrogen", counts, "--yield-goal", "80 bu/ac", "--stage", "Feekes 3",
           "--product", "uan28", "--price", "320/ton", "--boundary", SQUARE,
           "--boom", "90 ft")  # fmt: skip
    short = run(*ask)
    lines = [line.strip() for line in short.output.splitlines() if line.strip()]
    assert len(short.output.splitlines()) <= 45
    assert len(lines) == len(set(lines))
    assert "--explain" in lines[-1]
    full = run(*ask, "--explain").output
    for words in ("Yield potential", "Ceilings in print", "Maryland Department of Agriculture",
                  "78.57 lb of UAN 28", "kernels to a head"):  # fmt: skip
        assert words in full
        assert words not in short.output


def test_a_goal_above_what_the_stand_makes_likely(run: Run, counts: Path, tmp_path: Path) -> None:
    """Said by nitrogen as by assess, against one range that both commands name."""
    kept = {}
    for command in ("assess", "nitrogen"):
        target = tmp_path / f"{command}.json"
        result = run(command, counts, "--yield-goal", "140 bu/ac", "--json", target)
        assert result.exit_code == 0, result.output
        assert "yield goal of 140 bu/ac is above" in " ".join(result.output.split())
        kept[command] = json.loads(target.read_text("utf-8"))["yield"]
        fine = run(command, counts, "--yield-goal", "60 bu/ac")
        assert "yield goal of" not in " ".join(fine.output.split())
    low, high = (kept["assess"][end] for end in ("low", "high"))
    assert [kept["nitrogen"][end] for end in ("low", "high")] == pytest.approx([low, high])
    text = " ".join(run("nitrogen", counts, "--yield-goal", "140 bu/ac").output.split())
    assert f"above the {low:.0f}-{high:.0f} bu/ac" in text
    assert f"by figures in print for the mean of the shoots: {low:.0f} to {high:.0f} bu/ac" in text


def test_pounds_of_no_area_are_said_to_be_per_acre(run: Run, counts: Path) -> None:
    asked = ("nitrogen", counts, "--yield-goal", "80 bu/ac")
    told = run(*asked, "--given", "30 lb", "--fall-n", "20 lb/ac").stderr
    assert "--given '30 lb' is taken for 30 lb N/ac; if it was a total, divide it by " in told
    assert "--fall-n" not in told


def test_tissue_and_yield_goal_are_reconciled(run: Run, counts: Path, tmp_path: Path) -> None:
    """Delaware 2019: 40 x (5 - 2.918) = 83.28 lb, shown as 83; exact in the JSON."""
    target = tmp_path / "n.json"
    result = run("nitrogen", counts, "--yield-goal", "80 bu/ac", "--stage", "Feekes 5",
                 "--tissue", "2.918", "--given", "20 lb/ac", "--product", "urea",
                 "--json", target)  # fmt: skip
    assert result.exit_code == 0, result.output
    first = result.output.splitlines()[1]  # below the verdict
    assert first.startswith("83 lb N/ac")
    assert "103 lb N/ac this spring, within the 88-120 lb N/ac by the yield goal" in first
    assert "83.2" not in result.output
    assert "22-36" not in result.output  # the split by the stand isn't used
    kept = json.loads(target.read_text("utf-8"))
    assert kept["doses"][0]["lb_ac"][0] == pytest.approx(83.28)
    assert kept["doses"][0]["amounts"][0]["lb_ac"] == pytest.approx(83.28 / 0.46)
    assert kept["this_spring"] == pytest.approx([103.28, 103.28])
    assert "the test goes before the goal" in kept["tissue_and_goal"]


def test_a_farm_file_and_one_of_its_fields(run: Run, counts: Path) -> None:
    farm = Path(__file__).parents[2] / "sample_images" / "alder_bend_fields.geojson"
    ask = ("nitrogen", counts, "--yield-goal", "80 bu/ac", "--product", "urea",
           "--boundary", farm)  # fmt: skip
    result = run(*ask, "--field", "Creek field")
    assert result.exit_code == 0, result.output
    assert "times 109.8 ac" in result.output
    which = run(*ask)
    assert which.exit_code == 2
    assert "Creek field" in which.output


def test_an_equation_without_counts(run: Run, counts: Path) -> None:
    result = run("nitrogen", "--rules", "tri-state-nitrogen-2020", "--yield-goal", "100 bu/ac")
    assert result.exit_code == 0
    assert "120 lb N/ac" in result.output
    with_counts = run("nitrogen", counts, "--rules", "tri-state-nitrogen-2020",
                      "--yield-goal", "100 bu/ac")  # fmt: skip
    assert with_counts.exit_code == 0
    assert "judge no density" in with_counts.output
    split = run("nitrogen", counts, "--whole-by", "tri-state-nitrogen-2020",
                "--yield-goal", "100 bu/ac")  # fmt: skip
    assert "two publishers" in split.output


def test_photos(run: Run, photos: Path, stand_in: StandIn) -> None:
    result = run("nitrogen", photos, "--area", "square:12in", "--yield-goal", "80 bu/ac")
    assert result.exit_code == 0, result.output
    assert len(stand_in.seen) == 4
    assert "in all: 88-120 lb N/ac" in result.output


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--boom", "90 ft"], "--boundary"),
        (["--sown", "2024-10-05"], "--weather"),
        (["--yield-goal", "80"], "yield goal"),
        (["--product", "uan"], "which strength"),
        (["--price", "320/ton"], "needs a product"),
        (["--nozzle", "mist"], "nozzle"),
        (["--ground", "soft"], "ground"),
        (["--weed", "moss=3/m2"], "no loss in print"),
        (["--fall-n", "lots"], "--fall-n"),
        (["--fall-n", "30"], "--fall-n '30' has no unit"),
        (["--fall-n=-5 lb/ac"], "--fall-n '-5 lb/ac' must not be below zero"),
        (["--fall-n", "4000 lb/ac"], "--fall-n '4000 lb/ac' can't be right"),
        (["--weed", "henbit=4000/ft2"], "one weed on every square centimetre (929 per ft²)"),
        (["--weed", "henbit=40000/m2"], "every square centimetre (10,000 per m²)"),
        (["--tissue", "30"], "nitrogen isn't what young plants have"),
        (["--case", "tilled"], "no nitrogen for the case"),
        (["--boundary", SQUARE, "--boom", "900 ft"], "doesn't exist"),
        (["--json", "no/such/folder.json"], "doesn't exist"),
    ],
)
def test_refusals_are_one_line(run: Run, counts: Path, options: list[str], says: str) -> None:
    result = run("nitrogen", counts, *options)
    assert result.exit_code == 2
    assert says in result.output
    assert len(result.output.strip().splitlines()) == 1


def test_never_over_what_was_read(run: Run, counts: Path, weather: Path) -> None:
    before = counts.read_bytes(), weather.read_bytes()
    for target in (counts, weather):
        result = run("nitrogen", counts, "--weather", weather, "--json", target)
        assert result.exit_code == 2
    assert (counts.read_bytes(), weather.read_bytes()) == before


def test_assess_insists(run: Run, counts: Path) -> None:
    refused = run("assess", counts, "--crop", "barley")
    assert refused.exit_code == 2
    assert "--insist" in refused.output
    used = run("assess", counts, "--crop", "barley", "--insist")
    assert used.exit_code == 0
    assert "Not validated for barley" in used.output
    assert "add --insist" in run("nitrogen", counts, "--crop", "barley").output


def test_an_outline_in_doubt_is_told_first(run: Run, counts: Path) -> None:
    """10 N, 51 E may be Germany; bulletins are for one of the two."""
    ask = ("nitrogen", counts, "--yield-goal", "80 bu/ac", "--boundary")
    result = run(*ask, "10.1,51.1 10.11,51.1 10.11,51.09")
    assert result.exit_code == 0, result.output
    assert "MIND: corners: " in result.output.splitlines()[0]
    assert "is in the tropics" in result.output.splitlines()[0]
    assert "MIND: " not in run(*ask, SQUARE).output


def test_days_without_their_year_are_read_and_said(
    run: Run, counts: Path, weather: Path, tmp_path: Path
) -> None:
    photos = tmp_path / "c.json"
    one = {
        "photo": "a.jpg", "status": "counted", "area": {"ft2": 1.0}, "taken_at": "2025-03-12T09:00",
        "plants": {"count": 20, "low": 15, "high": 25}, "shoots": {"count": 60},
    }  # fmt: skip
    photos.write_text(json.dumps({"schema": "tillercount.counts/1", "spots": [one]}), "utf-8")
    days = ("--visited", "10 March", "--sown", "5 Oct", "--weather", weather, "--stage", "Feekes 3")
    result = run("nitrogen", counts, photos, "--yield-goal", "80 bu/ac", *days)
    assert result.exit_code == 0, result.output
    assert "--visited '10 March' is taken for 2025-03-10, as the photos say" in result.stderr
    assert "--sown '5 Oct' is taken for 2024-10-05, the last one" in result.stderr
    wrong = run("nitrogen", counts, "--visited", "Tuesday 4 March 2026")
    assert wrong.exit_code == 2
    assert "says Tuesday, but 2026-03-04 is a Wednesday" in wrong.stderr


@pytest.mark.parametrize("more", [(), ("--explain",)])
def test_a_crop_that_has_jointed_gets_no_day_of_jointing_on_the_screen(
    run: Run, counts: Path, weather: Path, more: tuple[str, ...]
) -> None:
    ask = ("nitrogen", counts, "--yield-goal", "80 bu/ac", "--weather", weather, *more, "--stage")
    assert "jointing between" in " ".join(run(*ask, "Feekes 3").output.split())
    said = " ".join(run(*ask, "Feekes 7").output.split())
    for words in ("jointing between", "Green-up by the weather", "green-up by the weather"):
        assert words not in said


def test_more_than_the_whole_on_already_is_doubted(run: Run, counts: Path) -> None:
    asked = ("nitrogen", counts, "--yield-goal", "80 bu/ac", "--rules", "common-practice")
    much = run(*asked, "--given", "300 lb/ac").stdout.replace("\n", " ")
    assert "300 lb N/ac said to be on already are more than the whole of 88-120" in much
    assert "in all, above Delaware's ceiling of 120 lb N/ac" in much
    assert "within the ceilings in print, lb N/ac: in all Delaware 120" not in much
    some = run(*asked, "--given", "30 lb/ac").stdout
    assert "said to be on already are more" not in some
    assert "above Delaware" not in some
