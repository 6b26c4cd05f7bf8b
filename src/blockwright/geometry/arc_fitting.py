"""Arcs in a bit's moves: fitted to chains of short straight moves, and taken apart into straight ones.

A fitted arc begins and ends where the moves do, at thousandths of a millimetre as a program names them. Its
centre lies on the bisector of the two and is least squares for what is between [der], at thousandths too, so
that the two radii of the arc differ by 0.0015 mm at most: interpreters refuse 0.002 mm and more
[pub: NIST RS274/NGC 2000].
"""

from math import acos, atan2, ceil, cos, hypot, pi, sin, sqrt

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.model.router import ANTICLOCKWISE, CLOCKWISE, CUT, Moves

FIT_WITHIN_MM = 0.005
"""How far a fitted arc may be from the moves that it stands for, mm [der: a quarter of the deepest touch]."""

SPLIT_WITHIN_MM = 0.002
"""How far a straight move may be from the arc that it is a part of, mm [der]."""

ROUNDED_MM = 0.0008
"""What rounding ends and centres to thousandths may add to that, mm."""

LEAST_MOVES = 3
"""Straight moves that are worth an arc: any two lie on one."""

WIDEST = 0.98 * pi
"""The widest arc: less than a half circle, so that no rounding turns it into the other half."""

LEAST_RADIUS_MM, MOST_RADIUS_MM = 0.02, 1000.0
LEAST_CHORD_MM = 0.01
"""Arcs beyond these stay straight moves: tiny ones are lost in thousandths, and very flat ones are lines."""


def fit_arcs(moves: Moves, *, within_mm: float = FIT_WITHIN_MM) -> Moves:
    """Put arcs in the place of chains of straight level moves where none is more than ``within_mm`` away.

    Every point and every stretch between two points is measured against the arc. What cannot be an arc stays
    as it is; ends come out at thousandths of a millimetre. Arcs that were there stay, those wider than a half
    circle in thirds.

    >>> turn = np.linspace(0.0, np.pi / 2, 31)[1:]
    >>> end = np.stack([10 * np.cos(turn), 10 * np.sin(turn), np.full(30, -1.0)], axis=1)
    >>> fitted = fit_arcs(Moves((10.0, 0.0, -1.0), np.ones(30, np.uint8), end, np.zeros((30, 2))))
    >>> fitted.kind.tolist(), fitted.end.tolist()
    ([3], [[0.0, 10.0, -1.0]])
    """
    points, kind, centre = _with_start(moves)
    room = len(kind) + 3 * int(np.count_nonzero(kind > CUT)) + 1
    new_kind = np.empty(room, dtype=np.uint8)
    new_end = np.empty((room, 3))
    new_centre = np.zeros((room, 2))
    taken = _fit(points, kind, centre, within_mm - ROUNDED_MM, new_kind, new_end, new_centre)
    start = tuple(np.round(points[0], 3).tolist())
    return Moves(start, new_kind[:taken].copy(), new_end[:taken].copy(), new_centre[:taken].copy())


def split_arcs(moves: Moves, *, within_mm: float = SPLIT_WITHIN_MM) -> Moves:
    """Put straight moves in the place of arcs, none farther than ``within_mm`` from its arc.

    >>> half = Moves((1.0, 0.0, 0.0), np.array([3], np.uint8), np.array([[-1.0, 0.0, 0.0]]), np.zeros((1, 2)))
    >>> len(split_arcs(half, within_mm=0.3)), set(split_arcs(half).kind.tolist())
    (2, {1})
    """
    points, kind, centre = _with_start(moves)
    parts = arc_parts(moves, within_mm=within_mm)
    end = np.empty((int(parts.sum()), 3))
    _split(points, kind, centre, parts, end)
    straight = np.where(kind > CUT, CUT, kind).astype(np.uint8)
    return Moves(moves.start, np.repeat(straight, parts), end, np.zeros((len(end), 2)))


def arc_parts(moves: Moves, *, within_mm: float = SPLIT_WITHIN_MM) -> NDArray[np.int64]:
    """How many straight moves :func:`split_arcs` puts in the place of each move, (n,).

    >>> whole = Moves((1.0, 0.0, 0.0), np.array([3], np.uint8), np.array([[1.0, 0.0, 0.0]]), np.zeros((1, 2)))
    >>> arc_parts(whole, within_mm=0.01).tolist()
    [23]
    """
    points, kind, centre = _with_start(moves)
    parts: NDArray[np.int64] = _parts(points, kind, centre, within_mm)
    return parts


def _with_start(moves: Moves) -> tuple[NDArray[np.float64], NDArray[np.uint8], NDArray[np.float64]]:
    start = np.array([moves.start], dtype=np.float64)
    points = np.concatenate([start, np.asarray(moves.end, dtype=np.float64).reshape(-1, 3)])
    return points, np.asarray(moves.kind, np.uint8), np.asarray(moves.centre, np.float64).reshape(-1, 2)


@njit(cache=True, nogil=True)
def _swept(x0, y0, x1, y1, cx, cy, clockwise):  # type: ignore[no-untyped-def]
    """The angle of an arc, radians: above 0, and a whole turn where its ends meet."""
    angle = atan2(y1 - cy, x1 - cx) - atan2(y0 - cy, x0 - cx)
    if clockwise:
        angle = -angle
    while angle <= 1e-9:
        angle += 2.0 * pi
    while angle > 2.0 * pi + 1e-9:
        angle -= 2.0 * pi
    return angle


@njit(cache=True, nogil=True)
def _parts(points, kind, centre, within):  # type: ignore[no-untyped-def]
    """How many straight moves stand for each move."""
    parts = np.ones(len(kind), dtype=np.int64)
    for k in range(len(kind)):
        if kind[k] <= CUT:
            continue
        a, b, c = points[k], points[k + 1], centre[k]
        radius = max(hypot(a[0] - c[0], a[1] - c[1]), 1e-9)
        step = 2.0 * acos(max(1.0 - within / radius, 0.0))
        angle = _swept(a[0], a[1], b[0], b[1], c[0], c[1], kind[k] == CLOCKWISE)
        parts[k] = max(1, ceil(angle / step - 1e-9))
    return parts


@njit(cache=True, nogil=True)
def _split(points, kind, centre, parts, end):  # type: ignore[no-untyped-def]
    at = 0
    for k in range(len(kind)):
        a, b, c = points[k], points[k + 1], centre[k]
        if parts[k] > 1:
            angle = _swept(a[0], a[1], b[0], b[1], c[0], c[1], kind[k] == CLOCKWISE)
            if kind[k] == CLOCKWISE:
                angle = -angle
            r0, r1 = hypot(a[0] - c[0], a[1] - c[1]), hypot(b[0] - c[0], b[1] - c[1])
            begins = atan2(a[1] - c[1], a[0] - c[0])
            for i in range(1, parts[k]):
                part = i / parts[k]
                radius = r0 + (r1 - r0) * part
                end[at, 0] = c[0] + radius * cos(begins + angle * part)
                end[at, 1] = c[1] + radius * sin(begins + angle * part)
                end[at, 2] = a[2] + (b[2] - a[2]) * part
                at += 1
        end[at] = b
        at += 1


@njit(cache=True, nogil=True)
def _thousandth(value):  # type: ignore[no-untyped-def]
    return np.round(value * 1000.0) / 1000.0


@njit(cache=True, nogil=True)
def _arc(points, i, j, within):  # type: ignore[no-untyped-def]
    """The centre of an arc from point i to point j and its turn, +1 anticlockwise, -1, or 0 for none."""
    ax, ay = _thousandth(points[i, 0]), _thousandth(points[i, 1])
    bx, by = _thousandth(points[j, 0]), _thousandth(points[j, 1])
    chord = hypot(bx - ax, by - ay)
    if chord < LEAST_CHORD_MM:
        return 0.0, 0.0, 0
    ux, uy = (bx - ax) / chord, (by - ay) / chord
    mx, my, half = (ax + bx) / 2.0, (ay + by) / 2.0, chord / 2.0
    above, below = 0.0, 0.0
    for k in range(i + 1, j):
        dx, dy = points[k, 0] - mx, points[k, 1] - my
        v = dy * ux - dx * uy
        above += v * (dx * dx + dy * dy - half * half)
        below += 2.0 * v * v
    if below < 1e-12:
        return 0.0, 0.0, 0
    t = above / below
    if abs(t) > MOST_RADIUS_MM:
        return 0.0, 0.0, 0
    cx, cy = _thousandth(mx - t * uy), _thousandth(my + t * ux)
    radius = (hypot(ax - cx, ay - cy) + hypot(bx - cx, by - cy)) / 2.0
    if radius < LEAST_RADIUS_MM:
        return 0.0, 0.0, 0
    way, angle = 0, 0.0
    for k in range(i, j):
        px, py = points[k, 0] - cx, points[k, 1] - cy
        qx, qy = points[k + 1, 0] - cx, points[k + 1, 1] - cy
        if hypot(qx - px, qy - py) < 1e-9:
            continue
        cross = px * qy - py * qx
        turned = 1 if cross > 0 else -1
        if way == 0:
            way = turned
        if turned != way:
            return 0.0, 0.0, 0
        angle += abs(atan2(cross, px * qx + py * qy))
        # The stretch is nearest to the centre where the perpendicular meets it, and farthest at its ends.
        sx, sy = qx - px, qy - py
        length = sx * sx + sy * sy
        foot = -(px * sx + py * sy) / length if length > 0 else 0.0
        if foot > 0.0 and foot < 1.0 and radius - abs(cross) / sqrt(length) > within:
            return 0.0, 0.0, 0
        if abs(hypot(qx, qy) - radius) > within or abs(hypot(px, py) - radius) > within:
            return 0.0, 0.0, 0
    if angle > WIDEST:
        return 0.0, 0.0, 0
    return cx, cy, way


@njit(cache=True, nogil=True)
def _keep_arc(points, centre, k, clockwise, new_kind, new_end, new_centre, at):  # type: ignore[no-untyped-def]
    """Write an arc that was there, in thirds where it is wide, its centre on the bisector of rounded ends."""
    a, b, c = points[k], points[k + 1], centre[k]
    angle = _swept(a[0], a[1], b[0], b[1], c[0], c[1], clockwise)
    parts = 3 if angle > WIDEST else 1
    begins, way = atan2(a[1] - c[1], a[0] - c[0]), -1.0 if clockwise else 1.0
    radius = hypot(a[0] - c[0], a[1] - c[1])
    x0, y0 = _thousandth(a[0]), _thousandth(a[1])
    for i in range(1, parts + 1):
        x1, y1 = b[0], b[1]
        if i < parts:
            turn = begins + way * angle * i / parts
            x1, y1 = c[0] + radius * cos(turn), c[1] + radius * sin(turn)
        x1, y1 = _thousandth(x1), _thousandth(y1)
        chord = hypot(x1 - x0, y1 - y0)
        new_end[at, 0], new_end[at, 1], new_end[at, 2] = x1, y1, _thousandth(b[2])
        if chord < LEAST_CHORD_MM or radius > MOST_RADIUS_MM:
            new_kind[at] = CUT
        else:
            ux, uy = (x1 - x0) / chord, (y1 - y0) / chord
            mx, my = (x0 + x1) / 2.0, (y0 + y1) / 2.0
            t = (c[1] - my) * ux - (c[0] - mx) * uy
            new_centre[at, 0], new_centre[at, 1] = _thousandth(mx - t * uy), _thousandth(my + t * ux)
            new_kind[at] = CLOCKWISE if clockwise else ANTICLOCKWISE
        x0, y0 = x1, y1
        at += 1
    return at


@njit(cache=True, nogil=True)
def _fit(points, kind, centre, within, new_kind, new_end, new_centre):  # type: ignore[no-untyped-def]
    """Take the longest arc from every place on: twice as many moves each time, then halves in between."""
    at, i, last, count = 0, 0, 0, len(kind)
    while i < count:
        if kind[i] > CUT:
            at = _keep_arc(points, centre, i, kind[i] == CLOCKWISE, new_kind, new_end, new_centre, at)
            i += 1
            continue
        last = max(last, i)
        while last < count and kind[last] == CUT and abs(points[last + 1, 2] - points[last, 2]) < 1e-9:
            last += 1
        best, cx, cy, way = 0, 0.0, 0.0, 0
        step, most = LEAST_MOVES, last - i
        failed = most + 1
        while step <= most:
            x, y, turned = _arc(points, i, i + step, within)
            if turned == 0:
                failed = step
                break
            best, cx, cy, way = step, x, y, turned
            if step == most:
                break
            step = min(2 * step, most)
        while best > 0 and failed - best > 1 and failed <= most:
            step = (best + failed) // 2
            x, y, turned = _arc(points, i, i + step, within)
            if turned == 0:
                failed = step
            else:
                best, cx, cy, way = step, x, y, turned
        if best == 0:
            best, new_kind[at] = 1, kind[i]
        else:
            new_kind[at] = ANTICLOCKWISE if way > 0 else CLOCKWISE
            new_centre[at, 0], new_centre[at, 1] = cx, cy
        for axis in range(3):
            new_end[at, axis] = _thousandth(points[i + best, axis])
        at += 1
        i += best
    return at
