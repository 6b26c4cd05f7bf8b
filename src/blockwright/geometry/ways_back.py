"""Ways back: straight moves that lead back over a way which was gone before."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

_ASIDE = 2.0
"""Places so near to a straight way lie on it, in the unit of the places: they are rounded to it."""


def leads_back(
    begin: NDArray[np.int64], end: NDArray[np.int64], gone: NDArray[np.bool_], asked: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which of the moves that are ``asked`` for lead back over moves that were gone before, (n,).

    ``begin`` and ``end`` (n, 3) are the places of moves in whole units, one move after the other; ``gone``
    says which are straight moves in the work. A way back may leave out places of the way there that lie on
    its straight line.

    >>> places = np.array([[0, 0, 0], [500, 0, 400], [1000, 0, 800], [0, 0, 0], [9, 9, 9]])
    >>> yes = np.full(4, True)
    >>> leads_back(places[:-1], places[1:], yes, yes).tolist()
    [False, False, True, False]
    """
    back = np.zeros(len(begin), dtype=np.bool_)
    wanted = np.flatnonzero(asked)
    if not len(wanted):
        return back
    begins, ends = begin.tolist(), end.tolist()
    at: dict[tuple[int, ...], list[int]] = {}
    for k, place in enumerate(begins):
        at.setdefault(tuple(place), []).append(k)
    for k in wanted.tolist():
        low, high = end[k].astype(np.float64), begins[k]
        for first in at.get(tuple(ends[k]), ()):
            if first >= k:
                break
            if _leads_up(first, k, ends, high, low, gone):
                back[k] = True
                break
    return back


def _leads_up(
    first: int,
    before: int,
    ends: list[list[int]],
    high: list[int],
    low: NDArray[np.float64],
    gone: NDArray[np.bool_],
) -> bool:
    """Whether moves from number ``first`` on, and before another, go straight from one place to another."""
    whole = np.subtract(high, low)
    length = float(np.linalg.norm(whole))
    for k in range(first, before):
        if not gone[k]:
            return False
        if ends[k] == high:
            return True
        if not _lies_between(ends[k], low, whole, length):
            return False
    return False


def _lies_between(
    place: ArrayLike, low: NDArray[np.float64], whole: NDArray[np.float64], length: float
) -> bool:
    off = np.asarray(place) - low
    along = float(off @ whole) / length
    return 0.0 < along < length and float(np.linalg.norm(off - whole * (along / length))) <= _ASIDE
