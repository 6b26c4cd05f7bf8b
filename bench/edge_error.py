"""How far found edges lie from the true ones, in pixels.

How points are matched. Points are set every pixel along all edges of one side, and each is measured to the
nearest point of any edge of the other side, whatever colours that edge parts; there is no limit to how far
that may be, so that a missing or an invented edge counts in full. This is done both ways. Left out are
points within three pixels of a true junction (where three or more colours meet), of the picture's frame, or
of an area in which colour runs, for there the truth is not one line. Specks are not left out. True edges
between a flat colour and a run are told apart, one way only: the found side has bands of its own there.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from bench.edges import OUTSIDE, Edges, edges_of, points_along, segments_of
from bench.truth import Truth, nearest_colours
from blockwright.model.design import Design

AWAY_PX = 3.0
"""Nearer to a junction, the frame or a run of colour, points are left out: antialiasing of three colours
reaches about two pixels."""

_STEP_PX = 1.0
"""Distance of the points along an edge."""

_FAR_PX = 1.0
"""Beyond this an edge is visibly elsewhere; the share of such points is told."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Distances of points in pixels; shares in percent of the points.

    ``other_colours_percent`` counts points whose nearest edge parts other colours than theirs does.
    """

    points: int
    median_px: float
    rms_px: float
    p95_px: float
    max_px: float
    far_percent: float
    other_colours_percent: float


@dataclass(frozen=True, slots=True)
class EdgeError:
    """Both directions between flat colours, true edges against runs, and how junctions are hit."""

    found_to_true: Spread
    true_to_found: Spread
    runs_to_found: Spread
    junctions_to_found: Spread
    worst: tuple[tuple[float, float, float], ...]
    """Places in mm and the distance there in pixels, worst first, of both directions."""


def edge_error(design: Design, truth: Truth, *, worst: int = 5) -> EdgeError:
    """Measure a design's edges against the truth of the picture that it was made from."""
    found = edges_of([shape.region for shape in design.shapes], [shape.colour for shape in design.shapes])
    true_of = nearest_colours([colour.srgb_hex for colour in design.palette], truth.flat_hex)
    inner = found.colours[:, 0] != OUTSIDE
    found_colours = found.colours.copy()
    found_colours[inner] = np.sort(true_of[found.colours[inner]], axis=1)
    found = Edges(found.lines, found_colours, found.junctions)
    return compare_edges(found, truth, pixels_per_mm=design.pixels_per_mm, worst=worst)


def compare_edges(found: Edges, truth: Truth, *, pixels_per_mm: float, worst: int = 5) -> EdgeError:
    """Measure edges, numbered in the truth's colours, against the truth. ``worst`` places are kept."""
    measure = _Measure(truth, pixels_per_mm)
    true, inner = truth.edges.inner, found.inner
    against_run = true.colours[:, 1] >= len(truth.flat_hex)
    there = measure.distances(inner, true, clear_of=measure.flat_ground)
    back = measure.distances(true.only(~against_run), inner, clear_of=measure.flat_ground)
    runs = measure.distances(true.only(against_run), inner, clear_of=measure.sheet)
    places = np.vstack([there.places, back.places])
    far_px = np.concatenate([there.px, back.px])
    return EdgeError(
        there.spread(),
        back.spread(),
        runs.spread(),
        measure.junction_distances(found).spread(),
        tuple(_worst_places(places, far_px, count=worst, apart=5.0 * AWAY_PX / pixels_per_mm)),
    )


@dataclass(frozen=True, slots=True)
class _Distances:
    places: NDArray[np.float64]
    px: NDArray[np.float64]
    other: NDArray[np.bool_]

    def spread(self) -> Spread:
        if not len(self.px):
            return Spread(0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        return Spread(
            points=len(self.px),
            median_px=float(np.median(self.px)),
            rms_px=float(np.sqrt(np.mean(self.px**2))),
            p95_px=float(np.quantile(self.px, 0.95)),
            max_px=float(self.px.max()),
            far_percent=100.0 * float(np.mean(self.px > _FAR_PX)),
            other_colours_percent=100.0 * float(np.mean(self.other)),
        )


class _Measure:
    """Where points count, and how far they lie from edges."""

    def __init__(self, truth: Truth, pixels_per_mm: float) -> None:
        away_mm = AWAY_PX / pixels_per_mm
        self._pixels_per_mm = pixels_per_mm
        self._away_mm = away_mm
        self._flats = len(truth.flat_hex)
        self._junctions = truth.edges.junctions
        self.sheet = shapely.box(away_mm, away_mm, truth.width_mm - away_mm, truth.height_mm - away_mm)
        self.flat_ground = shapely.difference(self.sheet, truth.running.buffer(away_mm))

    def distances(self, edges: Edges, others: Edges, *, clear_of: BaseGeometry) -> _Distances:
        """Distances from points along edges to the nearest of the others, where the points count."""
        places, line = points_along(edges.lines, step=_STEP_PX / self._pixels_per_mm)
        shapely.prepare(clear_of)
        kept = shapely.contains_xy(clear_of, places[:, 0], places[:, 1])
        if len(self._junctions) and len(places):
            kept &= cKDTree(self._junctions).query(places)[0] > self._away_mm
        places, line = places[kept], line[kept]
        if not len(places):
            return _Distances(places, np.empty(0), np.empty(0, bool))
        segments, segment_line = segments_of(others.lines)
        tree = shapely.STRtree(segments)
        (_, nearest), apart = tree.query_nearest(
            shapely.points(places), return_distance=True, all_matches=False
        )
        here, there = edges.colours[line], others.colours[segment_line[nearest]]
        # Of an edge against a run only the flat colour, the smaller number, has a counterpart.
        own = (here == there).all(axis=1)
        own |= (here[:, 1] >= self._flats) & (here[:, :1] == there).any(axis=1)
        return _Distances(places, apart * self._pixels_per_mm, ~own)

    def junction_distances(self, found: Edges) -> _Distances:
        """From each true junction on flat ground to the nearest found one."""
        inside = shapely.contains_xy(self.flat_ground, self._junctions[:, 0], self._junctions[:, 1])
        places = self._junctions[inside]
        if not len(places) or not len(found.junctions):
            return _Distances(places[:0], np.empty(0), np.empty(0, bool))
        apart = cKDTree(found.junctions).query(places)[0]
        return _Distances(places, apart * self._pixels_per_mm, np.zeros(len(places), bool))


def _worst_places(
    places: NDArray[np.float64], px: NDArray[np.float64], *, count: int, apart: float
) -> Iterable[tuple[float, float, float]]:
    """The worst points, each farther than ``apart`` (mm) from those before it."""
    left = np.argsort(-px, kind="stable")
    for _ in range(count):
        if not len(left):
            return
        x, y = places[left[0]]
        yield float(x), float(y), float(px[left[0]])
        left = left[np.hypot(*(places[left] - (x, y)).T) > apart]
