"""Rising lanes: the ways of a slender bit where the waste is too narrow for the walls' full depth.

They run along the middle of gaps, and into inside corners, and are as deep as both walls allow.
"""

from collections.abc import Sequence
from math import hypot, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Voronoi, cKDTree

from blockwright.cutting.distances import Distances
from blockwright.cutting.lanes import CLEAR_MM, Lane, reach_mm, steepest
from blockwright.cutting.straightening import straightened
from blockwright.cutting.wanted import Floor, as_polygons, grown, shrunk
from blockwright.model.router import Bit
from blockwright.model.units import Area

_FAINT_MM = 0.012
"""Corners that a wall's foot rounds off by less than twice this, mm, are left to it."""

_SAMPLE_MM = 0.12
"""Samples of an outline lie at most this far apart, mm."""

_APART = 2.2
"""Two sides meet in a line where their samples are at least so many times that far apart."""

_LEAVES_MM = 0.1
"""Corners so blunt that a wall's foot leaves no more than this in them, mm, are left to it."""

_SHORT_MM = 0.4
"""Pieces that are shorter and lead nowhere are left out, mm: the lanes beside them cut there too."""

_AT_FOOT_MM = 0.3
"""A lane that ends so near to a wall's foot begins there, mm."""

_SWAY_MM = 0.012
"""How far a middle line sways between samples of its two sides, mm [der: the square of their step over eight
times the distance from them, a tenth of a mm and more]."""

_STRAY_MM = 0.003
"""How far a lane may be straightened, mm; it is raised by as much as that could make it too deep by."""


def rising_lanes(work: Area, bit: Bit, floor: Floor, *, walls: Sequence[Lane], away: Distances) -> list[Lane]:
    """Lanes along the middle of what is narrower than a wall is wide, as deep as both walls allow.

    They run into inside corners, rising to the face, and along gaps that are too narrow for the least depth;
    those that begin by the foot of one of the ``walls`` begin at it. ``away`` are the distances in the work.
    """
    slope, tip = steepest(bit, floor), bit.tip_mm / 2.0 + CLEAR_MM
    foot = reach_mm(bit, floor, 0.0)
    narrow = as_polygons(shapely.difference(work, grown(shrunk(work, foot), foot)))
    narrow = grown(shrunk(narrow, _FAINT_MM), 2.0 * _FAINT_MM)
    # As far as the foot of the walls, at whose corners the lanes begin.
    around = as_polygons(shapely.intersection(work, grown(narrow, foot)))
    samples, step = _sampled(work, grown(narrow, 2.1 * foot)), _SAMPLE_MM
    if len(samples) < 4:
        return []
    lines = _middles(samples, around, foot, tip, step)
    if not len(lines):
        return []
    feet = np.concatenate([wall.points for wall in walls]) if walls else np.full((1, 3), np.inf)
    tree = cKDTree(feet[:, :2])
    lanes = []
    for line in _leading_on(shapely.get_parts(shapely.line_merge(shapely.multilinestrings(lines)))):
        # Samples of two sides that do not lie abreast make the middle line sway.
        steady = shapely.get_coordinates(shapely.simplify(line, _SWAY_MM))
        near, place = tree.query(steady[[0, -1]])
        at = {end: feet[place[end]] for end in (0, -1) if near[end] <= _AT_FOOT_MM}
        for end, foot_of in at.items():
            steady[end] = foot_of[:2]
        if not np.any(steady != steady[0]):
            continue  # both ends at one place of a foot, and nothing between
        # Between two corners that face each other it is nearest halfway.
        points = shapely.get_coordinates(shapely.segmentize(shapely.linestrings(steady), _SAMPLE_MM / 2.0))
        depth = np.clip((away.at(points) - tip) * slope, 0.0, floor.least_mm)
        places = np.column_stack([points, -depth])
        kept = places[straightened(places, _STRAY_MM)]
        kept[:, 2] = np.minimum(kept[:, 2] + _STRAY_MM * hypot(1.0, slope), 0.0)
        for end, foot_of in at.items():
            kept[end] = foot_of
        lanes.append(Lane(kept, closed=False))
    return lanes


def _leading_on(lines: NDArray[np.object_]) -> NDArray[np.object_]:
    """Lines without the short ones that no other goes on from."""
    ends = np.array([shapely.get_coordinates(line)[[0, -1]] for line in lines])
    _, place, met = np.unique(ends.reshape(-1, 2), axis=0, return_inverse=True, return_counts=True)
    alone = (met[place.reshape(-1, 2)] == 1).any(axis=1)
    kept: NDArray[np.object_] = lines[~alone | (shapely.length(lines) >= _SHORT_MM)]
    return kept


def _sampled(work: Area, near: Area) -> NDArray[np.float64]:
    """Places along those outlines of an area that lie within another one."""
    lines = shapely.intersection(shapely.boundary(np.asarray(list(work.geoms), dtype=object)), near)
    lines = shapely.segmentize(lines[~shapely.is_empty(lines)], _SAMPLE_MM)
    return np.unique(shapely.get_coordinates(lines), axis=0)


def _middles(
    samples: NDArray[np.float64], work: Area, foot: float, tip: float, step: float
) -> NDArray[np.object_]:
    """Pieces of the medial axis of an area where it is nearer to the edge than a wall is wide."""
    diagram = Voronoi(samples)
    ends = np.asarray(diagram.ridge_vertices, dtype=np.int64)
    pairs = np.asarray(diagram.ridge_points, dtype=np.int64)
    known = (ends >= 0).all(axis=1)
    ends, pairs = ends[known], pairs[known]
    places = diagram.vertices[ends]
    across = np.linalg.norm(samples[pairs[:, 0]] - samples[pairs[:, 1]], axis=1)
    away = np.linalg.norm(places - samples[pairs[:, 0]][:, None], axis=2)
    kept = (
        (away.min(axis=1) < foot)
        & (away.max(axis=1) < 2.0 * foot)
        & (away.min(axis=1) > tip)
        & (across > _APART * step)
        # Sides that meet at an angle a lie 2 cos(a / 2) times as far apart as they are away, and the foot
        # leaves foot / sin(a / 2) - foot. Samples may lie half their step off the places that are nearest.
        & (across > 2.0 * sqrt(1.0 - (foot / (foot + _LEAVES_MM)) ** 2) * away.max(axis=1) - step / 2.0)
    )
    places = places[kept]
    shapely.prepare(work)
    inside = shapely.contains_xy(work, places[:, 0]) & shapely.contains_xy(work, places[:, 1])
    return np.asarray(shapely.linestrings(places[inside]), dtype=object)
