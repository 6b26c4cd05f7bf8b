"""Coverages: polygons that share their edges vertex for vertex, without gap or overlap.

The predicates are GEOS's (through shapely), after the OGC Simple Features definition of a valid coverage.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.geometry.arcs import Arcs, trace_arcs
from blockwright.geometry.edges import place_edges
from blockwright.geometry.labelling import label_regions

SIMPLIFY_PX = 0.08
"""How far a simplified edge may lie from the smoothed one, in pixels; 0.007 mm at 300 dpi."""

_END_PX = 4
"""Cracks at each end of an arc that follow the lattice when its smooth form would cross a neighbour."""

_ASIDE_PX = 1e-4
"""Where a region is looked for beside its arc; far less than any segment is long."""


@dataclass(frozen=True, slots=True)
class Coverage:
    """Polygons (shapely, object array) with the label of each, in mm."""

    polygons: NDArray[np.object_]
    labels: NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class CoverageCheck:
    """What was measured of a coverage against the rectangle that it should fill; areas in mm2."""

    valid: bool
    gap_mm2: float
    overlap_mm2: float


def _as_lines(
    points: NDArray[np.float64], start: NDArray[np.int64], closed: NDArray[np.bool_]
) -> NDArray[np.object_]:
    """One LineString an arc; closed arcs get their first point again at the end."""
    counts = np.diff(start)
    shift = np.concatenate([[0], np.cumsum(closed)])
    where = np.arange(len(points)) + np.repeat(shift[:-1], counts)
    full = np.empty((len(points) + int(closed.sum()), 2))
    full[where] = points
    ends = (start + shift)[1:][closed] - 1
    full[ends] = points[start[:-1][closed]]
    owner = np.repeat(np.arange(len(counts)), counts + closed)
    lines: NDArray[np.object_] = shapely.linestrings(full, indices=owner)
    return lines


@dataclass(frozen=True, slots=True)
class _Ends:
    """Which node each arc starts and ends at (-1: none), and where nodes lie, settled and on the lattice."""

    first: NDArray[np.int64]
    last: NDArray[np.int64]
    settled: NDArray[np.float64]
    lattice: NDArray[np.float64]

    @classmethod
    def of(cls, arcs: Arcs, points: NDArray[np.float64], start: NDArray[np.int64]) -> "_Ends":
        open_arcs = np.flatnonzero(~arcs.closed)
        ends = np.concatenate(
            [arcs.points[arcs.start[open_arcs]], arcs.points[arcs.start[open_arcs + 1] - 1]]
        )
        moved = np.concatenate([points[start[open_arcs]], points[start[open_arcs + 1] - 1]])
        lattice, index, node = np.unique(ends, axis=0, return_index=True, return_inverse=True)
        first = np.full(len(arcs.left), -1, np.int64)
        last = first.copy()
        first[open_arcs], last[open_arcs] = np.split(node.reshape(-1), 2)
        return cls(first, last, moved[index], lattice.astype(np.float64))

    def touching(self, arcs: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Nodes at the ends of the given arcs."""
        nodes = np.zeros(len(self.lattice), bool)
        for end in (self.first, self.last):
            nodes[end[arcs & (end >= 0)]] = True
        return nodes


@dataclass(frozen=True, slots=True)
class _Drawing:
    """Every arc in three versions, each less smooth and less likely to cross its neighbours than the last.

    0: smoothed and simplified, ending at the settled junctions. 1: smoothed between its ends, which follow
    the pixel lattice. 2: the lattice itself, which cannot cross.
    """

    arcs: Arcs
    smooth: NDArray[np.object_]
    simple: NDArray[np.object_]
    ends: _Ends

    def _half_lattice(self, arc: int) -> NDArray[np.float64]:
        chain = self._lattice(arc)
        smooth = shapely.get_coordinates(self.smooth[arc])
        if self.ends.first[arc] < 0 or len(chain) < 4 * _END_PX:
            return smooth if self.ends.first[arc] < 0 else chain
        reach = np.array([np.linalg.norm(smooth - end, axis=1) for end in (chain[0], chain[-1])])
        inner = np.flatnonzero((reach > 1.5 * _END_PX).all(axis=0))
        if len(inner) < 2:
            return chain
        return np.vstack([chain[:_END_PX], smooth[inner[0] : inner[-1] + 1], chain[-_END_PX:]])

    def _lattice(self, arc: int) -> NDArray[np.float64]:
        return self.arcs.points[self.arcs.start[arc] : self.arcs.start[arc + 1]].astype(np.float64)

    def lines(self, level: NDArray[np.int64]) -> NDArray[np.object_]:
        """The arcs at the given levels (0, 1, 2); lattice ends pull the junctions they meet back to it."""
        drawn = self.simple.copy()
        pinned = self.ends.touching(level > 0)
        meets = level > 0
        for end in (self.ends.first, self.ends.last):
            meets[end >= 0] |= pinned[end[end >= 0]]
        for arc in np.flatnonzero(meets).tolist():
            if level[arc] == 2:
                chain = self._lattice(arc)
            elif level[arc] == 1:
                chain = self._half_lattice(arc)
            else:
                chain = shapely.get_coordinates(drawn[arc])
                for place, end in ((0, self.ends.first[arc]), (-1, self.ends.last[arc])):
                    if pinned[end]:
                        chain[place] = self.ends.lattice[end]
            drawn[arc] = shapely.LineString(chain)
        return drawn


def _crossing(lines: NDArray[np.object_]) -> NDArray[np.bool_]:
    """Arcs that cross themselves or another arc, or run along one, anywhere but at a shared junction."""
    bad: NDArray[np.bool_] = ~shapely.is_simple(lines)
    tree = shapely.STRtree(lines)
    for predicate in ("crosses", "overlaps", "covers"):
        one, other = tree.query(lines, predicate=predicate)
        apart = one != other
        bad[one[apart]] = True
        bad[other[apart]] = True
    return bad


def _beside(lines: NDArray[np.object_], on_left: NDArray[np.bool_]) -> NDArray[np.object_]:
    """A point just left or right (y down) of the longest segment of each line."""
    points, owner = shapely.get_coordinates(lines, return_index=True)
    step = np.diff(points, axis=0)
    length = np.where(np.diff(owner) == 0, np.linalg.norm(step, axis=1), -1.0)
    longest = np.lexsort([length, owner[:-1]])
    longest = longest[np.searchsorted(owner[:-1][longest], np.arange(len(lines)), side="right") - 1]
    along = step[longest] / np.maximum(length[longest, None], 1e-12)
    aside = np.stack([along[:, 1], -along[:, 0]], axis=1) * np.where(on_left, 1.0, -1.0)[:, None]
    middle = 0.5 * (points[longest] + points[longest + 1])
    result: NDArray[np.object_] = shapely.points(middle + _ASIDE_PX * aside)
    return result


@dataclass(frozen=True, slots=True)
class _Sides:
    """Which region lies on either side of each arc (``count`` stands for outside)."""

    left: NDArray[np.int64]
    right: NDArray[np.int64]
    count: int

    def polygons_of_regions(
        self, polygons: NDArray[np.object_], lines: NDArray[np.object_]
    ) -> NDArray[np.int64]:
        """For every region the polygon found beside its longest arc, or -1."""
        arc = np.tile(np.arange(len(lines)), 2)
        region = np.concatenate([self.left, self.right])
        order = np.lexsort([shapely.length(lines)[arc], region])
        last = np.searchsorted(region[order], np.arange(self.count), side="right") - 1
        chosen = order[last]
        beside = _beside(lines[arc[chosen]], chosen < len(lines))
        found = np.full(self.count, -1, np.int64)
        hit, polygon = shapely.STRtree(polygons).query(beside, predicate="within")
        found[hit] = polygon
        return found


def _without_crossings(
    drawing: _Drawing, regions: NDArray[np.int32], count: int
) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """One polygon for every region; arcs that cross, or bound a wrong polygon, are drawn less smoothly."""
    arcs = drawing.arcs
    flat = regions.reshape(-1)
    left = np.where(arcs.left >= 0, flat[arcs.left], count)
    right = np.where(arcs.right >= 0, flat[arcs.right], count)
    sides = _Sides(left, right, count)
    level = np.zeros(len(arcs.left), np.int64)
    while True:
        lines = drawing.lines(level)
        bad = _crossing(lines) & (level < 2)
        if not bad.any():
            polygons = np.array(shapely.get_parts(shapely.polygonize(lines)))
            found = sides.polygons_of_regions(polygons, lines)
            times = np.bincount(found[found >= 0], minlength=len(polygons))
            wrong = np.append((found < 0) | (times[found] != 1), False)
            wrong[:-1][found >= 0] |= ~shapely.is_valid(polygons[found[found >= 0]])
            bad = (wrong[left] | wrong[right]) & (level < 2)
            if len(polygons) != count and not bad.any():
                bad = level < 2
            if not bad.any():
                return polygons, found
        level[bad] += 1


def trace_coverage(
    labels: NDArray[np.uint8],
    image: NDArray[np.uint8],
    palette_rgb: NDArray[np.float64],
    *,
    pixels_per_mm: float,
    smoothing_mm: float,
) -> Coverage:
    """Turn a label map into polygons in mm whose edges lie where the colours meet.

    ``labels`` (H, W) uint8; ``image`` (H, W, 3) uint8 from which the edges' sub-pixel places are read;
    ``palette_rgb`` (n, 3) on the 0..255 scale. Every connected region gives exactly one polygon. Arcs that
    would cross a neighbour once smoothed are taken back to the pixel lattice, which cannot cross.

    >>> labels = np.zeros((8, 8), np.uint8); labels[:, 4:] = 1
    >>> image = np.where(labels[:, :, None] == 1, 255, 0).astype(np.uint8).repeat(3, axis=2)
    >>> palette = np.array([[0.0] * 3, [255.0] * 3])
    >>> coverage = trace_coverage(labels, image, palette, pixels_per_mm=2.0, smoothing_mm=0.5)
    >>> sorted(float(polygon.area) for polygon in coverage.polygons)
    [8.0, 8.0]
    """
    height, width = labels.shape
    regions, area, label_of = label_regions(labels)
    if len(area) == 1:
        whole = np.array([shapely.box(0, 0, width / pixels_per_mm, height / pixels_per_mm)], dtype=object)
        return Coverage(whole, label_of)
    arcs = trace_arcs(labels)
    smoothing_px = max(smoothing_mm * pixels_per_mm, 0.6)
    points, start = place_edges(arcs, labels, image, palette_rgb, smoothing_px=smoothing_px)
    smooth = _as_lines(points, start, arcs.closed)
    lines = shapely.simplify(smooth, SIMPLIFY_PX, preserve_topology=False)
    ends = _Ends.of(arcs, points, start)
    loops = arcs.closed | ((ends.first == ends.last) & (ends.first >= 0))
    few = loops & (shapely.get_num_coordinates(lines) < 5)
    lines[few] = smooth[few]
    polygons, found = _without_crossings(_Drawing(arcs, smooth, lines, ends), regions, len(area))
    in_mm = shapely.transform(polygons[found], lambda xy: xy / pixels_per_mm)
    return Coverage(in_mm, label_of)


def check_coverage(polygons: NDArray[np.object_], *, width_mm: float, height_mm: float) -> CoverageCheck:
    """Measure gaps and overlaps of polygons that should fill the rectangle from (0, 0).

    >>> two = np.array([shapely.box(0, 0, 1, 1), shapely.box(1, 0, 3, 1)])
    >>> check_coverage(two, width_mm=3.0, height_mm=1.0)
    CoverageCheck(valid=True, gap_mm2=0.0, overlap_mm2=0.0)
    """
    valid = bool(shapely.coverage_is_valid(polygons))
    union = shapely.coverage_union_all(polygons) if valid else shapely.unary_union(polygons)
    frame = shapely.box(0.0, 0.0, width_mm, height_mm)
    gap = frame.difference(union).area
    overlap = float(shapely.area(polygons).sum()) - union.area
    # Sums of many areas carry rounding of about 1e-9 of the whole; less than that is nothing.
    noise = 1e-9 * frame.area
    return CoverageCheck(valid, gap if gap > noise else 0.0, overlap if overlap > noise else 0.0)
