"""From smooth arcs to one polygon for every region, with no arc across another.

Smoothing moves neighbouring arcs apart from one another's knowledge, so that in narrow places two of them
can cross. Where they do, and only there, both go back to the middles of the pixels' cracks, which keep
clear of each other; what still crosses goes back to the lattice itself, which cannot.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.geometry.arcs import Arcs
from blockwright.geometry.edges import PlacedEdges

SIMPLIFY_PX = 0.08
"""How far a simplified edge may lie from the smoothed one, in pixels; 0.007 mm at 300 dpi."""

_REACHES_PX = (6.0, 16.0)
"""How far from a crossing an arc goes back to the cracks at the first and the second try, in pixels."""

_WHOLE, _LATTICE = len(_REACHES_PX) + 1, len(_REACHES_PX) + 2
"""Levels at which a whole arc follows the cracks, and the lattice."""

_ASIDE_PX = 1e-4
"""Where a region is looked for beside its arc; far less than any segment is long."""


@dataclass(frozen=True, slots=True)
class _Ends:
    """Which node each arc starts and ends at (-1: none)."""

    first: NDArray[np.int64]
    last: NDArray[np.int64]
    count: int

    @classmethod
    def of(cls, arcs: Arcs) -> "_Ends":
        open_arcs = np.flatnonzero(~arcs.closed)
        ends = np.concatenate(
            [arcs.points[arcs.start[open_arcs]], arcs.points[arcs.start[open_arcs + 1] - 1]]
        )
        lattice, node = np.unique(ends, axis=0, return_inverse=True)
        first = np.full(len(arcs.left), -1, np.int64)
        last = first.copy()
        first[open_arcs], last[open_arcs] = np.split(node.reshape(-1), 2)
        return cls(first, last, len(lattice))


class _Drawing:
    """The arcs as they are drawn now: every vertex between its smooth and its rough place."""

    def __init__(self, arcs: Arcs, placed: PlacedEdges) -> None:
        self.arcs = arcs
        self.placed = placed
        self.ends = _Ends.of(arcs)
        self.level = np.zeros(len(arcs.left), np.int64)
        self._roughness = np.zeros(len(placed.smooth))
        self._loop = arcs.closed | ((self.ends.first == self.ends.last) & (self.ends.first >= 0))
        self._pinned = np.zeros(self.ends.count, bool)
        self.lines = np.empty(len(arcs.left), object)
        self._draw(np.arange(len(arcs.left)))

    def _slice(self, arc: int) -> slice:
        return slice(int(self.placed.start[arc]), int(self.placed.start[arc + 1]))

    def _draw(self, which: NDArray[np.int64]) -> None:
        lattice = self.level[which] == _LATTICE
        for arc in which[lattice].tolist():
            chain = self.arcs.points[self.arcs.start[arc] : self.arcs.start[arc + 1]]
            self.lines[arc] = shapely.LineString(chain.astype(np.float64))
        usual = which[~lattice]
        if not len(usual):
            return
        start, counts = self.placed.start, np.diff(self.placed.start)
        own = np.repeat(usual, counts[usual])
        within = np.arange(len(own)) - np.repeat(np.cumsum(counts[usual]) - counts[usual], counts[usual])
        vertex = start[own] + within
        share = self._roughness[vertex][:, None]
        points = (1.0 - share) * self.placed.smooth[vertex] + share * self.placed.rough[vertex]
        for end, place in ((self.ends.first, within == 0), (self.ends.last, within == counts[own] - 1)):
            to_lattice = place & (end[own] >= 0) & self._pinned[end[own]]
            points[to_lattice] = self.placed.rough[vertex[to_lattice]]
        self.lines[usual] = self._as_lines(points, np.searchsorted(usual, own), usual)

    def _as_lines(
        self, points: NDArray[np.float64], owner: NDArray[np.int64], which: NDArray[np.int64]
    ) -> NDArray[np.object_]:
        """Simplified lines; closed arcs get their first point again at the end."""
        closed = np.flatnonzero(self.arcs.closed[which])
        first = np.searchsorted(owner, closed)
        order = np.argsort(np.concatenate([owner, closed]), kind="stable")
        full = np.concatenate([points, points[first]])[order]
        smooth = shapely.linestrings(full, indices=np.concatenate([owner, closed])[order])
        lines = shapely.simplify(smooth, SIMPLIFY_PX, preserve_topology=False)
        few = self._loop[which] & (shapely.get_num_coordinates(lines) < 5)
        lines[few] = smooth[few]
        result: NDArray[np.object_] = lines
        return result

    def roughen(self, arcs: NDArray[np.bool_], crossings: dict[int, NDArray[np.float64]]) -> None:
        """Draw the given arcs less smoothly: near their crossings where known, otherwise all along."""
        chosen = np.flatnonzero(arcs)
        self.level[chosen] += 1
        for arc in chosen.tolist():
            here = self._slice(arc)
            level = self.level[arc]
            if level < _WHOLE and arc in crossings:
                gap = self.placed.rough[here][:, None] - crossings[arc][None]
                reach = _REACHES_PX[level - 1]
                nearest = np.sqrt((gap**2).sum(axis=2)).min(axis=1)
                share = np.clip((1.6 * reach - nearest) / (0.6 * reach), 0.0, 1.0)
                self._roughness[here] = np.maximum(self._roughness[here], share)
            else:
                self.level[arc] = max(level, _WHOLE)
                self._roughness[here] = 1.0
            for end, vertex in ((self.ends.first[arc], here.start), (self.ends.last[arc], here.stop - 1)):
                if end >= 0 and self._roughness[vertex] > 0.0:
                    self._roughness[vertex] = 1.0
                    self._pinned[end] = True
        touched = arcs.copy()
        for end in (self.ends.first, self.ends.last):
            touched[end >= 0] |= self._pinned[end[end >= 0]]
        self._draw(np.flatnonzero(touched))


_INSIDE_ONE_ANOTHER = "T********"
"""Lines that share more than an end of either (the first place of the matrix of OGC Simple Features)."""


def _apart(one: NDArray[np.object_], other: NDArray[np.object_]) -> NDArray[np.object_]:
    """Where pairs of lines meet, but for the ends that both of them have."""
    ends_one = shapely.multipoints(np.stack([shapely.get_point(one, 0), shapely.get_point(one, -1)], axis=1))
    ends_other = shapely.multipoints(
        np.stack([shapely.get_point(other, 0), shapely.get_point(other, -1)], axis=1)
    )
    shared = shapely.intersection(ends_one, ends_other)
    met: NDArray[np.object_] = shapely.difference(shapely.intersection(one, other), shared)
    return met


def _find_crossings(lines: NDArray[np.object_]) -> tuple[NDArray[np.bool_], dict[int, NDArray[np.float64]]]:
    """Arcs that cross or run along themselves or another anywhere but at a shared junction, and where."""
    bad = np.zeros(len(lines), bool)
    places: dict[int, list[NDArray[np.float64]]] = {}
    shapely.prepare(lines)
    one, other = shapely.STRtree(lines).query(lines)
    one, other = one[one < other], other[one < other]
    inside = shapely.relate_pattern(lines[one], lines[other], _INSIDE_ONE_ANOTHER)
    one, other = one[inside], other[inside]
    for arc, neighbour, met in zip(one, other, _apart(lines[one], lines[other]), strict=True):
        for each in (int(arc), int(neighbour)):
            bad[each] = True
            places.setdefault(each, []).append(shapely.get_coordinates(met))
    for arc in np.flatnonzero(~shapely.is_simple(lines)).tolist():
        bad[arc] = True
        points, times = np.unique(
            shapely.get_coordinates(shapely.get_parts(shapely.node(lines[arc]))), axis=0, return_counts=True
        )
        places.setdefault(arc, []).append(points[times > 2])
    found = {arc: np.concatenate(each) for arc, each in places.items()}
    return bad, {arc: points for arc, points in found.items() if len(points)}


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

    def around(self, regions: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Arcs that bound any of the regions."""
        chosen = np.append(regions, False)
        result: NDArray[np.bool_] = chosen[self.left] | chosen[self.right]
        return result


def _wrong_regions(found: NDArray[np.int64], polygons: NDArray[np.object_], count: int) -> NDArray[np.bool_]:
    """Regions without a polygon, with another's, or with one that is not valid."""
    times = np.bincount(found[found >= 0], minlength=len(polygons))
    wrong = np.ones(count, bool)
    known = found >= 0
    wrong[known] = (times[found[known]] != 1) | ~shapely.is_valid(polygons[found[known]])
    return wrong


def polygons_without_crossings(
    arcs: Arcs, placed: PlacedEdges, regions: NDArray[np.int32], count: int
) -> NDArray[np.object_]:
    """One polygon in pixels for each of the ``count`` regions, in their order.

    ``regions`` (H, W) numbers the pixels' regions. Every arc is used by both of its sides, so that the
    polygons are a valid coverage.
    """
    flat = regions.reshape(-1)
    sides = _Sides(
        np.where(arcs.left >= 0, flat[arcs.left], count),
        np.where(arcs.right >= 0, flat[arcs.right], count),
        count,
    )
    drawing = _Drawing(arcs, placed)
    while True:
        bad, crossings = _find_crossings(drawing.lines)
        bad &= drawing.level < _LATTICE
        if bad.any():
            drawing.roughen(bad, crossings)
            continue
        polygons = np.array(shapely.get_parts(shapely.polygonize(drawing.lines)))
        found = sides.polygons_of_regions(polygons, drawing.lines)
        bad = sides.around(_wrong_regions(found, polygons, count)) & (drawing.level < _LATTICE)
        if len(polygons) != count and not bad.any():
            bad = drawing.level < _LATTICE
        if not bad.any():
            result: NDArray[np.object_] = polygons[found]
            return result
        drawing.roughen(bad, {})
