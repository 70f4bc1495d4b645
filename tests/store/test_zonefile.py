"""Areas of zones from a file, and what they do to a field's mean."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import plan, write
from tillercount.errors import InputError
from tillercount.field import collect
from tillercount.plan import plan_visit, to_geojson
from tillercount.store.planfile import read_plan
from tillercount.store.zonefile import in_planned_zones, read_zone_areas

SAMPLES = Path(__file__).parents[2] / "sample_images"
FIELDS = SAMPLES / "alder_bend_fields.geojson"
ZONES = SAMPLES / "alder_bend_creek_zones.geojson"


def test_a_drawing_and_a_plan_agree(tmp_path: Path) -> None:
    made = plan_visit(FIELDS, 8, field_name="Creek field", zones=ZONES, rng=1)
    file = write(tmp_path / "plan.geojson", to_geojson(made))
    drawn, planned = read_zone_areas(ZONES), read_zone_areas(file)
    assert set(drawn) == {"low ground", "bench"}
    assert planned == pytest.approx(drawn, rel=0.01)
    assert sum(planned.values()) == pytest.approx(made.field.area_m2, rel=0.001)


def assessed(tmp_path: Path, *more: object) -> Any:
    from tillercount.cli.app import app

    out = tmp_path / "out.json"
    hand = tmp_path / "hand.csv"
    rows = [f"{i},Ash,{n},{3 * n},1 ft2,{zone}" for i, (n, zone) in enumerate(
        [(30, "low ground"), (34, "low ground"), (32, "low ground"), (12, "bench"), (14, "bench")]
    )]  # fmt: skip
    hand.write_text("\n".join(["spot,observer,plants,shoots,area,zone", *rows]), encoding="utf-8")
    args = ["assess", hand, "--json", out, *more]
    done = CliRunner().invoke(app, [str(arg) for arg in args], prog_name="tillercount")
    return done, json.loads(out.read_text(encoding="utf-8")) if out.exists() else None


def test_assess_weighs_zones_by_area(tmp_path: Path) -> None:
    areas = read_zone_areas(ZONES)
    share = areas["low ground"] / sum(areas.values())
    _, plain = assessed(tmp_path)
    assert plain["field"]["plants_per_ft2"]["mean"] == pytest.approx(24.4, abs=0.05)
    done, by_area = assessed(tmp_path, "--zones", ZONES)
    assert done.exit_code == 0, done.output
    expected = share * 32 + (1 - share) * 13
    assert by_area["field"]["plants_per_ft2"]["mean"] == pytest.approx(expected, abs=0.05)
    said = (
        "2 zones weighted by their area; spot for spot, as without the zones' areas, the mean "
        "would be 24.4"
    )
    assert any(said in flag for flag in by_area["flags"])
    full, _ = assessed(tmp_path, "--zones", ZONES, "--explain")
    assert said in " ".join(full.stdout.split())
    assert not any("weighted" in flag for flag in plain["flags"])


def test_a_zone_that_nobody_counted_is_named(tmp_path: Path) -> None:
    record = json.loads(ZONES.read_text(encoding="utf-8"))
    record["features"][0]["properties"]["zone"] = "hollow"
    done, _ = assessed(tmp_path, "--zones", write(tmp_path / "z.geojson", record))
    assert done.exit_code == 2
    assert "hollow" in done.stderr


def test_what_has_no_zones_says_so(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="without zones"):
        read_zone_areas(write(tmp_path / "p.geojson", plan([(0, 0), (50, 0)])))
    record = json.loads(ZONES.read_text(encoding="utf-8"))
    record["features"][0]["properties"] = {}
    with pytest.raises(InputError, match="has no name"):
        read_zone_areas(write(tmp_path / "n.geojson", record))


def test_spots_lie_in_the_zone_of_the_plans_spot_of_their_number(tmp_path: Path) -> None:
    made = plan_visit(FIELDS, 8, field_name="Creek field", zones=ZONES, rng=1)
    file = write(tmp_path / "plan.geojson", to_geojson(made))
    of = {spot.number: spot.zone for spot in read_plan(file).spots}
    hand, out = tmp_path / "hand.csv", tmp_path / "out.json"
    # the one zone has 30 plants at each of its spots, the other 12 to 14
    rows = [
        f"spot_0{number},Ash,{30 if zone == 'low ground' else 12 + number % 2},,1 ft2"
        for number, zone in of.items()
    ]
    hand.write_text("\n".join(["spot,observer,plants,shoots,area", *rows]), encoding="utf-8")
    command = ["assess", str(hand), "--json", str(out), "--zones"]
    from tillercount.cli.app import app

    done = CliRunner().invoke(app, [*command, str(file)])
    assert done.exit_code == 0, done.output
    found = json.loads(out.read_text(encoding="utf-8"))["field"]["plants_per_ft2"]["mean"]
    areas = read_zone_areas(file)
    share = areas["low ground"] / sum(areas.values())
    bench = [12 + number % 2 for number, zone in of.items() if zone == "bench"]
    expected = share * 30 + (1 - share) * sum(bench) / len(bench)
    assert found == pytest.approx(expected, abs=0.05)
    # a drawing has no numbered spots, so nothing says where the counts lie
    out.unlink()
    done = CliRunner().invoke(app, [*command, str(ZONES)])
    assert done.exit_code == 2
    assert "give spots the numbers of the plan" in done.stderr


def test_a_zone_that_a_spot_names_is_kept(tmp_path: Path) -> None:
    file = write(tmp_path / "p.geojson", plan([(0, 0), (50, 0)], zone=["hill", "flat"]))
    hand = tmp_path / "hand.csv"
    hand.write_text("spot,plants,area,zone\n1,20,1 ft2,flat\n2,21,1 ft2,\n3,22,1 ft2,\n")
    placed = in_planned_zones(collect(hand).spots, file)
    assert [spot.zone for spot in placed] == ["flat", "flat", ""]


def test_chances_with_and_without_the_zones_areas_are_explained(tmp_path: Path) -> None:
    """The same person sees both: from files, and from a season that knows the plan's zones."""
    _, plain = assessed(tmp_path)
    _, by_area = assessed(tmp_path, "--zones", ZONES)
    both = [
        one["verdict"]["probabilities"][by_area["verdict"]["class"]] for one in (plain, by_area)
    ]
    (said,) = [flag for flag in by_area["flags"] if "where the zones' areas aren't known" in flag]
    shown = [f"{100 * share:.0f}\u00a0%" for share in both]
    assert shown[0] != shown[1]
    assert f"is {shown[0]} likely for the same counts, not {shown[1]}: go by the {shown[1]}" in said
    assert not any("zones' areas aren't known" in flag for flag in plain["flags"])
    (said,) = [flag for flag in plain["flags"] if "averaged by number of spots" in flag]
    assert "not by area" in said
    assert "chances may differ" in said


def test_a_planned_spot_that_became_a_date_is_asked_about(tmp_path: Path) -> None:
    record = plan([(50, 50), (150, 50)])
    record["features"][0]["properties"]["spot"] = "1-2"
    file = write(tmp_path / "plan.geojson", record)
    sheet = tmp_path / "hand.csv"
    sheet.write_text("spot,plants,shoots,area\n2-Jan,22,60,1 ft2\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"spot '2-Jan' is a date, .* of 1-2, and .*plan\.geojson"):
        in_planned_zones(collect(sheet).spots, file)
