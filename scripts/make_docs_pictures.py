"""Make the pictures in docs/ from the sample photos, with the weights that are shipped.

    python scripts/make_docs_pictures.py [--out docs]

The same weights make the same pictures, byte for byte on one machine. Run it again whenever the
weights or the look of the overlay change.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
from PIL import Image

from tillercount.cli.pictures import overlay_of
from tillercount.count import count_photo_full
from tillercount.report.ownpictures import picture_bytes

ROOT = Path(__file__).parents[1]
PHOTO = ROOT / "sample_images" / "creek_field" / "spot_04.jpg"
AREA = "square:12in"
WIDTH_PX = 900


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=ROOT / "docs", metavar="DIR")
    out = parser.parse_args().out
    counted = count_photo_full(PHOTO, AREA)
    if counted.spot.status != "counted":
        raise SystemExit(f"{PHOTO.name} was refused: {counted.spot.reason}; choose another photo")
    whole = Image.fromarray(overlay_of(counted))
    size = (WIDTH_PX, round(whole.height * WIDTH_PX / whole.width))
    picture = np.asarray(whole.resize(size, Image.Resampling.LANCZOS))
    out.mkdir(parents=True, exist_ok=True)
    (out / "overlay.jpg").write_bytes(picture_bytes(picture, "overlay", "JPEG"))
    print(f"{out / 'overlay.jpg'}: {size[0]} by {size[1]} px")


if __name__ == "__main__":
    main()
