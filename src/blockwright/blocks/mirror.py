"""The one mirroring of the whole job, from the print to the face; and the half turn of a block."""

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.model.units import Area, PointMm, Region


def mirror_point(point: PointMm, *, width_mm: float) -> PointMm:
    """Carry a place from the print to the face, or from the face back to the print.

    ``point`` is (x, y) in mm, ``width_mm`` the image's width. Mirroring twice gives the place again.

    >>> mirror_point((10.0, 4.0), width_mm=100.0)
    (90.0, 4.0)
    """
    return (width_mm - point[0], point[1])


def mirror_area(area: Area, *, width_mm: float) -> Area:
    """Carry areas (mm) from the print to the face: (x, y) goes to (``width_mm`` - x, y).

    Rings keep the direction that they had, which a mirror alone would turn round.

    >>> from shapely.geometry import MultiPolygon, box
    >>> mirror_area(MultiPolygon([box(0, 0, 10, 5)]), width_mm=100.0).bounds
    (90.0, 0.0, 100.0, 5.0)
    """

    def across(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack((width_mm - points[:, 0], points[:, 1]))

    return shapely.reverse(shapely.transform(area, across))


def turn_points(points: NDArray[np.float64], block: Region) -> NDArray[np.float64]:
    """Turn places on the face (n x 2, mm) by half about the block's middle."""
    left, top, right, bottom = block.bounds
    return np.asarray((left + right, top + bottom)) - points


def turn_area(area: Area, block: Region) -> Area:
    """Turn areas on the face by half about the block's middle: where they lie when the block is laid down so.

    >>> from shapely.geometry import MultiPolygon, box
    >>> turn_area(MultiPolygon([box(0, 0, 10, 5)]), box(-5, -5, 105, 65)).bounds
    (90.0, 55.0, 100.0, 60.0)
    """
    return shapely.transform(area, lambda points: turn_points(points, block))
