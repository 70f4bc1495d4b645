"""The photo reader: every format and every way of being broken."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import math
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import ExifTags, Image, ImageCms
from PIL.TiffImagePlugin import IFDRational

from tillercount.errors import InputError
from tillercount.photo import Photo, PhotoError, read_photo
from tillercount.photofiles import list_photos

WIDTH, HEIGHT = 60, 40
QUARTERS = {
    "top_left": (200, 30, 30),
    "top_right": (30, 180, 40),
    "bottom_left": (40, 60, 200),
    "bottom_right": (220, 200, 40),
}


def quarters() -> np.ndarray:
    """An upright picture whose four quarters have four colours."""
    rgb = np.empty((HEIGHT, WIDTH, 3), np.uint8)
    rgb[:20, :30] = QUARTERS["top_left"]
    rgb[:20, 30:] = QUARTERS["top_right"]
    rgb[20:, :30] = QUARTERS["bottom_left"]
    rgb[20:, 30:] = QUARTERS["bottom_right"]
    return rgb


def exif_of(**shot: object) -> Image.Exif:
    exif = Image.Exif()
    block = exif.get_ifd(ExifTags.IFD.Exif)
    for name, value in shot.items():
        block[ExifTags.Base[name]] = value
    return exif


def assert_upright(photo: Photo) -> None:
    assert photo.rgb.dtype == np.uint8
    assert photo.rgb.shape == (HEIGHT, WIDTH, 3)
    np.testing.assert_allclose(photo.rgb.astype(int), quarters(), atol=12)


# How a camera stores an upright picture under each EXIF orientation.
STORED = {
    1: lambda a: a,
    2: lambda a: a[:, ::-1],
    3: lambda a: a[::-1, ::-1],
    4: lambda a: a[::-1],
    5: lambda a: a.transpose(1, 0, 2),
    6: lambda a: np.rot90(a, 1),
    7: lambda a: a[::-1, ::-1].transpose(1, 0, 2),
    8: lambda a: np.rot90(a, -1),
}


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize(
    ("suffix", "options"),
    [
        ("jpg", {"quality": 95, "subsampling": 0}),
        ("png", {}),
        ("webp", {"lossless": True}),
        ("tif", {}),
        ("tif", {"compression": "tiff_lzw"}),
    ],
)
def test_upright_exactly_once(
    tmp_path: Path, suffix: str, options: dict, orientation: int
) -> None:
    """All eight orientations of every format come out as the same upright picture."""
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    path = tmp_path / f"a.{suffix}"
    stored = np.ascontiguousarray(STORED[orientation](quarters()))
    Image.fromarray(stored).save(path, exif=exif, **options)
    photo = read_photo(path)
    assert_upright(photo)
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_same_orientation_as_pillow(tmp_path: Path) -> None:
    """The table of turns agrees with the one in Pillow."""
    from PIL import ImageOps

    for orientation in range(1, 9):
        exif = Image.Exif()
        exif[ExifTags.Base.Orientation] = orientation
        path = tmp_path / f"{orientation}.png"
        Image.fromarray(quarters()).save(path, exif=exif)
        with Image.open(path) as image:
            expected = np.asarray(ImageOps.exif_transpose(image))
        np.testing.assert_array_equal(read_photo(path).rgb, expected)


@pytest.mark.parametrize("value", [0, 9, 255])
def test_senseless_orientation_turns_nothing(tmp_path: Path, value: int) -> None:
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = value
    Image.fromarray(quarters()).save(tmp_path / "a.png", exif=exif)
    assert_upright(read_photo(tmp_path / "a.png"))


def test_time_place_and_focal_length(tmp_path: Path) -> None:
    """What a phone writes is read: time with offset, place, 35-mm equivalent on the diagonal."""
    exif = exif_of(
        DateTimeOriginal="2026:03:04 08:15:30",
        OffsetTimeOriginal="-05:00",
        FocalLengthIn35mmFilm=24,
        ExifImageWidth=WIDTH,
        ExifImageHeight=HEIGHT,
    )
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps[1], gps[2] = "N", (39.0, 30.0, 36.0)
    gps[3], gps[4] = "W", (76.0, 15.0, 0.0)
    Image.fromarray(quarters()).save(tmp_path / "a.jpg", exif=exif)
    photo = read_photo(tmp_path / "a.jpg")
    zone = dt.timezone(dt.timedelta(hours=-5))
    assert photo.taken_at == dt.datetime(2026, 3, 4, 8, 15, 30, tzinfo=zone)
    assert photo.lat == pytest.approx(39.51)
    assert photo.lon == pytest.approx(-76.25)
    assert photo.focal_known
    assert photo.focal_px == pytest.approx(24 * math.hypot(WIDTH, HEIGHT) / 43.27)
    assert photo.notes == ()


def test_time_without_offset_stays_without(tmp_path: Path) -> None:
    exif = exif_of(DateTimeOriginal="2026:03:04 08:15:30")
    Image.fromarray(quarters()).save(tmp_path / "a.jpg", exif=exif)
    assert read_photo(tmp_path / "a.jpg").taken_at == dt.datetime(2026, 3, 4, 8, 15, 30)


@pytest.mark.parametrize(
    ("shot", "known"),
    [
        ({"FocalLengthIn35mmFilm": 26, "ExifImageWidth": 600, "ExifImageHeight": 400}, True),
        ({"FocalLengthIn35mmFilm": 26, "ExifImageWidth": 400, "ExifImageHeight": 600}, True),
        ({"FocalLengthIn35mmFilm": 26, "ExifImageWidth": 640, "ExifImageHeight": 480}, False),
        ({"FocalLengthIn35mmFilm": 26}, False),
        ({"FocalLengthIn35mmFilm": 0, "ExifImageWidth": 60, "ExifImageHeight": 40}, False),
        ({"FocalLengthIn35mmFilm": 5, "ExifImageWidth": 60, "ExifImageHeight": 40}, False),
        ({"FocalLengthIn35mmFilm": 900, "ExifImageWidth": 60, "ExifImageHeight": 40}, False),
        (
            {
                "FocalLengthIn35mmFilm": 26,
                "ExifImageWidth": 60,
                "ExifImageHeight": 40,
                "DigitalZoomRatio": 2.0,
            },
            False,
        ),
    ],
)
def test_focal_length_only_when_sane(tmp_path: Path, shot: dict, known: bool) -> None:
    """A crop, a zoom, a stale or a missing size: the usual phone's focal length instead."""
    Image.fromarray(quarters()).save(tmp_path / "a.jpg", exif=exif_of(**shot))
    photo = read_photo(tmp_path / "a.jpg")
    assert photo.focal_known is known
    assert photo.focal_px == pytest.approx(26 * math.hypot(WIDTH, HEIGHT) / 43.27)


@pytest.mark.parametrize(
    ("lat", "lon", "lat_ref"),
    [
        ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), "N"),
        ((91.0, 0.0, 0.0), (10.0, 0.0, 0.0), "N"),
        ((39.0, 0.0, 0.0), (181.0, 0.0, 0.0), "N"),
        ((39.0, 0.0, 0.0), (76.0, 0.0, 0.0), ""),
        ((IFDRational(0, 0), 0.0, 0.0), (76.0, 0.0, 0.0), "N"),
    ],
)
def test_bad_place_is_left_out_with_a_note(
    tmp_path: Path, lat: tuple, lon: tuple, lat_ref: str
) -> None:
    exif = exif_of(DateTimeOriginal="2026:03:04 08:15:30")
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps[1], gps[2], gps[3], gps[4] = lat_ref, lat, "W", lon
    Image.fromarray(quarters()).save(tmp_path / "a.jpg", exif=exif)
    photo = read_photo(tmp_path / "a.jpg")
    assert (photo.lat, photo.lon) == (None, None)
    assert any("place" in note for note in photo.notes)
    assert photo.taken_at is not None


@pytest.mark.parametrize("text", ["2026:13:45 99:99:99", "not a time", "1970:01:01 00:00:00"])
def test_bad_time_is_left_out_with_a_note(tmp_path: Path, text: str) -> None:
    exif = exif_of(DateTimeOriginal=text)
    Image.fromarray(quarters()).save(tmp_path / "a.jpg", exif=exif)
    photo = read_photo(tmp_path / "a.jpg")
    assert photo.taken_at is None
    assert any("time" in note for note in photo.notes)


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("suffix", ["jpg", "webp", "tif"])
def test_a_broken_exif_block_never_loses_the_photo(
    tmp_path: Path, suffix: str, seed: int
) -> None:
    """Bytes of the EXIF block overwritten at random: the picture is still read."""
    exif = exif_of(
        DateTimeOriginal="2026:03:04 08:15:30",
        FocalLengthIn35mmFilm=24,
        ExifImageWidth=WIDTH,
        ExifImageHeight=HEIGHT,
        DigitalZoomRatio=1.0,
    )
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps[1], gps[2], gps[3], gps[4] = "N", (39.0, 30.0, 36.0), "W", (76.0, 15.0, 0.0)
    rng = np.random.default_rng(seed)
    path = tmp_path / f"a.{suffix}"
    if suffix == "tif":
        # In a TIFF the main block describes the pixels themselves: break the two behind it.
        Image.fromarray(quarters()).save(path, exif=exif.tobytes())
        data = bytearray(path.read_bytes())
        start = data.index(b"2026:03:04") - 60
        for place in rng.integers(start, start + 120, 6):
            data[place] = rng.integers(256)
        path.write_bytes(data)
    else:
        block = bytearray(exif.tobytes())
        for place in rng.integers(14, len(block), 12):
            block[place] = rng.integers(256)
        Image.fromarray(quarters()).save(path, exif=bytes(block))
    photo = read_photo(path)
    assert photo.rgb.shape[2] == 3
    assert photo.rgb.size == HEIGHT * WIDTH * 3


def test_zero_over_zero_everywhere(tmp_path: Path) -> None:
    """0/0 rationals, which some phones write, are no numbers."""
    exif = exif_of(DigitalZoomRatio=IFDRational(0, 0), FocalLengthIn35mmFilm=24)
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps[1], gps[3] = "N", "E"
    gps[2] = gps[4] = (IFDRational(0, 0),) * 3
    Image.fromarray(quarters()).save(tmp_path / "a.jpg", quality=95, subsampling=0, exif=exif)
    assert_upright(read_photo(tmp_path / "a.jpg"))


def test_cmyk_is_read_with_a_note(tmp_path: Path) -> None:
    Image.fromarray(quarters()).convert("CMYK").save(tmp_path / "a.jpg", quality=95)
    photo = read_photo(tmp_path / "a.jpg")
    assert photo.rgb.shape == (HEIGHT, WIDTH, 3)
    np.testing.assert_allclose(photo.rgb[5, 5], QUARTERS["top_left"], atol=12)
    assert any("CMYK" in note for note in photo.notes)


@pytest.mark.parametrize("suffix", ["png", "tif"])
def test_16_bit_colour_keeps_its_range(tmp_path: Path, suffix: str) -> None:
    """Full scale is 65535: 16-bit values come out divided by 257, not wrapped or cut."""
    import cv2

    deep = quarters().astype(np.uint16) * 257
    cv2.imwrite(str(tmp_path / f"a.{suffix}"), deep[:, :, ::-1])
    assert_upright(read_photo(tmp_path / f"a.{suffix}"))


@pytest.mark.parametrize("mode", ["L", "LA", "1", "I;16", "F"])
def test_no_colour_is_refused(tmp_path: Path, mode: str) -> None:
    grey = Image.fromarray(quarters()).convert("L")
    if mode == "I;16":
        grey = Image.fromarray(np.asarray(grey).astype(np.uint16) * 257)
    else:
        grey = grey.convert(mode)
    path = tmp_path / ("a.tif" if mode == "F" else "a.png")
    grey.save(path)
    with pytest.raises(PhotoError, match="black-and-white"):
        read_photo(path)


def test_grey_stored_as_colour_is_refused(tmp_path: Path) -> None:
    Image.fromarray(quarters()).convert("L").convert("RGB").save(tmp_path / "a.jpg")
    with pytest.raises(PhotoError, match="no colour"):
        read_photo(tmp_path / "a.jpg")


def test_opaque_alpha_is_dropped_and_transparency_noted(tmp_path: Path) -> None:
    rgba = np.dstack([quarters(), np.full((HEIGHT, WIDTH), 255, np.uint8)])
    Image.fromarray(rgba).save(tmp_path / "opaque.png")
    photo = read_photo(tmp_path / "opaque.png")
    assert_upright(photo)
    assert photo.notes == ()
    rgba[:, :30, 3] = 0
    Image.fromarray(rgba).save(tmp_path / "half.png")
    photo = read_photo(tmp_path / "half.png")
    assert (photo.rgb[:, :30] == 128).all()
    assert "50 %" in photo.notes[0]


def test_palette_and_animation(tmp_path: Path) -> None:
    first = Image.fromarray(quarters())
    first.quantize(16).save(tmp_path / "p.png")
    photo = read_photo(tmp_path / "p.png")
    assert_upright(photo)
    assert "palette" in photo.notes[0]
    second = Image.fromarray(quarters()[::-1].copy())
    first.save(tmp_path / "m.webp", save_all=True, append_images=[second], lossless=True)
    photo = read_photo(tmp_path / "m.webp")
    assert_upright(photo)
    assert "2 pictures" in photo.notes[0]


def wide_profile() -> bytes:
    """An ICC profile with the primaries of Display P3 (SMPTE EG 432-1) and a gamma of 2.2."""
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    # Colourants of Display P3 adapted to D50, as ICC s15Fixed16 numbers.
    for tag, xyz in {
        b"rXYZ": (0.51512, 0.24120, -0.00105),
        b"gXYZ": (0.29198, 0.69225, 0.04189),
        b"bXYZ": (0.15710, 0.06657, 0.78407),
    }.items():
        entry = profile.index(tag)
        offset = int.from_bytes(profile[entry + 4 : entry + 8], "big") + 8
        for number in xyz:
            profile[offset : offset + 4] = round(number * 65536).to_bytes(4, "big", signed=True)
            offset += 4
    # Another name, so that the profile isn't taken for plain sRGB.
    return bytes(profile).replace("sRGB".encode("utf-16-be"), "wide".encode("utf-16-be"))


def test_wide_gamut_photo_becomes_srgb(tmp_path: Path) -> None:
    """In Display P3 (100, 160, 80) is a stronger green than in sRGB: red falls, green rises."""
    rgb = quarters()
    rgb[:] = (100, 160, 80)
    rgb[0, 0] = (200, 30, 30)
    Image.fromarray(rgb).save(tmp_path / "a.png", icc_profile=wide_profile())
    red, green, blue = (int(value) for value in read_photo(tmp_path / "a.png").rgb[20, 20])
    # By hand: linearise with the sRGB curve, P3 to sRGB matrix, encode: (78, 162, 68).
    assert abs(red - 78) <= 3
    assert abs(green - 162) <= 3
    assert abs(blue - 68) <= 3


def test_senseless_profile_is_noted(tmp_path: Path) -> None:
    Image.fromarray(quarters()).save(tmp_path / "a.png", icc_profile=b"nonsense" * 40)
    photo = read_photo(tmp_path / "a.png")
    assert_upright(photo)
    assert "profile" in photo.notes[0]


@pytest.mark.parametrize("suffix", ["jpg", "png", "webp", "tif"])
@pytest.mark.parametrize("share", [0.02, 0.5, 0.9])
def test_truncated_files(tmp_path: Path, suffix: str, share: float) -> None:
    rng = np.random.default_rng(1)
    noise = rng.integers(0, 256, (HEIGHT, WIDTH, 3), dtype=np.uint8)
    Image.fromarray(noise).save(tmp_path / f"whole.{suffix}")
    data = (tmp_path / f"whole.{suffix}").read_bytes()
    (tmp_path / f"cut.{suffix}").write_bytes(data[: int(len(data) * share)])
    with pytest.raises(PhotoError) as caught:
        read_photo(tmp_path / f"cut.{suffix}")
    message = str(caught.value)
    assert message.startswith(f"cut.{suffix}: ")
    assert "\n" not in message


@pytest.mark.parametrize(
    ("name", "content", "word"),
    [
        ("empty.jpg", b"", "empty"),
        ("text.jpg", b"spot,plants\n1,24\n" * 20, "not a photo"),
        ("zeros.png", bytes(1000), "not a photo"),
    ],
)
def test_not_a_photo(tmp_path: Path, name: str, content: bytes, word: str) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(PhotoError, match=word):
        read_photo(tmp_path / name)


def test_other_formats_are_refused(tmp_path: Path) -> None:
    Image.fromarray(quarters()).save(tmp_path / "a.gif")
    with pytest.raises(PhotoError, match="use JPEG"):
        read_photo(tmp_path / "a.gif")


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(PhotoError, match="doesn't exist"):
        read_photo(tmp_path / "none.jpg")
    with pytest.raises(PhotoError, match="folder"):
        read_photo(tmp_path)


def test_decompression_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    """121 megapixels in a few kilobytes: refused by its stated size, in megapixels."""
    Image.new("1", (11_000, 11_000)).save(tmp_path / "bomb.png")
    with pytest.raises(PhotoError, match=r"121 megapixels, more than 120 megapixels"):
        read_photo(tmp_path / "bomb.png")
    data = bytearray((tmp_path / "bomb.png").read_bytes())
    data[16:24] = (60_000).to_bytes(4, "big") * 2
    import zlib

    data[29:33] = zlib.crc32(bytes(data[12:29])).to_bytes(4, "big")
    (tmp_path / "bomb.png").write_bytes(data)
    with pytest.raises(PhotoError, match="120 megapixels"):
        read_photo(tmp_path / "bomb.png")


@pytest.mark.slow
def test_48_megapixels(tmp_path: Path) -> None:
    image = Image.fromarray(quarters()).resize((8000, 6000), Image.Resampling.NEAREST)
    image.save(tmp_path / "a.jpg", quality=80)
    photo = read_photo(tmp_path / "a.jpg")
    assert photo.rgb.shape == (6000, 8000, 3)
    np.testing.assert_allclose(photo.rgb[5000, 7000], QUARTERS["bottom_right"], atol=8)


def test_heic_without_the_extra_names_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    (tmp_path / "a.heic").write_bytes(b"\0\0\0\x18ftypheic" + bytes(100))
    with pytest.raises(PhotoError, match=r"pip install 'tillercount\[heic\]'"):
        read_photo(tmp_path / "a.heic")


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_heic_upright_once(tmp_path: Path, orientation: int) -> None:
    heif = pytest.importorskip("pillow_heif", reason="the extra 'heic' isn't installed")
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    stored = Image.fromarray(np.ascontiguousarray(STORED[orientation](quarters())))
    buffer = io.BytesIO()
    heif.from_pillow(stored).save(buffer, quality=95, exif=exif.tobytes())
    (tmp_path / "a.heic").write_bytes(buffer.getvalue())
    photo = read_photo(tmp_path / "a.heic")
    assert photo.rgb.shape == (HEIGHT, WIDTH, 3)
    for (row, col), name in {(5, 5): "top_left", (35, 5): "bottom_left"}.items():
        np.testing.assert_allclose(photo.rgb[row, col].astype(int), QUARTERS[name], atol=40)


def test_list_photos(tmp_path: Path) -> None:
    """Sorted, hidden and other files left out, not below the folder, each once."""
    for name in ("b.JPG", "a.png", ".hidden.jpg", "notes.txt", "._a.jpg"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "below").mkdir()
    (tmp_path / "below" / "c.jpg").write_bytes(b"x")
    found = list_photos([tmp_path / "b.JPG", tmp_path])
    assert [path.name for path in found] == ["b.JPG", "a.png"]
    (tmp_path / "bare").mkdir()
    with pytest.raises(InputError, match="holds no photos"):
        list_photos([tmp_path / "bare"])
    with pytest.raises(InputError, match="doesn't exist"):
        list_photos([tmp_path / "missing.jpg"])


def test_a_folder_of_folders_names_those_with_photos(tmp_path: Path) -> None:
    for name in ("a", "b", "c", "d", "notes", ".hidden"):
        (tmp_path / name).mkdir()
        if name != "notes":
            Image.new("RGB", (8, 8)).save(tmp_path / name / "spot_01.jpg")
    with pytest.raises(InputError) as caught:
        list_photos([tmp_path])
    some = ", ".join(str(tmp_path / name) for name in ("a", "b", "c"))
    assert str(caught.value).endswith(f"(folders below it are not searched); give one of: {some}")
    with pytest.raises(InputError, match=r"name a folder with \.jpg"):
        list_photos([tmp_path / "notes"])
