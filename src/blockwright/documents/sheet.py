"""A PDF written in millimetres: lines, areas, text and pictures, with the origin at the upper left corner.

The files are the same, byte for byte, for the same content: no clock, fixed producer, no random names.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image
from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import FILL_EVEN_ODD, Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from blockwright.documents.decimals import PDF, spell
from blockwright.documents.fonts import plain, registered, runs
from blockwright.documents.type import (
    POINTS_PER_MM,
    Align,
    Line,
    Rich,
    Span,
    Style,
    broken,
    line_width_mm,
    width_mm,
)
from blockwright.model.errors import FolderError
from blockwright.model.units import MM_PER_INCH

rl_config.useA85 = 0
"""Streams stay binary: spelling them in ASCII makes files a quarter larger and takes most of the time."""

PRODUCER = "blockwright"
PICTURE_DPI = 200.0
"""Pictures are embedded no finer than this: beyond it an office printer shows no gain [CP]."""
JPEG_QUALITY = 92
FIRST_BASELINE = 0.76
"""Where the first baseline lies below the top of a text, as a part of the leading."""


Picture = NDArray[np.uint8] | bytes
"""Pixels of shape (height, width, 3), sRGB 0..255, or a JPEG file."""


@dataclass(frozen=True, slots=True)
class Pen:
    """How a line is drawn: width in mm, colour, and dashes in mm."""

    width_mm: float = 0.1
    colour: str = "#000000"
    dash_mm: tuple[float, ...] = ()


HAIRLINE = Pen(0.1, "#8b8272")
"""Rules between entries."""


@dataclass(frozen=True, slots=True)
class Placement:
    """Where drawing coordinates fall on a page or raster: ``x' = ax * x + bx``, ``y' = ay * y + by``.

    A negative ``ax`` turns a mirrored face back to right-reading.
    """

    ax: float
    bx: float
    ay: float
    by: float

    def points(self, coordinates: NDArray[np.float64]) -> NDArray[np.float64]:
        """Place coordinates of shape (n, 2)."""
        return coordinates * (self.ax, self.ay) + (self.bx, self.by)

    def point(self, at: tuple[float, float]) -> tuple[float, float]:
        """Place one point."""
        return self.ax * at[0] + self.bx, self.ay * at[1] + self.by


class Sheet:
    """The pages of one PDF, in mm with y down. ``finish`` writes the file."""

    def __init__(
        self, path: Path, *, width_mm: float, height_mm: float, title: str, exact: bool = False
    ) -> None:
        """Begin a PDF; ``exact`` asks viewers not to scale it when printing."""
        self.path, self.width_mm, self.height_mm = path, width_mm, height_mm
        self.pages = 0
        size = (width_mm * POINTS_PER_MM, height_mm * POINTS_PER_MM)
        self._canvas = Canvas(
            str(path),
            pagesize=size,
            invariant=1,
            pageCompression=1,
            initialFontName=registered("regular"),
            lang="en-GB",
        )
        self._canvas.setTitle(plain(title))
        self._canvas.setCreator(PRODUCER)
        self._canvas.setProducer(PRODUCER)
        self._canvas.setAuthor("")
        self._canvas.setSubject("")
        if exact:
            self._canvas.setViewerPreference("PrintScaling", "None")

    def end_page(self, label: str = "") -> None:
        """Finish the page; the next thing drawn begins another. A viewer shows ``label`` for its number."""
        if label:
            self._canvas.addPageLabel(self.pages, prefix=label)
        self._canvas.showPage()
        self.pages += 1

    def finish(self) -> int:
        """Write the file and return the number of its pages."""
        try:
            self._canvas.save()
        except OSError as problem:
            raise FolderError(f"{self.path.name} cannot be written: {problem.strerror}.") from problem
        return self.pages

    def _xy(self, x: float, y: float) -> tuple[float, float]:
        return x * POINTS_PER_MM, (self.height_mm - y) * POINTS_PER_MM

    def _use(self, pen: Pen | None, fill: str | None) -> tuple[int, int]:
        if pen is not None:
            self._canvas.addLiteral(_stroke_code(pen))
        if fill is not None:
            self._canvas.setFillColor(_colour(fill))
        return int(pen is not None), int(fill is not None)

    def line(self, start: tuple[float, float], end: tuple[float, float], pen: Pen = HAIRLINE) -> None:
        """Draw a straight line."""
        (x0, y0), (x1, y1) = self._xy(*start), self._xy(*end)
        self._canvas.addLiteral(f"{_stroke_code(pen)} {x0:.3f} {y0:.3f} m {x1:.3f} {y1:.3f} l S")

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        pen: Pen | None = None,
        fill: str | None = None,
    ) -> None:
        """Draw a rectangle whose upper left corner is (x, y)."""
        stroked, filled = self._use(pen, fill)
        left, bottom = self._xy(x, y + height)
        self._canvas.rect(
            left, bottom, width * POINTS_PER_MM, height * POINTS_PER_MM, stroke=stroked, fill=filled
        )

    def ring(
        self, x: float, y: float, radius: float, *, pen: Pen | None = None, fill: str | None = None
    ) -> None:
        """Draw a circle about (x, y)."""
        stroked, filled = self._use(pen, fill)
        self._canvas.circle(*self._xy(x, y), radius * POINTS_PER_MM, stroke=stroked, fill=filled)

    def drawing(
        self, geometry: Any, placement: Placement, *, pen: Pen | None = None, fill: str | None = None
    ) -> None:
        """Draw areas or lines (shapely, one geometry or an array of them); holes stay open."""
        path = self._path(geometry, placement)
        if path is None:
            return
        stroked, filled = self._use(pen, fill)
        self._canvas.setLineJoin(1)
        self._canvas.drawPath(path, stroke=stroked, fill=filled, fillMode=FILL_EVEN_ODD)

    def _path(self, geometry: Any, placement: Placement) -> PDFPathObject | None:
        """Write rings and lines straight as path operators, to the nearest 1/1000 point (0.35 um)."""
        parts, starts, closed = _rings(geometry)
        if not len(parts):
            return None
        xy = placement.points(parts)
        xy = np.column_stack((xy[:, 0], self.height_mm - xy[:, 1])) * POINTS_PER_MM
        code = spell(xy, starts, closed, PDF)
        return PDFPathObject(code=[code]) if code else None

    @contextmanager
    def clipped(self, x: float, y: float, width: float, height: float) -> Iterator[None]:
        """Keep what is drawn within a rectangle."""
        self._canvas.saveState()
        path = self._canvas.beginPath()
        left, bottom = self._xy(x, y + height)
        path.rect(left, bottom, width * POINTS_PER_MM, height * POINTS_PER_MM)
        self._canvas.clipPath(path, stroke=0, fill=0)
        yield
        self._canvas.restoreState()

    @contextmanager
    def clipped_to(self, geometry: Any, placement: Placement) -> Iterator[bool]:
        """Keep what is drawn within areas; the value tells whether there is any area."""
        path = self._path(geometry, placement)
        self._canvas.saveState()
        if path is not None:
            self._canvas.clipPath(path, stroke=0, fill=0, fillMode=FILL_EVEN_ODD)
        yield path is not None
        self._canvas.restoreState()

    @staticmethod
    def text_width(text: str, style: Style) -> float:
        """Return the width of one line of text in mm."""
        return width_mm(plain(text), style)

    def label(
        self,
        text: str,
        style: Style,
        x: float,
        baseline: float,
        *,
        align: Align = "left",
        turn_deg: float = 0.0,
    ) -> float:
        """Set one line at a baseline, turned anticlockwise about its anchor; return its width in mm."""
        line = (Span(plain(text)),)
        if not turn_deg:
            return self.set_line(line, style, x, baseline, align=align)
        self._canvas.saveState()
        self._canvas.translate(*self._xy(x, baseline))
        self._canvas.rotate(turn_deg)
        width = self.set_line(line, style, 0.0, self.height_mm, align=align)
        self._canvas.restoreState()
        return width

    def set_line(
        self, line: Line, style: Style, x: float, baseline: float, *, align: Align = "left"
    ) -> float:
        """Set a broken line at a baseline; return its width in mm."""
        width = line_width_mm(line, style)
        shift = {"left": 0.0, "centre": width / 2, "right": width}[align]
        text = self._canvas.beginText(*self._xy(x - shift, baseline))
        for span in line:
            text.setFillColor(_colour(span.colour or style.colour))
            for font, part in runs(span.text, span.face or style.face):
                text.setFont(font, style.size)
                text.textOut(part)
        self._canvas.drawText(text)
        return width

    def write(
        self, text: Rich, style: Style, x: float, top: float, width: float, *, align: Align = "left"
    ) -> float:
        """Set wrapped text below ``top``; return where it ends."""
        return self.write_lines(broken(text, style, width), style, x, top, width, align=align)

    def write_lines(
        self,
        lines: Sequence[Line],
        style: Style,
        x: float,
        top: float,
        width: float,
        *,
        align: Align = "left",
    ) -> float:
        """Set lines that are broken already; return where they end."""
        anchor = x + {"left": 0.0, "centre": width / 2, "right": width}[align]
        for number, line in enumerate(lines):
            baseline = top + (number + FIRST_BASELINE) * style.leading_mm
            self.set_line(line, style, anchor, baseline, align=align)
        return top + len(lines) * style.leading_mm

    def picture(self, picture: Picture, x: float, y: float, width: float, height: float) -> None:
        """Place a picture: a JPEG file as it is, or pixels, sampled down to what the paper can show."""
        coded = BytesIO(picture if isinstance(picture, bytes) else _coded(picture, width, height))
        left, bottom = self._xy(x, y + height)
        self._canvas.drawImage(
            ImageReader(coded), left, bottom, width * POINTS_PER_MM, height * POINTS_PER_MM
        )


def _coded(pixels: NDArray[np.uint8], width: float, height: float) -> bytes:
    limit = (round(width / MM_PER_INCH * PICTURE_DPI), round(height / MM_PER_INCH * PICTURE_DPI))
    if pixels.shape[1] > limit[0] and pixels.shape[0] > limit[1]:
        pixels = np.asarray(
            cv2.resize(pixels, (max(1, limit[0]), max(1, limit[1])), interpolation=cv2.INTER_AREA), np.uint8
        )
    coded = BytesIO()
    Image.fromarray(np.ascontiguousarray(pixels)).save(coded, "JPEG", quality=JPEG_QUALITY, subsampling=0)
    return coded.getvalue()


def _rings(geometry: Any) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.bool_]]:
    """Return all rings and lines of one or many geometries: points, where each begins, which are closed.

    The last of the beginnings is the number of points.
    """
    parts = shapely.get_parts(shapely.get_parts(np.atleast_1d(np.asarray(geometry, dtype=object))))
    kinds = shapely.get_type_id(parts)
    straight = (kinds == shapely.GeometryType.LINESTRING) | (kinds == shapely.GeometryType.LINEARRING)
    lines = parts[straight]
    rings = shapely.get_rings(parts[kinds == shapely.GeometryType.POLYGON])
    every = np.concatenate([rings, lines])
    starts = np.concatenate([[0], np.cumsum(shapely.get_num_coordinates(every))]).astype(np.int64)
    closed = np.concatenate([np.ones(len(rings), dtype=np.bool_), shapely.is_closed(lines)])
    return shapely.get_coordinates(every), starts, closed


@lru_cache(maxsize=256)
def _colour(srgb_hex: str) -> HexColor:
    return HexColor(srgb_hex)


@lru_cache(maxsize=256)
def _stroke_code(pen: Pen) -> str:
    """Width, colour and dashes of a pen as operators (ISO 32000-1, 8.4.4 and 8.6.8)."""
    red, green, blue = _colour(pen.colour).rgb()
    dashes = " ".join(_points(dash) for dash in pen.dash_mm)
    return f"{_points(pen.width_mm)} w {red:.4g} {green:.4g} {blue:.4g} RG [{dashes}] 0 d"


def _points(mm: float) -> str:
    """A length in points, to a thousandth of one."""
    return f"{mm * POINTS_PER_MM:.3f}"
