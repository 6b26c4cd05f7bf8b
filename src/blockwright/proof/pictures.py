"""The progressive proofs: what the image is predicted to look like after every impression.

Every pixel keeps the light that it sends back in three bands. An impression lays its ink over what lies
beneath, as far as it covers the pixel: R becomes a layer(R) + (1 - a) R, with a the covered share.
"""

from collections.abc import Iterator
from math import ceil, floor

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.colour import hex_to_srgb, layer_body, linear_to_srgb, srgb_to_linear
from blockwright.geometry.painting import paint_area
from blockwright.model.design import Design
from blockwright.model.separation import Impression, Separation
from blockwright.model.units import MM_PER_INCH

_STEPS = 65535
"""Entries, less one, of the table from linear light to 8-bit sRGB: at its steepest, in the darkest tones, a
step of the table is a twentieth of a step of the picture."""

_WHOLE_PX = 0.02
"""A last pixel that lacks no more than this counts as whole."""


def _coding_table() -> NDArray[np.uint8]:
    return np.rint(255.0 * linear_to_srgb(np.arange(_STEPS + 1) / _STEPS)).astype(np.uint8)


@njit(cache=True, nogil=True)
def _lay_ink(light, picture, coverage, ink, table):  # type: ignore[no-untyped-def]
    """Lay one ink over ``light`` (linear) where ``coverage`` says, and code the changed pixels."""
    body, through = ink
    height, width = coverage.shape
    top = len(table) - 1
    for y in range(height):
        for x in range(width):
            share = coverage[y, x]
            if share == 0.0:
                continue
            for band in range(3):
                beneath = light[y, x, band]
                inked = body[band] + through[band] * through[band] * beneath / (1.0 - body[band] * beneath)
                now = beneath + share * (inked - beneath)
                light[y, x, band] = now
                picture[y, x, band] = table[int(min(max(now, 0.0), 1.0) * top + 0.5)]


class _Sheet:
    """The image under way: its light, and its picture as 8-bit sRGB."""

    def __init__(self, design: Design, *, dpi: float) -> None:
        self.pixels_per_mm = dpi / MM_PER_INCH
        # Whole pixels only: a last pixel that the image fills in part would show as a pale hairline.
        width = max(1, floor(design.width_mm * self.pixels_per_mm + _WHOLE_PX))
        height = max(1, floor(design.height_mm * self.pixels_per_mm + _WHOLE_PX))
        paper = hex_to_srgb(design.paper_hex)
        self.light = np.empty((height, width, 3), dtype=np.float32)
        self.light[:] = srgb_to_linear(paper)
        self.picture = np.empty((height, width, 3), dtype=np.uint8)
        self.picture[:] = np.rint(255.0 * paper)
        self.table = _coding_table()

    def print(self, impression: Impression) -> None:
        """Lay one impression over what is there, within its bounds only."""
        if impression.area.is_empty:
            return
        height, width, _ = self.light.shape
        left, top, right, bottom = (edge * self.pixels_per_mm for edge in impression.area.bounds)
        rows = slice(max(0, floor(top)), min(height, ceil(bottom)))
        columns = slice(max(0, floor(left)), min(width, ceil(right)))
        coverage = paint_area(
            impression.area,
            pixels_per_mm=self.pixels_per_mm,
            width_px=max(0, columns.stop - columns.start),
            height_px=max(0, rows.stop - rows.start),
            origin_mm=(columns.start / self.pixels_per_mm, rows.start / self.pixels_per_mm),
        )
        body, through = layer_body(impression.ink.k, impression.ink.s, float(impression.passes))
        ink = (body.astype(np.float32), through.astype(np.float32))
        _lay_ink(self.light[rows, columns], self.picture[rows, columns], coverage, ink, self.table)


def progress_pictures(
    design: Design, separation: Separation, *, dpi: float
) -> Iterator[tuple[int, NDArray[np.uint8]]]:
    """The image after every impression: (number, picture), the bare paper first as number 0.

    Pictures are uint8 sRGB of shape (height, width, 3), each one the caller's own, without margins. A part of
    a pixel that is left over at the right and lower edge is cut off.
    """
    sheet = _Sheet(design, dpi=dpi)
    yield 0, sheet.picture.copy()
    for impression in separation.impressions:
        sheet.print(impression)
        yield impression.number, sheet.picture.copy()


def impression_alone(design: Design, impression: Impression, *, dpi: float) -> NDArray[np.uint8]:
    """One impression by itself on the paper: uint8 sRGB of shape (height, width, 3), without margins."""
    sheet = _Sheet(design, dpi=dpi)
    sheet.print(impression)
    return sheet.picture
