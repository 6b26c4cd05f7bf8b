"""The progressive proofs: what the image is predicted to look like after every impression.

An impression lays its ink over what lies beneath, as far as it covers a pixel; :mod:`blockwright.proof.light`
keeps the light that each pixel sends back.
"""

from collections.abc import Iterator, Sequence
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import colour_reflectance
from blockwright.geometry.painting import paint_area
from blockwright.model.design import Design
from blockwright.model.inks import PrintInk
from blockwright.model.separation import Impression, Separation
from blockwright.model.units import MM_PER_INCH
from blockwright.proof.layers import layers_of, wanted_layer
from blockwright.proof.light import Layer, SheetLight, Stacks

_WHOLE_PX = 0.02
"""A last pixel that lacks no more than this counts as whole."""


class _Sheet:
    """The image under way; a layer for each impression that is going to be printed."""

    def __init__(self, design: Design, layers: Sequence[Layer], *, dpi: float) -> None:
        self.pixels_per_mm = dpi / MM_PER_INCH
        # Whole pixels only: a last pixel that the image fills in part would show as a pale hairline.
        width = max(1, floor(design.width_mm * self.pixels_per_mm + _WHOLE_PX))
        height = max(1, floor(design.height_mm * self.pixels_per_mm + _WHOLE_PX))
        stacks = Stacks(colour_reflectance(design.paper_hex), layers)
        self.light = SheetLight(stacks, height_px=height, width_px=width, pixels_per_mm=self.pixels_per_mm)

    @property
    def picture(self) -> NDArray[np.uint8]:
        """What it looks like now."""
        return self.light.picture

    def print(self, impression: Impression, layer: int) -> None:
        """Lay one impression over what is there, within its bounds only."""
        if impression.area.is_empty:
            return
        height, width, _ = self.picture.shape
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
        self.light.lay(layer, rows, columns, coverage)


def progress_pictures(
    design: Design, separation: Separation, inks: Sequence[PrintInk], *, dpi: float
) -> Iterator[tuple[int, NDArray[np.uint8]]]:
    """The image after every impression: (number, picture), the bare paper first as number 0.

    Pictures are uint8 sRGB of shape (height, width, 3), each one the caller's own, without margins. A part of
    a pixel that is left over at the right and lower edge is cut off.
    """
    sheet = _Sheet(design, layers_of(separation.impressions, inks), dpi=dpi)
    yield 0, sheet.picture.copy()
    for place, impression in enumerate(separation.impressions):
        sheet.print(impression, place)
        yield impression.number, sheet.picture.copy()


def impression_alone(design: Design, impression: Impression, *, dpi: float) -> NDArray[np.uint8]:
    """One impression by itself on the paper, in the ink that is wanted, without margins.

    The picture is uint8 sRGB of shape (height, width, 3).
    """
    sheet = _Sheet(design, [wanted_layer(impression)], dpi=dpi)
    sheet.print(impression, 0)
    return sheet.picture
