"""The middle of a dark shape's thin parts: how far each of its sides reaches there.

Where a shape is narrower than a given width, every point of it belongs to the nearest part of its outline.
The points that belong to the outline beside one ink are that ink's side; two sides meet on the medial axis,
which is the middle of a line whatever its width and wherever it swells, tapers or forks (Blum 1967). The
outline is sampled, and the sides are the cells of the samples' Voronoi diagram (Brandt and Algazi 1992).
"""

from dataclasses import dataclass, field
from functools import lru_cache
from itertools import chain

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Voronoi

from blockwright.separation.remembered import Told, dissolve, polygons, without
from blockwright.separation.remembering import digest, remembered

PAST_MIDDLE_MM = 0.1
"""How far past the middle of a dark line a trap goes, mm [CP]: inks from both sides then meet with a lap."""

_SAMPLE_MM = 0.15
"""Samples of an outline lie at most this far apart, mm: the middle of a line of 0.25 mm is off by 0.02."""

_STEPS_MM = 0.02
"""The steps that samples make in a middle are taken out up to this, mm: a fifth of the lap past it."""

_SPIKE_MM = 0.6
"""Spikes of a side that are thinner than this are rounded off, mm [CP]: nothing hidden is carved finer."""

_MOSTLY = 0.9
"""A side that would lose more than a tenth of its area stays as it is."""

_OPENING_SLACK = 1.02
"""An opening by round offsets loses a little to their facets; 2 % keeps true edges out of what is thin."""

_SEGS = 8
"""Segments to the quarter circles of an opening."""

_SHAPES_KEPT = 4096
"""Thin parts and diagrams that a process remembers: several prints' worth."""

_ON_FRAME_MM = 1.0e-6
"""An outline this near the picture's frame lies on it, mm."""

_Ends = NDArray[np.float64]

Frame = tuple[float, float, float, float]
"""The picture's left, upper, right and lower bound, mm: nothing lies beside an outline there."""


def frame_of(regions: NDArray[np.object_]) -> Frame:
    """The bounds of a coverage."""
    left, upper, right, lower = shapely.total_bounds(regions).tolist()
    return (left, upper, right, lower)


@dataclass(frozen=True, slots=True)
class Beside:
    """A dark shape and the parts of its outline that lie beside one ink.

    ``shape`` holds one polygon; ``middles`` are the middles of the segments of its outline that lie beside
    the ink, as complex numbers; ``thinner_mm`` is the width under which a part of the shape counts as thin.
    """

    digest: bytes
    shape: Told = field(compare=False)
    frame: Frame = field(compare=False)
    middles: NDArray[np.complex128] = field(compare=False)
    thinner_mm: float = field(compare=False)


def beside(shape: Told, ends: _Ends, *, frame: Frame, thinner_mm: float) -> Beside:
    """A dark shape and the segments (n, 2, 2) of its outline that lie beside one ink."""
    middles = np.sort(_middles(ends))
    known = digest(shape.digest, middles.tobytes(), np.array([*frame, thinner_mm]).tobytes())
    return Beside(known, shape, frame, middles, thinner_mm)


def _middles(ends: _Ends) -> NDArray[np.complex128]:
    """The middles of segments as complex numbers; the same whichever way a segment runs."""
    middle = np.ascontiguousarray(0.5 * (ends[:, 0] + ends[:, 1]))
    return middle.view(np.complex128).ravel()


@remembered(_SHAPES_KEPT)
def thin_part(shape: Told, thinner_mm: float) -> NDArray[np.object_]:
    """The parts of a polygon that no circle of that diameter inside it reaches, as polygons.

    What is no longer than the width is a corner and left out.

    >>> bar = shapely.union_all([shapely.box(0, 0, 8, 8), shapely.box(8, 3, 20, 4)])
    >>> parts = thin_part(Told(b"a bar", np.array([bar])), 2.0)
    >>> [round(part.area) for part in parts]
    [12]
    """
    reach = 0.5 * thinner_mm
    whole = shape.value[0]
    core = whole.buffer(-reach, quad_segs=_SEGS)
    if core.is_empty:
        return shape.value
    rest = polygons(np.array([whole.difference(core.buffer(reach * _OPENING_SLACK, quad_segs=_SEGS))]))
    outline = shapely.length(rest)
    long: NDArray[np.object_] = rest[outline / 2.0 - 2.0 * shapely.area(rest) / outline > thinner_mm]
    return long


@dataclass(frozen=True, slots=True)
class _Diagram:
    """Cells of samples of an outline, and the middle of the segment that each sample lies on."""

    cells: NDArray[np.object_]
    middles: NDArray[np.complex128]


@lru_cache(maxsize=_SHAPES_KEPT)
def _diagram(shape: Told, thinner_mm: float, frame: Frame) -> _Diagram:
    """The cells of samples of a shape's outline, as far as its thin parts can lie in them.

    Where the outline runs along the frame nothing lies beside it, so that the sides there end at the frame.
    """
    points, ring = shapely.get_coordinates(shapely.get_rings(shape.value), return_index=True)
    starts = np.flatnonzero(ring[1:] == ring[:-1])
    ends = np.stack([points[starts], points[starts + 1]], axis=1)
    ends = ends[~_on_frame(ends, frame)]
    along = ends[:, 1] - ends[:, 0]
    count = np.maximum(1, np.ceil(np.hypot(along[:, 0], along[:, 1]) / _SAMPLE_MM)).astype(np.int64)
    segment = np.repeat(np.arange(len(ends)), count)
    step = np.arange(len(segment)) - np.repeat(np.cumsum(count) - count, count)
    samples = ends[segment, 0] + ((step + 0.5) / count[segment])[:, None] * along[segment]
    near = shapely.buffer(shapely.union_all(thin_part(shape, thinner_mm)), 0.6 * thinner_mm, quad_segs=4)
    shapely.prepare(near)
    kept = shapely.intersects_xy(near, samples[:, 0], samples[:, 1])
    samples, segment = samples[kept], segment[kept]
    return _Diagram(_voronoi_cells(samples), _middles(ends)[segment])


def _on_frame(ends: _Ends, frame: Frame) -> NDArray[np.bool_]:
    """Which segments lie along one side of the frame."""
    low, high = np.array(frame[:2]), np.array(frame[2:])
    along: NDArray[np.bool_] = np.zeros(len(ends), dtype=np.bool_)
    for bound in (low, high):
        along |= (np.abs(ends - bound) < _ON_FRAME_MM).all(axis=1).any(axis=1)
    return along


def _voronoi_cells(samples: NDArray[np.float64]) -> NDArray[np.object_]:
    """The cell of every sample; a ring of far points keeps all of them finite."""
    if not len(samples):
        return np.empty(0, dtype=object)
    low, high = samples.min(axis=0), samples.max(axis=0)
    centre, reach = 0.5 * (low + high), 10.0 * (1.0 + float(np.max(high - low)))
    turn = np.arange(8) * (np.pi / 4.0)
    far = centre + reach * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    found = Voronoi(np.concatenate([samples, far]))
    regions = [found.regions[k] for k in found.point_region[: len(samples)].tolist()]
    count = np.fromiter(map(len, regions), np.int64, len(regions))
    corners = np.fromiter(chain.from_iterable(regions), np.int64, int(count.sum()))
    ends = np.cumsum(count)
    # Every ring ends where it begins.
    corners = np.insert(corners, ends, corners[ends - count])
    of_cell = np.repeat(np.arange(len(regions)), count + 1)
    cells: NDArray[np.object_] = shapely.polygons(
        shapely.linearrings(found.vertices[corners], indices=of_cell)
    )
    return cells


@remembered(_SHAPES_KEPT)
def side(of: Beside) -> NDArray[np.object_]:
    """The side of an ink in the thin parts of a dark shape: up to their middle, and a lap past it."""
    thin = thin_part(of.shape, of.thinner_mm)
    if not len(thin):
        return thin
    diagram = _diagram(of.shape, of.thinner_mm, of.frame)
    place = np.minimum(np.searchsorted(of.middles, diagram.middles), len(of.middles) - 1)
    own = of.middles[place] == diagram.middles
    if own.all():
        return thin
    if not own.any():
        return thin[:0]
    # Cells reach far past the shape where it lies alone.
    near = shapely.bounds(of.shape.value[0]) + np.array([-1.0, -1.0, 1.0, 1.0])
    cells = shapely.clip_by_rect(dissolve(diagram.cells[own]), *near.tolist())
    cells = shapely.simplify(cells, _STEPS_MM, preserve_topology=False)
    reached = polygons(np.array([shapely.disjoint_subset_union_all(_rounded(cells))]))
    part, cell = shapely.STRtree(reached).query(thin, predicate="intersects")
    return polygons(shapely.intersection(thin[part], reached[cell]))


def _rounded(cells: NDArray[np.object_]) -> NDArray[np.object_]:
    """An ink's side grown by the lap, without the spikes that run into forks and corners of the line.

    Nothing is seen of them under the line, and a knife would have to follow them. A side that hardly is wider
    than a spike stays as it is.
    """
    core = shapely.buffer(cells, -_SPIKE_MM / 2.0, quad_segs=4)
    opened = shapely.buffer(core, _SPIKE_MM / 2.0, quad_segs=4)
    spiky = shapely.area(opened) < _MOSTLY * shapely.area(cells)
    grown: NDArray[np.object_] = np.where(
        spiky,
        shapely.buffer(cells, PAST_MIDDLE_MM, quad_segs=2),
        shapely.buffer(core, _SPIKE_MM / 2.0 + PAST_MIDDLE_MM, quad_segs=4),
    )
    return grown


@remembered(_SHAPES_KEPT)
def beyond(of: Beside) -> NDArray[np.object_]:
    """What an ink keeps out of: the thin parts of a dark shape past its side and the lap."""
    thin, own = thin_part(of.shape, of.thinner_mm), side(of)
    return thin[:0] if own is thin else without(thin, own)
