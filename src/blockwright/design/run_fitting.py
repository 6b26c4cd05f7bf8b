"""Fitting how colour runs: along a straight axis, or with the distance from a curved edge.

A run is a colour that changes with one number only, the position. So the colours of the pixels are taken
apart by position, and what is left over within each small step of it tells how well an axis explains them.
The best angle leaves the least. The ends are then the shortest stretch between two calm ends that explains
the colours as well as any.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.colour.srgb import lab_to_hex
from blockwright.design.run_ends import sharpened_ends
from blockwright.geometry.running import distance_mm
from blockwright.model.axis import Axis
from blockwright.model.design import Run
from blockwright.model.units import Lab, PointMm

_ANGLES = 45
"""Directions that are tried first: one every four degrees."""

_SEARCHED = 4000
"""Samples that the search for the angle looks at."""

_BINS = 96
"""Steps of position in which colours are gathered."""

_PIECES = 8
"""Straight pieces of the ramp while its ends are searched."""

_NODES = 13
"""Colours that are kept of a run; between them it is straight."""

_TRIED = 33
"""Places for each end that are tried first."""

_AS_GOOD = 1.06
"""What is left over may be this many times the least for a shorter run to be taken instead."""

_FLOOR = 0.003
"""Mean square, CIELAB units, that is never worth a longer run: the mean of many pixels is no surer."""

_REACHED, _CARRIED = 0.04, 0.08
"""A run that ends this near to the last samples, as a part of its length, is carried on by the second."""

_SNAP_DEG = 0.6
"""An axis this near to upright or level is taken for that."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """A run and the square root of the mean square by which it misses the samples, CIELAB units."""

    run: Run
    rms: float


def _gathered(
    along: NDArray[np.float64], lab: NDArray[np.float64], bins: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Middle, mean colour and number of samples of each step of position that has any."""
    low, high = float(along.min()), float(along.max())
    where = np.minimum(((along - low) / max(high - low, 1e-9) * bins).astype(np.int64), bins - 1)
    count = np.bincount(where, minlength=bins).astype(float)
    held = count > 0
    mean = np.stack([np.bincount(where, band, bins)[held] / count[held] for band in lab.T], axis=1)
    middle = np.bincount(where, along, bins)[held] / count[held]
    return middle, mean, count[held]


def _left_over(along: NDArray[np.float64], lab: NDArray[np.float64], bins: int) -> float:
    """Mean square of the colours about the mean of their step of position."""
    _, mean, count = _gathered(along, lab, bins)
    return float(((lab**2).sum() - (mean**2 * count[:, None]).sum()) / len(lab))


def _direction(degrees: float) -> NDArray[np.float64]:
    return np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])


def _best_angle(points: NDArray[np.float64], lab: NDArray[np.float64]) -> float:
    """The direction, 0 to 180 degrees, along which position explains the colours best."""
    step = max(1, len(points) // _SEARCHED)
    points, lab = points[::step], lab[::step] - lab.mean(axis=0)
    bins = int(np.clip(len(points) // 25, 8, _BINS // 2))

    def cost(degrees: float) -> float:
        return _left_over(points @ _direction(degrees), lab, bins)

    spread = 180.0 / _ANGLES
    best = min((float(k * spread) for k in range(_ANGLES)), key=cost)
    while spread > 0.1:
        spread /= 2.0
        best = min((best, best - spread, best + spread), key=cost)
    for right in (0.0, 90.0, 180.0):
        if abs(best - right) <= _SNAP_DEG:
            best = right
    return best


def _hats(along: NDArray[np.float64], pieces: int) -> NDArray[np.float64]:
    """The weights of the nodes at positions 0 to 1, (n, pieces + 1): straight between neighbours."""
    weights: NDArray[np.float64] = np.maximum(
        1.0 - np.abs(along[:, None] * pieces - np.arange(pieces + 1)[None]), 0.0
    )
    return weights


@njit(cache=True, nogil=True)
def _eliminated(normal, wanted):  # type: ignore[no-untyped-def]
    """The solution of normal equations that reach two places to either side, by Gauss's elimination."""
    size, bands = wanted.shape
    for k in range(size):
        for row in range(k + 1, min(k + 3, size)):
            factor = normal[row, k] / normal[k, k]
            for column in range(k, min(k + 3, size)):
                normal[row, column] -= factor * normal[k, column]
            for c in range(bands):
                wanted[row, c] -= factor * wanted[k, c]
    for k in range(size - 1, -1, -1):
        for c in range(bands):
            for column in range(k + 1, min(k + 3, size)):
                wanted[k, c] -= normal[k, column] * wanted[column, c]
            wanted[k, c] /= normal[k, k]
    return wanted


@njit(cache=True, nogil=True)
def _solved(middle, mean, count, low, high, pieces):  # type: ignore[no-untyped-def]
    """The nodes' colours between two ends, the same beyond them, and the mean square left over."""
    normal = np.zeros((pieces + 1, pieces + 1))
    wanted = np.zeros((pieces + 1, 3))
    total = count.sum()
    scale = 1.0 / max(high - low, 1e-9)
    for i in range(len(middle)):
        along = min(max((middle[i] - low) * scale, 0.0), 1.0) * pieces
        k = min(int(along), pieces - 1)
        right = along - k
        left = 1.0 - right
        normal[k, k] += count[i] * left * left
        normal[k, k + 1] += count[i] * left * right
        normal[k + 1, k] += count[i] * left * right
        normal[k + 1, k + 1] += count[i] * right * right
        for c in range(3):
            wanted[k, c] += count[i] * left * mean[i, c]
            wanted[k + 1, c] += count[i] * right * mean[i, c]
    # A node that no sample is near takes after its neighbours.
    bend = 1e-6 * total / len(middle)
    for k in range(1, pieces):
        for a, x in ((k - 1, 1.0), (k, -2.0), (k + 1, 1.0)):
            for b, y in ((k - 1, 1.0), (k, -2.0), (k + 1, 1.0)):
                normal[a, b] += bend * x * y
    nodes = _eliminated(normal, wanted)
    off = 0.0
    for i in range(len(middle)):
        along = min(max((middle[i] - low) * scale, 0.0), 1.0) * pieces
        k = min(int(along), pieces - 1)
        right = along - k
        for c in range(3):
            told = (1.0 - right) * nodes[k, c] + right * nodes[k + 1, c]
            off += count[i] * (mean[i, c] - told) ** 2
    return nodes, off / total


def _ends(
    middle: NDArray[np.float64], mean: NDArray[np.float64], count: NDArray[np.float64]
) -> tuple[float, float]:
    """Where the colour begins to run and where it has done so."""
    low, high = float(middle[0]), float(middle[-1])

    def cost(ends: tuple[float, float]) -> float:
        return float(_solved(middle, mean, count, *ends, _PIECES)[1])

    grid = np.linspace(low, high, _TRIED)
    least_length = (high - low) / 8.0
    tried = {(float(a), float(b)): 0.0 for a in grid for b in grid if b - a >= least_length}
    for ends in tried:
        tried[ends] = cost(ends)
    step = float(grid[1] - grid[0])
    best = _settled(cost, min(tried, key=lambda e: tried[e]), step, low, high)
    # Calm paint that happens to fill whole pieces of the ramp would count as part of the run.
    least, shorter = cost(best), True
    piece = (best[1] - best[0]) / _PIECES
    without = [(best[0] + a * piece, best[1] - b * piece) for a in range(_PIECES) for b in range(_PIECES - a)]
    best = min(
        (ends for ends in without if cost(ends) <= least * _AS_GOOD + _FLOOR), key=lambda e: e[1] - e[0]
    )
    while shorter:
        shorter = False
        piece = (best[1] - best[0]) / _PIECES
        for ends in ((best[0] + piece, best[1]), (best[0], best[1] - piece)):
            found = _settled(cost, ends, piece / 4.0, low, high)
            if (
                found[1] - found[0] < best[1] - best[0] - piece / 2.0
                and cost(found) <= least * _AS_GOOD + _FLOOR
            ):
                best, shorter = found, True
                break
    return best


def _settled(cost, ends: tuple[float, float], step: float, low: float, high: float) -> tuple[float, float]:  # type: ignore[no-untyped-def]
    """Move both ends, ever less, as long as it gets better."""
    best, least = ends, cost(ends)
    while step > (high - low) / 2000.0:
        around = [
            (min(max(best[0] + a * step, low), high), min(max(best[1] + b * step, low), high))
            for a in (-1.0, 0.0, 1.0)
            for b in (-1.0, 0.0, 1.0)
        ]
        found = min((e for e in around if e[1] - e[0] > step), key=cost, default=best)
        if cost(found) < least - 1e-12:
            best, least = found, cost(found)
        else:
            step /= 2.0
    return best


def _as_lab(nodes: NDArray[np.float64]) -> tuple[Lab, ...]:
    return tuple((float(lightness), float(a), float(b)) for lightness, a, b in nodes)


def _fit(
    along: NDArray[np.float64], lab: NDArray[np.float64]
) -> tuple[tuple[float, float], NDArray[np.float64], float]:
    """Ends, nodes and what is left over, the worst samples left out of the fit."""
    bins = int(np.clip(len(along) // 12, 12, _BINS))
    keep = np.ones(len(along), dtype=np.bool_)
    for _ in range(2):
        middle, mean, _ = _gathered(along[keep], lab[keep], bins)
        off = np.sqrt(sum((lab[:, c] - np.interp(along, middle, mean[:, c])) ** 2 for c in range(3)))
        keep = off <= max(3.0 * float(np.median(off)), 1.0)
    middle, mean, count = _gathered(along[keep], lab[keep], bins)
    ends = sharpened_ends(along[keep], lab[keep], _ends(middle, mean, count))
    nodes, _ = _solved(middle, mean, count, *ends, _NODES - 1)
    placed = np.clip((along - ends[0]) / max(ends[1] - ends[0], 1e-9), 0.0, 1.0)
    off = ((lab - _hats(placed, _NODES - 1) @ nodes) ** 2).sum(axis=1)
    return ends, nodes, float(np.sqrt(off.mean()))


def _to_the_outline(
    ends: tuple[float, float],
    nodes: NDArray[np.float64],
    sampled: tuple[float, float],
    whole: tuple[float, float],
) -> tuple[tuple[float, float], NDArray[np.float64]]:
    """Carry a run that is still under way where the samples end on to the outline, which has none near it."""
    length = ends[1] - ends[0]
    carried, moved, places = nodes.copy(), list(ends), np.linspace(ends[0], ends[1], len(nodes))
    for at, inner, sign in ((0, 1, 1.0), (-1, -2, -1.0)):
        gap = sign * (ends[at] - whole[at])
        if sign * (ends[at] - sampled[at]) < _REACHED * length and 0.0 < gap < _CARRIED * length:
            moved[at] = places[at] = whole[at]
            carried[at] += (nodes[at] - nodes[inner]) * gap / length * (len(nodes) - 1)
    even = np.linspace(moved[0], moved[1], len(nodes))
    return (moved[0], moved[1]), np.stack([np.interp(even, places, band) for band in carried.T], axis=1)


def fit_straight(
    points: NDArray[np.float64], lab: NDArray[np.float64], outline: NDArray[np.float64]
) -> Fitted:
    """The straight run that explains colours (n, 3), CIELAB, at points (n, 2), mm, best; darkest first.

    ``outline`` are the corners of the shapes, which the points do not quite reach.
    """
    across = _direction(_best_angle(points, lab))
    along, whole = points @ across, outline @ across
    ends, nodes, rms = _fit(along, lab)
    ends, nodes = _to_the_outline(
        ends, nodes, (along.min(), along.max()), (float(whole.min()), float(whole.max()))
    )
    middle = points.mean(axis=0)
    start, end = (middle + across * (place - middle @ across) for place in ends)
    axis = Axis(_rounded(start), _rounded(end))
    return Fitted(_darkest_first(axis, nodes), rms)


def runs_along_edge(
    points: NDArray[np.float64], lab: NDArray[np.float64], edge: tuple[PointMm, ...], *, rms: float
) -> bool:
    """Whether the distance from an edge may explain colours at points better than ``rms``: a quick look."""
    step = max(1, len(points) // _SEARCHED)
    bins = int(np.clip(len(points) // step // 25, 8, _BINS // 2))
    return _left_over(distance_mm(edge, points[::step]), lab[::step], bins) < rms**2


def _rounded(place: NDArray[np.float64]) -> PointMm:
    """A place to a thousandth of a mm; no nought below nought."""
    return round(float(place[0]), 3) + 0.0, round(float(place[1]), 3) + 0.0


def fit_along_edge(
    points: NDArray[np.float64], lab: NDArray[np.float64], edge: tuple[PointMm, ...]
) -> Fitted:
    """The run with the distance from an edge that explains colours at points best; darkest first."""
    away = distance_mm(edge, points)
    ends, nodes, rms = _fit(away, lab)
    # Round a point no outline lies within the nearest samples.
    nearest = 0.0 if len(edge) > 1 else float(away.min())
    (near, far), nodes = _to_the_outline(ends, nodes, (away.min(), away.max()), (nearest, float(away.max())))
    start, end = _marks(points, away, (near, far))
    if len(edge) == 1:
        start, end = _on_a_ray(edge[0], end, (near, far))
    return Fitted(_darkest_first(Axis(start, end, edge, near, far), nodes), rms)


def _marks(
    points: NDArray[np.float64], away: NDArray[np.float64], ends: tuple[float, float]
) -> tuple[PointMm, PointMm]:
    """Two places at the ends' distances, opposite one another: a sample, and the one nearest to it."""
    at_far = np.flatnonzero(np.abs(away - ends[1]) <= np.quantile(np.abs(away - ends[1]), 0.03))
    far = points[at_far[np.argmin(((points[at_far] - np.median(points[at_far], axis=0)) ** 2).sum(axis=1))]]
    at_near = np.flatnonzero(np.abs(away - ends[0]) <= np.quantile(np.abs(away - ends[0]), 0.03))
    near = points[at_near[np.argmin(((points[at_near] - far) ** 2).sum(axis=1))]]
    return _rounded(near), _rounded(far)


def _on_a_ray(middle: PointMm, towards: PointMm, away_mm: tuple[float, float]) -> tuple[PointMm, PointMm]:
    """Two places at these distances from a middle, on the way to another place."""
    way = np.subtract(towards, middle)
    way = way / max(float(np.hypot(*way)), 1e-9)
    near, far = (np.add(middle, way * mm) for mm in away_mm)
    return _rounded(near), _rounded(far)


def _darkest_first(axis: Axis, nodes: NDArray[np.float64]) -> Run:
    if nodes[0, 0] > nodes[-1, 0]:
        axis, nodes = axis.turned(), nodes[::-1]
    return run_along(axis, nodes)


def run_along(axis: Axis, nodes: NDArray[np.float64]) -> Run:
    """A run of colours (n, 3), CIELAB, at equal steps along an axis."""
    lab = _as_lab(nodes)
    return Run(axis, lab, tuple(lab_to_hex(each) for each in lab))
