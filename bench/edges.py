"""The edges of a tiling: lines that part two colours, and the junctions where three or more meet.

Works on any areas that tile a rectangle, so that the true shapes of the demonstration picture and the shapes
that were found in it go through the very same measure. GEOS (through shapely) does the noding.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

GRID_MM = 1e-4
"""Lines are noded on this grid: overlays leave common edges apart by rounding. A thousandth of a pixel at
300 dpi."""

_PROBE_MM = 1e-3
"""How far beside an edge its two colours are looked up."""

OUTSIDE = -1
"""Stands for the ground outside the rectangle."""


@dataclass(frozen=True, slots=True)
class Edges:
    """Lines in mm, the two colours beside each (smaller number first), and junctions (n, 2) in mm."""

    lines: NDArray[np.object_]
    colours: NDArray[np.int64]
    junctions: NDArray[np.float64]

    @property
    def inner(self) -> "Edges":
        """All but the lines on the rectangle."""
        return self.only(np.asarray(self.colours[:, 0] != OUTSIDE))

    def only(self, keep: NDArray[np.bool_]) -> "Edges":
        """The chosen lines, with all junctions."""
        return Edges(self.lines[keep], self.colours[keep], self.junctions)


def edges_of(areas: Sequence[BaseGeometry], colours: Sequence[int]) -> Edges:
    """The edges between areas of different colour, and those on the rectangle (colour OUTSIDE).

    ``areas`` are polygons or multipolygons in mm that tile a rectangle; ``colours`` gives each a number of 0
    or more. Areas of one colour that touch have no edge between them.

    >>> from shapely.geometry import box
    >>> edges = edges_of([box(0, 0, 1, 2), box(1, 0, 2, 1), box(1, 1, 2, 2)], [0, 1, 2])
    >>> inner = edges.colours[:, 0] != OUTSIDE
    >>> sorted(shapely.length(edges.lines[inner]).tolist()), len(edges.junctions)
    ([1.0, 1.0, 1.0], 4)
    """
    parts, owner = shapely.get_parts(np.asarray(areas, dtype=object), return_index=True)
    noded = shapely.unary_union(shapely.boundary(parts), grid_size=GRID_MM)
    lines = np.asarray(shapely.get_parts(noded))
    beside = _colours_beside(lines, parts, np.asarray(colours)[owner])
    real = beside[:, 0] != beside[:, 1]
    lines, beside = lines[real], beside[real]
    return Edges(*_joined(lines, beside), _junctions(lines, beside))


def _joined(
    lines: NDArray[np.object_], colours: NDArray[np.int64]
) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """Noding cuts lines into short pieces: join them again between junctions."""
    pairs, which = np.unique(colours, axis=0, return_inverse=True)
    bundles = [shapely.line_merge(shapely.multilinestrings(lines[which == k])) for k in range(len(pairs))]
    joined, pair = shapely.get_parts(bundles, return_index=True)
    return np.asarray(joined), pairs[pair]


def _colours_beside(
    lines: NDArray[np.object_], parts: NDArray[np.object_], colours: NDArray[np.int64]
) -> NDArray[np.int64]:
    """The colours on either side of the longest segment of each line, smaller number first."""
    points, line = shapely.get_coordinates(lines, return_index=True)
    step = np.diff(points, axis=0)
    length = np.where(np.diff(line) == 0, np.hypot(step[:, 0], step[:, 1]), -1.0)
    order = np.lexsort([length, line[:-1]])
    longest = order[np.searchsorted(line[:-1][order], np.arange(len(lines)), side="right") - 1]
    middle = (points[longest] + points[longest + 1]) / 2
    along = step[longest] / length[longest, None]
    aside = _PROBE_MM * np.column_stack([-along[:, 1], along[:, 0]])
    tree = shapely.STRtree(parts)
    beside = np.full((len(lines), 2), OUTSIDE)
    for side, places in enumerate((middle + aside, middle - aside)):
        place, part = tree.query(shapely.points(places), predicate="intersects")
        beside[place, side] = colours[part]
    return np.sort(beside, axis=1)


def _junctions(lines: NDArray[np.object_], colours: NDArray[np.int64]) -> NDArray[np.float64]:
    """Points where lines end that part three or more colours among them, the outside counted as one."""
    ends = shapely.get_coordinates([shapely.get_point(lines, 0), shapely.get_point(lines, -1)])
    # Noding puts all ends on the grid, so that equal means near.
    places, place = np.unique(np.rint(ends / GRID_MM).astype(np.int64), axis=0, return_inverse=True)
    ending = np.concatenate([np.tile(colours[:, 0], 2), np.tile(colours[:, 1], 2)])
    met = np.column_stack([np.tile(place.reshape(-1), 2), ending])
    at, count = np.unique(np.unique(met, axis=0)[:, 0], return_counts=True)
    return np.asarray(places[at[count >= 3]] * GRID_MM, dtype=np.float64)


def points_along(lines: NDArray[np.object_], *, step: float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Points evenly along lines, about ``step`` apart, never at their ends; and which line each is on.

    >>> line = shapely.linestrings([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]])
    >>> points_along(np.array([line]), step=1.0)[0].tolist()
    [[0.5, 0.0], [1.0, 0.5]]
    """
    if not len(lines):
        return np.empty((0, 2)), np.empty(0, np.int64)
    points, line = shapely.get_coordinates(lines, return_index=True)
    segment = np.where(np.diff(line) == 0, np.linalg.norm(np.diff(points, axis=0), axis=1), 0.0)
    along = np.concatenate([[0.0], np.cumsum(segment)])
    first = np.searchsorted(line, np.arange(len(lines)), side="left")
    last = np.searchsorted(line, np.arange(len(lines)), side="right") - 1
    length = along[last] - along[first]
    count = np.maximum(np.rint(length / step).astype(np.int64), 1)
    which = np.repeat(np.arange(len(lines)), count)
    place = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    at = along[first][which] + (place + 0.5) / count[which] * length[which]
    return np.column_stack([np.interp(at, along, points[:, axis]) for axis in (0, 1)]), which


def segments_of(lines: NDArray[np.object_]) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """The straight segments of lines, and which line each comes from."""
    points, line = shapely.get_coordinates(lines, return_index=True)
    same = line[1:] == line[:-1]
    pairs = np.stack([points[:-1][same], points[1:][same]], axis=1)
    return np.asarray(shapely.linestrings(pairs)), line[:-1][same]
