"""Calm bands where the paint runs from one colour to another.

In a gradation the brush's noise, not the painter, decides where one colour of the palette ends and the next
begins, so that the edge between them comes out ragged. There the picture is smoothed along its own surface,
over a few millimetres but never across the edge of a shape, its cells are given their colours anew, and the
areas of those colours are rounded off by letting them flow into one another a little and asking which is the
strongest (threshold dynamics: Merriman, Bence and Osher 1992), so that no ripples are left between bands.
"""

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from blockwright.colour.srgb import srgb_to_lab
from blockwright.design.cores import in_bands
from blockwright.design.flattening import FlatPicture

_CELL_PX = 8
"""Side of the cells in which the smooth surface is worked out; bands are a hundred pixels wide."""

_SMOOTH_MM = 2.5
"""Standard deviation of the smoothing, mm: wider than brush marks, narrower than any band worth a block."""

_ROUND_MM = 2.0
"""Standard deviation, mm, of the flow that rounds off the bands: what is narrower goes."""

_BRIDGE_CELLS = 2
"""A run goes on beneath shapes up to twice this many cells thick: clouds, branches, rigging."""

_MOST_SIGMA_CELLS = 12.0
"""Keeps the smoothing's cost bounded for pictures of very high resolution."""

_RUNNING = 4.0
"""A pixel this far (CIELAB) from its palette colour is not that flat colour but part of a run."""

_SAME_SURFACE = 14.0
"""A pixel within this many levels of the smooth surface belongs to it."""

_STEP = 20.0
"""Levels between neighbouring cells that are a step from one surface to another, not a run."""

_LEAST_SHARE = 2e-3
"""Runs that take up less of the picture than this are left as they are."""

_RATE = np.float32(0.2)
_STAYS = np.float32(0.2)
"""The part of a cell's heat that each of its four neighbours takes in a step, and the part that stays."""

_HALF = 0.5
"""A cell belongs to a run when more than this part of it does."""


@njit(cache=True, nogil=True)
def _gather(pixels, flat, labels, table, running, far, cells, count, first, end):  # type: ignore[no-untyped-def]
    """Sum the pixels of runs in every cell of some rows of pixels."""
    width = labels.shape[1]
    for y in range(first, end):
        for x in range(width):
            if not flat[y, x]:
                continue
            r, g, b = pixels[y, x, 0], pixels[y, x, 1], pixels[y, x, 2]
            if running[labels[y, x]] or table[r >> 2, g >> 2, b >> 2] > far:
                v, u = y // _CELL_PX, x // _CELL_PX
                cells[v, u, 0] += r
                cells[v, u, 1] += g
                cells[v, u, 2] += b
                count[v, u] += 1


@njit(cache=True, nogil=True)
def _links(guide, inside, place, out):  # type: ignore[no-untyped-def]
    """For every inside cell the four it is linked to, above, below, left and right; itself where none is.

    ``place`` numbers the inside cells. Heat does not flow where the guide's colour steps between two cells.
    """
    height, width = inside.shape
    for y in range(height):
        for x in range(width):
            if not inside[y, x]:
                continue
            own = place[y, x]
            for bit, (dy, dx) in enumerate(((-1, 0), (1, 0), (0, -1), (0, 1))):
                v, u = y + dy, x + dx
                out[own, bit] = own
                if 0 <= v < height and 0 <= u < width and inside[v, u]:
                    step = 0.0
                    for c in range(3):
                        step += (guide[v, u, c] - guide[y, x, c]) ** 2
                    if step <= _STEP * _STEP:
                        out[own, bit] = place[v, u]


@njit(cache=True, nogil=True, fastmath={"contract"})
def _flow(heat, before, link, first, end):  # type: ignore[no-untyped-def]
    """One step of heat flow among linked cells, in some of them."""
    for i in range(first, end):
        up, down, left, right = link[i, 0], link[i, 1], link[i, 2], link[i, 3]
        for c in range(before.shape[1]):
            around = (before[up, c] + before[down, c]) + (before[left, c] + before[right, c])
            heat[i, c] = _STAYS * before[i, c] + _RATE * around


def _diffuse(
    cells: NDArray[np.float64], guide: NDArray[np.float64], inside: NDArray[np.bool_], steps: int
) -> NDArray[np.float64]:
    """Heat flow among neighbouring inside cells, but not where the guide's colour steps between them."""
    count = int(np.count_nonzero(inside))
    place = np.zeros(inside.shape, dtype=np.int32)
    place[inside] = np.arange(count)
    link = np.empty((count, 4), dtype=np.int32)
    _links(guide, inside, place, link)
    now = cells[inside].astype(np.float32)
    before = np.empty_like(now)
    for _ in range(steps):
        now, before = before, now
        _flow(now, before, link, 0, count)
    flowed = cells.copy()
    flowed[inside] = now
    return flowed


@njit(cache=True, nogil=True)
def _label_anew(pixels, flat, labels, running, surface, strength, names, inside, near, first, end):  # type: ignore[no-untyped-def]
    """Label pixels on the surface by the strongest colour there, interpolated between inside cells."""
    width = labels.shape[1]
    rows, columns = inside.shape
    colours = strength.shape[2]
    here = np.empty(3 + colours)
    for y in range(first, end):
        fy = (y + 0.5) / _CELL_PX - 0.5
        v0 = int(np.floor(fy))
        for x in range(width):
            member = running[labels[y, x]]
            if not (member or flat[y, x]) or not inside[y // _CELL_PX, x // _CELL_PX]:
                continue
            fx = (x + 0.5) / _CELL_PX - 0.5
            u0 = int(np.floor(fx))
            total = 0.0
            here[:] = 0.0
            for v in range(v0, v0 + 2):
                for u in range(u0, u0 + 2):
                    if 0 <= v < rows and 0 <= u < columns and inside[v, u]:
                        weight = (1.0 - abs(fy - v)) * (1.0 - abs(fx - u))
                        total += weight
                        for c in range(3):
                            here[c] += weight * surface[v, u, c]
                        for c in range(colours):
                            here[3 + c] += weight * strength[v, u, c]
            off = 0.0
            for c in range(3):
                off += (pixels[y, x, c] - here[c] / total) ** 2
            # A pixel at the run's border holds some of its neighbour, but its label says where it belongs.
            if member or off < near * near:
                strongest = 0
                for c in range(1, colours):
                    if here[3 + c] > here[3 + strongest]:
                        strongest = c
                labels[y, x] = names[strongest]


def _strengths(
    surface: NDArray[np.float64], inside: NDArray[np.bool_], lab: NDArray[np.float64], sigma: float
) -> tuple[NDArray[np.float64], NDArray[np.uint8]]:
    """How strong each colour is in each cell after a little flow, and which colours these are."""
    nearest = cKDTree(lab).query(srgb_to_lab(np.clip(surface[inside], 0.0, 255.0) / 255.0))[1]
    names, which = np.unique(nearest, return_inverse=True)
    strength = np.zeros((*inside.shape, len(names)))
    strength[(*np.nonzero(inside), which)] = 1.0
    return _diffuse(strength, surface, inside, _steps(sigma)), names.astype(np.uint8)


def _widened(cells: NDArray[np.float64], inside: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Cells with the ring of cells around the inside filled by the mean of their inside neighbours."""
    filled = np.where(inside[:, :, None], cells, 0.0)
    _fill_ring(cells, inside, filled)
    return filled


@njit(cache=True, nogil=True)
def _fill_ring(cells, inside, filled):  # type: ignore[no-untyped-def]
    """Give the cells beside inside ones the mean of these."""
    rows, columns, bands = cells.shape
    for y in range(rows):
        for x in range(columns):
            if inside[y, x]:
                continue
            weight = 0.0
            for v in range(max(y - 1, 0), min(y + 2, rows)):
                for u in range(max(x - 1, 0), min(x + 2, columns)):
                    if inside[v, u]:
                        weight += 1.0
                        for c in range(bands):
                            filled[y, x, c] += cells[v, u, c]
            if weight > 0.0:
                for c in range(bands):
                    filled[y, x, c] /= weight


def _bridged(
    cells: NDArray[np.float64], inside: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """The run carried on beneath thin shapes that lie over it, so that both of their sides flow together."""
    window = np.ones((3, 3), np.uint8)
    whole = cv2.morphologyEx(
        inside.astype(np.uint8), cv2.MORPH_CLOSE, window, iterations=_BRIDGE_CELLS, borderValue=0
    )
    for _ in range(_BRIDGE_CELLS):
        cells = _widened(cells, inside)
        inside = inside | ((cv2.dilate(inside.astype(np.uint8), window) & whole) > 0)
    cells = np.where(inside[:, :, None], cells, 0.0)
    return cells, inside


def _steps(sigma: float) -> int:
    """Heat flow with rate 0.2 adds 0.4 to the variance along each axis with every step."""
    return max(1, round(min(sigma, _MOST_SIGMA_CELLS) ** 2 / 0.4))


def calm_runs(
    flat: FlatPicture,
    labels: NDArray[np.uint8],
    *,
    running: NDArray[np.bool_],
    distance: NDArray[np.uint8],
    lab: NDArray[np.float64],
    pixels_per_mm: float,
) -> None:
    """Give the pixels of gradations their colours anew, in place.

    ``running`` (n,) tells which palette colours stand for steps of a gradation; ``distance`` (64, 64, 64)
    holds for every sRGB value its distance to the nearest palette colour in tenths of a CIELAB unit;
    ``lab`` (n, 3) is the palette.
    """
    height, width = labels.shape
    shape = (-(-height // _CELL_PX), -(-width // _CELL_PX))
    cells = np.zeros((*shape, 3))
    count = np.zeros(shape, np.int64)
    far = int(10 * _RUNNING)
    in_bands(
        lambda a, b: _gather(flat.pixels, flat.flat, labels, distance, running, far, cells, count, a, b),
        height,
        whole=_CELL_PX,
    )
    inside = count > _HALF * _CELL_PX**2
    if inside.mean() < _LEAST_SHARE:
        return
    cells[inside] /= count[inside, None]
    cells[~inside] = 0.0
    cells, inside = _bridged(cells, inside)
    cells_per_mm = pixels_per_mm / _CELL_PX
    surface = _diffuse(cells, cells, inside, _steps(_SMOOTH_MM * cells_per_mm))
    strength, names = _strengths(surface, inside, lab, _ROUND_MM * cells_per_mm)
    surface, strength = _widened(surface, inside), _widened(strength, inside)
    # The border of a run lies in cells that belong to it by less than half.
    inside = cv2.dilate(inside.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    known = (running, surface, strength, names, inside, _SAME_SURFACE)
    in_bands(lambda a, b: _label_anew(flat.pixels, flat.flat, labels, *known, a, b), height)
