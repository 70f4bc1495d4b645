"""A season written out: CSV, GeoJSON (RFC 7946), GeoPackage, Parquet; one row per count.

Rows go to the file as they are read, so that a large season needs no more memory; the file appears
under its name only when it is whole.
"""

from __future__ import annotations

import csv
import itertools
import json
import os
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from tillercount.errors import InputError
from tillercount.inplace import put_in_place, real_place
from tillercount.store.rows import COLUMNS

__all__ = ["FORMATS", "export"]

_BATCH = 10_000
_DECIMALS = 7  # of degrees: about a centimetre


def export(rows: Iterator[Mapping[str, Any]], path: str | Path) -> int:
    """Write rows to a file; its ending says how. How many there were.

    Raises
    ------
    InputError
        An ending that isn't known, a folder that isn't there, a library that is missing, or a file
        that is write-protected.
    """
    path = Path(path)
    write = FORMATS.get(path.suffix.lower())
    if write is None:
        raise InputError(
            f"{path}: the ending {path.suffix or 'is missing and'!r} isn't known; name a file "
            f"ending in {', '.join(FORMATS)}"
        )
    part = real_place(path).with_name(f".{path.stem}.{os.getpid()}{path.suffix}")
    try:
        number = write(rows, part)
        put_in_place(part, path)
    except FileNotFoundError as error:
        raise InputError(f"{path}: the folder doesn't exist; make it, or name another") from error
    finally:
        part.unlink(missing_ok=True)
    return number


def _csv(rows: Iterator[Mapping[str, Any]], path: Path) -> int:
    number = 0
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(COLUMNS)
        for row in rows:
            table.writerow("" if value is None else value for value in row.values())
            number += 1
    return number


def _geojson(rows: Iterator[Mapping[str, Any]], path: Path) -> int:
    """RFC 7946: WGS 84, longitude first; a count without a position has no geometry (3.2)."""
    number = 0
    with path.open("w", encoding="utf-8") as file:
        file.write('{"type": "FeatureCollection", "features": [')
        for number, row in enumerate(rows, start=1):
            properties = {k: v for k, v in row.items() if k not in ("lat", "lon")}
            geometry = None
            if row["lat"] is not None and row["lon"] is not None:
                where = [round(row["lon"], _DECIMALS), round(row["lat"], _DECIMALS)]
                geometry = {"type": "Point", "coordinates": where}
            feature = {"type": "Feature", "geometry": geometry, "properties": properties}
            file.write(",\n" if number > 1 else "\n")
            file.write(json.dumps(feature, ensure_ascii=False, allow_nan=False))
        file.write("\n]}\n")
    return number


def _batches(rows: Iterator[Mapping[str, Any]]) -> Iterator[list[Mapping[str, Any]]]:
    while batch := list(itertools.islice(rows, _BATCH)):
        yield batch


def _geopackage(rows: Iterator[Mapping[str, Any]], path: Path) -> int:
    try:
        import numpy as np
        import pyogrio.raw
        import shapely
    except ImportError:
        raise InputError(_missing(path)) from None
    number = 0
    for batch in _batches(rows):
        points = [
            None if r["lat"] is None or r["lon"] is None else shapely.Point(r["lon"], r["lat"])
            for r in batch
        ]
        pyogrio.raw.write(
            path,
            np.array([None if p is None else shapely.to_wkb(p) for p in points], dtype=object),
            [_column(np, batch, name, kind) for name, kind in COLUMNS.items()],
            np.array(list(COLUMNS), dtype=object),
            geometry_type="Point",
            crs="EPSG:4326",
            driver="GPKG",
            layer="counts",
            append=number > 0,
        )
        number += len(batch)
    if not number:
        raise InputError(f"{path}: the season holds no counts yet, and so no table; add some first")
    return number


def _column(np: Any, batch: list[Mapping[str, Any]], name: str, kind: type) -> Any:
    values = [row[name] for row in batch]
    if kind is float:
        return np.array([np.nan if v is None else v for v in values], dtype=float)
    return np.array(values, dtype=object)


def _parquet(rows: Iterator[Mapping[str, Any]], path: Path) -> int:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        raise InputError(_missing(path)) from None
    kinds = {str: pyarrow.string(), float: pyarrow.float64()}
    schema = pyarrow.schema([(name, kinds[kind]) for name, kind in COLUMNS.items()])
    number = 0
    with pyarrow.parquet.ParquetWriter(path, schema) as writer:
        for batch in _batches(rows):
            writer.write_table(pyarrow.Table.from_pylist([dict(r) for r in batch], schema=schema))
            number += len(batch)
    return number


def _missing(path: Path) -> str:
    return (
        f"{path}: {path.suffix} files need one more library: pip install 'tillercount[tables]'; "
        ".csv and .geojson need none"
    )


FORMATS: Mapping[str, Callable[[Iterator[Mapping[str, Any]], Path], int]] = {
    ".csv": _csv,
    ".geojson": _geojson,
    ".gpkg": _geopackage,
    ".parquet": _parquet,
}
