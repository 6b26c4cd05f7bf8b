"""A reference chart: its measured values, and its colours as scanned, brought together patch by patch."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.srgb import srgb_to_linear
from blockwright.inks.scanner import ScannerCorrection, fit_scanner
from blockwright.inks.spectral_tables import SampleTable, read_values
from blockwright.model.errors import InkError

_RGB_FIELDS = ("RGB_R", "RGB_G", "RGB_B")
_FULL_SCALES = (1.0, 255.0, 65535.0)
"""Coded values run to one of these: the least that none exceeds."""


@dataclass(frozen=True, slots=True, eq=False)
class ScannedChart:
    """Linear light of a chart's patches as scanned, shape (n, 3), and their ids, in the same order."""

    ids: tuple[str, ...]
    linear: NDArray[np.float64]


def read_scanned_chart(path: Path) -> ScannedChart:
    """Read a table with the fields RGB_R, RGB_G and RGB_B: coded sRGB, to 1, 255 or 65535.

    Raises InkError when the file is no such table or a value is out of range.
    """
    ids, values = read_values(path, _RGB_FIELDS)
    if float(values.min()) < 0.0 or float(values.max()) > _FULL_SCALES[-1]:
        raise InkError(f"{path.name}: RGB values lie between 0 and 1, 0 and 255 or 0 and 65535.")
    full = next(scale for scale in _FULL_SCALES if float(values.max()) <= scale)
    return ScannedChart(ids, srgb_to_linear(values / full))


def correction_by_ids(measured: SampleTable, scanned: ScannedChart) -> ScannerCorrection:
    """Fit a scanner's correction to the patches that stand in both tables, by their ids.

    Raises InkError when a scanned patch has no measured value, or the two do not go together.
    """
    labs = {sample.id.casefold(): sample.lab for sample in measured.samples}
    for key in scanned.ids:
        if key.casefold() not in labs:
            raise InkError(f"The scanned patch {key!r} has no measured values in {measured.file}.")
    return fit_scanner(scanned.linear, np.array([labs[key.casefold()] for key in scanned.ids]))


def correction_by_order(measured: SampleTable, linear: NDArray[np.float64]) -> ScannerCorrection:
    """The same for patches read from a grid, shape (n, 3), in the order of the measured table.

    Raises InkError when the counts differ or the two do not go together.
    """
    if len(measured.samples) != len(linear):
        raise InkError(
            f"{measured.file} has {len(measured.samples)} samples, "
            f"but the grid of the chart has {len(linear)} patches."
        )
    return fit_scanner(linear, np.array([sample.lab for sample in measured.samples]))
