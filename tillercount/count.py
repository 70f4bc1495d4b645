"""The main line for one photo: photo → marked area → top view → network → count.

`count_photo_full` is the only way from a photo to a number: the command line and `count_photo`
call it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import Area, WholePhoto, parse_area
from tillercount.nocrop import no_crop_flag
from tillercount.rowgaps import LONG_MM, of_topview
from tillercount.spot import Flag, Interval, SpotCount

if TYPE_CHECKING:
    from tillercount.frame import FrameFit
    from tillercount.model import Counter, PlantMaps
    from tillercount.model.maps import InsideCount
    from tillercount.photo import Photo
    from tillercount.quality import Check
    from tillercount.rowgaps import RowGaps
    from tillercount.rows import NoRows
    from tillercount.topview import TopView

__all__ = [
    "INTERVAL_LEVEL",
    "Counted",
    "Flag",
    "Interval",
    "SpotCount",
    "classmap_on_photo",
    "count_photo",
    "count_photo_full",
]

INTERVAL_LEVEL = 0.9
WIDEN_PER_CHECK = 1.25  # each check past its limit widens the interval by a quarter: a convention
COVER_NAMES = ("soil", "residue", "crop", "other_plants")
CROP = COVER_NAMES.index("crop")


@dataclass(frozen=True)
class Counted:
    """A count with everything it came from, for overlays and class maps.

    `fit`, `topview` and `maps` are None where the line ended before them.
    """

    spot: SpotCount
    photo: Photo | None = None
    fit: FrameFit | None = None
    topview: TopView | None = None
    maps: PlantMaps | None = None


def count_photo(
    path: str | Path,
    area: Area | str,
    *,
    corners: Sequence[Sequence[float]] | None = None,
    model: Counter | str | Path | None = None,
) -> SpotCount:
    """Count plants and shoots in the marked area of one photo.

    Parameters
    ----------
    path : the photo
    area : what was marked, an `Area` or its text, such as ``square:12in``
    corners : corners by hand in the upright photo's pixels, instead of looking for the frame
    model : a loaded `Counter`, or the name or path of one; the shipped one if not given

    Returns
    -------
    SpotCount with status ``counted``, or ``refused`` with the reason and what to do.

    Raises
    ------
    InputError
        The area's text, the corners or the model can't be used. A photo that can't be used is
        no error: it comes back refused.
    """
    return count_photo_full(path, area, corners=corners, model=model).spot


def count_photo_full(
    path: str | Path,
    area: Area | str,
    *,
    corners: Sequence[Sequence[float]] | None = None,
    model: Counter | str | Path | None = None,
    long_gap_mm: float = LONG_MM,
) -> Counted:
    """`count_photo` with the photo, the outline, the top view and the network's maps.

    ``long_gap_mm``: gaps along a row longer than this are told.
    """
    from tillercount.frame import FrameNotFound, find_area
    from tillercount.model import Counter
    from tillercount.photo import PhotoError, read_photo
    from tillercount.plausible import Seen, check_size
    from tillercount.quality import (
        camera_height_mm,
        check_area,
        check_fit,
        check_photo,
        refusing,
        usual_height_mm,
    )
    from tillercount.samelook import look_of
    from tillercount.strokes import stroke_width_mm
    from tillercount.topview import make_topview

    path = Path(path)
    area = parse_area(area) if isinstance(area, str) else area
    counter = model if isinstance(model, Counter) else Counter.load(model)
    try:
        photo = read_photo(path)
    except PhotoError as error:
        return Counted(SpotCount(path, "refused", area, reason=str(error), model=counter.info))
    plain = SpotCount(
        path, "refused", area, model=counter.info, sha256=photo.sha256,
        taken_at=photo.taken_at.isoformat() if photo.taken_at else None,
        lat=photo.lat, lon=photo.lon, look=look_of(photo.rgb),
    )

    def refused(
        reason: str, todo: str | None, checks: tuple[Check, ...] = (), **more: Any
    ) -> Counted:
        flags = tuple(Flag(c.name, c.text) for c in checks if c.level != "ok")
        spot = replace(plain, reason=reason, todo=todo, checks=checks, flags=flags)
        return Counted(spot, photo, **more)

    checks = check_photo(photo)
    if bad := refusing(checks):
        return refused(bad, None, checks)
    fit = find_area(photo, area, corners=corners)
    if isinstance(fit, FrameNotFound):
        return refused(fit.reason, fit.todo, checks)
    area_m2 = (
        area.area_m2_of(*photo.rgb.shape[:2]) if isinstance(area, WholePhoto) else area.area_m2
    )
    checks += check_fit(photo, fit, area_m2, area)
    if bad := refusing(checks):
        # before the top view is made: a size in a wrong unit would make a huge one
        return refused(bad, None, checks, fit=fit)
    topview = make_topview(photo, fit, area)
    checks += check_area(photo, fit, topview)
    if bad := refusing(checks):
        return refused(bad, None, checks, fit=fit, topview=topview)
    maps = counter.predict(topview)
    hopeless = counter.refusal(maps)
    if hopeless:
        return refused(hopeless, "count this spot by hand", checks, fit=fit, topview=topview,
                       maps=maps)
    found = maps.count_inside(topview.inside)
    labels = _labels(maps, topview.inside.shape)
    cover = _cover(labels, topview)
    crop = (labels == CROP) & (topview.inside >= 0.5) & topview.valid
    checks += check_size(
        area,
        Seen(
            area_m2=area_m2,
            plants_per_m2=found.plants / area_m2,
            shoots_per_m2=max(found.shoots, found.plants) / area_m2,
            leaf_mm=stroke_width_mm(crop, topview.mm_per_px),
            crop_share=cover["crop"],
            height_mm=camera_height_mm(photo, fit),
            usual_height_mm=usual_height_mm(area_m2),
        ),
    )
    if bad := refusing(checks):
        return refused(bad, None, checks, fit=fit, topview=topview,
                       maps=maps)
    plants, shoots = _intervals(counter, maps, found, checks)
    flags = [Flag(c.name, c.text) for c in checks if c.level == "lower"]
    if bare := no_crop_flag(area, cover["crop"]):
        flags.append(bare)
    odd = counter.unusual(maps)
    if odd:
        flags.append(Flag("unusual", odd))
    spot = replace(
        plain,
        status="counted",
        area_m2=area_m2,
        outline_px=fit.outline_px,
        plants=plants,
        shoots=shoots,
        seen_plants=_inside(maps.plant_points, topview),
        seen_shoots=_inside(maps.shoot_points, topview),
        cover=cover,
        rows=_rows(maps, topview, area, long_gap_mm, found.plants),
        stick_rows_mm=fit.rows_mm,
        other_plants=found.other_plants,
        flags=tuple(flags),
        checks=checks,
    )
    return Counted(spot, photo, fit, topview, maps)


def _intervals(
    counter: Counter, maps: PlantMaps, inside: InsideCount, checks: tuple[Check, ...]
) -> tuple[Interval, Interval]:
    """Plants and shoots inside the outline; every check past its limit widens the interval."""
    wider = WIDEN_PER_CHECK ** sum(c.level == "lower" for c in checks)
    out = []
    for what, count, variance in (
        ("plants", inside.plants, inside.plants_variance),
        # each plant has at least its main stem
        ("shoots", max(inside.shoots, inside.plants), inside.shoots_variance),
    ):
        low, high = counter.interval(
            what, count, variance, novelty=maps.strangeness, level=INTERVAL_LEVEL, widen=wider
        )
        out.append(Interval(count, low, high))
    return out[0], out[1]


def _inside(points: NDArray[np.float64], topview: TopView) -> int:
    """How many points (N, 2 or more) in top-view pixels lie inside the outline."""
    height, width = topview.inside.shape
    x = np.rint(points[:, 0]).astype(int)
    y = np.rint(points[:, 1]).astype(int)
    on = (x >= 0) & (x < width) & (y >= 0) & (y < height)
    return int((topview.inside[y[on], x[on]] >= 0.5).sum())


def _rows(
    maps: PlantMaps, topview: TopView, area: Area, long_gap_mm: float, plants: float
) -> RowGaps | NoRows:
    seen = _inside(maps.plant_points, topview)
    return of_topview(
        maps.plant_points, topview, area, long_gap_mm, seen=seen, counted=plants
    )


def _labels(maps: PlantMaps, shape: tuple[int, int]) -> NDArray[np.uint8]:
    """Most probable class of each top-view pixel."""
    import cv2

    labels = np.zeros(shape, np.uint8)
    best: NDArray[np.float32] | None = None
    for number, plane in enumerate(maps.fine_classes):
        whole = (plane.shape[1] * 2, plane.shape[0] * 2)
        full = cv2.resize(plane, whole, interpolation=cv2.INTER_LINEAR)[: shape[0], : shape[1]]
        if best is None:
            best = full
            continue
        labels[full > best] = number
        best = np.maximum(best, full)
    return labels


def _cover(labels: NDArray[np.uint8], topview: TopView) -> dict[str, float]:
    """Share of the area by surface; what the frame hides is left out."""
    weight = topview.inside * topview.valid
    share = np.bincount(labels.ravel(), weight.ravel(), minlength=5)[:4]
    total = float(share.sum())
    if total <= 0:
        return dict.fromkeys(("crop", "other_plants", "residue", "soil"), 0.0)
    by_name = dict(zip(COVER_NAMES, (share / total).tolist(), strict=True))
    return {name: by_name[name] for name in ("crop", "other_plants", "residue", "soil")}


def classmap_on_photo(counted: Counted) -> NDArray[np.uint8]:
    """Class of every photo pixel, (H, W) uint8.

    0 soil, 1 residue, 2 crop, 3 other plants, 4 frame, 255 not judged (outside the top view, or
    the photo was refused before the network saw it).
    """
    import cv2

    if counted.photo is None:
        raise ValueError("a photo that could not be read has no pixels to judge")
    height, width = counted.photo.rgb.shape[:2]
    if counted.maps is None or counted.topview is None:
        return np.full((height, width), 255, np.uint8)
    labels = _labels(counted.maps, counted.topview.inside.shape)
    labels[~counted.topview.valid] = 255
    return np.asarray(
        cv2.warpPerspective(
            labels, counted.topview.to_photo, (width, height), flags=cv2.INTER_NEAREST,
            borderMode=cv2.BORDER_CONSTANT, borderValue=255,
        ),
        np.uint8,
    )
