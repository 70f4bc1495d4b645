"""Outlines in every format, and what is said of bad ones."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

import pyproj
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.plan.fields import L_SHAPE, SQUARE, corners, polygon, typed, write
from tillercount.errors import InputError
from tillercount.plan import plan_visit, read_field
from tillercount.plan.degrees import place_text
from tillercount.plan.room import read_left_out, read_zones

AREA = 640_000.0
RING = corners(SQUARE)


def kml(ring: list[tuple[float, float]], kind: str = "Polygon") -> str:
    rows = " ".join(f"{lon},{lat},410" for lon, lat in (*ring, ring[0]))
    body = f"<coordinates>{rows}</coordinates>"
    if kind == "Polygon":
        body = f"<outerBoundaryIs><LinearRing>{body}</LinearRing></outerBoundaryIs>"
    return (
        '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark>'
        f"<name>Creek</name><{kind}>{body}</{kind}></Placemark></Document></kml>"
    )


def gpx(ring: list[tuple[float, float]], point: str = "trkpt") -> str:
    rows = [f'<{point} lat="{lat}" lon="{lon}"><ele>4</ele></{point}>' for lon, lat in ring]
    middle = len(rows) // 2
    body = {
        "trkpt": "<trk><name>Creek</name><trkseg>" + "".join(rows[:middle]) + "</trkseg><trkseg>"
        + "".join(rows[middle:]) + "</trkseg></trk>",
        "rtept": "<rte><name>Creek</name>" + "".join(rows) + "</rte>",
        "wpt": "".join(rows),
    }[point]  # fmt: skip
    return f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{body}</gpx>'


FORMATS: dict[str, tuple[str, str]] = {
    "polygon": ("a.geojson", json.dumps(polygon(RING, name="Creek"))),
    "bare geometry": ("a.json", json.dumps(polygon(RING)["geometry"])),
    "kml": ("a.kml", kml(RING)),
    "kml line": ("a.kml", kml(RING, "LineString")),
    "gpx track": ("a.gpx", gpx([*RING, RING[0]])),
    "gpx route": ("a.gpx", gpx(RING, "rtept")),
    "gpx waypoints": ("a.gpx", gpx(RING, "wpt")),
    "csv": ("a.csv", "id,lon,lat\n" + "".join(f"{i},{x},{y}\n" for i, (x, y) in enumerate(RING))),
    "csv without header": ("a.csv", "".join(f"{y},{x}\n" for x, y in RING)),
    "semicolons": ("a.csv", "Latitude;Longitude\n" + "".join(f"{y};{x}\n" for x, y in RING)),
    "wrong ending": ("a.txt", kml(RING)),
}


@pytest.mark.parametrize("name", FORMATS)
def test_formats(tmp_path: Path, name: str) -> None:
    file, text = FORMATS[name]
    (tmp_path / file).write_text(text, encoding="utf-8")
    assert read_field(tmp_path / file).area_m2 == pytest.approx(AREA, rel=1e-3)


def test_typed_corners_and_hemisphere_letters() -> None:
    assert read_field(typed(RING)).area_m2 == pytest.approx(AREA, rel=1e-4)
    ring = corners(SQUARE, 148.2, -33.8)
    text = "; ".join(f"{-lat:.8f}S, {lon:.8f}E" for lon, lat in ring)
    field = read_field(text)
    assert field.area_m2 == pytest.approx(AREA, rel=1e-4)
    assert field.ground.lat < 0


def test_holes_and_parts_are_kept(tmp_path: Path) -> None:
    hole = corners([(200, 200), (300, 200), (300, 300), (200, 300)])
    far = corners([(1000, 0), (1100, 0), (1100, 100), (1000, 100)])
    path = write(tmp_path / "f.geojson", polygon(RING, hole, name="a"), polygon(far, name="a"))
    field = read_field(path)
    assert field.area_m2 == pytest.approx(AREA - 10_000 + 10_000, rel=1e-4)
    assert any("2.5 ac inside the outline left out" in note for note in field.notes)
    assert any("2 parts" in note for note in field.notes)


def test_kml_holes(tmp_path: Path) -> None:
    hole = corners([(200, 200), (300, 200), (300, 300), (200, 300)])
    rows = " ".join(f"{lon},{lat}" for lon, lat in (*hole, hole[0]))
    inner = f"<innerBoundaryIs><LinearRing><coordinates>{rows}</coordinates></LinearRing>"
    text = kml(RING).replace("</outerBoundaryIs>", f"</outerBoundaryIs>{inner}</innerBoundaryIs>")
    (tmp_path / "a.kml").write_text(text)
    assert read_field(tmp_path / "a.kml").area_m2 == pytest.approx(AREA - 10_000, rel=1e-4)


def test_one_field_of_a_farm(tmp_path: Path) -> None:
    path = write(tmp_path / "f.geojson", polygon(RING, name="A"), polygon(RING, name="B"))
    with pytest.raises(InputError, match=r"holds 2 fields \('A', 'B'\).*--field"):
        read_field(path)
    with pytest.raises(InputError, match="no field 'C'; there are: 'A', 'B'"):
        read_field(path, "C")
    assert read_field(path, "b").name == "B"


def test_a_slip_in_a_fields_name_names_the_one_that_is_near(tmp_path: Path) -> None:
    path = write(
        tmp_path / "f.geojson", polygon(RING, name="Creek field"), polygon(RING, name="Pole")
    )
    with pytest.raises(InputError, match=r'did you mean --field "Creek field"\? There are: '):
        read_field(path, "Crek field")
    with pytest.raises(InputError, match="no field 'Barn'; there are: 'Creek field', 'Pole'"):
        read_field(path, "Barn")
    assert read_field(path, " creek  FIELD").name == "Creek field"


def test_a_name_as_written_goes_before_one_like_it(tmp_path: Path) -> None:
    wide = [(lon, lat + 0.02) for lon, lat in RING]
    path = write(tmp_path / "f.geojson", polygon(RING, name="01"), polygon(wide, name="1"))
    assert read_field(path, "1").name == "1"
    assert read_field(path, "01").name == "01"
    with pytest.raises(InputError, match="no field '001'; there are: '01', '1'"):
        read_field(path, "001")


def test_halves_cut_at_180_grow_together(tmp_path: Path) -> None:
    west = [(179.995, 51.0), (180.0, 51.0), (180.0, 51.004), (179.995, 51.004)]
    east = [(-180.0, 51.0), (-179.996, 51.0), (-179.996, 51.004), (-180.0, 51.004)]
    field = read_field(write(tmp_path / "f.geojson", polygon(west), polygon(east)))
    assert field.shape.geom_type == "Polygon"
    lons, lats = (179.995, 180.004, 180.004, 179.995), (51.0, 51.0, 51.004, 51.004)
    wanted = abs(pyproj.Geod(ellps="WGS84").polygon_area_perimeter(lons, lats)[0])
    assert field.area_m2 == pytest.approx(wanted, rel=1e-4)


def test_swapped_order_is_put_right_where_it_is_certain(tmp_path: Path) -> None:
    turned = [(lat, lon) for lon, lat in RING]
    field = read_field(write(tmp_path / "f.geojson", polygon(turned)))
    assert field.area_m2 == pytest.approx(AREA, rel=1e-4)
    assert any("wrong way round" in note for note in field.notes)


def test_one_wrong_number_is_no_swapped_order(tmp_path: Path) -> None:
    ring = [*corners(SQUARE, 12.0, 51.0), (12.0, 95.1)]
    with pytest.raises(InputError, match=r"12, 95\.1 can't be degrees"):
        read_field(write(tmp_path / "f.geojson", polygon(ring)))


def test_longitudes_from_0_to_360(tmp_path: Path) -> None:
    ring = [(lon + 360, lat) for lon, lat in RING]
    field = read_field(write(tmp_path / "f.geojson", polygon(ring)))
    assert field.ground.lon == pytest.approx(-98.695, abs=0.002)
    assert any("past 180°" in note for note in field.notes)


@settings(deadline=None, max_examples=150)
@given(st.data())
def test_broken_files_are_read_or_refused(data: st.DataObject) -> None:
    """Bytes changed, lost and doubled anywhere: an outline or one line, never another error."""
    name = data.draw(st.sampled_from(sorted(FORMATS)))
    file, text = FORMATS[name]
    raw = bytearray(text.encode())
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(raw) - 1))
        what = data.draw(st.sampled_from(["change", "drop", "double"]))
        if what == "change":
            raw[at] = data.draw(st.integers(0, 255))
        elif what == "drop":
            del raw[at : at + data.draw(st.integers(1, 30))]
        else:
            raw[at:at] = raw[at : at + 20]
        if not raw:
            break
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / file
        path.write_bytes(bytes(raw))
        try:
            field = read_field(path)
        except InputError as error:
            assert "\n" not in str(error)  # noqa: PT017
        else:
            assert field.area_m2 > 1
            assert field.shape.is_valid


def test_swapped_order_is_remarked_where_it_is_likely(tmp_path: Path) -> None:
    turned = [(lat, lon) for lon, lat in corners(SQUARE, 12.0, 51.0)]
    field = read_field(write(tmp_path / "f.geojson", polygon(turned)))
    assert "in the tropics" in field.doubt
    assert any("in the tropics" in note for note in plan_visit(field, 4, rng=1).notes)


@pytest.mark.parametrize(("lon", "lat"), [(-77.92, 38.03), (-60.0, -33.0), (75.0, 27.0)])
def test_swapped_order_is_put_right_where_nothing_grows(
    tmp_path: Path, lon: float, lat: float
) -> None:
    """Virginia read as Antarctica: possible degrees, but no field."""
    ring = corners(SQUARE, lon, lat)
    right = read_field(write(tmp_path / "r.geojson", polygon(ring)))
    field = read_field(write(tmp_path / "f.geojson", polygon([(b, a) for a, b in ring])))
    assert field.ground.lat == pytest.approx(right.ground.lat)
    assert field.area_m2 == pytest.approx(right.area_m2)
    assert "the wrong way round (no small grain grows at a latitude of " in field.doubt
    assert f"read the other way, as {place_text(*ring[0])}; if the field isn't" in field.doubt
    assert "the minus signs (west and south are negative)" in field.doubt
    assert field.notes == right.notes == ()
    assert right.doubt == ""


def test_too_far_north_both_ways_stays_and_is_doubted(tmp_path: Path) -> None:
    field = read_field(write(tmp_path / "f.geojson", polygon(corners(SQUARE, 80.0, 75.0))))
    assert "farther north than any small grain grows" in field.doubt


def test_a_declared_crs_is_converted(tmp_path: Path) -> None:
    to_utm = pyproj.Transformer.from_crs("OGC:CRS84", "EPSG:32614", always_xy=True)
    ring = [to_utm.transform(*p) for p in RING]
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32614"}}
    field = read_field(write(tmp_path / "f.geojson", polygon(ring), crs=crs))
    assert field.area_m2 == pytest.approx(AREA, rel=1e-4)
    assert any("converted to WGS 84" in note for note in field.notes)
    with pytest.raises(InputError, match=r"can't be degrees.*CRS"):
        read_field(write(tmp_path / "g.geojson", polygon(ring)))
    crs["properties"]["name"] = "EPSG:99999999"  # type: ignore[index]
    with pytest.raises(InputError, match="isn't known"):
        read_field(write(tmp_path / "h.geojson", polygon(ring), crs=crs))


def test_corners_in_the_wrong_order_are_refused() -> None:
    bow = [RING[0], RING[2], RING[1], RING[3]]
    with pytest.raises(InputError, match=r"crosses itself near 38\.\d+ N, 98\.\d+ W.*in the order"):
        read_field(typed(bow))


def test_a_small_loop_is_repaired() -> None:
    loop = [*SQUARE, (0, -6), (4, -6), (4, 6)]
    field = read_field(typed(corners(loop)))
    assert field.area_m2 == pytest.approx(AREA, rel=1e-3)
    assert any("repaired" in note for note in field.notes)


def test_a_track_driven_twice_round_is_one_field(tmp_path: Path) -> None:
    again = [(x + 1.5, y - 1.0) for x, y in SQUARE]
    ring = corners([*SQUARE, *again, SQUARE[0]])
    (tmp_path / "a.gpx").write_text(gpx(ring))
    assert read_field(tmp_path / "a.gpx").area_m2 == pytest.approx(AREA, rel=0.01)


def test_tracks_that_do_not_close(tmp_path: Path) -> None:
    (tmp_path / "three.gpx").write_text(gpx(RING))
    field = read_field(tmp_path / "three.gpx")
    assert any("2,62" in note and "straight line" in note for note in field.notes)
    (tmp_path / "path.gpx").write_text(gpx(corners([(0, 0), (300, 10), (600, 0)])))
    with pytest.raises(InputError, match="doesn't go round anything"):
        read_field(tmp_path / "path.gpx")


def test_positions_at_zero_are_dropped_from_tracks(tmp_path: Path) -> None:
    (tmp_path / "a.gpx").write_text(gpx([*RING[:2], (0.0, 0.0), *RING[2:], RING[0]]))
    field = read_field(tmp_path / "a.gpx")
    assert field.area_m2 == pytest.approx(AREA, rel=1e-3)
    assert any("1 position at 0, 0" in note for note in field.notes)


@pytest.mark.parametrize(
    ("ring", "says"),
    [
        ([(0.0, 0.0), (0.01, 0.0), (0.01, 0.01)], "0, 0 in the sea off Africa"),
        (corners(SQUARE, -98.7, -38.0), "lies in the Pacific.*minus signs"),
        (corners(SQUARE, -40.0, 45.0), "lies in the Atlantic"),
        (corners([(0, 0), (20_000, 0), (20_000, 20_000), (0, 20_000)]), "more than any one field"),
        ([*RING, (-90.0, 30.0)], "30.00000 N, 90.00000 W lies more than 31 miles"),
        (corners([(0, 0), (1, 0), (0, 1)]), "encloses no area"),
        ([RING[0], RING[1], RING[0]], "2 different positions"),
        (corners([(0, 0), (100, 100), (200, 200)]), "encloses no area"),
        ([(500_000.0, 4_200_000.0), (500_800.0, 4_200_000.0), (500_800.0, 4_200_900.0)], "CRS"),
    ],
)
def test_outlines_refused(tmp_path: Path, ring: Any, says: str) -> None:
    with pytest.raises(InputError, match=says) as caught:
        read_field(write(tmp_path / "f.geojson", polygon(ring)))
    assert "\n" not in str(caught.value)
    assert "f.geojson" in str(caught.value)


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("a.geojson", "{", "line 1: not readable JSON"),
        ("a.geojson", "[1, 2]", "isn't a type|not GeoJSON"),
        ("a.geojson", '{"type": "FeatureCollection", "features": []}', "nothing is drawn"),
        ("a.geojson", '{"type": "FeatureCollection"}', "no list of features"),
        ("a.geojson", '{"type": "Circle", "coordinates": []}', "'Circle' isn't a type"),
        ("a.geojson", '{"type": "Polygon", "coordinates": [[["x", 1]]]}', "position 1"),
        ("a.geojson", '{"type": "Polygon", "coordinates": [[[NaN, 1]]]}', "finite"),
        ("a.geojson", '{"type": "Point", "coordinates": [1' + "0" * 400 + ", 1]}", "position 1"),
        ("a.geojson", '{"type": "Polygon", "coordinates": []}', "without corners"),
        ("a.geojson", '{"type": "Polygon", "coordinates": [[]]}', "no positions"),
        ("a.kml", "<kml><Placemark>", "line 1: not readable XML"),
        ("a.kml", "<!DOCTYPE x [<!ENTITY y 'z'>]><kml/>", "document type"),
        ("a.kml", "<svg/>", "neither KML nor GPX"),
        ("a.kml", kml(RING).replace("-98.", "west 98."), "can't|convert"),
        ("a.gpx", "<gpx/>", "nothing is drawn"),
        ("a.gpx", "<gpx><wpt lat='38'/></gpx>", "can't be read"),
        ("a.csv", "", "no GeoJSON|empty"),
        ("a.csv", "north,east\n1,2\n", "no columns lat and lon"),
        ("a.csv", "lat,lon\n38.1,-97\n38.2,west\n", "row 3: 'west'"),
        ("a.kmz", "PK\x03\x04", "zip archive"),
        ("a.shp", "x", "shapefile"),
        ("a.doc", "\x00\x01", "no GeoJSON, KML, GPX or CSV"),
    ],
)
def test_files_refused(tmp_path: Path, name: str, text: str, says: str) -> None:
    (tmp_path / name).write_text(text)
    with pytest.raises(InputError, match=says) as caught:
        read_field(tmp_path / name)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("nowhere.geojson", "doesn't exist"),
        ("38.1,-97.1 38.2,-97.1", "at least three"),
        ("38.1,-97.1 38.2;-97.1 38.3,-97.1", "can't be read"),
        ("38.1,-97.1 38.2,-97.1 38.2,west", "'38.2,west' can't be read"),
    ],
)
def test_typed_refused(text: str, says: str) -> None:
    with pytest.raises(InputError, match=says):
        read_field(text)


@settings(deadline=None, max_examples=150)
@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_field(text + "?")


def test_l_shape_area() -> None:
    assert read_field(typed(corners(L_SHAPE))).area_m2 == pytest.approx(390_000, rel=1e-4)


def test_a_doubt_about_zones_and_what_is_left_out_is_noted(tmp_path: Path) -> None:
    """10 N, 51 E read the other way is Germany: one doubt for each file that may lie there."""
    outline = [(lat, lon) for lon, lat in corners(SQUARE, 10.1, 51.1)]
    field = read_field(write(tmp_path / "field.geojson", polygon(outline)))
    part = [outline[0], outline[1], outline[2]]
    zones = write(tmp_path / "zones.geojson", polygon(part, name="hill"))
    pond = write(tmp_path / "pond.geojson", polygon(part))
    (said,) = [n for n in read_zones(zones, field)[1] if "in the tropics" in n]
    assert said.startswith("zones.geojson: ")
    (said,) = read_left_out([pond], field)[1]
    assert said.startswith("pond.geojson: ")
    assert "in the tropics" in said


def test_a_start_in_the_other_order_is_told_the_order(tmp_path: Path) -> None:
    """An outline is put right by where fields can lie; a start is taken as it was given."""
    ring = corners(SQUARE, -77.92, 38.03)
    field = read_field(write(tmp_path / "f.geojson", polygon([(b, a) for a, b in ring])))
    with pytest.raises(InputError, match="give --start as LAT,LON, the latitude first") as raised:
        plan_visit(field, 4, start=(38.03, -77.92), rng=1)
    assert "(77.92000 S, 38.03000 E)" in str(raised.value)
    assert f"({place_text(field.ground.lon, field.ground.lat)})" in str(raised.value)
