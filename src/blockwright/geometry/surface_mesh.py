"""A height field as a closed body of few triangles: right triangles halved until they lie on the heights.

The triangles are those of the longest-edge bisection of a square grid (Evans, Kirkpatrick and Townsend,
"Right-triangulated irregular networks", *Algorithmica* 30, 2001): two triangles that share a longest side are
halved together, so that there is never a crack between large and small ones.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

SQUARE = 256
"""Samples along a side of the largest squares, a power of 2."""

NEAR_MM = 1.0
"""Down to this depth a surface is near the face: printing edges and the upper parts of walls, mm."""

HOLLOW_TIMES = 8.0
"""Below it a mesh may stray so many times as far: nothing there touches the paper [CP]."""

_KNOWN_MM = 0.4
"""Triangles that stray farther than this are not measured more closely: they are halved in any case, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """A closed body: ``points`` (n, 3) float64, mm, z up from its flat bottom; ``triangles`` (m, 3) int32.

    Corners go round anticlockwise, seen from outside. ``near_off_mm`` and ``hollow_off_mm`` are how far it
    strays from any sample of the heights, at most, near the face and below that.
    """

    points: NDArray[np.float64]
    triangles: NDArray[np.int32]
    near_off_mm: float
    hollow_off_mm: float


def body_of(
    heights: NDArray[np.float32],
    *,
    step_mm: float,
    thickness_mm: float,
    tolerance_mm: float = 0.02,
    most_triangles: int = 800_000,
) -> Body:
    """Make a body of heights (rows, columns), mm, 0 at the face and negative below; row 0 is the lowest y.

    Its top strays from the samples by ``tolerance_mm`` at most near the face and eight times that in the
    hollows; where that takes more than about ``most_triangles``, by as little as so many allow. The block's
    edges lie half a step beyond the outermost samples. Raises ValueError for fewer than 2 x 2 samples, for
    heights above the face, that are not finite or that reach through the block.

    >>> slab = body_of(np.zeros((20, 30), np.float32), step_mm=0.5, thickness_mm=12.0)
    >>> slab.points.max(axis=0).tolist()
    [15.0, 10.0, 12.0]
    """
    if min(heights.shape) < 2:
        raise ValueError("a surface has at least 2 x 2 heights")
    low, high = float(heights.min()), float(heights.max())
    if not (-thickness_mm < low and high <= 0.0):
        raise ValueError("heights are finite, at or below the face and above the block's bottom")
    rows, columns = heights.shape
    padded = np.pad(
        np.ascontiguousarray(heights, dtype=np.float32),
        ((0, -(rows - 1) % SQUARE), (0, -(columns - 1) % SQUARE)),
        mode="edge",
    )
    off = np.zeros_like(padded)
    _measure(padded, off, (rows - 1, columns - 1), SQUARE, 1.0 / HOLLOW_TIMES, tolerance_mm)
    limit = _limit(off, tolerance_mm, most_triangles)
    triangles = _triangles(off, limit, rows - 1, columns - 1, SQUARE)
    strays = _strays(padded, triangles)
    points, corners = _closed(heights, triangles, step_mm, thickness_mm)
    return Body(points, corners, float(strays[0]), float(strays[1]))


def _limit(off: NDArray[np.float32], tolerance_mm: float, most: int) -> float:
    """The tolerance, or the least above it with which there are no more triangles than allowed."""
    above = off[(off > tolerance_mm) & np.isfinite(off)]
    # Every place where triangles are halved adds two, and those along the edges are halved in any case.
    spare = most // 2 - int(np.isinf(off).sum())
    if len(above) <= spare:
        return tolerance_mm
    return float(np.partition(above, len(above) - 1 - max(0, spare))[len(above) - 1 - max(0, spare)])


@njit(cache=True, nogil=True)
def _span(ax, ay, bx, by, y, low, high):  # type: ignore[no-untyped-def]
    """Widen a row's span by what one side of a triangle covers of it; sides are level, upright or at 45."""
    if ay == by:
        if y == ay:
            low, high = min(low, ax, bx), max(high, ax, bx)
    elif min(ay, by) <= y <= max(ay, by):
        along = y - ay if by > ay else ay - y
        x = ax + (along if bx > ax else (-along if bx < ax else 0))
        low, high = min(low, x), max(high, x)
    return low, high


@njit(cache=True, nogil=True)
def _worst(heights, ax, ay, bx, by, cx, cy, hollow, known):  # type: ignore[no-untyped-def]
    """How far a triangle strays at most from the samples under it; below NEAR_MM that counts ``hollow``."""
    za, zb, zc = heights[ay, ax], heights[by, bx], heights[cy, cx]
    twice = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
    across = ((zb - za) * (cy - ay) - (zc - za) * (by - ay)) / twice
    down = ((zc - za) * (bx - ax) - (zb - za) * (cx - ax)) / twice
    worst = 0.0
    for y in range(min(ay, by, cy), max(ay, by, cy) + 1):
        low, high = _span(ax, ay, bx, by, y, 1 << 30, -1)
        low, high = _span(bx, by, cx, cy, y, low, high)
        low, high = _span(cx, cy, ax, ay, y, low, high)
        level = za + down * (y - ay)
        for x in range(low, high + 1):
            z = heights[y, x]
            here = abs(z - level - across * (x - ax))
            if z < -NEAR_MM:
                here *= hollow
            worst = max(worst, here)
        if worst > known:
            break
    return worst


@njit(cache=True, nogil=True)
def _own(heights, ax, ay, bx, by, cx, cy, last, hollow, within, little):  # type: ignore[no-untyped-def]
    """How far one triangle strays: endlessly where it lies across the block's edge, not at all beyond.

    ``within`` is how far its two halves do. They lie off it by most in the middle of its longest side, so
    that both together are a bound, which will do where it is little.
    """
    last_row, last_column = last
    left, right = min(ax, bx, cx), max(ax, bx, cx)
    low, high = min(ay, by, cy), max(ay, by, cy)
    if left >= last_column or low >= last_row:
        return 0.0
    if right > last_column or high > last_row:
        return np.inf
    middle = heights[(ay + by) // 2, (ax + bx) // 2]
    bound = within + abs(middle - (heights[ay, ax] + heights[by, bx]) * 0.5)
    if bound <= little:
        return bound
    return _worst(heights, ax, ay, bx, by, cx, cy, hollow, _KNOWN_MM)


@njit(cache=True, nogil=True)
def _measure_sides(heights, off, s, last, hollow, little):  # type: ignore[no-untyped-def]
    """Triangles whose longest side is one of a square's: what they and the smaller ones within them stray."""
    rows, columns = heights.shape
    half, quarter = s // 2, s // 4
    for upright in range(2):
        for y in range(half if upright else 0, rows, s):
            for x in range(0 if upright else half, columns, s):
                worst = 0.0
                if quarter:
                    for dy in (-quarter, quarter):
                        for dx in (-quarter, quarter):
                            if 0 <= y + dy < rows and 0 <= x + dx < columns:
                                worst = max(worst, off[y + dy, x + dx])
                within = worst
                ax, ay = (x, y - half) if upright else (x - half, y)
                bx, by = (x, y + half) if upright else (x + half, y)
                for way in (-half, half):
                    cx, cy = (x + way, y) if upright else (x, y + way)
                    if worst <= _KNOWN_MM and 0 <= cx < columns and 0 <= cy < rows:
                        own = _own(heights, ax, ay, bx, by, cx, cy, last, hollow, within, little)
                        worst = max(worst, own)
                off[y, x] = worst


@njit(cache=True, nogil=True)
def _measure_squares(heights, off, s, last, hollow, little):  # type: ignore[no-untyped-def]
    """The two halves of every square; diagonals lean alternately."""
    half = s // 2
    for row in range((heights.shape[0] - 1) // s):
        for column in range((heights.shape[1] - 1) // s):
            y, x = row * s + half, column * s + half
            worst = max(off[y - half, x], off[y + half, x], off[y, x - half], off[y, x + half])
            within = worst
            lean = half if (row + column) % 2 == 0 else -half
            for way in (-half, half):
                if worst <= _KNOWN_MM:
                    ax, ay, bx, by = x - half, y - lean, x + half, y + lean
                    cx, cy = x + way, ay if way > 0 else by
                    own = _own(heights, ax, ay, bx, by, cx, cy, last, hollow, within, little)
                    worst = max(worst, own)
            off[y, x] = worst


@njit(cache=True, nogil=True)
def _measure(heights, off, last, square, hollow, little):  # type: ignore[no-untyped-def]
    """For the middle of every longest side how far its triangles stray, or any smaller ones within them."""
    s = 2
    while s <= square:
        _measure_sides(heights, off, s, last, hollow, little)
        _measure_squares(heights, off, s, last, hollow, little)
        s *= 2


@njit(cache=True, nogil=True)
def _put(at, ax, ay, bx, by, cx, cy):  # type: ignore[no-untyped-def]
    at[0], at[1], at[2], at[3], at[4], at[5] = ax, ay, bx, by, cx, cy


@njit(cache=True, nogil=True)
def _walk(off, limit, last_row, last_column, square, out):  # type: ignore[no-untyped-def]
    """Halve triangles while they stray too far, and put those that are left in ``out``; return how many."""
    stack = np.empty((128, 6), np.int32)
    count = 0
    for row in range((off.shape[0] - 1) // square):
        for column in range((off.shape[1] - 1) // square):
            y, x = row * square, column * square
            low, high = (y, y + square) if (row + column) % 2 == 0 else (y + square, y)
            _put(stack[0], x, low, x + square, high, x + square, low)
            _put(stack[1], x + square, high, x, low, x, high)
            size = 2
            while size:
                size -= 1
                ax, ay, bx, by, cx, cy = stack[size]
                if min(ax, bx, cx) >= last_column or min(ay, by, cy) >= last_row:
                    continue
                mx, my = (ax + bx) // 2, (ay + by) // 2
                if (ax + bx) % 2 == 0 and (ay + by) % 2 == 0 and off[my, mx] > limit:
                    _put(stack[size], cx, cy, ax, ay, mx, my)
                    _put(stack[size + 1], bx, by, cx, cy, mx, my)
                    size += 2
                elif (bx - ax) * (cy - ay) > (cx - ax) * (by - ay):
                    _put(out[count], ax, ay, bx, by, cx, cy)
                    count += 1
                else:
                    _put(out[count], ax, ay, cx, cy, bx, by)
                    count += 1
    return count


def _triangles(
    off: NDArray[np.float32], limit: float, last_row: int, last_column: int, square: int
) -> NDArray[np.int32]:
    """The triangles (n, 3, 2) that are left, as columns and rows of their corners, anticlockwise, y up."""
    most = 2 * int((off > limit).sum()) + 2 * off.size // square**2 + 2
    out = np.empty((most, 6), np.int32)
    return out[: _walk(off, limit, last_row, last_column, square, out)].reshape(-1, 3, 2)


@njit(cache=True, nogil=True)
def _strays(heights, triangles):  # type: ignore[no-untyped-def]
    """How far the triangles stray near the face and in the hollows, as measured at every sample."""
    near, whole = 0.0, 0.0
    for k in range(len(triangles)):
        ax, ay = triangles[k, 0]
        bx, by = triangles[k, 1]
        cx, cy = triangles[k, 2]
        near = max(near, _worst(heights, ax, ay, bx, by, cx, cy, 0.0, np.inf))
        whole = max(whole, _worst(heights, ax, ay, bx, by, cx, cy, 1.0, np.inf))
    return near, whole


def _closed(
    heights: NDArray[np.float32], triangles: NDArray[np.int32], step_mm: float, thickness_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Number the corners row by row, and add upright sides and a flat bottom to the top."""
    rows, columns = heights.shape
    flat = triangles[:, :, 1] * np.int32(columns) + triangles[:, :, 0]
    used = np.zeros(rows * columns, dtype=np.bool_)
    used[flat.ravel()] = True
    number = np.cumsum(used, dtype=np.int32) - np.int32(1)
    places = np.flatnonzero(used)
    row, column = np.divmod(places, columns)
    top = np.column_stack(
        [
            _across(column, columns, step_mm),
            _across(row, rows, step_mm),
            thickness_mm + heights.ravel()[places].astype(np.float64),
        ]
    )
    rim = number[_rim(used.reshape(rows, columns))]
    foot = top[rim].copy()
    foot[:, 2] = 0.0
    middle = np.array([[columns * step_mm / 2.0, rows * step_mm / 2.0, 0.0]])
    below = len(top) + np.arange(len(rim), dtype=np.int32)
    after, under = np.roll(rim, -1), np.roll(below, -1)
    centre = np.full(len(rim), len(top) + len(rim), dtype=np.int32)
    sides = [(rim, below, under), (rim, under, after), (centre, under, below)]
    corners = np.concatenate([number[flat], *(np.column_stack(each) for each in sides)])
    return np.concatenate([top, foot, middle]), corners.astype(np.int32)


def _across(place: NDArray[np.int64], count: int, step_mm: float) -> NDArray[np.float64]:
    """Samples lie in the middle of their cells; the outermost stand for the block's edges."""
    at = np.asarray((place + 0.5) * step_mm, dtype=np.float64)
    at[place == 0] = 0.0
    at[place == count - 1] = count * step_mm
    return at


def _rim(used: NDArray[np.bool_]) -> NDArray[np.int64]:
    """The corners along the block's edges, anticlockwise from the lower left, as places in the raster."""
    rows, columns = used.shape
    lower, upper = np.flatnonzero(used[0]), np.flatnonzero(used[-1])
    left, right = np.flatnonzero(used[:, 0]), np.flatnonzero(used[:, -1])
    return np.concatenate(
        [
            lower[:-1],
            right[:-1] * columns + columns - 1,
            (rows - 1) * columns + upper[:0:-1],
            left[:0:-1] * columns,
        ]
    )
