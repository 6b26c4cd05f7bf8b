"""Broken files of every kind: each gives a picture or one plain sentence, and nothing else."""

import logging
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from reading_samples import PAPER, png_chunk, samples

from blockwright.design.reading import Picture, read_picture
from blockwright.model.errors import PictureError

MOST_PIXELS = 20_000
"""Small, so that a lucky header does not cost a second; the pictures have 480 pixels."""
CASES = 120
"""Broken files made of each of the whole ones."""
DRAWN_CASES = 45
"""The same for drawings: each that is drawn starts a program."""
OPEN_FILES = Path("/proc/self/fd")

WHOLE = samples()


def broken(whole: bytes, others: list[bytes], random: np.random.Generator) -> bytes:
    """One to three kinds of damage, one after another."""
    data = bytearray(whole)
    for _ in range(int(random.integers(1, 4))):
        place = int(random.integers(0, max(1, len(data))))
        length = int(random.integers(1, 40))
        match int(random.integers(0, 8)):
            case 0 | 1:
                for at in random.integers(0, max(1, len(data)), size=int(random.integers(1, 6))):
                    if data:
                        data[at] ^= 1 << int(random.integers(0, 8))
            case 2:
                del data[place:]
            case 3:
                del data[place : place + length]
            case 4:
                data[place:place] = data[place : place + length]
            case 5:
                filler = (0x00, 0xFF, 0x7F, 0x80)[int(random.integers(0, 4))]
                data[place : place + length] = bytes([filler]) * length
            case 6:
                other = others[int(random.integers(0, len(others)))]
                start = int(random.integers(0, len(other)))
                data[place : place + length] = other[start : start + length]
            case _:
                data[place : place + 4] = random.bytes(4)
    return bytes(data)


def with_right_checksums(png: bytes) -> bytes:
    """A broken PNG whose chunks are sound again, so that the damage reaches the decoder."""
    mended, place = bytearray(png[:8]), 8
    while place + 12 <= len(png):
        length = int.from_bytes(png[place : place + 4], "big")
        mended += png_chunk(png[place + 4 : place + 8], png[place + 8 : place + 8 + length])
        place += 12 + length
    return bytes(mended)


def open_files() -> int:
    """How many files this process has open, where the system tells."""
    return sum(1 for _ in OPEN_FILES.iterdir()) if OPEN_FILES.is_dir() else 0


def picture_or_sentence(path: Path, data: bytes) -> Picture | None:
    """Read the bytes; everything but a picture and a PictureError of one sentence fails the test."""
    path.write_bytes(data)
    try:
        picture = read_picture(path, paper_hex=PAPER, max_pixels=MOST_PIXELS)
    except PictureError as error:
        sentence = str(error)
        assert sentence.startswith(f"The picture {path.name} ")
        assert sentence.endswith(".")
        assert "\n" not in sentence
        return None
    height, width, bands = picture.pixels.shape
    assert bands == 3
    assert 256 <= height * width <= MOST_PIXELS
    assert picture.pixels.dtype == np.uint8
    assert picture.pixels.flags.c_contiguous
    assert not picture.pixels.flags.writeable
    assert picture.pixels_per_mm is None or picture.pixels_per_mm > 0
    return picture


@pytest.mark.parametrize("name", WHOLE)
def test_broken_files_give_a_picture_or_a_sentence(
    name: str, tmp_path: Path, capfd: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.WARNING)
    random = np.random.default_rng(sorted(WHOLE).index(name))
    others = list(WHOLE.values())
    path = tmp_path / f"case {name}"
    assert picture_or_sentence(path, WHOLE[name]) is not None
    open_before = open_files()
    refused = 0
    with warnings.catch_warnings(record=True) as leaked:
        warnings.simplefilter("always")
        for case in range(DRAWN_CASES if name.endswith("svg") else CASES):
            data = broken(WHOLE[name], others, random)
            if name.endswith("png") and case % 2:
                data = with_right_checksums(data)
            refused += picture_or_sentence(path, data) is None
    assert refused > 0
    assert not leaked
    assert not caplog.records
    assert capfd.readouterr() == ("", "")
    assert open_files() == open_before


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(start=st.sampled_from(sorted({whole[:12] for whole in WHOLE.values()})), rest=st.binary(max_size=400))
def test_any_bytes_after_a_known_beginning(tmp_path: Path, start: bytes, rest: bytes) -> None:
    picture_or_sentence(tmp_path / "any.bin", start + rest)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=st.text(max_size=200), encoding=st.sampled_from(["utf-8", "utf-16", "latin-1"]))
def test_any_text(tmp_path: Path, text: str, encoding: str) -> None:
    assert picture_or_sentence(tmp_path / "any.txt", text.encode(encoding, "replace")) is None
