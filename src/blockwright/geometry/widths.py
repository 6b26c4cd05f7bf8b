"""Places of an area that are narrower than a given width: lines that will not stand, necks that break."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.model.units import PointMm

_SLACK = 1.03
"""An opening by round offsets loses a little to their facets; 3 % keeps true edges out of the result."""

_TIP = 3.0
"""A pointed end is always narrow: it counts only when larger than this many squares of the width."""

_KEPT = 4096
"""Polygons whose places a process remembers: several prints' worth, some kB each."""

_TOUCH_MM = 0.01
"""Parts nearer than this touch; above the tolerance of the edges, below any width asked for."""


@dataclass(frozen=True, slots=True)
class NarrowPlace:
    """A narrow part: its polygon, a point inside, mean width, area, and whether it joins two parts."""

    polygon: int
    at: PointMm
    width_mm: float
    area_mm2: float
    neck: bool


def _joins(pieces: NDArray[np.object_], opened: shapely.Geometry) -> NDArray[np.bool_]:
    """Whether each piece touches more than one part of what is wide enough of its polygon."""
    touching = shapely.intersection(shapely.buffer(pieces, _TOUCH_MM, quad_segs=2), opened)
    several: NDArray[np.bool_] = shapely.get_num_geometries(touching) > 1
    return several


def narrow_places(polygons: NDArray[np.object_], *, width_mm: float) -> list[NarrowPlace]:
    """Every line, neck or tongue of the polygons that is narrower than ``width_mm``, worst first.

    What remains of a polygon after shrinking and growing it by half the width is wide enough; the rest is
    narrow. Sharp corners leave small remains too, which are not reported. The process remembers the places of
    a polygon, so that after an edit only what it touches is searched again.

    >>> bar = shapely.union_all([shapely.box(0, 0, 4, 4), shapely.box(4, 2, 8, 2.2), shapely.box(8, 0, 9, 4)])
    >>> [(place.neck, round(place.width_mm, 1)) for place in narrow_places(np.array([bar]), width_mm=0.5)]
    [(True, 0.2)]
    """
    if width_mm <= 0:
        return []
    places = [
        replace(place, polygon=k)
        for k, polygon in enumerate(polygons)
        for place in _places_of(polygon, float(width_mm))
    ]
    return sorted(places, key=lambda place: (place.width_mm, place.at))


@lru_cache(maxsize=_KEPT)
def _places_of(whole: shapely.Geometry, width_mm: float) -> tuple[NarrowPlace, ...]:
    """The narrow places of one polygon, numbered 0."""
    half = 0.5 * width_mm
    # Offsetting costs by the vertex: a twentieth of the width is more than precise enough here.
    polygon = shapely.make_valid(shapely.simplify(whole, 0.05 * width_mm))
    opened = shapely.buffer(shapely.buffer(polygon, -half, quad_segs=4), _SLACK * half, quad_segs=4)
    pieces = shapely.get_parts(shapely.difference(polygon, opened))
    area = shapely.area(pieces)
    length = 0.5 * shapely.length(pieces)
    large = np.flatnonzero(area > 0.02 * width_mm**2)
    necks = _joins(pieces[large], opened)
    # A corner's tip is no neck, and is narrow in every shape that is wide elsewhere.
    told = necks | opened.is_empty | (area[large] >= _TIP * width_mm**2)
    inside = shapely.get_coordinates(shapely.point_on_surface(pieces[large[told]]))
    return tuple(
        NarrowPlace(0, (float(x), float(y)), float(area[k] / length[k]), float(area[k]), bool(neck))
        for k, neck, (x, y) in zip(large[told], necks[told], inside, strict=True)
    )
