"""--weed with a name alone, and what screens, pages and files say of other plants."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.cli.helpers import StandIn, flat

Run = Callable[..., Any]
ASK = ("--yield-goal", "80 bu/ac", "--stage", "Feekes 3")


def write(path: Path, cover: float, per_spot: list[float | None], model: str = "ab") -> Path:
    """A counts file of spots of a square foot with so many other plants."""
    spots = [
        {
            "photo": f"spot_{i}.jpg",
            "status": "counted",
            "sha256": f"{i:064x}",
            "area": {"kind": "square", "text": "square:304.8mm", "ft2": 1.0},
            "plants": {"count": 22.0 + i, "low": 18.0, "high": 30.0},
            "shoots": {"count": 66.0 + 2 * i, "low": 55.0, "high": 80.0},
            "cover": {"crop": 0.3, "other_plants": cover, "residue": 0.1, "soil": 0.6 - cover},
            **({} if count is None else {"other_plants": {"count": count}}),
        }
        for i, count in enumerate(per_spot)
    ]
    whole = {"schema": "tillercount.counts/1", "model": {"name": "m", "sha256": model},
             "interval_level": 0.9, "spots": spots}  # fmt: skip
    path.write_text(json.dumps(whole), encoding="utf-8")
    return path


@pytest.fixture
def weedy(tmp_path: Path) -> Path:
    return write(tmp_path / "weedy.json", 0.06, [3.0, 5.0, 4.0, 4.5, 2.5])


def test_every_screen_says_so_once(run: Run, weedy: Path) -> None:
    for command in ("assess", "nitrogen"):
        done = run(command, weedy, *ASK)
        assert done.exit_code == 0, done.output
        text = flat(done.output)
        assert text.count("other plants (weeds or volunteers) cover about 6 %") == 1
        assert "about 3.8 of them per ft²" in text
        assert "name the weed with --weed" in text
        assert "the label decides" in text
        assert "open: dicamba; not too late, the label says from when" in text
        assert "not yet: 2,4-D; the label decides" in text
        full = flat(run(command, weedy, *ASK, "--explain").output)
        assert full.count("other plants (weeds or volunteers) cover about 6 %") == 1
        assert "at Feekes 6 it cut 80-bushel wheat to 20" in full


def test_a_name_alone_takes_the_density_of_the_photos(
    run: Run, weedy: Path, tmp_path: Path
) -> None:
    """3.8 per ft² are 40.9/m²: between the printed 18/m² (none) and 82/m² (13 %)."""
    for command in ("assess", "nitrogen"):
        target = tmp_path / f"{command}.json"
        done = run(command, weedy, *ASK, "--weed", "henbit", "--json", target)
        assert done.exit_code == 0, done.output
        text = flat(done.output)
        assert "henbit, about 3.8 per ft² (41 per m²): loss of wheat yield between 0" in text
        assert "name the weed with" not in text
        (weed,) = json.loads(target.read_text("utf-8"))["weeds"]
        assert weed["per_m2"] == pytest.approx(3.8 / 0.09290304)
        assert weed["loss_percent"] == [0, 13]
        assert weed["by_photo"]["spots"] == 5
        assert weed["by_photo"]["per_m2"][0] < weed["per_m2"] < weed["by_photo"]["per_m2"][1]


def test_a_typed_density_stays_and_wins(run: Run, weedy: Path, tmp_path: Path) -> None:
    target = tmp_path / "a.json"
    run("assess", weedy, "--weed", "henbit", "--weed", "henbit=82/m2", "--json", target)
    (weed,) = json.loads(target.read_text("utf-8"))["weeds"]
    assert (weed["per_m2"], weed["loss_percent"], weed["by_photo"]) == (82, [13, 13], None)


def test_few_other_plants_are_a_row_and_no_remark(run: Run, tmp_path: Path) -> None:
    counts = write(tmp_path / "c.json", 0.002, [0.1, 0.0, 0.2])
    text = flat(run("assess", counts, *ASK).output)
    assert "other plants about 0.2 % of the ground" in text
    assert "scout" not in text
    assert "windows at" not in text


@pytest.mark.parametrize("command", ["assess", "nitrogen", "report"])
def test_a_name_without_a_density_is_one_line(
    run: Run, tmp_path: Path, command: str
) -> None:
    older = write(tmp_path / "older.json", 0.06, [None] * 3)
    by_hand = tmp_path / "hand.csv"
    by_hand.write_text("spot,observer,plants,shoots,area\n1,ann,22,66,1 ft2\n2,ann,24,70,1 ft2\n")
    out = tmp_path / "out.json"
    for source, says in ((older, "can't tell how many"), (by_hand, "no photos were counted here")):
        done = run(command, source, "--weed", "henbit", "--json", out)
        assert done.exit_code == 2
        assert says in done.output
        assert "--weed 'henbit=40/m2'" in done.output
        assert len(done.output.strip().splitlines()) == 1
        assert not out.exists()


def test_without_sources_there_are_no_photos(run: Run) -> None:
    done = run("nitrogen", "--yield-goal", "80 bu/ac", "--weed", "henbit")
    assert done.exit_code == 2
    assert "no photos were counted here" in done.output


@pytest.mark.parametrize("command", ["assess", "nitrogen", "report"])
def test_a_model_that_cannot_tell_is_found_before_counting(
    run: Run, photos: Path, stand_in: StandIn, monkeypatch: pytest.MonkeyPatch, command: str,
    tmp_path: Path,
) -> None:  # fmt: skip
    import tillercount.model.files

    monkeypatch.setattr(
        tillercount.model.files, "read_info", lambda path: {"config": {"counts": 2}}
    )
    done = run(command, photos, "--area", "square:12in", "--weed", "henbit",
               "--json", tmp_path / "x.json")  # fmt: skip
    assert done.exit_code == 2
    assert "can't tell how many" in done.output
    assert stand_in.seen == []


@pytest.mark.parametrize("counts", [2, 3])
def test_a_model_is_asked_by_its_description(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, counts: int
) -> None:
    """The answer is the one that the network itself gives, and nothing of it is loaded."""
    import tillercount.model.files
    from tests.model.small import SMALL, make_bundle
    from tillercount.cli.weeds import weeds_of
    from tillercount.errors import InputError
    from tillercount.model import Counter

    file = make_bundle(tmp_path / "m.safetensors", config=replace(SMALL, counts=counts))
    can = Counter.load(file).counts_other_plants
    assert can == (counts == 3)
    monkeypatch.setattr(tillercount.model.files, "model_path", lambda name=None: file)
    monkeypatch.setattr(Counter, "__init__", None)
    if can:
        assert weeds_of(["henbit"], [tmp_path]).in_photos == "henbit"
    else:
        with pytest.raises(InputError, match="can't tell how many"):
            weeds_of(["henbit"], [tmp_path])


@pytest.mark.parametrize("command", ["assess", "nitrogen"])
def test_the_model_is_loaded_once(
    run: Run, photos: Path, stand_in: StandIn, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    import tillercount.count
    import tillercount.model

    loaded = []

    def load(name: Any = None) -> Any:
        loaded.append(name)
        return SimpleNamespace(info={"name": "m", "sha256": "a" * 64}, counts_other_plants=True)

    def count(*args: Any, **more: Any) -> Any:
        done = stand_in.count(*args, **more)
        return replace(done, spot=replace(done.spot, other_plants=5.0))

    monkeypatch.setattr(tillercount.model, "Counter", SimpleNamespace(load=load))
    monkeypatch.setattr(tillercount.count, "count_photo_full", count)
    done = run(command, photos, "--area", "square:12in", "--weed", "henbit", *ASK)
    assert done.exit_code == 0, done.output
    assert "henbit, about 5.0 per ft²" in flat(done.output)
    assert len(loaded) == 1


def page_of(run: Run, tmp_path: Path, counts: Path, *more: object) -> tuple[str, dict[str, Any]]:
    page, values = tmp_path / "r.html", tmp_path / "r.json"
    done = run("report", counts, *ASK, "--html", page, "--json", values,
               "--pdf", tmp_path / "r.pdf", *more)  # fmt: skip
    assert done.exit_code == 0, done.output
    text = re.sub(r"</?(span|b|strong|em)\b[^>]*>", "", page.read_text("utf-8"))
    text = re.sub(r"<style.*?</style>|<[^>]+>", " ", text, flags=re.S)
    return flat(html.unescape(text)), json.loads(values.read_text("utf-8"))


def test_the_report_says_how_much_was_seen(run: Run, weedy: Path, tmp_path: Path) -> None:
    text, kept = page_of(run, tmp_path, weedy)
    seen = "Other plants than the crop cover 6 % of the ground; spots with a photo: 5."
    assert seen in text
    assert "There are about 3.8 of them per ft² (the mean may lie between 2.8 and 4.8" in text
    assert "can be missed, or counted as crop" in text
    assert "find out which weed it is" in text
    assert "Windows at Feekes 3" in text
    assert text.count("Scout the field") == 1
    assert kept["weeds"]["noticed"]
    assert kept["weeds"]["named"] == []
    assert not any("other plants" in flag for flag in kept["flags"])
    metric, _ = page_of(run, tmp_path, weedy, "--units", "metric")
    assert "about 41 of them per m²" in metric


def test_the_report_names_the_loss(run: Run, weedy: Path, tmp_path: Path) -> None:
    text, kept = page_of(run, tmp_path, weedy, "--weed", "henbit")
    assert text.count("3.8") == 1
    assert "Henbit: loss of wheat yield between 0 and 13 %" in text
    assert "University of Missouri" in text
    assert "the label decides" in text
    assert "Scout the field" not in text
    assert kept["weeds"]["named"][0]["by_photo"]["spots"] == 5
    (weed,) = kept["nitrogen"]["all"]["weeds"]
    assert weed.items() <= kept["weeds"]["named"][0].items()


def test_a_report_without_weeds_has_no_part_for_them(run: Run, tmp_path: Path) -> None:
    text, kept = page_of(run, tmp_path, write(tmp_path / "c.json", 0.0, [0.0, 0.1, 0.0]))
    assert "Other plants" not in text
    assert "Windows at" not in text
    assert kept["weeds"]["seen"]["cover"]["mean"] == 0.0


def test_the_page_of_an_assessment(run: Run, weedy: Path, tmp_path: Path) -> None:
    for more, says in (((), "find out which weed it is"), (("--weed", "henbit"), "Henbit: loss")):
        page = tmp_path / "a.html"
        run("assess", weedy, "--stage", "Feekes 3", "--html", page, *more)
        text = flat(html.unescape(re.sub(r"<[^>]+>", " ", page.read_text("utf-8"))))
        assert text.count(says) == 1
        assert "Windows at Feekes 3" in text


def test_counting_says_about_how_many(
    run: Run, photos: Path, stand_in: StandIn, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    import tillercount.count

    table, values = tmp_path / "c.csv", tmp_path / "c.json"
    before = run("count", photos, "--area", "square:12in", "--csv", table)
    assert "Other plants" not in before.output
    assert table.read_text("utf-8").splitlines()[0].endswith(",sha256,other_plants")
    assert table.read_text("utf-8").splitlines()[1].endswith(",")

    def count(*args: Any, **more: Any) -> Any:
        done = stand_in.count(*args, **more)
        cover = {"crop": 0.2, "other_plants": 0.04, "residue": 0.1, "soil": 0.66}
        return replace(done, spot=replace(done.spot, other_plants=5.23, cover=cover))

    monkeypatch.setattr(tillercount.count, "count_photo_full", count)
    done = run("count", photos, "--area", "square:12in", "--csv", table, "--json", values)
    assert "Other plants: about 5.2 per ft², about 4 % of the ground; grass weeds" in done.output
    assert json.loads(values.read_text("utf-8"))["spots"][0]["other_plants"] == {"count": 5.2}
    assert table.read_text("utf-8").splitlines()[1].endswith(",5.2")


def test_a_season_carries_it(run: Run, weedy: Path, tmp_path: Path) -> None:
    season = tmp_path / "s.sqlite"
    place = ("--farm", "Alder Bend", "--field", "Creek field")
    assert run("season", "new", season).exit_code == 0
    added = run("season", "add", season, weedy, *place)
    assert added.exit_code == 0, added.output
    text = flat(run("season", "assess", season, "--stage", "Feekes 3", *place).output)
    assert "other plants (weeds or volunteers) cover about 6 %" in text
    assert "about 3.8 of them per ft²" in text
    named = flat(run("season", "assess", season, "--weed", "henbit", *place).output)
    assert "henbit, about 3.8 per ft²" in named
