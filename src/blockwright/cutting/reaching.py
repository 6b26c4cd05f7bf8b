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


def needed_depth(away_mm: NDArray[np.float32], floor: Floor, *, slack_mm: float, step_mm: float) -> NDArray:  # type: ignore[type-arg]
    """The depth that is asked for at a distance from the wood that stays, mm, 0 where there is none to ask.

    On the wall, and in what is deeper than the least depth, ``slack_mm`` is left; the least depth is asked
    for wherever the wall has come down to it.
    """
    wanted = floor.depth_mm(away_mm).astype(np.float32)
    needed = wanted - np.float32(slack_mm)
    # The edge lies up to half a cell nearer than the distance says; a cell more is kept off the wall's foot.
    flat = away_mm >= floor.foot_mm + 1.5 * step_mm
    needed[flat] = np.maximum(needed[flat], np.float32(floor.least_mm - LEAST_SLACK_MM))
    needed[(needed < SHALLOWEST_MM) | (away_mm <= 0.0)] = 0.0
    return needed


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


def largest_bits(
    clear: Area,
    floor: Floor,
    bits: Sequence[Bit],
    *,
    origin: tuple[float, float],
    step_mm: float,
    shape: tuple[int, int],
) -> dict[int, float]:
    """The area, mm2, that each bit (by its number) clears where the largest that reaches a spot is taken.

    The very tops of walls, of which no depth is asked yet, are the last bit's, which cuts the walls.
    """
    inside = cells_inside(clear, origin, step_mm, shape)
    away = _distance(inside) * np.float32(step_mm)
    needed = needed_depth(np.maximum(away - step_mm / 2, 0), floor, slack_mm=SLACK_MM, step_mm=step_mm)
    safe = np.maximum(away - step_mm, 0)
    left = needed > 0
    areas: dict[int, float] = {}
    for bit in sorted(dict.fromkeys(bits), key=lambda bit: (-_clears_mm(bit), -bit.diameter_mm, bit.number)):
        reached = _reaches(bit, safe, needed, floor, step_mm)
        areas[bit.number] = float(np.count_nonzero(reached & left)) * step_mm**2
        left &= ~reached
    if areas:
        tops = np.count_nonzero(inside) - np.count_nonzero((needed > 0) & (inside > 0))
        areas[bit.number] += float(tops) * step_mm**2
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
    depths = np.linspace(0.0, most, 46)
    off = np.array([keep_off_mm(bit, depth, floor) for depth in depths])
    # Off is what depth asks for; the needed depth of a place is looked up, not the depth of its distance.
    asked = np.interp(needed, depths, off).astype(np.float32)
    reached: NDArray[np.bool_] = (asked <= safe) & (needed > 0) & (needed <= most + 1e-6)
    return reached


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
    level = floor.least_mm
    before = 0.0
    while before < deepest - 1e-6:
        asks = (needed > before) & (needed <= min(level, bit.cutting_mm) + 1e-6)
        if asks.any():
            stands = safe >= keep_off_mm(bit, min(level, bit.cutting_mm), floor)
            if stands.any():
                away = _distance((~stands).astype(np.uint8)) * np.float32(step_mm)
                reached |= asks & (away <= _flat_mm(bit))
        before, level = level, level + LEVEL_MM
    return reached


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
