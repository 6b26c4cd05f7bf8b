"""Names for the colours of a scene, with a place where each can be pointed at."""

import shapely
from shapely.geometry import Polygon

from blockwright.demo.palette import NAMES
from blockwright.demo.scene import Scene, visible_shapes
from blockwright.model.units import PointMm

PRECISION_MM = 0.05
"""How near to the deepest place of a shape the point must lie: half a pixel at 300 dpi."""
LARGER_PIECES = 12
"""Pieces of a colour that are looked at: lines can have the greatest area and still be thin."""


def colour_names(scene: Scene) -> tuple[tuple[PointMm, str], ...]:
    """For every flat colour that shows, a place in mm well inside it and a printmaker's name.

    The place is the centre of the largest circle that fits into the colour's larger visible pieces. A
    colour without a name of its own takes that of the first shape painted in it.
    """
    pieces: dict[str, list[Polygon]] = {}
    first_shape: dict[str, str] = {}
    for shape in visible_shapes(scene):
        if shape.fade_to is None:
            pieces.setdefault(shape.colour, []).extend(shape.area.geoms)
            first_shape.setdefault(shape.colour, shape.name)
    return tuple(
        (_deepest_place(parts), NAMES.get(colour, first_shape[colour])) for colour, parts in pieces.items()
    )


def run_names(scene: Scene) -> tuple[tuple[PointMm, str], ...]:
    """For everything that is painted as a run and shows, a place well inside it and its name."""
    pieces: dict[str, list[Polygon]] = {}
    for shape in visible_shapes(scene):
        if shape.fade_to is not None:
            pieces.setdefault(shape.name, []).extend(shape.area.geoms)
    return tuple((_deepest_place(parts), name) for name, parts in pieces.items())


def _deepest_place(pieces: list[Polygon]) -> PointMm:
    larger = sorted(pieces, key=lambda piece: -float(piece.area))[:LARGER_PIECES]
    circles = shapely.maximum_inscribed_circle(larger, tolerance=PRECISION_MM)
    x, y = max(circles, key=lambda circle: float(circle.length)).coords[0]
    return float(x), float(y)
