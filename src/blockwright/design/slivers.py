"""Taking out the slivers that a soft edge leaves: thin regions whose colour is only the mix of both sides.

An edge painted with a soft brush runs through the colours between its two sides. Where a palette colour
is the nearest to one of them, a long thin region of it appears along the edge. A true line is told from a
sliver by its pixels: they have the line's own colour, not a mixture of the colours on its two sides.
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.geometry.labelling import label_regions

_WIDEST_PX = 4.5
"""Mean width, in pixels, up to which a region can be a sliver: a soft edge is rarely wider."""

_BESIDE = 0.12
"""Share of a sliver's border that each of the two sides that explain it must make up."""

_OFF_LINE = 10.0
"""Distance in levels (of 255) up to which pixels count as a mixture even when they match a colour too."""

_INNER = 0.08
"""A mixture keeps at least this share from either end; nearer it is that colour itself."""


@njit(cache=True, nogil=True)
def _count_borders(labels, regions, borders):  # type: ignore[no-untyped-def]
    """Length of the border of every region with every label, in pixel sides; the frame counts for none."""
    height, width = labels.shape
    for y in range(height):
        for x in range(width):
            if x + 1 < width and labels[y, x] != labels[y, x + 1]:
                borders[regions[y, x], labels[y, x + 1]] += 1
                borders[regions[y, x + 1], labels[y, x]] += 1
            if y + 1 < height and labels[y, x] != labels[y + 1, x]:
                borders[regions[y, x], labels[y + 1, x]] += 1
                borders[regions[y + 1, x], labels[y, x]] += 1


@njit(cache=True, nogil=True)
def _share_out(labels, regions, pixels, palette, place, sides):  # type: ignore[no-untyped-def]
    """Give every pixel of a sliver to that of its two sides which it holds more of."""
    height, width = labels.shape
    for y in range(height):
        for x in range(width):
            k = place[regions[y, x]]
            if k >= 0 and sides[k, 0] != sides[k, 1]:
                one, other = sides[k, 0], sides[k, 1]
                along = 0.0
                dot = 0.0
                for c in range(3):
                    step = palette[other, c] - palette[one, c]
                    along += step * step
                    dot += (pixels[y, x, c] - palette[one, c]) * step
                labels[y, x] = other if 2.0 * dot > along else one


@njit(cache=True, nogil=True)
def _sum_pixels(pixels, regions, place, sums):  # type: ignore[no-untyped-def]
    height, width = regions.shape
    for y in range(height):
        for x in range(width):
            k = place[regions[y, x]]
            if k >= 0:
                for c in range(3):
                    sums[k, c] += pixels[y, x, c]


def _is_mixture(
    mean: NDArray[np.float64],
    own: NDArray[np.float64],
    one: NDArray[np.float64],
    other: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Whether mean levels are explained better by a mixture of two colours than by their own, or as well
    when that colour is itself such a mixture."""
    along = other - one
    length = np.maximum((along**2).sum(axis=1), 1e-9)
    t = ((mean - one) * along).sum(axis=1) / length
    off = np.linalg.norm(mean - one - t[:, None] * along, axis=1)
    better = (off < np.linalg.norm(mean - own, axis=1)) & (t > -_INNER) & (t < 1.0 + _INNER)
    as_well = (off < _OFF_LINE) & (t > _INNER) & (t < 1.0 - _INNER)
    result: NDArray[np.bool_] = better | as_well
    return result


def remove_slivers(
    labels: NDArray[np.uint8], pixels: NDArray[np.uint8], palette_rgb: NDArray[np.float64]
) -> int:
    """Take out slivers along soft edges, in place; each pixel goes to the side it holds more of.

    ``labels`` is an (H, W) uint8 label map of the (H, W, 3) uint8 ``pixels``, ``palette_rgb`` the (n, 3)
    palette in 0..255 levels. Returns how many went.

    >>> labels = np.array([[0] * 6 + [1] * 2 + [2] * 6] * 20, np.uint8)
    >>> palette = np.array([[230.0] * 3, [150.0] * 3, [60.0] * 3])
    >>> remove_slivers(labels, palette[labels].astype(np.uint8), palette), np.unique(labels).tolist()
    (1, [0, 2])
    """
    regions, area, label = label_regions(labels)
    borders = np.zeros((len(area), len(palette_rgb)), np.int32)
    _count_borders(labels, regions, borders)
    around = borders.sum(axis=1)
    thin = np.flatnonzero(2.0 * area < _WIDEST_PX * np.maximum(around, 1))
    if len(palette_rgb) < 3 or not len(thin):
        return 0
    place = np.full(len(area), -1, np.int64)
    place[thin] = np.arange(len(thin))
    sums = np.zeros((len(thin), 3))
    _sum_pixels(pixels, regions, place, sums)
    mean = sums / area[thin, None]
    order = np.argsort(-borders[thin], axis=1, kind="stable")[:, :3]
    share = np.take_along_axis(borders[thin], order, axis=1) / np.maximum(around[thin, None], 1)
    sides = np.zeros((len(thin), 2), np.uint8)
    for i, j in ((1, 2), (0, 2), (0, 1)):
        one, other = order[:, i], order[:, j]
        mixed = _is_mixture(mean, palette_rgb[label[thin]], palette_rgb[one], palette_rgb[other])
        mixed &= share[:, j] > _BESIDE
        sides[mixed, 0], sides[mixed, 1] = one[mixed], other[mixed]
    found = sides[:, 0] != sides[:, 1]
    if found.any():
        _share_out(labels, regions, pixels, np.ascontiguousarray(palette_rgb, np.float64), place, sides)
    return int(found.sum())
