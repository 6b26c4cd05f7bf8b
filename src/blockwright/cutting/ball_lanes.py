"""Lanes of ball bits: they clear hollows and, where no bit cuts sloping walls, step down the walls too.

A ball of radius r that touches a wall at the angle a from the face, its tip at a depth D, has its axis at
D / tan a + r tan (a / 2) from the edge [der]: nearer by r (1 - tan (a / 2)) than a flat bit, whose own edge
would meet the wall's foot. So it gets between walls where flat bits do not. What it leaves between lanes are
ridges of r - sqrt(r^2 - (s / 2)^2) where these lie s apart [Machinery's Handbook]; its tip goes as much
deeper than the floor is wanted, so that they are no shallower.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, cos, radians, sin

import shapely

from blockwright.cutting.feeds import Steps, half_chord_mm, ridge_mm
from blockwright.cutting.lanes import CLEAR_MM, Lane, lanes_of
from blockwright.cutting.reaching import LEAST_SLACK_MM, keep_off_mm
from blockwright.cutting.wanted import Floor, as_polygons, grown, shrunk
from blockwright.model.router import Bit
from blockwright.model.units import Area

_THIN_MM = 0.06
"""Waste thinner than twice this lies where lanes meet, mm."""

_FOOT_MM = 0.1
"""So near to the foot of a wall it is not asked for the least depth yet, mm."""

_BEFORE = 0.3
"""How far before a gap or a corner into which a ball does not fit its round still lacks depth, in radii,
seen on simulated faces."""

_HALVINGS = 40


@dataclass(frozen=True, slots=True)
class Ball:
    """A ball bit at its work: what it keeps to, mm.

    ``stock_mm`` is kept from the walls beyond what these ask for; ``slack_mm`` is how much shallower than
    wanted the floor may be between lanes, where it is deeper than the least.
    """

    bit: Bit
    floor: Floor
    steps: Steps
    stock_mm: float
    slack_mm: float

    @property
    def ridge_mm(self) -> float:
        """How much deeper than the floor its tip goes: as high as the ridges between its lanes are."""
        return ridge_mm(self.bit, self.steps.over_mm)

    def away_mm(self, depth_mm: float) -> float:
        """How far its axis keeps from the edge, its tip at a depth."""
        return keep_off_mm(self.bit, depth_mm, self.floor) + self.stock_mm + CLEAR_MM

    def depth_mm(self, away_mm: float) -> float:
        """How deep its tip goes so far from the edge: to the floor and a ridge more, as walls allow."""
        wanted = float(self.floor.depth_mm(away_mm)) + self.ridge_mm
        most = min(wanted, self.floor.most_mm)
        return most if self.away_mm(most) <= away_mm else self._deepest_mm(away_mm, most)

    def _deepest_mm(self, away_mm: float, most_mm: float) -> float:
        low, high = 0.0, most_mm
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            low, high = (middle, high) if self.away_mm(middle) <= away_mm else (low, middle)
        return low

    @property
    def nearest_mm(self) -> float:
        """The nearest that it comes to the edge where it clears to the least depth at all."""
        return self.away_mm(min(self.floor.least_mm + self.ridge_mm, self.floor.most_mm))

    @property
    def foot_mm(self) -> float:
        """The nearest that it comes to the edge at the floor's own depth there."""
        low, high = 0.0, self.floor.most_mm
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            wanted = float(self.floor.depth_mm(self.away_mm(middle))) + self.ridge_mm
            low, high = (middle, high) if middle <= wanted else (low, middle)
        return self.away_mm(high)

    def foot_depth_mm(self) -> float:
        """How deep its tip goes along the foot of a wall that it cuts by itself, so that none of it is left.

        Deeper than the floor by what its round would leave there; never deeper than where it touches the very
        foot.
        """
        low = self.depth_mm(self.foot_mm)
        high = min(max(self.floor.least_mm + self._touch_mm, low), self.floor.most_mm)
        if not self._leaves_foot(low):
            return low
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            low, high = (middle, high) if self._leaves_foot(middle) else (low, middle)
        return high

    def _leaves_foot(self, depth_mm: float) -> bool:
        aside = self.away_mm(depth_mm) - self.floor.foot_mm - _FOOT_MM
        return half_chord_mm(self.bit, depth_mm - self.floor.least_mm + LEAST_SLACK_MM) < aside

    @property
    def _touch_mm(self) -> float:
        """How high above its tip it touches a wall."""
        return self.bit.radius_mm * (1.0 - cos(radians(self.floor.wall_deg)))

    def clears_mm(self, depth_mm: float) -> float:
        """How far on both sides of a lane so deep nothing is left that is too shallow; 0 where there is."""
        spare = min(depth_mm - self.floor.least_mm + LEAST_SLACK_MM, max(self.slack_mm, LEAST_SLACK_MM))
        return half_chord_mm(self.bit, spare)

    def down_walls(self) -> tuple[float, ...]:
        """Depths of its tip at which it steps down a wall: from where it touches the edge to the foot.

        Ridges on the wall stand no higher over it, measured straight up, than the slack.
        """
        lean = radians(self.floor.wall_deg)
        at_edge = self._touch_mm
        deepest = self.foot_depth_mm()
        if deepest <= at_edge:
            return (deepest,)
        aside = max(self.slack_mm, LEAST_SLACK_MM) * cos(lean)
        step = 2.0 * half_chord_mm(self.bit, aside) * sin(lean)
        count = ceil((deepest - at_edge) / step)
        depths = {at_edge + (deepest - at_edge) * k / count for k in range(count)}
        least = min(self.floor.least_mm + self.ridge_mm, deepest)
        return (*sorted({each for each in depths if abs(each - least) > step / 10.0} | {least}), deepest)


def ball_lanes(work: Area, ball: Ball, *, within: Area | None = None, walls: bool = False) -> list[Lane]:
    """Rings of a ball bit from the foot of the walls inwards, over all of an area or where waste is left.

    ``within`` is what is left to clear; ``walls`` has it step down the walls as well, all round.
    """
    lanes: list[Lane] = []
    away, depth = ball.foot_mm, ball.depth_mm(ball.foot_mm)
    if walls:
        for deep in ball.down_walls():
            lanes += lanes_of(shrunk(work, ball.away_mm(deep)), deep, ball.steps.down_mm, None)
        depth = ball.foot_depth_mm()
        away = ball.away_mm(depth)
    region = shrunk(work, away)
    if not walls:
        lanes += _in_gaps(work, ball, region, within) + _ring(region, depth, ball, within)
    while not region.is_empty:
        inner = shrunk(region, ball.steps.over_mm)
        lanes += _between(region, inner, (away, depth), ball, within)
        away += ball.steps.over_mm
        region, depth = inner, ball.depth_mm(away)
        lanes += _ring(region, depth, ball, within)
        if within is not None and not shapely.intersects(region, grown(within, ball.bit.radius_mm)):
            break
    return lanes


def _ring(region: Area, depth: float, ball: Ball, within: Area | None) -> list[Lane]:
    """The ring round a region, or what of it lies near to what is left."""
    near = None if within is None else grown(within, max(ball.clears_mm(depth), ball.steps.over_mm / 2.0))
    return lanes_of(region, depth, ball.steps.down_mm, near)


def _in_gaps(work: Area, ball: Ball, foot: Area, within: Area | None) -> list[Lane]:
    """Lanes nearer to the walls, and shallower, in gaps that are too narrow for the floor's own depth."""
    region = shrunk(work, ball.nearest_mm)
    gaps = _thinned(shapely.difference(region, grown(foot, ball.foot_mm - ball.nearest_mm + _THIN_MM)))
    if within is not None:
        gaps = as_polygons(shapely.intersection(gaps, grown(within, ball.bit.radius_mm)))
    if gaps.is_empty:
        return []
    return lanes_of(region, ball.depth_mm(ball.nearest_mm), ball.steps.down_mm, grown(gaps, 2.0 * _THIN_MM))


def _between(
    region: Area, inner: Area, ring: tuple[float, float], ball: Ball, within: Area | None
) -> list[Lane]:
    """Lanes over the middles that lie too far from a ring and from the next one, if there is one.

    ``ring`` is how far from the edge the first one lies, and how deep.
    """
    away = ring[0]
    clears = ball.clears_mm(ring[1])
    if clears >= ball.steps.over_mm:
        return []
    beyond = shrunk(region, clears)
    deep = ball.depth_mm(away + ball.steps.over_mm)
    left = _thinned(shapely.difference(beyond, grown(inner, ball.clears_mm(deep))))
    if within is not None:
        left = as_polygons(shapely.intersection(left, within))
    if left.is_empty:
        return []
    return lanes_of(beyond, ball.depth_mm(away + clears), ball.steps.down_mm, grown(left, 2.0 * _THIN_MM))


def left_by_ball(
    rest: Area, work: Area, ball: Ball, lanes: Sequence[Lane], *, whole: bool, walls: bool, taken_mm: float
) -> Area:
    """What a ball bit leaves of the waste that was left to it.

    ``whole``: it went over all of the face. ``walls``: it cut the walls too, and where it got in nothing is
    left beside them; else what is nearer than ``taken_mm`` to the edge is left to the bit that cuts them.
    """
    nearest = ball.nearest_mm
    if whole or walls:
        to_wall = nearest if walls else _beside(ball, taken_mm)
        swept = grown(shrunk(work, nearest), to_wall)
        left = shapely.difference(rest, swept)
        if walls:
            # Where it did not get in, it left the ground before it too shallow as well.
            narrow = grown(_thinned(shapely.difference(work, swept)), _BEFORE * ball.bit.radius_mm)
            left = shapely.union(left, shapely.intersection(narrow, work))
        return _thinned(left)
    lines = [
        shapely.buffer(
            shapely.linestrings([*lane.points[:, :2], *lane.points[: lane.closed, :2]]),
            ball.clears_mm(-lane.points[0, 2]) + CLEAR_MM,
            quad_segs=8,
        )
        for lane in lanes
    ]
    swept = as_polygons(shapely.union_all(lines))
    return _thinned(shapely.difference(rest, swept))


def _beside(ball: Ball, taken_mm: float) -> float:
    """How far towards the wall nothing is left by the ring at its foot, what others take left out."""
    clears = ball.clears_mm(ball.depth_mm(ball.foot_mm))
    return ball.nearest_mm if ball.foot_mm - clears <= taken_mm else clears


def _thinned(area: shapely.Geometry) -> Area:
    return grown(shrunk(as_polygons(area), _THIN_MM), _THIN_MM)
