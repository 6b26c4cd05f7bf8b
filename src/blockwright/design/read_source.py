"""The picture file on its way in: its name in sentences, its bytes, and the limits before decoding."""

import logging
import math
import stat
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from blockwright.model.errors import PictureError
from blockwright.model.findings import Finding
from blockwright.model.units import MM_PER_INCH

LEAST_SIDE_PX = 16
"""Fewer pixels than this along a side hold no shape that could be carved."""
LARGEST_SIDE_PX = 65_535
"""Longest side in pixels: 2.7 m at 600 dpi, and the limit of the JPEG format (ITU-T T.81)."""
WIDEST_PIXEL_BYTES = 8
"""Bytes of one pixel at most: four samples of 16 bits."""
SPARE_FILE_BYTES = 64 * 2**20
"""What a file may hold besides its pixels: profiles, thumbnails, descriptions."""

LEAST_DPI = 10.0
LARGEST_DPI = 12_700.0
"""Stored resolutions outside this range are filler, not a size (drum scanners reach 12,000)."""
UNEQUAL_DPI_RATIO = 0.01
"""How far the two stored resolutions may differ before the pixels count as not square."""
SCREEN_DPI = (72.0, 96.0)
SCREEN_DPI_WITHIN = 0.5
"""Screen resolutions that programs write without being asked; PNG stores 72 as 2835 to the metre, 72.009."""

READABLE_KINDS = "PNG, TIFF, JPEG, WebP, OpenRaster or SVG"

_TALKING_LIBRARIES = ("tifffile", "imagecodecs")
_codec_lock = threading.RLock()


@dataclass(frozen=True, slots=True)
class Source:
    """One picture file and the limits that it has to keep.

    ``inside`` names what part of the file is meant, for sentences, when it is not the whole; such a part
    may have fewer pixels than ``LEAST_SIDE_PX``, and says so in ``least_side_px``.
    """

    path: Path
    max_pixels: int
    width_mm: float | None = None
    inside: str = ""
    least_side_px: int = LEAST_SIDE_PX

    @property
    def name(self) -> str:
        """The file's name as it can be printed on one line."""
        name = self.path.name or str(self.path)
        printable = "".join(c if c.isprintable() else "?" for c in name)
        return printable.encode("utf-8", "replace").decode()

    def refuse(self, what: str) -> PictureError:
        """Give the error whose sentence says ``what`` about this picture."""
        return PictureError(f"The picture {self.name} {self.inside}{what}")

    def damaged(self) -> PictureError:
        """Give the error for a file that breaks off or contradicts itself."""
        return self.refuse("is damaged or not complete; save it again or take another copy.")

    def check_size(self, width: int, height: int) -> None:
        """Raise PictureError unless a picture of these pixels can be read and has something to carve."""
        if min(width, height) < self.least_side_px:
            raise self.refuse(
                f"is too small, {width} x {height} pixels: "
                f"at least {self.least_side_px} x {self.least_side_px} pixels are needed."
            )
        if max(width, height) > LARGEST_SIDE_PX:
            raise self.refuse(
                f"is {width} x {height} pixels: no side may have more than {LARGEST_SIDE_PX:,} pixels."
            )
        if width * height > self.max_pixels:
            raise self.refuse(
                f"has {width} x {height} = {width * height:,} pixels: "
                f"at most {self.max_pixels:,} can be read, so save it smaller."
            )

    def head(self, count: int) -> bytes:
        """Read the first ``count`` bytes, or raise PictureError saying why it cannot be done."""
        try:
            mode = self.path.stat().st_mode
            if stat.S_ISDIR(mode):
                raise self.refuse(f"is a folder; give the file of the picture ({READABLE_KINDS}).")
            if not stat.S_ISREG(mode):
                raise self.refuse(f"is not a file; give the file of the picture ({READABLE_KINDS}).")
            with self.path.open("rb") as file:
                return file.read(count)
        except PictureError:
            raise
        except (FileNotFoundError, NotADirectoryError) as error:
            raise self.refuse("is not there; check its name and its folder.") from error
        except PermissionError as error:
            raise self.refuse("may not be read: change its permissions, or copy it.") from error
        except (OSError, ValueError) as error:
            raise self.refuse("cannot be opened; check its name and the disk that it is on.") from error

    def read(self) -> bytes:
        """Read the whole file, if it is no larger than its pixels could ever make it."""
        size = self.path.stat().st_size
        allowed = self.max_pixels * WIDEST_PIXEL_BYTES + SPARE_FILE_BYTES
        if size > allowed:
            raise self.refuse(f"takes {size:,} bytes: at most {allowed:,} can be read, so save it smaller.")
        return self.path.read_bytes()


def stored_resolution(x_per_mm: float, y_per_mm: float) -> tuple[float | None, tuple[Finding, ...]]:
    """Judge a stored resolution (pixels per mm along x and y); None when it cannot be a size.

    >>> stored_resolution(300 / 25.4, 300 / 25.4)
    (11.81..., ())
    >>> stored_resolution(1 / 25.4, 1 / 25.4)[0] is None
    True
    """
    x_dpi, y_dpi = x_per_mm * MM_PER_INCH, y_per_mm * MM_PER_INCH
    usable = all(math.isfinite(dpi) and LEAST_DPI <= dpi <= LARGEST_DPI for dpi in (x_dpi, y_dpi))
    if not usable or abs(x_dpi - y_dpi) > UNEQUAL_DPI_RATIO * x_dpi:
        return None, (
            Finding(
                "resolution-unusable",
                "note",
                f"The stored resolution, {x_dpi:.4g} x {y_dpi:.4g} pixels to the inch, cannot be a size "
                "and was not used: check the width in mm.",
            ),
        )
    notes: tuple[Finding, ...] = ()
    if any(abs(x_dpi - screen) < SCREEN_DPI_WITHIN for screen in SCREEN_DPI):
        notes = (
            Finding(
                "resolution-of-screen",
                "note",
                f"The stored resolution, {x_dpi:.0f} pixels to the inch, is one that programs write "
                "without being asked: check the width in mm.",
            ),
        )
    return (x_per_mm + y_per_mm) / 2, notes


@contextmanager
def quiet_codecs() -> Iterator[None]:
    """Keep the picture libraries' warnings and log lines from the printmaker: what matters is raised.

    The state that this changes for a moment is the process's, so that one reading waits for another.
    """
    logs = [logging.getLogger(name) for name in _TALKING_LIBRARIES]

    def silent(_record: logging.LogRecord) -> bool:
        return False

    with _codec_lock, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for log in logs:
            log.addFilter(silent)
        try:
            yield
        finally:
            for log in logs:
                log.removeFilter(silent)
