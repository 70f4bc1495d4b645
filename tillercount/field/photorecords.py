"""A photo's record in a counts file as a spot."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.field.density import normal
from tillercount.field.finite import finite, refuse_non_finite
from tillercount.field.others import others_of
from tillercount.field.rowdoubt import seen_rows
from tillercount.field.skips import stretch_of
from tillercount.field.spots import SpotDensity
from tillercount.names import spot_text
from tillercount.units import M2_PER_FT2

__all__ = ["photo_spot"]

ROUNDED = 0.051  # counts files carry one decimal


def photo_spot(
    record: Mapping[str, Any], where: str, info: Mapping[str, Any], level: float
) -> SpotDensity | tuple[str, str]:
    """The spot of one photo by its record; of one that was refused, its name and the reason.

    Parameters
    ----------
    record : mapping
        As in a counts file.
    where : str
        Begins what is said of it where it can't be read.
    info : mapping
        What is known of the model.
    level : float
        Of the record's intervals.

    Raises
    ------
    InputError
        The record can't be read.
    """
    photo = str(record.get("photo") or "")
    name = str(record.get("spot") or Path(photo.replace("\\", "/")).stem)
    where = f"{where}{spot_text(name or '(unnamed)')}"
    refuse_non_finite(record, where)
    status = record.get("status", "counted")
    if status == "refused":
        return photo or name, str(record.get("reason") or "no reason given")
    if status != "counted":
        raise InputError(f"{where}: status is {status!r}, neither counted nor refused")
    if not name:
        raise InputError(f"{where}: no photo named; each spot needs its photo or a name")
    area = record.get("area")
    ft2 = finite(area.get("ft2") if isinstance(area, Mapping) else None, f"{where}, area.ft2")
    if ft2 <= 0:
        raise InputError(f"{where}, area.ft2: {ft2:g} must be above zero; count the photo again")
    area_m2 = ft2 * M2_PER_FT2
    values: dict[str, float | None] = {}
    errors: dict[str, float] = {}
    for what in ("plants", "shoots"):
        values[what], errors[what] = _count(record.get(what), f"{where}, {what}", level)
    plants, shoots = values["plants"], values["shoots"]
    flags = record.get("flags")
    other_cover, other_per_m2 = others_of(record, area_m2, where)
    both = info.get("bias_rel", 0.0)
    return SpotDensity(
        spot=name,
        source="photo",
        plants_per_m2=None if plants is None else plants / area_m2,
        shoots_per_m2=None if shoots is None else shoots / area_m2,
        plants_se=errors["plants"] / area_m2,
        shoots_se=errors["shoots"] / area_m2,
        plants_bias_rel=finite(info.get("plants_bias_rel", both), "model, plants_bias_rel"),
        shoots_bias_rel=finite(info.get("shoots_bias_rel", both), "model, shoots_bias_rel"),
        area_m2=area_m2,
        definition=Definition.STEMS,
        zone=str(record.get("zone") or ""),
        flags=tuple(str(flag) for flag in flags) if isinstance(flags, list | tuple) else (),
        photo=photo,
        lat=record.get("lat"),
        lon=record.get("lon"),
        rows=stretch_of(record),
        seen_rows=seen_rows(record),
        other_cover=other_cover,
        other_per_m2=other_per_m2,
        sha256=str(record.get("sha256") or ""),
        look=str(record.get("look") or ""),
        taken=str(record.get("taken_at") or "")[:10],
    )


def _count(value: Any, where: str, level: float) -> tuple[float | None, float]:
    """Best value, and the standard error that its interval means if errors are normal."""
    if value is None:
        return None, 0.0
    if not isinstance(value, Mapping):
        raise InputError(f"{where}: not a count with low and high; make the counts file again")
    best = finite(value.get("count"), f"{where}.count")
    if best < 0:
        raise InputError(f"{where}.count: {best:g} is below zero; count the photo again")
    if value.get("low") is None or value.get("high") is None:
        return best, 0.0
    low, high = finite(value["low"], f"{where}.low"), finite(value["high"], f"{where}.high")
    if not low - ROUNDED <= best <= high + ROUNDED:
        raise InputError(
            f"{where}: {best:g} lies outside its own interval {low:g} to {high:g}; "
            "count the photo again"
        )
    return best, (high - low) / (2 * normal((1 + level) / 2))
