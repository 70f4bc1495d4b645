"""A photo in the report is the one that was counted, by its bytes; what was written is said."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import ROOT, StandIn, write_counts, write_photo

Run = Callable[..., Any]
AREA = ("--area", "square:12in")


def shown(values: Path) -> list[tuple[str, str]]:
    return [(one["role"], one["photo"]) for one in json.loads(values.read_text("utf-8"))["photos"]]


def counted(run: Run, folder: Path, target: Path) -> Path:
    assert run("count", folder, *AREA, "--json", target).exit_code == 0
    return target


@pytest.fixture
def elsewhere(photos: Path, tmp_path: Path) -> Path:
    """Photos of another field, called as those of the first."""
    folder = tmp_path / "south field"
    folder.mkdir()
    for number, path in enumerate(sorted(photos.iterdir())):
        write_photo(folder / path.name, 60 + number)
    return folder


def test_photos_of_another_field_with_the_same_names_are_refused(
    run: Run, photos: Path, elsewhere: Path, stand_in: StandIn, tmp_path: Path
) -> None:
    counts, values = counted(run, photos, tmp_path / "c.json"), tmp_path / "r.json"
    done = run("report", counts, "--photos", elsewhere, "--json", values)
    assert done.exit_code == 2
    assert f"given: {elsewhere / 'spot0.png'}, " in done.stderr
    assert "spot3.png aren't the files that were counted" in done.stderr
    assert "saved again by an app or a chat" in done.stderr
    assert "give the folder that the counted files lie in as --photos" in done.stderr
    assert not values.exists()


@pytest.mark.parametrize("turned", [False, True])
def test_of_two_files_of_one_name_the_counted_one_is_shown(
    run: Run, photos: Path, elsewhere: Path, stand_in: StandIn, tmp_path: Path, turned: bool
) -> None:
    counts, values = counted(run, photos, tmp_path / "c.json"), tmp_path / "r.json"
    page, both = tmp_path / "r.html", [photos, elsewhere]
    folders = [word for one in (both[::-1] if turned else both) for word in ("--photos", one)]
    stand_in.seen.clear()
    done = run("report", counts, *folders, "--json", values, "--html", page)
    assert done.exit_code == 0, done.output
    assert shown(values) == [("worst", "spot0.png"), ("best", "spot3.png")]
    assert "at hand" not in page.read_text("utf-8")
    # what is shown is what was counted: the pictures are those of the first folder alone
    alone = tmp_path / "alone.html"
    assert run("report", counts, "--photos", photos, "--html", alone).exit_code == 0
    pictures = [
        re.findall(r"data:image/jpeg;base64,[^\"]+", one.read_text("utf-8"))
        for one in (page, alone)
    ]
    assert pictures[0] == pictures[1]


def test_each_area_goes_with_its_own_photo(
    run: Run, photos: Path, elsewhere: Path, stand_in: StandIn, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    import tillercount.count

    north = counted(run, photos, tmp_path / "n.json")
    south = tmp_path / "s.json"
    asked = ("count", elsewhere, "--area", "square:20in", "--json", south)
    assert run(*asked).exit_code == 0
    seen = {}

    def count(path: Path, area: Any, **more: Any) -> Any:
        seen[path] = area.text
        return stand_in.count(path, area, **more)

    monkeypatch.setattr(tillercount.count, "count_photo_full", count)
    done = run("report", north, south, "--photos", elsewhere, "--photos", photos, "--json",
               tmp_path / "r.json")  # fmt: skip
    assert done.exit_code == 0, done.output
    texts = {
        path.parent / Path(one["photo"]).name: one["area"]["text"]
        for file, path in ((north, photos / "x"), (south, elsewhere / "x"))
        for one in json.loads(file.read_text("utf-8"))["spots"]
    }
    assert seen
    assert seen == {path: texts[path] for path in seen}


def test_a_copy_under_another_name_is_the_photo(
    run: Run, photos: Path, stand_in: StandIn, tmp_path: Path
) -> None:
    counts, values = counted(run, photos, tmp_path / "c.json"), tmp_path / "r.json"
    moved = tmp_path / "sent"
    moved.mkdir()
    for number, path in enumerate(sorted(photos.iterdir())):
        shutil.copy(path, moved / f"IMG_{9 - number}.png")
    done = run("report", counts, "--photos", moved, "--json", values)
    assert done.exit_code == 0, done.output
    assert shown(values) == [("worst", "IMG_9.png"), ("best", "IMG_6.png")]


def test_photos_that_cant_be_shown_are_named(
    run: Run, photos: Path, stand_in: StandIn, tmp_path: Path
) -> None:
    counts, values = counted(run, photos, tmp_path / "c.json"), tmp_path / "r.json"
    page = tmp_path / "r.html"
    write_photo(photos / "spot0.png", 21)  # as an app saves it: the same name, other bytes
    (photos / "spot3.png").unlink()
    done = run("report", counts, "--photos", photos, "--json", values, "--html", page)
    assert done.exit_code == 0, done.output
    assert shown(values) == [("worst", "spot1.png"), ("best", "spot2.png")]
    assert "2 of 4 counted photos can't be shown" in done.stderr
    assert f"{photos / 'spot0.png'} isn't the file that was counted" in done.stderr
    assert "not among the files given: spot3.png" in done.stderr
    text = re.sub("<[^>]*>", "", page.read_text("utf-8"))
    assert "the thickest of the 2 photos that were at hand, of 4 counted" in text


def test_counts_without_fingerprints_go_by_a_name_that_is_clear(
    run: Run, photos: Path, elsewhere: Path, stand_in: StandIn, tmp_path: Path
) -> None:
    counts, values = counted(run, photos, tmp_path / "c.json"), tmp_path / "r.json"
    record = json.loads(counts.read_text("utf-8"))
    for one in record["spots"]:
        one["sha256"] = ""
    counts.write_text(json.dumps(record), "utf-8")
    done = run("report", counts, "--photos", photos, "--json", values)
    assert done.exit_code == 0, done.output
    assert shown(values) == [("worst", "spot0.png"), ("best", "spot3.png")]
    done = run("report", counts, "--photos", photos, "--photos", elsewhere, "--json", values)
    assert done.exit_code == 2
    assert "can be told by its name" in done.stderr


def test_two_visits_whose_photos_are_called_alike(
    run: Run, photos: Path, elsewhere: Path, stand_in: StandIn, tmp_path: Path
) -> None:
    store, values = tmp_path / "s.sqlite", tmp_path / "r.json"
    assert run("season", "new", store).exit_code == 0
    where = ("--farm", "Alder Bend", "--field", "North", "--visit")
    for visit, folder in (("first", photos), ("second", elsewhere)):
        counts = counted(run, folder, tmp_path / f"{visit}.json")
        done = run("season", "add", store, counts, *where, visit)
        assert done.exit_code == 0, done.output
    for visit, own, other in (("first", photos, elsewhere), ("second", elsewhere, photos)):
        asked = ("report", store, "--field", "North", "--visit", visit, "--json", values)
        done = run(*asked, "--photos", other)
        assert done.exit_code == 2, done.output
        assert f"given: {other / 'spot0.png'}, " in done.stderr
        assert "aren't the files that were counted" in done.stderr
        done = run(*asked, "--photos", own)
        assert done.exit_code == 0, done.output
        assert [photo for _, photo in shown(values)] == ["spot0.png", "spot3.png"]


def test_every_command_says_once_what_it_has_written(
    run: Run, photos: Path, stand_in: StandIn, tmp_path: Path
) -> None:
    hand = write_counts(tmp_path / "h.csv", (22, 24, 23, 25))
    outline = ROOT / "sample_images" / "alder_bend_fields.geojson"
    commands: dict[tuple[object, ...], dict[str, str]] = {
        ("count", photos, *AREA): {"--json": "c.json", "--csv": "c.csv", "--overlay": "over"},
        ("plan", outline, "--field", "Creek field", "--spots", "5", "--seed", "1"): {
            "--geojson": "p.geojson", "--gpx": "p.gpx", "--map": "p.pdf",
        },
        ("assess", hand): {"--json": "a.json", "--html": "a.html"},
        ("nitrogen", hand, "--yield-goal", "80 bu/ac"): {"--json": "n.json"},
        ("report", hand): {"--json": "r.json", "--html": "r.html"},
    }  # fmt: skip
    for words, targets in commands.items():
        assert "written:" not in (run(*words).output if words[0] != "report" else "")
        options = [one for option, name in targets.items() for one in (option, tmp_path / name)]
        done = run(*words, *options)
        assert done.exit_code == 0, done.output
        told = [line for line in done.stdout.splitlines() if line.startswith("written: ")]
        assert sorted(told) == sorted(f"written: {tmp_path / name}" for name in targets.values())
        assert "written:" not in done.stderr


def test_a_photo_of_a_season_that_is_at_no_spot_is_left_out(
    run: Run, photos: Path, stand_in: StandIn, tmp_path: Path
) -> None:
    season, plan = tmp_path / "s.sqlite", tmp_path / "plan.geojson"
    farm = ROOT / "sample_images" / "alder_bend_fields.geojson"
    made = run("plan", farm, "--field", "Pole field", "--spots", 3, "--geojson", plan)
    assert made.exit_code == 0, made.output
    names = [one["properties"].get("spot") for one in json.loads(plan.read_text())["features"]]
    spots = [str(name) for name in names if name is not None]
    for name, path in zip([*(f"spot {one}" for one in spots), "IMG_9"], sorted(photos.iterdir()),
                          strict=True):
        path.rename(path.with_name(f"{name}.png"))
    counts, values = counted(run, photos, tmp_path / "c.json"), tmp_path / "r.json"
    run("season", "new", season)
    added = run("season", "add", season, plan, counts, "--farm", "Elm", "--field", "Pole field")
    assert "1 at no spot" in added.output
    done = run("report", season, "--field", "Pole field", "--photos", photos, "--json", values)
    assert done.exit_code == 0, done.output
    assert len(shown(values)) == 2
