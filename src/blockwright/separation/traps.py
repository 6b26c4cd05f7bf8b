"""The area that each ink prints: its shapes, run under their darker neighbours by the trap.

A transparent ink that runs under a darker neighbour is hidden by it; under a lighter one or over bare paper
it would show. So the trap grows only from the common edge with a darker shape and only inside darker shapes
that are printed, whichever of the two is printed first. Where a dark shape is thinner than two traps, it
stops a little past the middle. Under the lines of the key it goes to their middle however wide they are, up
to a setting. Slots that would be left between two traps of one ink are closed and inner corners rounded, so
that at such places the ink goes a little farther than the trap.
"""

from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from blockwright.separation.edges import SharedEdges
from blockwright.separation.middles import (
    PAST_MIDDLE_MM,
    Beside,
    Frame,
    beside,
    beyond,
    frame_of,
    side,
    thin_part,
)
from blockwright.separation.remembered import Told, dissolve, polygons, without
from blockwright.separation.remembering import digest, remembered

QUAD_SEGS = 16
"""Segments to a quarter circle: at a trap of 0.5 mm the curve is flat to 0.0006 mm."""

_CORNER_SEGS = 4
"""Segments to the quarter circles that round inner corners: flat to 0.004 mm at half a slot."""

_PIECE_SEGMENTS = 8
"""Lines are grown in pieces of this many segments; found by trial on smooth and on ragged edges."""

SLOT_MM = 0.4
"""Slots narrower than this between two traps of one ink are closed, mm [CP]: no gouge clears them, and what
they would leave bare is under a darker ink anyway."""

_CIRCLE_MM = 0.02
"""Accuracy of the largest circle in a dark line, mm: a fifth of PAST_MIDDLE_MM."""

_FAR_SIDE_MM = 0.02
"""How far the far side of a trap may lie from its exact place, mm: much less than any register."""

_HAIR_MM = 0.02
"""Slots and spikes of a cut band that are thinner than this are taken out, mm: less than drawings hold."""

_LINES_KEPT = 4096
"""Widths of lines that a process remembers: several prints' worth, a hundred bytes and a polygon each."""

_AREAS_KEPT = 128
"""Areas that a process remembers, for what the next edit leaves alone: some prints' worth of impressions."""


@dataclass(frozen=True, slots=True)
class KeyShapes:
    """The shapes that the key prints, (shapes,) bool, and the width up to which its parts are lines, mm."""

    shapes: NDArray[np.bool_]
    widest_mm: float


@dataclass(frozen=True, slots=True)
class _Growth:
    """Segments (n, 2, 2) and how far each is grown, mm, known by a digest of both."""

    digest: bytes
    ends: NDArray[np.float64] = field(compare=False)
    reach: NDArray[np.float64] = field(compare=False)


@remembered(_LINES_KEPT)
def _half_width_mm(shape: Told) -> float:
    """The radius of the largest circle in a shape, mm."""
    return float(shapely.length(shapely.maximum_inscribed_circle(shape.value[0], tolerance=_CIRCLE_MM)))


def _reach_mm(shape: Told, trap_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far traps may go under a dark shape, mm: as asked, less under one that is a line all over."""
    outlined = shape.value[0]
    # The largest circle in a shape has at least the radius area / outline, which spares most shapes the
    # search.
    if outlined.area >= float(trap_mm.max()) * outlined.length:
        return trap_mm
    return np.minimum(trap_mm, _half_width_mm(shape) + PAST_MIDDLE_MM)


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


@remembered(_AREAS_KEPT)
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
    return polygons(np.array([band], dtype=object))


def _touched(band: NDArray[np.object_], regions: NDArray[np.object_]) -> NDArray[np.int64]:
    """The places of the regions that the band may reach, in order."""
    _, touched = shapely.STRtree(regions).query(band)
    return np.unique(touched)


@dataclass(frozen=True, slots=True)
class _Thin:
    """The thin dark shapes beside an ink: those it keeps past the middle of, and those it closes up to."""

    kept: tuple[Beside, ...]
    closed: tuple[Beside, ...]

    @property
    def digest(self) -> bytes:
        return digest(*(each.digest for each in self.kept), b"closed", *(each.digest for each in self.closed))


@remembered(_AREAS_KEPT)
def _run_under(growth: _Growth, darker: Told, thin: _Thin) -> NDArray[np.object_]:
    """What of a band lies in darker shapes, which are all that it reaches, up to the middle of thin ones.

    Under lines that the ink closes up to, it goes to their middle also where the band ends before it.
    """
    # Dissolving first leaves no seam between neighbouring dark shapes that would have to be closed again.
    ground, band = dissolve(darker.value), _band(growth)
    if closed := [part for each in thin.closed for part in side(each)]:
        # Grown a little, what is closed overlaps the band, so that their union leaves no seam.
        grown = shapely.buffer(np.array(closed, dtype=object), _FAR_SIDE_MM, quad_segs=2)
        band = polygons(np.array([shapely.disjoint_subset_union_all(np.concatenate([band, grown]))]))
    if kept_out := [part for each in thin.kept for part in beyond(each)]:
        band = without(band, np.array(kept_out, dtype=object))
    if closed or kept_out:
        band = _without_hairs(band)
    left, right = shapely.STRtree(ground).query(band, predicate="intersects")
    return polygons(shapely.intersection(band[left], ground[right]))


def _without_hairs(band: NDArray[np.object_]) -> NDArray[np.object_]:
    """A band without the slots and spikes, thinner than a hair, that cutting leaves."""
    opened = shapely.buffer(shapely.buffer(band, -_HAIR_MM / 2.0, quad_segs=2), _HAIR_MM, quad_segs=2)
    whole = shapely.disjoint_subset_union_all(opened)
    return polygons(np.array([shapely.buffer(whole, -_HAIR_MM / 2.0, quad_segs=2)]))


@remembered(_AREAS_KEPT)
def _with_traps(own: Told, traps: tuple[Told, ...]) -> MultiPolygon:
    """Shapes of one impression with their traps."""
    return _attached(dissolve(np.concatenate([own.value, *(each.value for each in traps)])), own.value)


def _attached(parts: NDArray[np.object_], own: NDArray[np.object_]) -> MultiPolygon:
    """Of the dissolved parts those that hold a shape of the ink itself."""
    holders, _ = shapely.STRtree(shapely.point_on_surface(own)).query(parts, predicate="contains")
    return MultiPolygon(list(parts[np.unique(holders)]))


@dataclass(frozen=True, slots=True)
class _Dark:
    """The dark shapes that can lie beside an ink, those of the key that meet joined: one entry a polygon.

    ``of_shape`` tells for each shape of the design which entry it belongs to; ``key`` which are the key's.
    """

    told: tuple[Told, ...]
    of_shape: NDArray[np.int64]
    key: NDArray[np.bool_]
    widest_mm: float
    frame: Frame


def _dark_shapes(regions: NDArray[np.object_], known: list[bytes], key: KeyShapes | None) -> _Dark:
    frame = frame_of(regions)
    alone = [Told(known[k], regions[k : k + 1]) for k in range(len(regions))]
    of_shape = np.arange(len(regions))
    if key is None or not key.shapes.any():
        return _Dark(tuple(alone), of_shape, np.zeros(len(regions), dtype=np.bool_), 0.0, frame)
    own = np.flatnonzero(key.shapes)
    joined = dissolve(regions[own])
    inside = shapely.point_on_surface(regions[own])
    shape, into = shapely.STRtree(joined).query(inside, predicate="intersects")
    of_shape[own[shape]] = len(regions) + into
    told = [Told(digest(wkb), joined[k : k + 1]) for k, wkb in enumerate(shapely.to_wkb(joined))]
    is_key = np.arange(len(alone) + len(told)) >= len(alone)
    return _Dark((*alone, *told), of_shape, is_key, key.widest_mm, frame)


@dataclass(frozen=True, slots=True)
class _Edge:
    """Segments beside darker shapes that one ink runs under: the entry of the shape, trap, whether closed.

    ``outlines`` are the outlines' segments that they are, or are stretches of.
    """

    ends: NDArray[np.float64]
    outlines: NDArray[np.float64]
    dark: NDArray[np.int64]
    trap_mm: NDArray[np.float64]
    closes: NDArray[np.bool_]


def _thin_ones(edge: _Edge, dark: _Dark, thinner_mm: NDArray[np.float64]) -> _Thin:
    """The dark shapes beside an ink that are thin somewhere; ``thinner_mm`` has the width for each entry."""
    kept, closed = [], []
    for k in np.unique(edge.dark).tolist():
        at, shape = edge.dark == k, dark.told[k]
        if len(thin_part(shape, float(thinner_mm[k]))):
            kept.append(beside(shape, edge.outlines[at], frame=dark.frame, thinner_mm=float(thinner_mm[k])))
        closing = at & edge.closes
        if dark.key[k] and closing.any() and len(thin_part(shape, dark.widest_mm)):
            closed.append(beside(shape, edge.outlines[closing], frame=dark.frame, thinner_mm=dark.widest_mm))
    return _Thin(tuple(kept), tuple(closed))


def _reaches(edge: _Edge, dark: _Dark) -> NDArray[np.float64]:
    """How far each segment is grown, mm."""
    reach = edge.trap_mm.copy()
    for k in np.unique(edge.dark).tolist():
        at = edge.dark == k
        reach[at] = _reach_mm(dark.told[k], reach[at])
    return reach


def printing_areas(
    regions: NDArray[np.object_],
    *,
    covers: NDArray[np.bool_],
    rank: NDArray[np.int64],
    trap_mm: NDArray[np.float64],
    edges: SharedEdges,
    key: KeyShapes | None = None,
    closes: NDArray[np.bool_] | None = None,
    turned: NDArray[np.bool_] | None = None,
) -> tuple[MultiPolygon, ...]:
    """The area of every impression with its traps, mm.

    ``regions`` are the shapes of a coverage; ``covers`` tells which impression prints which of them
    (impressions, shapes); ``rank`` gives each shape's colour, counted from the lightest (0) to the darkest,
    -1 for bare paper; ``edges`` are the shapes' common edges; ``trap_mm`` has one trap an impression, or one
    an impression and segment of an edge (impressions, segments). ``key`` tells the shapes of the key: under
    its lines an ink goes to the middle where ``closes`` says so (impressions, segments), by default
    everywhere. ``turned`` (segments,) tells where the other way round than by their ranks the darker runs
    under the lighter, as a gradation does where it is thin; nowhere by default.

    From each shape that it prints an impression runs under darker ones that it does not print. Each area
    holds its own shapes whole, and no part of the paper.

    What was worked out is remembered (:mod:`blockwright.separation.remembering`): after an edit only what it
    touches is done again.
    """
    of_first, of_second = rank[edges.first], rank[edges.second]
    other_way = np.zeros(len(of_first), dtype=np.bool_) if turned is None else turned
    first_under = np.where(other_way, of_first > of_second, of_first < of_second)
    second_under = np.where(other_way, of_first < of_second, of_first > of_second)
    known = [digest(wkb) for wkb in shapely.to_wkb(regions)]
    dark = _dark_shapes(regions, known, key)
    each_mm = trap_mm[:, None] if trap_mm.ndim == 1 else trap_mm
    traps = np.broadcast_to(each_mm, (len(covers), len(edges.first)))
    closing = np.broadcast_to(True if closes is None else closes, traps.shape)
    # One width for each dark shape, whichever ink lies beside it: its thin parts are searched once.
    thinner_mm = np.where(dark.key, dark.widest_mm, 0.0)
    widest_trap_mm = traps.max(axis=0, initial=0.0)
    for shape in (edges.first, edges.second):
        np.maximum.at(thinner_mm, dark.of_shape[shape], 2.0 * widest_trap_mm)

    def told(places: NDArray[np.int64]) -> Told:
        return Told(digest(*(known[k] for k in places)), regions[places])

    def trap_from(impression: int, colour: int) -> Told | None:
        """What runs under darker shapes from the shapes of one colour."""
        covered, wanted_mm = covers[impression], traps[impression]
        one, other = covered[edges.first], covered[edges.second]
        chosen = np.flatnonzero(
            (wanted_mm > 0.0)
            & (
                (one & ~other & (of_first == colour) & first_under)
                | (other & ~one & (of_second == colour) & second_under)
            )
        )
        if not len(chosen):
            return None
        under = np.where(one[chosen], edges.second[chosen], edges.first[chosen])
        edge = _Edge(
            edges.ends[chosen],
            edges.outlines[chosen],
            dark.of_shape[under],
            wanted_mm[chosen],
            closing[impression, chosen],
        )
        reach, thin = _reaches(edge, dark), _thin_ones(edge, dark, thinner_mm)
        growth = _Growth(digest(edge.ends.tobytes(), reach.tobytes()), edge.ends, reach)
        # Not into what lies beyond a thin neighbour: there another edge decides, or none.
        darker = np.flatnonzero(~covered & np.isin(dark.of_shape, edge.dark))
        ground = told(darker[_touched(_band(growth), regions[darker])])
        done = digest(growth.digest, ground.digest, thin.digest)
        return Told(done, _run_under(growth, ground, thin))

    def area_of(impression: int) -> MultiPolygon:
        covered = covers[impression]
        own = told(np.flatnonzero(covered))
        colours = np.unique(rank[covered]).tolist()
        found = (trap_from(impression, colour) for colour in colours)
        return _with_traps(own, tuple(each for each in found if each is not None))

    # GEOS works without holding the interpreter, so threads use all cores; the order stays as given.
    with ThreadPoolExecutor() as pool:
        # Every thread looks up and writes down where this one does.
        drawing = [pool.submit(copy_context().run, area_of, k) for k in range(len(covers))]
        return tuple(each.result() for each in drawing)
