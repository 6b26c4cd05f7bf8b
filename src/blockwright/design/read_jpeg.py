"""JPEG (ITU-T T.81, T.871): header by Pillow, pixels by libjpeg-turbo, and a check that none are missing."""

import io
import re
import zlib

import imagecodecs
import numpy as np
from PIL.JpegImagePlugin import JpegImageFile

from blockwright.design.read_exif import Exif, read_exif
from blockwright.design.read_layers import Layer, Sheet, upright
from blockwright.design.read_source import Source, stored_resolution
from blockwright.model.findings import Finding
from blockwright.model.units import MM_PER_INCH

_FILLER_LEVEL = 128
"""Where the coded data ends early, libjpeg goes on with blocks whose every coefficient is zero: mid grey."""
_BLOCK_PX = 8
_NOT_CODED = bytes(range(1, 255)) * 64
"""Bytes after the coded data in the trial of :func:`_trial_checksum`; without 255 they hold no marker."""

_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
"""The next marker among coded data: not a stuffed zero, not a restart, not a fill byte."""
_END, _SCAN = 0xD9, 0xDA
_BASELINE, _EXTENDED, _PROGRESSIVE = 0xC0, 0xC1, 0xC2
_OTHER_FRAMES = frozenset({0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF})
_WITHOUT_LENGTH = frozenset({0x01, 0xD8, *range(0xD0, 0xD8)})
_MM_PER_JFIF_UNIT = {1: MM_PER_INCH, 2: 10.0}


def load_jpeg(source: Source) -> Sheet:
    """Read a JPEG file; see :func:`jpeg_sheet`."""
    return jpeg_sheet(source, source.read())


def jpeg_sheet(source: Source, data: bytes) -> Sheet:
    """Read JPEG bytes, grey or colour, baseline or progressive.

    Raises PictureError for CMYK, for the rare kinds, and for data that ends before the picture does: libjpeg
    alone would fill the rest with grey and say nothing. A changed byte in the midst of the coded data that
    leaves its amount as it was cannot be noticed: the format has no checksum.
    """
    header = JpegImageFile(io.BytesIO(data))
    source.check_size(*header.size)
    if header.mode == "CMYK":
        raise source.refuse("is CMYK, made for the press; save it as RGB.")
    if header.mode not in {"L", "RGB"}:
        raise source.refuse("is a rare kind of JPEG; save it as PNG or TIFF.")
    end, frame = _end_of_picture(source, data)
    trial = _trial_checksum(data, end) if frame == _PROGRESSIVE else None
    samples = imagecodecs.jpeg8_decode(data)
    if samples.dtype != np.uint8 or samples.shape[1::-1] != header.size:
        raise source.damaged()
    if trial is None and np.all(samples[-_BLOCK_PX:, -_BLOCK_PX:] == _FILLER_LEVEL):
        trial = _trial_checksum(data, end)
    if trial is not None and trial != zlib.crc32(samples.data):
        raise source.damaged()
    exif = read_exif(header.info.get("exif"))
    pixels_per_mm, notes = _resolution(header, exif)
    upright_samples = upright(samples.reshape(*samples.shape[:2], -1), exif.orientation)
    return Sheet((Layer(upright_samples, header.info.get("icc_profile")),), pixels_per_mm, notes)


def _resolution(header: JpegImageFile, exif: Exif) -> tuple[float | None, tuple[Finding, ...]]:
    mm_per_unit = _MM_PER_JFIF_UNIT.get(header.info.get("jfif_unit", 0))
    if mm_per_unit:
        x, y = header.info["jfif_density"]
        return stored_resolution(x / mm_per_unit, y / mm_per_unit)
    return stored_resolution(*exif.resolution_per_mm) if exif.resolution_per_mm else (None, ())


def _end_of_picture(source: Source, data: bytes) -> tuple[int, int]:
    """Walk the segments to the end marker: its place, and the marker that tells the kind of frame."""
    place, frame = 2, 0
    while True:
        found = _MARKER.search(data, place)
        if found is None:
            raise source.damaged()
        marker = data[found.start() + 1]
        if marker == _END:
            return found.start(), frame
        if marker in _OTHER_FRAMES:
            raise source.refuse("is a rare kind of JPEG; save it as PNG or TIFF.")
        if marker in {_BASELINE, _EXTENDED, _PROGRESSIVE}:
            frame = marker
        place = found.end()
        if marker not in _WITHOUT_LENGTH:
            place += int.from_bytes(data[place : place + 2], "big")


def _trial_checksum(data: bytes, end: int) -> int:
    """Checksum of the picture decoded with other bytes in the end marker's place.

    A picture whose coded data is complete stays the same; one that breaks off takes these bytes for its own.
    Only the checksum is kept, so that no second picture fills the memory.
    """
    return zlib.crc32(imagecodecs.jpeg8_decode(data[:end] + _NOT_CODED).data)
