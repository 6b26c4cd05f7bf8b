"""Pictures of transfer sheets: what will come out of the printer, looked at before paper is spent."""

import threading
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
        long_px = max(sheet.get_size()) / POINTS_PER_INCH * _DPI
        scale = _DPI / POINTS_PER_INCH * min(1.0, _MOST_PX / long_px)
        picture = sheet.render(scale=scale).to_pil()
        sheet.close()
    held = BytesIO()
    picture.save(held, "PNG")
    return held.getvalue()


@lru_cache(maxsize=_KEPT)
def _pages(path: Path, _mtime_ns: int, _size: int) -> int:
    with _ONE_AT_A_TIME, pypdfium2.PdfDocument(path) as document:
        return len(document)


def sheet_pages(path: Path) -> int:
    """How many pages a PDF has."""
    seen = path.stat()
    return _pages(path, seen.st_mtime_ns, seen.st_size)
