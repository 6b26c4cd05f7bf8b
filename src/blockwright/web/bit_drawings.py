"""Bits from the side and machines from above, as the numbers of a drawing; one unit is one mm."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from blockwright.model.router import Bit, Machine

ROUND_STEPS = 24
"""Points of half a round tip: its chords stray by less than a line's width."""

TILE_MM = (46.0, 30.0)
"""What a tile of the wall shows of a bit: as much as the usual ones need."""

_ABOVE_MM = 6.0
"""Shank that is shown above the edges on a card."""

_MARGIN_MM = 1.5


@dataclass(frozen=True, slots=True)
class BitDrawn:
    """The edges and the shank of a bit as points of closed lines, in a window of that size."""

    width: float
    height: float
    edges: str
    shank: str


def half_profile(bit: Bit) -> list[tuple[float, float]]:
    """The outline of a bit's edges from its axis to the shank, as places (away from the axis, above the tip).

    >>> half_profile(Bit(1, "clearing", "flat", 6.0, 2, 12.0))
    [(0.0, 0.0), (3.0, 0.0), (3.0, 12.0)]
    """
    radius = bit.radius_mm
    tip = bit.tip_mm / 2.0
    match bit.kind:
        case "flat":
            places = [(0.0, 0.0)]
        case "V":
            places = [(0.0, 0.0), (tip, 0.0)] if tip else [(0.0, 0.0)]
        case _:
            round_mm = radius if bit.kind == "ball" else tip
            # Closer together at the rim, where the edge is steep.
            aways = [round_mm * (1.0 - (1.0 - k / ROUND_STEPS) ** 2) for k in range(ROUND_STEPS + 1)]
            places = [(away, bit.rise_mm(away)) for away in aways]
    rim = bit.rise_mm(radius)
    cutting = bit.cutting_mm
    if rim < cutting:
        return [*places, (radius, rim), (radius, cutting)]
    # The edges end before the cone has reached the diameter.
    kept = [place for place in places if place[1] < cutting]
    low, high = kept[-1][0], radius
    for _ in range(40):
        middle = (low + high) / 2.0
        low, high = (middle, high) if bit.rise_mm(middle) < cutting else (low, middle)
    return [*kept, (round(low, 6), cutting)]


def drawn_bit(bit: Bit, size_mm: tuple[float, float] | None = None) -> BitDrawn:
    """A bit from the side, its tip down; in a window of that size, or in one that shows all of it."""
    if size_mm is None:
        high = bit.cutting_mm + _ABOVE_MM + 2.0 * _MARGIN_MM
        size_mm = (ceil(max(bit.diameter_mm, bit.shank_mm, high * 0.9) + 2.0 * _MARGIN_MM), ceil(high))
    width, height = size_mm
    profile = half_profile(bit)
    away, top = profile[-1]
    shank = bit.shank_mm / 2.0
    # A shoulder at 45 degrees leads from the edges to the shank.
    above = [(away, top), (shank, top + abs(shank - away)), (shank, height + top)]
    return BitDrawn(width, height, _both_sides(profile, size_mm), _both_sides(above, size_mm))


def window_of(machines: Sequence[Machine]) -> tuple[float, float]:
    """A window, half as wide again as it is high, in which the travel of each machine fits with a margin."""
    widest = max((each.reach_mm[0] for each in machines), default=1.0)
    highest = max((each.reach_mm[1] for each in machines), default=1.0)
    height = 1.12 * max(highest, widest / 1.5)
    return 1.5 * height, height


def _both_sides(half: list[tuple[float, float]], size_mm: tuple[float, float]) -> str:
    middle, low = size_mm[0] / 2.0, size_mm[1] - _MARGIN_MM
    right = [(middle + away, low - above) for away, above in half]
    left = [(middle - away, low - above) for away, above in reversed(half)]
    return " ".join(f"{x:.3f},{y:.3f}" for x, y in (*right, *left))
