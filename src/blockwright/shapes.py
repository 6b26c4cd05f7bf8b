"""What there is to say about one shape of a print: its colour, size, narrowest place and neighbours."""

from dataclasses import dataclass

import numpy as np

from blockwright.geometry.coverage import Coverage
from blockwright.geometry.merging import neighbours
from blockwright.model.units import PointMm
from blockwright.proof.shape_facts import shape_at, shape_facts
from blockwright.proof.windows import DesignIndex

Ring = tuple[PointMm, ...]


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A colour that meets a shape, a place in it there, and the length of the common edge."""

    name: str
    srgb_hex: str
    at: PointMm
    edge_mm: float


@dataclass(frozen=True, slots=True)
class ShapeTold:
    """One shape: a place inside, its colour, and what a printmaker asks about it.

    ``narrowest_mm`` is the width at ``narrowest_at``; ``neighbours`` are the colours around it, the one with
    the longest common edge first; ``outline`` are its rings, the outer one first.
    """

    at: PointMm
    name: str
    srgb_hex: str
    area_mm2: float
    narrowest_mm: float
    neighbours: tuple[Neighbour, ...]
    outline: tuple[Ring, ...]


def tell_shape(index: DesignIndex, place: PointMm) -> ShapeTold | None:
    """Tell about the shape at a place (mm), or give None where the design has none."""
    found = shape_at(index, *place)
    if found is None:
        return None
    facts = shape_facts(index, found)
    shape = index.design.shapes[found]
    colour = index.design.palette[shape.colour]
    return ShapeTold(
        at=shape.at,
        name=colour.name,
        srgb_hex=colour.srgb_hex,
        area_mm2=facts.area_mm2,
        narrowest_mm=facts.narrowest.width_mm,
        neighbours=_around(index, found),
        outline=facts.outline_mm,
    )


def _around(index: DesignIndex, shape: int) -> tuple[Neighbour, ...]:
    """The colours that share an edge with a shape; of several shapes of one, the longest edge counts."""
    labels = np.array([each.colour for each in index.design.shapes], dtype=np.uint8)
    around = neighbours(Coverage(index.regions, labels), shape, index.tree)
    first: dict[int, Neighbour] = {}
    for number, edge_mm in sorted(around, key=lambda pair: (-pair[1], pair[0])):
        label = int(labels[number])
        colour = index.design.palette[label]
        at = index.design.shapes[number].at
        first.setdefault(label, Neighbour(colour.name, colour.srgb_hex, at, edge_mm))
    return tuple(first.values())
