"""Innermost rings: as much of them as the ring around them leaves something for.

Where rings from two sides meet, the last one runs there and back with less than a step between, and what it
clears lies within reach of the one side alone. So of a ring that has none within it only the shortest stretch
is gone from which the bit still clears all that the ring around it left; where that is nothing, none of it.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry import Polygon

from blockwright.cutting.rounding import left_within, rounded
from blockwright.cutting.wanted import shrunk
from blockwright.model.units import Area, Region

_OVERLAP_MM = 0.05
"""What a ring is taken to clear less than its bit is wide, so that no thread is left between two."""

_SAMPLE_MM = 0.3
"""Places along rings and of what is to be cleared lie at most so far apart."""

_LEAST_MM = 3.0
"""No stretch is shorter than this; rings that are are too short to come down along."""


@dataclass(frozen=True, slots=True, eq=False)
class Inner:
    """Polygons that are gone all the way round, and stretches of rings that are enough for the others."""

    rings: tuple[Region, ...]
    open: tuple[shapely.Geometry, ...]


def innermost(
    region: Area,
    inner: Area,
    step_over_mm: float,
    radius_mm: float,
    *,
    around: Area | None = None,
    most_shift_mm: float = 0.0,
) -> Inner:
    """What is gone of the rings of a region that lies ``step_over_mm`` within the ring around it.

    ``inner`` is the region of the next rings; a polygon with one of those in it is gone all the way round.
    With ``around``, what the ring around was gone round, sharp corners are rounded where that leads no
    farther than ``most_shift_mm`` from it.
    """
    whole, ways = [], []
    outside = None if around is None or most_shift_mm <= 0.0 else left_within(around, radius_mm)
    tree = shapely.STRtree(list(inner.geoms))
    for part in region.geoms:
        soft = part
        if outside is not None:
            soft = rounded(part, outside, step_over_mm, radius_mm, most_shift_mm)
        if len(tree.query(part, predicate="intersects")):
            whole.append(soft)
            continue
        # What the ring around this one does not reach.
        left = shrunk(shapely.MultiPolygon([part]), radius_mm - _OVERLAP_MM - step_over_mm)
        if left.is_empty:
            continue
        if part.length < _LEAST_MM:
            # Half a step from it the bit is still within the ring around it, and can come down on the way.
            x, y = part.representative_point().coords[0]
            ways.append(shapely.linestrings([(x, y), (x + step_over_mm / 2.0, y)]))
            continue
        found = _enough(soft, left, radius_mm - _OVERLAP_MM)
        if found is not None:
            ways += found
        elif soft is not part and shapely.covers(soft.boundary.buffer(radius_mm - _OVERLAP_MM), left):
            whole.append(soft)
        else:
            whole.append(part)
    return Inner(tuple(whole), tuple(ways))


def _enough(part: Polygon, left: Area, radius_mm: float) -> list[shapely.Geometry] | None:
    """Stretches of a polygon's rings from which a round of some radius covers what is left; None for all."""
    rings = sorted(
        shapely.get_rings(shapely.orient_polygons(part)).tolist(), key=lambda ring: -shapely.length(ring)
    )
    open_rings = [shapely.linestrings(shapely.get_coordinates(ring)) for ring in rings]
    wanted = _places(left)
    ways: list[shapely.Geometry] = []
    for k, ring in enumerate(open_rings):
        # The longest ring is shortened first: what the shorter ones clear is theirs.
        theirs = [*open_rings[k + 1 :], *ways]
        mine = wanted
        if theirs:
            mine = wanted[shapely.distance(shapely.union_all(theirs), shapely.points(wanted)) > radius_mm]
        if not len(mine):
            continue
        stretch = _stretch(ring, mine, radius_mm)
        if stretch is None:
            return None
        ways.append(stretch)
    cut = shapely.union_all(shapely.buffer(ways, radius_mm + _OVERLAP_MM / 2.0, quad_segs=16))
    return ways if shapely.covers(cut, left) else None


def _places(area: Area) -> NDArray[np.float64]:
    """Places along the edge of an area, (n, 2)."""
    places: NDArray[np.float64] = shapely.get_coordinates(
        shapely.segmentize(shapely.boundary(area), _SAMPLE_MM)
    )
    return places


def _stretch(
    ring: shapely.Geometry, wanted: NDArray[np.float64], radius_mm: float
) -> shapely.Geometry | None:
    """The shortest stretch of a closed line within reach of all places; None where that is all of it."""
    length = float(shapely.length(ring))
    count = max(8, int(np.ceil(length / _SAMPLE_MM)))
    along = np.arange(count) * (length / count)
    places = shapely.get_coordinates(shapely.line_interpolate_point(ring, along))
    hits = cKDTree(places).query_ball_point(wanted, radius_mm)
    counts = np.array([len(each) for each in hits])
    if not counts.all():
        return None
    flat = np.concatenate([np.asarray(each, dtype=np.int64) for each in hits])
    of = np.repeat(np.arange(len(wanted)), counts)
    order = np.argsort(flat, kind="stable")
    first = np.searchsorted(flat[order], np.arange(count + 1))
    begin, size = _shortest(first, of[order], len(wanted))
    if size >= count:
        return None
    # Long enough to come down along.
    return _between(ring, along[begin], max((size - 1) * length / count, min(_LEAST_MM, length)), length)


@njit(cache=True, nogil=True)
def _shortest(first, of, wanted):  # type: ignore[no-untyped-def]
    """The shortest row of places round a ring that between them reach every wanted one: begin and size."""
    count = len(first) - 1
    seen = np.zeros(wanted, dtype=np.int64)
    met, best_begin, best_size = 0, 0, count
    end = 0
    for begin in range(count):
        while met < wanted and end < begin + count:
            k = end % count
            for j in range(first[k], first[k + 1]):
                if seen[of[j]] == 0:
                    met += 1
                seen[of[j]] += 1
            end += 1
        if met == wanted and end - begin < best_size:
            best_begin, best_size = begin, end - begin
        for j in range(first[begin], first[begin + 1]):
            seen[of[j]] -= 1
            if seen[of[j]] == 0:
                met -= 1
    return best_begin, best_size


def _between(ring: shapely.Geometry, begin: float, size: float, length: float) -> shapely.Geometry:
    """A stretch of a closed line, over its first point if it must."""
    points = shapely.get_coordinates(ring)
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    points, at = np.vstack([points, points[1:]]), np.concatenate([at, at[1:] + length])
    inside = (at > begin + 1e-6) & (at < begin + size - 1e-6)
    ends = np.column_stack([np.interp([begin, begin + size], at, points[:, axis]) for axis in range(2)])
    return shapely.linestrings(np.vstack([ends[:1], points[inside], ends[1:]]))


__all__ = ["Inner", "innermost"]
