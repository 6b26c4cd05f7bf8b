"""PNG (ISO/IEC 15948): chunks are checked one by one, then libpng decodes."""

import math
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import imagecodecs

from blockwright.design.read_exif import read_exif
from blockwright.design.read_layers import Layer, Sheet, upright
from blockwright.design.read_source import Source, stored_resolution
from blockwright.model.findings import Finding

_SIGNATURE_BYTES = 8
_LARGEST_PROFILE_BYTES = 16 * 2**20
"""A colour profile unpacked; the largest printer profiles have about 5 MB."""
_MM_PER_METRE = 1000.0


@dataclass(frozen=True, slots=True)
class _Header:
    width: int
    height: int
    chunks: dict[bytes, bytes]


def load_png(source: Source) -> Sheet:
    """Read a PNG file; see :func:`png_sheet`."""
    return png_sheet(source, source.read())


def png_sheet(source: Source, data: bytes) -> Sheet:
    """Read PNG bytes: every kind of colour and depth, palette and transparent colour unfolded by libpng.

    Raises PictureError for an animation, a checksum that does not fit, or a file that breaks off.
    """
    header = _read_header(source, data)
    chunks = header.chunks
    exif = read_exif(chunks.get(b"eXIf"))
    pixels_per_mm: float | None = None
    notes: tuple[Finding, ...] = ()
    if len(chunks.get(b"pHYs", b"")) == 9:
        x, y, unit = struct.unpack(">IIB", chunks[b"pHYs"])
        if unit == 1:
            pixels_per_mm, notes = stored_resolution(x / _MM_PER_METRE, y / _MM_PER_METRE)
    elif exif.resolution_per_mm:
        pixels_per_mm, notes = stored_resolution(*exif.resolution_per_mm)
    samples = imagecodecs.png_decode(data)
    if samples.shape[:2] != (header.height, header.width):
        raise source.damaged()
    samples = samples.reshape(header.height, header.width, -1)
    layer = Layer(upright(samples, exif.orientation), profile=_profile(chunks), gamma=_gamma(chunks))
    return Sheet((layer,), pixels_per_mm, notes)


def _read_header(source: Source, data: bytes) -> _Header:
    """Check every chunk's length and checksum and the picture's size before anything is decoded."""
    chunks: dict[bytes, bytes] = {}
    for kind, body in _chunks(source, data):
        if kind == b"acTL":
            raise source.refuse("is an animated PNG; save one of its pictures as a plain PNG.")
        if not chunks and (kind != b"IHDR" or len(body) != 13):
            raise source.damaged()
        if kind != b"IDAT":
            chunks.setdefault(kind, bytes(body))
    if b"IEND" not in chunks:
        raise source.damaged()
    width, height = struct.unpack(">II", chunks[b"IHDR"][:8])
    source.check_size(width, height)
    return _Header(width, height, chunks)


def _chunks(source: Source, data: bytes) -> Iterator[tuple[bytes, memoryview]]:
    view = memoryview(data)
    place, kind = _SIGNATURE_BYTES, b""
    while kind != b"IEND" and place + 12 <= len(data):
        length = int.from_bytes(data[place : place + 4], "big")
        kind = data[place + 4 : place + 8]
        end = place + 12 + length
        if end > len(data) or zlib.crc32(view[place + 4 : end - 4]) != int.from_bytes(
            data[end - 4 : end], "big"
        ):
            raise source.damaged()
        yield kind, view[place + 8 : end - 4]
        place = end


def _profile(chunks: dict[bytes, bytes]) -> bytes | None:
    if b"iCCP" not in chunks:
        return None
    _name, _zero, packed = chunks[b"iCCP"].partition(b"\0")
    try:
        return zlib.decompressobj().decompress(packed[1:], _LARGEST_PROFILE_BYTES)
    except zlib.error:
        return b""


def _gamma(chunks: dict[bytes, bytes]) -> float | None:
    """The stored gamma, unless the file says that it is sRGB."""
    if b"sRGB" in chunks or len(chunks.get(b"gAMA", b"")) != 4:
        return None
    gamma = int.from_bytes(chunks[b"gAMA"], "big") / 100_000
    return gamma if math.isfinite(gamma) and gamma > 0 else None
