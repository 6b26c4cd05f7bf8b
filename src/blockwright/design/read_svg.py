"""SVG (W3C, SVG 1.1), drawn by resvg at a scale for printing, in a program of its own."""

import math
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from blockwright.design.read_layers import Sheet
from blockwright.design.read_png import png_sheet
from blockwright.design.read_source import LARGEST_SIDE_PX, Source
from blockwright.design.read_svg_survey import survey
from blockwright.model.findings import Finding
from blockwright.model.units import MM_PER_INCH

DRAWN_PIXELS_PER_MM = 300 / MM_PER_INCH
"""Resolution at the printed size: a line of 0.4 mm is nearly five pixels wide. [CP]"""
LEAST_LONG_SIDE_PX = 2000
"""Long side of a small drawing, so that its curves are not coarse; costs next to nothing."""
LONG_SIDE_WITHOUT_SIZE_PX = 4000
"""Long side of a drawing whose size in mm is not known: 340 mm at 300 pixels to the inch."""

_DRAWING_S = 60.0
_DRAWING_S_PER_PIXEL = 1e-6
"""Time that drawing may take; 139 Mpx of simple shapes were measured at 14 s."""

_MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH, "pt": MM_PER_INCH / 72, "pc": MM_PER_INCH / 6}
_MM_PER_UNIT |= {"Q": 0.25, "q": 0.25}
_CSS_PX_PER_MM = 96 / MM_PER_INCH
_CSS_PX_PER_UNIT = {"": 1.0, "px": 1.0, "em": 16.0, "ex": 8.0}
"""Units of CSS that are no size on paper: 96 to the inch by definition, but used as plain numbers."""
_LENGTH = re.compile(r"\s*\+?([0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?|[0-9]+\.)\s*([A-Za-z%]*)\s*")
_ATTRIBUTE = re.compile(rb"""\s([^\s=]+)\s*=\s*("[^"]*"|'[^']*')""")
_SEPARATOR = re.compile(r"[\s,]+")
_ASPECT_WITHIN = 0.002
"""A view box whose proportions differ by more than this is letterboxed as the drawing says."""

_CHILD = Path(__file__).with_name("read_svg_child.py")


@dataclass(frozen=True, slots=True)
class DrawingSize:
    """Width and height in the drawing's CSS pixels, its view box, and its width in mm when it states one."""

    width: float
    height: float
    view_box: tuple[float, float, float, float] | None
    width_mm: float | None


def load_svg(source: Source) -> Sheet:
    """Read an SVG file: drawn with about 300 pixels to the inch at the width asked for, or at its own.

    Letters are not drawn, as their shapes would depend on the fonts of the machine; a finding says so. Raises
    PictureError for what reaches outside the file and for drawings that overwhelm the renderer.
    """
    found, tag, rest = survey(source, source.read())
    size = drawing_size(source, found.attributes)
    width, height = _raster_size(source, size)
    source.check_size(width, height)
    svg = _resized(tag, size, width, height) + rest
    sheet = png_sheet(source, _draw(source, svg, width, height))
    notes: tuple[Finding, ...] = ()
    if found.letters:
        message = (
            "The drawing holds letters as text, which were left out: turn text into outlines (paths) and "
            "save it again."
        )
        notes = (Finding("letters-left-out", "warn", message),)
    return Sheet(sheet.layers, width / size.width_mm if size.width_mm else None, notes)


def drawing_size(source: Source, attributes: dict[str, str]) -> DrawingSize:
    """Find a drawing's size from its root's attributes ``width``, ``height`` and ``viewBox``.

    A percentage says nothing here and counts as not given. Raises PictureError when no size is stated.
    """
    view_box = _view_box(attributes.get("viewBox", ""))
    given = [_length(attributes.get(name, "")) for name in ("width", "height")]
    width, height = (length[0] if length else None for length in given)
    if view_box is not None:
        aspect = view_box[2] / view_box[3]
        if width is None:
            width = view_box[2] if height is None else height * aspect
        if height is None:
            height = width / aspect
    if width is None or height is None:
        raise source.refuse("states no size; give the drawing a width and a height, or a view box.")
    if not (0 < width < math.inf and 0 < height < math.inf):
        raise source.refuse("is of zero size; give the drawing a width and a height.")
    on_paper = [length[1] for length in given if length]
    width_mm = width / _CSS_PX_PER_MM if on_paper and all(on_paper) else None
    return DrawingSize(width, height, view_box, width_mm)


def _length(text: str) -> tuple[float, bool] | None:
    """A length in CSS pixels, and whether its unit is one of paper; None for what is no length."""
    match = _LENGTH.fullmatch(text)
    if match is None:
        return None
    number, unit = float(match.group(1)), match.group(2)
    if unit in _MM_PER_UNIT:
        return number * _MM_PER_UNIT[unit] * _CSS_PX_PER_MM, True
    return (number * _CSS_PX_PER_UNIT[unit], False) if unit in _CSS_PX_PER_UNIT else None


def _view_box(text: str) -> tuple[float, float, float, float] | None:
    try:
        x, y, width, height = (float(part) for part in _SEPARATOR.split(text.strip()))
    except ValueError:
        return None
    usable = all(map(math.isfinite, (x, y, width, height))) and width > 0 and height > 0
    return (x, y, width, height) if usable else None


def _raster_size(source: Source, size: DrawingSize) -> tuple[int, int]:
    """Pixels for the drawing: enough for the printed size, and within the limits."""
    long_side = max(size.width, size.height)
    width_mm = source.width_mm or size.width_mm
    wanted = LONG_SIDE_WITHOUT_SIZE_PX / long_side
    if width_mm:
        wanted = width_mm * DRAWN_PIXELS_PER_MM / size.width
    allowed = min(math.sqrt(source.max_pixels / size.width / size.height), LARGEST_SIDE_PX / long_side)
    scale = min(max(wanted, LEAST_LONG_SIDE_PX / long_side), allowed)
    width, height = round(size.width * scale), round(size.height * scale)
    if width * height > source.max_pixels:
        width, height = int(size.width * scale), int(size.height * scale)
    return width, height


def _resized(tag: bytes, size: DrawingSize, width: int, height: int) -> bytes:
    """Give the root's start tag exactly the raster's size, so that no edge pixel is half covered."""
    attributes = {match.group(1): match.group(2) for match in _ATTRIBUTE.finditer(tag)}
    attributes |= {b"width": b'"%d"' % width, b"height": b'"%d"' % height}
    box = size.view_box or (0.0, 0.0, size.width, size.height)
    if abs(box[2] * size.height / (box[3] * size.width) - 1) <= _ASPECT_WITHIN:
        attributes[b"preserveAspectRatio"] = b'"none"'
    attributes[b"viewBox"] = b'"%s"' % " ".join(map(repr, box)).encode()
    name = tag.split(None, 1)[0].removesuffix(b"/>").removesuffix(b">")
    close = b"/>" if tag.endswith(b"/>") else b">"
    return name + b"".join(b" %s=%s" % item for item in attributes.items()) + close


def _draw(source: Source, svg: bytes, width: int, height: int) -> bytes:
    """Draw in a program of its own and give the PNG; PictureError when that comes to grief."""
    most_s = _DRAWING_S + _DRAWING_S_PER_PIXEL * width * height
    command = [sys.executable, "-P", str(_CHILD), str(width), str(height)]
    refusal = source.refuse(
        "cannot be drawn: it is too intricate or uses what is not known here; "
        "simplify it, or save it as PNG at 300 pixels to the inch."
    )
    try:
        drawn = subprocess.run(
            command, input=svg, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, timeout=most_s, check=True
        )
    except (subprocess.SubprocessError, OSError) as error:
        raise refusal from error
    return drawn.stdout
