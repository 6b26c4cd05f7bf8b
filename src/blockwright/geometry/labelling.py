"""Connected regions of a label map, and the removal of specks.

A label map is an (H, W) uint8 array: which palette colour each pixel belongs to. Two pixels belong to
one region when they share a side and a label (4-connectivity), so that regions never cross at a corner.
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray

UNLABELLED = np.uint8(255)
"""The label of a pixel that has no colour yet."""


@njit(cache=True, nogil=True)
def _root(parent, i):  # type: ignore[no-untyped-def]
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@njit(cache=True, nogil=True)
def _count_runs(labels):  # type: ignore[no-untyped-def]
    height, width = labels.shape
    count = 0
    for y in range(height):
        count += 1
        for x in range(1, width):
            if labels[y, x] != labels[y, x - 1]:
                count += 1
    return count


@njit(cache=True, nogil=True)
def _label_runs(labels, run_count, regions):  # type: ignore[no-untyped-def]
    """Join horizontal runs of one label with the runs they touch in the row above."""
    height, width = labels.shape
    start = np.empty(run_count + 1, np.int32)
    row_first = np.empty(height + 1, np.int64)
    parent = np.arange(run_count)
    n = 0
    for y in range(height):
        row_first[y] = n
        start[n] = 0
        n += 1
        for x in range(1, width):
            if labels[y, x] != labels[y, x - 1]:
                start[n] = x
                n += 1
    row_first[height] = n
    for y in range(1, height):
        i, i_end = row_first[y - 1], row_first[y]
        j, j_end = row_first[y], row_first[y + 1]
        while i < i_end and j < j_end:
            if labels[y - 1, start[i]] == labels[y, start[j]]:
                a, b = _root(parent, i), _root(parent, j)
                if a < b:
                    parent[b] = a
                elif b < a:
                    parent[a] = b
            i_stop = start[i + 1] if i + 1 < i_end else width
            j_stop = start[j + 1] if j + 1 < j_end else width
            if i_stop <= j_stop:
                i += 1
            if j_stop <= i_stop:
                j += 1
    number = np.full(run_count, -1, np.int32)
    count = 0
    for r in range(run_count):
        root = _root(parent, r)
        if number[root] < 0:
            number[root] = count
            count += 1
        number[r] = number[root]
    area = np.zeros(count, np.int64)
    label = np.empty(count, np.uint8)
    for y in range(height):
        for r in range(row_first[y], row_first[y + 1]):
            stop = start[r + 1] if r + 1 < row_first[y + 1] else width
            region = number[r]
            area[region] += stop - start[r]
            label[region] = labels[y, start[r]]
            for x in range(start[r], stop):
                regions[y, x] = region
    return area, label


def label_regions(
    labels: NDArray[np.uint8],
) -> tuple[NDArray[np.int32], NDArray[np.int64], NDArray[np.uint8]]:
    """Number the connected regions of a label map.

    ``labels``: (H, W) uint8. Returns the region of every pixel (H, W) int32, numbered from 0 in reading
    order; the area of each region in pixels; and the label of each.

    >>> regions, area, label = label_regions(np.array([[1, 1, 2], [2, 1, 2]], np.uint8))
    >>> regions.tolist(), area.tolist(), label.tolist()
    ([[0, 0, 1], [2, 0, 1]], [3, 2, 1], [1, 2, 2])
    """
    regions = np.empty(labels.shape, np.int32)
    area, label = _label_runs(labels, _count_runs(labels), regions)
    return regions, area, label


@njit(cache=True, nogil=True)
def _flood_from_neighbours(labels, queue):  # type: ignore[no-untyped-def]
    """Fill 255 pixels ring by ring; each takes the label most frequent among its settled neighbours."""
    height, width = labels.shape
    n = 0
    for y in range(height):
        for x in range(width):
            if labels[y, x] == 255:
                queue[n] = y * width + x
                n += 1
    found = np.empty(n, np.uint8)
    while n > 0:
        kept = 0
        settled = 0
        for k in range(n):
            y, x = queue[k] // width, queue[k] % width
            best, votes = 255, 0
            around = (
                labels[y - 1, x] if y > 0 else 255,
                labels[y + 1, x] if y < height - 1 else 255,
                labels[y, x - 1] if x > 0 else 255,
                labels[y, x + 1] if x < width - 1 else 255,
            )
            for a in around:
                if a != 255:
                    same = 0
                    for b in around:
                        if a == b:
                            same += 1
                    if same > votes:
                        best, votes = a, same
            found[k] = best
        for k in range(n):
            if found[k] == 255:
                queue[kept] = queue[k]
                kept += 1
            else:
                labels[queue[k] // width, queue[k] % width] = found[k]
                settled += 1
        if settled == 0:
            break
        n = kept


def fill_unlabelled(labels: NDArray[np.uint8]) -> None:
    """Give every pixel labelled 255 the label of its nearest labelled neighbours, in place.

    >>> row = np.array([[3, 255, 255, 255, 5]], np.uint8)
    >>> fill_unlabelled(row)
    >>> row.tolist()
    [[3, 3, 3, 5, 5]]
    """
    waiting = int(np.count_nonzero(labels == UNLABELLED))
    if waiting and waiting < labels.size:
        _flood_from_neighbours(labels, np.empty(waiting, np.int64))


@njit(cache=True, nogil=True)
def _unlabel(labels, regions, small):  # type: ignore[no-untyped-def]
    height, width = labels.shape
    for y in range(height):
        for x in range(width):
            if small[regions[y, x]]:
                labels[y, x] = 255


def remove_specks(labels: NDArray[np.uint8], *, least_pixels: float) -> int:
    """Take out regions smaller than ``least_pixels``, in place; their neighbours grow together over them.

    Returns the number of regions removed. When every region is smaller, nothing is removed.
    """
    regions, area, _ = label_regions(labels)
    small = area < least_pixels
    if not small.any() or small.all():
        return 0
    _unlabel(labels, regions, small)
    del regions
    fill_unlabelled(labels)
    return int(small.sum())
