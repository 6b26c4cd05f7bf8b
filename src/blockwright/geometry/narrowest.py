"""The narrowest width of a shape, as a carver would measure it across, and where it is.

The width at a place of the outline is the diameter of the round that touches the outline there from inside
and is stopped by the far side. It counts as a line or a neck when the shape goes on past it in both
directions, for at least as far as it is wide, without getting narrower; so a tongue has to be longer than
wide. Corners, rounded ends, and parts that run out to a point do not count. A shape that is all ends (a disc,
a square, a drop) is as narrow as it is wide: the diameter of the largest round that fits into it.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray
from shapely.geometry import Polygon

from blockwright.model.units import PointMm

_STEPS_ACROSS = 8.0
"""Places along the outline to the greatest width that is looked for."""

_MOST_PLACES, _LEAST_STEPS = 12_000, 4.0
"""Long outlines get wider steps, and are first looked at so many of those far; their corners stay places, and
a neck always has one."""

_FIRST_LOOK, _NEXT_LOOK = 0.125, 2.0
"""The narrow is mostly much narrower than the mean width: it is looked for up to this part of the mean first,
then up to so many times as far, with steps to match. That is what makes it quick."""

_GOES_ON = 0.9
"""Going on without getting narrower than this part: a line may taper by 1 in 10."""

_WIDER = 1.1
"""What is cut off at a neck has a place this much wider; without one it is the end of a line."""

_BLUNT = 2.0 / 3.0
"""The mean width of a line's end, as a part of the width where it begins: a square end has 1, a point 1/2."""

_AROUND = 3.0
"""The way along the outline from one side to the other, in widths, below which both are one end: a square end
of a tongue as long as wide has 3, a round end 1.6."""

_FACING = 0.5
"""The far side lies within 60 degrees of straight across: sides that meet at more than 120 degrees are one
bent side, those that meet at less are a corner."""

_CORNER = 0.5
"""The cosine of a turn of 60 degrees, from which on a place is a corner, without width."""

_MOST_CELLS = 300
"""Cells that places are sorted into, along the longer side of the shape."""

_FIT_PART = 0.01
"""The largest round is found to this part of the mean width."""


@dataclass(frozen=True, slots=True)
class NarrowestWidth:
    """A width, mm, and the two places on the outline between which it is measured."""

    width_mm: float
    start: PointMm
    end: PointMm

    @property
    def at(self) -> PointMm:
        """The place halfway across."""
        return (self.start[0] + self.end[0]) / 2.0, (self.start[1] + self.end[1]) / 2.0


@dataclass(frozen=True, slots=True)
class _Outline:
    """Places along the rings, from ``starts[r]`` up to ``starts[r + 1]`` on ring r, and the normals inward.

    ``along_mm`` is how far each place lies along its ring, ``around_mm`` how long its ring is; ``swept_mm2``
    is twice the area that a line from the origin sweeps on the way from the ring's first place. ``steps``
    lead to the next place.
    """

    points: NDArray[np.float64]
    before: NDArray[np.float64]
    after: NDArray[np.float64]
    starts: NDArray[np.int64]
    along_mm: NDArray[np.float64]
    around_mm: NDArray[np.float64]
    swept_mm2: NDArray[np.float64]
    steps: NDArray[np.float64]


def narrowest_width(region: Polygon) -> NarrowestWidth:
    """Measure a valid polygon in mm where it is narrowest. Raises ValueError when it has no area.

    >>> narrowest_width(shapely.box(0.0, 0.0, 10.0, 2.0)).width_mm
    2.0
    """
    if not region.area > 0.0:
        raise ValueError("a shape without area has no width")
    mean_mm = 2.0 * region.area / region.length
    fit = None
    finest_mm = region.length / _MOST_PLACES
    most_mm = max(_FIRST_LOOK * mean_mm, _LEAST_STEPS * finest_mm)
    while fit is None or most_mm < _NEXT_LOOK * fit.width_mm:
        outline = _outline(region, max(most_mm / _STEPS_ACROSS, finest_mm))
        widths, far = _measure(outline, most_mm)
        place = _first_that_counts(
            outline.points,
            outline.starts,
            (outline.along_mm, outline.around_mm, outline.swept_mm2),
            (widths, far),
            np.argsort(widths, kind="stable"),
        )
        if place >= 0:
            return _measured(outline, place, int(far[place]))
        if most_mm >= mean_mm and fit is None:
            fit = _largest_round(region, mean_mm)
        most_mm *= _NEXT_LOOK
    return fit


def _largest_round(region: Polygon, mean_mm: float) -> NarrowestWidth:
    radius = shapely.maximum_inscribed_circle(region, tolerance=_FIT_PART * mean_mm)
    (cx, cy), (x, y) = shapely.get_coordinates(radius).tolist()
    return NarrowestWidth(2.0 * float(radius.length), (x, y), (2.0 * cx - x, 2.0 * cy - y))


def _outline(region: Polygon, step_mm: float) -> _Outline:
    rings = shapely.get_rings(shapely.orient_polygons(shapely.remove_repeated_points(region)))
    rings = shapely.segmentize(rings, step_mm)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    last = np.append(ring[1:] != ring[:-1], True)
    edge = np.roll(points, -1, axis=0) - points
    length = np.hypot(edge[:, 0], edge[:, 1])
    # Outer rings run anticlockwise in their own axes, holes the other way: inside is to the left of both.
    normal = np.stack([-edge[:, 1], edge[:, 0]], axis=1) / np.where(length > 0.0, length, 1.0)[:, np.newaxis]
    keep = ~last
    starts = np.concatenate([[0], np.cumsum(np.bincount(ring[keep]))]).astype(np.int64)
    after = np.ascontiguousarray(normal[keep])
    before = np.roll(after, 1, axis=0)
    before[starts[:-1]] = after[starts[1:] - 1]
    points = np.ascontiguousarray(points[keep])
    following = np.roll(points, -1, axis=0)
    following[starts[1:] - 1] = points[starts[:-1]]
    along, around = _walked(length[keep], starts)
    swept, _ = _walked(points[:, 0] * following[:, 1] - points[:, 1] * following[:, 0], starts)
    return _Outline(points, before, after, starts, along, around, swept, following - points)


def _walked(
    each: NDArray[np.float64], starts: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The sum before every place from its ring's first one, and the sum around its ring."""
    total = np.concatenate([[0.0], np.cumsum(each)])
    counts = np.diff(starts)
    return total[:-1] - np.repeat(total[starts[:-1]], counts), np.repeat(np.diff(total[starts]), counts)


def _measure(outline: _Outline, most_mm: float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The width at every place, infinite beyond ``most_mm``, and the place on the far side."""
    points = outline.points
    low = points.min(axis=0)
    cell_mm = max(most_mm / 3.0, float(np.ptp(points, axis=0).max()) / _MOST_CELLS)
    columns, rows = (np.floor((points.max(axis=0) - low) / cell_mm).astype(np.int64) + 1).tolist()
    where = np.floor((points - low) / cell_mm).astype(np.int64)
    cell = where[:, 1] * columns + where[:, 0]
    order = np.argsort(cell, kind="stable")
    begins = np.concatenate([[0], np.cumsum(np.bincount(cell, minlength=columns * rows))])
    cells = (order, begins, columns, rows)
    lengths = (cell_mm, most_mm, float(np.hypot(*outline.steps.T).max()))
    widths, far = _across(points, outline.steps, (outline.before, outline.after), where, cells, lengths)
    return widths, far


def _measured(outline: _Outline, near: int, far: int) -> NarrowestWidth:
    """The exact distance between the outline about one place and about the other."""
    # One end stays where it was found: on a taper the nearest would always be farther along.
    line = shapely.shortest_line(shapely.Point(outline.points[near]), _about(outline, far))
    start, end = shapely.get_coordinates(line).tolist()
    return NarrowestWidth(float(line.length), (start[0], start[1]), (end[0], end[1]))


def _about(outline: _Outline, place: int) -> shapely.LineString:
    ring = int(np.searchsorted(outline.starts, place, side="right")) - 1
    first, count = int(outline.starts[ring]), int(outline.starts[ring + 1] - outline.starts[ring])
    return shapely.LineString(outline.points[first + (place - first + np.arange(-1, 2)) % count])


@njit(cache=True, nogil=True)
def _reach(vx, vy, inward, best):  # type: ignore[no-untyped-def]
    """The diameter of the round through a place and another one at (vx, vy) from it, or best if less.

    ``inward`` are two normals: at an inner corner all directions between them are straight across.
    """
    squared = vx * vx + vy * vy
    ax, ay, bx, by = inward
    facing = max(ax * vx + ay * vy, bx * vx + by * vy)
    if facing <= 0.0 or squared == 0.0 or squared >= best * facing:
        inner = ax * by - ay * bx < 0.0 and ax * vy - ay * vx <= 0.0 and vx * by - vy * bx <= 0.0
        return min(best, np.sqrt(squared)) if inner and squared > 0.0 else best
    distance = np.sqrt(squared)
    if ax * by - ay * bx < 0.0 and ax * vy - ay * vx <= 0.0 and vx * by - vy * bx <= 0.0:
        return min(best, distance)
    return squared / facing if facing > _FACING * distance else best


@njit(cache=True, nogil=True)
def _inward(ax, ay, bx, by):  # type: ignore[no-untyped-def]
    """The normals of a place: both at an inner corner, the middle one elsewhere."""
    if ax * by - ay * bx < 0.0:
        return ax, ay, bx, by
    size = np.sqrt((ax + bx) ** 2 + (ay + by) ** 2)
    return (ax + bx) / size, (ay + by) / size, (ax + bx) / size, (ay + by) / size


@njit(cache=True, nogil=True)
def _across(points, steps, normals, where, cells, lengths):  # type: ignore[no-untyped-def]
    before, after = normals
    order, begins, columns, rows = cells
    cell_mm, most_mm, step_mm = lengths
    widths = np.full(len(points), np.inf)
    far = np.full(len(points), -1, np.int64)
    for i in range(len(points)):
        ax, ay, bx, by = before[i, 0], before[i, 1], after[i, 0], after[i, 1]
        if ax * by - ay * bx > 0.0 and ax * bx + ay * by < _CORNER:
            widths[i] = 0.0
            continue
        inward = _inward(ax, ay, bx, by)
        x, y = points[i, 0], points[i, 1]
        best = most_mm
        ring = 0
        # Cells in squares about the place; those of one square are at least ring - 1 cells away.
        while (ring - 1) * cell_mm < best + step_mm:
            for row in range(max(where[i, 1] - ring, 0), min(where[i, 1] + ring, rows - 1) + 1):
                step = 1 if ring == 0 or abs(row - where[i, 1]) == ring else 2 * ring
                for column in range(where[i, 0] - ring, where[i, 0] + ring + 1, step):
                    if column < 0 or column >= columns:
                        continue
                    cell = row * columns + column
                    for k in range(begins[cell], begins[cell + 1]):
                        j = order[k]
                        vx, vy = points[j, 0] - x, points[j, 1] - y
                        if vx * vx + vy * vy > (best + step_mm) ** 2:
                            continue
                        reach = _reach(vx, vy, inward, best)
                        # The nearest place of the straight step from there.
                        dx, dy = steps[j, 0], steps[j, 1]
                        along = -(vx * dx + vy * dy)
                        whole = dx * dx + dy * dy
                        if 0.0 < along < whole:
                            part = along / whole
                            reach = _reach(vx + part * dx, vy + part * dy, inward, reach)
                        if reach < best:
                            best = reach
                            widths[i] = best
                            far[i] = j
            ring += 1
    return widths, far


@njit(cache=True, nogil=True)
def _goes_on(first, along_mm, around_mm, widths, place, step):  # type: ignore[no-untyped-def]
    """Whether the outline keeps its width one way along a ring, as far as it is wide."""
    start, count = first
    i = place
    while True:
        i = start + (i - start + step) % count
        gone = (step * (along_mm[i] - along_mm[place])) % around_mm[place]
        if widths[i] < _GOES_ON * widths[place]:
            return False
        if i == place or gone > widths[place]:
            return True


@njit(cache=True, nogil=True)
def _cut_off(points, first, walked, widths, start, end):  # type: ignore[no-untyped-def]
    """Whether the way from ``start`` on to ``end`` cuts off something wide, or the blunt end of a line."""
    begin, count = first
    along_mm, around_mm, swept_mm2 = walked
    way = (along_mm[end] - along_mm[start]) % around_mm[start]
    if way < _AROUND * widths[start]:
        return False
    i = start
    while i != end:
        if widths[i] > _WIDER * widths[start]:
            return True
        i = begin + (i - begin + 1) % count
    swept = swept_mm2[end] - swept_mm2[start]
    if end < start:
        last = begin + count - 1
        swept += swept_mm2[last] + points[last, 0] * points[begin, 1] - points[last, 1] * points[begin, 0]
    area = 0.5 * abs(swept + points[end, 0] * points[start, 1] - points[end, 1] * points[start, 0])
    return 2.0 * area >= _BLUNT * widths[start] * (way - widths[start])


@njit(cache=True, nogil=True)
def _first_that_counts(points, starts, walked, measured, order):  # type: ignore[no-untyped-def]
    """The first place in an order where the shape goes on in both directions, -1 if there is none."""
    along_mm, around_mm, _ = walked
    widths, far = measured
    for place in order:
        if widths[place] == 0.0:
            continue
        if not np.isfinite(widths[place]):
            break
        ring = np.searchsorted(starts, place, side="right") - 1
        first = (starts[ring], starts[ring + 1] - starts[ring])
        if not _goes_on(first, along_mm, around_mm, widths, place, 1):
            continue
        if not _goes_on(first, along_mm, around_mm, widths, place, -1):
            continue
        other = far[place]
        if starts[ring] <= other < starts[ring + 1]:
            before = widths[other]
            # The far side is as wide across; its own measure may be of something else.
            widths[other] = widths[place]
            counts = _cut_off(points, first, walked, widths, place, other)
            counts = counts and _cut_off(points, first, walked, widths, other, place)
            widths[other] = before
            if not counts:
                continue
        return place
    return -1
