"""What is told about one shape of the design: where it is, how large, and how narrow."""

from dataclasses import dataclass

import shapely

from blockwright.geometry.narrowest import NarrowestWidth, narrowest_width
from blockwright.model.units import PointMm
from blockwright.proof.windows import DesignIndex

OUTLINE_MM = 0.05
"""How far an outline for the screen may lie off, mm: a pixel at twenty to the mm."""


@dataclass(frozen=True, slots=True)
class ShapeFacts:
    """One shape: its colour in the palette, area, bounds (left, top, right, bottom), and outline.

    ``outline_mm`` are its rings, the outer one first, each closed, off by no more than OUTLINE_MM;
    ``narrowest`` see :mod:`blockwright.geometry.narrowest`.
    """

    shape: int
    colour: int
    area_mm2: float
    bounds_mm: tuple[float, float, float, float]
    outline_mm: tuple[tuple[PointMm, ...], ...]
    narrowest: NarrowestWidth


def shape_at(index: DesignIndex, x_mm: float, y_mm: float) -> int | None:
    """The shape at a place of the print, of two that meet there the first; None outside the print."""
    found = index.tree.query(shapely.Point(x_mm, y_mm), predicate="intersects")
    return int(found.min()) if len(found) else None


def shape_facts(index: DesignIndex, shape: int) -> ShapeFacts:
    """Tell about a shape, by its place in the design. Raises IndexError when there is none."""
    if not 0 <= shape < len(index.regions):
        raise IndexError(f"there is no shape {shape} of {len(index.regions)}")
    region = index.regions[shape]
    left, top, right, bottom = region.bounds
    simple = shapely.simplify(region, OUTLINE_MM)
    rings = [simple.exterior, *simple.interiors]
    return ShapeFacts(
        shape=shape,
        colour=index.design.shapes[shape].colour,
        area_mm2=float(region.area),
        bounds_mm=(left, top, right, bottom),
        outline_mm=tuple(tuple((x, y) for x, y in ring.coords) for ring in rings),
        narrowest=narrowest_width(region),
    )
