"""Whatever cannot be read or printed is refused with one plain sentence that names the file."""

import io
import os
import struct
import threading
import tracemalloc
import warnings
import zipfile
import zlib
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image
from reading_samples import (
    DRAWN,
    PAPER,
    by_pillow,
    by_tifffile,
    openraster,
    painted,
    png_chunk,
    samples,
    svg,
    with_alpha,
)

from blockwright.design.reading import read_picture
from blockwright.model.errors import PictureError, SettingsError

PIXELS = painted()
WHOLE = samples()


def sentence(tmp_path: Path, data: bytes, name: str = "design.png", **options: Any) -> str:
    """The sentence with which the bytes are refused."""
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(PictureError) as caught:
        read_picture(path, paper_hex=PAPER, **options)
    text = str(caught.value)
    assert text.startswith(f"The picture {name} ")
    assert text.endswith(".")
    assert "\n" not in text
    return text


def frames(kind: str) -> bytes:
    file = io.BytesIO()
    first, second = Image.fromarray(PIXELS), Image.fromarray(PIXELS[::-1])
    first.save(file, kind, save_all=True, append_images=[second], duration=100)
    return file.getvalue()


def cmyk(kind: str) -> bytes:
    file = io.BytesIO()
    Image.fromarray(PIXELS).convert("CMYK").save(file, kind)
    return file.getvalue()


def zipped(**parts: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as folder:
        for name, body in parts.items():
            folder.writestr(name, body)
    return file.getvalue()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty file"),
        (bytes(4000), "nothing but zeros"),
        (b"a list of inks\n", "holds text"),
        ("水".encode("utf-16"), "holds text"),
        (b"<html><body/></html>", "not an SVG"),
        (bytes([7, 0, 9, 200]) * 50, "no kind of picture that is known"),
        (by_pillow(PIXELS, "GIF"), "is a GIF"),
        (frames("GIF"), "is a GIF"),
        (frames("PNG"), "animated PNG"),
        (frames("WEBP"), "animated WebP"),
        (by_pillow(PIXELS, "BMP"), "is a BMP"),
        (by_pillow(PIXELS, "ICO"), "is an icon"),
        (by_pillow(PIXELS, "JPEG2000"), "is a JPEG 2000"),
        (by_pillow(PIXELS, "PDF"), "is a PDF"),
        (by_pillow(PIXELS, "EPS"), "is a PostScript file"),
        (by_pillow(PIXELS, "AVIF"), "is an AVIF"),
        (b"\0\0\0\x18ftypheic" + bytes(40), "is a HEIC"),
        (b"8BPS\0\1" + bytes(40), "is a PSD"),
        (b"gimp xcf v011\0" + bytes(40), "is an XCF"),
        (b"\x1f\x8b\x08" + bytes(40), "packed with gzip"),
        (imagecodecs.jpegxl_encode(PIXELS), "is a JPEG XL"),
        (cmyk("JPEG"), "is CMYK, made for the press; save it as RGB"),
        (cmyk("TIFF"), "is CMYK, made for the press; save it as RGB"),
        (zipped(mimetype=b"application/x-other"), "is a zip folder, not an OpenRaster picture"),
        (zipped(picture=b"x" * 100), "is a zip folder, not an OpenRaster picture"),
        (openraster(None), "holds no merged picture"),
        (openraster(by_pillow(PIXELS, "PNG"), mimetype=b"image/openrasterish" * 9), "is a zip folder"),
        (openraster(b"no png"), "holds a merged picture that is damaged"),
    ],
)
def test_wrong_kinds(tmp_path: Path, data: bytes, says: str) -> None:
    assert says in sentence(tmp_path, data)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (by_tifffile(PIXELS.astype(np.float32), photometric="rgb"), "8 or 16 bits"),
        (by_tifffile(PIXELS.astype(np.uint32), photometric="rgb"), "8 or 16 bits"),
        (by_tifffile(PIXELS.astype(np.int16), photometric="rgb"), "8 or 16 bits"),
        (by_tifffile(PIXELS, photometric="rgb", compression="jpeg"), "packed in a way"),
        (by_tifffile(PIXELS, photometric="cielab"), "save it as RGB"),
        (by_tifffile(np.dstack([PIXELS] * 2), photometric="rgb"), "more channels"),
        (by_tifffile(PIXELS, PIXELS[:18].copy(), photometric="rgb"), "2 pages of different size"),
        (by_tifffile(*[PIXELS[:16, :16].copy()] * 65, photometric="rgb"), "more than 64 pages"),
    ],
)
def test_tiffs_of_other_kinds(tmp_path: Path, data: bytes, says: str) -> None:
    assert says in sentence(tmp_path, data, "design.tif")


def test_a_tiff_of_nothing_but_a_thumbnail(tmp_path: Path) -> None:
    file = io.BytesIO()
    with tifffile.TiffWriter(file) as writer:
        writer.write(PIXELS, photometric="rgb", subfiletype=1, metadata=None)
    assert "holds no picture" in sentence(tmp_path, file.getvalue(), "design.tif")


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "TIFF"])
def test_one_pixel(tmp_path: Path, kind: str) -> None:
    text = sentence(tmp_path, by_pillow(PIXELS[:1, :1].copy(), kind))
    assert "is too small, 1 x 1 pixels: at least 16 x 16 pixels are needed" in text


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "TIFF"])
def test_one_colour(tmp_path: Path, kind: str) -> None:
    plain = np.full((40, 40, 3), (128, 128, 128), np.uint8)
    assert "only one colour, so there is nothing to separate" in sentence(tmp_path, by_pillow(plain, kind))


def test_two_colours_are_enough(tmp_path: Path) -> None:
    plain = np.full((40, 40, 3), 90, np.uint8)
    plain[-1, -1, 2] = 91
    path = tmp_path / "design.png"
    path.write_bytes(by_pillow(plain, "PNG"))
    np.testing.assert_array_equal(read_picture(path, paper_hex=PAPER).pixels, plain)


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "TIFF"])
def test_all_transparent(tmp_path: Path, kind: str) -> None:
    clear = with_alpha(PIXELS)
    clear[..., 3] = 0
    options: dict[str, Any] = {"lossless": True, "exact": True} if kind == "WEBP" else {}
    assert "nothing is painted" in sentence(tmp_path, by_pillow(clear, kind, **options))


def test_all_transparent_layers(tmp_path: Path) -> None:
    clear = with_alpha(PIXELS)
    clear[..., 3] = 0
    data = by_tifffile(clear, clear[::-1], photometric="rgb", extrasamples=["unassalpha"])
    assert "nothing is painted" in sentence(tmp_path, data)


def png_of_size(width: int, height: int, body: bytes = b"") -> bytes:
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + png_chunk(b"IHDR", header)
        + png_chunk(b"IDAT", body or zlib.compress(b""))
        + png_chunk(b"IEND", b"")
    )


def with_jpeg_size(width: int, height: int) -> bytes:
    data = bytearray(by_pillow(PIXELS, "JPEG"))
    frame = data.index(b"\xff\xc0")
    data[frame + 5 : frame + 9] = struct.pack(">HH", height, width)
    return bytes(data)


def with_tiff_size(width: int, height: int) -> bytes:
    file = io.BytesIO(by_tifffile(PIXELS, photometric="rgb", compression="zlib"))
    with tifffile.TiffFile(file, mode="r+") as tiff:
        tiff.pages[0].tags[256].overwrite(width, dtype="I")
        tiff.pages[0].tags[257].overwrite(height, dtype="I")
    return file.getvalue()


def with_webp_size(width: int, height: int) -> bytes:
    data = bytearray(by_pillow(PIXELS, "WEBP"))
    start = data.index(b"\x9d\x01\x2a") + 3
    data[start : start + 4] = struct.pack("<HH", width, height)
    return bytes(data)


@pytest.mark.parametrize("make", [png_of_size, with_jpeg_size, with_tiff_size, with_webp_size])
def test_the_header_is_checked_before_anything_is_decoded(tmp_path: Path, make: Any) -> None:
    """A picture that says it has 144 million pixels takes no memory for them."""
    tracemalloc.start()
    try:
        text = sentence(tmp_path, make(12_000, 12_000), max_pixels=100_000_000)
        peak_bytes = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert "12000 x 12000 = 144,000,000 pixels: at most 100,000,000 can be read" in text
    assert peak_bytes < 5_000_000


@pytest.mark.parametrize("size", [(1_000_000, 20), (20, 2_000_000_000)])
def test_absurd_sides(tmp_path: Path, size: tuple[int, int]) -> None:
    assert "no side may have more than 65,535 pixels" in sentence(tmp_path, png_of_size(*size))


@pytest.mark.parametrize("make", [png_of_size, with_tiff_size, with_webp_size])
def test_zero_size(tmp_path: Path, make: Any) -> None:
    assert "is too small, 0 x 20 pixels" in sentence(tmp_path, make(0, 20))


def test_a_jpeg_of_zero_size(tmp_path: Path) -> None:
    assert "damaged" in sentence(tmp_path, with_jpeg_size(0, 20))


def test_pillows_own_limit_does_not_show(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A limit of Pillow's far below ours changes nothing, and Pillow's is not touched."""
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 100)
    for name in ("rgb.png", "baseline.jpg", "lossy.webp", "plain.tif"):
        path = tmp_path / name
        path.write_bytes(WHOLE[name])
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            assert read_picture(path, paper_hex=PAPER).pixels.size
    assert Image.MAX_IMAGE_PIXELS == 100


def test_a_packed_flood_in_an_openraster(tmp_path: Path) -> None:
    """A merged picture that would unpack to a thousand times its size is not unpacked."""
    data = openraster(bytes(40_000_000))
    assert len(data) < 200_000
    tracemalloc.start()
    try:
        assert "damaged" in sentence(tmp_path, data, "design.ora")
        peak_bytes = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak_bytes < 5_000_000


def test_entities_in_an_openraster(tmp_path: Path) -> None:
    stack = b'<!DOCTYPE image [<!ENTITY a "b">]><image w="24" h="20"/>'
    text = sentence(tmp_path, openraster(by_pillow(PIXELS, "PNG"), stack=stack), "design.ora")
    assert "declares entities" in text


@pytest.mark.parametrize("name", [name for name in WHOLE if not name.endswith("svg")])
def test_a_file_cut_short_is_refused_or_whole(tmp_path: Path, name: str) -> None:
    """At any place: never a picture of which a part is missing."""
    path = tmp_path / name
    path.write_bytes(WHOLE[name])
    whole = read_picture(path, paper_hex=PAPER).pixels
    refused = 0
    step = max(1, len(WHOLE[name]) // 120)
    for length in [*range(0, len(WHOLE[name]) - 24, step), *range(len(WHOLE[name]) - 24, len(WHOLE[name]))]:
        path.write_bytes(WHOLE[name][:length])
        try:
            picture = read_picture(path, paper_hex=PAPER)
        except PictureError:
            refused += 1
        else:
            np.testing.assert_array_equal(picture.pixels, whole)
    assert refused > 100


@pytest.mark.parametrize("progressive", [False, True])
def test_a_jpeg_cut_short_and_closed_again(tmp_path: Path, progressive: bool) -> None:
    """Libjpeg alone would fill the rest with grey, or leave out the details, and say nothing."""
    random = np.random.default_rng(3)
    pixels = painted(96, 128)
    pixels[::2, ::3] = random.integers(0, 256, pixels[::2, ::3].shape, dtype=np.uint8)
    whole = by_pillow(pixels, "JPEG", quality=90, progressive=progressive)
    start = whole.index(b"\xff\xda") + 20
    for share in (0.05, 0.3, 0.6, 0.9, 0.98):
        cut = whole[: start + int((len(whole) - start) * share)].rstrip(b"\xff") + b"\xff\xd9"
        assert "damaged" in sentence(tmp_path, cut, "design.jpg")


def test_a_grey_corner_is_no_damage(tmp_path: Path) -> None:
    """The grey with which a decoder fills is a colour that a picture may have."""
    pixels = painted(64, 64)
    pixels[32:] = 128
    for progressive in (False, True):
        path = tmp_path / "design.jpg"
        path.write_bytes(by_pillow(pixels, "JPEG", quality=95, progressive=progressive))
        assert (read_picture(path, paper_hex=PAPER).pixels[-1, -1] == 128).all()


@pytest.mark.parametrize("name", ["rgb.png", "deep.png"])
def test_a_single_wrong_bit_in_a_png_is_noticed(tmp_path: Path, name: str) -> None:
    for place in range(8, len(WHOLE[name]), 3):
        data = bytearray(WHOLE[name])
        data[place] ^= 0x10
        assert "damaged" in sentence(tmp_path, bytes(data))


def test_strips_that_are_missing(tmp_path: Path) -> None:
    """The decoder would fill a strip of no bytes with black."""
    for tag, value in ((279, 0), (273, 0), (273, 10**8)):
        file = io.BytesIO(by_tifffile(PIXELS, photometric="rgb", compression="zlib", rowsperstrip=5))
        with tifffile.TiffFile(file, mode="r+") as tiff:
            values = list(tiff.pages[0].tags[tag].value)
            values[2] = value
            tiff.pages[0].tags[tag].overwrite(values)
        assert "damaged" in sentence(tmp_path, file.getvalue(), "design.tif")


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(PictureError, match=r"^The picture lost\.png is not there; .*\.$"):
        read_picture(tmp_path / "lost.png", paper_hex=PAPER)
    file = tmp_path / "design.png"
    file.write_bytes(b"x")
    with pytest.raises(PictureError, match="is not there"):
        read_picture(file / "inner.png", paper_hex=PAPER)


def test_a_folder(tmp_path: Path) -> None:
    with pytest.raises(PictureError, match="is a folder; give the file"):
        read_picture(tmp_path, paper_hex=PAPER)


@pytest.mark.parametrize("name", ["\0.png", "x" * 5000])
def test_names_that_no_file_can_have(tmp_path: Path, name: str) -> None:
    with pytest.raises(PictureError, match="cannot be opened") as caught:
        read_picture(tmp_path / name, paper_hex=PAPER)
    assert "\0" not in str(caught.value)


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Refused by the system; made so here, because the superuser may read everything."""
    path = tmp_path / "design.png"
    path.write_bytes(WHOLE["rgb.png"])

    def forbid(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", forbid)
    with pytest.raises(PictureError, match="may not be read: change its permissions"):
        read_picture(path, paper_hex=PAPER)


def test_what_is_no_file(tmp_path: Path) -> None:
    if not hasattr(os, "mkfifo"):
        pytest.skip("no named pipes on this system")
    os.mkfifo(tmp_path / "pipe.png")
    with pytest.raises(PictureError, match="is not a file"):
        read_picture(tmp_path / "pipe.png", paper_hex=PAPER)


def test_a_file_too_large_for_its_pixels(tmp_path: Path) -> None:
    data = WHOLE["rgb.png"] + bytes(70 * 2**20)
    assert "bytes: at most" in sentence(tmp_path, data, max_pixels=1000)


def test_too_little_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def exhausted(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(imagecodecs, "png_decode", exhausted)
    assert "needs more memory than there is" in sentence(tmp_path, WHOLE["rgb.png"])


def test_a_paper_that_is_no_colour(tmp_path: Path) -> None:
    path = tmp_path / "design.png"
    path.write_bytes(WHOLE["rgb.png"])
    with pytest.raises(SettingsError, match="paper"):
        read_picture(path, paper_hex="paper")


def test_reading_in_several_threads(tmp_path: Path) -> None:
    """The quiet that is kept while reading belongs to the process; it is as before afterwards."""
    for name, data in WHOLE.items():
        (tmp_path / name).write_bytes(data)
    filters = list(warnings.filters)
    results: dict[str, int] = {}

    def read_all() -> None:
        for name in WHOLE:
            picture = read_picture(tmp_path / name, paper_hex=PAPER, max_pixels=20_000)
            results[name] = results.get(name, 0) + picture.pixels.shape[2]

    threads = [threading.Thread(target=read_all) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(results) == set(WHOLE)
    assert list(warnings.filters) == filters


def test_svg_refusals_name_the_file_too(tmp_path: Path) -> None:
    assert "states no size" in sentence(tmp_path, svg(DRAWN, ""), "drawing.svg")
