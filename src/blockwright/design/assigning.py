"""Giving every pixel one colour of the palette, without fringes.

An antialiased edge between two colours passes through mixtures that may lie near a third colour. A pixel
takes a third colour only when that colour stands firmly nearby; otherwise it is a mixture of two that do,
and goes to the nearer one. Thin lines are no mixture of their neighbours and stay.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from blockwright.colour.srgb import srgb_to_lab
from blockwright.design.cores import in_bands
from blockwright.design.flattening import FlatPicture

_TABLE_BITS = 6
"""Bits a channel of the table from sRGB to the nearest colour: steps of 4 levels, below the brush's noise."""

_REACH = 3
"""How far around a pixel firm colours are looked for, in pixels: antialiasing and soft brushes."""

_UNFIRM = 45.0
"""What it costs a colour, in levels, that it stands firmly nowhere near."""


@dataclass(frozen=True, slots=True)
class NearestColours:
    """For every sRGB value the nearest palette colour and its distance, both (64, 64, 64) uint8.

    ``distance`` is in tenths of a CIELAB unit, at most 255.
    """

    colour: NDArray[np.uint8]
    distance: NDArray[np.uint8]


def nearest_colours(lab: NDArray[np.float64]) -> NearestColours:
    """The table for a palette, (n, 3) CIELAB."""
    levels = ((np.arange(1 << _TABLE_BITS) + 0.5) * (256 >> _TABLE_BITS) - 0.5) / 255.0
    grid = np.stack(np.meshgrid(levels, levels, levels, indexing="ij"), axis=-1)
    distance, colour = cKDTree(lab).query(srgb_to_lab(grid), workers=-1)
    return NearestColours(colour.astype(np.uint8), np.minimum(np.rint(10.0 * distance), 255).astype(np.uint8))


@njit(cache=True, nogil=True)
def _look_up(pixels, table, first, last, labels):  # type: ignore[no-untyped-def]
    shift = 8 - _TABLE_BITS
    for y in range(first, last):
        for x in range(labels.shape[1]):
            labels[y, x] = table[pixels[y, x, 0] >> shift, pixels[y, x, 1] >> shift, pixels[y, x, 2] >> shift]


@njit(cache=True, nogil=True)
def _explain(p, palette, found, firm, own):  # type: ignore[no-untyped-def]
    """The colour among ``found`` that best explains the levels p: pure, or the larger part of a mixture."""
    best_cost = 0.0
    for c in range(3):
        best_cost += (p[c] - palette[own, c]) ** 2
    if not firm[own]:
        best_cost += _UNFIRM * _UNFIRM
    best = own
    for i in range(len(found)):
        a = found[i]
        if not firm[a]:
            continue
        for j in range(i + 1, len(found)):
            b = found[j]
            if not firm[b]:
                continue
            along = 0.0
            dot = 0.0
            for c in range(3):
                along += (palette[b, c] - palette[a, c]) ** 2
                dot += (p[c] - palette[a, c]) * (palette[b, c] - palette[a, c])
            t = min(max(dot / along, 0.0), 1.0) if along > 0.0 else 0.0
            cost = 0.0
            for c in range(3):
                cost += (p[c] - palette[a, c] - t * (palette[b, c] - palette[a, c])) ** 2
            if cost < best_cost - 1e-9:
                best_cost = cost
                best = b if t >= 0.5 else a
    return best


@njit(cache=True, nogil=True)
def _clear_fringes(pixels, flat, labels, palette, first, last, out):  # type: ignore[no-untyped-def]
    height, width = labels.shape
    firm = np.zeros(256, np.bool_)
    seen = np.zeros(256, np.bool_)
    found = np.empty(256, np.int64)
    p = np.empty(3)
    for y in range(first, last):
        for x in range(width):
            own = labels[y, x]
            out[y, x] = own
            if flat[y, x]:
                continue
            count = 0
            seen[own] = True
            found[0] = own
            count = 1
            for v in range(max(y - _REACH, 0), min(y + _REACH + 1, height)):
                for u in range(max(x - _REACH, 0), min(x + _REACH + 1, width)):
                    label = labels[v, u]
                    if not seen[label]:
                        seen[label] = True
                        found[count] = label
                        count += 1
                    if flat[v, u]:
                        firm[label] = True
            if count > 2 or (count == 2 and not firm[own]):
                for c in range(3):
                    p[c] = pixels[y, x, c]
                out[y, x] = _explain(p, palette, found[:count], firm, own)
            for i in range(count):
                seen[found[i]] = False
                firm[found[i]] = False


def assign_colours(
    flat: FlatPicture, nearest: NearestColours, palette_rgb: NDArray[np.float64]
) -> NDArray[np.uint8]:
    """Label every pixel with its palette colour, (H, W) uint8; ``palette_rgb`` (n, 3) in 0..255 levels."""
    first_guess = np.empty(flat.flat.shape, np.uint8)
    height = len(first_guess)
    in_bands(lambda a, b: _look_up(flat.pixels, nearest.colour, a, b, first_guess), height)
    labels = np.empty_like(first_guess)
    palette = np.ascontiguousarray(palette_rgb, dtype=np.float64)
    in_bands(lambda a, b: _clear_fringes(flat.pixels, flat.flat, first_guess, palette, a, b, labels), height)
    return labels
