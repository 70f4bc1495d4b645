"""The map: outline, headlands and ground dosed twice, and each spot marked by its density.

Classes are told by letter and size as well as by grey, kinds of ground by hatching, so that the
map holds on a poor printer.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from tillercount.field.offfield import outside_m
from tillercount.plan.ground import Ground
from tillercount.plan.mapmarks import apart
from tillercount.report.bothunits import in_both
from tillercount.report.drawing import (
    INK,
    PAPER,
    SOFT,
    Circle,
    Drawing,
    Label,
    Look,
    Shape,
    hatch,
)
from tillercount.report.language import Shown, Speaker, plain
from tillercount.report.mapscale import PAD, WIDTH, bar_lengths, extent, scale_of
from tillercount.report.spotnames import draw_names, map_name
from tillercount.report.stray import stray
from tillercount.report.threshold import toned
from tillercount.stand.classify import in_unit
from tillercount.units import M2_PER_ACRE, MM_PER_FT

if TYPE_CHECKING:
    from tillercount.field.spots import SpotDensity
    from tillercount.plan.boundary import Field
    from tillercount.stand.assessment import Assessment
    from tillercount.stand.overlap import Overlap

__all__ = ["draw_map", "draw_mark", "map_record"]

_M_PER_FT = MM_PER_FT / 1000
_M_PER_MILE = 5280 * _M_PER_FT
_FOOT = 22.0


def map_record(
    a: Assessment, field: Field | None = None, overlap: Overlap | None = None
) -> dict[str, Any] | None:
    """The map as values, metres east and north on a plane; None without any position.

    Parameters
    ----------
    a : Assessment
        Spots are marked by what the verdict is decided by.
    field : Field, optional
        The outline, from `tillercount.plan.read_field`.
    overlap : Overlap, optional
        Of the same outline.
    """
    decided = a.decided_by
    what = f"{decided.rule.measures}_per_m2"
    placed, missing = [], 0
    for spot in a.field.used:
        value, where = getattr(spot, what), _position(a, spot)
        if value is None or where is None:
            missing += 1
        else:
            placed.append((spot, float(value), where))
    if not placed and field is None:
        return None
    degrees = np.array([where for _, _, where in placed]).reshape(-1, 2)
    ground = field.ground if field is not None else Ground.around(degrees)
    metres = ground.to_m(degrees) if placed else np.empty((0, 2))
    far = stray(metres, None if field is None else field.shape)
    strays = [
        _stray(*one, off) for one, off in zip(placed, far.tolist(), strict=True) if off == off
    ]
    here = np.isnan(far)
    placed = [one for one, drawn in zip(placed, here, strict=True) if drawn]
    metres = metres[here]
    outside = 0 if field is None else int(np.count_nonzero(outside_m(field, metres)))
    return {
        "measures": decided.rule.measures,
        "area": None
        if field is None
        else {"ac": field.area_m2 / M2_PER_ACRE, "ha": field.area_m2 / 10_000},
        "outline_m": [] if field is None else _polygons(field.shape),
        "overlap": None if overlap is None else _overlap(overlap),
        "spots": [
            {
                "spot": spot.spot,
                "map_name": map_name(spot.spot),
                "lon": where[0],
                "lat": where[1],
                "x_m": round(float(x), 1),
                "y_m": round(float(y), 1),
                "by_hand": spot.by(decided.rule.measures) == "hand",
                "band": decided.rule.index_of(in_unit(value, decided.rule)),
                **in_both(value),
            }
            for (spot, value, where), (x, y) in zip(placed, metres, strict=True)
        ],
        "in_band": [
            sum(decided.rule.index_of(in_unit(v, decided.rule)) == i for _, v, _ in placed)
            for i in range(len(decided.rule.bands))
        ],
        "without_position": missing,
        "outside": outside,
        "stray": strays,
        # which begin with a file's name, so no capitals
        "doubt": f"{field.doubt.rstrip('.')}." if field is not None and field.doubt else None,
        "notes": [] if field is None else [f"{note.rstrip('.')}." for note in field.notes],
        "bar": bar_lengths(metres, None if field is None else field.shape.bounds),
    }


def _stray(
    spot: SpotDensity, value: float, where: tuple[float, float], off_m: float
) -> dict[str, Any]:
    """A spot left out of the drawing, and how far it is from the outline or the others."""
    return {
        "spot": spot.spot,
        "lon": where[0],
        "lat": where[1],
        **in_both(value),
        "off": {"mi": off_m / _M_PER_MILE, "km": off_m / 1000},
    }


def _position(a: Assessment, spot: SpotDensity) -> tuple[float, float] | None:
    """Of the record itself, else of another count of the same place."""
    for one in (spot, *(s for s in a.field.listed if s.key == spot.key)):
        if one.lat is not None and one.lon is not None:
            return one.lon, one.lat
    return None


def _polygons(shape: Any) -> list[list[list[list[float]]]]:
    """Polygons of rings of points, metres."""
    import shapely

    return [
        [
            [[round(float(x), 1), round(float(y), 1)] for x, y in shapely.get_coordinates(ring)]
            for ring in (part.exterior, *part.interiors)
        ]
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon" and not part.is_empty
    ]


def _overlap(found: Overlap) -> dict[str, Any]:
    return {
        "headland_m": _polygons(found.headland),
        "twice_m": _polygons(found.twice),
        "missed_m": _polygons(found.missed),
        "headland_share": found.headland_share,
        "twice_share": found.twice_share,
        "point_row_share": found.point_row_share,
        "missed_share": found.missed_share,
        "passes": found.passes,
        "boom": {"ft": found.boom.width_m / _M_PER_FT, "m": found.boom.width_m},
        "notes": list(found.notes),
    }


def draw_map(speak: Speaker, *, small: bool = False) -> Drawing:
    """The map of the record, north up, with its scale bar; ``small`` shows the ground smaller."""
    found = speak.record["map"]
    spots = [(s["x_m"], s["y_m"]) for s in found["spots"]]
    rings = [ring for polygon in found["outline_m"] for ring in polygon]
    box = extent([*spots, *(point for ring in rings for point in ring)])
    west, south, east, north = box
    scale = scale_of(box, len(spots), small=small)
    left = (WIDTH - 16 - (east - west) * scale) / 2

    def on(points: Sequence[Any]) -> tuple[tuple[float, float], ...]:
        return tuple((left + (x - west) * scale, PAD + (north - y) * scale) for x, y in points)

    drawing = Drawing(WIDTH, 2 * PAD + (north - south) * scale + _FOOT)
    drawing.words = plain(speak.say("map.alt", spots=str(len(spots))))
    for polygon in found["outline_m"]:
        drawing.items.append(Shape(tuple(on(r) for r in polygon), Look("#f6f7f8", None)))
    over = found["overlap"]
    if over is not None:
        thin, dense = Look(None, "#9aa3ad", 0.6), Look(None, INK, 0.7)
        for kind, step, look, ways in (
            ("headland_m", 8.0, thin, (True,)),
            ("twice_m", 3.2, dense, (True, False)),
        ):
            for polygon in over[kind]:
                shape = [on(ring) for ring in polygon]
                for rising in ways:
                    for piece in hatch(shape, step, rising=rising):
                        drawing.line(piece, look)
        for polygon in over["missed_m"]:
            drawing.items.append(Shape(tuple(on(r) for r in polygon), Look(PAPER, INK, 0.6)))
    for polygon in found["outline_m"]:
        drawing.items.append(Shape(tuple(on(r) for r in polygon), Look(None, INK, 2.0)))
    _spots(drawing, speak, on(spots))
    _foot(drawing, speak, scale)
    return drawing


def _radius(band: int, bands: int) -> float:
    return 7.5 + 4.0 * band / max(1, bands - 1)


def draw_mark(
    drawing: Drawing, x: float, y: float, band: int, bands: int, text: Shown | str, by_hand: bool
) -> None:
    """A spot: its class by letter, grey and size; a square where it was counted by hand."""
    radius = _radius(band, bands)
    look = Look(toned(band, bands), INK, 1.4)
    if by_hand:
        half = radius * 0.9
        drawing.rect(x - half, y - half, 2 * half, 2 * half, look)
    else:
        drawing.items.append(Circle(x, y, radius, look))
    drawing.items.append(Label(x, y + 3.6, text, 10, True))


def _spots(drawing: Drawing, speak: Speaker, at: Sequence[tuple[float, float]]) -> None:
    if not at:
        return
    bands = _bands(speak)
    true = np.array(at)
    marks: list[tuple[float, float, float]] = []
    dots: list[tuple[float, float, float]] = []
    for index, ((x, y), (tx, ty)) in enumerate(zip(apart(true, 21.0), true, strict=True)):
        spot = speak.record["map"]["spots"][index]
        if np.hypot(x - tx, y - ty) > 3:
            drawing.line([(tx, ty), (x, y)], Look(None, INK, 0.7))
            drawing.items.append(Circle(tx, ty, 1.6, Look(INK)))
            dots.append((tx, ty, 1.6))
        letter = speak.at(f"evidence/{_deciding(speak)}/bands/{spot['band']}/letter")
        draw_mark(drawing, float(x), float(y), spot["band"], bands, letter, spot["by_hand"])
        marks.append((float(x), float(y), _radius(spot["band"], bands)))
    draw_names(drawing, speak, marks, dots, drawing.height - _FOOT)


def _deciding(speak: Speaker) -> int:
    what = speak.record["map"]["measures"]
    return next(i for i, found in enumerate(speak.record["evidence"]) if found["what"] == what)


def _bands(speak: Speaker) -> int:
    return len(speak.record["evidence"][_deciding(speak)]["bands"])


def _foot(drawing: Drawing, speak: Speaker, scale: float) -> None:
    """Scale bar and north."""
    unit = "m" if speak.metric else "ft"
    length = speak.record_value(f"map/bar/{unit}") * (1.0 if speak.metric else _M_PER_FT) * scale
    y = drawing.height - 20
    for number in range(2):
        face = INK if number == 0 else PAPER
        drawing.rect(PAD + number * length / 2, y, length / 2, 5, Look(face, INK, 0.8))
    text = speak.say(f"unit.{unit}", n=speak.at(f"map/bar/{unit}", "whole"))
    drawing.items.append(Label(PAD + length / 2, y + 16, text, 10, ink=SOFT))
    # in the foot too: at the top a spot's mark, or its name, may lie there
    x, top = WIDTH - 14, drawing.height - 14
    drawing.items.append(
        Shape((((x, top - 12), (x - 5, top + 8), (x, top + 3)),), Look(INK, INK, 0.8))
    )
    drawing.items.append(
        Shape((((x, top - 12), (x + 5, top + 8), (x, top + 3)),), Look(PAPER, INK, 0.8))
    )
    drawing.items.append(Label(x - 13, top + 3, speak.words["map.north"], 11, True))
