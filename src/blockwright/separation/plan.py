"""Which impressions print a design: the decision between its colours and the areas that are drawn."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import ink_for_colour
from blockwright.model.design import Design, Run
from blockwright.model.separation import Gradation, Ink, Kind, SetInk
from blockwright.model.units import Lab, PointMm


@dataclass(frozen=True, slots=True)
class Coloured:
    """A design as arrays, one entry a shape, and its printed colours of the palette from light to dark.

    ``colour`` is the colour that stands for each shape: its own, or the key's for line work that was lifted.
    ``rank`` counts a shape's colour from the lightest (0) to the darkest; -1 is not printed. ``unprinted``
    are shapes that get leaf or are embossed in place of being printed; ``unmatched`` are those and the others
    that are not to have their colour of the design.
    """

    design: Design
    regions: NDArray[np.object_]
    colour: NDArray[np.int64]
    area_mm2: NDArray[np.float64]
    printed: tuple[int, ...]
    unprinted: frozenset[int] = frozenset()
    unmatched: frozenset[int] = frozenset()

    @property
    def rank(self) -> NDArray[np.int64]:
        """How dark each shape's colour is among those that are printed."""
        rank_of = np.full(len(self.design.palette), -1, dtype=np.int64)
        rank_of[list(self.printed)] = np.arange(len(self.printed))
        rank: NDArray[np.int64] = rank_of[self.colour]
        rank[list(self.unprinted)] = -1
        return rank

    def printed_in(self, palette_colours: Iterable[int]) -> NDArray[np.bool_]:
        """Which shapes are printed in some colours, those without leaf or blind embossing: (shapes,)."""
        printed: NDArray[np.bool_] = np.isin(self.colour, list(palette_colours))
        printed[list(self.unprinted)] = False
        return printed

    def shapes_of(self, palette_colour: int) -> NDArray[np.int64]:
        """The shapes that are printed in a colour, as places in the design."""
        return np.flatnonzero(self.printed_in([palette_colour]))

    def place(self, palette_colour: int) -> PointMm:
        """A point inside the largest shape of a colour."""
        return self.largest(self.shapes_of(palette_colour))

    def run(self, palette_colour: int) -> Run | None:
        """How a colour runs; None for flat paint."""
        shapes = (self.design.shapes[k] for k in self.shapes_of(palette_colour).tolist())
        # What was lifted into the key is of another colour in the design.
        return next((shape.run for shape in shapes if shape.colour == palette_colour), None)

    def largest(self, shapes: NDArray[np.int64]) -> PointMm:
        """A point inside the largest of some shapes."""
        return self.design.shapes[int(shapes[np.argmax(self.area_mm2[shapes])])].at


@dataclass(frozen=True, slots=True)
class Planned:
    """One impression before its area is drawn, in printing order with its like.

    ``shapes`` are the design's shapes that it prints, of one colour or of several; ``srgb_hex`` and ``lab``
    are what the ink looks like on the bare paper in its passes; ``trap_mm`` is how far it may run under
    darker shapes that it does not print. ``set_ink`` is what it must be printed with, None where it may be
    chosen for its colour alone. ``split_from`` names the impression that it was split off.
    """

    name: str
    kind: Kind
    ink: Ink
    passes: int
    shapes: tuple[int, ...]
    trap_mm: float
    srgb_hex: str
    lab: Lab
    set_ink: SetInk | None = None
    gradation: Gradation | None = None
    split_from: str | None = None


def colours_of(work: Coloured, shapes: tuple[int, ...]) -> tuple[str, ...]:
    """The names of the colours that some shapes have, from light to dark."""
    held = set(work.colour[list(shapes)].tolist())
    return tuple(work.design.palette[c].name for c in work.printed if c in held)


def one_a_colour(
    work: Coloured,
    order: list[int],
    passes: dict[int, int],
    traps: dict[int, float],
    *,
    key: int | None = None,
) -> tuple[Planned, ...]:
    """One impression for each printed colour; its ink in its passes gives the colour on the bare paper."""
    planned = []
    for c in order:
        colour = work.design.palette[c]
        k, s = ink_for_colour(colour.srgb_hex, work.design.paper_hex, passes=passes[c])
        planned.append(
            Planned(
                name=colour.name,
                kind="key" if c == key else "colour",
                ink=Ink(name=colour.name, k=k, s=s),
                passes=passes[c],
                shapes=tuple(work.shapes_of(c).tolist()),
                trap_mm=traps[c],
                srgb_hex=colour.srgb_hex,
                lab=colour.lab,
            )
        )
    return tuple(planned)
