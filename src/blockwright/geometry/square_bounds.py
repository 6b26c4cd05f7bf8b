"""Simple covers with squares on a grid, simple bounds, and small changes that make a cover better.

Often bound and cover meet, and nothing is left to search.
"""

from math import ceil

import numpy as np
from numpy.typing import NDArray

from blockwright.geometry.square_cells import Cells, all_places, held_by, holds

_STEPS = 6
"""By how many cells a square is moved at most, to hold more."""

_LEFT_OUT = 6
"""How many squares, those first that hold least by themselves, are tried to be spared."""

_MOVES = 3
"""How many times all squares are moved."""


def far_apart(cells: Cells, *, laps: bool = False) -> NDArray[np.int64]:
    """Cells, row by row, of which no square holds two: each needs one of its own.

    With ``laps`` also cells that one square would reach, but not both of them safely; this takes longer.
    """
    rest = cells.filled.copy()
    chosen = []
    while rest.any():
        first = np.argwhere(rest)[0]
        chosen.append(first)
        low = np.maximum(first - cells.side + 1, 0)
        near = tuple(slice(int(a), int(b) + cells.side) for a, b in zip(low, first, strict=True))
        left = np.argwhere(rest[near]) + low
        rest[near] = False
        if laps and cells.half_lap:
            reach = np.abs(left - first).max(axis=1)
            left = left[reach >= cells.side - 2 * cells.half_lap - 1]
            apart = left[~_held_with(cells, first, left)]
            rest[apart[:, 0], apart[:, 1]] = True
    return np.array(chosen, dtype=np.int64).reshape(-1, 2)


def _held_with(cells: Cells, first: NDArray[np.int64], others: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which of the others some square holds safely together with the first cell."""
    low = np.clip(first - cells.side + 1, 0, np.array(cells.places) - 1)
    high = np.minimum(first, np.array(cells.places) - 1)
    rows, columns = (np.arange(a, b + 1) for a, b in zip(low, high, strict=True))
    places = np.stack(np.meshgrid(rows, columns, indexing="ij"), axis=-1).reshape(-1, 2)
    places = places[holds(cells, places, first[None, :])[:, 0]]
    together: NDArray[np.bool_] = np.any(holds(cells, places, others), axis=0)
    return together


def in_rank_and_file(cells: Cells) -> list[tuple[int, int]]:
    """Squares in straight rows and columns, those left out that hold nothing: often the fewest."""
    step = cells.side - 2 * cells.half_lap
    rows, columns = cells.filled.shape
    counts = [max(1, ceil((length - cells.side) / step) + 1) for length in (rows, columns)]
    places = np.indices(counts).reshape(2, -1).T * step
    points = np.argwhere(cells.filled)
    kept = [place for place in places if holds(cells, place[None, :], points).any()]
    return [(int(row), int(column)) for row, column in kept]


def one_by_one(cells: Cells, asked: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Squares from the top: each holds the first of the cells asked for that is left, and more if it can."""
    places = all_places(cells)
    left = np.argwhere(asked)
    chosen: list[tuple[int, int]] = []
    while len(left):
        first = left[0]
        near = places[np.all((places <= first) & (places > first - cells.side), axis=1)]
        near = near[holds(cells, near, first[None, :])[:, 0]]
        # The farthest down and right first; of those that hold most the first.
        near = near[np.lexsort((-near[:, 1], -near[:, 0]))][:: max(1, len(near) // 600)]
        local = left[np.all(np.abs(left - first) < 2 * cells.side, axis=1)]
        seen = local[:: max(1, len(local) // 400)]
        best = near[int(np.argmax(holds(cells, near, seen).sum(axis=1)))]
        chosen.append((int(best[0]), int(best[1])))
        left = left[~holds(cells, best[None, :], left)[0]]
    return chosen


def moved_to_hold(
    cells: Cells, places: list[tuple[int, int]]
) -> tuple[list[tuple[int, int]], NDArray[np.bool_]]:
    """Squares moved a little, one after the other, so that all together hold more cells; and which miss.

    Each goes to the nearest of the places that hold most of what the others do not.
    """
    laid = np.array(places, dtype=np.int64).reshape(-1, 2)
    missing = cells.filled & ~held_by(cells, places)
    for _ in range(_MOVES):
        before = int(missing.sum())
        for k in range(len(laid)):
            if not missing.any():
                break
            laid[k], missing = _moved(cells, laid, k, missing)
        if missing.sum() in (0, before):
            break
    return [(int(row), int(column)) for row, column in laid], missing


def _moved(
    cells: Cells, laid: NDArray[np.int64], k: int, missing: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Where one of the squares holds most, near where it lies, and what all miss then."""
    high = np.minimum(laid[k] + _STEPS, np.array(cells.places) - 1)
    low = np.minimum(np.maximum(laid[k] - _STEPS, 0), high)
    reach = tuple(slice(int(a), int(b) + cells.side) for a, b in zip(low, high, strict=True))
    if not missing[reach].any():
        return laid[k], missing
    points = np.argwhere(cells.filled[reach]) + low
    others = np.delete(laid, k, axis=0)
    others = others[np.all(np.abs(others - laid[k]) < cells.side + _STEPS, axis=1)]
    if len(others):
        points = points[~holds(cells, others, points).any(axis=0)]
    near = np.indices(high - low + 1).reshape(2, -1).T + low
    near = near[np.argsort(np.abs(near - laid[k]).sum(axis=1), kind="stable")]
    held = holds(cells, near, points)
    best = int(np.argmax(held.sum(axis=1)))
    left = missing.copy()
    left[points[:, 0], points[:, 1]] = ~held[best]
    return near[best], left


def fewer(cells: Cells, places: list[tuple[int, int]], *, at_least: int) -> list[tuple[int, int]]:
    """The squares with some left out, where the others, moved a little, hold all without them."""
    while len(places) > at_least:
        points = np.argwhere(cells.filled)
        held = holds(cells, np.array(places), points)
        once = held.sum(axis=0) == 1
        needed = (held & once).sum(axis=1)
        for k in np.argsort(needed, kind="stable")[:_LEFT_OUT].tolist():
            moved, missing = moved_to_hold(cells, places[:k] + places[k + 1 :])
            if not missing.any():
                places = moved
                break
        else:
            return places
    return places
