"""What a file that is there already holds, told by its first bytes, so that none is lost.

A command may write its own results anew. Data of any other kind (JSON, tables, shapes, tracks) is
left alone, even where the ending fits: nobody makes a track or a boundary twice.
"""

from __future__ import annotations

import re
from pathlib import Path

__all__ = ["holds_own", "left_alone", "schema_in"]

_SAMPLE = 1 << 20
"""Bytes looked at, at the beginning and at the end; tables of columns lie within."""

_STARTS: dict[str, tuple[bytes, ...]] = {
    "html": (b"<!doctype html", b"<html"),
    "pdf": (b"%pdf-",),
    "png": (b"\x89png\r\n\x1a\n",),
    "gpx": (b"<?xml", b"<gpx"),
    "geojson": (b"{",),
    "gpkg": (b"sqlite format 3\0",),
    "parquet": (b"par1",),
}
"""First bytes by kind, in small letters."""

_GPX_MARK = b'creator="tillercount"'

_SCHEMAS = {
    "counts": "counts of photos",
    "assessment": "the assessment of a field",
    "report": "the report of a field",
    "nitrogen": "a nitrogen plan",
    "comparison": "a comparison of rule sets",
    "partial-counts": "counts of a run that was interrupted",
}

_LOOKS: tuple[tuple[bytes, str], ...] = (
    (rb"\xff\xd8\xff", "a JPEG picture"),
    (rb"\x89PNG", "a PNG picture"),
    (rb"(II\*\0|MM\0\*)", "a TIFF picture"),
    (rb"RIFF....WEBP", "a WebP picture"),
    (rb"....ftyp", "a photo or video (HEIF, MP4)"),
    (rb"%PDF-", "a PDF document"),
    (rb"SQLite format 3\0", "a database, such as a season or a GeoPackage"),
    (rb"PAR1", "a Parquet table"),
    (rb"PK\x03\x04", "a ZIP archive or a workbook"),
    (rb"\s*<(!doctype html|html)", "a web page"),
    (rb"\s*(<\?xml.*)?<gpx", "places or tracks (GPX)"),
    (rb"\s*(<\?xml.*)?<kml", "shapes on a map (KML)"),
    (rb"\s*<\?xml", "an XML document"),
)


def holds_own(path: Path, kind: str, mark: str = "") -> bool:
    """Whether a file is of this kind, and where ``mark`` is given the command's own.

    Parameters
    ----------
    path : Path
        Of a file; an empty one holds nothing that could be lost.
    kind : str
        json, csv, geojson, html, pdf, png, gpx, gpkg or parquet.
    mark : str
        JSON: the schema, whose number after ``/`` may differ. Others: text that stands in the
        command's own files.
    """
    if path.stat().st_size == 0:
        return True
    if kind == "json":
        found = schema_in(path)
        return found is not None and (not mark or _name(found) == _name(mark))
    sample = _sample(path)
    starts = _STARTS.get(kind, ())
    if starts and not sample.lstrip()[:40].lower().startswith(starts):
        return False
    if kind == "gpx":
        return _GPX_MARK in sample
    if kind == "geojson" and b'"geometry"' not in sample and b'"FeatureCollection"' in sample:
        return True  # no shape in it
    return mark.encode() in sample


def left_alone(path: Path) -> str:
    """The sentence that refuses to write over a file."""
    return (
        f"{path} is there already and holds {_what(path)}, so it is left as it is; name another "
        "file"
    )


def schema_in(path: Path) -> str | None:
    """The schema that a JSON file names; None where it names none, or isn't JSON that far."""
    import ijson

    try:
        with path.open("rb") as file:
            for prefix, event, value in ijson.parse(file):
                if prefix == "schema" and event == "string":
                    return str(value)
    except (ijson.JSONError, ValueError):
        return None
    return None


def _name(schema: str) -> str:
    return schema.partition("/")[0]


def _sample(path: Path) -> bytes:
    with path.open("rb") as file:
        head = file.read(_SAMPLE)
        size = file.seek(0, 2)
        if size <= _SAMPLE:
            return head
        file.seek(max(_SAMPLE, size - _SAMPLE))
        return head + file.read()


def _what(path: Path) -> str:
    with path.open("rb") as file:
        head = file.read(4096)
    for look, words in _LOOKS:
        if re.match(look, head, re.DOTALL | re.IGNORECASE):
            return words
    if head.lstrip()[:1] in (b"{", b"["):
        return _which_json(path, head)
    if b"\0" in head:
        return "something else"
    first = head.decode("utf-8-sig", "replace").partition("\n")[0].strip()
    columns = re.split(r"[,;\t]", first)
    return f"a table ({', '.join(columns[:4])} ...)" if len(columns) > 2 else "text"


def _which_json(path: Path, head: bytes) -> str:
    schema = schema_in(path)
    if schema is not None:
        mine = _name(schema).removeprefix("tillercount.")
        return f"{_SCHEMAS.get(mine, 'JSON')} ({schema[:60]})"
    if b'"tillercount.plan/' in head:
        return "the plan of a visit (GeoJSON)"
    shapes = (b'"FeatureCollection"', b'"Feature"', b'"Polygon"')
    if any(one in head for one in shapes):
        return "shapes on a map (GeoJSON)"
    return "JSON of another kind"
