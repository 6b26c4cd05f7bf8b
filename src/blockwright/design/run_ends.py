"""The ends of a run, to a part of a step: where calm paint turns into colour that runs.

The straight pieces of a ramp say well enough where a run lies, but a ramp that sets in steeply bends more
within its first piece than they can follow, and they make up for that with the ends. So each end is looked at
by itself, close by: calm paint on one side, on the other a curve that begins there, and the place at which
the two together explain the colours best.
"""

import numpy as np
from numpy.typing import NDArray

_CALM, _RUNNING = 0.25, 0.3
"""How much is looked at before an end and after it, parts of the run's length."""

_MOVED = 0.12
"""An end may be moved by this part of the run's length."""

_STEPS = 240
"""Steps of position in which colours are gathered, to a run's length."""

_TRIED, _FINER = 49, 17
"""Places that are tried for an end, and then around the best of them."""

_LEAST_STEPS, _LEAST_CALM = 24, 4
"""Steps with samples that are needed about an end, and before it: else nothing tells where it is."""

_SURELY = 0.97
"""An end is moved when that leaves less than this part of what was left over."""


def sharpened_ends(
    along: NDArray[np.float64], lab: NDArray[np.float64], ends: tuple[float, float]
) -> tuple[float, float]:
    """The ends of a run of colours (n, 3), CIELAB, at positions (n,), from ends that are about right.

    >>> along = np.linspace(0.0, 100.0, 4001)
    >>> ramp = np.clip((along - 20.0) / 60.0, 0.0, 1.0) ** 0.5
    >>> low, high = sharpened_ends(along, ramp[:, None] * [60.0, 0.0, 0.0], (17.0, 78.0))
    >>> round(low), round(high)
    (20, 80)
    """
    length = ends[1] - ends[0]
    low = _sharpened(along, lab, ends[0], length)
    high = -_sharpened(-along, lab, -ends[1], length)
    return (low, high) if high - low > length / 2.0 else ends


def _sharpened(along: NDArray[np.float64], lab: NDArray[np.float64], end: float, length: float) -> float:
    """The place of an end before which paint is calm."""
    near = (along > end - (_CALM + _MOVED) * length) & (along < end + (_RUNNING + _MOVED) * length)
    if not near.any():
        return end
    step = np.floor((along[near] - end) * (_STEPS / length)).astype(np.int64)
    step -= step.min()
    count = np.bincount(step).astype(float)
    held = count > 0
    count = count[held]
    place = np.bincount(step, along[near])[held] / count
    mean = np.stack([np.bincount(step, band)[held] / count for band in lab[near].T], axis=1)
    if len(place) < _LEAST_STEPS or np.count_nonzero(place < end) < _LEAST_CALM:
        return end
    reach = _MOVED * length
    first = max(end - reach, float(place[_LEAST_CALM - 1]))
    tried = np.linspace(first, max(end + reach, first), _TRIED)
    best, least = _best(tried, place, mean, count, length)
    around = np.linspace(-1.0, 1.0, _FINER) * float(tried[1] - tried[0])
    best, least = _best(best + around, place, mean, count, length)
    kept = _best(np.array([end]), place, mean, count, length)[1]
    return best if least < _SURELY * kept else end


def _best(
    tried: NDArray[np.float64],
    place: NDArray[np.float64],
    mean: NDArray[np.float64],
    count: NDArray[np.float64],
    length: float,
) -> tuple[float, float]:
    """Of the places tried for an end the best, and the mean square that it leaves over.

    From the end on the colour leaves that of the calm paint by a curve that may set in steeply, evenly or
    softly: it is made up of the root of the way, the way, and its square.
    """
    way = np.maximum(place[None] - tried[:, None], 0.0) / length
    terms = np.stack([np.ones_like(way), np.sqrt(way), way, way**2], axis=2)
    weighed = terms * count[None, :, None]
    normal = np.einsum("kni,knj->kij", weighed, terms)
    normal += 1e-9 * count.sum() * np.eye(terms.shape[2])
    shift = mean - mean[0]
    wanted = np.einsum("kni,nc->kic", weighed, shift)
    found = np.linalg.solve(normal, wanted)
    off = (count * (shift**2).sum(axis=1)).sum() - (found * wanted).sum(axis=(1, 2))
    k = int(np.argmin(off))
    return float(tried[k]), float(off[k]) / float(count.sum())
