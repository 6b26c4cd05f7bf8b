"""Arcs: the edges between regions, traced once each on the lattice between the pixels.

A lattice point (x, y) is the corner between four pixels; pixel (column i, row j) covers the square from
(i, j) to (i + 1, j + 1). A crack is the unit step between two lattice points with different labels on its
two sides. A node is a lattice point where other than two cracks meet, or a corner of the picture. An arc
is a chain of cracks from node to node, or a closed chain without a node. Two regions share the very same
arc, so that no later step can part them.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

_OUTSIDE = 254
"""Stands around the picture while tracing; palettes have at most 64 colours."""


@dataclass(frozen=True, slots=True)
class Arcs:
    """Chains of lattice points. Arc ``i`` is ``points[start[i]:start[i + 1]]``, (x, y) int32.

    ``left`` and ``right`` are the flat index (row * width + column) of the pixel on either side of the first
    crack, seen along the arc with y downwards, or -1 outside the picture. A closed arc repeats its first
    point; ``closed`` tells those that pass no node.
    """

    points: NDArray[np.int32]
    start: NDArray[np.int64]
    left: NDArray[np.int64]
    right: NDArray[np.int64]
    closed: NDArray[np.bool_]


@njit(cache=True, nogil=True)
def _ways(padded, x, y):  # type: ignore[no-untyped-def]
    """Bits of the directions in which a crack leaves the lattice point."""
    ul, ur = padded[y, x], padded[y, x + 1]
    ll, lr = padded[y + 1, x], padded[y + 1, x + 1]
    ways = 0
    if ur != lr:
        ways |= 1
    if ll != lr:
        ways |= 2
    if ul != ll:
        ways |= 4
    if ul != ur:
        ways |= 8
    return ways


@njit(cache=True, nogil=True)
def _classify(padded, kind):  # type: ignore[no-untyped-def]
    """Write the ways of every lattice point, with bit 16 for nodes; return cracks and crack ends at nodes."""
    height, width = kind.shape[0] - 1, kind.shape[1] - 1
    ends = 0
    node_ends = 0
    for y in range(height + 1):
        for x in range(width + 1):
            ul, ur = padded[y, x], padded[y, x + 1]
            ll, lr = padded[y + 1, x], padded[y + 1, x + 1]
            if ul == ur and ll == lr and ul == ll:
                kind[y, x] = 0
                continue
            ways = 0
            degree = 0
            if ur != lr:
                ways |= 1
                degree += 1
            if ll != lr:
                ways |= 2
                degree += 1
            if ul != ll:
                ways |= 4
                degree += 1
            if ul != ur:
                ways |= 8
                degree += 1
            ends += degree
            if degree != 2 or ((x == 0 or x == width) and (y == 0 or y == height)):
                ways |= 16
                node_ends += degree
            kind[y, x] = ways
    return ends // 2, node_ends


@njit(cache=True, nogil=True)
def _walk(kind, x, y, way, points, n):  # type: ignore[no-untyped-def]
    """Follow cracks from (x, y) until a node or the start; clear each crack's bits at both of its ends."""
    x0, y0 = x, y
    points[n, 0] = x
    points[n, 1] = y
    n += 1
    while True:
        kind[y, x] &= ~(1 << way)
        if way == 0:
            x += 1
        elif way == 1:
            y += 1
        elif way == 2:
            x -= 1
        else:
            y -= 1
        kind[y, x] &= ~(1 << ((way + 2) & 3))
        points[n, 0] = x
        points[n, 1] = y
        n += 1
        here = kind[y, x]
        if here & 16 or (x == x0 and y == y0):
            return n
        if here & 1:
            way = 0
        elif here & 2:
            way = 1
        elif here & 4:
            way = 2
        else:
            way = 3


@njit(cache=True, nogil=True)
def _sides(x, y, way, width, height):  # type: ignore[no-untyped-def]
    """Flat pixel index left and right of the crack that leaves (x, y)."""
    if way == 0:
        lx, ly, rx, ry = x, y - 1, x, y
    elif way == 1:
        lx, ly, rx, ry = x, y, x - 1, y
    elif way == 2:
        lx, ly, rx, ry = x - 1, y, x - 1, y - 1
    else:
        lx, ly, rx, ry = x - 1, y - 1, x, y - 1
    left = ly * width + lx if 0 <= lx < width and 0 <= ly < height else -1
    right = ry * width + rx if 0 <= rx < width and 0 <= ry < height else -1
    return left, right


@njit(cache=True, nogil=True)
def _trace(kind, points, start, left, right, closed):  # type: ignore[no-untyped-def]
    height, width = kind.shape[0] - 1, kind.shape[1] - 1
    n = 0
    arcs = 0
    for loops in range(2):
        for y in range(height + 1):
            for x in range(width + 1):
                here = kind[y, x]
                if here & 15 == 0 or (loops == 0 and here & 16 == 0):
                    continue
                for way in range(4):
                    if kind[y, x] & (1 << way):
                        left[arcs], right[arcs] = _sides(x, y, way, width, height)
                        start[arcs] = n
                        closed[arcs] = loops == 1
                        n = _walk(kind, x, y, way, points, n)
                        arcs += 1
    start[arcs] = n
    return arcs


def trace_arcs(labels: NDArray[np.uint8]) -> Arcs:
    """Trace every edge of a label map, (H, W) uint8 with values below 254, the picture's frame included.

    >>> arcs = trace_arcs(np.array([[0, 1]], np.uint8))
    >>> len(arcs.left), arcs.points[arcs.start[0]:arcs.start[1]].tolist()
    (7, [[0, 0], [1, 0]])
    """
    height, width = labels.shape
    padded = np.full((height + 2, width + 2), _OUTSIDE, np.uint8)
    padded[1:-1, 1:-1] = labels
    kind = np.empty((height + 1, width + 1), np.uint8)
    cracks, node_ends = _classify(padded, kind)
    del padded
    # A closed chain without a node has at least four cracks.
    most_arcs = node_ends // 2 + cracks // 4 + 1
    points = np.empty((cracks + most_arcs, 2), np.int32)
    start = np.empty(most_arcs + 1, np.int64)
    left = np.empty(most_arcs, np.int64)
    right = np.empty(most_arcs, np.int64)
    closed = np.zeros(most_arcs, np.bool_)
    count = _trace(kind, points, start, left, right, closed)
    return Arcs(points[: start[count]], start[: count + 1], left[:count], right[:count], closed[:count])
