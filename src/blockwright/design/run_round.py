"""Fitting how colour runs round a point: a sun or a moon whose colour changes from the middle to the rim.

Such a run is one along an edge that is a single point: what counts is the distance from it. The middle is the
point whose circles explain the colours best; it may lie behind what covers a part of the disc.
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.design.run_fitting import Fitted, fit_along_edge
from blockwright.model.units import PointMm

_GRID = 9
"""Middles that are tried first, to a side of the box around the samples."""

_BEYOND = 0.15
"""How far past that box a middle may lie, as a part of its sides."""

_FINEST_MM = 0.02
"""How surely the middle is found, mm."""

_SECTORS, _LEAST_SECTORS = 24, 11
"""Of so many sectors round the middle, so many must hold samples: what is seen of less may as well be a run
along an edge, which a brush follows more easily."""

_QUICK = 2.5
"""The quick look leaves this many times more over than the fit, at most: its circles are few."""

_FEW, _MORE = 800, 4000
"""Samples that the first middles are tried with, and the search around the best."""

_CIRCLES = 48
"""Circles in which colours are gathered, at most; with fewer samples fewer."""

_HOPELESS = 0.15
"""If the best of the first middles leaves over more than this part of all differences, there is none."""


@njit(cache=True, nogil=True)
def _left_over(x, y, points, lab, circles, sums, counts):  # type: ignore[no-untyped-def]
    """Mean square of colours about the means of the circles round a place that they lie on."""
    farthest = 0.0
    for i in range(len(points)):
        farthest = max(farthest, (points[i, 0] - x) ** 2 + (points[i, 1] - y) ** 2)
    scale = circles / max(np.sqrt(farthest), 1e-9)
    sums[:] = 0.0
    counts[:] = 0.0
    total = 0.0
    for i in range(len(points)):
        away = np.sqrt((points[i, 0] - x) ** 2 + (points[i, 1] - y) ** 2)
        k = min(int(away * scale), circles - 1)
        counts[k] += 1.0
        for c in range(3):
            sums[k, c] += lab[i, c]
            total += lab[i, c] ** 2
    for k in range(circles):
        if counts[k] > 0.0:
            for c in range(3):
                total -= sums[k, c] ** 2 / counts[k]
    return total / len(points)


def fit_round(points: NDArray[np.float64], lab: NDArray[np.float64], *, rms: float) -> Fitted | None:
    """The run round a point that explains colours (n, 3), CIELAB, at points (n, 2), mm; darkest first.

    None if none seems to explain them within ``rms``, CIELAB units, or if they lie round no point.
    """
    low, high = points.min(axis=0), points.max(axis=0)
    spread = (high - low) * (1.0 + 2.0 * _BEYOND) / (_GRID - 1)
    first = low - _BEYOND * (high - low)
    few, colours = _thinned(points, lab, _FEW)
    places = [first + spread * (i, j) for i in range(_GRID) for j in range(_GRID)]
    costs = [_cost(place, few, colours) for place in places]
    if min(costs) > _HOPELESS * float((colours**2).sum(axis=1).mean()):
        return None
    best, least = _settled(places[int(np.argmin(costs))], spread, *_thinned(points, lab, _MORE))
    if least >= (_QUICK * rms) ** 2 or not _all_round(best, points):
        return None
    middle: PointMm = (round(float(best[0]), 3) + 0.0, round(float(best[1]), 3) + 0.0)
    return fit_along_edge(points, lab, (middle,))


def _thinned(
    points: NDArray[np.float64], lab: NDArray[np.float64], count: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """About so many of the samples, their colours about their mean."""
    step = max(1, len(points) // count)
    some = lab[::step]
    return np.ascontiguousarray(points[::step]), some - some.mean(axis=0)


def _cost(place: NDArray[np.float64], points: NDArray[np.float64], lab: NDArray[np.float64]) -> float:
    circles = int(np.clip(len(points) // 25, 8, _CIRCLES))
    sums, counts = np.empty((circles, 3)), np.empty(circles)
    return float(_left_over(place[0], place[1], points, lab, circles, sums, counts))


def _settled(
    place: NDArray[np.float64],
    spread: NDArray[np.float64],
    points: NDArray[np.float64],
    lab: NDArray[np.float64],
) -> tuple[NDArray[np.float64], float]:
    """Move a middle, ever less, as long as it gets better; and what it leaves over then."""
    best, least = place, _cost(place, points, lab)
    turns = [np.array(way, dtype=np.float64) for way in ((1, 0), (-1, 0), (0, 1), (0, -1))]
    while float(spread.max()) > _FINEST_MM:
        tried = [best + spread * turn for turn in turns]
        costs = [_cost(each, points, lab) for each in tried]
        k = int(np.argmin(costs))
        if costs[k] < least:
            best, least = tried[k], costs[k]
        else:
            spread = spread / 2.0
    return best, least


def _all_round(middle: NDArray[np.float64], points: NDArray[np.float64]) -> bool:
    away = points - middle
    turn = np.arctan2(away[:, 1], away[:, 0]) / (2.0 * np.pi) + 0.5
    sectors = np.minimum((turn * _SECTORS).astype(np.int64), _SECTORS - 1)
    return len(np.unique(sectors)) >= _LEAST_SECTORS
