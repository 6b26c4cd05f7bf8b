"""Which impressions print a design: the decision between its colours and the areas that are drawn."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.colour import ink_for_colour
from blockwright.model.design import Design, Run
from blockwright.model.separation import Gradation, Ink, Kind
from blockwright.model.units import Lab, PointMm

KEY_MEAN_WIDTH_MM = 3.0
"""The darkest colour counts as the key block when its shapes are on average narrower than this, mm [CP]."""


@dataclass(frozen=True, slots=True)
class Coloured:
    """A design as arrays, one entry a shape, and its printed colours of the palette from light to dark.

    ``rank`` counts a shape's colour from the lightest (0) to the darkest; -1 is left as bare paper.
    """

    design: Design
    regions: NDArray[np.object_]
    colour: NDArray[np.int64]
    area_mm2: NDArray[np.float64]
    printed: tuple[int, ...]

    @property
    def rank(self) -> NDArray[np.int64]:
        """How dark each shape's colour is among those that are printed."""
        rank_of = np.full(len(self.design.palette), -1, dtype=np.int64)
        rank_of[list(self.printed)] = np.arange(len(self.printed))
        return rank_of[self.colour]

    def shapes_of(self, palette_colour: int) -> NDArray[np.int64]:
        """The shapes of a colour, as places in the design."""
        return np.flatnonzero(self.colour == palette_colour)

    def place(self, palette_colour: int) -> PointMm:
        """A point inside the largest shape of a colour."""
        return self.largest(self.shapes_of(palette_colour))

    def run(self, palette_colour: int) -> Run | None:
        """How a colour runs; None for flat paint."""
        return self.design.shapes[int(self.shapes_of(palette_colour)[0])].run

    def largest(self, shapes: NDArray[np.int64]) -> PointMm:
        """A point inside the largest of some shapes."""
        return self.design.shapes[int(shapes[np.argmax(self.area_mm2[shapes])])].at


@dataclass(frozen=True, slots=True)
class Planned:
    """One impression before its area is drawn, in printing order with its like.

    ``shapes`` are the design's shapes that it prints, of one colour or of several; ``srgb_hex`` and ``lab``
    are what the ink looks like on the bare paper in its passes; ``trap_mm`` is how far it may run under
    darker shapes that it does not print.
    """

    name: str
    kind: Kind
    ink: Ink
    passes: int
    shapes: tuple[int, ...]
    trap_mm: float
    srgb_hex: str
    lab: Lab
    gradation: Gradation | None = None


def _kind(work: Coloured, palette_colour: int) -> Kind:
    """The key block carries the line work and is the darkest."""
    if palette_colour != work.printed[-1]:
        return "colour"
    own = work.regions[work.shapes_of(palette_colour)]
    mean_width_mm = 2.0 * float(shapely.area(own).sum()) / float(shapely.length(own).sum())
    return "key" if mean_width_mm < KEY_MEAN_WIDTH_MM else "colour"


def one_a_colour(
    work: Coloured, order: list[int], passes: dict[int, int], traps: dict[int, float]
) -> tuple[Planned, ...]:
    """One impression for each printed colour; its ink in its passes gives the colour on the bare paper."""
    planned = []
    for c in order:
        colour = work.design.palette[c]
        k, s = ink_for_colour(colour.srgb_hex, work.design.paper_hex, passes=passes[c])
        planned.append(
            Planned(
                name=colour.name,
                kind=_kind(work, c),
                ink=Ink(name=colour.name, k=k, s=s),
                passes=passes[c],
                shapes=tuple(work.shapes_of(c).tolist()),
                trap_mm=traps[c],
                srgb_hex=colour.srgb_hex,
                lab=colour.lab,
            )
        )
    return tuple(planned)
