"""How fast a season takes counts in and gives a field's summary, and how much memory it needs.

    python scripts/benchmark_store.py [--spots 100000] [--fields 200] [--url URL]

Makes counts files for so many fields, adds them through `Season.add_counts`, one file a
transaction, as the command does, and prints rows a second, the time of one field's summary, and
the peak of memory at a tenth of the import and at its end. Beside it, what plain sqlite3 takes to
insert the same entries as text into one table with the same guarantees (write-ahead log, full
synchronisation, one transaction a file). ``--one-field`` puts everything into one field.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import json
import resource
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from tillercount.store import Season, Where


def entries(first: int, number: int) -> Iterator[dict[str, Any]]:
    """Invented counts like those of ``count --json``, outline of a square included."""
    rng = np.random.default_rng(first)
    for i in range(first, first + number):
        plants = float(rng.poisson(22))
        shoots = plants * 3.0
        corners = rng.uniform(100, 3000, (4, 2)).round(2).tolist()
        yield {
            "photo": f"photos/IMG_{i:06d}.jpg",
            "status": "counted",
            "reason": None,
            "todo": None,
            "sha256": hashlib.sha256(str(i).encode()).hexdigest(),
            "taken_at": "2027-03-12T09:30:00",
            "lat": 38.5 + i * 1e-6,
            "lon": -97.5,
            "area": {"kind": "square", "text": "square:304.8mm", "ft2": 1.0, "m2": 0.092903,
                     "outline_px": corners},
            "flags": [],
            "flag_codes": [],
            "checks": [{"name": name, "level": "ok", "value": 1.0, "limit": 2.0, "text": "fine"}
                       for name in ("sharpness", "glare", "tilt", "shadow", "scale", "exposure")],
            "plants": {"count": plants, "low": plants * 0.8, "high": plants * 1.3 + 1},
            "shoots": {"count": shoots, "low": shoots * 0.8, "high": shoots * 1.3 + 1},
            "seen": {"plants": int(plants), "shoots": int(shoots)},
            "cover": {"crop": 0.2, "other_plants": 0.0, "residue": 0.1, "soil": 0.7},
        }


def write_file(path: Path, first: int, number: int) -> None:
    """One counts file, written entry by entry."""
    head = {
        "schema": "tillercount.counts/1",
        "model": {"name": "invented", "sha256": "ab" * 32, "plants_bias_rel": 0.05},
        "interval_level": 0.9,
    }
    with path.open("w", encoding="utf-8") as file:
        file.write(json.dumps(head)[:-1] + ', "spots": [')
        for i, entry in enumerate(entries(first, number)):
            file.write((",\n" if i else "\n") + json.dumps(entry))
        file.write("\n]}\n")


def peak_mib() -> float:
    """Most memory held so far, MiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def plain_insert(files: list[Path], target: Path) -> float:
    """Seconds that plain sqlite3 takes for the same entries, read the same way."""
    from tillercount.store.countsfile import read_entries

    began = time.perf_counter()
    with contextlib.closing(sqlite3.connect(target, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute("CREATE TABLE counts (id INTEGER PRIMARY KEY, sha256 TEXT, record TEXT)")
        for path in files:
            connection.execute("BEGIN IMMEDIATE")
            connection.executemany(
                "INSERT INTO counts (sha256, record) VALUES (?, ?)",
                ((e["sha256"], json.dumps(e)) for e in read_entries(path)),
            )
            connection.execute("COMMIT")
    return time.perf_counter() - began


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--spots", type=int, default=100_000)
    parser.add_argument("--fields", type=int, default=200)
    parser.add_argument("--one-field", action="store_true")
    parser.add_argument("--url", help="a server instead of a file; it must hold no season")
    args = parser.parse_args()
    each = args.spots // args.fields
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = []
        for number in range(args.fields):
            files.append(folder / f"field{number:03d}.json")
            write_file(files[-1], number * each, each)
        season = Season.create(args.url or folder / "season.sqlite", who="benchmark")
        places = [
            Where("Elm Hill", "all" if args.one_field else f"field {number:03d}")
            for number in range(args.fields)
        ]
        print(f"{each * args.fields:,} spots, {args.fields} files, "
              f"{1 if args.one_field else args.fields} fields, {season.place.split('/')[-1]}")
        print(f"  memory before                 {peak_mib():8.0f} MiB")
        began = time.perf_counter()
        for number, (path, where) in enumerate(zip(files, places, strict=True), start=1):
            season.add_counts(path, where)
            if number == max(1, args.fields // 10):
                print(f"  memory after a tenth          {peak_mib():8.0f} MiB")
        took = time.perf_counter() - began
        rows = each * args.fields
        print(f"  memory after all              {peak_mib():8.0f} MiB")
        print(f"  added                         {rows / took:8.0f} rows/s ({took:.1f} s)")
        began = time.perf_counter()
        known = season.add_counts(files[-1], places[-1])
        again = time.perf_counter() - began
        print(f"  one file again                {known.known / again:8.0f} rows/s, "
              f"{known.new} new")
        times = []
        for _ in range(3):
            began = time.perf_counter()
            found = season.summary(places[-1])
            times.append(time.perf_counter() - began)
        assert found.estimate is not None
        print(f"  summary of a field            {min(times):8.3f} s (first {times[0]:.3f} s), "
              f"{found.estimate.spots:,} spots")
        began = time.perf_counter()
        lines = season.overview()
        print(f"  list of all visits            {time.perf_counter() - began:8.3f} s, {len(lines)}")
        before = peak_mib()
        began = time.perf_counter()
        season.export(folder / "all.csv")
        took_out = time.perf_counter() - began
        print(f"  export to CSV                 {rows / took_out:8.0f} rows/s, "
              f"{peak_mib() - before:.0f} MiB more memory")
        season.close()
        plain = plain_insert(files, folder / "plain.sqlite")
        print(f"  plain sqlite3, one table      {rows / plain:8.0f} rows/s; "
              f"the season takes × {took / plain:.1f}")


if __name__ == "__main__":
    main()
