"""Whether polygons tile a rectangle, measured by GEOS's overlay alone.

The design stage judges its own coverage with the predicates for coverages; here the polygons are laid over
one another as any polygons would be, so that an error there could not hide itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, slots=True)
class Tiling:
    """Areas in mm2: left open, covered more than once, outside the rectangle; and invalid polygons."""

    gap_mm2: float
    overlap_mm2: float
    outside_mm2: float
    area_mm2: float
    invalid: int


def measure_tiling(polygons: Sequence[BaseGeometry], *, width_mm: float, height_mm: float) -> Tiling:
    """Lay polygons in mm against the rectangle from (0, 0) to (width, height).

    ``overlap_mm2`` counts a place once for every polygon too many.

    >>> from shapely.geometry import box
    >>> found = measure_tiling([box(0, 0, 2, 1), box(1.5, 0, 3, 1)], width_mm=4.0, height_mm=1.0)
    >>> found.gap_mm2, found.overlap_mm2, found.outside_mm2
    (1.0, 0.5, 0.0)
    """
    every = np.asarray(polygons, dtype=object)
    union = shapely.unary_union(every)
    frame = shapely.box(0.0, 0.0, width_mm, height_mm)
    total = float(shapely.area(every).sum())
    return Tiling(
        gap_mm2=float(frame.difference(union).area),
        overlap_mm2=total - float(union.area),
        outside_mm2=float(union.difference(frame).area),
        area_mm2=total,
        invalid=int(np.count_nonzero(~shapely.is_valid(every))),
    )
