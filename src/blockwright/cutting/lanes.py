"""Lanes: the ways that a bit goes in the work, before they are put in order and joined.

All of them keep the wood that stays on their right hand, seen from above with y up: with a spindle that turns
clockwise that is climb cutting, which leaves the cleaner edge.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import atan, radians, tan

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from blockwright.cutting.innermost import innermost
from blockwright.cutting.wanted import Floor, as_polygons, grown, shrunk
from blockwright.model.router import Bit
from blockwright.model.units import Area, Region

CLEAR_MM = 0.006
"""What every lane keeps from the edge beyond its bit, mm: offsets and rounding stray by a little less."""

_THIN_MM = 0.06
"""Waste that a larger bit left and that is thinner than twice this is where its lanes meet, no waste."""


_SHORT_MM = 0.5
"""Pieces of a lane that are shorter are left out, mm: the lanes beside them cut there too."""

_SPOT_MM = 3.0
"""A spot round which a flat bit has a shorter way than this, mm, is too small to be led down in."""


_HELD_MM = 0.15
"""A ring that is shallower than the floor under its bit's middle by more than this, mm, has another near."""

_LET_DOWN_MM = 0.5
"""How far apart rings lie at most on which the wall holds a bit up, mm."""

_LITTLE = 0.2
"""A layer may be deeper by this part of a step, which spares another round [CP]."""


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


def flank_slope(bit: Bit) -> float:
    """How far the flank of a V or a tapered bit falls for each mm.

    >>> round(flank_slope(Bit(4, "60 degree V", "V", 6.0, 2, 5.0, angle_deg=60.0, tip_mm=0.1)), 3)
    1.732
    """
    return 1.0 / tan(radians(bit.angle_deg / 2.0))


def steepest(bit: Bit, floor: Floor) -> float:
    """The fall of the steepest wall, for each mm away from the edge, that is wanted and that a bit leaves."""
    if bit.kind in ("V", "tapered"):
        return min(floor.slope, flank_slope(bit))
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


def standing(work: Area, bit: Bit, floor: Floor, stock_mm: float) -> Area:
    """Where the middle of a bit may be at the least depth, but for spots too small to be led down in."""
    region = shrunk(work, reach_mm(bit, floor, stock_mm))
    if bit.kind in ("V", "tapered"):
        return region
    return as_polygons(shapely.union_all([part for part in region.geoms if part.length >= _SPOT_MM]))


def swept(work: Area, bit: Bit, floor: Floor, stock_mm: float) -> Area:
    """What a bit clears to the least depth at least when it goes wherever it can."""
    level_mm = bit.tip_mm / 2.0 if bit.kind in ("V", "tapered") else bit.radius_mm
    return grown(standing(work, bit, floor, stock_mm), level_mm)


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


def _deep_as(bit: Bit, floor: Floor, away_mm: float, deeper_mm: float = 0.0) -> float:
    """How deep a ring is: as the floor is under its middle, or deeper, but so that no wall is undercut."""
    radius = bit.tip_mm / 2.0 if bit.kind in ("V", "tapered") else bit.radius_mm
    wanted = min(float(floor.depth_mm(away_mm)) + deeper_mm, max(floor.most_mm, floor.least_mm))
    return min(wanted, (away_mm - radius) * steepest(bit, floor))


def ring_lanes(
    work: Area,
    bit: Bit,
    floor: Floor,
    *,
    stock_mm: float,
    step_over_mm: float,
    step_down_mm: float,
    within: Area | None = None,
    along_walls: bool = True,
    clears_mm: float | None = None,
    deeper_mm: float = 0.0,
    round_mm: float = 0.0,
) -> list[Lane]:
    """Rings at even steps from the wood that stays, each as deep as the floor is there.

    ``within`` is what is left to clear: only the parts of rings are gone from where the bit cuts of it.
    Without ``along_walls`` the first ring is left out, where something else goes. Innermost rings are gone
    only as far as the ring around them leaves something. ``clears_mm`` is how wide to each side the bit
    clears, if not by its flat alone; ``deeper_mm`` how much deeper than the floor under its middle it goes
    where walls allow; ``round_mm`` how much farther from the wood its rings may lead where they would turn
    sharply.
    """
    radius = bit.tip_mm / 2.0 if bit.kind in ("V", "tapered") else bit.radius_mm
    clears = radius if clears_mm is None else clears_mm
    near = None if within is None else grown(within, max(radius, step_over_mm / 2.0))
    lanes: list[Lane] = []
    away = reach_mm(bit, floor, stock_mm)
    region = standing(work, bit, floor, stock_mm)
    first, held, step_mm, around = True, False, step_over_mm, region
    least = 0.0 if bit.kind in ("V", "tapered") else _SPOT_MM
    let_down = _let_down_mm(radius, replace(floor, least_mm=floor.least_mm + deeper_mm))
    while not region.is_empty:
        depth = _deep_as(bit, floor, away, deeper_mm)
        layers = _layers(depth, step_down_mm)
        wanted = min(float(floor.depth_mm(away)) + deeper_mm, floor.most_mm)
        next_mm, held_before, held = step_over_mm, held, depth < wanted - _HELD_MM
        if held:
            # The wall holds the bit up: by rings near to each other it gets down to the floor.
            next_mm = min(next_mm, max(let_down - away, CLEAR_MM), _LET_DOWN_MM)
        inner = shrunk(region, next_mm)
        if not first and not held_before:
            ways = innermost(region, inner, step_mm, clears, around=around, most_shift_mm=round_mm)
            lanes += _around(ways.rings, depth, layers, near)
            around = MultiPolygon(ways.rings)
            lanes += [_lane(way, depth, layers, closed=False) for way in _close_to(ways.open, near)]
        elif along_walls or not first:
            lanes += _around([part for part in region.geoms if part.length >= least], depth, layers, near)
            around = region
        away += next_mm
        region, step_mm, first = inner, next_mm, False
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
    return _around(list(region.geoms), depth, _layers(depth, step_down_mm), near)


def _around(
    parts: Sequence[Region], depth: float, layers: tuple[float, ...], near: Area | None = None
) -> list[Lane]:
    """All the way round polygons, or as far as their rings lie near to something."""
    rings = shapely.get_rings(shapely.orient_polygons(np.asarray(parts, dtype=object)))
    if near is None or not len(rings):
        return [_lane(ring, depth, layers, closed=True) for ring in rings]
    shapely.prepare(near)
    whole = shapely.covers(near, rings)
    lanes = [_lane(ring, depth, layers, closed=True) for ring in rings[whole]]
    cut = [shapely.linestrings(shapely.get_coordinates(ring)) for ring in rings[~whole]]
    return [*lanes, *(_lane(way, depth, layers, closed=False) for way in _close_to(cut, near))]


def _close_to(ways: Sequence[shapely.Geometry], near: Area | None) -> list[shapely.Geometry]:
    """The parts of ways that lie near to something, but for very short ones."""
    if near is None:
        return list(ways)
    found = []
    for way in ways:
        if shapely.intersects(near, way):
            parts = shapely.get_parts(shapely.line_merge(shapely.intersection(way, near), directed=True))
            found += [each for each in parts if each.geom_type == "LineString" and each.length >= _SHORT_MM]
    return found


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
