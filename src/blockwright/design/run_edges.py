"""Edges that a run could go along: where the outermost band of a gradation meets what is not part of it."""

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.geometry.coverage import Coverage
from blockwright.model.units import PointMm

_SIMPLE_MM = 0.08
"""How far an edge may lie off once it is drawn with fewer points, mm: what a brush does not follow."""

_MOST_POINTS = 300
"""An edge with more points is drawn more simply."""

_LEAST_MM = 8.0
"""A shorter edge guides no brush, mm."""

_MOST_EDGES = 6
"""Edges that are tried, the longest first."""

_GAP_SHARE = 0.2
"""Parts of an edge with a gap of less than this part of their length are one edge, interrupted."""


def _joined(line: shapely.Geometry) -> NDArray[np.float64] | None:
    """The parts of an edge in a row; the longest alone where they lie far apart."""
    merged = shapely.line_merge(line)
    parts = [shapely.get_coordinates(part) for part in shapely.get_parts(merged) if shapely.length(part) > 0]
    if not parts:
        return None
    parts.sort(key=lambda p: -_length(p))
    row: NDArray[np.float64] = parts.pop(0)
    while parts:
        gaps = [
            (float(np.hypot(*(a - b))), k, at_end, turned)
            for k, part in enumerate(parts)
            for at_end, a in ((True, row[-1]), (False, row[0]))
            for turned, b in ((False, part[0 if at_end else -1]), (True, part[-1 if at_end else 0]))
        ]
        gap, k, at_end, turned = min(gaps)
        if gap > _GAP_SHARE * (_length(row) + _length(parts[k])):
            break
        part = parts.pop(k)[:: -1 if turned else 1]
        row = np.concatenate([row, part] if at_end else [part, row])
    return row


def _length(points: NDArray[np.float64]) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def edges_along(
    coverage: Coverage, regions: NDArray[np.int64], colours: NDArray[np.float64]
) -> list[tuple[PointMm, ...]]:
    """Edges of a group of regions that its colours might run away from, as lines of points in mm.

    ``colours`` (n, 3) are the regions' mean colours: the run begins or ends at the region that is most unlike
    the others. Tried are that region's whole outer edge, away from the rest of the group, and the part of the
    group's outline that it shares with each shape beside it.
    """
    apart = np.linalg.norm(colours[:, None] - colours[None], axis=2)
    first, second = (int(k) for k in np.unravel_index(int(np.nanargmax(apart)), apart.shape))
    polygons = coverage.polygons[regions]
    group = shapely.union_all(polygons)
    frame = shapely.box(*shapely.total_bounds(coverage.polygons)).exterior
    outline = shapely.difference(group.boundary, shapely.buffer(frame, 1e-3))
    lines = [shapely.intersection(outline, polygons[end].boundary) for end in (first, second)]
    tree = shapely.STRtree(coverage.polygons)
    around = np.setdiff1d(tree.query(group, predicate="intersects"), regions)
    shared = shapely.intersection(shapely.boundary(coverage.polygons[around]), outline)
    longest = np.argsort(-shapely.length(shared), kind="stable")[:_MOST_EDGES]
    lines += [shared[k] for k in longest]
    found: list[tuple[PointMm, ...]] = []
    for line in lines:
        row = _joined(line)
        if row is None or _length(row) < _LEAST_MM:
            continue
        edge_line, slack = shapely.linestrings(row), _SIMPLE_MM
        while shapely.get_num_coordinates(simpler := shapely.simplify(edge_line, slack)) > _MOST_POINTS:
            slack *= 2.0
        simple = shapely.get_coordinates(simpler)
        edge = tuple((float(x), float(y)) for x, y in simple)
        if edge not in found:
            found.append(edge)
    return found
