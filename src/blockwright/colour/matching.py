"""The compiled search of recipes: for each choice of pigments, the amounts whose film comes nearest a colour.

The amounts of a choice are written as parts of a film of which the rest is paste: amount_i is proportional to
exp(u_i) / (1 + sum of exp(u)), so that none is below 0 and their sum stays below the most that is allowed,
whatever the u. The difference is a sum of three squares, so Levenberg's and Marquardt's method (Marquardt,
*Journal of the Society for Industrial and Applied Mathematics* 11, 1963) finds the least of it; K and S of a
mixture add by amount, and the layer's slopes (Kubelka 1948) are known in closed form.

A first pass over all choices takes the difference as a quadratic form at the wanted colour; the best of
them are searched on with CIEDE2000 itself (Sharma, Wu, Dalal, *Color Research & Application* 30(1), 2005),
which is also the sum of three squares once its rotation term is completed. Everything is in one thread and in
one order: the same question has the same answer.
"""

from typing import Any

import numpy as np
from numba import njit

from blockwright.colour.slopes import film, lab_of, parts_e00, slopes_e00

_FARTHEST_U = 18.0
"""No amount goes below exp(-18), 1.5e-8 of the film, nor the spare paste: nothing is seen of less."""

_USED_UP = 1e-3
"""Paste to spare below this part of the most that is allowed counts as used up."""

_MOST_DAMPING = 1e6
"""With more damping a step is too short to matter."""

_LONGEST_STEP = 2.5
"""The longest change of u in one step: a factor of 12 in an amount."""

_SETTLED = 1e-9
"""A squared difference below this is a hit: 0.00003 in CIEDE2000."""

_LEAST_GAIN = 1e-4
"""The search ends when a step gains less than this part of the squared difference, twice running."""

GRID = np.exp(np.linspace(np.log(1e-5), np.log(0.98), 28))
"""Amounts of one pigment, as parts of the most that is allowed, at which it is tried alone."""

START_PART = 0.6
"""Where pigments are mixed, each starts at this part of the amount that serves it best alone."""


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _amounts(u: Any, count: int, most: float, paste: float, amounts: Any) -> float:
    """Amounts of the u into ``amounts``; returns the spare paste as a part of the most that is allowed.

    ``paste`` is 1, or 0 for a film with no paste to spare. The u of such a film are only told up to a
    constant, and are moved so that they stay small.
    """
    total = paste
    for i in range(count):
        amounts[i] = np.exp(u[i])
        total += amounts[i]
    for i in range(count):
        amounts[i] *= most / total
        if paste == 0.0:
            u[i] -= np.log(total)
    return paste / total


@njit(cache=True, nogil=True, fastmath=True)  # type: ignore[untyped-decorator]
def _dot(one: Any, two: Any) -> float:
    total = 0.0
    for band in range(one.shape[0]):
        total += one[band] * two[band]
    return total


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _look(
    scene: Any, chosen: Any, amounts: Any, count: int, exact: bool, room: Any, parts: Any, slopes: Any
) -> float:
    """The squared difference of a mixture; ``parts`` and their ``slopes`` by amount, shape (3, 3).

    ``room`` is where numbers in between are written: rows of bands, rows of three, rows of the choice.
    """
    k, s, ground, weights, white, target, form = scene
    bands = k.shape[1]
    mix_k, mix_s, by_k, by_s, seen = room[0][0], room[0][1], room[0][2], room[0][3], room[0][4]
    small = room[1]
    mix_k[:] = 0.0
    mix_s[:] = 0.0
    for i in range(count):
        one, amount = chosen[i], amounts[i]
        for band in range(bands):
            mix_k[band] += amount * k[one, band]
            mix_s[band] += amount * s[one, band]
    film(mix_k, mix_s, ground, by_k, by_s, seen)
    lab, xyz, cube, by_lab = small[0, :3], small[1, :3], small[2, :3], small[3:6, :3]
    to_xyz = room[2]
    for axis in range(3):
        xyz[axis] = _dot(seen, weights[axis])
    for i in range(count):
        one = chosen[i]
        for band in range(bands):
            seen[band] = by_k[band] * k[one, band] + by_s[band] * s[one, band]
        for axis in range(3):
            to_xyz[axis, i] = _dot(seen, weights[axis])
    lab_of(xyz, white, lab, cube)
    if exact:
        parts_e00(lab, target, parts)
        slopes_e00(lab, target, by_lab)
    else:
        by_lab[:, :] = form
        for row in range(3):
            parts[row] = 0.0
            for axis in range(3):
                parts[row] += form[row, axis] * (lab[axis] - target[axis])
    for i in range(count):
        x, y, z = cube[0] * to_xyz[0, i], cube[1] * to_xyz[1, i], cube[2] * to_xyz[2, i]
        d_l, d_a, d_b = 116.0 * y, 500.0 * (x - y), 200.0 * (y - z)
        for row in range(3):
            slopes[row, i] = by_lab[row, 0] * d_l + by_lab[row, 1] * d_a + by_lab[row, 2] * d_b
    return parts[0] ** 2 + parts[1] ** 2 + parts[2] ** 2  # type: ignore[no-any-return]


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _solve(matrix: Any, right: Any, count: int) -> None:
    """Solve a small symmetric positive system in place by elimination; the answer is in ``right``."""
    for i in range(count):
        for row in range(i + 1, count):
            factor = matrix[row, i] / matrix[i, i]
            for column in range(i, count):
                matrix[row, column] -= factor * matrix[i, column]
            right[row] -= factor * right[i]
    for i in range(count - 1, -1, -1):
        for column in range(i + 1, count):
            right[i] -= matrix[i, column] * right[column]
        right[i] /= matrix[i, i]


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _step(u: Any, amounts: Any, most: float, parts: Any, slopes: Any, damping: float, count: int) -> Any:
    """One damped step of the u."""
    along = np.empty((3, count))
    for row in range(3):
        mean = 0.0
        for i in range(count):
            mean += slopes[row, i] * amounts[i]
        for i in range(count):
            along[row, i] = amounts[i] * (slopes[row, i] - mean / most)
    normal, right = np.zeros((count, count)), np.zeros(count)
    for i in range(count):
        for row in range(3):
            right[i] -= along[row, i] * parts[row]
        for j in range(count):
            for row in range(3):
                normal[i, j] += along[row, i] * along[row, j]
    for i in range(count):
        normal[i, i] += damping * normal[i, i] + 1e-10
    _solve(normal, right, count)
    there = np.empty(count)
    for i in range(count):
        step = min(max(right[i], -_LONGEST_STEP), _LONGEST_STEP)
        there[i] = min(max(u[i] + step, -_FARTHEST_U), _FARTHEST_U)
    return there


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _wants_paste(amounts: Any, parts: Any, slopes: Any, count: int) -> bool:
    """Whether less of all pigments would come nearer."""
    along = 0.0
    for row in range(3):
        for i in range(count):
            along += parts[row] * slopes[row, i] * amounts[i]
    return along > 0.0


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _one_choice(
    scene: Any,
    one: Any,
    count: int,
    start: Any,
    most: float,
    steps: int,
    exact: bool,
    room: Any,
    amounts: Any,
) -> float:
    """The best amounts of one choice, into ``amounts``, and their squared difference.

    When the paste to spare is used up the search goes on without any, and only where less pigment would come
    nearer it goes back, once: else all u would grow without end and take their differences along.
    """
    width = amounts.shape[0]
    parts, new_parts = np.empty(3), np.empty(3)
    slopes, new_slopes, new_amounts = np.empty((3, width)), np.empty((3, width)), np.empty(width)
    u = np.empty(count)
    spare = most
    for i in range(count):
        spare -= start[i]
    paste, returns = (1.0 if spare > _USED_UP * most else 0.0), 1
    spare = max(spare, _USED_UP * most)
    for i in range(count):
        u[i] = min(max(np.log(start[i] / spare), -_FARTHEST_U), _FARTHEST_U)
    _amounts(u, count, most, paste, amounts)
    cost = _look(scene, one, amounts, count, exact, room, parts, slopes)
    damping, idle = 1e-3, 0
    for _ in range(steps):
        if cost < _SETTLED:
            break
        there = _step(u, amounts, most, parts, slopes, damping, count)
        spare = _amounts(there, count, most, paste, new_amounts)
        new_cost = _look(scene, one, new_amounts, count, exact, room, new_parts, new_slopes)
        if new_cost < cost:
            idle = idle + 1 if cost - new_cost < _LEAST_GAIN * cost else 0
            u[:] = there
            cost = new_cost
            amounts[:count] = new_amounts[:count]
            parts[:] = new_parts
            slopes[:, :] = new_slopes
            damping = max(damping / 8.0, 1e-9)
            if paste > 0.0 and spare < _USED_UP:
                paste = 0.0
        else:
            damping = max(4.0 * damping, 1e-2)
        if idle == 2 or damping > _MOST_DAMPING:
            if paste == 0.0 and returns > 0 and _wants_paste(amounts, parts, slopes, count):
                for i in range(count):
                    u[i] = np.log(amounts[i] / most) - np.log(_USED_UP * 10.0)
                paste, returns, damping, idle = 1.0, returns - 1, 1e-2, 0
                continue
            break
    return cost  # type: ignore[no-any-return]


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def descend(scene: Any, chosen: Any, start: Any, most: float, steps: int, exact: bool) -> Any:
    """The best amounts of many choices of pigments, each from its start.

    ``scene`` is K and S, shape (pigments, bands), for the whole thickness; the ground's reflectance; the
    light's weights, shape (3, bands), and its white; the wanted CIELAB; and the root of the quadratic form,
    shape (3, 3), which is used unless ``exact``. ``chosen`` (choices, n) are numbers of pigments, -1 for
    none, at the end; ``start`` (choices, n) amounts whose sum is at most ``most``. Returns the squared
    differences and the amounts.
    """
    choices, width = chosen.shape
    best, cost_of = np.zeros((choices, width)), np.empty(choices)
    room = (np.empty((5, scene[0].shape[1])), np.empty((8, 3)), np.empty((3, width)))
    for choice in range(choices):
        count = 0
        while count < width and chosen[choice, count] >= 0:
            count += 1
        cost_of[choice] = _one_choice(
            scene, chosen[choice], count, start[choice], most, steps, exact, room, best[choice]
        )
        best[choice, count:] = 0.0
    return cost_of, best


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def best_alone(scene: Any, most: float) -> Any:
    """The amount of each pigment by itself, of a coarse grid, that comes nearest the colour."""
    pigments = scene[0].shape[0]
    found = np.empty(pigments)
    room = (np.empty((5, scene[0].shape[1])), np.empty((8, 3)), np.empty((3, 1)))
    parts, slopes = np.empty(3), np.empty((3, 1))
    amounts, one = np.empty(1), np.empty(1, np.int64)
    for pigment in range(pigments):
        one[0] = pigment
        least = np.inf
        for part in GRID:
            amounts[0] = part * most
            cost = _look(scene, one, amounts, 1, False, room, parts, slopes)
            if cost < least:
                least = cost
                found[pigment] = amounts[0]
    return found
