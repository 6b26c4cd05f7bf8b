"""Choosing the colours of a design from the picture itself.

Flat paint piles up at a few places of CIELAB, narrow heaps with empty ground around them; a gradation lies
there as a long ridge. So the heaps are taken first, however small, and what is left is covered with colours
at wide, even steps. Colours that only thin lines carry have no flat pixel at all: they are looked for among
the pixels that no mixture of two chosen colours explains.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from blockwright.colour.difference import delta_e00
from blockwright.colour.levels import levels_to_lab
from blockwright.design.flattening import FlatPicture

_SAMPLE = 400_000
"""Pixels looked at; more changes no colour by more than 0.1."""

_BINS = (1.0, 1.4, 2.0, 2.8)
"""Widths of a histogram bin in CIELAB units, finest first; the first is half of what the eye tells apart."""

_MOST_BINS = 15_000
"""A photograph fills more bins than this; wider ones tell it as well."""

_HEAP = 2.2
"""Radius of a heap of flat paint in CIELAB units: evened-out noise and light compression."""

_MOAT = 5.0
"""Radius of the ground around a heap that must be nearly empty."""

_HEAPED = 0.62
"""Share of the paint within the moat that must lie in the heap itself."""

_LEAST_HEAP = 1.5e-4
"""Smallest share of the flat pixels that makes a colour of its own."""

_RUN_STEP = 11.0
"""Distance of the colours that stand for a gradation, CIELAB units; a visible but calm step."""

_LEAST_RUN = 4e-3
"""Smallest share of the flat pixels for one step of a gradation."""

_SAME_DE00 = 3.0
"""Colours nearer than this (CIEDE2000) are one."""

_MINOR_SHARE = 3e-3
"""A colour with less than this share of the flat pixels is minor."""

_MINOR_SAME_DE00 = 7.0
"""A minor colour nearer than this to another is not worth a block of its own."""

_UNEXPLAINED = 14.0
"""Distance in CIELAB from every mixture of two colours that makes a pixel a colour of its own."""

_PAIRS_AT_ONCE = 1_000_000
"""Points times pairs of colours that are measured together: some 50 MB."""

MOST_COLOURS = 24
"""More colours are not chosen without being asked for: more impressions than a sheet stands."""


@dataclass(frozen=True, slots=True)
class FoundPalette:
    """Colours in CIELAB, (n, 3), lightest first; ``running`` tells which are steps of a gradation.

    ``heaped_share`` is the share of the flat pixels that lies in heaps of flat paint.
    """

    lab: NDArray[np.float64]
    running: NDArray[np.bool_]
    heaped_share: float


@dataclass(frozen=True, slots=True)
class _Histogram:
    lab: NDArray[np.float64]
    share: NDArray[np.float64]


def _histogram(rgb: NDArray[np.uint8]) -> _Histogram:
    lab = levels_to_lab(rgb.reshape(-1, 3))
    for width in _BINS:
        key = np.rint(lab / width).astype(np.int64) + 512
        packed = (key[:, 0] << 22) | (key[:, 1] << 11) | key[:, 2]
        _, index, counts = np.unique(packed, return_inverse=True, return_counts=True)
        if len(counts) <= _MOST_BINS:
            break
    mean = np.stack([np.bincount(index, lab[:, axis]) for axis in range(3)], axis=1) / counts[:, None]
    return _Histogram(mean, counts / counts.sum())


def _sample(flat: FlatPicture, where: NDArray[np.bool_], *, most: int) -> NDArray[np.uint8]:
    """Pixels from a regular grid, at most about ``most``, where the mask is true."""
    step = max(1, int(np.sqrt(where.size / most)))
    while True:
        chosen = where[::step, ::step]
        if step == 1 or np.count_nonzero(chosen) >= most // 8:
            return flat.pixels[::step, ::step][chosen]
        step = max(1, step // 2)


def _near(
    tree: cKDTree, share: NDArray[np.float64], centres: NDArray[np.float64], radius: float
) -> NDArray[np.float64]:
    return np.array([share[near].sum() for near in tree.query_ball_point(centres, radius)])


def _heaps(histogram: _Histogram, *, least: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Centres of the heaps, largest first, and what share is left of each bin."""
    tree = cKDTree(histogram.lab)
    left = histogram.share.copy()
    core = _near(tree, left, histogram.lab, _HEAP)
    tried = np.zeros(len(left), bool)
    centres: list[NDArray[np.float64]] = []
    while True:
        candidates = np.where(tried | (left <= 0), -1.0, core)
        best = int(np.argmax(candidates))
        if candidates[best] < least:
            break
        near = np.array(tree.query_ball_point(histogram.lab[best], _HEAP))
        weight = left[near]
        centre = (histogram.lab[near] * weight[:, None]).sum(axis=0) / weight.sum()
        heap = left[tree.query_ball_point(centre, _HEAP)].sum()
        around = left[tree.query_ball_point(centre, _MOAT)].sum()
        if heap < _HEAPED * around or heap < least:
            close = np.linalg.norm(histogram.lab[near] - histogram.lab[best], axis=1) < 1.5 * _BINS[0]
            tried[near[close]] = True
            tried[best] = True
            continue
        centres.append(centre)
        taken = np.array(tree.query_ball_point(centre, 2.0 * _HEAP))
        changed = np.unique(np.concatenate(tree.query_ball_point(histogram.lab[taken], _HEAP)).astype(int))
        left[taken] = 0.0
        core[changed] = _near(tree, left, histogram.lab[changed], _HEAP)
    return np.array(centres).reshape(-1, 3), left


def _runs(
    histogram: _Histogram, left: NDArray[np.float64], heaps: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Colours at even steps over what the heaps leave: gradations."""
    if len(heaps):
        far = cKDTree(heaps).query(histogram.lab)[0]
        left = np.where(far < 0.6 * _RUN_STEP, 0.0, left)
    tree = cKDTree(histogram.lab)
    # Who is near whom does not change, and is found once.
    one, other = tree.query_pairs(0.5 * _RUN_STEP, output_type="ndarray").T
    centres: list[NDArray[np.float64]] = []
    while (left > 0).any():
        mass = left + np.bincount(one, left[other], len(left)) + np.bincount(other, left[one], len(left))
        mass[left <= 0] = 0.0
        if mass.max() < _LEAST_RUN:
            break
        best = histogram.lab[int(np.argmax(mass))]
        near = tree.query_ball_point(best, 0.5 * _RUN_STEP)
        centres.append((histogram.lab[near] * left[near, None]).sum(axis=0) / left[near].sum())
        left = left.copy()
        left[tree.query_ball_point(centres[-1], 0.8 * _RUN_STEP)] = 0.0
    return np.array(centres).reshape(-1, 3)


def _lone_lines(flat: FlatPicture, lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """Colours of lines too thin to have a flat pixel: far from every mixture of two chosen colours."""
    rgb = _sample(flat, ~flat.flat, most=_SAMPLE // 2)
    if len(rgb) < 50 or len(lab) < 1:
        return np.empty((0, 3))
    histogram = _histogram(rgb)
    point = histogram.lab
    distance = np.linalg.norm(point[:, None] - lab[None], axis=2).min(axis=1)
    ask = np.flatnonzero(distance > _UNEXPLAINED)
    distance[ask] = np.minimum(distance[ask], _to_mixtures(point[ask], lab))
    lone = distance > _UNEXPLAINED
    if not lone.any():
        return np.empty((0, 3))
    kept = _Histogram(point[lone], histogram.share[lone])
    # What share of the edges' pixels a line's colour must have: a few long lines, not a stray mixture.
    return _runs(kept, np.where(kept.share > 0, kept.share, 0.0), lab)


def _to_mixtures(points: NDArray[np.float64], lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far each point is from the nearest mixture of two of the colours, CIELAB units."""
    nearest = np.full(len(points), np.inf)
    first, second = np.triu_indices(len(lab), 1)
    at_once = max(1, _PAIRS_AT_ONCE // max(1, len(points)))
    own = np.einsum("ik,ik->i", points, points)[:, None]
    for begin in range(0, len(first), at_once):
        start = lab[first[begin : begin + at_once]]
        along = lab[second[begin : begin + at_once]] - start
        length = np.maximum(np.einsum("jk,jk->j", along, along), 1e-9)
        dot = points @ along.T - np.einsum("jk,jk->j", start, along)
        t = np.clip(dot / length, 0.0, 1.0)
        squared = own - 2.0 * points @ start.T + np.einsum("jk,jk->j", start, start)
        squared += t * (t * length - 2.0 * dot)
        nearest = np.minimum(nearest, np.sqrt(np.maximum(squared.min(axis=1), 0.0)))
    return nearest


def _weights(histogram: _Histogram, lab: NDArray[np.float64]) -> NDArray[np.float64]:
    nearest = cKDTree(lab).query(histogram.lab)[1]
    weight: NDArray[np.float64] = np.bincount(nearest, histogram.share, minlength=len(lab)).astype(float)
    return weight


def _merge_nearest(
    lab: NDArray[np.float64], running: NDArray[np.bool_], weight: NDArray[np.float64], *, most: int
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Join colours that are the same to the eye, then the cheapest pairs until at most ``most`` are left."""
    lab, running, weight = lab.copy(), running.copy(), np.maximum(weight, 1e-6)
    difference = delta_e00(lab[:, None], lab[None])
    while len(lab) > 1:
        np.fill_diagonal(difference, np.inf)
        if len(lab) <= most:
            minor = np.minimum(weight[:, None], weight[None]) < _MINOR_SHARE
            excess = difference - np.where(minor, _MINOR_SAME_DE00, _SAME_DE00)
            i, j = np.unravel_index(int(np.argmin(excess)), excess.shape)
            if excess[i, j] >= 0.0:
                break
        else:
            # Ward's cost: what the join adds to the squared error, with a floor so that small colours count.
            floor = np.maximum(weight, 2e-3)
            cost = difference**2 * (floor[:, None] * floor[None]) / (floor[:, None] + floor[None])
            i, j = np.unravel_index(int(np.argmin(cost)), cost.shape)
        total = weight[i] + weight[j]
        lab[i] = (lab[i] * weight[i] + lab[j] * weight[j]) / total
        weight[i] = total
        running[i] = running[i] and running[j]
        difference[i], difference[:, i] = delta_e00(lab[i], lab), delta_e00(lab, lab[i])
        lab, running, weight = np.delete(lab, j, axis=0), np.delete(running, j), np.delete(weight, j)
        difference = np.delete(np.delete(difference, j, axis=0), j, axis=1)
    return lab, running


def _split_to(histogram: _Histogram, lab: NDArray[np.float64], count: int) -> NDArray[np.float64]:
    """Add colours where the histogram is worst served, then settle them (weighted Lloyd iterations)."""
    while len(lab) < min(count, len(histogram.lab)):
        far = cKDTree(lab).query(histogram.lab)[0] if len(lab) else np.full(len(histogram.lab), 100.0)
        lab = np.vstack([lab, histogram.lab[int(np.argmax(far**2 * histogram.share))]])
    for _ in range(20):
        nearest = cKDTree(lab).query(histogram.lab)[1]
        mass = np.bincount(nearest, histogram.share, minlength=len(lab))
        for axis in range(3):
            mean = np.bincount(nearest, histogram.share * histogram.lab[:, axis], minlength=len(lab))
            lab[mass > 0, axis] = mean[mass > 0] / mass[mass > 0]
    return lab


def find_palette(flat: FlatPicture, *, colours: int | None) -> FoundPalette:
    """Choose the palette of a picture; ``colours`` fixes the number (1 to 64), None leaves it to the picture.

    Colours are CIELAB (D65), lightest first.
    """
    where = flat.flat if np.count_nonzero(flat.flat) > 0.02 * flat.flat.size else np.ones_like(flat.flat)
    histogram = _histogram(_sample(flat, where, most=_SAMPLE))
    heaps, left = _heaps(histogram, least=_LEAST_HEAP)
    heaped = 1.0 - float(left.sum()) if len(heaps) else 0.0
    runs = _runs(histogram, left, heaps)
    lab = np.vstack([heaps, runs])
    lines = _lone_lines(flat, lab)
    lab = np.vstack([lab, lines])
    running = np.repeat([False, True, False], [len(heaps), len(runs), len(lines)])
    if not len(lab):
        lab, running = histogram.lab[[int(np.argmax(histogram.share))]], np.array([False])
    lab, running = _merge_nearest(lab, running, _weights(histogram, lab), most=colours or MOST_COLOURS)
    if colours is not None and len(lab) < colours:
        lab = _split_to(histogram, lab, colours)
        running = np.append(running, np.ones(len(lab) - len(running), bool))
    order = np.lexsort(lab.T[::-1])[::-1]
    return FoundPalette(lab[order], running[order], heaped)


def lost_at(flat: FlatPicture, counts: tuple[int, ...]) -> tuple[float, ...]:
    """Share of the picture, in percent, that would differ by more than 5 (CIEDE2000) at so many colours."""
    histogram = _histogram(_sample(flat, np.ones_like(flat.flat), most=_SAMPLE // 4))
    result = []
    for count in counts:
        lab = _split_to(histogram, np.empty((0, 3)), count)
        nearest = cKDTree(lab).query(histogram.lab)[1]
        far = delta_e00(histogram.lab, lab[nearest]) > 5.0
        result.append(100.0 * float(histogram.share[far].sum()))
    return tuple(result)
