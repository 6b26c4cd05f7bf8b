"""The area that each ink prints: its shapes, run under their darker neighbours by the trap.

A transparent ink that runs under a darker neighbour is hidden by it; under a lighter one or over bare paper
it would show. So the trap grows only from the common edge with a darker shape and only inside darker shapes
that are printed, whichever of the two is printed first. Under a dark line, a shape that is nowhere as wide as
two traps, it stops a little past the middle. A dark shape that is thin only in parts gets the whole trap, so
at its thin places a lighter ink can reach the far edge. Slots that would be left between two traps of one ink
are closed and inner corners rounded, so that at such places the ink goes a little farther than the trap.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import lru_cache
from hashlib import blake2b

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from blockwright.separation.edges import SharedEdges

QUAD_SEGS = 16
"""Segments to a quarter circle: at a trap of 0.5 mm the curve is flat to 0.0006 mm."""

_CORNER_SEGS = 4
"""Segments to the quarter circles that round inner corners: flat to 0.004 mm at half a slot."""

_PIECE_SEGMENTS = 8
"""Lines are grown in pieces of this many segments; found by trial on smooth and on ragged edges."""

PAST_MIDDLE_MM = 0.1
"""How far past the middle of a dark line a trap goes, mm [CP]: inks from both sides then meet with a lap."""

SLOT_MM = 0.4
"""Slots narrower than this between two traps of one ink are closed, mm [CP]: no gouge clears them, and what
they would leave bare is under a darker ink anyway."""

_CIRCLE_MM = 0.02
"""Accuracy of the largest circle in a dark line, mm: a fifth of PAST_MIDDLE_MM."""

_FAR_SIDE_MM = 0.02
"""How far the far side of a trap may lie from its exact place, mm: much less than any register."""

_CRUMB_MM2 = 1.0e-6
"""Pieces of trap smaller than this are rounding, mm2."""

_GRID_MM = 1.0e-6
"""Where outlines are untangled their corners lie on a grid of this size, mm: nothing that is seen."""

_AREA_SLACK_MM2 = 1.0e-5
"""A union whose area differs by more than this from its parts' sum has gone wrong, mm2."""

_LINES_KEPT = 4096
"""Widths of lines that a process remembers: several prints' worth, a hundred bytes and a polygon each."""

_AREAS_KEPT = 128
"""Areas that a process remembers, for what the next edit leaves alone: some prints' worth of impressions."""


@dataclass(frozen=True, slots=True)
class _Told:
    """What a costly step is done with, known by a digest of all its numbers."""

    digest: bytes
    value: NDArray[np.object_] = field(compare=False)


@dataclass(frozen=True, slots=True)
class _Growth:
    """Segments (n, 2, 2) and how far each is grown, mm, known by a digest of both."""

    digest: bytes
    ends: NDArray[np.float64] = field(compare=False)
    reach: NDArray[np.float64] = field(compare=False)


def _digest(*parts: bytes) -> bytes:
    return blake2b(b"".join(parts), digest_size=16).digest()


def _dissolve(parts: NDArray[np.object_]) -> NDArray[np.object_]:
    """Union of polygons that share edges vertex for vertex, as single polygons.

    The quick union for coverages does not check what it is given, so its result is checked here; the general
    union takes its place where it fails.
    """
    try:
        union = shapely.coverage_union_all(parts)
    except shapely.errors.GEOSException:
        union = None  # Traps from several colours of one impression cross one another.
    whole_mm2 = float(shapely.area(parts).sum())
    if union is None or not (union.is_valid and abs(union.area - whole_mm2) < _AREA_SLACK_MM2):
        # Edges that all but touch are made one, or the mirrored block would cross itself by rounding.
        union = shapely.union_all(parts, grid_size=_GRID_MM)
    return _polygons(np.array([union], dtype=object))


def _polygons(geometries: NDArray[np.object_]) -> NDArray[np.object_]:
    """All polygons that are worth keeping out of any geometries, collections opened."""
    flat = shapely.get_parts(shapely.get_parts(geometries))
    kept: NDArray[np.object_] = flat[(shapely.get_dimensions(flat) == 2) & (shapely.area(flat) > _CRUMB_MM2)]
    return kept


@lru_cache(maxsize=_LINES_KEPT)
def _half_width_mm(shape: _Told) -> float:
    """The radius of the largest circle in a shape, mm."""
    return float(shapely.length(shapely.maximum_inscribed_circle(shape.value[0], tolerance=_CIRCLE_MM)))


def _reaches(regions: NDArray[np.object_], known: list[bytes], trap_mm: float) -> NDArray[np.float64]:
    """How far a trap may go under each dark shape, mm: the trap, less under a line.

    ``known`` are the shapes' digests: the same line lies beside several lighter shapes.
    """
    reach = np.full(len(regions), trap_mm)
    # The largest circle in a shape has at least the radius area / outline, which spares most shapes the
    # search.
    for k in np.flatnonzero(shapely.area(regions) < trap_mm * shapely.length(regions)):
        reach[k] = min(trap_mm, _half_width_mm(_Told(known[k], regions[k : k + 1])) + PAST_MIDDLE_MM)
    return reach


def _lines(
    points: NDArray[np.float64], begins: NDArray[np.bool_], joins: NDArray[np.bool_]
) -> NDArray[np.object_]:
    """Points in a row as lines: a new line at every point that ``begins``; one that ``joins`` is in both."""
    again = np.flatnonzero(joins)
    line = np.cumsum(begins | joins) - 1
    lines: NDArray[np.object_] = shapely.linestrings(
        np.insert(points, again, points[again], axis=0), indices=np.insert(line, again, line[again] - 1)
    )
    return lines


def _chains(
    ends: NDArray[np.float64], reach: NDArray[np.float64]
) -> tuple[NDArray[np.object_], NDArray[np.float64]]:
    """Segments of one reach as lines, joined where one begins at the end of the one before; their reaches."""
    broken = np.any(ends[1:, 0] != ends[:-1, 1], axis=1) | (reach[1:] != reach[:-1])
    first = np.flatnonzero(np.concatenate([[True], broken]))
    points = np.insert(ends[:, 1], first, ends[first, 0], axis=0)
    begins = np.zeros(len(points), dtype=np.bool_)
    begins[first + np.arange(len(first))] = True
    return _lines(points, begins, np.zeros_like(begins)), reach[first]


def _pieces(
    lines: NDArray[np.object_], reach: NDArray[np.float64]
) -> tuple[NDArray[np.object_], NDArray[np.float64]]:
    """Lines cut into short ones, and their reaches.

    Growing a long line that turns more often than it is to be grown takes GEOS minutes; short pieces take a
    moment, and so does their union.
    """
    points, line = shapely.get_coordinates(lines, return_index=True)
    begins = np.concatenate([[True], line[1:] != line[:-1]])
    place = np.arange(len(points)) - np.flatnonzero(begins)[line]
    joins = (place % _PIECE_SEGMENTS == 0) & ~begins & ~np.append(begins[1:], True)
    return _lines(points, begins, joins), reach[line[begins | joins]]


@lru_cache(maxsize=_AREAS_KEPT)
def _band(growth: _Growth) -> NDArray[np.object_]:
    """All points within reach of the segments, slots closed, as single polygons; one reach a segment, mm.

    Growing too far and coming back closes slots and rounds inner corners. Nothing is seen of the far side of
    a trap, so it is kept simple on the way, which is what makes this quick; the edges stay well inside.
    """
    slack = min(_FAR_SIDE_MM, float(growth.reach.min()) / 10.0)
    chains, chain_reach = _chains(growth.ends, growth.reach)
    pieces, piece_reach = _pieces(shapely.simplify(chains, slack / 2.0, preserve_topology=False), chain_reach)
    parts = shapely.buffer(pieces, piece_reach + SLOT_MM / 2.0, quad_segs=QUAD_SEGS)
    # Coming back mends what a simplification that does not look at its neighbours may cross.
    grown = shapely.simplify(shapely.disjoint_subset_union_all(parts), slack / 2.0, preserve_topology=False)
    band = shapely.buffer(grown, -SLOT_MM / 2.0, quad_segs=_CORNER_SEGS)
    return _polygons(np.array([band], dtype=object))


def _touched(band: NDArray[np.object_], regions: NDArray[np.object_]) -> NDArray[np.int64]:
    """The places of the regions that the band may reach, in order."""
    _, touched = shapely.STRtree(regions).query(band)
    return np.unique(touched)


@lru_cache(maxsize=_AREAS_KEPT)
def _run_under(growth: _Growth, darker: _Told) -> NDArray[np.object_]:
    """What of a band lies in darker shapes, which are all that it reaches."""
    # Dissolving first leaves no seam between neighbouring dark shapes that would have to be closed again.
    ground = _dissolve(darker.value)
    band = _band(growth)
    left, right = shapely.STRtree(ground).query(band, predicate="intersects")
    return _polygons(shapely.intersection(band[left], ground[right]))


@lru_cache(maxsize=_AREAS_KEPT)
def _with_traps(own: _Told, traps: tuple[_Told, ...]) -> MultiPolygon:
    """Shapes of one impression with their traps."""
    return _attached(_dissolve(np.concatenate([own.value, *(each.value for each in traps)])), own.value)


def _attached(parts: NDArray[np.object_], own: NDArray[np.object_]) -> MultiPolygon:
    """Of the dissolved parts those that hold a shape of the ink itself."""
    holders, _ = shapely.STRtree(shapely.point_on_surface(own)).query(parts, predicate="contains")
    return MultiPolygon(list(parts[np.unique(holders)]))


def printing_areas(
    regions: NDArray[np.object_],
    *,
    covers: NDArray[np.bool_],
    rank: NDArray[np.int64],
    trap_mm: NDArray[np.float64],
    edges: SharedEdges,
) -> tuple[MultiPolygon, ...]:
    """The area of every impression with its traps, mm.

    ``regions`` are the shapes of a coverage; ``covers`` tells which impression prints which of them
    (impressions, shapes); ``rank`` gives each shape's colour, counted from the lightest (0) to the darkest,
    -1 for bare paper; ``trap_mm`` has one trap an impression; ``edges`` are the shapes' common edges.

    From each shape that it prints an impression runs under darker ones that it does not print. Each area
    holds its own shapes whole, and no part of the paper.

    What was worked out is remembered in the process: after an edit only what it touches is done again.
    """
    of_first, of_second = rank[edges.first], rank[edges.second]
    known = [_digest(wkb) for wkb in shapely.to_wkb(regions)]

    def told(places: NDArray[np.int64]) -> _Told:
        return _Told(_digest(*(known[k] for k in places)), regions[places])

    def trap_from(covered: NDArray[np.bool_], colour: int, widest_mm: float) -> _Told | None:
        """What runs under darker shapes from the shapes of one colour."""
        one, other = covered[edges.first], covered[edges.second]
        chosen = np.flatnonzero(
            (one & ~other & (of_first == colour) & (of_second > colour))
            | (other & ~one & (of_second == colour) & (of_first > colour))
        )
        if not len(chosen):
            return None
        dark = np.where(of_first[chosen] > colour, edges.first[chosen], edges.second[chosen])
        met, place = np.unique(dark, return_inverse=True)
        ends, reach = edges.ends[chosen], _reaches(regions[met], [known[k] for k in met], widest_mm)[place]
        growth = _Growth(_digest(ends.tobytes(), reach.tobytes()), ends, reach)
        darker = np.flatnonzero((rank > colour) & ~covered)
        ground = told(darker[_touched(_band(growth), regions[darker])])
        return _Told(_digest(growth.digest, ground.digest), _run_under(growth, ground))

    def area_of(impression: int) -> MultiPolygon:
        covered, widest_mm = covers[impression], float(trap_mm[impression])
        own = told(np.flatnonzero(covered))
        colours = np.unique(rank[covered]).tolist() if widest_mm > 0.0 else []
        found = (trap_from(covered, colour, widest_mm) for colour in colours)
        return _with_traps(own, tuple(each for each in found if each is not None))

    # GEOS works without holding the interpreter, so threads use all cores; the order stays as given.
    with ThreadPoolExecutor() as pool:
        return tuple(pool.map(area_of, range(len(covers))))
