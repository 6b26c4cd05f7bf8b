"""Colours read are those that the file means, against coloraide, which has the spaces by their standards."""

import io
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
from coloraide import Color
from numpy.typing import NDArray
from PIL import Image, ImageCms
from reading_samples import PAPER, by_pillow, by_tifffile, png_chunk, with_png_chunk

from blockwright.design.read_colour import to_eight_bits
from blockwright.design.reading import Picture, read_picture

D65_XYY = [0.3127, 0.3290, 1.0]
"""White of sRGB (IEC 61966-2-1)."""


def read(tmp_path: Path, data: bytes) -> Picture:
    path = tmp_path / "design"
    path.write_bytes(data)
    return read_picture(path, paper_hex=PAPER)


def lattice(steps: int = 16) -> NDArray[np.uint8]:
    """Colours all over the cube, as a picture."""
    level = np.rint(np.linspace(0, 255, steps)).astype(np.uint8)
    cube = np.stack(np.meshgrid(level, level, level, indexing="ij"), axis=-1)
    return cube.reshape(steps, steps * steps, 3)


LATTICE = lattice()
ADOBE: bytes = imagecodecs.cms_profile("adobergb")


def adobe_to_srgb(rgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """Adobe RGB (1998) to sRGB by coloraide; levels 0 to 255, clipped."""
    flat = np.asarray(rgb, dtype=np.float64).reshape(-1, 3) / 255
    converted = np.array([Color("a98-rgb", list(one)).convert("srgb").coords() for one in flat])
    result: NDArray[np.float64] = np.clip(converted, 0, 1).reshape(rgb.shape) * 255
    return result


def light_to_srgb(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """sRGB's curve (IEC 61966-2-1) by coloraide; levels 0 to 255."""
    values, back = np.unique(light, return_inverse=True)
    coded = np.array([Color("srgb-linear", [v, v, v]).convert("srgb").coords()[0] for v in values])
    result: NDArray[np.float64] = coded[back].reshape(light.shape) * 255
    return result


@pytest.mark.parametrize(
    "data",
    [
        by_pillow(LATTICE, "PNG", icc_profile=ADOBE),
        by_pillow(LATTICE, "WEBP", icc_profile=ADOBE, lossless=True),
        by_tifffile(LATTICE, photometric="rgb", iccprofile=ADOBE, compression="lzw"),
        by_tifffile(LATTICE.astype(np.uint16) * 257, photometric="rgb", iccprofile=ADOBE),
    ],
)
def test_adobe_rgb_against_coloraide(tmp_path: Path, data: bytes) -> None:
    """Within 2 levels of 255: LittleCMS computes 8 bits in fixed point, and rounds."""
    picture = read(tmp_path, data)
    assert np.abs(picture.pixels - adobe_to_srgb(LATTICE.astype(float))).max() <= 2
    assert [note.code for note in picture.notes] == ["colours-converted"]
    assert "Adobe RGB" in picture.notes[0].message


def test_adobe_rgb_in_a_jpeg(tmp_path: Path) -> None:
    """The profile is applied to what the JPEG decodes to."""
    data = by_pillow(LATTICE, "JPEG", icc_profile=ADOBE, quality=98, subsampling=0)
    decoded = np.asarray(Image.open(io.BytesIO(data)), dtype=np.float64)
    assert np.abs(read(tmp_path, data).pixels - adobe_to_srgb(decoded)).max() <= 2


def test_the_bands_of_a_profile_are_those_that_its_primaries_say(tmp_path: Path) -> None:
    """sRGB with its red and green primaries exchanged: reading exchanges the bands, and nothing else."""
    exchanged: bytes = imagecodecs.cms_profile(
        "rgb",
        whitepoint=D65_XYY,
        # x, y and Y of red, green and blue: those of sRGB (IEC 61966-2-1) with red and green exchanged.
        primaries=[0.30, 0.60, 1.0, 0.64, 0.33, 1.0, 0.15, 0.06, 1.0],
        transferfunction=_srgb_curve(),
    )
    picture = read(tmp_path, by_pillow(LATTICE, "PNG", icc_profile=exchanged))
    difference = picture.pixels.astype(int) - LATTICE[..., [1, 0, 2]]
    assert np.abs(difference).max() <= 2


def _srgb_curve() -> NDArray[np.float32]:
    """From level to light (IEC 61966-2-1) by coloraide, at 1024 places."""
    levels = np.linspace(0, 1, 1024)
    return np.array([Color("srgb", [v, v, v]).convert("srgb-linear").coords()[0] for v in levels], np.float32)


def test_grey_with_a_profile(tmp_path: Path) -> None:
    """Gamma 1 means linear light: half the light is level 188 of sRGB (IEC 61966-2-1)."""
    ramp = np.tile(np.arange(256, dtype=np.uint8), (16, 1))
    profile: bytes = imagecodecs.cms_profile("gray", whitepoint=D65_XYY, gamma=1.0)
    picture = read(tmp_path, by_pillow(ramp, "PNG", icc_profile=profile))
    expected = light_to_srgb(ramp / 255)
    assert np.abs(picture.pixels - expected[..., None]).max() <= 2


def test_srgb_itself_changes_nothing_and_is_not_mentioned(tmp_path: Path) -> None:
    for profile in (
        ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(),
        imagecodecs.cms_profile("srgb"),
    ):
        picture = read(tmp_path, by_pillow(LATTICE, "PNG", icc_profile=profile))
        np.testing.assert_array_equal(picture.pixels, LATTICE)
        assert picture.notes == ()


def test_alpha_is_kept_out_of_the_conversion(tmp_path: Path) -> None:
    """First the colours become sRGB, then they are laid over the paper, which is sRGB."""
    alpha = np.full(LATTICE.shape[:2], 102, np.uint8)
    picture = read(tmp_path, by_pillow(np.dstack([LATTICE, alpha]), "PNG", icc_profile=ADOBE))
    paper = np.array([int(PAPER[i : i + 2], 16) for i in (1, 3, 5)])
    expected = adobe_to_srgb(LATTICE.astype(float)) * 0.4 + paper * 0.6
    assert np.abs(picture.pixels - expected).max() <= 2


@pytest.mark.parametrize(
    "profile",
    [
        b"no profile at all",
        ADOBE[:200],
        ADOBE[:130] + bytes(len(ADOBE) - 130),
        ADOBE[:16] + b"CMYK" + ADOBE[20:],
        ADOBE[:16] + b"GRAY" + ADOBE[20:],
        ADOBE[:16] + b"Lab " + ADOBE[20:],
    ],
)
def test_a_damaged_or_strange_profile_is_a_note(tmp_path: Path, profile: bytes) -> None:
    picture = read(tmp_path, by_pillow(LATTICE, "PNG", icc_profile=profile))
    np.testing.assert_array_equal(picture.pixels, LATTICE)
    assert [(note.code, note.severity) for note in picture.notes] == [("profile-unfit", "note")]


def test_broken_profiles_never_stop_the_reading(tmp_path: Path) -> None:
    random = np.random.default_rng(5)
    small = LATTICE[:, :16].copy()
    for _ in range(80):
        profile = bytearray(ADOBE)
        for place in random.integers(0, len(profile), size=6):
            profile[place] = random.integers(0, 256)
        assert read(tmp_path, by_pillow(small, "PNG", icc_profile=bytes(profile))).pixels.shape == small.shape


@pytest.mark.parametrize("gamma", [1.0, 1 / 1.8, 0.7])
def test_stored_gamma_of_a_png(tmp_path: Path, gamma: float) -> None:
    """ISO/IEC 15948: sample = light ** gamma. Against sRGB's curve by coloraide."""
    chunk = round(gamma * 100_000).to_bytes(4, "big")
    picture = read(tmp_path, with_png_chunk(by_pillow(LATTICE, "PNG"), b"gAMA", chunk))
    expected = light_to_srgb((LATTICE / 255) ** (1 / gamma))
    assert np.abs(picture.pixels - expected).max() <= 0.5 + 0.01
    assert [note.code for note in picture.notes] == ["colours-converted"]


def test_stored_gamma_uses_all_sixteen_bits(tmp_path: Path) -> None:
    """In linear light the darks of 16 bits are finer than 8 bits could tell."""
    ramp = np.tile(np.arange(0, 4096, 16, dtype=np.uint16), (16, 1))
    data = with_png_chunk(bytes(imagecodecs.png_encode(ramp)), b"gAMA", (100_000).to_bytes(4, "big"))
    expected = light_to_srgb(ramp / 65535)
    assert np.abs(read(tmp_path, data).pixels[..., 0] - expected).max() <= 0.5 + 0.01


@pytest.mark.parametrize(
    "chunks",
    [
        [(b"gAMA", (45_455).to_bytes(4, "big"))],
        [(b"gAMA", (55_556).to_bytes(4, "big")), (b"sRGB", b"\0")],
        [(b"gAMA", bytes(4))],
    ],
)
def test_gamma_that_is_srgb_or_nonsense_changes_nothing(
    tmp_path: Path, chunks: list[tuple[bytes, bytes]]
) -> None:
    data = by_pillow(LATTICE, "PNG")
    for kind, body in chunks:
        data = data[:33] + png_chunk(kind, body) + data[33:]
    picture = read(tmp_path, data)
    np.testing.assert_array_equal(picture.pixels, LATTICE)
    assert picture.notes == ()


def test_sixteen_bits_are_rounded_to_the_nearest() -> None:
    """All 65,536 samples against floating point."""
    samples = np.arange(65_536, dtype=np.uint16)
    np.testing.assert_array_equal(to_eight_bits(samples), np.rint(samples / 65_535 * 255).astype(np.uint8))


@pytest.mark.parametrize("write", ["png", "tiff"])
def test_sixteen_bits_in_files(tmp_path: Path, write: str) -> None:
    deep = (np.arange(20 * 24 * 3).reshape(20, 24, 3) * 45).astype(np.uint16)
    data: Any = imagecodecs.png_encode(deep) if write == "png" else by_tifffile(deep, photometric="rgb")
    expected = np.rint(deep / 65_535 * 255)
    np.testing.assert_array_equal(read(tmp_path, data).pixels, expected)
