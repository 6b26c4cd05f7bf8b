"""Smooth curves and strokes, from a few chosen points, in mm."""

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from blockwright.model.units import PointMm

STEP_MM = 0.35
"""Longest chord along a curve: 0.004 mm off a circle of 4 mm radius, a twentieth of a pixel at 300 dpi."""

Points = NDArray[np.float64]


def spline(points: Sequence[PointMm] | Points, *, closed: bool = False, step: float = STEP_MM) -> Points:
    """A centripetal Catmull-Rom curve through the points, sampled at most ``step`` apart.

    The centripetal form (knots at the square root of the chord) makes no loops or cusps: Yuksel, Schaefer
    and Keyser, *Computer-Aided Design* 43(7), 2011. A closed curve ends where it began.
    """
    through = np.asarray(points, dtype=np.float64)
    if closed:
        through = np.vstack([through[-1:], through, through[:2]])
    else:
        through = np.vstack(
            [2 * through[0] - through[1], through, 2 * through[-1] - through[-2]],
        )
    pieces = [_span(through[i : i + 4], step) for i in range(len(through) - 3)]
    return np.vstack([*pieces, through[-2][None]])


def _span(four: Points, step: float) -> Points:
    chords = np.linalg.norm(np.diff(four, axis=0), axis=1)
    t0, t1, t2, t3 = np.concatenate([[0.0], np.cumsum(np.sqrt(np.maximum(chords, 1e-9)))])
    count = max(2, math.ceil(chords[1] / step))
    t = (t1 + (t2 - t1) * np.arange(count) / count)[:, None]
    p0, p1, p2, p3 = four
    a1 = ((t1 - t) * p0 + (t - t0) * p1) / (t1 - t0)
    a2 = ((t2 - t) * p1 + (t - t1) * p2) / (t2 - t1)
    a3 = ((t3 - t) * p2 + (t - t2) * p3) / (t3 - t2)
    b1 = ((t2 - t) * a1 + (t - t0) * a2) / (t2 - t0)
    b2 = ((t3 - t) * a2 + (t - t1) * a3) / (t3 - t1)
    return np.asarray(((t2 - t) * b1 + (t - t1) * b2) / (t2 - t1), dtype=np.float64)


def smooth_area(points: Sequence[PointMm] | Points) -> Polygon:
    """The area inside a smooth closed curve through the points."""
    return Polygon(spline(points, closed=True))


def land_under(crest: Sequence[PointMm] | Points, bottom: float) -> Polygon:
    """The area from a smooth crest, given from left to right, down to a level line."""
    line = spline(crest)
    return Polygon(np.vstack([line, [line[-1][0], bottom], [line[0][0], bottom]]))


def ribbon(points: Sequence[PointMm] | Points, widths: Sequence[float]) -> BaseGeometry:
    """A brush stroke along a smooth curve; its width runs smoothly through the given ones, one a point.

    Ends are round, so that the stroke is nowhere thinner than its least width.
    """
    through = np.column_stack([np.asarray(points, dtype=np.float64), np.asarray(widths, dtype=np.float64)])
    curve = spline(through)
    centre, half = curve[:, :2], np.maximum(curve[:, 2:], 0.02) / 2
    along = np.gradient(centre, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    aside = np.stack([-along[:, 1], along[:, 0]], axis=1)
    left, right = centre + aside * half, centre - aside * half
    stroke = Polygon(np.vstack([left, right[::-1]]))
    if not stroke.is_valid:
        stroke = _swept(left, right)
    caps = [shapely.Point(centre[end]).buffer(float(half[end, 0]), quad_segs=12) for end in (0, -1)]
    return shapely.union_all([stroke, *caps])


def _swept(left: Points, right: Points) -> BaseGeometry:
    """What a stroke covers whose sides cross themselves, quad by quad."""
    quads = [Polygon([left[i], left[i + 1], right[i + 1], right[i]]) for i in range(len(left) - 1)]
    return shapely.union_all([quad.buffer(0.005) for quad in quads])


def line(points: Sequence[PointMm] | Points, width: float, *, flat: bool = False) -> BaseGeometry:
    """A line of one width through corner points, with round or flat ends."""
    return LineString(points).buffer(width / 2, quad_segs=12, cap_style="flat" if flat else "round")


def lens(centre: PointMm, length: float, thickness: float, *, sag: float = 0.0) -> BaseGeometry:
    """A level glint: a stroke that swells in the middle; ``sag`` bends its middle down."""
    x, y = centre
    along = np.linspace(-0.5, 0.5, 7)
    points = [(x + length * a, y + sag * (1 - 4 * a * a)) for a in along]
    return ribbon(points, [max(thickness * (1 - 4 * a * a) ** 0.7, 0.35) for a in along])


def close_gaps(area: BaseGeometry, *, gap: float = 0.5) -> BaseGeometry:
    """Fill gaps narrower than ``gap``, as a knife would leave them."""
    return area.buffer(gap / 2, quad_segs=6).buffer(-gap / 2, quad_segs=6)
