"""Lanes in order to the moves of one bit: entries on a slope, ways through the work, lifts."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import hypot, radians, tan

import numpy as np
from numpy.typing import NDArray

from blockwright.cutting.distances import Distances
from blockwright.cutting.lanes import CLEAR_MM, Lane, beside_mm, steepest
from blockwright.cutting.ordering import Placed
from blockwright.cutting.straightening import straightened
from blockwright.cutting.wanted import Floor
from blockwright.model.router import CLEARING_KINDS, CUT, RAPID, Bit, Moves

_OVER_MM = 0.6
"""How far above the wood a bit comes down fast, mm [CP]."""

_HOP_MM = 2.0
"""How far above the face a bit is moved from lane to lane, mm [CP]: over clean wood that is held down."""

_LEAST_RAMP_MM = 0.45
"""A lane shorter than this is too short to come down along; none is planned."""
_FREE_LINK = 12.0
"""Ways through the work are looked at up to so many mm."""

_LEAST_LINK_MM = 0.2
"""A way through the work that would be shallower than this is no better than one above it."""

_SLIGHT_MM = 0.01
"""What offsets stray from what they should be, in depth, mm."""


_STRAY_MM = 0.003
"""How far such a way may be straightened, mm."""

_LOOK_MM = 0.1
"""Places on a way that falls are looked at so far apart."""

_JUST_ABOVE_MM = 0.05
"""Where a flat bit is slow before it is led down, mm above the wood."""

_AT_TOP_MM = 0.8
"""Places no deeper than this are come down to at once, mm."""

_TOP_WORTH_MM = 25.0
"""So much farther, mm above the work, a bit goes to where it need not be led down straight [CP]: on a machine
of 5000 mm a minute that takes 0.3 s, and leading it down 2 to 3 mm through wood as long."""

_SLENDER_SLOPE = 1.0
"""How steeply a slender bit is led down along a closed lane [CP]."""


@dataclass(frozen=True, slots=True)
class Ways:
    """``ramp_deg`` is how steeply a flat bit enters the wood, ``safe_mm`` how high it begins and ends."""

    ramp_deg: float
    safe_mm: float


@dataclass(slots=True)
class _Line:
    """Moves under way."""

    kind: list[NDArray[np.uint8]] = field(default_factory=list)
    end: list[NDArray[np.float64]] = field(default_factory=list)

    def go(self, kind: int, *points: Sequence[float] | NDArray[np.float64]) -> None:
        """Go straight through points, each with x, y and z."""
        some = np.asarray(points, dtype=np.float64).reshape(-1, 3)
        self.kind.append(np.full(len(some), kind, dtype=np.uint8))
        self.end.append(some)

    def follow(self, points: NDArray[np.float64]) -> None:
        self.go(CUT, points)


def joined(
    lanes: Sequence[Lane], order: Sequence[Placed], bit: Bit, floor: Floor, away: Distances, ways: Ways
) -> Moves:
    """The moves of a bit along lanes in order, from above the first to above the last.

    From lane to lane it goes through the work where it is free to, at the lesser depth of the two; elsewhere
    it is lifted. A flat bit never plunges: it comes down along its lane.
    """
    line = _Line()
    here: NDArray[np.float64] | None = None
    start = (0.0, 0.0, ways.safe_mm)
    for place in order:
        lane = lanes[place.lane]
        if bit.kind not in CLEARING_KINDS:
            lane = _from_the_top(lane, here)
        points = _from(lane, place if here is None else _nearest(lane, place, here))
        first = points[0]
        if here is None:
            line.go(RAPID, (first[0], first[1], ways.safe_mm))
            _enter(line, lane, points, bit, ways)
        elif (level := _link_level(here, first, bit, floor, away)) is not None:
            line.go(CUT, (here[0], here[1], level), (first[0], first[1], level))
            _go_round(line, lane, points, bit, ways, level)
        else:
            line.go(RAPID, (here[0], here[1], _HOP_MM), (first[0], first[1], _HOP_MM))
            _enter(line, lane, points, bit, ways)
        here = line.end[-1][-1]
    if here is not None:
        line.go(RAPID, (here[0], here[1], ways.safe_mm))
    ends = np.concatenate(line.end) if line.end else np.empty((0, 3))
    kinds = np.concatenate(line.kind) if line.kind else np.empty(0, dtype=np.uint8)
    return Moves(start, kinds, ends, np.zeros((len(ends), 2)))


def _nearest(lane: Lane, place: Placed, here: NDArray[np.float64]) -> Placed:
    """A closed lane begun at the point that is nearest to where the bit has come to."""
    if not lane.closed:
        return place
    first = int(((lane.points[:, :2] - here[:2]) ** 2).sum(axis=1).argmin())
    return Placed(place.lane, first, False)


def _from_the_top(lane: Lane, here: NDArray[np.float64] | None) -> Lane:
    """A closed lane begun where it turns back near the face, without what would be gone again at its end.

    So a slender bit comes down along a corner, which it cuts as it does, and not straight down. Other lanes,
    and those whose tops lie too far off, stay as they are.
    """
    if not lane.closed:
        return lane
    points = lane.points
    tops = np.flatnonzero(
        (np.roll(points, 1, axis=0) == np.roll(points, -1, axis=0)).all(axis=1)
        & (points[:, 2] >= -_AT_TOP_MM)
    )
    if not len(tops):
        return lane
    off = np.zeros(len(tops))
    if here is not None:
        off = np.hypot(*(points[tops, :2] - here[:2]).T) - np.hypot(*(points[:, :2] - here[:2]).T).min()
    if off.min() > _TOP_WORTH_MM:
        return lane
    gone = np.roll(points, -int(tops[off.argmin()]), axis=0)
    gone = np.vstack([gone, gone[:1]])
    same = (gone == gone[::-1]).all(axis=1)
    again = max(int(same.argmin()) - 1, 0)
    return Lane(gone[: len(gone) - again], closed=False)


def _from(lane: Lane, place: Placed) -> NDArray[np.float64]:
    """The points of a lane as it is gone: a closed one from its first point back to that."""
    if lane.closed:
        turned = np.roll(lane.points, -place.first, axis=0)
        return np.vstack([turned, turned[:1]])
    return lane.points[::-1] if place.backwards else lane.points


def _link_level(
    here: NDArray[np.float64], there: NDArray[np.float64], bit: Bit, floor: Floor, away: Distances
) -> float | None:
    """The height at which a bit may go straight from one place to another, below the face; None where not.

    It goes no deeper than either place, and rises where it would come too near to wood that stays.
    """
    if np.hypot(*(there - here)[:2]) > _FREE_LINK:
        return None
    room = _room_mm(here, there, bit, floor, away)
    depth = min(room * steepest(bit, floor), -float(here[2]), -float(there[2]))
    return -depth if depth >= _LEAST_LINK_MM else None


def _room_mm(
    here: NDArray[np.float64], there: NDArray[np.float64], bit: Bit, floor: Floor, away: Distances
) -> float:
    """How far the flat of a bit's tip, or its side, stays from the wood that stays, on a straight way."""
    return away.least_along(here, there) - beside_mm(bit, floor) - CLEAR_MM


def way_through(
    here: NDArray[np.float64],
    there: NDArray[np.float64],
    *,
    bit: Bit,
    floor: Floor,
    away: Distances,
    ramp_deg: float,
) -> NDArray[np.float64] | None:
    """The places (n, 3) between two on the way through the work; None where there is no such way.

    It leads straight from depth to depth, no more steeply than the bit is led down. A slender bit else falls
    as straight as the walls along the way allow, and steeply where it must, from the lesser of the depths.
    """
    room = _room_mm(here, there, bit, floor, away) * steepest(bit, floor) + _SLIGHT_MM
    flat = bit.kind in CLEARING_KINDS
    slope = tan(radians(ramp_deg)) if flat else steepest(bit, floor)
    deep, shallow = (here, there) if here[2] < there[2] else (there, here)
    if shallow[2] - deep[2] <= slope * np.hypot(*(there - here)[:2]) and room >= -deep[2]:
        return np.empty((0, 3))
    if flat or room < -shallow[2]:
        return None
    return _along_walls(here, there, float(shallow[2]), bit, floor, away)


def _along_walls(
    here: NDArray[np.float64],
    there: NDArray[np.float64],
    level: float,
    bit: Bit,
    floor: Floor,
    away: Distances,
) -> NDArray[np.float64]:
    """The places between two, as straight a fall as walls allow, and nowhere above a level."""
    count = int(np.ceil(np.hypot(*(there - here)[:2]) / _LOOK_MM)) + 1
    places = np.linspace(here, there, count + 1)
    room = away.at(places) - beside_mm(bit, floor) - CLEAR_MM
    slope = steepest(bit, floor)
    held = np.maximum(places[:, 2], -room * slope) + _STRAY_MM * hypot(1.0, slope)
    places[:, 2] = np.minimum(held, level)
    places[[0, -1]] = here, there
    kept: NDArray[np.float64] = places[straightened(places, _STRAY_MM)][1:-1]
    return kept


def _enter(line: _Line, lane: Lane, points: NDArray[np.float64], bit: Bit, ways: Ways) -> None:
    """Come down to a lane from above and go along it."""
    level = min(_OVER_MM, ways.safe_mm)
    line.go(RAPID, (points[0, 0], points[0, 1], level))
    if bit.kind in CLEARING_KINDS:
        level = _JUST_ABOVE_MM
        line.go(CUT, (points[0, 0], points[0, 1], level))
    _go_round(line, lane, points, bit, ways, level)


def _led_down(
    line: _Line, lane: Lane, points: NDArray[np.float64], level: float, slope: float, *, straight: bool
) -> None:
    """Go along a lane that is gone once, down on a slope first, and again where it was not yet deep.

    An open one that may be entered ``straight`` is.
    """
    if level - points[0, 2] < _SLIGHT_MM or (straight and not lane.closed):
        line.follow(points if abs(points[0, 2] - level) > 1e-9 else points[1:])
        return
    length = float(np.hypot(*np.diff(points[:, :2], axis=0).T).sum())
    if length < (level - float(points[:, 2].min())) / slope:
        _led_down_again(line, lane, points, level, slope, length)
        return
    sloping, after = _sloping(points, level, slope)
    line.follow(sloping[1:])
    first = np.vstack([points[: len(sloping) - 1], sloping[-1:]])
    if lane.closed:
        line.follow(after)
        line.follow(first[1:])
    else:
        line.follow(first[-2::-1])
        line.follow(points[1:])


def _led_down_again(
    line: _Line, lane: Lane, points: NDArray[np.float64], level: float, slope: float, length: float
) -> None:
    """Come down over a way that is too short for the slope, round and round or to and fro; then go it all."""
    if length < _LEAST_RAMP_MM:
        return
    times = int(np.ceil((level - float(points[:, 2].min())) / slope / length)) + 1
    if lane.closed:
        way = np.vstack([points[:1], *([points[1:]] * times)])
        sloping, after = _sloping(way, level, slope)
        line.follow(sloping[1:])
        line.follow(after[: len(points) - 1])
        line.follow(sloping[-1:])
        return
    way = np.vstack([points[:1], *([points[1:], points[-2::-1]] * times)])
    sloping, after = _sloping(way, level, slope)
    line.follow(sloping[1:])
    # On to the end of the way that it is on, and then all of it back.
    rest = len(after) % (len(points) - 1)
    line.follow(after[: rest + len(points) - 1])


def _sloping(
    points: NDArray[np.float64], level: float, slope: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The begin of a way on a slope from a level, to where that meets it, and the points after that."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points[:, :2], axis=0).T))])
    high = level - along * slope - points[:, 2]
    met = int(np.argmin(high > 0.0))
    share = high[met - 1] / (high[met - 1] - high[met])
    place = points[met - 1] + share * (points[met] - points[met - 1])
    led = np.column_stack([points[:met, :2], (points[:, 2] + high)[:met]])
    return np.vstack([led, [place]]), points[met:]


def _go_round(
    line: _Line, lane: Lane, points: NDArray[np.float64], bit: Bit, ways: Ways, level: float
) -> None:
    """Go along a lane layer by layer, down to each on a slope; the bit stands at its first point."""
    if bit.kind not in CLEARING_KINDS:
        _led_down(line, lane, points, level, _SLENDER_SLOPE, straight=True)
        return
    if not lane.layers:
        _led_down(line, lane, points, level, tan(radians(ways.ramp_deg)), straight=False)
        return
    slope = tan(radians(ways.ramp_deg))
    length = float(np.hypot(*np.diff(points[:, :2], axis=0).T).sum())
    for number, layer in enumerate(lane.layers, start=1):
        target = -layer
        if target >= level - 1e-9:
            if number < len(lane.layers):
                continue
            # It was come to through the work at its full depth.
            line.go(CUT, (points[0, 0], points[0, 1], target))
        else:
            points = _ramped(line, lane, points, level, target, slope, length)
        flat = points.copy()
        flat[:, 2] = target
        line.follow(flat[1:])
        level = target
        if not lane.closed:
            points = points[::-1]


def _ramped(
    line: _Line,
    lane: Lane,
    points: NDArray[np.float64],
    level: float,
    target: float,
    slope: float,
    length: float,
) -> NDArray[np.float64]:
    """Come down along a lane, round it or to and fro; the points from where the depth is reached.

    A closed lane is then gone all round from there. An open one is gone from its first point again.
    """
    need = (level - target) / slope
    if lane.closed:
        turns = max(need / max(length, 1e-6), 1e-6)
        whole = int(np.ceil(turns))
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points[:, :2], axis=0).T))])
        way = np.concatenate([along[1:] + k * length for k in range(whole)])
        places = np.tile(points[1:, :2], (whole, 1))
        kept = way < need - 1e-9
        count = int(kept.sum())
        ramp = np.column_stack([places[:count], level - way[:count] * slope])
        stop = _place_at(points, along, need - length * (whole - 1))
        line.go(CUT, np.vstack([ramp, [stop[0], stop[1], target]]))
        cut = int(np.searchsorted(along, need - length * (whole - 1), side="right"))
        rolled = np.vstack([[stop], points[cut:-1, :2], points[:cut, :2], [stop]])
        return np.column_stack([rolled, np.full(len(rolled), target)])
    _to_and_fro(line, points, level, target, min(need / 2.0, length), slope)
    return points


def _to_and_fro(
    line: _Line, points: NDArray[np.float64], level: float, target: float, half: float, slope: float
) -> None:
    """Come down over the first stretch of an open lane, there and back as often as it takes."""
    times = max(1, int(np.ceil((level - target) / slope / (2.0 * half) - 1e-9)))
    fall = (level - target) / (2.0 * half * times)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points[:, :2], axis=0).T))])
    inner = np.flatnonzero((along > 1e-9) & (along < half - 1e-9))
    out = np.vstack([points[inner, :2], [_place_at(points, along, half)]])
    back = np.vstack([points[inner[::-1], :2], points[:1, :2]])
    there = np.concatenate([along[inner], [half]])
    again = 2.0 * half - np.concatenate([along[inner[::-1]], [0.0]])
    for k in range(times):
        top = level - 2.0 * half * fall * k
        line.go(CUT, np.column_stack([out, top - there * fall]))
        line.go(CUT, np.column_stack([back, top - again * fall]))


def _place_at(points: NDArray[np.float64], along: NDArray[np.float64], way: float) -> NDArray[np.float64]:
    return np.array([np.interp(way, along, points[:, 0]), np.interp(way, along, points[:, 1])])
