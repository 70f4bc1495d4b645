"""How well marked areas are found: overlap with the true outline, photo by photo.

    python scripts/frame_report.py FOLDER [FOLDER...] [--json F] [--model F] [--limit N]

A folder holds scenes (NAME.jpg with NAME.json) or photos with one truth.json that gives, per
photo, ``frame``, ``size_mm`` and ``corners_px``. Photos without a frame must give nothing.
Sticks are judged by what the count takes from them, for their tilt can't be known: the length
found along the row, how far off the row the area lies, and the true plants in it.
Scenes that a careful person would have taken again (`tillercount.train.usable`) are summed up
apart.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from tillercount.area import Area, HoopArea, SquareArea, parse_area
from tillercount.frame.find import find_area
from tillercount.frame.finder import Finder
from tillercount.frame.outline import circle_in
from tillercount.frame.projection import apply
from tillercount.photo import read_photo
from tillercount.train.figures import polygon_iou
from tillercount.train.measure_scenes import ASKED
from tillercount.train.usable import why_unusable


def cases(folder: Path) -> list[tuple[Path, Area | None, np.ndarray, dict[str, Any]]]:
    """Photo, area, true outline px and what else is known, for every photo of a folder."""
    out: list[tuple[Path, Area | None, np.ndarray, dict[str, Any]]] = []
    whole = folder / "truth.json"
    if whole.exists():
        for name, truth in json.loads(whole.read_text()).items():
            corners = np.array(truth["corners_px"])
            size = truth["size_mm"]
            if truth["frame"] == "square":
                out.append((folder / name, SquareArea(size), corners, truth))
                continue
            out.append((folder / name, HoopArea(size), circle_in(corners), truth))
        return out
    for record in sorted(folder.glob("*.json")):
        photo = record.with_suffix(".jpg")
        if not photo.exists():
            continue
        truth = json.loads(record.read_text())
        none = truth["area"]["kind"] == "none"
        area = None if none else parse_area(truth["area"]["text"])
        out.append((photo, area, np.array(truth["outline_px"], float), truth))
    return out


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--model", help="finder weights; the shipped ones by default")
    parser.add_argument("--limit", type=int)
    parser.add_argument("--quiet", action="store_true", help="only the summary")
    parser.add_argument("--focal", action="store_true", help="take a scene's own focal length")
    given = parser.parse_args()
    if given.model:
        finder = Finder.load(given.model)
        Finder.load = staticmethod(lambda name=None: finder)
    rows = []
    for folder in given.folders:
        scenes = cases(folder)[: given.limit]
        if not scenes:
            print(f"{folder}: no scenes here (NAME.json with NAME.jpg beside)", file=sys.stderr)
            return 2
        for path, area, outline, truth in scenes:
            photo = read_photo(path)
            if given.focal and "camera" in truth:
                photo = replace(photo, focal_px=truth["camera"]["focal_px"], focal_known=True)
            for asked in [area] if area else [parse_area(text) for text in ASKED]:
                begun = time.perf_counter()
                fit = find_area(photo, asked)
                row = {
                    "photo": path.name,
                    "kind": area.kind if area else "none",
                    "asked": asked.text,
                    "seconds": round(time.perf_counter() - begun, 3),
                    "found": bool(fit),
                    "evidence": fit.evidence,
                }
                if area and "outline_px" in truth:
                    row["unusable"] = why_unusable(truth, path.with_suffix(".png"))
                tilt = truth.get("camera", truth).get("tilt_deg")
                row["true_tilt_deg"] = tilt
                if fit:
                    row |= {"confidence": round(fit.confidence, 3), "tube_mm": fit.tube_mm}
                    row |= {"tilt_deg": fit.tilt_deg}
                    row["iou"] = round(polygon_iou(fit.outline_px, outline), 4) if area else 0.0
                    if area and area.kind == "row" and "ground_to_photo" in truth:
                        row |= stick_errors(fit.outline_px, truth)
                else:
                    row |= {"reason": fit.reason, "iou": None}
                rows.append(row)
                if not given.quiet:
                    print(line_of(row), flush=True)
    summary = summarise(rows)
    print(json.dumps(summary, indent=1))
    if given.json:
        given.json.write_text(json.dumps({"summary": summary, "photos": rows}, indent=1) + "\n")
    return 0


def stick_errors(found_px: np.ndarray, truth: dict[str, Any]) -> dict[str, float | None]:
    """How far a stick's found area (4, 2) px is off on the true ground.

    ``length_error``: of its length along the row, relative; ``area_error`` likewise of its area;
    ``offset_mm`` from the row, sideways, and ``along_mm`` along it; ``plants_error``: true plants
    in it against those in the true area, relative, None where there are none.
    """
    to_ground = np.linalg.inv(np.array(truth["ground_to_photo"]))
    found, true = (apply(to_ground, np.array(p, float)) for p in (found_px, truth["outline_px"]))
    along = true[1] - true[0] + true[2] - true[3]
    along = along / np.linalg.norm(along)
    across = np.array([-along[1], along[0]])

    def long_and_wide(ring: np.ndarray) -> tuple[float, float]:
        sides = np.linalg.norm(np.roll(ring, -1, 0) - ring, axis=1)
        return float(sides[0] + sides[2]) / 2, float(sides[1] + sides[3]) / 2

    (length, width), (true_length, true_width) = long_and_wide(found), long_and_wide(true)
    off = found.mean(0) - true.mean(0)
    plants = np.array([plant[2:4] for plant in truth.get("plants", [])], float).reshape(-1, 2)
    inside = int(_within(plants, found_px).sum())
    truly = int(_within(plants, np.array(truth["outline_px"], float)).sum())
    return {
        "length_error": round(length / true_length - 1, 4),
        "area_error": round(length * width / (true_length * true_width) - 1, 4),
        "offset_mm": round(abs(float(off @ across)), 1),
        "along_mm": round(abs(float(off @ along)), 1),
        "plants_error": round(inside / truly - 1, 4) if truly else None,
    }


def _within(points: np.ndarray, ring: np.ndarray) -> np.ndarray:
    """Which points (N, 2) lie in a convex polygon (M, 2)."""
    side = np.roll(ring, -1, 0) - ring
    away = points[:, None] - ring
    turn = side[:, 0] * away[..., 1] - side[:, 1] * away[..., 0]
    inside: np.ndarray = (turn > 0).all(1) | (turn < 0).all(1)
    return inside


def line_of(row: dict[str, Any]) -> str:
    """One photo as text."""
    if not row["found"]:
        return f"{row['photo']}  {row['kind']:6}  refused: {row['reason']}  {row['evidence']}"
    poor = f"  {row['evidence']}" if row["iou"] < 0.98 else ""
    if "length_error" in row:
        plants = row["plants_error"]
        poor = (
            f"  length {row['length_error']:+.1%}  off the row {row['offset_mm']:.0f} mm"
            f"  plants {'none' if plants is None else f'{plants:+.0%}'}{poor}"
        )
    return (
        f"{row['photo']}  {row['kind']:6}  IoU {row['iou']:.4f}  sure {row['confidence']:.2f}  "
        f"tilt {row['tilt_deg']:.1f} ({row['true_tilt_deg']})  tube {row['tube_mm']:.1f} mm  "
        f"{row['seconds']:.2f} s{poor}"
    )


def summarise(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Figures per kind of frame."""
    out: dict[str, Any] = {}
    for kind in sorted({row["kind"] for row in rows}):
        mine = [row for row in rows if row["kind"] == kind]
        if kind == "none":
            photos = {row["photo"] for row in mine}
            wrong = sorted({row["photo"] for row in mine if row["found"]})
            out[kind] = {"photos": len(photos), "false_finds": len(wrong), "where": wrong[:20]}
            continue
        for why in sorted({row.get("unusable") or "" for row in mine}):
            some = [row for row in mine if (row.get("unusable") or "") == why]
            ious = np.array([row["iou"] for row in some if row["found"]])
            out[f"{kind}: {why}" if why else kind] = {
                "photos": len(some),
                "refused": sum(not row["found"] for row in some),
                "iou_over_0.98": round(float((ious > 0.98).sum() / len(some)), 4),
                "iou_median": round(float(np.median(ious)), 4) if len(ious) else None,
                "iou_lowest": sorted(ious.round(3).tolist())[:6],
            }
            out[f"{kind}: {why}" if why else kind] |= sticks(some)
    out["seconds_median"] = float(np.median([row["seconds"] for row in rows]))
    return out


def sticks(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Middle and ninth tenth of what each found stick is off by, signs left out."""
    out: dict[str, Any] = {}
    for name in ("length_error", "area_error", "offset_mm", "along_mm", "plants_error"):
        off = np.abs([row[name] for row in rows if row.get(name) is not None])
        if len(off):
            out[name] = {
                "median": round(float(np.median(off)), 4),
                "nine_in_ten_within": round(float(np.quantile(off, 0.9)), 4),
            }
    return out


if __name__ == "__main__":
    sys.exit(main())
