"""Ways in space with as few points as they need."""

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def straightened(points, within):  # type: ignore[no-untyped-def]
    """Which points of a way in space are kept so that it strays so far at most (Douglas, Peucker 1973)."""
    count = len(points)
    kept = np.zeros(count, dtype=np.bool_)
    kept[0] = kept[count - 1] = True
    ahead = np.empty((count + 1, 2), dtype=np.int64)
    ahead[0, 0], ahead[0, 1] = 0, count - 1
    waiting = 1
    while waiting:
        waiting -= 1
        a, b = ahead[waiting]
        worst, at = within, -1
        along = points[b] - points[a]
        length = (along**2).sum()
        for k in range(a + 1, b):
            off = points[k] - points[a]
            share = min(max((off * along).sum() / length, 0.0), 1.0) if length > 0.0 else 0.0
            away = np.sqrt(((off - share * along) ** 2).sum())
            if away > worst:
                worst, at = away, k
        if at >= 0:
            kept[at] = True
            ahead[waiting, 0], ahead[waiting, 1] = a, at
            ahead[waiting + 1, 0], ahead[waiting + 1, 1] = at, b
            waiting += 2
    return kept
