"""Heights of a cut face as a grey picture of 16 bits (ISO/IEC 15948), which tells its own scale."""

import struct
import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from math import ceil
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from blockwright.model.errors import FolderError, PictureError

WHITE = 65535
"""The level of the face: what prints is white, and the deepest level that there could be is black."""

MOST_PIXELS = 170_000_000
"""A picture with more pixels is not read: at 0.1 mm that is a block of 1.3 m by 1.3 m."""

_HEADER = 33
"""Bytes of a PNG's signature and first chunk (ISO/IEC 15948, 5.2 and 11.2.2)."""

_PER_PIXEL, _PER_LEVEL = "mm per pixel", "mm per level"
"""Keywords of the chunks of text that hold the scale (ISO/IEC 15948, 11.3.4.3)."""


@dataclass(frozen=True, slots=True)
class HeightScale:
    """What a pixel and a level of a height picture are, mm; black lies ``black_mm`` below the face."""

    mm_per_pixel: float
    mm_per_level: float

    @property
    def black_mm(self) -> float:
        """How far below the face black is."""
        return round(self.mm_per_level * WHITE, 6)

    @property
    def sentence(self) -> str:
        """The scale in words, as the job sheet and the picture itself tell it.

        >>> HeightScale(0.1, 5.0 / WHITE).sentence
        'One pixel is 0.1 mm; white is the face, black is 5 mm below it, in 65535 even steps.'
        """
        return (
            f"One pixel is {self.mm_per_pixel:g} mm; white is the face, black is {self.black_mm:g} mm "
            f"below it, in {WHITE} even steps."
        )


def scale_for(heights: NDArray[np.float32], *, step_mm: float) -> HeightScale:
    """The scale for some heights: black is the next whole mm at or below the deepest.

    >>> scale_for(np.array([[0.0, -4.2]], np.float32), step_mm=0.1).black_mm
    5.0
    """
    deepest = max(1, ceil(-float(heights.min(initial=0.0)) - 1e-6))
    return HeightScale(step_mm, deepest / WHITE)


def write_height_png(path: Path, heights: NDArray[np.float32], *, step_mm: float) -> HeightScale:
    """Write heights (rows, columns), mm, 0 at the face and negative below, and return their scale.

    Row 0 of the heights is the lowest y; the picture's first row is its top, as the carver sees the face.
    Heights read back differ by half a level at most, and written once more they give the same bytes.
    Raises FolderError when the file cannot be written, ValueError for heights above the face or not finite.
    """
    if not (np.isfinite(heights).all() and float(heights.max(initial=0.0)) <= 0.0):
        raise ValueError("heights are finite and at or below the face")
    scale = scale_for(heights, step_mm=step_mm)
    levels = np.rint(heights[::-1].astype(np.float64) / scale.mm_per_level) + WHITE
    options = [cv2.IMWRITE_PNG_COMPRESSION, 1]
    _, coded = cv2.imencode(".png", np.clip(levels, 0, WHITE).astype(np.uint16), options)
    whole = coded.tobytes()
    per_metre = round(1000.0 / step_mm)
    told = b"".join(
        [
            _chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)),
            _text("Description", scale.sentence),
            _text(_PER_PIXEL, repr(scale.mm_per_pixel)),
            _text(_PER_LEVEL, repr(scale.mm_per_level)),
        ]
    )
    try:
        path.write_bytes(whole[:_HEADER] + told + whole[_HEADER:])
    except OSError as error:
        raise FolderError(f"{path.name} cannot be written ({error.strerror}).") from error
    return scale


def read_heights(path: Path) -> tuple[NDArray[np.float32], HeightScale]:
    """Read what :func:`write_height_png` wrote: heights (rows, columns), row 0 the lowest y, and the scale.

    Raises PictureError, which names the file, when it is no such picture.
    """
    try:
        with _quietly(), Image.open(path, formats=("PNG",)) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise PictureError(f"{path.name} has more than {MOST_PIXELS // 10**6} million pixels.")
            if not picture.mode.startswith("I"):
                raise PictureError(f"{path.name} is no grey picture of 16 bits; heights are kept in one.")
            levels = np.asarray(picture).astype(np.float64)
            told = dict(picture.info)
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as problem:
        if isinstance(problem, PictureError):
            raise
        raise PictureError(f"{path.name} cannot be read as a PNG picture of heights.") from problem
    try:
        scale = HeightScale(float(told[_PER_PIXEL]), float(told[_PER_LEVEL]))
    except (KeyError, ValueError):
        scale = HeightScale(0.0, 0.0)
    if not (0.0 < scale.mm_per_pixel < 1000.0 and 0.0 < scale.mm_per_level < 1.0):
        raise PictureError(
            f"{path.name} does not tell its scale; a picture of heights has it as '{_PER_PIXEL}' and "
            f"'{_PER_LEVEL}'."
        )
    heights = ((levels[::-1] - WHITE) * scale.mm_per_level).astype(np.float32)
    heights[heights == 0.0] = 0.0  # no negative zeros
    return heights, scale


@contextmanager
def _quietly() -> Iterator[None]:
    """Without the library's warning of large pictures, for which there is a limit here."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        yield


def _text(keyword: str, words: str) -> bytes:
    return _chunk(b"tEXt", keyword.encode("latin-1") + b"\0" + words.encode("latin-1"))


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
