"""An invented farm of eight fields, from its boundaries to a decision for each of them.

    scripts/farm_example [--out out/farm] [--fields N] [--no-photos] [--seed S]

Everything goes through the installed commands: ``plan`` draws the spots and the page to print,
``season add`` takes the plan, photos, counts and hand counts, ``season assess`` decides.

Alder Bend does not exist. Three of its fields have sample photos (rendered). Three more were
counted by hand in sample_images/spring_visit, at spots of their own; these invented counts are
taken as they are, so that a field means the same in every example. The counts of the other two,
and all other hand counts, are INVENTED: drawn here from a seeded generator, with a stand and a
scatter that this script makes up (`FIELDS`). They show how the commands go together and say nothing
about any real field, nor about how well the program counts.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import math
import os
import random
import subprocess
import sys
import textwrap
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
SAMPLES = ROOT / "sample_images"
FARM = "Alder Bend"
SPOTS, BY_HAND = 12, 4
WIDTH = 100
MODEL = {"name": "invented counts, no model", "sha256": "0" * 64,
         "plants_bias_rel": 0.1, "shoots_bias_rel": 0.1}  # fmt: skip

# Plants per ft2, shoots per plant, scatter from spot to spot (CV), all made up; None: `COUNTED`.
FIELDS: dict[str, tuple[float, float, float] | None] = {
    "Creek field": (30.5, 3.2, 0.08),
    "Barn field": (11.0, 1.9, 0.30),
    "Lane field": (24.0, 3.0, 0.20),
    "North creek": (23.0, 2.9, 0.25),
    "Elevator field": (30.0, 3.1, 0.15),
    "Pole field": None,
    "Triangle": None,
    "Top field": None,
}
COUNTED = {"Pole field": "pole_field.csv", "Triangle": "triangle.csv", "Top field": "top_field.csv"}
PHOTOS = {"Creek field": "creek_field", "Barn field": "barn_field", "Lane field": "lane_field"}


class Commands:
    """The installed program, run as a person would; stops at the first command that fails."""

    def __init__(self, program: str) -> None:
        self._program = program

    def __call__(self, *words: str | Path) -> str:
        """What the command printed. Exit code 1 (some photos refused) is no failure."""
        done = subprocess.run(
            [self._program, *map(str, words)],
            capture_output=True,
            text=True,
            check=False,
            env=os.environ | {"COLUMNS": "500", "NO_COLOR": "1"},
        )
        if done.returncode not in (0, 1):
            said = done.stderr.strip() or done.stdout.strip()
            sys.exit(f"tillercount {' '.join(map(str, words))}\n{said}")
        return done.stdout


def invented(rng: random.Random, stand: tuple[float, float, float]) -> tuple[int, int]:
    """Plants and shoots in one square foot of a stand that is made up."""
    mean, per_plant, cv = stand
    local = mean * max(0.1, rng.gauss(1.0, cv))
    plants = max(0, round(rng.gauss(local, math.sqrt(local))))
    return plants, plants + round(plants * max(0.0, rng.gauss(per_plant - 1, 0.25)))


def photo_entry(
    rng: random.Random, field: str, spot: dict[str, Any], true: tuple[int, int]
) -> dict[str, Any]:
    """An entry like those of ``count --json`` for a photo that was never taken."""
    lon, lat = spot["geometry"]["coordinates"]
    name = f"INVENTED_{field.replace(' ', '_')}_{spot['properties']['spot']:02d}.jpg"

    def count(value: int) -> dict[str, float]:
        read = max(0.0, value * rng.gauss(1.1, 0.12))  # too many, as photos read plants
        return {"count": round(read, 1), "low": round(read * 0.75, 1),
                "high": round(read * 1.3 + 1, 1)}  # fmt: skip

    plants, shoots = count(true[0]), count(true[1])
    return {
        "photo": f"invented/{name}",
        "status": "counted",
        "sha256": hashlib.sha256(name.encode()).hexdigest(),
        "taken_at": f"2027-03-12T{9 + spot['properties']['spot'] // 10:02d}:"
        f"{5 * (spot['properties']['spot'] % 10):02d}:00",
        "lat": round(lat + rng.gauss(0, 2e-5), 7),  # a phone is off by a few metres
        "lon": round(lon + rng.gauss(0, 2e-5), 7),
        "area": {"kind": "square", "text": "square:304.8mm", "ft2": 1.0, "m2": 0.092903},
        "flags": ["invented: an example, no photo was taken"],
        "plants": plants,
        "shoots": {**shoots, "count": max(shoots["count"], plants["count"]),
                   "high": max(shoots["high"], plants["count"])},
    }  # fmt: skip


def sample_truth(folder: Path, number: int) -> tuple[int, int] | None:
    """What stands in the frame of a sample photo, as if it had been dug up."""
    try:
        counts = json.loads((folder / f"spot_{number:02d}.json").read_text(encoding="utf-8"))[
            "counts"
        ]
    except FileNotFoundError:
        return None
    return counts["plants"], counts["shoots"]


def write_hand_counts(path: Path, rows: list[tuple[str, int, int]]) -> None:
    """Hand counts of the spots that the plan names."""
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(["spot", "observer", "plants", "shoots", "area", "definition", "note"])
        for spot, plants, shoots in rows:
            table.writerow([spot, "invented", plants, shoots, "1 ft2", "stems", "invented example"])


def one_field(
    run: Commands, field: str, out: Path, season: Path, seed: int, photos: bool
) -> str:
    """Plan, count, keep and assess one field; its decision."""
    rng = random.Random(f"{seed} {field}")
    stem = out / field.replace(" ", "_").lower()
    plan = stem.with_suffix(".geojson")
    run("plan", SAMPLES / "alder_bend_fields.geojson", "--field", field, "--spots", str(SPOTS),
        "--hand", str(BY_HAND), "--seed", str(seed), "--geojson", plan, "--gpx",
        stem.with_suffix(".gpx"), "--map", stem.with_suffix(".pdf"))  # fmt: skip
    where = ("--farm", FARM, "--field", field)
    stand = FIELDS[field]
    if stand is None:
        run("season", "add", season, SAMPLES / "spring_visit" / COUNTED[field], *where)
        return decided(run, season, stem, where)
    spots = [
        one
        for one in json.loads(plan.read_text(encoding="utf-8"))["features"]
        if one["geometry"]["type"] == "Point"
    ]
    folder = SAMPLES / PHOTOS[field] if photos and field in PHOTOS else None
    hands: list[tuple[str, int, int]] = []
    entries = []
    for spot in spots:
        number = int(spot["properties"]["spot"])
        sample = sample_truth(folder, number) if folder else None
        true = sample or invented(rng, stand)
        if spot["properties"]["by_hand"] or (folder and sample is None):
            hands.append((str(number), *true))  # no photo there: dug, so that no spot is empty
        if not folder:
            entries.append(photo_entry(rng, field, spot, true))
    if folder:
        area = (folder / "area.txt").read_text(encoding="utf-8").strip()
        pictures = sorted(folder.glob("spot_??.jpg"))
        run("season", "add", season, plan, *pictures, "--area", area, *where)
    else:
        counts = stem.with_suffix(".counts.json")
        record = {"schema": "tillercount.counts/1", "note": "invented: an example",
                  "model": MODEL, "interval_level": 0.9, "spots": entries}  # fmt: skip
        counts.write_text(json.dumps(record, indent=1), encoding="utf-8")
        run("season", "add", season, plan, counts, *where)
    by_hand = stem.with_suffix(".hand.csv")
    write_hand_counts(by_hand, hands)
    run("season", "add", season, by_hand, *where)
    return decided(run, season, stem, where)


def decided(run: Commands, season: Path, stem: Path, where: tuple[str, ...]) -> str:
    """Assess one field; its decision in whole sentences, all that was said in a file."""
    said = run("season", "assess", season, *where, "--stage", "Feekes 3", "--yield-goal",
               "80 bu/ac")  # fmt: skip
    stem.with_suffix(".txt").write_text(said, encoding="utf-8")
    return " ".join(said.strip().partition("\n\n")[0].split())


def listed(field: str, decision: str) -> str:
    """A field and its decision, folded beside its name."""
    return textwrap.fill(
        decision, WIDTH, initial_indent=f"{field:15s} ", subsequent_indent=" " * 16
    )


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--command", default="tillercount", help="the installed program")
    parser.add_argument("--out", type=Path, default=Path("out/farm"))
    parser.add_argument("--fields", type=int, default=len(FIELDS), help="only the first so many")
    parser.add_argument("--no-photos", action="store_true", help="invented counts for all fields")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    season = args.out / "alder_bend_2027.sqlite"
    for old in args.out.glob(season.name + "*"):
        old.unlink()
    run = Commands(args.command)
    run("season", "new", season)
    print(f"{FARM} (invented), 8 fields; invented counts but for the sample photos\n")
    for field in list(FIELDS)[: args.fields]:
        decision = one_field(run, field, args.out, season, args.seed, not args.no_photos)
        print(listed(field, decision), flush=True)
    run("season", "export", season, args.out / "alder_bend_2027.csv")
    print(f"\nPlans, pages to print, hand counts and the season: {args.out}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
