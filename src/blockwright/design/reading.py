"""Picture files read into one form: upright sRGB pixels on the paper's colour."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.srgb import hex_to_srgb
from blockwright.design.read_jpeg import load_jpeg
from blockwright.design.read_kinds import Kind, sniff
from blockwright.design.read_layers import Sheet, lay_over_paper
from blockwright.design.read_openraster import load_openraster
from blockwright.design.read_png import load_png
from blockwright.design.read_source import Source, quiet_codecs
from blockwright.design.read_svg import load_svg
from blockwright.design.read_tiff import load_tiff
from blockwright.design.read_webp import load_webp
from blockwright.model.errors import PictureError
from blockwright.model.findings import Finding

MOST_PIXELS = 250_000_000
"""Pixels read unless told otherwise: A2 at 600 dpi has 139 million."""

_LOADERS: dict[Kind, Callable[[Source], Sheet]] = {
    "png": load_png,
    "jpeg": load_jpeg,
    "webp": load_webp,
    "tiff": load_tiff,
    "zip": load_openraster,
    "svg": load_svg,
}


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A picture as it is seen: (H, W, 3) uint8 sRGB, C-contiguous, not writeable.

    ``pixels_per_mm`` is the file's stored resolution, or None when it has none that could be a size.
    """

    pixels: NDArray[np.uint8] = field(repr=False)
    pixels_per_mm: float | None
    notes: tuple[Finding, ...] = ()


def read_picture(
    path: Path, *, paper_hex: str, width_mm: float | None = None, max_pixels: int = MOST_PIXELS
) -> Picture:
    """Read a PNG, JPEG, WebP, TIFF, OpenRaster or SVG file, told by its content.

    Colour profiles are honoured: 16-bit pictures are first rounded to 8 bits, as the conversion knows 8
    only. Exif's orientation is obeyed; transparent parts and layers are laid over the paper colour
    ``paper_hex`` (``#rrggbb``) in sRGB's coded values. ``width_mm``, the width of the print, sets the scale
    at which an SVG is drawn. The header's size is held against ``max_pixels`` before anything is decoded.

    Raises PictureError with one plain sentence for every file that cannot be read or that no print can be
    made of, and SettingsError when ``paper_hex`` is no colour.
    """
    red, green, blue = (round(float(value) * 255) for value in hex_to_srgb(paper_hex))
    source = Source(path, max_pixels, width_mm)
    kind = sniff(source)
    try:
        with quiet_codecs():
            sheet = _LOADERS[kind](source)
            laid = lay_over_paper(sheet.layers, (red, green, blue))
    except PictureError:
        raise
    except MemoryError as error:
        raise source.refuse("needs more memory than there is; save it smaller.") from error
    except Exception as error:  # the decoders raise dozens of types for damage; the cause stays attached
        raise source.damaged() from error
    if not laid.painted:
        raise source.refuse("is transparent all over: nothing is painted.")
    pixels = np.ascontiguousarray(laid.pixels)
    if _one_colour(pixels):
        raise source.refuse("has only one colour, so there is nothing to separate.")
    pixels.setflags(write=False)
    return Picture(pixels, sheet.pixels_per_mm, (*sheet.notes, *laid.notes))


def _one_colour(pixels: NDArray[np.uint8]) -> bool:
    """Whether all pixels are alike; stops at the first row that is not."""
    first = pixels[0, 0]
    return not any(bool((row != first).any()) for row in pixels)
