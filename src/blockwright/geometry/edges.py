"""Where two colours truly meet: arcs moved to sub-pixel places and freed of the hand's tremble.

Across an antialiased edge each pixel holds both colours by the share of its area that each covers. Summing
those shares along the line of pixels that crosses the edge gives the edge's place exactly for a straight
edge and a box filter, whatever its slope (the integral is what counts, not the profile). The colours to
compare with are taken from the level ground on both sides, so that a slow run of colour does not pull the
edge. Where there is no step at all (two bands of a gradation) there is nothing to measure and the arc is
smoothed more.
"""

from dataclasses import dataclass
from math import ceil

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.geometry.arcs import Arcs

_PROFILE_PX = 3
"""Pixels on each side that can hold a share of the other colour: an antialiased edge at 45 degrees
reaches 1.4 px, a soft brush about 3."""

_GROUND_PX = 6
"""How far the level ground is looked for, in pixels."""

_FURTHEST_PX = 1.2
"""A crack is at most this far from the edge that it stands for; more would be another edge."""

_LEAST_STEP = 0.4
"""A step of colour smaller than this part of the palette step is no edge but a run of colour."""

_SLANT = 0.55
"""Cracks at more than about 57 degrees to the edge say nothing of its place; cosine of that angle."""

_FINE_PX = 0.5
"""Smoothing at true corners, standard deviation in pixels."""

_RUN_PX = 9.0
"""Smoothing along a run of colour, where noise decides the label, standard deviation in pixels."""

_HARD_PX = 3.0
"""Smoothing where the picture has no antialiasing and edges are stairs, standard deviation in pixels."""

_HARD_SHIFT_PX = 0.06
"""An edge that never leaves the lattice by more than this has no antialiasing."""

_CORNER_COS = 0.80
"""An edge that turns by more than about 37 degrees within a few pixels starts to count as a corner."""

_NODE_PX = 0.9
"""How far a junction may move from its lattice point, in pixels."""


@njit(cache=True, nogil=True)
def _measure_side(labels, image, x, y, dx, dy, ground):  # type: ignore[no-untyped-def]
    """Walk from a pixel away from the crack; return how many pixels share its label; sum the ground."""
    height, width = labels.shape
    label = labels[y, x]
    n = 0
    ground[0] = ground[1] = ground[2] = 0.0
    grounds = 0
    while n < _GROUND_PX and 0 <= x < width and 0 <= y < height and labels[y, x] == label:
        if n >= _PROFILE_PX - 1:
            for c in range(3):
                ground[c] += image[y, x, c]
            grounds += 1
        x += dx
        y += dy
        n += 1
    if grounds > 0:
        for c in range(3):
            ground[c] /= grounds
    return n, grounds


@njit(cache=True, nogil=True)
def _shift(labels, image, palette, ax, ay, bx, by, ga, gb):  # type: ignore[no-untyped-def]
    """How far the edge lies from the crack between pixels a and b, towards b; and whether it is a step."""
    dx, dy = bx - ax, by - ay
    la, lb = labels[ay, ax], labels[by, bx]
    na, grounds_a = _measure_side(labels, image, ax, ay, -dx, -dy, ga)
    nb, grounds_b = _measure_side(labels, image, bx, by, dx, dy, gb)
    if grounds_a == 0:
        for c in range(3):
            ga[c] = palette[la, c]
    if grounds_b == 0:
        for c in range(3):
            gb[c] = palette[lb, c]
    step = 0.0
    whole = 0.0
    for c in range(3):
        step += (gb[c] - ga[c]) ** 2
        whole += (palette[lb, c] - palette[la, c]) ** 2
    if step < _LEAST_STEP * _LEAST_STEP * whole or step == 0.0:
        return 0.0, False
    shift = 0.0
    for side in range(2):
        count = min(na if side == 0 else nb, _PROFILE_PX)
        for k in range(count):
            x = ax - k * dx if side == 0 else bx + k * dx
            y = ay - k * dy if side == 0 else by + k * dy
            share = 0.0
            for c in range(3):
                share += (image[y, x, c] - ga[c]) * (gb[c] - ga[c])
            share = min(max(share / step, 0.0), 1.0)
            shift += (1.0 - share) if side == 1 else -share
    return min(max(shift, -_FURTHEST_PX), _FURTHEST_PX), True


@njit(cache=True, nogil=True)
def _place_arc(labels, image, palette, points, closed, out, rough, run):  # type: ignore[no-untyped-def]
    """Write the displaced middle of every telling crack of one arc; return how many."""
    n = len(points) - 1
    ga = np.empty(3)
    gb = np.empty(3)
    count = 0
    for i in range(n):
        x, y = points[i, 0], points[i, 1]
        dx, dy = points[i + 1, 0] - x, points[i + 1, 1] - y
        if n > 8:
            if closed:
                before, after = points[(i - 3) % n], points[(i + 4) % n]
            else:
                before, after = points[max(i - 3, 0)], points[min(i + 4, n)]
            cx, cy = float(after[0] - before[0]), float(after[1] - before[1])
            length = (cx * cx + cy * cy) ** 0.5
            if length > 0.0 and abs(cx * dx + cy * dy) < _SLANT * length:
                continue
        # The pixel on the left of a crack (y down) and on its right.
        if dx != 0:
            ax = bx = min(x, x + dx)
            ay, by = (y - 1, y) if dx > 0 else (y, y - 1)
        else:
            ay = by = min(y, y + dy)
            ax, bx = (x, x - 1) if dy > 0 else (x - 1, x)
        shift, step = _shift(labels, image, palette, ax, ay, bx, by, ga, gb)
        rough[count, 0] = x + 0.5 * dx
        rough[count, 1] = y + 0.5 * dy
        out[count, 0] = rough[count, 0] + shift * (bx - ax)
        out[count, 1] = rough[count, 1] + shift * (by - ay)
        run[count] = 1.0 if not step else (0.5 if abs(shift) < _HARD_SHIFT_PX else 0.0)
        count += 1
    return count


@njit(cache=True, nogil=True)
def _place_all(labels, image, palette, points, start, closed, frame, out, out_start, rough, run):  # type: ignore[no-untyped-def]
    n = 0
    for arc in range(len(start) - 1):
        out_start[arc] = n
        chain = points[start[arc] : start[arc + 1]]
        if frame[arc]:
            # The picture's corners are nodes, so that an arc on its frame is straight: two points.
            for i in (0, len(chain) - 1):
                out[n, 0] = rough[n, 0] = chain[i, 0]
                out[n, 1] = rough[n, 1] = chain[i, 1]
                run[n] = 0.0
                n += 1
            continue
        if not closed[arc]:
            out[n, 0] = rough[n, 0] = chain[0, 0]
            out[n, 1] = rough[n, 1] = chain[0, 1]
            run[n] = 0.0
            n += 1
        n += _place_arc(labels, image, palette, chain, closed[arc], out[n:], rough[n:], run[n:])
        if not closed[arc]:
            out[n, 0] = rough[n, 0] = chain[-1, 0]
            out[n, 1] = rough[n, 1] = chain[-1, 1]
            run[n] = 0.0
            n += 1
    out_start[len(start) - 1] = n
    return n


@njit(cache=True, nogil=True)
def _blur_at(line, i, closed, weights, axis):  # type: ignore[no-untyped-def]
    """Weighted mean along the line; an open line goes on beyond its ends by point reflection."""
    n = len(line)
    total = line[i, axis] * weights[0]
    norm = weights[0]
    for k in range(1, len(weights)):
        if closed:
            pair = line[(i + k) % n, axis] + line[(i - k) % n, axis]
        else:
            if k > n - 1:
                break
            hi, lo = i + k, i - k
            above = line[hi, axis] if hi < n else 2.0 * line[n - 1, axis] - line[2 * (n - 1) - hi, axis]
            below = line[lo, axis] if lo >= 0 else 2.0 * line[0, axis] - line[-lo, axis]
            pair = above + below
        total += weights[k] * pair
        norm += 2.0 * weights[k]
    return total / norm


@njit(cache=True, nogil=True)
def _straightness(line, i, closed, reach):  # type: ignore[no-untyped-def]
    """Cosine of the turn between the chords before and after a vertex; 1 near an open end."""
    n = len(line)
    if closed:
        a, b = line[(i - reach) % n], line[(i + reach) % n]
    elif i < reach or i + reach >= n:
        return 1.0
    else:
        a, b = line[i - reach], line[i + reach]
    ux, uy = line[i, 0] - a[0], line[i, 1] - a[1]
    vx, vy = b[0] - line[i, 0], b[1] - line[i, 1]
    size = ((ux * ux + uy * uy) * (vx * vx + vy * vy)) ** 0.5
    return (ux * vx + uy * vy) / size if size > 0.0 else 1.0


@njit(cache=True, nogil=True)
def _smooth_all(line, start, closed, frame, run, fine, usual, hard, long, out):  # type: ignore[no-untyped-def]
    reach = 4
    for arc in range(len(start) - 1):
        a, b = start[arc], start[arc + 1]
        chain, bare = line[a:b], run[a:b]
        n = b - a
        if frame[arc] or n < 3:
            # Element by element throughout: assigning slices compiles four times as long.
            for i in range(a, b):
                out[i, 0] = line[i, 0]
                out[i, 1] = line[i, 1]
            continue
        crisp = np.empty((n, 2))
        for i in range(n):
            for axis in range(2):
                crisp[i, axis] = _blur_at(chain, i, closed[arc], fine, axis)
        for i in range(n):
            bareness = 0.0
            seen = 0
            for k in range(-8, 9):
                j = (i + k) % n if closed[arc] else i + k
                if 0 <= j < n:
                    bareness += bare[j]
                    seen += 1
            bareness /= seen
            straight = 1.0
            if n > 2 * reach + 2 and bareness <= 0.6:
                straight = _straightness(crisp, i, closed[arc], reach)
            corner = min(max((_CORNER_COS - straight) / 0.3, 0.0), 1.0)
            for axis in range(2):
                value = _blur_at(chain, i, closed[arc], usual, axis)
                if bareness > 0.0:
                    share = 1.0 - abs(2.0 * bareness - 1.0)
                    value += share * (_blur_at(chain, i, closed[arc], hard, axis) - value)
                if bareness > 0.5:
                    share = 2.0 * bareness - 1.0
                    value += share * (_blur_at(chain, i, closed[arc], long, axis) - value)
                value += corner * (crisp[i, axis] - value)
                out[a + i, axis] = value
        if not closed[arc]:
            # Exactly the shared junctions, not their rounded mean.
            for axis in range(2):
                out[a, axis] = chain[0, axis]
                out[b - 1, axis] = chain[n - 1, axis]


def _gaussian(sigma: float) -> NDArray[np.float64]:
    """Weights at 0, 1, 2 ... of a normal curve."""
    k = np.arange(max(1, ceil(3.0 * sigma)) + 1)
    return np.exp(-0.5 * (k / max(sigma, 1e-6)) ** 2)


def _true_to_curves(sigma: float) -> NDArray[np.float64]:
    """Weights of twice smoothing less smoothing twice: a circle keeps its radius to the fourth order.

    A single normal curve would draw a circle of radius r in by sigma^2 / 2r.
    """
    half = _gaussian(sigma)
    once = np.concatenate([half[:0:-1], half])
    once /= once.sum()
    twice = np.convolve(once, once)
    reach = len(once) // 2
    twice[reach:-reach] -= 2.0 * once
    result: NDArray[np.float64] = -twice[len(twice) // 2 :]
    return result


def _settle_nodes(
    line: NDArray[np.float64],
    start: NDArray[np.int64],
    arcs: Arcs,
    frame: NDArray[np.bool_],
    size: tuple[int, int],
) -> None:
    """Move every junction to where the arcs that meet there point to; frame corners stay."""
    width, height = size
    ends: list[NDArray[np.float64]] = []
    sites: list[NDArray[np.int64]] = []
    open_arcs = np.flatnonzero(~arcs.closed & ~frame & (np.diff(start) >= 8))
    a, b = start[open_arcs], start[open_arcs + 1] - 1
    for end, way in ((a, 1), (b, -1)):
        # The first points carry the mix of three colours; those after them show the edge's direction.
        near = np.stack([line[end + way * k] for k in (2, 3)]).mean(axis=0)
        far = np.stack([line[end + way * k] for k in (3, 4)]).mean(axis=0) if len(end) else near
        across = np.stack([-(far - near)[:, 1], (far - near)[:, 0]], axis=1)
        across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-9)
        ends.append(np.column_stack([across, (across * near).sum(axis=1)]))
        sites.append(np.rint(line[end]).astype(np.int64) @ np.array([1, width + 1]))
    every = np.concatenate(sites)
    if not len(every):
        return
    nodes, which = np.unique(every, return_inverse=True)
    home = np.column_stack([nodes % (width + 1), nodes // (width + 1)]).astype(np.float64)
    normal, offset = np.concatenate(ends)[:, :2], np.concatenate(ends)[:, 2]
    # Least squares towards all lines that meet, with a light pull to the lattice point.
    matrix = np.tile(0.15 * np.eye(2), (len(nodes), 1, 1))
    right = 0.15 * home
    np.add.at(matrix, which, normal[:, :, None] * normal[:, None, :])
    np.add.at(right, which, normal * offset[:, None])
    on_x = (home[:, 0] == 0) | (home[:, 0] == width)
    on_y = (home[:, 1] == 0) | (home[:, 1] == height)
    for axis, fixed in ((0, on_x), (1, on_y)):
        # A junction on the frame slides along it: hold the other coordinate.
        matrix[fixed, axis, axis] += 1e6
        right[fixed, axis] += 1e6 * home[fixed, axis]
    moved = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
    # Arcs that meet almost in line do not say where: their junction stays on the lattice.
    lost = np.abs(moved - home).max(axis=1) > _NODE_PX
    moved[lost] = home[lost]
    moved[on_x, 0] = home[on_x, 0]
    moved[on_y, 1] = home[on_y, 1]
    every_open = np.flatnonzero(~arcs.closed)
    for end in (start[every_open], start[every_open + 1] - 1):
        site = np.rint(line[end]).astype(np.int64) @ np.array([1, width + 1])
        place = np.minimum(np.searchsorted(nodes, site), len(nodes) - 1)
        known = nodes[place] == site
        line[end[known]] = moved[place[known]]
    # The two points next to a junction hold a share of the third colour; they go straight to it instead.
    for end, way in ((a, 1), (b, -1)):
        for k in (1, 2):
            line[end + way * k] = line[end] + (line[end + way * 3] - line[end]) * (k / 3.0)


@dataclass(frozen=True, slots=True)
class PlacedEdges:
    """Arcs as vertices in pixels; arc ``i`` is ``[start[i]:start[i + 1]]`` of both arrays, (N, 2).

    ``smooth`` lies where the colours meet and is free of the hand's tremble; ``rough`` follows the middles of
    the cracks, vertex for vertex the same. Open arcs begin and end at junctions: in ``rough`` on the lattice,
    in ``smooth`` where the edges point. Closed arcs do not repeat their first vertex.
    """

    smooth: NDArray[np.float64]
    rough: NDArray[np.float64]
    start: NDArray[np.int64]


def place_edges(
    arcs: Arcs,
    labels: NDArray[np.uint8],
    image: NDArray[np.uint8],
    palette_rgb: NDArray[np.float64],
    *,
    smoothing_px: float,
) -> PlacedEdges:
    """Move arcs to where the colours meet and smooth them; junctions stay shared.

    ``image`` is the (H, W, 3) uint8 picture, ``palette_rgb`` the (n, 3) colours of the labels on the same
    0..255 scale, ``smoothing_px`` the standard deviation of the smoothing along an edge. Arcs on the
    picture's frame stay where they are, as two points.
    """
    height, width = labels.shape
    frame = (arcs.left < 0) | (arcs.right < 0)
    line = np.empty((len(arcs.points) + len(arcs.left), 2), np.float64)
    rough = np.empty_like(line)
    start = np.empty(len(arcs.start), np.int64)
    run = np.empty(len(line), np.float64)
    palette = np.ascontiguousarray(palette_rgb, dtype=np.float64)
    count = _place_all(
        labels, image, palette, arcs.points, arcs.start, arcs.closed, frame, line, start, rough, run
    )
    line, rough, run = line[:count], rough[:count], run[:count]
    _settle_nodes(line, start, arcs, frame, (width, height))
    out = np.empty_like(line)
    usual, hard = _true_to_curves(smoothing_px), _true_to_curves(max(_HARD_PX, smoothing_px))
    long = _gaussian(max(_RUN_PX, smoothing_px))
    _smooth_all(line, start, arcs.closed, frame, run, _gaussian(_FINE_PX), usual, hard, long, out)
    return PlacedEdges(out, rough, start)
