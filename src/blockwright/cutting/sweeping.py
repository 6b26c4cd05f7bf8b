"""What a bit sweeps while it moves along straight stretches: the lowest that it gets over every cell.

A level stretch of a chain is swept without doing anything twice: the strip that lies square to it, and at
its end the wedge on the outer side of the turn into the next one. Every cell's nearest place on the chain is
square to a stretch or is a turn, so that nothing is left out. Stretches that slope are swept whole, with
their round ends: over each cell the bit's edge is lowest at a place that is known in closed form for every
shape of bit [der].

All that calls one another here stands in this one file: what the compiler keeps of a loop is made anew when
its own file changes, and not when another one does.
"""

from math import hypot, sqrt, tan

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.model.router import Bit

FLAT, BALL, CONE = 0, 1, 2

SHAPE_SIZE = 7
FLAT_MM = 6
"""Numbers that tell a bit's shape: kind, radius, round tip's radius, the cone's slope, at which radius the
tip goes over into the cone, how high that is, and the radius of what is flat at the very tip."""

AX, AY, AZ, BX, BY, BZ, REACH, NEXT_X, NEXT_Y, FURTHER = range(10)
"""Columns of a stretch: from, to, how far from the axis it cuts, the direction of the next one, and how much
further its strip goes on in the place of a wedge."""

TILE = 32
"""Cells along the side of a tile of the face; twice as many fine ones."""

ROUND_START, ROUND_END, WEDGE_END = 1, 2, 4
"""What is swept of a stretch besides its strip; sloping ones are always swept whole."""

_EDGE_MM = 1e-6
"""Cells on a border belong to both sides of it."""


_LEVEL, _FAR = 1e-12, 1e9
"""A direction with less than this along an axis is square to it; and farther than any cell, mm."""

_SLACK = 1e-9
"""Rounding of a cell's number."""


def shape_of(bit: Bit) -> NDArray[np.float64]:
    """A bit's shape as numbers for the compiled loops, (7,).

    >>> shape_of(Bit(1, "V", "V", 6.0, 2, 12.0, angle_deg=90.0, tip_mm=0.2)).round(3).tolist()
    [2.0, 3.0, 0.0, 1.0, 0.1, 0.0, 0.1]
    """
    shape = np.zeros(SHAPE_SIZE)
    shape[1] = bit.radius_mm
    if bit.kind == "flat":
        shape[0], shape[6] = FLAT, bit.radius_mm
    elif bit.kind == "ball":
        shape[0], shape[2], shape[4], shape[5] = BALL, bit.radius_mm, bit.radius_mm, bit.radius_mm
    else:
        lean = np.radians(bit.angle_deg / 2.0)
        tip = bit.tip_mm / 2.0
        shape[0], shape[3] = CONE, 1.0 / tan(lean)
        if bit.kind == "V":
            shape[4] = shape[6] = tip
        else:
            shape[2], shape[4], shape[5] = tip, tip * np.cos(lean), tip - tip * np.sin(lean)
    return shape


THIN_MM = 0.002
"""Where a wedge's cells are nearer to the strip's line than to the turn by no more than this, mm, the strip
goes on over them: as much as arcs are split off on their inner side."""


@njit(cache=True, nogil=True, inline="always")
def rise(shape, away):  # type: ignore[no-untyped-def]
    """How high above its tip the bit's edge is, at a distance that is within the bit."""
    if away <= shape[6]:
        return 0.0
    if away <= shape[4] and shape[2] > 0.0:
        return shape[2] - sqrt(max(shape[2] * shape[2] - away * away, 0.0))
    return shape[5] + (away - shape[4]) * shape[3]


@njit(cache=True, nogil=True)
def radius_at(shape, high):  # type: ignore[no-untyped-def]
    """The bit's radius so high above its tip, at most its own."""
    if shape[0] == FLAT:
        return shape[1]
    if high <= 0.0:
        return shape[6]
    if shape[2] > 0.0 and (high <= shape[5] or shape[0] == BALL):
        down = max(shape[2] - high, 0.0)
        return min(sqrt(max(shape[2] * shape[2] - down * down, 0.0)), shape[1])
    return min(shape[4] + (high - shape[5]) / shape[3], shape[1])


@njit(cache=True, nogil=True, inline="always")
def _slab(factor, least, most):  # type: ignore[no-untyped-def]
    """Where ``factor * x`` is from ``least`` to ``most``; everywhere if x hardly matters."""
    if abs(factor) < _LEVEL:
        return -_FAR, _FAR
    low, high = least / factor, most / factor
    if low > high:
        return high, low
    return low, high


@njit(cache=True, nogil=True, inline="always")
def _lean(factor, other):  # type: ignore[no-untyped-def]
    """How far a slab moves along x with each step along y."""
    return 0.0 if abs(factor) < _LEVEL else -other / factor


@njit(cache=True, nogil=True)
def _strip(cells, x0, y0, step, part, shape, start, end):  # type: ignore[no-untyped-def]
    """The strip square to a level stretch, from ``start`` to ``end`` along it."""
    rows, columns = cells.shape
    ax, ay, reach, z = part[AX], part[AY], part[REACH], part[AZ]
    length = hypot(part[BX] - ax, part[BY] - ay)
    ux, uy = (part[BX] - ax) / length, (part[BY] - ay) / length
    aside, ends = abs(ux) * reach + _EDGE_MM, part[BY] + uy * part[FURTHER]
    first = max(int(np.ceil((min(ay, ends) - aside - y0) / step)), 0)
    last = min(int(np.floor((max(ay, ends) + aside - y0) / step)), rows - 1)
    flat = shape[0] == FLAT
    along_low, along_high = _slab(ux, start, end)
    aside_low, aside_high = _slab(-uy, -reach, reach)
    along_lean, aside_lean = _lean(ux, uy), _lean(-uy, ux)
    for row in range(first, last + 1):
        dy = y0 + row * step - ay
        low = max(along_low + along_lean * dy, aside_low + aside_lean * dy)
        high = min(along_high + along_lean * dy, aside_high + aside_lean * dy)
        if low > high:
            continue
        left = int(max(np.ceil((low + ax - x0) / step - _SLACK), 0.0))
        right = int(min(np.floor((high + ax - x0) / step + _SLACK), columns - 1.0))
        if flat:
            for column in range(left, right + 1):
                cells[row, column] = min(cells[row, column], z)
        else:
            for column in range(left, right + 1):
                dx = x0 + column * step - ax
                height = z + rise(shape, abs(ux * dy - uy * dx))
                cells[row, column] = min(cells[row, column], height)


@njit(cache=True, nogil=True)
def _wedge(cells, x0, y0, step, part, shape):  # type: ignore[no-untyped-def]
    """Between the strip of a level stretch and that of the next: round the corner, on its outer side."""
    rows, columns = cells.shape
    bx, by, reach, z = part[BX], part[BY], part[REACH], part[BZ]
    length = hypot(bx - part[AX], by - part[AY])
    ux, uy = (bx - part[AX]) / length, (by - part[AY]) / length
    vx, vy = part[NEXT_X], part[NEXT_Y]
    # The outer side is right of an anticlockwise turn; only rows that the wedge can reach are looked at.
    side = 1.0 if ux * vy - uy * vx > 0.0 else -1.0
    cosine = ux * vx + uy * vy
    ny, my = -side * ux * reach, -side * vx * reach
    bulge = reach if cosine < 0.0 else reach * (1.0 - sqrt((1.0 + cosine) / 2.0))
    low_y, high_y = min(0.0, ny, my) - bulge - _EDGE_MM, max(0.0, ny, my) + bulge + _EDGE_MM
    first = max(int(np.ceil((by + low_y - y0) / step)), 0)
    last = min(int(np.floor((by + high_y - y0) / step)), rows - 1)
    u_low, u_high = _slab(ux, -_EDGE_MM, reach)
    v_low, v_high = _slab(vx, -reach, _EDGE_MM)
    u_lean, v_lean = _lean(ux, uy), _lean(vx, vy)
    u_level, v_level = abs(ux) < _LEVEL, abs(vx) < _LEVEL
    for row in range(first, last + 1):
        dy = y0 + row * step - by
        low = max(u_low + u_lean * dy, v_low + v_lean * dy)
        high = min(u_high + u_lean * dy, v_high + v_lean * dy)
        if low > high or abs(dy) > reach or (u_level and uy * dy < -_EDGE_MM):
            continue
        if v_level and vy * dy > _EDGE_MM:
            continue
        half = sqrt(reach * reach - dy * dy)
        low, high = max(low, -half), min(high, half)
        left = int(max(np.ceil((low + bx - x0) / step - _SLACK), 0.0))
        right = int(min(np.floor((high + bx - x0) / step + _SLACK), columns - 1.0))
        for column in range(left, right + 1):
            dx = x0 + column * step - bx
            height = z + rise(shape, sqrt(dx * dx + dy * dy))
            cells[row, column] = min(cells[row, column], height)


@njit(cache=True, nogil=True, inline="always")
def _downhill(shape, slope, lean, ball_lean, aside):  # type: ignore[no-untyped-def]
    """How far from square a sloping bit is when its edge is lowest over a place ``aside`` from its way."""
    if shape[0] == CONE and slope < shape[3]:
        off = aside * lean
        if aside < shape[6]:
            off = max(off, sqrt(shape[6] * shape[6] - aside * aside))
        elif shape[2] > 0.0 and aside < shape[2]:
            ball = sqrt(shape[2] * shape[2] - aside * aside) * ball_lean
            if ball * ball + aside * aside <= shape[4] * shape[4]:
                off = ball
        if off * off + aside * aside <= shape[1] * shape[1]:
            return off
    elif shape[0] == BALL:
        return sqrt(max(shape[2] * shape[2] - aside * aside, 0.0)) * ball_lean
    return sqrt(max(shape[1] * shape[1] - aside * aside, 0.0))


@njit(cache=True, nogil=True)
def _whole(cells, x0, y0, step, part, shape, ends):  # type: ignore[no-untyped-def]
    """A stretch with its round ends, sloping or level, or straight up and down."""
    rows, columns = cells.shape
    ax, ay, az, bx, by, bz, reach = part[AX], part[AY], part[AZ], part[BX], part[BY], part[BZ], part[REACH]
    length = hypot(bx - ax, by - ay)
    lowest = min(az, bz)
    ux, uy, slope = 1.0, 0.0, 0.0
    if length > 1e-9:
        ux, uy, slope = (bx - ax) / length, (by - ay) / length, (bz - az) / length
    first = max(int(np.ceil((min(ay, by) - reach - y0) / step)), 0)
    last = min(int(np.floor((max(ay, by) + reach - y0) / step)), rows - 1)
    steep = abs(slope)
    lean = steep / sqrt(shape[3] * shape[3] - steep * steep) if steep < shape[3] else 0.0
    ball_lean = steep / sqrt(1.0 + steep * steep)
    joined = not ends & ROUND_START
    start = -_EDGE_MM if joined and slope >= 0.0 else -reach
    end = length + (reach if ends & ROUND_END else part[FURTHER] + _EDGE_MM)
    along_low, along_high = _slab(ux, start, end)
    aside_low, aside_high = _slab(-uy, -reach, reach)
    along_lean, aside_lean = _lean(ux, uy), _lean(-uy, ux)
    for row in range(first, last + 1):
        dy = y0 + row * step - ay
        low = max(along_low + along_lean * dy, aside_low + aside_lean * dy)
        high = min(along_high + along_lean * dy, aside_high + aside_lean * dy)
        if low > high:
            continue
        left = int(max(np.ceil((low + ax - x0) / step - _SLACK), 0.0))
        right = int(min(np.floor((high + ax - x0) / step + _SLACK), columns - 1.0))
        for column in range(left, right + 1):
            if cells[row, column] <= lowest:
                continue
            dx = x0 + column * step - ax
            along, aside = ux * dx + uy * dy, abs(ux * dy - uy * dx)
            at = along
            if slope != 0.0:
                off = _downhill(shape, steep, lean, ball_lean, aside)
                at = along - off if slope > 0.0 else along + off
                if joined and at < -_EDGE_MM:
                    continue  # lowest at the beginning, where the stretch before has been
            at = min(max(at, 0.0), length)
            away = sqrt(aside * aside + (along - at) * (along - at))
            if away > shape[1] + _EDGE_MM:
                continue
            height = (az + slope * at if length > 1e-9 else lowest) + rise(shape, away)
            cells[row, column] = min(cells[row, column], height)


@njit(cache=True, nogil=True)
def sweep(cells, x0, y0, step, parts, flags, shapes, bits, which):  # type: ignore[no-untyped-def]
    """Lower ``cells`` to what the stretches named in ``which`` leave. (x0, y0) is the first cell's middle."""
    for k in which:
        part, shape = parts[k], shapes[bits[k]]
        if flags[k] & (ROUND_START | ROUND_END):
            _whole(cells, x0, y0, step, part, shape, flags[k])
            if flags[k] & WEDGE_END:
                _wedge(cells, x0, y0, step, part, shape)
        else:
            length = hypot(part[BX] - part[AX], part[BY] - part[AY])
            _strip(cells, x0, y0, step, part, shape, -_EDGE_MM, length + part[FURTHER] + _EDGE_MM)
            if flags[k] & WEDGE_END:
                _wedge(cells, x0, y0, step, part, shape)


@njit(cache=True, nogil=True)
def link(parts, bits, shapes, flags):  # type: ignore[no-untyped-def]
    """Tell each stretch how far it reaches, and what else of it has to be swept besides its strip."""
    count = len(parts)
    for k in range(count):
        part = parts[k]
        part[REACH] = radius_at(shapes[bits[k]], -min(part[AZ], part[BZ]))
        moves = hypot(part[BX] - part[AX], part[BY] - part[AY]) > 1e-9
        before = (
            k > 0
            and bits[k - 1] == bits[k]
            and parts[k - 1, BX] == part[AX]
            and parts[k - 1, BY] == part[AY]
            and parts[k - 1, BZ] == part[AZ]
        )
        # Whatever came before has swept the round end where this one begins.
        flags[k] = 0 if before and moves else ROUND_START
        if part[AZ] != part[BZ] or not moves:
            flags[k] |= ROUND_END
            continue
        follows = k + 1 < count and bits[k + 1] == bits[k]
        if follows:
            after = parts[k + 1]
            length = hypot(after[BX] - after[AX], after[BY] - after[AY])
            follows = after[AZ] == after[BZ] and length > 1e-9 and after[AZ] == part[BZ]
            follows = follows and after[AX] == part[BX] and after[AY] == part[BY]
            if follows:
                part[NEXT_X] = (after[BX] - after[AX]) / length
                part[NEXT_Y] = (after[BY] - after[AY]) / length
        flags[k] |= _end_of(part) if follows else ROUND_END


@njit(cache=True, nogil=True)
def _end_of(part):  # type: ignore[no-untyped-def]
    """Whether a level stretch before another one needs a wedge, or a little more of its strip will do."""
    length = hypot(part[BX] - part[AX], part[BY] - part[AY])
    ux, uy = (part[BX] - part[AX]) / length, (part[BY] - part[AY]) / length
    sine, cosine = abs(ux * part[NEXT_Y] - uy * part[NEXT_X]), ux * part[NEXT_X] + uy * part[NEXT_Y]
    if cosine <= 0.0 or part[REACH] * sine * sine > THIN_MM:
        return WEDGE_END
    part[FURTHER] = part[REACH] * sine
    return 0


@njit(cache=True, nogil=True)
def carve_tiles(heights, fine, fine_tile, grid, first, end, starts, listed, parts, flags, shapes, bits):  # type: ignore[no-untyped-def]
    """Cut the tiles of some tile rows; where they are fine, their means go into the heights."""
    rows = heights.shape[0]
    left, top, step = grid[0], grid[1], grid[2]
    for row in range(first, end):
        for column in range(fine_tile.shape[1]):
            place = row * fine_tile.shape[1] + column
            which = listed[starts[place] : starts[place + 1]]
            if len(which) == 0:
                continue
            y0, x0 = top + row * TILE * step, left + column * TILE * step
            cells = heights[row * TILE : min((row + 1) * TILE, rows), column * TILE : (column + 1) * TILE]
            slot = fine_tile[row, column]
            if slot < 0:
                sweep(cells, x0 + step / 2, y0 + step / 2, step, parts, flags, shapes, bits, which)
                continue
            small = fine[slot]
            sweep(small, x0 + step / 4, y0 + step / 4, step / 2, parts, flags, shapes, bits, which)
            for i in range(cells.shape[0]):
                for j in range(cells.shape[1]):
                    four = small[2 * i, 2 * j] + small[2 * i, 2 * j + 1]
                    four += small[2 * i + 1, 2 * j] + small[2 * i + 1, 2 * j + 1]
                    cells[i, j] = four / 4


@njit(cache=True, nogil=True)
def _highest(cells, x0, y0, step, part, radius):  # type: ignore[no-untyped-def]
    """The highest wood within a radius of a stretch, and where."""
    rows, columns = cells.shape
    ax, ay, bx, by = part[AX], part[AY], part[BX], part[BY]
    dx, dy = bx - ax, by - ay
    long = dx * dx + dy * dy
    found, at_x, at_y = -1e9, ax, ay
    first = max(int(np.ceil((min(ay, by) - radius - y0) / step)), 0)
    last = min(int(np.floor((max(ay, by) + radius - y0) / step)), rows - 1)
    left = max(int(np.ceil((min(ax, bx) - radius - x0) / step)), 0)
    right = min(int(np.floor((max(ax, bx) + radius - x0) / step)), columns - 1)
    for row in range(first, last + 1):
        y = y0 + row * step
        for column in range(left, right + 1):
            if cells[row, column] <= found:
                continue
            x = x0 + column * step
            at = 0.0
            if long > 0.0:
                at = min(max(((x - ax) * dx + (y - ay) * dy) / long, 0.0), 1.0)
            if hypot(ax + at * dx - x, ay + at * dy - y) <= radius:
                found, at_x, at_y = cells[row, column], x, y
    return found, at_x, at_y


@njit(cache=True, nogil=True)
def follow(step, cells, x0, y0, parts, flags, bits, shapes, risky, cutting, shank, worst):  # type: ignore[no-untyped-def]
    """Cut move by move; before each risky one see how far the shank dips below the wood about it."""
    one = np.zeros(1, dtype=np.int64)
    for k in range(len(parts)):
        part, bit = parts[k], bits[k]
        if risky[k]:
            # The middle half-cell of a radius is left out: a cell is not a point.
            high, x, y = _highest(cells, x0, y0, step, part, max(shank[bit] - step / 2, 0.0))
            dips = high - (min(part[AZ], part[BZ]) + cutting[bit])
            if dips > worst[2]:
                worst[0], worst[1], worst[2], worst[3] = x, y, dips, bit
        if part[REACH] > 0.0:
            one[0] = k
            sweep(cells, x0, y0, step, parts, flags, shapes, bits, one)
