"""The surface that a routed face should have: how deep, how far from the nearest wood that stays.

A place of the waste is as deep as it is far from the wood that stays: a wall that leans outwards first, then
a floor that gets deeper with the distance. What stays is at z = 0: what prints, the wood round the marks,
islands, and the wood that the sheet does not reach.
"""

from dataclasses import dataclass
from math import radians, tan

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import MultiPolygon, Polygon

from blockwright.model.units import Area, Region

OVER_RIM_MM = 4.0
"""How far waste that runs out over the block's rim is worked past it, mm [CP]."""


@dataclass(frozen=True, slots=True)
class Floor:
    """How deep the waste is, by its distance from the wood that stays, mm.

    Walls lean outwards by ``wall_deg`` from the face [pub: practitioner's notes]; beyond them the
    depth is ``least_mm`` and ``growth`` times the distance, ``most_mm`` at most [der; Fletcher 1916].
    """

    wall_deg: float
    least_mm: float
    growth: float
    most_mm: float

    @property
    def slope(self) -> float:
        """The wall's fall for each mm away from the edge."""
        return tan(radians(self.wall_deg))

    @property
    def foot_mm(self) -> float:
        """How far from the edge the wall reaches the least depth.

        >>> round(Floor(45.0, 1.5, 0.1, 4.5).foot_mm, 3)
        1.5
        """
        return self.least_mm / self.slope

    def depth_mm(self, away_mm: ArrayLike) -> NDArray[np.float64]:
        """The depth below the face at a distance from the wood that stays.

        >>> Floor(45.0, 1.5, 0.1, 4.5).depth_mm([0.0, 1.0, 10.0, 50.0]).round(9).tolist()
        [0.0, 1.0, 2.5, 4.5]
        """
        away = np.maximum(np.asarray(away_mm, dtype=np.float64), 0.0)
        level = np.clip(self.least_mm + self.growth * away, self.least_mm, self.most_mm)
        return np.minimum(away * self.slope, level)


def area_to_work(clear: Area, block: Region) -> Area:
    """The area over which a bit may be, at whatever depth: what is cleared, and past the rim where that does.

    A bit may run out over the rim where the waste reaches it, and nowhere else.
    """
    around = shapely.difference(shapely.buffer(block, OVER_RIM_MM, join_style="mitre"), block)
    rim = shapely.intersection(shapely.buffer(clear, 1e-3), block.exterior)
    beside = shapely.intersection(shapely.buffer(rim, OVER_RIM_MM, cap_style="flat"), around)
    return as_polygons(shapely.union_all([clear, beside]))


def as_polygons(geometry: shapely.Geometry) -> Area:
    """The polygons of any geometry, as one area.

    >>> as_polygons(shapely.box(0, 0, 2, 1)).area
    2.0
    """
    parts = shapely.get_parts(shapely.make_valid(geometry), return_index=False)
    deep = shapely.get_parts(parts)
    return MultiPolygon([part for part in deep if isinstance(part, Polygon) and not part.is_empty])


def shrunk(work: Area, by_mm: float, *, stray_mm: float = 0.004) -> Area:
    """The places of an area at least ``by_mm`` from its edge, to about ``stray_mm``."""
    return as_polygons(shapely.buffer(shapely.simplify(work, stray_mm), -by_mm, quad_segs=16))


def grown(area: Area, by_mm: float, *, stray_mm: float = 0.004) -> Area:
    """The places at most ``by_mm`` from an area, to about ``stray_mm``."""
    return as_polygons(shapely.buffer(shapely.simplify(area, stray_mm), by_mm, quad_segs=16))
