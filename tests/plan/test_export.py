"""GeoJSON by RFC 7946 and GPX 1.1, read back."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree
from pathlib import Path
from typing import Any

import pytest
import shapely
from shapely.geometry import shape

from tests.plan.fields import SQUARE, corners, polygon, typed, write
from tillercount.plan import plan_visit, read_field, to_geojson, to_gpx

GPX = "{http://www.topografix.com/GPX/1/1}"


def features(record: dict[str, Any], what: str) -> list[dict[str, Any]]:
    return [f for f in record["features"] if f["properties"]["what"] == what]


@pytest.fixture
def record(tmp_path: Path) -> dict[str, Any]:
    hole = corners([(300, 300), (400, 300), (400, 400), (300, 400)])
    path = write(tmp_path / "f.geojson", polygon(corners(SQUARE), hole, name="Creek & Co <1>"))
    plan = plan_visit(path, 11, hand=3, rng=1, start=(-98.7, 38.0), zones=path)
    record: dict[str, Any] = json.loads(json.dumps(to_geojson(plan), allow_nan=False))
    return record


def test_geojson(record: dict[str, Any]) -> None:
    assert record["type"] == "FeatureCollection"
    assert "crs" not in record
    spots = features(record, "spot")
    assert [f["properties"]["spot"] for f in spots] == list(range(1, 12))
    assert sum(f["properties"]["by_hand"] for f in spots) == 3
    (field,), (walk,), (zone,) = (features(record, what) for what in ("field", "walk", "zone"))
    area = shape(field["geometry"])
    assert area.is_valid
    assert len(area.interiors) == 1
    assert area.exterior.is_ccw
    assert not area.interiors[0].is_ccw
    assert all(area.contains(shape(f["geometry"])) for f in spots)
    assert walk["geometry"]["coordinates"][0] == walk["geometry"]["coordinates"][-1] == [-98.7, 38]
    assert field["properties"]["area_ac"] == pytest.approx(155.7, abs=0.1)
    assert zone["properties"]["name"] == "Creek & Co <1>"
    assert record["plan"]["seed"] == 1
    assert record["plan"]["random_sample"] is True


def test_the_plan_is_a_boundary_again(tmp_path: Path, record: dict[str, Any]) -> None:
    """What one program of ours writes another reads."""
    record["features"] = features(record, "field")
    path = tmp_path / "again.geojson"
    path.write_text(json.dumps(record))
    assert read_field(path).area_m2 == pytest.approx(630_000, rel=1e-3)


def test_geojson_is_cut_at_180() -> None:
    plan = plan_visit(typed(corners(SQUARE, 179.996, 51.0)), 16, rng=1)
    record = to_geojson(plan)
    (field,), (walk,) = features(record, "field"), features(record, "walk")
    assert field["geometry"]["type"] == "MultiPolygon"
    assert walk["geometry"]["type"] == "MultiLineString"
    for feature in record["features"]:
        lon = shapely.get_coordinates(shape(feature["geometry"]))[:, 0]
        assert (abs(lon) <= 180).all()
    for part in shape(field["geometry"]).geoms:
        assert part.bounds[2] - part.bounds[0] < 0.1
    assert {f["geometry"]["coordinates"][0] > 0 for f in features(record, "spot")} == {True, False}


def test_gpx(tmp_path: Path) -> None:
    path = write(tmp_path / "f.geojson", polygon(corners(SQUARE), name="Creek & Co <1>"))
    plan = plan_visit(path, 11, hand=3, rng=1)
    root = ElementTree.fromstring(to_gpx(plan))
    assert root.attrib["version"] == "1.1"
    assert [child.tag.removeprefix(GPX) for child in root] == ["metadata", *["wpt"] * 11, "rte"]
    points = root.findall(f"{GPX}wpt")
    assert [float(p.attrib["lat"]) for p in points] == [spot.lat for spot in plan.spots]
    assert [float(p.attrib["lon"]) for p in points] == [spot.lon for spot in plan.spots]
    names = [p.findtext(f"{GPX}name") or "" for p in points]
    assert names == sorted(names)
    assert [name.endswith(" hand") for name in names] == [spot.by_hand for spot in plan.spots]
    assert len(root.findall(f"{GPX}rte/{GPX}rtept")) == 11
    assert root.findtext(f"{GPX}metadata/{GPX}name") == "Creek & Co <1>"


def test_same_plan_same_bytes() -> None:
    one, other = (plan_visit(typed(corners(SQUARE)), 9, rng=4) for _ in range(2))
    assert to_gpx(one) == to_gpx(other)
    assert json.dumps(to_geojson(one)) == json.dumps(to_geojson(other))
