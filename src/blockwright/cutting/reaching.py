"""Where the bits of a set can reach the depth that is wanted, and where only a hand can.

A bit whose tip is at depth D cuts, at every height above its tip, as far from its axis as it is wide there;
to leave a wall that leans by the floor's slope its axis keeps off the wood that stays by

    M(D) = max over h in [0, D] of (radius(h) + (D - h) / slope)        [der]

so that it can stand wherever the distance field is at least M(D), and reaches every place within the flat of
its tip from there: two thresholds of exact distance fields, at levels of depth.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.cutting.cells import cells_inside
from blockwright.cutting.sweeping import radius_at, shape_of
from blockwright.cutting.wanted import Floor
from blockwright.model.router import Bit
from blockwright.model.units import Area

LEVEL_MM = 0.5
"""Levels of depth beyond the least at which it is looked whether a bit's flat reaches, mm [der]."""

SLACK_MM = 0.3
"""How much shallower than wanted a floor may be, mm [CP]; never shallower than the least depth."""

LEAST_SLACK_MM = 0.02
"""How much the least depth itself may be missed by, mm: what is no touch of the face is no lack of depth."""

SHALLOWEST_MM = 0.05
"""Depths below this at the very top of a wall are not looked at, mm."""


_LOOKED_UP = 46
"""Depths at which it is reckoned how far a bit keeps off."""


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """Fields over a face's cells: what depth is needed, and whether the bits can reach it.

    ``away_mm`` (rows, columns) float32 is how far the waste is from the middle of the nearest cell of wood
    that stays, at the most that it can be; ``needed_mm`` is 0 outside the waste; ``reached`` is a bool of the
    same shape.
    """

    step_mm: float
    away_mm: NDArray[np.float32]
    needed_mm: NDArray[np.float32]
    reached: NDArray[np.bool_]


def keep_off_mm(bit: Bit, depth_mm: float, floor: Floor) -> float:
    """How far a bit's axis keeps off the wood that stays, its tip at a depth, so that the wall leans.

    >>> keep_off_mm(Bit(1, "flat", "flat", 3.0, 2, 9.0), 1.5, Floor(45.0, 1.5, 0.1, 4.5))
    3.0
    >>> round(keep_off_mm(Bit(1, "ball", "ball", 4.0, 2, 9.0), 1.5, Floor(45.0, 1.5, 0.1, 4.5)), 6)
    2.328427
    """
    shape = shape_of(bit)
    # A round tip touches the wall where it is as steep; with that height the most is found exactly.
    round_mm = float(shape[2])
    touch_mm = round_mm * (1.0 - 1.0 / np.hypot(1.0, floor.slope))
    high = np.sort(np.append(np.linspace(0.0, depth_mm, 65), min(touch_mm, depth_mm)))
    radii = np.array([radius_at(shape, h) for h in high])
    return float((radii + (depth_mm - high) / floor.slope).max())


def needed_depth(
    away_mm: NDArray[np.float32], floor: Floor, *, slack_mm: float, step_mm: float
) -> NDArray[np.float32]:
    """The depth that is asked for at a distance from the wood that stays, mm, 0 where there is none to ask.

    On the wall, and in what is deeper than the least depth, ``slack_mm`` is left; the least depth is asked
    for wherever the wall has come down to it.
    """
    needed = np.empty(away_mm.shape, dtype=np.float32)
    # The edge lies up to half a cell nearer than the distance says; a cell more is kept off the wall's foot.
    flat_mm = floor.foot_mm + 1.5 * step_mm
    _ask(
        away_mm.ravel(),
        needed.ravel(),
        (floor.slope, floor.least_mm, floor.growth, floor.most_mm),
        slack_mm,
        flat_mm,
    )
    return needed


@njit(cache=True, nogil=True)
def _ask(away, needed, floor, slack, flat):  # type: ignore[no-untyped-def]
    slope, least, growth, most = floor
    for k in range(len(away)):
        far = away[k]
        if far <= 0.0:
            needed[k] = 0.0
            continue
        depth = min(far * slope, max(least + growth * far, least), most) - slack
        if far >= flat:
            depth = max(depth, least - LEAST_SLACK_MM)
        needed[k] = depth if depth >= SHALLOWEST_MM else 0.0


def find_reach(
    clear: Area,
    floor: Floor,
    bits: Sequence[Bit],
    *,
    origin: tuple[float, float],
    step_mm: float,
    shape: tuple[int, int],
    slack_mm: float = SLACK_MM,
) -> Reach:
    """What the waste needs, and where any of the bits can get there without harming what stays.

    ``clear`` is the waste, on the grid of a simulated face. Distances are taken half a cell short, so that a
    place on the border of a bit's reach is not asked for.
    """
    inside = cells_inside(clear, origin, step_mm, shape)
    away = _distance(inside) * np.float32(step_mm)
    needed = needed_depth(np.maximum(away - step_mm / 2, 0), floor, slack_mm=slack_mm, step_mm=step_mm)
    safe = np.maximum(away - step_mm, 0)
    reached = np.zeros(shape, dtype=np.bool_)
    for bit in _worth_asking(bits, floor.most_mm, step_mm):
        reached |= _reaches(bit, safe, needed, floor, step_mm)
    return Reach(step_mm, away, needed, reached & (needed > 0))


def largest_bits(reach: Reach, floor: Floor, bits: Sequence[Bit]) -> dict[int, float]:
    """The area, mm2, that each bit (by its number) clears where the largest that reaches a spot is taken.

    ``reach`` holds what the waste needs. The very tops of walls, of which no depth is asked yet, are the last
    bit's, which cuts the walls.
    """
    needed = reach.needed_mm.copy()
    safe = np.maximum(reach.away_mm - reach.step_mm, 0)
    areas: dict[int, float] = {}
    for bit in sorted(dict.fromkeys(bits), key=lambda bit: (-_clears_mm(bit), -bit.diameter_mm, bit.number)):
        reached = _reaches(bit, safe, needed, floor, reach.step_mm)
        areas[bit.number] = float(np.count_nonzero(reached)) * reach.step_mm**2
        needed[reached] = 0.0
    if areas:
        tops = np.count_nonzero(reach.away_mm) - np.count_nonzero(reach.needed_mm)
        areas[bit.number] += float(tops) * reach.step_mm**2
    return areas


def _worth_asking(bits: Sequence[Bit], deep_mm: float, step_mm: float) -> list[Bit]:
    """All but flat bits with a smaller one beside them that cuts as deep: it goes wherever they do."""
    flats = [bit for bit in bits if bit.kind == "flat" and bit.radius_mm > step_mm]
    return [
        bit
        for bit in dict.fromkeys(bits)
        if bit not in flats
        or not any(
            each.radius_mm < bit.radius_mm and each.cutting_mm >= min(bit.cutting_mm, deep_mm)
            for each in flats
        )
    ]


def _flat_mm(bit: Bit) -> float:
    """The radius of what is flat at a bit's tip."""
    return float(shape_of(bit)[6])


def _clears_mm(bit: Bit) -> float:
    """How far from its axis a bit clears at once, what may stay left on its floor included."""
    return float(radius_at(shape_of(bit), SLACK_MM))


def _reaches(
    bit: Bit, safe: NDArray[np.float32], needed: NDArray[np.float32], floor: Floor, step_mm: float
) -> NDArray[np.bool_]:
    """Where a bit gets to the needed depth, with its tip or beside it."""
    reached = _tip_reaches(bit, safe, needed, floor)
    if _flat_mm(bit) > step_mm:
        reached |= _flat_reaches(bit, safe, needed, floor, step_mm)
    elif bit.kind == "ball":
        _add_ball_reaches(reached, bit, safe, needed, floor, step_mm)
    return reached


def _distance(inside: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Cells to the nearest cell outside; beyond the grid there is nothing to keep off."""
    if inside.all():
        return np.full(inside.shape, 1e6, dtype=np.float32)
    found: NDArray[np.float32] = cv2.distanceTransform(inside, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return found


def _tip_reaches(
    bit: Bit, safe: NDArray[np.float32], needed: NDArray[np.float32], floor: Floor
) -> NDArray[np.bool_]:
    """Where a bit can stand over the very place, its tip at the depth that is needed."""
    most = min(floor.most_mm, bit.cutting_mm)
    # Off is what depth asks for; the needed depth of a place is looked up, not the depth of its distance.
    off = np.array([keep_off_mm(bit, depth, floor) for depth in np.linspace(0.0, most, _LOOKED_UP)])
    reached = np.zeros(needed.shape, dtype=np.bool_)
    _stand_over(safe.ravel(), needed.ravel(), off, most, reached.ravel())
    return reached


@njit(cache=True, nogil=True)
def _stand_over(safe, needed, off, most, reached):  # type: ignore[no-untyped-def]
    steps = len(off) - 1
    for k in range(len(safe)):
        depth = needed[k]
        if depth <= 0.0 or depth > most + 1e-6:
            continue
        along = min(depth / most, 1.0) * steps
        low = min(int(along), steps - 1)
        asked = off[low] + (along - low) * (off[low + 1] - off[low])
        reached[k] = np.float32(asked) <= safe[k]


def _flat_reaches(
    bit: Bit,
    safe: NDArray[np.float32],
    needed: NDArray[np.float32],
    floor: Floor,
    step_mm: float,
) -> NDArray[np.bool_]:
    """Where the flat of a bit's tip reaches from some place where the bit can stand."""
    reached = np.zeros(needed.shape, dtype=np.bool_)
    deepest = min(float(needed.max(initial=0.0)), bit.cutting_mm)
    cannot = np.empty(needed.shape, dtype=np.uint8)
    level = floor.least_mm
    before = 0.0
    while before < deepest - 1e-6:
        until = min(level, bit.cutting_mm)
        off_mm = keep_off_mm(bit, until, floor)
        asks, stands = _look(safe.ravel(), needed.ravel(), before, until + 1e-6, off_mm, cannot.ravel())
        if asks and stands:
            within = np.float32(_flat_mm(bit) / step_mm)
            _reach_from(
                _distance(cannot).ravel(), within, needed.ravel(), before, until + 1e-6, reached.ravel()
            )
        before, level = level, level + LEVEL_MM
    return reached


@njit(cache=True, nogil=True)
def _look(safe, needed, before, until, off, cannot):  # type: ignore[no-untyped-def]
    """Write where a bit cannot stand; how many places ask for a depth, and in how many it can stand."""
    asks = stands = 0
    for k in range(len(safe)):
        can = safe[k] >= off
        cannot[k] = 0 if can else 1
        stands += can
        asks += before < needed[k] <= until
    return asks, stands


@njit(cache=True, nogil=True)
def _reach_from(away, within, needed, before, until, reached):  # type: ignore[no-untyped-def]
    for k in range(len(away)):
        if before < needed[k] <= until and away[k] <= within:
            reached[k] = True


def _add_ball_reaches(
    reached: NDArray[np.bool_],
    bit: Bit,
    safe: NDArray[np.float32],
    needed: NDArray[np.float32],
    floor: Floor,
    step_mm: float,
) -> None:
    """Mark what a ball's side reaches from where it can stand, its tip no deeper than the floor is there."""
    radius, most = bit.radius_mm, min(floor.most_mm, bit.cutting_mm)
    # Where it touches a wall its tip is deeper by so much, and no deeper tip comes nearer to that place.
    below = radius * (1.0 - 1.0 / np.hypot(1.0, floor.slope)) + LEVEL_MM
    steps = np.arange(LEVEL_MM / 2.0, most, LEVEL_MM / 2.0)
    near_foot = floor.least_mm + np.arange(0.0, LEVEL_MM, LEVEL_MM / 5.0)
    for depth in sorted({*steps.tolist(), *near_foot[near_foot < most].tolist(), most}):
        asks = np.flatnonzero((needed > max(depth - below, 0.0)) & (needed <= depth) & ~reached)
        away = keep_off_mm(bit, depth, floor)
        if depth > floor.least_mm:
            away = max(away, (depth - floor.least_mm) / floor.growth) if floor.growth > 0.0 else np.inf
        stands = safe >= away
        if not len(asks) or not stands.any():
            continue
        beside = _distance((~stands).astype(np.uint8)).flat[asks] * step_mm
        gets = depth - radius + np.sqrt(np.maximum(radius**2 - beside**2, 0.0)) >= needed.flat[asks]
        reached.flat[asks[(beside < radius) & gets]] = True
