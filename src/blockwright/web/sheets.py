"""Pictures of transfer sheets: what will come out of the printer, looked at before paper is spent."""

import re
import threading
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from pathlib import Path

import pypdfium2

from blockwright.model.units import POINTS_PER_INCH

_DPI = 60
"""An A4 page fills half a screen's height."""

_MOST_PX = 1600
"""Long side at most: a sheet from the roll is metres long."""

_KEPT = 64
"""Pictures that are kept; one has some 20 kB."""

_ONE_AT_A_TIME = threading.Lock()
"""pdfium is not made for several threads at once."""

_PLACE = re.compile(r"row (\d+), column (\d+)")
"""How the pages of a transfer sheet are labelled."""


@dataclass(frozen=True, slots=True)
class SheetPages:
    """The pages of a transfer sheet: how many, how they are joined, and a picture's size in pixels.

    ``places`` are (row, column) from 1, in the order of the pages; one below the other where no file tells.
    """

    total: int
    places: tuple[tuple[int, int], ...]
    width_px: int
    height_px: int


def sheet_picture(path: Path, page: int) -> bytes | None:
    """A page (counted from 1) of a PDF as a PNG, or None when there is no such page."""
    seen = path.stat()
    return _picture(path, page, seen.st_mtime_ns, seen.st_size)


@lru_cache(maxsize=_KEPT)
def _picture(path: Path, page: int, _mtime_ns: int, _size: int) -> bytes | None:
    with _ONE_AT_A_TIME, pypdfium2.PdfDocument(path) as document:
        if not 1 <= page <= len(document):
            return None
        sheet = document[page - 1]
        picture = sheet.render(scale=_scale(sheet.get_size())).to_pil()
        sheet.close()
    held = BytesIO()
    picture.save(held, "PNG")
    return held.getvalue()


def _scale(size_points: tuple[float, float]) -> float:
    """Pixels of a picture to a point of its page."""
    long_px = max(size_points) / POINTS_PER_INCH * _DPI
    return _DPI / POINTS_PER_INCH * min(1.0, _MOST_PX / long_px)


@lru_cache(maxsize=_KEPT)
def _pages(path: Path, _mtime_ns: int, _size: int) -> SheetPages:
    with _ONE_AT_A_TIME, pypdfium2.PdfDocument(path) as document:
        total = len(document)
        told = [_PLACE.fullmatch(document.get_page_label(k)) for k in range(total)]
        width, height = document.get_page_size(0)
    places = tuple((int(at[1]), int(at[2])) if at else (k + 1, 1) for k, at in enumerate(told))
    scale = _scale((width, height))
    return SheetPages(total, places, round(width * scale), round(height * scale))


def sheet_pages(path: Path) -> SheetPages:
    """The pages of a transfer sheet, which are all of one size."""
    seen = path.stat()
    return _pages(path, seen.st_mtime_ns, seen.st_size)
