"""Lanes of the registration marks, whose walls stand upright, and of the block's chamfered rim."""

from math import radians, tan

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from blockwright.cutting.lanes import Lane
from blockwright.model.router import Bit
from blockwright.model.units import PointMm, Region

_LAP = 0.45
"""From one round of a recess to the next, as a part of the bit's diameter [CP]."""

_SHARP = 1e-6


def mark_lanes(
    recess: Region, bit: Bit, *, depth_mm: float, corner: tuple[PointMm, PointMm, PointMm] | None
) -> list[Lane]:
    """Lanes of a flat bit that let a recess into the wood to its walls, from its middle out.

    ``corner`` are the walls that meet where the sheet's corner seats, the corner in the middle. A round bit
    leaves wood there, on which a square corner of paper would ride up; so the bit goes on into it until its
    edge reaches the corner. Raises ValueError when the bit does not fit into the recess.
    """
    rings: list[NDArray[np.float64]] = []
    inner = shapely.buffer(recess, -bit.radius_mm, join_style="mitre")
    if inner.is_empty:
        raise ValueError("the bit does not fit into the recess")
    relief = None if corner is None else into_corner(corner, bit.radius_mm)
    outermost = True
    while not inner.is_empty:
        for part in shapely.get_parts(shapely.orient_polygons(inner)):
            points = shapely.get_coordinates(part.exterior)[:-1]
            if outermost and relief is not None:
                points = _into_corner(points, *relief)
            rings.append(points)
        outermost = False
        inner = shapely.buffer(inner, -_LAP * bit.diameter_mm, join_style="mitre")
    return [
        Lane(np.column_stack([points, np.full(len(points), -depth_mm)]), True, (depth_mm,))
        for points in reversed(rings)
    ]


def into_corner(
    corner: tuple[PointMm, PointMm, PointMm], radius: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the bit's middle stands in the corner of two square walls, and how far it goes on into it."""
    one, at, other = (np.asarray(place, dtype=np.float64) for place in corner)
    ways = [(place - at) / max(float(np.linalg.norm(place - at)), _SHARP) for place in (one, other)]
    inward = ways[0] + ways[1]
    return at + radius * inward, at + radius * inward / np.linalg.norm(inward)


def _into_corner(
    points: NDArray[np.float64], stand: NDArray[np.float64], reach: NDArray[np.float64]
) -> NDArray[np.float64]:
    """A ring with a way into the corner and back where it comes by."""
    nearest = int(((points - stand) ** 2).sum(axis=1).argmin())
    return np.vstack([points[: nearest + 1], [reach], points[nearest:]])


def rim_lane(block: Region, bit: Bit, *, chamfer_mm: float) -> Lane | None:
    """The lane of a V bit that takes off the block's upper rim; None for any other bit.

    The rim is taken off by so much across the face, at the bit's own slope.
    """
    if bit.kind != "V" or chamfer_mm <= 0.0:
        return None
    half = tan(radians(bit.angle_deg / 2.0))
    depth = min(chamfer_mm / half, bit.cutting_mm)
    outline = shapely.buffer(block, bit.tip_mm / 2.0, join_style="mitre")
    assert isinstance(outline, Polygon)
    # With the wood to the right, as everywhere.
    points = shapely.get_coordinates(shapely.orient_polygons(outline).exterior)[:-1][::-1]
    return Lane(np.column_stack([points, np.full(len(points), -depth)]), True)
