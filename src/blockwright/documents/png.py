"""PNG files (ISO/IEC 15948) that know their resolution, written quickly."""

import struct
import zlib
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from blockwright.model.errors import FolderError
from blockwright.model.units import MM_PER_INCH

_PNG_HEADER = 33
"""Bytes of a PNG's signature and first chunk, which tells size and kind (ISO/IEC 15948, 5.2 and 11.2.2)."""


def write_png(path: Path, picture: NDArray[np.uint8], *, dpi: float | None = None) -> None:
    """Write an (H, W, 3) uint8 sRGB picture as PNG, with its resolution if it has one. Raises FolderError."""
    # Flat colours pack best and quickest as they are, without a filter before.
    options = [cv2.IMWRITE_PNG_COMPRESSION, 1, cv2.IMWRITE_PNG_STRATEGY, cv2.IMWRITE_PNG_STRATEGY_DEFAULT]
    options += [cv2.IMWRITE_PNG_FILTER, cv2.IMWRITE_PNG_FILTER_NONE]
    _, coded = cv2.imencode(".png", cv2.cvtColor(picture, cv2.COLOR_RGB2BGR), options)
    whole = coded.tobytes()
    if dpi is not None:
        whole = whole[:_PNG_HEADER] + _physical_size(dpi) + whole[_PNG_HEADER:]
    try:
        path.write_bytes(whole)
    except OSError as error:
        raise FolderError(f"{path.name} cannot be written ({error.strerror}).") from error


def _physical_size(dpi: float) -> bytes:
    """The chunk that tells a picture's resolution, in pixels per metre (ISO/IEC 15948, 11.3.5.3)."""
    per_metre = round(dpi / MM_PER_INCH * 1000.0)
    chunk = b"pHYs" + struct.pack(">IIB", per_metre, per_metre, 1)
    return struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk))
