"""A reference chart: its measured values, how it was scanned, and what that says of the scanner."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from blockwright.model.errors import SettingsError

if TYPE_CHECKING:
    from blockwright.inks.scanner import ScannerCorrection

Places = tuple[tuple[float, float], ...]

_BEHIND = "#ffffff"
"""What lies behind the transparent parts of a scan."""

_GRID = re.compile(r"(\d{1,3})\s*[x×*]\s*(\d{1,3})")
_PLACE = re.compile(r"(\d+(?:\.\d+)?),(\d+(?:\.\d+)?)")


@dataclass(frozen=True, slots=True)
class Chart:
    """A reference chart: its measured table and how it was scanned.

    Either ``scanned`` is a table with RGB_R, RGB_G, RGB_B, or ``picture`` shows the chart as a grid of
    ``columns`` by ``rows`` patches with these corners: upper left, upper right, lower right, lower left;
    without corners the picture is the chart, cut to its patches.
    """

    measured: Path
    scanned: Path | None = None
    picture: Path | None = None
    corners_px: Places = ()
    columns: int = 0
    rows: int = 0


def chart_correction(chart: Chart) -> "ScannerCorrection":
    """Fit a scanner's correction to a reference chart. Raises InkError when it cannot be read or matched."""
    from blockwright.design import read_picture
    from blockwright.inks.chart import correction_by_ids, correction_by_order, read_scanned_chart
    from blockwright.inks.scanner import read_grid
    from blockwright.inks.spectral_tables import read_table

    measured = read_table(chart.measured)
    if chart.scanned is not None:
        return correction_by_ids(measured, read_scanned_chart(chart.scanned))
    if chart.picture is None:
        raise SettingsError(
            "A chart needs its scanned colours: a table, or a scan with its columns and rows."
        )
    pixels = read_picture(chart.picture, paper_hex=_BEHIND).pixels
    height, width = (float(side) for side in pixels.shape[:2])
    corners = chart.corners_px or ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    return correction_by_order(measured, read_grid(pixels, corners, columns=chart.columns, rows=chart.rows))


def read_columns_and_rows(text: str, *, name: str) -> tuple[int, int]:
    """The columns and rows of a chart as they are written. Raises SettingsError, which calls them ``name``.

    >>> read_columns_and_rows("6 x 4", name="--chart-grid")
    (6, 4)
    """
    size = _GRID.fullmatch(text.strip())
    if not size:
        raise SettingsError(f"{name} is {text!r}; it must be columns x rows, such as 6x4.")
    return int(size[1]), int(size[2])


def read_corners(text: str, *, name: str) -> Places:
    """Four corners in pixels as they are written. Raises SettingsError, which calls them ``name``.

    >>> read_corners("0,0 180,0 180,120 0,120", name="--chart-corners")[2]
    (180.0, 120.0)
    """
    found = [_PLACE.fullmatch(place) for place in text.split()]
    if len(found) != 4 or not all(found):
        raise SettingsError(
            f"{name} is {text!r}; it must be four places such as '10,10 900,10 900,600 10,600'."
        )
    return tuple((float(match[1]), float(match[2])) for match in found if match)
