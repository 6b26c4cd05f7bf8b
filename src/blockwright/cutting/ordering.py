"""The order in which lanes are gone, where each begins, and which way open ones go.

Getting from one lane to the next costs what it takes: a short way through the work where that is free, or a
lift, a way above it and a new entry. The order begins with the nearest lane at each step and is then bettered
by turning rows of lanes round (Croes 1958) and by moving short ones to other places (Or 1976), until nothing
gets shorter.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from blockwright.cutting.lanes import Lane

_LOOK = 400
"""Places before and behind that are looked at."""

_FAST = 0.3
"""What a mm above the work costs beside one in it."""

_ROUNDS = 30
"""Times that the whole order is looked through, at most."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A lane in its place: at which of its points it begins, and whether an open one is gone backwards."""

    lane: int
    first: int
    backwards: bool


def in_order(
    lanes: Sequence[Lane], *, lift_mm: float, link_mm: float, begin: tuple[float, float] = (0.0, 0.0)
) -> list[Placed]:
    """Put lanes in order. A way between two of up to ``link_mm`` costs its length, a longer one a lift more,
    which is worth ``lift_mm`` of way.
    """
    if not lanes:
        return []
    order = _nearest_first(lanes, begin)
    starts = np.array([lanes[each.lane].points[each.first, :2] for each in order])
    ends = np.array([_end(lanes[each.lane], each) for each in order])
    row, turned = _bettered(starts, ends, np.asarray(begin), lift_mm, link_mm)
    placed = []
    for k, back in zip(row.tolist(), turned[row].tolist(), strict=True):
        was = order[k]
        if lanes[was.lane].closed:
            placed.append(was)
            continue
        last = len(lanes[was.lane].points) - 1
        placed.append(Placed(was.lane, last - was.first, not was.backwards) if back else was)
    return placed


def _end(lane: Lane, placed: Placed) -> NDArray[np.float64]:
    if lane.closed:
        return lane.points[placed.first, :2]
    return lane.points[0 if placed.backwards else -1, :2]


def _nearest_first(lanes: Sequence[Lane], begin: tuple[float, float]) -> list[Placed]:
    """Always the nearest lane: a closed one may begin at any of its points, an open one at either end."""
    points, owner, index = [], [], []
    for k, lane in enumerate(lanes):
        where: NDArray[np.int64] = (
            np.arange(len(lane.points)) if lane.closed else np.array([0, len(lane.points) - 1])
        )
        points.append(lane.points[where, :2])
        owner.append(np.full(len(where), k))
        index.append(where)
    at, of, which = np.concatenate(points), np.concatenate(owner), np.concatenate(index)
    left = np.ones(len(lanes), dtype=np.bool_)
    tree, kept = cKDTree(at), np.arange(len(at))
    here, placed = np.asarray(begin), []
    for count in range(len(lanes), 0, -1):
        found = -1
        near = 1
        while found < 0:
            near = min(near * 4, len(kept))
            hits = np.atleast_1d(tree.query(here, k=near)[1])
            free = hits[left[of[kept[hits]]]]
            if len(free):
                found = int(kept[free[0]])
            elif near == len(kept):
                raise RuntimeError("a lane was lost")
        chosen, first = int(of[found]), int(which[found])
        left[chosen] = False
        one = Placed(chosen, first, not lanes[chosen].closed and first > 0)
        placed.append(one)
        here = _end(lanes[chosen], one)
        # A tree that is mostly used up is slow to look through.
        if count % 64 == 0 or near > 256:
            kept = np.flatnonzero(left[of])
            if len(kept):
                tree = cKDTree(at[kept])
    return placed


@njit(cache=True, nogil=True)
def _cost(here, there, lift_mm, link_mm):  # type: ignore[no-untyped-def]
    way = np.sqrt((here[0] - there[0]) ** 2 + (here[1] - there[1]) ** 2)
    return way if way <= link_mm else way * _FAST + lift_mm


@njit(cache=True, nogil=True)
def _bettered(starts, ends, begin, lift_mm, link_mm):  # type: ignore[no-untyped-def]
    """Lanes in a better order, and which are gone from their other end."""
    count = len(starts)
    row, turned = np.arange(count), np.zeros(count, dtype=np.bool_)
    s, e = starts.copy(), ends.copy()
    for _ in range(_ROUNDS):
        gained = _turn_rows(row, s, e, turned, begin, lift_mm, link_mm)
        for size in (1, 2, 3):
            i = 0
            while i + size <= count:
                place, back = _best_place(row, s, e, begin, i, size, lift_mm, link_mm)
                if place < 0:
                    i += 1
                    continue
                gained = True
                _move(row, s, e, turned, i, size, place, back)
        if not gained:
            break
    return row, turned


@njit(cache=True, nogil=True)
def _turn_rows(row, s, e, turned, begin, lift_mm, link_mm):  # type: ignore[no-untyped-def]
    """Turn whole rows of lanes round where that costs less; tells whether any was."""
    count, gained = len(row), False
    for i in range(count - 1):
        before = begin if i == 0 else e[row[i - 1]]
        was = _cost(before, s[row[i]], lift_mm, link_mm)
        best, last = -1e-6, -1
        for j in range(i + 1, min(count, i + _LOOK)):
            change = _cost(before, e[row[j]], lift_mm, link_mm) - was
            if j + 1 < count:
                after = s[row[j + 1]]
                change += _cost(s[row[i]], after, lift_mm, link_mm)
                change -= _cost(e[row[j]], after, lift_mm, link_mm)
            if change < best:
                best, last = change, j
        if last >= 0:
            gained = True
            _turn(row, s, e, turned, i, last + 1)
    return gained


@njit(cache=True, nogil=True)
def _turn(row, s, e, turned, first, end):  # type: ignore[no-untyped-def]
    """Go the lanes of a row backwards, each of them too."""
    row[first:end] = row[first:end][::-1].copy()
    for k in row[first:end]:
        turned[k] = not turned[k]
        for c in range(2):
            s[k, c], e[k, c] = e[k, c], s[k, c]


@njit(cache=True, nogil=True)
def _best_place(row, s, e, begin, i, size, lift_mm, link_mm):  # type: ignore[no-untyped-def]
    """Before which place a row of lanes costs less, -1 for none, and whether turned round."""
    count = len(row)
    a, b = row[i], row[i + size - 1]
    before = begin if i == 0 else e[row[i - 1]]
    out = _cost(before, s[a], lift_mm, link_mm)
    if i + size < count:
        after = s[row[i + size]]
        out += _cost(e[b], after, lift_mm, link_mm) - _cost(before, after, lift_mm, link_mm)
    best, place, back = 1e-6, -1, False
    if out <= best:
        return place, back
    for j in range(max(0, i - _LOOK), min(count, i + size + _LOOK) + 1):
        if i <= j <= i + size:
            continue
        here = begin if j == 0 else e[row[j - 1]]
        whole = _cost(here, s[row[j]], lift_mm, link_mm) if j < count else 0.0
        for way in range(2):
            first, last = (s[a], e[b]) if way == 0 else (e[b], s[a])
            put = _cost(here, first, lift_mm, link_mm) - whole
            if j < count:
                put += _cost(last, s[row[j]], lift_mm, link_mm)
            if out - put > best:
                best, place, back = out - put, j, way == 1
    return place, back


@njit(cache=True, nogil=True)
def _move(row, s, e, turned, i, size, place, back):  # type: ignore[no-untyped-def]
    """Move a row of lanes to before another place, in place."""
    if back:
        _turn(row, s, e, turned, i, i + size)
    piece = row[i : i + size].copy()
    if place < i:
        for k in range(i - 1, place - 1, -1):
            row[k + size] = row[k]
        row[place : place + size] = piece
    else:
        for k in range(i + size, place):
            row[k - size] = row[k]
        row[place - size : place] = piece
