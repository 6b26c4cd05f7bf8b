"""Small designs for the tests of this room: cells of a Voronoi diagram, and strips side by side."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.colour import hex_to_lab
from blockwright.model.design import Design, PaletteColour, Shape

PAPER = "#f6efdf"


def design_of(
    regions: Sequence[shapely.Polygon] | NDArray[np.object_],
    colours: Sequence[int],
    hexes: Sequence[str],
    *,
    paper: str = PAPER,
) -> Design:
    palette = tuple(PaletteColour(f"colour {i}", h, hex_to_lab(h)) for i, h in enumerate(hexes))
    shapes = []
    for region, colour in zip(regions, colours, strict=True):
        inside = region.representative_point()
        shapes.append(Shape(colour, region, (inside.x, inside.y)))
    _, _, width, height = shapely.total_bounds(np.array(regions, dtype=object)).tolist()
    return Design("test", width, height, 10.0, paper, palette, tuple(shapes), True, 0.0, 0.0, 0.0, 0.0)


def voronoi_coverage(seed: int, cells: int, *, side_mm: float = 30.0) -> NDArray[np.object_]:
    """A valid coverage of a square; a few cells are thin, as random cells are."""
    places = np.random.default_rng(seed).uniform(0.0, side_mm, (cells, 2))
    square = shapely.box(0.0, 0.0, side_mm, side_mm)
    diagram = shapely.voronoi_polygons(
        shapely.multipoints(places), extend_to=square.buffer(side_mm), only_edges=True
    )
    inside = shapely.intersection(diagram, square)
    lines = shapely.get_parts([shapely.union_all([inside, square.boundary])])
    regions: NDArray[np.object_] = shapely.get_parts([shapely.polygonize(lines)])
    return regions


def strips(*widths_mm: float, height_mm: float = 20.0) -> list[shapely.Polygon]:
    """Upright strips side by side."""
    edges = np.concatenate([[0.0], np.cumsum(widths_mm)]).tolist()
    return [shapely.box(a, 0.0, b, height_mm) for a, b in pairwise(edges)]
