"""Weeding marks: a point inside every part of a stencil that is lifted off before blasting."""

from collections.abc import Iterator
from math import ceil, sqrt

import shapely
from shapely.geometry import Polygon

from blockwright.model.units import Area, PointMm, Region

APART_MM = 80.0
"""A large part gets a mark about every so many mm [CP], so that one is in sight wherever it is lifted."""

COARSE_MM = 0.05
"""How far the copy in which the roomiest place is looked for may stray from the part's edge, mm."""

WEED_DECIMALS = 2
"""Marks are set to 0.01 mm: where in a part they stand does not matter, as long as it is inside."""


def mark_for_weeding(lifted: Area) -> tuple[PointMm, ...]:
    """Return points (mm) inside the parts that are lifted off: at least one in each part.

    Each mark stands in the roomiest place of its part. Parts larger than :data:`APART_MM` are looked at in
    squares of that size, and a square's mark is left out when another of the same part stands within half
    of that distance. The order is by part, then by row and column.

    >>> from shapely.geometry import MultiPolygon, box
    >>> mark_for_weeding(MultiPolygon([box(0, 0, 10, 10)]))
    ((5.0, 5.0),)
    """
    marks: list[PointMm] = []
    for part in lifted.geoms:
        marks.extend(_mark_part(part))
    return tuple(marks)


def _mark_part(part: Region) -> list[PointMm]:
    coarse = shapely.simplify(part, COARSE_MM)
    whole = part if coarse.is_empty or not isinstance(coarse, Polygon) else coarse
    shapely.prepare(part)
    candidates = [_roomiest(piece) for piece in _squares(whole)]
    candidates.sort(key=lambda found: -found[1])
    kept: list[PointMm] = []
    for (x, y), _ in candidates:
        apart = all((x - kx) ** 2 + (y - ky) ** 2 >= (APART_MM / 2) ** 2 for kx, ky in kept)
        if apart and shapely.contains_xy(part, x, y):
            kept.append((x, y))
    if not kept:
        inside = shapely.point_on_surface(part)
        kept.append((float(inside.x), float(inside.y)))
    shapely.destroy_prepared(part)
    return sorted(kept, key=lambda place: (place[1], place[0]))


def _squares(part: Region) -> Iterator[Region]:
    """Yield the largest piece of the part in every square of a grid over it."""
    left, top, right, bottom = part.bounds
    columns = max(1, ceil((right - left) / APART_MM))
    rows = max(1, ceil((bottom - top) / APART_MM))
    wide, high = (right - left) / columns, (bottom - top) / rows
    for row in range(rows):
        for column in range(columns):
            x, y = left + column * wide, top + row * high
            pieces = [
                piece
                for piece in shapely.get_parts(shapely.clip_by_rect(part, x, y, x + wide, y + high))
                if isinstance(piece, Polygon)
            ]
            if pieces:
                yield max(pieces, key=lambda piece: float(piece.area))


def _roomiest(piece: Region) -> tuple[PointMm, float]:
    """Return the centre of the largest circle in a piece, and its radius, mm."""
    fineness = max(1e-4, sqrt(piece.area) / 20)
    radius = shapely.maximum_inscribed_circle(piece, tolerance=fineness)
    x, y = radius.coords[0]
    return (round(x, WEED_DECIMALS), round(y, WEED_DECIMALS)), float(radius.length)
