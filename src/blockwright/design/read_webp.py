"""WebP (RFC 9649): the container is looked through here, then libwebp decodes."""

from collections.abc import Iterator

import imagecodecs
import numpy as np

from blockwright.design.read_exif import read_exif
from blockwright.design.read_layers import Layer, Sheet, upright
from blockwright.design.read_source import Source, stored_resolution

_HEADER_BYTES = 12
_ANIMATION_FLAG = 0x02
_LOSSY_START = b"\x9d\x01\x2a"
_LOSSLESS_START = 0x2F
_SIDE_BITS = 14
_SIDE_MASK = (1 << _SIDE_BITS) - 1


def load_webp(source: Source) -> Sheet:
    """Read a WebP file; see :func:`webp_sheet`."""
    return webp_sheet(source, source.read())


def webp_sheet(source: Source, data: bytes) -> Sheet:
    """Read WebP bytes, with or without loss, with or without alpha; PictureError for an animation."""
    chunks: dict[bytes, memoryview] = {}
    for kind, body in _chunks(source, data):
        if kind in {b"ANIM", b"ANMF"} or (kind == b"VP8X" and body[0] & _ANIMATION_FLAG):
            raise source.refuse("is an animated WebP; save one of its pictures as a plain WebP or PNG.")
        chunks.setdefault(kind, body)
    width, height = _size(source, chunks)
    source.check_size(width, height)
    samples = imagecodecs.webp_decode(data)
    if samples.dtype != np.uint8 or samples.ndim != 3 or samples.shape[:2] != (height, width):
        raise source.damaged()
    exif = read_exif(bytes(chunks.get(b"EXIF", b"")))
    pixels_per_mm, notes = (
        stored_resolution(*exif.resolution_per_mm) if exif.resolution_per_mm else (None, ())
    )
    profile = bytes(chunks[b"ICCP"]) if b"ICCP" in chunks else None
    layer = Layer(upright(samples, exif.orientation), profile)
    return Sheet((layer,), pixels_per_mm, notes)


def _chunks(source: Source, data: bytes) -> Iterator[tuple[bytes, memoryview]]:
    view = memoryview(data)
    end = 8 + int.from_bytes(data[4:8], "little")
    if end > len(data):
        raise source.damaged()
    place = _HEADER_BYTES
    while place + 8 <= end:
        start = place + 8
        length = int.from_bytes(data[place + 4 : start], "little")
        if start + length > end:
            raise source.damaged()
        yield data[place : place + 4], view[start : start + length]
        place = start + length + length % 2


def _size(source: Source, chunks: dict[bytes, memoryview]) -> tuple[int, int]:
    """The picture's size in pixels, which the canvas of an extended file must repeat."""
    if b"VP8 " in chunks:
        body = chunks[b"VP8 "][:10]
        whole = body[3:6] == _LOSSY_START
        width, height = (int.from_bytes(body[at : at + 2], "little") & _SIDE_MASK for at in (6, 8))
    elif b"VP8L" in chunks:
        body = chunks[b"VP8L"][:5]
        whole = body[:1] == bytes([_LOSSLESS_START])
        bits = int.from_bytes(body[1:], "little")
        width, height = (bits & _SIDE_MASK) + 1, ((bits >> _SIDE_BITS) & _SIDE_MASK) + 1
    else:
        raise source.damaged()
    if b"VP8X" in chunks:
        body = chunks[b"VP8X"]
        canvas = tuple(int.from_bytes(body[at : at + 3], "little") + 1 for at in (4, 7))
        whole = whole and canvas == (width, height)
    if not whole:
        raise source.damaged()
    return width, height
