"""Lanes: the ways that a bit goes in the work, before they are put in order and joined.

All of them keep the wood that stays on their right hand, seen from above with y up: with a spindle that turns
clockwise that is climb cutting, which leaves the cleaner edge.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, radians, tan

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Voronoi, cKDTree

from blockwright.cutting.wanted import Floor, as_polygons, grown, shrunk
from blockwright.model.router import Bit
from blockwright.model.units import Area

CLEAR_MM = 0.006
"""What every lane keeps from the edge beyond its bit, mm: offsets and rounding stray by a little less."""

_THIN_MM = 0.06
"""Waste that a larger bit left and that is thinner than twice this is where its lanes meet, no waste."""

_FAINT_MM = 0.012
"""Corners that a wall's foot rounds off by less than twice this, mm, are left to it."""

_SHORT_MM = 0.4
"""Pieces of a lane that are shorter are left out, mm: the lanes beside them cut there too."""

_STEEPEST = 2.8
"""No wall falls more steeply than by this for each mm, 70 degrees."""

_AT_FOOT_MM = 0.3
"""A rising lane that ends so near to a wall's foot begins there."""

_HELD_MM = 0.15
"""A ring that is shallower than the floor under its bit's middle by more than this, mm, has another near."""

_LITTLE = 0.2
"""A layer may be deeper by this part of a step, which spares another round [CP]."""

_SAMPLE_MM = 0.12
"""Samples of an outline lie at most this far apart, mm."""

_APART = 2.2
"""Two sides meet in a line where their samples are at least so many times that far apart."""

_CORNER = 0.35
"""And where the way between them is at least this part of the way across the round that touches both: sides
that meet at more than 139 degrees are one side, for the bit leaves no more than 0.06 mm there."""


@dataclass(frozen=True, slots=True, eq=False)
class Lane:
    """Points (n, 3), mm; a closed one goes back to its first point and does not repeat it.

    ``layers`` are the depths at which it is gone round in turn, the last one that of its points; without any
    it is gone once, at the depths of its points.
    """

    points: NDArray[np.float64]
    closed: bool
    layers: tuple[float, ...] = ()

    @property
    def length_mm(self) -> float:
        """How long it is, once round."""
        whole = np.vstack([self.points, self.points[:1]]) if self.closed else self.points
        return float(np.linalg.norm(np.diff(whole, axis=0), axis=1).sum())


def steepest(bit: Bit, floor: Floor) -> float:
    """The fall of the steepest wall, for each mm away from the edge, that is wanted and that a bit leaves."""
    if bit.kind in ("V", "tapered"):
        return min(floor.slope, 1.0 / tan(radians(bit.angle_deg / 2.0)))
    return floor.slope


def beside_mm(bit: Bit, floor: Floor) -> float:
    """How much farther from the edge a bit's middle keeps than the wall's own line at the depth of its tip.

    >>> beside_mm(Bit(1, "ball", "ball", 4.0, 2, 9.0), Floor(60.0, 1.5, 0.1, 4.5))  # 2 tan 30
    1.1547005383792515
    """
    if bit.kind in ("V", "tapered"):
        return bit.tip_mm / 2.0
    return bit.radius_mm * (tan(atan(floor.slope) / 2.0) if bit.kind == "ball" else 1.0)


def reach_mm(bit: Bit, floor: Floor, stock_mm: float) -> float:
    """How far from the wood that stays the middle of a bit is at least, where it cuts at the least depth."""
    if bit.kind in ("V", "tapered"):
        return floor.least_mm / steepest(bit, floor) + bit.tip_mm / 2.0 + stock_mm + CLEAR_MM
    return floor.foot_mm + bit.radius_mm + stock_mm + CLEAR_MM


def swept(work: Area, bit: Bit, floor: Floor, stock_mm: float) -> Area:
    """What a bit clears to the least depth at least when it goes wherever it can."""
    level_mm = bit.tip_mm / 2.0 if bit.kind in ("V", "tapered") else bit.radius_mm
    return grown(shrunk(work, reach_mm(bit, floor, stock_mm)), level_mm)


def left_after(
    rest: Area, work: Area, bit: Bit, floor: Floor, stock_mm: float, *, slack_mm: float = 0.3
) -> Area:
    """What a bit leaves of the waste that was left to it, but for threads between its lanes.

    What lies under a wide bit that a wall holds up is left where the floor lacks more than ``slack_mm``.
    """
    first = reach_mm(bit, floor, stock_mm)
    cleared = swept(work, bit, floor, stock_mm)
    deep = _deep_as(bit, floor, first)
    if deep < float(floor.depth_mm(first)) - _HELD_MM and floor.growth > 0.0:
        enough = (deep + slack_mm - floor.least_mm) / floor.growth
        let_down = grown(shrunk(work, _let_down_mm(bit.radius_mm, floor)), bit.radius_mm)
        cleared = as_polygons(
            shapely.union(let_down, shapely.difference(cleared, shrunk(work, max(enough, 0.0))))
        )
    left = shapely.difference(rest, cleared)
    return grown(shrunk(as_polygons(left), _THIN_MM), _THIN_MM)


def _deep_as(bit: Bit, floor: Floor, away_mm: float) -> float:
    """How deep a ring is: as the floor is under its middle, but never so that a wall would be undercut."""
    radius = bit.tip_mm / 2.0 if bit.kind in ("V", "tapered") else bit.radius_mm
    return min(float(floor.depth_mm(away_mm)), (away_mm - radius) * floor.slope)


def ring_lanes(
    work: Area,
    bit: Bit,
    floor: Floor,
    *,
    stock_mm: float,
    step_over_mm: float,
    step_down_mm: float,
    within: Area | None = None,
) -> list[Lane]:
    """Rings at even steps from the wood that stays, each as deep as the floor is there.

    ``within`` is what is left to clear: only the parts of rings are gone from where the bit cuts of it.
    """
    radius = bit.tip_mm / 2.0 if bit.kind in ("V", "tapered") else bit.radius_mm
    near = None if within is None else grown(within, max(radius, step_over_mm / 2.0))
    lanes: list[Lane] = []
    away = reach_mm(bit, floor, stock_mm)
    region = shrunk(work, away)
    while not region.is_empty:
        depth = _deep_as(bit, floor, away)
        lanes += lanes_of(region, depth, step_down_mm, near)
        step_mm = step_over_mm
        if depth < float(floor.depth_mm(away)) - _HELD_MM:
            # The wall holds a wide bit up: the next ring lies where it gets down to the floor.
            step_mm = min(step_mm, max(_let_down_mm(radius, floor) - away, CLEAR_MM))
        away += step_mm
        region = shrunk(region, step_mm)
        if near is not None and not region.is_empty and not shapely.intersects(region, near):
            break
    return lanes


def _let_down_mm(radius_mm: float, floor: Floor) -> float:
    """How far from the edge a flat bit's middle is where its own edge is at the wall and the floor under it.

    >>> round(_let_down_mm(6.0, Floor(60.0, 1.5, 0.1, 4.5)), 3)  # (1.5 + 6 tan 60) / (tan 60 - 0.1)
    7.287
    """
    at_most = radius_mm + floor.most_mm / floor.slope
    rises = floor.slope - floor.growth
    return min((floor.least_mm + floor.slope * radius_mm) / rises, at_most) if rises > 0.0 else at_most


def lanes_of(region: Area, depth: float, step_down_mm: float, near: Area | None) -> list[Lane]:
    """The rings of a region, or the parts of them that lie near to something, as lanes."""
    layers = _layers(depth, step_down_mm)
    rings = shapely.get_rings(shapely.orient_polygons(np.asarray(list(region.geoms), dtype=object)))
    if near is None:
        return [_lane(ring, depth, layers, closed=True) for ring in rings]
    shapely.prepare(near)
    whole = shapely.covers(near, rings)
    lanes = [_lane(ring, depth, layers, closed=True) for ring in rings[whole]]
    met = rings[shapely.intersects(near, rings) & ~whole]
    for ring in met:
        parts = shapely.intersection(shapely.linestrings(shapely.get_coordinates(ring)), near)
        for part in shapely.get_parts(shapely.line_merge(parts, directed=True)):
            if part.geom_type == "LineString" and part.length >= _SHORT_MM:
                lanes.append(_lane(part, depth, layers, closed=False))
    return lanes


def _lane(line: shapely.Geometry, depth: float, layers: tuple[float, ...], *, closed: bool) -> Lane:
    points = shapely.get_coordinates(line)[: -1 if closed else None]
    return Lane(np.column_stack([points, np.full(len(points), -depth)]), closed, layers)


def _layers(depth: float, step_down_mm: float) -> tuple[float, ...]:
    """Depths at which a lane is gone round, evenly, none deeper by more than a step and a little.

    >>> _layers(4.0, 1.5)
    (1.333, 2.667, 4.0)
    >>> _layers(1.6, 1.5)
    (1.6,)
    """
    count = max(1, int(np.ceil(depth / step_down_mm - _LITTLE)))
    return (*(round(depth * (k + 1) / count, 3) for k in range(count - 1)), depth)


def wall_lanes(work: Area, bit: Bit, floor: Floor, *, stock_mm: float = 0.0) -> list[Lane]:
    """The lane along the foot of every wall, all the way round."""
    region = shrunk(work, reach_mm(bit, floor, stock_mm))
    return lanes_of(region, floor.least_mm, floor.least_mm, None)


def rising_lanes(work: Area, bit: Bit, floor: Floor, *, stock_mm: float) -> list[Lane]:
    """Lanes along the middle of what is narrower than a wall is wide, as deep as both walls allow.

    They run into inside corners, rising to the face, and along gaps that are too narrow for the least depth.
    """
    slope, tip = steepest(bit, floor), bit.tip_mm / 2.0 + stock_mm + CLEAR_MM
    foot = reach_mm(bit, floor, stock_mm)
    narrow = as_polygons(shapely.difference(work, grown(shrunk(work, foot), foot)))
    narrow = grown(shrunk(narrow, _FAINT_MM), 2.0 * _FAINT_MM)
    # As far as the foot of the walls, at whose corners the lanes begin.
    around = as_polygons(shapely.intersection(work, grown(narrow, foot)))
    samples, step = _sampled(work, grown(narrow, 2.1 * foot)), _SAMPLE_MM
    if len(samples) < 4:
        return []
    lines = _middles(samples, around, foot, tip, step)
    tree = cKDTree(samples)
    lanes = []
    for line in shapely.get_parts(shapely.line_merge(shapely.multilinestrings(lines))) if len(lines) else []:
        if line.length < _SHORT_MM:
            continue
        # Between two corners that face each other it is nearest halfway.
        points = shapely.get_coordinates(shapely.segmentize(line, _SAMPLE_MM / 2.0))
        # Between samples the outline is nearer by a little than the nearest of them.
        away = np.sqrt(np.maximum(tree.query(points)[0] ** 2 - (step / 2.0) ** 2, 0.0))
        depth = np.clip((away - tip) * slope, 0.0, floor.least_mm)
        lanes.append(Lane(np.column_stack([points, -depth]), closed=False))
    return lanes


def with_spurs(walls: Sequence[Lane], rising: Sequence[Lane]) -> list[Lane]:
    """Walls with the rising lanes that begin at their foot as ways there and back, and the other ones."""
    if not walls or not rising:
        return [*walls, *rising]
    at = np.concatenate([wall.points[:, :2] for wall in walls])
    owner = np.repeat(np.arange(len(walls)), [len(wall.points) for wall in walls])
    first = np.concatenate([[0], np.cumsum([len(wall.points) for wall in walls])])
    tree = cKDTree(at)
    spurs: dict[int, list[tuple[int, NDArray[np.float64]]]] = {}
    others: list[Lane] = []
    for lane in rising:
        near, place = tree.query(lane.points[[0, -1], :2])
        end = int(np.argmin(near))
        if near[end] > _AT_FOOT_MM:
            others.append(lane)
            continue
        out = lane.points if end == 0 else lane.points[::-1]
        wall, at_foot = int(owner[place[end]]), int(place[end])
        here = np.append(at[at_foot], out[0, 2])
        # On the way over nothing is nearer than half of it, so that the bit rises by as much as a wall there.
        between = (here + out[0]) / 2.0 + [0.0, 0.0, near[end] / 2.0 * _STEEPEST]
        out = np.vstack([[np.minimum(between, [np.inf, np.inf, 0.0])], out])
        spurs.setdefault(wall, []).append((at_foot - int(first[wall]), out))
    return [*(_spurred(wall, spurs.get(k, [])) for k, wall in enumerate(walls)), *others]


def _spurred(wall: Lane, spurs: Sequence[tuple[int, NDArray[np.float64]]]) -> Lane:
    """A wall's lane that goes along spurs and back where they begin."""
    if not spurs:
        return wall
    pieces: list[NDArray[np.float64]] = []
    done = 0
    for place, out in sorted(spurs, key=lambda spur: spur[0]):
        pieces += [wall.points[done : place + 1], out, out[-2::-1], wall.points[place : place + 1]]
        done = place + 1
    return Lane(np.concatenate([*pieces, wall.points[done:]]), wall.closed)


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
        & (across > 2.0 * _CORNER * away.max(axis=1))
    )
    places = places[kept]
    shapely.prepare(work)
    inside = shapely.contains_xy(work, places[:, 0]) & shapely.contains_xy(work, places[:, 1])
    return np.asarray(shapely.linestrings(places[inside]), dtype=object)
