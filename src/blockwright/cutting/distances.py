"""How far places and straight ways are from the edge of an area, exactly."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.model.units import Area


@dataclass(frozen=True, slots=True, eq=False)
class Distances:
    """The straight pieces of an area's outlines, to be asked how near they are: see :func:`distances_in`."""

    area: Area
    pieces: shapely.STRtree

    def at(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """How far points (n, 2 or more) within the area are from its edge, mm."""
        found: NDArray[np.float64] = self.pieces.query_nearest(
            shapely.points(points[:, :2]), return_distance=True, all_matches=False
        )[1]
        return found

    def least_along(self, start: NDArray[np.float64], end: NDArray[np.float64]) -> float:
        """The least distance on the straight way between two points, mm; 0 where it leaves the area.

        >>> away = distances_in(shapely.MultiPolygon([shapely.box(0, 0, 10, 4)]))
        >>> away.least_along(np.array([1.0, 2.0]), np.array([5.0, 1.5]))
        1.0
        """
        if not shapely.contains_xy(self.area, start[0], start[1]):
            return 0.0
        way = shapely.linestrings([start[:2], end[:2]])
        found = self.pieces.query_nearest(way, return_distance=True, all_matches=False)[1]
        return float(found[0])


def distances_in(area: Area) -> Distances:
    """Lay out the outlines of an area, mm."""
    shapely.prepare(area)
    rings = shapely.get_rings(np.asarray(list(area.geoms), dtype=object))
    points, of = shapely.get_coordinates(rings, return_index=True)
    both = of[1:] == of[:-1]
    lines = shapely.linestrings(np.stack([points[:-1][both], points[1:][both]], axis=1))
    return Distances(area, shapely.STRtree(lines))
