"""The one mirroring of the whole job, from the print to the face; and the half turn of a block.

A face that presses the sheet's back is not mirrored: what was mirrored is turned over again, its marks
too.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from blockwright.model.blocks import BlockSet, Face, FromTheBack, Kento
from blockwright.model.units import Area, PointMm, Region

_GRID_MM = 1.0e-6
"""Where outlines all but touch, their corners come onto a grid of this size, mm: nothing that is seen."""


def move_area(area: Area, move: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> Area:
    """Carry areas to where ``move`` carries their corners (n x 2, mm), so that they stay valid.

    Moving rounds, and a corner that lies on an edge to the last digit would cross it. Such areas are brought
    onto a fine grid first, on which nothing lies so near to anything else.
    """
    moved = shapely.transform(area, move)
    if moved.is_valid:
        return moved
    parts = shapely.get_parts(shapely.get_parts(shapely.set_precision(area, _GRID_MM)))
    settled = MultiPolygon([part for part in parts if part.geom_type == "Polygon"])
    return shapely.transform(settled, move)


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

    return shapely.reverse(move_area(area, across))


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
    return move_area(area, lambda points: turn_points(points, block))


def turn_over(face: Face, *, width_mm: float) -> Face:
    """A face as it must be to press the sheet's back: the sheet lies face up, so that nothing is mirrored."""
    parts = tuple(
        replace(part, printing=mirror_area(part.printing, width_mm=width_mm)) for part in face.parts
    )
    printing = mirror_area(face.printing, width_mm=width_mm)
    return replace(face, printing=printing, parts=parts, mirrored=False)


def from_the_back(blocks: BlockSet) -> FromTheBack:
    """Block, sheet and marks for such faces: the same corner of the sheet seats in the kagi, from the other
    side.
    """
    width_mm = blocks.image_width_mm
    kento = blocks.kento
    (start, corner, end), (near, far) = kento.kagi_wall, kento.hikitsuke_wall
    return FromTheBack(
        block=_mirror_region(blocks.block, width_mm),
        sheet=_mirror_region(blocks.sheet, width_mm),
        kento=Kento(
            kagi=mirror_point(kento.kagi, width_mm=width_mm),
            hikitsuke=mirror_point(kento.hikitsuke, width_mm=width_mm),
            kagi_wall=(
                mirror_point(start, width_mm=width_mm),
                mirror_point(corner, width_mm=width_mm),
                mirror_point(end, width_mm=width_mm),
            ),
            hikitsuke_wall=(mirror_point(near, width_mm=width_mm), mirror_point(far, width_mm=width_mm)),
            kagi_recess=_mirror_region(kento.kagi_recess, width_mm),
            hikitsuke_recess=_mirror_region(kento.hikitsuke_recess, width_mm),
            depth_mm=kento.depth_mm,
        ),
    )


def _mirror_region(region: Region, width_mm: float) -> Region:
    mirrored: Region = mirror_area(shapely.MultiPolygon([region]), width_mm=width_mm).geoms[0]
    return mirrored
