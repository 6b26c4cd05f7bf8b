"""How leaf is hinted at in pictures: the metal's colour, its sheen, and the seams where leaves overlap.

Metal sends light back like a mirror, so that it has no colour of its own to predict: a sheen that runs over
the sheet, a little otherwise on every leaf, only stands for it. All of it depends on places in mm alone, so
that windows of a picture join.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.model.units import PointMm, Region

Values = NDArray[np.float64]

LIGHTER, DARKER = 0.26, 0.06
"""How much the sheen lightens and darkens the metal, as a part of what is left to white and black [CP]."""

SHEEN_MM = (96.0, 62.0)
"""From one light place to the next, to the right and down, mm [CP]."""

APART = 0.05
"""By how much one leaf is lighter than another, at most [CP]."""

CREASES = 0.018
"""How much the leaf's small creases lighten or darken it, as a part of its light [CP]."""

CREASES_MM = (3.1, 0.9)
"""How wide large and small creases are, mm [CP]."""

LAP = 0.12
"""How much lighter two leaves over one another are than one [CP]."""

SEAM, SEAM_MM = 0.20, 0.16
"""How dark the upper leaf's edge is where it lies on another, and how wide, mm [CP]."""

_LEAST_PX = 0.6
_WHITE_SHARE = 0.75
"""The lightest that metal gets, on the way to white."""


def gild(
    picture: NDArray[np.uint8],
    share: NDArray[np.float32],
    *,
    srgb_hex: str,
    leaves: Sequence[Region],
    origin_mm: PointMm,
    pixels_per_mm: float,
) -> None:
    """Lay leaf over a picture, (H, W, 3) uint8 sRGB, in place, as far as pixels are covered.

    ``share`` (0 to 1) is how much of each pixel has leaf; ``leaves`` are the squares in the order of laying,
    ``origin_mm`` is the picture's upper left corner. The metal's mean colour is ``srgb_hex``, about.
    """
    rows, columns = np.flatnonzero(share.any(axis=1)), np.flatnonzero(share.any(axis=0))
    if not len(rows):
        return
    part = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    x = origin_mm[0] + (np.arange(columns[0], columns[-1] + 1) + 0.5) / pixels_per_mm
    y = origin_mm[1] + (np.arange(rows[0], rows[-1] + 1) + 0.5) / pixels_per_mm
    levels = np.array([int(srgb_hex[i : i + 2], 16) for i in (1, 3, 5)], dtype=np.float64)
    tone = _tone(x, y, leaves, pixels_per_mm)[:, :, None]
    lightest = levels + _WHITE_SHARE * (255.0 - levels)
    creases = sum(_noise(x / size, y / size, k) for k, size in enumerate(CREASES_MM))
    metal = np.where(tone < 0.0, levels * (1.0 + tone), levels + (lightest - levels) * tone)
    metal *= 1.0 + CREASES * np.asarray(creases)[:, :, None]
    below = picture[part]
    mixed = below + share[part][:, :, None] * (metal - below)
    picture[part] = np.clip(np.rint(mixed), 0, 255).astype(np.uint8)


def _tone(x: Values, y: Values, leaves: Sequence[Region], pixels_per_mm: float) -> Values:
    """How much lighter (up to 1) or darker (down to -1) the metal is at the places (y, x), mm."""
    across, down = x[None, :], y[:, None]
    phase = np.zeros((len(y), len(x)))
    apart = np.zeros_like(phase)
    beneath = np.zeros_like(phase)
    seams = np.zeros_like(phase)
    for number, leaf in enumerate(leaves):
        rows, columns = _bounds(leaf, x, y, 1.0 / pixels_per_mm)
        if rows.start >= rows.stop or columns.start >= columns.stop:
            continue
        here = np.s_[rows, columns]
        inside_mm = _inside_mm(leaf, x[columns], y[rows])
        own = np.clip(inside_mm * pixels_per_mm + 0.5, 0.0, 1.0)
        wide = max(SEAM_MM, _LEAST_PX / pixels_per_mm)
        edge = np.exp(-((inside_mm / wide) ** 2)) * np.minimum(beneath[here], 1.0)
        seams[here] = seams[here] * (1.0 - own) + edge
        turn, lighter = _own_look(number)
        phase[here] += own * (turn - phase[here])
        apart[here] += own * (lighter - apart[here])
        apart[here] += LAP * own * np.minimum(beneath[here], 1.0)
        beneath[here] += own
    wave = np.sin(2.0 * np.pi * (across / SHEEN_MM[0] + down / SHEEN_MM[1]) + phase)
    sheen = np.where(wave > 0.0, LIGHTER, DARKER) * wave
    return np.clip(sheen + apart - SEAM * np.minimum(seams, 1.0), -1.0, 1.0)


def _own_look(number: int) -> tuple[float, float]:
    """How a leaf differs from the others: its sheen's phase, and how much lighter it is."""
    golden = (number * 0.618033988749895) % 1.0
    return 1.4 * (golden - 0.5), APART * (2.0 * ((golden * 7.0) % 1.0) - 1.0)


def _bounds(leaf: Region, x: Values, y: Values, room_mm: float) -> tuple[slice, slice]:
    left, top, right, bottom = leaf.bounds
    rows = np.searchsorted(y, (top - room_mm, bottom + room_mm)).tolist()
    columns = np.searchsorted(x, (left - room_mm, right + room_mm)).tolist()
    return slice(*rows), slice(*columns)


def _inside_mm(leaf: Region, x: Values, y: Values) -> Values:
    """How far places (y, x) lie within a square's nearest edge; less than 0 outside."""
    corners = shapely.get_coordinates(leaf)[:4]
    middle = corners.mean(axis=0)
    along = corners[1] - corners[0]
    side = float(np.hypot(*along))
    cosine, sine = along / side
    right, down = x[None, :] - middle[0], y[:, None] - middle[1]
    one = np.abs(right * cosine + down * sine)
    other = np.abs(down * cosine - right * sine)
    inside: Values = side / 2.0 - np.maximum(one, other)
    return inside


def _noise(x: Values, y: Values, kind: int) -> Values:
    """Smooth noise from -1 to 1 with one hump to a unit, the same at the same place."""
    column, row = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    right, down = x - column, y - row
    right, down = right * right * (3.0 - 2.0 * right), down * down * (3.0 - 2.0 * down)
    corner = [[_chance(row + i, column + j, kind) for j in (0, 1)] for i in (0, 1)]
    upper, lower = (one + right[None, :] * (other - one) for one, other in corner)
    noise: Values = upper + down[:, None] * (lower - upper)
    return noise


def _chance(row: NDArray[np.int64], column: NDArray[np.int64], kind: int) -> Values:
    """A number from -1 to 1 for each crossing of a lattice, mixed from its place (integers, modulo 2^32)."""
    seed = np.uint32(0x9E3779B1 * (kind + 1) & 0xFFFFFFFF)
    mixed = row.astype(np.uint32)[:, None] * np.uint32(0x85EBCA77) ^ column.astype(np.uint32)[
        None, :
    ] * np.uint32(0xC2B2AE3D)
    mixed = mixed ^ seed
    for shift, factor in ((16, 0x7FEB352D), (15, 0x846CA68B)):
        mixed = (mixed ^ (mixed >> np.uint32(shift))) * np.uint32(factor)
    mixed ^= mixed >> np.uint32(16)
    chance: Values = mixed / float(2**31) - 1.0
    return chance
