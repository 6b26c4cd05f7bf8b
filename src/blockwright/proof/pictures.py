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
from blockwright.model.units import MM_PER_INCH, Area, Region
from blockwright.proof.finishing import edge_room_px, press
from blockwright.proof.gilt import gild
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
        rows, columns = self._within(impression.area, room_px=0)
        self.light.lay(layer, rows, columns, self._coverage(impression.area, rows, columns))

    def _within(self, area: Area, *, room_px: int) -> tuple[slice, slice]:
        """The rows and columns that an area touches, and some more on every side."""
        height, width, _ = self.picture.shape
        left, top, right, bottom = (edge * self.pixels_per_mm for edge in area.bounds)
        rows = slice(max(0, floor(top) - room_px), min(height, ceil(bottom) + room_px))
        columns = slice(max(0, floor(left) - room_px), min(width, ceil(right) + room_px))
        return rows, columns

    def _coverage(self, area: Area, rows: slice, columns: slice) -> NDArray[np.float32]:
        return paint_area(
            area,
            pixels_per_mm=self.pixels_per_mm,
            width_px=max(0, columns.stop - columns.start),
            height_px=max(0, rows.stop - rows.start),
            origin_mm=(columns.start / self.pixels_per_mm, rows.start / self.pixels_per_mm),
        )

    def finish(
        self, picture: NDArray[np.uint8], impression: Impression, leaves: Sequence[Region] = ()
    ) -> None:
        """Hint at karazuri or leaf in a picture of the sheet."""
        room = edge_room_px(self.pixels_per_mm)
        rows, columns = self._within(impression.area, room_px=room)
        window = picture[rows, columns]
        if not window.size:
            return
        if impression.kind == "leaf":
            gild(
                window,
                self._coverage(impression.area, rows, columns),
                srgb_hex=impression.srgb_hex,
                leaves=leaves,
                origin_mm=(columns.start / self.pixels_per_mm, rows.start / self.pixels_per_mm),
                pixels_per_mm=self.pixels_per_mm,
            )
            return
        wide = (slice(each.start - room, each.stop + room) for each in (rows, columns))
        share = self._coverage(impression.area, *wide)
        press(window, share, side=impression.side, pixels_per_mm=self.pixels_per_mm)


def progress_pictures(
    design: Design, separation: Separation, inks: Sequence[PrintInk], *, dpi: float
) -> Iterator[tuple[int, NDArray[np.uint8]]]:
    """The image after every impression: (number, picture), the bare paper first as number 0.

    Pictures are uint8 sRGB of shape (height, width, 3), each one the caller's own, without margins. A part of
    a pixel that is left over at the right and lower edge is cut off. Karazuri and leaf, which come after all
    inks, are hinted at (:mod:`blockwright.proof.finishing`, :mod:`blockwright.proof.gilt`).
    """
    sheet = _Sheet(design, layers_of(separation.inked, inks), dpi=dpi)
    yield 0, sheet.picture.copy()
    for place, impression in enumerate(separation.inked):
        sheet.print(impression, place)
        yield impression.number, sheet.picture.copy()
    picture, leaves = sheet.picture.copy(), separation.leaves
    for impression in separation.impressions:
        if impression.ink is None:
            sheet.finish(picture, impression, leaves.get(impression.number, ()))
            yield impression.number, picture.copy()


def impression_alone(
    design: Design, impression: Impression, *, dpi: float, leaves: Sequence[Region] = ()
) -> NDArray[np.uint8]:
    """One impression by itself on the paper, in the ink that is wanted if it has one, without margins.

    ``leaves`` are where those of a metal are laid.

    The picture is uint8 sRGB of shape (height, width, 3).
    """
    if impression.ink is None:
        bare = _Sheet(design, [], dpi=dpi)
        picture = bare.picture.copy()
        bare.finish(picture, impression, leaves)
        return picture
    sheet = _Sheet(design, [wanted_layer(impression)], dpi=dpi)
    sheet.print(impression, 0)
    return sheet.picture
