"""TIFF (TIFF 6.0, BigTIFF) by tifffile: every page a layer, the first lowest."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from tifffile import TiffFile, TiffPage

from blockwright.design.read_colour import Samples, to_eight_bits
from blockwright.design.read_layers import Layer, Sheet, upright
from blockwright.design.read_source import Source, stored_resolution
from blockwright.model.findings import Finding
from blockwright.model.units import MM_PER_INCH

LARGEST_LAYERS = 64
"""Pages taken for layers at most; a file of more is a film or a document."""

_PACKINGS = frozenset({1, 5, 8, 32946, 32773, 50000})
"""Compression: none, LZW, Deflate (two numbers), PackBits, ZSTD: without loss, and of a known length.

JPEG and fax inside TIFF are refused: their decoders fill what is missing and say nothing.
"""
_WHITE_IS_ZERO, _BLACK_IS_ZERO, _RGB, _PALETTE, _SEPARATED = 0, 1, 2, 3, 5
_CAMERA = frozenset({32803, 34892})
_DEPTHS = frozenset({1, 2, 4, 8, 16})
_UNSIGNED = 1
_ASSOCIATED_ALPHA = 1
_THUMBNAIL_OR_MASK = 1 | 4
"""Bits of NewSubfileType: a smaller copy of another page, a transparency mask."""

_READ_BYTES = 2**24
"""Packed strips and tiles held at a time; tifffile would hold 256 MB."""

_ORIENTATION, _X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT, _PROFILE = 274, 282, 283, 296, 34675
_MM_PER_UNIT = {2: MM_PER_INCH, 3: 10.0}
_INCH = 2


@dataclass(frozen=True, slots=True)
class _Shape:
    width: int
    height: int
    orientation: int


def load_tiff(source: Source) -> Sheet:
    """Read a TIFF file: 1 to 16 bits, grey, RGB or palette, with or without alpha, in strips or tiles.

    Pages are layers of one size and are decoded one at a time; pages marked as thumbnails or masks are left
    out. Raises PictureError for CMYK and other colour spaces, other numbers than whole ones, pages of
    different size, lossy packing, and strips or tiles that lie outside the file.
    """
    with TiffFile(source.path) as tiff:
        pages = _layer_pages(source, tiff)
        shape = _upright_size(_check_page(source, pages[0]))
        file_bytes = tiff.filehandle.size
        for page in pages:
            if _upright_size(_check_page(source, page)) != shape:
                raise source.refuse(
                    f"has {len(pages)} pages of different size: layers must all have the size of the first."
                )
            _check_segments(source, page, file_bytes)
        pixels_per_mm, notes = _resolution(pages[0])
    if len(pages) > 1:
        message = f"The picture has {len(pages)} layers; they were laid over one another, first page lowest."
        notes = (Finding("layers-laid-over", "note", message), *notes)
    return Sheet(_decoded(source, tuple(page.index for page in pages)), pixels_per_mm, notes)


def _layer_pages(source: Source, tiff: TiffFile) -> list[TiffPage]:
    pages = []
    for page in tiff.pages:
        if not isinstance(page, TiffPage):
            raise source.damaged()
        if not int(page.subfiletype) & _THUMBNAIL_OR_MASK:
            pages.append(page)
        if len(pages) > LARGEST_LAYERS:
            raise source.refuse(
                f"has more than {LARGEST_LAYERS} pages: lay some of its layers over one another first."
            )
    if not pages:
        raise source.refuse("holds no picture; save it again or take another copy.")
    return pages


def _check_page(source: Source, page: TiffPage) -> _Shape:
    """Raise PictureError unless the page's header tells of a picture that can be read."""
    if not isinstance(page.imagewidth, int) or not isinstance(page.imagelength, int):
        raise source.damaged()
    source.check_size(page.imagewidth, page.imagelength)
    photometric = int(page.photometric)
    if photometric == _SEPARATED:
        raise source.refuse("is CMYK, made for the press; save it as RGB.")
    if photometric in _CAMERA:
        raise source.refuse("holds a camera's raw data; develop it and save it as RGB.")
    if int(page.compression) not in _PACKINGS:
        raise source.refuse("is packed in a way that is not read; save it with LZW or ZIP, or unpacked.")
    if photometric not in {_WHITE_IS_ZERO, _BLACK_IS_ZERO, _RGB, _PALETTE}:
        raise source.refuse("is neither RGB nor grey nor of a palette; save it as RGB.")
    depth, form = page.bitspersample, page.sampleformat
    if depth not in _DEPTHS or form != _UNSIGNED:
        raise source.refuse("is not of 8 or 16 bits a channel; save it as RGB with 8 or 16 bits.")
    colours = 3 if photometric == _RGB else 1
    if page.samplesperpixel not in {colours, colours + 1} or page.imagedepth != 1:
        raise source.refuse("has more channels than colour and transparency; save it as plain RGB.")
    return _Shape(page.imagewidth, page.imagelength, _orientation(page))


def _orientation(page: TiffPage) -> int:
    value = page.tags.valueof(_ORIENTATION, default=1)
    return int(value) if isinstance(value, int) and 1 <= value <= 8 else 1


def _upright_size(shape: _Shape) -> tuple[int, int]:
    turned = shape.orientation >= 5
    return (shape.height, shape.width) if turned else (shape.width, shape.height)


def _check_segments(source: Source, page: TiffPage, file_bytes: int) -> None:
    """Every strip or tile must be there and inside the file: the decoder would fill it with black."""
    offsets, counts = page.dataoffsets, page.databytecounts
    if len(offsets) != len(counts) or len(offsets) != math.prod(page.chunked):
        raise source.damaged()
    for offset, count in zip(offsets, counts, strict=True):
        if offset <= 0 or count <= 0 or offset + count > file_bytes:
            raise source.damaged()


def _resolution(page: TiffPage) -> tuple[float | None, tuple[Finding, ...]]:
    mm_per_unit = _MM_PER_UNIT.get(page.tags.valueof(_RESOLUTION_UNIT, default=_INCH))
    x, y = page.tags.valueof(_X_RESOLUTION), page.tags.valueof(_Y_RESOLUTION)
    if mm_per_unit is None or not isinstance(x, tuple) or not isinstance(y, tuple):
        return None, ()
    x_per_unit, y_per_unit = (value[0] / value[1] if value[1] else 0.0 for value in (x, y))
    return stored_resolution(x_per_unit / mm_per_unit, y_per_unit / mm_per_unit)


def _decoded(source: Source, indices: tuple[int, ...]) -> Iterator[Layer]:
    """Decode the pages one by one, so that only one is held at a time."""
    with TiffFile(source.path) as tiff:
        for index in indices:
            page = tiff.pages[index]
            if not isinstance(page, TiffPage):
                raise source.damaged()
            samples = page.asarray(squeeze=False, maxworkers=1, buffersize=_READ_BYTES)
            # Normalised: (separate samples, depth 1, length, width, contiguous samples).
            samples = np.moveaxis(samples[:, 0], 0, -1).reshape(*samples.shape[2:4], -1)
            profile = page.tags.valueof(_PROFILE)
            yield Layer(
                upright(_as_colour(page, samples), _orientation(page)),
                profile if isinstance(profile, bytes) else None,
                premultiplied=_ASSOCIATED_ALPHA in {int(extra) for extra in page.extrasamples},
            )


def _as_colour(page: TiffPage, samples: Samples) -> Samples:
    """Unfold a palette, turn white-is-zero round, and stretch less than 8 bits to 8."""
    photometric, depth = int(page.photometric), int(page.bitspersample)
    if samples.dtype == np.bool_:
        samples = samples.view(np.uint8)
    if photometric == _PALETTE:
        return _unfold_palette(page, samples)
    if depth < 8:
        samples = (samples.astype(np.uint8) * np.uint8(255 // (2**depth - 1))).astype(np.uint8)
    if photometric == _WHITE_IS_ZERO:
        turned = samples.copy()
        turned[..., 0] = np.iinfo(samples.dtype).max - samples[..., 0]
        return turned
    return samples


def _unfold_palette(page: TiffPage, samples: Samples) -> Samples:
    table = page.colormap
    if table is None or table.shape[-1] <= int(samples[..., 0].max()):
        raise ValueError("the palette is shorter than the colours in use")
    colours = np.ascontiguousarray(table.T.astype(np.uint16))
    if int(colours.max()) > 255:
        # The high byte is the level of 8 bits whether a program wrote it times 257 or times 256; programs
        # that wrote the level itself, against TIFF 6.0, are told by their small numbers.
        colours >>= 8
    eight = colours.astype(np.uint8)
    if samples.shape[2] == 1:
        return eight[samples[..., 0]]
    return np.concatenate([eight[samples[..., 0]], to_eight_bits(samples[..., 1:])], axis=-1)
