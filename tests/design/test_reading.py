"""Every kind of file gives the pixels that were put into it."""

import io
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image, ImageOps
from reading_samples import (
    PAPER,
    PAPER_RGB,
    by_pillow,
    by_tifffile,
    openraster,
    over_paper,
    painted,
    samples,
    with_alpha,
    with_png_chunk,
)

from blockwright.design.reading import Picture, read_picture

PIXELS = painted()
GREY = np.asarray(Image.fromarray(PIXELS).convert("L"))


def read(tmp_path: Path, data: bytes | bytearray, name: str = "design", **options: Any) -> Picture:
    path = tmp_path / name
    path.write_bytes(data)
    return read_picture(path, paper_hex=PAPER, **options)


def codes(picture: Picture) -> list[str]:
    return [note.code for note in picture.notes]


@pytest.mark.parametrize(
    "data",
    [
        by_pillow(PIXELS, "PNG"),
        by_pillow(PIXELS, "PNG", "P"),
        by_pillow(with_alpha(PIXELS) | np.array([0, 0, 0, 255], np.uint8), "PNG"),
        imagecodecs.png_encode(PIXELS.astype(np.uint16) * 257),
        by_pillow(PIXELS, "WEBP", lossless=True),
        by_tifffile(PIXELS, photometric="rgb"),
        by_tifffile(PIXELS, photometric="rgb", byteorder=">"),
        by_tifffile(PIXELS, photometric="rgb", compression="lzw"),
        by_tifffile(PIXELS, photometric="rgb", compression="lzw", predictor=True, rowsperstrip=3),
        by_tifffile(PIXELS, photometric="rgb", compression="zlib", predictor=True),
        by_tifffile(PIXELS, photometric="rgb", compression="zlib", tile=(16, 16)),
        by_tifffile(PIXELS, photometric="rgb", compression="packbits"),
        by_tifffile(PIXELS, photometric="rgb", bigtiff=True),
        by_tifffile(np.moveaxis(PIXELS, -1, 0), photometric="rgb", planarconfig="separate"),
        by_tifffile(PIXELS.astype(np.uint16) * 257, photometric="rgb", compression="lzw", predictor=True),
        by_pillow(PIXELS, "TIFF", "P"),
        by_pillow(PIXELS, "TIFF", compression="tiff_adobe_deflate"),
        openraster(by_pillow(PIXELS, "PNG")),
    ],
)
def test_files_without_loss_give_every_pixel(tmp_path: Path, data: bytes) -> None:
    picture = read(tmp_path, data)
    np.testing.assert_array_equal(picture.pixels, PIXELS)
    assert picture.pixels.dtype == np.uint8
    assert picture.pixels.flags.c_contiguous
    with pytest.raises(ValueError, match="read-only"):
        picture.pixels[0, 0] = 0


@pytest.mark.parametrize(
    "data",
    [
        by_pillow(GREY, "PNG"),
        imagecodecs.png_encode(GREY.astype(np.uint16) * 257),
        by_tifffile(GREY, photometric="minisblack"),
        by_tifffile(255 - GREY, photometric="miniswhite"),
        by_tifffile(GREY.astype(np.uint16) * 257, photometric="minisblack", compression="zlib"),
    ],
)
def test_grey_becomes_three_equal_bands(tmp_path: Path, data: bytes) -> None:
    np.testing.assert_array_equal(read(tmp_path, data).pixels, np.dstack([GREY] * 3))


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_one_bit_becomes_black_and_white(tmp_path: Path, kind: str) -> None:
    expected = np.asarray(Image.fromarray(PIXELS).convert("1").convert("RGB"))
    np.testing.assert_array_equal(read(tmp_path, by_pillow(PIXELS, kind, "1")).pixels, expected)


@pytest.mark.parametrize("depth", [2, 4])
def test_png_palettes_of_few_bits(tmp_path: Path, depth: int) -> None:
    """Against Pillow's own reading."""
    reduced = Image.fromarray(PIXELS).quantize(2**depth)
    path = tmp_path / "few.png"
    reduced.save(path, bits=depth)
    expected = np.asarray(Image.open(path).convert("RGB"))
    np.testing.assert_array_equal(read_picture(path, paper_hex=PAPER).pixels, expected)


@pytest.mark.parametrize(
    "options",
    [
        {"quality": 92},
        {"quality": 75, "subsampling": 2},
        {"progressive": True},
        {"restart_marker_rows": 1},
        {"keep_rgb": True, "quality": 95},
        {"optimize": True, "quality": 30},
    ],
)
def test_jpeg_as_pillow_decodes_it(tmp_path: Path, options: dict[str, Any]) -> None:
    data = by_pillow(painted(61, 83), "JPEG", **options)
    path = tmp_path / "design.jpg"
    path.write_bytes(data)
    expected = np.asarray(Image.open(path).convert("RGB"))
    np.testing.assert_array_equal(read_picture(path, paper_hex=PAPER).pixels, expected)


def test_the_first_picture_of_a_camera_file_of_several(tmp_path: Path) -> None:
    """Cameras append a preview to a JPEG (CIPA DC-007); the picture is the first."""
    file = io.BytesIO()
    first, second = Image.fromarray(PIXELS), Image.fromarray(PIXELS[::-1])
    first.save(file, "MPO", save_all=True, append_images=[second], quality=95)
    alone = read(tmp_path, by_pillow(PIXELS, "JPEG", quality=95)).pixels
    np.testing.assert_array_equal(read(tmp_path, file.getvalue()).pixels, alone)


def test_webp_as_pillow_decodes_it(tmp_path: Path) -> None:
    path = tmp_path / "design.webp"
    Image.fromarray(with_alpha(PIXELS)).save(path, quality=80, exif=b"")
    expected = over_paper(np.asarray(Image.open(path).convert("RGBA")))
    assert np.abs(read_picture(path, paper_hex=PAPER).pixels - expected).max() <= 0.5


def test_kind_is_told_by_content_and_not_by_name(tmp_path: Path) -> None:
    np.testing.assert_array_equal(read(tmp_path, by_pillow(PIXELS, "PNG"), "design.jpg").pixels, PIXELS)


def test_files_that_hold_names_and_descriptions_are_read(tmp_path: Path) -> None:
    """Chunks that are no part of the picture are passed over, as ISO/IEC 15948 asks."""
    data = with_png_chunk(by_pillow(PIXELS, "PNG"), b"tEXt", b"Title\0low water")
    data = with_png_chunk(data, b"prIv", bytes(1000)) + b"more after the end"
    np.testing.assert_array_equal(read(tmp_path, data).pixels, PIXELS)


ALPHA_FILES = {
    "png": by_pillow(with_alpha(PIXELS), "PNG"),
    "png16": imagecodecs.png_encode(with_alpha(PIXELS).astype(np.uint16) * 257),
    "webp": by_pillow(with_alpha(PIXELS), "WEBP", lossless=True, exact=True),
    "tiff": by_tifffile(with_alpha(PIXELS), photometric="rgb", extrasamples=["unassalpha"]),
    "tiff16": by_tifffile(
        with_alpha(PIXELS).astype(np.uint16) * 257, photometric="rgb", extrasamples=["unassalpha"]
    ),
    "ora": openraster(by_pillow(with_alpha(PIXELS), "PNG")),
}


@pytest.mark.parametrize("name", ALPHA_FILES)
def test_transparency_is_laid_over_the_paper(tmp_path: Path, name: str) -> None:
    """Against the formula in floating point, in sRGB's coded values."""
    picture = read(tmp_path, ALPHA_FILES[name])
    assert np.abs(picture.pixels - over_paper(with_alpha(PIXELS))).max() <= 0.5 + 1e-9
    assert "transparency-over-paper" in codes(picture)
    assert any(PAPER in note.message for note in picture.notes)


def test_every_mixture_is_rounded_to_the_nearest(tmp_path: Path) -> None:
    """All 65,536 pairs of a level and an alpha, against floating point."""
    level, alpha = np.meshgrid(np.arange(256, dtype=np.uint8), np.arange(256, dtype=np.uint8))
    rgba = np.dstack([level, level, level, alpha])
    picture = read(tmp_path, by_pillow(rgba, "PNG"))
    assert np.abs(picture.pixels - over_paper(rgba)).max() <= 0.5 + 1e-9


@pytest.mark.parametrize("scale", [1, 257])
def test_colour_stored_times_alpha(tmp_path: Path, scale: int) -> None:
    """TIFF 6.0, associated alpha: what is seen is the stored colour plus the paper's share."""
    rgba = with_alpha(PIXELS).astype(np.float64)
    stored = rgba.copy()
    stored[..., :3] *= rgba[..., 3:] / 255
    data = by_tifffile(
        np.rint(stored * scale).astype(np.uint8 if scale == 1 else np.uint16),
        photometric="rgb",
        extrasamples=["assocalpha"],
    )
    seen = stored[..., :3] + np.array(PAPER_RGB) * (1 - rgba[..., 3:] / 255)
    assert np.abs(read(tmp_path, data).pixels - seen).max() <= 1.5


def test_a_transparent_colour_of_a_png(tmp_path: Path) -> None:
    colour = tuple(int(level) for level in PIXELS[0, 0])
    picture = read(tmp_path, by_pillow(PIXELS, "PNG", transparency=colour))
    expected = PIXELS.copy()
    expected[(PIXELS[0, 0] == PIXELS).all(axis=2)] = PAPER_RGB
    np.testing.assert_array_equal(picture.pixels, expected)


def test_an_opaque_alpha_is_not_mentioned(tmp_path: Path) -> None:
    rgba = np.dstack([PIXELS, np.full(PIXELS.shape[:2], 255, np.uint8)])
    picture = read(tmp_path, by_pillow(rgba, "PNG"))
    assert picture.notes == ()
    np.testing.assert_array_equal(picture.pixels, PIXELS)


def test_pages_of_a_tiff_are_layers_first_lowest(tmp_path: Path) -> None:
    line = np.zeros((20, 24, 4), np.uint8)
    line[5:8] = (10, 10, 10, 255)
    glaze = np.zeros((20, 24, 4), np.uint8)
    glaze[:, 6:12] = (0, 0, 255, 128)
    data = by_tifffile(PIXELS, line, glaze, photometric="rgb", compression="zlib")
    picture = read(tmp_path, data)
    expected = PIXELS.astype(np.float64)
    for layer in (line, glaze):
        share = layer[..., 3:] / 255
        expected = np.rint(layer[..., :3] * share + expected * (1 - share))
    assert np.abs(picture.pixels - expected).max() <= 1
    assert picture.notes[0].code == "layers-laid-over"
    assert picture.notes[0].message == (
        "The picture has 3 layers; they were laid over one another, first page lowest."
    )


def test_thumbnails_in_a_tiff_are_left_out(tmp_path: Path) -> None:
    file = io.BytesIO()
    with tifffile.TiffWriter(file) as writer:
        writer.write(PIXELS, photometric="rgb", metadata=None)
        writer.write(PIXELS[::2, ::2].copy(), photometric="rgb", subfiletype=1, metadata=None)
    picture = read(tmp_path, file.getvalue())
    np.testing.assert_array_equal(picture.pixels, PIXELS)
    assert picture.notes == ()


def test_layers_of_an_openraster_are_counted(tmp_path: Path) -> None:
    picture = read(tmp_path, openraster(by_pillow(PIXELS, "PNG")))
    assert picture.notes[0].message.startswith("The picture has 2 layers;")
    assert picture.pixels_per_mm == pytest.approx(300 / 25.4)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
def test_orientation_as_pillow_turns_it(tmp_path: Path, orientation: int, kind: str) -> None:
    exif = Image.Exif()
    exif[274] = orientation
    options: dict[str, Any] = {"quality": 95} if kind == "JPEG" else {}
    if kind == "WEBP":
        options = {"lossless": True}
    path = tmp_path / "design"
    path.write_bytes(by_pillow(PIXELS, kind, exif=exif, **options))
    with Image.open(path) as opened:
        expected = np.asarray(ImageOps.exif_transpose(opened).convert("RGB"))
    picture = read_picture(path, paper_hex=PAPER)
    np.testing.assert_array_equal(picture.pixels, expected)
    assert picture.pixels.flags.c_contiguous


@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_of_a_tiff(tmp_path: Path, orientation: int) -> None:
    exif = Image.Exif()
    exif[274] = orientation
    path = tmp_path / "design.tif"
    path.write_bytes(by_tifffile(PIXELS, photometric="rgb", extratags=[(274, "H", 1, orientation, True)]))
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(by_pillow(PIXELS, "PNG", exif=exif))))
    np.testing.assert_array_equal(
        read_picture(path, paper_hex=PAPER).pixels, np.asarray(upright.convert("RGB"))
    )


DPI = {
    "png": lambda x, y: by_pillow(PIXELS, "PNG", dpi=(x, y)),
    "jpeg": lambda x, y: by_pillow(PIXELS, "JPEG", dpi=(x, y)),
    "tiff": lambda x, y: by_tifffile(PIXELS, photometric="rgb", resolution=(x, y), resolutionunit=2),
}


@pytest.mark.parametrize("kind", DPI)
def test_stored_resolution(tmp_path: Path, kind: str) -> None:
    assert read(tmp_path, DPI[kind](300, 300)).pixels_per_mm == pytest.approx(300 / 25.4, rel=1e-5)
    assert read(tmp_path, DPI[kind](300, 300)).notes == ()
    for nonsense in ((1, 1), (300, 150), (60_000, 60_000)):
        picture = read(tmp_path, DPI[kind](*nonsense))
        assert picture.pixels_per_mm is None
        assert codes(picture) == ["resolution-unusable"]
    for screen in (72, 96):
        picture = read(tmp_path, DPI[kind](screen, screen))
        assert picture.pixels_per_mm == pytest.approx(screen / 25.4, rel=1e-3)
        assert codes(picture) == ["resolution-of-screen"]
        assert str(screen) in picture.notes[0].message


def test_resolution_to_the_centimetre(tmp_path: Path) -> None:
    data = by_tifffile(PIXELS, photometric="rgb", resolution=(118.11, 118.11), resolutionunit=3)
    assert read(tmp_path, data).pixels_per_mm == pytest.approx(11.811)


def test_resolution_in_exif_alone(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[282], exif[283], exif[296] = 400, 400, 2
    picture = read(tmp_path, by_pillow(PIXELS, "WEBP", lossless=True, exif=exif))
    assert picture.pixels_per_mm == pytest.approx(400 / 25.4)


def test_aspect_alone_is_no_resolution(tmp_path: Path) -> None:
    """JFIF's unit 0 stores only the proportions of a pixel (ITU-T T.871)."""
    picture = read(tmp_path, by_pillow(PIXELS, "JPEG"))
    assert picture.pixels_per_mm is None
    assert picture.notes == ()


def test_reading_twice_gives_the_same(tmp_path: Path) -> None:
    for name, data in samples().items():
        options = {"max_pixels": 20_000}
        one, two = read(tmp_path, data, name, **options), read(tmp_path, data, name, **options)
        np.testing.assert_array_equal(one.pixels, two.pixels)
        assert (one.pixels_per_mm, one.notes) == (two.pixels_per_mm, two.notes)
